package domain

import (
	"cmp"
	"math"
	"math/big"
	"slices"
	"strings"
	"time"

	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// Assess judges a machine: what its readings say, which are stale, what is due,
// whether it must be tagged out and why, and what a release still needs. The
// same snapshot and moment always give the same status.
func Assess(snap Snapshot, now time.Time) Status {
	given := snap
	s := Status{
		known: &given, At: now, Shop: snap.Shop, Machine: snap.Machine, Hours: snap.Hours,
		Tags: snap.Tags, Outage: snap.Outage, Waiting: snap.Waiting, Dangers: snap.Dangers,
		Problems: snap.Problems, Needs: snap.Needs, NeededBy: snap.NeededBy, Handover: snap.Handover, Sets: sets(snap.Sets), Fits: fits(snap), Events: snap.Events, Mends: snap.Mends, Test: snap.Test, Counter: snap.Counter,
		Starting: snap.Machine.Setup.StartingValues(snap.Machine.Profile),
	}
	if r, ok := reporting(snap, now); ok {
		s.Reporting = &r
		snap = scaled(snap, r.Ratio)
	}
	p := snap.Machine.Profile
	days := snap.Shop.Calendar()
	for i := range p.Checks {
		s.Checks = append(s.Checks, assessCheck(snap, &p.Checks[i], now, days))
	}
	for i := range s.Checks {
		s.Checks[i].Predicted = predict(s, &s.Checks[i], snap.Moved)
	}
	for i := range p.Services {
		if svc := &p.Services[i]; svc.Recurs() {
			s.Services = append(s.Services, assessService(snap, svc, now, days))
		}
	}
	slices.SortStableFunc(s.Services, func(a, b ServiceStatus) int {
		if c := cmp.Compare(b.Due.State, a.Due.State); c != 0 {
			return c
		}
		return cmp.Compare(a.share(now), b.share(now))
	})
	s.Over = over(s, snap)
	s.MustTag = mustTag(s)
	s.Blockers = blockers(s)
	s.Wake = nextWake(s)
	return s
}

func assessCheck(snap Snapshot, c *profile.Check, now time.Time, days upkeep.Days) CheckStatus {
	cs := CheckStatus{Check: c}
	latest, read := snap.Latest[c.ID]
	since := snap.Machine.Added
	if read {
		cs.Latest, cs.Freshness, since = latest, Fresh, latest.At
		if latest.Reading != nil {
			c = c.In(latest.Reading.Mode)
			cs.Check = c
		}
		for _, id := range snap.Machine.Profile.Datums(c.ID) {
			if m, ok := snap.Moved[id]; ok && m.At.After(latest.At) && m.At.After(cs.StaleBy.At) {
				cs.Freshness, cs.StaleFrom, cs.StaleBy = Stale, id, m
			}
		}
	}
	if c.Every != nil {
		cs.Due = upkeep.When(*c.Every, upkeep.Use{From: upkeep.Done{At: since}}, now, days)
	}
	switch {
	case !read:
	case latest.Inspection != nil:
		cs.Failed = !latest.Inspection.Pass
		cs.Unseconded = !cs.Failed && snap.Machine.Setup.Second[c.ID] && latest.Inspection.Confirms == 0
		if cs.Failed && c.Class == profile.Safety && cs.Freshness == Fresh {
			cs.Advice = AdviceStop
		}
	default:
		judge(&cs, latest.Reading)
		if cs.Freshness == Fresh {
			cs.Advice = advise(cs)
		}
	}
	return cs
}

// judge fills in the verdicts of a reading's positions and of their
// differences, and the worst grade among them.
func judge(cs *CheckStatus, r *Reading) {
	c := cs.Check
	means := make([]quantity.Value, len(r.Values))
	g := r.Gauge.Gauge
	for i, at := range r.Values {
		means[i] = at.Mean()
		repeats := describe(at, r.Gauge)
		b := metrology.Evaluate(g, len(at.Repeats), repeats.S, Level)
		v := metrology.Assess(means[i], b.U(), c.Adjust, c.Stop)
		cs.At = append(cs.At, PositionVerdict{at.Position, v, b, repeats})
		cs.Grade = max(cs.Grade, v.Grade)
	}
	if len(means) > 1 && (c.AlikeAdjust.Valid() || c.AlikeStop.Valid()) {
		lo, hi := metrology.Extremes(means)
		b, shared := metrology.Difference(cs.At[lo].Budget, cs.At[hi].Budget)
		v := metrology.Assess(means[hi].Sub(means[lo]), b.U(), metrology.Limits{High: c.AlikeAdjust}, metrology.Limits{High: c.AlikeStop})
		cs.Alike = &AlikeVerdict{v, b, shared, r.Values[lo].Position, r.Values[hi].Position}
		cs.Grade = max(cs.Grade, v.Grade)
	}
}

// Level is the coverage probability at which something counts as proved.
const Level = 0.95

// describe works out the mean and spread of the repeats at one position.
func describe(at quantity.At, g GaugeUsed) metrology.Repeats {
	if len(at.Repeats) == 1 {
		return metrology.Repeats{N: 1, Mean: at.Repeats[0].Float(quantity.Base(at.Repeats[0].Kind())), Outlier: -1}
	}
	values := make([]float64, len(at.Repeats))
	for i, v := range at.Repeats {
		values[i] = v.Float(quantity.Base(v.Kind()))
	}
	step := 0.0
	if g.Resolution.Valid() {
		step = g.Resolution.Float(quantity.Base(g.Resolution.Kind()))
	}
	return metrology.Describe(values, step)
}

// advise is DESIGN's table of verdicts for a dimension.
func advise(cs CheckStatus) Advice {
	switch cs.Grade {
	case metrology.Stop:
		return AdviceStop
	case metrology.MaybeStop:
		if cs.Check.Class != profile.Safety {
			return AdviceMeasure
		}
		if outsideStop(cs) {
			return AdviceStop
		}
		return AdviceMeasureToday
	case metrology.Adjust:
		return AdvicePlan
	}
	return AdviceNone
}

// outsideStop reports whether any value lies outside its stop limits, proved or
// not.
func outsideStop(cs CheckStatus) bool {
	if cs.Alike != nil && !cs.Alike.Verdict.InsideStop {
		return true
	}
	return slices.ContainsFunc(cs.At, func(p PositionVerdict) bool { return !p.Verdict.InsideStop })
}

func assessService(snap Snapshot, svc *profile.Service, now time.Time, days upkeep.Days) ServiceStatus {
	s := ServiceStatus{Service: svc, Began: LastService{At: snap.Machine.Added, Since: snap.Hours}}
	if e, ok := snap.Events[svc.After]; ok && svc.After != "" {
		s.Began = e
	}
	from := s.Began
	if last, done := snap.Services[svc.ID]; done && !last.At.Before(s.Began.At) {
		s.Last, from, s.Rule = last, last, svc.Every
	} else if s.Rule = svc.First; !s.Rule.Recurs() {
		s.Rule = svc.Every
	}
	if s.Rule.Recurs() {
		use := upkeep.Use{From: counted(from)}
		if s.Rule.CountsAll() && s.Last.Fact != 0 {
			use = allDone(snap.Done[svc.ID], s)
		}
		s.Due = upkeep.When(s.Rule, use, now, days)
		s.TooEarly = len(use.Done) > 0 && s.Due.Counted < len(use.Done)-1
	}
	s.trigger(snap)
	if p, ok := snap.PutOff[svc.ID]; ok && !p.At.Before(s.From().At) {
		if now.Before(p.Until) {
			s.PutOff = &p
		} else {
			s.Lapsed = p.Fact
		}
	}
	if k, ok := snap.Taken[svc.ID]; ok && !k.At.Before(s.From().At) {
		s.Taken = &k
	}
	return s
}

// scaled is a snapshot with the hours reported since the counter was last read,
// or all of them where the ratio is another machine's, taken for so many times as
// many.
func scaled(snap Snapshot, ratio float64) Snapshot {
	if snap.Counter == nil && snap.Like == "" || ratio <= 1 {
		return snap
	}
	more := big.NewRat(int64(math.Round((ratio-1)*1e6)), 1_000_000)
	lately := snap.Hours
	if snap.Counter != nil {
		lately = snap.Counter.Since
	}
	add := func(since quantity.Value) quantity.Value {
		part := since
		if part.Cmp(lately) > 0 {
			part = lately
		}
		return since.Add(part.Mul(more))
	}
	each := func(all map[string]LastService) map[string]LastService {
		out := map[string]LastService{}
		// any order: fills a map
		for id, l := range all {
			l.Since = add(l.Since)
			out[id] = l
		}
		return out
	}
	snap.Services, snap.Events = each(snap.Services), each(snap.Events)
	done := map[string][]LastService{}
	// any order: fills a map
	for id, all := range snap.Done {
		for _, l := range all {
			l.Since = add(l.Since)
			done[id] = append(done[id], l)
		}
	}
	snap.Done = done
	snap.Hours = add(snap.Hours)
	return snap
}

func counted(l LastService) upkeep.Done {
	return upkeep.Done{At: l.At, Since: l.Since, Asked: l.Asked}
}

// allDone is what a rule is counted from that counts every time: everything done
// since counting began. Where a first rule comes before, its time counts whatever it was.
func allDone(all []LastService, s ServiceStatus) upkeep.Use {
	if len(all) == 0 {
		return upkeep.Use{From: counted(s.Last)}
	}
	use := upkeep.Use{From: counted(s.Began)}
	for _, l := range all {
		switch {
		case l.At.Before(s.Began.At):
		case s.Service.First.Recurs() && use.From == counted(s.Began):
			use.From = counted(l)
		default:
			use.Done = append(use.Done, counted(l))
		}
	}
	return use
}

// trigger makes a service due that is to be done on a problem, or on a check
// outside its adjust limits, from when that was reported until it is done.
func (s *ServiceStatus) trigger(snap Snapshot) {
	because := func(at time.Time, fact FactNo, name string) {
		if s.Last.Fact != 0 && !at.After(s.Last.At) {
			return
		}
		s.Because = append(s.Because, Trigger{name, at, fact})
		s.Due.State = max(s.Due.State, upkeep.DueNow)
		s.Due.Open = true
	}
	for _, id := range s.Service.OnProblems {
		for _, p := range snap.Problems {
			if p.Key == id {
				because(p.LastAt, p.Last, p.Name)
			}
		}
	}
	for _, id := range s.Service.OnChecks {
		c := snap.Machine.Profile.Check(id)
		l, read := snap.Latest[id]
		if c == nil || !read {
			continue
		}
		cs := CheckStatus{Check: c, Latest: l}
		switch {
		case l.Inspection != nil && !l.Inspection.Pass:
			because(l.At, l.Fact, c.Name)
		case l.Reading != nil:
			cs.Check = c.In(l.Reading.Mode)
			if judge(&cs, l.Reading); cs.Grade >= metrology.Adjust {
				because(l.At, l.Fact, c.Name)
			}
		}
	}
}

// predict is what a stale check is to be expected to read now that the check
// that it follows has been read again:
//
//	reading + (datum now - datum then), with - for an opposite
//
// where a datum's value is the greatest at the positions followed.
func predict(s Status, cs *CheckStatus, moved map[string]Moved) []quantity.Value {
	f := cs.Check.Follows
	if f == nil || cs.Freshness != Stale || cs.Latest.Reading.Datum == nil {
		return nil
	}
	for _, id := range s.Machine.Profile.Datums(cs.Check.ID) {
		if id != f.Check && moved[id].At.After(cs.Latest.At) {
			return nil // something else moved too
		}
	}
	datum := s.Check(f.Check)
	if datum.Freshness != Fresh || datum.Latest.Reading == nil {
		return nil
	}
	var all []quantity.Value
	for i, at := range cs.Latest.Reading.Values {
		shift := Greatest(datum.Latest.Reading.Values, at.Position).Sub(cs.Latest.Reading.Datum.Greatest[i])
		if f.Opposite {
			shift = shift.Neg()
		}
		all = append(all, at.Mean().Add(shift))
	}
	return all
}

// Greatest is the greatest of the values at the positions whose names end with
// one, or of all where none does.
func Greatest(values []quantity.At, position string) quantity.Value {
	var most quantity.Value
	take := func(all bool) {
		for _, at := range values {
			if (all || strings.HasSuffix(" "+at.Position, " "+position)) && (!most.Valid() || at.Mean().Cmp(most) > 0) {
				most = at.Mean()
			}
		}
	}
	if take(false); !most.Valid() {
		take(true)
	}
	return most
}

// share is how much of the interval is left, the least by hours or by days.
func (s ServiceStatus) share(now time.Time) float64 {
	left := 1.0
	if s.Due.Left.Valid() {
		f, _ := s.Due.Left.Per(s.Rule.Hours).Float64()
		left = min(left, f)
	}
	if days := float64(s.Rule.Days) + 30*float64(s.Rule.Months); !s.Due.On.IsZero() {
		// By the clocks on the wall, which a change of them does not make a day shorter.
		wall := func(t time.Time) time.Time {
			t = t.In(s.Due.On.Location())
			return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), time.UTC)
		}
		left = min(left, wall(s.Due.On).Sub(wall(now)).Hours()/24/max(days, 1))
	}
	return left
}

// mustTag lists what demands a tag and has none standing.
func mustTag(s Status) []TagCause {
	var causes []TagCause
	add := func(key string, because FactNo, r Reason) {
		stands := slices.ContainsFunc(s.Tags, func(t Tag) bool { return t.Cause == key })
		if !stands && !slices.ContainsFunc(causes, func(c TagCause) bool { return c.Key == key }) {
			causes = append(causes, TagCause{key, because, r})
		}
	}
	for _, cs := range s.Checks {
		c := cs.Check
		if cs.Advice == AdviceStop {
			add(outsideStopKey(c.ID), cs.Latest.Fact, stopReason(s, cs))
		}
		if c.Class == profile.Safety && cs.StaleFrom == c.ID {
			add(movedKey(cs.StaleBy.Fact), cs.StaleBy.Fact, Reason{Code: SurfaceMoved, Name: movedBy(s, cs.StaleBy.Fact)})
		}
		if c.Inspection && c.Class == profile.Safety && cs.Due.State == upkeep.Late {
			add(overdueKey(CheckItem.Of(c.ID)), cs.Latest.Fact, Reason{Code: CheckOverdue, Name: c.Name})
		}
	}
	for _, sv := range s.Services {
		if sv.Service.Class == profile.SafetyService && sv.Due.State == upkeep.Late {
			add(overdueKey(ServiceItem.Of(sv.Service.ID)), sv.From().Fact, Reason{Code: ServiceOverdue, Name: sv.Service.Name})
		}
	}
	for _, d := range s.Dangers {
		add(dangerKey(d.Problem), d.Fact, Reason{Code: DangerSeen, Name: d.Problem.Name, Text: d.Problem.Note})
	}
	return causes
}

// movedBy names the safety checks whose own surfaces a report moved.
func movedBy(s Status, fact FactNo) string {
	var names []string
	for _, cs := range s.Checks {
		if cs.Check.Class == profile.Safety && cs.StaleFrom == cs.Check.ID && cs.StaleBy.Fact == fact {
			names = append(names, cs.Check.Name)
		}
	}
	return strings.Join(names, ", ")
}

// stopReason says which value of a check passed which stop limit.
func stopReason(s Status, cs CheckStatus) Reason {
	c := cs.Check
	units := s.Machine.UnitsIn(s.Shop)
	r := Reason{Name: c.Name, Units: units, Unit: c.Entry[units], Decimals: c.Decimals[units]}
	if c.Inspection {
		r.Code, r.Text = FailedCheck, cs.Latest.Inspection.Note
		return r
	}
	worst := metrology.MaybeStop
	for _, p := range cs.At {
		v := p.Verdict
		if v.Grade < worst || v.InsideStop || r.Code != "" && v.Grade == worst {
			continue
		}
		worst = v.Grade
		r.Code, r.Position, r.Value = MaybeStop, p.Position, v.Value
		if v.Grade == metrology.Stop {
			r.Code = OutsideStop
		}
		r.Limit = v.Stop.Low
		if v.Stop.High.Valid() && v.Value.Cmp(v.Stop.High) > 0 {
			r.Limit = v.Stop.High
		}
	}
	if a := cs.Alike; a != nil && !a.Verdict.InsideStop && (r.Code == "" || a.Verdict.Grade > worst) {
		r.Code, r.Position = MaybeUnlike, a.Low+", "+a.High
		if a.Verdict.Grade == metrology.Stop {
			r.Code = TooUnlike
		}
		r.Value, r.Limit = a.Verdict.Value, c.AlikeStop
	}
	return r
}

// blockers lists what a release still needs.
func blockers(s Status) []Blocker {
	var b []Blocker
	for _, cs := range s.Checks {
		c := cs.Check
		add := func(code BlockerCode) {
			b = append(b, Blocker{Code: code, ID: c.ID, Name: c.Name, Running: c.Running})
		}
		switch {
		case slices.ContainsFunc(s.Waiting, func(l Latest) bool { return l.Check == c.ID }):
			add(BlockWaiting)
		case cs.Freshness == Unread:
			add(BlockUnread)
		case cs.Freshness == Stale && cs.StaleFrom == c.ID:
			add(BlockMoved)
		case cs.Freshness == Stale:
			from := s.Machine.Profile.Check(cs.StaleFrom)
			b = append(b, Blocker{Code: BlockStale, ID: c.ID, Name: c.Name, From: from.Name, Running: c.Running})
		case cs.Failed && c.Class == profile.Safety:
			add(BlockFailed)
		case cs.Unseconded:
			add(BlockSecond)
		case cs.Advice == AdviceStop:
			add(BlockStop)
		case cs.Advice == AdviceMeasureToday:
			add(BlockUndecided)
		case c.Inspection && c.Class == profile.Safety && cs.Due.State == upkeep.Late:
			add(BlockOverdue)
		}
	}
	for _, sv := range s.Services {
		if sv.Service.Class == profile.SafetyService && sv.Due.State == upkeep.Late {
			b = append(b, Blocker{Code: BlockOverdue, ID: sv.Service.ID, Name: sv.Service.Name})
		}
	}
	return b
}

// nextWake is the first moment after s.At at which time alone changes s.
func nextWake(s Status) time.Time {
	var wake time.Time
	soonest := func(t time.Time) {
		if t.After(s.At) && (wake.IsZero() || t.Before(wake)) {
			wake = t
		}
	}
	for _, cs := range s.Checks {
		soonest(cs.Due.Next)
	}
	for _, sv := range s.Services {
		soonest(sv.Due.Next)
		if sv.PutOff != nil {
			soonest(sv.PutOff.Until)
		}
	}
	return wake
}
