package plot_test

import (
	"bytes"
	"image/color"
	"image/png"
	"strings"
	"testing"

	"setscrew/commands/plot"
)

func ptr(f float64) *float64 { return &f }

// The picture has its size, an opaque light card, and shows a value where it
// lies: the accent of its dot stands above the target for a value above it.
func TestLimits(t *testing.T) {
	t.Parallel()
	for name, limits := range map[string]*plot.Limits{
		"two": {Title: "infeed roller", Unit: "mm", Target: ptr(1), AdjustLow: ptr(0.9), AdjustHigh: ptr(1.1),
			StopLow: ptr(0.5), StopHigh: ptr(1.5),
			Points: []plot.Point{{Name: "left", Value: 1.4, Uncertainty: 0.02, Label: "1.40 mm"}}},
		"one side": {Title: "fence", Unit: "mm", Target: ptr(5), AdjustHigh: ptr(6),
			Points: []plot.Point{{Name: "", Value: 5.9, Label: "5.9 mm"}}},
		"many": {Title: strings.Repeat("knives ", 20), Unit: "thou", Target: ptr(62), Points: make([]plot.Point, 12)},
		"flat": {Title: "flat", Unit: "mm"},
	} {
		text, err := limits.PNG()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		img, err := png.Decode(bytes.NewReader(text))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		bounds := img.Bounds()
		if bounds.Dx() != 900 || bounds.Dy() != 560 {
			t.Errorf("%s: %v", name, bounds)
		}
		if _, _, _, a := img.At(1, 1).RGBA(); a != 0xffff {
			t.Errorf("%s: the card is not opaque", name)
		}
		accent := color.NRGBAModel.Convert(color.NRGBA{0x1d, 0x5f, 0x7a, 0xff})
		sum, count := 0, 0
		for y := range bounds.Dy() {
			for x := range bounds.Dx() {
				if color.NRGBAModel.Convert(img.At(x, y)) == accent {
					sum, count = sum+y, count+1
				}
			}
		}
		if (count > 0) != (len(limits.Points) > 0) {
			t.Errorf("%s: %d dots, %d pixels of them", name, len(limits.Points), count)
		}
		if name == "two" && sum/count > 200 {
			t.Errorf("a value far above its target stands at row %d of 560", sum/count)
		}
	}
}

// BenchmarkLimits times one picture.
func BenchmarkLimits(b *testing.B) {
	l := &plot.Limits{Title: "infeed roller", Unit: "mm", Target: ptr(1), AdjustLow: ptr(0.9), AdjustHigh: ptr(1.1),
		Points: []plot.Point{{Name: "left", Value: 1.4, Label: "x"}, {Name: "right", Value: 1, Label: "y"}}}
	for b.Loop() {
		if _, err := l.PNG(); err != nil {
			b.Fatal(err)
		}
	}
}
