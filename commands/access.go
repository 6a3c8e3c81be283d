package commands

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
)

// pingAction posts a test to the shop's channel that pings the stewards.
const pingAction lasting[calledArg] = "ping"

// noteAgain is how long what was noted of somebody holds.
const noteAgain = 24 * time.Hour

func (c *call) person() personKey { return personKey{c.shop.ID, c.actor.ID} }

// noteSteward notes in the books whether the one who speaks is a steward by the shop's
// role, about once a day.
func (c *call) noteSteward() {
	if c.shop.StewardRole == "" || c.Err() != nil {
		return
	}
	now := noted{at: c.now}
	if c.steward() {
		now.role = c.shop.StewardRole
	}
	before, known := c.desk.people.noted.Get(c.person())
	if known && before.role == now.role && now.at.Sub(before.at) < noteAgain {
		return
	}
	if err := c.books.NoteSteward(c, c.actor.ID, now.role, c.now); err != nil {
		c.fault(fmt.Errorf("note whether they are a steward: %w", err)) // the next command notes it
		return
	}
	c.desk.people.noted.Add(c.person(), now)
}

// aside is what the one who speaks is told beside the answer: that their tag-out does not
// stand in the channel and, whoever can mend it, what keeps notices back. What only makes
// notices poorer is told once until it changes.
func (c *call) aside() (lines []string) {
	lines = c.unposted()
	if !c.steward() && !c.actor.Manages || c.name == settingsName || c.name == checkName ||
		c.name == string(pingAction) {
		return lines
	}
	closed, poorer := c.troubles(c.shop)
	lines = append(lines, closed...)
	if c.desk.Ails != nil {
		for _, ail := range c.desk.Ails() {
			poorer = append(poorer, string(ail))
		}
	}
	now := strings.Join(poorer, " ")
	if c.toldBefore() == now {
		return lines
	}
	c.desk.people.told.Add(c.person(), now)
	c.unlessUnusable("note what they were told", c.books.NoteTold(c, c.actor.ID, now, c.now))
	return append(lines, c.poorer(c.shop, poorer)...)
}

// toldBefore is what the one who speaks was told last.
func (c *call) toldBefore() string {
	before, known := c.desk.people.told.Get(c.person())
	if known {
		return before
	}
	before, err := c.books.Told(c, c.actor.ID)
	c.unlessUnusable("look up what they were told", err)
	if err == nil {
		c.desk.people.told.Add(c.person(), before)
	}
	return before
}

// unlessUnusable tells the keeper of an error of a step that harms no answer, but for those
// by which the books say that they cannot be used: these are told by themselves.
func (c *call) unlessUnusable(step string, err error) {
	var said *domain.BooksError
	if err != nil && !errors.As(err, &said) && c.Err() == nil {
		c.fault(fmt.Errorf("%s: %w", step, err))
	}
}

// unposted says which of the speaker's tag-outs do not stand in the channel: those that
// could not be posted, and the one just hung if it cannot be.
func (c *call) unposted() (lines []string) {
	machines := slices.Clone(c.chat().Unposted(c.shop.ID, c.actor.ID))
	if c.hung != "" && !slices.Contains(machines, c.hung) &&
		(c.shop.NoticeChannel == "" || c.chat().Channel(c.shop.ID, c.shop.NoticeChannel).Closed()) {
		machines = append(machines, c.hung)
	}
	for _, name := range machines {
		lines = append(lines, c.say("trouble.tag", words.D{"Machine": words.User(name)}))
	}
	return lines
}

// What only makes notices poorer, as messages of the catalogue.
const (
	troublePin     = "trouble.pin"
	troubleHistory = "trouble.history"
	troubleRole    = "trouble.role"
)

// ailment is something about a shop's channel or role that keeps notices back, or makes
// them poorer: a message of the catalogue that says what to do about it.
type ailment struct {
	look   domain.Look
	key    string
	data   words.D
	closed bool // it keeps them back altogether
}

// ailments are what keeps a shop's notices back or makes them poorer.
func (c *call) ailments(shop domain.Shop) (all []ailment) {
	if shop.NoticeChannel != "" {
		switch access := c.chat().Channel(shop.ID, shop.NoticeChannel); {
		case access.Gone:
			all = append(all, ailment{look: domain.LookChannel, key: "trouble.channel", closed: true})
		case access.Closed():
			all = append(all, ailment{look: domain.LookPosting, key: "trouble.permissions",
				data: words.D{"Rights": c.rights(access.Lacks)}, closed: true})
		default:
			if slices.Contains(access.Lacks, RightPin) {
				all = append(all, ailment{look: domain.LookPosting, key: troublePin})
			}
			if slices.Contains(access.Lacks, RightHistory) {
				all = append(all, ailment{look: domain.LookPosting, key: troubleHistory})
			}
		}
	}
	if shop.StewardRole == "" {
		return all
	}
	switch role := c.chat().Role(shop.ID, shop.StewardRole, shop.NoticeChannel); {
	case role.Unknown, role.Pings && !role.Gone:
	case role.Gone:
		all = append(all, ailment{look: domain.LookRole, key: "trouble.role.gone", closed: true})
	default:
		all = append(all, ailment{look: domain.LookPings, key: troubleRole})
	}
	return all
}

// troubles are what keeps a shop's notices back altogether, with what to switch on, and
// the keys of what only makes them poorer.
func (c *call) troubles(shop domain.Shop) (closed, poorer []string) {
	for _, ails := range c.ailments(shop) {
		if ails.closed {
			closed = append(closed, c.ailmentLines(shop, ails)...)
		} else {
			poorer = append(poorer, ails.key)
		}
	}
	return closed, poorer
}

// poorer words what makes notices poorer, with what to switch on.
func (c *call) poorer(shop domain.Shop, keys []string) (lines []string) {
	for _, key := range keys {
		lines = append(lines, c.ailmentLines(shop, ailment{key: key})...)
	}
	return lines
}

// ailmentLines word an ailment, with what to switch on.
func (c *call) ailmentLines(shop domain.Shop, ails ailment) []string {
	lines := []string{c.say(ails.key, ails.data)}
	if ails.key == troubleRole {
		lines = append(lines, c.knownStewards(shop))
	}
	return lines
}

// knownStewards says how many stewards are mentioned one by one.
func (c *call) knownStewards(shop domain.Shop) string {
	all, err := c.books.Stewards(c, shop.StewardRole)
	if err != nil {
		c.fault(fmt.Errorf("list the known stewards: %w", err))
	}
	if len(all) == 0 {
		return c.say("trouble.role.nobody", nil)
	}
	return c.say("trouble.role.known", words.D{"N": len(all)})
}

// rights names rights as the chat does.
func (c *call) rights(all []Right) string {
	names := make([]string, len(all))
	for i, r := range all {
		names[i] = c.say("right."+string(r), nil)
	}
	return strings.Join(names, ", ")
}

// allowedChannel refuses a channel in which notices could not be posted.
func allowedChannel(c *call, channel string) error {
	switch access := c.chat().Channel(c.shop.ID, channel); {
	case access.Gone:
		return &userError{key: "shop.notices.gone", example: c.exampleWith("notices", "shop-notices")}
	case access.Closed():
		return &userError{key: "shop.notices.closed", data: words.D{"Rights": c.rights(access.Lacks)},
			example: c.exampleWith("notices", "shop-notices")}
	}
	return nil
}

// allowedRole refuses a role that nobody has, or everybody.
func allowedRole(c *call, role string) error {
	refused := func(key string) error {
		return &userError{key: key, example: c.exampleWith("stewards", "stewards")}
	}
	switch access := c.chat().Role(c.shop.ID, role, ""); {
	case access.Gone:
		return refused("shop.stewards.gone")
	case access.Everyone:
		return refused("shop.stewards.everyone")
	}
	if n, known := c.chat().Holders(c, c.shop.ID, role); known && n == 0 {
		return refused("shop.stewards.nobody")
	}
	return nil
}
