package commands

import (
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
)

var shopAway = &Command{
	Name: "shop away", Who: Steward, Quiet: true, Words: 60,
	Options: []Option{{Name: "from", Takes: Text, Max: 10}, {Name: "until", Takes: Text, Max: 10},
		{Name: "deputy", Takes: Person}},
	Examples: []string{`/shop away from:2026-12-20 until:2026-12-27 deputy:bo`, `/shop away from:none`, `/shop away`},
}

// runAway says when the one who speaks is away and who stands in, or that they are not;
// given nothing it lists who is.
func runAway(c *call) (Reply, error) {
	from, until := words.Clean(c.options["from"]), words.Clean(c.options["until"])
	deputy := domain.PersonID(c.options["deputy"])
	away := domain.Away{Person: c.actor.ID}
	switch {
	case from == "" && until == "" && deputy == "":
		return c.whoIsAway(), nil
	case fold(from) == "none":
	default:
		if until == "" {
			until = from
		}
		away.From, away.Until, away.Deputy = from, until, deputy
		if err := c.checkAway(away); err != nil {
			return Reply{}, err
		}
	}
	if _, err := c.report(domain.Machine{}, domain.AwaySet{Away: away}); err != nil {
		return Reply{}, err
	}
	if away.From == "" {
		return Reply{Headline: c.say("away.none", nil)}, nil
	}
	return Reply{Headline: c.say("away.set", c.awayData(away)), Lines: []string{c.say("away.means", c.awayData(away)),
		c.say("away.ends", nil)}}, nil
}

// checkAway refuses days that are no dates, in the wrong order, over or too many, and a
// deputy who is missing or is the one who is away.
func (c *call) checkAway(away domain.Away) error {
	example := shopAway.Examples[0]
	var dates [2]time.Time
	for i, date := range []string{away.From, away.Until} {
		var err error
		if dates[i], err = time.Parse(time.DateOnly, date); err != nil {
			return &userError{key: "away.date", data: words.D{"Given": words.User(date)}, example: example}
		}
	}
	today := c.shop.Date(c.now)
	refused := func(key string) error {
		data := c.awayData(away)
		data["Most"] = domain.MostAway
		return &userError{key: key, data: data, example: example}
	}
	switch {
	case away.Until < away.From:
		return refused("away.order")
	case away.Until < today:
		return refused("away.over")
	case dates[1].Sub(dates[0]) >= domain.LongestAway*24*time.Hour:
		return refused("away.long")
	case away.Deputy == "":
		return refused("away.nobody")
	case away.Deputy == away.Person:
		return refused("away.self")
	case len(c.shop.WithAway(away, c.now).AwayOf(away.Person, c.now)) > domain.MostAway:
		return refused("away.many")
	}
	return nil
}

// whoIsAway lists who is away, when, and who stands in for them.
func (c *call) whoIsAway() Reply {
	reply := Reply{Headline: c.say("away.headline", nil)}
	shop := c.shop.WithAway(domain.Away{}, c.now) // without what is over
	for _, away := range shop.Away {
		data := c.awayData(away)
		data["By"] = words.Person(string(away.Person))
		reply.Lines = append(reply.Lines, c.say("away.line", data))
	}
	if len(shop.Away) == 0 {
		reply.Headline = c.say("away.nobody-is", nil)
		reply.Lines = []string{c.say("example", words.D{"Example": shopAway.Examples[0]})}
	}
	return reply
}

// awayData is what the words about days away need.
func (w *wording) awayData(away domain.Away) words.D {
	return words.D{"From": words.User(away.From), "Until": words.User(away.Until),
		"Deputy": words.Person(string(away.Deputy))}
}
