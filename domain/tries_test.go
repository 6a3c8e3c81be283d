package domain_test

import (
	"math"
	"math/big"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	. "setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// eccentric is an eccentric with a throw of 1 mm under one position, set in twenty-fourths
// of a turn.
func eccentric(id, position string) profile.Adjuster {
	return profile.Adjuster{ID: id, Position: position, Drive: profile.Eccentric, Lead: um(1000),
		Clockwise: profile.Raises, Positive: profile.Up,
		Increment: turns(1, 24)}
}

// Two eccentrics, wherever they stand within the half of a turn on which clockwise
// raises, come home in a few tries of plan, turn and reading; the machine of this test
// is elementary geometry alone: lift = throw (1 - cos angle).
func TestEccentricsComeHome(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		angle := [2]float64{rapid.Float64Range(0.6, 2.5).Draw(t, "left"), rapid.Float64Range(0.6, 2.5).Draw(t,
			"right")}
		home := [2]float64{rapid.Float64Range(0.6, 2.5).Draw(t, "left home"), rapid.Float64Range(0.6, 2.5).Draw(t,
			"right home")}
		read := func(i int) int64 { return int64(math.Round(1000 * (math.Cos(home[i]) - math.Cos(angle[i])))) }
		snap := driven(eccentric("l", "left"), eccentric("r", "right"))
		snap.Machine.Profile.Check("roller").Adjust = metrology.Limits{Low: um(-180),
			High: um(180)} // a step at the steepest is 260
		latest := atBoth(&snap, 1, read(0), read(1))
		for try := 1; try <= 6; try++ {
			adjusting := Assess(snap, added).Adjusting("roller")
			if adjusting.Plan == nil || !adjusting.Plan.ToDo() {
				if adjusting.Advice == AdvicePlan {
					t.Fatalf("try %d: nothing to do at %d and %d", try, read(0), read(1))
				}
				return
			}
			if adjusting.Plan.Drive != profile.Eccentric || adjusting.Plan.Moves[0].Learned != try-1 ||
				adjusting.Plan.Moves[1].Learned != try-1 || len(adjusting.Plan.Short) != 0 {
				t.Fatalf("try %d: %+v", try, adjusting.Plan)
			}
			made := adjusting.Plan.Made(snap.Machine.Profile, latest.Fact)
			for _, turn := range made.Turned {
				angle[map[string]int{"l": 0, "r": 1}[turn.Adjuster]] += 2 * math.Pi * turn.Turns.Float(quantity.Turn)
			}
			before := latest
			latest = atBoth(&snap, FactNo(1+2*try), read(0), read(1))
			after := latest
			snap.Tries["roller"] = append(snap.Tries["roller"], Try{Move: FactNo(2 * try), Turned: made.Turned,
				Before: &before, After: &after})
		}
		t.Fatalf("not home after six tries: %d and %d", read(0), read(1))
	})
}

// Only tries that lead without a gap to the latest reading count of an eccentric; how
// far it was turned is summed over them.
func TestEccentricsCountWhatLeadsHere(t *testing.T) {
	try := func(move FactNo, before, after int64, left, right int64) Try {
		b, a := gauged("roller", move-1, added, map[string]quantity.Value{"left": um(before), "right": um(before)},
			"left", "right"), gauged("roller", move+1, added, map[string]quantity.Value{"left": um(after),
			"right": um(after)}, "left", "right")
		return Try{Move: move, Before: &b, After: &a, Turned: []Turns{{Adjuster: "l", Turns: turns(left, 24)},
			{Adjuster: "r", Turns: turns(right, 24)}}}
	}
	withdrawn := func(x Try) Try { x.Before = nil; return x }
	unread := func(x Try) Try { x.After = nil; return x }
	one, two, three := try(2, 900, 700, -1, -1), try(4, 700, 500, -1, -1), try(6, 500, 300, -1, -1)
	for _, test := range []struct {
		name  string
		tries []Try
		want  int
	}{
		{"none", nil, 0},
		{"three in a row", []Try{one, two, three}, 3},
		{"the last of them", []Try{three}, 1},
		{"one left out", []Try{one, three}, 1},
		{"the reading before it withdrawn", []Try{one, withdrawn(two), three}, 1},
		{"not read after", []Try{one, two, unread(three)}, 0},
		{"read once more since", []Try{one, two}, 0},
		{"the last from a reading that is withdrawn", []Try{one, two, withdrawn(three)}, 0},
	} {
		s := driven(eccentric("l", "left"), eccentric("r", "right"))
		atBoth(&s, 7, 300, 300)
		s.Tries["roller"] = test.tries
		adjusting := Assess(s, added).Adjusting("roller")
		if adjusting.Plan == nil || adjusting.Plan.Moves[0].Learned != test.want ||
			adjusting.Plan.Moves[1].Learned != test.want {
			t.Errorf("%s: %+v, want %d", test.name, adjusting.Plan, test.want)
		}
		if adjusting.Wrong != nil || adjusting.Odd != nil {
			t.Errorf("%s: an eccentric is told to have gone the wrong way: %+v, %+v", test.name, adjusting.Wrong,
				adjusting.Odd)
		}
	}
}

// An eccentric that cannot reach its target says by how much: at 10 mm below it, with
// 2 mm from its bottom to its top, it lacks 8 mm at the most and 10 at the least, and 9
// in the mean of all angles. Without a target or a limit there is nothing to plan.
func TestEccentricsOutOfReach(t *testing.T) {
	snap := driven(eccentric("l", "left"), eccentric("r", "right"))
	check := snap.Machine.Profile.Check("roller")
	check.Stop = metrology.Limits{}
	atBoth(&snap, 9, -10_000, 0)
	p := Assess(snap, added).Adjusting("roller").Plan
	if p == nil || len(p.Short) != 1 || p.Short[0].Adjuster != "l" {
		t.Fatalf("%+v", p)
	}
	if got := p.Short[0].Missing.Float(quantity.Millimetre); got < 8.9 || got > 9.1 {
		t.Errorf("missing %v mm", got)
	}
	atBoth(&snap, 9, -100, 0)
	if p := Assess(snap, added).Adjusting("roller").Plan; p == nil || len(p.Short) != 0 {
		t.Errorf("within reach: %+v", p)
	}
	for name, change := range map[string]func(){"high": func() { check.Adjust.High = quantity.Value{} },
		"low": func() { check.Adjust = metrology.Limits{High: um(-200)} }} {
		check.Adjust = metrology.Limits{Low: um(-50), High: um(50)}
		change()
		if x := Assess(snap, added).Adjusting("roller"); x.Advice != AdvicePlan || x.Plan != nil {
			t.Errorf("without a %s limit: advice %d, %+v", name, x.Advice, x.Plan)
		}
	}
}

// A known eccentric is turned the way that brings its reading home: clockwise to raise
// it, since it stands on the side on which that raises.
func TestEccentricsTurnTheRightWay(t *testing.T) {
	s := driven(eccentric("l", "left"), eccentric("r", "right"))
	for _, reads := range []int64{-400, 400} {
		atBoth(&s, 9, reads, 0)
		m := Assess(s, added).Adjusting("roller").Plan.Moves[0]
		if (m.Turns.Sign() > 0) != (reads < 0) || m.Grow != (reads < 0) {
			t.Errorf("at %d: %+v", reads, m)
		}
	}
}

// Screws of a check whose positions must be alike are turned though each position lies
// within its limits, and where it has no limits of its own at all.
func TestPlanBringsPositionsTogether(t *testing.T) {
	for name, change := range map[string]func(*profile.Check){"within limits": func(*profile.Check) {},
		"without a target": func(k *profile.Check) {
			k.Target, k.Adjust, k.Stop = quantity.Value{}, metrology.Limits{}, metrology.Limits{}
		}} {
		snap := driven(screw("l", "left"), screw("r", "right"))
		check := snap.Machine.Profile.Check("roller")
		check.Adjust = metrology.Limits{Low: um(-200), High: um(200)}
		check.AlikeAdjust = um(100)
		change(check)
		atBoth(&snap, 9, 0, 187) // three steps of 62.5 apart
		adjusting := Assess(snap, added).Adjusting("roller")
		if adjusting.Plan == nil || !adjusting.Plan.ToDo() {
			t.Fatalf("%s: %+v", name, adjusting.Plan)
		}
		apart := adjusting.Plan.Expect[0].Reading.Sub(adjusting.Plan.Expect[1].Reading).Abs()
		if apart.Cmp(um(70)) > 0 || adjusting.Plan.Pass < 0.9 {
			t.Errorf("%s: %v apart, pass %v", name, apart, adjusting.Plan.Pass)
		}
		check.AlikeAdjust = quantity.Value{}
		if p := Assess(snap, added).Adjusting("roller").Plan; p != nil {
			t.Errorf("%s, need not be alike: %+v", name, p)
		}
	}
}

// barOf is a bar on two screws, 100 mm apart, read at its ends and in its middle.
func barOf() Snapshot {
	snap := driven(screw("l", ""), screw("r", ""))
	p := snap.Machine.Profile
	mm := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Millimetre) }
	p.Adjusters[0].At[0], p.Adjusters[1].At[0] = mm(0), mm(100)
	k := p.Check("roller")
	k.Positions = []string{"left", "middle", "right"}
	k.Body = &profile.Body{Kind: profile.Bar, Places: map[string][2]quantity.Value{"left": {mm(0), mm(0)},
		"middle": {mm(50), mm(0)}, "right": {mm(100), mm(0)}}}
	return snap
}

// What no turning takes out is told where it stays outside: of a bar that bulges by
// 90 µm in its middle the best straight line leaves 60 there and -30 at its ends.
func TestPlanTellsWhatStays(t *testing.T) {
	snap := barOf()
	read := func(left, middle, right int64) *Plan {
		snap.Latest["roller"] = gauged("roller", 9, added, map[string]quantity.Value{"left": um(left),
			"middle": um(middle), "right": um(right)}, "left", "middle", "right")
		return Assess(snap, added).Adjusting("roller").Plan
	}
	for _, sign := range []int64{1, -1} {
		p := read(0, sign*90, 0)
		if d := cmp.Diff([]Expected{{Position: "middle", Before: um(sign * 90), Reading: um(sign * 60)}},
			p.Left); d != "" {
			t.Errorf("(-want +got):\n%s", d)
		}
	}
	if p := read(0, 60, 0); len(p.Left) != 0 { // it leaves 40 and -20
		t.Errorf("what a line takes out: %+v", p.Left)
	}
	check := snap.Machine.Profile.Check("roller")
	check.Adjust = metrology.Limits{Low: um(-50)}
	if p := read(0, -90, 0); len(p.Left) != 1 || !p.Left[0].Reading.Equal(um(-60)) {
		t.Errorf("a lower limit alone: %+v", p.Left)
	}
	check.Adjust = metrology.Limits{High: um(50)}
	if p := read(0, 90, 0); len(p.Left) != 1 || !p.Left[0].Reading.Equal(um(60)) {
		t.Errorf("an upper limit alone: %+v", p.Left)
	}
}

// What a turn of a screw does is told where it is a length of what is read: under a
// position, a bar or a plate.
func TestPlanTellsTheLead(t *testing.T) {
	s := driven(screw("l", "left"), screw("r", "right"))
	atBoth(&s, 9, 125, 0)
	m := Assess(s, added).Adjusting("roller").Plan.Moves[0]
	if !m.Response.Equal(um(1000)) || m.Gain != 1 || m.GainU != GainSpread || !m.Turns.Equal(turns(-1, 8)) ||
		m.Grow || !m.Exact.Equal(quantity.New(-125, 1000, quantity.Turn)) {
		t.Errorf("%+v", m)
	}
	snap := barOf()
	snap.Latest["roller"] = gauged("roller", 9, added, map[string]quantity.Value{"left": um(125), "middle": um(63),
		"right": um(0)}, "left", "middle", "right")
	if m := Assess(snap, added).Adjusting("roller").Plan.Moves[0]; !m.Response.Equal(um(1000)) {
		t.Errorf("of a bar: %+v", m)
	}
	snap = driven(screw("l", ""))
	mm := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Millimetre) }
	snap.Machine.Profile.Check("roller").Body = &profile.Body{Kind: profile.Taper, Centres: mm(500),
		Places: map[string][2]quantity.Value{"left": {mm(100), mm(0)}, "right": {mm(300), mm(0)}}}
	atBoth(&snap, 9, 60, 180)
	if m := Assess(snap, added).Adjusting("roller").Plan.Moves[0]; m.Response.Valid() || !m.ToDo() {
		t.Errorf("of a taper: %+v", m)
	}
}

// A screw whose sense nobody confirmed is turned by one step, the first that is worth
// it; and what it takes up in play is gone past where it must finish the other way.
func TestPlanOfScrewsNobodyKnows(t *testing.T) {
	for _, test := range []struct {
		useful int64 // sixteenths of a turn
		want   int64
	}{{0, 1}, {1, 1}, {2, 2}, {3, 3}} {
		snap := driven(screw("l", "left"), screw("r", "right"))
		snap.Machine.Setup.Confirmed = nil
		if test.useful > 0 {
			snap.Machine.Profile.Adjusters[0].Useful = turns(test.useful, 16)
		}
		atBoth(&snap, 9, -600, 0)
		m := Assess(snap, added).Adjusting("roller").Plan.Moves
		if !m[0].Turns.Equal(turns(test.want, 16)) || !m[0].First || m[1].First {
			t.Errorf("worth %d sixteenths: %+v", test.useful, m)
		}
	}
	// Worth a sixteenth and a half: two.
	s := driven(screw("l", "left"), screw("r", "right"))
	s.Machine.Setup.Confirmed = nil
	s.Machine.Profile.Adjusters[0].Useful = turns(3, 32)
	atBoth(&s, 9, -600, 0)
	if m := Assess(s, added).Adjusting("roller").Plan.Moves[0]; !m.Turns.Equal(turns(2, 16)) {
		t.Errorf("worth three thirty-seconds: %+v", m)
	}
}

// A screw that goes so far and no farther is turned no farther, counted over all tries
// from where it stood.
func TestPlanKeepsToTravel(t *testing.T) {
	snap := driven(screw("l", "left"), screw("r", "right"))
	snap.Machine.Profile.Adjusters[0].Travel = turns(1, 2)
	atBoth(&snap, 9, -900, 0)
	if m := Assess(snap, added).Adjusting("roller").Plan.Moves[0]; !m.Turns.Equal(turns(1, 2)) {
		t.Errorf("from where it stood: %+v", m)
	}
	latest, after := atBoth(&snap, 9, -900, 0), atBoth(&snap, 11, -650, 0)
	snap.Tries["roller"] = []Try{{Move: 10, Before: &latest, After: &after, Turned: []Turns{{Adjuster: "l",
		Turns: turns(1, 4)},
		{Adjuster: "gone", Turns: turns(5, 1)}}}}
	if m := Assess(snap, added).Adjusting("roller").Plan.Moves[0]; !m.Turns.Equal(turns(1, 4)) || m.Learned != 1 {
		t.Errorf("a quarter of a turn on: %+v", m)
	}
	// Back again, it may go three quarters.
	after = atBoth(&snap, 11, 950, 0)
	snap.Tries["roller"][0].After, latest = &after,
		gauged("roller", 9, added, map[string]quantity.Value{"left": um(700), "right": um(0)}, "left", "right")
	if m := Assess(snap, added).Adjusting("roller").Plan.Moves[0]; !m.Turns.Equal(turns(-3, 4)) {
		t.Errorf("back: %+v", m)
	}
}

// tried is two screws after tries at the left one, each by sixteenths of a turn from
// one reading to another, in micrometres; the last reading stands.
func tried(said HowTurned, tries ...[3]int64) Snapshot {
	snap := driven(screw("l", "left"), screw("r", "right"))
	for i, x := range tries {
		b := atBoth(&snap, FactNo(10*i+1), x[1], 0)
		a := atBoth(&snap, FactNo(10*i+3), x[2], 0)
		snap.Tries["roller"] = append(snap.Tries["roller"], Try{Move: FactNo(10*i + 2), Before: &b, After: &a,
			Turned: []Turns{{Adjuster: "l", Turns: turns(x[0], 16)}}})
	}
	if n := len(tries); n > 0 {
		snap.Tries["roller"][n-1].Said = said
	}
	return snap
}

// What a screw did is learned, by hand: a quarter of a turn of 1 mm should raise the
// reading by 250 µm. The wrong way asks and teaches nothing; far less or more is told as
// odd, and what is not within a quarter and four times is not learned from.
func TestTriesTeach(t *testing.T) {
	for _, test := range []struct {
		name    string
		tries   [][3]int64
		said    HowTurned
		wrong   bool
		odd     float64 // what it did of what was expected; 0 for nothing odd
		learned int
		gain    func(float64) bool
	}{
		{"none", nil, "", false, 0, 0, func(g float64) bool { return g == 1 }},
		{"as it should", [][3]int64{{4, -500, -250}}, "", false, 0, 1,
			func(g float64) bool { return math.Abs(g-1) < 0.02 }},
		{"a little less", [][3]int64{{4, -500, -290}}, "", false, 0, 1, func(g float64) bool {
			return g > 0.84 &&
				g < 0.95
		}},
		{"the wrong way", [][3]int64{{4, -250, -500}}, "", true, 0, 0, func(g float64) bool { return g == 1 }},
		{"the wrong way, turned the other way", [][3]int64{{4, -250, -500}}, TurnedOther, false, 0, 1,
			func(g float64) bool { return math.Abs(g-1) < 0.02 }},
		{"the wrong way, turned as said", [][3]int64{{4, -250, -500}}, TurnedAsSaid, false, 0, 1,
			func(g float64) bool { return math.Abs(g+1) < 0.02 }},
		{"nothing at all", [][3]int64{{4, -500, -500}}, "", false, 1e-9, 0, func(g float64) bool { return g == 1 }},
		{"twice as much, which a screw may do", [][3]int64{{4, -1000, -500}}, "", false, 2, 1,
			func(g float64) bool { return g > 1.6 && g < 2 }},
		{"five times as much", [][3]int64{{4, -1750, -500}}, "", false, 5, 0, func(g float64) bool { return g == 1 }},
		{"the wrong way before, and then as it should", [][3]int64{{4, -250, -500}, {4, -500, -250}}, "", false, 0, 1,
			func(g float64) bool { return math.Abs(g-1) < 0.02 }},
		{"odd before, and then as it should", [][3]int64{{4, -500, -500}, {4, -500, -250}}, "", false, 0, 1,
			func(g float64) bool { return math.Abs(g-1) < 0.02 }},
		{"twice as it should", [][3]int64{{4, -750, -500}, {4, -500, -250}}, "", false, 0, 2,
			func(g float64) bool { return math.Abs(g-1) < 0.02 }},
	} {
		s := tried(test.said, test.tries...)
		if len(test.tries) == 0 {
			atBoth(&s, 1, -500, 0)
		}
		adjusting := Assess(s, added).Adjusting("roller")
		if adjusting.Plan == nil {
			t.Fatalf("%s: no plan", test.name)
		}
		m := adjusting.Plan.Moves[0]
		if (adjusting.Wrong != nil) != test.wrong || m.Learned != test.learned || !test.gain(m.Gain) {
			t.Errorf("%s: wrong %+v, %+v", test.name, adjusting.Wrong, m)
		}
		if adjusting.Wrong != nil && (adjusting.Wrong.Move != 2 ||
			!slices.Equal(adjusting.Wrong.Adjusters, []string{"l"})) {
			t.Errorf("%s: %+v", test.name, adjusting.Wrong)
		}
		if (len(adjusting.Odd) == 1 && adjusting.Odd[0].Adjuster == "l" &&
			math.Abs(adjusting.Odd[0].Did-test.odd) < 0.05) != (test.odd != 0) {
			t.Errorf("%s: odd %+v", test.name, adjusting.Odd)
		}
		if right := adjusting.Plan.Moves[1]; right.Learned != 0 || right.Gain != 1 {
			t.Errorf("%s: the right screw learned too: %+v", test.name, right)
		}
	}
	// After the wrong way its sense is known no longer: one step, until it is shown.
	if m := Assess(tried("", [3]int64{4, -250, -500}), added).Adjusting("roller").Plan.Moves[0]; !m.First ||
		!m.Turns.Equal(turns(1, 16)) {
		t.Errorf("after the wrong way: %+v", m)
	}
	if m := Assess(tried("", [3]int64{4, -250, -500}, [3]int64{4, -500, -250}),
		added).Adjusting("roller").Plan.Moves[0]; m.First || m.Turns.Cmp(turns(1, 16)) <= 0 {
		t.Errorf("after it was shown: %+v", m)
	}
	// A screw that nobody confirmed is known once a try showed it.
	snap := tried("", [3]int64{1, -560, -500})
	snap.Machine.Setup.Confirmed = nil
	if m := Assess(snap, added).Adjusting("roller").Plan.Moves; m[0].First || m[0].Learned != 1 {
		t.Errorf("shown, never confirmed: %+v", m)
	}
	// What a try showed is still told when the reading is home, with no plan then.
	snap = tried("", [3]int64{4, -400, -20})
	if x := Assess(snap, added).Adjusting("roller"); x.Advice != AdviceNone || x.Plan != nil || len(x.Odd) != 1 {
		t.Errorf("home: %+v, %+v", x.Plan, x.Odd)
	}
	// Tries of which a reading is missing, or read at other positions, teach nothing.
	for name, spoil := range map[string]func(*Try){"no reading before": func(x *Try) { x.Before = nil },
		"none after":             func(x *Try) { x.After = nil },
		"fewer positions before": func(x *Try) { x.Before.Reading.Values = x.Before.Reading.Values[:1] },
		"and after": func(x *Try) {
			r := *x.After.Reading
			r.Values = r.Values[:1]
			x.After = &Latest{Fact: x.After.Fact, At: added, Check: "roller", Reading: &r}
		}} {
		s := tried("", [3]int64{4, -500, -290})
		spoil(&s.Tries["roller"][0])
		if m := Assess(s, added).Adjusting("roller").Plan.Moves[0]; m.Learned != 0 || m.Gain != 1 {
			t.Errorf("%s: %+v", name, m)
		}
	}
}

// Play is taken up first: of a screw that is approached clockwise a move down goes past
// and comes back.
func TestPlanGoesPast(t *testing.T) {
	snap := driven(screw("l", "left"), screw("r", "right"))
	adjuster := &snap.Machine.Profile.Adjusters[0]
	adjuster.Play, adjuster.Approach = turns(1, 8), 1
	atBoth(&snap, 9, 500, 0)
	m := Assess(snap, added).Adjusting("roller").Plan.Moves[0]
	if m.Turns.Sign() >= 0 || !m.Past.Valid() || m.Past.Cmp(turns(1, 8)) < 0 {
		t.Errorf("down: %+v", m)
	}
	atBoth(&snap, 9, -500, 0)
	if m := Assess(snap, added).Adjusting("roller").Plan.Moves[0]; m.Turns.Sign() <= 0 || m.Past.Valid() {
		t.Errorf("up: %+v", m)
	}
	// Half of the most play is expected: of a screw that may lose up to an eighth a
	// sixteenth is added.
	adjuster.Approach = 0
	atBoth(&snap, 9, -500, 0)
	if m := Assess(snap, added).Adjusting("roller").Plan; !m.Moves[0].Turns.Equal(turns(1, 2)) &&
		!m.Moves[0].Turns.Equal(turns(9, 16)) {
		t.Errorf("any way: %+v", m)
	}
}

// Adjusting answers for what is there: nothing for a check that is not read, that only
// passes or not, or that nothing moves; a fixed foot is never turned.
func TestAdjustingWhatIsThere(t *testing.T) {
	s := driven(screw("l", "left"), screw("r", "right"))
	if x := Assess(s, added).Adjusting("roller"); x.CheckStatus == nil || x.Plan != nil {
		t.Errorf("never read: %+v", x)
	}
	b := bench()
	inspect(&b, "guard", 9, added, false)
	read(&b, "bed", 9, added, thou(30))
	st := Assess(b, added)
	if x := st.Adjusting("guard"); x.CheckStatus == nil || x.Plan != nil || x.Advice != AdviceStop {
		t.Errorf("an inspection: %+v", x)
	}
	if x := st.Adjusting("bed"); x.CheckStatus == nil || x.Plan != nil || x.Advice != AdvicePlan {
		t.Errorf("nothing moves it: %+v", x)
	}
	foot := barOf()
	p := foot.Machine.Profile
	p.Adjusters[0].Fixed = true
	p.Check("roller").Positions = []string{"left", "right"}
	foot.Machine.Setup.Confirmed = nil
	foot.Machine.Setup = foot.Machine.Setup.With(item("adjuster:r"), "wren", added, nil)
	atBoth(&foot, 9, 0, 500)
	x := Assess(foot, added).Adjusting("roller")
	if x.Plan == nil || len(x.Plan.Moves) != 1 || x.Plan.Moves[0].Adjuster != "r" ||
		!x.Plan.Moves[0].Turns.Equal(turns(-1, 2)) {
		t.Errorf("a fixed foot: %+v", x.Plan)
	}
	// A plan of nothing moves nothing, and neither does a status without a snapshot.
	if (&Plan{Moves: []Adjustment{{Turns: quantity.Zero(quantity.Turns)}, {Turns: quantity.Zero(quantity.Turns),
		By: um(0)}}}).ToDo() {
		t.Error("nothing to turn or to slide is to do")
	}
	if !(&Plan{Moves: []Adjustment{{Turns: quantity.Zero(quantity.Turns)}, {Turns: quantity.Zero(quantity.Turns),
		By: um(-1)}}}).ToDo() {
		t.Error("a slide back is nothing to do")
	}
	if (Status{}).Caps() != nil {
		t.Error("caps of nothing")
	}
}

// Readings that no machine gives are planned for without going astray.
func TestPlanOfNonsense(t *testing.T) {
	for _, drive := range []func(string, string) profile.Adjuster{screw, slide, eccentric,
		func(id, position string) profile.Adjuster {
			return shims(id, position, profile.Down)
		}} {
		for _, power := range []int64{6, 12, 18, 24} {
			snap := driven(drive("l", "left"), drive("r", "right"))
			snap.Machine.Profile.Check("roller").Stop = metrology.Limits{}
			far := um(1).Mul(new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(power), nil)))
			snap.Latest["roller"] = gauged("roller", 9, added, map[string]quantity.Value{"left": far, "right": um(0)},
				"left", "right")
			plan := Assess(snap, added).Adjusting("roller").Plan
			if plan == nil && power < 18 {
				t.Errorf("%v at 10^%d: no plan", snap.Machine.Profile.Adjusters[0].Drive, power)
			}
			if plan != nil && (plan.Moves[0].Turns.Sign() > 0 && plan.Drive == profile.Screw || plan.Moves[1].ToDo() &&
				power < 18) {
				t.Errorf("%v at 10^%d: %+v", plan.Drive, power, plan.Moves)
			}
		}
	}
}

// What was made of a plan is what was to do, with the other checks that it moved, once
// each and without its own.
func TestMade(t *testing.T) {
	prof := &profile.Profile{Adjusters: []profile.Adjuster{{ID: "a", Check: "ends", Also: []string{"middle", "fence"}},
		{ID: "b", Check: "middle", Also: []string{"ends"}}, {ID: "c", Check: "ends", Also: []string{"top"}}}}
	plan := &Plan{Check: "ends", Moves: []Adjustment{{Adjuster: "a", Turns: turns(1, 8), Past: turns(1, 4)},
		{Adjuster: "b", Turns: turns(0, 1), By: um(-5)}, {Adjuster: "c", Turns: turns(0, 1)}}}
	want := Move{Check: "ends", Also: []string{"middle", "fence"}, Reading: 9,
		Turned: []Turns{{Adjuster: "a", Turns: turns(1, 8), Past: turns(1, 4)},
			{Adjuster: "b", Turns: turns(0, 1), By: um(-5)}}}
	if d := cmp.Diff(want, plan.Made(prof, 9)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// A move stands between the reading that it was planned from and the first after it,
// unless the next move comes first; what was said of it is said of it alone.
func TestPairTries(t *testing.T) {
	minute := func(n int) time.Time { return added.Add(time.Duration(n) * time.Minute) }
	reading := func(no FactNo, at int) Fact {
		return Fact{No: no, At: minute(at), For: "ada", Body: Reading{Check: "bed", Typed: "x"}}
	}
	move := func(no FactNo, at int, from FactNo) Fact {
		return Fact{No: no, At: minute(at), Body: Move{Check: "bed", Reading: from,
			Turned: []Turns{{Adjuster: "l", Turns: turns(int64(no), 8)}}}}
	}
	said := func(of FactNo, how HowTurned) Fact {
		return Fact{No: 90 + of, Body: MoveAnswer{Of: of, Check: "bed", Said: how}}
	}
	type pair struct {
		move, before, after FactNo
		said                HowTurned
	}
	for _, test := range []struct {
		name                  string
		moves, readings, said []Fact
		want                  []pair
	}{
		{"none", nil, []Fact{reading(1, 0)}, nil, nil},
		{"between two", []Fact{move(2, 10, 1)}, []Fact{reading(1, 0), reading(3, 20)}, nil, []pair{{2, 1, 3, ""}}},
		{"not read after", []Fact{move(2, 10, 1)}, []Fact{reading(1, 0)}, nil, []pair{{2, 1, 0, ""}}},
		{"the first after it", []Fact{move(2, 10, 1)}, []Fact{reading(1, 0), reading(3, 20), reading(4, 30)}, nil,
			[]pair{{2, 1, 3, ""}}},
		{"planned from a reading that is withdrawn", []Fact{move(2, 10, 1)}, []Fact{reading(3, 20)}, nil,
			[]pair{{2, 0, 3, ""}}},
		{"planned from an earlier reading than the last", []Fact{move(3, 10, 1)}, []Fact{reading(1, 0), reading(2, 5),
			reading(4, 20)}, nil, []pair{{3, 1, 4, ""}}},
		{"read at the moment of the move: before it", []Fact{move(2, 10, 1)}, []Fact{reading(1, 0), reading(3, 10),
			reading(4, 20)}, nil, []pair{{2, 1, 4, ""}}},
		{"two moves, read between them", []Fact{move(2, 10, 1), move(4, 30, 3)}, []Fact{reading(1, 0), reading(3, 20),
			reading(5, 40)}, nil, []pair{{2, 1, 3, ""}, {4, 3, 5, ""}}},
		{"two moves, not read between them", []Fact{move(2, 10, 1), move(3, 30, 1)},
			[]Fact{reading(1, 0), reading(4, 40)}, nil, []pair{{2, 1, 0, ""}, {3, 1, 4, ""}}},
		{"read at the moment of the next move", []Fact{move(2, 10, 1), move(4, 30, 3)},
			[]Fact{reading(1, 0), reading(3, 30), reading(5, 40)}, nil, []pair{{2, 1, 3, ""}, {4, 3, 5, ""}}},
		{"what was said, of the one that it is of, the last of it", []Fact{move(2, 10, 1), move(4, 30, 3)},
			[]Fact{reading(1, 0), reading(3, 20)},
			[]Fact{said(4, TurnedOther), said(2, TurnedAsSaid), said(2, TurnedOther), said(7, TurnedAsSaid)},
			[]pair{{2, 1, 3, TurnedOther}, {4, 3, 0, TurnedOther}}},
		{"other facts among them", []Fact{{No: 8, Body: Hours{}}, move(2, 10, 1)},
			[]Fact{reading(1, 0), {No: 9, At: minute(15), Body: Hours{}}, reading(3, 20)},
			[]Fact{{No: 7, Body: Hours{}}}, []pair{{2, 1, 3, ""}}},
	} {
		got := PairTries(test.moves, test.readings, test.said)
		var pairs []pair
		for _, try := range got {
			both := pair{move: try.Move, said: try.Said}
			if try.Before != nil {
				both.before = try.Before.Fact
			}
			if try.After != nil {
				both.after = try.After.Fact
			}
			pairs = append(pairs, both)
		}
		if !slices.Equal(pairs, test.want) {
			t.Errorf("%s: %+v, want %+v", test.name, pairs, test.want)
		}
	}
	x := PairTries([]Fact{move(2, 10, 1)}, []Fact{reading(1, 0), reading(3, 20)}, nil)[0]
	if !x.At.Equal(minute(10)) || len(x.Turned) != 1 || !x.Turned[0].Turns.Equal(turns(2, 8)) ||
		x.Before.By != "ada" || !x.Before.At.Equal(minute(0)) || !x.After.At.Equal(minute(20)) ||
		x.After.Check != "bed" || x.After.Reading == nil || x.After.Reading.Typed != "x" {
		t.Errorf("%+v, before %+v, after %+v", x, x.Before, x.After)
	}
}

// What boards show of spring caps, by hand: marks say that they must be higher, stutters
// lower; half way between the two, in steps of 100 µm.
func TestCapsByHand(t *testing.T) {
	for _, test := range []struct {
		name    string
		reads   int64
		reports []CapReport
		set     int64 // 0 for none
		now     bool
		change  func(*Snapshot)
	}{
		{"marks: a step higher", 500, []CapReport{{Fact: 1, Height: um(500), Marks: true}}, 600, true, nil},
		{"stutters: a step lower", 500, []CapReport{{Fact: 1, Height: um(500), Stutters: true}}, 400, true, nil},
		{"both: half way", 500, []CapReport{{Fact: 1, Height: um(900), Stutters: true},
			{Fact: 2, Height: um(500), Marks: true}}, 700, true, nil},
		{"between the two already", 700, []CapReport{{Fact: 1, Height: um(900), Stutters: true},
			{Fact: 2, Height: um(500), Marks: true}}, 0, true, nil},
		{"neither was seen", 500, []CapReport{{Fact: 1, Height: um(500)}}, 0, true, nil},
		{"no farther than its travel", 1950, []CapReport{{Fact: 1, Height: um(1950), Marks: true}}, 2000, true, nil},
		{"nor lower", -1950, []CapReport{{Fact: 1, Height: um(-1950), Stutters: true}}, -2000, true, nil},
		{"moved since it was read", 500, []CapReport{{Fact: 1, Height: um(500), Marks: true}}, 0, false,
			func(s *Snapshot) { s.Moved["roller"] = Moved{At: added.Add(1), Fact: 9} }},
		{"moved at that moment", 500, []CapReport{{Fact: 1, Height: um(500), Marks: true}}, 600, true,
			func(s *Snapshot) { s.Moved["roller"] = Moved{At: added, Fact: 9} }},
		{"never read", 500, []CapReport{{Fact: 1, Height: um(500), Marks: true}}, 0, false,
			func(s *Snapshot) { delete(s.Latest, "roller") }},
		{"only looked at", 500, []CapReport{{Fact: 1, Height: um(500), Marks: true}}, 0, false,
			func(s *Snapshot) { inspect(s, "roller", 9, added, true) }},
	} {
		snap := driven()
		snap.Machine.Profile.Caps = []profile.Cap{{Check: "other", Step: um(1)},
			{Check: "roller", Marks: "marks", Stutters: "stutter", Step: um(100)}}
		atBoth(&snap, 9, test.reads, 77)
		snap.Caps["roller"] = test.reports
		if test.change != nil {
			test.change(&snap)
		}
		all := Assess(snap, added).Caps()
		if len(all) != 1 || all[0].Cap.Check != "roller" {
			t.Fatalf("%s: %+v", test.name, all)
		}
		got := all[0]
		if got.Now.Valid() != test.now || test.now && !got.Now.Equal(um(test.reads)) || got.Move != (test.set != 0) ||
			got.Set.Valid() != (test.set != 0) || test.set != 0 && !got.Set.Equal(um(test.set)) {
			t.Errorf("%s: now %v, move %t, set %v; want %d", test.name, got.Now, got.Move, got.Set, test.set)
		}
		if d := cmp.Diff(test.reports, got.Reports); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
	s := driven()
	s.Machine.Profile.Caps = []profile.Cap{{Check: "roller", Step: um(100)}}
	if all := Assess(s, added).Caps(); len(all) != 0 {
		t.Errorf("no boards were reported: %+v", all)
	}
}

// After a move what it made stale is read once more, but for its own check; not what
// something else made stale, nor what was never read.
func TestReadAgain(t *testing.T) {
	snap := bench()
	snap.Moved["bed"] = Moved{At: onDay(1), Fact: 20}
	st := Assess(snap, onDay(2))
	if d := cmp.Diff([]string{"blade", "gap"}, ReadAgain(st, 20, "bed")); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if d := cmp.Diff([]string{"bed", "blade", "gap"}, ReadAgain(st, 20, "")); d != "" {
		t.Errorf("of no check (-want +got):\n%s", d)
	}
	if got := ReadAgain(st, 21, "bed"); len(got) != 0 {
		t.Errorf("after another move: %v", got)
	}
	snap.Moved["gap"] = Moved{At: onDay(1).Add(1), Fact: 21}
	delete(snap.Latest, "blade")
	if got := ReadAgain(Assess(snap, onDay(2)), 20, "bed"); len(got) != 0 {
		t.Errorf("moved once more, and never read: %v", got)
	}
}

// A move after which readings went the wrong way teaches nothing, but it took up the play:
// the next turn the same way loses none.
func TestTheWrongWayTakesUpPlay(t *testing.T) {
	snap := tried("", [3]int64{4, -250, -500}, [3]int64{4, -500, -250})
	snap.Machine.Profile.Adjusters[0].Play = turns(1, 8)
	if m := Assess(snap, added).Adjusting("roller").Plan.Moves[0]; m.Learned != 1 || math.Abs(m.Gain-1) > 0.02 {
		t.Errorf("learned %d times that it moves %.3f as far", m.Learned, m.Gain)
	}
}
