package store

import (
	"context"

	"setscrew/domain"
)

// Rebuild makes everything that is derived from a shop's facts again, from the
// facts alone, in one transaction. Wake times and the outbox are left as they
// are.
func (s *Shop) Rebuild(ctx context.Context) error {
	defer s.db.snapshots.Purge()
	return s.db.write(ctx, s.id, func(t *tx) error {
		t.changed = true
		// What was derived is dropped, and each fact is as it was when it was recorded.
		for _, query := range []string{
			`DELETE FROM done_last WHERE shop_id = ?`, `DELETE FROM moved WHERE shop_id = ?`,
			`DELETE FROM tag WHERE shop_id = ?`,
			`DELETE FROM problem WHERE shop_id = ?`, `DELETE FROM shop WHERE shop_id = ?`,
			`DELETE FROM gauge WHERE shop_id = ?`,
			`DELETE FROM need WHERE shop_id = ?`, `DELETE FROM took WHERE shop_id = ?`,
			`UPDATE machine SET seconds = 0, outage = 0, test = 0 WHERE shop_id = ?`,
			`UPDATE fact SET seconds = coalesce(json_extract(body, '$.unlogged'), 0) WHERE shop_id = ?
				AND kind = 'counter'`,
			`UPDATE fact SET withdrawn = 0, believed = NOT (kind = 'reading'
				AND coalesce(json_extract(body, '$.unconfirmed'), 0)) WHERE shop_id = ?`,
		} {
			if err := t.exec(query, s.id); err != nil {
				return err
			}
		}
		// Facts are replayed in the order in which they were recorded. One that
		// is not replayed yet must not be seen by those before it, so all are
		// hidden first.
		if err := t.exec(`UPDATE fact SET withdrawn = -1 WHERE shop_id = ?`, s.id); err != nil {
			return err
		}
		var facts []domain.Fact
		var r factRow
		if err := t.rows(r.columns(), func() error {
			f, err := r.fact(s.id)
			f.Withdrawn = 0
			facts = append(facts, f)
			return err
		}, `SELECT `+factColumns+` FROM fact WHERE shop_id = ? ORDER BY no`, s.id); err != nil {
			return err
		}
		for _, f := range facts {
			if err := t.exec(`UPDATE fact SET withdrawn = 0 WHERE shop_id = ? AND no = ?`, s.id, f.No); err != nil {
				return err
			}
			if err := t.derive(f); err != nil {
				return err
			}
		}
		return nil
	})
}
