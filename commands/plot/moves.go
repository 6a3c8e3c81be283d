package plot

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Moves shows a plan: where the screws are, which way each is turned and how
// far, and below it what each position read and should read.
type Moves struct {
	Limits  *Limits // with After
	Screws  []Screw
	Places  []Place // where the positions of a body are read, marked by crosses
	InARow  bool    // the screws stand in a row, in their order, since they move no body
	Caption string  // says from where it is seen
}

// Way is which way a screw goes.
type Way uint8

// Still: it is left alone. Along and Against: what it holds is slid or shimmed,
// the way in which readings grow or shrink.
const (
	Still Way = iota
	Clockwise
	CounterClockwise
	Along
	Against
)

// Screw is one adjuster: where it acts, and what to do with it.
type Screw struct {
	Name, Label string
	Way         Way
	At          [2]float64 // across and along, in one unit of length
}

// Place is where a position is read.
type Place struct {
	Name string
	At   [2]float64
}

const (
	movesHeight = 1040 // pixels
	above       = 490  // of them for the screws
)

// PNG draws m, 900 by 1040 pixels.
func (m *Moves) PNG() ([]byte, error) {
	chart, err := m.Limits.plot()
	if err != nil {
		return nil, err
	}
	title := chart.Title.Text
	chart.Title.Text = ""
	c, dc := sheet(movesHeight)
	chart.Draw(draw.Crop(dc, vg.Points(8), -vg.Points(14), vg.Points(8), -pixels(above)))
	m.draw(draw.Crop(dc, 0, 0, pixels(movesHeight-above), 0), title)
	return encoded(c)
}

// draw draws the screws on a canvas.
func (m *Moves) draw(canvas draw.Canvas, title string) {
	write := func(s string, at vg.Point, size float64, x text.XAlignment, y text.YAlignment) {
		canvas.FillText(text.Style{Color: ink, Font: font.From(sans, vg.Length(size)), XAlign: x, YAlign: y,
			Handler: text.Plain{Fonts: font.DefaultCache}}, at, s)
	}
	size := canvas.Size()
	write(title, vg.Point{X: canvas.Min.X + size.X/2, Y: canvas.Max.Y - vg.Points(8)}, 13, text.XCenter, text.YTop)
	write(m.Caption, vg.Point{X: canvas.Min.X + size.X/2, Y: canvas.Max.Y - vg.Points(26)}, 9, text.XCenter, text.YTop)

	// Room for a screw's arrow and its words around it.
	box := vg.Rectangle{Min: vg.Point{X: canvas.Min.X + pixels(130), Y: canvas.Min.Y + pixels(105)},
		Max: vg.Point{X: canvas.Max.X - pixels(130), Y: canvas.Max.Y - pixels(175)}}
	at := m.places(box)
	line := func(w vg.Length, dash []vg.Length, col color.Color, points ...vg.Point) {
		canvas.StrokeLines(draw.LineStyle{Color: col, Width: w, Dashes: dash}, points)
	}
	// The outline of what is turned, with the places where it is read.
	if !m.InARow {
		low, high := at(m.Screws[0].At), at(m.Screws[0].At)
		grow := func(p vg.Point) {
			low.X, low.Y, high.X, high.Y = min(low.X, p.X), min(low.Y, p.Y), max(high.X, p.X), max(high.Y, p.Y)
		}
		for _, s := range m.Screws {
			grow(at(s.At))
		}
		for _, p := range m.Places {
			grow(at(p.At))
		}
		d := pixels(14)
		low.X, low.Y, high.X, high.Y = low.X-d, low.Y-d, high.X+d, high.Y+d
		canvas.FillPolygon(within, []vg.Point{low, {X: high.X, Y: low.Y}, high, {X: low.X, Y: high.Y}})
		line(vg.Points(0.8), nil, ink, low, vg.Point{X: high.X, Y: low.Y}, high, vg.Point{X: low.X, Y: high.Y}, low)
		for _, p := range m.Places {
			point := at(p.At)
			const arm = 3.0
			line(vg.Points(1.2), nil, ink, vg.Point{X: point.X - vg.Points(arm), Y: point.Y - vg.Points(arm)},
				vg.Point{X: point.X + vg.Points(arm), Y: point.Y + vg.Points(arm)})
			line(vg.Points(1.2), nil, ink, vg.Point{X: point.X - vg.Points(arm), Y: point.Y + vg.Points(arm)},
				vg.Point{X: point.X + vg.Points(arm), Y: point.Y - vg.Points(arm)})
		}
	}
	// Each screw with its name and what to do to it.
	for i, screw := range m.Screws {
		point := at(screw.At)
		if m.InARow {
			point = vg.Point{X: box.Min.X + box.Size().X*vg.Length(float64(i)+0.5)/vg.Length(len(m.Screws)),
				Y: box.Min.Y + box.Size().Y/2}
		}
		m.screw(canvas, screw, point, line)
		write(screw.Name, vg.Point{X: point.X, Y: point.Y - pixels(64)}, 9, text.XCenter, text.YTop)
		write(screw.Label, vg.Point{X: point.X, Y: point.Y + pixels(62)}, 11, text.XCenter, text.YBottom)
	}
}

// screw draws one: a disc with a slot, and around it an arrow the way it goes.
func (m *Moves) screw(canvas draw.Canvas, shown Screw, point vg.Point,
	line func(vg.Length, []vg.Length, color.Color, ...vg.Point)) {
	disc := pixels(20)
	canvas.DrawGlyph(draw.GlyphStyle{Color: card, Radius: disc, Shape: draw.CircleGlyph{}}, point)
	canvas.DrawGlyph(draw.GlyphStyle{Color: ink, Radius: disc, Shape: draw.RingGlyph{}}, point)
	line(vg.Points(1.6), nil, ink, vg.Point{X: point.X - disc*0.7, Y: point.Y},
		vg.Point{X: point.X + disc*0.7, Y: point.Y})
	switch shown.Way {
	case Still:
		return
	case Along:
		tip := vg.Point{X: point.X, Y: point.Y + pixels(40)}
		line(vg.Points(2.6), nil, accent, vg.Point{X: point.X, Y: point.Y + pixels(20)}, tip)
		head(canvas, tip, math.Pi/2)
		return
	case Against:
		tip := vg.Point{X: point.X, Y: point.Y - pixels(40)}
		line(vg.Points(2.6), nil, accent, vg.Point{X: point.X, Y: point.Y - pixels(20)}, tip)
		head(canvas, tip, -math.Pi/2)
		return
	}
	const from, sweep = math.Pi * 1.15, math.Pi * 1.3 // from the left, over the top, to the right
	around := pixels(40)
	var arc []vg.Point
	for i := 0; i <= 40; i++ {
		angle := from - sweep*float64(i)/40 // clockwise
		if shown.Way == CounterClockwise {
			angle = math.Pi - angle
		}
		arc = append(arc, vg.Point{X: point.X + around*vg.Length(math.Cos(angle)),
			Y: point.Y + around*vg.Length(math.Sin(angle))})
	}
	line(vg.Points(2.6), nil, accent, arc...)
	end, before := arc[len(arc)-1], arc[len(arc)-3]
	head(canvas, end, math.Atan2(float64(end.Y-before.Y), float64(end.X-before.X)))
}

// head draws an arrow's head that ends a little past a point.
func head(canvas draw.Canvas, at vg.Point, angle float64) {
	corner := func(along, aside float64) vg.Point {
		return vg.Point{X: at.X + pixels(along*math.Cos(angle)-aside*math.Sin(angle)),
			Y: at.Y + pixels(along*math.Sin(angle)+aside*math.Cos(angle))}
	}
	canvas.FillPolygon(accent, []vg.Point{corner(18, 0), corner(-6, 11), corner(-6, -11)})
}

// places maps lengths on the body to points in a box, to one scale across and
// along unless that would make it too flat to see.
func (m *Moves) places(box vg.Rectangle) func([2]float64) vg.Point {
	low, high := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	see := func(p [2]float64) {
		for k := range p {
			low[k], high[k] = math.Min(low[k], p[k]), math.Max(high[k], p[k])
		}
	}
	for _, s := range m.Screws {
		see(s.At)
	}
	for _, p := range m.Places {
		see(p.At)
	}
	size := box.Size()
	scale := [2]vg.Length{}
	for k, room := range []vg.Length{size.X, size.Y} {
		if span := high[k] - low[k]; span > 0 {
			scale[k] = room / vg.Length(span)
		}
	}
	if scale[0] > 0 && scale[1] > 0 {
		one := min(scale[0], scale[1])
		scale = [2]vg.Length{one, max(one, min(scale[1], one*3))}
		scale[0] = max(one, min(size.X/vg.Length(high[0]-low[0]), one*1.6))
	}
	middle := vg.Point{X: box.Min.X + size.X/2, Y: box.Min.Y + size.Y/2}
	return func(p [2]float64) vg.Point {
		return vg.Point{X: middle.X + scale[0]*vg.Length(p[0]-(low[0]+high[0])/2),
			Y: middle.Y + scale[1]*vg.Length(p[1]-(low[1]+high[1])/2)}
	}
}
