package profile_test

import (
	"math"
	"strings"
	"testing"

	"setscrew/cmd/setscrew/rehearse/demo"
	"setscrew/domain/linkage"
	. "setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// bench is a plate on three feet, one of them fixed, a roller on two eccentrics,
// and a gap that is slid.
const bench = `setscrew-profile: 1
kind: bench
name: bench
revision: 1
gauges:
  - {id: dial, name: dial, resolution: 0.01 mm, uncertainty: 0.02 mm, k: 2}
checks:
  - id: plate
    name: plate
    class: quality
    measured: up is positive.
    positions: [a, b, c]
    body:
      kind: plate
      places: {a: [0 mm, 100 mm], b: [80 mm, -50 mm], c: [-80 mm, -50 mm]}
    target: 0 mm
    adjust: -0.1 mm to 0.1 mm
    gauge: dial
    entry: {metric: mm, inch: thou}
    decimals: {metric: 2, inch: 0}
    source: common practice, no source
  - id: roller
    name: roller
    class: quality
    measured: up is positive.
    positions: [left, right]
    body:
      kind: bar
      places: {left: 10 mm, right: 90 mm}
    target: 1 mm
    adjust: 0.9 mm to 1.1 mm
    gauge: dial
    entry: {metric: mm, inch: thou}
    decimals: {metric: 2, inch: 0}
    source: common practice, no source
  - id: gap
    name: gap
    class: quality
    measured: wider is positive.
    target: 5 mm
    adjust: 4 mm to 6 mm
    gauge: dial
    entry: {metric: mm, inch: thou}
    decimals: {metric: 2, inch: 0}
    source: common practice, no source
adjusters:
  - {id: n, name: north, check: plate, at: [0 mm, 120 mm], fixed: true}
  - {id: e, name: east, check: plate, at: [100 mm, -60 mm], thread: M6, clockwise: raises, seen-from: above,
    positive: up, increment: 1/8 turn}
  - {id: w, name: west, check: plate, at: [-100 mm, -60 mm], thread: M6, clockwise: raises, seen-from: above,
    positive: up, increment: 1/8 turn}
  - {id: l, name: left end, check: roller, at: 0 mm, drive: eccentric, lead: 1 mm, clockwise: raises,
    seen-from: the end, positive: up, increment: 1/16 turn}
  - {id: r, name: right end, check: roller, at: 100 mm, drive: eccentric, lead: 1 mm, clockwise: raises,
    seen-from: the end, positive: up, increment: 1/16 turn}
  - {id: s, name: stop, check: gap, drive: slide, positive: open}
services:
  - {id: oil, name: oil, class: routine, every: {hours: 8 h}, steps: [oil it], source: common practice}
cautions:
  - {id: isolate, text: isolate it}
return: [guards on]
`

// Geometry that cannot be reckoned with is refused when the profile is loaded,
// with the reason.
func TestBadGeometry(t *testing.T) {
	if _, err := Load("bench.yaml", []byte(bench), nil); err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct{ old, new, want string }{
		{"at: [100 mm, -60 mm], thread", "at: [-100 mm, -60 mm], thread", "in one place"},
		{"at: 100 mm, drive", "at: 0 mm, drive", "one place"},
		{"lead: 1 mm, clockwise: raises,\n    seen-from: the end, positive: up, increment: 1/16 turn}\n  - {id: r",
			"lead: 0 mm, clockwise: raises,\n    seen-from: the end, positive: up, increment: 1/16 turn}\n  - {id: r",
			"more than nothing"},
		{"thread: M6, clockwise: raises, seen-from: above,\n    positive: up, increment: 1/8 turn}\n  - {id: w",
			"thread: odd, clockwise: raises, seen-from: above,\n    positive: up, increment: 1/8 turn}\n  - {id: w",
			"lead: travel in one turn"},
		{"places: {a: [0 mm, 100 mm], b: [80 mm, -50 mm], c: [-80 mm, -50 mm]}",
			"places: {a: [0 mm, 100 mm], b: [80 mm, -50 mm]}", "c: where it is read"},
		{"places: {left: 10 mm, right: 90 mm}", "places: {left: wide, right: 90 mm}", "length"},
		{"positions: [left, right]\n    body:\n      kind: bar\n      places: {left: 10 mm, right: 90 mm}",
			"positions: [left]\n    body:\n      kind: bar\n      places: {left: 10 mm}", "fewer than needed"},
		{"positions: [a, b, c]\n    body:\n      kind: plate\n      places: {a: [0 mm, 100 mm], b: [80 mm, -50 " +
			"mm], c: [-80 mm, -50 mm]}",
			"positions: [a]\n    body:\n      kind: plate\n      places: {a: [0 mm, 100 mm]}", "fewer than needed"},
		{"  - {id: r, name: right end, check: roller, at: 100 mm, drive: eccentric, lead: 1 mm, " +
			"clockwise: raises,\n    seen-from: the end, positive: up, increment: 1/16 turn}\n",
			"", "a bar on 1 adjusters"},
		{"at: 100 mm, drive: eccentric, lead: 1 mm,", "at: 100 mm, thread: M6,", "adjusters of two kinds"},
		{"at: 100 mm, drive", "position: right, drive", "at: where it acts"},
		{"fixed: true}", "fixed: true, thread: M6}", "never turned"},
		{"check: gap, drive: slide", "check: gap, also: [roller], drive: slide", "a check with a body"},
		{"drive: slide, positive: open}", "drive: slide, positive: open, increment: 1/8 turn}", "it is not turned"},
		{"drive: slide, positive: open}", "drive: slide, positive: open, stock: [1 mm]}", "only shims"},
		{"drive: slide, positive: open}", "drive: shims, positive: open}", "stock"},
		{"seen-from: above,\n    positive: up, increment: 1/8 turn}\n  - {id: w",
			"seen-from: above, positive: open, increment: 1/8 turn}\n  - {id: w", "the same kind of direction"},
		{"kind: bar\n      places", "kind: tilt\n      places", "2 adjusters"},
		{"kind: bar\n", "kind: bar\n      centres: 10 mm\n", "none for a bar"},
		{"thread: M6, clockwise: raises, seen-from: above,\n    positive: up, increment: 1/8 turn}\n  - {id: l",
			"lead: 1 deg, clockwise: raises, seen-from: above,\n    positive: up, increment: 1/8 turn}\n  - {id: l",
			"a lead of angle"},
		{"thread: M6, clockwise: raises, seen-from: above,\n    positive: up, increment: 1/8 turn}\n  - {id: w",
			"thread: M6, ratio: none, clockwise: raises, seen-from: above,\n    positive: up, increment: 1/8 turn}\n " +
				" - {id: w",
			"a number more than nothing"},
	} {
		text := strings.Replace(bench, test.old, test.new, 1)
		if text == bench {
			t.Fatalf("nothing to replace: %q", test.old)
		}
		_, err := Load("bench.yaml", []byte(text), nil)
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("with %q:\n%v\nwant %s", test.new[:min(len(test.new), 60)], err, test.want)
		}
	}
}

// The response of each kind of body is what the formulas of linkage say.
func TestResponse(t *testing.T) {
	demoKind := func(kind string) *Profile {
		text, err := demo.Kind(kind)
		if err != nil {
			t.Fatal(err)
		}
		p, err := Load(kind+".yaml", text, nil)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-6*math.Abs(want) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	of := func(p *Profile, check string) [][]float64 {
		r, err := p.Response(p.Check(check))
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	// A quarter of a degree over 240 mm.
	response := of(demoKind("tilting-mill"), "tram")
	near("tilt", response[1][0]-response[0][0], 0.240*0.25*math.Pi/180)
	// One turn of M6 brings the tailstock 1 mm towards the tool: the collar at 280
	// of 300 mm thins by twice that in proportion, and SetOver asks for as much.
	response = of(demoKind("centre-lathe"), "tailstock")
	near("taper", response[1][0], -2*0.001*280/300)
	near("set-over", linkage.SetOver(0, response[1][0]-response[0][0], 260, 300), 0.001)
	// One turn of M8 against the tension that the tone stands for.
	prof := demoKind("belt-drive")
	response = of(prof, "belt")
	b := prof.Check("belt").Body
	span := b.Span().Float(quantity.Metre)
	const mass, stiffness = 0.1, 20e3
	tension := linkage.TensionByFrequency(mass, span, 60)
	more := tension + 1e-6*0.00125/linkage.TravelForTension(0, 1, stiffness, 0.12, 0.08, 0.4)
	near("belt", response[0][0]*1e-6, math.Sqrt(more/mass)/(2*span)-60)
	// The same belt by the force that deflects its span, a 16th of its tension.
	near(
		"tension by force",
		prof.Check("force").Body.Tension(quantity.New(14, 1, quantity.Newton)).Float(quantity.Newton),
		16*14,
	)
	near("belt by force", of(prof, "force")[0][0], 0.00125/linkage.TravelForTension(0, 1, stiffness, 0.12, 0.08,
		0.4)/16)
	// A lever halves what the screw does.
	halved, err := Load(
		"bench.yaml",
		[]byte(
			strings.Replace(
				bench, "name: east, check: plate, at: [100 mm, -60 mm], thread: M6,",
				"name: east, check: plate, at: [100 mm, -60 mm], thread: M6, ratio: 1/2,", 1,
			),
		),
		nil,
	)
	if err != nil {
		t.Fatal(err)
	}
	if e, w := halved.Adjuster("e"), halved.Adjuster("w"); !e.Lead.Add(e.Lead).Equal(w.Lead) {
		t.Errorf("a lever of 1/2: %v, without one %v", e.Lead, w.Lead)
	}
	// Clockwise lowers the bed of the printer, whose readings are positive up.
	response = of(demoKind("three-knob-printer"), "bed")
	for _, row := range response {
		sum := 0.0
		for _, x := range row {
			sum += x
		}
		near("all knobs by one turn", sum, -0.0007)
	}
	// Half the shims under each end raise both as much.
	response = of(demoKind("shimmed-motor"), "height")
	near("shims", response[0][0]+response[0][1], 1)
	near("shims, overhung", response[0][0], 1.25)
}
