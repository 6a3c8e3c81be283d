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
	Name: "shop interval", Who: Steward, Quiet: true, Words: 90,
	Options: []Option{machineOption, {Name: "what", Takes: Work, Required: true},
		{Name: "every", Takes: Text, Required: true, Max: 60}, {Name: "why", Takes: Text, Max: 200}},
	Examples: []string{`/shop interval machine:Marble what:bushings every:"10 h"`,
		`/shop interval machine:Marble what:columns every:"40 h or 6 months"`,
		`/shop interval machine:Marble what:bushings every:profile`},
}

// runInterval sets how often a service or a check is due on one machine.
func runInterval(c *call) (Reply, error) {
	machine, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	// Services and checks recur; events do not.
	var among []namedItem
	for _, n := range works(machine.Profile) {
		if n.item.Kind != domain.EventItem {
			among = append(among, n)
		}
	}
	which, err := c.lookUpItem("what", "work", among)
	if err != nil {
		return Reply{}, err
	}
	item := among[which].item
	// How often, in the shop's words or the profile's again.
	var every *domain.Interval
	if typed := c.options["every"]; fold(typed) != "profile" {
		interval, ok := readInterval(typed)
		if !ok {
			return Reply{}, &userError{key: "interval.unreadable", data: words.D{"Given": words.User(typed)},
				example: c.exampleWith("every", "10 h")}
		}
		every = &interval
	}
	if why := domain.BadInterval(machine.Profile, item, every); why != "" {
		refused := &userError{key: "interval." + why, data: words.D{"Name": capital(among[which].name)}}
		switch why {
		case "days":
			refused.example = c.exampleWith("every", "7 days")
		case "safety":
			refused.example = c.exampleWith("every", "profile")
		}
		return Reply{}, refused
	}
	outcome, asked, err := c.setUp(machine, item, machine.Setup.WithInterval(item, every))
	if err != nil {
		return Reply{}, err
	}
	if asked != nil {
		return *asked, nil
	}
	// When it falls due by that.
	reply := Reply{Headline: c.say("interval.set",
		words.D{"Machine": words.User(machine.Name), "Name": among[which].name, "No": outcome.Fact.No})}
	p := outcome.After.Machine.Profile
	if item.Kind == domain.ServiceItem {
		reply.Lines = append(reply.Lines, c.ruleLine(p, p.Service(item.ID)))
		if st := outcome.After.Service(item.ID); st != nil {
			reply.Lines = append(reply.Lines, c.dueLine(among[which].name, *st))
		}
		return reply, nil
	}
	if k := outcome.After.Check(item.ID); k.Check.Every != nil {
		reply.Lines = append(reply.Lines, c.dueAt(among[which].name, k.Due))
	}
	return reply, nil
}

// spanText is one span of an interval as it is typed.
var spanText = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?) ?(h|hours?|d|days?|weeks?|months?|years?)$`)

// readInterval reads "10 h", "3 weeks", "40 h or 6 months".
func readInterval(typed string) (interval domain.Interval, ok bool) {
	for _, part := range strings.Split(strings.ReplaceAll(fold(typed), " or ", ","), ",") {
		fields := spanText.FindStringSubmatch(strings.TrimSpace(part))
		if fields == nil {
			return interval, false
		}
		if fields[2][0] == 'h' {
			parsed, err := quantity.Parse(fields[1]+" h", quantity.Context{Kind: quantity.Duration})
			if err != nil || interval.Hours.Valid() || parsed.Value.Sign() <= 0 ||
				parsed.Value.Cmp(quantity.New(10000, 1, quantity.Hour)) > 0 {
				return interval, false
			}
			interval.Hours = parsed.Value
			continue
		}
		count, err := strconv.Atoi(fields[1])
		to, each, most := &interval.Days, 1, 3660
		switch fields[2][0] {
		case 'w':
			each = 7
		case 'm':
			to, most = &interval.Months, 120
		case 'y':
			to, each, most = &interval.Months, 12, 120
		}
		if err != nil || count < 1 || count > most/each || *to != 0 {
			return interval, false
		}
		*to = count * each
	}
	return interval, true
}
