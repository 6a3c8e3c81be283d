package store

import (
	"fmt"
	"math"
	"slices"

	"setscrew/domain"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// done looks up the last fact of each kind and subject of which one is kept, what the
// counter said between its readings, and the times of the services whose rules fold.
func (t *tx) done(snap *domain.Snapshot) error {
	if err := t.readLast(snap); err != nil {
		return err
	}
	// The counter: this machine's, else that of the one whose ratio it borrows.
	if snap.Counter == nil {
		if err := t.like(snap); err != nil {
			return err
		}
	} else if err := t.counted(snap, snap.Machine.ID); err != nil {
		return err
	}
	return t.history(snap)
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
		var seconds int64
		if _, err := t.row([]any{&seconds}, `SELECT seconds FROM fact WHERE shop_id = ? AND no = ?`, t.shop,
			f.No); err != nil {
			return err
		}
		unlogged = append(unlogged, seconds)
	}
	// Each with the one before it, the oldest first.
	for i, fact := range slices.Backward(facts[:max(len(facts)-1, 0)]) {
		read, _ := fact.Body.(domain.CounterRead)
		before, _ := facts[i+1].Body.(domain.CounterRead)
		went := read.Since(before)
		if read.New || went <= 0 {
			continue
		}
		snap.Counted = append(snap.Counted, upkeep.Span{Until: fact.At, Counted: float64(went) / 3600,
			Logged: float64(went-unlogged[i]) / 3600})
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
		service := &snap.Machine.Profile.Services[i]
		if !service.Every.CountsAll() {
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
				?`, t.shop, snap.Machine.ID, domain.KindService, service.ID, maxDone); err != nil {
			return fmt.Errorf("read when %s was done: %w", service.ID, err)
		}
		slices.Reverse(all)
		if snap.Done == nil {
			snap.Done = map[string][]domain.LastService{}
		}
		snap.Done[service.ID] = all
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
func (t *tx) useSince(machine domain.MachineID, moments []int64) (map[int64]int64, error) {
	slices.Sort(moments)
	moments = slices.Compact(moments)
	since := map[int64]int64{}
	later, until := int64(0), int64(math.MaxInt64)
	for _, from := range slices.Backward(moments) {
		var between int64
		if _, err := t.row([]any{&between}, `SELECT coalesce(sum(seconds), 0) FROM fact
			WHERE shop_id = ? AND machine_id = ? AND kind IN (`+kindsOfUse+`) AND subject = '' AND at > ? AND at <= ?
				AND withdrawn = 0 AND believed = 1`, t.shop, machine, from, until); err != nil {
			return nil, fmt.Errorf("sum the use since a service: %w", err)
		}
		later += between
		since[from], until = later, from
	}
	return since, nil
}
