package store

import (
	"fmt"
	"slices"

	"setscrew/domain"
)

// tries looks up the last tries at each check that has adjusters: the moves, the
// readings before and after each, and what was said of them.
func (t *tx) tries(snap *domain.Snapshot) error {
	snap.Tries = map[string][]domain.Try{}
	var moved []string
	var check string
	if err := t.rows([]any{&check}, func() error {
		moved = append(moved, check)
		return nil
	}, `SELECT DISTINCT subject FROM fact WHERE shop_id = ? AND machine_id = ? AND kind = ? AND withdrawn = 0
		AND believed = 1`, t.shop, snap.Machine.ID, domain.KindMove); err != nil {
		return err
	}
	for _, id := range moved {
		moves, err := t.lately(snap.Machine.ID, domain.KindMove, id, domain.MaxTries)
		if err != nil {
			return err
		}
		readings, err := t.lately(snap.Machine.ID, domain.KindReading, id, 3*domain.MaxTries)
		if err != nil {
			return err
		}
		said, err := t.lately(snap.Machine.ID, domain.KindMoveAnswer, id, domain.MaxTries)
		if err != nil {
			return err
		}
		snap.Tries[id] = domain.PairTries(moves, readings, said)
	}
	return nil
}

// lately lists the last believed facts of a kind about a subject, oldest first
// by event time.
func (t *tx) lately(machine domain.MachineID, kind domain.Kind, subject string, most int) (all []domain.Fact,
	err error) {
	var r factRow
	err = t.rows(r.columns(), func() error {
		f, err := r.fact(t.shop)
		all = append(all, f)
		return err
	}, `SELECT `+factColumns+` FROM fact
		WHERE shop_id = ? AND machine_id = ? AND kind = ? AND subject = ? AND withdrawn = 0 AND believed = 1
		ORDER BY at DESC, no DESC LIMIT ?`, t.shop, machine, kind, subject, most)
	slices.Reverse(all)
	return all, err
}

// caps looks up what boards showed of spring caps, with the height at which each
// was seen.
func (t *tx) caps(snap *domain.Snapshot) error {
	snap.Caps = map[string][]domain.CapReport{}
	for _, spring := range snap.Machine.Profile.Caps {
		// What boards showed lately, the oldest first.
		var facts []domain.Fact
		var r factRow
		if err := t.rows(r.columns(), func() error {
			f, err := r.fact(t.shop)
			facts = append(facts, f)
			return err
		}, `SELECT f.no, f.machine_id, f.kind, f.at, f.recorded, f.by_id, f.for_id, f.hash, f.setup_rev, f.withdrawn,
			f.body
			FROM problem d JOIN fact f ON f.shop_id = d.shop_id AND f.no = d.fact_no
			WHERE d.shop_id = ? AND d.machine_id = ? AND d.key IN (?, ?) AND f.withdrawn = 0
				ORDER BY f.at DESC, f.no DESC LIMIT ?`,
			t.shop, snap.Machine.ID, spring.Marks, spring.Stutters, domain.MaxTries); err != nil {
			return err
		}
		slices.Reverse(facts)
		// Each at the height that was read last before it.
		for _, fact := range facts {
			board, ok := fact.Body.(domain.Problem)
			if !ok {
				return fmt.Errorf("store: no. %d is no problem", fact.No)
			}
			read, found, err := t.lastUntil(snap.Machine.ID, domain.KindReading, spring.Check, fact.At)
			if err != nil {
				return err
			}
			height := latest(read)
			if !found || height.Reading == nil {
				continue // nobody knows at what height
			}
			snap.Caps[spring.Check] = append(snap.Caps[spring.Check],
				domain.CapReport{Fact: fact.No, Height: height.Reading.Values[0].Mean(),
					Marks: board.Symptom == spring.Marks, Stutters: board.Symptom == spring.Stutters})
		}
	}
	return nil
}
