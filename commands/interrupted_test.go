package commands_test

import (
	"context"
	"testing"

	"setscrew/domain"
)

// A story goes on over whatever others say in between: a button is found on the
// reply that has it, a form stays open, and a report is known by its name, not by
// how many came before it.
func TestStoriesGoOnOverOtherCommands(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name    string
		between func(w *world)
	}{
		{"nobody says anything", func(*world) {}},
		{"somebody asks", func(w *world) { w.as("bo", "machine", "machine=Marble") }},
		{"somebody is asked something else", func(w *world) { w.as("bo", "hours", "machine=Marbel", "hours=1") }},
		{"somebody reports", func(w *world) {
			w.must(w.as("bo", "hours", "machine=Marble", "hours=5 min", "sure=yes"))
		}},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			world := newWorld(t)
			world.marble()
			world.must(world.as("ada", "reading", "machine=Marble", "check=infeed", "values=46 41 thou"))
			test.between(world)
			world.must(world.press("ada", "I turned it"))
			turned := world.reported()
			test.between(world)
			world.as("bo", "reading", "machine=Marble", "check=infeed roller")
			test.between(world)
			world.must(world.fill("bo", "left=0.86", "right=34 thou"))
			filled := world.reported()
			test.between(world)
			world.must(world.as("ada", "undo", report(turned)))
			for no, withdrawn := range map[domain.FactNo]bool{turned: true, filled: false} {
				f, err := world.db.Shop(world.shop).Fact(context.Background(), no)
				if err != nil || (f.Withdrawn != 0) != withdrawn {
					t.Errorf("no. %d: %T, withdrawn %d, %v", no, f.Body, f.Withdrawn, err)
				}
			}
			if f, err := world.db.Shop(world.shop).Fact(context.Background(), turned); err != nil ||
				f.Body.FactKind() != domain.KindMove {
				t.Errorf("the pressed report is %T, %v", f.Body, err)
			}
			if f, err := world.db.Shop(world.shop).Fact(context.Background(), filled); err != nil ||
				f.Body.FactKind() != domain.KindReading {
				t.Errorf("the filled-in report is %T, %v", f.Body, err)
			}
		})
	}
}
