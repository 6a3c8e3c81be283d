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
func Admit(before Status, e Entry) *Refusal {
	no := func(code Code) *Refusal { return &Refusal{Code: code, Name: before.Machine.Name} }
	needed := func(blockers []Blocker) *Refusal {
		r := no(Blocked)
		r.Blockers = blockers
		return r
	}
	switch b := e.Body.(type) {
	case UnderTest:
		still := slices.DeleteFunc(slices.Clone(before.Blockers), func(b Blocker) bool { return b.Running })
		switch {
		case !before.TaggedOut():
			return no(NotTagged)
		case len(still) > 0:
			return needed(still)
		case len(before.Dangers) > 0 && b.Note == "":
			return &Refusal{Code: NoteNeeded, Name: before.Machine.Name, Fact: before.Dangers[0].Fact}
		case OthersHung(before.Tags, e.By) && b.Owner == "":
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
		if c != nil && !b.New && !b.Rolled && !e.At.Before(c.At) && b.Shown().Cmp(c.Shown) < 0 {
			return &Refusal{Code: CounterBack, Name: before.Machine.Name, Fact: c.Fact}
		}
	case TakenOver:
		if before.Handover == nil || before.Handover.Fact != b.Of {
			return &Refusal{Code: TakenBefore, Fact: b.Of}
		}
	case PutOff:
		if s := before.Machine.Profile.Service(b.Service); s != nil && s.Class == profile.SafetyService {
			return &Refusal{Code: SafetyNotPutOff, Name: s.Name}
		}
	case Found:
		if !slices.ContainsFunc(before.Problems, func(p OpenProblem) bool { return p.Key == b.Key }) &&
			!slices.ContainsFunc(before.Dangers, func(d Danger) bool { return d.Problem.Key() == b.Key }) {
			return &Refusal{Code: NoSuchProblem, Name: b.Key}
		}
	case Mended:
		if !slices.ContainsFunc(before.Problems, func(p OpenProblem) bool { return p.Key == b.Key }) {
			return &Refusal{Code: NoSuchProblem, Name: b.Name}
		}
	}
	return nil
}

// Complete is an entry's body with what only the machine's state can tell: the
// use that a counter brings to light, the datum that a reading was measured
// from, the inspection that another person's confirms, what work takes from the
// shelf.
func Complete(before Status, e Entry) Body {
	switch b := e.Body.(type) {
	case CounterRead:
		if c := before.Counter; c != nil && !b.New && e.At.After(c.At) {
			went := b.Since(CounterRead{Seconds: int64(c.Shown.Float(quantity.Second))})
			b.Unlogged = max(went-int64(c.Since.Float(quantity.Second)), 0)
		}
		return b
	case Reading:
		cs := before.Check(b.Check)
		if cs == nil || cs.Check.Follows == nil {
			return b
		}
		d := before.Check(cs.Check.Follows.Check)
		if (d.Freshness == Fresh || d.Freshness == Stale && d.StaleBy.At.After(e.At)) && d.Latest.Reading != nil && !d.Latest.At.After(e.At) {
			b.Datum = &DatumRead{Fact: d.Latest.Fact}
			for _, at := range b.Values {
				b.Datum.Greatest = append(b.Datum.Greatest, Greatest(d.Latest.Reading.Values, at.Position))
			}
		}
		return b
	case Problem:
		if m, ok := before.Mends[b.Key()]; ok && !b.Danger && !e.At.Before(m.At) && m.Since.Cmp(ReturnHours) < 0 &&
			!slices.ContainsFunc(before.Problems, func(p OpenProblem) bool { return p.Key == b.Key() }) {
			b.Returned = m.Fact
		}
		return b
	case Mended:
		for _, p := range before.Problems {
			if p.Key == b.Key && b.Cause == "" {
				b.Cause, _ = p.Cause()
			}
		}
		return b
	case ServiceDone:
		if s := before.Service(b.Service); s != nil {
			b.Asked = slices.ContainsFunc(s.Because, func(t Trigger) bool { return !t.At.After(e.At) })
		}
		if s := before.Machine.Profile.Service(b.Service); s != nil {
			b.Took = took(s.Work)
		}
		return b
	case EventSeen:
		if ev := before.Machine.Profile.Event(b.Event); ev != nil {
			b.Took = took(ev.Work)
		}
		return b
	case Inspection:
		cs := before.Check(b.Check)
		if b.Pass && cs != nil && cs.Unseconded && cs.Freshness == Fresh && cs.Latest.By != e.For && !cs.Latest.At.After(e.At) {
			b.Confirms = cs.Latest.Fact
		}
		return b
	}
	return e.Body
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
func Unlikely(c *profile.Check, values []quantity.At) bool {
	if !c.Target.Valid() || c.Target.Sign() == 0 || c.Kind() == quantity.Temperature {
		return false
	}
	ten := big.NewRat(10, 1)
	t := c.Target.Abs()
	return slices.ContainsFunc(values, func(at quantity.At) bool {
		return slices.ContainsFunc(at.Repeats, func(v quantity.Value) bool {
			if c.Kind() == quantity.Frequency && linkage.Harmonic(v.Float(quantity.Hertz), t.Float(quantity.Hertz)) != 0 {
				return true
			}
			a := v.Abs()
			stops := c.Stop.Low.Valid() || c.Stop.High.Valid()
			inside := stops && (!c.Stop.Low.Valid() || v.Cmp(c.Stop.Low) >= 0) && (!c.Stop.High.Valid() || v.Cmp(c.Stop.High) <= 0)
			return a.Cmp(t.Mul(ten)) >= 0 || a.Mul(ten).Cmp(t) <= 0 && !inside
		})
	})
}

// Fundamental is the values with each that fits an overtone of the target, which
// a phone often hears in place of the lowest tone, divided by its number; and the
// greatest of those numbers, 0 where none fits.
func Fundamental(c *profile.Check, values []quantity.At) (meant []quantity.At, overtone int) {
	if c.Kind() != quantity.Frequency || !c.Target.Valid() {
		return values, 0
	}
	for _, at := range values {
		m := quantity.At{Position: at.Position}
		for _, v := range at.Repeats {
			if n := linkage.Harmonic(v.Float(quantity.Hertz), c.Target.Float(quantity.Hertz)); n > 0 {
				v, overtone = v.Mul(big.NewRat(1, int64(n))), max(overtone, n)
			}
			m.Repeats = append(m.Repeats, v)
		}
		meant = append(meant, m)
	}
	return meant, overtone
}
