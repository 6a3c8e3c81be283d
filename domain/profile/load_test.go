package profile_test

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
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
		p, err := Load(kind+".yaml", text, nil)
		if err != nil {
			t.Fatalf("%v", err)
		}
		if p.Kind != kind {
			t.Errorf("%s calls itself %s", kind, p.Kind)
		}
		// Every parameter at both of its ends.
		for _, q := range p.Parameters {
			for _, n := range []int{q.Min, q.Max} {
				if _, err := Load(kind+".yaml", text, map[string]int{q.ID: n}); err != nil {
					t.Errorf("with %s=%d: %v", q.ID, n, err)
				}
			}
			for _, n := range []int{q.Min - 1, q.Max + 1} {
				if _, err := Load(kind+".yaml", text, map[string]int{q.ID: n}); err == nil {
					t.Errorf("with %s=%d it loads", q.ID, n)
				}
			}
		}
		if _, err := Load(kind+".yaml", text, map[string]int{"wings": 2}); err == nil {
			t.Error("with a parameter that it lacks it loads")
		}
	}
	if _, err := BuiltinText("loom"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("text of an unknown kind: %v", err)
	}
}

// Common practice, no source: the planer's values as the profile gives them.
func TestPlaner(t *testing.T) {
	text, err := BuiltinText("thickness-planer")
	if err != nil {
		t.Fatal(err)
	}
	p, err := Load("thickness-planer.yaml", text, map[string]int{"knives": 4})
	if err != nil {
		t.Fatal(err)
	}
	thou := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Thou) }
	in := p.Check("infeed")
	if !in.Target.Equal(thou(40)) || !in.Adjust.Low.Equal(thou(35)) || !in.Adjust.High.Equal(thou(45)) || in.From != "knives" {
		t.Errorf("infeed roller: %+v", in)
	}
	k := p.Check("knives")
	if !k.Target.Equal(quantity.New(1, 16, quantity.Inch)) || k.Class != Safety || len(k.Positions) != 8 || k.Positions[0] != "knife 1 left" || k.Positions[7] != "knife 4 right" {
		t.Errorf("knives: %+v", k)
	}
	a := p.Adjuster("infeed-left")
	if !a.Lead.Equal(thou(50)) || a.Clockwise != Raises || a.Positive != Down || !a.Increment.Equal(quantity.New(1, 8, quantity.Turn)) {
		t.Errorf("infeed screw: %+v", a)
	}
	if s := p.Service("bushings"); !s.Every.Hours.Equal(quantity.New(8, 1, quantity.Hour)) || !s.Every.Recurs() {
		t.Errorf("bushings: %+v", s)
	}
	if f := p.Check("fingers"); !f.Inspection || f.Class != Safety || f.Every == nil {
		t.Errorf("fingers: %+v", f)
	}
	if d := cmp.Diff([]string{"infeed", "outfeed"}, p.Dependents("knives")); d != "" {
		t.Errorf("dependents of the knives (-want +got):\n%s", d)
	}
	if len(p.Dependents("infeed")) != 0 {
		t.Errorf("dependents of the infeed roller: %v", p.Dependents("infeed"))
	}
	for _, id := range []string{"thrown-back", "finger-broken", "smoke", "vibration", "hit-metal", "loose-knife", "will-not-stop", "shock", "hurt"} {
		if s := p.Symptom(id); s == nil || !s.Danger {
			t.Errorf("symptom %s: %+v, want a danger", id, s)
		}
	}
	// Steps that uncover a machine never come before isolating it.
	for _, s := range p.Services {
		if len(s.Steps) == 0 || !strings.Contains(strings.ToLower(s.Steps[0]), "isolate") {
			t.Errorf("service %s does not begin with isolating: %q", s.ID, s.Steps)
		}
	}
	if p.Check("x") != nil || p.Gauge("x") != nil || p.Adjuster("x") != nil || p.Service("x") != nil || p.Symptom("x") != nil {
		t.Error("an unknown id is found")
	}
}

// small is a profile that loads; the tests that follow break it.
const small = `setscrew-profile: 1
kind: press
name: press
revision: 1
gauges:
  - {id: dial, name: dial, resolution: 0.01 mm, uncertainty: 0.02 mm, k: 2}
checks:
  - id: table
    name: table
    class: quality
    measured: up is positive.
    positions: [left, right]
    target: 1.50 mm
    adjust: 1.40 mm to 1.60 mm
    stop: 1 mm to 2 mm
    gauge: dial
    entry: {metric: mm, inch: thou}
    decimals: {metric: 2, inch: 0}
    source: common practice, no source
adjusters:
  - {id: left, name: left screw, check: table, position: left, thread: M6, lead: 1 mm, clockwise: raises, seen-from: the key, positive: up, increment: 1/8 turn}
services:
  - {id: oil, name: oil, class: routine, every: {hours: 8 h}, steps: [isolate it, oil it], source: common practice}
cautions:
  - {id: isolate, text: isolate it}
return: [guards on]
`

func TestSmallProfileLoads(t *testing.T) {
	p, err := Load("press.yaml", []byte(small), nil)
	if err != nil {
		t.Fatal(err)
	}
	again, err := Load("press.yaml", []byte(small), nil)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(p, again); d != "" {
		t.Errorf("loading twice differs:\n%s", d)
	}
	if p.Check("table").Kind() != quantity.Length || len(p.Hash) != 64 {
		t.Errorf("table is a %v, hash %q", p.Check("table").Kind(), p.Hash)
	}
}

// Each way of breaking a profile is told with its line and column and what was
// expected there.
func TestMistakes(t *testing.T) {
	for _, c := range []struct {
		old, new string
		want     string // line:column and a part of what was expected
	}{
		{"setscrew-profile: 1", "setscrew-profile: 2", "1:19 format 1"},
		{"kind: press", "kind: Press!", "2:7 lower case"},
		{"name: press", "naem: press", "3:1 one of setscrew-profile"},
		{"revision: 1", "revision: first", "4:11 a whole number"},
		{"revision: 1", "revision: 1\nrevision: 2", "5:1 YAML"},
		{"k: 2}", "k: 9}", "6:74 a coverage factor"},
		{"uncertainty: 0.02 mm", "uncertainty: 0.02", "6:62 length with its unit"},
		{"uncertainty: 0.02 mm", "uncertainty: -1 mm", "6:62 more than nothing"},
		{"class: quality", "class: fancy", "10:12 one of safety, quality"},
		{"measured: up is positive.", "measured: [up]", "11:15 a text"},
		{"positions: [left, right]", "positions: left", "12:16 a list"},
		{"positions: [left, right]", "positions: [left, left]", "8:9 each position once"},
		{"positions: [left, right]", "each: knives\n    positions: [left, right]", "12:11 a parameter"},
		{"target: 1.50 mm", "target: 1.50 kg", "13:13 length"},
		{"target: 1.50 mm", "target: 3 mm", "8:9 limits that hold the target"},
		{"adjust: 1.40 mm to 1.60 mm", "adjust: 1.40 mm", `14:13 "… to …"`},
		{"adjust: 1.40 mm to 1.60 mm", "adjust: 1.60 mm to 1.40 mm", "14:13 the lower limit first"},
		{"stop: 1 mm to 2 mm", "stop: 1.45 mm to 2 mm", "8:9 stop limits that hold the adjust limits"},
		{"gauge: dial\n", "gauge: caliper\n", "8:9 a gauge's id"},
		{"entry: {metric: mm, inch: thou}", "entry: {metric: h, inch: thou}", "17:21 a unit of length"},
		{"entry: {metric: mm, inch: thou}", "entry: {metric: mm}", "17:12 inch: a text"},
		{"decimals: {metric: 2, inch: 0}", "decimals: {metric: 9, inch: 0}", "18:24 a whole number from 0 to 6"},
		{"    source: common practice, no source\n", "", "8:5 source"},
		{"    gauge: dial\n", "    gauge: dial\n    from: chair\n", "8:9 a check's id"},
		{"    gauge: dial\n", "    gauge: dial\n    from: table\n", "8:9 a chain of datums with an end"},
		{"    gauge: dial\n", "    gauge: dial\n    every: {hours: 8 h}\n", "17:12 a check's interval in days"},
		{"    gauge: dial\n", "    gauge: dial\n    inspection: true\n    fail: mend it\n", "12:16 none: an inspection"},
		{"position: left,", "position: top,", "21:10 one of left, right"},
		{"check: table,", "check: chair,", "21:10 the id of a check"},
		{"lead: 1 mm, ", "", "21:5 lead: travel in one turn"},
		{"thread: M6, lead: 1 mm", "thread: 1/4-20, lead: 1 mm", "21:86 the lead of its thread"},
		{"clockwise: raises", "clockwise: up", "21:99 one of raises, lowers"},
		{"increment: 1/8 turn", "increment: 1/8", "21:152 turns with its unit"},
		{"every: {hours: 8 h}", "every: {late-days: 2}", "23:49 how often"},
		{"every: {hours: 8 h}", "every: {hours: 8 mm}", "23:57 duration"},
		{"steps: [isolate it, oil it]", "moves: [chair], steps: [oil it]", "23:10 a check's id"},
		{"text: isolate it", "text: \"\"", "25:25 a text"},
		{"return: [guards on]", "return: [guards on]\n---\nkind: x\n", "28:1 one profile a file"},
		{"return: [guards on]", "return: &x [guards on]", "26:9 a list"},
		{"return: [guards on]", "return: [guards on", "26:"},
		{small, "", "1:1 a profile"},
		{small, "- 1\n", "1:1 a mapping"},
		{small, strings.Repeat("[", 5000), "1:17 at most 16"},
		{small, strings.Repeat("# long\n", 50000), "1:1 at most 262144"},
	} {
		text := strings.Replace(small, c.old, c.new, 1)
		if text == small {
			t.Fatalf("%q does not stand in the small profile", c.old)
		}
		_, err := Load("press.yaml", []byte(text), nil)
		var errs Errors
		if !errors.As(err, &errs) {
			t.Errorf("with %q: %v, want Errors", c.new, err)
			continue
		}
		if !slices.ContainsFunc(errs, func(e Error) bool {
			return strings.HasPrefix(fmt.Sprintf("%d:%d %s", e.Line, e.Column, e.Want), c.want)
		}) {
			t.Errorf("with %q:\n%v\nwant %s", c.new[:min(len(c.new), 60)], err, c.want)
		}
	}
}

func TestAllMistakesAtOnce(t *testing.T) {
	text := strings.NewReplacer("revision: 1", "revision: one", "class: quality", "class: fancy", "target: 1.50 mm", "target: 1.50").Replace(small)
	_, err := Load("press.yaml", []byte(text), nil)
	var errs Errors
	if !errors.As(err, &errs) || len(errs) != 3 {
		t.Fatalf("%v, want three mistakes", err)
	}
	if got := errs[0].Error(); got != `press.yaml:4:11: got "one"; expected a whole number from 1 to 1000000` {
		t.Errorf("first mistake: %s", got)
	}
	if !slices.IsSortedFunc(errs, func(a, b Error) int { return a.Line - b.Line }) {
		t.Errorf("not in the file's order:\n%v", errs)
	}
}

func FuzzLoad(f *testing.F) {
	f.Add([]byte(small))
	text, err := BuiltinText("thickness-planer")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	for _, s := range []string{"", "a: b", "a: &x {b: *x}", "? {a}: 1", "!!binary x", "setscrew-profile: 1\nchecks: [{}]", "return: |\n  x\n", "<<: {a: 1}"} {
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
