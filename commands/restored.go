package commands

import (
	"context"
	"fmt"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
)

// Reconcile holds what a shop's channel says of its machines against books that were put
// back from a copy. heard are the first lines of what Setscrew posted since, the latest
// first, and shown is how the channel shows a text. A machine whose last word there is that
// it is tagged out is tagged out; one that the books have tagged out stays so, whatever the
// channel says. The message tells the stewards of both. Again for the same restoration it
// stores nothing more.
func (d *Desk) Reconcile(ctx context.Context, shop domain.Shop, r domain.Restoration, heard []string,
	shown func(string) string) (Message, error) {
	w := &wording{speaker: d.cat.In(), shop: shop, now: r.At}
	books := d.open(shop.ID)
	machines, err := books.Machines(ctx)
	if err != nil {
		return Message{}, fmt.Errorf("list the machines to reconcile: %w", err)
	}
	why := domain.Reason{Code: domain.SaidBySomebody, Text: w.say("restored.reason", nil)}
	var again, kept []string
	for _, machine := range machines {
		said := w.lastWord(machine, heard, shown)
		if said == unsaid {
			continue
		}
		snap, err := books.Snapshot(ctx, machine.ID)
		if err != nil {
			return Message{}, fmt.Errorf("look at %s to reconcile it: %w", machine.Name, err)
		}
		switch {
		case said == saidBack && len(snap.Tags) > 0:
			kept = append(kept, words.User(machine.Name))
		case said == saidOut && len(snap.Tags) == 0:
			if _, err := books.Report(ctx, domain.Entry{Key: fmt.Sprintf("restored/%d/%d", r.At.Unix(), machine.ID),
				Machine: machine.ID, At: r.At, Recorded: r.At, Body: domain.TagOut{Reason: why}}); err != nil {
				return Message{}, fmt.Errorf("tag out %s, as its channel says: %w", machine.Name, err)
			}
			again = append(again, words.User(machine.Name))
		case said == saidOut && snap.Tags[len(snap.Tags)-1].Reason.Text == why.Text:
			again = append(again, words.User(machine.Name)) // as an attempt before this one did
		}
	}
	return w.restored(r, again, kept, len(heard) > 0), nil
}

// restored words what came of holding a channel against books that were put back.
func (w *wording) restored(r domain.Restoration, again, kept []string, read bool) Message {
	m := Message{Mention: true, Headline: w.say("restored.headline", words.D{"Since": words.Time(r.Last,
		words.DateTime)})}
	lines := []string{m.Headline}
	if len(again) > 0 {
		lines = append(lines, w.say("restored.again", words.D{"Machines": strings.Join(again, ", ")}))
	}
	if len(kept) > 0 {
		lines = append(lines, w.say("restored.kept", words.D{"Machines": strings.Join(kept, ", ")}))
	}
	if !read {
		lines = append(lines, w.say("restored.unread", nil))
	}
	m.Text = strings.Join(append(lines, w.say("restored.do", nil)), "\n")
	return m
}

// word is what a channel says of a machine.
type word int

const (
	unsaid word = iota
	saidOut
	saidBack
)

// The headlines that say how a machine stands.
var (
	outHeadlines  = []string{"tag.headline", "notice.unbooked"}
	backHeadlines = []string{"notice.back", "notice.begins", "notice.lifted", "notice.mistake"}
)

// lastWord is the latest of what a channel's messages say of how a machine stands.
func (w *wording) lastWord(machine domain.Machine, heard []string, shown func(string) string) word {
	says := map[string]word{}
	name := words.D{"Machine": words.User(machine.Name)}
	for _, key := range outHeadlines {
		says[shown(w.say(key, name))] = saidOut
	}
	for _, key := range backHeadlines {
		says[shown(w.say(key, name))] = saidBack
	}
	for _, line := range heard {
		if said := says[line]; said != unsaid {
			return said
		}
	}
	return unsaid
}
