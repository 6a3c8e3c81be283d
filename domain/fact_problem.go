package domain

import (
	"strings"

	"setscrew/domain/danger"
)

// KindProblem is the kind of a Problem.
const KindProblem Kind = "problem"

// Problem is a symptom seen, one of the profile's or in free words.
type Problem struct {
	Symptom string `json:"symptom,omitempty"` // its id in the profile, or ""
	Name    string `json:"name"`              // the symptom's name, or the free words
	Note    string `json:"note,omitempty"`
	Danger  bool   `json:"danger,omitempty"`
	// Hazard is the kind of danger, common to all machines, that the words spoke of, ""
	// for none.
	Hazard danger.Kind `json:"hazard,omitempty"`
	// Doubt says that it may be dangerous, and that whoever reported it was asked.
	Doubt    bool     `json:"doubt,omitempty"`
	Event    string   `json:"event,omitempty"` // the event that it is at the same time, with
	Surfaces []string `json:"moves,omitempty"` // the checks whose surfaces that moved
	Photo    *Photo   `json:"photo,omitempty"`
	// Returned is the mend that it comes back after, within ReturnHours of use, or 0;
	// filled in by Complete.
	Returned FactNo `json:"returned,omitempty"`
}

// FactKind is KindProblem.
func (Problem) FactKind() Kind { return KindProblem }

// Photo is a picture where the chat keeps it.
type Photo struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	URL  string `json:"url"` // may stop working; ID does not
}

// Key tells problems apart: reports with one key are reports of one thing.
func (p Problem) Key() string {
	if p.Symptom != "" {
		return p.Symptom
	}
	if p.Hazard != "" {
		return HazardKey(p.Hazard)
	}
	return strings.ToLower(p.Name)
}

// KindMended is the kind of a Mended.
const KindMended Kind = "mended"

// Mended closes the reports of one problem.
type Mended struct {
	Key  string `json:"key"`
	Name string `json:"name"` // as it stood
	Note string `json:"note,omitempty"`
	// Cause is what it was, by its id, or "" where nobody said.
	Cause string `json:"cause,omitempty"`
	// Because is the report that mended it, where Setscrew closed it by itself.
	Because FactNo `json:"because,omitempty"`
}

// FactKind is KindMended.
func (Mended) FactKind() Kind { return KindMended }

// KindFound is the kind of a Found.
const KindFound Kind = "found"

// Found is the answer to a question about a problem, or what came of looking for one
// of its causes.
type Found struct {
	Key    string `json:"key"`   // the problem's
	About  Item   `json:"about"` // a question or a cause
	Answer Answer `json:"answer"`
}

// FactKind is KindFound.
func (Found) FactKind() Kind { return KindFound }

// Answer is an answer in words.
type Answer string

// The answers. A cause that was found settles its problem.
const (
	AnswerYes    Answer = "yes"
	AnswerNo     Answer = "no"
	AnswerUnsure Answer = "unsure"
)
