package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"setscrew/domain"
)

// owe puts a notice into the outbox, unless its key was owed before; one that is
// about a post which is never to stand in the channel is dropped. In quiet hours
// one that is not urgent waits. While a shop that was switched off catches up,
// what fell due meanwhile is left to the digest: it counts as posted, and stands
// nowhere.
func (t *tx) owe(s domain.Shop, n domain.Notice, now time.Time) error {
	args, err := domain.EncodeArgs(n.Args)
	if err != nil {
		return fmt.Errorf("store: encode a notice: %w", err)
	}
	if n.Target != "" {
		var one int
		if found, err := t.row([]any{&one},
			`SELECT 1 FROM outbox WHERE shop_id = ? AND key = ? AND NOT (posted IS NOT NULL AND message = '')`,
			t.shop, n.Target); err != nil || !found {
			return err
		}
	}
	var again time.Time
	if !n.Urgent() {
		again = s.QuietUntil(now)
	}
	var posted *int64
	if t.catchingUp && n.Op == domain.Post && n.Topic == domain.TopicDue {
		at := stamp(now)
		posted = &at
	}
	return t.exec(`INSERT INTO outbox (shop_id, machine_id, key, op, target, topic, args, made, again, posted, urgency)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (shop_id, key) DO NOTHING`,
		t.shop, n.Machine, n.Key, n.Op, n.Target, n.Topic, string(args), stamp(now), stampOrNull(again), posted,
		n.Urgency())
}

// Due lists the machines of all shops whose wake time is not after now,
// earliest first, at most limit.
func (db *DB) Due(ctx context.Context, now time.Time, limit int) (all []domain.Wake, err error) {
	err = db.look(ctx, "", func(t *tx) error {
		var w domain.Wake
		var at int64
		return t.rows([]any{&w.Shop, &w.Machine, &at}, func() error {
			w.At = moment(at)
			all = append(all, w)
			return nil
		}, `SELECT shop_id, machine_id, wake FROM machine WHERE wake IS NOT NULL AND wake <= ?
			ORDER BY wake, shop_id, machine_id LIMIT ?`, stamp(now), limit)
	})
	return all, err
}

// NextWake is the earliest moment at which a machine wants to be judged or a
// notice to be tried again; ok is false if there is none.
func (db *DB) NextWake(ctx context.Context) (next time.Time, ok bool, err error) {
	err = db.look(ctx, "", func(t *tx) error {
		var ms sql.NullInt64
		_, err := t.row([]any{&ms}, `SELECT min(at) FROM (
			SELECT min(wake) AS at FROM machine WHERE wake IS NOT NULL
			UNION ALL SELECT min(next) FROM digest
			UNION ALL SELECT min(again) FROM outbox WHERE posted IS NULL AND again IS NOT NULL)`)
		next, ok = moment(ms.Int64), ms.Valid
		return err
	})
	return next, ok, err
}

// Owing lists the shops that owe a notice whose next attempt is not later than now;
// another of its machine may hold it up still.
func (db *DB) Owing(ctx context.Context, now time.Time) (all []domain.ShopID, err error) {
	err = db.look(ctx, "", func(t *tx) error {
		var shop domain.ShopID
		return t.rows([]any{&shop}, func() error { all = append(all, shop); return nil },
			`SELECT DISTINCT shop_id FROM outbox WHERE posted IS NULL AND coalesce(again, 0) <= ? ORDER BY shop_id`,
			stamp(now))
	})
	return all, err
}

// NextTry is the earliest moment after now at which a notice is tried again; ok is
// false if there is none.
func (db *DB) NextTry(ctx context.Context, now time.Time) (next time.Time, ok bool, err error) {
	err = db.look(ctx, "", func(t *tx) error {
		var ms sql.NullInt64
		_, err := t.row([]any{&ms},
			`SELECT min(again) FROM outbox WHERE posted IS NULL AND again IS NOT NULL AND again > ?`, stamp(now))
		next, ok = moment(ms.Int64), ms.Valid
		return err
	})
	return next, ok, err
}

// Undelivered lists, the most urgent first, the notices of a shop that may be posted
// now: of each machine only the first that is owed, as urgent as the most urgent that
// waits behind it, so that none overtakes another but one that waits for quiet hours
// to end; and none whose next attempt is later than now.
func (db *DB) Undelivered(ctx context.Context, shop domain.ShopID, now time.Time, limit int) (
	all []domain.Undelivered, err error) {
	err = db.look(ctx, shop, func(t *tx) error {
		var notice domain.Undelivered
		var made int64
		var sent sql.NullInt64
		var args string
		n := &notice.Notice
		return t.rows([]any{&notice.ID, &notice.Shop, &n.Machine, &n.Key, &n.Op, &n.Target, &n.Topic, &args, &made,
			&notice.Attempts, &sent, &notice.Message, &notice.Urgency}, func() error {
			one := notice
			one.Made = moment(made)
			if sent.Valid {
				one.Sent = moment(sent.Int64)
			}
			one.Notice.Args, err = domain.DecodeArgs([]byte(args))
			all = append(all, one)
			return err
		}, `SELECT o.id, o.shop_id, o.machine_id, o.key, o.op, o.target, o.topic, o.args, o.made, o.attempts, o.sent,
				coalesce((SELECT message FROM outbox p WHERE p.shop_id = o.shop_id AND p.key = o.target), ''),
				(SELECT min(p.urgency) FROM outbox p
					WHERE p.shop_id = o.shop_id AND p.machine_id = o.machine_id AND p.posted IS NULL) AS urgent
			FROM outbox o
			WHERE o.shop_id = ?3 AND o.posted IS NULL AND coalesce(o.again, 0) <= ?1 AND NOT EXISTS (
				SELECT 1 FROM outbox p WHERE p.shop_id = o.shop_id AND p.machine_id = o.machine_id
					AND p.posted IS NULL AND p.id < o.id
				AND NOT (p.attempts = 0 AND coalesce(p.again, 0) > ?1))
			ORDER BY urgent, o.id LIMIT ?2`, stamp(now), limit, t.shop)
	})
	return all, err
}

// Sending notes that a post is about to be sent: from now on it may stand in the
// channel, whatever becomes of the program.
func (db *DB) Sending(ctx context.Context, shop domain.ShopID, id int64, now time.Time) error {
	return db.write(ctx, shop, func(t *tx) error {
		return t.exec(`UPDATE outbox SET sent = coalesce(sent, ?) WHERE shop_id = ? AND id = ? AND posted IS NULL`,
			stamp(now), shop, id)
	})
}

// Posted confirms that a notice stands in the channel; message is the id of the
// message that a post became.
func (db *DB) Posted(ctx context.Context, shop domain.ShopID, id int64, message string, now time.Time) error {
	return db.write(ctx, shop, func(t *tx) error {
		return t.exec(`UPDATE outbox SET posted = ?, message = ?, attempts = attempts + 1, tried = coalesce(tried, ?),
			again = NULL WHERE shop_id = ? AND id = ? AND posted IS NULL`,
			stamp(now), message, stamp(now), shop, id)
	})
}

// Tried notes that a notice could not be posted, why, and when to try again; mayStand,
// that it may stand in the channel all the same.
func (db *DB) Tried(ctx context.Context, shop domain.ShopID, id int64, now, again time.Time, problem string,
	mayStand bool) error {
	return db.write(ctx, shop, func(t *tx) error {
		return t.exec(`UPDATE outbox SET attempts = attempts + 1, tried = coalesce(tried, ?), again = ?, problem = ?,
				sent = iif(?, sent, NULL)
			WHERE shop_id = ? AND id = ? AND posted IS NULL`,
			stamp(now), stamp(again), problem, mayStand, shop, id)
	})
}
