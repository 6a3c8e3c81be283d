package domain_test

import (
	"fmt"
	"testing"
	"time"

	. "setscrew/domain"
)

// What a tag-out or a danger joins, and what says something new: whatever would end a
// test, move a surface that was relied on, stand for another person or another reason.
func TestJoins(t *testing.T) {
	tagged := func(s *Snapshot) {
		s.Tags = []Tag{{Fact: 30, By: "ada", Reason: Reason{Code: SaidBySomebody, Text: "loose knife"}},
			{Fact: 31, By: "bo", Reason: Reason{Code: SaidBySomebody, Text: "smells odd"}, Paper: "7"},
			{Fact: 32, By: "", Cause: "danger:smoke", Reason: Reason{Code: DangerSeen, Name: "smoke"}}}
		s.Dangers = []Danger{{Fact: 29, At: onDay(9).Add(-time.Minute), By: "ada",
			Problem: Problem{Symptom: "smoke", Name: "smoke",
				Note: "thick"}}}
	}
	said := func(text, paper string) TagOut {
		return TagOut{Reason: Reason{Code: SaidBySomebody, Text: text}, Paper: paper}
	}
	many := func(n int, by func(int) PersonID) func(*Snapshot) {
		return func(s *Snapshot) {
			for i := range n {
				s.Tags = append(s.Tags, Tag{Fact: FactNo(100 + i), By: by(i),
					Reason: Reason{Code: SaidBySomebody, Text: fmt.Sprint("reason ", i)}})
				s.Dangers = append(s.Dangers, Danger{Fact: FactNo(200 + i), By: by(i),
					Problem: Problem{Symptom: "smoke", Name: "smoke", Note: fmt.Sprint("note ", i)}})
			}
		}
	}
	ada := func(int) PersonID { return "ada" }
	each := func(i int) PersonID { return PersonID(fmt.Sprint("p", i)) }
	smoke := Problem{Symptom: "smoke", Name: "smoke", Note: "thick", Danger: true}
	noted, pictured, moving := smoke, smoke, smoke
	noted.Note, pictured.Photo, moving.Surfaces = "thin", &Photo{ID: "1"}, []string{"bed"}
	none := Joined{}
	for _, test := range []struct {
		name    string
		set     func(*Snapshot)
		by, who PersonID
		body    Body
		want    Joined
	}{
		{"one's own for the same reason", tagged, "ada", "ada", said("loose knife", ""), Joined{Fact: 30}},
		{"for another reason", tagged, "ada", "ada", said("loose knives", ""), none},
		{"by another person", tagged, "bo", "bo", said("loose knife", ""), none},
		{"in that person's name, by another", tagged, "bo", "ada", said("loose knife", ""), none},
		{"with a paper tag of its own", tagged, "ada", "ada", said("loose knife", "8"), none},
		{"with the same paper tag", tagged, "bo", "bo", said("smells odd", "7"), Joined{Fact: 31}},
		{"of a report that was withdrawn", func(s *Snapshot) { tagged(s); s.Tags[0].ReportWithdrawn = true }, "ada",
			"ada", said("loose knife", ""), none},
		{"in service", nothing, "ada", "ada", said("loose knife", ""), none},
		{"under test, which it ends", func(s *Snapshot) {
			tagged(s)
			s.Test = &Test{Fact: 40, By: "wren",
				At: onDay(9).Add(-time.Minute)}
		},
			"ada", "ada", said("loose knife", ""), none},
		{"a reason of Setscrew's own", tagged, "", "", said("", ""), none},
		{"one less than many", many(MostOwn-1, ada), "ada", "ada", said("new", ""), none},
		{"many", many(MostOwn, ada), "ada", "ada", said("new", ""), Joined{Fact: 100 + MostOwn - 1, Full: true}},
		{"many, and the same as one of them", many(MostOwn, ada), "ada", "ada", said("reason 3", ""),
			Joined{Fact: 103}},
		{"many, by another", many(MostOwn, ada), "bo", "bo", said("new", ""), none},
		{"many, in another's name", many(MostOwn, ada), "ada", "bo", said("new", ""), none},
		{"very many, of all", many(MostOfAll, each), "ada", "ada", said("new", ""), none},
		{"very many, in another's name", many(MostOfAll, each), "ada", "bo", said("new", ""),
			Joined{Fact: 100 + MostOfAll - 1, Full: true}},
		{"one less than very many", many(MostOfAll-1, each), "ada", "bo", said("new", ""), none},

		{"a danger in the same words", tagged, "ada", "ada", smoke, Joined{Fact: 29}},
		{"a danger told again later", func(s *Snapshot) {
			tagged(s)
			s.Dangers[0].At = onDay(9).Add(-JoinsWithin)
		}, "ada", "ada", smoke, none},
		{"a danger told again after a check", func(s *Snapshot) {
			tagged(s)
			inspect(s, "sound", 33, onDay(9), true)
		}, "ada", "ada", smoke, none},
		{"a danger in other words", tagged, "ada", "ada", noted, none},
		{"a danger with a picture", tagged, "ada", "ada", pictured, none},
		{"a danger that moves a surface", tagged, "ada", "ada", moving, none},
		{"a danger that moves a surface that was moved",
			func(s *Snapshot) { tagged(s); s.Moved["bed"] = Moved{At: onDay(8), Fact: 28} }, "ada", "ada", moving,
			Joined{Fact: 29}},
		{"a danger by another person", tagged, "bo", "bo", smoke, none},
		{"many dangers", many(MostOwn, ada), "ada", "ada", noted, Joined{Fact: 200 + MostOwn - 1, Full: true}},
		{"no danger", tagged, "ada", "ada", Problem{Symptom: "smoke", Name: "smoke", Note: "thick"}, none},
		{"anything else", tagged, "ada", "ada", ServiceDone{Service: "oil"}, none},
	} {
		s := bench()
		test.set(&s)
		got, ok := Joins(Assess(s, onDay(9)), Entry{By: test.by, For: test.who, At: onDay(9), Body: test.body})
		if got != test.want || ok != (test.want != none) {
			t.Errorf("%s: %+v, %v, want %+v", test.name, got, ok, test.want)
		}
	}
}

// What is taken however much a person has reported stops a machine, or may have to.
func TestTakenAlways(t *testing.T) {
	doubted := Outcome{Before: Status{Problems: []OpenProblem{{Key: "odd", Doubt: true}}}}
	for _, test := range []struct {
		name    string
		by      PersonID
		body    Body
		outcome Outcome
		want    bool
	}{
		{"a tag", "ada", TagOut{}, Outcome{}, true},
		{"the end of a test", "ada", TestEnded{}, Outcome{}, true},
		{"a danger", "ada", Problem{Name: "smoke", Danger: true}, Outcome{}, true},
		{"what may be one", "ada", Problem{Name: "odd", Doubt: true}, Outcome{}, true},
		{"what may be one, again", "ada", Problem{Name: "odd", Doubt: true}, doubted, false},
		{"what may be another", "ada", Problem{Name: "other", Doubt: true}, doubted, true},
		{"a problem", "ada", Problem{Name: "odd"}, Outcome{}, false},
		{"what hung a tag", "ada", Reading{}, Outcome{Hung: []Tag{{}}}, true},
		{"a reading", "ada", Reading{}, Outcome{}, false},
		{"a release", "ada", Release{}, Outcome{}, false},
		{"Setscrew's own", "", Mended{}, Outcome{}, true},
	} {
		if got := TakenAlways(Entry{By: test.by, Body: test.body}, test.outcome); got != test.want {
			t.Errorf("%s: %v, want %v", test.name, got, test.want)
		}
	}
}
