package profile_test

import (
	"strings"
	"testing"

	. "setscrew/domain/profile"
)

// Causes and questions are read with what they leave out, and refused where they lead
// nowhere.
func TestCauses(t *testing.T) {
	t.Parallel()
	text, err := BuiltinText("thickness-planer")
	if err != nil {
		t.Fatal(err)
	}
	with := func(more string) (*Profile, error) {
		return Load(
			"thickness-planer.yaml",
			[]byte(strings.Replace(string(text), "\ncauses:\n", "\ncauses:\n"+more, 1)),
			nil,
		)
	}
	prof, err := with(
		`  - {id: x, name: x, prior: 7, shows: [snipe 30, marks 10], answers: [drooped 40], ` + "\n" +
			`     events: [struck-metal 4], check: infeed, reads: low, mend: {check: infeed}, source: s}
`,
	)
	if err != nil {
		t.Fatal(err)
	}
	cause := prof.Cause("x")
	if cause.Prior != 0.07 || cause.Shows["snipe"] != 0.3 || cause.Shows["marks"] != 0.1 ||
		cause.Answers["drooped"] != 0.4 ||
		cause.Events["struck-metal"] != 4 ||
		cause.Reads != "low" {
		t.Errorf("%+v", cause)
	}
	// The check's own test: it, the gauge and the isolation.
	if k := cause.Test; k.How != "infeed roller" || k.Minutes != 5+5+10 || !k.Isolated || k.Finds != 0.9 ||
		k.Wrongly != 0.05 {
		t.Errorf("test %+v", k)
	}
	if q := prof.Question("light-cut"); q.Minutes != 1 || q.Usual != 0.2 || prof.Symptom("snipe").Leak != 0.05 {
		t.Errorf("%+v", q)
	}
	if n := len(prof.CausesOf("snipe")); n < 3 || prof.CausesOf("snipe")[0] != cause {
		t.Errorf("%d causes of snipe", n)
	}
	good := map[string]string{
		"id": "x", "name": "x", "prior": "7",
		"shows":  "[snipe 30]",
		"test":   "{how: h, minutes: 3}",
		"advice": "a",
		"source": "s",
	}
	for name, change := range map[string][2]string{
		"a symptom that is none":    {"shows", "[snip 30]"},
		"somebody hurt":             {"shows", "[hurt 30]"},
		"a strength over all":       {"shows", "[snipe 100]"},
		"a strength that is none":   {"shows", "[snipe]"},
		"a question that is none":   {"answers", "[droop 30]"},
		"an event that is none":     {"events", "[hit 3]"},
		"a check that is none":      {"check", "in"},
		"a side of an inspection":   {"check", "fingers\n    reads: low"},
		"a service that is none":    {"mend", "{service: w}"},
		"two ways to mend":          {"mend", "{service: wax, check: infeed}"},
		"since nothing":             {"since", "{hours: 3 h}"},
		"since both":                {"since", "{service: wax, event: struck-metal, hours: 3 h}"},
		"no prior":                  {"prior", "0"},
		"no test and no check":      {"test", ""},
		"nothing to do about it":    {"advice", ""},
		"the name of another cause": {"name", "dull knives"},
		"a test without a time":     {"test", "{how: h}"},
	} {
		var written strings.Builder
		written.WriteString("  -")
		space := " "
		for _, key := range []string{"id", "name", "prior", "shows", "answers", "test", "since", "events", "check",
			"mend", "advice", "source"} {
			value := good[key]
			if key == change[0] {
				value = change[1]
			}
			if value != "" {
				written.WriteString(space + key + ": " + value + "\n")
				space = "    "
			}
		}
		if _, err := with(written.String()); err == nil {
			t.Errorf("%s is taken:\n%s", name, written.String())
		}
	}
}
