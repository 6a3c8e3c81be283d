// Package profile holds kinds of machine as data: what is checked, which screws
// there are, what is serviced and when, what may go wrong. The code knows no
// kind of machine; a profile is a YAML file in a format of our own.
package profile

import (
	"embed"
	"io/fs"
	"path"
	"setscrew/domain/danger"
	"slices"
	"strings"

	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// Profile is a kind of machine, with its parameters put in.
type Profile struct {
	Kind, Name, About string
	Revision          int
	Hash              string // SHA-256 of the file's text, in hexadecimal
	Parameters        []Parameter
	Typical           Typical // use to expect before there is a history
	Minutes           Minutes
	TestRun           TestRun
	Gauges            []Gauge
	Checks            []Check
	Adjusters         []Adjuster
	Caps              []Cap
	Clamping          *Clamping // nil where nothing is clamped in an order
	Services          []Service
	Events            []Event
	Symptoms          []Symptom
	Causes            []Cause
	Questions         []Question
	Dangers           []DangerAdvice
	Cautions          []Caution
	Isolation         Isolation
	Return            []string // what is confirmed before a machine returns to service
	Start             []Tick   // what is ticked before one that is in use already runs on
	Harmless          bool     // it has no serious hazard: a machine of the kind starts fit
}

// Typical is the use of a machine in a common shop.
type Typical struct {
	Sessions float64        // a day
	Hours    quantity.Value // a session
}

// TestRun is for how many minutes a machine runs under test before the test ends by
// itself; of one that runs unattended whoever tests it is asked instead.
type TestRun struct {
	Minutes    int
	Unattended bool
}

// usualTestRun is common practice, no source.
const usualTestRun = 30

// Minutes is how long work takes, where nothing says so itself: starting values
// for planning visits.
type Minutes struct {
	Isolation int // to isolate, and to bring it back
	Cover     int // to take one thing off, and to put it back
	Material  int // to fetch one material, and to clean up after it
	Gauge     int // to set a gauge up on its datum
	Service   int
	Check     int
}

// usualMinutes are common practice, no source.
var usualMinutes = Minutes{Isolation: 10, Cover: 4, Material: 3, Gauge: 5, Service: 10, Check: 5}

// Isolation is what comes before work with hands inside a machine, and after
// it, in order.
type Isolation struct {
	Before, After []string
	Source        string
}

// Clamping is bolts in rows that are tightened in an order.
type Clamping struct {
	Row    string   // what a row of bolts holds: "knife"
	Rows   int      // how many rows
	Bolts  int      // in each row
	Passes []string // how tight, pass by pass: the first on every row before any other
}

// Cap is spring caps whose pressure only boards show: a check of their height, of
// which more means less pressure, and what boards show at too much and too little.
type Cap struct {
	Check    string
	Marks    string         // the symptom of too much pressure
	Stutters string         // and of too little
	Step     quantity.Value // of height that a hand sets
}

// Class says what a check guards.
type Class string

// The classes of check.
const (
	Safety  Class = "safety"
	Quality Class = "quality"
)

// Check is something measured at its positions, or an inspection that passes or
// does not.
type Check struct {
	ID, Name   string
	Class      Class
	Inspection bool
	Running    bool     // done while the machine runs, so under test before a release
	Isolated   bool     // done with hands inside, so isolated first
	Second     bool     // an inspection that a shop may want a second person to confirm
	Qualified  bool     // an inspection for a qualified person, who is named in its note
	OnDemand   bool     // made only where a danger asks for it: unread it is no gap
	Surfaces   []string // of an inspection: the checks whose surfaces move when a failure is put right
	EachUse    bool     // an inspection made before each use: it stands on the sheet and never falls due
	GoNoGo     *GoNoGo  // of a safety dimension: what proves it where no gauge decides; nil for none
	Fixed      *Fixed   // what the law or an authority fixes of it, as its Source says; nil for nothing
	Outer      *Outer   // past which a shop's own limits need the manual's page; nil for none
	Authority  bool     // an inspection that an authority demands by its late limit, which nobody extends
	From       []string // the checks whose surfaces it is measured from, or that it relies on
	Follows    *Follows // how its readings shift when a datum is read again, nil if that is not known
	Measured   string   // how, and which way positive points; for an inspection what to look for
	Positions  []string // in order; one empty name where there is only one place
	Body       *Body    // what its adjusters move together; nil where each moves a position of its own
	Modes      []Mode   // ways of setting it, each with its own values; the first counts unless said otherwise
	Mode       string   // the id of the mode whose values stand in this check, or ""

	Of          quantity.Kind    // what its values measure
	Target      quantity.Value   // absent where only the positions' difference counts
	Adjust      metrology.Limits // outside: set it right soon
	Stop        metrology.Limits // outside: do not run
	AlikeAdjust quantity.Value
	AlikeStop   quantity.Value // largest differences between positions, or absent

	Plausible metrology.Limits // what it may read at all, where the profile says so

	Example  quantity.Value // a likely value; the target where there is one
	Gauge    string         // id of the gauge assumed when none is named
	Entry    map[quantity.System]quantity.Unit
	Decimals map[quantity.System]int

	Minutes int    // it takes, without what is prepared for it
	Every   *Rule  // how often it falls due, nil if never by itself
	Fail    string // what to do when an inspection fails
	Source  string
}

// Fixed is what nobody may loosen of a check: what the profile says, whatever a shop has of
// its own.
type Fixed struct {
	Stop      metrology.Limits
	AlikeStop quantity.Value
	Every     *Rule // nil where it never falls due
}

// Outer is the widest limits that a named standard gives, its Source.
type Outer struct {
	Limits metrology.Limits
	Source string
}

// GoNoGo is a piece of a fixed size that does not enter (or, where it is said so, does)
// where a value lies within limits: it proves what is read too near a limit to tell.
type GoNoGo struct {
	How    string           // what is held where, and what shows that the value is proved
	Proves metrology.Limits // within which the value lies then
	Source string
}

// ProvesByPiece reports whether a check's go/no-go check, passed, proves its stop limits as they
// stand, of which a shop may have its own.
func (c *Check) ProvesByPiece() bool {
	return c.GoNoGo != nil && c.Stop.Set() && c.GoNoGo.Proves.Within(c.Stop)
}

// Mode is one way of setting a check.
type Mode struct {
	ID, Name string
	Target   quantity.Value
	Adjust   metrology.Limits
	Stop     metrology.Limits
}

// Follows says how a check's readings shift when the check that they are
// measured from is read again: by the change of the greatest of the datum's
// values, or of its opposite. A position follows the datum's positions whose
// names end with its own, or all of them.
type Follows struct {
	Check    string
	Opposite bool // the reading falls as the datum's value rises
}

// Kind is what a dimension's values measure.
func (c *Check) Kind() quantity.Kind { return c.Of }

// TagsOut reports whether a check takes its machine out of service once it is past its
// late limit.
func (c *Check) TagsOut() bool {
	return c.Inspection && c.Class == Safety && c.Every != nil && c.Every.LateDays > 0
}

// In is the check with the values of one of its modes; of the first mode, or
// the check itself, if it has none of that id.
func (c *Check) In(mode string) *Check {
	for _, m := range c.Modes {
		if m.ID == mode && m.ID != c.Mode {
			d := *c
			d.Mode, d.Target, d.Adjust, d.Stop, d.Example = m.ID, m.Target, m.Adjust, m.Stop, m.Target
			return &d
		}
	}
	return c
}

// Rule is how often work is done.
type Rule = upkeep.Rule

// ServiceClass says what putting a service off brings.
type ServiceClass string

// The classes of service: reminded of; reminded of, then called for; tagged out
// when its late limit passes.
const (
	RoutineService   ServiceClass = "routine"
	ImportantService ServiceClass = "important"
	SafetyService    ServiceClass = "safety"
)

// Work is how something is done.
type Work struct {
	Isolated bool     // with hands inside: isolation first, and back in order after
	Minutes  int      // it takes, without what is prepared for it
	Off      []string // what comes off, and goes back on in the other order
	Material string
	Uses     int // how many pieces of the material it takes from the shelf; 0 where that is not counted
	Tools    []string
	Steps    []string // ClampingStep stands for the rows of bolts in their order
	Cautions []string
}

// ClampingStep is the step that stands for the profile's Clamping.
const ClampingStep = "$clamping"

// Service is recurring work. First counts until it has been done since it began
// to be counted; then Every does. What is counted begins when the machine comes
// on the books, or again with each event After.
type Service struct {
	ID, Name string
	Class    ServiceClass
	Every    Rule // none: only First, once after each beginning
	First    Rule // none: Every from the beginning
	After    string
	Surfaces []string // checks whose surfaces it moves
	// OnProblems are the symptoms, OnChecks the checks outside their adjust limits,
	// that ask for it.
	OnProblems, OnChecks []string
	Source               string
	Work
}

// Recurs reports whether the service ever falls due by itself.
func (s *Service) Recurs() bool {
	return s.Every.Recurs() || s.First.Recurs() || len(s.OnProblems)+len(s.OnChecks) > 0
}

// Event is something that happens to a machine.
type Event struct {
	ID, Name string
	Words    []string // other words for it
	Surfaces []string // checks whose surfaces it moves
	Fits     bool     // it may fit another set of knives or blades
	Source   string
	Work     // how it is done where it is work; no steps otherwise
}

// Symptom is something that members notice.
type Symptom struct {
	ID, Name string
	Danger   bool        // stops the machine at once
	Hurt     bool        // somebody is hurt: help comes first, and nothing else is asked
	Hazard   danger.Kind // the kind of danger, common to all machines, that it is, or ""
	Event    string      // the event that it is at the same time, or ""
	Words    []string    // other words for it
	Advice   string      // what to check first, or what to do at once
	Ask      []string    // the questions that come before any test
	Then     []string    // of a danger: the checks that are made after it, before the machine runs again
	Leak     float64     // the chance that it shows without any cause that the profile knows
}

// DangerAdvice is what to do first about a kind of danger that is common to all
// machines, where this kind of machine asks for something of its own: what must stay
// on or shut.
type DangerAdvice struct {
	Of     danger.Kind
	Advice string   // "" for what holds for all machines
	Then   []string // the checks that are made after it, before the machine runs again
}

// Caution is a warning that is shown first.
type Caution struct{ ID, Text string }

// Check finds a check by its id, or nil; likewise the lookups that follow.
func (p *Profile) Check(id string) *Check {
	return at(p.Checks, func(c *Check) bool { return c.ID == id })
}

// DangerAdvice is what this kind of machine asks for first in a danger of that kind, ""
// for nothing of its own.
func (p *Profile) DangerAdvice(kind danger.Kind) string {
	for _, d := range p.Dangers {
		if d.Of == kind {
			return d.Advice
		}
	}
	return ""
}

// AfterDanger lists the checks that are made after a danger, before the machine runs
// again: those that the symptom names, "" for none of the profile's, and those that the
// kind of danger does, which a symptom of the profile's may be one of.
func (p *Profile) AfterDanger(symptom string, kind danger.Kind) []string {
	var checks []string
	if named := p.Symptom(symptom); named != nil {
		checks = append(checks, named.Then...)
		switch {
		case kind != "":
		case named.Hurt:
			kind = danger.Hurt
		default:
			kind = named.Hazard
		}
	}
	for _, d := range p.Dangers {
		if d.Of == kind {
			checks = append(checks, d.Then...)
		}
	}
	return checks
}

// Tick finds one of the ticks of Start by its id, or nil.
func (p *Profile) Tick(id string) *Tick {
	return at(p.Start, func(t *Tick) bool { return t.ID == id })
}

// Gauge finds a gauge by its id, or nil.
func (p *Profile) Gauge(id string) *Gauge {
	return at(p.Gauges, func(g *Gauge) bool { return g.ID == id })
}

// Adjuster finds an adjuster by its id, or nil.
func (p *Profile) Adjuster(id string) *Adjuster {
	return at(p.Adjusters, func(a *Adjuster) bool { return a.ID == id })
}

// Service finds a service by its id, or nil.
func (p *Profile) Service(id string) *Service {
	return at(p.Services, func(s *Service) bool { return s.ID == id })
}

// Event finds an event by its id, or nil.
func (p *Profile) Event(id string) *Event {
	return at(p.Events, func(e *Event) bool { return e.ID == id })
}

// Symptom finds a symptom by its id, or nil.
func (p *Profile) Symptom(id string) *Symptom {
	return at(p.Symptoms, func(s *Symptom) bool { return s.ID == id })
}

func at[T any](list []T, is func(*T) bool) *T {
	for i := range list {
		if is(&list[i]) {
			return &list[i]
		}
	}
	return nil
}

// Dependents lists the checks measured from a check, directly or through
// others, in the profile's order.
func (p *Profile) Dependents(check string) []string {
	var ids []string
	for i := range p.Checks {
		if p.Checks[i].ID != check && slices.Contains(p.Datums(p.Checks[i].ID), check) {
			ids = append(ids, p.Checks[i].ID)
		}
	}
	return ids
}

// Datums lists a check itself and the checks that it is measured from, directly
// or through others, nearest first.
func (p *Profile) Datums(check string) []string {
	ids := []string{check}
	for i := 0; i < len(ids); i++ {
		c := p.Check(ids[i])
		if c == nil {
			continue
		}
		for _, id := range c.From {
			if !slices.Contains(ids, id) {
				ids = append(ids, id)
			}
		}
	}
	return ids
}

// Moved lists, in the profile's order, the checks to be done again after those
// surfaces moved: they themselves and their dependents.
func (p *Profile) Moved(checks []string) []string {
	var ids []string
	for i := range p.Checks {
		if slices.ContainsFunc(
			p.Datums(p.Checks[i].ID),
			func(id string) bool { return slices.Contains(checks, id) },
		) {
			ids = append(ids, p.Checks[i].ID)
		}
	}
	return ids
}

//go:embed kinds/*.yaml
var kinds embed.FS

// Builtin lists the kinds that Setscrew brings, by name.
func Builtin() []string {
	files, err := fs.Glob(kinds, "kinds/*.yaml")
	if err != nil {
		panic(err) // the pattern is a constant
	}
	for i, f := range files {
		files[i] = strings.TrimSuffix(path.Base(f), ".yaml")
	}
	slices.Sort(files)
	return files
}

// BuiltinText is the text of a kind that Setscrew brings; fs.ErrNotExist if
// there is none of that name.
func BuiltinText(kind string) ([]byte, error) { return kinds.ReadFile("kinds/" + kind + ".yaml") }
