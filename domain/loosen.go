package domain

import (
	"bytes"
	"encoding/json"
	"slices"
	"time"

	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// Loosening is one thing by which a safety check, or a safety service, asks for less than
// before, with the names as they stood.
type Loosening struct {
	Item Item       `json:"item"` // the check, in its mode, or the service
	Name string     `json:"name"`
	Code LoosenCode `json:"code"`
	// Was and Now are limits, of a difference in High; WasEvery and NowEvery rules.
	Was      metrology.Limits `json:"was"`
	Now      metrology.Limits `json:"now"`
	WasEvery *profile.Rule    `json:"was-every,omitempty"`
	NowEvery *profile.Rule    `json:"now-every,omitempty"`
	Unit     quantity.Unit    `json:"unit,omitempty"` // in which limits are printed
	Decimals int              `json:"decimals,omitempty"`
	// Law is the source of a limit, or of a date, that the law fixes, "" for none; Outer
	// that of a named standard's outer limits, where the new ones lie past them.
	Law   string `json:"law,omitempty"`
	Outer string `json:"outer,omitempty"`
}

// LoosenCode is the kind of a loosening.
type LoosenCode string

// The loosenings.
const (
	LooseAdjust  LoosenCode = "adjust"        // wider adjust limits
	LooseStop    LoosenCode = "stop"          // wider stop limits
	LooseAlike   LoosenCode = "alike"         // positions may differ by more
	LooseEvery   LoosenCode = "every"         // it falls due later, or never
	LooseLate    LoosenCode = "late"          // it may be later, or is never late
	LooseRemoved LoosenCode = "removed"       // there is no such safety check or service any more
	LoosePlaces  LoosenCode = "places"        // it is made at fewer places
	LooseSecond  LoosenCode = "second-person" // nobody confirms it any more
	LooseNeed    LoosenCode = "need"          // it may run without a machine that it needs
	LooseRule    LoosenCode = "rule"          // it may be made by others, or only when it is asked for
)

// Loosened lists, in the old profile's order, what asks for less in a machine than in the
// same machine as it was: of its safety checks and safety services.
func Loosened(old, now Machine, units quantity.System) []Loosening {
	var all []Loosening
	for i := range old.Profile.Checks {
		check := &old.Profile.Checks[i]
		if check.Class != profile.Safety {
			continue
		}
		loose := looser{item: CheckItem.Of(check.ID), name: check.Name, unit: check.Entry[units],
			decimals: check.Decimals[units]}
		if check.Fixed != nil {
			loose.fixed, loose.law = *check.Fixed, check.Source
		}
		if kept := now.Profile.Check(check.ID); kept == nil || kept.Class != profile.Safety ||
			kept.Inspection != check.Inspection {
			loose.add(Loosening{Code: LooseRemoved, Law: loose.law})
		} else {
			loose.check(check, kept)
			if old.Setup.Second[check.ID] && !now.Setup.Second[check.ID] {
				loose.add(Loosening{Code: LooseSecond})
			}
		}
		all = append(all, loose.all...)
	}
	for i := range old.Profile.Services {
		service := &old.Profile.Services[i]
		if service.Class != profile.SafetyService {
			continue
		}
		loose := looser{item: ServiceItem.Of(service.ID), name: service.Name}
		if kept := now.Profile.Service(service.ID); kept == nil || kept.Class != profile.SafetyService {
			loose.add(Loosening{Code: LooseRemoved})
		} else {
			loose.rule(&service.First, &kept.First)
			loose.rule(&service.Every, &kept.Every)
		}
		all = append(all, loose.all...)
	}
	return all
}

// looser collects by what one check or service asks for less.
type looser struct {
	item     Item
	name     string
	unit     quantity.Unit
	decimals int
	law      string        // by which fixed holds, "" for none
	fixed    profile.Fixed // what nobody may loosen
	all      []Loosening
}

func (l *looser) add(one Loosening) {
	one.Item.Kind, one.Item.ID, one.Name = l.item.Kind, l.item.ID, l.name+one.Name
	one.Unit, one.Decimals = l.unit, l.decimals
	l.all = append(l.all, one)
}

// by is the law that something goes against, "" where it does not.
func (l *looser) by(against bool) string {
	if against {
		return l.law
	}
	return ""
}

// check holds a check against what it was.
func (l *looser) check(old, now *profile.Check) {
	// Its limits, in each mode; a new mode is held against the check as it was.
	if len(now.Modes) == 0 {
		is := profile.Mode{Adjust: now.Adjust, Stop: now.Stop}
		l.limits(profile.Mode{Adjust: old.Adjust, Stop: old.Stop}, is, old)
	}
	for _, mode := range now.Modes {
		was := profile.Mode{Adjust: old.Adjust, Stop: old.Stop}
		if i := slices.IndexFunc(old.Modes, func(m profile.Mode) bool { return m.ID == mode.ID }); i >= 0 {
			was = old.Modes[i]
		}
		l.limits(was, mode, old)
	}
	for _, alike := range [][3]quantity.Value{{old.AlikeAdjust, now.AlikeAdjust},
		{old.AlikeStop, now.AlikeStop, l.fixed.AlikeStop}} {
		was, is := metrology.Limits{High: alike[0]}, metrology.Limits{High: alike[1]}
		if !is.Within(was) {
			law := l.by(!is.Within(metrology.Limits{High: alike[2]}))
			l.add(Loosening{Code: LooseAlike, Was: was, Now: is, Law: law})
		}
	}
	if slices.ContainsFunc(old.Positions, func(p string) bool { return !slices.Contains(now.Positions, p) }) {
		l.add(Loosening{Code: LoosePlaces, Law: l.law})
	}
	// How often, and who makes it.
	l.rule(old.Every, now.Every)
	if old.EachUse && !now.EachUse || old.Qualified && !now.Qualified || old.Fixed != nil && now.Fixed == nil ||
		old.Authority && !now.Authority || now.OnDemand && !old.OnDemand ||
		old.Outer != nil && (now.Outer == nil || !now.Outer.Limits.Within(old.Outer.Limits)) {
		l.add(Loosening{Code: LooseRule, Law: l.law})
	}
}

// limits holds limits against what they were.
func (l *looser) limits(was, now profile.Mode, old *profile.Check) {
	add := func(code LoosenCode, was, is, fixed metrology.Limits) {
		if is.Within(was) {
			return
		}
		one := Loosening{Item: Item{Mode: now.ID}, Code: code, Was: was, Now: is, Law: l.by(!is.Within(fixed))}
		if now.Name != "" {
			one.Name = ", " + now.Name
		}
		if old.Outer != nil && !is.Within(old.Outer.Limits) {
			one.Outer = old.Outer.Source
		}
		l.add(one)
	}
	add(LooseAdjust, was.Adjust, now.Adjust, metrology.Limits{})
	add(LooseStop, was.Stop, now.Stop, l.fixed.Stop)
}

// rule holds how often something is done against what it was; nil is never.
func (l *looser) rule(was, now *profile.Rule) {
	if was == nil || !was.Recurs() {
		return
	}
	if now == nil {
		now = &profile.Rule{}
	}
	code := LooseEvery
	switch {
	case now.Longer(*was):
	case now.Later(*was):
		code = LooseLate
	default:
		return
	}
	fixed := l.fixed.Every
	one := Loosening{Code: code, WasEvery: was, NowEvery: now,
		Law: l.by(fixed != nil && (now.Longer(*fixed) || now.Later(*fixed)))}
	if !now.Recurs() {
		one.NowEvery = nil
	}
	l.add(one)
}

// LooseningBy is a change of a machine's set-up that was asked for and waits.
type LooseningBy struct {
	Fact     FactNo
	Recorded time.Time
	By       PersonID
	LooseningAsked
}

// AloneWaits is how long what loosens a safety check stands in the channel before the
// only steward who is known may put it in force.
const AloneWaits = 24 * time.Hour

// AloneFrom is when whoever asked may put it in force, where no other steward is known.
func (l LooseningBy) AloneFrom() time.Time { return l.Recorded.Add(AloneWaits) }

// waiting is the change of a machine's set-up that waits, nil for none: the last that was
// asked for, unless the set-up has changed since.
func waiting(snap Snapshot) *LooseningBy {
	if asked := snap.Loosening; asked != nil && asked.Setup.Rev == snap.Machine.Setup.Rev+1 {
		return asked
	}
	return nil
}

// loosened is what an entry would loosen by the machine as its set-up makes it. Where
// that is not known, everything.
func loosened(before Status, entry Entry) []Loosening {
	now := Machine{Profile: &profile.Profile{}}
	if entry.Next != nil {
		now = *entry.Next
	}
	all := Loosened(before.Machine, now, before.Machine.UnitsIn(before.Shop))
	for _, need := range before.Needs {
		if !slices.Contains(now.Setup.Needs, need.Machine) {
			all = append(all, Loosening{Item: Item{Kind: NeedsItem}, Code: LooseNeed, Name: need.Name})
		}
	}
	return all
}

// fixed refuses to loosen what the law fixes.
func fixed(all []Loosening) *Refusal {
	for _, one := range all {
		if one.Law != "" {
			return &Refusal{Code: LawFixed, Name: one.Name, Source: one.Law}
		}
	}
	return nil
}

// admitAsked says whether a change of a machine's set-up that loosens a safety check may
// be asked for, or why not: with a reason, past a standard's outer limits with the
// manual's page or a photo of it, and never past the law.
func admitAsked(before Status, entry Entry, body LooseningAsked) *Refusal {
	all := loosened(before, entry)
	if refusal := fixed(all); refusal != nil {
		return refusal
	}
	switch {
	case len(all) == 0 || body.Setup.Rev != before.Machine.Setup.Rev+1:
		return &Refusal{Code: SetupChangedNow, Name: before.Machine.Name}
	case body.Why == "":
		return &Refusal{Code: ReasonNeeded, Name: all[0].Name}
	}
	for _, one := range all {
		if one.Outer != "" && body.Page == "" && body.Photo == nil {
			return &Refusal{Code: PageNeeded, Name: one.Name, Source: one.Outer}
		}
	}
	return nil
}

// admitSetup says whether a machine's set-up changes so, or why not. What loosens a safety
// check was asked for just so, and is put in force by another steward; where none is
// known, by whoever asked, when it has waited, with a note.
func admitSetup(before Status, entry Entry, body SetupChanged) *Refusal {
	all := loosened(before, entry)
	asked := before.Loosening
	switch refusal := fixed(all); {
	case refusal != nil:
		return refusal
	case len(all) == 0 && body.Loosens == 0:
		return nil
	case body.Loosens == 0:
		return &Refusal{Code: SecondNeeded, Name: all[0].Name}
	case asked == nil || asked.Fact != body.Loosens || !sameSetup(asked.Setup, body.Setup):
		return &Refusal{Code: LooseningGone, Name: before.Machine.Name, Fact: body.Loosens}
	case entry.By != asked.By && entry.Steward:
		return nil
	case !entry.Steward || !asked.Alone || !body.Alone:
		return &Refusal{Code: OtherSteward, Name: before.Machine.Name, Fact: asked.Fact}
	case entry.Recorded.Before(asked.AloneFrom()):
		return &Refusal{Code: AloneTooSoon, Name: before.Machine.Name, Fact: asked.Fact, At: asked.AloneFrom()}
	case body.Note == "":
		return &Refusal{Code: AloneNote, Name: before.Machine.Name, Fact: asked.Fact}
	}
	return nil
}

// sameSetup reports whether two set-ups say the same.
func sameSetup(a, setup Setup) bool {
	one, err := json.Marshal(a)
	if err != nil {
		return false
	}
	other, err := json.Marshal(setup)
	return err == nil && bytes.Equal(one, other)
}
