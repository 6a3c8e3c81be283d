package domain

import (
	"maps"
	"math"
	"slices"
	"time"

	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// Admit says whether a machine's status allows an entry, or why not. A test
// needs a tag, no lock that is on, nothing that blocks save what is done while it
// runs, a word on every danger reported, and an answer for each tag. A release
// needs that a test runs and that nothing blocks at all. A counter shows
// no less than before unless it is a new one; what is mended was reported. A tick
// is one that is missing. What somebody else reported is closed by a finding of
// theirs, or of a steward's, alone.
func Admit(before Status, entry Entry) *Refusal {
	no := func(code Code) *Refusal { return &Refusal{Code: code, Name: before.Machine.Name} }
	needed := func(blockers []Blocker) *Refusal {
		refusal := no(Blocked)
		refusal.Blockers = blockers
		return refusal
	}
	switch body := entry.Body.(type) {
	// Trying out and releasing: only a tagged machine, and only past what makes it unsafe.
	case UnderTest:
		still := slices.DeleteFunc(slices.Clone(before.Blockers), func(b Blocker) bool { return b.Running })
		switch {
		case !before.TaggedOut():
			return no(NotTagged)
		case len(before.Locks()) > 0:
			return admitUnlocked(before)
		case len(still) > 0:
			return needed(still)
		case body.Note == "" && dangerOf(before) != 0:
			return &Refusal{Code: NoteNeeded, Name: before.Machine.Name, Fact: dangerOf(before)}
		}
		return admitAnswers(before, entry, body.Tags)
	// A lock is hung by its owner, who takes it off; others by the procedure.
	case TagOut:
		if body.Reason.Code == LockOn && entry.For != entry.By {
			return no(LockForOther)
		}
	case LockAsked, LockKept, LockProcedure, LockOff:
		return admitLock(before, entry)
	case Mistake:
		return admitMistake(before, entry, body)
	case MachineRetired:
		if refusal := admitUnlocked(before); refusal != nil || before.Test == nil {
			return refusal
		}
		return no(TestRuns)
	// Some inspections are for a qualified person, who is on record by name.
	case Inspection:
		if check := before.Machine.Profile.Check(body.Check); check != nil && check.Qualified && body.Pass &&
			body.Note == "" {
			return &Refusal{Code: InspectorNeeded, Name: check.Name}
		}
	case TestEnded:
		switch {
		case before.Test == nil:
			return no(NoTest)
		case body.Test != 0 && body.Test != before.Test.Fact:
			return no(OtherTest)
		}
	case TestRenewed:
		switch {
		case before.Test == nil:
			return no(NoTest)
		case body.Test != before.Test.Fact:
			return no(OtherTest)
		}
	case Release:
		switch {
		case !before.TaggedOut():
			return no(NotTagged)
		case len(before.Locks()) > 0:
			return admitUnlocked(before)
		case before.Test == nil:
			return no(NotTested)
		case body.Test != 0 && body.Test != before.Test.Fact:
			return no(OtherTest)
		case len(before.Blockers) > 0:
			return needed(before.Blockers)
		}
	// A counter that shows less than before was misread, unless it was replaced or rolled over.
	case CounterRead:
		counter := before.Counter
		if counter != nil && !body.New && !body.Rolled && !entry.At.Before(counter.At) &&
			body.Shown().Cmp(counter.Shown) < 0 {
			return &Refusal{Code: CounterBack, Name: before.Machine.Name, Fact: counter.Fact}
		}
	// What is apart is not forgotten over a later word that nothing is, or over what
	// somebody else leaves apart.
	case Handover:
		waits := before.Handover
		if waits != nil && leavesApart(waits.Apart) && (entry.For != waits.By || !leavesApart(body.Apart)) {
			return &Refusal{Code: HandoverWaits, Name: before.Machine.Name, Fact: waits.Fact}
		}
	// What two people do at once: the second finds that the first has done it.
	case TakenOver:
		if before.Handover == nil || before.Handover.Fact != body.Of {
			return &Refusal{Code: TakenBefore, Fact: body.Of}
		}
	// Safety work cannot wait.
	case PutOff:
		service := before.Machine.Profile.Service(body.Service)
		if service != nil && service.Class == profile.SafetyService {
			return &Refusal{Code: SafetyNotPutOff, Name: service.Name}
		}
	case Extended:
		return admitExtended(before, body)
	// A tick is one that is missing.
	case Ticked:
		return admitTicked(before, body)
	// What loosens a safety check takes two.
	case LooseningAsked:
		return admitAsked(before, entry, body)
	case SetupChanged:
		if refusal := admitStart(before, body.Setup); refusal != nil {
			return refusal
		}
		return admitSetup(before, entry, body)
	// What is found or mended must have been reported.
	case Found:
		if !slices.ContainsFunc(before.Problems, func(p OpenProblem) bool { return p.Key == body.Key }) &&
			!slices.ContainsFunc(before.Dangers, func(d Danger) bool { return d.Problem.Key() == body.Key }) {
			return &Refusal{Code: NoSuchProblem, Name: body.Key}
		}
		for _, problem := range before.Problems {
			if problem.Key == body.Key && !entry.Steward && othersReported(problem, entry.By) &&
				closes(before, problem, body, entry.At) {
				return &Refusal{Code: OthersProblem, Name: problem.Name, Fact: problem.First}
			}
		}
	case SeenTo:
		return admitSeen(before, body)
	case Mended:
		if !slices.ContainsFunc(before.Problems, func(p OpenProblem) bool { return p.Key == body.Key }) {
			return &Refusal{Code: NoSuchProblem, Name: body.Name}
		}
	}
	return nil
}

// dangerOf is the report of a danger that a machine is tagged out for, 0 for none: a
// report that was withdrawn since counts too, since its tag stands.
func dangerOf(s Status) FactNo {
	if len(s.Dangers) > 0 {
		return s.Dangers[0].Fact
	}
	for _, tag := range s.Tags {
		if tag.Reason.Code == DangerSeen {
			return tag.Because
		}
	}
	return 0
}

// othersReported reports whether a person other than p reported a problem.
func othersReported(problem OpenProblem, p PersonID) bool {
	return slices.ContainsFunc(problem.By, func(by PersonID) bool { return by != p })
}

// closes reports whether a finding would close its problem at once: nothing but how
// the machine is used mends the cause, or it was mended since the problem was reported.
func closes(before Status, problem OpenProblem, found Found, at time.Time) bool {
	problem.Found = maps.Clone(problem.Found)
	if problem.Found == nil {
		problem.Found = map[Item]FoundThen{}
	}
	problem.Found[found.About] = FoundThen{Fact: math.MaxInt64, At: at, Answer: found.Answer}
	before.Problems = []OpenProblem{problem}
	var snap Snapshot
	if before.known != nil {
		snap = *before.known
	}
	return len(over(before, snap)) > 0
}

// Complete is an entry's body with what only the machine's state can tell:
//
//	LooseningAsked  what the set-up asks less of
//	CounterRead     the use that it brings to light and nobody reported
//	Reading         what the datum that it was measured from read then
//	Problem         the mend after which it came back soon
//	Mended          the cause that a test had found, where none is named
//	ServiceDone     whether the work was asked for, and what it took from the shelf
//	EventSeen       what it took from the shelf
//	LockAsked       until when the lock's owner is waited for
//	LockProcedure   from when on one person is enough
//	Ticked          whether it is the last that the machine waits for
//	Inspection      another person's pass that it confirms, and what moved when what
//	                had failed was put right
//
// Any other body stays as it is.
func Complete(before Status, entry Entry) Body {
	switch body := entry.Body.(type) {
	case LooseningAsked:
		body.Loosens = loosened(before, entry)
		return body
	// Use that the counter shows and nobody reported.
	case CounterRead:
		if counter := before.Counter; counter != nil && !body.New && entry.At.After(counter.At) {
			went := body.Since(CounterRead{Seconds: int64(counter.Shown.Float(quantity.Second))})
			body.Unlogged = max(went-int64(counter.Since.Float(quantity.Second)), 0)
		}
		return body
	// What the datum read at that moment, so that a later move of it can be followed.
	case Reading:
		cs := before.Check(body.Check)
		if cs == nil || cs.Check.Follows == nil {
			return body
		}
		datum := before.Check(cs.Check.Follows.Check)
		freshThen := datum.Freshness == Fresh || datum.Freshness == Stale && datum.StaleBy.At.After(entry.At)
		if freshThen && datum.Latest.Reading != nil && !datum.Latest.At.After(entry.At) {
			body.Datum = &DatumRead{Fact: datum.Latest.Fact}
			for _, at := range body.Values {
				body.Datum.Greatest = append(body.Datum.Greatest, Greatest(datum.Latest.Reading.Values, at.Position))
			}
		}
		return body
	// A problem that comes back soon after it was mended points at the mend.
	case Problem:
		if mend, ok := before.Mends[body.Key()]; ok && !body.Danger && !entry.At.Before(mend.At) &&
			mend.Since.Cmp(ReturnHours) < 0 &&
			!slices.ContainsFunc(before.Problems, func(p OpenProblem) bool { return p.Key == body.Key() }) {
			body.Returned = mend.Fact
		}
		return body
	// Mended without a cause named: take the one that a test had found.
	case Mended:
		for _, problem := range before.Problems {
			if problem.Key == body.Key && body.Cause == "" {
				body.Cause, _ = problem.Cause()
			}
		}
		return body
	// Whether the work was asked for by then, and what it took from the shelf.
	case ServiceDone:
		if status := before.Service(body.Service); status != nil {
			body.Asked = slices.ContainsFunc(status.Because, func(t Trigger) bool { return !t.At.After(entry.At) })
		}
		if service := before.Machine.Profile.Service(body.Service); service != nil {
			body.Took = took(service.Work)
		}
		return body
	// How long is waited, as it is now.
	case LockAsked:
		body.Until = entry.Recorded.Add(before.Shop.LockWaitingTime())
		return body
	case LockProcedure:
		body.Alone = entry.Recorded.Add(LockAlone)
		return body
	case EventSeen:
		if event := before.Machine.Profile.Event(body.Event); event != nil {
			body.Took = took(event.Work)
		}
		return body
	case Ticked:
		return completeTicked(before, body)
	// A second person's pass confirms the first one's.
	case Inspection:
		cs := before.Check(body.Check)
		if body.Pass && cs != nil && cs.Unseconded && cs.Freshness == Fresh &&
			cs.Latest.By != entry.For && !cs.Latest.At.After(entry.At) {
			body.Confirms = cs.Latest.Fact
		}
		// What failed was put right since, and that moves things.
		if body.Pass && cs != nil && cs.Failed && !cs.Latest.At.After(entry.At) {
			body.Surfaces = cs.Check.Surfaces
		}
		return body
	}
	return entry.Body
}

// took is what work takes from the shelf, nil for nothing that is counted.
func took(w profile.Work) *Took {
	if w.Uses == 0 {
		return nil
	}
	return &Took{Name: w.Material, N: w.Uses}
}
