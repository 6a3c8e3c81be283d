package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var logbookCommand = &Command{
	Name: "logbook", Who: Anyone, Quiet: true, Words: 330,
	Options:  []Option{machineOption},
	Examples: []string{`/logbook machine:Marble`},
}

// logAction turns a page of a logbook.
const logAction lasting[logPage] = "log"

// pageOfLog is how many reports stand on a page of a logbook.
const pageOfLog = 12

// runLogbook shows the newest page of what was reported of a machine.
func runLogbook(c *call) (Reply, error) {
	m, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	return c.logbook(m, 0)
}

// runLogPage turns to an older page of a logbook, or back to the newest.
func runLogPage(c *call, page logPage) (Reply, error) {
	snap, err := c.books.Snapshot(c, page.machine)
	if err != nil {
		return Reply{}, err
	}
	// A page begins at a report of this machine.
	if page.before != 0 {
		if f, err := c.books.Fact(c, page.before); err != nil {
			return Reply{}, err
		} else if f.Machine != page.machine {
			return Reply{}, noSuchButton()
		}
	}
	r, err := c.logbook(snap.Machine, page.before)
	r.Replaces = true
	return r, err
}

// logbook is a page of a machine's past: what was reported before a report, the
// newest first.
func (c *call) logbook(machine domain.Machine, before domain.FactNo) (Reply, error) {
	facts, err := c.books.Logbook(c, machine.ID, before, pageOfLog+1)
	if err != nil {
		return Reply{}, err
	}
	reply := Reply{Headline: c.say("log.headline", words.D{"Machine": words.User(machine.Name)})}
	for _, f := range facts[:min(len(facts), pageOfLog)] {
		reply.Lines = append(reply.Lines, c.logLine(f, machine))
	}
	page := func(key string, from domain.FactNo) {
		reply.Buttons = append(reply.Buttons,
			Button{Label: c.say(key, nil), Custom: logAction.with(logPage{machine.ID, from})})
	}
	if len(facts) > pageOfLog {
		page("button.older", facts[pageOfLog-1].No)
	}
	if before != 0 {
		page("button.newest", 0)
	}
	return reply, nil
}

// logLine is one report in a logbook.
func (w *wording) logLine(fact domain.Fact, m domain.Machine) string {
	data := words.D{"At": words.Time(fact.At, words.DateTime), "What": w.factLine(fact, m),
		"For": words.Person(string(fact.For))}
	key := "log.line"
	if fact.By == "" {
		key += ".own"
	}
	line := w.say(key, data)
	if note := domain.Note(fact.Body); note != "" {
		line += " " + words.User(note) + "."
	}
	if fact.Withdrawn != 0 {
		line += " " + w.say("why.withdrawn", words.D{"No": fact.Withdrawn})
	}
	return line
}
