package domain

import (
	"math/big"
	"slices"
	"strings"
	"time"

	"setscrew/domain/profile"
	"setscrew/domain/upkeep"
)

// Evenings is when stewards work on machines: on those days of the week, from a
// time of day, for a number of minutes. Without days it is not set.
type Evenings struct {
	Days    []time.Weekday   `json:",omitempty"`
	From    upkeep.TimeOfDay `json:",omitempty"`
	Minutes int              `json:",omitempty"`
}

// Quarter is how many days ahead visits are planned.
const Quarter = 91

// A visit's starting values, common practice, no source: minutes to get the tools
// out and put them away, and how many days after it falls due work without a late
// limit is done at the latest; a quarter of its interval where that is less.
const (
	VisitMinutes = 10
	SlackDays    = 14
)

// Visit is work on one machine in one evening.
type Visit struct {
	Machine MachineID `json:"machine"`
	Name    string    `json:"name"` // the machine's, as it stood
	At      time.Time `json:"at"`
	Minutes int       `json:"minutes"`         // that the machine is out of service
	Items   []Item    `json:"items"`           // services and checks, in the order in which they are done
	Early   []Item    `json:"early,omitempty"` // those of them before their windows
	Late    []Item    `json:"late,omitempty"`  // and after
	Short   bool      `json:"short,omitempty"` // the evening is too short for what is on it
}

// VisitsPlanned is a plan of visits that a steward took.
type VisitsPlanned struct {
	Visits []Visit `json:"visits"`
}

// FactKind is KindVisits.
func (VisitsPlanned) FactKind() Kind { return KindVisits }

// Proposal is a plan of visits with what it costs, in minutes.
type Proposal struct {
	Visits []Visit
	Jobs   int
	Out    int // machines are out of service
	Alone  int // they would be if each job were a visit of its own
	Bound  int // no plan with as few days outside windows has less out of service and 10 minutes for each visit together
	Cost   int // what this one has of both
	GaveUp bool
}

// Wanted is work that a machine wants within a quarter, and the days of its window,
// first moments of both.
type Wanted struct {
	Item          Item // a service or a check
	Opens, Closes time.Time
	NotBefore     bool // done before it opens it would not count
}

// Wants lists what a machine wants done within a quarter from now: each service and
// each check once, the next time that it falls due. u tells when hours of use
// will have passed; it may be nil where no service goes by them.
//
// A service's window opens so long before it falls due as its early window says,
// or a quarter of its interval, and closes with the day before its late limit
// passes; by hours, with the days by which these have a chance of one in ten. One
// without a late limit closes SlackDays, or a quarter of its interval, after it
// falls due, by hours when it has probably (nine in ten) fallen due. What a
// problem or a check asks for closes within SlackDays. What is put off opens when that runs out. Readings that went stale, or ask for screws
// to be turned, want doing from today on, those of a safety check at once. A check
// that was never read is the set-up's, not a visit's.
func Wants(st Status, u *Usage) []Wanted {
	w := wanting{cal: st.Shop.Calendar(), now: st.At, u: u}
	w.today = w.day(st.At, 0)
	var all []Wanted
	for _, s := range st.Services {
		x := w.rule(s.Due, s.Rule)
		if closes := w.day(w.today, SlackDays); len(s.Because) > 0 && (x.Closes.IsZero() || closes.Before(x.Closes)) {
			x.Opens, x.Closes, x.NotBefore = w.today, closes, false
		}
		if s.PutOff != nil && x.Opens.Before(s.PutOff.Until) {
			x.Opens = w.day(s.PutOff.Until, 0)
			if !x.Closes.IsZero() && x.Closes.Before(x.Opens) {
				x.Closes = x.Opens
			}
		}
		x.Item = ServiceItem.Of(s.Service.ID)
		all = append(all, x)
	}
	for _, k := range st.Checks {
		x := Wanted{}
		if k.Check.Every != nil {
			x = w.rule(k.Due, *k.Check.Every)
		}
		if k.Freshness == Stale || k.Freshness == Fresh && k.Advice != AdviceNone {
			closes := w.day(w.today, SlackDays)
			if k.Check.Class == profile.Safety {
				closes = w.today
			}
			if x.Closes.IsZero() || closes.Before(x.Closes) {
				x.Closes = closes
			}
			x.Opens, x.NotBefore = w.today, false
		} else if k.Freshness == Unread && k.Due.State == upkeep.NotDue {
			continue
		}
		x.Item = CheckItem.Of(k.Check.ID)
		all = append(all, x)
	}
	end := w.day(w.today, Quarter)
	return slices.DeleteFunc(all, func(x Wanted) bool { return x.Closes.IsZero() || !x.Opens.Before(end) })
}

// wanting is what windows are reckoned with.
type wanting struct {
	cal        upkeep.Days
	now, today time.Time
	u          *Usage
}

// day is the first moment of the day so many days after that of a moment.
func (w wanting) day(t time.Time, n int) time.Time {
	y, m, d := t.In(w.cal.Loc).Date()
	return upkeep.LocalTime(y, m, d+n, 0, 0, w.cal.Loc)
}

// rule is the window of what follows a rule, without a day to close where it never
// falls due.
func (w wanting) rule(d upkeep.Due, r profile.Rule) (x Wanted) {
	if d.State != upkeep.NotDue {
		x.Opens = w.today
	}
	earliest := func(to *time.Time, t time.Time) {
		if !t.IsZero() && (to.IsZero() || t.Before(*to)) {
			*to = t
		}
	}
	x.NotBefore = r.CountsAll()
	if !d.On.IsZero() {
		interval := r.Days + 30*r.Months
		early, slack := r.EarlyDays, SlackDays
		if early == 0 && !r.CountsAll() {
			early = interval / 4
		}
		if interval > 0 {
			slack = min(slack, interval/4)
		}
		earliest(&x.Opens, w.day(d.On, -early))
		switch {
		case !d.LateOn.IsZero():
			earliest(&x.Closes, w.day(d.LateOn, -1))
		case d.State != upkeep.NotDue && d.On.Before(w.today):
			earliest(&x.Closes, w.day(w.today, slack))
		default:
			earliest(&x.Closes, w.day(d.On, slack))
		}
	}
	if d.Left.Valid() {
		early := r.EarlyHours
		if !early.Valid() && !r.CountsAll() {
			early = r.Hours.Mul(big.NewRat(1, 4))
		}
		opens := d.Left
		if early.Valid() {
			opens = opens.Sub(early)
		}
		if opens.Sign() <= 0 {
			earliest(&x.Opens, w.today)
		} else {
			earliest(&x.Opens, w.u.When(opens).First)
		}
		switch {
		case r.LateHours.Valid():
			if left := d.Left.Add(r.LateHours); left.Sign() > 0 {
				earliest(&x.Closes, w.u.When(left).First)
			} else {
				earliest(&x.Closes, w.today)
			}
		case d.Left.Sign() > 0:
			earliest(&x.Closes, w.u.When(d.Left).Last)
		default:
			earliest(&x.Closes, w.day(w.today, SlackDays))
		}
	}
	if !x.Closes.IsZero() && x.Opens.IsZero() {
		x.Opens = x.Closes
	}
	if x.Opens.Before(w.today) {
		x.Opens = w.today
	}
	switch {
	case x.Closes.IsZero() || !x.Closes.Before(x.Opens):
	case x.NotBefore || x.Closes.Before(w.today):
		x.Closes = x.Opens
	default: // what it may not be late for counts more than that it is early
		x.Opens = x.Closes
	}
	return x
}

// EveningsAhead lists the shop's evenings within a quarter from a moment, by when
// they begin; those on days on which it is closed are left out.
func (s Shop) EveningsAhead(now time.Time) []time.Time {
	var all []time.Time
	cal := s.Calendar()
	y, m, d := now.In(cal.Loc).Date()
	for n := range Quarter {
		at := s.Evenings.From.On(y, m, d+n, cal.Loc)
		if slices.Contains(s.Evenings.Days, at.Weekday()) && cal.IsOpen(at) && !at.Before(now) && len(all) < upkeep.MostEvenings {
			all = append(all, at)
		}
	}
	return all
}

// ProposeVisits plans visits for what machines want; see upkeep.PlanVisits. wants
// are those of each machine. A machine with more than upkeep.MostVisitJobs wants is
// planned with those that close first.
func ProposeVisits(shop Shop, machines []Status, wants [][]Wanted, now time.Time) (Proposal, error) {
	evenings := shop.EveningsAhead(now)
	p := upkeep.VisitProblem{Visit: VisitMinutes}
	loc := shop.Location()
	dayOf := func(t time.Time) int {
		a, b := t.In(loc), now.In(loc)
		return int(time.Date(a.Year(), a.Month(), a.Day(), 0, 0, 0, 0, time.UTC).Sub(time.Date(b.Year(), b.Month(), b.Day(), 0, 0, 0, 0, time.UTC)).Hours() / 24)
	}
	for _, e := range evenings {
		p.Evenings = append(p.Evenings, upkeep.Evening{Day: dayOf(e), Minutes: shop.Evenings.Minutes})
	}
	preps := map[string]int{}
	var of []Wanted
	alone := 0
	for m, st := range machines {
		mine := slices.Clone(wants[m])
		if len(evenings) > 0 {
			mine = slices.DeleteFunc(mine, func(w Wanted) bool { return dayOf(w.Opens) > p.Evenings[len(p.Evenings)-1].Day })
		}
		if len(mine) > upkeep.MostVisitJobs {
			slices.SortStableFunc(mine, func(a, b Wanted) int { return a.Closes.Compare(b.Closes) })
			mine = mine[:upkeep.MostVisitJobs]
		}
		first := len(p.Jobs)
		for _, w := range mine {
			job := workOf(st.Machine.Profile, w.Item)
			j := upkeep.VisitJob{Machine: m, Opens: dayOf(w.Opens), Closes: dayOf(w.Closes), NotBefore: w.NotBefore, Minutes: job.minutes}
			alone += job.minutes
			for _, x := range job.preps {
				key := st.Machine.Name + "/" + x.what
				if _, ok := preps[key]; !ok {
					preps[key] = len(p.Prep)
					p.Prep = append(p.Prep, x.minutes)
				}
				j.Prep = append(j.Prep, preps[key])
				alone += x.minutes
			}
			p.Jobs, of = append(p.Jobs, j), append(of, w)
		}
		for a := first; a < len(p.Jobs); a++ {
			for b := first; b < len(p.Jobs); b++ {
				if a != b && comesAfter(st.Machine.Profile, of[a].Item, of[b].Item) {
					p.Jobs[a].After = append(p.Jobs[a].After, b)
				}
			}
		}
	}
	plan, err := upkeep.PlanVisits(p)
	if err != nil {
		return Proposal{}, err
	}
	out := Proposal{Jobs: len(p.Jobs), Out: plan.Out, Alone: alone, Bound: plan.Bound, Cost: plan.Cost, GaveUp: plan.GaveUp}
	for e, at := range evenings {
		for m, st := range machines {
			v := Visit{Machine: st.Machine.ID, Name: st.Machine.Name, At: at, Short: slices.Contains(plan.Overfull, e)}
			for j, w := range of {
				if p.Jobs[j].Machine == m && plan.At[j] == e {
					v.Items = append(v.Items, w.Item)
					switch day := p.Evenings[e].Day; {
					case day < p.Jobs[j].Opens:
						v.Early = append(v.Early, w.Item)
					case day > p.Jobs[j].Closes:
						v.Late = append(v.Late, w.Item)
					}
				}
			}
			if len(v.Items) > 0 {
				v.Items = InOrder(st.Machine.Profile, v.Items)
				v.Minutes = MinutesOf(st.Machine.Profile, v.Items)
				out.Visits = append(out.Visits, v)
			}
		}
	}
	return out, nil
}

// doing is how long something takes, and what is prepared for it.
type doing struct {
	minutes int
	preps   []prepared
}

type prepared struct {
	what    string
	minutes int
}

// workOf looks up a service or a check by its item.
func workOf(p *profile.Profile, item Item) doing {
	var d doing
	add := func(what string, minutes int) { d.preps = append(d.preps, prepared{what, minutes}) }
	if s := p.Service(item.ID); item.Kind == ServiceItem && s != nil {
		d.minutes = s.Minutes
		if s.Isolated {
			add("isolation", p.Minutes.Isolation)
		}
		for _, x := range s.Off {
			add("off/"+x, p.Minutes.Cover)
		}
		if s.Material != "" {
			add("material/"+s.Material, p.Minutes.Material)
		}
	}
	if k := p.Check(item.ID); item.Kind == CheckItem && k != nil {
		d.minutes = k.Minutes
		if k.Isolated {
			add("isolation", p.Minutes.Isolation)
		}
		if !k.Inspection {
			add("gauge/"+k.Gauge+" on "+strings.Join(k.From, ", "), p.Minutes.Gauge)
		}
	}
	return d
}

// comesAfter reports whether one piece of work is done after another: a check after
// those that it is measured from, and after services that move any of them or
// itself.
func comesAfter(p *profile.Profile, one, other Item) bool {
	if one.Kind != CheckItem {
		return false
	}
	datums := p.Datums(one.ID)
	if other.Kind == CheckItem {
		return slices.Contains(datums[1:], other.ID)
	}
	s := p.Service(other.ID)
	return s != nil && slices.ContainsFunc(s.Surfaces, func(c string) bool { return slices.Contains(datums, c) })
}

// InOrder puts services and checks into the order in which one visit does them: what
// is isolated first, what runs last; otherwise services as the profile lists them,
// then checks along the reference chain; each after what it comes after.
func InOrder(p *profile.Profile, items []Item) []Item {
	chain := chainOrder(p)
	rank := func(item Item) int {
		stage, at := 1, 0
		if s := p.Service(item.ID); item.Kind == ServiceItem && s != nil {
			at = slices.IndexFunc(p.Services, func(x profile.Service) bool { return x.ID == item.ID })
			if s.Isolated {
				stage = 0
			}
		} else if k := p.Check(item.ID); k != nil {
			at = 1000 + slices.Index(chain, item.ID)
			switch {
			case k.Running:
				stage = 2
			case k.Isolated:
				stage = 0
			}
		}
		return 10_000*stage + at
	}
	left := slices.Clone(items)
	slices.SortStableFunc(left, func(a, b Item) int { return rank(a) - rank(b) })
	var order []Item
	for len(left) > 0 {
		i := max(slices.IndexFunc(left, func(a Item) bool {
			return !slices.ContainsFunc(left, func(b Item) bool { return a != b && comesAfter(p, a, b) })
		}), 0)
		order = append(order, left[i])
		left = slices.Delete(left, i, i+1)
	}
	return order
}

// MinutesOf is how long a machine is out of service for services and checks in one
// visit.
func MinutesOf(p *profile.Profile, items []Item) int {
	sum := 0
	had := map[string]bool{}
	for _, item := range items {
		d := workOf(p, item)
		sum += d.minutes
		for _, x := range d.preps {
			if !had[x.what] {
				had[x.what] = true
				sum += x.minutes
			}
		}
	}
	return sum
}

// DoneSince reports whether a service or check of a visit was done at a moment or
// later, and by which report.
func DoneSince(st Status, item Item, since time.Time) (FactNo, bool) {
	if s := st.Service(item.ID); item.Kind == ServiceItem && s != nil {
		return s.Last.Fact, s.Last.Fact != 0 && !s.Last.At.Before(since)
	}
	if k := st.Check(item.ID); item.Kind == CheckItem && k != nil {
		return k.Latest.Fact, k.Latest.Fact != 0 && !k.Latest.At.Before(since)
	}
	return 0, false
}
