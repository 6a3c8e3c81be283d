package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
)

// goNoGoWord begins what is typed of a go/no-go check in place of values.
const goNoGoWord = "go/no-go"

// What is typed of a go/no-go check.
const (
	noEntry = goNoGoWord + ": no entry"
	entry   = goNoGoWord + ": entry"
)

// proveLines say of a safety value that is too near a stop limit to tell until when it
// can still be proved, and what would prove it: which gauges, how many repeats, and the
// check's go/no-go check.
func (c *call) proveLines(st domain.Status, cs *domain.CheckStatus) []string {
	var lines []string
	if cs.ProveBy.After(c.now) && !st.TaggedOut() {
		lines = append(lines, c.say("prove.by", words.D{"At": words.Time(cs.ProveBy, words.DateTime)}))
	}
	lines = append(lines, c.decidingLines(st.Machine, cs)...)
	if cs.Check.ProvesByPiece() {
		lines = append(lines, c.say("prove.go-no-go", words.D{"How": capital(cs.Check.GoNoGo.How)}))
	}
	return lines
}

// mostDeciding is how many gauges are named.
const mostDeciding = 3

// decidingLines name the gauges that would prove a value, or else what would settle it.
func (c *call) decidingLines(machine domain.Machine, cs *domain.CheckStatus) []string {
	all, err := c.gauges(machine.Profile, quantity.Base(cs.Check.Kind()).Step().Kind())
	if err != nil {
		return nil // said elsewhere; what would prove it is extra
	}
	var gauges []metrology.Gauge
	for _, g := range all {
		gauges = append(gauges, g.Gauge)
	}
	var names []string
	for _, i := range domain.Deciding(*cs, gauges) {
		names = append(names, words.User(all[i].Name))
		if usual := machine.Profile.Gauge(cs.Check.Gauge); usual != nil && usual.Name == all[i].Name {
			names = append(names[len(names)-1:], names[:len(names)-1]...) // the check's own goes first
		}
	}
	names = names[:min(len(names), mostDeciding)]
	if len(names) == 0 {
		if settling := c.settleLines(machine, cs); len(settling) > 0 {
			return settling
		}
		return []string{c.say("settle.none", nil)} // it is the difference of positions
	}
	return []string{c.say("prove.gauges", words.D{"Gauges": strings.Join(names, ", ")})}
}

// goNoGoButtons report how a check's go/no-go check went.
func (c *call) goNoGoButtons(cs *domain.CheckStatus) []Button {
	if !cs.Check.ProvesByPiece() {
		return nil
	}
	return []Button{c.again(c.say("button.no-entry", nil), "values", noEntry),
		c.again(c.say("button.entry", nil), "values", entry)}
}
