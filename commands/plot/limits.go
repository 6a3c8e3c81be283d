// Package plot draws series of the domain as PNG pictures: dark on an opaque
// light card, readable on a phone, and understood without colour.
package plot

import (
	"bytes"
	"fmt"
	"image/color"
	"math"
	"slices"
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
	Title string
	Unit  string

	// Target and the limits; nil where there is none.
	Target, AdjustLow, AdjustHigh, StopLow, StopHigh *float64

	Points []Point
	// After is what each position should read, in the order of
	// Points, where a plan is drawn.
	After []Point

	TargetLabel, AdjustLabel, StopLabel string
	BeforeLabel, AfterLabel             string // of the legend, where there is After
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

var sans = font.Font{Typeface: "Liberation", Variant: "Sans"}

// pixels is a length in pixels.
func pixels(n float64) vg.Length { return vg.Length(n) * vg.Inch / dpi }

// sheet is an empty card of a height in pixels, and its drawing.
func sheet(high float64) (*vgimg.Canvas, draw.Canvas) {
	c := vgimg.NewWith(vgimg.UseWH(pixels(width), pixels(high)), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(card))
	return c, draw.New(c)
}

func encoded(c *vgimg.Canvas) ([]byte, error) {
	var b bytes.Buffer
	if _, err := (vgimg.PngCanvas{Canvas: c}).WriteTo(&b); err != nil {
		return nil, fmt.Errorf("encode the picture: %w", err)
	}
	return b.Bytes(), nil
}

// PNG draws l, 900 by 560 pixels.
func (l *Limits) PNG() ([]byte, error) {
	drawn, err := l.plot()
	if err != nil {
		return nil, err
	}
	c, dc := sheet(height)
	drawn.Draw(draw.Crop(dc, vg.Points(8), -vg.Points(14), vg.Points(8), -vg.Points(8)))
	return encoded(c)
}

func (l *Limits) plot() (*plot.Plot, error) {
	chart := plot.New()
	chart.BackgroundColor = card
	chart.Title.Text = l.Title
	chart.Title.TextStyle.Font = font.From(sans, 13)
	chart.Title.Padding = vg.Points(6)
	chart.Y.Label.Text = l.Unit
	for _, s := range []*text.Style{&chart.Y.Label.TextStyle, &chart.X.Tick.Label, &chart.Y.Tick.Label} {
		s.Font = font.From(sans, 10)
		s.Color = ink
	}
	chart.X.Tick.Width, chart.X.Width = 0, 0

	n := float64(len(l.Points))
	right := n + 0.4 // room for the lines' labels
	low, high := l.extent()
	chart.X.Min, chart.X.Max = -0.6, right
	chart.Y.Min, chart.Y.Max = low, high

	// The band within the adjust limits.
	if l.AdjustLow != nil || l.AdjustHigh != nil {
		from, to := low, high
		if l.AdjustLow != nil {
			from = *l.AdjustLow
		}
		if l.AdjustHigh != nil {
			to = *l.AdjustHigh
		}
		band, err := plotter.NewPolygon(plotter.XYs{{X: -0.6, Y: from}, {X: right, Y: from}, {X: right, Y: to},
			{X: -0.6, Y: to}})
		if err != nil {
			return nil, err
		}
		band.Color, band.Width = within, 0
		chart.Add(band)
	}
	// The limits and the target, each with its words.
	var above, below plotter.XYLabels // their lines
	line := func(height float64, dash []vg.Length, length vg.Length, label string, labels *plotter.XYLabels) error {
		ln, err := plotter.NewLine(plotter.XYs{{X: -0.6, Y: height}, {X: right, Y: height}})
		if err != nil {
			return err
		}
		ln.Color, ln.Width, ln.Dashes = ink, length, dash
		chart.Add(ln)
		// Not over another line's words.
		for _, other := range labels.XYs {
			if math.Abs(other.Y-height) < (high-low)/28 {
				return nil
			}
		}
		labels.XYs = append(labels.XYs, plotter.XY{X: right, Y: height})
		labels.Labels = append(labels.Labels, label)
		return nil
	}
	dashed, dotted := []vg.Length{vg.Points(5), vg.Points(3)}, []vg.Length{vg.Points(1), vg.Points(3)}
	type level struct {
		at     *float64
		dash   []vg.Length
		w      vg.Length
		label  string
		labels *plotter.XYLabels
	}
	for _, limit := range []level{{l.StopLow, nil, 1.8, l.StopLabel, &above},
		{l.StopHigh, nil, 1.8, l.StopLabel, &above},
		{l.AdjustHigh, dashed, 0.8, l.AdjustLabel, &above},
		{l.Target, dotted, 0.6, l.TargetLabel, &above}, {l.AdjustLow, dashed, 0.8, l.AdjustLabel, &below}} {
		if limit.at == nil {
			continue
		}
		if err := line(*limit.at, limit.dash, limit.w, limit.label, limit.labels); err != nil {
			return nil, err
		}
	}
	for _, group := range []struct {
		labels plotter.XYLabels
		align  text.YAlignment
		off    vg.Length
	}{{above, draw.YBottom, vg.Points(3)}, {below, draw.YTop, -vg.Points(2)}} {
		lab, err := plotter.NewLabels(group.labels)
		if err != nil {
			return nil, err
		}
		for i := range lab.TextStyle {
			lab.TextStyle[i] = text.Style{Color: ink, Font: font.From(sans, 8.5), XAlign: draw.XRight,
				YAlign: group.align, Handler: chart.TextHandler}
		}
		lab.Offset = vg.Point{Y: group.off}
		chart.Add(lab)
	}

	// The positions: named below, their readings as dots, before and after the moves.
	sep := "\n"
	if len(l.Points) > 5 {
		sep = "  "
	}
	names := make([]plot.Tick, len(l.Points))
	for i, pt := range l.Points {
		label := pt.Label
		if len(l.After) > 0 {
			label = strings.TrimSuffix(label, " "+l.Unit) + "\n→ " + strings.TrimSuffix(l.After[i].Label, " "+l.Unit)
		}
		names[i] = plot.Tick{Value: float64(i), Label: strings.TrimSpace(pt.Name + sep + label)}
	}
	if len(l.After) > 0 {
		before, err := dots(chart, l.Points, -0.1,
			draw.GlyphStyle{Color: ink, Radius: vg.Points(4), Shape: draw.RingGlyph{}})
		if err != nil {
			return nil, err
		}
		after, err := dots(chart, l.After, 0.1,
			draw.GlyphStyle{Color: accent, Radius: vg.Points(4), Shape: draw.CircleGlyph{}})
		if err != nil {
			return nil, err
		}
		chart.Legend.Add(l.BeforeLabel, before)
		chart.Legend.Add(l.AfterLabel, after)
		chart.Legend.Top, chart.Legend.Left, chart.Legend.TextStyle.Font, chart.Legend.TextStyle.Color = true, true,
			font.From(sans, 9), ink
		chart.Legend.XOffs, chart.Legend.YOffs = vg.Points(4), vg.Points(14)
	} else if _, err := dots(chart, l.Points, 0,
		draw.GlyphStyle{Color: accent, Radius: vg.Points(4), Shape: draw.CircleGlyph{}}); err != nil {
		return nil, err
	}
	chart.X.Tick.Marker = plot.ConstantTicks(names)
	if len(l.Points) > 5 {
		chart.X.Tick.Label.Rotation = math.Pi / 5
		chart.X.Tick.Label.XAlign, chart.X.Tick.Label.YAlign = draw.XRight, draw.YTop
	}
	return chart, nil
}

// dots adds points, moved aside by so much of a column, with their uncertainties
// as bars.
func dots(chart *plot.Plot, points []Point, aside float64, style draw.GlyphStyle) (*plotter.Scatter, error) {
	at := make(plotter.XYs, len(points))
	for i, pt := range points {
		at[i] = plotter.XY{X: float64(i) + aside, Y: pt.Value}
		bar, err := plotter.NewLine(plotter.XYs{{X: at[i].X, Y: pt.Value - pt.Uncertainty},
			{X: at[i].X, Y: pt.Value + pt.Uncertainty}})
		if err != nil {
			return nil, err
		}
		bar.Color, bar.Width = style.Color, vg.Points(2)
		chart.Add(bar)
	}
	sc, err := plotter.NewScatter(at)
	if err != nil {
		return nil, err
	}
	sc.GlyphStyle = style
	chart.Add(sc)
	return sc, nil
}

// extent is the range of values shown: everything drawn, with a tenth of it to
// spare on either side.
func (l *Limits) extent() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	see := func(v float64) { low, high = min(low, v), max(high, v) }
	for _, v := range []*float64{l.Target, l.AdjustLow, l.AdjustHigh, l.StopLow, l.StopHigh} {
		if v != nil {
			see(*v)
		}
	}
	for _, p := range append(slices.Clone(l.Points), l.After...) {
		see(p.Value - p.Uncertainty)
		see(p.Value + p.Uncertainty)
	}
	if low > high {
		low, high = 0, 0
	}
	spare := (high - low) / 10
	if spare == 0 {
		spare = 1
	}
	return low - spare, high + spare
}
