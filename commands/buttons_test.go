package commands

import (
	"encoding/json"
	"reflect"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// Buttons outlive a version: what stands in the custom ids, and what waits in the
// books, of those that were ever shown is read as it was written, and written so
// still.
func TestButtonsShownBeforeAreRead(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 3, 2, 17, 30, 0, 0, time.UTC)
	seen := map[string]bool{}
	lasts := func(action, text string, got any, ok bool, want any) {
		t.Helper()
		seen[action] = true
		if !ok || !reflect.DeepEqual(got, want) {
			t.Errorf("%s:%s is read as %v, %v", action, text, got, ok)
		}
		if s := want.(interface{ String() string }).String(); s != text {
			t.Errorf("%s is written as %s", text, s)
		}
	}
	for text, want := range map[string]testArg{"7": {7, 0}, "7.24": {7, 24}} { // before, they named no test
		test, ok := testArg{}.parse(text)
		for _, action := range []string{"endtest", "renewtest", "release"} {
			lasts(action, text, test, ok, want)
		}
	}
	fact, ok := factArg(0).parse("24")
	lasts("why", "24", fact, ok, factArg(24))
	lasts("loosen", "24", fact, ok, factArg(24))
	for _, action := range []string{"take-over", "stop", "mistake", "lock-off", "lock-kept", "lock-ask", "lock-note",
		"lock-confirm"} {
		lasts(action, "24", fact, ok, factArg(24))
	}
	page, ok := logPage{}.parse("7.0")
	lasts("log", "7.0", page, ok, logPage{7, 0})
	visit, ok := visitArg{}.parse("121.2.0")
	lasts("visit", "121.2.0", visit, ok, visitArg{121, 1, -1})
	visit, ok = visitArg{}.parse("121.2.3")
	lasts("visit-done", "121.2.3", visit, ok, visitArg{121, 1, 2})
	found, ok := finding{}.parse("31/question:deep-cut/unsure")
	lasts("found", "31/question:deep-cut/unsure", found, ok,
		finding{31, domain.QuestionItem.Of("deep-cut"), domain.AnswerUnsure})
	found, ok = finding{}.parse("31/cause:pitch/yes")
	lasts("found", "31/cause:pitch/yes", found, ok, finding{31, domain.CauseItem.Of("pitch"), domain.AnswerYes})
	ticked, ok := tickArg{}.parse("7.guards")
	lasts("tick", "7.guards", ticked, ok, tickArg{7, "guards"})
	alarm, ok := alarmArg{}.parse("7.61")
	lasts("seeto", "7.61", alarm, ok, alarmArg{7, 61})
	called, ok := calledArg{}.parse("stewards")
	lasts("ping", "stewards", called, ok, calledArg{})

	waits := func(action, text string, with any, want any) {
		t.Helper()
		seen[action] = true
		if err := json.Unmarshal([]byte(text), with); err != nil ||
			!reflect.DeepEqual(reflect.ValueOf(with).Elem().Interface(), want) {
			t.Errorf("%s: %s is read as %+v, %v", action, text, with, err)
		}
		if again, err := json.Marshal(want); err != nil || string(again) != text {
			t.Errorf("%s: written as %s, %v", action, again, err)
		}
	}
	asked := askedAgain{Name: "hours", Options: map[string]string{"hours": "1.5", "machine": "Marble"}, At: at,
		Undo: 12}
	for _, action := range []string{"again", "values"} {
		waits(action, `{"name":"hours","options":{"hours":"1.5","machine":"Marble"},`+
			`"at":"2026-03-02T17:30:00Z","undo":12}`, new(askedAgain), asked)
	}
	for _, action := range []string{"typein", "typein-mend"} {
		waits(action, `{"machine":"Marble","lines":"18:00, 1.5 h"}`, new(typedIn), typedIn{"Marble", "18:00, 1.5 h"})
	}
	for _, action := range []string{"turned", "believe", "withdraw"} {
		waits(action, `{"reading":24}`, new(turning), turning{24})
	}
	waits("how-turned", `{"move":25,"reading":26,"said":"as-said"}`, new(howTurned),
		howTurned{25, 26, domain.TurnedAsSaid})
	for _, action := range []string{"test", "tag-seen"} {
		waits(action, `{"machine":7,"note":"roller reset","tags":[3,4],"seen":[{"tag":3,"owner":"asked"},{"tag":4}]}`,
			new(releasing), releasing{7, "roller reset", []domain.FactNo{3, 4},
				[]domain.TagAnswer{{Tag: 3, Owner: domain.OwnerAsked}, {Tag: 4}}})
	}
	waits("lock-noted", `{"tag":24}`, new(noting), noting{24})
	waits("confirm", `{"machine":7,"item":"check:fence.rip","rev":3}`, new(confirming),
		confirming{7, domain.CheckItem.Of("fence").In("rip"), 3})
	waits("forget", `{"who":"bo"}`, new(forgetting), forgetting{"bo"})
	waits("retire", `{"machine":7}`, new(retiring), retiring{7})
	waits("adopt", `{"gauge":"long dial","s":"0.000002 m","dof":9}`, new(adopting),
		adopting{"long dial", quantity.New(2, 1000, quantity.Millimetre), 9})
	waits("take-visits", `{"visits":[{"machine":7,"name":"Marble","at":"2026-03-02T17:30:00Z",`+
		`"minutes":5,"items":["check:fingers"]}]}`,
		new(domain.VisitsPlanned),
		domain.VisitsPlanned{Visits: []domain.Visit{{Machine: 7, Name: "Marble", At: at,
			Items: []domain.Item{domain.CheckItem.Of("fingers")}, Minutes: 5}}})

	seen["gauge"] = true // what waits is the fact's own body, whose form the facts' test holds
	for _, a := range actionTable() {
		if !seen[a.Name] {
			t.Errorf("no earlier form of %s is looked at", a.Name)
		}
	}
}
