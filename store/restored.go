package store

import (
	"context"

	"setscrew/domain"
)

// Restorations lists the shops whose books were put back from a copy and whose channel was
// not held against them yet.
func (db *DB) Restorations(ctx context.Context) (all []domain.Restoration, err error) {
	err = db.look(ctx, "", func(t *tx) error {
		var one domain.Restoration
		var at, last int64
		return t.rows([]any{&one.Shop, &at, &last}, func() error {
			one.At, one.Last = moment(at), moment(last)
			all = append(all, one)
			return nil
		}, `SELECT shop_id, at, last FROM restored ORDER BY shop_id`)
	})
	return all, err
}

// Reconciled notes that a shop's channel was held against its books, as they were put back.
func (db *DB) Reconciled(ctx context.Context, r domain.Restoration) error {
	return db.write(ctx, r.Shop, func(t *tx) error {
		return t.exec(`DELETE FROM restored WHERE shop_id = ? AND at = ?`, r.Shop, stamp(r.At))
	})
}
