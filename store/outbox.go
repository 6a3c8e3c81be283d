package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"setscrew/domain"
)

// owe puts a notice into the outbox, unless its key was owed before; one that is
// about a post which is never to stand in the channel is dropped. One that joins shares
// the message of one that waits, unless that may be in the channel already. In quiet hours
// one that is not urgent waits. While a shop that was switched off catches up,
// what fell due meanwhile is left to the digest: it counts as posted, and stands
// nowhere.
func (t *tx) owe(shop domain.Shop, notice domain.Notice, now time.Time) error {
	args, err := domain.EncodeArgs(notice.Args)
	if err != nil {
		return fmt.Errorf("store: encode a notice: %w", err)
	}
	// What changes a post that is never to stand in the channel is dropped.
	if notice.Target != "" {
		var one int
		if found, err := t.row([]any{&one},
			`SELECT 1 FROM outbox WHERE shop_id = ? AND key = ? AND NOT (posted IS NOT NULL AND message = '')`,
			t.shop, notice.Target); err != nil || !found {
			return err
		}
	}
	// Quiet hours hold back what is not urgent.
	var again time.Time
	if !notice.Urgent() {
		again = shop.QuietUntil(now)
	}
	// What the digest says counts as posted.
	var posted *int64
	if t.catchingUp && notice.Op == domain.Post && notice.Topic == domain.TopicDue {
		at := stamp(now)
		posted, args = &at, nil
	}
	// Whose message it shares.
	var lead *int64
	if notice.Joins() && posted == nil {
		var id int64
		found, err := t.row([]any{&id}, `SELECT id FROM outbox WHERE shop_id = ? AND machine_id = ?
			AND posted IS NULL AND lead IS NULL AND sent IS NULL AND op = ? AND topic = ? AND urgency = ? AND key <> ?
			ORDER BY id LIMIT 1`, t.shop, notice.Machine, notice.Op, notice.Topic, notice.Urgency(), notice.Key)
		if err != nil {
			return err
		}
		if found {
			lead = &id
		}
	}
	// Its photo is wanted, and it is owed.
	if posted == nil {
		if err := t.wantPhoto(notice, now); err != nil {
			return err
		}
	}
	return t.exec(`INSERT INTO outbox (shop_id, machine_id, key, op, target, topic, args, made, again, posted, urgency,
			lead)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (shop_id, key) DO NOTHING`,
		t.shop, notice.Machine, notice.Key, notice.Op, notice.Target, notice.Topic, string(args), stamp(now),
		stampOrNull(again), posted,
		notice.Urgency(), lead)
}

// booked sees to the notice that told of an entry from memory, before the books could
// take it: it becomes the post that the entry is owed, so that nothing stands twice, and
// is edited to what that says and to its number. Where no such post waits (the machine
// was out of service already), or where it is not known whether the notice stands, it
// remains one of its own.
func (t *tx) booked(entry domain.Entry, out domain.Outcome) error {
	if entry.Told.Key == "" {
		return nil
	}
	// It is seen to once.
	edited := entry.Told.Key + "/booked"
	var one int
	if done, err := t.row([]any{&one}, `SELECT 1 FROM outbox WHERE shop_id = ? AND key = ?`, t.shop,
		edited); err != nil || done {
		return err
	}
	machine, shop := out.After.Machine, out.After.Shop
	own := domain.NoticeArgs{V: domain.NoticeVersion, Machine: machine.Name, At: entry.Recorded,
		Units: machine.UnitsIn(shop), Name: domain.Described(out.Fact.Body), Booked: out.Fact.No}
	notice := domain.Notice{Key: entry.Told.Key, Machine: machine.ID, Op: domain.Post, Topic: domain.TopicUnbooked,
		Args: own}
	// The post that its message becomes, or its own.
	if entry.Told.Message != "" {
		var id int64
		var args string
		waits, err := t.row([]any{&id, &notice.Key, &notice.Topic, &args},
			`SELECT id, key, topic, args FROM outbox WHERE shop_id = ? AND machine_id = ? AND posted IS NULL
				AND urgency = ? AND op = ? AND attempts = 0 AND made >= ? ORDER BY id LIMIT 1`,
			t.shop, machine.ID, domain.UrgentDanger, domain.Post, stamp(out.Fact.Recorded))
		if err != nil {
			return err
		}
		if waits {
			if notice.Args, err = domain.DecodeArgs([]byte(args)); err != nil {
				return err
			}
			notice.Args.Booked = out.Fact.No
		} else if err := t.owe(shop, notice, entry.Recorded); err != nil {
			return err
		}
		if err := t.exec(`UPDATE outbox SET posted = ?, message = ? WHERE shop_id = ? AND key = ? AND posted IS NULL`,
			stamp(entry.Recorded), entry.Told.Message, t.shop, notice.Key); err != nil {
			return err
		}
	} else if err := t.owe(shop, notice, entry.Told.At); err != nil { // so long its nonce may be known
		return err
	}
	// Its message is edited to what the books say.
	edit := notice
	edit.Key, edit.Op, edit.Target = edited, domain.Edit, notice.Key
	return t.owe(shop, edit, entry.Recorded)
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
			UNION ALL SELECT min(again) FROM outbox WHERE posted IS NULL AND again IS NOT NULL AND lead IS NULL)`)
		next, ok = moment(ms.Int64), ms.Valid
		return err
	})
	return next, ok, err
}

// ShopsUndelivered lists the shops that owe a notice whose next attempt is not later than now;
// another of its machine may hold it up still.
func (db *DB) ShopsUndelivered(ctx context.Context, now time.Time) (all []domain.ShopID, err error) {
	err = db.look(ctx, "", func(t *tx) error {
		var shop domain.ShopID
		return t.rows([]any{&shop}, func() error { all = append(all, shop); return nil },
			`SELECT DISTINCT shop_id FROM outbox WHERE posted IS NULL AND lead IS NULL AND coalesce(again, 0) <= ?
				ORDER BY shop_id`,
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
			`SELECT min(again) FROM outbox WHERE posted IS NULL AND again IS NOT NULL AND again > ? AND lead IS NULL`,
			stamp(now))
		next, ok = moment(ms.Int64), ms.Valid
		return err
	})
	return next, ok, err
}

// Undelivered lists, the most urgent first, the notices of a shop that may be posted
// now: of each machine only the first that is owed, as urgent as the most urgent that
// waits behind it, so that none overtakes another but one that waits for quiet hours
// to end; and none whose next attempt is later than now. One that shares another's
// message is in that one's Group.
func (db *DB) Undelivered(ctx context.Context, shop domain.ShopID, now time.Time, limit int) (
	all []domain.Undelivered, err error) {
	err = db.read(ctx, shop, func(t *tx) error {
		var notice domain.Undelivered
		var made, root int64
		var sent sql.NullInt64
		var args, rootKey string
		var shared bool
		var shares []int // which of all share a message
		var roots []int64
		// The first notice of each machine, with the message that it changes.
		n := &notice.Notice
		if err := t.rows([]any{&notice.ID, &notice.Shop, &n.Machine, &n.Key, &n.Op, &n.Target, &n.Topic, &args, &made,
			&notice.Attempts, &notice.Mended, &sent, &notice.Message, &root, &rootKey, &shared,
			&notice.Urgency}, func() error {
			one := notice
			one.Made, one.Last = moment(made), one.ID
			if sent.Valid {
				one.Sent = moment(sent.Int64)
			}
			if shared {
				shares, roots = append(shares, len(all)), append(roots, root)
			}
			if rootKey != "" {
				one.Notice.Target = rootKey
			}
			one.Notice.Args, err = domain.DecodeArgs([]byte(args))
			all = append(all, one)
			return err
		}, `SELECT o.id, o.shop_id, o.machine_id, o.key, o.op, o.target, o.topic, o.args, o.made, o.attempts, o.mended,
				o.sent,
				coalesce(t.message, ''), coalesce(t.lead, t.id, o.id) AS root,
				coalesce((SELECT key FROM outbox r WHERE r.id = t.lead), ''),
				EXISTS (SELECT 1 FROM outbox m WHERE m.lead = coalesce(t.lead, t.id, o.id)),
				(SELECT min(p.urgency) FROM outbox p
					WHERE p.shop_id = o.shop_id AND p.machine_id = o.machine_id AND p.posted IS NULL) AS urgent
			FROM outbox o LEFT JOIN outbox t ON t.shop_id = o.shop_id AND t.key = o.target
			WHERE o.shop_id = ?3 AND o.posted IS NULL AND o.lead IS NULL AND coalesce(o.again, 0) <= ?1 AND NOT EXISTS (
				SELECT 1 FROM outbox p WHERE p.shop_id = o.shop_id AND p.machine_id = o.machine_id
					AND p.posted IS NULL AND p.lead IS NULL AND p.id < o.id
				AND NOT (p.attempts = 0 AND coalesce(p.again, 0) > ?1))
			ORDER BY urgent, o.id LIMIT ?2`, stamp(now), limit, t.shop); err != nil {
			return err
		}
		// With each, those that share its message.
		for i, at := range shares {
			if err := t.group(&all[at], roots[i]); err != nil {
				return err
			}
		}
		return nil
	})
	return all, err
}

// group fills in the notices that share a notice's message, which was owed first as
// root: of each post the last edit of it that is owed, so that the last edit of the
// message says how all of them stand.
func (t *tx) group(undelivered *domain.Undelivered, root int64) error {
	var one domain.Notice
	var id int64
	var args string
	return t.rows([]any{&id, &one.Machine, &one.Key, &one.Op, &one.Topic, &args}, func() (err error) {
		if undelivered.Notice.Op == domain.Post {
			undelivered.Last = id
		}
		one.Args, err = domain.DecodeArgs([]byte(args))
		undelivered.Notice.Group = append(undelivered.Notice.Group, one)
		return err
	}, `SELECT m.id, m.machine_id, m.key, s.op, s.topic, s.args FROM outbox m JOIN outbox s ON s.id = coalesce(
			(SELECT max(r.id) FROM outbox r WHERE r.shop_id = m.shop_id AND r.target = m.key AND r.target <> ''
				AND r.op = ?2), m.id)
		WHERE m.id = ?1 OR m.lead = ?1 ORDER BY m.id`, root, domain.Edit)
}

// Sending notes that a post is about to be sent: from now on it may stand in the
// channel, whatever becomes of the program. What was to share its message and is not
// told of in it becomes a post of its own.
func (db *DB) Sending(ctx context.Context, undelivered domain.Undelivered, now time.Time) error {
	return db.write(ctx, undelivered.Shop, func(t *tx) error {
		if err := t.exec(`UPDATE outbox SET lead = NULL WHERE shop_id = ? AND lead = ? AND id > ?
			AND posted IS NULL`, undelivered.Shop, undelivered.ID, undelivered.Last); err != nil {
			return err
		}
		return t.exec(`UPDATE outbox SET sent = coalesce(sent, ?) WHERE shop_id = ? AND id = ? AND posted IS NULL`,
			stamp(now), undelivered.Shop, undelivered.ID)
	})
}

// Posted confirms that a notice stands in the channel, with all that share its message;
// message is the id of the message that a post became. What its words were made from is
// no longer needed, but where an edit tells again of all that share the message, and of a
// digest, which is held against the next: its key keeps it from being owed again, and its
// message is what later notices edit.
func (db *DB) Posted(ctx context.Context, shop domain.ShopID, id int64, message string, now time.Time) error {
	return db.write(ctx, shop, func(t *tx) error {
		// What shares the message of a post that was never noted to be sent may not be told of.
		if err := t.exec(`UPDATE outbox SET lead = NULL WHERE shop_id = ?1 AND lead = ?2 AND posted IS NULL
			AND EXISTS (SELECT 1 FROM outbox WHERE id = ?2 AND sent IS NULL)`, shop, id); err != nil {
			return err
		}
		const posted = `UPDATE outbox SET posted = ?1, message = ?2, attempts = attempts + 1, tried = coalesce(tried,
			?1),
			again = NULL, problem = '', args = CASE WHEN topic = 'digest' OR lead IS NOT NULL OR EXISTS (
				SELECT 1 FROM outbox m WHERE m.lead = outbox.id) OR op = 'edit' AND EXISTS (
				SELECT 1 FROM outbox p WHERE p.shop_id = ?3 AND p.key = outbox.target AND (p.lead IS NOT NULL
					OR EXISTS (SELECT 1 FROM outbox m WHERE m.lead = p.id)))
			THEN args ELSE '' END WHERE shop_id = ?3 AND posted IS NULL AND `
		if err := t.exec(posted+`lead = ?4`, stamp(now), message, shop, id); err != nil {
			return err
		}
		if err := t.exec(`DELETE FROM photo WHERE shop_id = ?1 AND key = (SELECT key FROM outbox WHERE shop_id = ?1
			AND id = ?2)`, shop, id); err != nil {
			return err
		}
		return t.exec(posted+`id = ?4`, stamp(now), message, shop, id)
	})
}

// Tried notes that a notice could not be posted, why, and when to try again: at once where
// what kept it back may have been mended since it was listed; mayStand, that it may stand
// in the channel all the same.
func (db *DB) Tried(ctx context.Context, undelivered domain.Undelivered, now, again time.Time, problem string,
	mayStand bool) error {
	return db.write(ctx, undelivered.Shop, func(t *tx) error {
		return t.exec(`UPDATE outbox SET attempts = attempts + 1, tried = coalesce(tried, ?1),
				again = iif(mended = ?2, ?3, NULL), problem = ?4, sent = iif(?5, sent, NULL)
			WHERE shop_id = ?6 AND id = ?7 AND posted IS NULL`,
			stamp(now), undelivered.Mended, stamp(again), problem, mayStand, undelivered.Shop, undelivered.ID)
	})
}
