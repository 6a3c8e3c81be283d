package store

import (
	"setscrew/domain"
)

// retiredWell refuses a machine where the last of its name was retired while a tag stood on
// it, or one of its kind was since which none of that kind was added: it may be the same
// machine, and what that was out of service for was never seen to.
func (t *tx) retiredWell(name, kind string) error {
	var was string
	var tag domain.FactNo
	found, err := t.row([]any{&was, &tag}, `SELECT m.name, g.fact_no
		FROM machine m JOIN tag g ON g.shop_id = m.shop_id AND g.machine_id = m.machine_id AND g.lifted_by = 0
		WHERE m.shop_id = ?1 AND m.retired IS NOT NULL AND (
			m.machine_id = (SELECT max(machine_id) FROM machine
				WHERE shop_id = ?1 AND folded = ?2 AND retired IS NOT NULL)
			OR m.setup ->> '$.kind' = ?3 AND NOT EXISTS (SELECT 1 FROM machine later
				WHERE later.shop_id = ?1 AND later.setup ->> '$.kind' = ?3 AND later.machine_id > m.machine_id
					AND later.added >= m.retired))
		ORDER BY g.fact_no LIMIT 1`, t.shop, domain.Folded(name), kind)
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
