package domain_test

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	. "setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// added is when the machines of these tests came on the books.
var added = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

func thou(n int64) quantity.Value { return quantity.New(n, 1, quantity.Thou) }

// planer is a planer with two knives, everything confirmed and nothing read.
func planer(t testing.TB) Snapshot {
	t.Helper()
	text, err := profile.BuiltinText("thickness-planer")
	if err != nil {
		t.Fatal(err)
	}
	setup := Setup{Kind: "thickness-planer", Params: profile.Params{"knives": "2"}, Rev: 1}
	prof, err := Compile(text, setup)
	if err != nil {
		t.Fatal(err)
	}
	for _, item := range setup.StartingValues(prof) {
		setup = setup.With(item, "wren", added, nil)
	}
	return Snapshot{Shop: NewShop("shop"), Machine: Machine{ID: 1, Name: "Marble", Added: added, Setup: setup,
		Profile: prof},
		Hours: quantity.Zero(quantity.Duration), Latest: map[string]Latest{}, Moved: map[string]Moved{},
		Services: map[string]LastService{}, Events: map[string]LastService{}}
}

// read puts a reading of the same value everywhere, with U = 1 thou, into a
// snapshot.
func read(snap *Snapshot, check string, no FactNo, at time.Time, values ...quantity.Value) {
	c := snap.Machine.Profile.Check(check)
	reading := Reading{Check: check, Gauge: GaugeUsed{Name: "dial",
		Gauge: metrology.Gauge{Uncertainty: thou(1), Coverage: metrology.Coverage(Level, math.Inf(1))}}}
	for i, p := range c.Positions {
		reading.Values = append(reading.Values, quantity.At{Position: p,
			Repeats: []quantity.Value{values[i%len(values)]}})
	}
	snap.Latest[check] = Latest{Fact: no, At: at, Check: check, Reading: &reading}
}

func inspect(s *Snapshot, check string, no FactNo, at time.Time, pass bool) {
	s.Latest[check] = Latest{Fact: no, At: at, Check: check, Inspection: &Inspection{Check: check, Pass: pass}}
}

// ready is a planer on which everything is read and well.
func ready(t testing.TB) Snapshot {
	snap := planer(t)
	for i, check := range snap.Machine.Profile.Checks {
		if check.OnDemand {
			continue
		}
		if check.Inspection {
			inspect(&snap, check.ID, FactNo(i+1), added, true)
		} else {
			read(&snap, check.ID, FactNo(i+1), added, check.Example)
		}
	}
	return snap
}

func causes(s Status) []string {
	var keys []string
	for _, c := range s.MustTag {
		keys = append(keys, fmt.Sprintf("%s %s", c.Key, c.Reason.Code))
	}
	return keys
}

func blockers(s Status) []string {
	var all []string
	for _, b := range s.Blockers {
		all = append(all, fmt.Sprintf("%s %s", b.ID, b.Code))
	}
	return all
}

// The decision table, row by row. U is 1 thou; the infeed roller (quality) has
// adjust limits 35 to 45 and stop limits 20 to 60, the knives (safety) 58.5 to
// 66.5 and 42.5 to 82.5.
func TestDecisionTable(t *testing.T) {
	for _, test := range []struct {
		name     string
		check    string
		values   []quantity.Value
		advice   Advice
		causes   []string
		blockers []string
	}{
		{"quality, proved within adjust", "infeed", []quantity.Value{thou(40)}, AdviceNone, nil, nil},
		{"quality, at the limit", "infeed", []quantity.Value{thou(45)}, AdviceNone, nil, nil},
		{"quality, outside adjust", "infeed", []quantity.Value{thou(46), thou(41)}, AdvicePlan, nil, nil},
		{"quality, not proved within stop", "infeed", []quantity.Value{thou(60)}, AdviceMeasure, nil, nil},
		{"quality, beyond stop but not proved", "infeed", []quantity.Value{thou(61)}, AdviceMeasure, nil, nil},
		{"quality, proved outside stop", "infeed", []quantity.Value{thou(62)}, AdviceStop,
			[]string{"check:infeed outside-stop"}, []string{"infeed stop"}},
		{"safety, proved within adjust", "knives", []quantity.Value{thou(62)}, AdviceNone, nil, nil},
		{"safety, outside adjust", "knives", []quantity.Value{thou(70)}, AdvicePlan, nil, nil},
		{"safety, inside stop but not proved", "knives", []quantity.Value{thou(82)}, AdviceMeasureToday, nil,
			[]string{"knives undecided"}},
		{"safety, outside stop but not proved", "knives", []quantity.Value{thou(83)}, AdviceStop,
			[]string{"check:knives maybe-stop"}, []string{"knives stop"}},
		{"safety, proved outside stop", "knives", []quantity.Value{thou(84)}, AdviceStop,
			[]string{"check:knives outside-stop"}, []string{"knives stop"}},
		{"safety, positions unlike", "knives", []quantity.Value{thou(61), thou(64)}, AdvicePlan, nil, nil},
		{"safety, positions maybe too unlike", "knives", []quantity.Value{thou(55), thou(66)}, AdviceStop,
			[]string{"check:knives maybe-unlike"}, []string{"knives stop"}},
		{"safety, positions too unlike", "knives", []quantity.Value{thou(55), thou(67)}, AdviceStop,
			[]string{"check:knives too-unlike"}, []string{"knives stop"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := ready(t)
			read(&s, test.check, 9, added, test.values...)
			st := Assess(s, added.Add(time.Hour))
			if got := st.Check(test.check).Advice; got != test.advice {
				t.Errorf("advice %d, want %d", got, test.advice)
			}
			if d := cmp.Diff(test.causes, causes(st)); d != "" {
				t.Errorf("must tag (-want +got):\n%s", d)
			}
			if d := cmp.Diff(test.blockers, blockers(st)); d != "" {
				t.Errorf("blockers (-want +got):\n%s", d)
			}
		})
	}
}

func TestInspections(t *testing.T) {
	snap := ready(t)
	inspect(&snap, "fingers", 9, added, false)
	st := Assess(snap, added.Add(time.Hour))
	if d := cmp.Diff([]string{"check:fingers failed"}, causes(st)); d != "" {
		t.Errorf("failed (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]string{"fingers failed"}, blockers(st)); d != "" {
		t.Errorf("failed (-want +got):\n%s", d)
	}
	// Inspected on 2 March, due on the 9th, late from the 12th (UTC).
	snap = ready(t)
	for _, test := range []struct {
		now    time.Time
		state  upkeep.State
		causes []string
		wake   time.Time
	}{
		{added.Add(time.Hour), upkeep.NotDue, nil, time.Date(2026, 3, 9, 0, 0, 0, 0, time.UTC)},
		// Warned of in the morning three days before and one, out of service half an hour before it opens.
		{time.Date(2026, 3, 9, 0, 0, 0, 0, time.UTC), upkeep.DueNow, nil, time.Date(2026, 3, 9, 7, 30, 0, 0, time.UTC)},
		{time.Date(2026, 3, 9, 7, 30, 0, 0, time.UTC), upkeep.DueNow, nil, time.Date(2026, 3, 11, 7, 30,
			0, 0, time.UTC)},
		{time.Date(2026, 3, 11, 7, 30, 0, 0, time.UTC), upkeep.DueNow, nil, time.Date(2026, 3, 12, 0, 0,
			0, 0, time.UTC)},
		{time.Date(2026, 3, 12, 0, 0, 0, 0, time.UTC), upkeep.Late, nil, time.Date(2026, 3, 12, 7, 30, 0, 0, time.UTC)},
		{time.Date(2026, 3, 12, 7, 30, 0, 0, time.UTC), upkeep.Late,
			[]string{"overdue:check:fingers check-overdue", "overdue:check:guards check-overdue"},
			time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)},
	} {
		st := Assess(snap, test.now)
		if got := st.Check("fingers").Due.State; got != test.state || !st.Wake.Equal(test.wake) {
			t.Errorf("at %v: state %d, wake %v; want %d, %v", test.now, got, st.Wake, test.state, test.wake)
		}
		if d := cmp.Diff(test.causes, causes(st)); d != "" {
			t.Errorf("at %v (-want +got):\n%s", test.now, d)
		}
	}
	// One that was never inspected counts from when the machine came.
	snap = planer(t)
	if d := cmp.Diff([]string{"overdue:check:fingers check-overdue", "overdue:check:guards check-overdue"},
		causes(Assess(snap, added.AddDate(0, 0, 30).Add(-time.Minute)))); d != "" {
		t.Errorf("never inspected (-want +got):\n%s", d)
	}
}

func TestUnreadAndStaleBlock(t *testing.T) {
	st := Assess(planer(t), added)
	var all []string
	for _, c := range st.Checks {
		if !c.Check.OnDemand { // only a danger asks for those
			all = append(all, c.Check.ID+" unread")
		}
	}
	if d := cmp.Diff(all, blockers(st)); d != "" || len(all) < 19 {
		t.Errorf("unread (-want +got):\n%s", d)
	}
	if len(st.MustTag) != 0 {
		t.Errorf("unread: must tag %v", causes(st))
	}
	// A datum that moved later makes what is measured from it stale; one that
	// moved earlier does not, whatever the order of typing.
	for _, test := range []struct {
		moved time.Duration
		want  []string
	}{
		{time.Minute, []string{"knives moved", "clamping stale", "infeed stale", "chip-breaker stale",
			"pressure-bar stale", "outfeed stale", "deflector stale", "full-turn stale", "test-board stale",
			"depth-scale stale"}},
		{0, nil},
		{-time.Minute, nil},
	} {
		s := ready(t)
		s.Moved["knives"] = Moved{At: added.Add(test.moved), Fact: 5}
		st := Assess(s, added.Add(time.Hour))
		if d := cmp.Diff(test.want, blockers(st)); d != "" {
			t.Errorf("moved %v after (-want +got):\n%s", test.moved, d)
		}
		if got := len(st.MustTag) == 1 && st.MustTag[0].Reason.Code == SurfaceMoved; got != (test.moved > 0) {
			t.Errorf("moved %v after: must tag %v", test.moved, causes(st))
		}
	}
	// A stale reading past its stop limit demands nothing.
	s := ready(t)
	read(&s, "infeed", 9, added, thou(62))
	s.Moved["infeed"] = Moved{At: added.Add(time.Minute), Fact: 10}
	if st := Assess(s, added.Add(time.Hour)); len(st.MustTag) != 0 || st.Check("infeed").StaleFrom != "infeed" {
		t.Errorf("stale: must tag %v, stale from %q", causes(st), st.Check("infeed").StaleFrom)
	}
}

func TestStandingTagDemandsNoSecond(t *testing.T) {
	snap := ready(t)
	read(&snap, "infeed", 9, added, thou(62))
	snap.Dangers = []Danger{{Fact: 10, Problem: Problem{Symptom: "smoke", Name: "smoke"}},
		{Fact: 11, Problem: Problem{Symptom: "smoke", Name: "smoke"}}, {Fact: 12, Problem: Problem{Name: "odd noise"}}}
	st := Assess(snap, added)
	if d := cmp.Diff([]string{"check:infeed outside-stop", "danger:smoke danger", "danger:odd noise danger"},
		causes(st)); d != "" {
		t.Errorf("must tag (-want +got):\n%s", d)
	}
	for _, c := range st.MustTag {
		snap.Tags = append(snap.Tags, Tag{Fact: 20, Cause: c.Key, Reason: c.Reason})
	}
	if st := Assess(snap, added); len(st.MustTag) != 0 || !st.TaggedOut() {
		t.Errorf("with the tags hung: must tag %v", causes(st))
	}
}

func TestServices(t *testing.T) {
	snap := ready(t)
	hrs := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Hour) }
	snap.Hours = hrs(7)
	if b := Assess(snap, added).Service("bushings"); b.Due.State != upkeep.NotDue || !b.Due.Left.Equal(hrs(1)) ||
		b.Last.Fact != 0 {
		t.Errorf("never done, 7 h: %+v", b)
	}
	snap.Hours = hrs(100)
	snap.Services["bushings"] = LastService{Fact: 9, At: added, Since: hrs(8)}
	if b := Assess(snap, added).Service("bushings"); b.Due.State != upkeep.DueNow || b.Due.Left.Sign() != 0 {
		t.Errorf("8 h after: %+v", b)
	}
	// A safety service past its late limit stops the machine.
	p := *snap.Machine.Profile
	p.Services = slices.Clone(p.Services)
	p.Service("bushings").Class = profile.SafetyService
	snap.Machine.Profile = &p
	snap.Services["bushings"] = LastService{Fact: 9, At: added, Since: hrs(12)}
	st := Assess(snap, added.AddDate(0, 0, 1).Add(-time.Minute))
	if d := cmp.Diff([]string{"overdue:service:bushings overdue"}, causes(st)); d != "" {
		t.Errorf("late safety service (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]string{"bushings overdue"}, blockers(st)); d != "" {
		t.Errorf("late safety service (-want +got):\n%s", d)
	}
}

func TestAdmit(t *testing.T) {
	tagged := func(by PersonID) Snapshot {
		s := ready(t)
		s.Tags = []Tag{{Fact: 9, By: by, Reason: Reason{Code: SaidBySomebody, Text: "loose"}}}
		return s
	}
	dangerous := tagged("")
	dangerous.Dangers = []Danger{{Fact: 8, Problem: Problem{Name: "smoke", Danger: true}}}
	blocked := tagged("")
	delete(blocked.Latest, "infeed")
	running := tagged("")
	delete(running.Latest, "test-board")
	tested := func(s Snapshot) Snapshot {
		s.Test = &Test{Fact: 10, By: "wren", At: added}
		return s
	}
	counted := ready(t)
	counted.Counter = &Counter{Fact: 9, At: added, Shown: quantity.New(100, 1, quantity.Hour),
		Since: quantity.Zero(quantity.Duration)}
	squeals := ready(t)
	squeals.Problems = []OpenProblem{{Key: "squeal", Name: "belt squeal"}}
	for _, test := range []struct {
		name string
		snap Snapshot
		body Body
		want Code
	}{
		{"nothing to test", ready(t), UnderTest{}, NotTagged},
		{"own tag", tagged("wren"), UnderTest{Tags: []TagAnswer{{Tag: 9}}}, ""},
		{"Setscrew's tag", tagged(""), UnderTest{Tags: []TagAnswer{{Tag: 9}}}, ""},
		{"somebody's tag", tagged("ada"), UnderTest{Tags: []TagAnswer{{Tag: 9}}}, OwnerNotAsked},
		{"somebody's tag, asked", tagged("ada"), UnderTest{Tags: []TagAnswer{{9, OwnerAsked}}}, ""},
		{"somebody's tag, out of reach", tagged("ada"), UnderTest{Tags: []TagAnswer{{9, OwnerUnreachable}}}, ""},
		{"danger without a word", dangerous, UnderTest{}, NoteNeeded},
		{"danger with one", dangerous, UnderTest{Note: "belt replaced", Tags: []TagAnswer{{Tag: 9}}}, ""},
		{"something unread", blocked, UnderTest{Note: "x"}, Blocked},
		{"what is read while it runs", running, UnderTest{Tags: []TagAnswer{{Tag: 9}}}, ""},
		{"end of no test", tagged(""), TestEnded{}, NoTest},
		{"end of a test", tested(tagged("")), TestEnded{}, ""},
		{"nothing to release", ready(t), Release{}, NotTagged},
		{"not tested", tagged(""), Release{}, NotTested},
		{"tested", tested(tagged("ada")), Release{}, ""},
		{"tested, something unread", tested(running), Release{}, Blocked},
		{"a counter goes on", counted, CounterRead{Seconds: 100 * 3600}, ""},
		{"a counter goes back", counted, CounterRead{Seconds: 99 * 3600}, CounterBack},
		{"a new counter", counted, CounterRead{Seconds: 0, New: true}, ""},
		{"a first counter", ready(t), CounterRead{Seconds: 5}, ""},
		{"mended", squeals, Mended{Key: "squeal"}, ""},
		{"mended, not reported", squeals, Mended{Key: "snipe"}, NoSuchProblem},
		{"anything else", blocked, Hours{Seconds: 60}, ""},
	} {
		refusal := Admit(Assess(test.snap, added), Entry{By: "wren", At: added, Body: test.body})
		got := Code("")
		if refusal != nil {
			got = refusal.Code
		}
		if got != test.want {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
		if refusal != nil && refusal.Code == Blocked && len(refusal.Blockers) == 0 {
			t.Errorf("%s: blocked by nothing", test.name)
		}
	}
}

func TestUnlikely(t *testing.T) {
	check := planer(t).Machine.Profile.Check("infeed") // target 40 thou
	for _, test := range []struct {
		tenths int64
		want   bool
	}{{400, false}, {3999, true}, {4000, true}, {-4000, true}, {41, true}, {40, true}, {0, true}, {-400, true},
		{3000, false}, {100, false}, {81, false}, {-100, false}, {900, false}} {
		v := []quantity.At{{Repeats: []quantity.Value{thou(40)}},
			{Repeats: []quantity.Value{thou(40), quantity.New(test.tenths, 10, quantity.Thou)}}}
		if got := Unlikely(check, v); got != test.want {
			t.Errorf("%d tenths of a thou against 40 thou: %v, want %v", test.tenths, got, test.want)
		}
	}
	bar := planer(t).Machine.Profile.Check("pressure-bar") // target 8 thou, stop limits -5 to 30
	for n, want := range map[int64]bool{0: false, -4: false, 8: false, 80: true} {
		if got := Unlikely(bar, []quantity.At{{Repeats: []quantity.Value{thou(n)}}}); got != want {
			t.Errorf("%d thou against 8 thou: %v, want %v", n, got, want)
		}
	}
	if Unlikely(&profile.Check{Target: thou(0)}, []quantity.At{{Repeats: []quantity.Value{thou(99)}}}) {
		t.Error("a target of zero has no ten times")
	}
}

// What the channel is owed, told by its operations and keys.
func TestOwed(t *testing.T) {
	ops := func(n []Notice) string {
		var all []string
		for _, x := range n {
			all = append(all, fmt.Sprintf("%s %s", x.Op, x.Key))
		}
		return strings.Join(all, ", ")
	}
	fine := Assess(ready(t), added)
	out := ready(t)
	out.Outage = 3
	out.Tags = []Tag{{Fact: 9, Cause: "check:infeed"}}
	tagged := Assess(out, added)
	two := out
	two.Tags = append(slices.Clone(out.Tags), Tag{Fact: 10, By: "bo"})
	proving := out
	proving.Test = &Test{Fact: 10, By: "wren", At: added}
	squeals := func(n int) Snapshot {
		s := ready(t)
		s.Problems = []OpenProblem{{Key: "squeal", Name: "belt squeal", First: 20, Last: FactNo(19 + n), Reports: n}}
		return s
	}
	worn := ready(t)
	worn.Hours = quantity.New(8, 1, quantity.Hour)
	oiled := ready(t)
	oiled.Services = map[string]LastService{"bushings": {Fact: 12, At: added, Since: quantity.Zero(quantity.Duration)}}
	rough := ready(t)
	read(&rough, "infeed", 9, added, thou(46))
	roughOut := rough
	roughOut.Outage, roughOut.Tags = out.Outage, out.Tags
	mended := fine
	mended.Mends = map[string]LastService{"squeal": {Fact: 22, At: added}}
	told := Assess(squeals(2), added)
	told.Problems = slices.Clone(told.Problems)
	told.Problems[0].By = []PersonID{"ada", "bo"}
	for _, test := range []struct {
		name          string
		before, after Status
		fact          *Fact
		want          string
	}{
		{"nothing", fine, fine, nil, ""},
		{"tagged out", fine, tagged, &Fact{No: 8, Body: Reading{Check: "infeed"}}, "post m1/out/3, pin m1/out/3/pin"},
		{"a second tag", tagged, Assess(two, added), &Fact{No: 10, Body: TagOut{}}, "edit m1/out/3/edit/10"},
		{"a second tag by the sweep", tagged, Assess(two, added), nil, "edit m1/out/3/edit/10"},
		{"released", tagged, fine, &Fact{No: 11, Body: Release{}},
			"edit m1/out/0/lifted, unpin m1/out/0/unpin, post m1/out/0/back"},
		{"hours while tagged", tagged, tagged, &Fact{No: 12, Body: Hours{Seconds: 60}}, "post m1/ran/12"},
		{"hours under test", Assess(proving, added), Assess(proving, added),
			&Fact{No: 12, For: "wren", Body: Hours{Seconds: 60}},
			""},
		{"under test", tagged, Assess(proving, added), &Fact{No: 10, Body: UnderTest{}},
			"edit m1/out/3/edit/10, post m1/test/10"},
		{"test ended", Assess(proving, added), tagged, &Fact{No: 11, Body: TestEnded{}},
			"edit m1/out/3/edit/11, post m1/test/10/ended"},
		{"problem", fine, Assess(squeals(1), added), &Fact{No: 20, Body: Problem{Symptom: "squeal"}},
			"post m1/problem/20"},
		{"the same again", Assess(squeals(1), added), Assess(squeals(2), added),
			&Fact{No: 21, Body: Problem{Symptom: "squeal"}}, "edit m1/problem/20/again/21"},
		{"mended", Assess(squeals(2), added), mended, &Fact{No: 22, Body: Mended{Key: "squeal"}},
			"edit m1/problem/20/mended/22"},
		{"mended, and told", told, mended, &Fact{No: 21, Body: ServiceDone{Service: "wax"}},
			"edit m1/problem/20/mended/22, post m1/problem/20/told/22"},
		{"mended, told of to nobody twice", mended, mended, nil, ""},
		{"due", fine, Assess(worn, added), &Fact{No: 12, Body: Hours{Seconds: 60}},
			"post m1/due/bushings/0, post m1/due/dust/0"},
		{"done", Assess(worn, added), Assess(oiled, added), &Fact{No: 12, Body: ServiceDone{Service: "bushings"}},
			"edit m1/due/bushings/0/done/12, edit m1/due/bushings/0/late/done/12, edit m1/due/dust/0/not-due/12, " +
				"edit m1/due/dust/0/late/not-due/12"},
		{"inspection late: what is due says so, the tag calls", fine,
			Assess(ready(t), added.AddDate(0, 0, 10).Truncate(24*time.Hour)), nil,
			"post m1/warn/2026-03-11, edit m1/check-due/fingers/15/overdue, post m1/check-due/fingers/15, edit " +
				"m1/check-due/guards/16/overdue, post m1/check-due/guards/16"},
		{"out of adjustment while tagged out", tagged, Assess(roughOut, added),
			&Fact{No: 9, Body: Reading{Check: "infeed"}}, ""},
		{"out of adjustment", fine, Assess(rough, added), &Fact{No: 9, Body: Reading{Check: "infeed"}},
			"post m1/adjust/9"},
		{"unlikely", fine, fine, &Fact{No: 9, Body: Reading{Check: "infeed", Unconfirmed: true}}, ""},
	} {
		got := Owed(test.before, test.after, test.fact)
		if ops(got) != test.want {
			t.Errorf("%s: %q, want %q", test.name, ops(got), test.want)
		}
		for _, notice := range got {
			text, err := EncodeArgs(notice.Args)
			if err != nil {
				t.Fatal(err)
			}
			back, err := DecodeArgs(text)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(notice.Args, back); d != "" {
				t.Errorf("%s: arguments stored and read (-want +got):\n%s", test.name, d)
			}
		}
	}
	if _, err := DecodeArgs([]byte(`{"v": 99}`)); err == nil {
		t.Error("a notice of a later version is read")
	}
}

// Every kind of body is stored and read back as it was.
func TestCompilePutsOwnValues(t *testing.T) {
	text, err := profile.BuiltinText("thickness-planer")
	if err != nil {
		t.Fatal(err)
	}
	own := CheckValues{Target: thou(39), Adjust: metrology.Limits{Low: thou(38), High: thou(41)},
		Stop: metrology.Limits{High: thou(50)}}
	s := Setup{Kind: "thickness-planer", Rev: 4}
	setup := s.With(CheckItem.Of("infeed"), "wren", added, &own)
	if setup.Rev != 5 || s.Rev != 4 || s.Confirmed != nil || setup.Confirmed[CheckItem.Of("infeed")].By != "wren" {
		t.Errorf("%+v, from %+v", setup, s)
	}
	prof, err := Compile(text, setup)
	if err != nil {
		t.Fatal(err)
	}
	if c := prof.Check("infeed"); !c.Target.Equal(thou(39)) || !c.Adjust.High.Equal(thou(41)) || c.Stop.Low.Valid() {
		t.Errorf("infeed: %+v", c)
	}
	if slices.Contains(setup.StartingValues(prof), CheckItem.Of("infeed")) ||
		!slices.Contains(setup.StartingValues(prof), CheckItem.Of("outfeed")) {
		t.Errorf("starting values: %v", setup.StartingValues(prof))
	}
	if _, err := Compile(text, Setup{Kind: "thickness-planer",
		Values: map[string]CheckValues{"wings": own}}); err == nil {
		t.Error("own values for an unknown check compile")
	}
}

// Assess gives the same status for the same input, leaves its input as it was,
// wakes only later, and grades a check by its worst position.
func TestAssessProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		snap := ready(t)
		for _, id := range []string{"knives", "infeed", "outfeed"} {
			if rapid.Bool().Draw(rt, id+" read") {
				read(&snap, id, 9, added.Add(time.Duration(rapid.Int64Range(-1e5, 1e5).Draw(rt, id+" at"))*time.Second),
					quantity.New(rapid.Int64Range(0, 1000).Draw(rt, id+" left"), 10, quantity.Thou),
					quantity.New(rapid.Int64Range(0, 1000).Draw(rt, id+" right"), 10, quantity.Thou))
			}
			if rapid.Bool().Draw(rt, id+" moved") {
				snap.Moved[id] = Moved{At: added.Add(time.Duration(rapid.Int64Range(-1e5, 1e5).Draw(rt,
					id+" moved at")) * time.Second), Fact: 5}
			}
		}
		now := added.Add(time.Duration(rapid.Int64Range(0, 3e6).Draw(rt, "now")) * time.Second)
		status, b := Assess(snap, now), Assess(snap, now)
		if !reflect.DeepEqual(status, b) {
			rt.Fatalf("two statuses of one snapshot:\n%+v\n%+v", status, b)
		}
		if !status.Wake.IsZero() && !status.Wake.After(now) {
			rt.Fatalf("wakes at %v, not after %v", status.Wake, now)
		}
		for _, cs := range status.Checks {
			worst := metrology.Good
			for _, p := range cs.At {
				worst = max(worst, p.Verdict.Grade)
			}
			if cs.Alike != nil {
				worst = max(worst, cs.Alike.Verdict.Grade)
			}
			if cs.Grade != worst {
				rt.Fatalf("%s is graded %d, its worst position %d", cs.Check.ID, cs.Grade, worst)
			}
			if cs.Freshness != Fresh && cs.Advice != AdviceNone {
				rt.Fatalf("%s is not fresh, yet advice %d", cs.Check.ID, cs.Advice)
			}
		}
	})
}

// A shop's own values leave the profile that others share as it was.
func TestOwnLeavesTheLoadedProfile(t *testing.T) {
	text, err := profile.BuiltinText("thickness-planer")
	if err != nil {
		t.Fatal(err)
	}
	load := func() *profile.Profile {
		p, err := profile.Load("thickness-planer.yaml", text, nil)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	shared := load()
	own := CheckValues{Target: thou(39), Adjust: metrology.Limits{Low: thou(38), High: thou(41)},
		Stop: metrology.Limits{High: thou(50)}}
	setup := Setup{Kind: "thickness-planer", Values: map[string]CheckValues{"infeed": own},
		Intervals: map[Item]Interval{ServiceItem.Of("bushings"): {Days: 3}, CheckItem.Of("infeed"): {Days: 4}}}
	for i := range shared.Checks {
		for _, m := range shared.Checks[i].Modes {
			setup.Values[shared.Checks[i].ID+"."+m.ID] = own
		}
	}
	prof, err := setup.Own(shared)
	if err != nil {
		t.Fatal(err)
	}
	if !prof.Check("infeed").Target.Equal(thou(39)) || prof.Check("infeed").Every.Days != 4 ||
		prof.Service("bushings").Every.Days != 3 {
		t.Errorf("own values: %+v, %+v", prof.Check("infeed"), prof.Service("bushings").Every)
	}
	if d := cmp.Diff(load(), shared); d != "" {
		t.Errorf("the shared profile changed (-before +after):\n%s", d)
	}
}
