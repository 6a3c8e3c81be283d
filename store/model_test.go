package store_test

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
	"setscrew/store"
)

// model is a plain list of what was reported, from which everything is worked
// out again whenever it is asked.
type model struct{ facts []domain.Fact }

// elsewhere is what was reported of another machine.
type elsewhere struct{ domain.Body }

// of is the list with nothing of other machines in it but their places.
func (m model) of(machine domain.MachineID) model {
	own := model{facts: slices.Clone(m.facts)}
	for i, f := range own.facts {
		if f.Machine != 0 && f.Machine != machine {
			own.facts[i].Body = elsewhere{f.Body}
		}
	}
	return own
}

// kept is the last fact of each kind and subject of which one is kept, with the seconds of
// use since.
func (m model) kept() map[string]string {
	last := map[string]string{}
	for _, f := range m.live() {
		if _, other := f.Body.(elsewhere); !other && domain.KeptLast(f.Body) {
			last[fmt.Sprint(f.Body.FactKind(), ":", domain.Subject(f.Body))] = fmt.Sprint(f.No, " ", m.since(f.At))
		}
	}
	return last
}

// shared is what the machines of a shop share: the last count of each thing on the shelf
// and what is left of it, the plan of visits, and the readings of each study.
type shared struct {
	Shelf   map[string]string
	Visits  domain.FactNo
	Studies map[domain.FactNo][]domain.FactNo
}

func (m model) shared() shared {
	all := shared{Shelf: map[string]string{}, Studies: map[domain.FactNo][]domain.FactNo{}}
	for _, fact := range m.live() {
		switch body := fact.Body.(type) {
		case domain.StockCounted:
			name := domain.Folded(body.Name)
			if all.Shelf[name] = fmt.Sprint(fact.No, " ", body.Left); body.Gone {
				delete(all.Shelf, name)
			}
		case domain.VisitsPlanned:
			all.Visits = fact.No
		case domain.StudyReading:
			all.Studies[body.Study] = append(all.Studies[body.Study], fact.No)
		}
	}
	return all
}

// sharedOf is the same as the store tells it.
func sharedOf(shop *store.Shop) (all shared, err error) {
	all = shared{Shelf: map[string]string{}, Studies: map[domain.FactNo][]domain.FactNo{}}
	shelf, err := shop.Shelf(ctx)
	if err != nil {
		return all, err
	}
	for _, one := range shelf {
		all.Shelf[domain.Folded(one.Name)] = fmt.Sprint(one.Fact, " ", one.Left)
	}
	plan, _, err := shop.Visits(ctx)
	if err != nil {
		return all, err
	}
	all.Visits = plan.No
	studies, err := shop.StudyReadings(ctx)
	for _, fact := range studies {
		body := fact.Body.(domain.StudyReading)
		all.Studies[body.Study] = append(all.Studies[body.Study], fact.No)
	}
	return all, err
}

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
	Locks    []string // of each of Tags: by which reports its owner was asked, it was noted, it is off
	Test     domain.FactNo
	Tries    []string // move, reading before, reading after, what was said
	Caps     []string // report, height, what it showed
	PutOff   map[string]domain.FactNo
	Extended map[string]domain.FactNo
	Sets     map[string]domain.FactNo
	Taken    map[string]domain.FactNo
	Handover domain.FactNo
	Asked    domain.FactNo // the last loosening that was asked for
	Released time.Time
	SeenTo   domain.FactNo
	Found    map[string]domain.FactNo // by problem and what was asked about it, since its first report
}

func (m model) view() view {
	seen := view{Latest: map[string]domain.FactNo{}, Moved: map[string]domain.FactNo{}, Services: map[string]string{},
		Events: map[string]string{}, Problems: map[string]string{}, PutOff: map[string]domain.FactNo{},
		Extended: map[string]domain.FactNo{},
		Sets:     map[string]domain.FactNo{}, Taken: map[string]domain.FactNo{},
		Found: map[string]domain.FactNo{}}
	live := m.live()
	confirmed := map[domain.FactNo]bool{}
	for _, f := range live {
		if c, ok := f.Body.(domain.ReadingConfirmed); ok {
			confirmed[c.Of] = true
		}
	}
	for _, fact := range live {
		switch body := fact.Body.(type) {
		case domain.Hours:
			seen.Seconds += body.Seconds
		case domain.CounterRead:
			seen.Seconds += m.unlogged(fact)
			seen.Counter = fmt.Sprint(fact.No, " ", m.since(fact.At), " ", body.Seconds)
		case domain.EventSeen:
			seen.Events[body.Event] = fmt.Sprint(fact.No, " ", m.since(fact.At))
			for _, c := range body.Surfaces {
				seen.Moved[c] = fact.No
			}
		case domain.Problem:
			for _, c := range body.Surfaces {
				seen.Moved[c] = fact.No
			}
		case domain.Inspection:
			seen.Latest[body.Check] = fact.No
		case domain.Reading:
			if body.Unconfirmed && !confirmed[fact.No] {
				seen.Waiting = append(seen.Waiting, fact.No)
			} else {
				seen.Latest[body.Check] = fact.No
			}
		case domain.Move:
			seen.Moved[body.Check] = fact.No
		case domain.Handover:
			seen.Handover = fact.No
		case domain.LooseningAsked:
			seen.Asked = fact.No
		case domain.Release:
			seen.Released = fact.At
		case domain.SeenTo:
			seen.SeenTo = fact.No
		case domain.SetMoved:
			seen.Sets[body.Set] = fact.No
		case domain.PutOff:
			seen.PutOff[body.Service] = fact.No
		case domain.Extended:
			seen.Extended[body.Check] = fact.No
		case domain.Taken:
			seen.Taken[body.Service] = fact.No
		case domain.ServiceDone:
			seen.Services[body.Service] = fmt.Sprint(fact.No, " ", m.since(fact.At))
			for _, c := range body.Surfaces {
				seen.Moved[c] = fact.No
			}
		}
	}
	over := domain.FactNo(0)
	for _, f := range live {
		if b, ok := f.Body.(domain.TakenOver); ok {
			over = b.Of
		}
	}
	if over == seen.Handover {
		seen.Handover = 0
	}
	slices.Sort(seen.Waiting)
	seen.Tries, seen.Caps = m.tries(confirmed), m.caps(confirmed)
	// Tags and dangers go by the order of recording: each stands until the
	// first later release that is not withdrawn.
	seen.Tags = m.standing()
	for _, tag := range seen.Tags {
		asked, noted, off := m.lock(tag)
		seen.Locks = append(seen.Locks, fmt.Sprint(asked, " ", noted, " ", off))
	}
	for _, f := range live {
		if p, ok := f.Body.(domain.Problem); ok && p.Danger && !m.released(f.No) {
			seen.Dangers = append(seen.Dangers, f.No)
		}
	}
	slices.Sort(seen.Dangers)
	// A problem that is no danger stands until the first later "mended" of its
	// kind that is not withdrawn.
	reports := map[string][]domain.FactNo{}
	for _, fact := range live {
		problem, ok := fact.Body.(domain.Problem)
		if ok && !problem.Danger && !slices.ContainsFunc(live, func(g domain.Fact) bool {
			x, ok := g.Body.(domain.Mended)
			return ok && x.Key == problem.Key() && g.No > fact.No
		}) {
			reports[problem.Key()] = append(reports[problem.Key()], fact.No)
		}
	}
	for key, all := range reports { // any order: fills maps
		for _, f := range live {
			if b, ok := f.Body.(domain.Found); ok && b.Key == key && f.No >= slices.Min(all) {
				seen.Found[fmt.Sprint(key, " ", b.About)] = f.No
			}
		}
		seen.Problems[key] = fmt.Sprint(slices.Min(all), " ", slices.Max(all), " ", len(all))
	}
	// A test runs until it is ended, the machine is released or a tag is hung;
	// withdrawing a release starts none.
	for i, f := range m.facts {
		switch f.Body.(type) {
		case domain.UnderTest:
			seen.Test = f.No
		case domain.TestEnded, domain.Release, domain.TagOut:
			seen.Test = 0
		case domain.Withdrawal:
			// One that puts a lock on again ends it too.
			before, after := model{facts: m.facts[:i]}, model{facts: m.facts[:i+1]}
			for _, tag := range before.standing() {
				_, _, was := before.lock(tag)
				if _, _, is := after.lock(tag); was != 0 && is == 0 {
					seen.Test = 0
				}
			}
		}
	}
	return seen
}

// lock is how far the taking off of a tag's lock has come: each report that still stands
// in turn, and nothing that comes from before its lock was put on again. A report that is
// withdrawn takes with it what rests on it.
func (m model) lock(tag domain.FactNo) (asked, noted, off domain.FactNo) {
	var by domain.FactNo // the procedure by which it is off
	for _, fact := range m.facts {
		switch body := fact.Body.(type) {
		case domain.LockAsked:
			if body.Tag == tag {
				asked, noted = fact.No, 0
			}
		case domain.LockKept:
			if body.Tag == tag {
				asked, noted = 0, 0
			}
		case domain.LockProcedure:
			if body.Tag == tag {
				noted = fact.No
			}
		case domain.LockOff:
			if body.Tag == tag {
				off, by = fact.No, body.Procedure
			}
		case domain.Withdrawal:
			owners := off != 0 && by == 0
			switch {
			case body.Of == off && off != 0:
				asked, noted, off = 0, 0, 0
			case owners:
			case body.Of == asked && asked != 0:
				asked, noted, off = 0, 0, 0
			case body.Of == noted && noted != 0:
				noted, off = 0, 0
			}
		}
	}
	return asked, noted, off
}

// released reports whether there is a release after a report that is not withdrawn.
func (m model) released(after domain.FactNo) bool {
	return slices.ContainsFunc(m.live(), func(f domain.Fact) bool {
		_, ok := f.Body.(domain.Release)
		return ok && f.No > after
	})
}

// standing lists the tags that stand: not released, not pressed by mistake, and no lock
// that was off when its owner hung another.
func (m model) standing() []domain.FactNo {
	replaced := map[domain.FactNo]bool{}
	for i, fact := range m.facts {
		if b, ok := fact.Body.(domain.TagOut); !ok || b.Reason.Code != domain.LockOn {
			continue
		}
		before := model{facts: m.facts[:i]}
		for _, tag := range before.standingBut(replaced) {
			if _, _, off := before.lock(tag); off != 0 && m.facts[tag-1].For == fact.For {
				replaced[tag] = true
			}
		}
	}
	return m.standingBut(replaced)
}

// standingBut is standing, with the locks that were replaced.
func (m model) standingBut(replaced map[domain.FactNo]bool) (all []domain.FactNo) {
	for _, fact := range m.facts {
		mistake := slices.ContainsFunc(m.facts, func(g domain.Fact) bool {
			b, ok := g.Body.(domain.Mistake)
			return ok && b.Of == fact.No
		})
		if _, ok := fact.Body.(domain.TagOut); ok && !mistake && !replaced[fact.No] && !m.released(fact.No) {
			all = append(all, fact.No)
		}
	}
	return all
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
	for at, fact := range moves {
		var before, after domain.FactNo
		var said domain.HowTurned
		for _, later := range live {
			switch body := later.Body.(type) {
			case domain.Reading:
				if body.Check != "infeed" || body.Unconfirmed && !confirmed[later.No] {
					continue
				}
				switch {
				case later.No == fact.Body.(domain.Move).Reading:
					before = later.No
				case after == 0 && later.At.After(fact.At) && (at+1 == len(moves) || !later.At.After(moves[at+1].At)):
					after = later.No
				}
			case domain.MoveAnswer:
				if body.Of == fact.No {
					said = body.Said
				}
			}
		}
		all = append(all, fmt.Sprint(fact.No, " ", before, " ", after, " ", said))
	}
	return all
}

// caps puts each report of marks or stuttering beside the height of the infeed
// caps last read by then.
func (m model) caps(confirmed map[domain.FactNo]bool) (all []string) {
	live := m.live()
	for _, fact := range live {
		problem, ok := fact.Body.(domain.Problem)
		if !ok || problem.Symptom != "marks" && problem.Symptom != "stutter" {
			continue
		}
		height := ""
		for _, g := range live {
			if b, ok := g.Body.(domain.Reading); ok && b.Check == "infeed-caps" && !g.At.After(fact.At) &&
				(!b.Unconfirmed || confirmed[g.No]) {
				height = b.Values[0].Mean().String()
			}
		}
		if height != "" {
			all = append(all, fmt.Sprint(fact.No, " ", height, " ", problem.Symptom))
		}
	}
	return all
}

// unlogged is the use that a reading of the counter brings to light: what it went
// on by since the one before, less what was reported between.
func (m model) unlogged(fact domain.Fact) int64 {
	live := m.live()
	var before *domain.Fact
	for i, f := range live {
		if f.No == fact.No {
			break
		}
		if _, ok := f.Body.(domain.CounterRead); ok {
			before = &live[i]
		}
	}
	b := fact.Body.(domain.CounterRead)
	if before == nil || b.New {
		return 0
	}
	went := b.Since(before.Body.(domain.CounterRead))
	for _, f := range live {
		if h, ok := f.Body.(domain.Hours); ok && f.At.After(before.At) && !f.At.After(fact.At) {
			went -= h.Seconds
		}
	}
	return max(went, 0)
}

// gearbox is when the gearbox oil falls due, from the list of facts alone: first
// after 20 h, then each year from the last change that came in time.
func (m model) gearbox(status domain.Status, now time.Time) upkeep.Due {
	hours := func(at time.Time) quantity.Value { return quantity.New(m.since(at), 1, quantity.Second) }
	var done []upkeep.Done
	for _, f := range m.live() {
		if b, ok := f.Body.(domain.ServiceDone); ok && b.Service == "gearbox-oil" &&
			!f.At.Before(status.Machine.Added) {
			done = append(done, upkeep.Done{At: f.At, Since: hours(f.At)})
		}
	}
	svc := status.Machine.Profile.Service("gearbox-oil")
	if len(done) == 0 {
		total := int64(0)
		for _, fact := range m.live() {
			switch b := fact.Body.(type) {
			case domain.Hours:
				total += b.Seconds
			case domain.CounterRead:
				total += m.unlogged(fact)
			}
		}
		return upkeep.When(svc.First, upkeep.Use{From: upkeep.Done{At: status.Machine.Added,
			Since: quantity.New(total, 1, quantity.Second)}}, now, status.Shop.Calendar())
	}
	return upkeep.When(svc.Every, upkeep.Use{From: done[0], Done: done[1:]}, now, status.Shop.Calendar())
}

// since is the use after a moment.
func (m model) since(at time.Time) (seconds int64) {
	for _, later := range m.live() {
		if !later.At.After(at) {
			continue
		}
		switch b := later.Body.(type) {
		case domain.Hours:
			seconds += b.Seconds
		case domain.CounterRead:
			seconds += m.unlogged(later)
		}
	}
	return seconds
}

func viewOf(snap domain.Snapshot) view {
	seen := view{Latest: map[string]domain.FactNo{}, Moved: map[string]domain.FactNo{}, Services: map[string]string{},
		Events: map[string]string{}, Problems: map[string]string{}, PutOff: map[string]domain.FactNo{},
		Extended: map[string]domain.FactNo{},
		Sets:     map[string]domain.FactNo{}, Taken: map[string]domain.FactNo{},
		Found:   map[string]domain.FactNo{},
		Seconds: int64(snap.Hours.Float(quantity.Second))}
	for id, l := range snap.Latest {
		seen.Latest[id] = l.Fact
	}
	for _, w := range snap.Waiting {
		seen.Waiting = append(seen.Waiting, w.Fact)
	}
	for id, m := range snap.Moved {
		seen.Moved[id] = m.Fact
	}
	for id, l := range snap.Services {
		seen.Services[id] = fmt.Sprint(l.Fact, " ", int64(l.Since.Float(quantity.Second)))
	}
	for id, l := range snap.Events {
		seen.Events[id] = fmt.Sprint(l.Fact, " ", int64(l.Since.Float(quantity.Second)))
	}
	if c := snap.Counter; c != nil {
		seen.Counter = fmt.Sprint(c.Fact, " ", int64(c.Since.Float(quantity.Second)), " ",
			int64(c.Shown.Float(quantity.Second)))
	}
	for _, p := range snap.Problems {
		seen.Problems[p.Key] = fmt.Sprint(p.First, " ", p.Last, " ", p.Reports)
		for about, found := range p.Found { // any order: fills a map
			seen.Found[fmt.Sprint(p.Key, " ", about)] = found.Fact
		}
	}
	seen.Released = snap.Released
	if snap.Test != nil {
		seen.Test = snap.Test.Fact
	}
	if snap.Handover != nil {
		seen.Handover = snap.Handover.Fact
	}
	if snap.Loosening != nil {
		seen.Asked = snap.Loosening.Fact
	}
	if snap.Seen != nil {
		seen.SeenTo = snap.Seen.Fact
	}
	for _, x := range snap.Sets {
		seen.Sets[x.Set] = x.Fact
	}
	for id, x := range snap.PutOff {
		seen.PutOff[id] = x.Fact
	}
	for id, x := range snap.Extended {
		seen.Extended[id] = x.Fact
	}
	for id, x := range snap.Taken {
		seen.Taken[id] = x.Fact
	}
	for _, later := range snap.Tries["infeed"] {
		var before, after domain.FactNo
		if later.Before != nil {
			before = later.Before.Fact
		}
		if later.After != nil {
			after = later.After.Fact
		}
		seen.Tries = append(seen.Tries, fmt.Sprint(later.Move, " ", before, " ", after, " ", later.Said))
	}
	for _, read := range snap.Caps["infeed-caps"] {
		shown := "marks"
		if read.Stutters {
			shown = "stutter"
		}
		seen.Caps = append(seen.Caps, fmt.Sprint(read.Fact, " ", read.Height, " ", shown))
	}
	for _, d := range snap.Dangers {
		seen.Dangers = append(seen.Dangers, d.Fact)
	}
	for _, t := range snap.Tags {
		seen.Tags = append(seen.Tags, t.Fact)
		seen.Locks = append(seen.Locks, fmt.Sprint(t.Lock.Asked.Fact, " ", t.Lock.Noted.Fact, " ", t.Lock.Off.Fact))
	}
	return seen
}
