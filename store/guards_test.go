package store_test

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/store"
)

// A put-off ends with the service that was put off: what falls due after it was done
// is said, though the moment that it was put off until is still to come.
func TestAPutOffEndsWithItsService(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db := open(t, path)
	shop := db.Shop("one")
	at := time.Hour
	tell := func(b domain.Body) domain.Outcome {
		t.Helper()
		at += time.Hour
		e := entry(fmt.Sprint("put off ", at), at, marble, b)
		e.Sure = true
		return report(t, shop, e)
	}
	worn := domain.Hours{Seconds: 200 * 3600}
	tell(worn)
	said := func(last domain.FactNo) bool {
		return slices.Contains(posts(t, db, start.Add(at)), fmt.Sprintf("m1/due/bushings/%d/late", last))
	}
	if !said(0) {
		t.Fatal("late, it is not said")
	}
	until := start.AddDate(0, 0, 90)
	if o := tell(domain.PutOff{Service: "bushings", Until: until,
		Why: "no oil"}); o.After.Service("bushings").PutOff == nil {
		t.Fatal("put off, it is not")
	}
	done := tell(domain.ServiceDone{Service: "bushings"})
	if done.After.Service("bushings").PutOff != nil {
		t.Error("done, it is still put off")
	}
	if o := tell(worn); o.After.Service("bushings").PutOff != nil {
		t.Error("due again, it is still put off")
	}
	if !said(done.Fact.No) {
		t.Error("late again, it is not said")
	}
}

// posts confirms everything that may be posted at a moment, one after another, and
// lists the keys of what became a message of its own.
func posts(t *testing.T, db *store.DB, now time.Time) (keys []string) {
	t.Helper()
	for {
		owed, err := undelivered(db, now, 10)
		if err != nil {
			t.Fatal(err)
		}
		if len(owed) == 0 {
			return keys
		}
		for _, notice := range owed {
			if err := db.Posted(ctx, notice.Shop, notice.ID, "message of "+notice.Notice.Key, now); err != nil {
				t.Fatal(err)
			}
			if notice.Notice.Op == domain.Post {
				keys = append(keys, notice.Notice.Key)
			}
		}
	}
}

// Every kind of fact is made by an operation of the histories; what can be withdrawn is
// found as the last report of who made it, and can be taken back, which leaves what is
// derived as the facts have it; and what is kept as the last of its kind is read into the
// machine's snapshot.
func TestTheLastReportCanBeTakenBack(t *testing.T) {
	t.Parallel()
	made, back := map[domain.Kind]bool{}, map[domain.Kind]bool{}
	dir := t.TempDir()
	for _, operation := range operations {
		steps, err := readExample(operation.example)
		if err != nil || steps[len(steps)-1].what != operation.what {
			t.Fatalf("%s: the example %q, %v", operation.what, operation.example, err)
		}
		playing, err := newPlayer(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, st := range steps {
			playing.taken = domain.Outcome{}
			if err := playing.play(st); err != nil {
				t.Error(err)
			}
		}
		given, fact := playing.given, playing.taken.Fact
		if fact.No == 0 {
			t.Errorf("%s: refused in its example %q", operation.what, operation.example)
		} else {
			made[fact.Body.FactKind()] = true
			if domain.KeptLast(fact.Body) {
				isRead(t, playing.shop, fact)
			}
			if fact.Withdrawable() {
				back[fact.Body.FactKind()] = true
				isTakenBack(t, playing, given, fact)
			}
		}
		must(t, playing.close())
	}
	for _, kind := range domain.Kinds() {
		if !made[kind] {
			t.Errorf("no operation of the histories makes a fact of kind %s", kind)
		}
		if withdrawn := slices.Contains(domain.KindsWithdrawn(), kind); back[kind] != withdrawn {
			t.Errorf("a fact of kind %s is taken back: %t, want %t", kind, back[kind], withdrawn)
		}
	}
	var nothing *domain.Refusal
	shop, _ := withPlaner(t)
	if _, err := shop.LastBy(ctx, "bo"); !errors.As(err, &nothing) || nothing.Code != domain.NothingToUndo {
		t.Errorf("of somebody who has reported nothing: %v", err)
	}
}

// isTakenBack takes back what was reported last, an hour later.
func isTakenBack(t *testing.T, playing *player, given domain.Entry, fact domain.Fact) {
	t.Helper()
	shop, kind := playing.shop, fact.Body.FactKind()
	if last, err := shop.LastBy(ctx, given.By); err != nil || last.No != fact.No {
		t.Errorf("a fact of kind %s: no. %d is the last report, %v, want no. %d", kind, last.No, err, fact.No)
	}
	undo := domain.Entry{Key: "undo", At: given.Recorded.Add(time.Hour), Recorded: given.Recorded.Add(time.Hour),
		By: given.By, For: given.For, Body: domain.Withdrawal{Of: fact.No}}
	if _, err := shop.Report(ctx, undo); err != nil {
		t.Errorf("a fact of kind %s is not taken back: %v", kind, err)
		return
	}
	var none *domain.Refusal
	if last, err := shop.LastBy(ctx, given.By); err != nil && !errors.As(err, &none) || last.No >= fact.No {
		t.Errorf("a fact of kind %s, taken back: no. %d is the last report, %v", kind, last.No, err)
	}
	if err := playing.rebuild(t); err != nil {
		t.Errorf("a fact of kind %s, taken back: %v", kind, err)
	}
}

// isRead looks whether what is kept of a fact as the last of its kind makes a difference
// to its machine's snapshot.
func isRead(t *testing.T, shop *store.Shop, fact domain.Fact) {
	t.Helper()
	kind := fact.Body.FactKind()
	with, err := shop.Stored(ctx, fact.Machine)
	if err != nil {
		t.Fatal(err)
	}
	must(t, shop.ForgetLast(ctx, fact.Machine, kind))
	without, err := shop.Stored(ctx, fact.Machine)
	if err != nil {
		t.Fatal(err)
	}
	with.KeptFrom, without.KeptFrom = time.Time{}, time.Time{}
	if difference(with, without) == "" {
		t.Errorf("the last fact of kind %s is kept, and not read into a snapshot", kind)
	}
	must(t, shop.Rebuild(ctx))
}

// Hours after Setscrew should have woken, what fell due meanwhile is left to the
// digest: up to an hour it is posted as ever, and where no digest is to come as well.
func TestWhatFellDueWhileSwitchedOff(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name   string
		late   time.Duration
		digest bool // today's is still to be made
		said   bool // by a post of its own
	}{
		{"on time", 0, true, true},
		{"an hour late", time.Hour, true, true},
		{"over an hour late", time.Hour + time.Millisecond, true, false},
		{"half a day late", 12 * time.Hour, true, false},
		{"half a day late, the digest made", 12 * time.Hour, false, true},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			path := filepath.Join(t.TempDir(), "shop.db")
			copyPrepared(t, path)
			db := open(t, path)
			wakes, err := db.Due(ctx, start.AddDate(1, 0, 0), 1)
			if err != nil || len(wakes) != 1 {
				t.Fatalf("%v, %v", wakes, err)
			}
			due := wakes[0].At
			posts(t, db, due)
			now := due.Add(test.late)
			if !test.digest {
				if err := db.SettleDigest(ctx, "one", now); err != nil {
					t.Fatal(err)
				}
				posts(t, db, now)
			}
			st, err := db.Settle(ctx, "one", marble, now)
			if err != nil || st.Check("fingers").Due.State == 0 {
				t.Fatalf("not due: %+v, %v", st.Check("fingers").Due, err)
			}
			said := slices.ContainsFunc(posts(t, db, now), func(key string) bool {
				return key == fmt.Sprint("m1/check-due/fingers/", st.Check("fingers").Latest.Fact)
			})
			if said != test.said {
				t.Errorf("said: %v, want %v", said, test.said)
			}
		})
	}
}

// What a machine's snapshot shows of its shop is what the shop's last report says,
// also where the snapshot is at hand.
func TestSnapshotsShowTheShopAsItIs(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	gauges := func(when string, want int) {
		t.Helper()
		if snap := snapshot(t, shop, planer); len(snap.Gauges) != want {
			t.Errorf("%s: gauges %v, want %d", when, snap.Gauges, want)
		}
	}
	add := func(name string, after time.Duration) {
		t.Helper()
		b := domain.GaugeSet{Gauge: domain.OwnGauge{GaugeUsed: domain.GaugeUsed{Name: name}}}
		report(t, shop, entry(name, after, 0, b))
	}
	gauges("at first", 0) // and from now on at hand for readers
	add("dial", time.Hour)
	gauges("after one was added", 1)
	report(t, shop, entry("hours", 2*time.Hour, planer, domain.Hours{Seconds: 60})) // at hand for reports
	add("caliper", 3*time.Hour)
	report(t, shop, entry("more", 4*time.Hour, planer, domain.Hours{Seconds: 60}))
	gauges("after another was added, and a report", 2)
	inch := domain.NewShop("one")
	inch.Name = "Inch"
	report(t, shop, entry("settings", 5*time.Hour, 0, domain.ShopSet{Shop: inch}))
	if snap := snapshot(t, shop, planer); snap.Shop.Name != "Inch" {
		t.Errorf("after new settings: %+v", snap.Shop)
	}
	if o := report(t, shop, entry("still more", 6*time.Hour, planer,
		domain.Hours{Seconds: 60})); o.After.Shop.Name != "Inch" {
		t.Errorf("a report after new settings: %+v", o.After.Shop)
	}
}

// A digest is held against the one before it, however many there were.
func TestTheLastDigestIsTheLatest(t *testing.T) {
	t.Parallel()
	shop, _ := withPlaner(t)
	for week := range 3 {
		now := start.AddDate(1, 0, 7*week)
		if err := shop.File().SettleDigest(ctx, "one", now); err != nil {
			t.Fatal(err)
		}
		if last, err := shop.LastDigest(ctx); err != nil || !last.At.Equal(now) {
			t.Errorf("the last digest is that of %v, %v, want %v", last.At, err, now)
		}
	}
}

// In quiet hours a tag-out may be posted at once, past what waits for their end.
func TestQuietHoursHoldNothingUrgentBack(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	settings := domain.NewShop("one")
	settings.Zone, settings.Quiet = "UTC", domain.Quiet{From: 22 * 60, Until: 7 * 60}
	report(t, shop, entry("quiet hours", time.Minute, 0, domain.ShopSet{Shop: settings}))
	night := 18 * time.Hour // after eight in the morning
	posts(t, shop.File(), start.Add(night-time.Minute))
	report(t, shop, entry("snipe", night, planer, domain.Problem{Symptom: "snipe", Name: "snipe"}))
	report(t, shop, entry("tag", night, planer, hangsTag))
	owed, err := undelivered(shop.File(), start.Add(night), 10)
	if err != nil || len(owed) != 1 || owed[0].Notice.Topic != domain.TopicTagOut {
		t.Errorf("at night %+v may be posted, %v, want the tag-out alone", owed, err)
	}
}
