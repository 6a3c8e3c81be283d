package rehearse

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/bot"
	"setscrew/bot/discordtest"
	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/store"
)

// The first month of a planer, as the script of that name tells it, gives the
// same record whether it is played in a terminal or through Discord by the real
// client; and the channel ends with about as many messages.
func TestFirstMonthThroughDiscord(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "script", "first-month.txtar"))
	if err != nil {
		t.Fatal(err)
	}
	_, script, _ := strings.Cut(string(text), "-- lines --\n")
	script, _, ok := strings.Cut(script, "-- want --\n")
	if !ok {
		t.Fatal("the script has no lines")
	}
	ctx, cancel := context.WithTimeout(context.Background(), 3*time.Minute)
	defer cancel()

	terminal := filepath.Join(t.TempDir(), "terminal.db")
	if err := Run(ctx, Config{In: strings.NewReader(script), Out: io.Discard, DB: terminal, Empty: true}); err != nil {
		t.Fatal(err)
	}
	want := record(t, terminal, "quarry-street-commons", strings.NewReplacer())
	if len(want) < 100 {
		t.Fatalf("only %d reports in the terminal", len(want))
	}

	player := newPlayer(t, ctx)
	for _, line := range strings.Split(script, "\n") {
		player.line(line)
	}
	got := player.end()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("the record in the terminal and through Discord (-terminal +Discord):\n%s", d)
	}
	var kept state
	beside, err := os.ReadFile(terminal + ".rehearsal")
	if err == nil {
		err = json.Unmarshal(beside, &kept)
	}
	if err != nil {
		t.Fatal(err)
	}
	// What falls due while routine notices wait for their turn shares a message, and how long
	// they wait differs, so that there may be a few less or more.
	if n := len(player.server.Messages(player.channel)) - len(kept.Channel.Messages); n < -5 || n > 5 {
		t.Errorf("%d messages more in the channel than in the terminal's %d", n, len(kept.Channel.Messages))
	}
	if n := player.server.Pinned(player.channel); n != 0 {
		t.Errorf("%d messages are still pinned", n)
	}
}

// record is everything reported in a shop, a line each, with what differs by
// nature put alike.
func record(t *testing.T, path string, shop domain.ShopID, alike *strings.Replacer) []string {
	t.Helper()
	db, err := store.Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var lines []string
	for no := domain.FactNo(1); ; no++ {
		fact, err := db.Shop(shop).Fact(context.Background(), no)
		if err != nil {
			return lines
		}
		body, err := domain.EncodeBody(fact.Body)
		if err != nil {
			t.Fatal(err)
		}
		if b, ok := fact.Body.(domain.Problem); ok && b.Photo != nil {
			b.Photo = &domain.Photo{Name: b.Photo.Name} // its id and address are the chat's
			if body, err = domain.EncodeBody(b); err != nil {
				t.Fatal(err)
			}
		}
		lines = append(lines, alike.Replace(fmt.Sprintf("%d %s at %s by %s for %s withdrawn %d: %s", fact.No,
			fact.Body.FactKind(), fact.At.Format(time.RFC3339), fact.By, fact.For, fact.Withdrawn, body)))
	}
}

// player plays a rehearsal's lines through the fake Discord server.
type player struct {
	t       *testing.T
	ctx     context.Context
	server  *discordtest.Server
	guild   *discordtest.Guild
	channel *discordtest.Channel
	role    string
	people  map[string]*discordtest.Member
	db      *store.DB
	path    string
	desk    *commands.Desk
	who     string
	last    *discordtest.Interaction
	stop    func()

	mu  sync.Mutex
	now time.Time
}

func newPlayer(t *testing.T, ctx context.Context) *player {
	t.Helper()
	server := discordtest.New()
	t.Cleanup(server.Close)
	server.ChannelPosts, server.RequestsASecond = -1, -1 // a month goes by in seconds of the server's clock
	server.Problem = func(p string) { t.Errorf("Discord would refuse: %s", p) }
	player := &player{t: t, ctx: ctx, server: server, guild: server.AddGuild("Quarry Street Commons"),
		people: map[string]*discordtest.Member{}, who: "ada",
		path: filepath.Join(t.TempDir(), "discord.db"), now: begin}
	server.Clock = player.clock
	player.channel = server.AddChannel(player.guild, "shop-notices")
	player.role = server.AddRole(player.guild, "stewards")
	server.MakeMentionable(player.guild, player.role, true)
	for _, name := range []string{"ada", "bo", "chidi"} {
		player.people[name] = server.AddMember(player.guild, name, 0)
	}
	for _, name := range []string{"wren", "ishaan"} {
		player.people[name] = server.AddMember(player.guild, name, 0, player.role)
	}
	player.people["owner"] = server.AddMember(player.guild, "owner", discordtest.ManageGuild)
	var err error
	if player.db, err = store.Open(ctx, player.path); err != nil {
		t.Fatal(err)
	}
	cat, err := words.Load()
	if err != nil {
		t.Fatal(err)
	}
	player.desk = commands.NewDesk(func(id domain.ShopID) commands.Books { return player.db.Shop(id) }, player.db, cat)
	player.desk.Fault = func(id string, err error) { t.Errorf("fault at %s: %v", id, err) }
	b := bot.New(bot.Config{Token: discordtest.Token, Client: server.Client(), Desk: player.desk, Outbox: player.db,
		Log: slog.New(slog.DiscardHandler), Now: player.clock,
		Settings: func(ctx context.Context, id domain.ShopID) (domain.Shop,
			error) {
			return player.db.Shop(id).Shop(ctx)
		}})
	running, cancel := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- b.Run(running) }()
	player.stop = func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
	player.check(server.UntilConnected(ctx, 1))
	player.check(server.Until(ctx, server.Registered))
	return player
}

func (p *player) check(err error) {
	p.t.Helper()
	if err != nil {
		p.t.Fatal(err)
	}
}

// clock is the bot's clock.
func (p *player) clock() time.Time {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.now
}

func (p *player) set(t time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.now = t
}

// line plays one line of a rehearsal.
func (p *player) line(line string) {
	p.t.Helper()
	line = strings.TrimSpace(line)
	words := split(line)
	switch {
	case len(words) == 0 || strings.HasPrefix(line, "#") || words[0] == "notices":
	case strings.HasPrefix(line, "/"):
		given, err := parseSlash(line, p.desk.Declarations())
		p.check(err)
		for name, v := range given.options {
			switch m := p.people[v]; {
			case name == "for" && m != nil:
				given.options[name] = m.ID
			case name == "notices":
				given.options[name] = p.channel.ID
			case name == "stewards":
				given.options[name] = p.role
			}
		}
		p.set(p.clock().Add(time.Second))
		i, err := p.server.Slash(p.guild, p.channel, p.people[p.who], given.name, given.options)
		p.check(err)
		p.answered(i)
	case words[0] == "as":
		p.who = words[1]
	case words[0] == "press":
		p.set(p.clock().Add(time.Second))
		i, err := p.server.Press(p.last, p.people[p.who], strings.Join(words[1:], " "))
		p.check(err)
		p.answered(i)
	case words[0] == "clock":
		shop, err := p.db.Shop(domain.ShopID(p.guild.ID)).Shop(p.ctx)
		p.check(err)
		to, err := time.ParseInLocation("2006-01-02 15:04", strings.TrimSpace(strings.TrimPrefix(line, "clock")),
			shop.Location())
		p.check(err)
		p.pass(to)
	default:
		p.t.Fatalf("no way to play %q", line)
	}
}

// answered waits for an answer; its buttons are those that are pressed next.
func (p *player) answered(interaction *discordtest.Interaction) {
	p.t.Helper()
	reply, err := interaction.Wait(p.ctx)
	p.check(err)
	if len(reply.Buttons) > 0 {
		p.last = interaction
	}
}

// pass moves time on, through every wake on the way.
func (p *player) pass(to time.Time) {
	p.t.Helper()
	for {
		next, ok, err := p.db.NextWake(p.ctx)
		p.check(err)
		if !ok || next.After(to) || !next.After(p.clock()) {
			break
		}
		p.set(next)
		p.check(p.desk.Sweep(p.ctx, next))
	}
	p.set(to.UTC())
	p.check(p.desk.Sweep(p.ctx, p.clock()))
}

// end waits until nothing is owed to the channel, ends the bot, and returns what
// was recorded.
func (p *player) end() []string {
	p.t.Helper()
	for {
		p.line("/help") // every answer is followed by a look at what is owed
		owing, err := p.db.ShopsUndelivered(p.ctx, p.clock().Add(time.Hour))
		p.check(err)
		if len(owing) == 0 {
			break
		}
	}
	p.stop()
	p.check(p.db.Close())
	alike := []string{p.channel.ID, "shop-notices", p.role, "stewards", p.guild.ID, "quarry-street-commons"}
	for name, m := range p.people {
		alike = append(alike, m.ID, name)
	}
	return record(p.t, p.path, domain.ShopID(p.guild.ID), strings.NewReplacer(alike...))
}
