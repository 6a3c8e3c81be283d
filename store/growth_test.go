package store_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/store"
)

// A thousand tag-outs, or reports of danger, by one person are all taken at once, and
// let the file grow by no more than is held here: equal ones join, and so do those of
// somebody whose words fill a page already.
func TestNobodyFillsTheFile(t *testing.T) {
	t.Parallel()
	said := func(text string) domain.Body {
		return domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: text}}
	}
	danger := func(note string) domain.Body {
		return domain.Problem{Symptom: "smoke", Name: "smoke or a smell of burning", Note: note, Danger: true}
	}
	for _, test := range []struct {
		name  string
		body  func(n int) domain.Body
		bytes int64 // that the file grows by for each, at most
		tags  int   // that stand at the end
	}{
		{"tag-outs for one reason", func(int) domain.Body { return said("knives look loose") }, 40, 1},
		{"tag-outs for a reason of their own", func(n int) domain.Body { return said(fmt.Sprint("reason ", n)) },
			120, 20},
		{"dangers in the same words", func(int) domain.Body { return danger("by the motor") }, 40, 1},
		{"dangers in words of their own", func(n int) domain.Body { return danger(fmt.Sprint("words ", n)) }, 120, 1},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			const reports = 1000
			path := filepath.Join(t.TempDir(), "shop.db")
			copyPrepared(t, path)
			before := fileSize(t, path)
			db, err := store.Open(ctx, path)
			if err != nil {
				t.Fatal(err)
			}
			shop := db.Shop("one")
			var last domain.Outcome
			for count := range reports {
				last = report(t, shop, entry(fmt.Sprint("k", count), time.Minute+time.Duration(count)*time.Second,
					marble,
					test.body(count)))
				if !last.After.TaggedOut() {
					t.Fatal("the machine is not out of service")
				}
				if count%10 == 0 {
					post(t, db, start.Add(time.Hour))
				}
			}
			post(t, db, start.Add(time.Hour))
			if got := len(last.After.Tags); got != test.tags {
				t.Errorf("%d tags stand, want %d", got, test.tags)
			}
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
			for _, row := range dump(t, path)["outbox"] {
				if strings.Contains(row, `"v":`) {
					t.Errorf("a posted notice keeps what it was worded from: %s", row)
				}
			}
			grown := fileSize(t, path) - before
			t.Logf("%d bytes each", grown/reports)
			if grown > test.bytes*reports {
				t.Errorf("the file grew by %d bytes, %d each; at most %d each", grown, grown/reports, test.bytes)
			}
		})
	}
}

// One person's reports are taken up to a number in a minute, and one in a day; then all
// but what stops a machine is refused, whoever it is said of, and nobody else's.
func TestFairLimit(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	set := func(n int, at time.Duration) domain.Entry {
		e := entry(fmt.Sprint("h", n), at, 0, domain.GaugeSet{Gauge: domain.OwnGauge{Kind: "dial"}})
		e.By, e.For = "bo", domain.PersonID(fmt.Sprint("p", n%3))
		return e
	}
	at, count := time.Hour, 0
	take := func(many int) {
		t.Helper()
		var all []domain.Entry
		for range many {
			count++
			all = append(all, set(count, at))
		}
		if _, err := shop.ReportAll(ctx, all, false); err != nil {
			t.Fatalf("%d reports at %s: %v", count, at, err)
		}
	}
	refuse := func() {
		t.Helper()
		refused(t, shop, set(-1, at), domain.TooMany)
	}
	// As many as may be in a minute, from its first moment until just before its end.
	take(domain.MostInMinute)
	refuse()
	at += time.Minute - time.Millisecond
	refuse()
	if again := report(t, shop, set(7, at)); !again.Repeated {
		t.Error("a report that was taken is not answered again")
	}
	at += time.Millisecond
	for count < domain.MostInDay {
		take(domain.MostInMinute)
		at += time.Minute
	}
	refuse()
	other := set(-2, at)
	other.By = "chidi"
	report(t, shop, other)
	// What stops a machine is taken, and what may be dangerous once.
	by := func(key string, b domain.Body) domain.Entry {
		e := entry(key, at, planer, b)
		e.By, e.For = "bo", "bo"
		return e
	}
	doubt := domain.Problem{Name: "smells odd", Doubt: true}
	report(t, shop, by("doubt", doubt))
	refused(t, shop, by("doubt again", doubt), domain.TooMany)
	refused(t, shop, by("no danger", domain.Problem{Symptom: "snipe", Name: "snipe"}), domain.TooMany)
	if o := report(t, shop, by("failed", domain.Inspection{Check: "guards"})); len(o.Hung) != 1 {
		t.Errorf("a failed inspection hung %d tags", len(o.Hung))
	}
	report(t, shop, by("danger", domain.Problem{Symptom: "smoke", Name: "smoke", Danger: true}))
	report(t, shop, by("tag", domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: "smoke"}}))
	// A day after the first of them there is room for as many again.
	at = 25*time.Hour - time.Millisecond
	refuse()
	at += time.Millisecond
	take(domain.MostInMinute - 4)
}

// However many forms a person opens, only some of them wait; the newest do. What was
// used keeps nothing, is told of for some days, and goes when others come.
func TestWhatWaitsIsBounded(t *testing.T) {
	t.Parallel()
	db, path := fresh(t)
	shop := db.Shop("one")
	keep := func(id string, by domain.PersonID, at time.Duration) {
		t.Helper()
		if err := shop.Keep(ctx, domain.Pending{ID: id, Action: "values", Args: []byte(`{"name":"reading"}`), Asked: by,
			Made: start.Add(at), Expires: start.Add(at + 30*24*time.Hour)}); err != nil {
			t.Fatal(err)
		}
	}
	waits := func(id string, at time.Duration, want domain.Code) {
		t.Helper()
		_, err := shop.Pending(ctx, id, start.Add(at))
		var refusal *domain.Refusal
		if want == "" && err != nil || want != "" && (!errors.As(err, &refusal) || refusal.Code != want) {
			t.Errorf("%s: %v, want %q", id, err, want)
		}
	}
	keep("bo's", "bo", 0)
	keep("used", "ada", 0)
	if err := shop.Use(ctx, "used", "i7", start.Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	for n := range 700 {
		keep(fmt.Sprintf("form %03d", n), "ada", time.Hour+time.Duration(n)*time.Second)
	}
	waits("bo's", 2*time.Hour, "")
	waits("form 199", 2*time.Hour, domain.PendingGone)
	waits("form 200", 2*time.Hour, "")
	waits("form 699", 2*time.Hour, "")
	waits("used", 7*24*time.Hour, domain.PendingUsed)
	keep("later", "bo", 31*24*time.Hour)
	if rows := dump(t, path)["pending"]; len(rows) != 1 {
		t.Errorf("%d wait after a month, want the last alone: %q", len(rows), rows)
	}
}

// post confirms everything that is owed.
func post(t tester, db *store.DB, now time.Time) {
	t.Helper()
	for {
		owed, err := undelivered(db, now, 100)
		if err != nil {
			t.Fatal(err)
		}
		if len(owed) == 0 {
			return
		}
		for _, o := range owed {
			if err := db.Posted(ctx, o.Shop, o.ID, fmt.Sprint("message ", o.ID), now); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// fileSize is how large a closed file is.
func fileSize(t tester, path string) int64 {
	t.Helper()
	about, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	return about.Size()
}
