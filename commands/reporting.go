package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var shopReporting = &Command{
	Name: "shop reporting", Who: Steward, Quiet: true, Words: 60,
	Options:  otherOptions,
	Examples: []string{`/shop reporting machine:Marble other:Marble wanted:no`},
}

// runReporting says that as many hours of a machine without a counter go
// unreported as of another, or that this is no longer assumed.
func runReporting(c *call) (Reply, error) {
	m, other, on, err := c.otherWanted()
	if err != nil {
		return Reply{}, err
	}
	d := words.D{"Machine": words.User(m.Name), "Other": words.User(other.Name)}
	if on && other.ID == m.ID {
		return Reply{}, &userError{key: "reporting.itself", data: d}
	}
	setup, key := m.Setup.WithLike(0), "reporting.off"
	if on {
		setup, key = m.Setup.WithLike(other.ID), "reporting.on"
	}
	o, err := c.report(m, domain.SetupChanged{Item: domain.Item{Kind: domain.ReportingItem}, Setup: setup})
	if err != nil {
		return Reply{}, err
	}
	d["No"] = o.Fact.No
	r := Reply{Headline: c.say(key, d), Lines: c.reportingLines(o.After)}
	switch {
	case !on:
	case o.After.Counter != nil:
		r.Lines = append(r.Lines, c.say("reporting.own", d))
	case o.After.Reporting == nil:
		r.Lines = append(r.Lines, c.say("reporting.unknown", d))
	}
	return r, nil
}
