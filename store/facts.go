package store

import (
	"fmt"
	"strings"
	"time"

	"setscrew/domain"
)

// The lists of kinds that queries look for, as SQL.
var (
	kindsOfUse     = kindList(domain.KindsOfUse())
	kindsWithdrawn = kindList(domain.KindsWithdrawn())
)

// kindList writes kinds of fact as an SQL list.
func kindList(kinds []domain.Kind) string {
	quoted := make([]string, len(kinds))
	for i, k := range kinds {
		quoted[i] = "'" + string(k) + "'"
	}
	return strings.Join(quoted, ", ")
}

// factColumns are what factRow.fact reads, in the order of factRow.columns.
const factColumns = `no, machine_id, kind, at, recorded, by_id, for_id, hash, setup_rev, withdrawn, body`

// factRow is a row of fact on its way in or out.
type factRow struct {
	no, machine, at, recorded, rev, withdrawn int64
	kind, by, for_, hash                      string
	body                                      string
}

func (r *factRow) columns() []any {
	return []any{&r.no, &r.machine, &r.kind, &r.at, &r.recorded, &r.by, &r.for_, &r.hash, &r.rev, &r.withdrawn, &r.body}
}

func (r *factRow) fact(shop domain.ShopID) (domain.Fact, error) {
	body, err := domain.DecodeBody(domain.Kind(r.kind), []byte(r.body))
	if err != nil {
		return domain.Fact{}, fmt.Errorf("store: read no. %d: %w", r.no, err)
	}
	return domain.Fact{No: domain.FactNo(r.no), Shop: shop, Machine: domain.MachineID(r.machine), At: moment(r.at),
		Recorded: moment(r.recorded),
		By:       domain.PersonID(r.by), For: domain.PersonID(r.for_), Hash: r.hash, SetupRev: r.rev,
		Withdrawn: domain.FactNo(r.withdrawn), Body: body}, nil
}

// addFact writes a fact with its key and gives it the next number. A fact that
// Setscrew adds by itself has no key.
func (t *tx) addFact(fact *domain.Fact, key, typed string) error {
	body, err := domain.EncodeBody(fact.Body)
	if err != nil {
		return fmt.Errorf("store: encode a fact: %w", err)
	}
	fact.Shop = t.shop
	last, err := t.lastFact()
	if err != nil {
		return err
	}
	fact.No = last + 1
	t.newest = fact.No
	// Times are read back as they are stored.
	fact.At, fact.Recorded = moment(stamp(fact.At)), moment(stamp(fact.Recorded))
	if err := t.exec(`INSERT INTO fact (shop_id, no, machine_id, kind, subject, at, recorded, by_id, for_id, hash,
		setup_rev, believed, seconds, body, key)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?,
			?)`, t.shop, fact.No, fact.Machine, fact.Body.FactKind(), domain.Subject(fact.Body), stamp(fact.At),
		stamp(fact.Recorded), fact.By, fact.For, fact.Hash, fact.SetupRev, domain.Believed(fact.Body),
		domain.UseTold(fact.Body),
		string(body),
		key); err != nil {
		return err
	}
	return t.exec(`INSERT INTO audit (shop_id, fact_no, who, typed, at) VALUES (?, ?, ?, ?, ?)`, t.shop, fact.No,
		fact.By,
		typed, stamp(fact.Recorded))
}

// lastFact is the number of the shop's last fact, 0 if there is none: from memory,
// since no other program writes to the file meanwhile, unless a replay check is made.
func (t *tx) lastFact() (domain.FactNo, error) {
	if n, ok := t.db.newest.Load(t.shop); ok && t.writes && !t.known && !t.replayCheck {
		t.newest, t.known = n.(domain.FactNo), true
	}
	if !t.known {
		if _, err := t.row([]any{&t.newest}, `SELECT coalesce(max(no), 0) FROM fact WHERE shop_id = ?`,
			t.shop); err != nil {
			return 0, err
		}
		t.known = true
	}
	return t.newest, nil
}

// applied is the fact that an entry of that key became before, 0 if none. It
// learns the shop's last fact on the way.
func (t *tx) applied(key string) (domain.FactNo, error) {
	var no domain.FactNo
	_, err := t.row([]any{&no, &t.newest}, `SELECT coalesce((SELECT no FROM fact WHERE shop_id = ?1 AND key = ?2
		AND key <> ''), 0),
		coalesce((SELECT max(no) FROM fact WHERE shop_id = ?1), 0)`, t.shop, key)
	t.known = err == nil
	return no, err
}

// fact finds a fact by its number.
func (t *tx) fact(no domain.FactNo) (domain.Fact, error) {
	var row factRow
	found, err := t.row(row.columns(), `SELECT `+factColumns+` FROM fact WHERE shop_id = ? AND no = ?`, t.shop, no)
	if err != nil {
		return domain.Fact{}, err
	}
	if !found {
		return domain.Fact{}, &domain.Refusal{Code: domain.NoSuchFact, Fact: no}
	}
	return row.fact(t.shop)
}

// lastUntil is last among what happened at a moment or before.
func (t *tx) lastUntil(machine domain.MachineID, kind domain.Kind, subject string, at time.Time) (fact domain.Fact,
	found bool,
	err error) {
	var row factRow
	found, err = t.row(row.columns(), `SELECT `+factColumns+` FROM fact
		WHERE shop_id = ? AND machine_id = ? AND kind = ? AND subject = ? AND withdrawn = 0 AND believed = 1 AND at <= ?
		ORDER BY at DESC, no DESC LIMIT 1`, t.shop, machine, kind, subject, stamp(at))
	if err != nil || !found {
		return domain.Fact{}, false, err
	}
	fact, err = row.fact(t.shop)
	return fact, err == nil, err
}

// last finds the last believed fact of a kind about a subject by event time.
func (t *tx) last(m domain.MachineID, kind domain.Kind, subject string) (fact domain.Fact, found bool, err error) {
	var row factRow
	found, err = t.row(row.columns(), `SELECT `+factColumns+` FROM fact
		WHERE shop_id = ? AND machine_id = ? AND kind = ? AND subject = ? AND withdrawn = 0 AND believed = 1
		ORDER BY at DESC, no DESC LIMIT 1`, t.shop, m, kind, subject)
	if err != nil || !found {
		return domain.Fact{}, false, err
	}
	fact, err = row.fact(t.shop)
	return fact, err == nil, err
}
