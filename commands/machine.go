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
	Name: "machine", Who: Anyone, Quiet: true, Words: 700,
	Options:  []Option{machineOption},
	Examples: []string{`/machine machine:Marble`},
}

// runMachine is a machine's setting sheet.
func runMachine(c *call) (Reply, error) {
	m, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.state(st), Lines: c.handoverLines(st)}
	for _, t := range st.Tags {
		r.Lines = append(r.Lines, c.tagLine(t))
	}
	if st.Test != nil {
		r.Lines = append(r.Lines, c.say("test.stands", words.D{"By": words.Person(string(st.Test.By)), "At": words.Time(st.Test.At, words.DateTime)}))
	}
	if st.TaggedOut() {
		r.Lines = append(r.Lines, c.say("tag.isolates-nothing", nil))
		r.Lines = append(r.Lines, c.blockerLines(st.Blockers)...)
	}
	r.Lines = append(r.Lines, c.needLines(st)...)
	for _, p := range st.Problems {
		r.Lines = append(r.Lines, c.say("sheet.problem", words.D{"Problem": words.User(capital(p.Name)), "N": p.Reports, "At": words.Time(p.At, words.Date)}))
	}
	for _, w := range m.Profile.Cautions {
		r.Lines = append(r.Lines, w.Text)
	}
	r.Lines = append(r.Lines, c.say("sheet.services", nil))
	for _, s := range st.Services {
		r.Lines = append(r.Lines, dueWith(c.dueLine(s.Service.Name, s), s.Service))
	}
	for _, cs := range st.Checks {
		if cs.Check.Every != nil {
			r.Lines = append(r.Lines, c.dueAt(cs.Check.Name, cs.Due))
		}
	}
	r.Lines = append(r.Lines, c.say("sheet.hours", words.D{"Hours": quantity.FormatDuration(st.Hours)}))
	r.Lines = append(r.Lines, c.reportingLines(st)...)
	r.Lines = append(r.Lines, c.setLines(st)...)
	if st.Counter != nil {
		r.Lines = append(r.Lines, c.say("sheet.counter", words.D{"Shown": quantity.Format(st.Counter.Shown, quantity.Hour, 1), "At": words.Time(st.Counter.At, words.Date)}))
	}
	r.Lines = append(r.Lines, c.say("caution.manual", nil))
	if len(st.Starting) > 0 {
		r.Lines = append(r.Lines, c.say("sheet.starting", words.D{"N": len(st.Starting), "Example": "/shop confirm machine:" + quoted(m.Name)}))
	}
	r.Lines = append(r.Lines, c.say("sheet.order", nil))
	r.Table = &Table{Head: []string{c.say("sheet.check", nil), c.say("sheet.state", nil), c.say("sheet.limits", nil), c.say("sheet.read", nil)}}
	for i := range st.Checks {
		r.Table.Rows = append(r.Table.Rows, c.sheetRow(st, &st.Checks[i], i+1))
	}
	return r, nil
}

// stopLimits says beyond what a machine is not run, "" where there is no such
// limit.
func (w *wording) stopLimits(rl ruler, b metrology.Limits) string {
	d := words.D{}
	if b.Low.Valid() {
		d["Low"] = rl.briefly(b.Low)
	}
	if b.High.Valid() {
		d["High"] = rl.briefly(b.High)
	}
	switch {
	case b.Low.Valid() && b.High.Valid():
		d["Low"] = strings.TrimSuffix(rl.briefly(b.Low), " "+string(rl.unit))
		return "; " + w.say("sheet.stop.both", d)
	case b.Low.Valid():
		return "; " + w.say("sheet.stop.low", d)
	case b.High.Valid():
		return "; " + w.say("sheet.stop.high", d)
	}
	return ""
}

// sheetRow is a check on a machine's sheet.
func (w *wording) sheetRow(st domain.Status, cs *domain.CheckStatus, n int) []string {
	row := []string{strconv.Itoa(n) + ". " + capital(cs.Check.Name), w.checkState(cs), "", ""}
	rl := rulerFor(cs.Check, st.Machine.UnitsIn(w.shop))
	switch {
	case cs.Check.Inspection:
		return row
	case !cs.Check.Target.Valid():
		row[2] = w.say("sheet.alike", words.D{"Most": rl.briefly(cs.Check.AlikeAdjust)})
	default:
		item := domain.CheckItem(cs.Check.ID)
		if cs.Check.Mode != "" {
			item = domain.ModeItem(cs.Check.ID, cs.Check.Mode)
		}
		key := "sheet.target"
		if slices.Contains(st.Starting, item) {
			key = "sheet.target.starting"
		}
		d := words.D{"Target": rl.briefly(cs.Check.Target), "Band": w.bandBy(rl.briefly, rl, cs.Check.Adjust)}
		row[2] = w.modeName(cs.Check) + w.say(key, d) + w.stopLimits(rl, cs.Check.Stop)
	}
	switch {
	case cs.Predicted != nil:
		row[1] = w.say("check.expect", words.D{"Values": w.values(rl, predicted(cs))})
	case cs.Freshness != domain.Unread:
		row[3] = w.values(rl.by(cs.Latest.Reading.Gauge), cs.Latest.Reading.Values)
	}
	return row
}

// state is a machine's state in one sentence.
func (w *wording) state(st domain.Status) string {
	d := words.D{"Machine": words.User(st.Machine.Name)}
	if st.TaggedOut() {
		return w.outOfService(st.Machine)
	}
	if st.Handover != nil {
		return w.say("state.apart", d)
	}
	if len(st.Lacks()) > 0 {
		return w.say("state.lacks", d)
	}
	worst, due := metrology.Good, 0
	unread, today := false, false
	for _, cs := range st.Checks {
		if cs.Freshness == domain.Fresh {
			worst = max(worst, cs.Grade)
		} else {
			unread = true
		}
		today = today || cs.Advice == domain.AdviceMeasureToday
		if cs.Due.State != upkeep.NotDue {
			due++
		}
	}
	for _, s := range st.Services {
		if s.Due.State != upkeep.NotDue {
			due++
		}
	}
	switch {
	case today:
		return w.say("state.measure", d)
	case unread:
		return w.say("state.unread", d)
	case worst >= metrology.Adjust:
		return w.say("state.adjust", d)
	case due > 0:
		return w.say("state.due", d)
	}
	return w.say("state.good", d)
}

// checkState is a check's state in a few words.
func (w *wording) checkState(cs *domain.CheckStatus) string {
	switch {
	case cs.Freshness == domain.Unread:
		return w.say("check.unread", nil)
	case cs.Freshness == domain.Stale:
		return w.say("check.stale", nil)
	case cs.Unseconded:
		return w.say("check.second", nil)
	case cs.Failed, cs.Advice == domain.AdviceStop:
		return w.say("check.stop", nil)
	case cs.Advice == domain.AdvicePlan:
		return w.say("check.adjust", nil)
	case cs.Advice != domain.AdviceNone:
		return w.say("check.measure", nil)
	case cs.Grade == metrology.Near:
		return w.say("check.near", nil)
	case cs.Check.Inspection:
		return w.say("sheet.passed", nil)
	}
	return w.say("check.good", nil)
}

// itemNames are the names of things that can be confirmed.
func (w *wording) itemNames(m domain.Machine, items []string) []string {
	names := make([]string, len(items))
	all := confirmable(m)
	for i, id := range items {
		for _, n := range all {
			if n.id == id {
				names[i] = n.name
			}
		}
	}
	return names
}
