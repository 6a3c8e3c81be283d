package store

import (
	"setscrew/domain"
)

// lockSteps are the reports by which the taking off of a lock has come so far, 0 for none.
type lockSteps struct{ asked, noted, off domain.FactNo }

// lock is how far the taking off of a lock has come.
func (t *tx) lock(steps lockSteps) (lock domain.Lock, err error) {
	for _, step := range []struct {
		no domain.FactNo
		to *domain.LockStep
	}{{steps.asked, &lock.Asked}, {steps.noted, &lock.Noted}, {steps.off, &lock.Off}} {
		if step.no == 0 {
			continue
		}
		fact, err := t.fact(step.no)
		if err != nil {
			return lock, err
		}
		*step.to = domain.LockStep{Fact: fact.No, By: fact.By, At: fact.Recorded}
		switch body := fact.Body.(type) {
		case domain.LockAsked:
			step.to.Until = body.Until
		case domain.LockProcedure:
			step.to.Until, step.to.Note = body.Alone, body.Note
		}
	}
	return lock, nil
}

// lockStands picks a machine's tag that stands: numbers come from buttons too.
const lockStands = ` WHERE shop_id = ? AND machine_id = ? AND fact_no = ? AND lifted_by = 0`

// replaceLocks lifts the tags of a person's locks that came off a machine, once a new lock
// of theirs stands for them: so one person leaves one such tag, however often they work in
// it.
func (t *tx) replaceLocks(f domain.Fact) error {
	return t.exec(`UPDATE tag SET lifted_by = ? WHERE shop_id = ? AND machine_id = ? AND by_id = ? AND lifted_by = 0
		AND off <> 0`, f.No, t.shop, f.Machine, f.For)
}

// addLockAsked begins the procedure.
func (t *tx) addLockAsked(f domain.Fact, b domain.LockAsked) error {
	return t.exec(`UPDATE tag SET asked = ?`+lockStands, f.No, t.shop, f.Machine, b.Tag)
}

// addLockKept ends the procedure; the lock stays on.
func (t *tx) addLockKept(f domain.Fact, b domain.LockKept) error {
	return t.exec(`UPDATE tag SET asked = 0, noted = 0`+lockStands, t.shop, f.Machine, b.Tag)
}

func (t *tx) addLockProcedure(f domain.Fact, b domain.LockProcedure) error {
	return t.exec(`UPDATE tag SET noted = ?`+lockStands, f.No, t.shop, f.Machine, b.Tag)
}

func (t *tx) addLockOff(f domain.Fact, b domain.LockOff) error {
	return t.exec(`UPDATE tag SET off = ?`+lockStands, f.No, t.shop, f.Machine, b.Tag)
}

// undoLockAsked takes back that the owner was asked, with all that rests on it.
func (t *tx) undoLockAsked(f, _ domain.Fact, b domain.LockAsked) error {
	return t.backOn(f, b.Tag, func(s lockSteps) (lockSteps, bool) { return lockSteps{}, s.asked == f.No })
}

// undoLockProcedure takes back what was noted; its owner was asked all the same.
func (t *tx) undoLockProcedure(f, _ domain.Fact, b domain.LockProcedure) error {
	return t.backOn(f, b.Tag, func(s lockSteps) (lockSteps, bool) { return lockSteps{asked: s.asked}, s.noted == f.No })
}

// undoLockOff puts a lock on again; the procedure begins from the start.
func (t *tx) undoLockOff(f, _ domain.Fact, b domain.LockOff) error {
	return t.backOn(f, b.Tag, func(s lockSteps) (lockSteps, bool) { return lockSteps{}, s.off == f.No })
}

// backOn leaves of the steps about a lock what is left where one that counts is taken
// back. The lock is on again if it came off by that, and what runs under test then ends;
// one that its owner took off stays off.
func (t *tx) backOn(f domain.Fact, tag domain.FactNo, left func(lockSteps) (after lockSteps, counts bool)) error {
	var steps lockSteps
	var lifted bool
	found, err := t.row([]any{&steps.asked, &steps.noted, &steps.off, &lifted},
		`SELECT asked, noted, off, lifted_by <> 0 FROM tag WHERE shop_id = ? AND machine_id = ? AND fact_no = ?`,
		t.shop, f.Machine, tag)
	if err != nil || !found {
		return err
	}
	after, counts := left(steps)
	if !counts {
		return nil
	}
	if steps.off != 0 && steps.off != f.No {
		fact, err := t.fact(steps.off)
		if err != nil {
			return err
		}
		if off, ok := fact.Body.(domain.LockOff); !ok || off.Procedure == 0 {
			return nil
		}
	}
	if steps.off != 0 && !lifted {
		if err := t.endTest(f.Machine); err != nil {
			return err
		}
	}
	return t.exec(`UPDATE tag SET asked = ?, noted = ?, off = ? WHERE shop_id = ? AND fact_no = ?`, after.asked,
		after.noted, after.off, t.shop, tag)
}

// addMistake lifts the tag of a stop that was pressed by mistake.
func (t *tx) addMistake(f domain.Fact, b domain.Mistake) error {
	return t.exec(`UPDATE tag SET lifted_by = ?`+lockStands, f.No, t.shop, f.Machine, b.Of)
}

// nothingSince refuses to take back a stop after which a person reported anything else of
// the machine. The reports since it are few: it is taken back within minutes.
func (t *tx) nothingSince(machine domain.Machine, stop domain.FactNo) error {
	var no domain.FactNo
	found, err := t.row([]any{&no}, `SELECT no FROM fact WHERE shop_id = ? AND no > ? AND machine_id = ?
		AND by_id <> '' ORDER BY no LIMIT 1`, t.shop, stop, machine.ID)
	if err == nil && found {
		return &domain.Refusal{Code: domain.MistakeSince, Name: machine.Name, Fact: no}
	}
	return err
}
