package profile_test

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	. "setscrew/domain/profile"
)

var update = flag.Bool("update", false, "write the golden files")

func readFile(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// golden compares with a file of testdata, or writes it.
func golden(t *testing.T, name, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile("testdata/"+name, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if d := cmp.Diff(strings.Split(readFile(t, name), "\n"), strings.Split(got, "\n")); d != "" {
		t.Errorf("%s (-want +got):\n%s", name, d)
	}
}

// Every part of the format comes into the profile with its value, and what is left
// out with the usual one; parameters change what hangs on them.
func TestEverythingLoads(t *testing.T) {
	text := readFile(t, "everything.yaml")
	for name, params := range map[string]Params{
		"everything.json":        nil,
		"everything-params.json": {"rows": "1", "span": "600 mm", "thread": "M10x1"},
	} {
		p, err := Load("everything.yaml", []byte(text), params)
		if err != nil {
			t.Fatal(err)
		}
		got, err := json.MarshalIndent(p, "", " ")
		if err != nil {
			t.Fatal(err)
		}
		golden(t, name, string(got)+"\n")
	}
}

// said are the keys whose values are words for people: any are taken.
var said = regexp.MustCompile(`(?:name|about|source|measured|advice|text|how|ask|fail|seen-from|lock|words|tools|` +
	`material|steps|cautions|passes|before|after|off|return|named|row): (?:\[[^\]]*)?$`)

// What is said of each mistake, one at a time: a line left out, and a value that
// means nothing there; for a number and for a quantity nothing as well.
func TestEveryMistakeIsWorded(t *testing.T) {
	lines := strings.Split(strings.TrimSpace(readFile(t, "everything.yaml")), "\n")
	var out strings.Builder
	try := func(what string, i int, line ...string) {
		changed := slices.Concat(lines[:i], line, lines[i+1:])
		_, err := Load("everything.yaml", []byte(strings.Join(changed, "\n")+"\n"), nil)
		var errs Errors
		switch {
		case err == nil:
			fmt.Fprintf(&out, "%d %s: taken\n", i+1, what)
			return
		case !errors.As(err, &errs):
			t.Fatalf("%s: %v", what, err)
		}
		fmt.Fprintf(&out, "%d %s:\n", i+1, what)
		for _, e := range errs {
			if len(e.Want) > 160 { // a list of all keys
				e.Want = e.Want[:120] + "…"
			}
			fmt.Fprintf(&out, "  %d:%d %s | %s\n", e.Line, e.Column, e.Got, e.Want)
		}
	}
	value := regexp.MustCompile(`(?:: |\[|, )([^\s,{}\[\]:][^,{}\[\]:]*)`)
	for i, line := range lines {
		if strings.HasPrefix(line, "#") {
			continue
		}
		try("left out, "+strings.TrimSpace(line[:min(len(line), 30)]), i)
		for _, at := range value.FindAllStringSubmatchIndex(line, -1) {
			before, was, after := line[:at[2]], line[at[2]:at[3]], line[at[3]:]
			if strings.HasPrefix(after, ":") || said.MatchString(before) { // a key, or words
				continue
			}
			try("wrong for "+was, i, before+"wrong"+after)
			if was[0] >= '0' && was[0] <= '9' {
				try("0 for "+was, i, before+"0"+after)
			}
		}
	}
	golden(t, "mistakes.txt", out.String())
}

// Texts may be as long as they may be, and not a character longer; lists of places and
// kinds of gauge.
func TestLengthsOfTexts(t *testing.T) {
	text := readFile(t, "everything.yaml")
	for _, test := range []struct {
		old  string
		most int
	}{
		{"name: everything\n", 60}, {"about: All that a profile can say.\n", 300}, {"measured: it covers.\n", 300},
		{"lock: bolts}", 60}, {"advice: clean it}", 300},
		{"words: [knocked]", 60}, {"source: common practice}\n  - {id: drop", 300},
		{"text: isolate it first}", 300}, {"tools: [can]", 300}, {"fail: stop, and mend it\n", 300},
	} {
		key, _, _ := strings.Cut(test.old, ": ")
		bracket := ""
		if strings.Contains(test.old, "[") {
			bracket = "["
		}
		_, tail, _ := strings.Cut(test.old, ": "+bracket)
		end := strings.IndexAny(tail, "\n]}")
		for n, want := range map[int]bool{test.most: true, test.most + 1: false} {
			changed := strings.Replace(text, test.old, key+": "+bracket+strings.Repeat("ä", n)+tail[end:], 1)
			_, err := Load("everything.yaml", []byte(changed), nil)
			if (err == nil) != want || err != nil && !strings.Contains(err.Error(),
				fmt.Sprintf("%d characters; expected at most %d", n, test.most)) {
				t.Errorf("%s of %d characters: %v", key, n, err)
			}
		}
	}
	if g := GaugeKind("dial"); g == nil || g.ID != "dial" || GaugeKind("sundial") != nil {
		t.Errorf("a kind of gauge: %+v", g)
	}
}

// Mistakes that take more than one word, and values at the ends of what is taken.
func TestMoreMistakes(t *testing.T) {
	text := readFile(t, "everything.yaml")
	for _, test := range []struct{ old, new, want string }{
		{"k: 2}", "k: 5}", ""}, {"k: 2}", "k: 5.1}", "a coverage factor from 1 to 5"}, {"k: 2}", "k: 1}", ""},
		{"k: 2}", "k: 0.9}", "a coverage factor"},
		{"ratio: 1/2", "ratio: 1000", ""}, {"ratio: 1/2", "ratio: 1001", "a number more than nothing"},
		{"ratio: 1/2", "ratio: -1/2", "a number more than nothing"},
		{"ratio: 1/2", "ratio: 0", "a number more than nothing"},
		{"ratio: 1/2", "ratio: two", "a number more than nothing"},
		{"id: fine,", "id: rough,", "an id of its own"}, {"{id: own,", "{id: dial,", "each id once"},
		{"- id: edge\n", "- id: face\n", "each id once"},
		{"id: s2,", "id: s1,", "each id once"}, {"id: look,", "id: oil,", "each id once"},
		{"id: drop,", "id: bump,", "each id once"}, {"id: dirt,", "id: blunt,", "each id once"},
		{"name: a loose belt", "name: Dirt", "a name of its own"}, {"name: slid,", "name: Screw one,", "own"},
		{"    name: edge\n", "    name: Face\n", "own"},
		{"mend: {check: belt}", "mend: {check: belt, event: bump}", "one"},
		{"since: {event: bump,", "since: {event: bump, service: oil,", "a service or an event"},
		{"target: 60 Hz\n", "example: 60 Hz\n", "target: "},
		{"kind: belt, centres: span", "kind: belt, centres: 100 mm", "overlap"},
		{"kind: belt, centres: span", "kind: belt, centres: 100.1 mm", ""},
		{"cautions:\n", "test-run: {minutes: 45}\ncautions:\n", ""},
		{"cautions:\n", "test-run: {minutes: 0}\ncautions:\n", "a whole number from 1 to 1440"},
		{"cautions:\n", "test-run: {unattended: true}\ncautions:\n", "minutes"},
		{"proves: at least 19 mm", "proves: at least 18.9 mm", "whose stop limits it proves"},
		{"proves: at least 19 mm", "proves: at least 19.1 mm", ""},
		{"source: a law", "source: common practice, no source", "whose source names the law"},
		{"source: a standard}", "source: common practice}", "limits that a named standard gives"},
		{"limits: at least 18 mm", "limits: at least 19.1 mm", "which hold its stop limits"},
		{"limits: at least 18 mm", "limits: at least 19 mm", ""},
		{"    every: {weeks: 2}", "    law: true\n    every: {weeks: 2}", "whose source names the law"},
		{"    name: edge\n", "    name: edge\n    law: true\n", "without modes"},
		{"proves: at least 19 mm", "proves: at most 30 mm", "whose stop limits it proves"},
		{"    name: width\n    class: safety", "    name: width\n    class: quality", "none, but for a safety check"},
		{"every: {weeks: 2}", "each-use: true", ""},
		{"every: {weeks: 2}", "each-use: true\n    every: {weeks: 2}", "without every: it never falls due"},
		{"every: {weeks: 2}", "every: {weeks: 2, late-days: 1}\n    authority: true", ""},
		{"every: {weeks: 2}", "every: {weeks: 2}\n    authority: true", "with every and late-days: its date"},
		{"every: {weeks: 2}", "authority: true", "with every and late-days: its date"},
		{"    name: edge\n", "    name: edge\n    each-use: true\n", "an inspection without every"},
		{"    name: edge\n", "    name: edge\n    authority: true\n", "an inspection with every"},
		{"rows: rows, bolts: 6", "rows: 100, bolts: 6", ""},
		{"rows: rows, bolts: 6", "rows: 101, bolts: 6", "a parameter that counts"},
		{"rows: rows, bolts: 6", "rows: span, bolts: 6", "a parameter that counts"},
		{"adjust: at least 0.4 mm", "adjust: 0.5 mm to 0.5 mm", ""},
		{"adjust: at least 0.4 mm", "adjust: at least 0.51 mm", "limits that hold the target"},
	} {
		changed := strings.Replace(text, test.old, test.new, 1)
		if changed == text {
			t.Fatalf("%q does not stand in the profile", test.old)
		}
		_, err := Load("everything.yaml", []byte(changed), nil)
		if (err == nil) != (test.want == "") || err != nil && !strings.Contains(err.Error(), test.want) {
			t.Errorf("%q: %v, want %q", test.new, err, test.want)
		}
	}
}
