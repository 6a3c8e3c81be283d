package domain_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	. "setscrew/domain"
	"setscrew/domain/quantity"
)

// A photo is posted with the first notice of its problem, else in a message of its own:
// nothing urgent waits for it, and no edit brings it. Quiet hours keep one of what stops a
// machine no more than its tag.
func TestOwedOfPhotos(t *testing.T) {
	photo := &Photo{ID: "1", Name: "a.jpg", URL: "https://x"}
	problem := func(first FactNo) func(*Snapshot) {
		return func(s *Snapshot) {
			s.Problems = []OpenProblem{{Key: "odd", Name: "odd", First: first, Last: 20, Reports: 2}}
		}
	}
	for _, test := range []struct {
		name  string
		after func(*Snapshot)
		body  Body
		want  map[string]bool // keys of the posts that carry it, and whether they are posted in quiet hours
		what  string
	}{
		{"a problem", problem(20), Problem{Name: "odd", Photo: photo}, map[string]bool{"m1/problem/20": false}, "odd"},
		{"a problem again", problem(8), Problem{Name: "odd", Photo: photo}, map[string]bool{"m1/photo/20": false},
			"odd"},
		{"what may be dangerous", func(s *Snapshot) { problem(20)(s); s.Problems[0].Doubt = true },
			Problem{Name: "odd", Doubt: true, Photo: photo}, map[string]bool{"m1/photo/20": true}, "odd"},
		{"a danger", nothing, Problem{Name: "odd", Danger: true, Photo: photo}, map[string]bool{"m1/photo/20": true},
			"odd"},
		{"a tag-out", nothing, TagOut{Reason: Reason{Text: "loose"}, Photo: photo},
			map[string]bool{"m1/photo/20": true}, "loose"},
		{"an inspection", nothing, Inspection{Check: "guard", Photo: photo}, map[string]bool{"m1/photo/20": false},
			"the guard"},
		{"a reading", nothing, Reading{Check: "bed", Photo: photo}, map[string]bool{"m1/photo/20": false}, "the bed"},
		{"a check that is no more", nothing, Reading{Check: "old", Photo: photo}, map[string]bool{"m1/photo/20": false},
			"old"},
		{"no photo", nothing, Inspection{Check: "guard"}, map[string]bool{}, ""},
		{"what brings none", nothing, Hours{}, map[string]bool{}, ""},
	} {
		before, after := bench(), bench()
		test.after(&after)
		got := map[string]bool{}
		for _, notice := range Owed(Assess(before, added), Assess(after, added), &Fact{No: 20, Body: test.body}) {
			if notice.Args.Photo == nil {
				continue
			}
			got[notice.Key] = notice.Urgent()
			if notice.Op != Post || notice.Args.Name != test.what || notice.Urgency() != Routine {
				t.Errorf("%s: %+v", test.name, notice)
			}
		}
		if d := cmp.Diff(test.want, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
}

// A tag-out or danger with a photo is no repetition of one without.
func TestPhotosDoNotJoin(t *testing.T) {
	photo := &Photo{ID: "1", Name: "a.jpg"}
	snap := bench()
	snap.Tags = []Tag{{Fact: 9, At: added, By: "ada", Reason: Reason{Code: SaidBySomebody, Text: "loose"}}}
	for _, test := range []struct {
		photo *Photo
		want  bool
	}{{nil, true}, {photo, false}} {
		entry := Entry{By: "ada", For: "ada", Body: TagOut{Reason: Reason{Code: SaidBySomebody, Text: "loose",
			Value: quantity.Value{}}, Photo: test.photo}}
		if _, ok := Joins(Assess(snap, added), entry); ok != test.want {
			t.Errorf("with photo %v: joins %v", test.photo, ok)
		}
	}
}
