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
	status := Status{
		known: &given, At: now, Shop: snap.Shop, Machine: snap.Machine, Hours: snap.Hours,
		Tags: snap.Tags, Outage: snap.Outage, Waiting: snap.Waiting, Dangers: snap.Dangers,
		Problems: snap.Problems, Needs: snap.Needs, NeededBy: snap.NeededBy, Handover: snap.Handover,
		Sets: sets(snap.Sets), Fits: fits(snap), Events: snap.Events,
		Mends: snap.Mends, Test: snap.Test, Counter: snap.Counter,
		Starting: snap.Machine.Setup.StartingValues(snap.Machine.Profile),
	}
	if r, ok := reporting(snap, now); ok {
		status.Reporting = &r
		snap = scaled(snap, r.Ratio)
	}
	prof := snap.Machine.Profile
	days := snap.Shop.Calendar()
	for i := range prof.Checks {
		status.Checks = append(status.Checks, assessCheck(snap, &prof.Checks[i], now, days))
	}
	for i := range status.Checks {
		status.Checks[i].Predicted = predict(status, &status.Checks[i], snap.Moved)
	}
	for i := range prof.Services {
		if svc := &prof.Services[i]; svc.Recurs() {
			status.Services = append(status.Services, assessService(snap, svc, now, days))
		}
	}
	slices.SortStableFunc(status.Services, func(a, b ServiceStatus) int {
		if c := cmp.Compare(b.Due.State, a.Due.State); c != 0 {
			return c
		}
		return cmp.Compare(a.share(now), b.share(now))
	})
	status.Over = over(status, snap)
	status.MustTag = mustTag(status)
	status.Blockers = blockers(status)
	status.Wake = nextWake(status)
	return status
}

func assessCheck(snap Snapshot, check *profile.Check, now time.Time, days upkeep.Days) CheckStatus {
	cs := CheckStatus{Check: check}
	latest, read := snap.Latest[check.ID]
	since := snap.Machine.Added
	if read {
		cs.Latest, cs.Freshness, since = latest, Fresh, latest.At
		if latest.Reading != nil {
			check = check.In(latest.Reading.Mode)
			cs.Check = check
		}
		for _, id := range snap.Machine.Profile.Datums(check.ID) {
			if m, ok := snap.Moved[id]; ok && m.At.After(latest.At) && m.At.After(cs.StaleBy.At) {
				cs.Freshness, cs.StaleFrom, cs.StaleBy = Stale, id, m
			}
		}
	}
	if check.Every != nil {
		cs.Due = upkeep.When(*check.Every, upkeep.Use{From: upkeep.Done{At: since}}, now, days)
	}
	switch {
	case !read:
	case latest.Inspection != nil:
		cs.Failed = !latest.Inspection.Pass
		cs.Unseconded = !cs.Failed && snap.Machine.Setup.Second[check.ID] && latest.Inspection.Confirms == 0
		if cs.Failed && check.Class == profile.Safety && cs.Freshness == Fresh {
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
	check := cs.Check
	means := make([]quantity.Value, len(r.Values))
	g := r.Gauge.Gauge
	for i, at := range r.Values {
		means[i] = at.Mean()
		repeats := describe(at, r.Gauge)
		b := metrology.Evaluate(g, len(at.Repeats), repeats.S, Level)
		v := metrology.Assess(means[i], b.U(), check.Adjust, check.Stop)
		cs.At = append(cs.At, PositionVerdict{at.Position, v, b, repeats})
		cs.Grade = max(cs.Grade, v.Grade)
	}
	if len(means) > 1 && (check.AlikeAdjust.Valid() || check.AlikeStop.Valid()) {
		lo, hi := metrology.Extremes(means)
		b, shared := metrology.Difference(cs.At[lo].Budget, cs.At[hi].Budget)
		v := metrology.Assess(
			means[hi].Sub(means[lo]),
			b.U(),
			metrology.Limits{High: check.AlikeAdjust},
			metrology.Limits{High: check.AlikeStop},
		)
		cs.Alike = &AlikeVerdict{v, b, shared, r.Values[lo].Position, r.Values[hi].Position}
		cs.Grade = max(cs.Grade, v.Grade)
	}
}

// Level is the coverage probability at which something counts as proved.
const Level = 0.95

// describe works out the mean and spread of the repeats at one position.
func describe(at quantity.At, gauge GaugeUsed) metrology.Repeats {
	if len(at.Repeats) == 1 {
		return metrology.Repeats{N: 1, Mean: at.Repeats[0].Float(quantity.Base(at.Repeats[0].Kind())), Outlier: -1}
	}
	values := make([]float64, len(at.Repeats))
	for i, v := range at.Repeats {
		values[i] = v.Float(quantity.Base(v.Kind()))
	}
	step := 0.0
	if gauge.Resolution.Valid() {
		step = gauge.Resolution.Float(quantity.Base(gauge.Resolution.Kind()))
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
	service := ServiceStatus{Service: svc, Began: LastService{At: snap.Machine.Added, Since: snap.Hours}}
	if e, ok := snap.Events[svc.After]; ok && svc.After != "" {
		service.Began = e
	}
	from := service.Began
	if last, done := snap.Services[svc.ID]; done && !last.At.Before(service.Began.At) {
		service.Last, from, service.Rule = last, last, svc.Every
	} else if service.Rule = svc.First; !service.Rule.Recurs() {
		service.Rule = svc.Every
	}
	if service.Rule.Recurs() {
		use := upkeep.Use{From: counted(from)}
		if service.Rule.CountsAll() && service.Last.Fact != 0 {
			use = allDone(snap.Done[svc.ID], service)
		}
		service.Due = upkeep.When(service.Rule, use, now, days)
		service.TooEarly = len(use.Done) > 0 && service.Due.Counted < len(use.Done)-1
	}
	service.trigger(snap)
	if p, ok := snap.PutOff[svc.ID]; ok && !p.At.Before(service.From().At) {
		if now.Before(p.Until) {
			service.PutOff = &p
		} else {
			service.Lapsed = p.Fact
		}
	}
	if k, ok := snap.Taken[svc.ID]; ok && !k.At.Before(service.From().At) {
		service.Taken = &k
	}
	return service
}

// scaled is a snapshot with the hours reported since the counter was last read,
// or all of them where the ratio is another machine's, taken that many times over.
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
func allDone(all []LastService, service ServiceStatus) upkeep.Use {
	if len(all) == 0 {
		return upkeep.Use{From: counted(service.Last)}
	}
	use := upkeep.Use{From: counted(service.Began)}
	for _, last := range all {
		switch {
		case last.At.Before(service.Began.At):
		case service.Service.First.Recurs() && use.From == counted(service.Began):
			use.From = counted(last)
		default:
			use.Done = append(use.Done, counted(last))
		}
	}
	return use
}

// trigger makes a service due that is done on a problem, or on a check
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
		check := snap.Machine.Profile.Check(id)
		latest, read := snap.Latest[id]
		if check == nil || !read {
			continue
		}
		cs := CheckStatus{Check: check, Latest: latest}
		switch {
		case latest.Inspection != nil && !latest.Inspection.Pass:
			because(latest.At, latest.Fact, check.Name)
		case latest.Reading != nil:
			cs.Check = check.In(latest.Reading.Mode)
			if judge(&cs, latest.Reading); cs.Grade >= metrology.Adjust {
				because(latest.At, latest.Fact, check.Name)
			}
		}
	}
}

// predict is what a stale check should read now that the check
// that it follows has been read again:
//
//	reading + (datum now - datum then), with - for an opposite
//
// where a datum's value is the greatest at the positions followed.
func predict(status Status, cs *CheckStatus, moved map[string]Moved) []quantity.Value {
	f := cs.Check.Follows
	if f == nil || cs.Freshness != Stale || cs.Latest.Reading.Datum == nil {
		return nil
	}
	for _, id := range status.Machine.Profile.Datums(cs.Check.ID) {
		if id != f.Check && moved[id].At.After(cs.Latest.At) {
			return nil // something else moved too
		}
	}
	datum := status.Check(f.Check)
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
func mustTag(status Status) []TagCause {
	var causes []TagCause
	add := func(key string, because FactNo, r Reason) {
		stands := slices.ContainsFunc(status.Tags, func(t Tag) bool { return t.Cause == key })
		if !stands && !slices.ContainsFunc(causes, func(c TagCause) bool { return c.Key == key }) {
			causes = append(causes, TagCause{key, because, r})
		}
	}
	for _, cs := range status.Checks {
		check := cs.Check
		if cs.Advice == AdviceStop {
			add(outsideStopKey(check.ID), cs.Latest.Fact, stopReason(status, cs))
		}
		if check.Class == profile.Safety && cs.StaleFrom == check.ID {
			add(movedKey(cs.StaleBy.Fact), cs.StaleBy.Fact,
				Reason{Code: SurfaceMoved, Name: movedBy(status, cs.StaleBy.Fact)})
		}
		if check.Inspection && check.Class == profile.Safety && cs.Due.State == upkeep.Late {
			add(overdueKey(CheckItem.Of(check.ID)), cs.Latest.Fact, Reason{Code: CheckOverdue, Name: check.Name})
		}
	}
	for _, sv := range status.Services {
		if sv.Service.Class == profile.SafetyService && sv.Due.State == upkeep.Late {
			add(overdueKey(ServiceItem.Of(sv.Service.ID)), sv.From().Fact,
				Reason{Code: ServiceOverdue, Name: sv.Service.Name})
		}
	}
	for _, d := range status.Dangers {
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
	check := cs.Check
	units := s.Machine.UnitsIn(s.Shop)
	r := Reason{Name: check.Name, Units: units, Unit: check.Entry[units], Decimals: check.Decimals[units]}
	if check.Inspection {
		r.Code, r.Text = FailedCheck, cs.Latest.Inspection.Note
		return r
	}
	worst := metrology.MaybeStop
	for _, position := range cs.At {
		verdict := position.Verdict
		if verdict.Grade < worst || verdict.InsideStop || r.Code != "" && verdict.Grade == worst {
			continue
		}
		worst = verdict.Grade
		r.Code, r.Position, r.Value = MaybeStop, position.Position, verdict.Value
		if verdict.Grade == metrology.Stop {
			r.Code = OutsideStop
		}
		r.Limit = verdict.Stop.Low
		if verdict.Stop.High.Valid() && verdict.Value.Cmp(verdict.Stop.High) > 0 {
			r.Limit = verdict.Stop.High
		}
	}
	if a := cs.Alike; a != nil && !a.Verdict.InsideStop && (r.Code == "" || a.Verdict.Grade > worst) {
		r.Code, r.Position = MaybeUnlike, a.Low+", "+a.High
		if a.Verdict.Grade == metrology.Stop {
			r.Code = TooUnlike
		}
		r.Value, r.Limit = a.Verdict.Value, check.AlikeStop
	}
	return r
}

// blockers lists what a release still needs.
func blockers(status Status) []Blocker {
	var b []Blocker
	for _, cs := range status.Checks {
		check := cs.Check
		add := func(code BlockerCode) {
			b = append(b, Blocker{Code: code, ID: check.ID, Name: check.Name, Running: check.Running})
		}
		switch {
		case slices.ContainsFunc(status.Waiting, func(l Latest) bool { return l.Check == check.ID }):
			add(BlockWaiting)
		case cs.Freshness == Unread:
			add(BlockUnread)
		case cs.Freshness == Stale && cs.StaleFrom == check.ID:
			add(BlockMoved)
		case cs.Freshness == Stale:
			from := status.Machine.Profile.Check(cs.StaleFrom)
			b = append(b, Blocker{Code: BlockStale, ID: check.ID, Name: check.Name, From: from.Name,
				Running: check.Running})
		case cs.Failed && check.Class == profile.Safety:
			add(BlockFailed)
		case cs.Unseconded:
			add(BlockSecond)
		case cs.Advice == AdviceStop:
			add(BlockStop)
		case cs.Advice == AdviceMeasureToday:
			add(BlockUndecided)
		case check.Inspection && check.Class == profile.Safety && cs.Due.State == upkeep.Late:
			add(BlockOverdue)
		}
	}
	for _, sv := range status.Services {
		if sv.Service.Class == profile.SafetyService && sv.Due.State == upkeep.Late {
			b = append(b, Blocker{Code: BlockOverdue, ID: sv.Service.ID, Name: sv.Service.Name})
		}
	}
	return b
}

// nextWake is the first moment after s.At at which time alone changes s.
func nextWake(status Status) time.Time {
	var wake time.Time
	soonest := func(t time.Time) {
		if t.After(status.At) && (wake.IsZero() || t.Before(wake)) {
			wake = t
		}
	}
	for _, cs := range status.Checks {
		soonest(cs.Due.Next)
	}
	for _, sv := range status.Services {
		soonest(sv.Due.Next)
		if sv.PutOff != nil {
			soonest(sv.PutOff.Until)
		}
	}
	return wake
}
