package store

import (
	"context"
	"time"

	"setscrew/domain"
)

// mostRemembered is of how many people of a shop it is kept what they were told, or missed:
// of those about whom something was noted last.
const mostRemembered = 1000

// Unseen lists the answers that could not be delivered and of which nobody was told since,
// of all shops, but those older than domain.UnseenKept at a moment.
func (db *DB) Unseen(ctx context.Context, now time.Time) (all []domain.Unseen, err error) {
	err = db.look(ctx, "", func(t *tx) error {
		var one domain.Unseen
		var at int64
		return t.rows([]any{&one.Shop, &one.Person, &one.Said, &at}, func() error {
			one.At = moment(at)
			all = append(all, one)
			return nil
		}, `SELECT shop_id, person_id, said, at FROM unseen WHERE at > ? ORDER BY shop_id, person_id`,
			stamp(now.Add(-domain.UnseenKept)))
	})
	return all, err
}

// KeepUnseen notes that an answer could not be delivered, in place of one before or, where
// it says nothing, that its person has been told.
func (db *DB) KeepUnseen(ctx context.Context, one domain.Unseen) error {
	return db.write(ctx, one.Shop, func(t *tx) error {
		return t.remember("unseen", "said", one.Person, one.Said, one.At)
	})
}

// Told is what a person was told last of what notices and books lack; "" for nothing.
func (s *Shop) Told(ctx context.Context, p domain.PersonID) (what string, err error) {
	err = s.db.look(ctx, s.id, func(t *tx) error {
		_, err := t.row([]any{&what}, `SELECT what FROM told WHERE shop_id = ? AND person_id = ?`, s.id, p)
		return err
	})
	return what, err
}

// NoteTold notes what a person was told of what notices and books lack; "" for nothing.
func (s *Shop) NoteTold(ctx context.Context, p domain.PersonID, what string, now time.Time) error {
	return s.db.write(ctx, s.id, func(t *tx) error { return t.remember("told", "what", p, what, now) })
}

// remember puts a text about a person into a table, or takes it out where it is empty.
// Beyond mostRemembered those noted longest ago are forgotten.
func (t *tx) remember(table, column string, p domain.PersonID, text string, now time.Time) error {
	if text == "" {
		return t.exec(`DELETE FROM `+table+` WHERE shop_id = ? AND person_id = ?`, t.shop, p)
	}
	if err := t.exec(`INSERT INTO `+table+` (shop_id, person_id, `+column+`, at) VALUES (?, ?, ?, ?)
		ON CONFLICT (shop_id, person_id) DO UPDATE SET `+column+` = excluded.`+column+`, at = excluded.at`,
		t.shop, p, text, stamp(now)); err != nil {
		return err
	}
	return t.exec(`DELETE FROM `+table+` WHERE shop_id = ?1 AND at < (
		SELECT at FROM `+table+` WHERE shop_id = ?1 ORDER BY at DESC LIMIT 1 OFFSET ?2)`, t.shop, mostRemembered-1)
}

// Troubles is what was found out of each shop's channel and role, as NoteTrouble was given it.
func (db *DB) Troubles(ctx context.Context) (map[domain.ShopID][]byte, error) {
	all := map[domain.ShopID][]byte{}
	err := db.look(ctx, "", func(t *tx) error {
		var shop domain.ShopID
		var found string
		return t.rows([]any{&shop, &found}, func() error { all[shop] = []byte(found); return nil },
			`SELECT shop_id, found FROM trouble ORDER BY shop_id`)
	})
	return all, err
}

// NoteTrouble notes what was found out of a shop's channel and role, as JSON that names no
// person; nil for nothing.
func (db *DB) NoteTrouble(ctx context.Context, shop domain.ShopID, found []byte) error {
	return db.write(ctx, shop, func(t *tx) error {
		if found == nil {
			return t.exec(`DELETE FROM trouble WHERE shop_id = ?`, shop)
		}
		return t.exec(`INSERT INTO trouble (shop_id, found) VALUES (?, ?)
			ON CONFLICT (shop_id) DO UPDATE SET found = excluded.found`, shop, string(found))
	})
}

// Untold lists the tag-outs of all shops that were tried to be posted and could not be yet.
func (db *DB) Untold(ctx context.Context) (all []domain.Undelivered, err error) {
	err = db.look(ctx, "", func(t *tx) error {
		var one domain.Undelivered
		var args string
		n := &one.Notice
		return t.rows([]any{&one.ID, &one.Shop, &n.Machine, &n.Key, &n.Op, &n.Topic, &args}, func() (err error) {
			next := one
			next.Notice.Args, err = domain.DecodeArgs([]byte(args))
			all = append(all, next)
			return err
		}, `SELECT id, shop_id, machine_id, key, op, topic, args FROM outbox
			WHERE posted IS NULL AND attempts > 0 AND topic = ? ORDER BY id`, domain.TopicTagOut)
	})
	return all, err
}
