package quantity_test

import (
	"errors"
	"math/big"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"

	. "setscrew/domain/quantity"
)

// What members type for the values of a check comes to what a reader would understand, or is
// asked about or refused for the reason given; none is taken for another value. Of what is
// plain to a reader fewer than one in fifty is refused and fewer than one in ten asked.
func TestTypedValues(t *testing.T) {
	data, err := os.ReadFile("../../testdata/typed/values.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var groups []struct {
		Places []string
		Bare   Unit
		Typed  [][2]string
	}
	if err := yaml.UnmarshalWithOptions(data, &groups, yaml.Strict()); err != nil {
		t.Fatal(err)
	}
	var counts tally
	for _, group := range groups {
		layout := Layout{Context{group.Bare.Kind(), group.Bare}, group.Places}
		for _, entry := range group.Typed {
			list, err := ParseList(entry[0], layout)
			got := outcome(err)
			if err == nil {
				got = "another value"
				wanted, about := strings.CutPrefix(entry[1], "about ")
				if about == list.About && holds(t, list, wanted) {
					got = entry[1]
				}
			}
			counts.add(t, entry[0], strings.Replace(entry[1], " though plain", "", 1), got,
				strings.Contains(entry[1], "though plain"))
			// One grammar serves values alone too.
			if len(group.Places) == 1 && err == nil && len(list.At[0].Repeats) == 1 {
				single, err := Parse(entry[0], layout.Context)
				if err != nil || !single.Value.Equal(list.At[0].Repeats[0]) {
					t.Errorf("%q is %v in a list, %v, %v alone", entry[0], list.At[0].Repeats[0], single.Value, err)
				}
			}
		}
	}
	counts.show(t)
}

// tally counts what typed inputs came to.
type tally struct{ understood, asked, refused, misread, askedPlain, refusedPlain int }

// add counts one input, and fails where it did not come to what it must.
func (c *tally) add(t *testing.T, typed, want, got string, plain bool) {
	t.Helper()
	kind, _, _ := strings.Cut(got, ":")
	switch {
	case got == "another value":
		c.misread++
	case kind == "asked":
		c.asked++
	case kind == "refused":
		c.refused++
	default:
		c.understood++
	}
	if plain && kind == "asked" {
		c.askedPlain++
	}
	if plain && kind == "refused" {
		c.refusedPlain++
	}
	if got != want {
		t.Errorf("%q: %s, want %s", typed, got, want)
	}
}

func (c *tally) show(t *testing.T) {
	t.Helper()
	plain := c.understood + c.askedPlain + c.refusedPlain
	t.Logf("understood %d, asked %d, refused with help %d, misread %d; of %d plain ones asked %.1f %%, refused %.1f %%",
		c.understood, c.asked, c.refused, c.misread, plain, 100*float64(c.askedPlain)/float64(plain),
		100*float64(c.refusedPlain)/float64(plain))
	if c.misread > 0 || c.refusedPlain*50 >= plain || c.askedPlain*10 >= plain {
		t.Error("more than may be")
	}
}

// outcome is what an error says of an input.
func outcome(err error) string {
	var question *Ambiguity
	var refusal *Refusal
	switch {
	case errors.As(err, &question):
		return "asked: " + question.Code
	case errors.As(err, &refusal):
		return "refused: " + refusal.Code
	}
	return "understood"
}

// holds reports whether a list holds the values of a text such as "left 46 thou, right 41
// 42 thou", which is read here by itself: names, numbers or fractions, and a unit.
func holds(t *testing.T, list List, text string) bool {
	t.Helper()
	places := strings.Split(text, ", ")
	if len(places) != len(list.At) {
		return false
	}
	for i, at := range list.At {
		rest, ok := strings.CutPrefix(places[i], at.Position)
		words := strings.Fields(rest)
		if !ok || len(words) != len(at.Repeats)+1 {
			return false
		}
		for j, value := range at.Repeats {
			number, valid := new(big.Rat).SetString(words[j])
			if !valid {
				t.Fatalf("%q is no number", words[j])
			}
			if !value.Equal(FromRat(number, Unit(words[len(words)-1]))) {
				return false
			}
		}
	}
	return true
}

// What stewards type for limits comes to what a reader would understand, or is asked about
// or refused for the reason given.
func TestTypedLimits(t *testing.T) {
	data, err := os.ReadFile("../../testdata/typed/limits.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var groups []struct {
		Bare  Unit
		Typed [][2]string
	}
	if err := yaml.UnmarshalWithOptions(data, &groups, yaml.Strict()); err != nil {
		t.Fatal(err)
	}
	var counts tally
	for _, group := range groups {
		for _, entry := range group.Typed {
			low, high, err := ParseLimits(entry[0], Context{group.Bare.Kind(), group.Bare}, Value{})
			got := outcome(err)
			if err == nil {
				got = "another value"
				least, most, _ := strings.Cut(entry[1], " … ")
				if is(t, low, least) && is(t, high, most) {
					got = entry[1]
				}
			}
			counts.add(t, entry[0], strings.Replace(entry[1], " though plain", "", 1), got,
				strings.Contains(entry[1], "though plain"))
		}
	}
	counts.show(t)
}

// is reports whether a value is that of a text such as "3/4 in", or absent for "-".
func is(t *testing.T, value Value, text string) bool {
	t.Helper()
	digits, unit, _ := strings.Cut(text, " ")
	if digits == "-" || !value.Valid() {
		return !value.Valid() && digits == "-"
	}
	number, valid := new(big.Rat).SetString(digits)
	return valid && value.Equal(FromRat(number, Unit(unit)))
}

// blindInput is a line of the file by somebody who had not seen how anything is read.
type blindInput struct{ Field, Units, Text, Means string }

// blind are the lines of that file about one field.
func blind(t *testing.T, field string) (lines []blindInput) {
	t.Helper()
	data, err := os.ReadFile("../../testdata/typed/blind.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var all []blindInput
	if err := yaml.Unmarshal(data, &all); err != nil {
		t.Fatal(err)
	}
	for _, line := range all {
		if line.Field == field {
			lines = append(lines, line)
		}
	}
	return lines
}

// twoValues are the values at left and right of what a blind line means.
var twoValues = regexp.MustCompile(`^understood: left (?:about )?([-0-9./ ]+) (in|mm)\b.*?, right (?:about )?` +
	`([-0-9./ ]+) (in|mm)\b`)

// Of values typed for a left and a right place none is taken for others than a reader took
// them for. What a reader would ask about because of its size is asked about where the check
// is known.
func TestBlindValues(t *testing.T) {
	understood, asked, refused, looked := 0, 0, 0, 0
	for _, line := range blind(t, "values") {
		sides := strings.Contains(line.Means, "[check: infeed") || strings.Contains(line.Means, "[check: outfeed")
		means := twoValues.FindStringSubmatch(line.Means)
		if !sides || means == nil {
			continue
		}
		looked++
		layout := Layout{Context{Length, Inch}, []string{"left", "right"}}
		if line.Units == "metric" {
			layout.Entry = Millimetre
		}
		list, err := ParseList(line.Text, layout)
		switch kind, _, _ := strings.Cut(outcome(err), ":"); kind {
		case "asked":
			asked++
			continue
		case "refused":
			refused++
			continue
		}
		understood++
		for i, at := range list.At {
			want := mixed(t, means[1+2*i], Unit(means[2+2*i]))
			if !at.Mean().Equal(want) {
				t.Errorf("%q: %s %v, want %v", line.Text, at.Position, at.Mean(), want)
			}
		}
	}
	t.Logf("of %d: understood %d, asked %d, refused with help %d, misread 0", looked, understood, asked, refused)
	if looked < 90 || understood*10 < looked*7 {
		t.Errorf("of %d only %d are understood", looked, understood)
	}
}

// mixed is a number such as "1 1/16" in a unit.
func mixed(t *testing.T, text string, unit Unit) Value {
	t.Helper()
	sum := new(big.Rat)
	for _, word := range strings.Fields(text) {
		part, ok := new(big.Rat).SetString(word)
		if !ok {
			t.Fatalf("%q is no number", text)
		}
		sum.Add(sum, part)
	}
	return FromRat(sum, unit)
}

// limitsMeant are the limits of what a blind line means.
var limitsMeant = regexp.MustCompile(`from ([-0-9.]+)(?: (in|mm|degrees))? to ([-0-9.]+) (in|mm|degrees)|` +
	`([0-9./]+) (in|mm) or (more|less)`)

// Of limits none are taken for others than a reader took them for.
func TestBlindLimits(t *testing.T) {
	understood, looked := 0, 0
	units := map[string]Unit{"in": Inch, "mm": Millimetre, "degrees": Degree}
	for _, line := range blind(t, "limits") {
		means := limitsMeant.FindStringSubmatch(line.Means)
		if !strings.HasPrefix(line.Means, "understood") || means == nil {
			continue
		}
		looked++
		unit := units[means[4]+means[6]]
		bare := Inch
		if line.Units == "metric" {
			bare = Millimetre
		}
		if unit == Degree {
			bare = Degree
		}
		low, high, err := ParseLimits(line.Text, Context{bare.Kind(), bare}, Value{})
		if err != nil {
			continue
		}
		understood++
		var least, most Value
		switch {
		case means[1] != "":
			least, most = mixed(t, means[1], unit), mixed(t, means[3], unit)
		case means[7] == "more":
			least = mixed(t, means[5], unit)
		default:
			most = mixed(t, means[5], unit)
		}
		same := func(a, b Value) bool { return a.Valid() == b.Valid() && (!a.Valid() || a.Equal(b)) }
		if !same(low, least) || !same(high, most) {
			t.Errorf("%q: %v to %v, want %v to %v", line.Text, low, high, least, most)
		}
	}
	t.Logf("of %d: understood %d, asked or refused with help %d, misread 0", looked, understood, looked-understood)
	if looked < 35 || understood*10 < looked*8 {
		t.Errorf("of %d only %d are understood", looked, understood)
	}
}
