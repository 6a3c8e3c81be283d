package commands_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/domain"
)

// Whoever wants to be forgotten is told what goes and what stays, and presses a button; from
// then on they are a former member, but for what safety needs, which follows by itself.
func TestStoryForget(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("bo", "hours", "machine=Marble", "hours=1.5"))
	hours := world.reported()
	world.must(world.as("wren", "service", "machine=Marble", "service=bushings", "for=bo", "note=with <@bo>"))
	noted := world.reported()
	world.as("bo", "tagout", "machine=Marble", "reason=changing the knives", "lock=yes")
	hung := world.reported()
	world.as("ada", "forget", "for=bo")
	world.as("bo", "forget")
	asked := world.last
	world.pressOn(asked, "ada", "Forget me")
	world.pressOn(asked, "bo", "Forget me")
	world.pressOn(asked, "bo", "Forget me")
	world.as("ada", "why", report(hours))
	world.as("ada", "why", report(noted))
	world.as("ada", "why", report(hung))
	world.as("ada", "logbook", "machine=Marble")
	// Nobody's report is theirs any more, nor has anything else changed.
	world.as("bo", "undo", report(hours))
	world.as("bo", "lock", "machine=Marble")
	world.press("bo", "My lock is off")
	off := world.reported()
	world.as("bo", "forget")
	world.press("bo", "Forget me")
	world.sweep(25 * time.Hour)
	world.as("ada", "why", report(hung))
	world.as("ada", "why", report(off))
	// A steward does it for another; who returns begins again.
	world.as("wren", "forget", "for=bo")
	world.press("wren", "Forget them")
	world.as("ada", "why", report(off))
	world.as("wren", "release", "machine=Marble")
	world.as("wren", "forget", "for=former-1")
	world.as("bo", "forget")
	world.notices()
	world.golden("forget")
	if _, after, _ := strings.Cut(world.out.String(), "Done. They are"); strings.Contains(after, "by bo") {
		t.Error("a former member is named")
	}
}

// keepingBooks are books in which something stays of everybody, for each reason.
type keepingBooks struct{ commands.Books }

func (keepingBooks) Forgettable(context.Context, domain.PersonID, time.Time) (domain.Forgetting, error) {
	return domain.Forgetting{Reports: 1, Kept: []domain.Kept{{For: domain.KeptLock, Machine: "Marble", Fact: 1},
		{For: domain.KeptProcedure, Machine: "Marble", Fact: 2},
		{For: domain.KeptLoosening, Machine: "Marble", Fact: 3},
		{For: domain.KeptSecond, Machine: "Marble", Fact: 4, Name: "anti-kickback fingers"},
		{For: domain.KeptTest, Machine: "Marble", Fact: 5}, {For: domain.KeptAway}}}, nil
}

func (keepingBooks) Forget(context.Context, domain.PersonID, domain.PersonID, string, string, time.Time) (
	domain.Forgetting, error) {
	return domain.Forgetting{Reports: 2, Kept: []domain.Kept{
		{For: domain.KeptInspection, Machine: "Marble", Fact: 6, Name: "electrical inspection"},
		{For: domain.KeptHandover, Machine: "Marble", Fact: 7}, {For: domain.KeptCalled},
		{For: domain.KeptSteward}}}, nil
}

// Each reason for which something stays is named, the first five of them.
func TestStoryForgetKept(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.desk = commands.NewDesk(func(id domain.ShopID) commands.Books { return keepingBooks{world.db.Shop(id)} },
		world.db, world.cat)
	world.as("bo", "forget")
	world.press("bo", "Forget me")
	if reply := world.as("bo", "forget"); !strings.Contains(world.show(reply), "And 1 more.") {
		t.Error("the sixth is not counted")
	}
	world.golden("forget-kept")
}

// keptAway says the reason that a list of five leaves out.
type keptAway struct{ commands.Books }

func (keptAway) Forgettable(context.Context, domain.PersonID, time.Time) (domain.Forgetting, error) {
	return domain.Forgetting{Kept: []domain.Kept{{For: domain.KeptAway}}}, nil
}

func TestForgetDeputy(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.desk = commands.NewDesk(func(id domain.ShopID) commands.Books { return keptAway{world.db.Shop(id)} },
		world.db, world.cat)
	if text := world.show(world.as("bo", "forget")); !strings.Contains(text, "Stays until the days away are over") {
		t.Errorf("%s", text)
	}
}
