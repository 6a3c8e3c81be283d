package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

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
