package store

import (
	"context"
	"time"

	"setscrew/domain"
)

// mostStewards is how many stewards of a shop are kept: those who acted last.
const mostStewards = 20

// Stewards lists who was seen acting as a steward by a role, the latest first, at most
// twenty.
func (s *Shop) Stewards(ctx context.Context, role string) (all []domain.PersonID, err error) {
	err = s.db.look(ctx, s.id, func(t *tx) error {
		var person domain.PersonID
		return t.rows([]any{&person}, func() error { all = append(all, person); return nil },
			`SELECT person_id FROM steward WHERE shop_id = ? AND role_id = ? ORDER BY seen DESC LIMIT ?`,
			s.id, role, mostStewards)
	})
	return all, err
}

// NoteSteward notes that p acts as a steward by a role at now; role "" says that p is
// no steward any more. Those who acted longest ago are forgotten beyond twenty.
func (s *Shop) NoteSteward(ctx context.Context, person domain.PersonID, role string, now time.Time) error {
	if role == "" {
		// Hardly anybody who is no steward was one: look before writing.
		var one int
		known := false
		err := s.db.look(ctx, s.id, func(t *tx) (err error) {
			known, err = t.row([]any{&one}, `SELECT 1 FROM steward WHERE shop_id = ? AND person_id = ?`, s.id, person)
			return err
		})
		if err != nil || !known {
			return err
		}
		return s.db.write(ctx, s.id, func(t *tx) error {
			return t.exec(`DELETE FROM steward WHERE shop_id = ? AND person_id = ?`, s.id, person)
		})
	}
	return s.db.write(ctx, s.id, func(t *tx) error {
		if err := t.exec(`INSERT INTO steward (shop_id, person_id, role_id, seen) VALUES (?, ?, ?, ?)
			ON CONFLICT (shop_id, person_id) DO UPDATE SET role_id = excluded.role_id, seen = excluded.seen`,
			s.id, person, role, stamp(now)); err != nil {
			return err
		}
		return t.exec(`DELETE FROM steward WHERE shop_id = ?1 AND person_id NOT IN (
			SELECT person_id FROM steward WHERE shop_id = ?1 ORDER BY seen DESC, person_id LIMIT ?2)`,
			s.id, mostStewards)
	})
}

// RetryNotices has a shop's notices that could not be posted tried again at once: what
// kept them back may be mended. An attempt that is being made meanwhile keeps none back.
func (db *DB) RetryNotices(ctx context.Context, shop domain.ShopID) error {
	return db.write(ctx, shop, func(t *tx) error { return t.retryNotices() })
}

func (t *tx) retryNotices() error {
	return t.exec(`UPDATE outbox SET mended = mended + 1, again = iif(attempts > 0, NULL, again)
		WHERE shop_id = ? AND posted IS NULL`, t.shop)
}
