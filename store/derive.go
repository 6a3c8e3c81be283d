package store

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"

	"setscrew/domain"
)

// derive brings what is kept beside the facts up to date with a new one. Its
// cost does not grow with the number of facts, except that a service typed late,
// or withdrawn, sums up the use since it.
func (t *tx) derive(f domain.Fact) error {
	t.changed = t.changed || structural(f.Body)
	switch b := f.Body.(type) {
	case domain.Hours:
		return t.addUse(f, b.Seconds)
	case domain.ServiceDone:
		if err := t.lastService(f.Machine, b.Service); err != nil {
			return err
		}
		for _, check := range b.Moves {
			if err := t.addMoved(f, check); err != nil {
				return err
			}
		}
	case domain.Move:
		return t.addMoved(f, b.Check)
	case domain.Problem:
		if b.Danger {
			return t.exec(`INSERT INTO danger (shop_id, fact_no, machine_id) VALUES (?, ?, ?)`, t.shop, f.No, f.Machine)
		}
	case domain.ReadingConfirmed:
		return t.exec(`UPDATE fact SET believed = 1 WHERE shop_id = ? AND no = ?`, t.shop, b.Of)
	case domain.TagOut:
		return t.hang(f, b)
	case domain.Release:
		if err := t.exec(`UPDATE tag SET lifted_by = ? WHERE shop_id = ? AND machine_id = ? AND lifted_by = 0`, f.No, t.shop, f.Machine); err != nil {
			return err
		}
		return t.exec(`UPDATE danger SET closed_by = ? WHERE shop_id = ? AND machine_id = ? AND closed_by = 0`, f.No, t.shop, f.Machine)
	case domain.Withdrawal:
		return t.withdraw(f, b.Of)
	case domain.ShopSet:
		text, err := json.Marshal(b.Shop)
		if err != nil {
			return fmt.Errorf("store: %w", err)
		}
		return t.exec(`INSERT INTO shop (shop_id, settings) VALUES (?, ?) ON CONFLICT (shop_id) DO UPDATE SET settings = excluded.settings`, t.shop, string(text))
	case domain.SetupChanged:
		text, err := json.Marshal(b.Setup)
		if err != nil {
			return fmt.Errorf("store: %w", err)
		}
		return t.exec(`UPDATE machine SET setup = ? WHERE shop_id = ? AND machine_id = ?`, string(text), t.shop, f.Machine)
	case domain.MachineRetired:
		return t.exec(`UPDATE machine SET retired = ?, wake = NULL WHERE shop_id = ? AND machine_id = ?`, stamp(f.Recorded), t.shop, f.Machine)
	case domain.GaugeSet:
		text, err := json.Marshal(b.Gauge)
		if err != nil {
			return fmt.Errorf("store: %w", err)
		}
		return t.exec(`INSERT INTO gauge (shop_id, folded, gauge) VALUES (?, ?, ?) ON CONFLICT (shop_id, folded) DO UPDATE SET gauge = excluded.gauge`,
			t.shop, folded(b.Gauge.Name), string(text))
	}
	return nil
}

// addUse adds to a machine's total, and to the use since each service that was
// done before.
func (t *tx) addUse(f domain.Fact, seconds int64) error {
	if err := t.exec(`UPDATE machine SET seconds = seconds + ? WHERE shop_id = ? AND machine_id = ?`, seconds, t.shop, f.Machine); err != nil {
		return err
	}
	if t.prev != nil && !slices.ContainsFunc(slices.Collect(maps.Values(t.prev.Services)), func(l domain.LastService) bool { return l.At.Before(f.At) }) {
		return nil // no service was done before
	}
	return t.exec(`UPDATE service_last SET seconds = seconds + ? WHERE shop_id = ? AND machine_id = ? AND at < ?`, seconds, t.shop, f.Machine, stamp(f.At))
}

// lastService works out when a service was last done, and the use since.
func (t *tx) lastService(m domain.MachineID, service string) error {
	f, found, err := t.last(m, domain.KindService, service)
	if err != nil {
		return err
	}
	if !found {
		return t.exec(`DELETE FROM service_last WHERE shop_id = ? AND machine_id = ? AND service = ?`, t.shop, m, service)
	}
	return t.exec(`INSERT INTO service_last (shop_id, machine_id, service, fact_no, at, seconds)
		SELECT ?1, ?2, ?3, ?4, ?5, coalesce(sum(seconds), 0) FROM fact
			WHERE shop_id = ?1 AND machine_id = ?2 AND kind = 'hours' AND subject = '' AND at > ?5 AND withdrawn = 0 AND believed = 1
		ON CONFLICT (shop_id, machine_id, service) DO UPDATE SET fact_no = excluded.fact_no, at = excluded.at, seconds = excluded.seconds`,
		t.shop, m, service, f.No, stamp(f.At))
}

func (t *tx) addMoved(f domain.Fact, check string) error {
	return t.exec(`INSERT INTO moved (shop_id, machine_id, check_id, at, fact_no) VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
		t.shop, f.Machine, check, stamp(f.At), f.No)
}

// hang puts a tag on a machine; the first of them takes it out of service.
func (t *tx) hang(f domain.Fact, b domain.TagOut) error {
	reason, err := json.Marshal(b.Reason)
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	if err := t.countOutage(f.Machine); err != nil {
		return err
	}
	return t.exec(`INSERT INTO tag (shop_id, fact_no, machine_id, cause, because, reason, by_id, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
		t.shop, f.No, f.Machine, b.Cause, b.Because, string(reason), f.By, stamp(f.At))
}

// countOutage counts one more time out of service if no tag stands.
func (t *tx) countOutage(m domain.MachineID) error {
	return t.exec(`UPDATE machine SET outage = outage + 1 WHERE shop_id = ?1 AND machine_id = ?2
		AND NOT EXISTS (SELECT 1 FROM tag WHERE shop_id = ?1 AND machine_id = ?2 AND lifted_by = 0)`, t.shop, m)
}

// withdraw voids a fact and works out anew just what that fact touched. A tag
// that rests on it stays, marked; only a release lifts it.
func (t *tx) withdraw(by domain.Fact, no domain.FactNo) error {
	f, err := t.fact(no)
	if err != nil {
		return err
	}
	if err := t.exec(`UPDATE fact SET withdrawn = ? WHERE shop_id = ? AND no = ?`, by.No, t.shop, no); err != nil {
		return err
	}
	if err := t.exec(`UPDATE tag SET withdrawn = 1 WHERE shop_id = ?1 AND (fact_no = ?2 OR because = ?2)`, t.shop, no); err != nil {
		return err
	}
	switch b := f.Body.(type) {
	case domain.Hours:
		return t.addUse(f, -b.Seconds)
	case domain.ServiceDone:
		if err := t.lastService(f.Machine, b.Service); err != nil {
			return err
		}
		return t.exec(`DELETE FROM moved WHERE shop_id = ? AND machine_id = ? AND fact_no = ?`, t.shop, f.Machine, no)
	case domain.Move:
		return t.exec(`DELETE FROM moved WHERE shop_id = ? AND machine_id = ? AND fact_no = ?`, t.shop, f.Machine, no)
	case domain.ReadingConfirmed:
		return t.exec(`UPDATE fact SET believed = 0 WHERE shop_id = ? AND no = ?`, t.shop, b.Of)
	case domain.Problem:
		return t.exec(`UPDATE danger SET closed_by = ? WHERE shop_id = ? AND fact_no = ?`, by.No, t.shop, no)
	case domain.Release:
		return t.unrelease(by, f)
	}
	return nil
}

// unrelease hangs the tags again that a withdrawn release lifted.
func (t *tx) unrelease(by, release domain.Fact) error {
	if err := t.countOutage(release.Machine); err != nil {
		return err
	}
	if err := t.exec(`UPDATE danger SET closed_by = 0 WHERE shop_id = ? AND closed_by = ?`, t.shop, release.No); err != nil {
		return err
	}
	return t.exec(`UPDATE tag SET lifted_by = 0 WHERE shop_id = ? AND lifted_by = ?`, t.shop, release.No)
}
