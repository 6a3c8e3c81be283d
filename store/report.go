package store

import (
	"context"
	"encoding/json"
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
func (t *tx) report(e domain.Entry) (domain.Outcome, error) {
	out, err := t.apply(e)
	if err != nil || out.Repeated || out.Joined || domain.TakenAlways(e, out) {
		return out, err
	}
	var many int
	if found, err := t.row([]any{&many}, `SELECT 1 WHERE
		EXISTS (SELECT 1 FROM fact WHERE shop_id = ?1 AND by_id = ?2 AND recorded > ?3 LIMIT 1 OFFSET ?4) OR
		EXISTS (SELECT 1 FROM fact WHERE shop_id = ?1 AND by_id = ?2 AND recorded > ?5 LIMIT 1 OFFSET ?6)`,
		t.shop, e.By, stamp(e.Recorded.Add(-time.Minute)), domain.MostInMinute,
		stamp(e.Recorded.Add(-24*time.Hour)), domain.MostInDay); err != nil {
		return out, fmt.Errorf("count the reports of one person: %w", err)
	} else if found {
		return out, &domain.Refusal{Code: domain.TooMany}
	}
	return out, nil
}

// apply applies an entry: what it says is written, and what follows from it.
func (t *tx) apply(e domain.Entry) (domain.Outcome, error) {
	var out domain.Outcome
	t.prev, t.wake = nil, nil // of a report before in the same transaction
	// An entry that came before is not applied again.
	if t.replayCheck {
		if out, again, err := t.again(e); err != nil || again {
			return out, err
		}
	}
	if e.Pending != "" {
		if err := t.use(e.Pending, e.Key, e.Recorded); err != nil {
			return out, err
		}
	}
	if w, ok := e.Body.(domain.Withdrawal); ok {
		f, err := t.withdrawable(w.Of)
		if err != nil {
			return out, err
		}
		e.Machine = f.Machine
	}
	// What the machine's state does not allow is refused.
	var prev *domain.Snapshot // the machine's before the fact
	fact := domain.Fact{Machine: e.Machine, At: e.At, Recorded: e.Recorded, By: e.By, For: e.For, Body: e.Body}
	if e.Machine != 0 {
		snap, err := t.snapshotForReport(e.Machine)
		if err != nil {
			return out, err
		}
		prev, t.prev = &snap, &snap
		machine := snap.Machine
		switch {
		case !machine.Retired.IsZero():
			return out, &domain.Refusal{Code: domain.MachineIsRetired, Name: machine.Name}
		case e.SetupRev != 0 && e.SetupRev != machine.Setup.Rev:
			return out, &domain.Refusal{Code: domain.SetupChangedNow, Name: machine.Name}
		}
		out.Before = domain.Assess(snap, e.Recorded)
		if e.Next, err = t.next(machine, e.Body); err != nil {
			return out, err
		}
		if r := domain.Admit(out.Before, e); r != nil {
			return out, r
		}
		if err := t.allowed(snap, e); err != nil {
			return out, err
		}
		if joined, ok := domain.Joins(out.Before, e); ok {
			// What came before joins nothing: it is what it was.
			if !t.replayCheck {
				if before, again, err := t.again(e); err != nil || again {
					return before, err
				}
			}
			out.Joined, out.Full, out.After = true, joined.Full, out.Before
			if out.Fact, err = t.fact(joined.Fact); err == nil {
				err = t.booked(e, out)
			}
			return out, err
		}
		fact.Hash, fact.SetupRev = machine.Setup.Hash, machine.Setup.Rev
		fact.Body = domain.Complete(out.Before, e)
	}
	// The fact is written, and what is derived from it.
	if b, ok := e.Body.(domain.MachineAdded); ok {
		id, err := t.newMachine(b, e.Recorded)
		if err != nil {
			return out, err
		}
		fact.Machine, fact.Hash, fact.SetupRev = id, b.Setup.Hash, b.Setup.Rev
	}
	if err := t.addFact(&fact, e.Key, e.Typed); err != nil {
		return out, err
	}
	if err := t.derive(fact); err != nil {
		return out, err
	}
	out.Fact = fact
	// What a report shows beside what it says is a fact of its own.
	if shown, ok := domain.ShowsCare(out.Before, e, fact.No); ok {
		also := domain.Fact{Machine: fact.Machine, At: e.Recorded, Recorded: e.Recorded, For: e.For, Hash: fact.Hash,
			SetupRev: fact.SetupRev, Body: shown}
		if err := t.addFact(&also, "", ""); err != nil {
			return out, err
		}
		if err := t.derive(also); err != nil {
			return out, err
		}
	}
	if set, ok := fact.Body.(domain.ShopSet); ok {
		// What is due hangs on the shop's calendar: all are judged again.
		if err := t.exec(`UPDATE machine SET wake = ? WHERE shop_id = ? AND retired IS NULL`, stamp(e.Recorded),
			t.shop); err != nil {
			return out, err
		}
		// What kept a notice from the channel may be mended: it is tried again.
		if err := t.retryNotices(); err != nil {
			return out, err
		}
		return out, t.nextDigest(set.Shop, e.Recorded)
	}
	if fact.Machine == 0 {
		return out, nil
	}
	// What the machine's new state demands is done.
	now, err := t.after(prev, fact)
	if err != nil {
		return out, err
	}
	out.After, err = t.settle(now, e.Recorded, &out.Before, &fact)
	out.Hung = newTags(out.Before.Tags, out.After.Tags)
	if err == nil {
		err = t.booked(e, out)
	}
	return out, err
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
func (t *tx) again(e domain.Entry) (out domain.Outcome, ok bool, err error) {
	no, err := t.applied(e.Key)
	if err != nil || no == 0 {
		return out, false, err
	}
	if out, err = t.repeated(no, e.Recorded); err == nil {
		err = t.booked(e, out)
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
	f, err := t.fact(no)
	out := domain.Outcome{Fact: f, Repeated: true}
	if err != nil || f.Machine == 0 {
		return out, err
	}
	snap, err := t.snapshot(f.Machine)
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

// withdrawable finds the fact that a withdrawal voids, or refuses.
func (t *tx) withdrawable(no domain.FactNo) (domain.Fact, error) {
	fact, err := t.fact(no)
	if err != nil {
		return fact, err
	}
	if fact.Withdrawn != 0 {
		return fact, &domain.Refusal{Code: domain.WithdrawnBefore, Fact: no}
	}
	if fact.Withdrawable() {
		return fact, nil
	}
	return fact, &domain.Refusal{Code: domain.NotWithdrawable, Fact: no}
}

// allowed refuses what the machine's facts do not allow.
func (t *tx) allowed(snap domain.Snapshot, e domain.Entry) error {
	switch body := e.Body.(type) {
	case domain.Hours:
		if e.Sure {
			return nil
		}
		runs, err := t.runs(e.Machine, e.At.Add(-48*time.Hour), e.At.Add(48*time.Hour))
		if err != nil {
			return err
		}
		if r := domain.CheckRun(snap.Shop, snap.Machine.Name,
			domain.Run{For: e.For, Until: e.At, Used: time.Duration(body.Seconds) * time.Second}, runs); r != nil {
			return r
		}
	case domain.ReadingConfirmed:
		for _, w := range snap.Waiting {
			if w.Fact == body.Of {
				return nil
			}
		}
		return &domain.Refusal{Code: domain.ConfirmedBefore, Fact: body.Of}
	case domain.Move:
		l := snap.Latest[body.Check]
		if l.Fact != body.Reading || snap.Moved[body.Check].At.After(l.At) {
			return &domain.Refusal{Code: domain.ReadingMovedOn, Fact: body.Reading}
		}
	case domain.MoveAnswer:
		f, err := t.fact(body.Of)
		if err != nil {
			return err
		}
		if m, ok := f.Body.(domain.Move); !ok || f.Machine != snap.Machine.ID || m.Check != body.Check ||
			f.Withdrawn != 0 {
			return &domain.Refusal{Code: domain.NoSuchFact, Fact: body.Of}
		}
	case domain.Mistake:
		return t.nothingSince(snap.Machine, body.Of)
	case domain.Withdrawal:
		// What was put in force, or overtaken, is not taken back by it.
		f, err := t.fact(body.Of)
		if err != nil {
			return err
		}
		if asked, ok := f.Body.(domain.LooseningAsked); ok && asked.Setup.Rev <= snap.Machine.Setup.Rev {
			return &domain.Refusal{Code: domain.NotWithdrawable, Fact: body.Of}
		}
		if off, ok := f.Body.(domain.LockOff); ok {
			return t.lockLifted(snap.Machine, off.Tag)
		}
	}
	return nil
}

// Runs lists the times for which a machine ran that ended from one moment until
// before another, in the order in which they ended.
func (s *Shop) Runs(ctx context.Context, m domain.MachineID, from, until time.Time) (all []domain.Run, err error) {
	err = s.db.look(ctx, s.id, func(t *tx) (err error) { all, err = t.runs(m, from, until); return err })
	return all, err
}

// Sessions counts the runs of each machine in use that ended from one moment until
// before another.
func (s *Shop) Sessions(ctx context.Context, from, until time.Time) (map[domain.MachineID]int, error) {
	listed, err := s.list(ctx)
	if err != nil {
		return nil, err
	}
	all := map[domain.MachineID]int{}
	err = s.db.look(ctx, s.id, func(t *tx) error {
		for _, machine := range listed.machines {
			var runs int
			if _, err := t.row([]any{&runs}, `SELECT count(*) FROM fact WHERE shop_id = ? AND machine_id = ?
				AND kind = 'hours' AND subject = '' AND withdrawn = 0 AND believed = 1
				AND at >= ? AND at < ?`, t.shop, machine.ID, stamp(from), stamp(until)); err != nil {
				return err
			}
			all[machine.ID] = runs
		}
		return nil
	})
	return all, err
}

func (t *tx) runs(m domain.MachineID, from, until time.Time) (all []domain.Run, err error) {
	var r domain.Run
	var end, seconds int64
	err = t.rows([]any{&r.Fact, &r.For, &end, &seconds}, func() error {
		r.Until, r.Used = moment(end), time.Duration(seconds)*time.Second
		all = append(all, r)
		return nil
	}, `SELECT no, for_id, at, seconds FROM fact WHERE shop_id = ? AND machine_id = ? AND kind = 'hours'
		AND subject = '' AND withdrawn = 0 AND believed = 1
		AND at >= ? AND at < ? ORDER BY at, no`, t.shop, m, stamp(from), stamp(until))
	return all, err
}

// newMachine adds a machine's row, so that its first fact can name it.
func (t *tx) newMachine(b domain.MachineAdded, now time.Time) (id domain.MachineID, err error) {
	setup, err := json.Marshal(b.Setup)
	if err != nil {
		return 0, fmt.Errorf("store: encode a machine's set-up: %w", err)
	}
	var other string
	if found, err := t.row([]any{&other},
		`SELECT name FROM machine WHERE shop_id = ? AND folded = ? AND retired IS NULL`, t.shop,
		domain.Folded(b.Name)); err != nil {
		return 0, err
	} else if found {
		return 0, &domain.Refusal{Code: domain.MachineTwice, Name: other}
	}
	if b.Setup.Start.State == domain.StartInUse {
		if err := t.retiredWell(b.Name); err != nil {
			return 0, err
		}
	}
	if _, err := t.row([]any{&id}, `SELECT coalesce(max(machine_id), 0) + 1 FROM machine WHERE shop_id = ?`,
		t.shop); err != nil {
		return 0, err
	}
	units := ""
	if b.Units != 0 {
		units = b.Units.String()
	}
	if err := t.exec(`INSERT INTO machine (shop_id, machine_id, name, folded, units, added, setup)
		VALUES (?, ?, ?, ?, ?, ?, ?)`,
		t.shop, id, b.Name, domain.Folded(b.Name), units, stamp(now), string(setup)); err != nil {
		return 0, err
	}
	s, err := t.settings()
	if err != nil {
		return 0, err
	}
	return id, t.nextDigest(s, now)
}

// Settle judges a machine again, hangs the tags that are demanded, owes the
// notices, and stores when to judge it next.
func (db *DB) Settle(ctx context.Context, shop domain.ShopID, m domain.MachineID, now time.Time) (st domain.Status,
	err error) {
	err = db.write(ctx, shop, func(t *tx) error {
		snap, err := t.snapshot(m)
		if err != nil {
			return err
		}
		if t.catchingUp, err = t.missed(m, now); err != nil {
			return err
		}
		st, err = t.settle(snap, now, nil, nil)
		return err
	})
	return st, err
}

// missed reports whether a machine's wake was missed by an hour and more, and a
// digest is due that will say what fell due meanwhile.
func (t *tx) missed(m domain.MachineID, now time.Time) (bool, error) {
	var wake *int64
	if _, err := t.row([]any{&wake}, `SELECT wake FROM machine WHERE shop_id = ? AND machine_id = ?`, t.shop,
		m); err != nil || wake == nil {
		return false, err
	}
	next, err := t.digestDue()
	return now.Sub(moment(*wake)) > time.Hour && !next.IsZero() && !next.After(now), err
}

// settle is the end of every transaction about a machine: what its new state,
// snap, demands is done. before is its status before f was reported; both are nil in
// a sweep.
func (t *tx) settle(snap domain.Snapshot, now time.Time, before *domain.Status, f *domain.Fact) (domain.Status, error) {
	// Tags are hung until none more is demanded.
	var st domain.Status
	id := snap.Machine.ID
	for {
		st = domain.Assess(snap, now)
		if before == nil {
			first := st
			before = &first
		}
		if len(st.MustTag) == 0 || !snap.Machine.Retired.IsZero() {
			break
		}
		// A hung tag keeps its cause from demanding another, so this ends.
		for _, c := range st.MustTag {
			tag := domain.Fact{Machine: id, At: now, Recorded: now, Hash: snap.Machine.Setup.Hash,
				SetupRev: snap.Machine.Setup.Rev,
				Body:     domain.TagOut{Cause: c.Key, Because: c.Because, Reason: c.Reason}}
			if err := t.addFact(&tag, "", ""); err != nil {
				return st, err
			}
			if err := t.derive(tag); err != nil {
				return st, err
			}
		}
		var err error
		if snap, err = t.snapshot(id); err != nil {
			return st, err
		}
	}
	// A test whose time has run out ends by itself.
	if over := st.TestOver; over != nil {
		ended := domain.Fact{Machine: id, At: now, Recorded: now, Hash: snap.Machine.Setup.Hash,
			SetupRev: snap.Machine.Setup.Rev, Body: domain.TestEnded{Test: over.Fact}}
		if err := t.addFact(&ended, "", ""); err != nil {
			return st, err
		}
		if err := t.derive(ended); err != nil {
			return st, err
		}
		var err error
		if snap, err = t.snapshot(id); err != nil {
			return st, err
		}
		st = domain.Assess(snap, now)
	}
	// What was mended is over; that a problem is closed asks for nothing more.
	for _, b := range st.Over {
		over := domain.Fact{Machine: id, At: now, Recorded: now, Hash: snap.Machine.Setup.Hash,
			SetupRev: snap.Machine.Setup.Rev, Body: b}
		if err := t.addFact(&over, "", ""); err != nil {
			return st, err
		}
		if err := t.derive(over); err != nil {
			return st, err
		}
	}
	if len(st.Over) > 0 {
		var err error
		if snap, err = t.snapshot(id); err != nil {
			return st, err
		}
		st = domain.Assess(snap, now)
	}
	// What must be said is owed, and when to judge it next is stored.
	for _, n := range domain.Owed(*before, st, f) {
		if err := t.owe(snap.Shop, n, now); err != nil {
			return st, err
		}
	}
	wake := st.Wake
	if !st.Machine.Retired.IsZero() {
		wake = time.Time{}
	}
	if t.wake == nil || !t.wake.Equal(wake) {
		if err := t.exec(`UPDATE machine SET wake = ? WHERE shop_id = ? AND machine_id = ?`, stampOrNull(wake),
			t.shop, id); err != nil {
			return st, err
		}
	}
	return st, t.keepSnapshot(snap, wake)
}
