package store_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/store"
)

// released takes a planer out of service, tests and releases it again.
func released(t tester, shop *store.Shop, planer domain.MachineID, at time.Duration) domain.Outcome {
	t.Helper()
	key := fmt.Sprint(planer, " ", at)
	report(t, shop, entry("tag "+key, at, planer,
		domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: "hums"}}))
	report(t, shop, entry("test "+key, at+time.Minute, planer, answersAll(t, shop, planer)))
	return report(t, shop, entry("released "+key, at+3*time.Minute, planer, domain.Release{}))
}

// ticks makes ticks of a planer.
func ticks(t tester, shop *store.Shop, planer domain.MachineID, at time.Duration, which ...profile.Tick) {
	t.Helper()
	for i, tick := range which {
		report(t, shop, entry(fmt.Sprint("tick ", planer, at, tick.ID), at+time.Duration(i)*time.Second, planer,
			domain.Ticked{Tick: tick.ID, Name: tick.Name, Says: tick.Says}))
	}
}

// A file from before machines were asked how they start: each keeps its state and is told
// of once, but not those that were released; ticks prove it, and nothing is told again.
// What is kept of releases is what facts say.
func TestMachinesFromBefore(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	db := open(t, path)
	shop := db.Shop("one")
	marble, slate, gneiss := addPlaner(t, shop, "Marble"), addPlaner(t, shop, "Slate"), addPlaner(t, shop, "Gneiss")
	at := time.Hour
	for _, planer := range []domain.MachineID{marble, slate, gneiss} {
		report(t, shop, entry(fmt.Sprint("hours ", planer), at, planer, domain.Hours{Seconds: 3600}))
	}
	released(t, shop, slate, 2*time.Hour)
	released(t, shop, gneiss, 2*time.Hour)
	report(t, shop, entry("more hours", 6*time.Hour, slate, domain.Hours{Seconds: 1800}))
	withdrawn := released(t, shop, gneiss, 5*time.Hour).Fact.No
	first := released(t, shop, marble, 7*time.Hour).Fact.No
	report(t, shop, entry("undo", 8*time.Hour, gneiss, domain.Withdrawal{Of: withdrawn}))
	report(t, shop, entry("undo the only one", 8*time.Hour, marble, domain.Withdrawal{Of: first}))
	posts(t, db, start.Add(8*time.Hour))
	before := dump(t, path)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	// As the last schema before had it.
	for _, query := range []string{`DROP TABLE forgot`, `DROP TABLE trouble`, `DROP TABLE told`, `DROP TABLE unseen`,
		`DROP INDEX outbox_tried`, `DROP TABLE forgetting`, `DROP TABLE restored`, `DROP TABLE photo`,
		`DROP INDEX fact_shown`,
		`ALTER TABLE machine DROP COLUMN unasked`,
		`DELETE FROM done_last WHERE work = 'release:'`,
		`DELETE FROM goose_db_version WHERE version_id >= 19`} {
		damage(t, path, query)
	}
	db = open(t, path)
	shop = db.Shop("one")
	now := start.Add(9 * time.Hour)
	for planer, want := range map[domain.MachineID]string{ // any order: each is looked at by itself
		marble: "true true", slate: "false false", gneiss: "false true"} {
		st, err := db.Settle(ctx, "one", planer, now)
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprint(st.Unproved, " ", st.TaggedOut()); got != want || st.SettingUp {
			t.Errorf("machine %d is unproved, tagged out: %s, want %s", planer, got, want)
		}
	}
	if got := posts(t, db, now); !slices.Equal(got, []string{"m1/unproved"}) {
		t.Errorf("told: %q", got)
	}
	// What was worked out by the migration is what facts lead to.
	after := dump(t, path)
	if err := shop.Rebuild(ctx); err != nil {
		t.Fatal(err)
	}
	if d := gocmp.Diff(after, dump(t, path)); d != "" {
		t.Errorf("deriving it again changed it (-before +after):\n%s", d)
	}
	kept := func(all map[string][]string) []string {
		return slices.DeleteFunc(slices.Clone(all["done_last"]), func(row string) bool {
			return !strings.Contains(row, "release:")
		})
	}
	if d := gocmp.Diff(kept(before), kept(after)); d != "" || len(kept(after)) != 2 {
		t.Errorf("of releases is kept %q (-want +got):\n%s", kept(after), d)
	}
	snap, err := shop.Snapshot(ctx, marble)
	if err != nil {
		t.Fatal(err)
	}
	ticks(t, shop, marble, 10*time.Hour, snap.Machine.Profile.Start...)
	st, err := db.Settle(ctx, "one", marble, start.Add(11*time.Hour))
	if err != nil || st.Unproved {
		t.Errorf("ticked, it is unproved: %v, %v", st.Unproved, err)
	}
	if got := posts(t, db, start.Add(11*time.Hour)); len(got) != 0 {
		t.Errorf("told again: %q", got)
	}
}

// Whatever is reported of machines that came as new or in use, in any order: none is in
// service that was neither released nor ticked, and all that is derived is what the facts
// lead to.
func TestStartsAtRandom(t *testing.T) {
	t.Parallel()
	ran := 0
	for seed := range uint64(3) {
		path := filepath.Join(t.TempDir(), fmt.Sprint(seed, ".db"))
		db := open(t, path)
		shop := db.Shop("one")
		text, err := profile.BuiltinText("thickness-planer")
		if err != nil {
			t.Fatal(err)
		}
		hash, err := shop.KeepProfile(ctx, "thickness-planer", text)
		if err != nil {
			t.Fatal(err)
		}
		var all []domain.MachineID
		for i, state := range []domain.StartState{domain.StartNew, domain.StartInUse} {
			outcome := report(t, shop, entry(fmt.Sprint("add ", i), 0, 0,
				domain.MachineAdded{Name: fmt.Sprint("Slate ", i),
					Setup: domain.Setup{Kind: "thickness-planer", Hash: hash, Start: domain.Start{State: state},
						Rev: 1}}))
			if !outcome.After.OnlySettingUp() {
				t.Fatalf("added as %s, its tags are %+v", state, outcome.After.Tags)
			}
			all = append(all, outcome.Fact.Machine)
		}
		ran += play(t, db, all, rand.New(rand.NewPCG(seed, 1)))
		before := dump(t, path)
		if err := shop.Rebuild(ctx); err != nil {
			t.Fatal(err)
		}
		if d := gocmp.Diff(before, dump(t, path)); d != "" {
			t.Fatalf("seed %d: deriving it again changed it (-before +after):\n%s", seed, d)
		}
	}
	if ran < 20 {
		t.Errorf("machines ran after only %d reports", ran)
	}
}

// play reports at random of machines that are being set up, and looks after each; ran is
// how many reports left one in service.
func play(t *testing.T, db *store.DB, all []domain.MachineID, random *rand.Rand) (ran int) {
	t.Helper()
	shop := db.Shop("one")
	for count := 1; count <= 200; count++ {
		at := time.Duration(count) * time.Minute
		planer := all[random.IntN(len(all))]
		snap, err := shop.Snapshot(ctx, planer)
		if err != nil {
			t.Fatal(err)
		}
		prof := snap.Machine.Profile
		st := domain.Assess(snap, start.Add(at))
		var body domain.Body
		step := random.IntN(14)
		if (step == 4 || step == 7) && random.IntN(4) > 0 {
			step = 6 // less of what takes it out of service
		}
		switch step {
		case 0, 1, 2:
			tick := prof.Start[random.IntN(len(prof.Start))]
			body = domain.Ticked{Tick: tick.ID, Name: tick.Name}
		case 3:
			body = domain.Hours{Seconds: 60}
		case 4:
			body = domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: fmt.Sprint(count)}}
		case 5, 10:
			body = answersAll(t, shop, planer)
		case 6:
			body = domain.Release{Owner: domain.OwnerAsked, Note: "seen to"}
		case 7:
			body = domain.SetupChanged{Item: domain.Item{Kind: domain.StartItem},
				Setup: snap.Machine.Setup.WithStart([]domain.StartState{domain.StartNew, domain.StartInUse,
					""}[random.IntN(3)], start.Add(at))}
		case 8, 9:
			facts, err := shop.Logbook(ctx, planer, 0, 12)
			if err != nil {
				t.Fatal(err)
			}
			body = domain.Withdrawal{Of: facts[random.IntN(len(facts))].No}
		default: // what a release waits for, more often than anything else
			for i, b := range st.Blockers {
				check := prof.Check(b.ID)
				if check == nil || b.Running && st.Test == nil {
					continue
				}
				var read domain.Body = domain.Inspection{Check: check.ID, Pass: true}
				if !check.Inspection {
					read = reading(check, check.Example)
				}
				report(t, shop, entry(fmt.Sprint("read ", count, i), at, planer, read))
			}
			continue
		}
		e := entry(fmt.Sprint("random ", count), at, planer, body)
		e.Sure = true
		outcome, err := shop.Report(ctx, e)
		var refused *domain.Refusal
		if err != nil && !errors.As(err, &refused) {
			t.Fatal(err)
		}
		if err != nil {
			continue
		}
		if snap, err = shop.Snapshot(ctx, planer); err != nil {
			t.Fatal(err)
		}
		missing := 0
		for _, tick := range snap.Machine.Profile.Start {
			if _, ok := snap.Ticked[tick.ID]; !ok {
				missing++
			}
		}
		began := snap.Machine.Setup.Start
		proved := snap.Released.After(began.At) || began.State == domain.StartInUse && missing == 0
		if began.State == "" || !proved && !outcome.After.TaggedOut() {
			t.Fatalf("after %T: state %q, released %v, %d ticks missing, tags %+v", body, began.State, snap.Released,
				missing, outcome.After.Tags)
		}
		if !outcome.After.TaggedOut() {
			ran++
		}
	}
	return ran
}
