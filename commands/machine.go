package commands

import (
	"slices"
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

var machineCommand = &Command{
	Name: "machine", Who: Anyone, Quiet: true, Words: 760,
	Options:  []Option{machineOption},
	Examples: []string{`/machine machine:Marble`},
}

// runMachine is a machine's setting sheet.
func runMachine(c *call) (Reply, error) {
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	// Its state, and why it must not run.
	reply := Reply{Headline: c.state(st), Lines: append(c.handoverLines(st), c.standingLines(st.Tags)...)}
	if st.Test != nil {
		reply.Lines = append(reply.Lines,
			c.say("test.stands", words.D{"By": words.Person(string(st.Test.By)),
				"At": words.Time(st.Test.At, words.DateTime)}))
	}
	if st.TaggedOut() {
		reply.Lines = append(reply.Lines, c.say("tag.isolates-nothing", nil))
		reply.Lines = append(reply.Lines, c.blockerLines(st.Blockers)...)
	}
	for _, cs := range st.Checks {
		if cs.ProveBy.After(c.now) && !st.TaggedOut() {
			reply.Lines = append(reply.Lines, c.say("prove.sheet",
				words.D{"Check": capital(cs.Check.Name), "At": words.Time(cs.ProveBy, words.DateTime)}))
		}
	}
	if asked := st.Loosening; asked != nil {
		reply.Lines = append(reply.Lines, c.say("loosen.waits", words.D{"Machine": words.User(machine.Name),
			"By": words.Person(string(asked.By)), "No": asked.Fact}))
		reply.Lines = append(reply.Lines, c.loosenLines(asked.Loosens)...)
	}
	if st.Unproved {
		reply.Lines = append(reply.Lines, c.say("sheet.unproved",
			words.D{"Example": slash("shop start", "machine", machine.Name)}))
	}
	reply.Lines = append(reply.Lines, c.needLines(st)...)
	for _, p := range st.Problems {
		reply.Lines = append(reply.Lines,
			c.say("sheet.problem", words.D{"Problem": words.User(capital(p.Name)), "N": p.Reports,
				"At": words.Time(p.At, words.Date)}))
	}
	// Cautions, and what falls due.
	for _, w := range machine.Profile.Cautions {
		reply.Lines = append(reply.Lines, w.Text)
	}
	if each := domain.CheckNames(st.EachUseChecks()); len(each) > 0 {
		reply.Lines = append(reply.Lines, c.say("sheet.each-use", words.D{"Checks": strings.Join(each, ", ")}))
	}
	reply.Lines = append(reply.Lines, c.say("sheet.services", nil))
	for _, s := range st.Services {
		reply.Lines = append(reply.Lines, dueWith(c.dueLine(s.Service.Name, s), s.Service))
	}
	for _, cs := range st.RecurringChecks() {
		line := c.dueAt(cs.Check.Name, cs.Due)
		if !cs.TagsAt.IsZero() && cs.Due.State != upkeep.NotDue && !st.TaggedOut() {
			line += " " + c.say("sheet.tags-at", words.D{"At": words.Time(cs.TagsAt, words.DateTime)})
		}
		reply.Lines = append(reply.Lines, line)
	}
	reply.Lines = append(reply.Lines, c.firstLines(st)...)
	// How long it has run, and its knives or blades.
	reply.Lines = append(reply.Lines, c.say("sheet.hours", words.D{"Hours": quantity.FormatDuration(st.Hours)}))
	reply.Lines = append(reply.Lines, c.reportingLines(st)...)
	reply.Lines = append(reply.Lines, c.setLines(st)...)
	if st.Counter != nil {
		reply.Lines = append(reply.Lines,
			c.say("sheet.counter", words.D{"Shown": quantity.Format(st.Counter.Shown, quantity.Hour, 1),
				"At": words.Time(st.Counter.At, words.Date)}))
	}
	reply.Lines = append(reply.Lines, c.say("caution.manual", nil))
	if len(st.Starting) > 0 {
		reply.Lines = append(reply.Lines,
			c.say("sheet.starting", words.D{"N": len(st.Starting),
				"Example": slash("shop confirm", "machine", machine.Name)}))
	}
	// The checks in the order in which the machine is set up.
	reply.Lines = append(reply.Lines, c.say("sheet.order", nil))
	reply.Table = &Table{Head: []string{c.say("sheet.check", nil), c.say("sheet.state", nil),
		c.say("sheet.limits", nil), c.say("sheet.read", nil)}}
	for i := range st.Checks {
		if cs := &st.Checks[i]; !cs.Idle() {
			reply.Table.Rows = append(reply.Table.Rows, c.sheetRow(st, cs, len(reply.Table.Rows)+1))
		}
	}
	return reply, nil
}

// stopLimits says beyond what a machine is not run, "" where there is no such
// limit.
func (w *wording) stopLimits(scale ruler, limits metrology.Limits) string {
	data := words.D{}
	if limits.Low.Valid() {
		data["Low"] = scale.least(limits.Low)
	}
	if limits.High.Valid() {
		data["High"] = scale.most(limits.High)
	}
	switch {
	case limits.Low.Valid() && limits.High.Valid():
		data["Low"] = strings.TrimSuffix(scale.least(limits.Low), " "+string(scale.unit))
		return "; " + w.say("sheet.stop.both", data)
	case limits.Low.Valid():
		return "; " + w.say("sheet.stop.low", data)
	case limits.High.Valid():
		return "; " + w.say("sheet.stop.high", data)
	}
	return ""
}

// sheetRow is a check on a machine's sheet.
func (w *wording) sheetRow(st domain.Status, cs *domain.CheckStatus, n int) []string {
	row := []string{strconv.Itoa(n) + ". " + capital(cs.Check.Name), w.checkState(cs), "", ""}
	scale := rulerFor(cs.Check, st.Machine.UnitsIn(w.shop))
	switch {
	case cs.Check.Inspection:
		return row
	case !cs.Check.Target.Valid():
		row[2] = w.say("sheet.alike", words.D{"Most": scale.most(cs.Check.AlikeAdjust)})
	default:
		key := "sheet.target"
		if slices.Contains(st.Starting, domain.CheckItem.Of(cs.Check.ID).In(cs.Check.Mode)) {
			key = "sheet.target.starting"
		}
		d := words.D{"Target": scale.briefly(cs.Check.Target), "Band": w.limitsBrief(scale, cs.Check.Adjust)}
		row[2] = w.modeName(cs.Check) + w.say(key, d) + w.stopLimits(scale, cs.Check.Stop)
	}
	switch {
	case cs.Predicted != nil:
		row[1] = w.say("check.expect", words.D{"Values": w.values(scale, predicted(cs))})
	case cs.Freshness != domain.Unread:
		row[3] = w.values(scale.by(cs.Latest.Reading.Gauge), cs.Latest.Reading.Values)
	}
	return row
}
