package profile_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	. "setscrew/domain/profile"
)

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
  - {id: left, name: left screw, check: table, position: left, thread: M6, lead: 1 mm, ` +
	`clockwise: raises, seen-from: the key, positive: up, increment: 1/8 turn}
services:
  - {id: oil, name: oil, class: routine, every: {hours: 8 h}, steps: [isolate it, oil it], source: common practice}
cautions:
  - {id: isolate, text: isolate it}
return: [guards on]
`

// Each way of breaking a profile is told with its line and column and what was
// expected there.
func TestMistakes(t *testing.T) {
	for _, test := range []struct {
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
		{"adjust: 1.40 mm to 1.60 mm", "adjust: 1.60 mm to 1.40 mm", "14:13 the lower limit first"},
		{"adjust: 1.40 mm to 1.60 mm", "adjust: 1.40 mm to lots", "14:13 length with its unit"},
		{"adjust: 1.40 mm to 1.60 mm", "adjust: lots to 1.60 mm", "14:13 length with its unit"},
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
		{"    gauge: dial\n", "    gauge: dial\n    from: [table]\n", "8:9 a chain of datums with an end"},
		{"    gauge: dial\n", "    gauge: dial\n    every: {hours: 8 h}\n", "17:12 a check's interval in days"},
		{"    gauge: dial\n", "    gauge: dial\n    inspection: true\n    fail: mend it\n",
			"12:16 none: an inspection"},
		{"position: left,", "position: top,", "21:10 one of left, right"},
		{"check: table,", "check: chair,", "21:10 the id of a check"},
		{"thread: M6, lead: 1 mm, ", "thread: Tr8, ", "21:5 lead: travel in one turn"},
		{"lead: 1 mm", "lead: 2 mm", "21:82 the lead of its thread"},
		{"clockwise: raises", "clockwise: up", "21:99 one of raises, lowers"},
		{"increment: 1/8 turn", "increment: 1/8", "21:152 turns with its unit"},
		{"every: {hours: 8 h}", "every: {late-days: 2}", "23:49 how often"},
		{"every: {hours: 8 h}", "every: {hours: 8 mm}", "23:57 duration"},
		{"steps: [isolate it, oil it]", "moves: [chair], steps: [oil it]", "23:10 a check's id"},
		{"text: isolate it", "text: \"\"", "25:25 a text"},
		{"    gauge: dial\n", "    gauge: dial\n    running: true\n    isolated: true\n", "8:9 one of them"},
		{"    gauge: dial\n", "    gauge: dial\n    isolated: true\n", "2:7 isolation, since"},
		{"    gauge: dial\n", "    gauge: dial\n    second-person: true\n", "17:20 none: only an inspection"},
		{"    gauge: dial\n", "    gauge: dial\n    follows: {check: table}\n", "8:9 a check of the same kind"},
		{"    gauge: dial\n", "    gauge: dial\n    times: {parameter: span, over: 1 in}\n",
			"17:24 a parameter that is a length"},
		{"target: 1.50 mm", "target: 1.50 mm\n    modes: [{id: a, name: a, target: 1 mm, adjust: 1 mm to 2 mm}]",
			"13:13 none: each mode"},
		{"    target: 1.50 mm\n    adjust: 1.40 mm to 1.60 mm\n    stop: 1 mm to 2 mm\n",
			"    modes: [{id: a, name: a, target: 1 mm, adjust: 2 mm to 3 mm}]\n", "8:9 limits that hold the target"},
		{"    target: 1.50 mm\n    adjust: 1.40 mm to 1.60 mm\n    stop: 1 mm to 2 mm\n",
			"    modes: [{id: A, name: a, target: 1 mm, adjust: 1 mm to 3 mm}]\n", "13:13 an id of its own"},
		{"    target: 1.50 mm\n    adjust: 1.40 mm to 1.60 mm\n    stop: 1 mm to 2 mm\n",
			"    alike: {adjust: 1 mm}\n", "8:5 example"},
		{"thread: M6, lead: 1 mm", "thread-of: screws", "21:75 a parameter that is a thread"},
		{"thread: M6, lead: 1 mm", "thread: odd", "21:5 lead: travel in one turn"},
		{"steps: [isolate it, oil it]", "off: [cover], steps: [oil it]", "23:10 isolated: true"},
		{"steps: [isolate it, oil it]", "uses: 2, steps: [isolate it, oil it]", "23:5 what it takes from the shelf"},
		{"steps: [isolate it, oil it]", "after: odd, steps: [oil it]", "23:10 an event's id"},
		{"steps: [isolate it, oil it]", "steps: [$clamping]", "23:10 clamping, which says"},
		{"cautions:\n", "clamping: {row: knife, rows: knives, bolts: 3, passes: [snug]}\ncautions:\n",
			"24:30 a parameter that counts"},
		{"cautions:\n", "events: [{id: bump, name: bump, moves: [chair], source: none}]\ncautions:\n",
			"24:15 a check's id"},
		{"cautions:\n", "symptoms: [{id: bump, name: bump, event: odd, advice: look}]\ncautions:\n",
			"24:17 an event's id"},
		{"cautions:\n",
			"parameters: [{id: span, name: span, takes: length, default: 1, min: 1 mm, max: 2 mm}]\ncautions:\n",
			"24:61 1 mm to 2 mm"},
		{"return: [guards on]", "return: [guards on]\n---\nkind: x\n", "28:1 one profile a file"},
		{"return: [guards on]", "return: &x [guards on]", "26:9 a list"},
		{"return: [guards on]", "return: [guards on", "26:"},
		{small, "", "1:1 a profile"},
		{small, "- 1\n", "1:1 a mapping"},
		{small, strings.Repeat("[", 5000), "1:17 at most 16"},
		{small, strings.Repeat("# long\n", 50000), "1:1 at most 262144"},
	} {
		text := strings.Replace(small, test.old, test.new, 1)
		if text == small {
			t.Fatalf("%q does not stand in the small profile", test.old)
		}
		_, err := Load("press.yaml", []byte(text), nil)
		var errs Errors
		if !errors.As(err, &errs) {
			t.Errorf("with %q: %v, want Errors", test.new, err)
			continue
		}
		if !slices.ContainsFunc(errs, func(e Error) bool {
			return strings.HasPrefix(fmt.Sprintf("%d:%d %s", e.Line, e.Column, e.Want), test.want)
		}) {
			t.Errorf("with %q:\n%v\nwant %s", test.new[:min(len(test.new), 60)], err, test.want)
		}
	}
}

func TestAllMistakesAtOnce(t *testing.T) {
	text := strings.NewReplacer(
		"revision: 1", "revision: one", "class: quality", "class: fancy", "target: 1.50 mm", "target: 1.50",
	).Replace(
		small,
	)
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
