package store

import (
	"context"
	"time"

	"setscrew/domain"
)

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

func (t *tx) runs(machine domain.MachineID, from, until time.Time) (all []domain.Run, err error) {
	var r domain.Run
	var end, seconds int64
	err = t.rows([]any{&r.Fact, &r.For, &end, &seconds}, func() error {
		r.Until, r.Used = moment(end), time.Duration(seconds)*time.Second
		all = append(all, r)
		return nil
	}, `SELECT no, for_id, at, seconds FROM fact WHERE shop_id = ? AND machine_id = ? AND kind = 'hours'
		AND subject = '' AND withdrawn = 0 AND believed = 1
		AND at >= ? AND at < ? ORDER BY at, no`, t.shop, machine, stamp(from), stamp(until))
	return all, err
}
