package bookstest

import (
	"fmt"
	"slices"

	"setscrew/domain"
)

// stewardCases are about who is known as a steward.
var stewardCases = []Case{
	{"who acts as a steward is known", "where their role cannot be pinged, stewards are called one by one",
		func(shop *shop) {
			known := func(when, role string, want ...domain.PersonID) {
				shop.Helper()
				all, err := shop.Stewards(shop.ctx, role)
				if err != nil || !slices.Equal(all, want) {
					shop.Errorf("%s: %q are known by role %s, %v, want %q", when, all, role, err, want)
				}
			}
			note := func(hours float64, p domain.PersonID, role string) {
				shop.Helper()
				shop.fails("note a steward", shop.NoteSteward(shop.ctx, p, role, after(hours)))
			}
			known("at first", "stewards")
			note(1, "wren", "stewards")
			note(2, "ishaan", "stewards")
			known("two", "stewards", "ishaan", "wren")
			note(3, "wren", "stewards")
			known("one of them again", "stewards", "wren", "ishaan")
			note(4, "ishaan", "")
			note(4, "ada", "")
			known("one has the role no longer", "stewards", "wren")
			note(5, "wren", "wardens")
			known("another role", "stewards")
			known("another role", "wardens", "wren")
			if all, err := shop.all("two").Stewards(shop.ctx, "wardens"); err != nil || len(all) != 0 {
				shop.Errorf("another shop's: %q, %v", all, err)
			}
		}},
	{"twenty stewards are known", "a notice has room for no more mentions, and what is kept has an end",
		func(shop *shop) {
			shop.fails("another shop's", shop.all("two").NoteSteward(shop.ctx, "first", "stewards", start))
			for i := range 25 {
				person := domain.PersonID(fmt.Sprint("steward ", i))
				shop.fails("note a steward", shop.NoteSteward(shop.ctx, person, "stewards", after(float64(i))))
			}
			all, err := shop.Stewards(shop.ctx, "stewards")
			if err != nil || len(all) != 20 || all[0] != "steward 24" || all[19] != "steward 5" {
				shop.Errorf("known are %q, %v", all, err)
			}
			// Who was forgotten stays so when others are.
			for i := range 20 {
				shop.fails("forget", shop.NoteSteward(shop.ctx, domain.PersonID(fmt.Sprint("steward ", 5+i)), "",
					after(99)))
			}
			if all, err := shop.Stewards(shop.ctx, "stewards"); err != nil || len(all) != 0 {
				shop.Errorf("kept beyond twenty: %q, %v", all, err)
			}
			if all, err := shop.all("two").Stewards(shop.ctx, "stewards"); err != nil || len(all) != 1 {
				shop.Errorf("another shop's: %q, %v", all, err)
			}
		}},
	{"what somebody was told is kept", "nobody is told of one trouble twice, whatever becomes of the program",
		func(shop *shop) {
			told := func(when string, p domain.PersonID, want string) {
				shop.Helper()
				if got, err := shop.Told(shop.ctx, p); err != nil || got != want {
					shop.Errorf("%s: %s was told %q, %v, want %q", when, p, got, err, want)
				}
			}
			told("at first", "wren", "")
			shop.fails("note what they were told", shop.NoteTold(shop.ctx, "wren", "pins", after(1)))
			told("told", "wren", "pins")
			told("told another", "ishaan", "")
			shop.fails("note what they were told", shop.NoteTold(shop.ctx, "wren", "pins role", after(2)))
			told("told more", "wren", "pins role")
			if got, err := shop.all("two").Told(shop.ctx, "wren"); err != nil || got != "" {
				shop.Errorf("in another shop: %q, %v", got, err)
			}
			shop.fails("note what they were told", shop.NoteTold(shop.ctx, "wren", "", after(3)))
			told("it is over", "wren", "")
		}},
}
