package domain

import (
	"math/big"
	"slices"

	"setscrew/domain/linkage"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// Admit says whether a machine's status allows an entry, or why not. A test
// needs a tag, nothing that blocks save what is done while it runs, a word on
// every danger reported, and an answer about a tag that someone else hung. A
// release needs that a test runs and that nothing blocks at all. A counter shows
// no less than before unless it is a new one; what is mended was reported.
func Admit(before Status, entry Entry) *Refusal {
	no := func(code Code) *Refusal { return &Refusal{Code: code, Name: before.Machine.Name} }
	needed := func(blockers []Blocker) *Refusal {
		r := no(Blocked)
		r.Blockers = blockers
		return r
	}
	switch body := entry.Body.(type) {
	case UnderTest:
		still := slices.DeleteFunc(slices.Clone(before.Blockers), func(b Blocker) bool { return b.Running })
		switch {
		case !before.TaggedOut():
			return no(NotTagged)
		case len(still) > 0:
			return needed(still)
		case len(before.Dangers) > 0 && body.Note == "":
			return &Refusal{Code: NoteNeeded, Name: before.Machine.Name, Fact: before.Dangers[0].Fact}
		case OthersHung(before.Tags, entry.By) && body.Owner == "":
			return no(OwnerNotAsked)
		}
	case TestEnded:
		if before.Test == nil {
			return no(NoTest)
		}
	case Release:
		switch {
		case !before.TaggedOut():
			return no(NotTagged)
		case before.Test == nil:
			return no(NotTested)
		case len(before.Blockers) > 0:
			return needed(before.Blockers)
		}
	case CounterRead:
		c := before.Counter
		if c != nil && !body.New && !body.Rolled && !entry.At.Before(c.At) && body.Shown().Cmp(c.Shown) < 0 {
			return &Refusal{Code: CounterBack, Name: before.Machine.Name, Fact: c.Fact}
		}
	case TakenOver:
		if before.Handover == nil || before.Handover.Fact != body.Of {
			return &Refusal{Code: TakenBefore, Fact: body.Of}
		}
	case PutOff:
		if s := before.Machine.Profile.Service(body.Service); s != nil && s.Class == profile.SafetyService {
			return &Refusal{Code: SafetyNotPutOff, Name: s.Name}
		}
	case Found:
		if !slices.ContainsFunc(before.Problems, func(p OpenProblem) bool { return p.Key == body.Key }) &&
			!slices.ContainsFunc(before.Dangers, func(d Danger) bool { return d.Problem.Key() == body.Key }) {
			return &Refusal{Code: NoSuchProblem, Name: body.Key}
		}
	case Mended:
		if !slices.ContainsFunc(before.Problems, func(p OpenProblem) bool { return p.Key == body.Key }) {
			return &Refusal{Code: NoSuchProblem, Name: body.Name}
		}
	}
	return nil
}

// Complete is an entry's body with what only the machine's state can tell: the
// use that a counter brings to light, the datum that a reading was measured
// from, the inspection that another person's confirms, what work takes from the
// shelf.
func Complete(before Status, entry Entry) Body {
	switch body := entry.Body.(type) {
	case CounterRead:
		if c := before.Counter; c != nil && !body.New && entry.At.After(c.At) {
			went := body.Since(CounterRead{Seconds: int64(c.Shown.Float(quantity.Second))})
			body.Unlogged = max(went-int64(c.Since.Float(quantity.Second)), 0)
		}
		return body
	case Reading:
		cs := before.Check(body.Check)
		if cs == nil || cs.Check.Follows == nil {
			return body
		}
		d := before.Check(cs.Check.Follows.Check)
		freshThen := d.Freshness == Fresh || d.Freshness == Stale && d.StaleBy.At.After(entry.At)
		if freshThen && d.Latest.Reading != nil && !d.Latest.At.After(entry.At) {
			body.Datum = &DatumRead{Fact: d.Latest.Fact}
			for _, at := range body.Values {
				body.Datum.Greatest = append(body.Datum.Greatest, Greatest(d.Latest.Reading.Values, at.Position))
			}
		}
		return body
	case Problem:
		if m, ok := before.Mends[body.Key()]; ok && !body.Danger && !entry.At.Before(m.At) &&
			m.Since.Cmp(ReturnHours) < 0 &&
			!slices.ContainsFunc(before.Problems, func(p OpenProblem) bool { return p.Key == body.Key() }) {
			body.Returned = m.Fact
		}
		return body
	case Mended:
		for _, p := range before.Problems {
			if p.Key == body.Key && body.Cause == "" {
				body.Cause, _ = p.Cause()
			}
		}
		return body
	case ServiceDone:
		if s := before.Service(body.Service); s != nil {
			body.Asked = slices.ContainsFunc(s.Because, func(t Trigger) bool { return !t.At.After(entry.At) })
		}
		if s := before.Machine.Profile.Service(body.Service); s != nil {
			body.Took = took(s.Work)
		}
		return body
	case EventSeen:
		if ev := before.Machine.Profile.Event(body.Event); ev != nil {
			body.Took = took(ev.Work)
		}
		return body
	case Inspection:
		cs := before.Check(body.Check)
		if body.Pass && cs != nil && cs.Unseconded && cs.Freshness == Fresh &&
			cs.Latest.By != entry.For && !cs.Latest.At.After(entry.At) {
			body.Confirms = cs.Latest.Fact
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

// OthersHung reports whether a person other than p hung one of the tags.
func OthersHung(tags []Tag, p PersonID) bool {
	return slices.ContainsFunc(tags, func(t Tag) bool { return t.By != "" && t.By != p })
}

// Unlikely reports whether a value at any position is ten times the target or
// more, or a tenth of it or less and outside the stop limits: more likely a slip
// of the unit or the decimal point than the machine. A check whose target is zero or absent, or on a scale
// of temperature, has no such values. Of a frequency it is also one that fits an
// overtone of the target.
func Unlikely(check *profile.Check, values []quantity.At) bool {
	if !check.Target.Valid() || check.Target.Sign() == 0 || check.Kind() == quantity.Temperature {
		return false
	}
	ten := big.NewRat(10, 1)
	value := check.Target.Abs()
	return slices.ContainsFunc(values, func(at quantity.At) bool {
		return slices.ContainsFunc(at.Repeats, func(v quantity.Value) bool {
			if check.Kind() == quantity.Frequency &&
				linkage.Harmonic(v.Float(quantity.Hertz), value.Float(quantity.Hertz)) != 0 {
				return true
			}
			a := v.Abs()
			stops := check.Stop.Low.Valid() || check.Stop.High.Valid()
			inside := stops && (!check.Stop.Low.Valid() || v.Cmp(check.Stop.Low) >= 0) &&
				(!check.Stop.High.Valid() || v.Cmp(check.Stop.High) <= 0)
			return a.Cmp(value.Mul(ten)) >= 0 || a.Mul(ten).Cmp(value) <= 0 && !inside
		})
	})
}

// Fundamental is the values with each that fits an overtone of the target, which
// a phone often hears in place of the lowest tone, divided by its number; and the
// greatest of those numbers, 0 where none fits.
func Fundamental(check *profile.Check, values []quantity.At) (meant []quantity.At, overtone int) {
	if check.Kind() != quantity.Frequency || !check.Target.Valid() {
		return values, 0
	}
	for _, at := range values {
		place := quantity.At{Position: at.Position}
		for _, v := range at.Repeats {
			if n := linkage.Harmonic(v.Float(quantity.Hertz), check.Target.Float(quantity.Hertz)); n > 0 {
				v, overtone = v.Mul(big.NewRat(1, int64(n))), max(overtone, n)
			}
			place.Repeats = append(place.Repeats, v)
		}
		meant = append(meant, place)
	}
	return meant, overtone
}
