package store_test

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// model is a plain list of what was reported, from which everything is worked
// out again whenever it is asked.
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
	v := view{Latest: map[string]domain.FactNo{}, Moved: map[string]domain.FactNo{}, Services: map[string]string{},
		Events: map[string]string{}, Problems: map[string]string{}, PutOff: map[string]domain.FactNo{},
		Sets: map[string]domain.FactNo{}, Taken: map[string]domain.FactNo{}}
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
			if b, ok := g.Body.(domain.Reading); ok && b.Check == "infeed-caps" && !g.At.After(f.At) &&
				(!b.Unconfirmed || confirmed[g.No]) {
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
		return upkeep.When(svc.First, upkeep.Use{From: upkeep.Done{At: s.Machine.Added,
			Since: quantity.New(total, 1, quantity.Second)}}, now, s.Shop.Calendar())
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
	v := view{Latest: map[string]domain.FactNo{}, Moved: map[string]domain.FactNo{}, Services: map[string]string{},
		Events: map[string]string{}, Problems: map[string]string{}, PutOff: map[string]domain.FactNo{},
		Sets: map[string]domain.FactNo{}, Taken: map[string]domain.FactNo{},
		Seconds: int64(s.Hours.Float(quantity.Second))}
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
		v.Counter = fmt.Sprint(c.Fact, " ", int64(c.Since.Float(quantity.Second)), " ",
			int64(c.Shown.Float(quantity.Second)))
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
