package store

import (
	"fmt"
	"strings"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// keptLast is a row of done_last: the last fact of a kind about a subject, with the use
// since.
type keptLast struct {
	kind    domain.Kind
	subject string
	domain.LastService
}

// readLast puts the last fact of each kind and subject of which one is kept into a
// snapshot, as the table of what is derived says.
func (t *tx) readLast(snap *domain.Snapshot) error {
	var all []keptLast
	var work string
	var at, no, seconds int64
	// In the order of the kinds' names: a handover is read before that it was taken over.
	if err := t.rows([]any{&work, &no, &at, &seconds}, func() error {
		kind, subject, _ := strings.Cut(work, ":")
		all = append(all, keptLast{domain.Kind(kind), subject, domain.LastService{Fact: domain.FactNo(no),
			At: moment(at), Since: quantity.New(seconds, 1, quantity.Second)}})
		return nil
	}, `SELECT work, fact_no, at, seconds FROM done_last WHERE shop_id = ? AND machine_id = ? ORDER BY work`, t.shop,
		snap.Machine.ID); err != nil {
		return err
	}
	for _, kept := range all {
		if snap.KeptFrom.IsZero() || kept.At.Before(snap.KeptFrom) {
			snap.KeptFrom = kept.At
		}
		if last := t.db.derived[kept.kind].last; last != nil {
			if err := last(t, snap, kept); err != nil {
				return fmt.Errorf("read the last fact of kind %s: %w", kept.kind, err)
			}
		}
	}
	return nil
}

// counting is a derivation's last for a kind of which nothing but the use since counts:
// it goes into one of a snapshot's maps by its subject.
func counting(into func(*domain.Snapshot) map[string]domain.LastService) func(*tx, *domain.Snapshot, keptLast) error {
	return func(_ *tx, snap *domain.Snapshot, kept keptLast) error {
		into(snap)[kept.subject] = kept.LastService
		return nil
	}
}

// reading is a derivation's last for bodies of one type, where what the fact says goes
// into the snapshot.
func reading[B domain.Body](last func(*domain.Snapshot, keptLast, domain.Fact, B)) func(*tx, *domain.Snapshot,
	keptLast) error {
	return func(t *tx, snap *domain.Snapshot, kept keptLast) error {
		fact, err := t.fact(kept.Fact)
		if err != nil {
			return err
		}
		body, ok := fact.Body.(B)
		if !ok {
			return fmt.Errorf("no. %d holds a %T", fact.No, fact.Body)
		}
		last(snap, kept, fact, body)
		return nil
	}
}

// put puts a value into one of a snapshot's maps, which it makes if it is the first.
func put[V any](into *map[string]V, id string, value V) {
	if *into == nil {
		*into = map[string]V{}
	}
	(*into)[id] = value
}

func lastCounter(snap *domain.Snapshot, kept keptLast, _ domain.Fact, body domain.CounterRead) {
	snap.Counter = &domain.Counter{Fact: kept.Fact, At: kept.At, Since: kept.Since, Shown: body.Shown()}
}

func lastRelease(_ *tx, snap *domain.Snapshot, kept keptLast) error {
	snap.Released = kept.At
	return nil
}

func lastTicked(_ *tx, snap *domain.Snapshot, kept keptLast) error {
	put(&snap.Ticked, kept.subject, domain.TickedAt{Fact: kept.Fact, At: kept.At})
	return nil
}

func lastHandover(snap *domain.Snapshot, _ keptLast, fact domain.Fact, body domain.Handover) {
	snap.Handed = true
	snap.Handover = &domain.HandoverBy{Fact: fact.No, At: fact.At, By: fact.For, Handover: body}
}

// lastTakenOver ends the last handover, where it is that which was taken over.
func lastTakenOver(snap *domain.Snapshot, _ keptLast, _ domain.Fact, body domain.TakenOver) {
	if snap.Handover != nil && snap.Handover.Fact == body.Of {
		snap.Handover = nil
	}
}

func lastSet(snap *domain.Snapshot, _ keptLast, fact domain.Fact, body domain.SetMoved) {
	snap.Sets = append(snap.Sets, domain.BladeSet{Fact: fact.No, At: fact.At, By: fact.For, SetMoved: body})
}

func lastPutOff(snap *domain.Snapshot, _ keptLast, fact domain.Fact, body domain.PutOff) {
	put(&snap.PutOff, body.Service, domain.PutOffBy{Fact: fact.No, At: fact.At, By: fact.For, PutOff: body})
}

func lastExtended(snap *domain.Snapshot, _ keptLast, fact domain.Fact, body domain.Extended) {
	put(&snap.Extended, body.Check, domain.ExtendedBy{Fact: fact.No, At: fact.At, By: fact.For, Extended: body})
}

func lastTaken(snap *domain.Snapshot, _ keptLast, fact domain.Fact, body domain.Taken) {
	put(&snap.Taken, body.Service, domain.TakenBy{Fact: fact.No, At: fact.At, By: fact.For})
}

func lastLoosening(snap *domain.Snapshot, _ keptLast, fact domain.Fact, body domain.LooseningAsked) {
	snap.Loosening = &domain.LooseningBy{Fact: fact.No, Recorded: fact.Recorded, By: fact.By, LooseningAsked: body}
}

func lastSeenTo(snap *domain.Snapshot, _ keptLast, fact domain.Fact, body domain.SeenTo) {
	snap.Seen = domain.NewSeenBy(fact, body)
}

func lastTestRenewed(snap *domain.Snapshot, _ keptLast, fact domain.Fact, body domain.TestRenewed) {
	snap.Renewed = &domain.Renewal{At: fact.At, Test: body.Test}
}
