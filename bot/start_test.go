package bot_test

import (
	"strings"
	"testing"

	"setscrew/domain"
)

// Whoever adds a machine is asked whether it is in use; one in use runs once each of its
// ticks is made, by a button of one message that is edited in place, also after the
// program was begun again; only stewards press them, and each tick has its name. The
// channel hears of none of it.
func TestTicks(t *testing.T) {
	t.Parallel()
	rig := newRig(t, nil)
	rig.start()
	rig.ready()
	rig.slash(rig.keeper, "shop settings", "zone=CET", "units=metric", "notices="+rig.channel.ID,
		"stewards="+rig.stewards)
	standing := rig.standing()
	interaction, reply := rig.slash(rig.wren, "shop add", "name=Granite", "kind=thickness-planer")
	if len(reply.Buttons) != 2 || !strings.HasPrefix(reply.Buttons[0].Label, "New, moved or unknown") {
		t.Fatalf("a question: %+v", reply)
	}
	interaction, reply = rig.press(interaction, rig.wren, "In use already")
	if !reply.Replaced || len(reply.Buttons) != 6 || !strings.HasPrefix(reply.Content, "Granite is being set up") {
		t.Fatalf("its ticks: %+v", reply)
	}
	interaction, reply = rig.press(interaction, rig.wren, "Seen: stops")
	if !reply.Replaced || len(reply.Buttons) != 5 || !strings.Contains(reply.Content, "Stops: ticked.") {
		t.Errorf("a tick: %+v", reply)
	}
	rig.end()
	rig.start()
	rig.check(rig.server.UntilConnected(rig.ctx, 2))
	for left := 4; left >= 0; left-- {
		if !strings.HasPrefix(reply.Content, "Granite is being set up: do not use.") {
			t.Fatalf("with %d ticks missing: %q", left+1, reply.Content)
		}
		interaction, reply = rig.press(interaction, rig.wren, "Seen: ")
		if len(reply.Buttons) != left {
			t.Fatalf("of %d ticks left: %+v", left, reply)
		}
	}
	if !strings.HasPrefix(reply.Content, "Granite is in service.") {
		t.Errorf("all ticks made: %q", reply.Content)
	}
	// Another, to be set up; a member ticks nothing.
	_, reply = rig.slash(rig.wren, "shop add", "name=Slate", "kind=thickness-planer", "state=new")
	if len(reply.Buttons) != 0 || !strings.Contains(reply.Content, "Slate is being set up: do not use.") {
		t.Errorf("a new one: %+v", reply)
	}
	_, reply = rig.slash(rig.ada, "shop start", "machine=Slate")
	if len(reply.Buttons) != 0 || !strings.Contains(reply.Content, "Only shop stewards") {
		t.Errorf("to a member: %+v", reply)
	}
	if got := rig.standing(); got != standing {
		t.Errorf("the channel is told %q", rig.last(got-1).Content)
	}
	ticked := map[string]domain.PersonID{}
	log, err := rig.db.Shop(domain.ShopID(rig.guild.ID)).Logbook(rig.ctx, 1, 0, 100)
	rig.check(err)
	for _, fact := range log {
		if body, ok := fact.Body.(domain.Ticked); ok {
			ticked[body.Tick] = fact.By
		}
	}
	if len(ticked) != 6 || ticked["stops"] != domain.PersonID(rig.wren.ID) {
		t.Errorf("on record: %v", ticked)
	}
}
