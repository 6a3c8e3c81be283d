package store

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
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
		found, err = t.row([]any{&at, &no}, `SELECT at, fact_no FROM moved WHERE shop_id = ? AND machine_id = ?
			AND check_id = ?
			ORDER BY at DESC, fact_no DESC LIMIT 1`, t.shop, id, c.ID)
		if err != nil {
			return snap, err
		}
		if found {
			snap.Moved[c.ID] = domain.Moved{At: moment(at), Fact: domain.FactNo(no)}
		}
	}
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

// refresh is a machine's snapshot after a fact, from that before it: only what
// the fact can have changed is worked out or looked up again. A test compares it
// with a snapshot made anew.
func (t *tx) refresh(snap domain.Snapshot, f domain.Fact) (domain.Snapshot, error) {
	switch b := f.Body.(type) {
	case domain.Hours:
		if c := snap.Counter; c != nil && !f.At.After(c.At) {
			break // what the counter brought to light changes
		}
		snap.Hours = snap.Hours.Add(b.Used())
		snap.Services = used(snap.Services, f.At, b.Used())
		snap.Events = used(snap.Events, f.At, b.Used())
		snap.Mends = used(snap.Mends, f.At, b.Used())
		snap.Done = usedSince(snap.Done, f.At, b.Used())
		if c := snap.Counter; c != nil && c.At.Before(f.At) {
			d := *c
			d.Since = d.Since.Add(b.Used())
			snap.Counter = &d
		}
		return snap, nil
	case domain.Problem:
		if len(b.Surfaces) == 0 {
			if err := t.caps(&snap); err != nil {
				return snap, err
			}
			return snap, t.problems(&snap)
		}
	}
	return t.snapshot(f.Machine)
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

// done looks up when each service was last done, each event last happened, and
// the counter was last read.
func (t *tx) done(snap *domain.Snapshot) error {
	var work string
	var at, no, seconds int64
	var counter domain.FactNo
	var said []domain.FactNo // put off, taken or handed over
	var over domain.FactNo
	err := t.rows([]any{&work, &no, &at, &seconds}, func() error {
		l := domain.LastService{Fact: domain.FactNo(no), At: moment(at),
			Since: quantity.New(seconds, 1, quantity.Second)}
		switch kind, id, _ := strings.Cut(work, ":"); domain.Kind(kind) {
		case domain.KindService:
			snap.Services[id] = l
		case domain.KindEvent:
			snap.Events[id] = l
		case domain.KindMended:
			snap.Mends[id] = l
		case domain.KindTakenOver:
			over = l.Fact
		case domain.KindPutOff, domain.KindTaken, domain.KindHandover, domain.KindSet:
			said = append(said, l.Fact)
		case domain.KindCounter:
			snap.Counter = &domain.Counter{Fact: l.Fact, At: l.At, Since: l.Since}
			counter = l.Fact
		}
		return nil
	}, `SELECT work, fact_no, at, seconds FROM done_last WHERE shop_id = ? AND machine_id = ?`, t.shop, snap.Machine.ID)
	if err != nil {
		return err
	}
	for _, no := range said {
		f, err := t.fact(no)
		if err != nil {
			return err
		}
		switch b := f.Body.(type) {
		case domain.Handover:
			snap.Handover, snap.Handed = &domain.HandoverBy{Fact: f.No, At: f.At, By: f.For, Handover: b}, true
		case domain.SetMoved:
			snap.Sets = append(snap.Sets, domain.BladeSet{Fact: f.No, At: f.At, By: f.For, SetMoved: b})
		case domain.PutOff:
			if snap.PutOff == nil {
				snap.PutOff = map[string]domain.PutOffBy{}
			}
			snap.PutOff[b.Service] = domain.PutOffBy{Fact: f.No, At: f.At, By: f.For, PutOff: b}
		case domain.Taken:
			if snap.Taken == nil {
				snap.Taken = map[string]domain.TakenBy{}
			}
			snap.Taken[b.Service] = domain.TakenBy{Fact: f.No, At: f.At, By: f.For}
		}
	}
	if over != 0 && snap.Handover != nil {
		f, err := t.fact(over)
		if err != nil {
			return err
		}
		if b, ok := f.Body.(domain.TakenOver); ok && b.Of == snap.Handover.Fact {
			snap.Handover = nil
		}
	}
	if counter != 0 {
		if err := t.counted(snap, snap.Machine.ID); err != nil {
			return err
		}
	} else if err := t.like(snap); err != nil {
		return err
	}
	if err := t.history(snap); err != nil || counter == 0 {
		return err
	}
	f, err := t.fact(counter)
	if err != nil {
		return err
	}
	b, ok := f.Body.(domain.CounterRead)
	if !ok {
		return fmt.Errorf("store: no. %d is no counter", f.No)
	}
	snap.Counter.Shown = b.Shown()
	return nil
}

// needs looks up the machines without which this one must not run, and those
// that must not run without it.
func (t *tx) needs(snap *domain.Snapshot) error {
	var n domain.Need
	if err := t.rows([]any{&n.Machine, &n.Name, &n.Out}, func() error {
		snap.Needs = append(snap.Needs, n)
		return nil
	}, `SELECT m.machine_id, m.name, EXISTS (SELECT 1 FROM tag g WHERE g.shop_id = m.shop_id
		AND g.machine_id = m.machine_id AND g.lifted_by = 0)
		FROM need d JOIN machine m ON m.shop_id = d.shop_id AND m.machine_id = d.other_id
		WHERE d.shop_id = ? AND d.machine_id = ? AND m.retired IS NULL
			ORDER BY m.folded`, t.shop, snap.Machine.ID); err != nil {
		return err
	}
	var name string
	return t.rows([]any{&name}, func() error {
		snap.NeededBy = append(snap.NeededBy, name)
		return nil
	}, `SELECT m.name FROM need d JOIN machine m ON m.shop_id = d.shop_id AND m.machine_id = d.machine_id
		WHERE d.shop_id = ? AND d.other_id = ? AND m.retired IS NULL ORDER BY m.folded`, t.shop, snap.Machine.ID)
}

// maxSpans is how many spans between readings of the counter are looked back on.
const maxSpans = 12

// like looks up the counter of the machine whose ratio this one borrows.
func (t *tx) like(snap *domain.Snapshot) error {
	other := snap.Machine.Setup.Like
	if other == 0 {
		return nil
	}
	if _, err := t.row([]any{&snap.Like}, `SELECT name FROM machine WHERE shop_id = ? AND machine_id = ?`, t.shop,
		other); err != nil {
		return err
	}
	return t.counted(snap, other)
}

// counted looks up what a machine's counter said and what was reported between its
// last readings.
func (t *tx) counted(snap *domain.Snapshot, of domain.MachineID) error {
	snap.Counted = nil
	var facts []domain.Fact
	var r factRow
	var unlogged []int64
	if err := t.rows(r.columns(), func() error {
		f, err := r.fact(t.shop)
		facts = append(facts, f)
		return err
	}, `SELECT `+factColumns+` FROM fact WHERE shop_id = ? AND machine_id = ? AND kind = 'counter' AND subject = ''
		AND withdrawn = 0 AND believed = 1
		ORDER BY at DESC, no DESC LIMIT ?`, t.shop, of, maxSpans+1); err != nil {
		return err
	}
	for _, f := range facts {
		var n int64
		if _, err := t.row([]any{&n}, `SELECT seconds FROM fact WHERE shop_id = ? AND no = ?`, t.shop,
			f.No); err != nil {
			return err
		}
		unlogged = append(unlogged, n)
	}
	for i := len(facts) - 2; i >= 0; i-- {
		b, _ := facts[i].Body.(domain.CounterRead)
		before, _ := facts[i+1].Body.(domain.CounterRead)
		went := b.Since(before)
		if b.New || went <= 0 {
			continue
		}
		snap.Counted = append(snap.Counted,
			upkeep.Span{Until: facts[i].At, Counted: float64(went) / 3600, Logged: float64(went-unlogged[i]) / 3600})
	}
	return nil
}

// maxDone is how many times that one service was done are looked back on.
const maxDone = 100

// history looks up every time that the services were done whose rules fold, with
// the use since each.
func (t *tx) history(snap *domain.Snapshot) error {
	snap.Done = nil
	var moments []int64 // at which any of them was done
	for i := range snap.Machine.Profile.Services {
		s := &snap.Machine.Profile.Services[i]
		if !s.Every.CountsAll() {
			continue
		}
		var all []domain.LastService
		var no, at int64
		var asked bool
		if err := t.rows([]any{&no, &at, &asked}, func() error {
			all = append(all, domain.LastService{Fact: domain.FactNo(no), At: moment(at), Asked: asked})
			moments = append(moments, at)
			return nil
		}, `SELECT no, at, coalesce(json_extract(body, '$.asked'), 0) FROM fact
			WHERE shop_id = ? AND machine_id = ? AND kind = ? AND subject = ? AND withdrawn = 0 AND believed = 1
			ORDER BY at DESC, no DESC LIMIT
				?`, t.shop, snap.Machine.ID, domain.KindService, s.ID, maxDone); err != nil {
			return fmt.Errorf("read when %s was done: %w", s.ID, err)
		}
		slices.Reverse(all)
		if snap.Done == nil {
			snap.Done = map[string][]domain.LastService{}
		}
		snap.Done[s.ID] = all
	}
	since, err := t.useSince(snap.Machine.ID, moments)
	if err != nil {
		return err
	}
	for _, all := range snap.Done { // any order: each is filled in by itself
		for i := range all {
			all[i].Since = quantity.New(since[stamp(all[i].At)], 1, quantity.Second)
		}
	}
	return nil
}

// useSince is the use after each of some moments, in seconds by moment. Each stretch
// between two of them is summed once, however many services were done before it.
func (t *tx) useSince(m domain.MachineID, moments []int64) (map[int64]int64, error) {
	slices.Sort(moments)
	moments = slices.Compact(moments)
	since := map[int64]int64{}
	later, until := int64(0), int64(math.MaxInt64)
	for _, from := range slices.Backward(moments) {
		var between int64
		if _, err := t.row([]any{&between}, `SELECT coalesce(sum(seconds), 0) FROM fact
			WHERE shop_id = ? AND machine_id = ? AND kind IN (`+kindsOfUse+`) AND subject = '' AND at > ? AND at <= ?
				AND withdrawn = 0 AND believed = 1`, t.shop, m, from, until); err != nil {
			return nil, fmt.Errorf("sum the use since a service: %w", err)
		}
		later += between
		since[from], until = later, from
	}
	return since, nil
}

// tries looks up the last tries at each check that has adjusters: the moves, the
// readings before and after each, and what was said of them.
func (t *tx) tries(snap *domain.Snapshot) error {
	snap.Tries = map[string][]domain.Try{}
	var moved []string
	var check string
	if err := t.rows([]any{&check}, func() error {
		moved = append(moved, check)
		return nil
	}, `SELECT DISTINCT subject FROM fact WHERE shop_id = ? AND machine_id = ? AND kind = ? AND withdrawn = 0
		AND believed = 1`, t.shop, snap.Machine.ID, domain.KindMove); err != nil {
		return err
	}
	for _, id := range moved {
		moves, err := t.lately(snap.Machine.ID, domain.KindMove, id, domain.MaxTries)
		if err != nil {
			return err
		}
		readings, err := t.lately(snap.Machine.ID, domain.KindReading, id, 3*domain.MaxTries)
		if err != nil {
			return err
		}
		said, err := t.lately(snap.Machine.ID, domain.KindMoveAnswer, id, domain.MaxTries)
		if err != nil {
			return err
		}
		snap.Tries[id] = domain.PairTries(moves, readings, said)
	}
	return nil
}

// lately lists the last believed facts of a kind about a subject, oldest first
// by event time.
func (t *tx) lately(m domain.MachineID, kind domain.Kind, subject string, most int) (all []domain.Fact, err error) {
	var r factRow
	err = t.rows(r.columns(), func() error {
		f, err := r.fact(t.shop)
		all = append(all, f)
		return err
	}, `SELECT `+factColumns+` FROM fact
		WHERE shop_id = ? AND machine_id = ? AND kind = ? AND subject = ? AND withdrawn = 0 AND believed = 1
		ORDER BY at DESC, no DESC LIMIT ?`, t.shop, m, kind, subject, most)
	slices.Reverse(all)
	return all, err
}

// caps looks up what boards showed of spring caps, with the height at which each
// was seen.
func (t *tx) caps(snap *domain.Snapshot) error {
	snap.Caps = map[string][]domain.CapReport{}
	for _, k := range snap.Machine.Profile.Caps {
		var facts []domain.Fact
		var r factRow
		if err := t.rows(r.columns(), func() error {
			f, err := r.fact(t.shop)
			facts = append(facts, f)
			return err
		}, `SELECT f.no, f.machine_id, f.kind, f.at, f.recorded, f.by_id, f.for_id, f.hash, f.setup_rev, f.withdrawn,
			f.body
			FROM problem d JOIN fact f ON f.shop_id = d.shop_id AND f.no = d.fact_no
			WHERE d.shop_id = ? AND d.machine_id = ? AND d.key IN (?, ?) AND f.withdrawn = 0
				ORDER BY f.at DESC, f.no DESC LIMIT ?`,
			t.shop, snap.Machine.ID, k.Marks, k.Stutters, domain.MaxTries); err != nil {
			return err
		}
		slices.Reverse(facts)
		for _, f := range facts {
			b, ok := f.Body.(domain.Problem)
			if !ok {
				return fmt.Errorf("store: no. %d is no problem", f.No)
			}
			read, found, err := t.lastUntil(snap.Machine.ID, domain.KindReading, k.Check, f.At)
			if err != nil {
				return err
			}
			l := latest(read)
			if !found || l.Reading == nil {
				continue // nobody knows at what height
			}
			snap.Caps[k.Check] = append(snap.Caps[k.Check],
				domain.CapReport{Fact: f.No, Height: l.Reading.Values[0].Mean(),
					Marks: b.Symptom == k.Marks, Stutters: b.Symptom == k.Stutters})
		}
	}
	return nil
}

// maxProblems is how many open problems a snapshot holds.
const maxProblems = 50

// problems looks up the dangers that nobody has released the machine from, and
// the other problems that nobody has said are mended.
func (t *tx) problems(snap *domain.Snapshot) error {
	if err := t.dangers(snap); err != nil {
		return err
	}
	snap.Problems = nil
	var p domain.OpenProblem
	if err := t.rows([]any{&p.Key, &p.First, &p.Last, &p.Reports},
		func() error { snap.Problems = append(snap.Problems, p); return nil },
		`SELECT key, min(fact_no), max(fact_no), count(*) FROM problem WHERE shop_id = ? AND machine_id = ?
			AND danger = 0 AND closed_by = 0
			GROUP BY key ORDER BY max(fact_no) DESC LIMIT ?`, t.shop, snap.Machine.ID, maxProblems); err != nil {
		return err
	}
	for i := range snap.Problems {
		p := &snap.Problems[i]
		f, err := t.fact(p.First)
		if err != nil {
			return err
		}
		last := f
		if p.Last != p.First {
			if last, err = t.fact(p.Last); err != nil {
				return err
			}
		}
		p.At, p.LastAt = f.At, last.At
		if b, ok := last.Body.(domain.Problem); ok {
			p.Doubt = b.Doubt
		}
		if b, ok := f.Body.(domain.Problem); ok {
			p.Name, p.Symptom, p.Returned = b.Name, b.Symptom, b.Returned
		}
		if err := t.about(snap.Machine.ID, p); err != nil {
			return err
		}
	}
	return nil
}

// mostFindings is how many answers about one problem are looked back on.
const mostFindings = 60

// about looks up who reported a problem, and what was answered and found about it
// since.
func (t *tx) about(m domain.MachineID, p *domain.OpenProblem) error {
	var who domain.PersonID
	if err := t.rows([]any{&who}, func() error { p.By = append(p.By, who); return nil },
		`SELECT DISTINCT f.for_id FROM problem d JOIN fact f ON f.shop_id = d.shop_id AND f.no = d.fact_no
			WHERE d.shop_id = ? AND d.machine_id = ? AND d.key = ? AND d.danger = 0 AND d.closed_by = 0
				ORDER BY f.for_id LIMIT ?`, t.shop, m, p.Key, maxProblems); err != nil {
		return err
	}
	if p.Returned != 0 {
		f, err := t.fact(p.Returned)
		if err != nil {
			return err
		}
		if b, ok := f.Body.(domain.Mended); ok {
			p.Before = b.Cause
		}
	}
	found, err := t.found(m, p.Key, p.First)
	p.Found = found
	return err
}

// found is the last answer to each question, and about each cause, of a problem since
// a report.
func (t *tx) found(m domain.MachineID, key string, since domain.FactNo) (map[domain.Item]domain.FoundThen, error) {
	facts, err := t.lately(m, domain.KindFound, key, mostFindings)
	if err != nil {
		return nil, err
	}
	var found map[domain.Item]domain.FoundThen
	for _, f := range facts {
		b, ok := f.Body.(domain.Found)
		if !ok || f.No < since {
			continue
		}
		if found == nil {
			found = map[domain.Item]domain.FoundThen{}
		}
		found[b.About] = domain.FoundThen{Fact: f.No, At: f.At, Answer: b.Answer}
	}
	return found, nil
}

// dangers looks up the dangers that nobody has released the machine from.
func (t *tx) dangers(snap *domain.Snapshot) error {
	snap.Dangers = nil
	var r factRow
	if err := t.rows(r.columns(), func() error {
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
		FROM problem d JOIN fact f ON f.shop_id = d.shop_id AND f.no = d.fact_no
		WHERE d.shop_id = ? AND d.machine_id = ? AND d.danger = 1 AND d.closed_by = 0
			ORDER BY d.fact_no`, t.shop, snap.Machine.ID); err != nil {
		return err
	}
	for i := range snap.Dangers {
		d := &snap.Dangers[i]
		found, err := t.found(snap.Machine.ID, d.Problem.Key(), d.Fact)
		if err != nil {
			return err
		}
		d.Found = found
	}
	return nil
}

func latest(f domain.Fact) domain.Latest {
	l := domain.Latest{Fact: f.No, At: f.At, By: f.For}
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
	err = t.rows([]any{&tag.Fact, &tag.By, &at, &tag.Cause, &tag.Because, &reason, &tag.ReportWithdrawn, &tag.Paper},
		func() error {
			one := tag
			one.At = moment(at)
			if err := json.Unmarshal([]byte(reason), &one.Reason); err != nil {
				return fmt.Errorf("store: tag: %w", err)
			}
			all = append(all, one)
			return nil
		}, `SELECT fact_no, by_id, at, cause, because, reason, withdrawn, paper FROM tag WHERE shop_id = ?
			AND machine_id = ? AND lifted_by = 0 ORDER BY fact_no`, t.shop, id)
	return all, err
}
