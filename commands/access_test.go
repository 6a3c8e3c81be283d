package commands_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
)

// chat is a chat of which a test says what it lets Setscrew do.
type chat struct {
	channels map[string]commands.ChannelAccess
	roles    map[string]commands.RoleAccess
	holders  map[string]int
	unposted map[domain.PersonID][]string
	pinged   commands.Pinged
	fails    error
	posts    []string // by Ping: its key and what it says
	account  []domain.Finding
}

// fineChat has two channels and two roles, and lets Setscrew do all that it needs.
func fineChat() *chat {
	pings := commands.RoleAccess{Pings: true}
	return &chat{channels: map[string]commands.ChannelAccess{"shop-notices": {}, "elsewhere": {}},
		roles:   map[string]commands.RoleAccess{"stewards": pings, "wardens": pings, "all": {Everyone: true}},
		holders: map[string]int{"stewards": 2}, unposted: map[domain.PersonID][]string{}}
}

func (c *chat) Channel(_ domain.ShopID, channel string) commands.ChannelAccess {
	access, ok := c.channels[channel]
	access.Gone = access.Gone || !ok
	return access
}

func (c *chat) Role(_ domain.ShopID, role, _ string) commands.RoleAccess {
	access, ok := c.roles[role]
	access.Gone = access.Gone || !ok
	return access
}

func (c *chat) Holders(_ context.Context, _ domain.ShopID, role string) (int, bool) {
	n, known := c.holders[role]
	return n, known
}

func (c *chat) Examine(context.Context) []domain.Finding { return c.account }

func (c *chat) Unposted(_ domain.ShopID, p domain.PersonID) []string { return c.unposted[p] }

func (c *chat) Ping(_ context.Context, _ domain.Shop, key string, m commands.Message) (commands.Pinged, error) {
	c.posts = append(c.posts, key+" "+m.Text)
	return c.pinged, c.fails
}

// What a chat does not let Setscrew do is refused when it is set, told in the settings and
// beside answers, with what to switch on; and whoever hung a tag is told that nobody reads
// of it.
func TestStoryAccess(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	chat := fineChat()
	world.desk.Chat = chat
	heading := func(what string) { fmt.Fprintf(&world.out, "== %s\n\n", what) }
	lacks := func(rights ...commands.Right) {
		chat.channels["shop-notices"] = commands.ChannelAccess{Lacks: rights}
	}

	heading("all is well")
	world.as("wren", "shop settings")
	chat.pinged = commands.Pinged{Role: true}
	world.press("wren", "Ping")

	heading("refused when set")
	chat.channels["shut"] = commands.ChannelAccess{Lacks: []commands.Right{commands.RightView, commands.RightSend}}
	chat.holders["idle"], chat.roles["idle"] = 0, commands.RoleAccess{}
	for _, option := range []string{"notices=nowhere", "notices=shut", "stewards=nowhere", "stewards=all",
		"stewards=idle"} {
		if r := world.as("owner", "shop settings", "name=Half Done", option); !r.Refused {
			t.Errorf("%s is taken", option)
		}
	}
	if shop, err := world.db.Shop(world.shop).Shop(context.Background()); err != nil ||
		shop.Name != "Quarry Street Commons" || shop.NoticeChannel != "shop-notices" || shop.StewardRole != "stewards" {
		t.Errorf("half of it is stored: %+v, %v", shop, err)
	}

	heading("the role cannot be pinged")
	chat.roles["stewards"] = commands.RoleAccess{}
	world.as("wren", "help", "command=tagout")
	world.as("wren", "help", "command=tagout")
	world.as("ishaan", "help", "command=tagout")
	world.as("wren", "help", "command=tagout")
	world.as("ada", "help", "command=tagout")
	chat.pinged = commands.Pinged{People: 2}
	world.press("wren", "Ping")
	chat.pinged = commands.Pinged{}
	world.press("wren", "Ping")
	chat.fails = errors.New("refused")
	world.desk.Fault = nil
	world.press("wren", "Ping")
	chat.roles["wardens"] = commands.RoleAccess{}
	world.as("owner", "shop settings", "stewards=wardens")
	world.as("owner", "shop settings", "stewards=stewards")

	heading("pins and history, told once")
	chat.roles["stewards"] = commands.RoleAccess{Pings: true}
	lacks(commands.RightHistory, commands.RightPin)
	world.as("owner", "help", "command=tagout")
	world.as("owner", "help", "command=tagout")
	lacks()
	world.as("owner", "help", "command=tagout")
	lacks(commands.RightHistory, commands.RightPin)
	world.as("owner", "help", "command=tagout")

	heading("the channel is shut, told until it works again")
	lacks(commands.RightSend, commands.RightHistory, commands.RightPin)
	world.as("wren", "help", "command=tagout")
	world.as("wren", "help", "command=tagout")
	world.as("ada", "tagout", "machine=Marble", "reason=belt off")
	chat.unposted["ada"] = []string{"Marble"}
	world.as("ada", "help", "command=tagout")
	world.as("ada", "tagout", "machine=Marble", "reason=and it rattles")
	lacks()
	delete(chat.unposted, "ada")
	world.as("ada", "help", "command=tagout")

	heading("gone")
	delete(chat.channels, "shop-notices")
	delete(chat.roles, "stewards")
	world.as("owner", "help", "command=tagout")
	world.as("wren", "shop settings")
	world.golden("access")
}

// Nothing is said of what the chat has not told, and a shop without a channel or a role
// has nothing to ping.
func TestAccessUnknown(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	chat := fineChat()
	chat.channels["shop-notices"] = commands.ChannelAccess{Unknown: true, Lacks: nil}
	chat.roles["stewards"] = commands.RoleAccess{Unknown: true}
	world.desk.Chat = chat
	reply := world.as("owner", "shop settings")
	if len(reply.Lines) != 0 || len(reply.Buttons) != 0 {
		t.Errorf("with nothing set: %q, %+v", reply.Lines, reply.Buttons)
	}
	if r := world.send("owner", "press", "s1:ping:stewards", nil); !r.Refused ||
		!slices.Contains(world.keys, "ping.unset") || len(chat.posts) != 0 {
		t.Errorf("pinged: %q, %q", r.Headline, chat.posts)
	}
	if r := world.as("owner", "shop settings", "notices=elsewhere"); !slices.Contains(world.keys, "access.post") {
		t.Errorf("a channel alone: %q", r.Lines)
	}
	reply = world.as("owner", "shop settings", "notices=shop-notices", "stewards=stewards")
	if reply.Refused || len(reply.Lines) != 0 || len(reply.Aside) != 0 {
		t.Errorf("of what is not known: %q", reply.Lines)
	}
	if r := world.as("wren", "help", "command=tagout"); len(r.Aside) != 0 {
		t.Errorf("of what is not known: %q", r.Aside)
	}
	// In a shop that has set no channel, whoever hangs a tag hears that nobody reads of it.
	chat.channels[""] = commands.ChannelAccess{Unknown: true}
	world.shop = "other"
	world.addInUse("owner", "Marble")
	if r := world.as("ada", "tagout", "machine=Marble", "reason=loose"); !slices.Contains(world.keys, "trouble.tag") {
		t.Errorf("without a channel: %q", r.Aside)
	}
}

// A test is posted under the key of its press, in the catalogue's words.
func TestPingIsPostedOnce(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	chat := fineChat()
	world.desk.Chat = chat
	world.as("wren", "shop settings")
	world.press("wren", "Ping")
	world.n-- // the same press, delivered again
	world.press("wren", "Ping")
	if len(chat.posts) != 2 || chat.posts[0] != chat.posts[1] || !strings.HasPrefix(chat.posts[0], "i") ||
		!strings.Contains(chat.posts[0], "This is a test.") {
		t.Errorf("posted %q", chat.posts)
	}
}

// counted are books that count how often a steward is noted.
type counted struct {
	commands.Books
	notes *int
	fails error
}

func (c counted) NoteSteward(ctx context.Context, person domain.PersonID, role string, now time.Time) error {
	*c.notes++
	if c.fails != nil {
		return c.fails
	}
	return c.Books.NoteSteward(ctx, person, role, now)
}

// Whoever acts with the stewards' role is known as a steward, once a day; whoever acts
// without it is none any more, and nobody is while no role is set.
func TestStewardsAreKnownFromTheirCommands(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	notes := 0
	books := counted{notes: &notes}
	desk := func() {
		world.desk = commands.NewDesk(func(id domain.ShopID) commands.Books {
			one := books
			one.Books = world.db.Shop(id)
			return one
		}, world.db, world.cat)
	}
	desk()
	known := func(when string, want ...domain.PersonID) {
		t.Helper()
		all, err := world.db.Shop(world.shop).Stewards(context.Background(), "stewards")
		if err != nil || !slices.Equal(all, want) {
			t.Errorf("%s: %q are known, %v, want %q", when, all, err, want)
		}
	}
	world.as("wren", "help", "command=tagout")
	world.as("owner", "help", "command=tagout")
	known("while no role is set")
	world.must(world.as("owner", "shop settings", "stewards=stewards"))
	world.as("ada", "help", "command=tagout")
	world.as("ishaan", "help", "command=tagout")
	world.as("wren", "help", "command=tagout")
	known("both acted", "wren", "ishaan")
	before := notes
	for range 5 {
		world.as("ishaan", "help", "command=tagout")
		world.as("ada", "help", "command=tagout")
	}
	if notes != before {
		t.Errorf("noted %d times more on one day", notes-before)
	}
	world.now = world.now.Add(25 * time.Hour)
	world.as("ishaan", "help", "command=tagout")
	known("a day later", "ishaan", "wren")
	// One who lost the role is found out at their next command.
	world.desk.Run(context.Background(), commands.Request{ID: "lost", Shop: world.shop, Name: "due", Now: world.now,
		Actor: commands.Actor{ID: "wren", Name: "wren"}})
	known("wren has the role no longer", "ishaan")
	// The stewards by another role are others.
	world.must(world.as("owner", "shop settings", "stewards=wardens"))
	if all, err := world.db.Shop(world.shop).Stewards(context.Background(), "wardens"); err != nil || len(all) != 0 {
		t.Errorf("by a role that nobody acted with: %q, %v", all, err)
	}
	// What cannot be noted harms no answer, and is tried again.
	books.fails = errors.New("disk full")
	desk()
	told := 0
	world.desk.Fault = func(string, error) { told++ }
	for range 2 {
		if r := world.as("ada", "help", "command=tagout"); r.Refused {
			t.Errorf("refused: %q", r.Headline)
		}
	}
	if told != 2 {
		t.Errorf("the keeper was told %d times", told)
	}
}

// Stewards who are known are counted where the role cannot be pinged.
func TestKnownStewardsAreCounted(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	chat := fineChat()
	chat.roles["stewards"] = commands.RoleAccess{}
	world.desk.Chat = chat
	world.as("ishaan", "help", "command=tagout")
	r := world.as("wren", "shop settings")
	if all := words.Expand(strings.Join(r.Lines, " "), plainMedium{}); !strings.Contains(all, "the 2 stewards") {
		t.Errorf("of two: %q", all)
	}
}
