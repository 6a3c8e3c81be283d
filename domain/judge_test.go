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

// The bench is in order as it stands: every case below changes one thing about it.
func TestNothingIsWrongWithTheBench(t *testing.T) {
	st := Assess(bench(), added)
	if len(st.MustTag) != 0 || len(st.Blockers) != 0 || len(st.Over) != 0 || st.Reporting != nil {
		t.Errorf("must tag %v, blocked by %v, over %v, reporting %v", causes(st), blockers(st), st.Over, st.Reporting)
	}
	for _, c := range st.Checks {
		if c.Freshness != Fresh || c.Advice != AdviceNone || c.Failed || c.Unseconded ||
			c.Due.State != upkeep.NotDue {
			t.Errorf("%s: %+v", c.Check.ID, c)
		}
	}
	if got := fmt.Sprint(len(st.Checks), len(st.Services)); got != "6 4" {
		t.Errorf("%s checks and services", got)
	}
}

// What blocks a release, and beside each what is much like it and does not.
func TestBlockers(t *testing.T) {
	late := onDay(10) // seven days and three: the guard is late, the cover is not due
	for _, test := range []struct {
		name string
		now  time.Time
		set  func(*Snapshot)
		want []Blocker
	}{
		{"never read", added, func(s *Snapshot) { delete(s.Latest, "bed") },
			[]Blocker{{Code: BlockUnread, ID: "bed", Name: "the bed"}}},
		{"never heard, done while it runs", added, func(s *Snapshot) { delete(s.Latest, "sound") },
			[]Blocker{{Code: BlockUnread, ID: "sound", Name: "the sound", Running: true}}},
		{"kept unconfirmed, though another was read", added,
			func(s *Snapshot) { s.Waiting = []Latest{{Fact: 20, Check: "gap"}} },
			[]Blocker{{Code: BlockWaiting, ID: "gap", Name: "the gap"}}},
		{"kept unconfirmed, and never read", added, func(s *Snapshot) {
			s.Waiting = []Latest{{Fact: 20, Check: "gap"}}
			delete(s.Latest, "gap")
		}, []Blocker{{Code: BlockWaiting, ID: "gap", Name: "the gap"}}},
		{"moved, and what is measured from it", onDay(1),
			func(s *Snapshot) { s.Moved["blade"] = Moved{At: onDay(1), Fact: 20} },
			[]Blocker{{Code: BlockMoved, ID: "blade", Name: "the blade"},
				{Code: BlockStale, ID: "gap", Name: "the gap", From: "the blade"}}},
		{"moved two steps down the chain", onDay(1),
			func(s *Snapshot) { s.Moved["bed"] = Moved{At: onDay(1), Fact: 20} },
			[]Blocker{{Code: BlockMoved, ID: "bed", Name: "the bed"},
				{Code: BlockStale, ID: "blade", Name: "the blade", From: "the bed"},
				{Code: BlockStale, ID: "gap", Name: "the gap", From: "the bed"}}},
		{"a safety inspection failed", added, func(s *Snapshot) { inspect(s, "guard", 20, added, false) },
			[]Blocker{{Code: BlockFailed, ID: "guard", Name: "the guard"}}},
		{"a quality inspection failed", added, func(s *Snapshot) { inspect(s, "cover", 20, added, false) }, nil},
		{"a quality inspection failed, and its confirmation wanted", added, func(s *Snapshot) {
			s.Machine.Setup = s.Machine.Setup.WithSecond("cover", true)
			inspect(s, "cover", 20, added, false)
		}, nil},
		{"to be confirmed", added, func(s *Snapshot) { s.Machine.Setup = s.Machine.Setup.WithSecond("cover", true) },
			[]Blocker{{Code: BlockSecond, ID: "cover", Name: "the cover"}}},
		{"confirmed", added, func(s *Snapshot) {
			s.Machine.Setup = s.Machine.Setup.WithSecond("cover", true)
			s.Latest["cover"].Inspection.Confirms = 3
		}, nil},
		{"quality past its stop limit", added, func(s *Snapshot) { read(s, "bed", 20, added, thou(52)) },
			[]Blocker{{Code: BlockStop, ID: "bed", Name: "the bed"}}},
		{"quality, not proved", added, func(s *Snapshot) { read(s, "bed", 20, added, thou(51)) }, nil},
		{"safety, not proved within", added, func(s *Snapshot) { read(s, "blade", 20, added, thou(1100)) },
			[]Blocker{{Code: BlockUndecided, ID: "blade", Name: "the blade"}}},
		{"safety, proved within", added, func(s *Snapshot) { read(s, "blade", 20, added, thou(1098)) }, nil},
		{"safety, maybe outside", added, func(s *Snapshot) { read(s, "blade", 20, added, thou(899)) },
			[]Blocker{{Code: BlockStop, ID: "blade", Name: "the blade"}}},
		{"a safety inspection late", late.Add(-8 * time.Hour), func(*Snapshot) {},
			[]Blocker{{Code: BlockOverdue, ID: "guard", Name: "the guard"}}},
		{"a moment before", late.Add(-8*time.Hour - time.Nanosecond), func(*Snapshot) {}, nil},
		{"a quality inspection late", onDay(60), func(s *Snapshot) {
			inspect(s, "guard", 20, onDay(60), true)
			s.Services["tidy"] = LastService{Fact: 21, At: onDay(60), Since: hours(0)}
		}, nil},
		{"a safety service late", added, func(s *Snapshot) { s.Hours = hours(48) },
			[]Blocker{{Code: BlockOverdue, ID: "brake", Name: "the brake"}}},
		{"a safety service due", added, func(s *Snapshot) { s.Hours = hours(47) }, nil},
		{"perhaps dangerous, not answered", added, func(s *Snapshot) {
			s.Problems = []OpenProblem{{Key: "rattle", Name: "rattle", Doubt: true}, {Key: "dust", Name: "dust"}}
		}, []Blocker{{Code: BlockDoubt, Name: "rattle", Running: true}}},
		{"reported as a danger since", added, func(s *Snapshot) {
			s.Problems = []OpenProblem{{Key: "rattle", Name: "rattle", Doubt: true}}
			s.Dangers = []Danger{{Problem: Problem{Symptom: "rattle", Danger: true}}}
		}, nil},
		{"a problem that is none of danger", added, func(s *Snapshot) {
			s.Problems = []OpenProblem{{Key: "dust", Name: "dust"}}
		}, nil},
		{"an important service late", onDay(51), func(s *Snapshot) {
			for _, id := range []string{"guard", "cover"} {
				inspect(s, id, 20, onDay(51), true)
			}
		}, nil},
	} {
		s := bench()
		test.set(&s)
		if d := cmp.Diff(test.want, Assess(s, test.now).Blockers); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
}

// What hangs a tag by itself, with the report that it rests on, and beside each what
// is much like it and does not.
func TestMustTag(t *testing.T) {
	for _, test := range []struct {
		name string
		now  time.Time
		set  func(*Snapshot)
		want []TagCause
	}{
		{"past a stop limit", added, func(s *Snapshot) { read(s, "bed", 20, added, thou(0), thou(-60)) },
			[]TagCause{{"check:bed", 20, Reason{Code: OutsideStop, Name: "the bed", Position: "right",
				Value: thou(-60), Limit: thou(-50),
				Units: quantity.Metric, Unit: quantity.Millimetre, Decimals: 2}}}},
		{"printed as the machine wants it", added, func(s *Snapshot) {
			s.Machine.Units = quantity.Imperial
			read(s, "bed", 20, added, thou(60))
		}, []TagCause{{"check:bed", 20, Reason{Code: OutsideStop, Name: "the bed", Position: "left", Value: thou(60),
			Limit: thou(50),
			Units: quantity.Imperial, Unit: quantity.Thou, Decimals: 1}}}},
		{"a safety inspection that failed", added, func(s *Snapshot) {
			inspect(s, "guard", 20, added, false)
			s.Latest["guard"].Inspection.Note = "cracked"
		}, []TagCause{{"check:guard", 20, Reason{Code: FailedCheck, Name: "the guard", Text: "cracked",
			Units: quantity.Metric}}}},
		{"a quality inspection that failed", added, func(s *Snapshot) { inspect(s, "sound", 20, added, false) }, nil},
		{"a safety check moved", onDay(1), func(s *Snapshot) { s.Moved["blade"] = Moved{At: onDay(1), Fact: 20} },
			[]TagCause{{"moved:20", 20, Reason{Code: SurfaceMoved, Name: "the blade"}}}},
		{"what a safety check is measured from moved", onDay(1),
			func(s *Snapshot) { s.Moved["bed"] = Moved{At: onDay(1), Fact: 20} }, nil},
		{"a quality check moved", onDay(1), func(s *Snapshot) { s.Moved["gap"] = Moved{At: onDay(1), Fact: 20} },
			nil},
		{"two safety checks moved by one report, a third by another", onDay(2), func(s *Snapshot) {
			s.Moved["blade"], s.Moved["guard"] = Moved{At: onDay(1), Fact: 20}, Moved{At: onDay(1), Fact: 20}
			s.Moved["cover"] = Moved{At: onDay(1), Fact: 20}
			s.Machine.Profile.Check("gap").Class, s.Moved["gap"] = profile.Safety, Moved{At: onDay(2), Fact: 21}
		}, []TagCause{{"moved:20", 20, Reason{Code: SurfaceMoved, Name: "the blade, the guard"}},
			{"moved:21", 21, Reason{Code: SurfaceMoved, Name: "the gap"}}}},
		{"a safety inspection late, before the shop opens", onDay(10).Add(-30 * time.Minute), func(*Snapshot) {},
			[]TagCause{{"overdue:check:guard", 4, Reason{Code: CheckOverdue, Name: "the guard"}}}},
		{"a safety inspection late, in the night", onDay(10).Add(-8 * time.Hour), func(*Snapshot) {}, nil},
		{"a safety inspection late, while the shop is open", onDay(10), func(*Snapshot) {}, nil},
		{"a safety inspection late, on a machine tagged out for something else", onDay(10).Add(-30 * time.Minute),
			func(s *Snapshot) { s.Tags = []Tag{{Fact: 21, Cause: "danger:smoke"}, {Fact: 22}} },
			[]TagCause{{"overdue:check:guard", 4, Reason{Code: CheckOverdue, Name: "the guard"}}}},
		{"a safety inspection late, tagged out for that already", onDay(10).Add(-30 * time.Minute),
			func(s *Snapshot) { s.Tags = []Tag{{Fact: 21, Cause: "overdue:check:guard"}} }, nil},
		{"a safety inspection due", onDay(8).Add(-30 * time.Minute), func(*Snapshot) {}, nil},
		{"a quality inspection late", onDay(41), func(s *Snapshot) { inspect(s, "guard", 20, onDay(41), true) }, nil},
		{"a safety service late, while the shop is open", added, func(s *Snapshot) { s.Hours = hours(48) }, nil},
		{"a safety service late, never done", onDay(1).Add(-1), func(s *Snapshot) { s.Hours = hours(48) },
			[]TagCause{{"overdue:service:brake", 0, Reason{Code: ServiceOverdue, Name: "the brake"}}}},
		{"a safety service late, done before", onDay(1).Add(-1), func(s *Snapshot) {
			s.Services["brake"] = LastService{Fact: 20, At: added, Since: hours(48)}
		}, []TagCause{{"overdue:service:brake", 20, Reason{Code: ServiceOverdue, Name: "the brake"}}}},
		{"a safety service due", added, func(s *Snapshot) { s.Hours = hours(47) }, nil},
		{"dangers, one of them twice", added, func(s *Snapshot) {
			s.Dangers = []Danger{{Fact: 20, Problem: Problem{Symptom: "smoke", Name: "smoke", Note: "at the motor"}},
				{Fact: 21, Problem: Problem{Symptom: "smoke", Name: "smoke"}},
				{Fact: 22, Problem: Problem{Name: "Odd Bang"}}}
		}, []TagCause{{"danger:smoke", 20, Reason{Code: DangerSeen, Name: "smoke", Text: "at the motor"}},
			{"danger:odd bang", 22, Reason{Code: DangerSeen, Name: "Odd Bang"}}}},
		{"a tag for it stands", added, func(s *Snapshot) {
			s.Dangers = []Danger{{Fact: 20, Problem: Problem{Symptom: "smoke", Name: "smoke"}}}
			s.Tags = []Tag{{Fact: 19, Cause: "check:bed"}, {Fact: 21, Cause: "danger:smoke"}}
		}, nil},
		{"a tag for something else stands", added, func(s *Snapshot) {
			s.Dangers = []Danger{{Fact: 20, Problem: Problem{Symptom: "smoke", Name: "smoke"}}}
			s.Tags = []Tag{{Fact: 21, Cause: "danger:sparks"}, {Fact: 22}}
		}, []TagCause{{"danger:smoke", 20, Reason{Code: DangerSeen, Name: "smoke"}}}},
	} {
		s := bench()
		test.set(&s)
		if d := cmp.Diff(test.want, Assess(s, test.now).MustTag); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
}

// The reason names the position that is worst: one proved outside before one that may
// be, of several alike the first, none that lies within; and the difference between
// positions only where that is worse than any position.
func TestTheReasonNamesTheWorst(t *testing.T) {
	for _, test := range []struct {
		name        string
		left, right int64
		alikeStop   int64
		code        ReasonCode
		position    string
		value       int64
		limit       int64
	}{
		{"one", 901, 899, 0, MaybeStop, "right", 899, 900},
		{"two that may be, the first", 899, 1101, 0, MaybeStop, "left", 899, 900},
		{"one proved after one that may be", 899, 1200, 0, OutsideStop, "right", 1200, 1100},
		{"one proved before one that may be", 1200, 899, 0, OutsideStop, "left", 1200, 1100},
		{"two proved, the first", 800, 1200, 0, OutsideStop, "left", 800, 900},
		{"one not proved within, one proved outside", 1100, 1200, 0, OutsideStop, "right", 1200, 1100},
		{"unlike, maybe", 1000, 1051, 50, MaybeUnlike, "left, right", 51, 50},
		{"unlike, proved", 1060, 1000, 50, TooUnlike, "right, left", 60, 50},
		{"unlike and outside, both proved", 1000, 1200, 50, OutsideStop, "right", 1200, 1100},
		{"unlike for certain, outside maybe", 1101, 1000, 50, TooUnlike, "right, left", 101, 50},
		{"outside for certain, unlike maybe", 1200, 1251, 50, OutsideStop, "left", 1200, 1100},
		{"alike, and outside", 1200, 1210, 50, OutsideStop, "left", 1200, 1100},
	} {
		snap := bench()
		if test.alikeStop > 0 {
			snap.Machine.Profile.Check("blade").AlikeStop = thou(test.alikeStop)
		}
		read(&snap, "blade", 20, added, thou(test.left), thou(test.right))
		st := Assess(snap, added)
		if len(st.MustTag) != 1 {
			t.Fatalf("%s: must tag %v", test.name, causes(st))
		}
		r := st.MustTag[0].Reason
		if r.Code != test.code || r.Position != test.position || !r.Value.Equal(thou(test.value)) ||
			!r.Limit.Equal(thou(test.limit)) {
			t.Errorf("%s: %s at %q: %v past %v", test.name, r.Code, r.Position, r.Value, r.Limit)
		}
	}
	// A limit on one side alone.
	s := bench()
	s.Machine.Profile.Check("blade").Stop = metrology.Limits{Low: thou(900)}
	read(&s, "blade", 20, added, thou(800))
	if r := Assess(s, added).MustTag[0].Reason; !r.Limit.Equal(thou(900)) {
		t.Errorf("below the only limit: %+v", r)
	}
}

// Where no position may differ from another the verdict says which two, and by how
// much; what a gauge does alike to both cancels.
func TestAlike(t *testing.T) {
	snap := bench()
	snap.Machine.Profile.Check("bed").AlikeAdjust = thou(4)
	read(&snap, "bed", 20, added, thou(3), thou(-3))
	got := Assess(snap, added).Check("bed")
	alike := got.Alike
	if alike == nil || alike.Low != "right" || alike.High != "left" || !alike.Verdict.Value.Equal(thou(6)) ||
		alike.Verdict.Grade != metrology.Adjust || alike.Shared {
		t.Fatalf("alike: %+v", alike)
	}
	if got.Grade != metrology.Adjust || got.Advice != AdvicePlan || got.At[0].Verdict.Grade != metrology.Good {
		t.Errorf("grade %d, advice %d, left %d", got.Grade, got.Advice, got.At[0].Verdict.Grade)
	}
	// The dial's own part does not cancel, since no spread was studied: √2 of 1 thou.
	if u := alike.Verdict.Uncertainty.Float(quantity.Thou); math.Abs(u-math.Sqrt2) > 1e-9 {
		t.Errorf("U of the difference %v thou", u)
	}
	snap.Latest["bed"].Reading.Gauge.Error = thou(3)
	snap.Latest["bed"].Reading.Gauge.Resolution = thou(1)
	if a := Assess(snap, added).Check("bed").Alike; !a.Shared {
		t.Errorf("an error of the dial that both share: %+v", a)
	}
	snap.Machine.Profile.Check("bed").AlikeAdjust = quantity.Value{}
	if a := Assess(snap, added).Check("bed").Alike; a != nil {
		t.Errorf("positions need not agree: %+v", a)
	}
	// One position alone is like itself.
	one := bench()
	one.Machine.Profile.Check("bed").AlikeAdjust, one.Machine.Profile.Check("bed").Positions = thou(4), []string{""}
	read(&one, "bed", 20, added, thou(3))
	if a := Assess(one, added).Check("bed").Alike; a != nil {
		t.Errorf("one position: %+v", a)
	}
}

// Values read again and again at one place are judged by their mean, and their spread
// counts: of 1, 2 and 3 thou the mean is 2 and s 1, so that with a gauge without any
// uncertainty u is 1/√3 thou with two degrees of freedom.
func TestRepeats(t *testing.T) {
	snap := bench()
	read(&snap, "bed", 20, added, thou(0))
	reading := snap.Latest["bed"].Reading
	reading.Gauge = GaugeUsed{Name: "perfect",
		Gauge: metrology.Gauge{Uncertainty: thou(1)}} // of no coverage: it does not count
	reading.Values[0].Repeats = []quantity.Value{thou(1), thou(2), thou(3)}
	verdict := Assess(snap, added).Check("bed").At[0]
	mm := func(thou float64) float64 { return thou * 0.0254 / 1000 } // in metres
	if verdict.Repeats.N != 3 || math.Abs(verdict.Repeats.Mean-mm(2)) > 1e-12 ||
		math.Abs(verdict.Repeats.S-mm(1)) > 1e-12 ||
		verdict.Repeats.Outlier != -1 {
		t.Errorf("repeats %+v", verdict.Repeats)
	}
	if !verdict.Verdict.Value.Equal(thou(2)) || math.Abs(verdict.Budget.Combined-mm(1/math.Sqrt(3))) > 1e-12 ||
		math.Abs(verdict.Budget.DoF-2) > 1e-9 {
		t.Errorf("value %v, u %v, %v degrees", verdict.Verdict.Value, verdict.Budget.Combined, verdict.Budget.DoF)
	}
	one := Assess(snap, added).Check("bed").At[1].Repeats
	if one.N != 1 || one.Mean != 0 || one.S != 0 || one.Outlier != -1 {
		t.Errorf("one value: %+v", one)
	}
	// One of five stands apart; not where the gauge's own steps are as coarse.
	reading.Values[0].Repeats = []quantity.Value{thou(1), thou(1), thou(1), tenths(11), thou(3)}
	if got := Assess(snap, added).Check("bed").At[0].Repeats.Outlier; got != 4 {
		t.Errorf("outlier %d", got)
	}
	reading.Gauge.Resolution = thou(1)
	if got := Assess(snap, added).Check("bed").At[0].Repeats.Outlier; got != -1 {
		t.Errorf("with steps of 1 thou outlier %d", got)
	}
}

// A reading goes stale when what it is measured from moves after it: not at the very
// moment, since what is set is then read, and not before. Of several that moved the
// last counts, of two at once the nearer.
func TestStaleness(t *testing.T) {
	at := onDay(1)
	for _, test := range []struct {
		name  string
		moved map[string]Moved
		fresh Freshness
		from  string
		by    FactNo
	}{
		{"nothing moved", nil, Fresh, "", 0},
		{"a moment before", map[string]Moved{"gap": {at.Add(-1), 9}}, Fresh, "", 0},
		{"at that moment", map[string]Moved{"gap": {at, 9}}, Fresh, "", 0},
		{"what it is measured from at that moment", map[string]Moved{"blade": {at, 9}}, Fresh, "", 0},
		// What is typed for one minute was done and then read, in whatever order it is
		// typed: nobody reads what he is about to move.
		{"at that moment, reported later", map[string]Moved{"gap": {at, 21}}, Fresh, "", 0},
		{"what it is measured from at that moment, reported later", map[string]Moved{"blade": {at, 21}}, Fresh, "", 0},
		{"a moment before, but reported later", map[string]Moved{"gap": {at.Add(-1), 21}}, Fresh, "", 0},
		{"a moment after", map[string]Moved{"gap": {at.Add(1), 9}}, Stale, "gap", 9},
		{"what it is measured from", map[string]Moved{"blade": {at.Add(1), 9}}, Stale, "blade", 9},
		{"what that is measured from", map[string]Moved{"bed": {at.Add(1), 9}}, Stale, "bed", 9},
		{"the nearer last", map[string]Moved{"gap": {at.Add(2), 9}, "bed": {at.Add(1), 8}}, Stale, "gap", 9},
		{"the farther last", map[string]Moved{"gap": {at.Add(1), 9}, "bed": {at.Add(2), 8}}, Stale, "bed", 8},
		{"both at once", map[string]Moved{"gap": {at.Add(1), 9}, "bed": {at.Add(1), 9}}, Stale, "gap", 9},
		{"something that has nothing to do with it", map[string]Moved{"cover": {at.Add(1), 9}}, Fresh, "", 0},
	} {
		s := bench()
		read(&s, "gap", 20, at, thou(200))
		s.Moved = test.moved
		got := Assess(s, at).Check("gap")
		if got.Freshness != test.fresh || got.StaleFrom != test.from || got.StaleBy.Fact != test.by {
			t.Errorf("%s: %d from %q by %d", test.name, got.Freshness, got.StaleFrom, got.StaleBy.Fact)
		}
	}
	// An inspection goes stale in the same way, and demands nothing then.
	s := bench()
	inspect(&s, "guard", 20, at, false)
	s.Moved = map[string]Moved{"guard": {at.Add(1), 9}}
	if got := Assess(s, at).Check("guard"); got.Freshness != Stale || got.Advice != AdviceNone || !got.Failed {
		t.Errorf("a failed inspection, moved since: %+v", got)
	}
}

// A check falls due by its interval from when it was last done; from when the machine
// came on the books where it never was.
func TestChecksFallDue(t *testing.T) {
	day := func(n int) time.Time { return onDay(n).Truncate(24 * time.Hour) }
	snap := bench()
	inspect(&snap, "guard", 20, onDay(5), true)
	if d := Assess(snap, onDay(5)).Check("guard").Due; !d.On.Equal(day(12)) || !d.LateOn.Equal(day(15)) {
		t.Errorf("done on the fifth day: %+v", d)
	}
	delete(snap.Latest, "guard")
	if d := Assess(snap, onDay(5)).Check("guard").Due; !d.On.Equal(day(7)) || !d.LateOn.Equal(day(10)) {
		t.Errorf("never done: %+v", d)
	}
	if d := Assess(snap, onDay(500)).Check("sound").Due; d.State != upkeep.NotDue || !d.On.IsZero() {
		t.Errorf("a check without an interval: %+v", d)
	}
	// On a day on which the shop is closed it is put off to the next open one.
	snap.Shop.Closed = []upkeep.Closure{{First: day(7).Format(time.DateOnly), Last: day(8).Format(time.DateOnly)}}
	if d := Assess(snap, onDay(5)).Check("guard").Due; !d.On.Equal(day(9)) {
		t.Errorf("over a closed day: %+v", d)
	}
}

// What a service is counted from: the machine's coming, then each event that it comes
// after; then the last time that it was done, if that was not before the event.
func TestServiceCountsFrom(t *testing.T) {
	changed := LastService{Fact: 30, At: onDay(3), Since: hours(16)}
	for _, test := range []struct {
		name    string
		service string
		set     func(*Snapshot)
		from    FactNo
		last    FactNo
		state   upkeep.State
		left    quantity.Value
	}{
		{"never done", "oil", func(s *Snapshot) { s.Hours = hours(7) }, 0, 0, upkeep.NotDue, hours(1)},
		{"done", "oil", func(s *Snapshot) {
			s.Services["oil"] = LastService{Fact: 20, At: onDay(1),
				Since: hours(8)}
		}, 20, 20, upkeep.DueNow, hours(0)},
		{"an event that it does not come after", "oil", func(s *Snapshot) {
			s.Hours, s.Events["belt-changed"] = hours(7), changed
		}, 0, 0, upkeep.NotDue, hours(1)},
		{"no event yet", "tension", func(s *Snapshot) { s.Hours = hours(15) }, 0, 0, upkeep.NotDue, hours(1)},
		{"after the event", "tension", func(s *Snapshot) { s.Hours, s.Events["belt-changed"] = hours(99), changed },
			30, 0, upkeep.DueNow, hours(0)},
		{"done before the event", "tension", func(s *Snapshot) {
			s.Events["belt-changed"], s.Services["tension"] = changed, LastService{Fact: 20, At: onDay(3).Add(-1),
				Since: hours(17)}
		}, 30, 0, upkeep.DueNow, hours(0)},
		{"done at the moment of the event", "tension", func(s *Snapshot) {
			s.Events["belt-changed"], s.Services["tension"] = changed,
				LastService{Fact: 20, At: onDay(3), Since: hours(16)}
		}, 20, 20, upkeep.NotDue, quantity.Value{}},
		{"done after the event, and no rule after that", "tension", func(s *Snapshot) {
			s.Events["belt-changed"], s.Services["tension"] = changed,
				LastService{Fact: 20, At: onDay(4), Since: hours(99)}
		}, 20, 20, upkeep.NotDue, quantity.Value{}},
		{"another's event of that time", "oil", func(s *Snapshot) {
			s.Hours, s.Events["belt-changed"], s.Services["oil"] = hours(99), changed,
				LastService{Fact: 20, At: onDay(1), Since: hours(1)}
		}, 20, 20, upkeep.NotDue, hours(7)},
	} {
		s := bench()
		test.set(&s)
		got := Assess(s, onDay(5)).Service(test.service)
		if got.From().Fact != test.from || got.Last.Fact != test.last || got.Due.State != test.state ||
			!got.Due.Left.Equal(test.left) {
			t.Errorf("%s: from %d, last %d, %+v", test.name, got.From().Fact, got.Last.Fact, got.Due)
		}
	}
	// A first rule counts until it was done, then the other one.
	snap := ruled(bench(), "oil", func(v *profile.Service) { v.First = profile.Rule{Hours: hours(20)} })
	snap.Hours = hours(19)
	if got := Assess(snap, onDay(1)).Service("oil"); !got.Due.Left.Equal(hours(1)) || !got.Rule.Hours.Equal(hours(20)) {
		t.Errorf("first: %+v", got)
	}
	snap.Services["oil"] = LastService{Fact: 20, At: onDay(1), Since: hours(1)}
	if got := Assess(snap, onDay(1)).Service("oil"); !got.Due.Left.Equal(hours(7)) || !got.Rule.Hours.Equal(hours(8)) {
		t.Errorf("and then: %+v", got)
	}
}

// A put-off and who took a service hold for one occurrence: they fall away once the
// service is done after them. A put-off runs out at its moment.
func TestPutOffAndTaken(t *testing.T) {
	until := onDay(20)
	for _, test := range []struct {
		name   string
		at     time.Time // when it was put off and taken
		done   time.Time // when the service was last done; zero for never
		now    time.Time
		putOff bool
		lapsed FactNo
		taken  bool
	}{
		{"put off, never done", onDay(2), time.Time{}, onDay(3), true, 0, true},
		{"put off at the moment it came", added, time.Time{}, onDay(3), true, 0, true},
		{"put off before it came", added.Add(-1), time.Time{}, onDay(3), false, 0, false},
		{"done before", onDay(2), onDay(1), onDay(3), true, 0, true},
		{"done at that moment", onDay(2), onDay(2), onDay(3), true, 0, true},
		{"done a moment after: it does not outlive its service", onDay(2), onDay(2).Add(1), onDay(3), false, 0,
			false},
		{"a moment before it runs out", onDay(2), time.Time{}, until.Add(-1), true, 0, true},
		{"at the moment that it runs out", onDay(2), time.Time{}, until, false, 40, true},
		{"long after", onDay(2), time.Time{}, onDay(30), false, 40, true},
		{"long after, and done since", onDay(2), onDay(25), onDay(30), false, 0, false},
	} {
		snap := bench()
		snap.PutOff["oil"] = PutOffBy{Fact: 40, At: test.at, By: "ada", PutOff: PutOff{Service: "oil", Until: until,
			Why: "no oil"}}
		snap.Taken["oil"] = TakenBy{Fact: 41, At: test.at, By: "bo"}
		if !test.done.IsZero() {
			snap.Services["oil"] = LastService{Fact: 30, At: test.done, Since: hours(9)}
		}
		got := Assess(snap, test.now).Service("oil")
		if (got.PutOff != nil) != test.putOff || got.Lapsed != test.lapsed || (got.Taken != nil) != test.taken {
			t.Errorf("%s: put off %v, lapsed %d, taken %v", test.name, got.PutOff, got.Lapsed, got.Taken)
		}
		if got.PutOff != nil && (got.PutOff.By != "ada" || got.PutOff.Why != "no oil") || got.Taken != nil &&
			got.Taken.By != "bo" {
			t.Errorf("%s: by %+v, %+v", test.name, got.PutOff, got.Taken)
		}
		if other := Assess(snap, test.now).Service("brake"); other.PutOff != nil || other.Lapsed != 0 ||
			other.Taken != nil {
			t.Errorf("%s: another service too: %+v", test.name, other)
		}
	}
}

// What asks for a service besides use and calendar: its problems, and its checks that
// read outside their adjust limits or did not pass, from when they were reported
// until it is done.
func TestTriggers(t *testing.T) {
	dirt := func(last time.Time) func(*Snapshot) {
		return func(s *Snapshot) {
			s.Problems = []OpenProblem{{Key: "noise", Name: "noise", Last: 19, LastAt: onDay(4)},
				{Key: "dirt", Name: "dirt on the bed", First: 20, Last: 21, At: added, LastAt: last}}
		}
	}
	bed := func(n int64) func(*Snapshot) {
		return func(s *Snapshot) { read(s, "bed", 22, onDay(2), thou(n), thou(0)) }
	}
	for _, test := range []struct {
		name string
		done time.Time // zero for never
		set  func(*Snapshot)
		want []Trigger
	}{
		{"nothing", time.Time{}, func(*Snapshot) {}, nil},
		{"a problem", time.Time{}, dirt(onDay(3)), []Trigger{{"dirt on the bed", onDay(3), 21}}},
		{"a problem, done before", onDay(3).Add(-1), dirt(onDay(3)), []Trigger{{"dirt on the bed", onDay(3), 21}}},
		{"a problem, done at its moment", onDay(3), dirt(onDay(3)), nil},
		{"a problem, done since", onDay(4), dirt(onDay(3)), nil},
		{"within the adjust limits", time.Time{}, bed(9), nil},
		{"inside them, not proved", time.Time{}, bed(10), nil},
		{"outside them", time.Time{}, bed(11), []Trigger{{"the bed", onDay(2), 22}}},
		{"outside the stop limits", time.Time{}, bed(60), []Trigger{{"the bed", onDay(2), 22}}},
		{"outside, done since", onDay(3), bed(11), nil},
		{"an inspection that did not pass", time.Time{},
			func(s *Snapshot) { inspect(s, "sound", 23, onDay(1), false) }, []Trigger{{"the sound", onDay(1), 23}}},
		{"another check outside", time.Time{}, func(s *Snapshot) { read(s, "gap", 23, onDay(1), thou(220)) }, nil},
		{"never read", time.Time{}, func(s *Snapshot) { delete(s.Latest, "bed"); delete(s.Latest, "sound") }, nil},
		{"a check that the profile lacks", time.Time{}, func(s *Snapshot) {
			s.Machine.Profile.Service("tidy").OnChecks = []string{"gone"}
			s.Latest["gone"] = s.Latest["bed"]
		}, nil},
		{"two at once", time.Time{}, func(s *Snapshot) { dirt(onDay(3))(s); bed(11)(s) },
			[]Trigger{{"dirt on the bed", onDay(3), 21}, {"the bed", onDay(2), 22}}},
	} {
		snap := bench()
		test.set(&snap)
		if !test.done.IsZero() {
			snap.Services["tidy"] = LastService{Fact: 30, At: test.done, Since: hours(0)}
		}
		st := Assess(snap, onDay(5))
		got := st.Service("tidy")
		if d := cmp.Diff(test.want, got.Because); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
		if want := upkeep.State(min(len(test.want), 1)); got.Due.State != want || !got.Due.Open {
			t.Errorf("%s: %+v", test.name, got.Due)
		}
		if oil := st.Service("oil"); len(oil.Because) > 0 {
			t.Errorf("%s: asks for the oil: %+v", test.name, oil.Because)
		}
	}
	// It is open to be done though its rule would not have it count yet; and what is
	// late stays late.
	snap := ruled(bench(), "tidy", func(v *profile.Service) { v.Every.EarlyDays = 1 })
	if got := Assess(snap, onDay(5)).Service("tidy"); got.Due.Open {
		t.Errorf("too early: %+v", got.Due)
	}
	dirt(onDay(3))(&snap)
	if got := Assess(snap, onDay(5)).Service("tidy"); !got.Due.Open {
		t.Errorf("asked for: %+v", got.Due)
	}
	if got := Assess(snap, onDay(60)).Service("tidy"); got.Due.State != upkeep.Late {
		t.Errorf("late and asked for: %+v", got.Due)
	}
	// A reading is judged by the mode that it was taken in.
	snap = bench()
	snap.Machine.Profile.Check("bed").Modes = []profile.Mode{{ID: "low"},
		{ID: "high", Target: thou(30), Adjust: within(20, 40), Stop: within(0, 60)}}
	snap.Machine.Profile.Check("bed").Mode = "low"
	read(&snap, "bed", 22, onDay(2), thou(30))
	snap.Latest["bed"].Reading.Mode = "high"
	if got := Assess(snap, onDay(5)).Service("tidy"); len(got.Because) != 0 {
		t.Errorf("in its mode it is in order: %+v", got.Because)
	}
}

// More use than reported, as the counter tells, counts for what was reported since the
// counter was read: by 4 h counted for 2 reported each hour stands for two.
func TestUseGoesUnreported(t *testing.T) {
	twice := []upkeep.Span{{Until: added, Counted: 3, Logged: 1.5}, {Until: added, Counted: 1, Logged: 0.5}}
	// Since the counter was read, 3 h were reported.
	counter := &Counter{Fact: 9, At: added, Shown: hours(100), Since: hours(3)}
	for _, test := range []struct {
		name    string
		counted []upkeep.Span
		counter *Counter
		like    string
		since   int64 // hours reported since the oil
		want    int64 // hours left of 8
		left    int64 // of 40 for the brake, done when the machine had run 2 h less than the 30 reported
	}{
		{"no counter", nil, nil, "", 2, 6, 12},
		{"all reported since it was read", twice, counter, "", 2, 4, 9},
		{"just as much", twice, counter, "", 3, 2, 9},
		{"more than since it was read", twice, counter, "", 5, 0, 9},
		{"a counter that says as much as was reported", []upkeep.Span{{Until: added, Counted: 4, Logged: 4}}, counter,
			"", 5, 3, 12},
		{"one that says less", []upkeep.Span{{Until: added, Counted: 2, Logged: 4}}, counter, "", 5, 3, 12},
		{"too little reported to tell", []upkeep.Span{{Until: added, Counted: 4, Logged: 1}}, counter, "", 5, 3, 12},
		{"another machine's, for all of it", twice, nil, "Marble", 3, 2, -16},
		{"its own but no reading of it", twice, nil, "", 3, 5, 12},
	} {
		snap := bench()
		snap.Hours, snap.Counted, snap.Counter, snap.Like = hours(30), test.counted, test.counter, test.like
		snap.Services["oil"] = LastService{Fact: 20, At: added, Since: hours(test.since)}
		snap.Services["brake"] = LastService{Fact: 21, At: added, Since: hours(28)}
		given := snap.Services["oil"]
		st := Assess(snap, added)
		if got := st.Service("oil").Due.Left; !got.Equal(hours(test.want)) {
			t.Errorf("%s: %v left of the oil, want %d h", test.name, got, test.want)
		}
		if got := st.Service("brake").Due.Left; !got.Equal(hours(test.left)) {
			t.Errorf("%s: %v left of the brake, want %d h", test.name, got, test.left)
		}
		if !st.Hours.Equal(hours(30)) || !reflect.DeepEqual(snap.Services["oil"], given) {
			t.Errorf("%s: %v told, oil %+v", test.name, st.Hours, snap.Services["oil"])
		}
	}
	unreported := bench()
	unreported.Counted, unreported.Counter, unreported.Like = twice, counter, "Marble"
	// What began with the machine, or with an event, is counted in the same way; so is
	// each time of a rule that counts all of them.
	unreported.Hours, unreported.Events["belt-changed"] = hours(4), LastService{Fact: 30, At: added, Since: hours(2)}
	ruled(unreported, "brake", func(v *profile.Service) {
		v.Every = profile.Rule{Hours: hours(40),
			EarlyHours: hours(20)}
	})
	unreported.Services["brake"] = LastService{Fact: 22, At: onDay(-1), Since: hours(2)}
	unreported.Done["brake"] = []LastService{{Fact: 21, At: onDay(-3), Since: hours(30)},
		{Fact: 22, At: onDay(-1), Since: hours(2)}}
	unreported.Machine.Added, unreported.Hours = onDay(-9), hours(50)
	st := Assess(unreported, added)
	for id, want := range map[string]int64{"oil": 8 - 53, "tension": 16 - 4} {
		if got := st.Service(id).Due.Left; !got.Equal(hours(want)) {
			t.Errorf("%s: %v left, want %d h", id, got, want)
		}
	}
	// 53 h, done when 33 and when 4 were left of them: at 20, then 29 h later.
	if got := st.Service("brake").Due; !got.Left.Equal(hours(36)) || got.Counted != 1 {
		t.Errorf("brake: %+v", got)
	}
	r := st.Reporting
	if r == nil || r.Ratio != 2 || r.Counted != 4 || r.Logged != 2 || r.Like != "Marble" || r.Spans != 2 {
		t.Errorf("reporting: %+v", r)
	}
	if !unreported.Done["brake"][0].Since.Equal(hours(30)) || !unreported.Events["belt-changed"].Since.Equal(hours(2)) {
		t.Error("what was known is changed")
	}
	// A ratio of one and a half.
	unreported = bench()
	unreported.Counted, unreported.Counter, unreported.Hours = []upkeep.Span{{Until: added, Counted: 3, Logged: 2}},
		&Counter{Fact: 9, At: added, Since: hours(4)}, hours(4)
	if got := Assess(unreported, added).Service("oil").Due.Left; !got.Equal(hours(2)) {
		t.Errorf("of 4 h, half as much again: %v left", got)
	}
}

// A rule with an early window counts every time that the work was done: too early, it
// does not count, unless something asked for it.
func TestDoneTooEarly(t *testing.T) {
	every := func(v *profile.Service) { v.Every = profile.Rule{Hours: hours(40), EarlyHours: hours(10)} }
	last := func(done ...LastService) func(*Snapshot) {
		return func(s *Snapshot) {
			s.Done["brake"] = done
			if len(done) > 0 {
				s.Services["brake"] = done[len(done)-1]
			}
		}
	}
	for _, test := range []struct {
		name  string
		rule  func(*profile.Service)
		hours int64
		set   func(*Snapshot)
		left  int64
		early bool
	}{
		{"never done", every, 39, last(), 1, false},
		{"done in time", every, 45, last(LastService{Fact: 20, At: onDay(1), Since: hours(15)}), 25, false},
		{"done too early", every, 44, last(LastService{Fact: 20, At: onDay(1), Since: hours(15)}), -4, true},
		{"asked for", every, 44, last(LastService{Fact: 20, At: onDay(1), Since: hours(15), Asked: true}), 25, false},
		{"in time, and again too soon", every, 45, last(LastService{Fact: 20, At: onDay(1), Since: hours(15)},
			LastService{Fact: 21, At: onDay(2), Since: hours(5)}), 25, true},
		{"too early, and again in time", every, 45, last(LastService{Fact: 20, At: onDay(1), Since: hours(40)},
			LastService{Fact: 21, At: onDay(2), Since: hours(5)}), 35, false},
		{"only the last is known", every, 44,
			func(s *Snapshot) { s.Services["brake"] = LastService{Fact: 20, At: onDay(1), Since: hours(15)} }, 25,
			false},
		{"a first rule, whose time counts however early",
			func(v *profile.Service) { every(v); v.First = profile.Rule{Hours: hours(20)} }, 44,
			last(LastService{Fact: 20, At: onDay(1), Since: hours(39)}), 1, false},
		{"and after it too early", func(v *profile.Service) { every(v); v.First = profile.Rule{Hours: hours(20)} },
			44,
			last(LastService{Fact: 20, At: onDay(1), Since: hours(39)},
				LastService{Fact: 21, At: onDay(2), Since: hours(15)}), 1, true},
		{"done before its event", func(v *profile.Service) { every(v); v.After = "belt-changed" }, 90,
			func(s *Snapshot) {
				s.Events["belt-changed"] = LastService{Fact: 19, At: onDay(1), Since: hours(50)}
				last(LastService{Fact: 18, At: onDay(1).Add(-1), Since: hours(51)},
					LastService{Fact: 20, At: onDay(2), Since: hours(19)})(s)
			}, 21, false},
		{"done at the moment of its event", func(v *profile.Service) {
			every(v)
			v.After, v.First = "belt-changed",
				profile.Rule{Hours: hours(20)}
		}, 90, func(s *Snapshot) {
			s.Events["belt-changed"] = LastService{Fact: 19, At: onDay(1), Since: hours(50)}
			last(LastService{Fact: 18, At: onDay(1).Add(-1), Since: hours(51)},
				LastService{Fact: 20, At: onDay(1), Since: hours(30)})(s)
		}, 10, false},
	} {
		s := ruled(bench(), "brake", test.rule)
		s.Hours = hours(test.hours)
		test.set(&s)
		got := Assess(s, onDay(3)).Service("brake")
		if !got.Due.Left.Equal(hours(test.left)) || got.TooEarly != test.early {
			t.Errorf("%s: %v left, too early %v; want %d h, %v", test.name, got.Due.Left, got.TooEarly, test.left,
				test.early)
		}
	}
}

// Services come with what is late first, then what is due, then by the share of their
// interval that is left, the shorter part of those that have two.
func TestServicesSoonestFirst(t *testing.T) {
	order := func(s Snapshot, now time.Time) (ids []string) {
		for _, v := range Assess(s, now).Services {
			ids = append(ids, v.Service.ID)
		}
		return ids
	}
	for _, test := range []struct {
		name string
		now  time.Time
		set  func(*Snapshot)
		want []string
	}{
		{"as listed, where as much is left of all", added.Truncate(24 * time.Hour), func(*Snapshot) {},
			[]string{"oil", "brake", "tidy", "tension"}},
		// Of 8 h a quarter is used, of 40 a twentieth, of 16 an eighth, of 40 days none.
		{"by share", added, func(s *Snapshot) { s.Hours = hours(2) }, []string{"oil", "tension", "brake", "tidy"}},
		// The brake is late by an hour of 40, the oil due by far more of its 8.
		{"late before due", added, func(s *Snapshot) {
			s.Hours = hours(49)
			s.Services["oil"] = LastService{Fact: 9,
				At: added, Since: hours(40)}
		}, []string{"brake", "oil", "tension", "tidy"}},
		{"by days", onDay(20), func(*Snapshot) {}, []string{"tidy", "oil", "brake", "tension"}},
		// 90 days of which 30 are over, 40 h of which 5 are left.
		{"hours or days, whichever is less", onDay(30), func(s *Snapshot) {
			ruled(*s, "brake", func(v *profile.Service) { v.Every = profile.Rule{Hours: hours(40), Days: 90} })
			s.Hours = hours(35)
			s.Services["oil"], s.Services["tension"] = LastService{Fact: 9, At: added, Since: hours(0)},
				LastService{Fact: 9, At: added, Since: hours(0)}
		}, []string{"brake", "tidy", "oil", "tension"}},
		// Six months are 180 days: 150 left are more than 30 of 40.
		{"by months", onDay(30), func(s *Snapshot) {
			ruled(*s, "brake", func(v *profile.Service) { v.Every = profile.Rule{Months: 6} })
		}, []string{"tidy", "brake", "oil", "tension"}},
	} {
		s := bench()
		test.set(&s)
		if got := order(s, test.now); !slices.Equal(got, test.want) {
			t.Errorf("%s: %v, want %v", test.name, got, test.want)
		}
	}
	// The change of the clocks makes no day shorter. On 22 March half is left of 42 days
	// from the first and of 28 days from the eighth; in hours the shorter lost more of it.
	snap := bench()
	snap.Shop.Zone = "Europe/Berlin"
	snap.Machine.Added = time.Date(2026, 3, 1, 0, 0, 0, 0, snap.Shop.Location())
	ruled(snap, "oil", func(v *profile.Service) { v.Every = profile.Rule{Days: 42} })
	ruled(snap, "brake", func(v *profile.Service) { v.Every = profile.Rule{Days: 28} })
	snap.Services["brake"] = LastService{Fact: 9, At: time.Date(2026, 3, 8, 0, 0, 0, 0, snap.Shop.Location()),
		Since: hours(0)}
	got := order(snap, time.Date(2026, 3, 22, 0, 0, 0, 0, snap.Shop.Location()))
	if want := []string{"tidy", "oil", "brake", "tension"}; !slices.Equal(got, want) {
		t.Errorf("over the change of the clocks: %v, want %v", got, want)
	}
}

// What a stale check should be expected to read follows from the datum's shift, in its
// own direction or the other, and from nothing else: not where anything but the datum
// moved, nor before it is read again.
func TestPredicted(t *testing.T) {
	at := onDay(1)
	then := &DatumRead{Fact: 2, Greatest: []quantity.Value{thou(1000), thou(1000)}}
	for _, test := range []struct {
		name string
		set  func(*Snapshot)
		want []quantity.Value
	}{
		{"the same way", func(*Snapshot) {}, []quantity.Value{thou(205), thou(197)}},
		{"the other way", func(s *Snapshot) { s.Machine.Profile.Check("gap").Follows.Opposite = true },
			[]quantity.Value{thou(195), thou(203)}},
		{"it follows nothing", func(s *Snapshot) { s.Machine.Profile.Check("gap").Follows = nil }, nil},
		{"nobody knows what the datum read then", func(s *Snapshot) { s.Latest["gap"].Reading.Datum = nil }, nil},
		{"it is fresh", func(s *Snapshot) { delete(s.Moved, "blade") }, nil},
		{"it moved itself too", func(s *Snapshot) { s.Moved["gap"] = Moved{At: at, Fact: 31} }, nil},
		{"it moved itself at the moment that it was read",
			func(s *Snapshot) { s.Moved["gap"] = Moved{At: added, Fact: 31} },
			[]quantity.Value{thou(205), thou(197)}},
		{"what the datum is measured from moved",
			func(s *Snapshot) { s.Moved["bed"] = Moved{At: added.Add(1), Fact: 31} }, nil},
		{"the datum is not read since", func(s *Snapshot) { read(s, "blade", 32, added, thou(1005)) }, nil},
		{"the datum was only looked at", func(s *Snapshot) { inspect(s, "blade", 32, at.Add(time.Hour), true) }, nil},
	} {
		snap := bench()
		snap.Latest["gap"].Reading.Datum = then
		snap.Moved["blade"] = Moved{At: at, Fact: 30}
		read(&snap, "blade", 32, at.Add(time.Minute), thou(1005), thou(997))
		test.set(&snap)
		if d := cmp.Diff(test.want, Assess(snap, at.Add(2*time.Hour)).Check("gap").Predicted); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
}

// The greatest value at the positions that end with a name, as a word; of all of them
// where none does.
func TestGreatest(t *testing.T) {
	at := func(position string, values ...int64) quantity.At {
		a := quantity.At{Position: position}
		for _, v := range values {
			a.Repeats = append(a.Repeats, thou(v))
		}
		return a
	}
	knives := []quantity.At{at("knife 1 left", 61), at("knife 1 right", 66), at("knife 2 left", 60, 66),
		at("knife 2 right", 62), at("upleft", 90)}
	for position, want := range map[string]int64{"left": 63, "right": 66, "knife 1 left": 61, "upleft": 90,
		"middle": 90, "": 90} {
		if got := Greatest(knives, position); !got.Equal(thou(want)) {
			t.Errorf("%q: %v, want %d", position, got, want)
		}
	}
	if Greatest(nil, "left").Valid() {
		t.Error("the greatest of nothing")
	}
}

// decided is all of a status that may change by time alone, without the moment itself.
func decided(st Status) string {
	said := fmt.Sprint(st.MustTag, st.Blockers)
	if st.Warned != nil {
		said += fmt.Sprint(*st.Warned)
	}
	for _, c := range st.Checks {
		said += fmt.Sprint(c.Check.ID, c.Due.State, c.Freshness, c.Advice, c.Failed)
	}
	byID := slices.Clone(st.Services)
	slices.SortFunc(byID, func(a, b ServiceStatus) int { return strings.Compare(a.Service.ID, b.Service.ID) })
	for _, v := range byID {
		said += fmt.Sprint(v.Service.ID, v.Due.State, v.PutOff != nil, v.Lapsed)
	}
	return said
}

// Until the moment to wake at nothing changes by itself, and at that moment something
// does; without one nothing ever changes.
func TestWake(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		snap := bench()
		snap.Shop.Zone = rapid.SampledFrom([]string{"UTC", "Europe/Berlin", "Pacific/Auckland"}).Draw(t, "zone")
		some := func(name string) time.Time {
			return added.Add(time.Duration(rapid.Int64Range(0, 60*24*60).Draw(t, name)) * time.Minute)
		}
		now := some("now")
		for _, id := range []string{"guard", "cover"} {
			if rapid.Bool().Draw(t, id+" is done") {
				inspect(&snap, id, 20, some(id), rapid.Bool().Draw(t, id+" passes"))
			}
		}
		if rapid.Bool().Draw(t, "tidied") {
			snap.Services["tidy"] = LastService{Fact: 21, At: some("tidy"), Since: hours(0)}
		}
		snap.Hours = hours(rapid.Int64Range(0, 60).Draw(t, "hours"))
		for _, id := range []string{"tidy", "oil"} {
			if rapid.Bool().Draw(t, id+" is put off") {
				at := some(id + " put off")
				snap.PutOff[id] = PutOffBy{Fact: 22, At: at,
					PutOff: PutOff{Service: id,
						Until: at.Add(time.Duration(rapid.Int64Range(1, 30*24*60).Draw(t, "for")) * time.Minute)}}
			}
		}
		st := Assess(snap, now)
		for _, cause := range st.MustTag {
			snap.Tags = append(snap.Tags, Tag{Fact: 30, Cause: cause.Key, Reason: cause.Reason})
		}
		st = Assess(snap, now)
		if st.Wake.IsZero() {
			if a, b := decided(st), decided(Assess(snap, now.AddDate(20, 0, 0))); a != b {
				t.Fatalf("nothing to wake for at %v, yet\n%s\n%s", now, a, b)
			}
			return
		}
		if !st.Wake.After(now) {
			t.Fatalf("wakes at %v, now is %v", st.Wake, now)
		}
		before := decided(Assess(snap, st.Wake.Add(-time.Millisecond)))
		if a := decided(st); a != before {
			t.Fatalf("before %v:\n%s\n%s", st.Wake, a, before)
		}
		if at := decided(Assess(snap, st.Wake)); at == before {
			t.Fatalf("nothing happens at %v", st.Wake)
		}
	})
}

// The soonest of what changes counts, among checks, services and what is put off.
func TestWakeTakesTheSoonest(t *testing.T) {
	day := func(n int) time.Time { return onDay(n).Truncate(24 * time.Hour) }
	snap := bench()
	if got := Assess(snap, added).Wake; !got.Equal(day(7)) { // the guard
		t.Errorf("wakes at %v", got)
	}
	snap.PutOff["oil"] = PutOffBy{Fact: 22, At: added, PutOff: PutOff{Service: "oil", Until: onDay(6)}}
	if got := Assess(snap, added).Wake; !got.Equal(onDay(6)) {
		t.Errorf("with the oil put off, at %v", got)
	}
	if got := Assess(snap, onDay(6)).Wake; !got.Equal(day(7)) {
		t.Errorf("once that has run out, at %v", got)
	}
	snap.Tags = []Tag{{Fact: 23, Cause: "overdue:check:guard"}}
	if got := Assess(snap, onDay(31)).Wake; !got.Equal(day(40)) { // the cover late, the tidying due
		t.Errorf("on the thirty-first day, at %v", got)
	}
	if got := Assess(snap, onDay(51)).Wake; !got.IsZero() {
		t.Errorf("when all is late, at %v", got)
	}
}

// Looking something up that is not there gives nothing.
func TestLookUp(t *testing.T) {
	st := Assess(bench(), added)
	if c := st.Check("gap"); c == nil || c.Check.ID != "gap" || c.Stop() {
		t.Errorf("gap: %+v", c)
	}
	if v := st.Service("tidy"); v == nil || v.Service.ID != "tidy" {
		t.Errorf("tidy: %+v", v)
	}
	if st.Check("tidy") != nil || st.Service("gap") != nil {
		t.Error("a check is no service")
	}
	snap := bench()
	read(&snap, "gap", 20, added, thou(300))
	if !Assess(snap, added).Check("gap").Stop() {
		t.Error("past its stop limit it may run")
	}
	snap.Needs = []Need{{Machine: 2, Name: "dust collector"}, {Machine: 3, Name: "compressor", Out: true},
		{Machine: 4, Name: "air filter", Out: true}, {Machine: 5, Name: "heater", Retired: true}}
	st = Assess(snap, added)
	if got := st.Lacks(); len(got) != 3 || got[0].Machine != 3 || got[1].Machine != 4 || got[2].Machine != 5 ||
		len(st.Needs) != 4 {
		t.Errorf("lacks %v of %v", got, st.Needs)
	}
}
