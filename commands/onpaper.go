package commands

import (
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
)

// onPaper shows guarded parts as plain text, times on the shop's clocks.
type onPaper struct{ shop domain.Shop }

func (onPaper) User(s string) string { return words.Clean(s) }

func (onPaper) Person(id string) string { return words.Clean(id) }

func (onPaper) Channel(id string) string { return words.Clean(id) }

func (onPaper) Role(id string) string { return words.Clean(id) }

func (onPaper) Link(address, name string) string { return words.Clean(name) + " (" + address + ")" }

func (p onPaper) Time(at time.Time, style words.TimeStyle) string {
	at = at.In(p.shop.Location())
	switch style {
	case words.Date:
		return at.Format("Mon 2 Jan 2006")
	default:
		return at.Format("Mon 2 Jan 2006 15:04")
	}
}
