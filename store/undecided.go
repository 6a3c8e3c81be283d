package store

import (
	"errors"
	"fmt"
	"time"

	"setscrew/domain"
	"setscrew/domain/profile"
)

// errEnough ends a query that has seen what it needs.
var errEnough = errors.New("store: enough was read")

// proved looks up a dimension's last go/no-go check and, where its last reading proves
// nothing of its stop limits, since when none has.
func (t *tx) proved(snap *domain.Snapshot, check *profile.Check) error {
	if check.Inspection || check.Class != profile.Safety {
		return nil
	}
	// Its go/no-go check.
	var passed time.Time // the last go/no-go check that proved it
	if check.GoNoGo != nil {
		tried, found, err := t.last(snap.Machine.ID, domain.KindInspection, check.ID)
		if err != nil {
			return err
		}
		if found {
			made := latest(tried)
			if snap.GoNoGo == nil {
				snap.GoNoGo = map[string]domain.Latest{}
			}
			snap.GoNoGo[check.ID] = made
			if made.Inspection.Pass && check.ProvesByPiece() {
				passed = made.At
			}
		}
	}
	// Its last reading, which may prove enough.
	if last := snap.Latest[check.ID].Reading; last == nil || domain.Shows(check, last) != domain.ShownUndecided {
		return nil
	}
	// Back through its readings, until one that proves it.
	var since time.Time
	var row factRow
	err := t.rows(row.columns(), func() error {
		fact, err := row.fact(t.shop)
		if err != nil {
			return err
		}
		reading, _ := fact.Body.(domain.Reading)
		switch shown := domain.Shows(check, &reading); {
		case shown == domain.ShownWithin, !fact.At.After(passed):
			return errEnough
		case shown == domain.ShownUndecided:
			since = fact.At
		}
		return nil
	}, `SELECT `+factColumns+` FROM fact WHERE shop_id = ? AND machine_id = ? AND kind = 'reading' AND subject = ?
		AND withdrawn = 0 AND believed = 1 ORDER BY at DESC, no DESC`, t.shop, snap.Machine.ID, check.ID)
	if err != nil && !errors.Is(err, errEnough) {
		return fmt.Errorf("look back through the readings of %s: %w", check.ID, err)
	}
	if since.IsZero() {
		return nil
	}
	if snap.Undecided == nil {
		snap.Undecided = map[string]time.Time{}
	}
	snap.Undecided[check.ID] = since
	return nil
}
