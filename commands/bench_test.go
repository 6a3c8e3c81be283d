package commands_test

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/store"
)

// BenchmarkHours times one report of hours, from the request to its reply, with
// a real store.
func BenchmarkHours(b *testing.B) {
	db, err := store.Open(context.Background(), filepath.Join(b.TempDir(), "shop.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	cat, err := words.Load()
	if err != nil {
		b.Fatal(err)
	}
	desk := commands.NewDesk(func(id domain.ShopID) commands.Books { return db.Shop(id) }, db, cat)
	count := 0
	run := func(who, name string, options map[string]string) {
		count++
		r := desk.Run(context.Background(),
			commands.Request{ID: fmt.Sprint(count), Shop: "one", Actor: actor(who), Name: name, Options: options,
				Now: start.Add(time.Duration(count) * time.Second)})
		if r.Refused {
			b.Fatal(r.Headline)
		}
	}
	run("owner", "shop add", map[string]string{"name": "Marble", "kind": "thickness-planer", "state": "in-use"})
	for _, id := range []string{"guards", "cord", "knives", "fingers", "loose", "stops"} {
		if r := desk.Press(context.Background(), commands.Press{ID: "tick " + id, Shop: "one", Actor: actor("owner"),
			Custom: "s1:tick:1." + id, Now: start}); r.Refused {
			b.Fatal(r.Headline)
		}
	}
	for b.Loop() {
		run(fmt.Sprint("member ", count%100), "hours",
			map[string]string{"machine": "Marble", "hours": "1 min", "sure": "yes"})
	}
}

// many adds a number of machines, in shops of twenty, each with twenty services that
// fall due by use and by the calendar: the first of them thirty days after it
// comes. Ten of them come a day after the others.
func many(b *testing.B, db *store.DB, machines int) {
	b.Helper()
	ctx := context.Background()
	var text strings.Builder
	text.WriteString(`setscrew-profile: 1
kind: bench
name: bench
about: Twenty services.
revision: 1
gauges: [{id: dial, name: dial, resolution: 0.01 mm, error: 0.02 mm, source: "invented, for the benchmark"}]
checks:
  - {id: gap, name: gap, class: quality, measured: "by the dial, positive up.", target: 1 mm,
    adjust: 0.9 mm to 1.1 mm, gauge: dial, entry: {metric: mm, inch: mm}, decimals: {metric: 2, inch: 2},
    source: "invented, for the benchmark"}
services:
`)
	for i := range 20 {
		fmt.Fprintf(&text, "  - {id: s%d, name: service %d, class: routine, every: {days: %d, hours: %d h}, steps: "+
			"[do it], source: \"invented, for the benchmark\"}\n", i, i, 30+7*i, 10+i)
	}
	text.WriteString("cautions: [{id: care, text: take care}]\nisolation: {before: [off], after: [on], source: " +
		"none}\nreturn: [guards on]\n")
	for count := 0; count < machines; {
		books := db.Shop(domain.ShopID(fmt.Sprint("shop", count/20)))
		hash, err := books.KeepProfile(ctx, "bench", []byte(text.String()))
		if err != nil {
			b.Fatal(err)
		}
		var all []domain.Entry
		for range min(20, machines-count) {
			at := start
			if count < 10 {
				at = at.AddDate(0, 0, 1)
			}
			all = append(all, domain.Entry{Key: fmt.Sprint("add", count), At: at, Recorded: at, By: "", For: "x",
				Body: domain.MachineAdded{Name: fmt.Sprint("m", count),
					Setup: domain.Setup{Kind: "bench", Hash: hash, Rev: 1}}})
			count++
		}
		if _, err := books.ReportAll(ctx, all, false); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkSweep times sweeps over machines with twenty services each, in shops of
// twenty. Cold: nothing is remembered, something has fallen due on nearly all, and
// every shop's digest must be made. Afterwards: ten have something that falls due,
// however many there are. Each stands beside as many bare durable commits, made in
// the same run.
func BenchmarkSweep(b *testing.B) {
	ctx := context.Background()
	for _, machines := range []int{100, 1_000, 10_000} {
		b.Run(fmt.Sprint(machines), func(b *testing.B) {
			var cold, warm, floor float64
			count := 0
			for b.Loop() {
				count++
				path := filepath.Join(b.TempDir(), "shop.db")
				db, err := store.Open(ctx, path)
				if err != nil {
					b.Fatal(err)
				}
				many(b, db, machines)
				if err := db.Close(); err != nil {
					b.Fatal(err)
				}
				if db, err = store.Open(ctx, path); err != nil {
					b.Fatal(err)
				}
				cat, err := words.Load()
				if err != nil {
					b.Fatal(err)
				}
				desk := commands.NewDesk(func(id domain.ShopID) commands.Books { return db.Shop(id) }, db, cat)
				timed := func(f func() error) float64 {
					began := time.Now()
					if err := f(); err != nil {
						b.Fatal(err)
					}
					return time.Since(began).Seconds()
				}
				day := start.AddDate(0, 0, 30)
				cold += timed(func() error { return desk.Sweep(ctx, day.Add(3*time.Hour)) })
				warm += timed(func() error { return desk.Sweep(ctx, day.Add(20*time.Hour)) })
				floor += timed(func() error {
					for i := range 100 {
						p := domain.Pending{ID: fmt.Sprint(i), Made: day, Expires: day}
						if err := db.Shop("floor").Keep(ctx, p); err != nil {
							return err
						}
					}
					return nil
				}) / 100
				if err := db.Close(); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(cold/float64(count)*1000, "ms/cold")
			b.ReportMetric(cold/(floor*float64(machines)), "cold/floor")
			b.ReportMetric(warm/float64(count)*1000, "ms/ten-due")
			b.ReportMetric(warm/(floor*10), "ten-due/floor")
			b.ReportMetric(0, "ns/op")
		})
	}
}

// BenchmarkDue times /due for a shop of forty planers with half a year of use: cold,
// where nothing is remembered, and again. Beside it stands the reading of the forty
// snapshots alone.
func BenchmarkDue(b *testing.B) {
	ctx := context.Background()
	path := filepath.Join(b.TempDir(), "shop.db")
	db, err := store.Open(ctx, path)
	if err != nil {
		b.Fatal(err)
	}
	books := db.Shop("one")
	text, err := profile.BuiltinText("thickness-planer")
	if err != nil {
		b.Fatal(err)
	}
	hash, err := books.KeepProfile(ctx, "thickness-planer", text)
	if err != nil {
		b.Fatal(err)
	}
	const machines = 40
	now := start.AddDate(0, 0, 180)
	for machine := range machines {
		all := []domain.Entry{{Key: fmt.Sprint("add", machine), At: start, Recorded: start, By: "", For: "x",
			Body: domain.MachineAdded{Name: fmt.Sprint("m", machine),
				Setup: domain.Setup{Kind: "thickness-planer", Hash: hash, Rev: 1}}}}
		for d := range 180 {
			if (d+machine)%3 == 0 {
				at := start.AddDate(0, 0, d).Add(10 * time.Hour)
				all = append(all, domain.Entry{Key: fmt.Sprint(machine, "h", d),
					Machine: domain.MachineID(machine + 1), At: at,
					Recorded: at, By: "", For: "x", Sure: true,
					Body: domain.Hours{Seconds: 3600 * int64(1+(d*7+machine)%4)}})
			}
		}
		for _, id := range []string{"bushings", "belts-again", "gearbox-oil", "columns", "lead-screws", "worm-gear",
			"height-chain", "drive-chain", "dust", "wax"} {
			all = append(all, domain.Entry{Key: fmt.Sprint(machine, id), Machine: domain.MachineID(machine + 1),
				At:       now,
				Recorded: now, By: "", For: "x", Body: domain.ServiceDone{Service: id}})
		}
		if _, err := books.ReportAll(ctx, all, false); err != nil {
			b.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		b.Fatal(err)
	}
	cat, err := words.Load()
	if err != nil {
		b.Fatal(err)
	}
	var cold, warm, floor time.Duration
	for b.Loop() {
		if db, err = store.Open(ctx, path); err != nil {
			b.Fatal(err)
		}
		began := time.Now()
		for m := range machines {
			if _, err := db.Shop("one").Snapshot(ctx, domain.MachineID(m+1)); err != nil {
				b.Fatal(err)
			}
		}
		floor += time.Since(began)
		if err := db.Close(); err != nil {
			b.Fatal(err)
		}
		if db, err = store.Open(ctx, path); err != nil {
			b.Fatal(err)
		}
		desk := commands.NewDesk(func(id domain.ShopID) commands.Books { return db.Shop(id) }, db, cat)
		due := func() time.Duration {
			began := time.Now()
			if r := desk.Run(ctx, commands.Request{ID: "d", Shop: "one", Actor: actor("ada"), Name: "due",
				Options: map[string]string{}, Now: now.Add(time.Hour)}); r.Refused {
				b.Fatal(r.Headline)
			}
			return time.Since(began)
		}
		cold += due()
		warm += due()
		if err := db.Close(); err != nil {
			b.Fatal(err)
		}
	}
	n := float64(b.N)
	b.ReportMetric(cold.Seconds()*1000/n, "ms/cold")
	b.ReportMetric(warm.Seconds()*1000/n, "ms/warm")
	b.ReportMetric(floor.Seconds()*1000/n, "ms/snapshots")
	b.ReportMetric(cold.Seconds()/floor.Seconds(), "cold/floor")
	b.ReportMetric(warm.Seconds()/floor.Seconds(), "warm/floor")
	b.ReportMetric(0, "ns/op")
}
