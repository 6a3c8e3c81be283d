package store

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// Snapshot is what is known of one machine now.
func (s *Shop) Snapshot(ctx context.Context, m domain.MachineID) (snap domain.Snapshot, err error) {
	generation := s.db.generation(s.id).Load() // before the transaction begins
	err = s.db.read(ctx, s.id, func(t *tx) (err error) { snap, err = t.snapshotForReading(m, generation); return err })
	return snap, err
}

// snapshot looks up, by index, one row for each check and service, and the open
// tags, dangers and waiting readings: its cost does not grow with the facts.
func (t *tx) snapshot(id domain.MachineID) (domain.Snapshot, error) {
	snap := domain.Snapshot{Latest: map[string]domain.Latest{}, Moved: map[string]domain.Moved{},
		Services: map[string]domain.LastService{}, Events: map[string]domain.LastService{},
		Mends: map[string]domain.LastService{}}
	// The shop and the machine itself.
	var err error
	if snap.Shop, err = t.settings(); err != nil {
		return snap, err
	}
	var row machineRow
	if snap.Machine, row, err = t.machine(id); err != nil {
		return snap, err
	}
	snap.Hours, snap.Outage = quantity.New(row.seconds, 1, quantity.Second), row.outage
	snap.Unasked = row.unasked
	if snap.Gauges, err = t.gauges(); err != nil {
		return snap, err
	}
	if err = t.checks(&snap); err != nil {
		return snap, err
	}
	for i := range snap.Machine.Profile.Checks {
		if err := t.proved(&snap, &snap.Machine.Profile.Checks[i]); err != nil {
			return snap, err
		}
	}
	// What was done to it, and what that led to.
	if err := t.done(&snap); err != nil {
		return snap, err
	}
	if err := t.tries(&snap); err != nil {
		return snap, err
	}
	if err := t.needs(&snap); err != nil {
		return snap, err
	}
	if err := t.caps(&snap); err != nil {
		return snap, err
	}
	// What stands now: a test, tags, readings that wait, and problems.
	if row.test != 0 {
		f, err := t.fact(domain.FactNo(row.test))
		if err != nil {
			return snap, err
		}
		snap.Test = &domain.Test{Fact: f.No, By: f.By, At: f.At}
	}
	if snap.Tags, err = t.tags(id); err != nil {
		return snap, err
	}
	var r factRow
	if err := t.rows(r.columns(), func() error {
		f, err := r.fact(t.shop)
		if err == nil {
			snap.Waiting = append(snap.Waiting, latest(f))
		}
		return err
	}, `SELECT `+factColumns+` FROM fact WHERE shop_id = ? AND machine_id = ? AND withdrawn = 0 AND believed = 0
		ORDER BY no`, t.shop, id); err != nil {
		return snap, err
	}
	return snap, t.problems(&snap)
}

// checks looks up of each check when it was last read, and when its surface last moved:
// all in two queries, since most of what a small one takes is the asking.
func (t *tx) checks(snap *domain.Snapshot) error {
	type check struct {
		ID   string      `json:"id"`
		Kind domain.Kind `json:"kind"`
	}
	all := make([]check, len(snap.Machine.Profile.Checks))
	for i, c := range snap.Machine.Profile.Checks {
		all[i] = check{ID: c.ID, Kind: domain.KindReading}
		if c.Inspection {
			all[i].Kind = domain.KindInspection
		}
	}
	asked, err := json.Marshal(all)
	if err != nil {
		return fmt.Errorf("store: encode the checks: %w", err)
	}
	var last factRow
	if err := t.rows(last.columns(), func() error {
		f, err := last.fact(t.shop)
		if err == nil {
			l := latest(f)
			snap.Latest[l.Check] = l
		}
		return err
	}, `SELECT `+factColumns+` FROM json_each(?3) asked JOIN fact ON fact.rowid = (SELECT rowid FROM fact
		WHERE shop_id = ?1 AND machine_id = ?2 AND kind = asked.value ->> 'kind' AND subject = asked.value ->> 'id'
			AND withdrawn = 0 AND believed = 1 ORDER BY at DESC, no DESC LIMIT 1)`,
		t.shop, snap.Machine.ID, string(asked)); err != nil {
		return err
	}
	var id string
	var at, no int64
	return t.rows([]any{&id, &at, &no}, func() error {
		snap.Moved[id] = domain.Moved{At: moment(at), Fact: domain.FactNo(no)}
		return nil
	}, `SELECT check_id, at, fact_no FROM json_each(?3) asked JOIN moved ON moved.rowid = (SELECT rowid FROM moved
		WHERE shop_id = ?1 AND machine_id = ?2 AND check_id = asked.value ->> 'id'
			ORDER BY at DESC, fact_no DESC LIMIT 1)`,
		t.shop, snap.Machine.ID, string(asked))
}

// refresh is a machine's snapshot after a fact, from that before it: only what
// the fact can have changed is worked out or looked up again. A test compares it
// with a snapshot read from the file.
func (t *tx) refresh(snap domain.Snapshot, fact domain.Fact) (domain.Snapshot, error) {
	switch body := fact.Body.(type) {
	case domain.Hours:
		if c := snap.Counter; c != nil && !fact.At.After(c.At) {
			break // what the counter brought to light changes
		}
		snap.Hours = snap.Hours.Add(body.Used())
		snap.Services = used(snap.Services, fact.At, body.Used())
		snap.Events = used(snap.Events, fact.At, body.Used())
		snap.Mends = used(snap.Mends, fact.At, body.Used())
		snap.Done = usedSince(snap.Done, fact.At, body.Used())
		if c := snap.Counter; c != nil && c.At.Before(fact.At) {
			d := *c
			d.Since = d.Since.Add(body.Used())
			snap.Counter = &d
		}
		return snap, nil
	case domain.Problem:
		if len(body.Surfaces) == 0 {
			if err := t.caps(&snap); err != nil {
				return snap, err
			}
			return snap, t.problems(&snap)
		}
	}
	return t.snapshot(fact.Machine)
}

// usedSince is the same of everything that was done.
func usedSince(done map[string][]domain.LastService, at time.Time, use quantity.Value) map[string][]domain.LastService {
	if done == nil {
		return nil
	}
	all := map[string][]domain.LastService{}
	// any order: fills a map
	for id, times := range done {
		times = slices.Clone(times)
		for i := range times {
			if times[i].At.Before(at) {
				times[i].Since = times[i].Since.Add(use)
			}
		}
		all[id] = times
	}
	return all
}

// used is what was done with use at a moment counted to all of it that was done
// before.
func used(done map[string]domain.LastService, at time.Time, use quantity.Value) map[string]domain.LastService {
	all := map[string]domain.LastService{}
	// any order: fills a map
	for id, l := range done {
		if l.At.Before(at) {
			l.Since = l.Since.Add(use)
		}
		all[id] = l
	}
	return all
}

// needs looks up the machines without which this one must not run, and those
// that must not run without it.
func (t *tx) needs(snap *domain.Snapshot) error {
	var n domain.Need
	if err := t.rows([]any{&n.Machine, &n.Name, &n.Out, &n.Retired}, func() error {
		snap.Needs = append(snap.Needs, n)
		return nil
	}, `SELECT m.machine_id, m.name, EXISTS (SELECT 1 FROM tag g WHERE g.shop_id = m.shop_id
		AND g.machine_id = m.machine_id AND g.lifted_by = 0), m.retired IS NOT NULL
		FROM need d JOIN machine m ON m.shop_id = d.shop_id AND m.machine_id = d.other_id
		WHERE d.shop_id = ? AND d.machine_id = ?
			ORDER BY m.folded, m.machine_id`, t.shop, snap.Machine.ID); err != nil {
		return err
	}
	var name string
	return t.rows([]any{&name}, func() error {
		snap.NeededBy = append(snap.NeededBy, name)
		return nil
	}, `SELECT m.name FROM need d JOIN machine m ON m.shop_id = d.shop_id AND m.machine_id = d.machine_id
		WHERE d.shop_id = ? AND d.other_id = ? AND m.retired IS NULL ORDER BY m.folded`, t.shop, snap.Machine.ID)
}

func latest(f domain.Fact) domain.Latest {
	last := domain.Latest{Fact: f.No, At: f.At, By: f.For}
	switch b := f.Body.(type) {
	case domain.Reading:
		last.Check, last.Reading = b.Check, &b
	case domain.Inspection:
		last.Check, last.Inspection = b.Check, &b
	}
	return last
}

// tags lists the standing tags of a machine, oldest first.
func (t *tx) tags(id domain.MachineID) (all []domain.Tag, err error) {
	var tag domain.Tag
	var steps lockSteps
	var begun []lockSteps
	var reason string
	var at int64
	err = t.rows([]any{&tag.Fact, &tag.By, &at, &tag.Cause, &tag.Because, &reason, &tag.ReportWithdrawn, &tag.Paper,
		&steps.asked, &steps.noted, &steps.off},
		func() error {
			one := tag
			one.At = moment(at)
			if err := json.Unmarshal([]byte(reason), &one.Reason); err != nil {
				return fmt.Errorf("store: read the reason of the tag of no. %d: %w", one.Fact, err)
			}
			all, begun = append(all, one), append(begun, steps)
			return nil
		}, `SELECT fact_no, by_id, at, cause, because, reason, withdrawn, paper, asked, noted, off FROM tag
			WHERE shop_id = ? AND machine_id = ? AND lifted_by = 0 ORDER BY fact_no`, t.shop, id)
	for i := 0; i < len(all) && err == nil; i++ {
		all[i].Lock, err = t.lock(begun[i])
	}
	return all, err
}
