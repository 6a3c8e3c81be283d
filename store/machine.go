package store

import (
	"encoding/json"
	"fmt"
	"time"

	"setscrew/domain"
)

// newMachine adds a machine's row, so that its first fact can name it.
func (t *tx) newMachine(added domain.MachineAdded, now time.Time) (id domain.MachineID, err error) {
	setup, err := json.Marshal(added.Setup)
	if err != nil {
		return 0, fmt.Errorf("store: encode a machine's set-up: %w", err)
	}
	var other string
	if found, err := t.row([]any{&other},
		`SELECT name FROM machine WHERE shop_id = ? AND folded = ? AND retired IS NULL`, t.shop,
		domain.Folded(added.Name)); err != nil {
		return 0, err
	} else if found {
		return 0, &domain.Refusal{Code: domain.MachineTwice, Name: other}
	}
	if added.Setup.Start.State != domain.StartNew {
		if err := t.retiredWell(added.Name, added.Setup.Kind); err != nil {
			return 0, err
		}
	}
	if _, err := t.row([]any{&id}, `SELECT coalesce(max(machine_id), 0) + 1 FROM machine WHERE shop_id = ?`,
		t.shop); err != nil {
		return 0, err
	}
	units := ""
	if added.Units != 0 {
		units = added.Units.String()
	}
	if err := t.exec(`INSERT INTO machine (shop_id, machine_id, name, folded, units, added, setup)
		VALUES (?, ?, ?, ?, ?, ?, ?)`,
		t.shop, id, added.Name, domain.Folded(added.Name), units, stamp(now), string(setup)); err != nil {
		return 0, err
	}
	s, err := t.settings()
	if err != nil {
		return 0, err
	}
	return id, t.nextDigest(s, now)
}
