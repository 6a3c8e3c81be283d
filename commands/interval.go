package commands

import (
	"regexp"
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

var shopInterval = &Command{
	Name: "shop interval", Who: Steward, Quiet: true, Words: 60,
	Options:  []Option{machineOption, {Name: "what", Takes: Work, Required: true}, {Name: "every", Takes: Text, Required: true, Max: 60}},
	Examples: []string{`/shop interval machine:Marble what:bushings every:"10 h"`, `/shop interval machine:Marble what:columns every:"40 h or 6 months"`, `/shop interval machine:Marble what:bushings every:profile`},
}

// runInterval sets how often a service or a check is due on one machine.
func runInterval(c *call) (Reply, error) {
	m, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	var among []namedItem
	for _, n := range works(m.Profile) {
		if n.item.Kind != domain.EventItem {
			among = append(among, n)
		}
	}
	i, err := c.lookUpItem("what", "work", among)
	if err != nil {
		return Reply{}, err
	}
	item := among[i].item
	var every *domain.Interval
	if typed := c.options["every"]; fold(typed) != "profile" {
		v, ok := readInterval(typed)
		if !ok {
			return Reply{}, &userError{key: "interval.unreadable", data: words.D{"Given": words.User(typed)}, example: c.exampleWith("every", "10 h")}
		}
		every = &v
	}
	if why := domain.BadInterval(m.Profile, item, every); why != "" {
		s := &userError{key: "interval." + why, data: words.D{"Name": capital(among[i].name)}}
		switch why {
		case "days":
			s.example = c.exampleWith("every", "7 days")
		case "safety":
			s.example = c.exampleWith("every", "profile")
		}
		return Reply{}, s
	}
	o, err := c.report(m, domain.SetupChanged{Item: item, Setup: m.Setup.WithInterval(item, every)})
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.say("interval.set", words.D{"Machine": words.User(m.Name), "Name": among[i].name, "No": o.Fact.No})}
	p := o.After.Machine.Profile
	if item.Kind == domain.ServiceItem {
		r.Lines = append(r.Lines, c.ruleLine(p, p.Service(item.ID)))
		if st := o.After.Service(item.ID); st != nil {
			r.Lines = append(r.Lines, c.dueLine(among[i].name, *st))
		}
		return r, nil
	}
	if k := o.After.Check(item.ID); k.Check.Every != nil {
		r.Lines = append(r.Lines, c.dueAt(among[i].name, k.Due))
	}
	return r, nil
}

// spanText is one span of an interval as it is typed.
var spanText = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?) ?(h|hours?|d|days?|weeks?|months?|years?)$`)

// readInterval reads "10 h", "3 weeks", "40 h or 6 months".
func readInterval(typed string) (v domain.Interval, ok bool) {
	for _, part := range strings.Split(strings.ReplaceAll(fold(typed), " or ", ","), ",") {
		f := spanText.FindStringSubmatch(strings.TrimSpace(part))
		if f == nil {
			return v, false
		}
		if f[2][0] == 'h' {
			p, err := quantity.Parse(f[1]+" h", quantity.Context{Kind: quantity.Duration})
			if err != nil || v.Hours.Valid() || p.Value.Sign() <= 0 || p.Value.Cmp(quantity.New(10000, 1, quantity.Hour)) > 0 {
				return v, false
			}
			v.Hours = p.Value
			continue
		}
		n, err := strconv.Atoi(f[1])
		to, each, most := &v.Days, 1, 3660
		switch f[2][0] {
		case 'w':
			each = 7
		case 'm':
			to, most = &v.Months, 120
		case 'y':
			to, each, most = &v.Months, 12, 120
		}
		if err != nil || n < 1 || n*each > most || *to != 0 {
			return v, false
		}
		*to = n * each
	}
	return v, true
}
