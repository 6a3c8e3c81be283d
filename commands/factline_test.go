package commands

import (
	"strings"
	"testing"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
)

// What a profile no longer has, or never had, is told by its id.
func TestFactLineOfWhatIsNoMore(t *testing.T) {
	t.Parallel()
	cat, err := words.Load()
	if err != nil {
		t.Fatal(err)
	}
	wording := &wording{speaker: cat.In()}
	found := domain.Found{Key: "snipe", About: domain.QuestionItem.Of("both-ends"), Answer: domain.AnswerYes}
	for id, body := range map[string]domain.Body{
		"belts-changed": domain.EventSeen{Event: "belts-changed"},
		"wax-the-bed":   domain.ServiceDone{Service: "wax-the-bed"},
		"infeed":        domain.Reading{Check: "infeed", Typed: "1 mm"},
		"guards":        domain.Inspection{Check: "guards"},
		"snipe":         found,
		"both-ends":     found,
	} {
		machine := domain.Machine{Name: "Marble", Profile: &profile.Profile{}}
		if line := wording.factLine(domain.Fact{No: 7, Body: body}, machine); !strings.Contains(line, id) {
			t.Errorf("%T: %q, want it with %s", body, line, id)
		}
	}
}
