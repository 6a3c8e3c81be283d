package domain_test

import (
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	. "setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// um is a number of micrometres.
func um(n int64) quantity.Value { return quantity.New(n, 1, quantity.Micrometre) }

// driven is a machine with one check, which should read 0 within 50 µm either way (and
// must not be 2 mm off), and what moves its two positions. Adjusters without a check are
// of that one.
func driven(adjusters ...profile.Adjuster) Snapshot {
	prof := &profile.Profile{Kind: "driven", Name: "driven",
		Checks: []profile.Check{{ID: "roller", Name: "roller", Class: profile.Quality,
			Positions: []string{"left", "right"}, Of: quantity.Length, Target: um(0),
			Adjust: metrology.Limits{Low: um(-50), High: um(50)},
			Stop:   metrology.Limits{Low: um(-2000), High: um(2000)}}}}
	setup := Setup{Confirmed: map[Item]Confirmation{}}
	for _, adjuster := range adjusters {
		if adjuster.Check == "" {
			adjuster.Check = "roller"
		}
		prof.Adjusters = append(prof.Adjusters, adjuster)
		setup.Confirmed[AdjusterItem.Of(adjuster.ID)] = Confirmation{By: "wren", At: added}
	}
	return Snapshot{Shop: NewShop("shop"), Machine: Machine{ID: 1, Name: "Slate", Added: added, Profile: prof,
		Setup: setup},
		Hours:  hours(0),
		Latest: map[string]Latest{}, Moved: map[string]Moved{}, Tries: map[string][]Try{},
		Caps: map[string][]CapReport{}}
}

// gauged is a reading with a gauge of which U is 5 µm.
func gauged(check string, no FactNo, at time.Time, values map[string]quantity.Value, positions ...string) Latest {
	reading := Reading{Check: check, Gauge: GaugeUsed{Name: "dial", Gauge: metrology.Gauge{Uncertainty: um(5),
		Coverage: metrology.Coverage(Level, math.Inf(1))}}}
	for _, p := range positions {
		reading.Values = append(reading.Values, quantity.At{Position: p, Repeats: []quantity.Value{values[p]}})
	}
	return Latest{Fact: no, At: at, Check: check, Reading: &reading}
}

// atBoth puts a reading of the roller into a snapshot, in micrometres.
func atBoth(s *Snapshot, no FactNo, left, right int64) Latest {
	l := gauged("roller", no, added, map[string]quantity.Value{"left": um(left), "right": um(right)}, "left", "right")
	s.Latest["roller"] = l
	return l
}

// screw is a screw of 1 mm lead under one position, which raises it when it is turned
// clockwise, in steps of a sixteenth of a turn.
func screw(id, position string) profile.Adjuster {
	return profile.Adjuster{ID: id, Position: position, Drive: profile.Screw, Lead: um(1000),
		Clockwise: profile.Raises, Positive: profile.Up,
		Increment: quantity.New(1, 16, quantity.Turn)}
}

func turns(n, of int64) quantity.Value { return quantity.New(n, of, quantity.Turn) }

func slide(id, position string) profile.Adjuster {
	return profile.Adjuster{ID: id, Position: position, Drive: profile.Slide, Positive: profile.Open}
}

func shims(id, position string, positive profile.Sense) profile.Adjuster {
	return profile.Adjuster{ID: id, Position: position, Drive: profile.Shims, Positive: positive,
		Stock: []quantity.Value{um(100), um(50), um(200)}}
}

// normal is the chance that what is normal with a mean and a deviation lies between.
func normal(low, high, mean, sd float64) float64 {
	phi := func(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
	return phi((high-mean)/sd) - phi((low-mean)/sd)
}

// What is slid goes straight to its target where it is outside its limits, or where the
// positions are not alike; what lies within stays. The chance to pass is that of both
// positions with the gauge's doubt twice.
func TestPlanOfASlide(t *testing.T) {
	sd := 5 / metrology.Coverage(Level, math.Inf(1)) * math.Sqrt2
	for _, test := range []struct {
		name            string
		left, right     int64
		alike           int64
		byLeft, byRight int64 // how far each is slid
		pass            float64
	}{
		{"one outside", 80, 40, 0, -80, 0, normal(-50, 50, 0, sd) * normal(-50, 50, 40, sd)},
		{"the other way", -80, 48, 0, 80, 0, normal(-50, 50, 0, sd) * normal(-50, 50, 48, sd)},
		{"both", 70, -90, 0, -70, 90, normal(-50, 50, 0, sd) * normal(-50, 50, 0, sd)},
		{"within, but unlike: both to their target", 45, -40, 20, -45, 40, normal(-50, 50, 0, sd) * normal(-50, 50, 0,
			sd)},
		{"one outside, and alike", 60, 45, 30, -60, 0, normal(-50, 50, 0, sd) * normal(-50, 50, 45, sd)},
	} {
		snap := driven(slide("l", "left"), slide("r", "right"))
		if test.alike > 0 {
			snap.Machine.Profile.Check("roller").AlikeAdjust = um(test.alike)
		}
		atBoth(&snap, 9, test.left, test.right)
		plan := Assess(snap, added).Adjusting("roller").Plan
		if plan == nil || plan.Drive != profile.Slide || plan.Check != "roller" || len(plan.Moves) != 2 {
			t.Fatalf("%s: %+v", test.name, plan)
		}
		for i, by := range []int64{test.byLeft, test.byRight} {
			m := plan.Moves[i]
			if !m.By.Equal(um(by)) || m.Grow != (by > 0) || m.ToDo() != (by != 0) || m.Turns.Sign() != 0 {
				t.Errorf("%s: move %d: %+v, want %d µm", test.name, i, m, by)
			}
			before := []int64{test.left, test.right}[i]
			if e := plan.Expect[i]; !e.Before.Equal(um(before)) || !e.Reading.Equal(um(before+by)) ||
				math.Abs(e.U.Float(quantity.Micrometre)-5) > 1e-6 {
				t.Errorf("%s: expect %+v", test.name, e)
			}
		}
		if math.Abs(plan.Pass-test.pass) > 1e-9 || math.Abs(plan.Tries-(1+(1-test.pass)/test.pass)) > 1e-9 {
			t.Errorf("%s: pass %v, tries %v; want %v", test.name, plan.Pass, plan.Tries, test.pass)
		}
	}
	// Without a target there is nowhere to slide it to.
	s := driven(slide("l", "left"), slide("r", "right"))
	k := s.Machine.Profile.Check("roller")
	k.Target, k.Adjust, k.Stop, k.AlikeAdjust = quantity.Value{}, metrology.Limits{}, metrology.Limits{}, um(20)
	atBoth(&s, 9, 45, -40)
	if x := Assess(s, added).Adjusting("roller"); x.Advice != AdvicePlan || x.Plan != nil {
		t.Errorf("without a target: %+v", x.Plan)
	}
}

// One slide that moves both positions of a taper is set by the one that it moves most:
// at 100 and at 300 mm from the headstock of 500 mm a unit of travel moves the diameter
// by 0.4 and by 1.2.
func TestPlanOfATaper(t *testing.T) {
	mm := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Millimetre) }
	snap := driven(slide("tailstock", ""))
	snap.Machine.Profile.Check("roller").Body = &profile.Body{Kind: profile.Taper, Centres: mm(500),
		Places: map[string][2]quantity.Value{"left": {mm(100), mm(0)}, "right": {mm(300), mm(0)}}}
	atBoth(&snap, 9, 60, 120)
	p := Assess(snap, added).Adjusting("roller").Plan
	if p == nil || !p.Moves[0].By.Equal(um(-100)) || !p.Expect[0].Reading.Equal(um(20)) ||
		!p.Expect[1].Reading.Equal(um(0)) {
		t.Fatalf("%+v", p)
	}
	// Where that one is home the other is left.
	atBoth(&snap, 9, 60, 40)
	if p := Assess(snap, added).Adjusting("roller").Plan; p == nil || p.ToDo() {
		t.Errorf("%+v", p)
	}
}

// A motor slid to tension its belt is moved by a length, whatever the belt is read by.
func TestPlanOfABelt(t *testing.T) {
	snap := driven(slide("motor", ""))
	check := snap.Machine.Profile.Check("roller")
	mm := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Millimetre) }
	check.Positions, check.Of, check.Target = []string{""}, quantity.Frequency, hertz(60)
	check.Adjust, check.Stop = metrology.Limits{Low: hertz(56), High: hertz(64)},
		metrology.Limits{Low: hertz(30), High: hertz(110)}
	check.Body = &profile.Body{Kind: profile.Belt, Centres: mm(400), Large: mm(120), Small: mm(80),
		Mass: quantity.New(1, 10, quantity.KilogramMetre), Stiffness: quantity.New(20_000, 1, quantity.Newton)}
	l := gauged("roller", 9, added, map[string]quantity.Value{"": hertz(50)}, "")
	l.Reading.Gauge.Gauge = metrology.Gauge{Uncertainty: hertz(1), Coverage: 2}
	snap.Latest["roller"] = l
	plan := Assess(snap, added).Adjusting("roller").Plan
	if plan == nil {
		t.Fatal("no plan")
	}
	response, err := snap.Machine.Profile.Response(check)
	if err != nil {
		t.Fatal(err)
	}
	adjustment := plan.Moves[0]
	if adjustment.By.Kind() != quantity.Length {
		t.Fatalf("moved by %v", adjustment.By)
	}
	if got := adjustment.By.Float(quantity.Base(quantity.Length)); math.Abs(got-10/response[0][0]) > 1e-9 ||
		!adjustment.Grow ||
		!plan.Expect[0].Reading.Equal(hertz(60)) {
		t.Errorf("10 Hz at %v Hz a metre: moved by %v, to %v", response[0][0], adjustment.By, plan.Expect[0].Reading)
	}
}

// Shims add what the thinnest of the stock can make up, and take nothing away; what
// they are made of is told. Added under what reads downwards they make readings fall.
func TestPlanOfShims(t *testing.T) {
	for _, test := range []struct {
		name     string
		positive profile.Sense
		stock    []quantity.Value // the shop's own
		reads    int64
		by       int64
		pieces   []quantity.Value
	}{
		{"too low", profile.Up, nil, -320, 300, []quantity.Value{um(200), um(100)}},
		{"too low by what one piece makes up", profile.Up, nil, -190, 200, []quantity.Value{um(200)}},
		{"the shop's own stock", profile.Up, []quantity.Value{um(250)}, -240, 250, []quantity.Value{um(250)}},
		{"too high: nothing is added", profile.Up, nil, 300, 0, nil},
		{"read downwards, too high", profile.Down, nil, 320, 300, []quantity.Value{um(200), um(100)}},
		{"read downwards, too low: nothing is added", profile.Down, nil, -300, 0, nil},
	} {
		s := driven(shims("l", "left", test.positive), shims("r", "right", test.positive))
		s.Shop.Shims = test.stock
		atBoth(&s, 9, test.reads, 0)
		plan := Assess(s, added).Adjusting("roller").Plan
		if plan == nil || plan.Drive != profile.Shims {
			t.Fatalf("%s: %+v", test.name, plan)
		}
		adjustment, expected := plan.Moves[0], plan.Expect[0]
		if !adjustment.By.Equal(um(test.by)) || adjustment.ToDo() != (test.by != 0) || plan.Moves[1].ToDo() {
			t.Errorf("%s: %+v, want %d µm", test.name, adjustment, test.by)
		}
		if d := cmp.Diff(test.pieces, adjustment.Pieces, cmpopts.EquateEmpty()); d != "" {
			t.Errorf("%s: pieces (-want +got):\n%s", test.name, d)
		}
		if grows := expected.Reading.Cmp(expected.Before) > 0; adjustment.Grow != grows {
			t.Errorf("%s: from %v to %v, but grow is %t", test.name, expected.Before, expected.Reading, adjustment.Grow)
		}
	}
}
