package commands_test

import (
	"slices"
	"testing"

	"setscrew/commands"
)

// What ails the books is told to stewards and to whoever manages the server, each once
// until it changes, beside any answer; members are not troubled with it.
func TestStewardsAreToldWhatAilsTheBooks(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.desk.Chat = fineChat()
	var ails []commands.Ail
	w.desk.Ails = func() []commands.Ail { return ails }
	for _, ail := range []commands.Ail{commands.AilCopy, commands.AilFull, commands.AilUnreachable, commands.AilMoved,
		commands.AilDamaged} {
		ails = []commands.Ail{ail}
		for _, who := range []string{"wren", "owner"} {
			if r := w.as(who, "help", "command=tagout"); len(r.Aside) != 1 || !slices.Contains(w.keys, string(ail)) {
				t.Errorf("%s, %s: %q", ail, who, r.Aside)
			}
			if r := w.as(who, "help", "command=tagout"); len(r.Aside) != 0 {
				t.Errorf("%s, %s again: %q", ail, who, r.Aside)
			}
		}
		if r := w.as("ada", "help", "command=tagout"); len(r.Aside) != 0 {
			t.Errorf("%s, a member: %q", ail, r.Aside)
		}
	}
	ails = nil
	if r := w.as("wren", "help", "command=tagout"); len(r.Aside) != 0 {
		t.Errorf("once it is over: %q", r.Aside)
	}
}
