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

func runLogbook(c *call) (Reply, error) {
	m, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	return c.logbook(m, 0)
}

func runLogPage(c *call, p logPage) (Reply, error) {
	snap, err := c.books.Snapshot(c, p.machine)
	if err != nil {
		return Reply{}, err
	}
	r, err := c.logbook(snap.Machine, p.before)
	r.Replaces = true
	return r, err
}

// logbook is a page of a machine's past: what was reported before a report, the
// newest first.
func (c *call) logbook(m domain.Machine, before domain.FactNo) (Reply, error) {
	facts, err := c.books.Logbook(c, m.ID, before, pageOfLog+1)
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.say("log.headline", words.D{"Machine": words.User(m.Name)})}
	for _, f := range facts[:min(len(facts), pageOfLog)] {
		r.Lines = append(r.Lines, c.logLine(f, m))
	}
	page := func(key string, from domain.FactNo) {
		r.Buttons = append(r.Buttons, Button{Label: c.say(key, nil), Custom: logAction.with(logPage{m.ID, from})})
	}
	if len(facts) > pageOfLog {
		page("button.older", facts[pageOfLog-1].No)
	}
	if before != 0 {
		page("button.newest", 0)
	}
	return r, nil
}

// logLine is one report in a logbook.
func (w *wording) logLine(f domain.Fact, m domain.Machine) string {
	d := words.D{"At": words.Time(f.At, words.DateTime), "What": w.factLine(f, m), "For": words.Person(string(f.For))}
	key := "log.line"
	if f.By == "" {
		key += ".own"
	}
	line := w.say(key, d)
	if note := domain.Note(f.Body); note != "" {
		line += " " + words.User(note) + "."
	}
	if f.Withdrawn != 0 {
		line += " " + w.say("why.withdrawn", words.D{"No": f.Withdrawn})
	}
	return line
}
