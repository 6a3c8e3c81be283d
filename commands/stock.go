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
	Options: []Option{{Name: "item", Takes: Stock, Max: 60}, {Name: "left", Takes: Text, Max: 10}, {Name: "buy", Takes: Text, Max: 10},
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
	b := domain.StockCounted{Name: item}
	if s := domain.OnShelf(all, item); s != nil {
		b = domain.StockCounted{Name: s.Name, Left: s.Left, Buy: s.Buy}
	} else if c.options["drop"] != "" || c.options["left"] == "" {
		return Reply{}, &userError{key: "stock.unknown", data: words.D{"Item": words.User(item)}, example: c.exampleWith("left", "2", "drop")}
	}
	for _, x := range []struct {
		option string
		to     *int
	}{{"left", &b.Left}, {"buy", &b.Buy}} {
		typed := c.options[x.option]
		if typed == "" {
			continue
		}
		n, err := strconv.Atoi(strings.TrimSpace(typed))
		if err != nil || n < 0 || n > mostPieces {
			return Reply{}, &userError{key: "stock.number", data: words.D{"Given": words.User(typed)}, example: c.exampleWith(x.option, "2")}
		}
		*x.to = n
	}
	b.Gone = c.options["drop"] != ""
	o, err := c.report(domain.Machine{}, b)
	if err != nil {
		return Reply{}, err
	}
	d := words.D{"Item": words.User(capital(b.Name)), "Left": b.Left, "Buy": b.Buy, "No": o.Fact.No}
	if b.Gone {
		return Reply{Headline: c.say("stock.gone", d)}, nil
	}
	r := Reply{Headline: c.say("stock.counted", d)}
	if (domain.Shelf{Left: b.Left, Buy: b.Buy}).ToBuy() {
		r.Lines = append(r.Lines, c.say("stock.low", d))
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
	r := Reply{Headline: c.say("stock.headline", words.D{"N": len(all)})}
	if len(all) == 0 {
		r.Headline = c.say("stock.nothing", nil)
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
		r.Lines = append(r.Lines, c.shelfLine(s))
	}
	var uncounted []string
	for _, m := range machines {
		for _, w := range materials(m.Profile) {
			if domain.OnShelf(all, w.Material) == nil && !slices.Contains(uncounted, w.Material) {
				uncounted = append(uncounted, w.Material)
			}
		}
	}
	if len(uncounted) > 0 {
		r.Lines = append(r.Lines, c.say("stock.uncounted", words.D{"Items": strings.Join(uncounted, ", ")}),
			c.say("example", words.D{"Example": slash("stock", "item", uncounted[0]) + " left:2 buy:1"}))
	}
	return r, nil
}
