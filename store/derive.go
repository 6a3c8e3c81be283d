package store

import (
	"encoding/json"
	"fmt"
	"time"

	"setscrew/domain"
)

// derive brings what is kept beside the facts up to date with a new one. Its
// cost does not grow with the number of facts, except that a service typed late,
// or withdrawn, sums up the use since it.
func (t *tx) derive(fact domain.Fact) error {
	t.changed = t.changed || domain.Structural(fact.Body)
	if err := t.db.derived[fact.Body.FactKind()].add(t, fact); err != nil {
		return fmt.Errorf("bring what is derived up to date with a fact of kind %s: %w", fact.Body.FactKind(), err)
	}
	if domain.KeptLast(fact.Body) {
		return t.lastDone(fact)
	}
	return nil
}

// addUse adds to a machine's total, and to the use since each service that was
// done before.
func (t *tx) addUse(fact domain.Fact, seconds int64) error {
	if err := t.exec(`UPDATE machine SET seconds = seconds + ? WHERE shop_id = ? AND machine_id = ?`, seconds, t.shop,
		fact.Machine); err != nil {
		return err
	}
	if t.prev != nil && (t.prev.KeptFrom.IsZero() || !t.prev.KeptFrom.Before(fact.At)) {
		return nil // there is nothing that it counts towards
	}
	return t.exec(`UPDATE done_last SET seconds = seconds + ? WHERE shop_id = ? AND machine_id = ? AND at < ?`,
		seconds, t.shop, fact.Machine, stamp(fact.At))
}

// recount works out again, for at most a number of readings of the counter from a
// moment on (or from a fact at it), the use that no report spoke of. A report typed
// late, or withdrawn, moves it.
func (t *tx) recount(machine domain.MachineID, at time.Time, no domain.FactNo, most int) error {
	type counter struct{ no, at, unlogged int64 }
	var after []counter
	var c counter
	if err := t.rows([]any{&c.no, &c.at, &c.unlogged}, func() error { after = append(after, c); return nil },
		`SELECT no, at, seconds FROM fact WHERE shop_id = ?1 AND machine_id = ?2 AND kind = 'counter'
			AND subject = '' AND withdrawn = 0 AND believed = 1
			AND (at > ?3 OR at = ?3 AND no >= ?4) ORDER BY at, no LIMIT ?5`,
		t.shop, machine, stamp(at), no, most); err != nil {
		return err
	}
	for _, reading := range after {
		unlogged, err := t.unlogged(machine, reading.no, reading.at)
		if err != nil {
			return err
		}
		// What it changes by is kept with the reading, and moves the totals.
		change := unlogged - reading.unlogged
		if change == 0 {
			continue
		}
		if err := t.exec(`UPDATE fact SET seconds = ? WHERE shop_id = ? AND no = ?`, unlogged, t.shop,
			reading.no); err != nil {
			return err
		}
		if err := t.exec(`UPDATE machine SET seconds = seconds + ? WHERE shop_id = ? AND machine_id = ?`, change,
			t.shop, machine); err != nil {
			return err
		}
		if err := t.exec(`UPDATE done_last SET seconds = seconds + ? WHERE shop_id = ? AND machine_id = ? AND at < ?`,
			change, t.shop, machine, reading.at); err != nil {
			return err
		}
	}
	return nil
}

// unlogged is the use in seconds that a reading of the counter, a fact at a stamp, brings
// to light: what the counter went on by since its reading before, less what was reported
// between the two; 0 where there is none before, or the counter is new.
func (t *tx) unlogged(machine domain.MachineID, no, at int64) (int64, error) {
	fact, err := t.fact(domain.FactNo(no))
	if err != nil {
		return 0, err
	}
	shown, _ := fact.Body.(domain.CounterRead)
	// The reading before it.
	var row factRow
	found, err := t.row(row.columns(), `SELECT `+factColumns+` FROM fact WHERE shop_id = ?1 AND machine_id = ?2
		AND kind = 'counter' AND subject = '' AND withdrawn = 0 AND believed = 1
		AND (at < ?3 OR at = ?3 AND no < ?4) ORDER BY at DESC, no DESC LIMIT 1`, t.shop, machine, at, no)
	if err != nil || !found || shown.New {
		return 0, err
	}
	before, err := row.fact(t.shop)
	if err != nil {
		return 0, err
	}
	earlier, _ := before.Body.(domain.CounterRead)
	// What was reported between the two.
	var logged int64
	if _, err := t.row([]any{&logged}, `SELECT coalesce(sum(seconds), 0) FROM fact WHERE shop_id = ?
		AND machine_id = ? AND kind = 'hours' AND subject = ''
		AND at > ? AND at <= ? AND withdrawn = 0 AND believed = 1`, t.shop, machine, stamp(before.At), at); err != nil {
		return 0, err
	}
	return max(shown.Since(earlier)-logged, 0), nil
}

// work names what done_last keeps of a fact.
func work(b domain.Body) string { return string(b.FactKind()) + ":" + domain.Subject(b) }

// lastDone works out when what a fact is about was last done, or happened, and
// the use since.
func (t *tx) lastDone(about domain.Fact) error {
	last, found, err := t.last(about.Machine, about.Body.FactKind(), domain.Subject(about.Body))
	if err != nil {
		return err
	}
	if !found {
		return t.exec(`DELETE FROM done_last WHERE shop_id = ? AND machine_id = ? AND work = ?`, t.shop,
			about.Machine, work(about.Body))
	}
	return t.exec(`INSERT INTO done_last (shop_id, machine_id, work, fact_no, at, seconds)
		SELECT ?1, ?2, ?3, ?4, ?5, coalesce(sum(seconds), 0) FROM fact
			WHERE shop_id = ?1 AND machine_id = ?2 AND kind IN (`+kindsOfUse+`) AND subject = '' AND at > ?5
				AND withdrawn = 0 AND believed = 1
		ON CONFLICT (shop_id, machine_id, work) DO UPDATE SET fact_no = excluded.fact_no, at = excluded.at,
			seconds = excluded.seconds`,
		t.shop, about.Machine, work(about.Body), last.No, stamp(last.At))
}

// addMoved notes that a fact moved the surfaces of checks.
func (t *tx) addMoved(f domain.Fact, checks ...string) error {
	for _, c := range checks {
		if err := t.exec(`INSERT INTO moved (shop_id, machine_id, check_id, at, fact_no) VALUES (?, ?, ?, ?, ?)
			ON CONFLICT DO NOTHING`,
			t.shop, f.Machine, c, stamp(f.At), f.No); err != nil {
			return err
		}
	}
	return nil
}

// unmove takes back what a fact moved.
func (t *tx) unmove(f domain.Fact) error {
	return t.exec(`DELETE FROM moved WHERE shop_id = ? AND machine_id = ? AND fact_no = ?`, t.shop, f.Machine, f.No)
}

// endTest ends a machine's test, if one runs.
func (t *tx) endTest(m domain.MachineID) error {
	return t.exec(`UPDATE machine SET test = 0 WHERE shop_id = ? AND machine_id = ? AND test <> 0`, t.shop, m)
}

// hang puts a tag on a machine; the first of them takes it out of service, any
// of them ends a test.
func (t *tx) hang(fact domain.Fact, tagOut domain.TagOut) error {
	reason, err := json.Marshal(tagOut.Reason)
	if err != nil {
		return fmt.Errorf("store: encode a tag's reason: %w", err)
	}
	if err := t.countOutage(fact.Machine); err != nil {
		return err
	}
	if err := t.endTest(fact.Machine); err != nil {
		return err
	}
	if err := t.exec(`INSERT INTO tag (shop_id, fact_no, machine_id, cause, because, reason, by_id, at, paper)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		t.shop, fact.No, fact.Machine, tagOut.Cause, tagOut.Because, string(reason), fact.For, stamp(fact.At),
		tagOut.Paper); err != nil {
		return err
	}
	if tagOut.Reason.Code != domain.LockOn {
		return nil
	}
	return t.replaceLocks(fact)
}

// countOutage counts one more time out of service if no tag stands.
func (t *tx) countOutage(m domain.MachineID) error {
	return t.exec(`UPDATE machine SET outage = outage + 1 WHERE shop_id = ?1 AND machine_id = ?2
		AND NOT EXISTS (SELECT 1 FROM tag WHERE shop_id = ?1 AND machine_id = ?2 AND lifted_by = 0)`, t.shop, m)
}

// withdraw voids a fact and works out again just what that fact touched. A tag
// that rests on it stays, marked; only a release lifts it.
func (t *tx) withdraw(by domain.Fact, no domain.FactNo) error {
	voided, err := t.fact(no)
	if err != nil {
		return err
	}
	if err := t.exec(`UPDATE fact SET withdrawn = ? WHERE shop_id = ? AND no = ?`, by.No, t.shop, no); err != nil {
		return err
	}
	// Its tag, and those that rest on it: one query for both would read all tags.
	if err := t.exec(`UPDATE tag SET withdrawn = 1 WHERE shop_id = ? AND fact_no = ?`, t.shop, no); err != nil {
		return err
	}
	if err := t.exec(`UPDATE tag SET withdrawn = 1 WHERE shop_id = ? AND because = ?`, t.shop, no); err != nil {
		return err
	}
	if err := t.unmend(by, no); err != nil {
		return err
	}
	if err := t.unshow(by, voided); err != nil {
		return err
	}
	if undo := t.db.derived[voided.Body.FactKind()].undo; undo != nil {
		if err := undo(t, voided, by); err != nil {
			return fmt.Errorf("take back what is derived from a fact of kind %s: %w", voided.Body.FactKind(), err)
		}
	}
	if domain.KeptLast(voided.Body) {
		return t.lastDone(voided)
	}
	return nil
}

// unmend takes back what Setscrew closed by itself because of a fact that is
// withdrawn.
func (t *tx) unmend(by domain.Fact, because domain.FactNo) error {
	var mends []domain.FactNo
	var mend domain.FactNo
	if err := t.rows([]any{&mend}, func() error { mends = append(mends, mend); return nil },
		`SELECT no FROM fact WHERE shop_id = ? AND json_extract(body, '$.because') = ? AND kind = 'mended'
			AND withdrawn = 0 ORDER BY no`, t.shop, because); err != nil {
		return err
	}
	for _, mend := range mends {
		if err := t.withdraw(by, mend); err != nil {
			return err
		}
	}
	return nil
}

// unshow takes back that somebody sees to a machine's dangers where a withdrawn report
// alone has shown it; whoever takes back a release is there.
func (t *tx) unshow(by, shown domain.Fact) error {
	if shown.Body.FactKind() == domain.KindRelease {
		return nil
	}
	var no domain.FactNo
	found, err := t.row([]any{&no}, `SELECT no FROM fact WHERE shop_id = ? AND json_extract(body, '$.because') = ?
		AND kind = 'seen-to' AND withdrawn = 0`, t.shop, shown.No)
	if err != nil || !found {
		return err
	}
	return t.withdraw(by, no)
}

// unrelease hangs the tags again that a withdrawn release lifted.
func (t *tx) unrelease(by, release domain.Fact) error {
	if err := t.countOutage(release.Machine); err != nil {
		return err
	}
	if err := t.exec(`UPDATE problem SET closed_by = 0 WHERE shop_id = ? AND closed_by = ?`, t.shop,
		release.No); err != nil {
		return err
	}
	return t.exec(`UPDATE tag SET lifted_by = 0 WHERE shop_id = ? AND lifted_by = ?`, t.shop, release.No)
}
