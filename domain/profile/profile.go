// Package profile holds kinds of machine as data: what is checked, which screws
// there are, what is serviced and when, what may go wrong. The code knows no
// kind of machine; a profile is a YAML file in a format of our own.
package profile

import (
	"embed"
	"io/fs"
	"path"
	"slices"
	"strings"

	"setscrew/domain/quantity"
)

// Profile is a kind of machine, with its parameters put in.
type Profile struct {
	Kind, Name, About string
	Revision          int
	Hash              string // SHA-256 of the file's text, in hexadecimal
	Parameters        []Parameter
	Gauges            []Gauge
	Checks            []Check
	Adjusters         []Adjuster
	Services          []Service
	Symptoms          []Symptom
	Cautions          []Caution
	Return            []string // what is confirmed before a machine returns to service
}

// Parameter is a whole number in which machines of a kind differ.
type Parameter struct {
	ID, Name          string
	Default, Min, Max int
}

// Gauge is an instrument that a profile brings, with starting values.
type Gauge struct {
	ID, Name    string
	Resolution  quantity.Value
	Uncertainty quantity.Value // expanded
	Coverage    float64        // k
}

// Class says what a check guards.
type Class string

// The classes of check.
const (
	Safety  Class = "safety"
	Quality Class = "quality"
)

// Band is the values allowed, its ends among them; either may be absent.
type Band struct {
	Low  quantity.Value `json:"low"`
	High quantity.Value `json:"high"`
}

// Set reports whether the band has a limit.
func (b Band) Set() bool { return b.Low.Valid() || b.High.Valid() }

// Holds reports whether v lies within the band.
func (b Band) Holds(v quantity.Value) bool {
	return (!b.Low.Valid() || b.Low.Cmp(v) <= 0) && (!b.High.Valid() || v.Cmp(b.High) <= 0)
}

// Check is something measured at its positions, or an inspection that passes or
// does not.
type Check struct {
	ID, Name   string
	Class      Class
	Inspection bool
	From       string   // the check that its datum is, or ""
	Measured   string   // how, and which way positive points; for an inspection what to look for
	Positions  []string // in order; one empty name where there is only one place

	Target      quantity.Value
	Adjust      Band // outside: set it right soon
	Stop        Band // outside: do not run
	AlikeAdjust quantity.Value
	AlikeStop   quantity.Value // largest differences between positions, or absent

	Gauge    string // id of the gauge assumed when none is named
	Entry    map[quantity.System]quantity.Unit
	Decimals map[quantity.System]int

	Every  *Rule  // how often it is to be done, nil if never by itself
	Fail   string // what to do when an inspection fails
	Source string
}

// Kind is what a dimension's values measure.
func (c *Check) Kind() quantity.Kind { return c.Target.Kind() }

// Sense is which way something points or goes.
type Sense string

// Raises and Lowers say what turning a screw clockwise does; Up and Down which
// way a check's positive readings point.
const (
	Raises Sense = "raises"
	Lowers Sense = "lowers"
	Up     Sense = "up"
	Down   Sense = "down"
)

// Adjuster is a screw, nut or cap that moves one position of a check.
type Adjuster struct {
	ID, Name        string
	Check, Position string
	Thread          string         // as it is named: "1/4-20", "M6"
	Lead            quantity.Value // travel in one turn
	Clockwise       Sense          // Raises or Lowers, as seen from the tool's end
	SeenFrom        string         // what that end is: "the key"
	Positive        Sense          // Up or Down
	Increment       quantity.Value // turns
}

// Rule is how often work is done: by hours of use, by days, or whichever comes
// first; and how much later it counts as late.
type Rule struct {
	Hours     quantity.Value
	Days      int
	LateHours quantity.Value
	LateDays  int
}

// Recurs reports whether the work ever falls due by itself.
func (r Rule) Recurs() bool { return r.Hours.Valid() || r.Days > 0 }

// ServiceClass says what putting a service off brings.
type ServiceClass string

// The classes of service: reminded of; reminded of, then called for; tagged out
// when its late limit passes.
const (
	RoutineService   ServiceClass = "routine"
	ImportantService ServiceClass = "important"
	SafetyService    ServiceClass = "safety"
)

// Service is recurring work, or work recorded when it is done.
type Service struct {
	ID, Name string
	Class    ServiceClass
	Every    Rule
	Material string
	Tools    []string
	Steps    []string
	Cautions []string
	Moves    []string // checks whose surfaces it moves
	Source   string
}

// Symptom is something that members notice.
type Symptom struct {
	ID, Name string
	Danger   bool     // stops the machine at once
	Words    []string // other words for it
	Advice   string   // what to check first, or what to do at once
}

// Caution is a warning that is shown first.
type Caution struct{ ID, Text string }

// Check finds a check by its id, or nil; likewise the lookups that follow.
func (p *Profile) Check(id string) *Check {
	return at(p.Checks, func(c *Check) bool { return c.ID == id })
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
		seen := 0
		for c := &p.Checks[i]; c != nil && c.From != "" && seen <= len(p.Checks); c = p.Check(c.From) {
			if c.From == check {
				ids = append(ids, p.Checks[i].ID)
				break
			}
			seen++
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
