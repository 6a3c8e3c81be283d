package store_test

import (
	"database/sql"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/store"
)

// everything asks the store whatever it can be asked, so that all its queries are
// prepared.
func everything(t *testing.T, db *store.DB, shop domain.ShopID) {
	t.Helper()
	books := db.Shop(shop)
	planer := addPlaner(t, books, "Marble")
	at := time.Hour
	tell := func(b domain.Body) domain.FactNo {
		t.Helper()
		at += time.Hour
		return report(t, books, entry(fmt.Sprint("everything ", at), at, planer, b)).Fact.No
	}
	profile := snapshot(t, books, planer).Machine.Profile
	for i := range profile.Services {
		tell(domain.ServiceDone{Service: profile.Services[i].ID})
		tell(domain.Hours{Seconds: 60})
	}
	tell(domain.CounterRead{Seconds: 36000})
	tell(domain.Hours{Seconds: 60})
	tell(domain.CounterRead{Seconds: 72000})
	tell(domain.EventSeen{Event: "belts-changed"})
	tell(domain.Problem{Symptom: "snipe", Name: "snipe"})
	tell(domain.Found{Key: "snipe", About: domain.QuestionItem.Of("both-ends"), Answer: domain.AnswerYes})
	mended := tell(domain.Mended{Key: "snipe", Name: "snipe"})
	tell(domain.Problem{Symptom: "snipe", Name: "snipe"})
	tell(domain.Withdrawal{Of: mended})
	read := snapshot(t, books, planer).Latest["infeed"].Fact
	tell(domain.Move{Check: "infeed", Reading: read})
	tell(domain.PutOff{Service: profile.Services[0].ID, Until: start.AddDate(0, 1, 0), Why: "no oil"})
	tell(domain.Taken{Service: profile.Services[0].ID})
	tell(domain.Handover{Apart: "nothing", Next: "read it"})
	tagged := tell(domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: "loose"}})
	tell(domain.Withdrawal{Of: tagged})
	now := start.Add(at)
	at += time.Hour
	report(t, books, entry("stock", at, 0, domain.StockCounted{Name: "oil", Left: 2}))
	report(t, books, entry("settings", at, 0, domain.ShopSet{Shop: domain.NewShop(shop)}))
	ask := func(_ any, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	ask(books.Machines(ctx))
	ask(books.Gauges(ctx))
	ask(books.Shelf(ctx))
	_, _, err := books.Visits(ctx)
	ask(nil, err)
	ask(books.Settled(ctx, planer, "snipe"))
	ask(books.Runs(ctx, planer, start, now))
	ask(books.Sessions(ctx, start, now))
	_, _, err = books.Readings(ctx, planer, "infeed", start)
	ask(nil, err)
	ask(books.LastBy(ctx, "ada"))
	ask(books.Logbook(ctx, planer, 0, 10))
	ask(books.Study(ctx, 3))
	ask(books.Recent(ctx, "ada", 5))
	ask(nil, books.Keep(ctx, domain.Pending{ID: "p", Action: "a", Made: now, Expires: now.Add(time.Hour)}))
	ask(books.Pending(ctx, "p", now))
	ask(nil, books.Use(ctx, "p", "k", now))
	ask(nil, books.NoteSteward(ctx, "wren", "stewards", now))
	ask(books.Stewards(ctx, "stewards"))
	ask(nil, books.NoteTold(ctx, "wren", "pins", now))
	ask(books.Told(ctx, "wren"))
	ask(nil, books.NoteTold(ctx, "wren", "", now))
	ask(nil, db.KeepUnseen(ctx, domain.Unseen{Shop: shop, Person: "ada", Said: "logged", At: now}))
	ask(db.Unseen(ctx, now))
	ask(nil, db.NoteTrouble(ctx, shop, []byte(`{}`)))
	ask(db.Troubles(ctx))
	ask(nil, db.NoteTrouble(ctx, shop, nil))
	ask(db.Untold(ctx))
	ask(nil, books.NoteSteward(ctx, "wren", "", now))
	ask(db.Due(ctx, now.AddDate(1, 0, 0), 10))
	ask(db.Settle(ctx, shop, planer, now))
	ask(db.DueDigests(ctx, now.AddDate(1, 0, 0)))
	ask(nil, db.SettleDigest(ctx, shop, now.AddDate(0, 0, 2)))
	_, _, err = db.NextWake(ctx)
	ask(nil, err)
	_, _, err = db.NextTry(ctx, now)
	ask(nil, err)
	ask(db.Owing(ctx, ""))
	ask(db.ShopsUndelivered(ctx, now.AddDate(1, 0, 0)))
	owed, err := db.Undelivered(ctx, shop, now.AddDate(1, 0, 0), 50)
	if err != nil || len(owed) < 2 {
		t.Fatalf("%d notices owed, %v", len(owed), err)
	}
	ask(nil, db.Sending(ctx, owed[0], now))
	ask(nil, db.Tried(ctx, owed[0], now, now.Add(time.Minute), "no", true))
	ask(nil, db.Posted(ctx, shop, owed[1].ID, "message", now))
	ask(nil, db.RetryNotices(ctx, shop))
	ask(db.PhotosWanted(ctx, 10))
	_, _, err = db.Photo(ctx, shop, "key")
	ask(nil, err)
	ask(nil, db.KeepPhoto(ctx, shop, "key", []byte("picture")))
	ask(nil, db.KeepPhoto(ctx, shop, "key", nil))
}

// No query reads a whole table that grows with what is reported: each finds its rows
// by an index, or reads an index of only what is still to be done.
func TestNoQueryReadsATableThatGrows(t *testing.T) {
	t.Parallel()
	db, path := fresh(t)
	everything(t, db, "one")
	queries := db.Queries()
	if len(queries) < 60 {
		t.Fatalf("only %d queries", len(queries))
	}
	look, err := sql.Open("sqlite3", "file:"+path+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer look.Close()
	// Indexes of what is still to be done or stands now, which history does not fill.
	small := []string{"outbox_tried", "told_at", "unseen_at",
		"photo_wanted", "outbox_machine", "outbox_owed", "outbox_again", "machine_wake", "digest_next",
		"machine_name"}
	// Tables of which a shop has few rows, and the greatest number, which an index ends with.
	few := []string{"max(no)", "FROM shop ", "FROM gauge ", "FROM machine ", "UPDATE machine ", "FROM digest ",
		"FROM steward ", "FROM trouble "}
	// What is read once, when the program begins, of tables whose rows of a shop have an end.
	begin := []string{"FROM trouble ORDER BY", "FROM unseen WHERE at >"}
	sums := 0
	for _, query := range queries {
		if slices.Contains([]string{"BEGIN", "BEGIN IMMEDIATE", "COMMIT", "ROLLBACK"}, query) {
			continue
		}
		for _, step := range querySteps(t, look, query) {
			bounded := slices.ContainsFunc(small,
				func(index string) bool { return strings.Contains(step, "INDEX "+index) })
			if strings.HasPrefix(step, "SCAN") && !bounded && !slices.ContainsFunc(begin,
				func(table string) bool { return strings.Contains(query, table) }) && step != "SCAN CONSTANT ROW" &&
				!strings.HasPrefix(step, "SCAN (") && !strings.HasPrefix(step, "SCAN asked VIRTUAL TABLE") {
				t.Errorf("%s\nreads it all: %s", query, step)
			}
			// A shop's whole share of a table grows as well.
			if strings.HasSuffix(step, "(shop_id=?)") && !bounded &&
				!slices.ContainsFunc(few, func(table string) bool { return strings.Contains(query, table) }) {
				t.Errorf("%s\nreads all of the shop's: %s", query, step)
			}
			// So does a machine's share of all facts, unless only the last are listed.
			if strings.HasSuffix(step, "INDEX fact_machine (shop_id=? AND machine_id=?)") &&
				!strings.Contains(query, "LIMIT") {
				t.Errorf("%s\nreads all of the machine's: %s", query, step)
			}
			// And a machine's share of one kind of fact: only what is kept of it is listed, of
			// each check that was moved or each thing on the shelf.
			if strings.HasSuffix(step, "machine_id=? AND kind=?)") && !strings.Contains(query, "DISTINCT subject") &&
				!strings.Contains(query, "kind = 'stock'") {
				t.Errorf("%s\nreads all of the machine's of one kind: %s", query, step)
			}
			if strings.Contains(step, "CORRELATED") && strings.Contains(query, "sum(") {
				t.Errorf("%s\nsums again for each row: %s", query, step)
			}
			// Use is summed over years: a row looked up for each report would cost more than
			// all the rest.
			if strings.Contains(query, "sum(seconds)") && strings.Contains(step, "fact_subject") {
				sums++
				if !strings.Contains(step, "COVERING INDEX") {
					t.Errorf("%s\nreads more than the index: %s", query, step)
				}
			}
		}
	}
	if sums < 3 {
		t.Errorf("only %d queries sum use by the index", sums)
	}
}

// querySteps is SQLite's plan of a query, a line each.
func querySteps(t *testing.T, look *sql.DB, query string) (steps []string) {
	t.Helper()
	args := make([]any, strings.Count(query, "?"))
	rows, err := look.Query("EXPLAIN QUERY PLAN "+query, args...)
	if err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	defer rows.Close()
	for rows.Next() {
		var id, parent, unused int
		var step string
		if err := rows.Scan(&id, &parent, &unused, &step); err != nil {
			t.Fatal(err)
		}
		steps = append(steps, step)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return steps
}
