package commands

import (
	"slices"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/upkeep"
)

var machineCommand = &Command{
	Name: "machine", Who: Anyone, Quiet: true,
	Options:  []Option{machineOption},
	Examples: []string{`/machine machine:Marble`},
}

func init() { machineCommand.handle = runMachine }

// runMachine is a machine's setting sheet.
func runMachine(c *call) (Reply, error) {
	m, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.state(st)}
	for _, t := range st.Tags {
		r.Lines = append(r.Lines, c.tagLine(t))
	}
	if st.TaggedOut() {
		r.Lines = append(r.Lines, c.say("tag.isolates-nothing", nil))
		for _, b := range st.Blockers {
			r.Lines = append(r.Lines, blockerIn(c.speaker, b))
		}
	}
	for _, w := range m.Profile.Cautions {
		r.Lines = append(r.Lines, w.Text)
	}
	r.Table = &Table{Head: []string{c.say("sheet.check", nil), c.say("sheet.limits", nil), c.say("sheet.read", nil), c.say("sheet.state", nil)}}
	units := m.UnitsIn(c.shop)
	for i := range st.Checks {
		cs := &st.Checks[i]
		row := []string{cs.Check.Name, c.say("sheet.passes", nil), "", c.checkState(cs)}
		if !cs.Check.Inspection {
			rl := rulerFor(cs.Check, units)
			key := "sheet.target"
			if slices.Contains(st.Starting, domain.CheckItem(cs.Check.ID)) {
				key = "sheet.target.starting"
			}
			row[1] = c.say(key, words.D{"Target": rl.exactly(cs.Check.Target), "Band": c.band(rl, cs.Check.Adjust)})
			if cs.Freshness != domain.Unread {
				row[2] = c.values(rl, cs.Latest.Reading.Values)
			}
		} else if cs.Freshness != domain.Unread {
			row[2] = c.say("sheet.passed", nil)
			if cs.Failed {
				row[2] = c.say("sheet.failed", nil)
			}
		}
		r.Table.Rows = append(r.Table.Rows, row)
	}
	for _, s := range st.Services {
		r.Lines = append(r.Lines, c.dueLine(s.Service.Name, s.Due))
	}
	for _, cs := range st.Checks {
		if cs.Check.Every != nil {
			r.Lines = append(r.Lines, c.dueLine(cs.Check.Name, cs.Due))
		}
	}
	if len(st.Starting) > 0 {
		r.Lines = append(r.Lines, c.say("sheet.starting", words.D{"Items": strings.Join(c.itemNames(m, st.Starting), ", ")}))
	}
	r.Lines = append(r.Lines, c.say("sheet.hours", words.D{"Hours": hoursText(st.Hours)}), c.say("caution.manual", nil))
	return r, nil
}

// state is a machine's state in one sentence.
func (c *call) state(st domain.Status) string {
	d := words.D{"Machine": words.User(st.Machine.Name)}
	if st.TaggedOut() {
		return c.outOfService(st.Machine)
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
		return c.say("state.measure", d)
	case unread:
		return c.say("state.unread", d)
	case worst >= metrology.Adjust:
		return c.say("state.adjust", d)
	case due > 0:
		return c.say("state.due", d)
	}
	return c.say("state.good", d)
}

// checkState is a check's state in a few words.
func (c *call) checkState(cs *domain.CheckStatus) string {
	switch {
	case cs.Freshness == domain.Unread:
		return c.say("check.unread", nil)
	case cs.Freshness == domain.Stale:
		return c.say("check.stale", nil)
	case cs.Failed, cs.Advice == domain.AdviceStop:
		return c.say("check.stop", nil)
	case cs.Advice == domain.AdvicePlan:
		return c.say("check.adjust", nil)
	case cs.Advice != domain.AdviceNone:
		return c.say("check.measure", nil)
	case cs.Grade == metrology.Near:
		return c.say("check.near", nil)
	}
	return c.say("check.good", nil)
}

// itemNames are the names of things that can be confirmed.
func (c *call) itemNames(m domain.Machine, items []string) []string {
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
