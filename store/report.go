package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/mattn/go-sqlite3"

	"setscrew/domain"
)

// Report applies an entry in one transaction; see commands.Books for what it
// promises.
func (s *Shop) Report(ctx context.Context, e domain.Entry) (out domain.Outcome, err error) {
	if e.Key == "" {
		return out, fmt.Errorf("store: an entry without a key")
	}
	err = s.writeOnce(ctx, func(t *tx) (err error) { out, err = t.report(e); return err })
	return out, err
}

// writeOnce writes what a report says, taking it that nothing of it was written
// before. Only if that is refused, or clashes with what is there, is it done again
// with a replay check, which looks whether the report came before: looking costs a
// report more than anything else that it does but its commit, while the same report
// hardly ever comes a second time.
func (s *Shop) writeOnce(ctx context.Context, f func(*tx) error) error {
	err := s.db.write(ctx, s.id, f)
	var refused *domain.Refusal
	var clash sqlite3.Error
	if errors.As(err, &refused) || errors.As(err, &clash) && clash.Code == sqlite3.ErrConstraint {
		return s.db.write(ctx, s.id, func(t *tx) error { t.replayCheck = true; return f(t) })
	}
	return err
}

// errTrial ends the transaction of a trial.
var errTrial = errors.New("store: a trial")

// ReportAll applies entries in one transaction; see commands.Books for what it
// promises.
func (s *Shop) ReportAll(ctx context.Context, all []domain.Entry, trial bool) (out []domain.Outcome, err error) {
	err = s.writeOnce(ctx, func(t *tx) error {
		out = nil
		for _, e := range all {
			if e.Key == "" {
				return fmt.Errorf("store: an entry without a key")
			}
			o, err := t.report(e)
			if err != nil {
				return err
			}
			out = append(out, o)
		}
		if trial {
			return errTrial
		}
		return nil
	})
	if trial && errors.Is(err, errTrial) {
		return out, nil
	}
	if err != nil {
		return nil, err
	}
	return out, nil
}

// report applies an entry, unless its person has reported too much lately.
func (t *tx) report(entry domain.Entry) (domain.Outcome, error) {
	out, err := t.apply(entry)
	if err != nil || out.Repeated || out.Joined || domain.TakenAlways(entry, out) {
		return out, err
	}
	var many int
	if found, err := t.row([]any{&many}, `SELECT 1 WHERE
		EXISTS (SELECT 1 FROM fact WHERE shop_id = ?1 AND by_id = ?2 AND recorded > ?3 LIMIT 1 OFFSET ?4) OR
		EXISTS (SELECT 1 FROM fact WHERE shop_id = ?1 AND by_id = ?2 AND recorded > ?5 LIMIT 1 OFFSET ?6)`,
		t.shop, entry.By, stamp(entry.Recorded.Add(-time.Minute)), domain.MostInMinute,
		stamp(entry.Recorded.Add(-24*time.Hour)), domain.MostInDay); err != nil {
		return out, fmt.Errorf("count the reports of one person: %w", err)
	} else if found {
		return out, &domain.Refusal{Code: domain.TooMany}
	}
	return out, nil
}

// apply applies an entry: what it says is written, and what follows from it.
func (t *tx) apply(entry domain.Entry) (domain.Outcome, error) {
	var out domain.Outcome
	t.prev, t.wake = nil, nil // of a report before in the same transaction
	// An entry that came before is not applied again.
	if t.replayCheck {
		if out, again, err := t.again(entry); err != nil || again {
			return out, err
		}
	}
	if entry.Pending != "" {
		if err := t.use(entry.Pending, entry.Key, entry.Recorded); err != nil {
			return out, err
		}
	}
	if w, ok := entry.Body.(domain.Withdrawal); ok {
		f, err := t.withdrawable(w.Of)
		if err != nil {
			return out, err
		}
		entry.Machine = f.Machine
	}
	// What the machine's state does not allow is refused.
	var prev *domain.Snapshot // the machine's before the fact
	fact := domain.Fact{Machine: entry.Machine, At: entry.At, Recorded: entry.Recorded, By: entry.By, For: entry.For,
		Body: entry.Body}
	if entry.Machine != 0 {
		snap, err := t.snapshotForReport(entry.Machine)
		if err != nil {
			return out, err
		}
		prev, t.prev = &snap, &snap
		machine := snap.Machine
		switch {
		case !machine.Retired.IsZero():
			return out, &domain.Refusal{Code: domain.MachineIsRetired, Name: machine.Name}
		case entry.SetupRev != 0 && entry.SetupRev != machine.Setup.Rev:
			return out, &domain.Refusal{Code: domain.SetupChangedNow, Name: machine.Name}
		}
		out.Before = domain.Assess(snap, entry.Recorded)
		if entry.Next, err = t.next(machine, entry.Body); err != nil {
			return out, err
		}
		if r := domain.Admit(out.Before, entry); r != nil {
			return out, r
		}
		if err := t.allowed(snap, entry); err != nil {
			return out, err
		}
		if joined, ok := domain.Joins(out.Before, entry); ok {
			// What came before joins nothing: it is what it was.
			if !t.replayCheck {
				if before, again, err := t.again(entry); err != nil || again {
					return before, err
				}
			}
			out.Joined, out.Full, out.After = true, joined.Full, out.Before
			if out.Fact, err = t.fact(joined.Fact); err == nil {
				err = t.booked(entry, out)
			}
			return out, err
		}
		fact.Hash, fact.SetupRev = machine.Setup.Hash, machine.Setup.Rev
		fact.Body = domain.Complete(out.Before, entry)
	}
	// The fact is written, and what is derived from it.
	if body, ok := entry.Body.(domain.MachineAdded); ok {
		id, err := t.newMachine(body, entry.Recorded)
		if err != nil {
			return out, err
		}
		fact.Machine, fact.Hash, fact.SetupRev = id, body.Setup.Hash, body.Setup.Rev
	}
	if err := t.addFact(&fact, entry.Key, entry.Typed); err != nil {
		return out, err
	}
	if err := t.derive(fact); err != nil {
		return out, err
	}
	out.Fact = fact
	// What a report shows beside what it says is a fact of its own.
	if shown, ok := domain.ShowsCare(out.Before, entry, fact.No); ok {
		also := domain.Fact{Machine: fact.Machine, At: entry.Recorded, Recorded: entry.Recorded, For: entry.For,
			Hash:     fact.Hash,
			SetupRev: fact.SetupRev, Body: shown}
		if err := t.addOwn(also); err != nil {
			return out, err
		}
	}
	if set, ok := fact.Body.(domain.ShopSet); ok {
		return out, t.judgeAgain(set.Shop, entry.Recorded)
	}
	if fact.Machine == 0 {
		return out, nil
	}
	// What the machine's new state demands is done.
	now, err := t.after(prev, fact)
	if err != nil {
		return out, err
	}
	out.After, err = t.settle(now, entry.Recorded, &out.Before, &fact)
	out.Hung = newTags(out.Before.Tags, out.After.Tags)
	if err == nil {
		err = t.booked(entry, out)
	}
	return out, err
}

// judgeAgain has all of a shop judged again by new settings.
func (t *tx) judgeAgain(settings domain.Shop, now time.Time) error {
	// What is due hangs on the shop's calendar.
	if err := t.exec(`UPDATE machine SET wake = ? WHERE shop_id = ? AND retired IS NULL`, stamp(now),
		t.shop); err != nil {
		return err
	}
	// What kept a notice from the channel may be mended: it is tried again.
	if err := t.retryNotices(); err != nil {
		return err
	}
	return t.nextDigest(settings, now)
}

// next is a machine as the set-up that a body says makes it, nil for other bodies; a
// *domain.Refusal where the set-up is not the one that comes next.
func (t *tx) next(machine domain.Machine, body domain.Body) (*domain.Machine, error) {
	rev := machine.Setup.Rev
	switch b := body.(type) {
	case domain.SetupChanged:
		machine.Setup = b.Setup
	case domain.LooseningAsked:
		machine.Setup = b.Setup
	default:
		return nil, nil
	}
	if machine.Setup.Rev != rev+1 {
		return nil, &domain.Refusal{Code: domain.SetupChangedNow, Name: machine.Name}
	}
	loaded, err := t.loaded(machine.Setup)
	if err != nil {
		return nil, err
	}
	if machine.Profile, err = machine.Setup.Own(loaded); err != nil {
		return nil, fmt.Errorf("put what would be the own values of %s into its profile: %w", machine.Name, err)
	}
	return &machine, nil
}

// again is the outcome of an entry that came before; ok is false for one that did not.
func (t *tx) again(entry domain.Entry) (out domain.Outcome, ok bool, err error) {
	no, err := t.applied(entry.Key)
	if err != nil || no == 0 {
		return out, false, err
	}
	if out, err = t.repeated(no, entry.Recorded); err == nil {
		err = t.booked(entry, out)
	}
	return out, true, err
}

// after is a machine's snapshot after a fact; prev is that before it, nil for a
// machine that was not there.
func (t *tx) after(prev *domain.Snapshot, f domain.Fact) (domain.Snapshot, error) {
	if prev == nil {
		return t.snapshot(f.Machine)
	}
	return t.refresh(*prev, f)
}

// repeated is the outcome of an entry that was applied before.
func (t *tx) repeated(no domain.FactNo, now time.Time) (domain.Outcome, error) {
	fact, err := t.fact(no)
	out := domain.Outcome{Fact: fact, Repeated: true}
	if err != nil || fact.Machine == 0 {
		return out, err
	}
	snap, err := t.snapshot(fact.Machine)
	if err != nil {
		return out, err
	}
	out.After = domain.Assess(snap, now)
	out.Before = out.After
	return out, nil
}

// newTags are the tags of after that before lacks.
func newTags(before, after []domain.Tag) []domain.Tag {
	had := map[domain.FactNo]bool{}
	for _, t := range before {
		had[t.Fact] = true
	}
	var hung []domain.Tag
	for _, t := range after {
		if !had[t.Fact] {
			hung = append(hung, t)
		}
	}
	return hung
}
