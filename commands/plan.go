package commands

import (
	"math"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"setscrew/commands/plot"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// turnedAction records that a plan's moves were made.
const turnedAction waiting[turning] = "turned"

// howTurnedAction records how a move was made after which the readings went the
// wrong way.
const howTurnedAction waiting[howTurned] = "how-turned"

// mostMoves is how many moves are worded one by one.
const mostMoves = 3

// planLines are a plan in words that a hand can follow, cautions first.
func (w *wording) planLines(m domain.Machine, cs domain.Adjusting, r ruler) []string {
	p := cs.Plan
	var lines []string
	moves := slices.DeleteFunc(slices.Clone(p.Moves), func(a domain.Adjustment) bool { return !a.ToDo() })
	if len(moves) > 0 {
		lines = append(lines, w.say("caution.before-turning", words.D{"Machine": words.User(m.Name)}))
	}
	lines = append(lines, w.oddLines(m, cs)...)
	if len(moves) > 0 && !byItself(cs.CheckStatus) && cs.Check.Target.Valid() {
		lines = append(lines, w.offsLine(m, cs.CheckStatus, r))
	}
	var each, first []string
	for _, mv := range moves {
		if mv.First {
			first = append(first, m.Profile.Adjuster(mv.Adjuster).Name)
		}
		each = append(each, w.moveLine(m, cs.CheckStatus, mv, r, len(moves) > mostMoves))
	}
	if len(moves) > mostMoves && p.Drive != profile.Shims {
		lines = append(lines, w.say("plan.several", words.D{"Lock": m.Profile.Adjuster(moves[0].Adjuster).Lock, "Seen": m.Profile.Adjuster(moves[0].Adjuster).SeenFrom}))
	}
	lines = append(lines, each...)
	if len(first) > 0 {
		lines = append(lines, w.say("plan.first", words.D{"Screws": capital(strings.Join(first, ", "))}))
	}
	if left := w.leftAlone(m, cs, r); left != "" {
		lines = append(lines, left)
	}
	if len(p.Left) > 0 {
		var where []string
		for _, l := range p.Left {
			where = append(where, strings.TrimSpace(l.Position+" "+r.show(l.Reading)))
		}
		lines = append(lines, w.say("plan.twist", words.D{"Where": strings.Join(where, ", ")}))
	}
	for _, s := range p.Short {
		lines = append(lines, w.say("plan.short", words.D{"Screw": capital(m.Profile.Adjuster(s.Adjuster).Name), "Missing": r.size(s.Missing)}))
	}
	if len(moves) > 0 {
		lines = append(lines, w.expectLine(cs, r, len(first) > 0))
	}
	return lines
}

// expectLine says what to expect of a plan, and to read again.
func (w *wording) expectLine(cs domain.Adjusting, r ruler, first bool) string {
	d := words.D{"Values": w.values(r, expected(cs)), "Check": cs.Check.Name, "U": "", "Likely": "", "Tries": ""}
	var widest quantity.Value
	for _, e := range cs.Plan.Expect {
		if !widest.Valid() || e.U.Cmp(widest) > 0 {
			widest = e.U
		}
	}
	d["U"] = r.doubt(widest)
	if !first {
		d["Likely"] = percent(cs.Plan.Pass)
	}
	if !first && cs.Plan.Pass > 0.01 {
		d["Tries"] = strconv.FormatFloat(math.Min(cs.Plan.Tries, 20), 'f', 1, 64)
	}
	return w.say("plan.expect", d)
}

// expected is what a plan's positions are to be expected to read.
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
func (w *wording) off(m domain.Machine, cs *domain.CheckStatus, at domain.PositionVerdict, r ruler) string {
	off := at.Verdict.Value.Sub(cs.Check.Target)
	if off.Sign() == 0 {
		return w.say("plan.on", nil)
	}
	return w.say("plan.off", words.D{"Off": r.size(off, quantity.Zero(off.Kind())), "Way": w.way(m, cs, off.Sign() > 0)})
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
func (w *wording) moveLine(m domain.Machine, cs *domain.CheckStatus, mv domain.Adjustment, r ruler, brief bool) string {
	a := m.Profile.Adjuster(mv.Adjuster)
	alone := byItself(cs)
	d := words.D{"Lock": a.Lock, "Seen": a.SeenFrom, "Past": "", "Turns": "", "Turn": "", "By": "", "Pieces": "", "Feeler": "",
		"Do": w.does(cs, a, mv), "What": w.say("what.it", nil)}
	if alone && a.Turned() {
		d["What"] = w.say("what."+string(a.Drive), nil)
	}
	key := "move." + string(a.Drive)
	switch a.Drive {
	case profile.Slide:
		d["By"] = r.size(mv.By)
		if g := m.Profile.Gauge(cs.Check.Gauge); g != nil && g.Kind == "feelers" && alone {
			d["Feeler"] = r.show(cs.Check.Target)
		}
	case profile.Shims:
		var pieces []string
		for _, p := range mv.Pieces {
			pieces = append(pieces, r.exactly(p))
		}
		d["By"], d["Pieces"] = r.exactly(sum(mv.Pieces)), strings.Join(pieces, " + ")
	default:
		key = "move.turn"
		turns := mv.Turns.Abs()
		if mv.Past.Valid() {
			turns = turns.Add(mv.Past)
			d["Past"] = turnsText(a, mv.Past)
		}
		d["Turns"], d["Turn"] = turnsText(a, turns), w.turnWay(mv.Turns.Sign() > 0)
	}
	name := capital(a.Name)
	if alone {
		name = place(cs.Check, mv.Position)
	}
	if brief && a.Drive != profile.Shims {
		off := ""
		if i := slices.IndexFunc(cs.At, func(p domain.PositionVerdict) bool { return p.Position == mv.Position }); alone && i >= 0 && cs.Check.Target.Valid() {
			off = w.off(m, cs, cs.At[i], r)
		}
		return w.say(key+".brief", words.D{"Name": name, "Off": off, "Turns": d["Turns"], "Turn": d["Turn"], "By": d["By"], "Past": d["Past"], "Do": d["Do"]})
	}
	do := w.say(key, d)
	if i := slices.IndexFunc(cs.At, func(p domain.PositionVerdict) bool { return p.Position == mv.Position }); alone && i >= 0 && cs.Check.Target.Valid() {
		return w.say("plan.at", words.D{"Position": name, "Off": w.off(m, cs, cs.At[i], r), "Do": do})
	}
	return w.say("plan.move", words.D{"Name": name, "Do": do})
}

func (w *wording) turnWay(clockwise bool) string {
	if clockwise {
		return w.say("turn.clockwise", nil)
	}
	return w.say("turn.counter-clockwise", nil)
}

// does says what a move does: "raise it"; of a body that turns about a point, what
// becomes of the reading farthest out.
func (w *wording) does(cs *domain.CheckStatus, a *profile.Adjuster, mv domain.Adjustment) string {
	b := cs.Check.Body
	if b == nil || b.Kind != profile.Tilt && b.Kind != profile.Taper {
		return w.say("do."+string(a.Does(mv.Grow)), nil)
	}
	far := ""
	for _, name := range cs.Check.Positions {
		if far == "" || b.Places[name][0].Cmp(b.Places[far][0]) > 0 {
			far = name
		}
	}
	if mv.Grow {
		return w.say("do.more", words.D{"Position": far})
	}
	return w.say("do.less", words.D{"Position": far})
}

// turnsText prints turns of an adjuster so that a hand can make them: in
// sixteenths, in another simple fraction that its increment has, else in degrees.
func turnsText(a *profile.Adjuster, v quantity.Value) string {
	const simple = 12
	n, step := v.In(quantity.Turn), a.Increment.In(quantity.Turn)
	if step.Denom().Int64() > simple && 16%step.Denom().Int64() != 0 {
		return quantity.Format(quantity.FromRat(new(big.Rat).Mul(n, big.NewRat(360, 1)), quantity.Degree), quantity.Degree, 0)
	}
	if text, ok := quantity.FormatFraction(v, quantity.Turn, step.Denom().Int64()); ok && 16%step.Denom().Int64() != 0 {
		return text
	}
	return quantity.Format(v, quantity.Turn, 2)
}

func sum(all []quantity.Value) quantity.Value {
	total := quantity.Zero(quantity.Length)
	for _, v := range all {
		total = total.Add(v)
	}
	return total
}

// leftAlone names the adjusters that stay as they are, or "".
func (w *wording) leftAlone(m domain.Machine, cs domain.Adjusting, r ruler) string {
	var names []string
	for _, mv := range cs.Plan.Moves {
		if mv.ToDo() || slices.ContainsFunc(cs.Plan.Short, func(s domain.OutOfReach) bool { return s.Adjuster == mv.Adjuster }) {
			continue
		}
		if !byItself(cs.CheckStatus) || !cs.Check.Target.Valid() {
			names = append(names, m.Profile.Adjuster(mv.Adjuster).Name)
			continue
		}
		i := slices.IndexFunc(cs.At, func(p domain.PositionVerdict) bool { return p.Position == mv.Position })
		names = append(names, strings.TrimSpace(mv.Position+" "+w.off(m, cs.CheckStatus, cs.At[i], r)))
	}
	switch {
	case len(names) == 0:
		return ""
	}
	return w.say("plan.leave", words.D{"Names": strings.Join(names, ", ")})
}

// oddLines tell of screws whose last turn did other than was to be expected.
func (w *wording) oddLines(m domain.Machine, cs domain.Adjusting) []string {
	var lines []string
	for _, o := range cs.Odd {
		lines = append(lines, w.say("plan.odd", words.D{"Screw": capital(m.Profile.Adjuster(o.Adjuster).Name),
			"Did": strconv.FormatFloat(100*o.Did, 'f', 0, 64) + " %"}))
	}
	return lines
}

// askHowTurned asks how the last move was made, after which readings went the
// wrong way.
func (c *call) askHowTurned(reply *Reply, m domain.Machine, cs domain.Adjusting) {
	var names []string
	for _, id := range cs.Wrong.Adjusters {
		names = append(names, m.Profile.Adjuster(id).Name)
	}
	reply.Lines = append(reply.Lines, c.say("turned.wrong", words.D{"Screws": capital(strings.Join(names, ", ")), "No": cs.Wrong.Move}))
	for _, said := range []domain.HowTurned{domain.TurnedOther, domain.TurnedAsSaid} {
		reply.Buttons = append(reply.Buttons, Button{Label: c.say("button.turned."+string(said), nil),
			Custom: wait(c, howTurnedAction, howTurned{cs.Wrong.Move, cs.Latest.Fact, said})})
	}
}

// howTurned is what a button says of a move; Reading is what was read after it.
type howTurned struct {
	Move    domain.FactNo    `json:"move"`
	Reading domain.FactNo    `json:"reading"`
	Said    domain.HowTurned `json:"said"`
}

// turnedLabel is the button that says that a plan's moves were made.
func (w *wording) turnedLabel(p *domain.Plan) string {
	if p.Drive == profile.Slide || p.Drive == profile.Shims {
		return w.say("button.moved", nil)
	}
	return w.say("button.turned", nil)
}

// runHowTurned records how a move was made, and plans anew.
func runHowTurned(c *call, h howTurned) (Reply, error) {
	f, r, err := c.readingOf(h.Reading)
	if err != nil {
		return Reply{}, err
	}
	snap, err := c.books.Snapshot(c, f.Machine)
	if err != nil {
		return Reply{}, err
	}
	o, err := c.report(snap.Machine, domain.MoveAnswer{Of: h.Move, Check: r.Check, Said: h.Said})
	if err != nil {
		return Reply{}, err
	}
	k := snap.Machine.Profile.Check(r.Check).In(r.Mode)
	o.Fact.No = f.No // the reply is about the reading
	reply := c.readingReply(o, k, r)
	reply.Replaces = true
	return reply, nil
}

// runTurned records the moves of a reading's plan as made.
func runTurned(c *call, t turning) (Reply, error) {
	f, r, err := c.readingOf(t.Reading)
	if err != nil {
		return Reply{}, err
	}
	snap, err := c.books.Snapshot(c, f.Machine)
	if err != nil {
		return Reply{}, err
	}
	st := domain.Assess(snap, c.now)
	cs := st.Adjusting(r.Check)
	if cs.CheckStatus == nil || cs.Latest.Fact != f.No || cs.Plan == nil {
		return Reply{}, &domain.Refusal{Code: domain.ReadingMovedOn, Fact: f.No}
	}
	o, err := c.report(snap.Machine, cs.Plan.Made(snap.Machine.Profile, f.No))
	if err != nil {
		return Reply{}, err
	}
	ruler := rulerFor(cs.Check, snap.Machine.UnitsIn(c.shop))
	reply := Reply{Replaces: true, Headline: c.say("turned.headline", words.D{"Check": capital(cs.Check.Name), "No": o.Fact.No}),
		Lines: []string{c.say("turned.expect", words.D{"Values": c.values(ruler, expected(cs))})}}
	if names := checkNames(snap.Machine.Profile, domain.ReadAgain(o.After, o.Fact.No, r.Check)); len(names) > 0 {
		reply.Lines = append(reply.Lines, c.say("turned.stale", words.D{"Checks": strings.Join(names, ", ")}))
	}
	return reply, nil
}

func checkNames(p *profile.Profile, ids []string) []string {
	var names []string
	for _, id := range ids {
		names = append(names, p.Check(id).Name)
	}
	return names
}

// planPicture is the picture of a plan of more than one move, or nil.
func (c *call) planPicture(m domain.Machine, cs domain.Adjusting, r ruler) *Picture {
	moving := 0
	for _, mv := range cs.Plan.Moves {
		if mv.ToDo() {
			moving++
		}
	}
	if moving < 2 {
		return nil
	}
	s := &plot.Moves{Limits: c.limits(cs.CheckStatus, r), InARow: cs.Check.Body == nil, Caption: c.say("plot.seen", words.D{"Seen": seenFrom(m, cs.CheckStatus), "Places": cs.Check.Body != nil})}
	s.Limits.BeforeLabel, s.Limits.AfterLabel = c.say("plot.before", nil), c.say("plot.expected", nil)
	var alt []string
	for _, mv := range cs.Plan.Moves {
		a := m.Profile.Adjuster(mv.Adjuster)
		label, name := c.say("plot.leave", nil), a.Name
		if cs.Check.Body == nil {
			name = strings.TrimSpace(mv.Position)
		}
		screw := plot.Screw{Name: name}
		if a.SeenFrom != "" && seenFrom(m, cs.CheckStatus) == "" {
			screw.Name = c.say("plot.from", words.D{"Screw": name, "Seen": a.SeenFrom})
		}
		switch {
		case !mv.ToDo():
		case a.Drive == profile.Slide, a.Drive == profile.Shims:
			label, screw.Way = c.say("plot.slide", words.D{"By": r.size(mv.By), "Do": c.does(cs.CheckStatus, a, mv)}), plot.Against
			if mv.Grow {
				screw.Way = plot.Along
			}
			alt = append(alt, name+" "+label)
		default:
			label, screw.Way = turnsText(a, mv.Turns.Abs()), plot.CounterClockwise
			if mv.Turns.Sign() > 0 {
				screw.Way = plot.Clockwise
			}
			alt = append(alt, name+" "+label+" "+c.turnWay(mv.Turns.Sign() > 0))
		}
		screw.Label = label
		screw.At = millimetres(a.At)
		s.Screws = append(s.Screws, screw)
	}
	if b := cs.Check.Body; b != nil {
		for _, a := range m.Profile.AdjustersOf(cs.Check.ID) {
			if a.Fixed {
				s.Screws = append(s.Screws, plot.Screw{Name: a.Name, Label: c.say("plot.fixed", nil), At: millimetres(a.At)})
			}
		}
		for _, name := range cs.Check.Positions {
			if at, ok := b.Places[name]; ok {
				s.Places = append(s.Places, plot.Place{Name: name, At: millimetres(at)})
			}
		}
	}
	for _, e := range cs.Plan.Expect {
		s.Limits.After = append(s.Limits.After, plot.Point{Name: e.Position, Value: e.Reading.Float(r.unit), Uncertainty: e.U.Float(r.unit.Step()), Label: r.show(e.Reading)})
	}
	return &Picture{Name: "moves", Alt: c.say("picture.moves", words.D{"Check": capital(cs.Check.Name), "Moves": strings.Join(alt, ", "),
		"Values": c.values(r, expected(cs))}), Data: s}
}

// seenFrom is from where all the screws of a check are seen, "" where that
// differs.
func seenFrom(m domain.Machine, cs *domain.CheckStatus) string {
	from := ""
	for _, a := range m.Profile.AdjustersOf(cs.Check.ID) {
		switch {
		case a.SeenFrom == "":
		case from != "" && from != a.SeenFrom:
			return ""
		default:
			from = a.SeenFrom
		}
	}
	return from
}

// millimetres is a place on a body; nowhere is its middle.
func millimetres(at [2]quantity.Value) (mm [2]float64) {
	for i, v := range at {
		if v.Valid() {
			mm[i] = v.Float(quantity.Millimetre)
		}
	}
	return mm
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
func (w *wording) capLine(m domain.Machine, s domain.CapStatus) []string {
	k := m.Profile.Check(s.Cap.Check)
	r := rulerFor(k, m.UnitsIn(w.shop))
	d := words.D{"Caps": capital(k.Name), "Low": "", "High": "", "Now": "", "Set": ""}
	if s.LowAt >= 0 {
		d["Low"] = r.show(s.Reports[s.LowAt].Height)
	}
	if s.HighAt >= 0 {
		d["High"] = r.show(s.Reports[s.HighAt].Height)
	}
	if s.Now.Valid() {
		d["Now"] = r.show(s.Now)
	}
	switch {
	case !s.Now.Valid():
		return []string{w.say("caps.read", d)}
	case s.Contradiction:
		return []string{w.say("caps.contradiction", d)}
	case s.NoStep:
		return []string{w.say("caps.nostep", d)}
	case s.Move:
		d["Set"] = r.exactly(s.Set)
		return []string{w.say("caps.set", d), w.say("caps.both", words.D{"Machine": words.User(m.Name)})}
	}
	return []string{w.say("caps.between", d)}
}
