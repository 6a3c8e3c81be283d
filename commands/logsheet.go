package commands

import (
	"fmt"
	"strings"

	"setscrew/commands/paper"
	"setscrew/commands/words"
	"setscrew/domain/upkeep"
)

var logsheetCommand = &Command{
	Name: "logsheet", Who: Anyone, Quiet: true, Slow: true, Words: 60,
	Options:  []Option{machineOption},
	Examples: []string{`/logsheet machine:Marble`},
}

// leastLines is how many lines for a pen a log sheet has at the least.
const leastLines = 12

// runLogsheet is a page for the wall, to write on while there is no network.
func runLogsheet(c *call) (Reply, error) {
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	plain := func(key string, d words.D) string { return words.Expand(c.say(key, d), onPaper{c.shop}) }
	data := words.D{"Machine": words.User(machine.Name)}
	page := paper.Page{Title: plain("paper.log", data),
		Under: plain("paper.log.under", words.D{"Shop": words.User(c.shop.Name), "At": words.Time(c.now, words.Date)}),
		Fill:  true, Least: leastLines, Made: c.now, Shares: []float64{3, 2, 2, 9},
		Heads: []string{plain("paper.col.when", nil), plain("paper.col.who", nil), plain("paper.col.hours", nil),
			plain("paper.col.what", nil)}}
	// Above the lines: cautions, what is due, and how to write it down.
	for _, w := range machine.Profile.Cautions {
		page.Notes = append(page.Notes, w.Text)
	}
	page.Notes = append(page.Notes, plain("caution.manual", nil))
	var due []string
	for _, s := range st.Services {
		if s.Due.State != upkeep.NotDue || len(due) < 3 {
			due = append(due, words.Expand(c.dueLine(s.Service.Name, s), onPaper{c.shop}))
		}
	}
	if len(due) > 0 {
		page.Notes = append(page.Notes, plain("paper.log.due", words.D{"Lines": strings.Join(due, " ")}))
	}
	var services, checks []string
	for _, s := range machine.Profile.Services {
		services = append(services, s.ID)
	}
	for _, k := range machine.Profile.Checks {
		checks = append(checks, k.ID)
	}
	page.Notes = append(page.Notes, plain("paper.log.write", nil))
	if len(services) > 0 {
		page.Notes = append(page.Notes, plain("paper.log.services", words.D{"Names": strings.Join(services, ", ")}))
	}
	if len(checks) > 0 {
		page.Notes = append(page.Notes, plain("paper.log.checks", words.D{"Names": strings.Join(checks, ", ")}))
	}
	// Below them: what a danger asks for, and how the sheet is typed in.
	page.After = []string{plain("paper.log.danger", data),
		plain("paper.log.later", words.D{"Example": slash("typein", "machine", machine.Name)})}
	pdf, err := paper.PDF(page)
	if err != nil {
		return Reply{}, err
	}
	name := fmt.Sprintf("log-sheet-%s.pdf", machine.Profile.Kind)
	return Reply{Headline: c.say("logsheet.done", data),
		Lines: []string{c.say("logsheet.later",
			words.D{"File": name, "Example": slash("typein", "machine", machine.Name)})},
		File: &File{Name: name, Type: "application/pdf", Data: pdf}}, nil
}
