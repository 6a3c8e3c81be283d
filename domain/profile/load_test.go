package profile_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	. "setscrew/domain/profile"
	"setscrew/domain/quantity"
)

func TestBuiltinKindsLoad(t *testing.T) {
	if len(Builtin()) == 0 {
		t.Fatal("no kinds")
	}
	for _, kind := range Builtin() {
		text, err := BuiltinText(kind)
		if err != nil {
			t.Fatal(err)
		}
		prof, err := Load(kind+".yaml", text, nil)
		if err != nil {
			t.Fatalf("%v", err)
		}
		if prof.Kind != kind {
			t.Errorf("%s calls itself %s", kind, prof.Kind)
		}
		// Every parameter at both of its ends, and beyond.
		for _, param := range prof.Parameters {
			var good, bad []string
			switch param.Takes {
			case Count:
				good = []string{fmt.Sprint(param.Min), fmt.Sprint(param.Max)}
				bad = []string{fmt.Sprint(param.Min - 1), fmt.Sprint(param.Max + 1), "many", ""}
			case Size:
				good = []string{quantity.Exact(param.Least), quantity.Exact(param.Most)}
				bad = []string{
					quantity.Exact(param.Least.Mul(big.NewRat(99, 100))),
					quantity.Exact(param.Most.Mul(big.NewRat(101, 100))),
					"long",
				}
			case Thread:
				good, bad = []string{"1/4-20", "M6", "M8x1"}, []string{"thick", "M7", "1/4-0"}
			}
			for _, v := range good {
				if _, err := Load(kind+".yaml", text, Params{param.ID: v}); err != nil {
					t.Errorf("with %s=%s: %v", param.ID, v, err)
				}
			}
			for _, v := range bad {
				if _, err := Load(kind+".yaml", text, Params{param.ID: v}); err == nil {
					t.Errorf("with %s=%s it loads", param.ID, v)
				}
			}
			if param.Accepts() == "" {
				t.Errorf("%s accepts nothing", param.ID)
			}
		}
		if _, err := Load(kind+".yaml", text, Params{"wings": "2"}); err == nil {
			t.Error("with a parameter that it lacks it loads")
		}
	}
	if _, err := BuiltinText("loom"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("text of an unknown kind: %v", err)
	}
}

func planer(t *testing.T, params Params) *Profile {
	t.Helper()
	text, err := BuiltinText("thickness-planer")
	if err != nil {
		t.Fatal(err)
	}
	p, err := Load("thickness-planer.yaml", text, params)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Common practice, no source: the planer's values as the profile gives them, at
// a machine with four knives.
func TestPlaner(t *testing.T) {
	prof := planer(t, Params{"knives": "4", "screws": "M8", "belt-span": "16 in"})
	in := func(num, den int64) quantity.Value { return quantity.New(num, den, quantity.Inch) }
	for _, test := range []struct {
		check                string
		target, low, high    quantity.Value // adjust limits
		stopLow, stopHigh    quantity.Value
		positions, dependent int
		class                Class
	}{
		{"table", in(0, 1), in(-3, 1000), in(3, 1000), in(-20, 1000), in(20, 1000), 1, 3, Quality},
		{"knife-width", in(1, 1), in(13, 16), quantity.Value{}, in(3, 4), quantity.Value{}, 4, 0, Safety},
		{"knives", in(1, 16), in(585, 10000), in(665, 10000), in(425, 10000), in(825, 10000), 8, 9, Safety},
		{"infeed", in(40, 1000), in(35, 1000), in(45, 1000), in(20, 1000), in(60, 1000), 2, 0, Quality},
		{"chip-breaker", in(40, 1000), in(35, 1000), in(45, 1000), in(20, 1000), in(60, 1000), 2, 1, Quality},
		{"pressure-bar", in(8, 1000), in(5, 1000), in(11, 1000), in(-5, 1000), in(30, 1000), 2, 1, Quality},
		{"outfeed", in(20, 1000), in(15, 1000), in(25, 1000), in(5, 1000), in(40, 1000), 2, 0, Quality},
		{"deflector", in(1, 4), in(3, 16), in(5, 16), in(1, 16), in(5, 8), 2, 1, Quality},
		{"bed-rollers", in(3, 1000), in(2, 1000), in(5, 1000), in(0, 1), in(30, 1000), 4, 1, Quality},
		{"infeed-caps", in(1, 8), in(1, 16), in(3, 16), in(0, 1), in(5, 16), 2, 0, Quality},
		// 16 in of span, 1/64 in for each.
		{"belts", in(1, 4), in(3, 16), in(5, 16), in(1, 16), in(3, 4), 2, 0, Quality},
		{"test-board", quantity.Value{}, quantity.Value{}, quantity.Value{}, quantity.Value{}, quantity.Value{}, 2,
			0, Quality},
	} {
		check := prof.Check(test.check)
		for _, value := range []struct {
			name      string
			got, want quantity.Value
		}{{"target", check.Target, test.target}, {"adjust low", check.Adjust.Low, test.low},
			{"adjust high", check.Adjust.High, test.high}, {"stop low", check.Stop.Low, test.stopLow},
			{"stop high", check.Stop.High, test.stopHigh}} {
			if !value.got.Equal(value.want) {
				t.Errorf("%s: %s %v, want %v", test.check, value.name, value.got, value.want)
			}
		}
		if len(check.Positions) != test.positions || check.Class != test.class ||
			len(prof.Dependents(test.check)) != test.dependent ||
			check.Kind() != quantity.Length {
			t.Errorf(
				"%s: positions %q, class %s, dependents %q", test.check, check.Positions, check.Class,
				prof.Dependents(test.check),
			)
		}
	}
	if k := prof.Check("knives"); k.Positions[0] != "knife 1 left" || k.Positions[7] != "knife 4 right" {
		t.Errorf("knives: %q", k.Positions)
	}
	// High for rough stock, low for planed; the two together span 0.002 in to
	// 0.020 in.
	high := prof.Check("bed-rollers").In("high")
	if !high.Target.Equal(in(18, 1000)) || !high.Adjust.High.Equal(in(20, 1000)) || high.Mode != "high" {
		t.Errorf("bed rollers, high: %+v", high)
	}
	if prof.Check("bed-rollers").In("low") != prof.Check("bed-rollers") ||
		prof.Check("bed-rollers").In("odd").Mode != "low" ||
		prof.Check("infeed").In("low").Mode != "" {
		t.Error("another mode than the one asked for")
	}
	if a := prof.Adjuster("infeed-left"); !a.Lead.Equal(quantity.New(125, 100, quantity.Millimetre)) ||
		a.Thread != "M8" ||
		a.Clockwise != Raises ||
		a.Positive != Down {
		t.Errorf("infeed screw: %+v", a)
	}
	if a := planer(t, nil).Adjuster("infeed-left"); !a.Lead.Equal(in(50, 1000)) || a.Thread != "1/4-20" {
		t.Errorf("infeed screw: %+v", a)
	}
	hours := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Hour) }
	if s := prof.Service("bushings"); !s.Every.Hours.Equal(hours(8)) || !s.Recurs() || s.Material != "SAE 30 oil" {
		t.Errorf("bushings: %+v", s)
	}
	if s := prof.Service("belts-again"); !s.First.Hours.Equal(hours(16)) || s.Every.Recurs() ||
		s.After != "belts-changed" ||
		!s.Recurs() {
		t.Errorf("new belts: %+v", s)
	}
	if s := prof.Service("gearbox-oil"); !s.First.Hours.Equal(hours(20)) || s.Every.Months != 12 ||
		s.Material != "80W-90 gear oil" {
		t.Errorf("gearbox: %+v", s)
	}
	if f := prof.Check("fingers"); !f.Inspection || f.Class != Safety || f.Every == nil {
		t.Errorf("fingers: %+v", f)
	}
	if d := cmp.Diff([]string{"knife-width", "knives", "clamping", "infeed", "chip-breaker", "pressure-bar",
		"outfeed", "deflector", "full-turn", "test-board", "depth-scale"},
		prof.Moved(prof.Event("knives-changed").Surfaces)); d != "" {
		t.Errorf("after a knife change (-want +got):\n%s", d)
	}
	if c := prof.Clamping; c.Rows != 4 || c.Bolts != 6 || len(c.Passes) != 3 {
		t.Errorf("clamping: %+v", c)
	}
	for _, id := range []string{"thrown-back", "finger-broken", "smoke", "vibration", "hit-metal", "loose-knife",
		"will-not-stop", "shock", "hurt"} {
		if s := prof.Symptom(id); s == nil || !s.Danger {
			t.Errorf("symptom %s: %+v, want a danger", id, s)
		}
	}
	if prof.Check("x") != nil || prof.Gauge("x") != nil || prof.Adjuster("x") != nil || prof.Service("x") != nil ||
		prof.Symptom("x") != nil ||
		prof.Event("x") != nil {
		t.Error("an unknown id is found")
	}
}

// Isolation keeps the order of 29 CFR 1910.147(d): prepare, shut down, isolate,
// lock, stored energy, verify; nothing comes off before its last step, and no
// step of any work isolates by itself.
func TestIsolationComesFirst(t *testing.T) {
	prof := planer(t, nil)
	want := []string{
		"know every way", "switch it off", "cut the power at the isolator", "lock and tag", "move or fall",
		"try to start it",
	}
	if len(prof.Isolation.Before) != len(want) {
		t.Fatalf("steps %q", prof.Isolation.Before)
	}
	for i, w := range want {
		if !strings.Contains(strings.ToLower(prof.Isolation.Before[i]), w) {
			t.Errorf("step %d is %q, want %q in it", i+1, prof.Isolation.Before[i], w)
		}
	}
	if !strings.Contains(prof.Isolation.Source, "1910.147(d)") {
		t.Errorf("source %q", prof.Isolation.Source)
	}
	for _, s := range prof.Services {
		if !s.Isolated {
			t.Errorf("service %s is done without isolating", s.ID)
		}
	}
	for _, e := range prof.Events {
		if len(e.Steps) > 0 && !e.Isolated {
			t.Errorf("event %s is done without isolating", e.ID)
		}
	}
	for _, c := range prof.Checks {
		if c.Running && c.Isolated {
			t.Errorf("check %s is isolated and runs", c.ID)
		}
	}
}

func TestLead(t *testing.T) {
	for _, test := range []struct {
		thread string
		want   quantity.Value
	}{
		{"1/4-20", quantity.New(50, 1, quantity.Thou)}, {"#10-32", quantity.New(1, 32, quantity.Inch)},
		{"1-8", quantity.New(1, 8, quantity.Inch)},
		{"M6", quantity.New(1, 1, quantity.Millimetre)}, {"M8", quantity.New(5, 4, quantity.Millimetre)},
		{"M8x1", quantity.New(1, 1, quantity.Millimetre)},
		{"M10×1.25", quantity.New(5, 4, quantity.Millimetre)},
		{"M7", quantity.Value{}}, {"M8x0", quantity.Value{}}, {"1/4-0", quantity.Value{}},
		{"Tr 16x4", quantity.Value{}}, {"", quantity.Value{}},
	} {
		if got, ok := Lead(test.thread); !got.Equal(test.want) || ok != test.want.Valid() {
			t.Errorf("%q: %v, %v; want %v", test.thread, got, ok, test.want)
		}
	}
}

func TestParamsAsStored(t *testing.T) {
	var p Params
	if err := json.Unmarshal([]byte(`{"knives": 4, "belt-span": "350 mm"}`), &p); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(Params{"knives": "4", "belt-span": "350 mm"}, p); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestSmallProfileLoads(t *testing.T) {
	prof, err := Load("press.yaml", []byte(small), nil)
	if err != nil {
		t.Fatal(err)
	}
	again, err := Load("press.yaml", []byte(small), nil)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(prof, again); d != "" {
		t.Errorf("loading twice differs:\n%s", d)
	}
	if prof.Check("table").Kind() != quantity.Length || len(prof.Hash) != 64 {
		t.Errorf("table is a %v, hash %q", prof.Check("table").Kind(), prof.Hash)
	}
}

// A gauge that names a kind takes from it what it does not say itself.
func TestGauges(t *testing.T) {
	for _, want := range GaugeKinds() {
		switch {
		case want.Name == "" || want.Source == "" || !want.Resolution.Valid():
			t.Errorf("%s lacks something: %+v", want.ID, want)
		case want.Error.Valid() == want.Uncertainty.Valid() || want.Uncertainty.Valid() != (want.Coverage > 0):
			t.Errorf(
				"%s: error %v, uncertainty %v, k %v; want one of the first two", want.ID, want.Error,
				want.Uncertainty, want.Coverage,
			)
		}
		text := strings.Replace(
			small,
			"{id: dial, name: dial, resolution: 0.01 mm, uncertainty: 0.02 mm, k: 2}",
			"{id: dial, kind: "+want.ID+"}",
			1,
		)
		prof, err := Load("press.yaml", []byte(text), nil)
		if want.Of != quantity.Length {
			if err == nil || !strings.Contains(err.Error(), "a gauge of length") {
				t.Errorf("a %s for a length: %v", want.ID, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", want.ID, err)
			continue
		}
		want.Kind, want.ID = want.ID, "dial"
		if d := cmp.Diff(want, *prof.Gauge("dial")); d != "" {
			t.Errorf("%s (-want +got):\n%s", want.ID, d)
		}
	}
	for old, want := range map[string]string{
		"kind: sundial": "a kind of gauge",
		"kind: dial, error: 1 um, uncertainty: 2 um, k: 2": "one of the two",
		"name: dial, resolution: 0.01 mm":                  "one of the two",
		"kind: dial, uncertainty: 1 mm":                    "k",
		"kind: dial, of: mood":                             "what is measured",
		"name: dial, error: 1 um":                          "resolution",
	} {
		text := strings.Replace(
			small,
			"{id: dial, name: dial, resolution: 0.01 mm, uncertainty: 0.02 mm, k: 2}",
			"{id: dial, "+old+"}",
			1,
		)
		if _, err := Load("press.yaml", []byte(text), nil); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("a gauge with %s: %v, want %s", old, err, want)
		}
	}
	// What it says itself counts.
	text := strings.Replace(
		small, "name: dial, resolution: 0.01 mm, uncertainty: 0.02 mm, k: 2",
		"kind: dial, name: old dial, uncertainty: 0.05 mm, k: 3", 1,
	)
	p, err := Load("press.yaml", []byte(text), nil)
	if err != nil {
		t.Fatal(err)
	}
	if g := p.Gauge("dial"); g.Name != "old dial" || g.Error.Valid() || g.Coverage != 3 ||
		!g.Resolution.Equal(quantity.New(1, 1, quantity.Thou)) ||
		!g.Zeroed {
		t.Errorf("the old dial is %+v", g)
	}
}

func FuzzLoad(f *testing.F) {
	f.Add([]byte(small))
	text, err := BuiltinText("thickness-planer")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	for _, s := range []string{"", "a: b", "a: &x {b: *x}", "? {a}: 1", "!!binary x",
		"setscrew-profile: 1\nchecks: [{}]", "return: |\n  x\n", "<<: {a: 1}"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := Load("f.yaml", text, nil)
		var errs Errors
		switch {
		case err == nil && p == nil:
			t.Fatal("neither a profile nor mistakes")
		case err != nil && (!errors.As(err, &errs) || len(errs) == 0):
			t.Fatalf("%v is not Errors", err)
		}
		for _, e := range errs {
			if e.Line < 1 || e.Column < 1 || e.Want == "" || e.Got == "" {
				t.Fatalf("a mistake without its place: %+v", e)
			}
		}
	})
}
