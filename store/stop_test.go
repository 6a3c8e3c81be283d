package store_test

import (
	"context"
	"errors"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/domain/quantity"
	"setscrew/store"
)

// endsAfter is a context that ends when it was looked at a number of times: the store
// looks before each statement.
type endsAfter struct {
	context.Context
	end         func()
	left, after atomic.Int64 // looks until it ends, and since
}

func newEndsAfter(looks int) *endsAfter {
	inner, end := context.WithCancel(ctx)
	c := &endsAfter{Context: inner, end: end}
	c.left.Store(int64(looks))
	return c
}

// Err ends the context when its looks are used up.
func (c *endsAfter) Err() error {
	if c.left.Add(-1) >= 0 {
		return nil
	}
	c.after.Add(1)
	c.end()
	return context.Canceled
}

// call is something that is asked of the store, or told to it.
type call struct {
	name  string
	do    func(context.Context, *caller) error
	skips int // looks passed over besides: a long call is given up at few
}

// caller makes calls to the books of shop "one", with a planer and, from the start, a
// second one that needs it.
type caller struct {
	path string
	db   *store.DB
	shop *store.Shop
	m    domain.MachineID
	last map[string]domain.FactNo // what reports became, by their names
	at   time.Duration
}

func newCaller(t *testing.T) *caller {
	t.Helper()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db := open(t, path)
	return &caller{path: path, db: db, shop: db.Shop("one"), m: marble, last: map[string]domain.FactNo{}}
}

// tells is a call that reports a body of the planer, an hour after the one before.
func tells(name string, body func(*caller) (domain.Body, error)) call {
	return call{name: name, do: func(ctx context.Context, c *caller) error {
		told, err := body(c)
		if err != nil {
			return err
		}
		at := c.at + time.Hour
		given := entry(name, at, c.m, told)
		given.Sure = told.FactKind() != domain.KindHours
		switch told.(type) {
		case domain.StockCounted, domain.ShopSet, domain.GaugeSet, domain.VisitsPlanned, domain.StudyBegun,
			domain.StudyReading, domain.MachineAdded:
			given.Machine = 0
		}
		o, err := c.shop.Report(ctx, given)
		if err == nil {
			c.at, c.last[name] = at, o.Fact.No
		}
		return err
	}}
}

// says is tells of a body that hangs on nothing.
func says(name string, b domain.Body) call {
	return tells(name, func(*caller) (domain.Body, error) { return b, nil })
}

// takesBack withdraws what a report became.
func takesBack(name string) call {
	return tells("take back "+name, func(c *caller) (domain.Body, error) {
		return domain.Withdrawal{Of: c.last[name]}, nil
	})
}

// asks is a call that reads.
func asks[V any](name string, ask func(context.Context, *caller) (V, error)) call {
	return call{name: name, do: func(ctx context.Context, c *caller) error {
		_, err := ask(ctx, c)
		return err
	}}
}

// reads reads a check of the planer, with one value everywhere.
func reads(name, check string, n int64, unit quantity.Unit, doubted bool) call {
	return tells(name, func(c *caller) (domain.Body, error) {
		snap, err := c.shop.Snapshot(ctx, c.m)
		if err != nil {
			return nil, err
		}
		b := reading(snap.Machine.Profile.Check(check), quantity.New(n, 1, unit))
		b.Unconfirmed = doubted
		return b, nil
	})
}

// readsAll reads every check of the planer, each as it should be.
func readsAll(name string) call {
	return call{name: name, do: func(ctx context.Context, c *caller) error {
		snap, err := c.shop.Snapshot(ctx, c.m)
		if err != nil {
			return err
		}
		at := c.at + time.Minute
		var all []domain.Entry
		for i := range snap.Machine.Profile.Checks {
			check := &snap.Machine.Profile.Checks[i]
			var b domain.Body = domain.Inspection{Check: check.ID, Pass: true, Note: "by an electrician"}
			if !check.Inspection {
				b = reading(check, check.Example)
			}
			all = append(all, entry(name+" "+check.ID, at, c.m, b))
		}
		if _, err = c.shop.ReportAll(ctx, all, false); err == nil {
			c.at = at
		}
		return err
	}, skips: 400}
}

// changesSetup changes the planer's set-up.
func changesSetup(name string, change func(*domain.Setup)) call {
	return tells(name, func(c *caller) (domain.Body, error) {
		snap, err := c.shop.Snapshot(ctx, c.m)
		if err != nil {
			return nil, err
		}
		setup := snap.Machine.Setup
		change(&setup)
		setup.Rev++
		return domain.SetupChanged{Setup: setup}, nil
	})
}

// calls are calls that come by every statement of the store, one building on another.
func calls() []call {
	year := start.AddDate(1, 0, 0)
	counter := func(name string, hours int64) call {
		return says(name, domain.CounterRead{Seconds: hours * 3600})
	}
	return []call{
		tells("a second machine", func(c *caller) (domain.Body, error) {
			snap, err := c.shop.Snapshot(ctx, c.m)
			return domain.MachineAdded{Name: "Slate", Units: quantity.Imperial, Setup: snap.Machine.Setup}, err
		}),
		changesSetup("needs it", func(s *domain.Setup) { s.Needs, s.Like = []domain.MachineID{2}, 2 }),
		asks("what it needs", func(ctx context.Context, c *caller) (domain.Snapshot, error) {
			return c.shop.Snapshot(ctx, c.m)
		}),
		changesSetup("like no other", func(s *domain.Setup) { s.Like = 0 }),
		says("oil changed", domain.ServiceDone{Service: "gearbox-oil"}),
		says("hours", domain.Hours{Seconds: 600}), takesBack("hours"),
		counter("counter", 10), says("hours between", domain.Hours{Seconds: 600}), counter("counter again", 12),
		takesBack("hours between"), takesBack("counter"), counter("counter at last", 13),
		says("belts", domain.EventSeen{Event: "belts-changed", Surfaces: []string{"belts"}}), takesBack("belts"),
		says("taken", domain.Taken{Service: "bushings"}),
		says("put off", domain.PutOff{Service: "bushings", Until: year, Why: "no oil"}),
		says("left open", domain.Handover{Apart: "hood", Next: "fit it"}),
		tells("taken over", func(c *caller) (domain.Body, error) {
			return domain.TakenOver{Of: c.last["left open"]}, nil
		}),
		says("set", domain.SetMoved{Set: "a", Where: domain.Fitted}),
		reads("caps", "infeed-caps", 1, quantity.Inch, false),
		says("marks", domain.Problem{Symptom: "marks", Name: "marks"}),
		reads("read", "infeed", 46, quantity.Thou, false),
		tells("moved", func(c *caller) (domain.Body, error) {
			return domain.Move{Check: "infeed", Reading: c.last["read"]}, nil
		}),
		tells("turned", func(c *caller) (domain.Body, error) {
			return domain.MoveAnswer{Of: c.last["moved"], Check: "infeed", Said: domain.TurnedAsSaid}, nil
		}),
		reads("unlikely", "infeed", 400, quantity.Thou, true),
		tells("confirmed", func(c *caller) (domain.Body, error) {
			return domain.ReadingConfirmed{Of: c.last["unlikely"]}, nil
		}),
		takesBack("confirmed"), takesBack("unlikely"),
		says("snipe", domain.Problem{Symptom: "snipe", Name: "snipe", Surfaces: []string{"infeed"}}),
		says("snipe again", domain.Problem{Symptom: "snipe", Name: "snipe"}),
		says("found", domain.Found{Key: "snipe", About: domain.QuestionItem.Of("both-ends"),
			Answer: domain.AnswerYes}),
		says("mended", domain.Mended{Key: "snipe", Name: "snipe"}), takesBack("mended"), takesBack("snipe"),
		says("mended again", domain.Mended{Key: "snipe", Name: "snipe"}),
		says("it is back", domain.Problem{Symptom: "snipe", Name: "snipe"}),
		says("pitch", domain.Found{Key: "marks", About: domain.CauseItem.Of("pitch"), Answer: domain.AnswerYes}),
		says("waxed", domain.ServiceDone{Service: "wax"}), takesBack("waxed"), // closes the marks, and opens them
		says("smoke", domain.Problem{Symptom: "smoke", Name: "smoke", Danger: true}),
		says("seen", domain.Found{Key: "smoke", About: domain.QuestionItem.Of("cold"), Answer: domain.AnswerNo}),
		says("tagged", hangsTag), takesBack("tagged"),
		says("locked", hangsLock), tells("unlocked", func(c *caller) (domain.Body, error) {
			return domain.LockOff{Tag: c.last["locked"]}, nil
		}), takesBack("unlocked"), tells("unlocked again", func(c *caller) (domain.Body, error) {
			return domain.LockOff{Tag: c.last["locked"]}, nil
		}),
		readsAll("all read"),
		tells("tested", func(c *caller) (domain.Body, error) { return seenTo(c.shop, c.m) }),
		asks("under test", func(ctx context.Context, c *caller) (domain.Snapshot, error) {
			return c.shop.Stored(ctx, c.m)
		}),
		says("test over", domain.TestEnded{}),
		tells("tested again", func(c *caller) (domain.Body, error) { return seenTo(c.shop, c.m) }),
		readsAll("all read again"),
		says("released", domain.Release{Owner: domain.OwnerAsked, Note: "seen to"}), takesBack("released"),
		says("stock", domain.StockCounted{Name: "oil", Left: 2}),
		says("gauge", domain.GaugeSet{Gauge: domain.OwnGauge{GaugeUsed: domain.GaugeUsed{Name: "dial"}}}),
		says("settings", domain.ShopSet{Shop: domain.NewShop("one")}),
		says("visits", domain.VisitsPlanned{}),
		{name: "the same again", do: func(ctx context.Context, c *caller) error {
			o, err := c.shop.Report(ctx, entry("hours", c.at, c.m, domain.Hours{Seconds: 600}))
			if err == nil && !o.Repeated {
				return errors.New("it was taken again")
			}
			return err
		}},
		{name: "keep", do: func(ctx context.Context, c *caller) error {
			return c.shop.Keep(ctx, domain.Pending{ID: "p", Action: "a", Made: start, Expires: year})
		}},
		asks("pending", func(ctx context.Context, c *caller) (domain.Pending, error) {
			return c.shop.Pending(ctx, "p", start)
		}),
		{name: "use", do: func(ctx context.Context, c *caller) error { return c.shop.Use(ctx, "p", "k", start) }},
		asks("machines", func(ctx context.Context, c *caller) ([]domain.Machine, error) {
			return c.shop.Machines(ctx)
		}),
		asks("gauges", func(ctx context.Context, c *caller) ([]domain.OwnGauge, error) { return c.shop.Gauges(ctx) }),
		asks("shelf", func(ctx context.Context, c *caller) ([]domain.Shelf, error) { return c.shop.Shelf(ctx) }),
		asks("planned", func(ctx context.Context, c *caller) (f domain.Fact, err error) {
			f, _, err = c.shop.Visits(ctx)
			return f, err
		}),
		asks("settled", func(ctx context.Context, c *caller) (domain.Counts, error) {
			return c.shop.Settled(ctx, c.m, "snipe")
		}),
		asks("runs", func(ctx context.Context, c *caller) ([]domain.Run, error) {
			return c.shop.Runs(ctx, c.m, start, year)
		}),
		asks("sessions", func(ctx context.Context, c *caller) (map[domain.MachineID]int, error) {
			return c.shop.Sessions(ctx, start, year)
		}),
		asks("readings", func(ctx context.Context, c *caller) (all []domain.ReadAt, err error) {
			all, _, err = c.shop.Readings(ctx, c.m, "infeed", start)
			return all, err
		}),
		asks("last by", func(ctx context.Context, c *caller) (domain.Fact, error) {
			return c.shop.LastBy(ctx, "ada")
		}),
		asks("logbook", func(ctx context.Context, c *caller) ([]domain.Fact, error) {
			return c.shop.Logbook(ctx, c.m, 0, 10)
		}),
		asks("study", func(ctx context.Context, c *caller) ([]domain.Fact, error) { return c.shop.Study(ctx, 3) }),
		asks("recent", func(ctx context.Context, c *caller) ([]domain.Fact, error) {
			return c.shop.Recent(ctx, "ada", 5)
		}),
		asks("due", func(ctx context.Context, c *caller) ([]domain.Wake, error) { return c.db.Due(ctx, year, 10) }),
		asks("next", func(ctx context.Context, c *caller) (at time.Time, err error) {
			at, _, err = c.db.NextWake(ctx)
			return at, err
		}),
		asks("judge again", func(ctx context.Context, c *caller) (domain.Status, error) {
			return c.db.Settle(ctx, "one", c.m, year)
		}),
		asks("digests", func(ctx context.Context, c *caller) ([]domain.ShopID, error) {
			return c.db.DueDigests(ctx, year)
		}),
		{name: "digest", do: func(ctx context.Context, c *caller) error { return c.db.SettleDigest(ctx, "one", year) }},
		asks("owed", func(ctx context.Context, c *caller) ([]domain.Undelivered, error) {
			return c.db.Undelivered(ctx, "one", year, 10)
		}),
		{name: "about to be sent", do: func(ctx context.Context, c *caller) error {
			return c.db.Sending(ctx, domain.Undelivered{Shop: "one", ID: 1}, start)
		}},
		{name: "tried", do: func(ctx context.Context, c *caller) error {
			return c.db.Tried(ctx, domain.Undelivered{Shop: "one", ID: 1}, start, year, "no", false)
		}},
		{name: "posted", do: func(ctx context.Context, c *caller) error {
			return c.db.Posted(ctx, "one", 1, "m", year)
		}},
		{name: "derive again", do: func(ctx context.Context, c *caller) error { return c.shop.Rebuild(ctx) }},
	}
}

// Whatever is given up half-way says so, asks the file for nothing more, and leaves it as
// it was, at whichever statement that is: the file is the same as where no call was
// given up before it was made.
func TestGivenUpAtAnyStatement(t *testing.T) {
	t.Parallel()
	stopped, plain := newCaller(t), newCaller(t)
	for i, call := range calls() {
		if err := call.do(ctx, plain); err != nil {
			t.Fatalf("%s: %v", call.name, err)
		}
		// At every third look, and at those between in the calls after it; of the first call,
		// which finds nothing in memory, at each.
		looks, next, step := 0, 1+i%3, 3+call.skips
		if i == 0 {
			step = 1
		}
		for ; ; looks, next = next, next+step {
			ends := newEndsAfter(looks)
			err := call.do(ends, stopped)
			ends.end()
			if err == nil {
				break
			}
			if !errors.Is(err, context.Canceled) {
				t.Fatalf("%s, given up at look %d: %v", call.name, looks, err)
			}
			// At the end it is looked at twice: whether it ended, and why.
			if after := ends.after.Load(); after > 1 && !strings.Contains(err.Error(), "asked to stop") {
				t.Errorf("%s, given up at look %d: went on for %d more: %v", call.name, looks, after-1, err)
			}
			if looks > 5000 {
				t.Fatalf("%s: still given up", call.name)
			}
		}
		if looks == 0 {
			t.Errorf("%s never looks whether it is given up", call.name)
		}
		if d := cmp.Diff(dump(t, plain.path), dump(t, stopped.path)); d != "" {
			t.Fatalf("%s, given up %d times, left (-without +with):\n%s", call.name, looks, d)
		}
	}
}

// Opening a file is given up at whichever step that is: it says so and does not hang, and
// the file can be opened afterwards.
func TestOpeningIsGivenUp(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	type opened struct {
		db  *store.DB
		err error
	}
	for looks := 0; ; looks++ {
		ends := newEndsAfter(looks)
		done := make(chan opened, 1)
		go func() {
			db, err := store.Open(ends, path)
			done <- opened{db, err}
		}()
		var got opened
		select {
		case got = <-done:
		case <-time.After(30 * time.Second):
			t.Fatalf("given up at look %d it hangs", looks)
		}
		ends.end()
		if got.err == nil {
			if err := got.db.Close(); err != nil {
				t.Error(err)
			}
			break
		}
		if !errors.Is(got.err, context.Canceled) || !strings.HasPrefix(got.err.Error(), "store: ") {
			t.Errorf("given up at look %d: %v", looks, got.err)
		}
		if looks > 1000 {
			t.Fatal("still given up")
		}
	}
	if machines, err := open(t, path).Shop("one").Machines(ctx); err != nil || len(machines) != 1 {
		t.Errorf("afterwards: %v, %v", machines, err)
	}
}
