package store_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/store"
)

// A file that was closed refuses every call at once, rather than keeping it waiting, and
// may be closed again.
func TestAClosedFileRefuses(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db, err := store.Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	shop := db.Shop("one")
	for range 2 {
		if err := db.Close(); err != nil {
			t.Fatalf("close it: %v", err)
		}
	}
	soon, stop := context.WithTimeout(ctx, 20*time.Second)
	defer stop()
	for name, call := range map[string]func() error{
		"a report": func() error {
			_, err := shop.Report(soon, entry("k", time.Hour, marble, domain.Hours{Seconds: 60}))
			return err
		},
		"a snapshot":    func() error { _, err := shop.Snapshot(soon, marble); return err },
		"a single look": func() error { _, err := shop.Gauges(soon); return err },
		"a rebuild":     func() error { return shop.Rebuild(soon) },
		"a wake":        func() error { _, _, err := db.NextWake(soon); return err },
	} { // any order: each is looked at by itself
		if err := call(); !errors.Is(err, store.ErrClosed) {
			t.Errorf("%s: %v, want ErrClosed", name, err)
		}
	}
}

// What is no file of Setscrew's, or cannot be one, is not opened, and the error names it.
func TestWhatIsNoFileIsNotOpened(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	half, err := prepared()
	if err != nil {
		t.Fatal(err)
	}
	ended, end := context.WithCancel(ctx)
	end()
	for name, test := range map[string]struct {
		ctx  context.Context
		path string
	}{
		"a text":                 {ctx, write("text.db", strings.Repeat("hours of the planer\n", 400))},
		"a file cut short":       {ctx, write("half.db", string(half[:len(half)/3]))},
		"a directory":            {ctx, dir},
		"a directory not there":  {ctx, filepath.Join(dir, "none", "shop.db")},
		"a context that is over": {ended, filepath.Join(dir, "ended.db")},
	} { // any order: each is looked at by itself
		db, err := store.Open(test.ctx, test.path)
		if err == nil {
			t.Errorf("%s is opened: %v", name, db.Close())
		} else if !strings.HasPrefix(err.Error(), "store: "+filepath.Base(test.path)+": ") {
			t.Errorf("%s: %v does not name it", name, err)
		}
	}
}

// damage runs SQL on a file past the store.
func damage(t *testing.T, path, query string) {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+path+"?_busy_timeout=5000")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(query); err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

// wornShop is a shop with a planer of which something of everything is known: a test, a
// tag, a danger, a problem, a counter and a gauge.
func wornShop(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db, err := store.Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	shop := db.Shop("one")
	at := time.Hour
	tell := func(m domain.MachineID, b domain.Body) domain.FactNo {
		t.Helper()
		at += time.Hour
		e := entry(fmt.Sprint("worn ", at), at, m, b)
		e.Sure = true
		return report(t, shop, e).Fact.No
	}
	tell(0, domain.ShopSet{Shop: domain.NewShop("one")})
	tell(0, domain.GaugeSet{Gauge: domain.OwnGauge{GaugeUsed: domain.GaugeUsed{Name: "dial",
		Gauge: metrology.Gauge{Coverage: 2}}}})
	tell(0, domain.StockCounted{Name: "a matched set of belts", Left: 3})
	tell(marble, domain.CounterRead{Seconds: 3600})
	tell(marble, domain.CounterRead{Seconds: 9 * 3600})
	tell(marble, domain.ServiceDone{Service: "gearbox-oil"})
	tell(marble, domain.EventSeen{Event: "belts-changed", Surfaces: []string{"belts"}})
	tell(marble, domain.Problem{Symptom: "snipe", Name: "snipe"})
	tell(marble, domain.Problem{Symptom: "snipe", Name: "snipe"})
	tell(marble, domain.Problem{Symptom: "marks", Name: "marks"})
	withdrawn := tell(marble, domain.Hours{Seconds: 60})
	tell(marble, domain.Withdrawal{Of: withdrawn})
	waits := infeed(t, shop, marble, 400)
	waits.Unconfirmed = true
	tell(marble, waits)
	needs := snapshot(t, shop, marble).Machine.Setup
	second := domain.MachineAdded{Name: "Slate", Setup: needs}
	o := report(t, shop, entry("second", at, 0, second))
	needs.Needs, needs.Rev = []domain.MachineID{o.Fact.Machine}, needs.Rev+1
	tell(marble, domain.SetupChanged{Setup: needs})
	tell(marble, domain.Problem{Symptom: "smoke", Name: "smoke", Danger: true})
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// A row that cannot be read is an error that says which, wherever it is needed, and a
// report that needs it changes nothing; what does not need it goes on.
func TestDamagedRowsAreNamed(t *testing.T) {
	t.Parallel()
	look := func(s *store.Shop) error { _, err := s.Snapshot(ctx, marble); return err }
	for _, test := range []struct {
		name, query string
		call        func(*store.Shop) error
		want        string
	}{
		{"settings", `UPDATE shop SET settings = '{'`, look, "settings: "},
		{"set-up", `UPDATE machine SET setup = '{' WHERE machine_id = 1`, look, "set-up of Marble: "},
		{"the text of its profile is gone", `DELETE FROM profile_text`, look, "no profile text "},
		{"the text of its profile", `UPDATE profile_text SET text = 'format: none'`, look, "load profile "},
		{"own values of nothing", `UPDATE machine SET setup = json_set(setup, '$.intervals',
			json('{"service:none": {"months": 3}}')) WHERE machine_id = 1`, look, "put the own values of Marble into "},
		{"gauge", `UPDATE gauge SET gauge = '['`, look, "gauge: "},
		{"the reason of a tag", `UPDATE tag SET reason = '['`, look, "the reason of the tag of no. "},
		{"a fact of an unknown kind", `UPDATE fact SET kind = 'dance' WHERE kind = 'event'`,
			func(s *store.Shop) error { _, err := s.Logbook(ctx, marble, 0, 100); return err }, "unknown kind of fact"},
		{"the last reading", `UPDATE fact SET body = '{' WHERE kind = 'reading' AND subject = 'infeed'`, look,
			"store: read no. "},
		{"a reading, at its listing", `UPDATE fact SET body = '{' WHERE kind = 'reading' AND subject = 'infeed'`,
			func(s *store.Shop) error {
				_, _, err := s.Readings(ctx, marble, "infeed", time.Time{})
				return err
			}, "store: read no. "},
		{"a count of the shelf", `UPDATE fact SET body = '{' WHERE kind = 'stock'`,
			func(s *store.Shop) error { _, err := s.Shelf(ctx); return err }, "store: read no. "},
		{"the counter", `UPDATE fact SET body = '{' WHERE kind = 'counter'`, look, "store: read no. "},
		{"a counter that is none", `UPDATE done_last SET fact_no = (SELECT no FROM fact WHERE kind = 'event')
			WHERE work = 'counter:'`, look, "read the last fact of kind counter: "},
		{"a danger that is none", `UPDATE problem SET fact_no = 2 WHERE danger = 1`, look, "no. 2 is no problem"},
		{"marks that are none", `UPDATE problem SET fact_no = 2 WHERE key = 'marks'`, look, "no. 2 is no problem"},
		{"a danger", `UPDATE fact SET body = '{' WHERE body LIKE '%smoke%'`, look, "store: read no. "},
		{"what waits", `UPDATE fact SET body = '{' WHERE believed = 0`, look, "store: read no. "},
		{"a fact, deriving again", `UPDATE fact SET body = '[]' WHERE kind = 'event'`,
			func(s *store.Shop) error { return s.Rebuild(ctx) }, "store: read no. "},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			path := wornShop(t)
			damage(t, path, test.query)
			db := open(t, path)
			shop := db.Shop("one")
			before := dump(t, path)
			if err := test.call(shop); err == nil || !strings.Contains(err.Error(), test.want) {
				t.Errorf("%v, want %q in it", err, test.want)
			}
			_, err := shop.Report(ctx, entry("afterwards", 100*time.Hour, marble, domain.ServiceDone{Service: "wax"}))
			var refusal *domain.Refusal
			if errors.As(err, &refusal) {
				t.Errorf("a report is refused: %v", err)
			}
			if d := cmp.Diff(before, dump(t, path)); err != nil && d != "" {
				t.Errorf("a report that failed, %v, stored:\n%s", err, d)
			}
			// Another shop's books in the same file go on.
			other := addPlanerIn(t, db, "two")
			if got := snapshot(t, db.Shop("two"), other).Machine.Name; got != "Marble" {
				t.Errorf("another shop's machine is %q", got)
			}
		})
	}
}

// addPlanerIn adds a planer to another shop of a file, under its own text.
func addPlanerIn(t *testing.T, db *store.DB, shop domain.ShopID) domain.MachineID {
	t.Helper()
	return addPlaner(t, db.Shop(shop), "Marble")
}

// What is derived is made again from the facts alone, whatever became of it.
func TestRebuildMendsWhatIsDerived(t *testing.T) {
	t.Parallel()
	whole := wornShop(t)
	text, err := os.ReadFile(whole)
	if err != nil {
		t.Fatal(err)
	}
	want := dump(t, whole)
	for _, query := range []string{
		`DELETE FROM done_last`,
		`INSERT INTO done_last VALUES ('one', 1, 'service:none', 2, 0, 60)`,
		`UPDATE done_last SET seconds = seconds + 1, at = at + 1, fact_no = fact_no + 1`,
		`DELETE FROM moved`, `INSERT INTO moved VALUES ('one', 1, 'infeed', 5, 2)`,
		`DELETE FROM tag`, `UPDATE tag SET lifted_by = 3, withdrawn = 1, paper = 'x'`,
		`INSERT INTO tag VALUES ('one', 2, 1, 'x', 2, '{}', '', 0, 0, 0, '', 0, 0, 0)`,
		`DELETE FROM problem`, `UPDATE problem SET closed_by = 2, key = 'x'`,
		`INSERT INTO problem VALUES ('one', 2, 1, 'x', 1, 0)`,
		`DELETE FROM shop`, `UPDATE shop SET settings = '{'`,
		`DELETE FROM gauge`, `INSERT INTO gauge VALUES ('one', 'x', '{}')`,
		`DELETE FROM need`, `INSERT INTO need VALUES ('one', 1, 7)`,
		`DELETE FROM took`, `INSERT INTO took VALUES ('one', 'a matched set of belts', 0, 2, 1)`,
		`UPDATE machine SET seconds = 7, outage = 7, test = 2`,
		`UPDATE fact SET seconds = 7 WHERE kind = 'counter'`,
		`UPDATE fact SET withdrawn = 0`, `UPDATE fact SET withdrawn = 3`,
		`UPDATE fact SET believed = 0 WHERE kind <> 'reading'`, `UPDATE fact SET believed = 0`,
		`UPDATE fact SET believed = 1`,
	} {
		t.Run(query, func(t *testing.T) {
			t.Parallel()
			path := filepath.Join(t.TempDir(), "shop.db")
			if err := os.WriteFile(path, text, 0o600); err != nil {
				t.Fatal(err)
			}
			damage(t, path, query)
			if cmp.Equal(want, dump(t, path)) {
				t.Fatal("that damages nothing")
			}
			db := open(t, path)
			damage(t, path, `INSERT INTO gauge VALUES ('two', 'x', '{}')`)
			if err := db.Shop("one").Rebuild(ctx); err != nil {
				t.Fatal(err)
			}
			got := dump(t, path)
			if gauges := got["gauge"]; len(gauges) != 2 {
				t.Errorf("another shop's gauge is gone: %v", gauges)
			}
			damage(t, path, `DELETE FROM gauge WHERE shop_id = 'two'`)
			if d := cmp.Diff(want, dump(t, path)); d != "" {
				t.Errorf("not as it was (-was +is):\n%s", d)
			}
		})
	}
}
