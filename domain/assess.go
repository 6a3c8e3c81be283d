package domain

import (
	"cmp"
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
	// What is known without judging. The hours since the counter was read are scaled, so that
	// all that follows counts them as they were.
	given := snap
	status := Status{
		known: &given, At: now, Shop: snap.Shop, Machine: snap.Machine, Hours: snap.Hours,
		Tags: snap.Tags, Outage: snap.Outage, Waiting: unanswered(snap), Dangers: snap.Dangers,
		Problems: snap.Problems, Needs: snap.Needs, NeededBy: snap.NeededBy, Handover: snap.Handover,
		Sets: sets(snap.Sets), Fits: fits(snap), Events: snap.Events,
		Mends: snap.Mends, Test: snap.Test, Counter: snap.Counter, Loosening: waiting(snap),
		Starting: snap.Machine.Setup.StartingValues(snap.Machine.Profile),
	}
	if r, ok := reporting(snap, now); ok {
		status.Reporting = &r
		snap = scaled(snap, r.Ratio)
	}
	// How it came on the books, and whether it runs under test.
	prof := snap.Machine.Profile
	days := snap.Shop.Calendar()
	started(&status, snap)
	status.spread = spread(status, prof)
	testRun(&status, snap)
	// Each check by itself, then what one says of another.
	for i := range prof.Checks {
		cs := assessCheck(snap, &prof.Checks[i], now, days)
		spreadCheck(&cs, status, snap, days)
		status.Checks = append(status.Checks, cs)
	}
	for i := range status.Checks {
		status.Checks[i].Untested = untested(status, &status.Checks[i])
		status.Checks[i].Predicted = predict(status, &status.Checks[i], snap.Moved)
	}
	// Services, the most pressing first.
	for i := range prof.Services {
		if svc := &prof.Services[i]; svc.Recurs() {
			status.Services = append(status.Services, assessService(snap, status, svc, now, days))
		}
	}
	slices.SortStableFunc(status.Services, func(a, b ServiceStatus) int {
		if c := cmp.Compare(b.Due.State, a.Due.State); c != 0 {
			return c
		}
		return cmp.Compare(a.share(now), b.share(now))
	})
	// What follows from all of them; the next moment at which time alone changes it comes last.
	seen(&status, snap)
	tagsAt(&status)
	status.Warned = warned(status)
	status.Over = over(status, snap)
	status.MustTag = mustTag(status)
	status.Blockers = blockers(status)
	status.Wake = nextWake(status)
	return status
}

func assessCheck(snap Snapshot, check *profile.Check, now time.Time, days upkeep.Days) CheckStatus {
	cs := CheckStatus{Check: check}
	// How fresh its last reading is.
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
	// What asks for it: a danger, or its interval.
	cs.Asked = askedFor(snap, check.ID, latest.At)
	if check.Every != nil {
		rule := *check.Every
		if e, ok := snap.Extended[check.ID]; ok && !e.At.Before(since) && rule.LateDays > 0 {
			cs.LateWas = upkeep.When(rule, upkeep.Use{From: upkeep.Done{At: since}}, now, days).LateOn
			cs.Extended = &e
			rule.LateDays += e.Days
		}
		cs.Due = upkeep.When(rule, upkeep.Use{From: upkeep.Done{At: since}}, now, days)
	}
	// What the reading or the inspection says.
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
	goNoGo(snap, &cs)
	cs.ProveBy = proveBy(snap, &cs)
	return cs
}

// askedFor is the last danger after which a check is made, and was not since, or the last
// whose report was taken back since: nil for none. A check that was never made was made at the zero time.
func askedFor(snap Snapshot, check string, made time.Time) *Danger {
	for _, dangers := range [][]Danger{snap.Dangers, snap.Withdrawn} {
		for _, d := range slices.Backward(dangers) {
			if !made.After(d.At) &&
				slices.Contains(snap.Machine.Profile.AfterDanger(d.Problem.Symptom, d.Problem.Hazard), check) {
				return &d
			}
		}
	}
	return nil
}

// judge fills in the verdicts of a reading's positions and of their
// differences, and the worst grade among them.
func judge(cs *CheckStatus, reading *Reading) {
	check := cs.Check
	means := make([]quantity.Value, len(reading.Values))
	gauge := reading.Gauge.Gauge
	// Each position by itself.
	for i, at := range reading.Values {
		means[i] = at.Mean()
		repeats := describe(at, reading.Gauge)
		budget := metrology.Evaluate(gauge, len(at.Repeats), repeats.S, Level)
		verdict := metrology.Assess(means[i], budget.U(), check.Adjust, check.Stop)
		cs.At = append(cs.At, PositionVerdict{at.Position, verdict, budget, repeats})
		cs.Grade = max(cs.Grade, verdict.Grade)
	}
	// The difference of the extremes, where positions should be alike; shared errors cancel in it.
	if len(means) > 1 && (check.AlikeAdjust.Valid() || check.AlikeStop.Valid()) {
		lo, hi := metrology.Extremes(means)
		budget, shared := metrology.Difference(cs.At[lo].Budget, cs.At[hi].Budget)
		verdict := metrology.Assess(
			means[hi].Sub(means[lo]),
			budget.U(),
			metrology.Limits{High: check.AlikeAdjust},
			metrology.Limits{High: check.AlikeStop},
		)
		cs.Alike = &AlikeVerdict{verdict, budget, shared, reading.Values[lo].Position, reading.Values[hi].Position}
		cs.Grade = max(cs.Grade, verdict.Grade)
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

// predict is what a stale check should read now that the check
// that it follows has been read again:
//
//	reading + (datum now - datum then), with - for an opposite
//
// where a datum's value is the greatest at the positions followed.
func predict(status Status, cs *CheckStatus, moved map[string]Moved) []quantity.Value {
	follows := cs.Check.Follows
	if follows == nil || cs.Freshness != Stale || cs.Latest.Reading.Datum == nil {
		return nil
	}
	for _, id := range status.Machine.Profile.Datums(cs.Check.ID) {
		if id != follows.Check && moved[id].At.After(cs.Latest.At) {
			return nil // something else moved too
		}
	}
	datum := status.Check(follows.Check)
	if datum.Freshness != Fresh || datum.Latest.Reading == nil {
		return nil
	}
	var all []quantity.Value
	for i, at := range cs.Latest.Reading.Values {
		shift := Greatest(datum.Latest.Reading.Values, at.Position).Sub(cs.Latest.Reading.Datum.Greatest[i])
		if follows.Opposite {
			shift = shift.Neg()
		}
		all = append(all, at.Mean().Add(shift))
	}
	return all
}

// Greatest is the greatest of the values at the positions whose names end with the
// name of a position, or of all where none does; absent where there are none.
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

// unanswered are the readings that are kept unconfirmed, but for those of a check that was read
// again since: that answers them.
func unanswered(snap Snapshot) []Latest {
	return slices.DeleteFunc(slices.Clone(snap.Waiting), func(waits Latest) bool {
		latest := snap.Latest[waits.Check]
		return latest.Reading != nil && latest.Fact > waits.Fact && !latest.At.Before(waits.At)
	})
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
		soonest(cs.TagsAt)
		soonest(cs.ProveBy)
	}
	for _, p := range status.Doubts() {
		soonest(p.DoubtEnds())
	}
	for _, waits := range status.Unanswered() {
		soonest(waits.AnswerBy())
	}
	for _, alarm := range status.Alarms {
		soonest(alarm.CallAt())
	}
	soonest(nextWarning(status))
	if status.Test != nil {
		soonest(status.TestAsks())
	}
	for _, sv := range status.Services {
		soonest(sv.Due.Next)
		soonest(sv.TagsAt)
		if sv.PutOff != nil {
			soonest(sv.PutOff.Until)
		}
	}
	return wake
}
