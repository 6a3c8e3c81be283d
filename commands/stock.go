package commands

import (
	"slices"
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/upkeep"
)

var stockCommand = &Command{
	Name: "stock", Who: Anyone, Quiet: true, Words: 40, MostWords: 400,
	Options: []Option{{Name: "item", Takes: Stock, Max: 60}, {Name: "left", Takes: Text, Max: 10}, {Name: "buy", Takes: Text, Max: 10},
		{Name: "drop", Takes: OneOf, OneOf: []string{"yes"}}, whenOption},
	Examples: []string{`/stock`, `/stock item:"SAE 30 oil" left:2 buy:1`},
}

var bladesCommand = &Command{
	Name: "blades", Who: Anyone, Quiet: true, Words: 40, MostWords: 120,
	Options: []Option{machineOption, {Name: "set", Takes: BladeSet, Max: 40}, {Name: "where", Takes: OneOf, OneOf: []string{string(domain.Fitted), string(domain.Spare), string(domain.Out)}},
		{Name: "back", Takes: Text, Max: 40}, noteOption, whenOption, forOption},
	Examples: []string{`/blades machine:Marble`, `/blades machine:Marble set:A where:fitted`, `/blades machine:Marble set:B where:out back:friday`},
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
	for option, to := range map[string]*int{"left": &b.Left, "buy": &b.Buy} {
		typed := c.options[option]
		if typed == "" {
			continue
		}
		n, err := strconv.Atoi(strings.TrimSpace(typed))
		if err != nil || n < 0 || n > mostPieces {
			return Reply{}, &userError{key: "stock.number", data: words.D{"Given": words.User(typed)}, example: c.exampleWith(option, "2")}
		}
		*to = n
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

// shelf lists what is on the shelf, what is to be bought first, and what
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
			c.say("example", words.D{"Example": "/stock item:" + quoted(uncounted[0]) + " left:2 buy:1"}))
	}
	return r, nil
}

// materials is all work of a profile that needs a material, services first.
func materials(p *profile.Profile) []profile.Work {
	var all []profile.Work
	for _, s := range p.Services {
		all = append(all, s.Work)
	}
	for _, e := range p.Events {
		all = append(all, e.Work)
	}
	return slices.DeleteFunc(all, func(w profile.Work) bool { return w.Material == "" })
}

// shelfLines say how much of a material lies on the shelf, where somebody counts
// it; only that it runs low, where low is set.
func (c *call) shelfLines(material string, low bool) ([]string, error) {
	if material == "" {
		return nil, nil
	}
	all, err := c.books.Shelf(c)
	if err != nil {
		return nil, err
	}
	s := domain.OnShelf(all, material)
	switch {
	case s == nil, low && !s.ToBuy():
		return nil, nil
	case low:
		return []string{c.say("stock.short", words.D{"Item": words.User(capital(s.Name)), "Left": s.Left})}, nil
	}
	return []string{c.shelfLine(*s)}, nil
}

// shelfLine is one thing on the shelf.
func (w *wording) shelfLine(s domain.Shelf) string {
	key := "stock.line"
	if s.ToBuy() {
		key = "stock.line.buy"
	}
	return w.say(key, words.D{"Item": words.User(capital(s.Name)), "Left": s.Left, "Buy": s.Buy, "At": words.Time(s.At, words.Date)})
}

// runBlades lists a machine's sets of knives or blades, or says where one is.
func runBlades(c *call) (Reply, error) {
	m, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	set, where := words.Clean(c.options["set"]), domain.Place(c.options["where"])
	switch {
	case set == "" && where == "" && len(st.Sets) == 0:
		return Reply{Headline: c.say("blades.none", words.D{"Machine": words.User(m.Name)}), Lines: []string{c.say("example", words.D{"Example": "/blades machine:" + quoted(m.Name) + " set:A where:fitted"})}}, nil
	case set == "" && where == "":
		return Reply{Headline: c.say("blades.headline", words.D{"Machine": words.User(m.Name)}), Lines: c.setLines(st)}, nil
	case set == "" || where == "":
		return Reply{}, &userError{key: "blades.needs", example: "/blades machine:" + quoted(m.Name) + " set:A where:fitted"}
	}
	b := domain.SetMoved{Set: set, Where: where, Note: words.Clean(c.options["note"])}
	for _, s := range st.Sets {
		if domain.Folded(s.Set) == domain.Folded(set) {
			b.Set = s.Set
		}
	}
	if back := c.options["back"]; back != "" {
		if where != domain.Out {
			return Reply{}, &userError{key: "blades.back", example: c.exampleWith("where", "out")}
		}
		var ok bool
		if b.Back, ok = upkeep.ParseUntil(back, c.now, c.shop.Location()); !ok {
			return Reply{}, &userError{key: "putoff.until", data: words.D{"Given": words.User(back)}, example: c.exampleWith("back", "friday")}
		}
	}
	o, err := c.report(m, b)
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.say("blades.recorded", words.D{"Machine": words.User(m.Name), "No": o.Fact.No}), Lines: c.setLines(o.After)}
	for _, e := range m.Profile.Events {
		if last, ok := o.After.Fits[e.ID]; where == domain.Fitted && e.Fits && (!ok || o.Fact.At.Sub(last).Abs() > domain.SameVisit) {
			r.Lines = append(r.Lines, c.say("blades.event", words.D{"Example": "/event machine:" + quoted(m.Name) + " event:" + quoted(e.Name)}))
		}
	}
	return r, nil
}

// setLines say where each set of knives or blades is.
func (w *wording) setLines(st domain.Status) []string {
	var lines []string
	for _, s := range st.Sets {
		d := words.D{"Set": words.User(s.Set), "At": words.Time(s.At, words.Date), "Back": ""}
		key := "blades." + string(s.Where)
		if !s.Back.IsZero() {
			d["Back"] = words.Time(s.Back, words.Date)
			key += ".back"
			if s.Overdue(st.At) {
				key = "blades.overdue"
			}
		}
		lines = append(lines, w.say(key, d))
	}
	return lines
}
