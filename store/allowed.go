package store

import (
	"time"

	"setscrew/domain"
)

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
func (t *tx) allowed(snap domain.Snapshot, entry domain.Entry) error {
	switch body := entry.Body.(type) {
	// A run that nobody can have made.
	case domain.Hours:
		if entry.Sure {
			return nil
		}
		runs, err := t.runs(entry.Machine, entry.At.Add(-48*time.Hour), entry.At.Add(48*time.Hour))
		if err != nil {
			return err
		}
		if r := domain.CheckRun(snap.Shop, snap.Machine.Name,
			domain.Run{For: entry.For, Until: entry.At, Used: time.Duration(body.Seconds) * time.Second},
			runs); r != nil {
			return r
		}
	// What is confirmed waits for it.
	case domain.ReadingConfirmed:
		for _, w := range snap.Waiting {
			if w.Fact == body.Of {
				return nil
			}
		}
		return &domain.Refusal{Code: domain.ConfirmedBefore, Fact: body.Of}
	// A move is planned from the reading that holds now.
	case domain.Move:
		l := snap.Latest[body.Check]
		if l.Fact != body.Reading || snap.Moved[body.Check].At.After(l.At) {
			return &domain.Refusal{Code: domain.ReadingMovedOn, Fact: body.Reading}
		}
	// What is said is about a move of that check.
	case domain.MoveAnswer:
		fact, err := t.fact(body.Of)
		if err != nil {
			return err
		}
		if m, ok := fact.Body.(domain.Move); !ok || fact.Machine != snap.Machine.ID || m.Check != body.Check ||
			fact.Withdrawn != 0 {
			return &domain.Refusal{Code: domain.NoSuchFact, Fact: body.Of}
		}
	case domain.Mistake:
		return t.nothingSince(snap.Machine, body.Of)
	case domain.Withdrawal:
		// What was put in force, or overtaken, is not taken back by it.
		moved, err := t.fact(body.Of)
		if err != nil {
			return err
		}
		if refusal := domain.AdmitWithdrawal(moved, entry, body); refusal != nil {
			return refusal
		}
		if asked, ok := moved.Body.(domain.LooseningAsked); ok && asked.Setup.Rev <= snap.Machine.Setup.Rev {
			return &domain.Refusal{Code: domain.NotWithdrawable, Fact: body.Of}
		}
		if off, ok := moved.Body.(domain.LockOff); ok {
			return t.lockLifted(snap.Machine, off.Tag)
		}
	}
	return nil
}
