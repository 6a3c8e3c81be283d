package quantity_test

import (
	"errors"
	"testing"

	. "setscrew/domain/quantity"
)

func FuzzParse(f *testing.F) {
	for _, s := range []string{"60 psi", "12°30'15\"", "3 o'clock", "1½ in", "140 °F", "3 gal", "5' 3\"", "1 234",
		"0.043", `.043"`, "43 thou", `1 1/16"`, "1,234 mm", "2h30", "1:30", "5 mil", "1/0", "−3 °", "１ mm"} {
		f.Add(s, uint8(1))
	}
	f.Fuzz(func(t *testing.T, text string, k uint8) {
		context := Context{Kind: Kinds()[int(k/2)%len(Kinds())]}
		if k&1 != 0 {
			all := UnitsOf(context.Kind)
			context.Entry = all[len(text)%len(all)]
		}
		parsed, err := Parse(text, context)
		var refusal *Refusal
		var a *Ambiguity
		switch {
		case errors.As(err, &a):
			for _, o := range a.Options {
				if _, err := Parse(o.Text, context); err != nil {
					t.Fatalf("%q: option %q: %v", text, o.Text, err)
				}
			}
		case errors.As(err, &refusal):
			if refusal.Offset < 0 || refusal.Offset > len(text) {
				t.Fatalf("%q: offset %d", text, refusal.Offset)
			}
			if _, err := Parse(refusal.Example, context); err != nil {
				t.Fatalf("%q: example %q: %v", text, refusal.Example, err)
			}
		case err != nil:
			t.Fatalf("%q: %v is neither refusal nor question", text, err)
		default:
			if len(Exact(parsed.Value)) <= 400 {
				readBack(t, parsed.Value)
			}
		}
	})
}

func FuzzParseList(f *testing.F) {
	for _, s := range []string{"left 0.046 in, right 0.041 in", "46 41", "46 41 thou", "left 46 mil, right 1,234",
		"l=1;r=2", "left 1/0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		layout := Layout{Context{Length, Thou}, []string{"left", "right"}}
		list, err := ParseList(text, layout)
		var refusal *Refusal
		var ambiguity *Ambiguity
		switch {
		case errors.As(err, &ambiguity):
			lone := ambiguity.Code == AmbiguousPlaces || ambiguity.Code == AmbiguousName || len(ambiguity.Options) > 1
			if len(ambiguity.Options) == 0 || !lone {
				t.Fatalf("%q: a question with %d answers", text, len(ambiguity.Options))
			}
			for _, option := range ambiguity.Options {
				_, err := ParseList(option.Text, layout)
				if err != nil && len(option.Text) <= 400 {
					t.Fatalf("%q: option %q: %v", text, option.Text, err)
				}
			}
		case errors.As(err, &refusal):
			if refusal.Offset < 0 || refusal.Offset > len(text) {
				t.Fatalf("%q: offset %d", text, refusal.Offset)
			}
		case err != nil:
			t.Fatalf("%q: %v is neither refusal nor question", text, err)
		default:
			if len(list.At) != 2 || list.At[0].Position != "left" || len(list.At[0].Repeats) == 0 ||
				len(list.At[1].Repeats) == 0 {
				t.Fatalf("%q: %v", text, list)
			}
		}
	})
}

func FuzzUnmarshalText(f *testing.F) {
	for _, s := range []string{"0.0010922 m", "127/15000 m", "1/0 m", "1e999999999 m", "x", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		var v Value
		if v.UnmarshalText([]byte(s)) != nil || !v.Valid() || len(Exact(v)) > 400 {
			return // what people type is bounded, what is stored is not
		}
		readBack(t, v)
	})
}
