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
		var out bytes.Buffer
		rehearsal, err := newRehearsal(Config{Out: &out}, db)
		if err != nil {
			b.Fatal(err)
		}
		run := func(line string) {
			if err := rehearsal.line(ctx, line); err != nil {
				b.Fatal(err)
			}
		}
		for _, l := range strings.Split(demo.Script, "\n") {
			run(l)
		}
		run("as wren")
		began := time.Now()
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
				st := statusOf(b, db, rehearsal)
				for _, s := range st.Services {
					if s.Due.State != 0 {
						run("/service machine:Marble service:" + s.Service.ID)
						reports++
					}
				}
			}
		}
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
func statusOf(b *testing.B, db *store.DB, rehearsal *rehearsal) domain.Status {
	b.Helper()
	snap, err := db.Shop(rehearsal.state.Shop).Snapshot(context.Background(), 1)
	if err != nil {
		b.Fatal(err)
	}
	return domain.Assess(snap, rehearsal.state.Now)
}
