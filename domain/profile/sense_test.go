package profile_test

import (
	"math"
	"testing"

	. "setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// What a move does, and where a reading stands, by the way in which readings grow:
// every pair of words, both ways.
func TestSenses(t *testing.T) {
	for _, test := range []struct{ positive, grows, shrinks, great, small Sense }{
		{Up, Raises, Lowers, Up, Down}, {Down, Lowers, Raises, Down, Up},
		{Open, Opens, Closes, Open, Closed}, {Closed, Closes, Opens, Closed, Open},
		{Tight, Tightens, Slackens, Tight, Slack}, {Slack, Slackens, Tightens, Slack, Tight},
		{Forward, Advances, Retracts, Forward, Back}, {Back, Retracts, Advances, Back, Forward},
		{"", "", "", "", ""},
	} {
		adjuster := Adjuster{Positive: test.positive}
		if adjuster.Does(true) != test.grows || adjuster.Does(false) != test.shrinks ||
			adjuster.Points(true) != test.great ||
			adjuster.Points(false) != test.small {
			t.Errorf("positive %q: %q and %q, %q and %q", test.positive, adjuster.Does(true), adjuster.Does(false),
				adjuster.Points(true),
				adjuster.Points(false))
		}
		// Clockwise makes readings grow where it does what makes them grow.
		for _, clockwise := range []Sense{test.grows, test.shrinks} {
			adjuster.Clockwise = clockwise
			if test.positive != "" && adjuster.Growing() != (clockwise == test.grows) {
				t.Errorf("positive %s, clockwise %s: growing %v", test.positive, clockwise, adjuster.Growing())
			}
		}
	}
	for clockwise, want := range map[Sense]bool{Raises: true, Opens: true, Tightens: true, Advances: true,
		Lowers: false, Closes: false, Slackens: false, Retracts: false} {
		if (&Adjuster{Clockwise: clockwise}).Raising() != want {
			t.Errorf("clockwise %s: raising %v", clockwise, !want)
		}
	}
	// Shims raise what they lie under: added, they make readings grow that point upwards.
	for positive, want := range map[Sense]bool{Up: true, Open: true, Tight: true, Forward: true, Down: false,
		Closed: false, Slack: false, Back: false} {
		if (&Adjuster{Drive: Shims, Positive: positive}).Growing() != want {
			t.Errorf("shims, positive %s: growing %v", positive, !want)
		}
	}
	for _, test := range []struct {
		a    Adjuster
		want bool
	}{{Adjuster{Drive: Screw}, true}, {Adjuster{Drive: Eccentric}, true}, {Adjuster{Drive: Slide}, false},
		{Adjuster{Drive: Shims}, false}, {Adjuster{Drive: Screw, Fixed: true}, false}} {
		if test.a.Turned() != test.want {
			t.Errorf("%+v: turned %v", test.a, !test.want)
		}
	}
	a := Adjuster{Check: "a", Also: []string{"b"}}
	if !a.Moves("a") || !a.Moves("b") || a.Moves("c") {
		t.Error("it moves its own check and those that it names besides")
	}
}

// Bodies by elementary geometry: the angle of a head is that of its slope, half of it
// for a taper of two collars; the tailstock's set-over; a belt's span, length and
// tension (G09, G10 and G11 of the published mechanics).
func TestBodiesByHand(t *testing.T) {
	mm := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Millimetre) }
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-9*math.Abs(want) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	places := map[string][2]quantity.Value{"a": {mm(20)}, "b": {mm(220)}}
	of := func(b Body, x, y int64) float64 {
		v, err := b.Angle([]string{"a", "b"}, []quantity.Value{mm(x), mm(y)})
		if err != nil {
			t.Fatal(err)
		}
		return v.Float(quantity.Degree)
	}
	near("tilt", of(Body{Kind: Tilt, Places: places}, 1, 5), math.Atan(4.0/200)*180/math.Pi)
	near("taper", of(Body{Kind: Taper, Places: places}, 1, 5), math.Atan(4.0/400)*180/math.Pi)
	if _, err := (&Body{Kind: Tilt, Places: places}).Angle([]string{"a"}, []quantity.Value{mm(1)}); err == nil {
		t.Error("an angle from one reading")
	}
	lathe := Body{Kind: Taper, Places: places, Centres: mm(300)}
	near("set-over", lathe.SetOver([]string{"a", "b"}, []quantity.Value{mm(30), mm(29)}).Float(quantity.Millimetre),
		0.5*300/200)
	belt := Body{Kind: Belt, Centres: mm(500), Large: mm(260), Small: mm(100),
		Mass: quantity.New(1, 10, quantity.KilogramMetre)}
	span := math.Sqrt(0.25 - 0.0064)
	near("span", belt.Span().Float(quantity.Metre), span)
	near("length", belt.Length().Float(quantity.Metre), 1+math.Pi*0.36/2+0.16*0.16/2)
	near("tension by its tone", belt.Tension(quantity.New(50, 1, quantity.Hertz)).Float(quantity.Newton),
		4*0.1*span*span*2500)
	near("tension by a force", belt.Tension(quantity.New(10, 1, quantity.Newton)).Float(quantity.Newton), 160)
}
