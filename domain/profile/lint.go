package profile

import (
	"slices"
	"strconv"
	"strings"

	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
)

// lint notes what each part alone cannot show: names that lead nowhere, limits
// that contradict each other, datums in a circle.
func (l *loader) lint(p *Profile) {
	fail := func(what, got, want string) { l.failNode(l.at[what], got, want) }
	for i := range p.Checks {
		check := &p.Checks[i]
		item := "check:" + check.ID
		// What it is measured from.
		for _, id := range check.From {
			if p.Check(id) == nil {
				fail(item, "from: "+id, "a check's id")
			} else if slices.Contains(p.Datums(id), check.ID) {
				fail(item, "a datum that leads back to "+check.ID, "a chain of datums with an end")
			}
		}
		if check.Running && check.Isolated {
			fail(item, "running and isolated", "one of them")
		}
		if check.Follows != nil {
			if d := p.Check(check.Follows.Check); d == nil || d.ID == check.ID || d.Inspection || d.Of != check.Of ||
				!slices.Contains(p.Datums(check.ID), check.Follows.Check) {
				fail(item, "follows: "+check.Follows.Check, "a check of the same kind that it is measured from")
			}
		}
		if check.Inspection {
			continue
		}
		// With what, and whether its limits hold each other.
		switch g := p.Gauge(check.Gauge); {
		case g == nil:
			fail(item, "gauge: "+check.Gauge, "a gauge's id")
		case g.Of != quantity.Base(check.Of).Step().Kind():
			fail(item, "gauge: "+check.Gauge+", of "+g.Of.String(), "a gauge of "+check.Of.String())
		}
		values := append([]Mode{{Target: check.Target, Adjust: check.Adjust, Stop: check.Stop}}, check.Modes...)
		for _, v := range values {
			switch {
			case v.Target.Valid() && !v.Adjust.Holds(v.Target):
				fail(item, "a target outside the adjust limits", "limits that hold the target")
			case v.Stop.Set() && !within(v.Adjust, v.Stop):
				fail(
					item, "adjust limits that reach outside the stop limits",
					"stop limits that hold the adjust limits",
				)
			}
		}
		switch {
		case check.AlikeStop.Valid() && check.AlikeStop.Cmp(check.AlikeAdjust) < 0:
			fail(item, "a stop difference below the adjust difference", "the stop difference at least as large")
		case check.AlikeAdjust.Valid() && len(check.Positions) < 2:
			fail(item, "alike with one position", "two positions or more")
		}
		seen := map[string]bool{}
		for _, pos := range check.Positions {
			if k := strings.ToLower(pos); seen[k] {
				fail(item, "two positions "+strconv.Quote(pos), "each position once")
			} else {
				seen[k] = true
			}
		}
	}
	// What moves checks, what may lie behind symptoms, and spring caps.
	l.lintAdjusters(p)
	l.lintCauses(p)
	for _, k := range p.Caps {
		item := "cap:" + k.Check
		if c := p.Check(k.Check); c == nil || c.Inspection || c.Of != quantity.Length || !c.Stop.Low.Valid() ||
			!c.Stop.High.Valid() {
			fail(item, "check: "+k.Check, "a check of length with stop limits on both sides")
		}
		for _, s := range []string{k.Marks, k.Stutters} {
			if y := p.Symptom(s); y == nil || y.Danger {
				fail(item, "symptom: "+s, "the id of a symptom that is no danger")
			}
		}
	}
	// Work: what it names, and whether hands are inside.
	hands := slices.ContainsFunc(p.Checks, func(c Check) bool { return c.Isolated })
	work := func(item string, w Work, moves []string) {
		for _, id := range moves {
			if p.Check(id) == nil {
				fail(item, "moves: "+id, "a check's id")
			}
		}
		if len(w.Off) > 0 && !w.Isolated {
			fail(item, "something that comes off", "isolated: true, since nothing comes off before that")
		}
		if slices.Contains(w.Steps, ClampingStep) && p.Clamping == nil {
			fail(item, ClampingStep, "clamping, which says what is clamped")
		}
		hands = hands || w.Isolated
	}
	for _, s := range p.Services {
		work("service:"+s.ID, s.Work, s.Surfaces)
		if s.After != "" && p.Event(s.After) == nil {
			fail("service:"+s.ID, "after: "+s.After, "an event's id")
		}
		for _, id := range s.OnProblems {
			if y := p.Symptom(id); y == nil || y.Danger {
				fail("service:"+s.ID, "problem: "+id, "the id of a symptom that is no danger")
			}
		}
		for _, id := range s.OnChecks {
			if p.Check(id) == nil {
				fail("service:"+s.ID, "check: "+id, "a check's id")
			}
		}
		if s.First.CountsAll() {
			fail("service:"+s.ID, "first", "hours, days or months alone: it counts once")
		}
	}
	for _, e := range p.Events {
		work("event:"+e.ID, e.Work, e.Surfaces)
	}
	for _, s := range p.Symptoms {
		switch {
		case s.Event == "":
		case p.Event(s.Event) == nil:
			fail("symptom:"+s.ID, "event: "+s.Event, "an event's id")
		case slices.ContainsFunc(p.Services, func(v Service) bool { return v.After == s.Event }):
			fail("symptom:"+s.ID, "event: "+s.Event, "an event that no service is counted from")
		}
	}
	if hands && len(p.Isolation.Before) == 0 {
		fail("kind:"+p.Kind, "no isolation", "isolation, since there is work with hands inside")
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
	for _, e := range p.Events {
		unique("event", e.ID, e.Name)
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
func within(a, b metrology.Limits) bool {
	return (!b.Low.Valid() || a.Low.Valid() && b.Low.Cmp(a.Low) <= 0) &&
		(!b.High.Valid() || a.High.Valid() && a.High.Cmp(b.High) <= 0)
}
