package rehearse

import (
	"bytes"
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"setscrew/cmd/setscrew/rehearse/demo"
	"setscrew/domain"
	"setscrew/store"
)

// demoShop is the demo shop in new books, and what plays a line there; wren speaks.
func demoShop(t testing.TB, db *store.DB) (*rehearsal, func(string)) {
	t.Helper()
	rehearsal, err := newRehearsal(Config{Out: new(bytes.Buffer)}, db)
	if err != nil {
		t.Fatal(err)
	}
	run := func(line string) {
		t.Helper()
		if err := rehearsal.line(context.Background(), line); err != nil {
			t.Fatal(err)
		}
	}
	for _, l := range strings.Split(demo.Script, "\n") {
		run(l)
	}
	run("as wren")
	return rehearsal, run
}

// liveYear lets a year pass in the demo shop, and says how many reports it made.
func liveYear(t testing.TB, db *store.DB, rehearsal *rehearsal, run func(string)) (reports int) {
	t.Helper()
	for day := range 365 {
		run("clock +1d")
		if day%7 < 5 {
			run("/hours machine:Marble hours:2")
			reports++
		}
		if day%7 == 6 {
			for _, c := range []string{"fingers", "guards", "emergency-stop"} {
				run("/reading machine:Marble check:" + c + " values:pass")
				reports++
			}
			st := statusOf(t, db, rehearsal)
			for _, s := range st.Services {
				if s.Due.State != 0 {
					run("/service machine:Marble service:" + s.Service.ID)
					reports++
				}
			}
		}
	}
	return reports
}

// A year of the demo shop is the same after it was exported and imported, to the last byte.
func TestYearIsExported(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "shop.db")
	db, err := store.Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	rehearsal, run := demoShop(t, db)
	reports := liveYear(t, db, rehearsal, run)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	export := func(path string) string {
		t.Helper()
		var out bytes.Buffer
		if _, err := store.Export(ctx, path, "", &out); err != nil {
			t.Fatal(err)
		}
		return out.String()
	}
	began := time.Now()
	first := export(path)
	took := time.Since(began)
	into := filepath.Join(t.TempDir(), "new.db")
	began = time.Now()
	done, err := store.Import(ctx, strings.NewReader(first), into, "", rehearsal.state.Now)
	if err != nil || done.Facts < reports {
		t.Fatalf("%+v, %v", done, err)
	}
	t.Logf("%d reports, %d lines, %d kB: exported in %v, imported in %v", done.Facts, done.Lines, len(first)>>10,
		took, time.Since(began))
	if again := export(into); again != first {
		t.Error("exported again it differs")
	}
}

// BenchmarkYear steps a year of the demo shop: hours on most days, its weekly
// inspections, each service when it falls due, every wake and every digest. Beside
// it stand as many bare durable commits as the year made reports, in the same run.
func BenchmarkYear(b *testing.B) {
	ctx := context.Background()
	var year, floor time.Duration
	reports := 0
	for b.Loop() {
		db, err := store.Open(ctx, filepath.Join(b.TempDir(), "shop.db"))
		if err != nil {
			b.Fatal(err)
		}
		rehearsal, run := demoShop(b, db)
		began := time.Now()
		reports += liveYear(b, db, rehearsal, run)
		year += time.Since(began)
		began = time.Now()
		for i := range reports {
			if err := db.Shop("floor").Keep(ctx, domain.Pending{ID: fmt.Sprint(i)}); err != nil {
				b.Fatal(err)
			}
		}
		floor += time.Since(began)
		if err := db.Close(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(year.Seconds()/float64(b.N), "s/year")
	b.ReportMetric(year.Seconds()/floor.Seconds(), "year/floor")
	b.ReportMetric(float64(reports)/float64(b.N), "reports")
	b.ReportMetric(0, "ns/op")
}

// statusOf is the status of the rehearsal's only machine.
func statusOf(b testing.TB, db *store.DB, rehearsal *rehearsal) domain.Status {
	b.Helper()
	snap, err := db.Shop(rehearsal.state.Shop).Snapshot(context.Background(), 1)
	if err != nil {
		b.Fatal(err)
	}
	return domain.Assess(snap, rehearsal.state.Now)
}
