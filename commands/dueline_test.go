package commands

import (
	"testing"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// What asked for a service is named where that alone makes it due: not where use or
// the calendar did so before.
func TestWhatMakesAServiceDue(t *testing.T) {
	t.Parallel()
	cat, err := words.Load()
	if err != nil {
		t.Fatal(err)
	}
	asked := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	before, after := asked.Add(-24*time.Hour), asked.Add(24*time.Hour)
	left := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Hour) }
	for _, test := range []struct {
		name    string
		state   upkeep.State
		left    quantity.Value
		on      time.Time
		because bool
		want    string
	}{
		{"nothing else", upkeep.DueNow, quantity.Value{}, time.Time{}, true, "due.because"},
		{"hours left", upkeep.DueNow, left(1), time.Time{}, true, "due.because"},
		{"no hours left", upkeep.DueNow, left(0), time.Time{}, true, "due.now"},
		{"hours over", upkeep.DueNow, left(-1), time.Time{}, true, "due.now.over"},
		{"the day after", upkeep.DueNow, quantity.Value{}, after, true, "due.because"},
		{"the same moment", upkeep.DueNow, quantity.Value{}, asked, true, "due.now"},
		{"the day before", upkeep.DueNow, quantity.Value{}, before, true, "due.now"},
		{"hours left, the day before", upkeep.DueNow, left(1), before, true, "due.now"},
		{"late", upkeep.Late, left(1), after, true, "due.late"},
		{"late by use", upkeep.Late, left(-1), after, true, "due.late.over"},
		{"nobody asked", upkeep.DueNow, left(1), time.Time{}, false, "due.now"},
		{"not due, by use", upkeep.NotDue, left(1), time.Time{}, false, "due.later.hours"},
		{"not due, by day", upkeep.NotDue, quantity.Value{}, after, false, "due.later.date"},
		{"not due, by both", upkeep.NotDue, left(1), after, false, "due.later.both"},
	} {
		var said []string
		own := *cat
		own.Said = func(key string) { said = append(said, key) }
		wording := &wording{speaker: own.In(), now: asked}
		due := domain.ServiceStatus{Service: &profile.Service{Name: "wax"},
			Rule: profile.Rule{Hours: left(10)}, Due: upkeep.Due{State: test.state, Left: test.left, On: test.on}}
		if test.because {
			due.Because = []domain.Trigger{{Name: "snipe", At: asked, Fact: 7}}
		}
		line := wording.dueLine("wax", due)
		if len(said) != 1 || said[0] != test.want {
			t.Errorf("%s: says %q, want %s: %s", test.name, said, test.want, line)
		}
	}
}
