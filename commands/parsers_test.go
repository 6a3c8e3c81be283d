package commands

import (
	"strings"
	"testing"

	"setscrew/domain"
	"setscrew/domain/profile"
)

func FuzzParseCustom(f *testing.F) {
	for _, s := range []string{"s1:why:12", "s1:again:r1.1", "", ":", "s1::", "s2:why:1", strings.Repeat("s1:a:", 30)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, id string) {
		action, arg, err := parseCustom(id)
		if err == nil && custom(action, arg) != id {
			t.Fatalf("%q is read as %q, %q", id, action, arg)
		}
	})
}

func FuzzReportNo(f *testing.F) {
	for _, s := range []string{"12", "no. 12", "#12", "0", "-1", "99999999999999999999", "n12"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if n, err := reportNo(s, "/undo"); err == nil && n < 1 {
			t.Fatalf("%q is read as no. %d", s, n)
		}
	})
}

// Whatever is said, matching and finding end, and what they find is there.
func FuzzFind(fuzz *testing.F) {
	text, err := profile.BuiltinText("thickness-planer")
	if err != nil {
		fuzz.Fatal(err)
	}
	prof, err := profile.Load("p", text, nil)
	if err != nil {
		fuzz.Fatal(err)
	}
	var among []named
	for _, s := range prof.Symptoms {
		among = append(among, named{ID: s.ID, Name: s.Name})
	}
	for _, s := range []string{"", "snipe", "there is smoke", "SNIPE", "snip", "\u202e", "hit a nail"} {
		fuzz.Add(s)
	}
	fuzz.Fuzz(func(t *testing.T, said string) {
		if len(said) > 400 {
			return
		}
		all, sure := domain.MatchSymptoms(prof, said)
		if len(all) > 3 || sure && len(all) == 0 {
			t.Fatalf("%q matches %d, sure %v", said, len(all), sure)
		}
		for _, s := range all {
			if prof.Symptom(s.ID) != s {
				t.Fatalf("%q matches %+v", said, s)
			}
		}
		i, near := find(said, among)
		if i >= len(among) || i < -1 || len(near) > 3 || i >= 0 && len(near) > 0 {
			t.Fatalf("%q: %d, %q", said, i, near)
		}
	})
}
