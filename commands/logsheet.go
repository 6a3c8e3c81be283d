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
	m, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	plain := func(key string, d words.D) string { return words.Expand(c.say(key, d), onPaper{c.shop}) }
	d := words.D{"Machine": words.User(m.Name)}
	p := paper.Page{Title: plain("paper.log", d), Under: plain("paper.log.under", words.D{"Shop": words.User(c.shop.Name), "At": words.Time(c.now, words.Date)}),
		Fill: true, Least: leastLines, Made: c.now, Shares: []float64{3, 2, 2, 9},
		Heads: []string{plain("paper.col.when", nil), plain("paper.col.who", nil), plain("paper.col.hours", nil), plain("paper.col.what", nil)}}
	for _, w := range m.Profile.Cautions {
		p.Notes = append(p.Notes, w.Text)
	}
	p.Notes = append(p.Notes, plain("caution.manual", nil))
	var due []string
	for _, s := range st.Services {
		if s.Due.State != upkeep.NotDue || len(due) < 3 {
			due = append(due, words.Expand(c.dueLine(s.Service.Name, s), onPaper{c.shop}))
		}
	}
	if len(due) > 0 {
		p.Notes = append(p.Notes, plain("paper.log.due", words.D{"Lines": strings.Join(due, " ")}))
	}
	var services, checks []string
	for _, s := range m.Profile.Services {
		services = append(services, s.ID)
	}
	for _, k := range m.Profile.Checks {
		checks = append(checks, k.ID)
	}
	p.Notes = append(p.Notes, plain("paper.log.write", nil))
	if len(services) > 0 {
		p.Notes = append(p.Notes, plain("paper.log.services", words.D{"Names": strings.Join(services, ", ")}))
	}
	if len(checks) > 0 {
		p.Notes = append(p.Notes, plain("paper.log.checks", words.D{"Names": strings.Join(checks, ", ")}))
	}
	p.After = []string{plain("paper.log.danger", d), plain("paper.log.later", words.D{"Example": slash("typein", "machine", m.Name)})}
	pdf, err := paper.PDF(p)
	if err != nil {
		return Reply{}, err
	}
	name := fmt.Sprintf("log-sheet-%s.pdf", m.Profile.Kind)
	return Reply{Headline: c.say("logsheet.done", d), Lines: []string{c.say("logsheet.later", words.D{"File": name, "Example": slash("typein", "machine", m.Name)})},
		File: &File{Name: name, Type: "application/pdf", Data: pdf}}, nil
}
