package store

import (
	"context"
	"encoding/json"
	"fmt"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// Snapshot is what is known of one machine now.
func (s *Shop) Snapshot(ctx context.Context, m domain.MachineID) (snap domain.Snapshot, err error) {
	err = s.db.read(ctx, s.id, func(t *tx) (err error) { snap, err = t.snapshot(m); return err })
	return snap, err
}

// snapshot looks up, by index, one row for each check and service, and the open
// tags, dangers and waiting readings: its cost does not grow with the facts.
func (t *tx) snapshot(id domain.MachineID) (domain.Snapshot, error) {
	snap := domain.Snapshot{Latest: map[string]domain.Latest{}, Moved: map[string]domain.Moved{}, Services: map[string]domain.LastService{}}
	var err error
	if snap.Shop, err = t.settings(); err != nil {
		return snap, err
	}
	var row machineRow
	if snap.Machine, row, err = t.machine(id); err != nil {
		return snap, err
	}
	snap.Hours, snap.Outage = quantity.New(row.seconds, 1, quantity.Second), row.outage
	if snap.Gauges, err = t.gauges(); err != nil {
		return snap, err
	}
	p := snap.Machine.Profile
	for i := range p.Checks {
		c := &p.Checks[i]
		kind := domain.KindReading
		if c.Inspection {
			kind = domain.KindInspection
		}
		f, found, err := t.last(id, kind, c.ID)
		if err != nil {
			return snap, err
		}
		if found {
			snap.Latest[c.ID] = latest(f)
		}
		var at, no int64
		found, err = t.row([]any{&at, &no}, `SELECT at, fact_no FROM moved WHERE shop_id = ? AND machine_id = ? AND check_id = ?
			ORDER BY at DESC, fact_no DESC LIMIT 1`, t.shop, id, c.ID)
		if err != nil {
			return snap, err
		}
		if found {
			snap.Moved[c.ID] = domain.Moved{At: moment(at), Fact: domain.FactNo(no)}
		}
	}
	if err := t.services(&snap); err != nil {
		return snap, err
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
	}, `SELECT `+factColumns+` FROM fact WHERE shop_id = ? AND machine_id = ? AND withdrawn = 0 AND believed = 0 ORDER BY no`, t.shop, id); err != nil {
		return snap, err
	}
	return snap, t.dangers(&snap)
}

// refresh is a machine's snapshot after a fact, from that before it: only what
// the fact can have changed is worked out or looked up again. A test compares it
// with a snapshot made anew.
func (t *tx) refresh(snap domain.Snapshot, f domain.Fact) (domain.Snapshot, error) {
	switch b := f.Body.(type) {
	case domain.Hours:
		snap.Hours = snap.Hours.Add(b.Used())
		services := map[string]domain.LastService{}
		for id, l := range snap.Services {
			if l.At.Before(f.At) {
				l.Since = l.Since.Add(b.Used())
			}
			services[id] = l
		}
		snap.Services = services
		return snap, nil
	case domain.Problem:
		return snap, t.dangers(&snap)
	}
	return t.snapshot(f.Machine)
}

// services looks up when each service was last done.
func (t *tx) services(snap *domain.Snapshot) error {
	snap.Services = map[string]domain.LastService{}
	var service string
	var at, no, seconds int64
	return t.rows([]any{&service, &no, &at, &seconds}, func() error {
		snap.Services[service] = domain.LastService{Fact: domain.FactNo(no), At: moment(at), Since: quantity.New(seconds, 1, quantity.Second)}
		return nil
	}, `SELECT service, fact_no, at, seconds FROM service_last WHERE shop_id = ? AND machine_id = ?`, t.shop, snap.Machine.ID)
}

// dangers looks up the dangers that nobody has released the machine from.
func (t *tx) dangers(snap *domain.Snapshot) error {
	snap.Dangers = nil
	var r factRow
	return t.rows(r.columns(), func() error {
		f, err := r.fact(t.shop)
		if err != nil {
			return err
		}
		b, ok := f.Body.(domain.Problem)
		if !ok {
			return fmt.Errorf("store: no. %d is no problem", f.No)
		}
		snap.Dangers = append(snap.Dangers, domain.Danger{Fact: f.No, At: f.At, Problem: b})
		return nil
	}, `SELECT f.no, f.machine_id, f.kind, f.at, f.recorded, f.by_id, f.for_id, f.hash, f.setup_rev, f.withdrawn, f.body
		FROM danger d JOIN fact f ON f.shop_id = d.shop_id AND f.no = d.fact_no
		WHERE d.shop_id = ? AND d.machine_id = ? AND d.closed_by = 0 ORDER BY d.fact_no`, t.shop, snap.Machine.ID)
}

func latest(f domain.Fact) domain.Latest {
	l := domain.Latest{Fact: f.No, At: f.At}
	switch b := f.Body.(type) {
	case domain.Reading:
		l.Check, l.Reading = b.Check, &b
	case domain.Inspection:
		l.Check, l.Inspection = b.Check, &b
	}
	return l
}

// tags lists the standing tags of a machine, oldest first.
func (t *tx) tags(id domain.MachineID) (all []domain.Tag, err error) {
	var tag domain.Tag
	var reason string
	var at int64
	err = t.rows([]any{&tag.Fact, &tag.By, &at, &tag.Cause, &tag.Because, &reason, &tag.ReportWithdrawn}, func() error {
		one := tag
		one.At = moment(at)
		if err := json.Unmarshal([]byte(reason), &one.Reason); err != nil {
			return fmt.Errorf("store: tag: %w", err)
		}
		all = append(all, one)
		return nil
	}, `SELECT fact_no, by_id, at, cause, because, reason, withdrawn FROM tag WHERE shop_id = ? AND machine_id = ? AND lifted_by = 0 ORDER BY fact_no`, t.shop, id)
	return all, err
}
