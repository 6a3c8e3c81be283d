package store

import (
	"context"
	"slices"
	"time"

	"setscrew/domain"
)

// Readings lists the last readings of a check that were taken at a moment or later,
// at most domain.MostRead, oldest first, each with the hours of use since the first
// of them; and the hours of use since then until now.
func (s *Shop) Readings(ctx context.Context, machine domain.MachineID, check string,
	since time.Time) (all []domain.ReadAt,
	now float64, err error) {
	err = s.db.read(ctx, s.id, func(t *tx) error {
		var r factRow
		if err := t.rows(r.columns(), func() error {
			f, err := r.fact(t.shop)
			if b, ok := f.Body.(domain.Reading); ok {
				all = append(all, domain.ReadAt{Fact: f.No, At: f.At, Reading: b})
			}
			return err
		}, `SELECT `+factColumns+` FROM fact WHERE shop_id = ? AND machine_id = ? AND kind = 'reading'
			AND subject = ? AND withdrawn = 0 AND believed = 1
			AND at >= ? ORDER BY at DESC, no DESC LIMIT
				?`, t.shop, machine, check, stampOf(since), domain.MostRead); err != nil {
			return err
		}
		slices.Reverse(all)
		if len(all) == 0 {
			return nil
		}
		// The use since the first of them, until each and until now.
		next := 0
		var at, seconds, total int64
		if err := t.rows([]any{&at, &seconds}, func() error {
			for ; next < len(all) && stamp(all[next].At) < at; next++ {
				all[next].Hours = float64(total) / 3600
			}
			total += seconds
			return nil
		}, `SELECT at, seconds FROM fact WHERE shop_id = ? AND machine_id = ? AND kind IN (`+kindsOfUse+`)
			AND subject = '' AND withdrawn = 0 AND believed = 1
			AND at > ? ORDER BY at, no`, t.shop, machine, stamp(all[0].At)); err != nil {
			return err
		}
		for ; next < len(all); next++ {
			all[next].Hours = float64(total) / 3600
		}
		now = float64(total) / 3600
		return nil
	})
	return all, now, err
}

// stampOf is stamp, the beginning of all time for a zero time.
func stampOf(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return stamp(t)
}
