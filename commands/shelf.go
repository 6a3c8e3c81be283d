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
	shelf := domain.OnShelf(all, material)
	switch {
	case shelf == nil, low && !shelf.ToBuy():
		return nil, nil
	case low:
		return []string{c.say("stock.short", words.D{"Item": words.User(capital(shelf.Name)), "Left": shelf.Left})}, nil
	}
	return []string{c.shelfLine(*shelf)}, nil
}

// shelfLine is one thing on the shelf.
func (w *wording) shelfLine(shelf domain.Shelf) string {
	key := "stock.line"
	if shelf.ToBuy() {
		key = "stock.line.buy"
	}
	return w.say(key, words.D{"Item": words.User(capital(shelf.Name)), "Left": shelf.Left, "Buy": shelf.Buy,
		"At": words.Time(shelf.At, words.Date)})
}
