package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// readingReply says what a reading shows and what to do about it.
func (c *call) readingReply(outcome domain.Outcome, check *profile.Check, given domain.Reading) Reply {
	machine := outcome.After.Machine
	scale := rulerFor(check, machine.UnitsIn(c.shop))
	by := scale.by(given.Gauge)
	cs := outcome.After.Check(check.ID)
	name := words.D{"Machine": words.User(machine.Name), "Check": check.Name, "No": outcome.Fact.No}
	recorded := c.recordedLine(outcome, cs, by, given)
	reply := Reply{Lines: []string{recorded}}
	why := Button{Label: c.say("button.why", nil), Custom: whyAction.with(factArg(outcome.Fact.No))}

	// A reading that does not count, or not yet, has no verdict.
	switch {
	case given.Unconfirmed && cs.Latest.Fact != outcome.Fact.No:
		data := words.D{"Check": capital(check.Name), "Values": c.values(by, given.Values), "Target": ""}
		if check.Target.Valid() {
			data["Target"] = scale.show(check.Target)
		}
		reply.Headline = c.say("reading.unlikely", data)
		if _, n := domain.Fundamental(check, given.Values); n > 0 {
			data["Times"] = n
			reply.Headline = c.say("reading.overtone", data)
		}
		if check.Class == profile.Safety {
			reply.Lines = append([]string{c.say("reading.unlikely.safety", name)}, reply.Lines...)
		}
		return reply
	case cs.Latest.Fact != outcome.Fact.No:
		reply.Headline = c.say("reading.older", name)
		return reply
	case cs.Freshness == domain.Stale:
		reply.Headline = c.staleLine(machine, cs)
		return reply
	}

	// The headline is what to do; a good reading needs little more.
	adjust := "reading.adjust.alike"
	if check.Target.Valid() {
		adjust, name["Target"] = "reading.adjust", scale.show(check.Target)
	}
	switch cs.Advice {
	case domain.AdviceStop:
		reply.Headline = c.notInService(outcome.After)
	case domain.AdvicePlan:
		reply.Headline = c.say(adjust, name)
	case domain.AdviceMeasure:
		reply.Headline = c.say("reading.measure", name)
	case domain.AdviceMeasureToday:
		reply.Headline = c.say("reading.today", name)
	default:
		if cs.Untested {
			reply.Lines = append(reply.Lines, c.say("untested.why", nil))
		}
		reply.Headline = c.say("reading.good", name)
		if cs.Grade == metrology.Near {
			reply.Headline = c.say("reading.near", name)
		}
		reply.Buttons = []Button{why}
		reply.Lines = append(reply.Lines, c.settleLines(machine, cs)...)
		reply.Lines = append(append(reply.Lines, c.outlierLines(cs, by)...), c.expectLines(outcome, check)...)
		if late := c.calibrationLine(given.Gauge, ""); late != "" {
			reply.Lines = append(reply.Lines, late)
		}
		return reply
	}

	// What the tag means, then the moves, or how far each position is off.
	lines := c.tagLines(outcome)
	settle := c.settleLines
	if cs.Advice == domain.AdviceMeasureToday {
		lines = append(lines, c.proveLines(outcome.After, cs)...)
		reply.Buttons = append(reply.Buttons, c.goNoGoButtons(cs)...)
		settle = func(domain.Machine, *domain.CheckStatus) []string { return nil }
	}
	if cs.Advice == domain.AdviceStop && len(outcome.Hung) == 0 {
		stands := "tag.stands"
		if outcome.After.SettingUp {
			stands = "reading.stop.setting-up" // no tag but that one
		}
		lines = append(lines, c.say(stands, nil), c.say("tag.isolates-nothing", nil))
	}
	adjusting := outcome.After.Adjusting(check.ID)
	switch {
	case adjusting.Wrong != nil:
		lines = append(lines, c.offLines(cs, scale)...)
	case adjusting.Plan != nil:
		lines = append(lines, c.planLines(machine, adjusting, scale)...)
		reply.Picture = c.planPicture(machine, adjusting, scale)
		if adjusting.Plan.ToDo() {
			reply.Buttons = append(reply.Buttons, Button{Label: c.turnedLabel(adjusting.Plan), Style: Primary,
				Custom: wait(c, turnedAction, turning{outcome.Fact.No})})
		}
	default:
		lines = append(lines, c.offLines(cs, scale)...)
	}
	if cs.Alike != nil && cs.Alike.Verdict.Grade >= metrology.Adjust {
		lines = append(lines, c.say("reading.unlike", words.D{"Low": capital(cs.Alike.Low), "High": cs.Alike.High,
			"By":   scale.size(cs.Alike.Verdict.Value, check.AlikeAdjust, check.AlikeStop),
			"Most": scale.size(check.AlikeAdjust)}))
	}

	// What would settle it, what is doubtful about it, and what to press next.
	lines = append(append(lines, settle(machine, cs)...), c.outlierLines(cs, by)...)
	if late := c.calibrationLine(given.Gauge, ""); late != "" {
		lines = append(lines, late)
	}
	reply.Lines = append(lines, recorded)
	if adjusting.Wrong != nil {
		c.askHowTurned(&reply, machine, adjusting)
	}
	reply.Buttons = append(reply.Buttons, why)
	return reply
}

// recordedLine says what was recorded: the values, the gauge, and the greatest
// uncertainty among the positions.
func (w *wording) recordedLine(outcome domain.Outcome, cs *domain.CheckStatus, by ruler, given domain.Reading) string {
	widest := given.Gauge.Budget().U()
	if cs.Latest.Fact == outcome.Fact.No {
		for i, at := range cs.At {
			if u := at.Budget.U(); i == 0 || u.Cmp(widest) > 0 {
				widest = u
			}
		}
	}
	key := "reading.recorded"
	if given.Gauge.Assumed {
		key += ".assumed"
	}
	return w.say(key, words.D{"No": outcome.Fact.No, "Values": w.values(by, given.Values),
		"Gauge": words.User(given.Gauge.Name), "U": by.doubt(widest)})
}

// staleLine says that a check counts no more since a surface was moved.
func (w *wording) staleLine(machine domain.Machine, cs *domain.CheckStatus) string {
	return w.say("reading.stale", words.D{"Machine": words.User(machine.Name), "Check": cs.Check.Name,
		"From": machine.Profile.Check(cs.StaleFrom).Name, "Moved": words.Time(cs.StaleBy.At, words.DateTime)})
}

// expectLines say what the checks that follow one should read now that it has been
// read again.
func (w *wording) expectLines(o domain.Outcome, k *profile.Check) []string {
	var lines []string
	for _, cs := range o.After.PredictedFrom(k.ID) {
		r := rulerFor(cs.Check, o.After.Machine.UnitsIn(w.shop))
		lines = append(lines, w.say("reading.expect",
			words.D{"Check": capital(cs.Check.Name), "Values": w.values(r, predicted(cs))}))
	}
	return lines
}

// predicted is what a stale check should read, position by position.
func predicted(cs *domain.CheckStatus) []quantity.At {
	var at []quantity.At
	for i, v := range cs.Predicted {
		at = append(at, quantity.At{Position: cs.Check.Positions[i], Repeats: []quantity.Value{v}})
	}
	return at
}

// offLines say how far each position outside its limits is off, where no screw
// is known to move it.
func (w *wording) offLines(cs *domain.CheckStatus, scale ruler) []string {
	var lines, outside []string
	for _, p := range cs.At {
		if !p.Verdict.InsideAdjust {
			outside = append(outside, p.Position+" "+scale.show(p.Verdict.Value))
		}
	}
	if len(outside) > 3 {
		return []string{w.say("off.several",
			words.D{"Values": capital(strings.Join(outside, ", ")), "Target": scale.show(cs.Check.Target)})}
	}
	for _, at := range cs.At {
		if at.Verdict.InsideAdjust {
			continue
		}
		off := at.Verdict.Value.Sub(cs.Check.Target)
		key := "off.over"
		if off.Sign() < 0 {
			key = "off.under"
		}
		lines = append(lines, w.say(key, words.D{"Position": place(cs.Check, at.Position), "Off": scale.size(off),
			"Target": scale.show(cs.Check.Target)}))
	}
	return lines
}

// whyAction explains a report by its number.
const whyAction lasting[factArg] = "why"

// turnedAction records that a plan's moves were made.
const turnedAction waiting[turning] = "turned"

// turning is the reading that a waiting button is about.
type turning struct {
	Reading domain.FactNo `json:"reading"`
}

// howTurnedAction records how a move was made after which the readings went the
// wrong way.
const howTurnedAction waiting[howTurned] = "how-turned"

// howTurned is what a button says of a move; Reading is what was read after it.
type howTurned struct {
	Move    domain.FactNo    `json:"move"`
	Reading domain.FactNo    `json:"reading"`
	Said    domain.HowTurned `json:"said"`
}

// askHowTurned asks how the last move was made, after which readings went the
// wrong way.
func (c *call) askHowTurned(reply *Reply, m domain.Machine, cs domain.Adjusting) {
	var names []string
	for _, id := range cs.Wrong.Adjusters {
		names = append(names, m.Profile.Adjuster(id).Name)
	}
	reply.Lines = append(reply.Lines,
		c.say("turned.wrong", words.D{"Screws": capital(strings.Join(names, ", ")), "No": cs.Wrong.Move}))
	for _, said := range []domain.HowTurned{domain.TurnedOther, domain.TurnedAsSaid} {
		reply.Buttons = append(reply.Buttons, Button{Label: c.say("button.turned."+string(said), nil),
			Custom: wait(c, howTurnedAction, howTurned{cs.Wrong.Move, cs.Latest.Fact, said})})
	}
}

// withdrawAction withdraws one report.
const withdrawAction waiting[turning] = "withdraw"
