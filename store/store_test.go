package store_test

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/domain/danger"
	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
	"setscrew/store"
)

func TestReportOnce(t *testing.T) {
	t.Parallel()
	db, path := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	o := report(t, shop, entry("k", time.Hour, planer, domain.Hours{Seconds: 3600}))
	before := dump(t, path)
	again := report(t, shop, entry("k", 2*time.Hour, planer, domain.Hours{Seconds: 7200}))
	if !again.Repeated || again.Fact.No != o.Fact.No || again.Fact.Body != o.Fact.Body {
		t.Errorf("the same key again: %+v", again)
	}
	if d := cmp.Diff(before, dump(t, path)); d != "" {
		t.Errorf("the same key again stored something:\n%s", d)
	}
	if got := snapshot(t, shop, planer).Hours; !got.Equal(quantity.New(1, 1, quantity.Hour)) {
		t.Errorf("%v logged, want 1 h", got)
	}
	if _, err := shop.Report(ctx, domain.Entry{Machine: planer, Body: domain.Hours{Seconds: 1}}); err == nil {
		t.Error("an entry without a key is applied")
	}
}

// Twenty reports past the stop limit at once hang one tag and owe one notice.
func TestTwentyAtOnce(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	read := infeed(t, shop, planer, 70)
	var wg sync.WaitGroup
	errs := make(chan error, 20)
	for i := range 20 {
		wg.Go(func() {
			e := entry(fmt.Sprintf("k%d", i), time.Hour, planer, read)
			e.By = domain.PersonID(fmt.Sprintf("p%d", i))
			_, err := shop.Report(ctx, e)
			errs <- err
		})
	}
	wg.Wait()
	for range 20 {
		if err := <-errs; err != nil {
			t.Fatal(err)
		}
	}
	snap := snapshot(t, shop, planer)
	if len(snap.Tags) != 1 || snap.Outage != 1 {
		t.Errorf("%d tags, %d outages; want one of each", len(snap.Tags), snap.Outage)
	}
	posts := 0
	for _, n := range drain(t, db) {
		if n.Notice.Topic == domain.TopicTagOut && n.Notice.Op == domain.Post {
			posts++
		}
	}
	if posts != 1 {
		t.Errorf("%d tag-out notices, want one", posts)
	}
}

// drain confirms everything owed, in the order in which it is listed.
func drain(t testing.TB, db *store.DB) []domain.Undelivered {
	t.Helper()
	var all []domain.Undelivered
	now := start.AddDate(1, 0, 0)
	for {
		undelivered, err := undelivered(db, now, 3)
		if err != nil {
			t.Fatal(err)
		}
		if len(undelivered) == 0 {
			return all
		}
		for _, o := range undelivered {
			if err := db.Posted(ctx, o.Shop, o.ID, "msg-"+o.Notice.Key, now); err != nil {
				t.Fatal(err)
			}
			all = append(all, o)
		}
	}
}

// What is refused leaves no trace in any table.
func TestRefusalsStoreNothing(t *testing.T) {
	t.Parallel()
	db, path := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	gone := addPlaner(t, shop, "Granite")
	report(t, shop, entry("retire", time.Minute, gone, domain.MachineRetired{}))
	hours := report(t, shop, entry("h", time.Minute, planer, domain.Hours{Seconds: 60}))
	report(t, shop, entry("w", time.Minute, planer, domain.Withdrawal{Of: hours.Fact.No}))
	read := report(t, shop, entry("r", time.Minute, planer, infeed(t, shop, planer, 46)))
	report(t, shop, entry("r2", 2*time.Minute, planer, infeed(t, shop, planer, 47)))
	if err := shop.Keep(ctx, domain.Pending{ID: "used", Action: "a", Made: start, Expires: start.AddDate(1, 0, 0)},
		domain.Pending{ID: "old", Action: "a", Made: start, Expires: start}); err != nil {
		t.Fatal(err)
	}
	if err := shop.Use(ctx, "used", "x", start); err != nil {
		t.Fatal(err)
	}
	before := dump(t, path)
	pending := func(id string) domain.Entry {
		e := entry("p "+id, time.Hour, planer, domain.Hours{Seconds: 60})
		e.Pending = id
		return e
	}
	old := entry("rev", time.Hour, planer, domain.Hours{Seconds: 60})
	old.SetupRev = 7
	for _, test := range []struct {
		e    domain.Entry
		want domain.Code
	}{
		{entry("1", time.Hour, 99, domain.Hours{Seconds: 60}), domain.NoSuchMachine},
		{entry("2", time.Hour, gone, domain.Hours{Seconds: 60}), domain.MachineIsRetired},
		{entry("3", time.Hour, 0, domain.MachineAdded{Name: " MARBLE ",
			Setup: snapshot(t, shop, planer).Machine.Setup}), domain.MachineTwice},
		{entry("4", time.Hour, planer, domain.Release{}), domain.NotTagged},
		{entry("5", time.Hour, planer, domain.Withdrawal{Of: 999}), domain.NoSuchFact},
		{entry("6", time.Hour, planer, domain.Withdrawal{Of: hours.Fact.No}), domain.WithdrawnBefore},
		{entry("7", time.Hour, planer, domain.Withdrawal{Of: 1}), domain.NotWithdrawable},
		{entry("8", time.Hour, planer, domain.ReadingConfirmed{Of: read.Fact.No}), domain.ConfirmedBefore},
		{entry("9", time.Hour, planer, domain.Move{Check: "infeed", Reading: read.Fact.No}), domain.ReadingMovedOn},
		{entry("10", time.Hour, planer, domain.SetupChanged{Setup: domain.Setup{Rev: 9}}), domain.SetupChangedNow},
		{old, domain.SetupChangedNow},
		{pending("used"), domain.PendingUsed},
		{pending("old"), domain.PendingGone},
		{pending("none"), domain.PendingGone},
	} {
		refused(t, shop, test.e, test.want)
	}
	// One that fails at its very end, after rows were written.
	if _, err := shop.Report(ctx, entry("bad", time.Hour, 0,
		domain.MachineAdded{Name: "Slate",
			Setup: domain.Setup{Kind: "thickness-planer", Hash: "none", Rev: 1}})); err == nil {
		t.Error("a machine without a profile is added")
	}
	if d := cmp.Diff(before, dump(t, path)); d != "" {
		t.Errorf("refusals stored something:\n%s", d)
	}
}

// A steward takes back another's report of danger with a note alone, and what it promised
// is asked for until a release; whoever reported it takes it back at once without either.
func TestDangerTakenBack(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name  string
		by    domain.PersonID
		after time.Duration
		asked bool
	}{
		{"another's", "wren", 30 * time.Second, true},
		{"one's own, at once", "ada", time.Minute, false},
		{"one's own, later", "ada", time.Hour, true},
	} {
		db, _ := fresh(t)
		shop := db.Shop("one")
		planer := addPlaner(t, shop, "Marble")
		shock := report(t, shop, entry("shock", time.Hour, planer,
			domain.Problem{Name: "a tingle", Danger: true, Hazard: danger.Shock}))
		undo := entry("undo", time.Hour+test.after, planer, domain.Withdrawal{Of: shock.Fact.No})
		undo.By, undo.For = test.by, test.by
		if test.by != shock.Fact.By {
			refused(t, shop, undo, domain.WithdrawalNote)
			undo.Body = domain.Withdrawal{Of: shock.Fact.No, Note: "a fan beside it"}
		}
		outcome := report(t, shop, undo)
		if got := len(outcome.After.Dangers); got != 0 || !outcome.After.TaggedOut() {
			t.Errorf("%s: %d dangers, tags %+v", test.name, got, outcome.After.Tags)
		}
		asked := slices.ContainsFunc(outcome.After.Blockers, func(b domain.Blocker) bool {
			return b.Code == domain.BlockAfter && b.ID == "electrical"
		})
		if asked != test.asked {
			t.Errorf("%s: the electrical inspection is asked for: %v, want %v", test.name, asked, test.asked)
		}
	}
}

// A tag from a withdrawn report stays; only a release lifts it; withdrawing the
// release tags out again.
func TestUndoNeverStarts(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	bad := report(t, shop, entry("bad", time.Hour, planer, infeed(t, shop, planer, 70)))
	if len(bad.Hung) != 1 || bad.Hung[0].Because != bad.Fact.No || bad.Hung[0].By != "" {
		t.Fatalf("hung %+v", bad.Hung)
	}
	refused(t, shop, entry("test", 2*time.Hour, planer, domain.UnderTest{}), domain.Blocked)
	refused(t, shop, entry("rel", 2*time.Hour, planer, domain.Release{}), domain.NotTested)
	outcome := report(t, shop, entry("undo", 3*time.Hour, planer, domain.Withdrawal{Of: bad.Fact.No}))
	if !outcome.After.TaggedOut() || !outcome.After.Tags[0].ReportWithdrawn {
		t.Fatalf("after the undo: tags %+v", outcome.After.Tags)
	}
	if got := outcome.After.Check("infeed").Latest.Fact; got == bad.Fact.No || got == 0 {
		t.Errorf("the latest reading is no. %d", got)
	}
	// Its cause is gone, so the release is admitted.
	if o := report(t, shop, entry("test2", 4*time.Hour, planer, answersAll(t, shop, planer))); o.After.Test == nil ||
		!o.After.TaggedOut() {
		t.Errorf("under test: %+v, tags %+v", o.After.Test, o.After.Tags)
	}
	rel := report(t, shop, entry("rel2", 4*time.Hour, planer, domain.Release{}))
	if rel.After.TaggedOut() {
		t.Fatalf("released, yet tags %+v", rel.After.Tags)
	}
	back := report(t, shop, entry("undo2", 5*time.Hour, planer, domain.Withdrawal{Of: rel.Fact.No}))
	if len(back.After.Tags) != 1 || back.After.Outage != 2 {
		t.Errorf("after the release's withdrawal: tags %+v, outage %d", back.After.Tags, back.After.Outage)
	}
	// Withdrawing the tag-out that a person hung leaves it hanging.
	mine := report(t, shop, entry("tag", 6*time.Hour, planer,
		domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: "x"}}))
	outcome = report(t, shop, entry("undo3", 7*time.Hour, planer, domain.Withdrawal{Of: mine.Fact.No}))
	if len(outcome.After.Tags) != 2 || !outcome.After.Tags[1].ReportWithdrawn {
		t.Errorf("after the tag-out's withdrawal: tags %+v", outcome.After.Tags)
	}
	// One that Setscrew hung cannot be withdrawn by itself.
	refused(t, shop, entry("undo4", 7*time.Hour, planer, domain.Withdrawal{Of: bad.Hung[0].Fact}),
		domain.NotWithdrawable)
}

func TestUnlikelyReadingWaits(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	r := infeed(t, shop, planer, 700)
	r.Unconfirmed = true
	outcome := report(t, shop, entry("r", time.Hour, planer, r))
	if outcome.After.TaggedOut() || len(outcome.After.Waiting) != 1 ||
		outcome.After.Check("infeed").Latest.Fact == outcome.Fact.No {
		t.Fatalf("unconfirmed: %+v", outcome.After.Waiting)
	}
	c := report(t, shop, entry("c", 2*time.Hour, planer, domain.ReadingConfirmed{Of: outcome.Fact.No}))
	if !c.After.TaggedOut() || len(c.After.Waiting) != 0 || c.After.Check("infeed").Latest.Fact != outcome.Fact.No {
		t.Errorf("confirmed: tags %+v, waiting %+v", c.After.Tags, c.After.Waiting)
	}
	u := report(t, shop, entry("u", 3*time.Hour, planer, domain.Withdrawal{Of: c.Fact.No}))
	if len(u.After.Waiting) != 1 || !u.After.TaggedOut() {
		t.Errorf("confirmation withdrawn: tags %+v, waiting %+v", u.After.Tags, u.After.Waiting)
	}
	w := report(t, shop, entry("w", 4*time.Hour, planer, domain.Withdrawal{Of: outcome.Fact.No}))
	if len(w.After.Waiting) != 0 {
		t.Errorf("withdrawn: waiting %+v", w.After.Waiting)
	}
}

// Every method of one shop's books shows nothing of another's.
func TestShopsDoNotSeeEachOther(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	one, two := db.Shop("one"), db.Shop("two")
	planer := addPlaner(t, one, "Marble")
	report(t, one, entry("set", time.Minute, 0,
		domain.ShopSet{Shop: domain.Shop{Name: "One", Zone: "CET", Units: quantity.Imperial}}))
	report(t, one, entry("gauge", time.Minute, 0,
		domain.GaugeSet{Gauge: domain.OwnGauge{GaugeUsed: domain.GaugeUsed{Name: "dial",
			Gauge: metrology.Gauge{Coverage: 2}}}}))
	ran := report(t, one, entry("h", time.Hour, planer, domain.Hours{Seconds: 9 * 3600}))
	if err := one.Keep(ctx, domain.Pending{ID: "p", Action: "a", Made: start,
		Expires: start.AddDate(1, 0, 0)}); err != nil {
		t.Fatal(err)
	}
	code := func(err error) domain.Code {
		var r *domain.Refusal
		if errors.As(err, &r) {
			return r.Code
		}
		return ""
	}
	if s, err := two.Shop(ctx); err != nil || !cmp.Equal(s, domain.NewShop("two")) {
		t.Errorf("settings %+v, %v", s, err)
	}
	if all, err := two.Machines(ctx); err != nil || len(all) != 0 {
		t.Errorf("machines %v, %v", all, err)
	}
	if g, err := two.Gauges(ctx); err != nil || len(g) != 0 {
		t.Errorf("gauges %v, %v", g, err)
	}
	if _, err := two.Snapshot(ctx, planer); code(err) != domain.NoSuchMachine {
		t.Errorf("snapshot: %v", err)
	}
	if _, err := two.Fact(ctx, ran.Fact.No); code(err) != domain.NoSuchFact {
		t.Errorf("fact: %v", err)
	}
	if f, err := two.Recent(ctx, "ada", 10); err != nil || len(f) != 0 {
		t.Errorf("recent: %v, %v", f, err)
	}
	if f, err := one.Recent(ctx, "ada", 2); err != nil || len(f) != 2 || f[0].No != ran.Fact.No {
		t.Errorf("recent: %v, %v", f, err)
	}
	if _, err := two.LastBy(ctx, "ada"); code(err) != domain.NothingToUndo {
		t.Errorf("last: %v", err)
	}
	if _, err := two.Pending(ctx, "p", start); code(err) != domain.PendingGone {
		t.Errorf("pending: %v", err)
	}
	if err := two.Use(ctx, "p", "k", start); code(err) != domain.PendingGone {
		t.Errorf("use: %v", err)
	}
	refused(t, two, entry("x", time.Hour, planer, domain.Hours{Seconds: 1}), domain.NoSuchMachine)
	refused(t, two, entry("y", time.Hour, planer, domain.Withdrawal{Of: ran.Fact.No}), domain.NoSuchFact)
	if _, err := db.Settle(ctx, "two", planer, start); code(err) != domain.NoSuchMachine {
		t.Errorf("settle: %v", err)
	}
	// The same key and the same name are each shop's own.
	m2 := addPlaner(t, two, "Marble")
	if o := report(t, two, entry("h", time.Hour, m2, domain.Hours{Seconds: 60})); o.Repeated {
		t.Error("another shop's key counts as applied")
	}
	if err := db.Posted(ctx, "two", 1, "m", start); err != nil {
		t.Fatal(err)
	}
	owed := drain(t, db)
	if len(owed) == 0 || owed[0].Shop != "one" {
		t.Errorf("shop two confirmed a notice of shop one: %+v", owed)
	}
	if err := two.Rebuild(ctx); err != nil {
		t.Fatal(err)
	}
	if got := snapshot(t, one, planer).Hours; !got.Equal(quantity.New(9, 1, quantity.Hour)) {
		t.Errorf("after the other's rebuild: %v", got)
	}
}

func TestPendingOutlivesReopening(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	db, err := store.Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	planer := addPlaner(t, db.Shop("one"), "Marble")
	want := domain.Pending{ID: "p", Action: "again", Args: []byte(`{"a":1}`), Asked: "ada", Made: start,
		Expires: start.Add(time.Hour)}
	if err := db.Shop("one").Keep(ctx, want); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	shop := open(t, path).Shop("one")
	got, err := shop.Pending(ctx, "p", start.Add(time.Hour-time.Second))
	if d := cmp.Diff(want, got); err != nil || d != "" {
		t.Errorf("%v (-want +got):\n%s", err, d)
	}
	given := entry("k", time.Minute, planer, domain.Hours{Seconds: 60})
	given.Pending = "p"
	report(t, shop, given)
	if o := report(t, shop, given); !o.Repeated {
		t.Error("the same press again is not a repetition")
	}
	given.Key = "k2"
	refused(t, shop, given, domain.PendingUsed)
	if err := shop.Use(ctx, "p", "k", start); err != nil {
		t.Errorf("used again by the same key: %v", err)
	}
	_, err = shop.Pending(ctx, "p", start)
	var r *domain.Refusal
	if !errors.As(err, &r) || r.Code != domain.PendingUsed {
		t.Errorf("used: %v", err)
	}
}

// Notices of one machine come one after another; one that failed waits, and
// holds back those behind it but not another machine's.
func TestOutboxOrder(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	a, granite := addPlaner(t, shop, "Marble"), addPlaner(t, shop, "Granite")
	if err := db.SettleDigest(ctx, "one", start.Add(time.Hour)); err != nil { // nothing to say today
		t.Fatal(err)
	}
	report(t, shop, entry("a", time.Hour, a, infeed(t, shop, a, 70)))
	report(t, shop, entry("b", time.Hour, granite, infeed(t, shop, granite, 70)))
	now := start.Add(time.Hour)
	heads := func(now time.Time) string {
		undelivered, err := db.Undelivered(ctx, "one", now, 10)
		if err != nil {
			t.Fatal(err)
		}
		var keys []string
		for _, o := range undelivered {
			keys = append(keys, fmt.Sprintf("%s(%d,%s)", o.Notice.Key, o.Attempts, o.Message))
		}
		return strings.Join(keys, " ")
	}
	if got := heads(now); got != "m1/out/1(0,) m2/out/1(0,)" {
		t.Fatalf("undelivered %s", got)
	}
	undelivered, err := db.Undelivered(ctx, "one", now, 1)
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Sending(ctx, undelivered[0], now); err != nil {
		t.Fatal(err)
	}
	if err := db.Tried(ctx, undelivered[0], now, now.Add(time.Minute), "no channel", true); err != nil {
		t.Fatal(err)
	}
	if got := heads(now); got != "m2/out/1(0,)" {
		t.Errorf("after a failure: %s", got)
	}
	if next, ok, err := db.NextWake(ctx); err != nil || !ok || !next.Equal(now.Add(time.Minute)) {
		t.Errorf("next wake %v, %v, %v", next, ok, err)
	}
	if got := heads(now.Add(time.Minute)); got != "m1/out/1(1,) m2/out/1(0,)" {
		t.Errorf("a minute later: %s", got)
	}
	again, err := db.Undelivered(ctx, "one", now.Add(time.Minute), 1)
	if err != nil || !again[0].Sent.Equal(now) || !again[0].Made.Equal(now) {
		t.Errorf("%+v, %v", again, err)
	}
	if err := db.Posted(ctx, "one", undelivered[0].ID, "message-7", now); err != nil {
		t.Fatal(err)
	}
	if got := heads(now); got != "m1/out/1/pin(0,message-7) m2/out/1(0,)" {
		t.Errorf("after the post: %s", got)
	}
}

func TestWakes(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	due := time.Date(2026, 3, 9, 0, 0, 0, 0, time.UTC)
	if w, err := db.Due(ctx, due.Add(-time.Second), 10); err != nil || len(w) != 0 {
		t.Errorf("before: %v, %v", w, err)
	}
	w, err := db.Due(ctx, due, 10)
	if err != nil || len(w) != 1 || w[0] != (domain.Wake{Shop: "one", Machine: planer, At: due}) {
		t.Fatalf("at the time: %v, %v", w, err)
	}
	if _, err := db.Settle(ctx, "one", planer, due); err != nil {
		t.Fatal(err)
	}
	// Warned of three days before and one, late at midnight, out of service before the shop opens.
	late := due.AddDate(0, 0, 3).Add(7*time.Hour + 30*time.Minute)
	for _, next := range []time.Time{late.AddDate(0, 0, -3), late.AddDate(0, 0, -1), due.AddDate(0, 0, 3), late} {
		wakes, err := db.Due(ctx, next, 10)
		if early, err := db.Due(ctx, next.Add(-time.Second), 10); err != nil || len(early) != 0 {
			t.Errorf("before %v: %v, %v", next, early, err)
		}
		if err != nil || len(wakes) != 1 || !wakes[0].At.Equal(next) {
			t.Fatalf("at %v: %v, %v", next, wakes, err)
		}
		if next.Equal(late) {
			break
		}
		if st, err := db.Settle(ctx, "one", planer, next); err != nil || st.TaggedOut() {
			t.Fatalf("at %v: %+v, %v", next, st.Tags, err)
		}
	}
	st, err := db.Settle(ctx, "one", planer, late)
	if err != nil || !st.TaggedOut() {
		t.Fatalf("late: %+v, %v", st.Tags, err)
	}
	// Settling again at any later time does nothing more.
	waking := len(drain(t, db))
	for i := range 3 {
		if _, err := db.Settle(ctx, "one", planer, late.Add(time.Duration(i)*time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
	if again := drain(t, db); len(again) != 0 || waking == 0 {
		t.Errorf("settled again: %d notices, then %d more", waking, len(again))
	}
	// A retired machine never wakes.
	report(t, shop, entry("retire", 20*24*time.Hour, planer, domain.MachineRetired{}))
	if w, err := db.Due(ctx, late.AddDate(9, 0, 0), 10); err != nil || len(w) != 0 {
		t.Errorf("retired: %v, %v", w, err)
	}
	if all, err := shop.Machines(ctx); err != nil || len(all) != 0 {
		t.Errorf("retired: machines %v, %v", all, err)
	}
}
