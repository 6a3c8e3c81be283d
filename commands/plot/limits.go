// Package plot draws series of the domain as PNG pictures: dark on an opaque
// light card, readable on a phone, and understood without colour.
package plot

import (
	"bytes"
	"fmt"
	"image/color"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// Limits shows a check's readings against its target and limits: a column a
// position, the value as a dot, its expanded uncertainty as a bar. All values
// are in Unit.
type Limits struct {
	Title  string
	Unit   string
	Target float64

	AdjustLow, AdjustHigh, StopLow, StopHigh *float64 // nil where there is no such limit

	Points []Point

	TargetLabel, AdjustLabel, StopLabel string
}

// Point is one position's value.
type Point struct {
	Name        string
	Value       float64
	Uncertainty float64 // expanded
	Label       string  // the value as it is printed
}

const (
	width  = 900 // pixels
	height = 560
	dpi    = 144
)

var (
	card   = color.NRGBA{0xfb, 0xfa, 0xf6, 0xff}
	ink    = color.NRGBA{0x20, 0x22, 0x26, 0xff}
	within = color.NRGBA{0xe3, 0xe9, 0xe6, 0xff}
	accent = color.NRGBA{0x1d, 0x5f, 0x7a, 0xff}
)

// PNG draws l, 900 by 560 pixels.
func (l *Limits) PNG() ([]byte, error) {
	p := plot.New()
	p.BackgroundColor = card
	sans := font.Font{Typeface: "Liberation", Variant: "Sans"}
	p.Title.Text = l.Title
	p.Title.TextStyle.Font = font.From(sans, 13)
	p.Title.Padding = vg.Points(6)
	p.Y.Label.Text = l.Unit
	for _, s := range []*text.Style{&p.Y.Label.TextStyle, &p.X.Tick.Label, &p.Y.Tick.Label} {
		s.Font = font.From(sans, 10)
		s.Color = ink
	}
	p.X.Tick.LineStyle.Width, p.X.LineStyle.Width = 0, 0

	n := float64(len(l.Points))
	right := n + 0.4 // room for the lines' labels
	low, high := l.extent()
	p.X.Min, p.X.Max = -0.6, right
	p.Y.Min, p.Y.Max = low, high

	if l.AdjustLow != nil || l.AdjustHigh != nil {
		from, to := low, high
		if l.AdjustLow != nil {
			from = *l.AdjustLow
		}
		if l.AdjustHigh != nil {
			to = *l.AdjustHigh
		}
		band, err := plotter.NewPolygon(plotter.XYs{{X: -0.6, Y: from}, {X: right, Y: from}, {X: right, Y: to}, {X: -0.6, Y: to}})
		if err != nil {
			return nil, err
		}
		band.Color, band.LineStyle.Width = within, 0
		p.Add(band)
	}
	var labels plotter.XYLabels
	line := func(y float64, dash []vg.Length, w vg.Length, label string) error {
		ln, err := plotter.NewLine(plotter.XYs{{X: -0.6, Y: y}, {X: right, Y: y}})
		if err != nil {
			return err
		}
		ln.Color, ln.Width, ln.Dashes = ink, w, dash
		p.Add(ln)
		labels.XYs = append(labels.XYs, plotter.XY{X: right, Y: y})
		labels.Labels = append(labels.Labels, label)
		return nil
	}
	dashed, dotted := []vg.Length{vg.Points(5), vg.Points(3)}, []vg.Length{vg.Points(1), vg.Points(3)}
	type level struct {
		at    *float64
		dash  []vg.Length
		w     vg.Length
		label string
	}
	for _, v := range []level{{&l.Target, nil, 0.6, l.TargetLabel}, {l.AdjustLow, dashed, 0.8, l.AdjustLabel}, {l.AdjustHigh, dashed, 0.8, l.AdjustLabel},
		{l.StopLow, nil, 1.8, l.StopLabel}, {l.StopHigh, nil, 1.8, l.StopLabel}} {
		if v.at == nil {
			continue
		}
		if v.at == &l.Target {
			v.dash = dotted
		}
		if err := line(*v.at, v.dash, v.w, v.label); err != nil {
			return nil, err
		}
	}
	lab, err := plotter.NewLabels(labels)
	if err != nil {
		return nil, err
	}
	for i := range lab.TextStyle {
		lab.TextStyle[i] = text.Style{Color: ink, Font: font.From(sans, 8.5), XAlign: draw.XRight, YAlign: draw.YBottom, Handler: p.TextHandler}
	}
	lab.Offset = vg.Point{Y: vg.Points(3)} // above its line
	p.Add(lab)

	sep := "\n"
	if len(l.Points) > 5 {
		sep = "  "
	}
	names := make([]plot.Tick, len(l.Points))
	dots := make(plotter.XYs, len(l.Points))
	for i, pt := range l.Points {
		x := float64(i)
		names[i] = plot.Tick{Value: x, Label: strings.TrimSpace(pt.Name + sep + pt.Label)}
		dots[i] = plotter.XY{X: x, Y: pt.Value}
		bar, err := plotter.NewLine(plotter.XYs{{X: x, Y: pt.Value - pt.Uncertainty}, {X: x, Y: pt.Value + pt.Uncertainty}})
		if err != nil {
			return nil, err
		}
		bar.Color, bar.Width = accent, vg.Points(2)
		p.Add(bar)
	}
	sc, err := plotter.NewScatter(dots)
	if err != nil {
		return nil, err
	}
	sc.GlyphStyle = draw.GlyphStyle{Color: accent, Radius: vg.Points(4), Shape: draw.CircleGlyph{}}
	p.Add(sc)
	p.X.Tick.Marker = plot.ConstantTicks(names)
	if len(l.Points) > 5 {
		p.X.Tick.Label.Rotation = math.Pi / 5
		p.X.Tick.Label.XAlign, p.X.Tick.Label.YAlign = draw.XRight, draw.YTop
	}

	c := vgimg.NewWith(vgimg.UseWH(vg.Length(width)*vg.Inch/dpi, vg.Length(height)*vg.Inch/dpi), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(card))
	dc := draw.New(c)
	p.Draw(draw.Crop(dc, vg.Points(8), -vg.Points(14), vg.Points(8), -vg.Points(8)))
	var b bytes.Buffer
	if _, err := (vgimg.PngCanvas{Canvas: c}).WriteTo(&b); err != nil {
		return nil, fmt.Errorf("plot: %w", err)
	}
	return b.Bytes(), nil
}

// extent is the range of values shown: everything drawn, with a tenth of it to
// spare on either side.
func (l *Limits) extent() (low, high float64) {
	low, high = l.Target, l.Target
	see := func(v float64) { low, high = min(low, v), max(high, v) }
	for _, v := range []*float64{l.AdjustLow, l.AdjustHigh, l.StopLow, l.StopHigh} {
		if v != nil {
			see(*v)
		}
	}
	for _, p := range l.Points {
		see(p.Value - p.Uncertainty)
		see(p.Value + p.Uncertainty)
	}
	spare := (high - low) / 10
	if spare == 0 {
		spare = 1
	}
	return low - spare, high + spare
}
