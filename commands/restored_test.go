package commands_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
)

// What a channel said last of each machine decides, the latest first and by its whole
// name; nothing that the books have tagged out is let go, and the same again stores
// nothing more and says the same.
func TestReconcile(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	for _, name := range []string{"Big Marble", "S*late", "Flint", "Basalt"} {
		w.addInUse("wren", name)
	}
	w.as("ada", "tagout", "machine=Flint", "reason=loose")
	w.as("ada", "tagout", "machine=Basalt", "reason=loose")
	shown := func(s string) string { return words.Expand(s, plainMedium{}) }
	r := domain.Restoration{Shop: w.shop, At: w.now.Add(time.Hour), Last: w.now}
	books := w.db.Shop(w.shop)
	shop, err := books.Shop(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	reconcile := func(heard ...string) string {
		t.Helper()
		m, err := w.desk.Reconcile(context.Background(), shop, r, heard, shown)
		if err != nil {
			t.Fatal(err)
		}
		if !m.Mention || !strings.HasPrefix(m.Text, m.Headline+"\n") {
			t.Errorf("calls nobody, or has no headline: %+v", m)
		}
		_, text, _ := strings.Cut(shown(m.Text), "\n")
		return text
	}
	const do = "Report again what was reported since, dangers first."
	const unread = "I found nothing here that was posted since: look yourself for what must not be used.\n"
	if got := reconcile(); got != unread+do {
		t.Errorf("nothing heard: %q", got)
	}
	if got := reconcile("Due on Marble: wax.", "Marble: do not use it.",
		"Nobody is tagged out: do not use."); got != do {
		t.Errorf("nothing of how a machine stands: %q", got)
	}
	heard := []string{"Marble is back in service.", "Big Marble is tagged out: do not use.",
		"Flint was stopped by mistake; that is taken back, and the stop stays on record.",
		"Marble is tagged out: do not use.", "Big Marble is back in service.", "S*late: do not use. NOT in the books.",
		"Basalt is tagged out: do not use.", "Flint is tagged out: do not use."}
	want := "Tagged out again, as this channel said last: Big Marble, S*late.\n" +
		"Still tagged out in the books, though this channel says otherwise: Flint. A steward looks, and releases " +
		"what is fit.\n" + do
	for range 2 {
		if got := reconcile(heard...); got != want {
			t.Errorf("said\n%s, want\n%s", got, want)
		}
		out := ""
		machines, err := books.Machines(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range machines {
			snap, err := books.Snapshot(context.Background(), m.ID)
			if err != nil {
				t.Fatal(err)
			}
			for _, tag := range snap.Tags {
				out += m.Name + " by " + string(tag.By) + ": " + tag.Reason.Text + "\n"
			}
		}
		const stands = "Basalt by ada: loose\nBig Marble by : the channel said so before the books were put back\n" +
			"Flint by ada: loose\nS*late by : the channel said so before the books were put back\n"
		if out != stands {
			t.Errorf("tagged out\n%s, want\n%s", out, stands)
		}
	}
}
