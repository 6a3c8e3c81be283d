package store

import (
	"encoding/json"
	"fmt"

	"setscrew/domain"
)

// derivation is what a kind of fact changes beside the facts: add for a new one, and
// undo for one that is withdrawn, nil for a kind that is not. The last fact about each
// subject is kept by derive and withdraw themselves; last puts it into a snapshot, nil
// for a kind of which none is kept.
type derivation struct {
	add  func(t *tx, f domain.Fact) error
	undo func(t *tx, f, by domain.Fact) error // by is the withdrawal
	last func(t *tx, snap *domain.Snapshot, kept keptLast) error
}

// newDerived is what is derived from facts, by kind: every kind has its entry, and a
// test fails where one is missing.
func newDerived() map[domain.Kind]derivation {
	nothing := derivation{
		add:  func(*tx, domain.Fact) error { return nil },
		undo: func(*tx, domain.Fact, domain.Fact) error { return nil },
	}
	work := func(add func(*tx, domain.Fact) error) derivation {
		return derivation{add: add, undo: func(t *tx, f, _ domain.Fact) error {
			if err := t.putBack(f); err != nil {
				return err
			}
			return t.unmove(f)
		}}
	}
	// By kind: use and readings, problems, work, the shelf and plans.
	all := map[domain.Kind]derivation{
		domain.KindHours: {add: adding((*tx).addHours), undo: undoing((*tx).undoHours)},
		domain.KindCounter: {add: adding((*tx).addCounter), undo: undoing((*tx).undoCounter),
			last: reading(lastCounter)},
		domain.KindReading: nothing,
		domain.KindInspection: work(adding(func(t *tx, f domain.Fact, b domain.Inspection) error {
			return t.addMoved(f, b.Surfaces...)
		})),
		domain.KindConfirmation: {add: adding((*tx).addConfirmation), undo: undoing((*tx).undoConfirmation)},
		domain.KindProblem:      {add: adding((*tx).addProblem), undo: undoing((*tx).undoProblem)},
		domain.KindMended: {add: adding((*tx).addMended), undo: undoing((*tx).undoMended),
			last: counting(func(snap *domain.Snapshot) map[string]domain.LastService { return snap.Mends })},
		domain.KindFound: nothing,
		domain.KindService: work(adding(func(t *tx, f domain.Fact, b domain.ServiceDone) error {
			return t.addWork(f, b.Surfaces, b.Took)
		})).keeping(counting(func(snap *domain.Snapshot) map[string]domain.LastService { return snap.Services })),
		domain.KindEvent: work(adding(func(t *tx, f domain.Fact, b domain.EventSeen) error {
			return t.addWork(f, b.Surfaces, b.Took)
		})).keeping(counting(func(snap *domain.Snapshot) map[string]domain.LastService { return snap.Events })),
		domain.KindPutOff:   nothing.keeping(reading(lastPutOff)),
		domain.KindExtended: nothing.keeping(reading(lastExtended)),
		domain.KindTaken:    nothing.keeping(reading(lastTaken)),
		domain.KindHandover: work(adding(func(t *tx, f domain.Fact, b domain.Handover) error {
			return t.addMoved(f, b.Surfaces...)
		})).keeping(reading(lastHandover)),
		domain.KindTakenOver: nothing.keeping(reading(lastTakenOver)),
		domain.KindMove: {add: adding(func(t *tx, f domain.Fact, b domain.Move) error {
			return t.addMoved(f, append([]string{b.Check}, b.Also...)...)
		}), undo: func(t *tx, f, _ domain.Fact) error { return t.unmove(f) }},
		domain.KindMoveAnswer: nothing,
		domain.KindStock:      nothing,
		domain.KindSet:        nothing.keeping(reading(lastSet)),
		domain.KindVisits:     nothing,
		domain.KindLoosening:  nothing.keeping(reading(lastLoosening)),
		// A tag that rests on what is withdrawn stays, marked; only a release lifts it.
		domain.KindTagOut:        {add: adding((*tx).hang), undo: nothing.undo},
		domain.KindMistake:       {add: adding((*tx).addMistake)},
		domain.KindLockAsked:     {add: adding((*tx).addLockAsked), undo: undoing((*tx).undoLockAsked)},
		domain.KindLockKept:      {add: adding((*tx).addLockKept)},
		domain.KindLockProcedure: {add: adding((*tx).addLockProcedure), undo: undoing((*tx).undoLockProcedure)},
		domain.KindLockOff:       {add: adding((*tx).addLockOff), undo: undoing((*tx).undoLockOff)},
		domain.KindTest: {add: func(t *tx, f domain.Fact) error {
			return t.exec(`UPDATE machine SET test = ? WHERE shop_id = ? AND machine_id = ?`, f.No, t.shop, f.Machine)
		}},
		domain.KindTestEnded:   {add: func(t *tx, f domain.Fact) error { return t.endTest(f.Machine) }},
		domain.KindTestRenewed: {add: nothing.add, last: reading(lastTestRenewed)},
		domain.KindSeenTo:      nothing.keeping(reading(lastSeenTo)),
		domain.KindRelease: {add: (*tx).addRelease, undo: func(t *tx, f, by domain.Fact) error {
			return t.unrelease(by, f)
		}, last: lastRelease},
		domain.KindTicked: {add: adding((*tx).addTicked), undo: nothing.undo, last: lastTicked},
		domain.KindWithdrawal: {add: adding(func(t *tx, f domain.Fact,
			b domain.Withdrawal) error {
			return t.withdraw(f, b.Of)
		})},
		// The shop itself, its machines and gauges.
		domain.KindShop:         {add: adding((*tx).addSettings)},
		domain.KindAway:         {add: adding((*tx).addAway)},
		domain.KindMachine:      {add: nothing.add}, // its row is made before the fact, which names it
		domain.KindSetup:        {add: adding((*tx).addSetup)},
		domain.KindRetired:      {add: (*tx).addRetired},
		domain.KindGauge:        {add: adding((*tx).addGauge)},
		domain.KindStudy:        {add: nothing.add},
		domain.KindStudyReading: nothing,
	}
	// A kind that is left out would be stored, and change nothing.
	for _, kind := range domain.Kinds() {
		if _, known := all[kind]; !known {
			panic("store: nobody says what facts of kind " + string(kind) + " change beside the facts")
		}
	}
	// One that is kept and not read would be kept for nothing.
	for _, kind := range domain.KindsKeptLast() {
		if all[kind].last == nil {
			panic("store: nobody says how the last fact of kind " + string(kind) + " goes into a snapshot")
		}
	}
	return all
}

// keeping is d for a kind of which the last fact about each subject is kept, which last
// puts into a snapshot.
func (d derivation) keeping(last func(*tx, *domain.Snapshot, keptLast) error) derivation {
	d.last = last
	return d
}

// adding is a derivation's add for bodies of one type.
func adding[B domain.Body](add func(*tx, domain.Fact, B) error) func(*tx, domain.Fact) error {
	return func(t *tx, fact domain.Fact) error {
		b, ok := fact.Body.(B)
		if !ok {
			return fmt.Errorf("no. %d of kind %s holds a %T", fact.No, fact.Body.FactKind(), fact.Body)
		}
		return add(t, fact, b)
	}
}

// undoing is a derivation's undo for bodies of one type.
func undoing[B domain.Body](undo func(t *tx, f, by domain.Fact, b B) error) func(t *tx, f, by domain.Fact) error {
	return func(t *tx, fact, by domain.Fact) error {
		b, ok := fact.Body.(B)
		if !ok {
			return fmt.Errorf("no. %d of kind %s holds a %T", fact.No, fact.Body.FactKind(), fact.Body)
		}
		return undo(t, fact, by, b)
	}
}

func (t *tx) addHours(fact domain.Fact, b domain.Hours) error {
	if err := t.addUse(fact, b.Seconds); err != nil {
		return err
	}
	if t.prev != nil && (t.prev.Counter == nil || t.prev.Counter.At.Before(fact.At)) {
		return nil // no reading of the counter comes after it
	}
	return t.recount(fact.Machine, fact.At, 0, 1)
}

func (t *tx) undoHours(f, _ domain.Fact, b domain.Hours) error {
	if err := t.addUse(f, -b.Seconds); err != nil {
		return err
	}
	return t.recount(f.Machine, f.At, 0, 1)
}

func (t *tx) addCounter(f domain.Fact, b domain.CounterRead) error {
	if err := t.addUse(f, b.Unlogged); err != nil {
		return err
	}
	return t.recount(f.Machine, f.At, f.No, 2) // itself, and the one after it
}

func (t *tx) undoCounter(fact, _ domain.Fact, _ domain.CounterRead) error {
	// What it brought to light by now, which later reports may have moved.
	var unlogged int64
	if _, err := t.row([]any{&unlogged}, `SELECT seconds FROM fact WHERE shop_id = ? AND no = ?`, t.shop,
		fact.No); err != nil {
		return err
	}
	if err := t.addUse(fact, -unlogged); err != nil {
		return err
	}
	return t.recount(fact.Machine, fact.At, fact.No, 1)
}

func (t *tx) addConfirmation(_ domain.Fact, b domain.ReadingConfirmed) error {
	return t.exec(`UPDATE fact SET believed = 1 WHERE shop_id = ? AND no = ?`, t.shop, b.Of)
}

func (t *tx) undoConfirmation(_, _ domain.Fact, b domain.ReadingConfirmed) error {
	return t.exec(`UPDATE fact SET believed = 0 WHERE shop_id = ? AND no = ?`, t.shop, b.Of)
}

func (t *tx) addProblem(fact domain.Fact, problem domain.Problem) error {
	if err := t.exec(`INSERT INTO problem (shop_id, fact_no, machine_id, key, danger) VALUES (?, ?, ?, ?, ?)`,
		t.shop, fact.No, fact.Machine, problem.Key(), problem.Danger); err != nil {
		return err
	}
	return t.addMoved(fact, problem.Surfaces...)
}

func (t *tx) undoProblem(fact, by domain.Fact, _ domain.Problem) error {
	if err := t.exec(`UPDATE problem SET closed_by = ? WHERE shop_id = ? AND fact_no = ?`, by.No, t.shop,
		fact.No); err != nil {
		return err
	}
	return t.unmove(fact)
}

func (t *tx) addMended(f domain.Fact, b domain.Mended) error {
	return t.exec(`UPDATE problem SET closed_by = ?
		WHERE shop_id = ? AND machine_id = ? AND key = ? AND danger = 0
			AND closed_by = 0`, f.No, t.shop, f.Machine, b.Key)
}

func (t *tx) undoMended(f, _ domain.Fact, _ domain.Mended) error {
	return t.exec(`UPDATE problem SET closed_by = 0 WHERE shop_id = ? AND closed_by = ?`, t.shop, f.No)
}

// addWork is for work, which moved surfaces and took from the shelf.
func (t *tx) addWork(f domain.Fact, surfaces []string, took *domain.Took) error {
	if err := t.take(f, took); err != nil {
		return err
	}
	return t.addMoved(f, surfaces...)
}

// addRelease lifts all tags, ends the test and closes the dangers.
func (t *tx) addRelease(fact domain.Fact) error {
	if err := t.exec(`UPDATE tag SET lifted_by = ? WHERE shop_id = ? AND machine_id = ? AND lifted_by = 0`,
		fact.No, t.shop, fact.Machine); err != nil {
		return err
	}
	if err := t.endTest(fact.Machine); err != nil {
		return err
	}
	return t.exec(`UPDATE problem SET closed_by = ? WHERE shop_id = ? AND machine_id = ? AND danger = 1
		AND closed_by = 0`,
		fact.No, t.shop, fact.Machine)
}

// addTicked lifts, with the last tick that was missing, the tags that stood for that, and
// ends the test where no other stands. Withdrawn, the machine is tagged out again by what
// Assess says.
func (t *tx) addTicked(fact domain.Fact, b domain.Ticked) error {
	if !b.Starts {
		return nil
	}
	if err := t.exec(`UPDATE tag SET lifted_by = ? WHERE shop_id = ? AND machine_id = ? AND lifted_by = 0
		AND cause = ?`, fact.No, t.shop, fact.Machine, domain.SettingUpKey); err != nil {
		return err
	}
	return t.exec(`UPDATE machine SET test = 0 WHERE shop_id = ?1 AND machine_id = ?2 AND NOT EXISTS (SELECT 1 FROM tag
		WHERE shop_id = ?1 AND machine_id = ?2 AND lifted_by = 0)`, t.shop, fact.Machine)
}

// addSettings keeps a shop's settings, but for who is away: that is set by itself, perhaps
// at the same time.
func (t *tx) addSettings(_ domain.Fact, shopSet domain.ShopSet) error {
	before, err := t.settings()
	if err != nil {
		return err
	}
	shopSet.Shop.Away = before.Away
	return t.writeSettings(shopSet.Shop)
}

func (t *tx) addAway(fact domain.Fact, awaySet domain.AwaySet) error {
	settings, err := t.settings()
	if err != nil {
		return err
	}
	return t.writeSettings(settings.WithAway(awaySet.Away, fact.Recorded))
}

func (t *tx) writeSettings(shop domain.Shop) error {
	text, err := json.Marshal(shop)
	if err != nil {
		return fmt.Errorf("write the settings: %w", err)
	}
	return t.exec(`INSERT INTO shop (shop_id, settings) VALUES (?, ?)
		ON CONFLICT (shop_id) DO UPDATE SET settings = excluded.settings`, t.shop, string(text))
}

func (t *tx) addSetup(fact domain.Fact, changed domain.SetupChanged) error {
	text, err := json.Marshal(changed.Setup)
	if err != nil {
		return fmt.Errorf("write the set-up: %w", err)
	}
	if err := t.exec(`UPDATE machine SET setup = ? WHERE shop_id = ? AND machine_id = ?`, string(text), t.shop,
		fact.Machine); err != nil {
		return err
	}
	if err := t.exec(`DELETE FROM need WHERE shop_id = ? AND machine_id = ?`, t.shop, fact.Machine); err != nil {
		return err
	}
	for _, other := range changed.Setup.Needs {
		if err := t.exec(`INSERT INTO need (shop_id, machine_id, other_id) VALUES (?, ?, ?) ON CONFLICT DO NOTHING`,
			t.shop, fact.Machine, other); err != nil {
			return err
		}
	}
	return nil
}

func (t *tx) addRetired(f domain.Fact) error {
	return t.exec(`UPDATE machine SET retired = ?, wake = NULL WHERE shop_id = ? AND machine_id = ?`,
		stamp(f.Recorded), t.shop, f.Machine)
}

func (t *tx) addGauge(_ domain.Fact, gaugeSet domain.GaugeSet) error {
	text, err := json.Marshal(gaugeSet.Gauge)
	if err != nil {
		return fmt.Errorf("write the gauge: %w", err)
	}
	return t.exec(`INSERT INTO gauge (shop_id, folded, gauge) VALUES (?, ?, ?)
		ON CONFLICT (shop_id, folded) DO UPDATE SET gauge =
			excluded.gauge`, t.shop, domain.Folded(gaugeSet.Gauge.Name), string(text))
}
