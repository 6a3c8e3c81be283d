package domain

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"setscrew/domain/diagnosis"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// ReturnHours is within how many hours of use after it was mended a problem that is
// reported again has come back. Common practice, no source.
var ReturnHours = quantity.New(8, 1, quantity.Hour)

// RecentHours is for how many hours of use an event speaks for a cause. Common
// practice, no source.
var RecentHours = quantity.New(20, 1, quantity.Hour)

// By what readings multiply the odds of a cause that a check shows. Common practice,
// no source.
const (
	oddsOff       = 8.0  // outside its adjust limits on that side, and fresh
	oddsGood      = 0.15 // fresh, and not
	oddsStaleOff  = 4.0  // it was, before what it is measured from moved
	oddsStale     = 2.0
	oddsUnread    = 1.5
	oddsCameAgain = 0.1 // what was mended before the problem came back
)

// Counts is how often each cause was behind a symptom, among N problems that were
// settled.
type Counts struct {
	By map[string]int // by cause
	N  int
}

// Diagnosis is what may lie behind one symptom of a kind of machine: its causes, and
// what can be asked or tested, in an order that stays.
type Diagnosis struct {
	Symptom   *profile.Symptom
	Causes    []*profile.Cause
	Inquiries []Inquiry
	model     diagnosis.Model
}

// Inquiry is a question, or the test of a cause.
type Inquiry struct {
	Question *profile.Question
	Cause    *profile.Cause
}

// Item names what an answer to it is about.
func (i Inquiry) Item() Item {
	if i.Question != nil {
		return QuestionItem.Of(i.Question.ID)
	}
	return CauseItem.Of(i.Cause.ID)
}

// NewDiagnosis is the diagnosis of a symptom; nil where the profile knows no cause of
// it, and of somebody hurt. also are other symptoms that the machine shows.
func NewDiagnosis(prof *profile.Profile, symptom string, also ...string) *Diagnosis {
	found := &Diagnosis{Symptom: prof.Symptom(symptom), Causes: prof.CausesOf(symptom)}
	if found.Symptom == nil || found.Symptom.Hurt || len(found.Causes) == 0 {
		return nil
	}
	// How strongly each cause, in order, shows itself in a finding.
	sign := func(leak float64, strength func(*profile.Cause) float64) diagnosis.Sign {
		made := diagnosis.Sign{Leak: leak}
		for _, cause := range found.Causes {
			made.Strength = append(made.Strength, strength(cause))
		}
		return made
	}
	shows := func(id string) diagnosis.Sign {
		return sign(prof.Symptom(id).Leak, func(cause *profile.Cause) float64 { return cause.Shows[id] })
	}
	for _, cause := range found.Causes {
		found.model.Prior = append(found.model.Prior, cause.Prior)
	}
	found.model.Symptom = shows(symptom)
	// Findings stand in the order of Inquiries: questions, then tests; other symptoms come last.
	for _, id := range found.Symptom.Ask {
		question := prof.Question(id)
		found.Inquiries = append(found.Inquiries, Inquiry{Question: question})
		found.model.Findings = append(
			found.model.Findings,
			diagnosis.Finding{
				Of:      diagnosis.NoCause,
				Minutes: float64(question.Minutes),
				Sign:    sign(question.Usual, func(cause *profile.Cause) float64 { return cause.Answers[id] }),
			},
		)
	}
	for i, cause := range found.Causes {
		found.Inquiries = append(found.Inquiries, Inquiry{Cause: cause})
		// A test that finds its cause with a chance f, and with w where there is none.
		test := diagnosis.Sign{Leak: cause.Test.Wrongly, Strength: make([]float64, len(found.Causes))}
		test.Strength[i] = max(1-(1-cause.Test.Finds)/(1-cause.Test.Wrongly), 0)
		found.model.Findings = append(
			found.model.Findings,
			diagnosis.Finding{Of: i, Minutes: float64(cause.Test.Minutes), Sign: test, First: cause.Hurts},
		)
	}
	for _, id := range also {
		if other := prof.Symptom(id); other != nil && id != symptom && !other.Hurt {
			found.model.Findings = append(
				found.model.Findings,
				diagnosis.Finding{Of: diagnosis.NoCause, Minutes: 1, Sign: shows(id)},
			)
		}
	}
	return found
}

// Ranked is how likely each cause is, and what to do next.
type Ranked struct {
	Suspects []Suspect // those that can hurt and are not ruled out, then the others; each likeliest first
	Other    float64   // none of them
	Settled  *profile.Cause
	Next     *Inquiry // what to ask or test next, nil where nothing is left
}

// Suspect is one cause, how likely it is, and why.
type Suspect struct {
	Cause    *profile.Cause
	Chance   float64
	Evidence []Evidence
}

// Evidence is what multiplies a cause's odds, or was answered.
type Evidence struct {
	Code   EvidenceCode
	Odds   float64 // what it multiplies them by; for a prior the chance itself, for an answer 0
	Name   string  // of the check, service, event, question or symptom
	Of     string  // what moved, of a reading gone stale
	Where  string  // the position read
	Value  quantity.Value
	Hours  quantity.Value
	At     time.Time
	Fact   FactNo
	Answer Answer
	Had, N int // of the shop's own problems
}

// EvidenceCode is the kind of evidence.
type EvidenceCode string

// The kinds of evidence.
const (
	EvidencePrior    EvidenceCode = "prior"
	EvidenceShows    EvidenceCode = "shows"
	EvidenceSince    EvidenceCode = "since"
	EvidenceEvent    EvidenceCode = "event"
	EvidenceOff      EvidenceCode = "off"
	EvidenceGood     EvidenceCode = "good"
	EvidenceStaleOff EvidenceCode = "stale-off"
	EvidenceStale    EvidenceCode = "stale"
	EvidenceUnread   EvidenceCode = "unread"
	EvidenceFailed   EvidenceCode = "failed"
	EvidenceLearned  EvidenceCode = "learned"
	EvidenceAgain    EvidenceCode = "again"
	EvidenceAnswer   EvidenceCode = "answer"
)

// Rank ranks the causes of a symptom on a machine in a state, with what was answered
// so far and how often each was behind it. again is the cause that was mended before
// it came back, or "".
func (d *Diagnosis) Rank(st Status, found map[Item]FoundThen, counts Counts, again string) Ranked {
	causes := len(d.Causes)
	// The machine's other symptoms, which follow the inquiries, are known to be there.
	ones := slices.Repeat([]float64{1}, causes)
	answers := make([]diagnosis.Answer, len(d.model.Findings))
	for i := range d.model.Findings[len(d.Inquiries):] {
		answers[len(d.Inquiries)+i] = diagnosis.Yes
	}
	// Start from the priors, corrected by what the shop's own problems turned out to be.
	had := make([]int, causes)
	for i, cause := range d.Causes {
		had[i] = counts.By[cause.ID]
	}
	learned := d.model.Learned(had, counts.N)
	odds := slices.Clone(ones)
	// Weigh the machine's own facts: each piece of evidence multiplies a cause's odds.
	suspects := make([]Suspect, causes)
	for i, cause := range d.Causes {
		suspect := Suspect{
			Cause: cause,
			Evidence: []Evidence{
				{Code: EvidencePrior, Odds: cause.Prior, Value: quantity.Value{}},
				{Code: EvidenceShows, Odds: cause.Shows[d.Symptom.ID], Name: d.Symptom.Name},
			},
		}
		add := func(e Evidence) {
			odds[i] *= e.Odds
			suspect.Evidence = append(suspect.Evidence, e)
		}
		if counts.N > 0 {
			add(Evidence{Code: EvidenceLearned, Odds: learned[i], Had: had[i], N: counts.N})
		}
		d.evidence(st, cause, add)
		if cause.ID == again {
			add(Evidence{Code: EvidenceAgain, Odds: oddsCameAgain})
		}
		suspects[i] = suspect
	}
	// Enter what was answered, and list each answer with the causes that it bears on.
	var ranked Ranked
	for number, inquiry := range d.Inquiries {
		answer, ok := found[inquiry.Item()]
		if !ok {
			continue
		}
		answers[number] = map[Answer]diagnosis.Answer{
			AnswerYes: diagnosis.Yes, AnswerNo: diagnosis.No, AnswerUnsure: diagnosis.CannotTell,
		}[answer.Answer]
		for i, cause := range d.Causes {
			name := ""
			switch {
			case inquiry.Cause == cause:
			case inquiry.Question != nil && cause.Answers[inquiry.Question.ID] > 0:
				name = inquiry.Question.Ask
			default:
				continue
			}
			suspects[i].Evidence = append(
				suspects[i].Evidence,
				Evidence{Code: EvidenceAnswer, Name: name, Answer: answer.Answer, Fact: answer.Fact, At: answer.At},
			)
		}
	}
	// Combine both, and see what to ask or test next.
	post := d.model.Rank(odds, answers)
	ranked.Other = post.Other
	for i := range suspects {
		suspects[i].Chance = post.Chance[i]
	}
	if number, ok := post.Next(); ok {
		ranked.Next = &d.Inquiries[number]
	}
	// A test that found its cause settles the matter, however likely the others seem.
	if id, _ := (OpenProblem{Found: found}).Cause(); id != "" {
		for _, cause := range d.Causes {
			if cause.ID == id {
				ranked.Settled = cause
			}
		}
	}
	// What can hurt comes first, however unlikely it is, until a test has ruled it out.
	open := func(s Suspect) bool {
		return s.Cause.Hurts && found[CauseItem.Of(s.Cause.ID)].Answer != AnswerNo
	}
	slices.SortStableFunc(suspects, func(a, b Suspect) int {
		if open(a) != open(b) {
			return map[bool]int{true: -1, false: 1}[open(a)]
		}
		return cmp.Compare(b.Chance, a.Chance)
	})
	ranked.Suspects = suspects
	return ranked
}

// evidence adds what a machine's own facts say of a cause.
func (d *Diagnosis) evidence(st Status, cause *profile.Cause, add func(Evidence)) {
	// Wear: the longer since the service or event that would have reset it, the likelier.
	if since := cause.Since; since != nil {
		used := st.Hours // since the machine came, where nothing was told
		evidence := Evidence{Code: EvidenceSince}
		if service := st.Machine.Profile.Service(since.Service); service != nil {
			evidence.Name = service.Name
			if status := st.Service(since.Service); status != nil {
				used, evidence.Fact, evidence.At = status.From().Since, status.From().Fact, status.From().At
			}
		}
		if event := st.Machine.Profile.Event(since.Event); event != nil {
			evidence.Name = event.Name
			if last, ok := st.Events[since.Event]; ok {
				used, evidence.Fact, evidence.At = last.Since, last.Fact, last.At
			}
		}
		if used.Valid() {
			evidence.Hours = used
			evidence.Odds = diagnosis.Since(cause.Prior, used.Float(quantity.Hour)/since.Hours.Float(quantity.Hour))
			add(evidence)
		}
	}
	// Recent events that are known to bring this cause about.
	for _, id := range slices.Sorted(maps.Keys(cause.Events)) {
		if last, ok := st.Events[id]; ok && last.Since.Cmp(RecentHours) < 0 {
			add(
				Evidence{
					Code:  EvidenceEvent,
					Odds:  cause.Events[id],
					Name:  st.Machine.Profile.Event(id).Name,
					Hours: last.Since,
					Fact:  last.Fact,
					At:    last.At,
				},
			)
		}
	}
	// The check that shows the cause, if there is one.
	check := st.Check(cause.Check)
	if check == nil {
		return
	}
	reading := Evidence{Name: check.Check.Name, Fact: check.Latest.Fact, At: check.Latest.At}
	off := false
	if values := check.Latest.Reading; values != nil {
		reading.Where, reading.Value, off = offSide(check.Check, values, cause.Reads)
	}
	// The first that applies counts; an inspection that is due again says nothing either way.
	switch {
	case check.Freshness == Unread:
		reading.Code, reading.Odds = EvidenceUnread, oddsUnread
	case check.Failed:
		reading.Code, reading.Odds = EvidenceFailed, oddsOff
	case check.Freshness == Stale:
		reading.Code, reading.Odds = EvidenceStale, oddsStale
		reading.Of = st.Machine.Profile.Check(check.StaleFrom).Name
		if off {
			reading.Code, reading.Odds = EvidenceStaleOff, oddsStaleOff
		}
	case off:
		reading.Code, reading.Odds = EvidenceOff, oddsOff
	case check.Latest.Inspection != nil && check.Due.State != upkeep.NotDue:
		return
	default:
		reading.Code, reading.Odds = EvidenceGood, oddsGood
	}
	add(reading)
}

// offSide finds the position that reads farthest outside a check's adjust limits on
// a side, "" for either (the first of several as far); or, where none does and
// positions should be alike, the highest where they differ too much.
func offSide(check *profile.Check, reading *Reading, side string) (where string, value quantity.Value, off bool) {
	var low, high *quantity.At
	var farthest quantity.Value // outside the limits
	// The farthest outside on the side asked for; the extremes are kept for the comparison below.
	for i := range reading.Values {
		place := &reading.Values[i]
		mean := place.Mean()
		var outside quantity.Value
		switch {
		case side != "low" && check.Adjust.High.Valid() && mean.Cmp(check.Adjust.High) > 0:
			outside = mean.Sub(check.Adjust.High)
		case side != "high" && check.Adjust.Low.Valid() && mean.Cmp(check.Adjust.Low) < 0:
			outside = check.Adjust.Low.Sub(mean)
		}
		if outside.Valid() && (!off || outside.Cmp(farthest) > 0) {
			where, value, off, farthest = place.Position, mean, true, outside
		}
		if low == nil || mean.Cmp(low.Mean()) < 0 {
			low = place
		}
		if high == nil || mean.Cmp(high.Mean()) > 0 {
			high = place
		}
	}
	// All inside: then the positions may still differ too much from one another.
	if !off && side == "" && check.AlikeAdjust.Valid() && low != nil &&
		high.Mean().Sub(low.Mean()).Cmp(check.AlikeAdjust) > 0 {
		return high.Position, high.Mean(), true
	}
	return where, value, off
}

// over lists the problems whose cause was found and has been mended since they were
// reported: its service done, its event reported, its check read in order; at once
// where nothing but how the machine is used mends it.
func over(status Status, snap Snapshot) []Mended {
	var all []Mended
	for _, problem := range status.Problems {
		id, at := problem.Cause()
		cause := status.Machine.Profile.Cause(id)
		if cause == nil {
			continue
		}
		// Because names the fact that mended it, or that found the cause if nothing else could.
		mended := Mended{Key: problem.Key, Name: problem.Name, Cause: id,
			Because: problem.Found[CauseItem.Of(id)].Fact}
		done := func(last LastService, ok bool) {
			if ok && last.Fact != 0 && !last.At.Before(problem.At) {
				mended.Because = last.Fact
				all = append(all, mended)
			}
		}
		switch {
		case cause.Mend.Service != "":
			last, ok := snap.Services[cause.Mend.Service]
			done(last, ok)
		case cause.Mend.Event != "":
			last, ok := snap.Events[cause.Mend.Event]
			done(last, ok)
		// A good reading counts if it follows the finding, or a move made since the report.
		case cause.Mend.Check != "":
			check := status.Check(cause.Mend.Check)
			moved := snap.Moved[cause.Mend.Check].At
			if check != nil && check.Freshness == Fresh && !check.Failed && check.Advice == AdviceNone &&
				!check.Unseconded && (!check.Latest.At.Before(at) || !moved.IsZero() && !moved.Before(problem.At)) {
				mended.Because = check.Latest.Fact
				all = append(all, mended)
			}
		default:
			all = append(all, mended)
		}
	}
	return all
}

// SymptomsShown lists the symptoms of a machine's open problems and dangers.
func SymptomsShown(st Status) []string {
	var all []string
	for _, p := range st.Problems {
		if p.Symptom != "" {
			all = append(all, p.Symptom)
		}
	}
	for _, d := range st.Dangers {
		if d.Problem.Symptom != "" && !slices.Contains(all, d.Problem.Symptom) {
			all = append(all, d.Problem.Symptom)
		}
	}
	return all
}
