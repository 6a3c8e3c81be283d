package commands

import (
	"slices"
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/linkage"
	"setscrew/domain/profile"
)

// workLines is work in order.
func (w *wording) workLines(machine domain.Machine, work profile.Work) []string {
	lines := w.workHead(machine, work)
	for i, s := range w.workSteps(machine, work) {
		lines = append(lines, strconv.Itoa(i+1)+". "+s)
	}
	return append(lines, w.workFoot(machine, work)...)
}

// workHead is what has to be known and at hand before work: cautions first.
func (w *wording) workHead(m domain.Machine, work profile.Work) []string {
	var lines []string
	if work.Isolated {
		for _, x := range m.Profile.Cautions {
			// What the work says itself is not said twice.
			if !slices.Contains(work.Cautions, x.Text) {
				lines = append(lines, x.Text)
			}
		}
	}
	lines = append(lines, work.Cautions...)
	list := func(key string, items []string) {
		if len(items) > 0 {
			lines = append(lines, w.say(key, words.D{"Items": strings.Join(items, ", ")}))
		}
	}
	list("how.tools", work.Tools)
	if work.Material != "" {
		list("how.material", []string{work.Material})
	}
	return lines
}

// workSteps is isolation, what comes off, the work, what goes back on, and the way
// back to power.
func (w *wording) workSteps(machine domain.Machine, work profile.Work) []string {
	var steps []string
	if work.Isolated {
		steps = append(steps, machine.Profile.Isolation.Before...)
	}
	if len(work.Off) > 0 {
		steps = append(steps, w.say("how.off", words.D{"Items": strings.Join(work.Off, ", ")}))
	}
	for _, step := range work.Steps {
		if step == profile.ClampingStep {
			steps = append(steps, w.clampingSteps(machine.Profile.Clamping)...)
			continue
		}
		steps = append(steps, step)
	}
	if len(work.Off) > 0 {
		on := slices.Clone(work.Off)
		slices.Reverse(on)
		steps = append(steps, w.say("how.on", words.D{"Items": strings.Join(on, ", ")}))
	}
	if work.Isolated {
		steps = append(steps, machine.Profile.Isolation.After...)
	}
	return steps
}

// workFoot says whose word counts.
func (w *wording) workFoot(m domain.Machine, work profile.Work) []string {
	if work.Isolated {
		return []string{w.say("how.isolation", words.D{"Source": m.Profile.Isolation.Source}),
			w.say("tag.isolates-nothing", nil)}
	}
	return []string{w.say("caution.manual", nil)}
}

// clampingSteps are the passes in which bolts are tightened, each in the same
// order.
func (w *wording) clampingSteps(clamping *profile.Clamping) []string {
	order := make([]string, clamping.Bolts)
	for i, n := range linkage.ClampingOrder(clamping.Bolts) {
		order[i] = strconv.Itoa(n)
	}
	var steps []string
	for i, pass := range clamping.Passes {
		key := "how.clamp"
		if i == 0 {
			key = "how.clamp.first"
		}
		steps = append(steps, w.say(key, words.D{"Pass": i + 1, "Tight": pass, "Row": clamping.Row,
			"Rows": clamping.Rows, "Order": strings.Join(order, " ")}))
	}
	return steps
}

// checkSteps say how a check is done, with what and to what.
func (w *wording) checkSteps(machine domain.Machine, check *profile.Check) []string {
	if check.Inspection {
		return []string{w.say("why.passes", words.D{"How": check.Measured})}
	}
	units := machine.UnitsIn(w.shop)
	steps := []string{w.say("why.measured", words.D{"How": check.Measured}),
		w.say("how.with", words.D{"Gauge": machine.Profile.Gauge(check.Gauge).Name,
			"Positions": strings.Join(check.Positions, ", ")})}
	for _, dimension := range variants(check) {
		scale := rulerFor(dimension, units)
		switch {
		case dimension.Target.Valid():
			steps = append(steps, capital(w.modeName(dimension))+
				w.say("why.limits", words.D{"Target": scale.briefly(dimension.Target),
					"Adjust": w.limitsBrief(scale, dimension.Adjust),
					"Stop":   w.limitsBrief(scale, dimension.Stop)}))
		default:
			steps = append(steps, w.say("how.alike", words.D{"Most": scale.most(check.AlikeAdjust)}))
		}
	}
	return steps
}

// modeName is the name of the mode that a check stands in, with a colon, or "".
func (w *wording) modeName(k *profile.Check) string {
	for _, m := range k.Modes {
		if m.ID == k.Mode {
			return m.Name + ": "
		}
	}
	return ""
}
