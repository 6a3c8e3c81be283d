package domain_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	. "setscrew/domain"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

func hours(n int64) quantity.Value { return quantity.New(n, 1, quantity.Hour) }

// Common practice, no source: gearbox oil after the first 20 h, then yearly;
// belts tensioned again once, 16 h after they were fitted.
func TestFirstThenEvery(t *testing.T) {
	day := func(n int) time.Time { return added.AddDate(0, 0, n) }
	for _, test := range []struct {
		name    string
		service string
		set     func(*Snapshot)
		now     time.Time
		state   upkeep.State
		left    quantity.Value
	}{
		{"gearbox, new", "gearbox-oil", func(s *Snapshot) { s.Hours = hours(19) }, day(1), upkeep.NotDue, hours(1)},
		{"gearbox, 20 h", "gearbox-oil", func(s *Snapshot) { s.Hours = hours(20) }, day(1), upkeep.DueNow, hours(0)},
		{"gearbox, 30 h", "gearbox-oil", func(s *Snapshot) { s.Hours = hours(30) }, day(1), upkeep.Late, hours(-10)},
		{"gearbox, done at 20 h, a year on", "gearbox-oil", func(s *Snapshot) {
			s.Hours = hours(500)
			s.Services["gearbox-oil"] = LastService{Fact: 40, At: day(9), Since: hours(480)}
		}, day(9 + 364), upkeep.NotDue, quantity.Value{}},
		{"gearbox, done at 20 h, a year and a day on", "gearbox-oil", func(s *Snapshot) {
			s.Services["gearbox-oil"] = LastService{Fact: 40, At: day(9), Since: hours(480)}
		}, day(9 + 365), upkeep.DueNow, quantity.Value{}},
		{"belts, new machine", "belts-again", func(s *Snapshot) { s.Hours = hours(16) }, day(1), upkeep.DueNow,
			hours(0)},
		{"belts, done", "belts-again", func(s *Snapshot) {
			s.Hours = hours(400)
			s.Services["belts-again"] = LastService{Fact: 40, At: day(9), Since: hours(380)}
		}, day(200), upkeep.NotDue, quantity.Value{}},
		{"belts, changed after that", "belts-again", func(s *Snapshot) {
			s.Hours = hours(400)
			s.Services["belts-again"] = LastService{Fact: 40, At: day(9), Since: hours(380)}
			s.Events["belts-changed"] = LastService{Fact: 50, At: day(150), Since: hours(15)}
		}, day(200), upkeep.NotDue, hours(1)},
		{"belts, changed and run 16 h", "belts-again", func(s *Snapshot) {
			s.Services["belts-again"] = LastService{Fact: 40, At: day(9), Since: hours(380)}
			s.Events["belts-changed"] = LastService{Fact: 50, At: day(150), Since: hours(16)}
		}, day(200), upkeep.DueNow, hours(0)},
		{"belts, changed and done again", "belts-again", func(s *Snapshot) {
			s.Events["belts-changed"] = LastService{Fact: 50, At: day(150), Since: hours(40)}
			s.Services["belts-again"] = LastService{Fact: 60, At: day(160), Since: hours(24)}
		}, day(200), upkeep.NotDue, quantity.Value{}},
	} {
		s := ready(t)
		test.set(&s)
		got := Assess(s, test.now).Service(test.service)
		if got.Due.State != test.state || !got.Due.Left.Equal(test.left) {
			t.Errorf("%s: state %d, left %v; want %d, %v", test.name, got.Due.State, got.Due.Left, test.state,
				test.left)
		}
	}
}

// A knife change makes stale what hangs on the knives and nothing else; once the
// knives are read, each dependent is predicted from the shift of the lowest
// knife on its side.
func TestKnifeChangeIsPredicted(t *testing.T) {
	snap := ready(t)
	sides := func(no FactNo, at time.Time, values ...int64) {
		reading := *snap.Latest["knives"].Reading
		reading.Values = nil
		for i, v := range values {
			reading.Values = append(reading.Values,
				quantity.At{Position: snap.Machine.Profile.Check("knives").Positions[i],
					Repeats: []quantity.Value{thou(v)}})
		}
		snap.Latest["knives"] = Latest{Fact: no, At: at, Check: "knives", Reading: &reading}
	}
	sides(30, added, 62, 61, 62, 63) // lowest: left 62, right 63
	before := Assess(snap, added)
	for _, id := range []string{"infeed", "chip-breaker", "pressure-bar", "outfeed", "deflector"} {
		latest := snap.Latest[id]
		completed := Complete(before, Entry{At: added, Body: *latest.Reading}).(Reading)
		if completed.Datum == nil || completed.Datum.Fact != 30 || !completed.Datum.Greatest[0].Equal(thou(62)) ||
			!completed.Datum.Greatest[1].Equal(thou(63)) {
			t.Fatalf("%s: datum %+v", id, completed.Datum)
		}
		latest.Reading = &completed
		snap.Latest[id] = latest
	}
	changed := added.Add(time.Hour)
	snap.Moved["knives"] = Moved{At: changed, Fact: 31}
	if st := Assess(snap, changed); st.Check("infeed").Predicted != nil || st.Check("infeed").Freshness != Stale {
		t.Errorf("predicted before the knives are read: %+v", st.Check("infeed"))
	}
	sides(32, changed.Add(time.Minute), 64, 62, 65, 60) // left 3 lower, right 1 higher
	st := Assess(snap, changed.Add(time.Hour))
	for id, want := range map[string][]quantity.Value{
		"infeed": {thou(37), thou(41)}, "chip-breaker": {thou(37), thou(41)}, "pressure-bar": {thou(5), thou(9)},
		"outfeed": {thou(17), thou(21)}, "deflector": {thou(247), thou(251)},
		"bed-rollers": nil, "table": nil, "knives": nil,
	} {
		if d := cmp.Diff(want, st.Check(id).Predicted); d != "" {
			t.Errorf("%s (-want +got):\n%s", id, d)
		}
	}
	for _, id := range []string{"knives", "table", "bed-rollers", "belts", "infeed-caps", "guards"} {
		if st.Check(id).Freshness != Fresh {
			t.Errorf("%s is not fresh", id)
		}
	}
	// A screw turned since, or a table moved, leaves nothing to predict from.
	snap.Moved["infeed"] = Moved{At: changed, Fact: 33}
	if p := Assess(snap, changed.Add(time.Hour)).Check("infeed").Predicted; p != nil {
		t.Errorf("predicted after its screws were turned: %v", p)
	}
}

func TestCompleteCounter(t *testing.T) {
	snap := ready(t)
	at := added.Add(10 * time.Hour)
	for _, test := range []struct {
		name    string
		counter *Counter
		body    CounterRead
		want    int64
	}{
		{"a first reading", nil, CounterRead{Seconds: 3600}, 0},
		{"all logged", &Counter{At: added, Shown: hours(100), Since: hours(2)}, CounterRead{Seconds: 102 * 3600}, 0},
		{"some not", &Counter{At: added, Shown: hours(100), Since: hours(2)}, CounterRead{Seconds: 105 * 3600},
			3 * 3600},
		{"more logged than it ran", &Counter{At: added, Shown: hours(100), Since: hours(9)},
			CounterRead{Seconds: 105 * 3600}, 0},
		{"a new one", &Counter{At: added, Shown: hours(100), Since: hours(2)},
			CounterRead{Seconds: 105 * 3600, New: true}, 0},
		{"typed late", &Counter{At: at, Shown: hours(100), Since: hours(2)}, CounterRead{Seconds: 105 * 3600}, 0},
	} {
		snap.Counter = test.counter
		if got := Complete(Assess(snap, at), Entry{At: at, Body: test.body}).(CounterRead).Unlogged; got != test.want {
			t.Errorf("%s: %d s not logged, want %d", test.name, got, test.want)
		}
	}
}

// Where a shop wants it, a second person confirms an inspection; the same person
// again does not.
func TestSecondPerson(t *testing.T) {
	snap := ready(t)
	snap.Machine.Setup = snap.Machine.Setup.WithSecond("clamping", true)
	latest := snap.Latest["clamping"]
	latest.By = "ada"
	snap.Latest["clamping"] = latest
	st := Assess(snap, added)
	if d := cmp.Diff([]string{"clamping second"}, blockers(st)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	confirms := func(by PersonID, pass bool) FactNo {
		return Complete(st, Entry{At: added, By: by, For: by,
			Body: Inspection{Check: "clamping", Pass: pass}}).(Inspection).Confirms
	}
	if confirms("ada", true) != 0 || confirms("bo", false) != 0 || confirms("bo", true) != latest.Fact {
		t.Errorf("confirmed: by ada %d, by bo who fails it %d, by bo %d", confirms("ada", true),
			confirms("bo", false), confirms("bo", true))
	}
	latest.Inspection = &Inspection{Check: "clamping", Pass: true, Confirms: latest.Fact}
	snap.Latest["clamping"] = latest
	if b := blockers(Assess(snap, added)); b != nil {
		t.Errorf("confirmed, and still %v", b)
	}
	snap.Machine.Setup = snap.Machine.Setup.WithSecond("clamping", false)
	latest.Inspection = &Inspection{Check: "clamping", Pass: true}
	snap.Latest["clamping"] = latest
	if b := blockers(Assess(snap, added)); b != nil {
		t.Errorf("no second person wanted, and still %v", b)
	}
}

// A reading is judged by the values of the mode in which it was taken.
func TestModes(t *testing.T) {
	snap := ready(t)
	for _, test := range []struct {
		mode   string
		thou   int64
		advice Advice
	}{{"low", 3, AdviceNone}, {"low", 18, AdvicePlan}, {"high", 18, AdviceNone}, {"high", 3, AdvicePlan},
		{"", 3, AdviceNone}} {
		read(&snap, "bed-rollers", 30, added, thou(test.thou))
		snap.Latest["bed-rollers"].Reading.Mode = test.mode
		if got := Assess(snap, added).Check("bed-rollers"); got.Advice != test.advice || test.mode != "" &&
			got.Check.Mode != test.mode {
			t.Errorf("%d thou in mode %q: advice %d in %q, want %d", test.thou, test.mode, got.Advice, got.Check.Mode,
				test.advice)
		}
	}
}
