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
	sign := func(leak float64, strength func(*profile.Cause) float64) diagnosis.Sign {
		s := diagnosis.Sign{Leak: leak}
		for _, c := range found.Causes {
			s.Strength = append(s.Strength, strength(c))
		}
		return s
	}
	shows := func(id string) diagnosis.Sign {
		return sign(prof.Symptom(id).Leak, func(c *profile.Cause) float64 { return c.Shows[id] })
	}
	for _, c := range found.Causes {
		found.model.Prior = append(found.model.Prior, c.Prior)
	}
	found.model.Symptom = shows(symptom)
	for _, id := range found.Symptom.Ask {
		q := prof.Question(id)
		found.Inquiries = append(found.Inquiries, Inquiry{Question: q})
		found.model.Findings = append(
			found.model.Findings,
			diagnosis.Finding{
				Of:      diagnosis.NoCause,
				Minutes: float64(q.Minutes),
				Sign:    sign(q.Usual, func(c *profile.Cause) float64 { return c.Answers[id] }),
			},
		)
	}
	for i, c := range found.Causes {
		found.Inquiries = append(found.Inquiries, Inquiry{Cause: c})
		// A test that finds its cause with a chance f, and with w where there is none.
		s := diagnosis.Sign{Leak: c.Test.Wrongly, Strength: make([]float64, len(found.Causes))}
		s.Strength[i] = max(1-(1-c.Test.Finds)/(1-c.Test.Wrongly), 0)
		found.model.Findings = append(
			found.model.Findings,
			diagnosis.Finding{Of: i, Minutes: float64(c.Test.Minutes), Sign: s},
		)
	}
	for _, id := range also {
		if y := prof.Symptom(id); y != nil && id != symptom && !y.Hurt {
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
	Suspects []Suspect // likeliest first
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
	n := len(d.Causes)
	ones := slices.Repeat([]float64{1}, n)
	answers := make([]diagnosis.Answer, len(d.model.Findings))
	for i := range d.model.Findings[len(d.Inquiries):] {
		answers[len(d.Inquiries)+i] = diagnosis.Yes
	}
	had := make([]int, n)
	for i, c := range d.Causes {
		had[i] = counts.By[c.ID]
	}
	learned := d.model.Learned(had, counts.N)
	odds := slices.Clone(ones)
	suspects := make([]Suspect, n)
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
	var r Ranked
	for k, q := range d.Inquiries {
		f, ok := found[q.Item()]
		if !ok {
			continue
		}
		answers[k] = map[Answer]diagnosis.Answer{
			AnswerYes: diagnosis.Yes, AnswerNo: diagnosis.No, AnswerUnsure: diagnosis.CannotTell,
		}[f.Answer]
		for i, c := range d.Causes {
			name := ""
			switch {
			case q.Cause == c:
			case q.Question != nil && c.Answers[q.Question.ID] > 0:
				name = q.Question.Ask
			default:
				continue
			}
			suspects[i].Evidence = append(
				suspects[i].Evidence,
				Evidence{Code: EvidenceAnswer, Name: name, Answer: f.Answer, Fact: f.Fact, At: f.At},
			)
		}
	}
	post := d.model.Rank(odds, answers)
	r.Other = post.Other
	for i := range suspects {
		suspects[i].Chance = post.Chance[i]
	}
	if k, ok := post.Next(); ok {
		r.Next = &d.Inquiries[k]
	}
	if id, _ := (OpenProblem{Found: found}).Cause(); id != "" {
		for _, c := range d.Causes {
			if c.ID == id {
				r.Settled = c
			}
		}
	}
	slices.SortStableFunc(suspects, func(a, b Suspect) int { return cmp.Compare(b.Chance, a.Chance) })
	r.Suspects = suspects
	return r
}

// evidence adds what a machine's own facts say of a cause.
func (d *Diagnosis) evidence(st Status, cause *profile.Cause, add func(Evidence)) {
	if s := cause.Since; s != nil {
		used := st.Hours // since the machine came, where nothing was told
		evidence := Evidence{Code: EvidenceSince}
		if v := st.Machine.Profile.Service(s.Service); v != nil {
			evidence.Name = v.Name
			if x := st.Service(s.Service); x != nil {
				used, evidence.Fact, evidence.At = x.From().Since, x.From().Fact, x.From().At
			}
		}
		if v := st.Machine.Profile.Event(s.Event); v != nil {
			evidence.Name = v.Name
			if x, ok := st.Events[s.Event]; ok {
				used, evidence.Fact, evidence.At = x.Since, x.Fact, x.At
			}
		}
		if used.Valid() {
			evidence.Hours = used
			evidence.Odds = diagnosis.Since(cause.Prior, used.Float(quantity.Hour)/s.Hours.Float(quantity.Hour))
			add(evidence)
		}
	}
	for _, id := range slices.Sorted(maps.Keys(cause.Events)) {
		if x, ok := st.Events[id]; ok && x.Since.Cmp(RecentHours) < 0 {
			add(
				Evidence{
					Code:  EvidenceEvent,
					Odds:  cause.Events[id],
					Name:  st.Machine.Profile.Event(id).Name,
					Hours: x.Since,
					Fact:  x.Fact,
					At:    x.At,
				},
			)
		}
	}
	k := st.Check(cause.Check)
	if k == nil {
		return
	}
	e := Evidence{Name: k.Check.Name, Fact: k.Latest.Fact, At: k.Latest.At}
	off := false
	if r := k.Latest.Reading; r != nil {
		e.Where, e.Value, off = offSide(k.Check, r, cause.Reads)
	}
	switch {
	case k.Freshness == Unread:
		e.Code, e.Odds = EvidenceUnread, oddsUnread
	case k.Failed:
		e.Code, e.Odds = EvidenceFailed, oddsOff
	case k.Freshness == Stale:
		e.Code, e.Odds, e.Of = EvidenceStale, oddsStale, st.Machine.Profile.Check(k.StaleFrom).Name
		if off {
			e.Code, e.Odds = EvidenceStaleOff, oddsStaleOff
		}
	case off:
		e.Code, e.Odds = EvidenceOff, oddsOff
	case k.Latest.Inspection != nil && k.Due.State != upkeep.NotDue:
		return
	default:
		e.Code, e.Odds = EvidenceGood, oddsGood
	}
	add(e)
}

// offSide finds the position that reads farthest outside a check's adjust limits on
// a side, "" for either (the first of several as far); or, where none does and
// positions should be alike, the highest where they differ too much.
func offSide(check *profile.Check, r *Reading, side string) (where string, value quantity.Value, off bool) {
	var low, high *quantity.At
	var farthest quantity.Value // outside the limits
	for i := range r.Values {
		v := &r.Values[i]
		mean := v.Mean()
		var outside quantity.Value
		switch {
		case side != "low" && check.Adjust.High.Valid() && mean.Cmp(check.Adjust.High) > 0:
			outside = mean.Sub(check.Adjust.High)
		case side != "high" && check.Adjust.Low.Valid() && mean.Cmp(check.Adjust.Low) < 0:
			outside = check.Adjust.Low.Sub(mean)
		}
		if outside.Valid() && (!off || outside.Cmp(farthest) > 0) {
			where, value, off, farthest = v.Position, mean, true, outside
		}
		if low == nil || mean.Cmp(low.Mean()) < 0 {
			low = v
		}
		if high == nil || mean.Cmp(high.Mean()) > 0 {
			high = v
		}
	}
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
		m := Mended{Key: problem.Key, Name: problem.Name, Cause: id, Because: problem.Found[CauseItem.Of(id)].Fact}
		done := func(l LastService, ok bool) {
			if ok && l.Fact != 0 && !l.At.Before(problem.At) {
				m.Because = l.Fact
				all = append(all, m)
			}
		}
		switch {
		case cause.Mend.Service != "":
			l, ok := snap.Services[cause.Mend.Service]
			done(l, ok)
		case cause.Mend.Event != "":
			l, ok := snap.Events[cause.Mend.Event]
			done(l, ok)
		case cause.Mend.Check != "":
			k := status.Check(cause.Mend.Check)
			moved := snap.Moved[cause.Mend.Check].At
			if k != nil && k.Freshness == Fresh && !k.Failed && k.Advice == AdviceNone && !k.Unseconded &&
				(!k.Latest.At.Before(at) || !moved.IsZero() && !moved.Before(problem.At)) {
				m.Because = k.Latest.Fact
				all = append(all, m)
			}
		default:
			all = append(all, m)
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
