package domain

import (
	"slices"
	"strings"

	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/upkeep"
)

// mustTag lists what demands a tag and has none standing. A tag whose report was withdrawn
// stands for nothing that is so now.
func mustTag(status Status) []TagCause {
	var causes []TagCause
	add := func(key string, because FactNo, r Reason) {
		stands := slices.ContainsFunc(status.Tags, func(t Tag) bool { return t.Cause == key && !t.ReportWithdrawn })
		if !stands && !slices.ContainsFunc(causes, func(c TagCause) bool { return c.Key == key }) {
			causes = append(causes, TagCause{key, because, r})
		}
	}
	// While a machine is being set up its readings and what is overdue only keep it from
	// being released: nobody uses it.
	checks, services := status.Checks, status.Services
	if status.SettingUp {
		add(SettingUpKey, 0, Reason{Code: BeingSetUp})
		checks, services = nil, nil
	}
	// Checks: what they read, what moved, what is overdue.
	for _, cs := range checks {
		check := cs.Check
		if cs.Advice == AdviceStop {
			add(outsideStopKey(check.ID), cs.shownBy(), stopReason(status, cs))
		}
		if !cs.ProveBy.IsZero() && !cs.ProveBy.After(status.At) {
			add(notProvedKey(check.ID), cs.Latest.Fact, Reason{Code: NotProved, Name: check.Name})
		}
		if check.Class == profile.Safety && cs.StaleFrom == check.ID && !handedApart(status, cs.StaleBy.Fact) {
			add(movedKey(cs.StaleBy.Fact), cs.StaleBy.Fact,
				Reason{Code: SurfaceMoved, Name: movedBy(status, cs.StaleBy.Fact)})
		}
		if overdueNow(status, cs.Due, cs.TagsAt) {
			add(overdueKey(CheckItem.Of(check.ID)), cs.Latest.Fact, Reason{Code: CheckOverdue, Name: check.Name})
		}
	}
	// Services that are overdue, and a machine that was left apart.
	for _, sv := range services {
		if overdueNow(status, sv.Due, sv.TagsAt) {
			add(overdueKey(ServiceItem.Of(sv.Service.ID)), sv.From().Fact,
				Reason{Code: ServiceOverdue, Name: sv.Service.Name})
		}
	}
	if apart := status.Handover; apart != nil && leavesApart(apart.Apart) {
		add(apartKey(apart.Fact), apart.Fact, Reason{Code: HandedApart, Text: apart.Apart})
	}
	// Dangers that somebody saw.
	for _, danger := range status.Dangers {
		reason := Reason{Code: DangerSeen, Name: danger.Problem.Name, Text: danger.Problem.Note}
		if status.sinceTest(danger) {
			// It was seen while the machine ran under test: what stood before says nothing of it.
			causes = append(causes, TagCause{dangerKey(danger.Problem), danger.Fact, reason})
			continue
		}
		add(dangerKey(danger.Problem), danger.Fact, reason)
	}
	return causes
}

// sinceTest reports whether a danger was reported while the machine runs under test, and
// has no tag yet.
func (s Status) sinceTest(d Danger) bool {
	return s.Test != nil && d.Fact > s.Test.Fact &&
		!slices.ContainsFunc(s.Tags, func(t Tag) bool { return t.Fact > d.Fact && t.Cause == dangerKey(d.Problem) })
}

// handedApart reports whether a report is the handover that waits, or one for which a
// tag stands already: what it took apart needs no second.
func handedApart(s Status, fact FactNo) bool {
	return s.Handover != nil && s.Handover.Fact == fact ||
		slices.ContainsFunc(s.Tags, func(t Tag) bool { return t.Cause == apartKey(fact) })
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
	reason := Reason{Name: check.Name, Units: units, Unit: check.Entry[units], Decimals: check.Decimals[units]}
	if check.Inspection {
		reason.Code, reason.Text = FailedCheck, cs.Latest.Inspection.Note
		return reason
	}
	if cs.noGo() {
		reason.Code = NoGo
		return reason
	}
	// The worst position stands for all, the first of several as bad.
	worst := metrology.MaybeStop
	for _, position := range cs.At {
		verdict := position.Verdict
		if verdict.Grade < worst || verdict.InsideStop || reason.Code != "" && verdict.Grade == worst {
			continue
		}
		worst = verdict.Grade
		reason.Code, reason.Position, reason.Value = MaybeStop, position.Position, verdict.Value
		if verdict.Grade == metrology.Stop {
			reason.Code = OutsideStop
		}
		reason.Limit = verdict.Stop.Low
		if verdict.Stop.High.Valid() && verdict.Value.Cmp(verdict.Stop.High) > 0 {
			reason.Limit = verdict.Stop.High
		}
	}
	// Positions that differ too much count only where they are worse than any one of them.
	if alike := cs.Alike; alike != nil && !alike.Verdict.InsideStop &&
		(reason.Code == "" || alike.Verdict.Grade > worst) {
		reason.Code, reason.Position = MaybeUnlike, alike.Low+", "+alike.High
		if alike.Verdict.Grade == metrology.Stop {
			reason.Code = TooUnlike
		}
		reason.Value, reason.Limit = alike.Verdict.Value, check.AlikeStop
	}
	return reason
}

// blockers lists what a release still needs.
func blockers(status Status) []Blocker {
	var all []Blocker
	// A check has one blocker, the first that applies, since that is what must be done first.
	for _, cs := range status.Checks {
		check := cs.Check
		add := func(code BlockerCode) {
			all = append(all, Blocker{Code: code, ID: check.ID, Name: check.Name, Running: check.Running})
		}
		switch {
		case slices.ContainsFunc(status.Waiting, func(l Latest) bool { return l.Check == check.ID }):
			add(BlockWaiting)
		case cs.Idle():
		case cs.Asked != nil && cs.Freshness != Stale && !cs.Failed:
			all = append(all, Blocker{Code: BlockAfter, ID: check.ID, Name: check.Name,
				From: cs.Asked.Problem.Name, Running: check.Running})
		case cs.Waits():
		case cs.Freshness == Unread:
			add(BlockUnread)
		case cs.Freshness == Stale && cs.StaleFrom == check.ID:
			add(BlockMoved)
		case cs.Freshness == Stale:
			from := status.Machine.Profile.Check(cs.StaleFrom)
			all = append(all, Blocker{Code: BlockStale, ID: check.ID, Name: check.Name, From: from.Name,
				Running: check.Running})
		case cs.Failed && check.Class == profile.Safety:
			add(BlockFailed)
		case cs.Unseconded:
			add(BlockSecond)
		case cs.Advice == AdviceStop:
			add(BlockStop)
		case cs.Advice == AdviceMeasureToday:
			add(BlockUndecided)
		case cs.Untested:
			add(BlockUntested)
		case check.Inspection && check.Class == profile.Safety && cs.Due.State == upkeep.Late:
			add(BlockOverdue)
		}
	}
	// Locks, a handover that waits, safety work past its late limit.
	for _, tag := range status.Locks() {
		all = append(all, Blocker{Code: BlockLock, By: tag.By})
	}
	if status.Handover != nil && leavesApart(status.Handover.Apart) {
		all = append(all, Blocker{Code: BlockHandover, Name: status.Handover.Apart})
	}
	// A test may be what shows whether something is dangerous, unless it was reported as that.
	for _, problem := range status.Doubts() {
		if slices.ContainsFunc(status.Dangers, func(d Danger) bool { return d.Problem.Key() == problem.Key }) {
			continue
		}
		all = append(all, Blocker{Code: BlockDoubt, Name: problem.Name, Running: true})
	}
	for _, sv := range status.Services {
		if sv.Service.Class == profile.SafetyService && sv.Due.State == upkeep.Late {
			all = append(all, Blocker{Code: BlockOverdue, ID: sv.Service.ID, Name: sv.Service.Name})
		}
	}
	return all
}
