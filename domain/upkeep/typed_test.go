package upkeep_test

import (
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/goccy/go-yaml"

	"setscrew/domain/quantity"
	. "setscrew/domain/upkeep"
)

// typedLine is a line of a file of typed inputs: as one thing, asked which of several, or refused.
type typedLine struct {
	Field   string    `yaml:"field"`
	Dates   DateOrder `yaml:"dates"`
	Typed   string    `yaml:"typed"`
	As      string    `yaml:"as"`
	About   string    `yaml:"about"`
	Asked   []string  `yaml:"asked"`
	Refused string    `yaml:"refused"`
	Offers  []string  `yaml:"offers"`
	Example string    `yaml:"example"`
}

// typedLines are the lines of a file of typed inputs, each once and with one thing that it comes to.
func typedLines(t *testing.T, name string, least int) []typedLine {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "typed", name))
	if err != nil {
		t.Fatal(err)
	}
	var lines []typedLine
	if err := yaml.UnmarshalWithOptions(text, &lines, yaml.Strict()); err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, line := range lines {
		key := line.Field + "|" + string(line.Dates) + "|" + line.Typed
		comes := 0
		for _, one := range []bool{line.As != "", line.Asked != nil, line.Refused != ""} {
			if one {
				comes++
			}
		}
		if seen[key] || comes != 1 {
			t.Errorf("%s %q: twice, or comes to %d things", line.Field, line.Typed, comes)
		}
		seen[key] = true
	}
	if len(lines) < least {
		t.Fatalf("%s has %d lines", name, len(lines))
	}
	return lines
}

// Every time in the file comes to what it says there; and what is read or offered is, as it is printed, read as the
// same and nothing else.
func TestTypedTimes(t *testing.T) {
	t.Parallel()
	loc := zone(t, "Europe/Berlin")
	now := time.Date(2026, 3, 4, 10, 15, 0, 0, loc)
	for _, line := range typedLines(t, "times.yaml", 250) {
		by := Clocks{Now: now, Loc: loc, Dates: line.Dates}
		read := func(text string) (string, error) {
			switch line.Field {
			case "until":
				at, err := ParseUntil(text, by)
				return at.In(loc).Format(time.DateOnly), err
			case "clock":
				at, err := ParseTimeOfDay(text)
				return at.String(), err
			case "stretch":
				at, err := ParseStretch(text)
				return at.String(), err
			}
			at, err := ParseWhen(text, by)
			return at.In(loc).Format("2006-01-02 15:04"), err
		}
		got, err := read(line.Typed)
		var refused *WhenError
		if err != nil && !errors.As(err, &refused) {
			t.Fatalf("%q: %v", line.Typed, err)
		}
		offers := line.Asked
		switch {
		case line.As != "":
			if err != nil || got != line.As {
				t.Errorf("%s %q = %s, %v; want %s", line.Field, line.Typed, got, err, line.As)
			}
			offers = []string{line.As}
		case err == nil:
			t.Errorf("%s %q = %s; want %v %s", line.Field, line.Typed, got, line.Asked, line.Refused)
			continue
		case line.Asked != nil:
			if refused.Code != Unsure || !slices.Equal(refused.Options, line.Asked) {
				t.Errorf("%s %q: %v; want asked %q", line.Field, line.Typed, err, line.Asked)
			}
		default:
			if string(refused.Code) != line.Refused || line.About != "" && refused.Part != line.About ||
				line.Offers != nil && !slices.Equal(refused.Options, line.Offers) ||
				line.Example != "" && refused.Example != line.Example {
				t.Errorf("%s %q: %v; want %s %q %q %q", line.Field, line.Typed, err, line.Refused, line.About,
					line.Offers, line.Example)
			}
			offers = append(line.Offers, refused.Example)
		}
		for _, offer := range offers {
			again, err := read(offer)
			if err != nil || line.Refused == "" && again != offer {
				t.Errorf("%s %q: offered %q, which is read as %s, %v", line.Field, line.Typed, offer, again, err)
			}
		}
	}
}

// Every length of use in the file comes to what it says there.
func TestTypedHours(t *testing.T) {
	t.Parallel()
	for _, line := range typedLines(t, "hours.yaml", 80) {
		got, err := ParseRan(line.Typed, quantity.Hour)
		var asked *quantity.Ambiguity
		var refused *quantity.Refusal
		switch {
		case line.As != "":
			if err != nil || quantity.FormatDuration(got.Value) != line.As || got.About != (line.About == "roughly") {
				t.Errorf("%q = %v, roughly %v, %v; want %s, %q", line.Typed, got.Value, got.About, err, line.As,
					line.About)
				continue
			}
			again, err := ParseRan(line.As, quantity.Hour)
			if err != nil || quantity.FormatDuration(again.Value) != line.As {
				t.Errorf("%q: printed as %s, which is read as %v, %v", line.Typed, line.As, again.Value, err)
			}
		case line.Asked != nil:
			var offers []string
			if errors.As(err, &asked) {
				for _, option := range asked.Options {
					offers = append(offers, option.Text)
				}
			}
			if !slices.Equal(offers, line.Asked) {
				t.Errorf("%q = %v, %v; want asked %q", line.Typed, got.Value, err, line.Asked)
			}
		case !errors.As(err, &refused) || refused.Code != line.Refused:
			t.Errorf("%q = %v, %v; want %s", line.Typed, got.Value, err, line.Refused)
		}
	}
}

// lengthMeant is the length of time that a line by somebody who had not seen how anything is
// read means: the last one given, which counts in hours or in minutes.
var lengthMeant = regexp.MustCompile(`([0-9.]+) (hours?|minutes)`)

// Of hours of use none are taken for others than a reader took them for.
func TestBlindHours(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "typed", "blind.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	var lines []struct{ Field, Units, Text, Means string }
	if err := yaml.Unmarshal(text, &lines); err != nil {
		t.Fatal(err)
	}
	looked, understood, misread := 0, 0, 0
	for _, line := range lines {
		if line.Field != "hours" {
			continue
		}
		got, err := ParseRan(line.Text, quantity.Hour)
		meant := lengthMeant.FindAllStringSubmatch(line.Means, -1)
		if !strings.HasPrefix(line.Means, "understood") || len(meant) == 0 {
			continue
		}
		looked++
		if err != nil {
			continue
		}
		understood++
		minutes := 0.0
		for i, one := range meant { // "1 hour 30 minutes (1.5 hours)": any that fits
			number, err := strconv.ParseFloat(one[1], 64)
			if err != nil {
				t.Fatal(err)
			}
			if one[2] != "minutes" {
				number *= 60
			}
			if diff := got.Value.Float(quantity.Minute) - number; i == 0 || diff > -1 && diff < 1 {
				minutes = number
			}
		}
		if diff := got.Value.Float(quantity.Minute) - minutes; diff <= -1 || diff >= 1 {
			misread++
			t.Errorf("%q: %v min, means %q", line.Text, got.Value.Float(quantity.Minute), line.Means)
		}
	}
	t.Logf("of %d: understood %d, asked or refused with help %d, misread %d", looked, understood, looked-understood,
		misread)
	if looked < 60 || understood*10 < looked*7 {
		t.Errorf("of %d only %d are understood", looked, understood)
	}
}
