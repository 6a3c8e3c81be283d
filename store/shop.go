package store

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"time"

	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// Shop is a handle on one shop's rows.
type Shop struct {
	db *DB
	id domain.ShopID
}

// Shop is the handle on the shop of that id, whether or not anything is stored
// for it yet.
func (db *DB) Shop(id domain.ShopID) *Shop { return &Shop{db, id} }

// Shop is the shop with its settings, or with the defaults if none were stored.
func (s *Shop) Shop(ctx context.Context) (domain.Shop, error) {
	l, err := s.list(ctx)
	return l.settings, err
}

func (t *tx) settings() (domain.Shop, error) {
	var text string
	found, err := t.row([]any{&text}, `SELECT settings FROM shop WHERE shop_id = ?`, t.shop)
	settings := domain.NewShop(t.shop)
	if err != nil || !found {
		return settings, err
	}
	if err := json.Unmarshal([]byte(text), &settings); err != nil {
		return settings, fmt.Errorf("store: read the settings: %w", err)
	}
	settings.ID = t.shop
	return settings, nil
}

// machineRow is a row of machine on its way out.
type machineRow struct {
	id, added, seconds, outage, test int64
	retired                          *int64
	unasked                          bool
	name, units, setup               string
}

const machineColumns = `machine_id, name, units, added, retired, setup, seconds, outage, test, unasked`

func (r *machineRow) columns() []any {
	return []any{&r.id, &r.name, &r.units, &r.added, &r.retired, &r.setup, &r.seconds, &r.outage, &r.test, &r.unasked}
}

func (t *tx) read(row machineRow) (domain.Machine, error) {
	machine := domain.Machine{ID: domain.MachineID(row.id), Name: row.name, Added: moment(row.added)}
	machine.Units, _ = quantity.ParseSystem(row.units)
	if row.retired != nil {
		machine.Retired = moment(*row.retired)
	}
	p, err := t.profile(row)
	machine.Setup, machine.Profile = p.setup, p.profile
	return machine, err
}

// compiled is a machine's set-up, read, and the profile made with it. Both are
// shared and never changed.
type compiled struct {
	setup   domain.Setup
	profile *profile.Profile
}

// profile compiles a machine's profile; equal ones are compiled once.
func (t *tx) profile(row machineRow) (compiled, error) {
	key := string(t.shop) + "\x00" + row.setup
	if c, ok := t.db.profiles.Get(key); ok {
		return c, nil
	}
	var made compiled
	if err := json.Unmarshal([]byte(row.setup), &made.setup); err != nil {
		return made, fmt.Errorf("store: read the set-up of %s: %w", row.name, err)
	}
	loaded, err := t.loaded(made.setup)
	if err != nil {
		return made, err
	}
	if made.profile, err = made.setup.Own(loaded); err != nil {
		return made, fmt.Errorf("put the own values of %s into profile %s: %w", row.name, made.setup.Kind, err)
	}
	t.db.profiles.Add(key, made)
	return made, nil
}

// loaded is the profile of a set-up before a shop's own values: loaded once for all
// machines and shops with one text and the same parameters.
func (t *tx) loaded(setup domain.Setup) (*profile.Profile, error) {
	params, err := json.Marshal(setup.Params)
	if err != nil {
		return nil, fmt.Errorf("write the parameters of a set-up: %w", err)
	}
	key := setup.Kind + "\x00" + setup.Hash + "\x00" + string(params)
	if p, ok := t.db.loaded.Get(key); ok {
		return p, nil
	}
	var text string
	found, err := t.row([]any{&text}, `SELECT text FROM profile_text WHERE shop_id = ? AND hash = ?`, t.shop,
		setup.Hash)
	if err != nil {
		return nil, err
	}
	if !found {
		return nil, fmt.Errorf("no profile text %s", setup.Hash)
	}
	loaded, err := profile.Load(setup.Kind+".yaml", []byte(text), setup.Params)
	if err != nil {
		return nil, fmt.Errorf("load profile %s: %w", setup.Kind, err)
	}
	t.db.loaded.Add(key, loaded)
	return loaded, nil
}

// machine finds a machine by its id, retired or not.
func (t *tx) machine(id domain.MachineID) (domain.Machine, machineRow, error) {
	var row machineRow
	found, err := t.row(row.columns(), `SELECT `+machineColumns+` FROM machine WHERE shop_id = ? AND machine_id = ?`,
		t.shop, id)
	if err != nil {
		return domain.Machine{}, row, err
	}
	if !found {
		return domain.Machine{}, row, &domain.Refusal{Code: domain.NoSuchMachine}
	}
	m, err := t.read(row)
	return m, row, err
}

// Machines lists the machines in use by name without regard to case.
func (s *Shop) Machines(ctx context.Context) ([]domain.Machine, error) {
	l, err := s.list(ctx)
	return slices.Clone(l.machines), err
}

// Gauges lists the shop's own gauges by name.
func (s *Shop) Gauges(ctx context.Context) (g []domain.OwnGauge, err error) {
	err = s.db.look(ctx, s.id, func(t *tx) (err error) { g, err = t.gauges(); return err })
	return g, err
}

func (t *tx) gauges() (all []domain.OwnGauge, err error) {
	var text string
	err = t.rows([]any{&text}, func() error {
		var g domain.OwnGauge
		if err := json.Unmarshal([]byte(text), &g); err != nil {
			return fmt.Errorf("store: read a gauge: %w", err)
		}
		all = append(all, g)
		return nil
	}, `SELECT gauge FROM gauge WHERE shop_id = ? ORDER BY folded`, t.shop)
	return all, err
}

// Fact finds a fact by its number; *domain.Refusal with NoSuchFact if there is
// none.
func (s *Shop) Fact(ctx context.Context, no domain.FactNo) (f domain.Fact, err error) {
	err = s.db.look(ctx, s.id, func(t *tx) (err error) { f, err = t.fact(no); return err })
	return f, err
}

// LastBy is the last report that p typed which can be withdrawn and is not;
// *domain.Refusal with NothingToUndo if there is none.
func (s *Shop) LastBy(ctx context.Context, person domain.PersonID) (fact domain.Fact, err error) {
	err = s.db.look(ctx, s.id, func(t *tx) error {
		var row factRow
		found, err := t.row(row.columns(), `SELECT `+factColumns+` FROM fact WHERE shop_id = ? AND by_id = ?
			AND withdrawn = 0
			AND kind IN (`+kindsWithdrawn+`)
			ORDER BY no DESC LIMIT 1`, s.id, person)
		if err != nil {
			return err
		}
		if !found {
			return &domain.Refusal{Code: domain.NothingToUndo}
		}
		fact, err = row.fact(s.id)
		return err
	})
	return fact, err
}

// Study lists the readings of a gauge study, in the order in which they were
// taken.
func (s *Shop) Study(ctx context.Context, no domain.FactNo) (all []domain.Fact, err error) {
	err = s.db.look(ctx, s.id, func(t *tx) error {
		var r factRow
		return t.rows(r.columns(), func() error {
			f, err := r.fact(s.id)
			all = append(all, f)
			return err
		}, `SELECT `+factColumns+` FROM fact WHERE shop_id = ? AND machine_id = 0 AND kind = 'study-reading'
			AND subject = ? AND withdrawn = 0 AND believed = 1 ORDER BY at, no`,
			s.id, strconv.FormatInt(int64(no), 10))
	})
	return all, err
}

// Visits is the plan of visits that a steward took last; found is false if there
// is none.
func (s *Shop) Visits(ctx context.Context) (f domain.Fact, found bool, err error) {
	err = s.db.look(ctx, s.id, func(t *tx) (err error) { f, found, err = t.last(0, domain.KindVisits, ""); return err })
	return f, found, err
}

// mostSettled is how many problems that were settled are counted.
const mostSettled = 200

// Settled counts how often each cause was behind a problem of a machine, among
// the last that were mended and did not come back.
func (s *Shop) Settled(ctx context.Context, machine domain.MachineID, key string) (counts domain.Counts, err error) {
	counts.By = map[string]int{}
	err = s.db.read(ctx, s.id, func(t *tx) error {
		mends, err := t.lately(machine, domain.KindMended, key, mostSettled)
		if err != nil {
			return err
		}
		back, err := t.lately(machine, domain.KindProblem, domain.ReturnedSubject(key), mostSettled)
		if err != nil {
			return err
		}
		again := map[domain.FactNo]bool{}
		for _, f := range back {
			if b, ok := f.Body.(domain.Problem); ok {
				again[b.Returned] = true
			}
		}
		for _, f := range mends {
			if b, ok := f.Body.(domain.Mended); ok && b.Cause != "" && !again[f.No] {
				counts.By[b.Cause]++
				counts.N++
			}
		}
		return nil
	})
	return counts, err
}

// Recent lists what p last reported of machines, newest first, at most limit.
func (s *Shop) Recent(ctx context.Context, person domain.PersonID, limit int) (all []domain.Fact, err error) {
	err = s.db.look(ctx, s.id, func(t *tx) error {
		var r factRow
		return t.rows(r.columns(), func() error {
			f, err := r.fact(s.id)
			all = append(all, f)
			return err
		}, `SELECT `+factColumns+` FROM fact WHERE shop_id = ? AND by_id = ? AND withdrawn = 0 AND machine_id <> 0
			ORDER BY no DESC LIMIT ?`, s.id, person, limit)
	})
	return all, err
}

// Logbook lists what was reported of a machine before a report, newest first, at
// most limit; before 0 begins with the newest. What Setscrew added by itself,
// and what was withdrawn, is among it.
func (s *Shop) Logbook(ctx context.Context, machine domain.MachineID, before domain.FactNo,
	limit int) (all []domain.Fact,
	err error) {
	err = s.db.look(ctx, s.id, func(t *tx) error {
		var r factRow
		return t.rows(r.columns(), func() error {
			f, err := r.fact(s.id)
			all = append(all, f)
			return err
		}, `SELECT `+factColumns+` FROM fact WHERE shop_id = ?1 AND machine_id = ?2 AND (?3 = 0 OR no < ?3)
			ORDER BY no DESC LIMIT ?4`, s.id, machine, before, limit)
	})
	return all, err
}

// KeepProfile stores a profile's text by its content hash, which it returns.
func (s *Shop) KeepProfile(ctx context.Context, kind string, text []byte) (hash string, err error) {
	loaded, err := profile.Load(kind+".yaml", text, nil)
	if err != nil {
		return "", fmt.Errorf("store: load the profile of a %s: %w", kind, err)
	}
	return loaded.Hash, s.db.write(ctx, s.id, func(t *tx) error {
		return t.exec(`INSERT INTO profile_text (shop_id, hash, kind, text) VALUES (?, ?, ?, ?)
			ON CONFLICT DO NOTHING`, s.id, loaded.Hash, kind, string(text))
	})
}

// Keep stores what waits behind buttons and forms.
func (s *Shop) Keep(ctx context.Context, all ...domain.Pending) error {
	return s.db.write(ctx, s.id, func(t *tx) error {
		for _, p := range all {
			// The same interaction delivered twice keeps the same again.
			if err := t.exec(`INSERT INTO pending (shop_id, id, action, args, asked, made, expires)
				VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
				s.id, p.ID, p.Action, string(p.Args), p.Asked, stamp(p.Made), stamp(p.Expires)); err != nil {
				return err
			}
		}
		if len(all) == 0 {
			return nil
		}
		// What waited too long goes, and the oldest of a person for whom very much waits.
		last := all[len(all)-1]
		if err := t.exec(`DELETE FROM pending WHERE shop_id = ? AND expires <= ?`, s.id, stamp(last.Made)); err != nil {
			return err
		}
		return t.exec(`DELETE FROM pending WHERE shop_id = ?1 AND id IN (SELECT id FROM pending
			WHERE shop_id = ?1 AND asked = ?2 AND used = '' ORDER BY made DESC, id DESC LIMIT -1 OFFSET ?3)`,
			s.id, last.Asked, mostWaiting)
	})
}

// Pending finds what waits under an id; *domain.Refusal with PendingGone if it
// is unknown or expired, with PendingUsed if it was consumed.
func (s *Shop) Pending(ctx context.Context, id string, now time.Time) (p domain.Pending, err error) {
	err = s.db.look(ctx, s.id, func(t *tx) (err error) { p, err = t.pending(id, now); return err })
	if err == nil && p.Used != "" {
		err = &domain.Refusal{Code: domain.PendingUsed}
	}
	return p, err
}

func (t *tx) pending(id string, now time.Time) (domain.Pending, error) {
	waiting := domain.Pending{ID: id}
	var args string
	var made, expires int64
	found, err := t.row([]any{&waiting.Action, &args, &waiting.Asked, &made, &expires, &waiting.Used},
		`SELECT action, args, asked, made, expires, used FROM pending WHERE shop_id = ? AND id = ?`, t.shop, id)
	if err != nil {
		return waiting, err
	}
	waiting.Args, waiting.Made, waiting.Expires = []byte(args), moment(made), moment(expires)
	if !found || !now.Before(waiting.Expires) {
		return waiting, &domain.Refusal{Code: domain.PendingGone}
	}
	return waiting, nil
}

// usedKept is how long a button that is pressed again is told that it was used.
const usedKept = 7 * 24 * time.Hour

// mostWaiting is how many buttons and forms wait for one person in a shop; those shown
// first go first.
const mostWaiting = 500

// use consumes a pending by a key; the same key a second time is no error.
func (t *tx) use(id, key string, now time.Time) error {
	p, err := t.pending(id, now)
	if err != nil {
		return err
	}
	switch p.Used {
	case key:
		return nil
	case "":
		// That it was used is told for some days; what waited is no longer needed.
		return t.exec(`UPDATE pending SET used = ?, args = '', expires = min(expires, ?) WHERE shop_id = ? AND id = ?`,
			key, stamp(now.Add(usedKept)), t.shop, id)
	}
	return &domain.Refusal{Code: domain.PendingUsed}
}

// Use consumes a pending that no entry consumes.
func (s *Shop) Use(ctx context.Context, id, key string, now time.Time) error {
	return s.db.write(ctx, s.id, func(t *tx) error { return t.use(id, key, now) })
}
