package domain

import (
	"fmt"
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

// KindVisits is the kind of a VisitsPlanned.
const KindVisits Kind = "visits"

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
	// no plan with as few days outside windows has less out of service and 10 minutes for each visit together
	Bound  int
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
// problem or a check asks for closes within SlackDays. What is put off opens when that runs out. Readings that went
// stale, or ask for screws
// to be turned, want doing from today on, those of a safety check at once. A check
// that was never read is the set-up's, not a visit's.
func Wants(st Status, u *Usage) []Wanted {
	window := wanting{cal: st.Shop.Calendar(), now: st.At, u: u}
	window.today = window.cal.Midnight(st.At, 0)
	// Services: what asked for one, or put one off, changes the window that its rule gives.
	var all []Wanted
	for _, service := range st.Services {
		wanted := window.rule(service.Due, service.Rule)
		if closes := window.cal.Midnight(window.today, SlackDays); len(service.Because) > 0 &&
			(wanted.Closes.IsZero() || closes.Before(wanted.Closes)) {
			wanted.Opens, wanted.Closes, wanted.NotBefore = window.today, closes, false
		}
		if service.PutOff != nil && wanted.Opens.Before(service.PutOff.Until) {
			wanted.Opens = window.cal.Midnight(service.PutOff.Until, 0)
			if !wanted.Closes.IsZero() && wanted.Closes.Before(wanted.Opens) {
				wanted.Closes = wanted.Opens
			}
		}
		wanted.Item = ServiceItem.Of(service.Service.ID)
		all = append(all, wanted)
	}
	// Checks: what is stale or out of true is wanted now, whatever the rule says.
	for _, check := range st.Checks {
		wanted := Wanted{}
		if check.Rule() != nil {
			wanted = window.rule(check.Due, *check.Rule())
		}
		if check.Freshness == Stale || check.Freshness == Fresh && check.Advice != AdviceNone {
			closes := window.cal.Midnight(window.today, SlackDays)
			if check.Check.Class == profile.Safety {
				closes = window.today
			}
			if wanted.Closes.IsZero() || closes.Before(wanted.Closes) {
				wanted.Closes = closes
			}
			wanted.Opens, wanted.NotBefore = window.today, false
		} else if check.Freshness == Unread && check.Due.State == upkeep.NotDue {
			continue
		}
		wanted.Item = CheckItem.Of(check.Check.ID)
		all = append(all, wanted)
	}
	// Leave out what never falls due, and what opens after the quarter.
	end := window.cal.Midnight(window.today, Quarter)
	return slices.DeleteFunc(all, func(x Wanted) bool { return x.Closes.IsZero() || !x.Opens.Before(end) })
}

// wanting is what windows are reckoned with.
type wanting struct {
	cal        upkeep.Days
	now, today time.Time
	u          *Usage
}

// rule is the window of what follows a rule, without a day to close where it never
// falls due.
func (w wanting) rule(due upkeep.Due, rule profile.Rule) (wanted Wanted) {
	// What is due already can be done today.
	if due.State != upkeep.NotDue {
		wanted.Opens = w.today
	}
	// A rule by days and by hours falls due by whichever comes first.
	earliest := func(to *time.Time, t time.Time) {
		if !t.IsZero() && (to.IsZero() || t.Before(*to)) {
			*to = t
		}
	}
	wanted.NotBefore = rule.CountsAll()
	// By days: open early enough, close before the work is late.
	if !due.On.IsZero() {
		interval := rule.Days + 30*rule.Months
		early, slack := rule.EarlyDays, SlackDays
		if early == 0 && !rule.CountsAll() {
			early = interval / 4
		}
		if interval > 0 {
			slack = min(slack, interval/4)
		}
		earliest(&wanted.Opens, w.cal.Midnight(due.On, -early))
		switch {
		case !due.LateOn.IsZero():
			earliest(&wanted.Closes, w.cal.Midnight(due.LateOn, -1))
		case due.State != upkeep.NotDue && due.On.Before(w.today):
			earliest(&wanted.Closes, w.cal.Midnight(w.today, slack))
		default:
			earliest(&wanted.Closes, w.cal.Midnight(due.On, slack))
		}
	}
	// By hours: the same with forecast days, closing cautiously where a late limit exists.
	if due.Left.Valid() {
		early := rule.EarlyHours
		if !early.Valid() && !rule.CountsAll() {
			early = rule.Hours.Mul(big.NewRat(1, 4))
		}
		opens := due.Left
		if early.Valid() {
			opens = opens.Sub(early)
		}
		if opens.Sign() <= 0 {
			earliest(&wanted.Opens, w.today)
		} else {
			earliest(&wanted.Opens, w.u.When(opens).First)
		}
		switch {
		case rule.LateHours.Valid():
			if left := due.Left.Add(rule.LateHours); left.Sign() > 0 {
				earliest(&wanted.Closes, w.u.When(left).First)
			} else {
				earliest(&wanted.Closes, w.today)
			}
		case due.Left.Sign() > 0:
			earliest(&wanted.Closes, w.u.When(due.Left).Last)
		default:
			earliest(&wanted.Closes, w.cal.Midnight(w.today, SlackDays))
		}
	}
	// Make a window of it that does not begin in the past or end before it begins.
	if !wanted.Closes.IsZero() && wanted.Opens.IsZero() {
		wanted.Opens = wanted.Closes
	}
	if wanted.Opens.Before(w.today) {
		wanted.Opens = w.today
	}
	switch {
	case wanted.Closes.IsZero() || !wanted.Closes.Before(wanted.Opens):
	case wanted.NotBefore || wanted.Closes.Before(w.today):
		wanted.Closes = wanted.Opens
	default: // what it may not be late for counts more than that it is early
		wanted.Opens = wanted.Closes
	}
	return wanted
}

// EveningsAhead lists the shop's evenings within a quarter from a moment, by when
// they begin, at most upkeep.MostEvenings; those on days on which it is closed are left
// out.
func (s Shop) EveningsAhead(now time.Time) []time.Time {
	var all []time.Time
	cal := s.Calendar()
	for later := range Quarter {
		at := s.on(s.Evenings.From, now, later)
		if slices.Contains(s.Evenings.Days, at.Weekday()) && cal.IsOpen(at) && !at.Before(now) &&
			len(all) < upkeep.MostEvenings {
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
	problem := upkeep.VisitProblem{Visit: VisitMinutes}
	loc := shop.Location()
	// Whole days from today; in UTC, where every day has 24 hours.
	dayOf := func(t time.Time) int {
		day, today := t.In(loc), now.In(loc)
		return int(time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, time.UTC).
			Sub(time.Date(today.Year(), today.Month(), today.Day(), 0, 0, 0, 0, time.UTC)).Hours() / 24)
	}
	for _, begin := range evenings {
		problem.Evenings = append(problem.Evenings, upkeep.Evening{Day: dayOf(begin), Minutes: shop.Evenings.Minutes})
	}
	// Turn wants into jobs; one preparation of a machine serves every job that needs it.
	preps := map[string]int{}
	var of []Wanted
	alone := 0
	for machine, st := range machines {
		// What opens after the last evening is left out; of too many, what closes first stays.
		mine := slices.Clone(wants[machine])
		if len(evenings) > 0 {
			mine = slices.DeleteFunc(mine,
				func(w Wanted) bool { return dayOf(w.Opens) > problem.Evenings[len(problem.Evenings)-1].Day })
		}
		if len(mine) > upkeep.MostVisitJobs {
			slices.SortStableFunc(mine, func(a, b Wanted) int { return a.Closes.Compare(b.Closes) })
			mine = mine[:upkeep.MostVisitJobs]
		}
		first := len(problem.Jobs)
		for _, wanted := range mine {
			job := workOf(st.Machine.Profile, wanted.Item)
			work := upkeep.VisitJob{
				Machine:   machine,
				Opens:     dayOf(wanted.Opens),
				Closes:    dayOf(wanted.Closes),
				NotBefore: wanted.NotBefore,
				Minutes:   job.minutes,
			}
			alone += job.minutes
			for _, prep := range job.preps {
				key := st.Machine.Name + "/" + prep.what
				if _, ok := preps[key]; !ok {
					preps[key] = len(problem.Prep)
					problem.Prep = append(problem.Prep, prep.minutes)
				}
				work.Prep = append(work.Prep, preps[key])
				alone += prep.minutes
			}
			problem.Jobs, of = append(problem.Jobs, work), append(of, wanted)
		}
		// Say which jobs of the machine wait for others of it.
		for later := first; later < len(problem.Jobs); later++ {
			for earlier := first; earlier < len(problem.Jobs); earlier++ {
				if later != earlier && comesAfter(st.Machine.Profile, of[later].Item, of[earlier].Item) {
					problem.Jobs[later].After = append(problem.Jobs[later].After, earlier)
				}
			}
		}
	}
	// Let the planner share the jobs out, and say how good the result is.
	plan, err := upkeep.PlanVisits(problem)
	if err != nil {
		return Proposal{}, fmt.Errorf("share the work out among the evenings: %w", err)
	}
	out := Proposal{
		Jobs:   len(problem.Jobs),
		Out:    plan.Out,
		Alone:  alone,
		Bound:  plan.Bound,
		Cost:   plan.Cost,
		GaveUp: plan.GaveUp,
	}
	// A visit is what one machine has on one evening, in the order in which it is done.
	for evening, at := range evenings {
		for machine, st := range machines {
			visit := Visit{Machine: st.Machine.ID, Name: st.Machine.Name, At: at,
				Short: slices.Contains(plan.Overfull, evening)}
			for j, wanted := range of {
				if problem.Jobs[j].Machine == machine && plan.At[j] == evening {
					visit.Items = append(visit.Items, wanted.Item)
					switch day := problem.Evenings[evening].Day; {
					case day < problem.Jobs[j].Opens:
						visit.Early = append(visit.Early, wanted.Item)
					case day > problem.Jobs[j].Closes:
						visit.Late = append(visit.Late, wanted.Item)
					}
				}
			}
			if len(visit.Items) > 0 {
				visit.Items = InOrder(st.Machine.Profile, visit.Items)
				visit.Minutes = MinutesOf(st.Machine.Profile, visit.Items)
				out.Visits = append(out.Visits, visit)
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
func workOf(prof *profile.Profile, item Item) doing {
	var work doing
	add := func(what string, minutes int) { work.preps = append(work.preps, prepared{what, minutes}) }
	if service := prof.Service(item.ID); item.Kind == ServiceItem && service != nil {
		work.minutes = service.Minutes
		if service.Isolated {
			add("isolation", prof.Minutes.Isolation)
		}
		for _, cover := range service.Off {
			add("off/"+cover, prof.Minutes.Cover)
		}
		if service.Material != "" {
			add("material/"+service.Material, prof.Minutes.Material)
		}
	}
	if check := prof.Check(item.ID); item.Kind == CheckItem && check != nil {
		work.minutes = check.Minutes
		if check.Isolated {
			add("isolation", prof.Minutes.Isolation)
		}
		if !check.Inspection {
			add("gauge/"+check.Gauge+" on "+strings.Join(check.From, ", "), prof.Minutes.Gauge)
		}
	}
	return work
}

// comesAfter reports whether one piece of work is done after another: a check after
// those that it is measured from, and after services that move any of them or
// itself.
func comesAfter(prof *profile.Profile, one, other Item) bool {
	if one.Kind != CheckItem {
		return false
	}
	datums := prof.Datums(one.ID)
	if other.Kind == CheckItem {
		return slices.Contains(datums[1:], other.ID)
	}
	s := prof.Service(other.ID)
	return s != nil && slices.ContainsFunc(s.Surfaces, func(c string) bool { return slices.Contains(datums, c) })
}

// InOrder puts services and checks into the order in which one visit does them: what
// is isolated first, what runs last; otherwise services as the profile lists them,
// then checks along the reference chain; each after what it comes after.
func InOrder(prof *profile.Profile, items []Item) []Item {
	chain := chainOrder(prof)
	rank := func(item Item) int {
		stage, at := 1, 0
		if s := prof.Service(item.ID); item.Kind == ServiceItem && s != nil {
			at = slices.IndexFunc(prof.Services, func(x profile.Service) bool { return x.ID == item.ID })
			if s.Isolated {
				stage = 0
			}
		} else if check := prof.Check(item.ID); check != nil {
			at = 1000 + slices.Index(chain, item.ID)
			switch {
			case check.Running:
				stage = 2
			case check.Isolated:
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
			return !slices.ContainsFunc(left, func(b Item) bool { return a != b && comesAfter(prof, a, b) })
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
