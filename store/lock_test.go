package store_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/store"
)

// by is an entry of a person now; wren and ishaan are stewards.
func by(who domain.PersonID, key string, after time.Duration, m domain.MachineID, b domain.Body) domain.Entry {
	e := entry(key, after, m, b)
	e.By, e.For, e.Steward = who, who, who == "wren" || who == "ishaan"
	return e
}

var hangsLock = domain.TagOut{Reason: domain.Reason{Code: domain.LockOn, Text: "changing the knives"}}

// Of all that happens at one moment with a lock one thing is taken: two second persons, its
// owner and a second person, a release and a lock that is hung.
func TestLockRaces(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name  string
		begin func(*races, *testing.T) // what is so before
		both  func(c *races) [2]domain.Entry
		never func(domain.Status) bool // how it must not end
	}{
		{"two second persons", (*races).noted, func(c *races) [2]domain.Entry {
			return [2]domain.Entry{by("bo", "bo", 3*time.Hour, c.m, domain.LockOff{Tag: c.tag, Procedure: c.procedure}),
				by("chidi", "chidi", 3*time.Hour, c.m, domain.LockOff{Tag: c.tag, Procedure: c.procedure})}
		}, func(st domain.Status) bool { return len(st.Locks()) != 0 }},
		{"its owner and a second person", (*races).noted, func(c *races) [2]domain.Entry {
			return [2]domain.Entry{by("ada", "ada", 3*time.Hour, c.m, domain.LockOff{Tag: c.tag}),
				by("bo", "bo", 3*time.Hour, c.m, domain.LockOff{Tag: c.tag, Procedure: c.procedure})}
		}, func(st domain.Status) bool { return len(st.Locks()) != 0 }},
		{"its owner, who is in it, and a second person", (*races).noted, func(c *races) [2]domain.Entry {
			return [2]domain.Entry{by("ada", "ada", 3*time.Hour, c.m, domain.LockKept{Tag: c.tag}),
				by("bo", "bo", 3*time.Hour, c.m, domain.LockOff{Tag: c.tag, Procedure: c.procedure})}
		}, func(domain.Status) bool { return false }},
		{"a release and a lock", (*races).tested, func(c *races) [2]domain.Entry {
			return [2]domain.Entry{by("wren", "wren", 3*time.Hour, c.m, domain.Release{}),
				by("bo", "bo", 3*time.Hour, c.m, hangsLock)}
		}, func(st domain.Status) bool { return len(st.Locks()) != 1 || st.Test != nil }},
	} {
		for count := range 3 {
			made := &races{}
			made.shop, made.m = withPlaner(t)
			test.begin(made, t)
			both := test.both(made)
			var taken [2]bool
			var all sync.WaitGroup
			for i := range both {
				all.Go(func() {
					_, err := made.shop.Report(ctx, both[i])
					var refused *domain.Refusal
					if taken[i] = err == nil; err != nil && !errors.As(err, &refused) {
						t.Errorf("%s: %v", test.name, err)
					}
				})
			}
			all.Wait()
			st := domain.Assess(snapshot(t, made.shop, made.m), start.Add(3*time.Hour))
			if one := taken[0] != taken[1]; !one && test.name != "a release and a lock" || test.never(st) {
				t.Errorf("%s, time %d: taken %v, locks %+v, test %+v", test.name, count, taken, st.Locks(), st.Test)
			}
		}
	}
}

// races is a machine with the lock of ada on, as far as it has come.
type races struct {
	shop           *store.Shop
	m              domain.MachineID
	tag, procedure domain.FactNo
}

// noted has its owner asked, and noted what was done.
func (c *races) noted(t *testing.T) {
	t.Helper()
	c.tag = report(t, c.shop, by("ada", "hung", time.Hour, c.m, hangsLock)).Fact.No
	report(t, c.shop, by("wren", "asked", time.Hour, c.m, domain.LockAsked{Tag: c.tag}))
	c.procedure = report(t, c.shop, by("wren", "noted", 2*time.Hour, c.m,
		domain.LockProcedure{Tag: c.tag, Note: "nobody inside"})).Fact.No
}

// tested has the machine under test.
func (c *races) tested(t *testing.T) {
	t.Helper()
	report(t, c.shop, by("wren", "tag", 2*time.Hour, c.m, hangsTag))
	report(t, c.shop, by("wren", "test", 3*time.Hour-time.Minute, c.m, answersAll(t, c.shop, c.m)))
}

// Whatever is reported, by whom, in what order: a lock comes off by its owner or by the
// whole procedure, and until then its machine is neither tested nor released.
func TestLockHoldsInAnyOrder(t *testing.T) {
	t.Parallel()
	people := []domain.PersonID{"ada", "bo", "wren", "ishaan"}
	released, offByProcedure, offByOwner := 0, 0, 0
	for seed := range uint64(5) {
		shop, planer := withPlaner(t)
		random := rand.New(rand.NewPCG(seed, 18))
		at := time.Hour
		var log []domain.Fact // what was taken, in order
		for count := range 250 {
			at += []time.Duration{time.Minute, 20 * time.Minute, 20 * time.Minute, 9 * time.Hour}[random.IntN(4)]
			snap := snapshot(t, shop, planer)
			before := domain.Assess(snap, start.Add(at))
			tag := domain.Tag{Fact: 1}
			if locks := before.Locks(); len(locks) > 0 {
				tag = locks[random.IntN(len(locks))]
			}
			some := domain.FactNo(1) // any report of late, of whatever kind
			if len(log) > 0 {
				some = log[max(len(log)-1-random.IntN(6), 0)].No
			}
			asks, notes := domain.LockAsked{Tag: tag.Fact}, domain.LockProcedure{Tag: tag.Fact, Note: "nobody inside"}
			confirms := domain.LockOff{Tag: tag.Fact, Procedure: tag.Lock.Noted.Fact}
			tests := answersAll(t, shop, planer)
			all := []domain.Body{hangsLock, asks, asks, asks, notes, notes, notes, notes, confirms, confirms, confirms,
				domain.LockOff{Tag: tag.Fact, Procedure: some}, domain.LockOff{Tag: tag.Fact},
				domain.LockKept{Tag: tag.Fact}, domain.Mistake{Of: some}, domain.Withdrawal{Of: some},
				domain.MachineRetired{}, domain.Release{},
				domain.TagOut{Reason: domain.Reason{Code: domain.Pressed}}, domain.Release{}, tests, tests, tests}
			body := all[random.IntN(len(all))]
			if _, retired := body.(domain.MachineRetired); retired && len(before.Locks()) == 0 {
				continue // it would be over
			}
			who := people[random.IntN(len(people))]
			out, err := shop.Report(ctx, by(who, fmt.Sprint("step ", count), at, planer, body))
			var refused *domain.Refusal
			if errors.As(err, &refused) {
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			runs := out.After.Test != nil || !out.After.TaggedOut()
			if len(before.Locks()) > 0 && len(out.After.Locks()) > 0 && runs {
				t.Fatalf("seed %d, step %d: %T with a lock on: test %+v, tags %+v", seed, count, body, out.After.Test,
					out.After.Tags)
			}
			for _, was := range before.Locks() {
				if slices.ContainsFunc(out.After.Locks(), func(is domain.Tag) bool { return is.Fact == was.Fact }) {
					continue
				}
				off, ok := body.(domain.LockOff)
				switch {
				case !ok || off.Tag != was.Fact:
					t.Fatalf("seed %d, step %d: a lock came off by %T", seed, count, body)
				case who == was.By:
					offByOwner++
				case !wholeProcedure(log, was, who, start.Add(at)):
					t.Fatalf("seed %d, step %d: %s took off the lock of %s after %+v", seed, count, who, was.By, log)
				default:
					offByProcedure++
				}
			}
			if out.Fact.Body.FactKind() == domain.KindRelease {
				released++
			}
			if !out.Joined {
				log = append(log, out.Fact)
			}
		}
		if err := shop.Rebuild(ctx); err != nil {
			t.Fatal(err)
		}
		if differs := difference(snapshot(t, shop, planer), func() domain.Snapshot {
			stored, err := shop.Stored(ctx, planer)
			if err != nil {
				t.Fatal(err)
			}
			return stored
		}()); differs != "" {
			t.Errorf("seed %d: rebuilt (-memory +file):\n%s", seed, differs)
		}
	}
	if released == 0 || offByOwner < 5 || offByProcedure < 5 {
		t.Errorf("released %d, off by owners %d, by the procedure %d: too little was tried", released, offByOwner,
			offByProcedure)
	}
}

// wholeProcedure reports whether a lock may come off by a person's word by what was taken
// before: a steward asked its owner, half an hour later a steward noted what was done, and
// neither was taken back or answered; the person is a second one, or a steward a day later.
func wholeProcedure(log []domain.Fact, lock domain.Tag, who domain.PersonID, at time.Time) bool {
	steward := func(p domain.PersonID) bool { return p == "wren" || p == "ishaan" }
	var asked, noted *domain.Fact
	for i, f := range log {
		switch body := f.Body.(type) {
		case domain.LockAsked:
			if body.Tag == lock.Fact {
				asked, noted = &log[i], nil
			}
		case domain.LockProcedure:
			if body.Tag == lock.Fact {
				noted = &log[i]
			}
		case domain.LockKept:
			if body.Tag == lock.Fact {
				asked, noted = nil, nil
			}
		case domain.Withdrawal:
			if asked != nil && body.Of == asked.No {
				asked, noted = nil, nil
			}
			if noted != nil && body.Of == noted.No {
				noted = nil
			}
			if i := slices.IndexFunc(log, func(g domain.Fact) bool { return g.No == body.Of }); i >= 0 {
				if off, ok := log[i].Body.(domain.LockOff); ok && off.Tag == lock.Fact {
					asked, noted = nil, nil
				}
			}
		}
	}
	return asked != nil && noted != nil && steward(asked.By) && steward(noted.By) && asked.By != lock.By &&
		noted.By != lock.By && noted.Recorded.Sub(asked.Recorded) >= 30*time.Minute &&
		(who != noted.By || at.Sub(noted.Recorded) >= 24*time.Hour)
}

// A stop is taken back only where nobody reported anything of the machine since; what
// Setscrew added, and what is of another machine, is nothing.
func TestMistakeWithNothingSince(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	pressed := domain.TagOut{Reason: domain.Reason{Code: domain.Pressed}}
	second := report(t, shop, entry("slate", time.Minute, 0, domain.MachineAdded{Name: "Slate",
		Setup: snapshot(t, shop, planer).Machine.Setup})).Fact.Machine
	for i, test := range []struct {
		name  string
		since func(at time.Duration) domain.Entry
		want  domain.Code
	}{
		{"nothing", nil, ""},
		{"another machine's", func(at time.Duration) domain.Entry {
			return entry("other", at, second, domain.Problem{Name: "odd"})
		}, ""},
		{"a problem", func(at time.Duration) domain.Entry {
			return by("bo", "problem", at, planer, domain.Problem{Name: "odd"})
		}, domain.MistakeSince},
		{"one's own", func(at time.Duration) domain.Entry {
			return entry("own", at, planer, domain.Hours{Seconds: 60})
		}, domain.MistakeSince},
	} {
		at := time.Duration(i+2) * time.Hour
		pressed.Reason.Name = test.name // each is one of its own
		stop := report(t, shop, entry("stop "+test.name, at, planer, pressed)).Fact.No
		var later domain.FactNo
		if test.since != nil {
			later = report(t, shop, test.since(at+30*time.Second)).Fact.No
		}
		back := entry("back "+test.name, at+time.Minute, planer, domain.Mistake{Of: stop})
		out, err := shop.Report(ctx, back)
		var refused *domain.Refusal
		switch {
		case test.want == "" && (err != nil || out.After.TaggedOut()):
			t.Errorf("%s since: %v, tags %+v", test.name, err, out.After.Tags)
		case test.want != "" && (!errors.As(err, &refused) || refused.Code != test.want || refused.Fact != later):
			t.Errorf("%s since: %v, want it refused for no. %d", test.name, err, later)
		case test.want == "":
			// It is on record, counts once, and the stop can be pressed again.
			if again := report(t, shop, back); !again.Repeated || again.Fact.No != out.Fact.No {
				t.Errorf("%s: a second time as no. %d", test.name, again.Fact.No)
			}
			refused := entry("twice "+test.name, at+time.Minute, planer, domain.Mistake{Of: stop})
			if _, err := shop.Report(ctx, refused); err == nil {
				t.Errorf("%s: taken back twice", test.name)
			}
		}
		if err := shop.Rebuild(ctx); err != nil {
			t.Fatal(err)
		}
		if got := domain.Assess(snapshot(t, shop, planer), start.Add(at)).TaggedOut(); got != (test.want != "") {
			t.Errorf("%s, rebuilt: tagged out %t", test.name, got)
		}
	}
}

// However often a person works in a machine, one tag of their locks is left to be answered
// for; another's stands beside it.
func TestLockHungAgain(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	report(t, shop, by("bo", "bo on", time.Hour, planer, hangsLock))
	report(t, shop, by("bo", "bo off", time.Hour, planer, domain.LockOff{Tag: snapshot(t, shop, planer).Tags[0].Fact}))
	var tags []domain.Tag
	for count := range 4 {
		at := time.Duration(count+2) * time.Hour
		on := report(t, shop, by("ada", fmt.Sprint("on ", count), at, planer, hangsLock))
		if locks := on.After.Locks(); len(locks) != 1 || locks[0].Fact != on.Fact.No {
			t.Errorf("hung for time %d: %+v", count, locks)
		}
		off := report(t, shop, by("ada", fmt.Sprint("off ", count), at, planer, domain.LockOff{Tag: on.Fact.No}))
		if tags = off.After.Tags; len(tags) != 2 || tags[0].By != "bo" || tags[1].Fact != on.Fact.No {
			t.Errorf("off for time %d: %+v", count, tags)
		}
	}
	if outage := snapshot(t, shop, planer).Outage; outage != 1 {
		t.Errorf("taken out of service %d times", outage)
	}
}

// A tag that Setscrew hangs meanwhile is no report: the stop is taken back, and that stays.
func TestMistakeBesideASweep(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	tags := domain.Assess(snapshot(t, shop, planer), start).Check("guards").TagsAt
	at := tags.Sub(start)
	stop := report(t, shop, entry("stop", at-30*time.Second, planer,
		domain.TagOut{Reason: domain.Reason{Code: domain.Pressed}})).Fact.No
	if st, err := db.Settle(ctx, "one", planer, tags); err != nil || len(st.Tags) < 2 {
		t.Fatalf("nothing falls overdue at %v: %+v, %v", tags, st.Tags, err)
	}
	out := report(t, shop, entry("back", at+30*time.Second, planer, domain.Mistake{Of: stop}))
	if len(out.After.Tags) == 0 || slices.ContainsFunc(out.After.Tags, func(t domain.Tag) bool { return t.By != "" }) {
		t.Errorf("taken back: %+v", out.After.Tags)
	}
}
