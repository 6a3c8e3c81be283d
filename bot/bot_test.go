package bot_test

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"setscrew/bot"
	"setscrew/bot/discordtest"
	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/store"
)

// TestMain lets more tests run beside each other than there are processors: most
// of their time goes into waiting for connections to close or to be tried again.
func TestMain(m *testing.M) {
	flag.Parse()
	chosen := false
	flag.Visit(func(f *flag.Flag) { chosen = chosen || f.Name == "test.parallel" })
	if !chosen {
		flag.Set("test.parallel", strconv.Itoa(sideBySide)) //nolint:errcheck // the flag exists
	}
	os.Exit(m.Run())
}

// rig is a shop in the fake Discord with the real client, desk and store.
type rig struct {
	t                     *testing.T
	server                *discordtest.Server
	guild                 *discordtest.Guild
	channel               *discordtest.Channel
	stewards              string
	ada, bo, wren, keeper *discordtest.Member
	db                    *store.DB
	path                  string // of the books
	log                   *logs
	ctx                   context.Context
	stop                  context.CancelFunc
	ended                 chan error
	desk                  *commands.Desk
}

// logs collects what the bot logs.
type logs struct {
	mu    sync.Mutex
	lines []string
}

func (l *logs) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.lines = append(l.lines, string(p))
	return len(p), nil
}

func (l *logs) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return strings.Join(l.lines, "")
}

// newRig is a server with a guild and its people, and the books given, or empty
// ones.
func newRig(t *testing.T, books []byte) *rig {
	t.Helper()
	server := discordtest.New()
	server.AnswerWithin = 3 * time.Second * slower
	server.IdentifyEvery = 10 * time.Millisecond
	if !server.HasSchema() {
		t.Log("requests are not held against Discord's published description: shared/discord/openapi.json is missing")
	}
	server.Problem = func(p string) { t.Errorf("Discord would refuse: %s", p) }
	made := &rig{t: t, server: server, guild: server.AddGuild("Quarry Street Commons"), log: &logs{}}
	made.channel = server.AddChannel(made.guild, "shop-notices")
	made.stewards = server.AddRole(made.guild, "stewards")
	server.MakeMentionable(made.guild, made.stewards, true)
	made.ada, made.bo = server.AddMember(made.guild, "ada", 0), server.AddMember(made.guild, "bo", 0)
	made.wren = server.AddMember(made.guild, "wren", 0, made.stewards)
	made.keeper = server.AddMember(made.guild, "keeper", discordtest.ManageGuild)
	path := filepath.Join(t.TempDir(), "shop.db")
	if books != nil {
		made.check(os.WriteFile(path, books, 0o600))
	}
	db, err := store.Open(context.Background(), path)
	made.check(err)
	made.db, made.path = db, path
	var cancel context.CancelFunc
	made.ctx, cancel = context.WithTimeout(context.Background(), 60*time.Second*slower)
	t.Cleanup(func() {
		made.end()
		cancel()
		server.Close()
		if err := made.db.Close(); err != nil {
			t.Error(err)
		}
		if t.Failed() {
			t.Log(made.log.String())
		}
	})
	return made
}

// start runs the bot until end.
func (r *rig) start(change ...func(*bot.Config)) {
	r.t.Helper()
	cat, err := words.Load()
	if err != nil {
		r.t.Fatal(err)
	}
	r.desk = commands.NewDesk(func(id domain.ShopID) commands.Books { return r.db.Shop(id) }, r.db, cat)
	r.desk.Fault = func(id string, err error) { r.t.Errorf("fault at %s: %v", id, err) }
	cfg := bot.Config{Token: discordtest.Token, Client: r.server.Client(), Desk: r.desk, Outbox: r.db,
		Log: slog.New(slog.NewTextHandler(r.log, nil)),
		Settings: func(ctx context.Context, id domain.ShopID) (domain.Shop, error) {
			return r.db.Shop(id).Shop(ctx)
		},
		Stewards: func(ctx context.Context, shop domain.Shop) ([]domain.PersonID, error) {
			return r.db.Shop(shop.ID).Stewards(ctx, shop.StewardRole)
		},
		Retry: r.db.RetryNotices, Memory: r.db,
		FirstBackoff: 10 * time.Millisecond, AnswerWithin: 2500 * time.Millisecond * slower,
		OpenWithin: 2 * time.Second, IdentifyEvery: 10 * time.Millisecond,
		WatchInterval: 20 * time.Millisecond}
	for _, f := range change {
		f(&cfg)
	}
	b := bot.New(cfg)
	ctx, stop := context.WithCancel(context.Background())
	r.stop, r.ended = stop, make(chan error, 1)
	go func() { r.ended <- b.Run(ctx) }()
}

// end stops the bot and waits for it.
func (r *rig) end() {
	if r.stop == nil {
		return
	}
	r.stop()
	select {
	case err := <-r.ended:
		if err != nil {
			r.t.Errorf("the bot ended with %v", err)
		}
	case <-time.After(20 * time.Second * slower):
		r.t.Error("the bot does not end")
	}
	r.stop = nil
}

// ready waits until the bot is connected and its commands are registered.
func (r *rig) ready() {
	r.t.Helper()
	r.check(r.server.UntilConnected(r.ctx, 1))
	r.check(r.server.Until(r.ctx, func() bool { return r.server.Registered() }))
}

func (r *rig) check(err error) {
	r.t.Helper()
	if err != nil {
		r.t.Fatal(err)
	}
}

// slash gives a command with options "name=value" and returns it and its reply.
func (r *rig) slash(member *discordtest.Member, command string, options ...string) (*discordtest.Interaction,
	discordtest.Reply) {
	r.t.Helper()
	given := map[string]string{}
	for _, o := range options {
		name, value, _ := strings.Cut(o, "=")
		given[name] = value
	}
	i, err := r.server.Slash(r.guild, r.channel, member, command, given)
	r.check(err)
	reply, err := i.Wait(r.ctx)
	r.check(err)
	return i, reply
}

func (r *rig) press(i *discordtest.Interaction, m *discordtest.Member, label string) (*discordtest.Interaction,
	discordtest.Reply) {
	r.t.Helper()
	p, err := r.server.Press(i, m, label)
	r.check(err)
	reply, err := p.Wait(r.ctx)
	r.check(err)
	return p, reply
}

// pinned reports whether the channel has a pinned message.
func (r *rig) pinned() bool {
	return slices.ContainsFunc(r.server.Messages(r.channel), func(m discordtest.Message) bool { return m.Pinned })
}

// marbleBooks are the books of a shop in which the demo's planer was set up, made
// once: ids come from names, so that they fit every rig.
var marbleBooks struct {
	once sync.Once
	text []byte
}

// newMarble is a rig in whose shop the demo's planer is set up.
func newMarble(t *testing.T) *rig {
	t.Helper()
	marbleBooks.once.Do(func() {
		made := newRig(t, nil)
		made.start()
		made.ready()
		made.setUp()
		made.end()
		made.check(made.db.Close()) // all of it is in the file then
		text, err := os.ReadFile(made.path)
		made.check(err)
		marbleBooks.text = text
		made.db, err = store.Open(made.ctx, made.path)
		made.check(err)
	})
	if marbleBooks.text == nil {
		t.Fatal("the shop could not be set up")
	}
	return newRig(t, marbleBooks.text)
}

// setUp sets the demo's planer up by commands.
func (r *rig) setUp() {
	r.t.Helper()
	r.slash(r.keeper, "shop settings", "name=Quarry Street Commons", "zone=CET", "units=metric",
		"notices="+r.channel.ID, "stewards="+r.stewards)
	i, reply := r.slash(r.wren, "shop add", "name=Marble", "kind=thickness-planer", "state=in-use")
	for len(reply.Buttons) > 0 {
		i, reply = r.press(i, r.wren, "Seen: ")
	}
	for _, what := range []string{"infeed roller left set screw", "infeed roller right set screw"} {
		r.slash(r.wren, "shop confirm", "machine=Marble", "what="+what)
	}
	machines, err := r.db.Shop(domain.ShopID(r.guild.ID)).Machines(r.ctx)
	r.check(err)
	for _, check := range machines[0].Profile.Checks {
		if check.OnDemand {
			continue
		}
		values := "pass"
		if !check.Inspection {
			var parts []string
			for _, p := range check.Positions {
				parts = append(parts, strings.TrimSpace(p+" "+check.Example.String()))
			}
			values = strings.Join(parts, ", ")
		}
		_, reply := r.slash(r.wren, "reading", "machine=Marble", "check="+check.Name, "values="+values)
		if !strings.Contains(reply.Content, "within limits") && !strings.Contains(reply.Content, "passes") {
			r.t.Fatalf("setting up %s: %q", check.Name, reply.Content)
		}
	}
}

// The story of the shop: a member's reading gets its move, a danger stops the
// machine with a pinned notice that mentions the stewards and nobody else, a
// second tag adds a reason, the steward releases it.
func TestStory(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	_, reply := rig.slash(rig.ada, "reading", "machine=Marble", "check=infeed roller", "values=46-41")
	if !reply.Ephemeral || len(reply.Buttons) != 3 {
		t.Fatalf("a question: %+v", reply)
	}
	interaction, reply := rig.slash(rig.ada, "reading", "machine=Marble", "check=infeed roller",
		"values=left 0.046 in, right 0.041 in")
	if !reply.Ephemeral || !strings.Contains(reply.Content, "1/8 turn clockwise, seen from the key") ||
		len(reply.Buttons) != 2 {
		t.Fatalf("a plan: %+v", reply)
	}
	why, reply := rig.press(interaction, rig.ada, "Why?")
	if !strings.Contains(reply.Content, "1.27 mm a turn") || len(reply.Files) != 1 {
		t.Errorf("why: %+v (%v)", reply, why.Answered())
	}
	_, reply = rig.press(interaction, rig.ada, "I turned it")
	if !reply.Replaced || len(reply.Buttons) != 0 || !strings.Contains(reply.Content, "moves made") {
		t.Errorf("turned: %+v", reply)
	}
	if _, reply := rig.slash(rig.ada, "due", "calendar=yes"); len(reply.Files) != 1 || reply.Files[0] != "due.ics" {
		t.Errorf("the calendar: %+v", reply)
	}
	form, reply := rig.slash(rig.bo, "reading", "machine=Marble", "check=infeed roller")
	if reply.Modal == nil {
		t.Fatalf("no form: %+v", reply)
	}
	submitted, err := rig.server.Submit(form, rig.bo, map[string]string{"left": "1.01", "right": "40 thou"})
	rig.check(err)
	reply, err = submitted.Wait(rig.ctx)
	rig.check(err)
	if !strings.Contains(reply.Content, "within limits") {
		t.Errorf("form: %+v", reply)
	}
	if _, reply := rig.slash(rig.ada, "logsheet", "machine=Marble"); len(reply.Files) != 1 ||
		!strings.HasSuffix(reply.Files[0], ".pdf") {
		t.Errorf("the log sheet: %+v", reply)
	}
	form, reply = rig.slash(rig.bo, "typein", "machine=Marble")
	if reply.Modal == nil {
		t.Fatalf("no form: %+v", reply)
	}
	submitted, err = rig.server.Submit(form, rig.bo, map[string]string{"lines": "now, 1 min sure\nnow, done bushngs"})
	rig.check(err)
	reply, err = submitted.Wait(rig.ctx)
	rig.check(err)
	mend, reply := rig.press(submitted, rig.bo, "Mend the lines")
	if reply.Modal == nil {
		t.Fatalf("no form again: %+v", reply)
	}
	submitted, err = rig.server.Submit(mend, rig.bo, map[string]string{"lines": "now, 1 min sure\nnow, done bushings"})
	rig.check(err)
	reply, err = submitted.Wait(rig.ctx)
	rig.check(err)
	if !strings.Contains(reply.Content, "2 lines typed in") {
		t.Errorf("typed in: %+v", reply)
	}
	// Those who reported a problem are told that it is mended, and nobody else is.
	before := len(rig.server.Messages(rig.channel))
	rig.slash(rig.bo, "problem", "machine=Marble", "what=snipe")
	rig.slash(rig.wren, "mended", "machine=Marble", "problem=snipe")
	all, err := rig.server.UntilMessages(rig.ctx, rig.channel, before+2)
	rig.check(err)
	if told := all[before+1]; !strings.HasPrefix(told.Content, "<@"+rig.bo.ID+">: what you reported of Marble") ||
		!slices.Equal(told.Pings, []string{"user:" + rig.bo.ID}) {
		t.Errorf("told: %+v", told)
	}
	before = len(all)
	_, reply = rig.slash(rig.ada, "problem", "machine=Marble",
		"what=smoke from the motor @everyone **now** <@&"+rig.stewards+">")
	if !strings.Contains(reply.Content, "Marble is tagged out: do not use.") || len(reply.Pings) != 0 {
		t.Errorf("danger: %+v", reply)
	}
	rig.check(rig.server.Until(rig.ctx, func() bool { return rig.server.Pinned(rig.channel) == 1 }))
	all = rig.server.Messages(rig.channel)
	notice := all[before]
	if !strings.HasPrefix(notice.Content, "<@&"+rig.stewards+"> Marble is tagged out: do not use.") ||
		!slices.Equal(notice.Pings, []string{"role:" + rig.stewards}) ||
		!strings.Contains(notice.Content, `\*\*now\*\*`) ||
		!strings.Contains(notice.Content, "A chat notice isolates nothing") {
		t.Errorf("notice: %+v", notice)
	}
	rig.slash(rig.bo, "tagout", "machine=Marble", "reason=the belt is off")
	rig.check(rig.server.Until(rig.ctx, func() bool {
		return strings.Contains(rig.server.Content(rig.channel, before),
			"the belt is off")
	}))
	if got := rig.server.Messages(rig.channel)[before]; !strings.Contains(got.Content, "<@"+rig.bo.ID+">") ||
		strings.Contains(got.Content, "<@"+rig.ada.ID+">") {
		t.Errorf("who is named: %s", got.Content)
	}
	_, reply = rig.slash(rig.bo, "release", "machine=Marble")
	if !strings.Contains(reply.Content, "Only shop stewards") {
		t.Errorf("release by a member: %+v", reply)
	}
	_, reply = rig.slash(rig.wren, "release", "machine=Marble", "note=belt replaced")
	if !strings.Contains(reply.Content, "Cause of smoke or heat: to be checked after") {
		t.Errorf("release before the cause of the smoke was found: %+v", reply)
	}
	rig.slash(rig.wren, "reading", "machine=Marble", "check=cause of smoke or heat", "values=pass: belt slipped")
	interaction, reply = rig.slash(rig.wren, "release", "machine=Marble", "note=belt replaced")
	if len(reply.Buttons) != 1 || !strings.Contains(reply.Content, "tag 1 of 2") {
		t.Fatalf("release: %+v", reply)
	}
	interaction, reply = rig.press(interaction, rig.wren, "Seen to: next tag")
	if len(reply.Buttons) != 2 || !strings.Contains(reply.Content, "the belt is off") {
		t.Fatalf("the second tag: %+v", reply)
	}
	interaction, reply = rig.press(interaction, rig.wren, "All done, owner asked")
	if !strings.Contains(reply.Content, "is under test by <@"+rig.wren.ID+">: keep clear.") {
		t.Errorf("under test: %+v", reply)
	}
	_, reply = rig.press(interaction, rig.wren, "It runs well")
	if !strings.Contains(reply.Content, "Marble is back in service.") {
		t.Errorf("released: %+v", reply)
	}
	all, err = rig.server.UntilMessages(rig.ctx, rig.channel, before+3)
	rig.check(err)
	rig.check(rig.server.Until(rig.ctx, func() bool { return rig.server.Pinned(rig.channel) == 0 }))
	if !strings.Contains(all[before].Content, "its tags are lifted") ||
		!strings.Contains(all[before+1].Content, "keep clear") ||
		!strings.HasPrefix(all[before+2].Content, "Marble is back in service.") {
		t.Errorf("in the end: %+v", all)
	}
	if s := rig.log.String(); strings.Contains(s, discordtest.Token) {
		t.Error("the token stands in the log")
	}
}

func TestAutocomplete(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	for _, test := range []struct {
		focused, partial string
		want             []string
	}{{"machine", "mar", []string{"Marble"}},
		{"check", "roller", []string{"infeed roller", "outfeed roller", "bed rollers"}}, {"gauge", "zzz", []string{}}} {
		i, err := rig.server.Complete(rig.guild, rig.channel, rig.ada, "reading", test.focused,
			map[string]string{"machine": "Marble", test.focused: test.partial})
		rig.check(err)
		reply, err := i.Wait(rig.ctx)
		rig.check(err)
		if !slices.Equal(reply.Choices, test.want) {
			t.Errorf("%s %s: %q, want %q", test.focused, test.partial, reply.Choices, test.want)
		}
	}
}

// Commands are registered in bulk when they differ, and left alone when not.
func TestRegistersOnlyWhatDiffers(t *testing.T) {
	t.Parallel()
	rig := newRig(t, nil)
	rig.start()
	rig.ready()
	rig.end()
	rig.start()
	rig.check(rig.server.UntilConnected(rig.ctx, 2))
	rig.slash(rig.ada, "help")
	if n := rig.server.Overwrites(); n != 1 {
		t.Errorf("registered %d times", n)
	}
}

// Long replies are paged, not cut.
func TestLongReplies(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	for n := range 12 {
		rig.slash(rig.bo, "tagout", "machine=Marble", fmt.Sprintf("reason=%d %s", n, strings.Repeat("*", 190)))
	}
	_, reply := rig.slash(rig.bo, "machine", "machine=Marble")
	if len([]rune(reply.Content)) > 2000 || !strings.Contains(reply.Content, "tagged out") {
		t.Errorf("%d characters", len([]rune(reply.Content)))
	}
	rig.check(rig.server.Until(rig.ctx, func() bool { return rig.server.FollowUps() > 0 }))
}

// The same interaction delivered twice at once, or again later, is recorded
// once.
func TestDeliveredTwice(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	interaction, err := rig.server.Slash(rig.guild, rig.channel, rig.ada, "hours",
		map[string]string{"machine": "Marble",
			"hours": "1"})
	rig.check(err)
	for range 5 {
		rig.server.Again(interaction)
	}
	_, err = interaction.Wait(rig.ctx)
	rig.check(err)
	rig.server.Again(interaction)
	rig.slash(rig.ada, "hours", "machine=Marble", "hours=30 min", "sure=yes")
	snap, err := rig.db.Shop(domain.ShopID(rig.guild.ID)).Snapshot(rig.ctx, 1)
	rig.check(err)
	if got := snap.Hours.String(); got != "5400 s" {
		t.Errorf("%s logged, want 5400 s", got)
	}
}

// Malformed events do no harm.
func TestMalformed(t *testing.T) {
	t.Parallel()
	rig := newRig(t, nil)
	rig.start()
	rig.ready()
	member := map[string]any{"user": map[string]any{"id": "5"}, "permissions": "0"}
	for _, data := range []map[string]any{
		{},
		{"id": "1", "type": 2},
		{"id": "1", "type": 2, "token": "t", "application_id": "1", "guild_id": "1"},
		{"id": "1", "type": 2, "token": "t", "application_id": "1", "guild_id": "1", "member": member},
		{"id": "", "type": 2, "token": "t", "application_id": "1", "guild_id": "1", "member": member,
			"data": map[string]any{"name": "due"}},
		{"id": "1", "type": 2, "token": "t", "application_id": "1", "guild_id": "1", "member": member,
			"data": map[string]any{"name": "due", "options": "x"}},
		{"id": "1", "type": 2, "token": "t", "application_id": "1", "guild_id": "1", "member": member,
			"data": map[string]any{"name": "due",
				"options": []any{map[string]any{"name": "machine", "value": []int{1}}}}},
		{"id": "1", "type": 99, "token": "t", "application_id": "1", "guild_id": "1", "member": member,
			"data": map[string]any{"name": "due"}},
	} {
		rig.server.Raw("INTERACTION_CREATE", data)
	}
	if _, reply := rig.slash(rig.ada, "help"); !strings.Contains(reply.Content, "You can say") {
		t.Errorf("afterwards: %+v", reply)
	}
}

// Close codes after which a client must not come back end the bot, each with words of
// its own.
func TestFatalCloses(t *testing.T) {
	t.Parallel()
	for code, says := range map[int]string{4004: "refuses the token", 4010: "the shard", 4011: "too many servers",
		4012: "version of its gateway", 4013: "does not know the events", 4014: "does not let this application"} {
		rig := newRig(t, nil)
		rig.server.CloseNext(code)
		rig.start()
		select {
		case err := <-rig.ended:
			var refused bot.Refused
			if !errors.As(err, &refused) || refused.Code != code || !strings.Contains(err.Error(), says) ||
				!strings.HasSuffix(err.Error(), fmt.Sprintf(" (%d)", code)) {
				t.Errorf("%d: ended with %v", code, err)
			}
		case <-rig.ctx.Done():
			t.Errorf("%d: it goes on trying", code)
		}
		rig.stop()
		rig.stop = nil
		if n := rig.server.Connections(); n != 1 {
			t.Errorf("%d: %d connections", code, n)
		}
	}
}

// A connection that is closed for good while it runs ends the bot too.
func TestFatalCloseLater(t *testing.T) {
	t.Parallel()
	rig := newRig(t, nil)
	rig.start()
	rig.ready()
	rig.server.CloseNext(4004) // what a client is told that comes back after its token was reset
	rig.server.CloseConnections(4004)
	select {
	case err := <-rig.ended:
		if err != (bot.Refused{Code: 4004}) { //nolint:errorlint // it is no more than that
			t.Errorf("ended with %v", err)
		}
	case <-rig.ctx.Done():
		t.Error("it goes on trying")
	}
	rig.stop()
	rig.stop = nil
}

// A refused token ends the bot with an error that says so.
func TestRefusedToken(t *testing.T) {
	t.Parallel()
	rig := newRig(t, nil)
	rig.start(func(c *bot.Config) { c.Token = "wrong" })
	select {
	case err := <-rig.ended:
		if !errors.As(err, &bot.Refused{}) {
			t.Errorf("ended with %v", err)
		}
	case <-rig.ctx.Done():
		t.Error("it goes on trying")
	}
	rig.stop()
	rig.stop = nil
}

// After each way in which a connection goes bad, the bot answers again; what
// was sent meanwhile is answered where the session could be resumed.
func TestConnections(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name    string
		break_  func(*discordtest.Server)
		resumes bool
	}{
		{"dropped", func(s *discordtest.Server) { s.DropConnections() }, true},
		{"asked to reconnect", func(s *discordtest.Server) { s.AskReconnect() }, true},
		{"closed by the server", func(s *discordtest.Server) { s.CloseConnections(4000) }, true},
		{"session ended", func(s *discordtest.Server) { s.RefuseResume(); s.DropConnections() }, false},
		{"asked to reconnect while resuming",
			func(s *discordtest.Server) { s.ReconnectInsteadOfResuming(); s.DropConnections() }, false},
		{"never answered", func(s *discordtest.Server) { s.IgnoreNext(); s.DropConnections() }, false},
		{"session invalid", func(s *discordtest.Server) { s.InvalidateSessions(false) }, false},
		{"session invalid, to be resumed", func(s *discordtest.Server) { s.InvalidateSessions(true) }, true},
		{"session ended by a normal close", func(s *discordtest.Server) { s.CloseConnections(1000) }, true},
		{"acks missing", func(s *discordtest.Server) { s.MuteAcks(true) }, false},
		{"compressed", func(s *discordtest.Server) { s.Compress(true); s.DropConnections() }, false},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			rig := newMarble(t)
			rig.server.HeartbeatInterval = 400 * time.Millisecond
			rig.start(func(c *bot.Config) { c.SilentFor = time.Second; c.OpenWithin = time.Second })
			rig.ready()
			test.break_(rig.server)
			if !test.resumes {
				rig.check(rig.server.UntilConnected(rig.ctx, 2))
				rig.server.MuteAcks(false)
			}
			// A member whose command was lost gives it again.
			for count := 0; ; count++ {
				i, err := rig.server.Slash(rig.guild, rig.channel, rig.ada, "hours",
					map[string]string{"machine": "Marble", "hours": "1 min", "sure": "yes"})
				rig.check(err)
				ctx, cancel := context.WithTimeout(rig.ctx, 3*time.Second)
				reply, err := i.Wait(ctx)
				cancel()
				if err == nil {
					if !strings.Contains(reply.Content, "1 min logged") {
						t.Errorf("afterwards: %+v", reply)
					}
					break
				}
				if test.resumes || count > 5 {
					t.Fatalf("not answered after %d tries", count+1)
				}
			}
		})
	}
}

// A connection on which nothing comes is cut and begun again, long before the library
// would miss a heartbeat.
func TestCutsWhatIsSilent(t *testing.T) {
	t.Parallel()
	rig := newRig(t, nil) // a heartbeat every 41 s
	rig.start(func(c *bot.Config) { c.SilentFor = 300 * time.Millisecond })
	rig.ready()
	ctx, cancel := context.WithTimeout(rig.ctx, 10*time.Second*slower)
	defer cancel()
	if err := rig.server.UntilConnected(ctx, 2); err != nil {
		t.Errorf("no other connection: %v", err)
	}
}

// Once a connection has lived for a while, the next attempts to connect are soon again,
// however many failed before.
func TestConnectedBeginsAgain(t *testing.T) {
	t.Parallel()
	rig := newRig(t, nil)
	rig.server.Fail("GET", "/gateway", discordtest.BadGateway, 3)
	rig.start(func(c *bot.Config) { c.SteadyFor = time.Nanosecond })
	rig.ready()
	rig.server.CloseNext(4000)
	rig.server.DropConnections()
	rig.logged("connecting failed", 4)
	var waits []string
	for _, m := range regexp.MustCompile(`connecting failed.* wait=(\S+)`).FindAllStringSubmatch(rig.log.String(), -1) {
		waits = append(waits, m[1])
	}
	if want := []string{"10ms", "20ms", "40ms", "10ms"}; !slices.Equal(waits, want) {
		t.Errorf("waited %v, want %v", waits, want)
	}
}

// A connection that is lost again and again as soon as it stands is begun more and more
// slowly, and each begins one session at most.
func TestLostEarlyBacksOff(t *testing.T) {
	t.Parallel()
	rig := newRig(t, nil)
	rig.start()
	rig.ready()
	for n := range 4 {
		rig.check(rig.server.UntilConnected(rig.ctx, n+1))
		rig.server.DropConnections()
		rig.logged("the connection was lost early", n+1)
	}
	var waits []string
	for _, m := range regexp.MustCompile(`lost early.* wait=(\S+)`).FindAllStringSubmatch(rig.log.String(), -1) {
		waits = append(waits, m[1])
	}
	if want := []string{"10ms", "20ms", "40ms", "80ms"}; !slices.Equal(waits, want) {
		t.Errorf("waited %v, want %v", waits, want)
	}
	if n := rig.server.Identifies(); n != 1 {
		t.Errorf("%d sessions were begun, though the first could be resumed", n)
	}
}

// Told that a session is invalid, or that it asks too soon, the bot asks for another as
// slowly as it connects, and once a connection.
func TestIdentifiesOnce(t *testing.T) {
	t.Parallel()
	rig := newRig(t, nil)
	rig.server.IdentifyEvery = 300 * time.Millisecond // as long as the bot waits for after five failures
	rig.start()
	rig.ready()
	rig.server.InvalidateSessions(false)
	rig.check(rig.server.UntilConnected(rig.ctx, 2))
	if _, reply := rig.slash(rig.ada, "help"); !strings.Contains(reply.Content, "You can say") {
		t.Errorf("afterwards: %+v", reply)
	}
	if made, over := rig.server.Identifies(), rig.server.Connections(); made > over {
		t.Errorf("%d identifies over %d connections", made, over)
	}
}

// When few of the day's sessions are left, the bot waits before it begins another: none
// are left at all until the day is over, and one of two takes half of the time.
func TestSparesIdentifies(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ total, remaining, reset, wait int }{
		{1000, 501, 60000, 0}, {1000, 500, 100000, 200}, {1000, 2, 600, 300}, {1000, 0, 600, 600}} {
		rig := newRig(t, nil)
		rig.server.Fail("GET", "/gateway/bot", discordtest.Fault{Status: 200, Body: fmt.Sprintf(`{"url": "wss://x",
			"shards": 1, "session_start_limit": {"total": %d, "remaining": %d, "reset_after": %d,
			"max_concurrency": 1}}`, test.total, test.remaining, test.reset)}, 1)
		begin := time.Now()
		rig.start()
		rig.check(rig.server.UntilConnected(rig.ctx, 1))
		took, least := time.Since(begin), time.Duration(test.wait)*time.Millisecond
		if took < least || test.wait == 0 && took > 10*time.Second {
			t.Errorf("%+v: connected after %v", test, took)
		}
		want := 0
		if test.wait > 0 {
			want = 1
		}
		said := strings.Count(rig.log.String(), fmt.Sprintf("are used up\" wait=%v", least))
		if said != want {
			t.Errorf("%+v: said %d times", test, said)
		}
		rig.end()
	}
}

// A session is begun five seconds after another at the soonest.
func TestIdentifiesApart(t *testing.T) {
	t.Parallel()
	rig := newRig(t, nil)
	rig.start(func(c *bot.Config) { c.IdentifyEvery = 2500 * time.Millisecond })
	rig.ready()
	begin := time.Now()
	rig.server.InvalidateSessions(false)
	rig.check(rig.server.UntilConnected(rig.ctx, 3)) // the second tries to resume
	if took := time.Since(begin); took < 2*time.Second || rig.server.Identifies() != 2 {
		t.Errorf("%d sessions, the second after %v", rig.server.Identifies(), took)
	}
}

// What could not be posted while Discord was out of reach comes as soon as there is a
// connection again, though nobody gives a command.
func TestPostsOnceConnected(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	var ahead atomic.Int64 // of the clock
	rig.start(func(c *bot.Config) { c.Now = func() time.Time { return time.Now().Add(time.Duration(ahead.Load())) } })
	rig.ready()
	before := len(rig.server.Messages(rig.channel))
	rig.server.Fail("POST", "/channels/*/messages", discordtest.BadGateway, 1)
	rig.slash(rig.ada, "tagout", "machine=Marble", "reason=loose")
	rig.check(rig.server.Until(rig.ctx, func() bool { return rig.server.Refused("POST", "/channels/*/messages") > 0 }))
	// No command from here on: that the attempt is written down is seen in the books.
	for {
		owed, err := rig.db.Undelivered(rig.ctx, domain.ShopID(rig.guild.ID), time.Now(), 10)
		rig.check(err)
		if len(owed) == 0 {
			break
		}
	}
	ahead.Add(int64(time.Minute))
	rig.server.DropConnections()
	ctx, cancel := context.WithTimeout(rig.ctx, 10*time.Second*slower)
	defer cancel()
	if _, err := rig.server.UntilMessages(ctx, rig.channel, before+1); err != nil {
		t.Errorf("not posted within ten seconds: %v", err)
	}
}

// A notice is posted once however its request goes wrong.
func TestPostingFaults(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name  string
		fault discordtest.Fault
		times int
	}{
		{"502 before it was posted", discordtest.BadGateway, 2},
		{"502 after it was posted", discordtest.Fault{Status: 502, Body: "bad", Type: "text/html", Served: true}, 2},
		{"no answer after it was posted", discordtest.Fault{Served: true, Drop: true}, 1},
		{"429", discordtest.TooMany(time.Second, false), 1},
		{"429 for everything", discordtest.TooMany(time.Second, true), 1},
		{"500", discordtest.APIError(500, 0, "oops"), 1},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			rig := newMarble(t)
			var ahead atomic.Int64 // of the clock
			now := func() time.Time { return time.Now().Add(time.Duration(ahead.Load())) }
			rig.start(func(c *bot.Config) { c.Now = now })
			rig.ready()
			before := len(rig.server.Messages(rig.channel))
			rig.server.Fail("POST", "/channels/*/messages", test.fault, test.times)
			rig.slash(rig.ada, "tagout", "machine=Marble", "reason=loose")
			// The retry comes with the outbox's own wait, by the bot's clock; a nudge
			// looks again. Two failures are 15 s apart at most.
			for n := 0; !rig.pinned() && n < 30; n++ {
				ctx, cancel := context.WithTimeout(rig.ctx, 100*time.Millisecond)
				//nolint:errcheck // looked at above
				rig.server.Until(ctx, func() bool { return rig.server.Pinned(rig.channel) > 0 })
				cancel()
				ahead.Add(int64(time.Second))
				rig.slash(rig.bo, "due")
			}
			all := rig.server.Messages(rig.channel)
			if len(all) != before+1 || !all[before].Pinned {
				t.Errorf("%d messages more, %+v", len(all)-before, all)
			}
		})
	}
}

// A 429 that asks for an hour, be it for everything, keeps nobody waiting: other
// requests go on, and the bot can be stopped.
func TestLongRateLimitHoldsNothingUp(t *testing.T) {
	t.Parallel()
	for _, f := range []discordtest.Fault{discordtest.TooMany(time.Hour, true), discordtest.HTMLTooMany} {
		rig := newMarble(t)
		rig.start()
		rig.ready()
		rig.server.Fail("POST", "/channels/*/messages", f, 1)
		rig.slash(rig.ada, "tagout", "machine=Marble", "reason=loose")
		rig.check(rig.server.Until(rig.ctx, func() bool {
			return rig.server.Refused("POST",
				"/channels/*/messages") > 0
		}))
		if _, reply := rig.slash(rig.ada, "hours", "machine=Marble", "hours=1",
			"sure=yes"); !strings.Contains(reply.Content, "1 h logged") {
			t.Errorf("meanwhile: %+v", reply)
		}
		begin := time.Now()
		rig.end()
		if d := time.Since(begin); d > 5*time.Second {
			t.Errorf("stopping took %v", d)
		}
		if n := len(rig.server.Messages(rig.channel)); n != 0 {
			t.Errorf("%d messages within the hour", n)
		}
	}
}

// One call to post makes one request, whatever the answer.
func TestNeverPostsBlindly(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	rig.server.Fail("POST", "/channels/*/messages", discordtest.BadGateway, 1000)
	rig.slash(rig.ada, "tagout", "machine=Marble", "reason=loose")
	rig.check(rig.server.Until(rig.ctx, func() bool { return rig.server.Refused("POST", "/channels/*/messages") > 0 }))
	for range 5 {
		rig.slash(rig.ada, "due")
	}
	count := 0
	for _, q := range rig.server.Requests() {
		if q.Method == "POST" && strings.HasPrefix(q.Path, "/channels/") {
			count++
		}
	}
	if count != 1 {
		t.Errorf("%d requests at once", count)
	}
}

// An answer under way when the bot is stopped is finished first.
func TestStopWaitsForAnswers(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	rig.server.Fail("POST", "/interactions/*", discordtest.Fault{Status: 204, Served: true, Stalled: time.Second}, 1)
	i, err := rig.server.Slash(rig.guild, rig.channel, rig.ada, "hours",
		map[string]string{"machine": "Marble", "hours": "1", "sure": "yes"})
	rig.check(err)
	reply, err := i.Wait(rig.ctx)
	rig.check(err)
	rig.end()
	if !strings.Contains(reply.Content, "1 h logged") || strings.Contains(rig.log.String(), "not delivered") {
		t.Errorf("%+v\n%s", reply, rig.log)
	}
}

// panicking are books in which looking for machines panics.
type panicking struct{ commands.Books }

func (panicking) Machines(context.Context) ([]domain.Machine, error) { panic("out of range") }

// A panic while answering harms nobody else.
func TestPanicHarmsNobodyElse(t *testing.T) {
	t.Parallel()
	rig := newRig(t, nil)
	rig.start(func(config *bot.Config) {
		cat, err := words.Load()
		if err != nil {
			t.Fatal(err)
		}
		config.Desk = commands.NewDesk(func(id domain.ShopID) commands.Books { return panicking{rig.db.Shop(id)} },
			rig.db,
			cat)
	})
	rig.ready()
	_, err := rig.server.Complete(rig.guild, rig.channel, rig.ada, "due", "machine", map[string]string{"machine": "m"})
	rig.check(err)
	if _, reply := rig.slash(rig.ada, "due"); !strings.Contains(reply.Content, "Something went wrong on our side") {
		t.Errorf("a command that panics: %+v", reply)
	}
	if _, reply := rig.slash(rig.ada, "help"); !strings.Contains(reply.Content, "You can say") {
		t.Errorf("afterwards: %+v", reply)
	}
	rig.logged("out of range", 1)
}

// A late answer, and one given already, do no harm.
func TestLateAnswers(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	for _, f := range []discordtest.Fault{discordtest.APIError(404, 10062, "Unknown interaction"),
		discordtest.APIError(400, 40060, "Interaction has already been acknowledged.")} {
		rig.server.Fail("POST", "/interactions/*", f, 1)
		before := rig.refused("POST", "/interactions")
		_, err := rig.server.Slash(rig.guild, rig.channel, rig.ada, "hours",
			map[string]string{"machine": "Marble", "hours": "1", "sure": "yes"})
		rig.check(err)
		rig.check(rig.server.Until(rig.ctx, func() bool {
			return rig.server.Refused("POST",
				"/interactions") > before
		}))
	}
	rig.logged("not delivered", 2)
	// The member is told of the last answer that did not reach them, once.
	_, reply := rig.slash(rig.ada, "due")
	if !strings.Contains(reply.Content, "due in 6 h of use") ||
		!strings.Contains(reply.Content, "You may not have seen this: Marble: 1 h logged") {
		t.Errorf("afterwards: %+v", reply)
	}
	if _, reply := rig.slash(rig.ada, "due"); strings.Contains(reply.Content, "may not have seen") {
		t.Errorf("told twice: %+v", reply)
	}
}

// Stopped, the bot leaves no goroutine behind. This test does not run beside
// others, whose goroutines it would see.
func TestLeavesNoGoroutine(t *testing.T) {
	rig := newMarble(t)
	rig.start()
	rig.ready()
	rig.slash(rig.ada, "tagout", "machine=Marble", "reason=loose")
	rig.server.DropConnections()
	rig.check(rig.server.UntilConnected(rig.ctx, 2))
	rig.slash(rig.ada, "due")
	rig.end()
	rig.server.Close()
	var stacks string
	for range 100 {
		b := make([]byte, 1<<20)
		stacks = string(b[:runtime.Stack(b, true)])
		if !strings.Contains(stacks, "bwmarrin/discordgo") && !strings.Contains(stacks, "setscrew/bot.(*Bot)") &&
			!strings.Contains(stacks, "robfig/cron") {
			return
		}
		runtime.Gosched()
		<-time.After(20 * time.Millisecond)
	}
	t.Errorf("left behind:\n%s", stacks)
}

// refused counts requests refused so far.
func (r *rig) refused(method, path string) int {
	count := 0
	for _, q := range r.server.Requests() {
		if q.Method == method && q.Status >= 400 && strings.HasPrefix(q.Path, path) {
			count++
		}
	}
	return count
}

// A notice with more tags than a message holds says so, keeps its first lines
// and its reference, and is still one message.
func TestLongNotice(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	for n := range 12 {
		rig.slash(rig.bo, "tagout", "machine=Marble", fmt.Sprintf("reason=%d %s", n, strings.Repeat("*", 190)))
	}
	rig.check(rig.server.Until(rig.ctx, func() bool {
		return strings.Contains(rig.server.Content(rig.channel, 0),
			"More with /machine.")
	}))
	all := rig.server.Messages(rig.channel)
	if len(all) != 1 || !strings.Contains(all[0].Content, "A chat notice isolates nothing") ||
		!strings.Contains(all[0].Content, "-# notice ") {
		t.Errorf("%d messages: %q", len(all), all[0].Content)
	}
}

// logged waits until the bot has logged something so often.
func (r *rig) logged(what string, n int) {
	r.t.Helper()
	for strings.Count(r.log.String(), what) < n {
		select {
		case <-time.After(5 * time.Millisecond):
		case <-r.ctx.Done():
			r.t.Fatalf("%q was not logged %d times", what, n)
		}
	}
}
