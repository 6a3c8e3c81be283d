package commands

import (
	"slices"
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
)

var stockCommand = &Command{
	Name: "stock", Who: Anyone, Quiet: true, Words: 40, MostWords: 400,
	Options: []Option{{Name: "item", Takes: Stock, Max: 60}, {Name: "left", Takes: Text, Max: 10},
		{Name: "buy", Takes: Text, Max: 10},
		{Name: "drop", Takes: OneOf, OneOf: []string{"yes"}}, whenOption},
	Examples: []string{`/stock`, `/stock item:"SAE 30 oil" left:2 buy:1`},
}

// mostPieces is the most that a shelf is said to hold of one thing.
const mostPieces = 100_000

// runStock lists the shelf, or counts one thing on it.
func runStock(c *call) (Reply, error) {
	item := words.Clean(c.options["item"])
	if item == "" {
		for _, o := range []string{"left", "buy", "drop"} {
			if c.options[o] != "" {
				return Reply{}, &userError{key: "stock.item", example: stockCommand.Examples[1]}
			}
		}
		return c.shelf()
	}
	all, err := c.books.Shelf(c)
	if err != nil {
		return Reply{}, err
	}
	// What is known of it, and what is said now.
	counted := domain.StockCounted{Name: item}
	if s := domain.OnShelf(all, item); s != nil {
		counted = domain.StockCounted{Name: s.Name, Left: s.Left, Buy: s.Buy}
	} else if c.options["drop"] != "" || c.options["left"] == "" {
		return Reply{}, &userError{key: "stock.unknown", data: words.D{"Item": words.User(item)},
			example: c.exampleWith("left", "2", "drop")}
	}
	for _, number := range []struct {
		option string
		to     *int
	}{{"left", &counted.Left}, {"buy", &counted.Buy}} {
		typed := c.options[number.option]
		if typed == "" {
			continue
		}
		count, err := strconv.Atoi(strings.TrimSpace(typed))
		if err != nil || count < 0 || count > mostPieces {
			return Reply{}, &userError{key: "stock.number", data: words.D{"Given": words.User(typed)},
				example: c.exampleWith(number.option, "2")}
		}
		*number.to = count
	}
	// It is counted, or no longer.
	counted.Gone = c.options["drop"] != ""
	outcome, err := c.report(domain.Machine{}, counted)
	if err != nil {
		return Reply{}, err
	}
	data := words.D{"Item": words.User(capital(counted.Name)), "Left": counted.Left, "Buy": counted.Buy,
		"No": outcome.Fact.No}
	if counted.Gone {
		return Reply{Headline: c.say("stock.gone", data)}, nil
	}
	r := Reply{Headline: c.say("stock.counted", data)}
	if (domain.Shelf{Left: counted.Left, Buy: counted.Buy}).ToBuy() {
		r.Lines = append(r.Lines, c.say("stock.low", data))
	}
	return r, nil
}

// shelf lists what is on the shelf, what has to be bought first, and what
// services use that nobody has counted.
func (c *call) shelf() (Reply, error) {
	all, err := c.books.Shelf(c)
	if err != nil {
		return Reply{}, err
	}
	machines, err := c.books.Machines(c)
	if err != nil {
		return Reply{}, err
	}
	// What is on it, what has to be bought first.
	reply := Reply{Headline: c.say("stock.headline", words.D{"N": len(all)})}
	if len(all) == 0 {
		reply.Headline = c.say("stock.nothing", nil)
	}
	slices.SortStableFunc(all, func(a, b domain.Shelf) int {
		switch {
		case a.ToBuy() == b.ToBuy():
			return 0
		case a.ToBuy():
			return -1
		}
		return 1
	})
	for _, s := range all {
		reply.Lines = append(reply.Lines, c.shelfLine(s))
	}
	// What machines use that nobody has counted.
	var uncounted []string
	for _, m := range machines {
		for _, w := range materials(m.Profile) {
			if domain.OnShelf(all, w.Material) == nil && !slices.Contains(uncounted, w.Material) {
				uncounted = append(uncounted, w.Material)
			}
		}
	}
	if len(uncounted) > 0 {
		reply.Lines = append(reply.Lines, c.say("stock.uncounted", words.D{"Items": strings.Join(uncounted, ", ")}),
			c.say("example", words.D{"Example": slash("stock", "item", uncounted[0], "left", "2", "buy", "1")}))
	}
	return reply, nil
}
