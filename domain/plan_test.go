package domain_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	. "setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// turned puts a try at the infeed roller into a snapshot: read, turned, read.
func turned(snap *Snapshot, no FactNo, at time.Time, before, after []quantity.Value, turns ...Turns) {
	read(snap, "infeed", no, at, before...)
	was := snap.Latest["infeed"]
	read(snap, "infeed", no+2, at.Add(time.Hour), after...)
	latest := snap.Latest["infeed"]
	if snap.Tries == nil {
		snap.Tries = map[string][]Try{}
	}
	snap.Tries["infeed"] = append(snap.Tries["infeed"],
		Try{Move: no + 1, At: at.Add(time.Minute), Turned: turns, Before: &was, After: &latest})
}

func left(n, d int64) Turns {
	return Turns{Adjuster: "infeed-left", Turns: quantity.New(n, d, quantity.Turn)}
}

func tenths(n int64) quantity.Value { return quantity.New(n, 10, quantity.Thou) }

// Common practice, no source: the infeed roller's worked example, through the
// whole judgement.
func TestPlanOfTheInfeedRoller(t *testing.T) {
	snap := ready(t)
	read(&snap, "infeed", 9, added, thou(46), thou(41))
	plan := Assess(snap, added).Adjusting("infeed").Plan
	if plan == nil || len(plan.Moves) != 2 {
		t.Fatalf("plan %v", plan)
	}
	l, adjustment := plan.Moves[0], plan.Moves[1]
	if l.Adjuster != "infeed-left" || !l.Turns.Equal(quantity.New(1, 8, quantity.Turn)) || l.Grow ||
		!l.Exact.Equal(quantity.New(12, 100, quantity.Turn)) {
		t.Errorf("left: %+v", l)
	}
	if !plan.Expect[0].Reading.Equal(quantity.New(3975, 100, quantity.Thou)) ||
		!plan.Expect[1].Reading.Equal(thou(41)) {
		t.Errorf("expect %+v", plan.Expect)
	}
	if adjustment.ToDo() || !adjustment.Exact.Equal(quantity.New(2, 100, quantity.Turn)) {
		t.Errorf("right: %+v", adjustment)
	}
	made := plan.Made(snap.Machine.Profile, 9)
	if d := cmp.Diff(Move{Check: "infeed", Reading: 9, Turned: []Turns{left(1, 8)}}, made); d != "" {
		t.Errorf("made (-want +got):\n%s", d)
	}
	read(&snap, "infeed", 9, added, thou(34))
	if m := Assess(snap, added).Adjusting("infeed").Plan.Moves[0]; !m.Turns.Equal(quantity.New(-1, 8, quantity.Turn)) ||
		!m.Grow {
		t.Errorf("read 34 thou: %+v", m)
	}
	// A screw that nobody confirmed starts with one step, until a try showed its sense.
	snap.Machine.Setup.Confirmed = nil
	read(&snap, "infeed", 9, added, thou(59))
	if m := Assess(snap, added).Adjusting("infeed").Plan.Moves[0]; !m.First ||
		!m.Turns.Equal(quantity.New(1, 8, quantity.Turn)) {
		t.Errorf("unconfirmed screw: %+v", m)
	}
	turned(&snap, 9, added, []quantity.Value{thou(59), thou(40)}, []quantity.Value{thou(53), thou(40)}, left(1, 8))
	if m := Assess(snap, added).Adjusting("infeed").Plan.Moves[0]; m.First ||
		m.Turns.Cmp(quantity.New(1, 8, quantity.Turn)) <= 0 || m.Learned != 1 {
		t.Errorf("after a try: %+v", m)
	}
}

// What a screw did is learned, from as many tries as there are; taking them away
// takes away what they taught.
func TestPlanLearns(t *testing.T) {
	snap := ready(t)
	fresh := Assess(snap, added)
	at := added
	for i := range 4 { // the screw does 0.8 of its thread: 5 thou in an eighth of a turn
		turned(&snap, FactNo(9+3*i), at, []quantity.Value{thou(58), thou(40)}, []quantity.Value{thou(53), thou(40)},
			left(1, 8))
		at = at.Add(2 * time.Hour)
	}
	m := Assess(snap, at).Adjusting("infeed").Plan.Moves[0]
	if m.Learned != 4 || math.Abs(m.Gain-0.8) > 2*m.GainU || m.GainU > 0.06 || m.Gain > 0.9 {
		t.Errorf("learned %+v", m)
	}
	snap.Tries = nil
	if m := Assess(snap, at).Adjusting("infeed").Plan.Moves[0]; m.Learned != 0 || m.Gain != 1 {
		t.Errorf("un-learned: %+v", m)
	}
	if fresh.Adjusting("infeed").Plan != nil {
		t.Error("a plan for what is well")
	}
}

// A try the wrong way asks, and teaches nothing before somebody says; one that did
// nothing is told, and teaches nothing.
func TestPlanAsks(t *testing.T) {
	snap := ready(t)
	turned(&snap, 9, added, []quantity.Value{thou(50), thou(40)}, []quantity.Value{tenths(564), thou(40)}, left(1, 8))
	cs := Assess(snap, added).Adjusting("infeed")
	if cs.Wrong == nil || cs.Wrong.Move != 10 || len(cs.Wrong.Adjusters) != 1 || cs.Plan.Moves[0].Learned != 0 {
		t.Fatalf("wrong way: %+v %+v", cs.Wrong, cs.Plan)
	}
	snap.Tries["infeed"][0].Said = TurnedOther
	if m := Assess(snap, added).Adjusting("infeed"); m.Wrong != nil || m.Plan.Moves[0].Turns.Sign() <= 0 ||
		m.Plan.Moves[0].Learned != 1 {
		t.Errorf("turned the other way: %+v", m.Plan.Moves[0])
	}
	snap.Tries["infeed"][0].Said = TurnedAsSaid
	if m := Assess(snap, added).Adjusting("infeed"); m.Wrong != nil || m.Plan.Moves[0].Turns.Sign() >= 0 ||
		m.Plan.Moves[0].Gain >= 0 || m.Plan.Moves[0].Learned != 1 {
		t.Errorf("turned as said: %+v", m.Plan.Moves[0])
	}
	snap = ready(t)
	turned(&snap, 9, added, []quantity.Value{thou(50), thou(40)}, []quantity.Value{thou(50), thou(40)}, left(1, 8))
	cs = Assess(snap, added).Adjusting("infeed")
	if len(cs.Odd) != 1 || math.Abs(cs.Odd[0].Did) > 0.05 || cs.Plan.Moves[0].Learned != 0 {
		t.Errorf("nothing moved: %+v, %+v", cs.Odd, cs.Plan.Moves[0])
	}
	// It is told with the reading that showed it, and not with a later one.
	read(&snap, "infeed", 20, added.Add(2*time.Hour), thou(50), thou(40))
	if cs := Assess(snap, added).Adjusting("infeed"); len(cs.Odd) != 0 {
		t.Errorf("told again: %+v", cs.Odd)
	}
}

// shared is two checks of one bar on two screws: read at its ends and in its
// middle.
const shared = `setscrew-profile: 1
kind: bar
name: bar
revision: 1
gauges:
  - {id: dial, name: dial, resolution: 0.01 mm, uncertainty: 0.01 mm, k: 2}
checks:
  - id: ends
    name: ends
    class: quality
    measured: up is positive.
    positions: [left, right]
    body: {kind: bar, places: {left: 0 mm, right: 100 mm}}
    target: 0 mm
    adjust: -0.1 mm to 0.1 mm
    gauge: dial
    entry: {metric: mm, inch: thou}
    decimals: {metric: 2, inch: 0}
    source: common practice, no source
  - id: middle
    name: middle
    class: quality
    measured: up is positive.
    positions: [first, second]
    body: {kind: bar, places: {first: 40 mm, second: 60 mm}}
    target: 0 mm
    adjust: -0.1 mm to 0.1 mm
    gauge: dial
    entry: {metric: mm, inch: thou}
    decimals: {metric: 2, inch: 0}
    source: common practice, no source
adjusters:
  - {id: l, name: left screw, check: ends, also: [middle], at: 0 mm, thread: M6, clockwise: raises,
    seen-from: above, positive: up, increment: 1/16 turn, play: 1/16 turn, approach: clockwise}
  - {id: r, name: right screw, check: ends, also: [middle], at: 100 mm, thread: M6, clockwise: raises,
    seen-from: above, positive: up, increment: 1/16 turn, travel: 1/4 turn}
services:
  - {id: oil, name: oil, class: routine, every: {hours: 8 h}, steps: [oil it], source: common practice}
cautions:
  - {id: isolate, text: isolate it}
return: [guards on]
`

// Checks that share screws are planned over together while both are fresh; play,
// the side to approach from and the ends of travel are kept to.
func TestPlanOverCheckTogether(t *testing.T) {
	prof, err := profile.Load("bar.yaml", []byte(shared), nil)
	if err != nil {
		t.Fatal(err)
	}
	snap := Snapshot{Shop: NewShop("shop"),
		Machine: Machine{ID: 1, Name: "Bar", Added: added, Profile: prof,
			Setup: Setup{Confirmed: map[Item]Confirmation{AdjusterItem.Of("l"): {}, AdjusterItem.Of("r"): {}}}},
		Hours: quantity.Zero(quantity.Duration), Latest: map[string]Latest{}, Moved: map[string]Moved{}}
	mm := func(hundredths int64) quantity.Value { return quantity.New(hundredths, 100, quantity.Millimetre) }
	read(&snap, "ends", 9, added, mm(30), mm(0))
	alone := Assess(snap, added).Adjusting("ends").Plan
	adjustment := alone.Moves[0]
	if adjustment.Turns.Sign() >= 0 || !adjustment.Past.Valid() || adjustment.Past.Sign() <= 0 {
		t.Errorf("it is to end clockwise: %+v", adjustment)
	}
	if d := cmp.Diff([]string{"middle"}, alone.Made(prof, 9).Also); d != "" {
		t.Errorf("also moved: %s", d)
	}
	// The middle stands low already: lowering the left end takes it out, unless the
	// plan heeds it.
	read(&snap, "middle", 10, added, mm(-8))
	both := Assess(snap, added).Adjusting("ends").Plan
	if both.Moves[0].Turns.Cmp(adjustment.Turns) <= 0 && !both.Moves[1].ToDo() {
		t.Errorf("the middle makes no difference: %+v, alone %+v", both.Moves, alone.Moves)
	}
	snap.Moved["middle"] = Moved{At: added.Add(time.Minute), Fact: 11}
	if d := cmp.Diff(alone.Moves, Assess(snap, added).Adjusting("ends").Plan.Moves); d != "" {
		t.Errorf("a stale check counts (-alone +stale):\n%s", d)
	}
	// The right screw goes a quarter of a turn and no farther.
	delete(snap.Latest, "middle")
	read(&snap, "ends", 9, added, mm(0), mm(90))
	if m := Assess(snap, added).Adjusting("ends").Plan.Moves[1]; !m.Turns.Equal(quantity.New(-1, 4, quantity.Turn)) {
		t.Errorf("past its travel: %+v", m)
	}
}

// A plan's prediction is what its turns make of the reading; it is the same for
// inches and millimetres; and nothing that a plan is made for is worse after it.
func TestPlanProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		s := ready(t)
		a, b := rapid.Int64Range(-300, 900).Draw(rt, "left"), rapid.Int64Range(-300, 900).Draw(rt, "right")
		read(&s, "infeed", 9, added, tenths(a), tenths(b))
		cs := Assess(s, added).Adjusting("infeed")
		if cs.Plan == nil {
			return
		}
		for i, expected := range cs.Plan.Expect {
			m := cs.Plan.Moves[i]
			want := expected.Before.Sub(thou(50).Mul(m.Turns.In(quantity.Turn)))
			if math.Abs(want.Sub(expected.Reading).Float(quantity.Thou)) > 0.01 {
				rt.Fatalf("%v turned %v: expect %v, want %v", expected.Before, m.Turns, expected.Reading, want)
			}
			off := func(v quantity.Value) float64 { return math.Abs(v.Sub(thou(40)).Float(quantity.Thou)) }
			if off(expected.Reading) > off(expected.Before)+0.01 {
				rt.Fatalf("worse after it: %v to %v", expected.Before, expected.Reading)
			}
		}
		if cs.Plan.Pass < 0 || cs.Plan.Pass > 1 || cs.Plan.ToDo() && cs.Plan.Tries < 1 {
			rt.Fatalf("pass %v, tries %v", cs.Plan.Pass, cs.Plan.Tries)
		}
	})
}

// The set-up goes along the reference chain: nothing before what it is measured
// from, and nothing twice.
func TestSetUpOrder(t *testing.T) {
	snap := planer(t)
	steps, next := SetUp(Assess(snap, added))
	seen := map[string]bool{}
	for _, step := range steps {
		for _, from := range snap.Machine.Profile.Check(step.Check).From {
			if !seen[from] {
				t.Errorf("%s before %s, from which it is measured", step.Check, from)
			}
		}
		if seen[step.Check] || step.State != StepRead {
			t.Errorf("%s: twice %v, %s", step.Check, seen[step.Check], step.State)
		}
		seen[step.Check] = true
	}
	always := slices.DeleteFunc(slices.Clone(snap.Machine.Profile.Checks),
		func(c profile.Check) bool { return c.OnDemand })
	if len(steps) != len(always) || next == nil || next.Check != "table" {
		t.Errorf("%d steps, next %+v", len(steps), next)
	}
	if _, next := SetUp(Assess(ready(t), added)); next != nil {
		t.Errorf("all is read and well, next %+v", next)
	}
}

// What is decided about a machine does not hang on what its screws have taught: that
// is worked out for words alone.
func TestAssessLooksAtNoTries(t *testing.T) {
	tried := ready(t)
	turned(&tried, 9, added, []quantity.Value{thou(50), thou(40)}, []quantity.Value{thou(58), thou(40)}, left(1, 8))
	untried := tried
	untried.Tries, untried.Caps = nil, nil
	status, b := Assess(tried, added), Assess(untried, added)
	if d := cmp.Diff(status, b, cmpopts.IgnoreUnexported(Status{}, profile.Profile{})); d != "" {
		t.Errorf("with tries and without:\n%s", d)
	}
	if status.Adjusting("infeed").Wrong == nil || b.Adjusting("infeed").Wrong != nil {
		t.Error("only with tries is it seen that one went the wrong way")
	}
	if x := status.Adjusting("no such check"); x.CheckStatus != nil || x.Plan != nil {
		t.Errorf("a check that is not there: %+v", x)
	}
}
