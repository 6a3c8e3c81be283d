package profile

import (
	"slices"
	"strconv"
	"strings"

	"setscrew/domain/quantity"
)

// lint notes what each part alone cannot show: names that lead nowhere, limits
// that contradict each other, datums in a circle.
func (l *loader) lint(p *Profile) {
	fail := func(what, got, want string) { l.failNode(l.at[what], got, want) }
	for i := range p.Checks {
		c := &p.Checks[i]
		here := "check:" + c.ID
		if c.From != "" && p.Check(c.From) == nil {
			fail(here, "from: "+c.From, "a check's id")
		}
		if slices.Contains(p.Dependents(c.ID), c.ID) {
			fail(here, "a datum that leads back to "+c.ID, "a chain of datums with an end")
		}
		if c.Inspection {
			continue
		}
		if p.Gauge(c.Gauge) == nil {
			fail(here, "gauge: "+c.Gauge, "a gauge's id")
		}
		switch {
		case !c.Adjust.Holds(c.Target):
			fail(here, "a target outside the adjust limits", "limits that hold the target")
		case c.Stop.Set() && !within(c.Adjust, c.Stop):
			fail(here, "adjust limits that reach outside the stop limits", "stop limits that hold the adjust limits")
		case c.AlikeStop.Valid() && c.AlikeStop.Cmp(c.AlikeAdjust) < 0:
			fail(here, "a stop difference below the adjust difference", "the stop difference at least as large")
		case c.AlikeAdjust.Valid() && len(c.Positions) < 2:
			fail(here, "alike with one position", "two positions or more")
		}
		seen := map[string]bool{}
		for _, pos := range c.Positions {
			if k := strings.ToLower(pos); seen[k] {
				fail(here, "two positions "+strconv.Quote(pos), "each position once")
			} else {
				seen[k] = true
			}
		}
	}
	taken := map[[2]string]bool{}
	for _, a := range p.Adjusters {
		here := "adjuster:" + a.ID
		c := p.Check(a.Check)
		switch {
		case c == nil || c.Inspection:
			fail(here, "check: "+a.Check, "the id of a check that is measured")
			continue
		case !slices.Contains(c.Positions, a.Position):
			fail(here, "position: "+strconv.Quote(a.Position), "one of "+strings.Join(c.Positions, ", "))
		case c.Kind() != quantity.Length:
			fail(here, "an adjuster of "+c.Kind().String(), "one of length")
		}
		if k := [2]string{a.Check, a.Position}; taken[k] {
			fail(here, "a second adjuster of "+a.Check+" "+a.Position, "one a position")
		} else {
			taken[k] = true
		}
	}
	for _, s := range p.Services {
		for _, id := range s.Moves {
			if p.Check(id) == nil {
				fail("service:"+s.ID, "moves: "+id, "a check's id")
			}
		}
	}
	names := map[string]string{}
	unique := func(kind, id, name string) {
		k := kind + ":" + strings.ToLower(name)
		if other, ok := names[k]; ok {
			fail(kind+":"+id, "the name of "+other, "a name of its own")
		}
		names[k] = id
	}
	for _, c := range p.Checks {
		unique("check", c.ID, c.Name)
	}
	for _, s := range p.Services {
		unique("service", s.ID, s.Name)
	}
	for _, s := range p.Symptoms {
		unique("symptom", s.ID, s.Name)
	}
	for _, g := range p.Gauges {
		unique("gauge", g.ID, g.Name)
	}
	for _, a := range p.Adjusters {
		unique("adjuster", a.ID, a.Name)
	}
}

// within reports whether every value that a allows b allows too.
func within(a, b Band) bool {
	return (!b.Low.Valid() || a.Low.Valid() && b.Low.Cmp(a.Low) <= 0) &&
		(!b.High.Valid() || a.High.Valid() && a.High.Cmp(b.High) <= 0)
}
