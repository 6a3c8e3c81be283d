package domain_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	. "setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
)

// A thing on the shelf is found by its name, whatever its case and the spaces around
// it, and is bought when as few are left as somebody said.
func TestShelf(t *testing.T) {
	shelf := []Shelf{{Name: "Oil", Left: 3, Buy: 2}, {Name: "wax", Left: 2, Buy: 2},
		{Name: "Belts ", Left: 0, Buy: 0}}
	for name, want := range map[string]int{"oil": 0, " OIL ": 0, "Wax": 1, "belts": 2, "grease": -1, "": -1} {
		got := OnShelf(shelf, name)
		if (got == nil) != (want < 0) || got != nil && got != &shelf[want] {
			t.Errorf("%q: %+v, want no. %d", name, got, want)
		}
	}
	for i, want := range []bool{false, true, true} {
		if got := shelf[i].ToBuy(); got != want {
			t.Errorf("%s: to buy %t", shelf[i].Name, got)
		}
	}
}

// Of a machine's sets only the one fitted last is in it; one fitted before came off
// then. They stand by name.
func TestSets(t *testing.T) {
	set := func(name string, where Place, at time.Time, no FactNo) BladeSet {
		return BladeSet{Fact: no, At: at, SetMoved: SetMoved{Set: name, Where: where}}
	}
	for _, test := range []struct {
		name string
		said []BladeSet
		want []BladeSet
	}{
		{"none", nil, nil},
		{"one", []BladeSet{set("A", Fitted, onDay(1), 9)}, []BladeSet{set("A", Fitted, onDay(1), 9)}},
		{"by name, whatever the case", []BladeSet{set("c", Spare, onDay(1), 9), set("B", Out, onDay(2), 10),
			set("a", Spare, onDay(3), 11)},
			[]BladeSet{set("a", Spare, onDay(3), 11), set("B", Out, onDay(2), 10), set("c", Spare, onDay(1), 9)}},
		{"another fitted after it", []BladeSet{set("A", Fitted, onDay(1), 9), set("B", Fitted, onDay(2), 8)},
			[]BladeSet{set("A", Off, onDay(2), 9), set("B", Fitted, onDay(2), 8)}},
		{"another fitted before it", []BladeSet{set("A", Fitted, onDay(3), 9), set("B", Fitted, onDay(2), 10)},
			[]BladeSet{set("A", Fitted, onDay(3), 9), set("B", Off, onDay(3), 10)}},
		{"two at one moment: the later report", []BladeSet{set("A", Fitted, onDay(2), 10),
			set("B", Fitted, onDay(2), 9), set("C", Fitted, onDay(2), 8)},
			[]BladeSet{set("A", Fitted, onDay(2), 10), set("B", Off, onDay(2), 9), set("C", Off, onDay(2), 8)}},
		{"two at one moment, the other way round", []BladeSet{set("A", Fitted, onDay(2), 8),
			set("B", Fitted, onDay(2), 9)},
			[]BladeSet{set("A", Off, onDay(2), 8), set("B", Fitted, onDay(2), 9)}},
		{"one out since", []BladeSet{set("A", Fitted, onDay(1), 9), set("B", Out, onDay(5), 10)},
			[]BladeSet{set("A", Fitted, onDay(1), 9), set("B", Out, onDay(5), 10)}},
		{"none fitted", []BladeSet{set("A", Spare, onDay(1), 9), set("B", Out, onDay(5), 10)},
			[]BladeSet{set("A", Spare, onDay(1), 9), set("B", Out, onDay(5), 10)}},
	} {
		snap := bench()
		snap.Sets = append([]BladeSet(nil), test.said...)
		if d := cmp.Diff(test.want, Assess(snap, onDay(9)).Sets); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
		if d := cmp.Diff(test.said, snap.Sets); d != "" {
			t.Errorf("%s: what was said is changed:\n%s", test.name, d)
		}
	}
	// When events fitted a set, of those that do.
	s := bench()
	s.Events["blade-changed"], s.Events["crash"] = LastService{Fact: 9, At: onDay(3)},
		LastService{Fact: 10, At: onDay(4)}
	if d := cmp.Diff(map[string]time.Time{"blade-changed": onDay(3)}, Assess(s, onDay(9)).Fits); d != "" {
		t.Errorf("fits (-want +got):\n%s", d)
	}
	if got := Assess(bench(), onDay(9)).Fits; len(got) != 0 {
		t.Errorf("never fitted: %v", got)
	}
}

// A set is overdue once it is out for longer than was said.
func TestSetOverdue(t *testing.T) {
	for _, test := range []struct {
		where Place
		back  time.Time
		want  bool
	}{{Out, onDay(2).Add(-1), true}, {Out, onDay(2), false}, {Out, onDay(3), false}, {Out, time.Time{}, false},
		{Spare, onDay(1), false}, {Fitted, onDay(1), false}} {
		if got := (BladeSet{SetMoved: SetMoved{Where: test.where,
			Back: test.back}}).Overdue(onDay(2)); got != test.want {
			t.Errorf("%s, back %v: overdue %t", test.where, test.back, got)
		}
	}
}

// A gauge says when its calibration runs out, what one reading with it is good for and
// what it measures: length, if nobody says.
func TestGauges(t *testing.T) {
	gauge := GaugeUsed{Name: "dial", Calibrated: added, Interval: 30, Gauge: metrology.Gauge{Uncertainty: thou(2),
		Coverage: 2}}
	if since, over := gauge.Calibration().Overdue(onDay(30)); !over || !since.Equal(onDay(30)) {
		t.Errorf("overdue %t since %v", over, since)
	}
	if _, over := gauge.Calibration().Overdue(onDay(30).Add(-1)); over {
		t.Error("overdue before its time")
	}
	if b := gauge.Budget(); b.N != 1 || b.Level != Level || !closeTo(b.Combined, 0.0254/1000) {
		t.Errorf("budget %+v", b)
	}
	if got := (OwnGauge{}).Measures(); got != quantity.Length {
		t.Errorf("measures %v", got)
	}
	if got := (OwnGauge{Of: quantity.Pressure}).Measures(); got != quantity.Pressure {
		t.Errorf("measures %v", got)
	}
}

func closeTo(got, want float64) bool { return got-want < 1e-9 && want-got < 1e-9 }

// Readings can be compared from when a surface last moved that they are measured from.
func TestReadingsCompareSince(t *testing.T) {
	snap := bench()
	if got := ComparableSince(snap, "gap"); !got.IsZero() {
		t.Errorf("nothing moved, since %v", got)
	}
	snap.Moved = map[string]Moved{"bed": {At: onDay(4), Fact: 9}, "blade": {At: onDay(2), Fact: 8},
		"cover": {At: onDay(7), Fact: 10}}
	for check, want := range map[string]time.Time{"gap": onDay(4), "blade": onDay(4), "bed": onDay(4), "sound": {}} {
		if got := ComparableSince(snap, check); !got.Equal(want) {
			t.Errorf("%s since %v, want %v", check, got, want)
		}
	}
}
