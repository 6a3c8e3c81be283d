package profile

import (
	"slices"
	"strconv"
	"strings"

	"setscrew/domain/quantity"
)

// lint notes what each part alone cannot show: names that lead nowhere, limits
// that contradict each other, datums in a circle.
func (l *loader) lint(prof *Profile) {
	fail := func(what, got, want string) { l.failNode(l.at[what], got, want) }
	for i := range prof.Checks {
		check := &prof.Checks[i]
		item := "check:" + check.ID
		// What it is measured from.
		for _, id := range check.From {
			if prof.Check(id) == nil {
				fail(item, "from: "+id, "a check's id")
			} else if slices.Contains(prof.Datums(id), check.ID) {
				fail(item, "a datum that leads back to "+check.ID, "a chain of datums with an end")
			}
		}
		// How it is made, and what it moves.
		if check.Running && check.Isolated {
			fail(item, "running and isolated", "one of them")
		}
		if check.OnDemand && check.Every != nil {
			fail(item, "on-demand and every", "one of them")
		}
		for _, id := range check.Surfaces {
			if prof.Check(id) == nil {
				fail(item, "moves: "+id, "a check's id")
			}
		}
		// What its readings follow, and whose limits hold it.
		if check.Follows != nil {
			datum := prof.Check(check.Follows.Check)
			if datum == nil || datum.ID == check.ID || datum.Inspection || datum.Of != check.Of ||
				!slices.Contains(prof.Datums(check.ID), check.Follows.Check) {
				fail(item, "follows: "+check.Follows.Check, "a check of the same kind that it is measured from")
			}
		}
		if check.Fixed != nil && !check.Authority &&
			(check.Class != Safety || len(check.Modes) > 0 || namesNobody(check.Source)) {
			fail(item, "law", "none, but for a safety check without modes whose source names the law")
		}
		if check.Inspection {
			continue
		}
		if check.Outer != nil && (check.Class != Safety || namesNobody(check.Outer.Source) ||
			!check.Stop.Within(check.Outer.Limits)) {
			fail(item, "outer", "limits that a named standard gives for a safety check, which hold its stop limits")
		}
		// With what, and whether its limits hold each other.
		switch gauge := prof.Gauge(check.Gauge); {
		case gauge == nil:
			fail(item, "gauge: "+check.Gauge, "a gauge's id")
		case gauge.Of != quantity.Base(check.Of).Step().Kind():
			fail(item, "gauge: "+check.Gauge+", of "+gauge.Of.String(), "a gauge of "+check.Of.String())
		}
		values := append([]Mode{{Target: check.Target, Adjust: check.Adjust, Stop: check.Stop}}, check.Modes...)
		for _, mode := range values {
			switch {
			case mode.Target.Valid() && !mode.Adjust.Holds(mode.Target):
				fail(item, "a target outside the adjust limits", "limits that hold the target")
			case mode.Stop.Set() && !mode.Adjust.Within(mode.Stop):
				fail(
					item, "adjust limits that reach outside the stop limits",
					"stop limits that hold the adjust limits",
				)
			}
		}
		// What proves its limits, and what its positions have in common.
		if check.GoNoGo != nil && (check.Class != Safety || check.AlikeStop.Valid() || len(check.Modes) > 0 ||
			!check.ProvesByPiece()) {
			fail(item, "gonogo",
				"none, but for a safety check without modes and a stop difference, whose stop limits it proves")
		}
		switch {
		case check.AlikeStop.Valid() && check.AlikeStop.Cmp(check.AlikeAdjust) < 0:
			fail(item, "a stop difference below the adjust difference", "the stop difference at least as large")
		case check.AlikeAdjust.Valid() && len(check.Positions) < 2:
			fail(item, "alike with one position", "two positions or more")
		}
		seen := map[string]bool{}
		for _, pos := range check.Positions {
			if name := strings.ToLower(pos); seen[name] {
				fail(item, "two positions "+strconv.Quote(pos), "each position once")
			} else {
				seen[name] = true
			}
		}
	}
	// What a steward ticks of a machine in use.
	l.lintStart(prof)
	// What moves checks, what may lie behind symptoms, and spring caps.
	l.lintAdjusters(prof)
	l.lintCauses(prof)
	for _, spring := range prof.Caps {
		item := "cap:" + spring.Check
		check := prof.Check(spring.Check)
		if check == nil || check.Inspection || check.Of != quantity.Length ||
			!check.Stop.Low.Valid() || !check.Stop.High.Valid() {
			fail(item, "check: "+spring.Check, "a check of length with stop limits on both sides")
		}
		for _, id := range []string{spring.Marks, spring.Stutters} {
			if symptom := prof.Symptom(id); symptom == nil || symptom.Danger {
				fail(item, "symptom: "+id, "the id of a symptom that is no danger")
			}
		}
	}
	// Work: what it names, and whether hands are inside.
	hands := slices.ContainsFunc(prof.Checks, func(c Check) bool { return c.Isolated })
	work := func(item string, done Work, moves []string) {
		for _, id := range moves {
			if prof.Check(id) == nil {
				fail(item, "moves: "+id, "a check's id")
			}
		}
		if len(done.Off) > 0 && !done.Isolated {
			fail(item, "something that comes off", "isolated: true, since nothing comes off before that")
		}
		if slices.Contains(done.Steps, ClampingStep) && prof.Clamping == nil {
			fail(item, ClampingStep, "clamping, which says what is clamped")
		}
		hands = hands || done.Isolated
	}
	for _, service := range prof.Services {
		work("service:"+service.ID, service.Work, service.Surfaces)
		if service.After != "" && prof.Event(service.After) == nil {
			fail("service:"+service.ID, "after: "+service.After, "an event's id")
		}
		for _, id := range service.OnProblems {
			if symptom := prof.Symptom(id); symptom == nil || symptom.Danger {
				fail("service:"+service.ID, "problem: "+id, "the id of a symptom that is no danger")
			}
		}
		for _, id := range service.OnChecks {
			if prof.Check(id) == nil {
				fail("service:"+service.ID, "check: "+id, "a check's id")
			}
		}
		if service.First.CountsAll() {
			fail("service:"+service.ID, "first", "hours, days or months alone: it counts once")
		}
	}
	for _, event := range prof.Events {
		work("event:"+event.ID, event.Work, event.Surfaces)
	}
	// What is looked at after a danger.
	then := func(item string, isDanger bool, checks []string) {
		for _, id := range checks {
			if prof.Check(id) == nil {
				fail(item, "then: "+id, "a check's id")
			}
		}
		if len(checks) > 0 && !isDanger {
			fail(item, "then", "none: that is for dangers")
		}
	}
	for _, symptom := range prof.Symptoms {
		then("symptom:"+symptom.ID, symptom.Danger, symptom.Then)
	}
	for _, d := range prof.Dangers {
		then("danger:"+string(d.Of), true, d.Then)
	}
	// A symptom may report an event, but none that a service is counted from.
	for _, symptom := range prof.Symptoms {
		switch {
		case symptom.Event == "":
		case prof.Event(symptom.Event) == nil:
			fail("symptom:"+symptom.ID, "event: "+symptom.Event, "an event's id")
		case slices.ContainsFunc(prof.Services, func(v Service) bool { return v.After == symptom.Event }):
			fail("symptom:"+symptom.ID, "event: "+symptom.Event, "an event that no service is counted from")
		}
	}
	// Hands inside need the way to isolate the machine.
	if hands && len(prof.Isolation.Before) == 0 {
		fail("kind:"+prof.Kind, "no isolation", "isolation, since there is work with hands inside")
	}
	// Names tell things apart for people, so two of a kind cannot share one.
	names := map[string]string{}
	unique := func(kind, id, name string) {
		key := kind + ":" + strings.ToLower(name)
		if other, ok := names[key]; ok {
			fail(kind+":"+id, "the name of "+other, "a name of its own")
		}
		names[key] = id
	}
	for _, check := range prof.Checks {
		unique("check", check.ID, check.Name)
	}
	for _, service := range prof.Services {
		unique("service", service.ID, service.Name)
	}
	for _, event := range prof.Events {
		unique("event", event.ID, event.Name)
	}
	for _, symptom := range prof.Symptoms {
		unique("symptom", symptom.ID, symptom.Name)
	}
	for _, gauge := range prof.Gauges {
		unique("gauge", gauge.ID, gauge.Name)
	}
	for _, adjuster := range prof.Adjusters {
		unique("adjuster", adjuster.ID, adjuster.Name)
	}
}

// namesNobody reports whether a source is none.
func namesNobody(source string) bool {
	return strings.HasPrefix(source, "common practice") || strings.HasPrefix(source, "from memory")
}
