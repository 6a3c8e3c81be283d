package commands

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// mostMoves is how many moves are worded one by one.
const mostMoves = 3

// planLines are a plan in words that a hand can follow, cautions first.
func (w *wording) planLines(machine domain.Machine, cs domain.Adjusting, scale ruler) []string {
	plan := cs.Plan
	var lines []string
	// Cautions and doubts first, and how a body stands.
	moves := slices.DeleteFunc(slices.Clone(plan.Moves), func(a domain.Adjustment) bool { return !a.ToDo() })
	if len(moves) > 0 {
		lines = append(lines, w.say("caution.before-turning", words.D{"Machine": words.User(machine.Name)}))
	}
	lines = append(lines, w.oddLines(machine, cs)...)
	if len(moves) > 0 && !byItself(cs.CheckStatus) && cs.Check.Target.Valid() {
		lines = append(lines, w.offsLine(machine, cs.CheckStatus, scale))
	}
	// The moves.
	var each, first []string
	for _, mv := range moves {
		if mv.First {
			first = append(first, machine.Profile.Adjuster(mv.Adjuster).Name)
		}
		each = append(each, w.moveLine(machine, cs.CheckStatus, mv, scale, len(moves) > mostMoves))
	}
	if len(moves) > mostMoves && plan.Drive != profile.Shims {
		lines = append(lines, w.say("plan.several", words.D{"Lock": machine.Profile.Adjuster(moves[0].Adjuster).Lock,
			"Seen": machine.Profile.Adjuster(moves[0].Adjuster).SeenFrom}))
	}
	lines = append(lines, each...)
	if len(first) > 0 {
		lines = append(lines, w.say("plan.first", words.D{"Screws": capital(strings.Join(first, ", "))}))
	}
	// What stays as it is, what no screw can take out, and what to expect.
	if left := w.leftAlone(machine, cs, scale); left != "" {
		lines = append(lines, left)
	}
	if len(plan.Left) > 0 {
		var where []string
		for _, l := range plan.Left {
			where = append(where, strings.TrimSpace(l.Position+" "+scale.show(l.Reading)))
		}
		lines = append(lines, w.say("plan.twist", words.D{"Where": strings.Join(where, ", ")}))
	}
	for _, s := range plan.Short {
		lines = append(lines, w.say("plan.short", words.D{"Screw": capital(machine.Profile.Adjuster(s.Adjuster).Name),
			"Missing": scale.size(s.Missing)}))
	}
	if len(moves) > 0 {
		lines = append(lines, w.expectLine(cs, scale, len(first) > 0))
	}
	return lines
}

// expectLine says what to expect of a plan, and to read again.
func (w *wording) expectLine(cs domain.Adjusting, scale ruler, first bool) string {
	data := words.D{"Values": w.values(scale, expected(cs)), "Check": cs.Check.Name, "U": "", "Likely": "", "Tries": ""}
	var widest quantity.Value
	for _, e := range cs.Plan.Expect {
		if !widest.Valid() || e.U.Cmp(widest) > 0 {
			widest = e.U
		}
	}
	data["U"] = scale.doubt(widest)
	if !first {
		data["Likely"] = percent(cs.Plan.Pass)
	}
	if !first && cs.Plan.Pass > 0.01 {
		data["Tries"] = strconv.FormatFloat(math.Min(cs.Plan.Tries, 20), 'f', 1, 64)
	}
	return w.say("plan.expect", data)
}

// expected is what each position should read once a plan's moves are made.
func expected(cs domain.Adjusting) []quantity.At {
	var at []quantity.At
	for _, e := range cs.Plan.Expect {
		at = append(at, quantity.At{Position: e.Position, Repeats: []quantity.Value{e.Reading}})
	}
	return at
}

// offsLine says how far each position of a body is off.
func (w *wording) offsLine(m domain.Machine, cs *domain.CheckStatus, r ruler) string {
	var parts []string
	for _, at := range cs.At {
		parts = append(parts, strings.TrimSpace(at.Position+" "+w.off(m, cs, at, r)))
	}
	return capital(strings.Join(parts, ", ")) + "."
}

// off says how far a position is off its target: "6 thou too low".
func (w *wording) off(machine domain.Machine, cs *domain.CheckStatus, at domain.PositionVerdict, scale ruler) string {
	off := at.Verdict.Value.Sub(cs.Check.Target)
	if off.Sign() == 0 {
		return w.say("plan.on", nil)
	}
	return w.say("plan.off", words.D{"Off": scale.size(off, quantity.Zero(off.Kind())),
		"Way": w.way(machine, cs, off.Sign() > 0)})
}

// way is where a reading stands that is too great, or too small: high, slack.
func (w *wording) way(m domain.Machine, cs *domain.CheckStatus, great bool) string {
	for _, a := range m.Profile.AdjustersOf(cs.Check.ID) {
		if !a.Fixed {
			return w.say("way."+string(a.Points(great)), nil)
		}
	}
	return ""
}

// byItself reports whether each adjuster of a check moves a position of its own.
func byItself(cs *domain.CheckStatus) bool { return cs.Check.Body == nil || len(cs.At) == 1 }

// moveLine words one move. A brief one is one of many in a line.
func (w *wording) moveLine(machine domain.Machine, cs *domain.CheckStatus, mv domain.Adjustment, scale ruler,
	brief bool) string {
	screw := machine.Profile.Adjuster(mv.Adjuster)
	onePosition := byItself(cs)
	data := words.D{"Lock": screw.Lock, "Seen": screw.SeenFrom, "Past": "", "Turns": "", "Turn": "", "By": "",
		"Pieces": "", "Feeler": "",
		"Do": w.does(cs, screw, mv), "What": w.say("what.it", nil)}
	if onePosition && screw.Turned() {
		data["What"] = w.say("what."+string(screw.Drive), nil)
	}
	// What the hand does: slide, pack, or turn.
	key := "move." + string(screw.Drive)
	switch screw.Drive {
	case profile.Slide:
		data["By"] = scale.travel(mv.By)
		if g := machine.Profile.Gauge(cs.Check.Gauge); g != nil && g.Kind == "feelers" && onePosition {
			data["Feeler"] = scale.show(cs.Check.Target)
		}
	case profile.Shims:
		var pieces []string
		for _, p := range mv.Pieces {
			pieces = append(pieces, scale.exactly(p))
		}
		data["By"], data["Pieces"] = scale.exactly(sum(mv.Pieces)), strings.Join(pieces, " + ")
	default:
		key = "move.turn"
		turns := mv.Turns.Abs()
		if mv.Past.Valid() {
			turns = turns.Add(mv.Past)
			data["Past"] = turnsText(screw, mv.Past)
		}
		data["Turns"], data["Turn"] = turnsText(screw, turns), w.turnWay(mv.Turns.Sign() > 0)
	}
	// To which part, and how far that is off.
	name, off := capital(screw.Name), ""
	if onePosition {
		name = place(cs.Check, mv.Position)
		if at := verdictAt(cs, mv.Position); at != nil && cs.Check.Target.Valid() {
			off = w.off(machine, cs, *at, scale)
		}
	}
	if brief && screw.Drive != profile.Shims {
		return w.say(key+".brief", words.D{"Name": name, "Off": off, "Turns": data["Turns"], "Turn": data["Turn"],
			"By": data["By"], "Past": data["Past"], "Do": data["Do"]})
	}
	do := w.say(key, data)
	if off != "" {
		return w.say("plan.at", words.D{"Position": name, "Off": off, "Do": do})
	}
	return w.say("plan.move", words.D{"Name": name, "Do": do})
}

// verdictAt is the verdict on a position, or nil.
func verdictAt(cs *domain.CheckStatus, position string) *domain.PositionVerdict {
	if i := slices.IndexFunc(cs.At, func(p domain.PositionVerdict) bool { return p.Position == position }); i >= 0 {
		return &cs.At[i]
	}
	return nil
}

// turnWay is the direction of a turn in words.
func (w *wording) turnWay(clockwise bool) string {
	if clockwise {
		return w.say("turn.clockwise", nil)
	}
	return w.say("turn.counter-clockwise", nil)
}

// does says what a move does: "raise it"; of a body that turns about a point, what
// becomes of the reading farthest out.
func (w *wording) does(cs *domain.CheckStatus, a *profile.Adjuster, mv domain.Adjustment) string {
	body := cs.Check.Body
	if body == nil || body.Kind != profile.Tilt && body.Kind != profile.Taper {
		return w.say("do."+string(a.Does(mv.Grow)), nil)
	}
	far := ""
	for _, name := range cs.Check.Positions {
		if far == "" || body.Places[name][0].Cmp(body.Places[far][0]) > 0 {
			far = name
		}
	}
	if mv.Grow {
		return w.say("do.more", words.D{"Position": far})
	}
	return w.say("do.less", words.D{"Position": far})
}

// leftAlone names the adjusters that stay as they are, or "".
func (w *wording) leftAlone(machine domain.Machine, cs domain.Adjusting, scale ruler) string {
	var names []string
	for _, mv := range cs.Plan.Moves {
		if mv.ToDo() || slices.ContainsFunc(cs.Plan.Short,
			func(s domain.OutOfReach) bool { return s.Adjuster == mv.Adjuster }) {
			continue
		}
		if !byItself(cs.CheckStatus) || !cs.Check.Target.Valid() {
			names = append(names, machine.Profile.Adjuster(mv.Adjuster).Name)
			continue
		}
		i := slices.IndexFunc(cs.At, func(p domain.PositionVerdict) bool { return p.Position == mv.Position })
		names = append(names, strings.TrimSpace(mv.Position+" "+w.off(machine, cs.CheckStatus, cs.At[i], scale)))
	}
	switch {
	case len(names) == 0:
		return ""
	}
	return w.say("plan.leave", words.D{"Names": strings.Join(names, ", ")})
}

// oddLines tell of screws whose last turn did other than expected.
func (w *wording) oddLines(m domain.Machine, cs domain.Adjusting) []string {
	var lines []string
	for _, o := range cs.Odd {
		lines = append(lines, w.say("plan.odd", words.D{"Screw": capital(m.Profile.Adjuster(o.Adjuster).Name),
			"Did": strconv.FormatFloat(100*o.Did, 'f', 0, 64) + " %"}))
	}
	return lines
}

// turnedLabel is the button that says that a plan's moves were made.
func (w *wording) turnedLabel(p *domain.Plan) string {
	if p.Drive == profile.Slide || p.Drive == profile.Shims {
		return w.say("button.moved", nil)
	}
	return w.say("button.turned", nil)
}

// capLines say what to do with the spring caps that a symptom speaks of.
func (w *wording) capLines(st domain.Status, symptom string) []string {
	var lines []string
	for _, s := range st.Caps() {
		if symptom != s.Cap.Marks && symptom != s.Cap.Stutters {
			continue
		}
		lines = append(lines, w.capLine(st.Machine, s)...)
	}
	return lines
}

// capLine says what to do with one check's spring caps.
func (w *wording) capLine(machine domain.Machine, caps domain.CapStatus) []string {
	k := machine.Profile.Check(caps.Cap.Check)
	scale := rulerFor(k, machine.UnitsIn(w.shop))
	data := words.D{"Caps": capital(k.Name), "Low": "", "High": "", "Now": "", "Set": ""}
	if caps.LowAt >= 0 {
		data["Low"] = scale.show(caps.Reports[caps.LowAt].Height)
	}
	if caps.HighAt >= 0 {
		data["High"] = scale.show(caps.Reports[caps.HighAt].Height)
	}
	if caps.Now.Valid() {
		data["Now"] = scale.show(caps.Now)
	}
	switch {
	case !caps.Now.Valid():
		return []string{w.say("caps.read", data)}
	case caps.Contradiction:
		return []string{w.say("caps.contradiction", data)}
	case caps.NoStep:
		return []string{w.say("caps.nostep", data)}
	case caps.Move:
		data["Set"] = scale.exactly(caps.Set)
		return []string{w.say("caps.set", data), w.say("caps.both", words.D{"Machine": words.User(machine.Name)})}
	}
	return []string{w.say("caps.between", data)}
}

// capsTried reports whether spring caps that a symptom speaks of were seen at several
// heights, so that somebody is setting them.
func capsTried(st domain.Status, symptom string) bool {
	return slices.ContainsFunc(st.Caps(), func(s domain.CapStatus) bool {
		return (symptom == s.Cap.Marks || symptom == s.Cap.Stutters) && slices.ContainsFunc(s.Reports,
			func(r domain.CapReport) bool { return !r.Height.Equal(s.Reports[0].Height) })
	})
}
