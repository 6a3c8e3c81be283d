package store_test

import (
	"fmt"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
	"setscrew/store"
)

// asStored is a machine's snapshot as another handle on the file reads it, which has
// nothing in memory.
func asStored(t testing.TB, path string, shop domain.ShopID, m domain.MachineID) domain.Snapshot {
	t.Helper()
	return snapshot(t, open(t, path).Shop(shop), m)
}

// What is in memory is never older than the file: not after a fact of the machine, of
// the shop itself, of another machine, nor after one that another handle wrote.
func TestCachedSnapshotsSeeEveryFact(t *testing.T) {
	t.Parallel()
	db, path := fresh(t)
	shop, other := db.Shop("one"), open(t, path).Shop("one")
	marble, slate := addPlaner(t, shop, "Marble"), addPlaner(t, shop, "Slate")
	gauge := func(name string) domain.GaugeSet {
		return domain.GaugeSet{Gauge: domain.OwnGauge{GaugeUsed: domain.GaugeUsed{Name: name,
			Gauge: metrology.Gauge{Coverage: 2}}}}
	}
	settings := domain.NewShop("one")
	settings.Units = quantity.Imperial
	for i, given := range []struct {
		by   *store.Shop
		of   domain.MachineID
		body domain.Body
	}{
		{shop, marble, domain.Hours{Seconds: 60}}, {shop, slate, domain.Hours{Seconds: 120}}, {shop, 0, gauge("dial")},
		{shop, marble, domain.Hours{Seconds: 60}}, {shop, 0, domain.ShopSet{Shop: settings}},
		{shop, marble, domain.Hours{Seconds: 60}},
		{other, marble, domain.Problem{Symptom: "snipe", Name: "snipe"}}, {other, 0, gauge("feelers")},
		{shop, slate, domain.Hours{Seconds: 60}},
		{shop, marble, domain.Hours{Seconds: 60}},
		{shop, marble, domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: "x"}}},
	} {
		report(t, given.by, entry(fmt.Sprint("fact ", i), time.Duration(i+1)*time.Hour, given.of, given.body))
		for _, m := range []domain.MachineID{marble, slate} {
			if d := cmp.Diff(asStored(t, path, "one", m), snapshot(t, shop, m)); d != "" {
				t.Fatalf("after fact %d, %T, machine %d (-stored +from memory):\n%s", i, given.body, m, d)
			}
		}
	}
}

// Memory does not grow with shops and machines: each cache keeps those used last, and
// what was let go is read again.
func TestCachesAreBounded(t *testing.T) {
	t.Parallel()
	db, path := fresh(t)
	db.KeepSmall(3)
	var ids []domain.MachineID
	for i := range 5 {
		shop := db.Shop(domain.ShopID(fmt.Sprint("shop ", i)))
		ids = append(ids, addPlaner(t, shop, "Marble"))
		if _, err := shop.Machines(ctx); err != nil {
			t.Fatal(err)
		}
		snapshots, loaded, profiles, listings := db.Cached()
		if most := max(snapshots, loaded, profiles, listings); most > 3 || snapshots != min(i+1, 3) {
			t.Errorf("after %d shops: %d snapshots, %d loaded, %d profiles, %d listings in memory", i+1, snapshots,
				loaded, profiles, listings)
		}
	}
	for i, id := range ids {
		shop := domain.ShopID(fmt.Sprint("shop ", i))
		if d := cmp.Diff(asStored(t, path, shop, id), snapshot(t, db.Shop(shop), id)); d != "" {
			t.Errorf("shop %d (-stored +read again):\n%s", i, d)
		}
	}
}

// Use that was taken back is no use between two readings of the counter.
func TestCounterLeavesOutWithdrawnHours(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	report(t, shop, entry("first", time.Hour, planer, domain.CounterRead{Seconds: 10 * 3600}))
	wrong := report(t, shop, entry("wrong", 2*time.Hour, planer, domain.Hours{Seconds: 3600}))
	report(t, shop, entry("second", 4*time.Hour, planer, domain.CounterRead{Seconds: 12 * 3600}))
	report(t, shop, entry("never mind", 5*time.Hour, planer, domain.Withdrawal{Of: wrong.Fact.No}))
	if got := snapshot(t, shop, planer).Hours.Float(quantity.Hour); got != 2 {
		t.Errorf("%g h of use, want the 2 h that the counter went on by", got)
	}
	// And where it was taken back before the counter was read again, and one more
	// report typed late has it reckoned with once more.
	wrong = report(t, shop, entry("wrong again", 6*time.Hour, planer, domain.Hours{Seconds: 3600}))
	report(t, shop, entry("never mind again", 6*time.Hour, planer, domain.Withdrawal{Of: wrong.Fact.No}))
	report(t, shop, entry("third", 8*time.Hour, planer, domain.CounterRead{Seconds: 15 * 3600}))
	late := entry("late", 9*time.Hour, planer, domain.Hours{Seconds: 1800})
	late.At = start.Add(7 * time.Hour)
	report(t, shop, late)
	if got := snapshot(t, shop, planer).Hours.Float(quantity.Hour); got != 5 {
		t.Errorf("%g h of use, want the 5 h that the counter went on by", got)
	}
}

// A retired machine's name is free again.
func TestRetiredNameIsFree(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	setup := snapshot(t, shop, planer).Machine.Setup
	refused(t, shop, entry("while it is in use", time.Hour, 0, domain.MachineAdded{Name: "MARBLE", Setup: setup}),
		domain.MachineTwice)
	report(t, shop, entry("retired", 2*time.Hour, planer, domain.MachineRetired{}))
	if o := report(t, shop, entry("another", 3*time.Hour, 0,
		domain.MachineAdded{Name: "Marble", Setup: setup})); o.Fact.Machine == planer {
		t.Error("the new machine took the retired one's number")
	}
}

// What was found out about a problem is a report like others: the last of a person's,
// and one that can be taken back.
func TestFoundIsAReportLikeOthers(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	report(t, shop, entry("snipe", time.Hour, planer, domain.Problem{Symptom: "snipe", Name: "snipe"}))
	found := report(t, shop, entry("found", 2*time.Hour, planer,
		domain.Found{Key: "snipe", About: domain.QuestionItem.Of("both-ends"), Answer: domain.AnswerYes}))
	last, err := shop.LastBy(ctx, "ada")
	if err != nil || last.No != found.Fact.No {
		t.Fatalf("the last report is no. %d, %v; want no. %d", last.No, err, found.Fact.No)
	}
	report(t, shop, entry("not so", 3*time.Hour, planer, domain.Withdrawal{Of: found.Fact.No}))
	if p := snapshot(t, shop, planer).Problems; len(p) != 1 || len(p[0].Found) != 0 {
		t.Errorf("after it was taken back: %+v", p)
	}
}

// A program that was switched off for more than an hour, across a digest, leaves what
// fell due meanwhile to the digest; one that woke in time, or with no digest due, says
// it itself.
func TestSwitchedOffForMoreThanAnHour(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	wake := start.AddDate(0, 0, 1)
	for _, test := range []struct {
		late, digest time.Duration // after the wake time
		missed       bool
	}{
		{30 * time.Minute, -time.Minute, false}, {time.Hour, -time.Minute, false},
		{61 * time.Minute, -time.Minute, true},
		{90 * time.Minute, 80 * time.Minute, true}, {90 * time.Minute, 90 * time.Minute, true},
		{90 * time.Minute, 91 * time.Minute, false}, {23 * time.Hour, 10 * time.Hour, true},
		{25 * time.Hour, 26 * time.Hour, false},
	} {
		if err := db.SetWakes(ctx, "one", planer, wake, wake.Add(test.digest)); err != nil {
			t.Fatal(err)
		}
		if got, err := shop.Missed(ctx, planer, wake.Add(test.late)); err != nil || got != test.missed {
			t.Errorf("woken %v late, digest %v after the wake time: missed %t, %v; want %t", test.late, test.digest,
				got, err, test.missed)
		}
	}
}

// For every kind of fact it is said what it changes beside the facts, for every kind that
// can be withdrawn what that takes back, and for every kind whose last fact is kept how
// that goes into a snapshot.
func TestEveryKindIsDerived(t *testing.T) {
	for _, kind := range domain.Kinds() {
		add, undo, last := store.Derives(kind)
		if withdrawn := slices.Contains(domain.KindsWithdrawn(), kind); !add || undo != withdrawn {
			t.Errorf("facts of kind %s: what they change is said %t, what is taken back %t, want %t", kind, add, undo,
				withdrawn)
		}
		if kept := slices.Contains(domain.KindsKeptLast(), kind); last != kept {
			t.Errorf("facts of kind %s: how the last goes into a snapshot is said %t, want %t", kind, last, kept)
		}
	}
}

// Whoever sees what a commit changed sees the shop's settings as it changed them: what is
// in memory is not believed from just before the commit until it is known to be over.
func TestSettingsAreNeverOlderThanTheFile(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	addPlaner(t, shop, "Marble")
	version := func(s domain.Shop, err error) int {
		t.Helper()
		if err != nil {
			t.Error(err)
			return 0
		}
		n, _ := strconv.Atoi(s.Name)
		return n
	}
	const versions = 400
	done := make(chan struct{})
	var readers sync.WaitGroup
	defer readers.Wait()
	defer close(done)
	for range 4 {
		readers.Go(func() {
			for {
				select {
				case <-done:
					return
				default:
				}
				stored := version(shop.StoredSettings(ctx))
				if got := version(shop.Shop(ctx)); got < stored && !t.Failed() {
					t.Errorf("settings %d, while %d were on file already", got, stored)
					return
				}
			}
		})
	}
	for i := range versions {
		set := domain.NewShop("one")
		set.Name = strconv.Itoa(i + 1)
		report(t, shop, entry(fmt.Sprint("settings ", i), time.Duration(i)*time.Hour, 0,
			domain.ShopSet{Shop: set}))
	}
	if got := version(shop.Shop(ctx)); got != versions {
		t.Errorf("settings %d in the end, want %d", got, versions)
	}
}

// An attempt that began before its channel may have been mended does not keep a notice
// waiting: it is tried again at once, and waits only after that.
func TestMendedWhileTried(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	m := addPlaner(t, shop, "Marble")
	report(t, shop, entry("tag", time.Hour, m, domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody,
		Text: "x"}}))
	now := start.Add(time.Hour)
	listed := func() []domain.Undelivered {
		t.Helper()
		all, err := db.Undelivered(ctx, "one", now, 1)
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	tried := func(o domain.Undelivered) {
		t.Helper()
		must(t, db.Tried(ctx, o, now, now.Add(time.Hour), "closed", false))
	}
	for _, mend := range []func(){
		func() { must(t, db.RetryNotices(ctx, "one")) },
		func() {
			report(t, shop, entry("settings", time.Hour, 0, domain.ShopSet{Shop: domain.NewShop("one")}))
		},
	} {
		before := listed()[0]
		mend()
		tried(before)
		if all := listed(); len(all) != 1 {
			t.Fatal("a notice waits though its channel was mended while it was tried")
		}
		tried(listed()[0])
		if all := listed(); len(all) != 0 {
			t.Fatalf("tried again at once after a failure: %+v", all)
		}
		must(t, db.RetryNotices(ctx, "one"))
	}
}
