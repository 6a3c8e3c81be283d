package commands

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/danger"
	"setscrew/domain/profile"
)

// keepDanger lets a danger wait in memory that the books could not take. What they
// refused stays refused, and anything else is given again by whoever reported it.
func (c *call) keepDanger(machine domain.Machine, entry domain.Entry, err error) {
	if !unusable(err) || !domain.StopsMachine(entry.Body) {
		return
	}
	args := domain.NoticeArgs{V: domain.NoticeVersion, Machine: machine.Name, At: entry.Recorded,
		Units: machine.UnitsIn(c.shop), Name: domain.Described(entry.Body)}
	if p, ok := entry.Body.(domain.Problem); ok {
		args.Note = p.Note
	}
	waits := c.desk.unbooked.add(Unbooked{Shop: c.shop, Entry: entry,
		Notice: domain.Notice{Key: "unbooked/" + entry.Key, Machine: machine.ID, Op: domain.Post,
			Topic: domain.TopicUnbooked, Args: args}})
	c.unstored = &unstored{machine, entry.Body, waits}
}

// unusable reports whether an error says that the books could not be used: anything but
// an answer of theirs, or of ours.
func unusable(err error) bool {
	var refused *domain.Refusal
	var ours *userError
	return err != nil && !errors.As(err, &refused) && !errors.As(err, &ours)
}

// unheard is the danger that a command tells of, where the books could not even say which
// machine it is about; nil where it tells of none.
func (c *call) unheard() *unstored {
	machine := domain.Machine{Name: words.Clean(c.options["machine"]), Profile: &profile.Profile{}}
	switch c.name {
	case tagoutName:
		return &unstored{machine: machine, body: domain.TagOut{}}
	case problemName:
		heard := heardIn(machine.Profile, c.options)
		if heard.Danger == danger.None {
			return nil
		}
		return &unstored{machine: machine, body: domain.Problem{Hazard: heard.Hazard, Danger: true}}
	}
	return nil
}

// stopUnnamed puts before a refusal that knows no such machine what to do about the danger
// that the command tells of.
func (c *call) stopUnnamed(refused *userError, reply Reply) Reply {
	if !refused.noMachine {
		return reply
	}
	danger := c.unheard()
	if danger == nil {
		return reply
	}
	which := reply.Headline
	reply.Headline = c.say("unnamed.headline", nil)
	reply.Lines = append(append([]string{which}, c.stopLines(danger)...), reply.Lines...)
	return reply
}

// stopLines say what to do about a danger that was not stored.
func (c *call) stopLines(not *unstored) []string {
	told, ok := not.body.(domain.Problem)
	if !ok {
		return []string{c.say("tag.do", nil)}
	}
	symptom := not.machine.Profile.Symptom(told.Symptom)
	return []string{c.dangerAdvice(not.machine, symptom, told.Hazard), c.say(stopKey(symptom, told.Hazard), nil)}
}

// stopAnyway answers a danger that could not be stored: what to do about it, and that
// nobody else knows of it.
func (c *call) stopAnyway(not *unstored, err error) Reply {
	reply := Reply{Quiet: true, Refused: true,
		Headline: c.say("unbooked.headline", words.D{"Machine": words.User(not.machine.Name)}),
		Lines:    c.stopLines(not)}
	kept := "unbooked.lost"
	if not.waits {
		kept = "unbooked.waits"
	}
	reply.Lines = append(reply.Lines, c.say("books."+string(troubleOf(err)), nil), c.say(kept, nil))
	return reply
}

// troubleOf is why the books could not be used, by the store's own word where it has one.
func troubleOf(err error) domain.Trouble {
	var said *domain.BooksError
	if errors.As(err, &said) {
		return said.Trouble
	}
	return domain.BooksUnreachable
}

// notStored words that the books could not be used, and what to do.
func (c *call) notStored(trouble domain.Trouble) string {
	todo := "books.tell"
	if trouble == domain.BooksBusy || trouble == domain.BooksClosed {
		todo = "books.again"
	}
	return c.say("books."+string(trouble), nil) + " " + c.say(todo, nil)
}

// Unbooked lists the dangers that the books could not take and that wait in memory,
// oldest first.
func (d *Desk) Unbooked() []Unbooked {
	d.unbooked.Lock()
	defer d.unbooked.Unlock()
	return slices.Clone(d.unbooked.all)
}

// Told notes what a shop's channel was told of an entry that waits.
func (d *Desk) Told(shop domain.ShopID, key string, told domain.Told) {
	d.unbooked.Lock()
	defer d.unbooked.Unlock()
	if i := d.unbooked.at(shop, key); i >= 0 {
		d.unbooked.all[i].Entry.Told = told
	}
}

// Book stores the dangers that wait, as recorded now, and says how many wait still. One
// that the books refuse is given up, and Fault is told of it.
func (d *Desk) Book(ctx context.Context, now time.Time) (left int) {
	for _, one := range d.Unbooked() {
		entry := one.Entry
		entry.Recorded = now
		err := d.book(ctx, one.Shop.ID, entry)
		if unusable(err) {
			var file *domain.BooksError
			if errors.As(err, &file) || ctx.Err() != nil {
				break // the next would fare no better
			}
			continue
		}
		d.unbooked.take(one)
		if err != nil && d.Fault != nil {
			d.Fault(one.Entry.Key, fmt.Errorf("a danger that waited for the books is given up: %w", err))
		}
	}
	return len(d.Unbooked())
}

// book stores an entry. What only the press of a button, or the set-up that it was read
// against, stands in the way of is stored without them.
func (d *Desk) book(ctx context.Context, shop domain.ShopID, entry domain.Entry) error {
	_, err := d.open(shop).Report(ctx, entry)
	var refused *domain.Refusal
	if errors.As(err, &refused) && slices.Contains([]domain.Code{domain.PendingGone, domain.PendingUsed,
		domain.SetupChangedNow}, refused.Code) {
		entry.Pending, entry.SetupRev = "", 0
		_, err = d.open(shop).Report(ctx, entry)
	}
	return err
}

// heardIn is what a problem's options tell of: a danger first of all, in what was seen or
// in the note, or said outright.
func heardIn(prof *profile.Profile, options map[string]string) domain.Hearing {
	heard := domain.Hear(prof, words.Clean(options["what"]))
	if noted := domain.Hear(prof, words.Clean(options["note"])); noted.Danger > heard.Danger {
		heard = noted
	}
	switch {
	case options["danger"] == "yes":
		heard.Danger = danger.Sure
	case options["danger"] == "no" && heard.Danger == danger.Likely:
		heard = domain.Hearing{}
	}
	return heard
}

// dangerAdvice is what to do first about a danger: what the symptom says, what this
// kind of machine asks for, or what holds for all.
func (w *wording) dangerAdvice(machine domain.Machine, symptom *profile.Symptom, hazard danger.Kind) string {
	if symptom != nil {
		return symptom.Advice
	}
	if advice := machine.Profile.DangerAdvice(hazard); advice != "" {
		return advice
	}
	if hazard == "" {
		return w.say("hazard.advice", nil)
	}
	return w.say("hazard."+string(hazard)+".advice", nil)
}

// hazardOf is the kind of danger that a problem is of: its symptom's, where it has one.
func hazardOf(symptom *profile.Symptom, hazard danger.Kind) danger.Kind {
	switch {
	case symptom != nil && symptom.Hurt:
		return danger.Hurt
	case symptom != nil:
		return symptom.Hazard
	}
	return hazard
}

// stopKey is the message that stops people from using a machine. Where the switch itself
// may be live, burning or useless it sends nobody there.
func stopKey(symptom *profile.Symptom, hazard danger.Kind) string {
	if slices.Contains([]danger.Kind{danger.Hurt, danger.Shock, danger.Fire, danger.Fumes, danger.StopButton,
		danger.Runaway}, hazardOf(symptom, hazard)) {
		return "problem.clear"
	}
	return "problem.stop"
}
