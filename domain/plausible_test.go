package domain_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	. "setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// A value is unlikely at ten times its target and at a tenth of it, the limits
// themselves among them; a low one not where it lies within the stop limits.
func TestUnlikelyValues(t *testing.T) {
	gap := func(stop metrology.Limits) *profile.Check {
		return &profile.Check{Of: quantity.Length, Target: thou(-100), Stop: stop}
	}
	for _, test := range []struct {
		name  string
		check *profile.Check
		value quantity.Value
		want  bool
	}{
		{"ten times", gap(metrology.Limits{}), thou(1000), true},
		{"not quite ten times", gap(metrology.Limits{}), thou(999), false},
		{"ten times the other way", gap(metrology.Limits{}), thou(-1000), true},
		{"a tenth", gap(metrology.Limits{}), thou(10), true},
		{"hardly more than a tenth", gap(metrology.Limits{}), thou(11), false},
		{"a tenth, within the stop limits", gap(within(5, 500)), thou(10), false},
		{"a tenth, at the lower stop limit", gap(within(10, 500)), thou(10), false},
		{"a tenth, below it", gap(within(11, 500)), thou(10), true},
		{"a tenth, at the upper stop limit", gap(within(-500, 10)), thou(10), false},
		{"a tenth, above it", gap(within(-500, 9)), thou(10), true},
		{"a tenth, with a lower limit alone", gap(metrology.Limits{Low: thou(5)}), thou(10), false},
		{"a tenth, below the only limit", gap(metrology.Limits{Low: thou(11)}), thou(10), true},
		{"a tenth, with an upper limit alone", gap(metrology.Limits{High: thou(500)}), thou(10), false},
		{"a tenth, above the only limit", gap(metrology.Limits{High: thou(9)}), thou(10), true},
		{"ten times, within the stop limits all the same", gap(within(-5000, 5000)), thou(1000), true},
		{"no target", &profile.Check{Of: quantity.Length}, thou(1000), false},
		{"a target of zero", &profile.Check{Of: quantity.Length, Target: thou(0)}, thou(1000), false},
		{"on a scale of temperature", &profile.Check{Of: quantity.Temperature,
			Target: quantity.New(2, 1, quantity.Celsius)}, quantity.New(300, 1, quantity.Celsius), false},
		{"a tone as it should be", belt(40), hertz(42), false},
		{"its octave", belt(40), hertz(80), true},
		{"its third overtone, off a little", belt(40), hertz(125), true},
		{"between the two", belt(40), hertz(100), false},
	} {
		values := []quantity.At{at("left", test.value), at("right", test.check.Target)}
		if !test.check.Target.Valid() {
			values = values[:1]
		}
		if got := Unlikely(test.check, values); got != test.want {
			t.Errorf("%s: %t", test.name, got)
		}
	}
	// Any of the repeats at any position.
	if !Unlikely(gap(metrology.Limits{}), []quantity.At{at("left", thou(-100)),
		at("right", thou(-100), thou(-1000))}) {
		t.Error("the second repeat on the right goes by")
	}
}

// A belt's overtones are taken for the tone that was meant, and nothing else is
// touched.
func TestFundamental(t *testing.T) {
	values := []quantity.At{at("belt 1", hertz(41), hertz(82)), at("belt 2", hertz(123)), at("belt 3", hertz(100))}
	meant, overtone := Fundamental(belt(40), values)
	want := []quantity.At{at("belt 1", hertz(41), hertz(41)), at("belt 2", hertz(41)), at("belt 3", hertz(100))}
	if d := cmp.Diff(want, meant); d != "" || overtone != 3 {
		t.Errorf("overtone %d (-want +got):\n%s", overtone, d)
	}
	if d := cmp.Diff([]quantity.At{at("belt 1", hertz(41), hertz(82)), at("belt 2", hertz(123)),
		at("belt 3", hertz(100))}, values); d != "" {
		t.Errorf("what was typed is changed:\n%s", d)
	}
	// The greatest counts, wherever it stands.
	if _, overtone := Fundamental(belt(40), []quantity.At{at("belt 1", hertz(160)),
		at("belt 2", hertz(80))}); overtone != 4 {
		t.Errorf("overtone %d, want 4", overtone)
	}
	if got, overtone := Fundamental(belt(40), values[2:]); overtone != 0 || !got[0].Repeats[0].Equal(hertz(100)) {
		t.Errorf("no overtone: %d, %v", overtone, got)
	}
	length := []quantity.At{at("", thou(80))}
	if got, overtone := Fundamental(&profile.Check{Of: quantity.Length, Target: thou(40)}, length); overtone != 0 ||
		!got[0].Repeats[0].Equal(thou(80)) {
		t.Errorf("a length has no tone: %d, %v", overtone, got)
	}
	if got, overtone := Fundamental(&profile.Check{Of: quantity.Frequency}, values); overtone != 0 || len(got) != 3 ||
		!got[1].Repeats[0].Equal(hertz(123)) {
		t.Errorf("without a target: %d, %v", overtone, got)
	}
}

// What is meant by values is never unlikely for its tone: once divided it fits no
// overtone, and repeated it stays.
func TestFundamentalSettles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		target := rapid.Int64Range(20, 90).Draw(t, "target")
		value := hertz(rapid.Int64Range(target/2, target*9/2).Draw(t, "heard"))
		meant, overtone := Fundamental(belt(target), []quantity.At{at("", value)})
		if (overtone != 0) != Unlikely(belt(target), []quantity.At{at("", value)}) {
			t.Fatalf("%v against %d Hz: overtone %d, but unlikely otherwise", value, target, overtone)
		}
		if again, second := Fundamental(belt(target), meant); second != 0 ||
			!again[0].Repeats[0].Equal(meant[0].Repeats[0]) {
			t.Fatalf("%v against %d Hz: meant %v, then overtone %d", value, target, meant, second)
		}
	})
}

// A decimal point one place off is seen where the other place is in order, and a sign where
// it lies far outside; neither where the machine may well be like that.
func TestSlipsOfPointAndSign(t *testing.T) {
	roller := &profile.Check{Of: quantity.Length, Target: thou(40), Adjust: within(35, 45), Stop: within(20, 60)}
	bed := &profile.Check{Of: quantity.Length, Target: thou(3), Adjust: within(2, 5), Stop: within(0, 30)}
	width := &profile.Check{Of: quantity.Length, Target: thou(1000), Adjust: metrology.Limits{Low: thou(812)},
		Stop: metrology.Limits{Low: thou(750)}}
	zero := &profile.Check{Of: quantity.Length, Target: thou(0), Adjust: within(-3, 3), Stop: within(-20, 20)}
	board := &profile.Check{Of: quantity.Length, Example: thou(750), AlikeAdjust: thou(2)}
	bounded := &profile.Check{Of: quantity.Length, Example: thou(750), Plausible: within(100, 8000)}
	scale := &profile.Check{Of: quantity.Length, Plausible: within(0, 2000)}
	for _, test := range []struct {
		name  string
		check *profile.Check
		value quantity.Value
		want  bool
		meant string
	}{
		{"as it should be", roller, thou(41), false, ""},
		{"a point to the right", roller, thou(410), true, "0.0010414 m"},
		{"a point to the left", roller, tenths(41), true, "0.0010414 m"},
		{"two places", roller, thou(4100), true, "0.0010414 m"},
		{"far out, but no slip makes it right", roller, thou(300), false, ""},
		{"below the knife", roller, thou(-10), false, ""},
		{"a minus for a dash", roller, thou(-41), true, "0.0010414 m"},
		{"a roller that is low", bed, thou(-3), false, ""},
		{"a roller that is far too high", bed, thou(29), false, ""},
		{"a knife of no width", width, thou(-1000), true, "0.0254 m"},
		{"a worn knife", width, thou(700), false, ""},
		{"nothing, about zero", zero, thou(0), false, ""},
		{"off, about zero", zero, thou(150), false, ""},
		{"very far off, about zero", zero, thou(200), true, "0.0000508 m"},
		{"a board", board, thou(100), false, ""},
		{"a board of another unit", board, thou(19000), true, ""},
		{"a board too thin to be one", board, thou(50), true, ""},
		{"what the profile allows", scale, thou(2000), false, ""},
		{"past what the profile allows", scale, thou(2001), true, ""},
		{"below what the profile allows", scale, thou(-1), true, ""},
	} {
		values := []quantity.At{at("", test.value)}
		if got := Unlikely(test.check, values); got != test.want {
			t.Errorf("%s: unlikely %t", test.name, got)
		}
		meant := ""
		if all := Meant(test.check, values); test.want && len(all) > 0 {
			meant = exact(all[0][0].Repeats[0])
		}
		if meant != test.meant {
			t.Errorf("%s: meant %q, want %q", test.name, meant, test.meant)
		}
	}
	// Only what is odd of a reading is changed.
	all := Meant(roller, []quantity.At{at("left", thou(44)), at("right", thou(380), thou(39))})
	want := [][]quantity.At{{at("left", thou(44)), at("right", thou(38), thou(39))}}
	if d := cmp.Diff(want, all); d != "" {
		t.Errorf("one of three slipped (-want +got):\n%s", d)
	}
	// Places of a board that differ by a decimal point.
	if !Unlikely(board, []quantity.At{at("left", thou(7500)), at("right", thou(748))}) ||
		!Unlikely(bounded, []quantity.At{at("left", thou(7500)), at("right", thou(748))}) ||
		Unlikely(board, []quantity.At{at("left", thou(1500)), at("right", thou(748)), at("middle", thou(0))}) {
		t.Error("what differs by eight times is unlikely, what differs by two is not")
	}
}

func exact(v quantity.Value) string {
	text, err := v.MarshalText()
	if err != nil {
		return err.Error()
	}
	return string(text)
}

// A shop's own value for a check is a slip where it is five times the profile's, or a tenth.
func TestUnlikelySetting(t *testing.T) {
	width := &profile.Check{Of: quantity.Length, Target: thou(1000), Adjust: metrology.Limits{Low: thou(812)},
		Stop: metrology.Limits{Low: thou(750)}}
	for _, test := range []struct {
		name  string
		check *profile.Check
		value quantity.Value
		want  bool
	}{
		{"three quarters of an inch", width, thou(750), false},
		{"three quarters of a millimetre", width, quantity.New(75, 100, quantity.Millimetre), true},
		{"a tenth of its least", width, thou(75), true},
		{"hardly more than a tenth", width, thou(76), false},
		{"five times its greatest", width, thou(5000), true},
		{"hardly less than five times", width, thou(4999), false},
		{"five times, below zero", width, thou(-5000), true},
		{"nothing", width, thou(0), false},
		{"none", width, quantity.Value{}, false},
		{"outside what is plausible", &profile.Check{Of: quantity.Length, Plausible: within(10, 20)}, thou(21), true},
		{"inside what is plausible", &profile.Check{Of: quantity.Length, Plausible: within(10, 20)}, thou(20), false},
		{"less than a limit about zero", &profile.Check{Of: quantity.Length, Target: thou(0), Adjust: within(-3, 3),
			Stop: within(-20, 20)}, thou(2), false},
		{"five times a limit about zero", &profile.Check{Of: quantity.Length, Target: thou(0), Adjust: within(-3, 3),
			Stop: within(-20, 20)}, thou(100), true},
		{"on a scale of temperature", &profile.Check{Of: quantity.Temperature,
			Target: quantity.New(2, 1, quantity.Celsius)}, quantity.New(300, 1, quantity.Celsius), false},
	} {
		if got := UnlikelySetting(test.check, test.value); got != test.want {
			t.Errorf("%s: %t", test.name, got)
		}
	}
}

// An unlikely reading of a safety check waits for an answer, and reading the check again is
// one; a quality check's never keeps a machine from being used.
func TestUnanswered(t *testing.T) {
	snap := bench()
	waits := func(id string, no FactNo, at time.Time) Latest {
		return Latest{Fact: no, Check: id, At: at, Reading: &Reading{Check: id, Unconfirmed: true}}
	}
	snap.Waiting = []Latest{waits("bed", 20, added), waits("blade", 21, added)}
	unanswered := func() (all []FactNo) {
		for _, waits := range Assess(snap, added).Unanswered() {
			all = append(all, waits.Fact)
		}
		return all
	}
	if d := cmp.Diff([]FactNo{21}, unanswered()); d != "" {
		t.Errorf("of a quality and a safety check (-want +got):\n%s", d)
	}
	if wake := Assess(snap, added).Wake; !wake.Equal(added.Add(DoubtWaits)) {
		t.Errorf("wakes at %v to call the stewards", wake)
	}
	read(&snap, "blade", 22, added.Add(-time.Minute), thou(1100))
	if d := cmp.Diff([]FactNo{21}, unanswered()); d != "" {
		t.Errorf("after one of an earlier time (-want +got):\n%s", d)
	}
	read(&snap, "blade", 19, added.Add(time.Minute), thou(1100))
	if d := cmp.Diff([]FactNo{21}, unanswered()); d != "" {
		t.Errorf("after one reported before (-want +got):\n%s", d)
	}
	read(&snap, "blade", 22, added, thou(1100))
	if got := unanswered(); got != nil {
		t.Errorf("read again, and still unanswered: %v", got)
	}
	if waits := Assess(snap, added).Waiting; len(waits) != 1 || waits[0].Fact != 20 {
		t.Errorf("waits: %v", waits)
	}
}
