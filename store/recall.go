package store

import "setscrew/domain"

// recalled is a machine's snapshot as it stood after a fact of its shop.
type recalled struct {
	snap domain.Snapshot
	no   domain.FactNo // the shop's last fact at that time
}

type machineKey struct {
	shop    domain.ShopID
	machine domain.MachineID
}

// recall is a machine's snapshot, from memory if no later fact can have changed
// it: everything in a snapshot comes from facts of the machine, or of the shop
// itself. One query, over the facts recorded since, tells. A snapshot is shared
// and never changed once it is made.
func (t *tx) recall(m domain.MachineID) (domain.Snapshot, error) {
	v, ok := t.db.recalled.Load(machineKey{t.shop, m})
	if !ok {
		return t.snapshot(m)
	}
	r := v.(recalled)
	var one int
	changed, err := t.row([]any{&one}, `SELECT 1 FROM fact WHERE shop_id = ? AND no > ? AND machine_id IN (0, ?) LIMIT 1`, t.shop, r.no, m)
	if err != nil {
		return domain.Snapshot{}, err
	}
	if changed {
		return t.snapshot(m)
	}
	return r.snap, nil
}

// remember keeps a snapshot for recall once the transaction is committed; no is
// the shop's last fact.
func (t *tx) remember(snap domain.Snapshot, no domain.FactNo) {
	t.kept, t.keptNo = &snap, no
}

// committed makes what was to be remembered so.
func (t *tx) committed() {
	if t.kept != nil {
		t.db.recalled.Store(machineKey{t.shop, t.kept.Machine.ID}, recalled{*t.kept, t.keptNo})
	}
}
