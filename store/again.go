package store

import (
	"setscrew/domain"
)

// retiredWell refuses a name whose last machine was retired while a tag stood on it: it may
// be the same machine, and what it was out of service for was never seen to.
func (t *tx) retiredWell(name string) error {
	var was string
	var tag domain.FactNo
	found, err := t.row([]any{&was, &tag}, `SELECT m.name, g.fact_no
		FROM tag g JOIN machine m ON m.shop_id = g.shop_id AND m.machine_id = g.machine_id
		WHERE g.shop_id = ?1 AND g.lifted_by = 0 AND g.machine_id = (SELECT max(machine_id) FROM machine
			WHERE shop_id = ?1 AND folded = ?2 AND retired IS NOT NULL)
		ORDER BY g.fact_no LIMIT 1`, t.shop, domain.Folded(name))
	if err == nil && found {
		return &domain.Refusal{Code: domain.RetiredTagged, Name: was, Fact: tag}
	}
	return err
}

// lockLifted refuses to put a lock on again whose tag is lifted: nothing would hold it.
func (t *tx) lockLifted(machine domain.Machine, tag domain.FactNo) error {
	var lifted domain.FactNo
	found, err := t.row([]any{&lifted}, `SELECT lifted_by FROM tag WHERE shop_id = ? AND machine_id = ? AND fact_no = ?
		AND lifted_by <> 0`, t.shop, machine.ID, tag)
	if err == nil && found {
		return &domain.Refusal{Code: domain.LockLifted, Name: machine.Name, Fact: lifted}
	}
	return err
}
