package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"setscrew/domain"
)

// Forgettable says what would be taken out of the books about a person, and what would
// stay for now.
func (s *Shop) Forgettable(ctx context.Context, p domain.PersonID, now time.Time) (of domain.Forgetting, err error) {
	err = s.db.read(ctx, s.id, func(t *tx) error {
		if _, err := t.row([]any{&of.Reports}, `SELECT count(*) FROM fact WHERE shop_id = ?1
			AND (by_id = ?2 OR for_id = ?2)`, s.id, p); err != nil {
			return err
		}
		of.Kept, err = t.keptOf(p, now, now)
		return err
	})
	return of, err
}

// Forget takes a person out of the books: an id that stands for a former member takes the
// place of theirs in all that was recorded until now, but for what domain.Kept names. That
// follows by itself (GoOnForgetting). First of all they are put on the list beside the books.
// The pending that asked for it is consumed by a key. Whoever had another forgotten is noted.
func (s *Shop) Forget(ctx context.Context, p, by domain.PersonID, pending, key string, now time.Time) (
	of domain.Forgetting, err error) {
	if p == "" || p.Former() {
		return of, fmt.Errorf("store: %q is nobody who can be forgotten", p)
	}
	if err := s.db.usable(); err != nil {
		return of, err
	}
	s.db.listing.Lock()
	former, err := rememberForgotten(ForgottenOf(s.db.path), s.id, p, now)
	s.db.listing.Unlock()
	if err != nil {
		return of, troubled(err)
	}
	err = s.db.write(ctx, s.id, func(t *tx) (err error) {
		if pending != "" {
			if err := t.use(pending, key, now); err != nil {
				return err
			}
		}
		if by != p {
			if err := t.exec(`INSERT INTO forgot (shop_id, key, by_id, former, at) VALUES (?, ?, ?, ?, ?)
				ON CONFLICT (shop_id, key) DO NOTHING`, t.shop, key, by, former, stamp(now)); err != nil {
				return err
			}
		}
		of, err = t.forget(p, former, now, now)
		return err
	})
	if err == nil {
		err = s.db.squeeze(ctx)
	}
	return of, err
}

// squeeze has the file hold nothing but its rows: what was in place of what was replaced
// stays in it otherwise, and in its copies.
func (db *DB) squeeze(ctx context.Context) error {
	taken, err := db.take(ctx, db.writer)
	if err != nil {
		return err
	}
	defer func() { db.writer <- taken }()
	for _, query := range []string{`VACUUM`, `PRAGMA wal_checkpoint(TRUNCATE)`} {
		if _, err := taken.ExecContext(ctx, query); err != nil {
			return troubled(fmt.Errorf("store: take what was replaced out of the file: %w", err))
		}
	}
	return nil
}

// keptOf lists what must stay under a person's name at a moment, of what was recorded until
// another: of every machine in use, then of the settings, and that they acted as a steward.
func (t *tx) keptOf(p domain.PersonID, until, now time.Time) (all []domain.Kept, err error) {
	var machines []domain.MachineID
	var id domain.MachineID
	if err := t.rows([]any{&id}, func() error { machines = append(machines, id); return nil },
		`SELECT machine_id FROM machine WHERE shop_id = ? AND retired IS NULL ORDER BY machine_id`,
		t.shop); err != nil {
		return nil, err
	}
	for _, id := range machines {
		snap, err := t.snapshot(id)
		if err != nil {
			return nil, err
		}
		all = append(all, domain.Assess(snap, now).KeptOf(p)...)
	}
	settings, err := t.settings()
	if err != nil {
		return nil, err
	}
	all = append(all, settings.KeptOf(p, now)...)
	var seen int64
	found, err := t.row([]any{&seen}, `SELECT seen FROM steward WHERE shop_id = ? AND person_id = ? AND seen <= ?
		AND seen > ?`, t.shop, p, stamp(until), stamp(now.Add(-domain.StewardKept)))
	if found {
		all = append(all, domain.Kept{For: domain.KeptSteward})
	}
	return all, err
}

// forget puts another id in place of a person's in all that was recorded until a moment, but
// for what must stay.
func (t *tx) forget(p, former domain.PersonID, until, now time.Time) (of domain.Forgetting, err error) {
	if of.Kept, err = t.keptOf(p, until, now); err != nil {
		return of, err
	}
	t.changed = true
	rest := &forgetting{t: t, p: p, former: former, until: stamp(until)}
	for _, kept := range of.Kept {
		switch kept.For {
		case domain.KeptCalled, domain.KeptAway:
			rest.settings = true
		case domain.KeptSteward:
			rest.steward = true
		default:
			rest.facts = append(rest.facts, kept.Fact)
		}
	}
	if _, err := t.row([]any{&of.Reports}, `SELECT count(*) FROM fact WHERE shop_id = ?1
		AND (by_id = ?2 OR for_id = ?2) AND recorded <= ?3 AND no NOT IN (SELECT value FROM json_each(?4))`, t.shop, p,
		rest.until, rest.stays()); err != nil {
		return of, err
	}
	for _, step := range []func() error{rest.ids, rest.bodies, rest.typed, rest.derived, rest.notices} {
		if err := step(); err != nil {
			return of, fmt.Errorf("forget somebody: %w", err)
		}
	}
	// What must stay is gone through again until nothing is left.
	if len(of.Kept) == 0 {
		return of, t.exec(`DELETE FROM forgetting WHERE shop_id = ? AND person_id = ?`, t.shop, p)
	}
	kept, err := json.Marshal(of.Kept)
	if err != nil {
		return of, fmt.Errorf("write what stays: %w", err)
	}
	return of, t.exec(`INSERT INTO forgetting (shop_id, person_id, former, at, kept) VALUES (?, ?, ?, ?, ?)
		ON CONFLICT (shop_id, person_id) DO UPDATE SET at = excluded.at, kept = excluded.kept`,
		t.shop, p, former, rest.until, string(kept))
}

// forgetting is a person who is taken out of a shop's rows.
type forgetting struct {
	t         *tx
	p, former domain.PersonID
	until     int64           // of what was recorded later nothing is taken
	facts     []domain.FactNo // stay
	settings  bool            // stay
	steward   bool            // stays known as one
}

// stays is the facts that stay, as SQL's JSON.
func (g *forgetting) stays() string {
	text, err := json.Marshal(append([]domain.FactNo{0}, g.facts...))
	if err != nil {
		return "[0]"
	}
	return string(text)
}

// ids are whose reports they are.
func (g *forgetting) ids() error {
	const others = ` AND no NOT IN (SELECT value FROM json_each(?5))`
	if err := g.t.exec(`UPDATE fact SET by_id = iif(by_id = ?2, ?3, by_id), for_id = iif(for_id = ?2, ?3, for_id)
		WHERE shop_id = ?1 AND (by_id = ?2 OR for_id = ?2) AND recorded <= ?4`+others, g.t.shop, g.p, g.former, g.until,
		g.stays()); err != nil {
		return err
	}
	if err := g.t.exec(`UPDATE forgot SET by_id = ?3 WHERE shop_id = ?1 AND by_id = ?2 AND at <= ?4`, g.t.shop, g.p,
		g.former, g.until); err != nil {
		return err
	}
	if err := g.t.exec(`UPDATE audit SET who = ?3 WHERE shop_id = ?1 AND who = ?2 AND at <= ?4
		AND fact_no NOT IN (SELECT value FROM json_each(?5))`, g.t.shop, g.p, g.former, g.until,
		g.stays()); err != nil {
		return err
	}
	return g.t.exec(`UPDATE tag SET by_id = ?3 WHERE shop_id = ?1 AND by_id = ?2 AND EXISTS (SELECT 1 FROM fact
		WHERE fact.shop_id = ?1 AND no = fact_no AND recorded <= ?4`+others+`)`, g.t.shop, g.p, g.former, g.until,
		g.stays())
}

// keyed is a row's number or name, with a text of it.
type keyed struct {
	key  any
	kind string
	text string
}

// each puts what rename makes of it in place of each text that a query finds.
func (g *forgetting) each(query, update string, rename func(keyed) (string, error), args ...any) error {
	var all []keyed
	var one keyed
	if err := g.t.rows([]any{&one.key, &one.kind, &one.text}, func() error { all = append(all, one); return nil },
		query, append([]any{g.t.shop, g.p}, args...)...); err != nil {
		return err
	}
	for _, one := range all {
		text, err := rename(one)
		if err != nil {
			return fmt.Errorf("rename in %v: %w", one.key, err)
		}
		if text == one.text {
			continue
		}
		if err := g.t.exec(update, text, g.t.shop, one.key); err != nil {
			return err
		}
	}
	return nil
}

// json is a stored JSON text without the person.
func (g *forgetting) json(of keyed) (string, error) {
	if of.text == "" {
		return "", nil
	}
	text, err := domain.RenamePerson([]byte(of.text), g.p, g.former)
	return string(text), err
}

// bodies are what facts say: every text that names the person, found by reading them all.
// Settings are copied from one to the next, so that those are looked through to the last.
func (g *forgetting) bodies() error {
	return g.each(`SELECT no, kind, body FROM fact WHERE shop_id = ?1 AND instr(body, ?2) > 0
		AND (recorded <= ?3 OR kind IN ('shop', 'away'))`,
		`UPDATE fact SET body = ? WHERE shop_id = ? AND no = ?`, func(of keyed) (string, error) {
			no, _ := of.key.(int64)
			kind := domain.Kind(of.kind)
			switch {
			case g.settings && (kind == domain.KindShop || kind == domain.KindAway):
				return of.text, nil
			// The set-up that it would make is compared with others.
			case slices.Contains(g.facts, domain.FactNo(no)) && kind != domain.KindLoosening:
				return of.text, nil
			}
			return g.json(of)
		}, g.until)
}

// typed is what was typed.
func (g *forgetting) typed() error {
	return g.each(`SELECT fact_no, '', typed FROM audit WHERE shop_id = ?1 AND instr(typed, ?2) > 0 AND at <= ?3
		AND fact_no NOT IN (SELECT value FROM json_each(?4))`,
		`UPDATE audit SET typed = ? WHERE shop_id = ? AND fact_no = ?`, func(of keyed) (string, error) {
			return domain.RenameTyped(of.text, g.p, g.former), nil
		}, g.until, g.stays())
}

// derived are the set-ups and the settings.
func (g *forgetting) derived() error {
	if err := g.each(`SELECT machine_id, '', setup FROM machine WHERE shop_id = ?1 AND instr(setup, ?2) > 0`,
		`UPDATE machine SET setup = ? WHERE shop_id = ? AND machine_id = ?`, g.json); err != nil || g.settings {
		return err
	}
	return g.each(`SELECT shop_id, '', settings FROM shop WHERE shop_id = ?1 AND instr(settings, ?2) > 0`,
		`UPDATE shop SET settings = ? WHERE ? = shop_id AND shop_id = ?`, g.json)
}

// notices are those that wait, or are held against later ones; what waits behind buttons;
// and that the person was seen as a steward. While something stays, what waits may be for
// them to read.
func (g *forgetting) notices() error {
	if len(g.facts) == 0 && !g.settings {
		if err := g.each(`SELECT id, '', args FROM outbox WHERE shop_id = ?1 AND instr(args, ?2) > 0`,
			`UPDATE outbox SET args = ? WHERE shop_id = ? AND id = ?`, g.json); err != nil {
			return err
		}
	}
	if err := g.t.exec(`DELETE FROM pending WHERE shop_id = ?1 AND (asked = ?2 OR instr(args, ?2) > 0) AND made <= ?3`,
		g.t.shop, g.p, g.until); err != nil {
		return err
	}
	for _, query := range []string{`DELETE FROM unseen WHERE shop_id = ? AND person_id = ? AND at <= ?`,
		`DELETE FROM told WHERE shop_id = ? AND person_id = ? AND at <= ?`} {
		if err := g.t.exec(query, g.t.shop, g.p, g.until); err != nil {
			return err
		}
	}
	if g.steward {
		return nil
	}
	return g.t.exec(`DELETE FROM steward WHERE shop_id = ? AND person_id = ? AND seen <= ?`, g.t.shop, g.p, g.until)
}

// GoOnForgetting takes out of the books what stayed under the names of people who are to be
// forgotten, where nothing needs it any more.
func (db *DB) GoOnForgetting(ctx context.Context, now time.Time) error {
	type waiting struct {
		shop      domain.ShopID
		p, former domain.PersonID
		until     int64
		kept      string
	}
	var all []waiting
	if err := db.look(ctx, "", func(t *tx) error {
		var one waiting
		return t.rows([]any{&one.shop, &one.p, &one.former, &one.until, &one.kept},
			func() error { all = append(all, one); return nil },
			`SELECT shop_id, person_id, former, at, kept FROM forgetting ORDER BY shop_id, person_id`)
	}); err != nil {
		return err
	}
	var errs []error
	done := false
	for _, one := range all {
		var stays []domain.Kept
		err := db.read(ctx, one.shop, func(t *tx) (err error) {
			stays, err = t.keptOf(one.p, moment(one.until), now)
			return err
		})
		if err != nil {
			errs = append(errs, err)
			continue
		}
		if text, err := json.Marshal(stays); err == nil && string(text) == one.kept {
			continue
		}
		err = db.write(ctx, one.shop, func(t *tx) error {
			_, err := t.forget(one.p, one.former, moment(one.until), now)
			return err
		})
		errs = append(errs, err)
		done = done || err == nil
	}
	if done {
		errs = append(errs, db.squeeze(ctx))
	}
	return errors.Join(errs...)
}

// forgetAgain takes out of older books who was forgotten since, by a list, and says how many
// people that were.
func (db *DB) forgetAgain(ctx context.Context, list string, now time.Time) (n int, err error) {
	all, err := readForgotten(list)
	if err != nil || len(all) == 0 {
		return 0, err
	}
	shops, err := db.importedShops(ctx)
	if err != nil {
		return 0, err
	}
	for _, shop := range shops {
		if !slices.ContainsFunc(all, func(f forgotten) bool { return f.Shop == shop }) {
			continue
		}
		err := db.write(ctx, shop, func(t *tx) error {
			people, err := t.people()
			if err != nil {
				return err
			}
			for _, p := range people {
				last := forgotten{}
				for _, one := range all {
					if one.is(shop, p) && one.At.After(last.At) {
						last = one
					}
				}
				if last.Former == "" {
					continue
				}
				if _, err := t.forget(p, last.Former, last.At, now); err != nil {
					return err
				}
				n++
			}
			return nil
		})
		if err != nil {
			return n, err
		}
	}
	if n > 0 {
		err = db.squeeze(ctx)
	}
	return n, err
}

// people lists everybody who stands in a shop's facts.
func (t *tx) people() (all []domain.PersonID, err error) {
	known := map[domain.PersonID]bool{"": true}
	add := func(p domain.PersonID) {
		if !known[p] && !p.Former() {
			known[p], all = true, append(all, p)
		}
	}
	var p domain.PersonID
	if err := t.rows([]any{&p}, func() error { add(p); return nil }, `SELECT by_id FROM fact WHERE shop_id = ?1
		UNION SELECT for_id FROM fact WHERE shop_id = ?1 UNION SELECT who FROM audit WHERE shop_id = ?1
		UNION SELECT person_id FROM steward WHERE shop_id = ?1 UNION SELECT by_id FROM forgot WHERE shop_id = ?1
		UNION SELECT person_id FROM unseen WHERE shop_id = ?1 UNION SELECT person_id FROM told WHERE shop_id = ?1
		ORDER BY 1`, t.shop); err != nil {
		return nil, err
	}
	var text string
	return all, t.rows([]any{&text}, func() error {
		people, err := domain.PeopleIn([]byte(text))
		for _, p := range people {
			add(p)
		}
		return err
	}, `SELECT body FROM fact WHERE shop_id = ? ORDER BY no`, t.shop)
}
