package store_test

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"setscrew/domain"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
	"setscrew/store"
)

// model is a plain list of what was reported, from which everything is worked
// out anew whenever it is asked.
type model struct{ facts []domain.Fact }

// live lists the facts that are not withdrawn, by event time, then number.
func (m model) live() []domain.Fact {
	gone := map[domain.FactNo]bool{}
	for i := len(m.facts) - 1; i >= 0; i-- { // a withdrawal cannot itself be withdrawn
		if w, ok := m.facts[i].Body.(domain.Withdrawal); ok {
			gone[w.Of] = true
		}
	}
	var live []domain.Fact
	for _, f := range m.facts {
		if !gone[f.No] {
			live = append(live, f)
		}
	}
	slices.SortFunc(live, func(a, b domain.Fact) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.No, b.No)) })
	return live
}

// view is what the model and a snapshot are compared in.
type view struct {
	Seconds  int64
	Latest   map[string]domain.FactNo
	Waiting  []domain.FactNo
	Moved    map[string]domain.FactNo
	Services map[string]string // fact and seconds since
	Events   map[string]string
	Counter  string
	Dangers  []domain.FactNo
	Problems map[string]string // first, last and number of reports
	Tags     []domain.FactNo
	Test     domain.FactNo
	Tries    []string // move, reading before, reading after, what was said
	Caps     []string // report, height, what it showed
	PutOff   map[string]domain.FactNo
	Sets     map[string]domain.FactNo
	Taken    map[string]domain.FactNo
	Handover domain.FactNo
}

func (m model) view() view {
	v := view{Latest: map[string]domain.FactNo{}, Moved: map[string]domain.FactNo{}, Services: map[string]string{}, Events: map[string]string{}, Problems: map[string]string{}, PutOff: map[string]domain.FactNo{}, Sets: map[string]domain.FactNo{}, Taken: map[string]domain.FactNo{}}
	live := m.live()
	confirmed := map[domain.FactNo]bool{}
	for _, f := range live {
		if c, ok := f.Body.(domain.ReadingConfirmed); ok {
			confirmed[c.Of] = true
		}
	}
	for _, f := range live {
		switch b := f.Body.(type) {
		case domain.Hours:
			v.Seconds += b.Seconds
		case domain.CounterRead:
			v.Seconds += m.unlogged(f)
			v.Counter = fmt.Sprint(f.No, " ", m.since(f.At), " ", b.Seconds)
		case domain.EventSeen:
			v.Events[b.Event] = fmt.Sprint(f.No, " ", m.since(f.At))
			for _, c := range b.Surfaces {
				v.Moved[c] = f.No
			}
		case domain.Problem:
			for _, c := range b.Surfaces {
				v.Moved[c] = f.No
			}
		case domain.Inspection:
			v.Latest[b.Check] = f.No
		case domain.Reading:
			if b.Unconfirmed && !confirmed[f.No] {
				v.Waiting = append(v.Waiting, f.No)
			} else {
				v.Latest[b.Check] = f.No
			}
		case domain.Move:
			v.Moved[b.Check] = f.No
		case domain.Handover:
			v.Handover = f.No
		case domain.SetMoved:
			v.Sets[b.Set] = f.No
		case domain.PutOff:
			v.PutOff[b.Service] = f.No
		case domain.Taken:
			v.Taken[b.Service] = f.No
		case domain.ServiceDone:
			v.Services[b.Service] = fmt.Sprint(f.No, " ", m.since(f.At))
			for _, c := range b.Surfaces {
				v.Moved[c] = f.No
			}
		}
	}
	over := domain.FactNo(0)
	for _, f := range live {
		if b, ok := f.Body.(domain.TakenOver); ok {
			over = b.Of
		}
	}
	if over == v.Handover {
		v.Handover = 0
	}
	slices.Sort(v.Waiting)
	v.Tries, v.Caps = m.tries(confirmed), m.caps(confirmed)
	// Tags and dangers go by the order of recording: each stands until the
	// first later release that is not withdrawn.
	released := func(after domain.FactNo) bool {
		return slices.ContainsFunc(live, func(f domain.Fact) bool {
			_, ok := f.Body.(domain.Release)
			return ok && f.No > after
		})
	}
	for _, f := range m.facts {
		if _, ok := f.Body.(domain.TagOut); ok && !released(f.No) {
			v.Tags = append(v.Tags, f.No)
		}
	}
	for _, f := range live {
		if p, ok := f.Body.(domain.Problem); ok && p.Danger && !released(f.No) {
			v.Dangers = append(v.Dangers, f.No)
		}
	}
	slices.Sort(v.Dangers)
	// A problem that is no danger stands until the first later "mended" of its
	// kind that is not withdrawn.
	reports := map[string][]domain.FactNo{}
	for _, f := range live {
		p, ok := f.Body.(domain.Problem)
		if ok && !p.Danger && !slices.ContainsFunc(live, func(g domain.Fact) bool {
			x, ok := g.Body.(domain.Mended)
			return ok && x.Key == p.Key() && g.No > f.No
		}) {
			reports[p.Key()] = append(reports[p.Key()], f.No)
		}
	}
	for key, all := range reports {
		v.Problems[key] = fmt.Sprint(slices.Min(all), " ", slices.Max(all), " ", len(all))
	}
	// A test runs until it is ended, the machine is released or a tag is hung;
	// withdrawing a release starts none.
	for _, f := range m.facts {
		switch f.Body.(type) {
		case domain.UnderTest:
			v.Test = f.No
		case domain.TestEnded, domain.Release, domain.TagOut:
			v.Test = 0
		}
	}
	return v
}

// tries pairs each move of the infeed roller with the reading that it was planned
// from, the first one between it and the next move, and the last thing said.
func (m model) tries(confirmed map[domain.FactNo]bool) (all []string) {
	live := m.live()
	var moves []domain.Fact
	for _, f := range live {
		if b, ok := f.Body.(domain.Move); ok && b.Check == "infeed" {
			moves = append(moves, f)
		}
	}
	for i, f := range moves {
		var before, after domain.FactNo
		var said domain.HowTurned
		for _, g := range live {
			switch b := g.Body.(type) {
			case domain.Reading:
				if b.Check != "infeed" || b.Unconfirmed && !confirmed[g.No] {
					continue
				}
				switch {
				case g.No == f.Body.(domain.Move).Reading:
					before = g.No
				case after == 0 && g.At.After(f.At) && (i+1 == len(moves) || !g.At.After(moves[i+1].At)):
					after = g.No
				}
			case domain.MoveAnswer:
				if b.Of == f.No {
					said = b.Said
				}
			}
		}
		all = append(all, fmt.Sprint(f.No, " ", before, " ", after, " ", said))
	}
	return all
}

// caps puts each report of marks or stuttering beside the height of the infeed
// caps last read by then.
func (m model) caps(confirmed map[domain.FactNo]bool) (all []string) {
	live := m.live()
	for _, f := range live {
		p, ok := f.Body.(domain.Problem)
		if !ok || p.Symptom != "marks" && p.Symptom != "stutter" {
			continue
		}
		height := ""
		for _, g := range live {
			if b, ok := g.Body.(domain.Reading); ok && b.Check == "infeed-caps" && !g.At.After(f.At) && (!b.Unconfirmed || confirmed[g.No]) {
				height = b.Values[0].Mean().String()
			}
		}
		if height != "" {
			all = append(all, fmt.Sprint(f.No, " ", height, " ", p.Symptom))
		}
	}
	return all
}

// unlogged is the use that a reading of the counter brings to light: what it went
// on by since the one before, less what was reported between.
func (m model) unlogged(c domain.Fact) int64 {
	live := m.live()
	var before *domain.Fact
	for i, f := range live {
		if f.No == c.No {
			break
		}
		if _, ok := f.Body.(domain.CounterRead); ok {
			before = &live[i]
		}
	}
	b := c.Body.(domain.CounterRead)
	if before == nil || b.New {
		return 0
	}
	went := b.Since(before.Body.(domain.CounterRead))
	for _, f := range live {
		if h, ok := f.Body.(domain.Hours); ok && f.At.After(before.At) && !f.At.After(c.At) {
			went -= h.Seconds
		}
	}
	return max(went, 0)
}

// gearbox is when the gearbox oil falls due, from the list of facts alone: first
// after 20 h, then each year from the last change that came in time.
func (m model) gearbox(s domain.Status, now time.Time) upkeep.Due {
	hours := func(at time.Time) quantity.Value { return quantity.New(m.since(at), 1, quantity.Second) }
	var done []upkeep.Done
	for _, f := range m.live() {
		if b, ok := f.Body.(domain.ServiceDone); ok && b.Service == "gearbox-oil" && !f.At.Before(s.Machine.Added) {
			done = append(done, upkeep.Done{At: f.At, Since: hours(f.At)})
		}
	}
	svc := s.Machine.Profile.Service("gearbox-oil")
	if len(done) == 0 {
		total := int64(0)
		for _, f := range m.live() {
			switch b := f.Body.(type) {
			case domain.Hours:
				total += b.Seconds
			case domain.CounterRead:
				total += m.unlogged(f)
			}
		}
		return upkeep.When(svc.First, upkeep.Use{From: upkeep.Done{At: s.Machine.Added, Since: quantity.New(total, 1, quantity.Second)}}, now, s.Shop.Calendar())
	}
	return upkeep.When(svc.Every, upkeep.Use{From: done[0], Done: done[1:]}, now, s.Shop.Calendar())
}

// since is the use after a moment.
func (m model) since(at time.Time) (seconds int64) {
	for _, g := range m.live() {
		if !g.At.After(at) {
			continue
		}
		switch b := g.Body.(type) {
		case domain.Hours:
			seconds += b.Seconds
		case domain.CounterRead:
			seconds += m.unlogged(g)
		}
	}
	return seconds
}

func viewOf(s domain.Snapshot) view {
	v := view{Latest: map[string]domain.FactNo{}, Moved: map[string]domain.FactNo{}, Services: map[string]string{}, Events: map[string]string{}, Problems: map[string]string{}, PutOff: map[string]domain.FactNo{}, Sets: map[string]domain.FactNo{}, Taken: map[string]domain.FactNo{}, Seconds: int64(s.Hours.Float(quantity.Second))}
	for id, l := range s.Latest {
		v.Latest[id] = l.Fact
	}
	for _, w := range s.Waiting {
		v.Waiting = append(v.Waiting, w.Fact)
	}
	for id, m := range s.Moved {
		v.Moved[id] = m.Fact
	}
	for id, l := range s.Services {
		v.Services[id] = fmt.Sprint(l.Fact, " ", int64(l.Since.Float(quantity.Second)))
	}
	for id, l := range s.Events {
		v.Events[id] = fmt.Sprint(l.Fact, " ", int64(l.Since.Float(quantity.Second)))
	}
	if c := s.Counter; c != nil {
		v.Counter = fmt.Sprint(c.Fact, " ", int64(c.Since.Float(quantity.Second)), " ", int64(c.Shown.Float(quantity.Second)))
	}
	for _, p := range s.Problems {
		v.Problems[p.Key] = fmt.Sprint(p.First, " ", p.Last, " ", p.Reports)
	}
	if s.Test != nil {
		v.Test = s.Test.Fact
	}
	if s.Handover != nil {
		v.Handover = s.Handover.Fact
	}
	for _, x := range s.Sets {
		v.Sets[x.Set] = x.Fact
	}
	for id, x := range s.PutOff {
		v.PutOff[id] = x.Fact
	}
	for id, x := range s.Taken {
		v.Taken[id] = x.Fact
	}
	for _, g := range s.Tries["infeed"] {
		var before, after domain.FactNo
		if g.Before != nil {
			before = g.Before.Fact
		}
		if g.After != nil {
			after = g.After.Fact
		}
		v.Tries = append(v.Tries, fmt.Sprint(g.Move, " ", before, " ", after, " ", g.Said))
	}
	for _, r := range s.Caps["infeed-caps"] {
		shown := "marks"
		if r.Stutters {
			shown = "stutter"
		}
		v.Caps = append(v.Caps, fmt.Sprint(r.Fact, " ", r.Height, " ", shown))
	}
	for _, d := range s.Dangers {
		v.Dangers = append(v.Dangers, d.Fact)
	}
	for _, t := range s.Tags {
		v.Tags = append(v.Tags, t.Fact)
	}
	return v
}

// Random reports, typed in any order of time, withdrawn and confirmed: after
// each, the store's snapshot is what the model works out from the list alone;
// and at the end rebuilding changes nothing.
func TestAgainstModel(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		path := filepath.Join(t.TempDir(), fmt.Sprintf("%d.db", time.Now().UnixNano()))
		db, err := store.Open(ctx, path)
		if err != nil {
			rt.Fatal(err)
		}
		defer db.Close()
		s := db.Shop("one")
		m := addPlaner(rt, s, "Marble")
		var mod model
		sync := func() {
			// Facts that Setscrew added by itself are taken over from the store.
			for {
				f, err := s.Fact(ctx, domain.FactNo(len(mod.facts)+1))
				if err != nil {
					return
				}
				f.Withdrawn = 0
				mod.facts = append(mod.facts, f)
			}
		}
		sync()
		steps := rapid.IntRange(1, 25).Draw(rt, "steps")
		for i := range steps {
			e := entry(fmt.Sprintf("s%d", i), 0, m, nil)
			e.Recorded = start.Add(time.Duration(i+1) * time.Hour)
			e.At = start.Add(time.Duration(rapid.Int64Range(1, int64(i+1)*60).Draw(rt, "at")) * time.Minute)
			some := domain.FactNo(rapid.IntRange(1, len(mod.facts)+1).Draw(rt, "of"))
			switch rapid.SampledFrom([]string{"hours", "reading", "unlikely", "confirm", "inspect", "counter", "service", "event", "move", "move", "said", "put off", "taken", "handover", "taken over", "set", "interval", "caps", "board", "tag", "danger", "problem", "mended", "test", "test ended", "release", "settle", "withdraw", "withdraw"}).Draw(rt, "what") {
			case "hours":
				e.Body, e.Sure = domain.Hours{Seconds: rapid.Int64Range(1, 20000).Draw(rt, "seconds")}, true
			case "reading":
				e.Body = infeed(rt, s, m, rapid.SampledFrom([]int64{40, 46, 61, 70}).Draw(rt, "thou"))
			case "unlikely":
				r := infeed(rt, s, m, 400)
				r.Unconfirmed = true
				e.Body = r
			case "confirm":
				e.Body = domain.ReadingConfirmed{Of: some}
			case "inspect":
				e.Body = domain.Inspection{Check: "fingers", Pass: rapid.Bool().Draw(rt, "pass")}
			case "service":
				e.Body = domain.ServiceDone{Service: rapid.SampledFrom([]string{"bushings", "gearbox-oil"}).Draw(rt, "service")}
			case "counter":
				e.Body = domain.CounterRead{Seconds: rapid.Int64Range(0, 100000).Draw(rt, "counter"), New: rapid.Bool().Draw(rt, "new"), Rolled: rapid.IntRange(0, 3).Draw(rt, "rolled") == 0}
			case "event":
				e.Body = domain.EventSeen{Event: rapid.SampledFrom([]string{"belts-changed", "knives-changed"}).Draw(rt, "event"), Surfaces: rapid.SampledFrom([][]string{nil, {"knives"}, {"belts"}}).Draw(rt, "moves")}
			case "problem":
				e.Body = domain.Problem{Symptom: rapid.SampledFrom([]string{"snipe", ""}).Draw(rt, "symptom"), Name: "Odd", Surfaces: rapid.SampledFrom([][]string{nil, {"belts"}}).Draw(rt, "moves")}
			case "mended":
				e.Body = domain.Mended{Key: rapid.SampledFrom([]string{"snipe", "odd"}).Draw(rt, "key")}
			case "test":
				e.Body = domain.UnderTest{Owner: domain.OwnerAsked, Note: "seen to"}
			case "test ended":
				e.Body = domain.TestEnded{}
			case "settle":
				// Everything is read again, so that a test and a release can follow.
				for _, c := range snapshot(rt, s, m).Machine.Profile.Checks {
					r := entry(fmt.Sprintf("s%d %s", i, c.ID), 0, m, domain.Inspection{Check: c.ID, Pass: true})
					if !c.Inspection {
						r.Body = reading(&c, c.Example)
					}
					r.At, r.Recorded = e.Recorded, e.Recorded
					report(rt, s, r)
				}
				sync()
				continue
			case "move":
				// Planned from the last reading, mostly.
				if l, read := snapshot(rt, s, m).Latest["infeed"]; read && rapid.Bool().Draw(rt, "last") {
					some, e.At = l.Fact, e.Recorded
				}
				e.Body = domain.Move{Check: "infeed", Reading: some, Turned: []domain.Turns{{Adjuster: "infeed-left", Turns: quantity.New(rapid.SampledFrom([]int64{-1, 1, 3}).Draw(rt, "turns"), 8, quantity.Turn)}}}
			case "said":
				e.Body = domain.MoveAnswer{Of: some, Check: "infeed", Said: rapid.SampledFrom([]domain.HowTurned{domain.TurnedOther, domain.TurnedAsSaid}).Draw(rt, "said")}
			case "handover":
				e.Body = domain.Handover{Apart: "hood", Next: "fit it"}
			case "taken over":
				if h := snapshot(rt, s, m).Handover; h != nil {
					some = h.Fact
				}
				e.Body = domain.TakenOver{Of: some}
			case "interval":
				var every *domain.Interval
				if n := rapid.Int64Range(0, 12).Draw(rt, "interval"); n > 0 {
					every = &domain.Interval{Hours: quantity.New(n, 1, quantity.Hour), Months: int(n)}
				}
				item := domain.ServiceItem.Of(rapid.SampledFrom([]string{"bushings", "gearbox-oil"}).Draw(rt, "item"))
				e.Body = domain.SetupChanged{Item: item, Setup: snapshot(rt, s, m).Machine.Setup.WithInterval(item, every)}
			case "set":
				e.Body = domain.SetMoved{Set: rapid.SampledFrom([]string{"a", "b"}).Draw(rt, "set"), Where: domain.Fitted}
			case "put off":
				e.Body = domain.PutOff{Service: "bushings", Until: e.Recorded.Add(30 * time.Hour), Why: "x"}
			case "taken":
				e.Body = domain.Taken{Service: rapid.SampledFrom([]string{"bushings", "dust"}).Draw(rt, "taken")}
			case "caps":
				e.Body = reading(snapshot(rt, s, m).Machine.Profile.Check("infeed-caps"), quantity.New(rapid.Int64Range(2, 6).Draw(rt, "height"), 32, quantity.Inch))
			case "board":
				e.Body = domain.Problem{Symptom: rapid.SampledFrom([]string{"marks", "stutter"}).Draw(rt, "board"), Name: "board"}
			case "tag":
				e.Body = domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: "x"}}
			case "danger":
				e.Body = domain.Problem{Symptom: "smoke", Name: "smoke", Danger: true}
			case "release":
				e.Body = domain.Release{Owner: domain.OwnerAsked, Note: "seen to"}
			case "withdraw":
				e.Body = domain.Withdrawal{Of: some}
			}
			o, err := s.Report(ctx, e)
			if err != nil {
				var r *domain.Refusal
				if !asRefusal(err, &r) {
					rt.Fatal(err)
				}
				continue
			}
			sync()
			if d := gocmp.Diff(mod.gearbox(o.After, e.Recorded), o.After.Service("gearbox-oil").Due); d != "" && o.After.Reporting == nil { // which scales the use
				rt.Fatalf("after no. %d %T: gearbox oil (-from the list +store):\n%s", o.Fact.No, e.Body, d)
			}
			if d := gocmp.Diff(mod.view(), viewOf(snapshot(rt, s, m))); d != "" {
				rt.Fatalf("after no. %d %T (-model +store):\n%s", o.Fact.No, e.Body, d)
			}
			// The status that the report brought is that of a snapshot made anew.
			if d := gocmp.Diff(domain.Assess(snapshot(rt, s, m), e.Recorded), o.After, gocmp.AllowUnexported(domain.Status{})); d != "" {
				rt.Fatalf("after no. %d %T (-anew +reported):\n%s", o.Fact.No, e.Body, d)
			}
			// Undoing never starts a machine.
			if _, ok := e.Body.(domain.Withdrawal); ok && o.Before.TaggedOut() && !o.After.TaggedOut() {
				rt.Fatalf("no. %d, a withdrawal, started the machine", o.Fact.No)
			}
			if len(o.After.MustTag) != 0 {
				rt.Fatalf("a demanded tag was not hung: %+v", o.After.MustTag)
			}
		}
		before := dump(rt, path)
		if err := s.Rebuild(ctx); err != nil {
			rt.Fatal(err)
		}
		if d := gocmp.Diff(before, dump(rt, path)); d != "" {
			rt.Fatalf("rebuilding changed (-before +after):\n%s", d)
		}
	})
}
