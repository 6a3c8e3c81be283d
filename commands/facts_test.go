package commands_test

import (
	"testing"

	"setscrew/commands/words"
	"setscrew/domain"
)

// Every kind of fact has its line for the logbook and for "why".
func TestEveryKindOfFactHasWords(t *testing.T) {
	cat, err := words.Load()
	if err != nil {
		t.Fatal(err)
	}
	for _, kind := range domain.Kinds() {
		if !cat.Has("fact." + string(kind)) {
			t.Errorf("no words for facts of kind %s", kind)
		}
	}
}
