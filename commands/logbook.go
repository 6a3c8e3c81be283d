package commands

import (
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
)

var logbookCommand = &Command{
	Name: "logbook", Who: Anyone, Quiet: true, Words: 330,
	Options:  []Option{machineOption},
	Examples: []string{`/logbook machine:Marble`},
}

// logAction turns a page of a logbook: its argument is "machine.before".
var logAction = &Action{Name: "log", Who: Anyone}

func init() {
	logbookCommand.handle = runLogbook
	logAction.handle = runLogPage
}

// logPage is how many reports stand on a page of a logbook.
const logPage = 12

func runLogbook(c *call) (Reply, error) {
	m, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	return c.logbook(m, 0)
}

func runLogPage(c *call, arg string) (Reply, error) {
	id, before, _ := strings.Cut(arg, ".")
	no, err := strconv.ParseInt(id, 10, 64)
	if err != nil {
		return Reply{}, &sorry{key: "no-such-button"}
	}
	from, err := strconv.ParseInt(before, 10, 64)
	if err != nil {
		return Reply{}, &sorry{key: "no-such-button"}
	}
	snap, err := c.books.Snapshot(c, domain.MachineID(no))
	if err != nil {
		return Reply{}, err
	}
	r, err := c.logbook(snap.Machine, domain.FactNo(from))
	r.Replaces = true
	return r, err
}

// logbook is a page of a machine's past: what was reported before a report, the
// newest first.
func (c *call) logbook(m domain.Machine, before domain.FactNo) (Reply, error) {
	facts, err := c.books.Logbook(c, m.ID, before, logPage+1)
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.say("log.headline", words.D{"Machine": words.User(m.Name)})}
	for _, f := range facts[:min(len(facts), logPage)] {
		r.Lines = append(r.Lines, c.logLine(f, m))
	}
	page := func(key string, from domain.FactNo) {
		r.Buttons = append(r.Buttons, Button{Label: c.say(key, nil), Custom: custom(logAction.Name, strconv.FormatInt(int64(m.ID), 10)+"."+factArg(from))})
	}
	if len(facts) > logPage {
		page("button.older", facts[logPage-1].No)
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
