package commands

import (
	"math/big"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

var hoursCommand = &Command{
	Name: "hours", Who: Anyone, Quiet: true,
	Options: []Option{machineOption, {Name: "hours", Takes: Text, Required: true, Max: 40}, whenOption, forOption},
	Examples: []string{`/hours machine:Marble hours:1.5`, `/hours machine:Marble hours:45min when:"yesterday 17:30"`,
		`/hours machine:Marble hours:2h30`},
}

func init() { hoursCommand.handle = runHours }

func runHours(c *call) (Reply, error) {
	m, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	typed := c.options["hours"]
	p, err := quantity.Parse(typed, quantity.Context{Kind: quantity.Duration, Entry: quantity.Hour})
	if err != nil {
		return c.askOrRefuse(err, "hours", nil, "1.5")
	}
	used := p.Value
	day := quantity.New(24, 1, quantity.Hour)
	switch {
	case used.Sign() < 0:
		return Reply{}, &sorry{key: "hours.negative", data: words.D{"Given": words.User(typed)}, example: c.exampleWith("hours", "1.5")}
	case used.Sign() == 0:
		return Reply{}, &sorry{key: "hours.none", example: c.exampleWith("hours", "1.5")}
	case used.Cmp(day) > 0:
		s := &sorry{key: "hours.day", data: words.D{"Given": quantity.FormatDuration(used)}, example: c.exampleWith("hours", "1.5")}
		if minutes := used.Mul(big.NewRat(1, 60)); p.Bare && minutes.Cmp(day) <= 0 {
			text := quantity.FormatDuration(minutes)
			s.buttons = append(s.buttons, c.again(c.say("button.meant", words.D{"Values": text}), "hours", text))
		}
		return Reply{}, s
	}
	seconds := roundedSeconds(used)
	if seconds == 0 {
		return Reply{}, &sorry{key: "hours.none", example: c.exampleWith("hours", "1.5")}
	}
	o, err := c.report(m, domain.Hours{Seconds: seconds})
	if err != nil {
		return Reply{}, err
	}
	d := words.D{"Machine": words.User(m.Name), "Used": quantity.FormatDuration(domain.Hours{Seconds: seconds}.Used()), "No": o.Fact.No}
	r := Reply{Headline: c.say("hours.logged", d)}
	if o.Before.TaggedOut() {
		r.Lines = append(r.Lines, c.outOfService(m), c.say("hours.tagged", nil))
	}
	for _, s := range o.After.Services {
		if s.Due.Left.Valid() {
			r.Lines = append(r.Lines, c.dueLine(s.Service.Name, s.Due))
			break
		}
	}
	return r, nil
}

// roundedSeconds is a duration in whole seconds, halves away from zero.
func roundedSeconds(v quantity.Value) int64 {
	s := v.In(quantity.Second)
	twice := new(big.Int).Mul(s.Num(), big.NewInt(2))
	twice.Add(twice, s.Denom())
	return twice.Div(twice, new(big.Int).Mul(s.Denom(), big.NewInt(2))).Int64()
}

// dueLine says when something falls due.
func (c *call) dueLine(name string, due upkeep.Due) string {
	d := words.D{"Name": capital(name)}
	key := "due."
	switch due.State {
	case upkeep.Late:
		key += "late"
	case upkeep.DueNow:
		key += "now"
	default:
		key += "later"
	}
	hours, day := due.Left.Valid(), !due.On.IsZero()
	if hours {
		d["Left"] = quantity.FormatDuration(due.Left.Abs())
	}
	if day {
		d["On"] = words.Time(due.On, words.Date)
	}
	over := due.State != upkeep.NotDue
	switch {
	case over && hours && due.Left.Sign() < 0:
		return c.say(key+".over", d)
	case over:
		return c.say(key, d)
	case hours && day:
		return c.say(key+".both", d)
	case hours:
		return c.say(key+".hours", d)
	}
	return c.say(key+".date", d)
}
