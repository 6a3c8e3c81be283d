package store

import (
	"context"
	"time"

	"setscrew/domain"
)

// DueDigests lists the shops whose daily digest has fallen due.
func (db *DB) DueDigests(ctx context.Context, now time.Time) (shops []domain.ShopID, err error) {
	err = db.look(ctx, "", func(t *tx) error {
		var id domain.ShopID
		return t.rows([]any{&id}, func() error { shops = append(shops, id); return nil },
			`SELECT shop_id FROM digest WHERE next <= ? ORDER BY next, shop_id`, stamp(now))
	})
	return shops, err
}

// SettleDigest owes a shop's digest, if there is something to say, and notes
// when the next falls due. However many were missed, one is owed; however often
// this is called on one day, too.
func (db *DB) SettleDigest(ctx context.Context, shop domain.ShopID, now time.Time) error {
	return db.write(ctx, shop, func(t *tx) error {
		settings, err := t.settings()
		if err != nil {
			return err
		}
		// The machines in use, each as it is now.
		var ids []domain.MachineID
		var id domain.MachineID
		if err := t.rows([]any{&id}, func() error { ids = append(ids, id); return nil },
			`SELECT machine_id FROM machine WHERE shop_id = ? AND retired IS NULL ORDER BY folded`, shop); err != nil {
			return err
		}
		var machines []domain.Status
		for _, id := range ids {
			snap, err := t.snapshot(id)
			if err != nil {
				return err
			}
			machines = append(machines, domain.Assess(snap, now))
		}
		// What else the shop has, and who plans to visit.
		shopwide := domain.Shopwide{Shop: settings, Machines: machines}
		if shopwide.Shelf, err = t.shelf(); err != nil {
			return err
		}
		if shopwide.Gauges, err = t.gauges(); err != nil {
			return err
		}
		plan, _, err := t.last(0, domain.KindVisits, "")
		if err != nil {
			return err
		}
		shopwide.Visits, _ = plan.Body.(domain.VisitsPlanned)
		shopwide.Planned = plan.At
		// What there is to say since the last digest is owed.
		next, err := t.digestDue()
		if err != nil {
			return err
		}
		before, err := t.lastDigest()
		if err != nil {
			return err
		}
		if n, ok := domain.DigestNotice(shopwide, before, domain.LastDigest(settings, next), now); ok {
			if err := t.owe(settings, n, now); err != nil {
				return err
			}
		}
		return t.nextDigest(settings, now)
	})
}

// lastDigest is what the last digest said that was owed; zero if there was none.
func (t *tx) lastDigest() (args domain.NoticeArgs, err error) {
	var text string
	found, err := t.row([]any{&text}, `SELECT args FROM outbox WHERE shop_id = ? AND key > 'digest/' AND key < 'digest0'
		ORDER BY key DESC LIMIT 1`, t.shop)
	if err != nil || !found {
		return args, err
	}
	return domain.DecodeArgs([]byte(text))
}

// digestDue is when a shop's next digest falls due, or fell due; zero if it has
// none.
func (t *tx) digestDue() (time.Time, error) {
	var next int64
	found, err := t.row([]any{&next}, `SELECT next FROM digest WHERE shop_id = ?`, t.shop)
	if err != nil || !found {
		return time.Time{}, err
	}
	return moment(next), nil
}

// nextDigest notes when a shop's digest falls due next.
func (t *tx) nextDigest(s domain.Shop, now time.Time) error {
	return t.exec(`INSERT INTO digest (shop_id, next) VALUES (?, ?) ON CONFLICT (shop_id) DO UPDATE
		SET next = excluded.next`,
		t.shop, stamp(domain.NextDigest(s, now)))
}
