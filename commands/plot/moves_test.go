package plot_test

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"testing"

	"setscrew/commands/plot"
)

// Each way that a screw goes is drawn otherwise, the card is opaque and light,
// and an arrow one way is the mirror image of one the other way.
func TestMoves(t *testing.T) {
	t.Parallel()
	of := func(way plot.Way, inARow bool) image.Image {
		m := &plot.Moves{InARow: inARow, Screws: []plot.Screw{{Way: way, At: [2]float64{100, 50}}},
			Places: []plot.Place{{At: [2]float64{0, 0}}, {At: [2]float64{200, 100}}},
			Limits: &plot.Limits{Unit: "mm", Target: ptr(1), Points: []plot.Point{{Name: "left", Value: 1.4}},
				After: []plot.Point{{Name: "left", Value: 1}}}}
		text, err := m.PNG()
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		return img
	}
	accent := color.NRGBAModel.Convert(color.NRGBA{0x1d, 0x5f, 0x7a, 0xff})
	// arrow counts the arrow's pixels left and right of the middle of the screw
	// and how low the lowest of them is.
	arrow := func(img image.Image) (left, right, lowLeft, lowRight int) {
		for row := range 480 {
			for x := range 900 {
				if color.NRGBAModel.Convert(img.At(x, row)) != accent {
					continue
				}
				if x < 450 {
					left, lowLeft = left+1, row
				} else {
					right, lowRight = right+1, row
				}
			}
		}
		return
	}
	for _, inARow := range []bool{true, false} {
		seen := map[[4]int]plot.Way{}
		for _, way := range []plot.Way{plot.Still, plot.Clockwise, plot.CounterClockwise, plot.Along, plot.Against} {
			img := of(way, inARow)
			if b := img.Bounds(); b.Dx() != 900 || b.Dy() != 1040 {
				t.Errorf("%v", b)
			}
			if r, _, _, a := img.At(2, 2).RGBA(); a != 0xffff || r < 0xf000 {
				t.Error("the card is not opaque and light")
			}
			left, right, ll, lr := arrow(img)
			if other, twice := seen[[4]int{left, right, ll, lr}]; twice {
				t.Errorf("ways %d and %d look alike", other, way)
			}
			seen[[4]int{left, right, ll, lr}] = way
			switch way {
			case plot.Still:
				if left+right != 0 {
					t.Error("a screw left alone has an arrow")
				}
			case plot.Clockwise: // over the top, its head down on the right
				if lr <= ll {
					t.Errorf("clockwise ends left: %d, %d", ll, lr)
				}
			case plot.CounterClockwise:
				if ll <= lr {
					t.Errorf("counter-clockwise ends right: %d, %d", ll, lr)
				}
			}
		}
	}
}
