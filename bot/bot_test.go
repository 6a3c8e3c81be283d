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
	s := discordtest.New()
	s.AnswerWithin = 3 * time.Second * slower
	s.IdentifyEvery = 10 * time.Millisecond
	if !s.HasSchema() {
		t.Log("requests are not held against Discord's published description: shared/discord/openapi.json is missing")
	}
	s.Problem = func(p string) { t.Errorf("Discord would refuse: %s", p) }
	r := &rig{t: t, server: s, guild: s.AddGuild("Quarry Street Commons"), log: &logs{}}
	r.channel = s.AddChannel(r.guild, "shop-notices")
	r.stewards = s.AddRole(r.guild, "stewards")
	s.MakeMentionable(r.guild, r.stewards, true)
	r.ada, r.bo = s.AddMember(r.guild, "ada", 0), s.AddMember(r.guild, "bo", 0)
	r.wren = s.AddMember(r.guild, "wren", 0, r.stewards)
	r.keeper = s.AddMember(r.guild, "keeper", discordtest.ManageGuild)
	path := filepath.Join(t.TempDir(), "shop.db")
	if books != nil {
		r.check(os.WriteFile(path, books, 0o600))
	}
	db, err := store.Open(context.Background(), path)
	r.check(err)
	r.db, r.path = db, path
	var cancel context.CancelFunc
	r.ctx, cancel = context.WithTimeout(context.Background(), 60*time.Second*slower)
	t.Cleanup(func() {
		r.end()
		cancel()
		s.Close()
		if err := r.db.Close(); err != nil {
			t.Error(err)
		}
		if t.Failed() {
			t.Log(r.log.String())
		}
	})
	return r
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
		Retry:        r.db.RetryNotices,
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
func (r *rig) slash(m *discordtest.Member, command string, options ...string) (*discordtest.Interaction,
	discordtest.Reply) {
	r.t.Helper()
	given := map[string]string{}
	for _, o := range options {
		name, value, _ := strings.Cut(o, "=")
		given[name] = value
	}
	i, err := r.server.Slash(r.guild, r.channel, m, command, given)
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
		r := newRig(t, nil)
		r.start()
		r.ready()
		r.setUp()
		r.end()
		r.check(r.db.Close()) // all of it is in the file then
		text, err := os.ReadFile(r.path)
		r.check(err)
		marbleBooks.text = text
		r.db, err = store.Open(r.ctx, r.path)
		r.check(err)
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
	for _, k := range machines[0].Profile.Checks {
		if k.OnDemand {
			continue
		}
		values := "pass"
		if !k.Inspection {
			var parts []string
			for _, p := range k.Positions {
				parts = append(parts, strings.TrimSpace(p+" "+k.Example.String()))
			}
			values = strings.Join(parts, ", ")
		}
		_, reply := r.slash(r.wren, "reading", "machine=Marble", "check="+k.Name, "values="+values)
		if !strings.Contains(reply.Content, "within limits") && !strings.Contains(reply.Content, "passes") {
			r.t.Fatalf("setting up %s: %q", k.Name, reply.Content)
		}
	}
}

// The story of the shop: a member's reading gets its move, a danger stops the
// machine with a pinned notice that mentions the stewards and nobody else, a
// second tag adds a reason, the steward releases it.
func TestStory(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	r.start()
	r.ready()
	_, reply := r.slash(r.ada, "reading", "machine=Marble", "check=infeed roller", "values=46 41")
	if !reply.Ephemeral || len(reply.Buttons) != 3 {
		t.Fatalf("a question: %+v", reply)
	}
	i, reply := r.slash(r.ada, "reading", "machine=Marble", "check=infeed roller",
		"values=left 0.046 in, right 0.041 in")
	if !reply.Ephemeral || !strings.Contains(reply.Content, "1/8 turn clockwise, seen from the key") ||
		len(reply.Buttons) != 2 {
		t.Fatalf("a plan: %+v", reply)
	}
	why, reply := r.press(i, r.ada, "Why?")
	if !strings.Contains(reply.Content, "1.27 mm a turn") || len(reply.Files) != 1 {
		t.Errorf("why: %+v (%v)", reply, why.Answered())
	}
	_, reply = r.press(i, r.ada, "I turned it")
	if !reply.Replaced || len(reply.Buttons) != 0 || !strings.Contains(reply.Content, "moves made") {
		t.Errorf("turned: %+v", reply)
	}
	if _, reply := r.slash(r.ada, "due", "calendar=yes"); len(reply.Files) != 1 || reply.Files[0] != "due.ics" {
		t.Errorf("the calendar: %+v", reply)
	}
	form, reply := r.slash(r.bo, "reading", "machine=Marble", "check=infeed roller")
	if reply.Modal == nil {
		t.Fatalf("no form: %+v", reply)
	}
	f, err := r.server.Submit(form, r.bo, map[string]string{"left": "1.01", "right": "40 thou"})
	r.check(err)
	reply, err = f.Wait(r.ctx)
	r.check(err)
	if !strings.Contains(reply.Content, "within limits") {
		t.Errorf("form: %+v", reply)
	}
	if _, reply := r.slash(r.ada, "logsheet", "machine=Marble"); len(reply.Files) != 1 ||
		!strings.HasSuffix(reply.Files[0], ".pdf") {
		t.Errorf("the log sheet: %+v", reply)
	}
	form, reply = r.slash(r.bo, "typein", "machine=Marble")
	if reply.Modal == nil {
		t.Fatalf("no form: %+v", reply)
	}
	f, err = r.server.Submit(form, r.bo, map[string]string{"lines": "now, 1 min sure\nnow, done bushngs"})
	r.check(err)
	reply, err = f.Wait(r.ctx)
	r.check(err)
	mend, reply := r.press(f, r.bo, "Mend the lines")
	if reply.Modal == nil {
		t.Fatalf("no form again: %+v", reply)
	}
	f, err = r.server.Submit(mend, r.bo, map[string]string{"lines": "now, 1 min sure\nnow, done bushings"})
	r.check(err)
	reply, err = f.Wait(r.ctx)
	r.check(err)
	if !strings.Contains(reply.Content, "2 lines typed in") {
		t.Errorf("typed in: %+v", reply)
	}
	// Those who reported a problem are told that it is mended, and nobody else is.
	before := len(r.server.Messages(r.channel))
	r.slash(r.bo, "problem", "machine=Marble", "what=snipe")
	r.slash(r.wren, "mended", "machine=Marble", "problem=snipe")
	all, err := r.server.UntilMessages(r.ctx, r.channel, before+2)
	r.check(err)
	if told := all[before+1]; !strings.HasPrefix(told.Content, "<@"+r.bo.ID+">: what you reported of Marble") ||
		!slices.Equal(told.Pings, []string{"user:" + r.bo.ID}) {
		t.Errorf("told: %+v", told)
	}
	before = len(all)
	_, reply = r.slash(r.ada, "problem", "machine=Marble",
		"what=smoke from the motor @everyone **now** <@&"+r.stewards+">")
	if !strings.Contains(reply.Content, "Marble is tagged out: do not use.") || len(reply.Pings) != 0 {
		t.Errorf("danger: %+v", reply)
	}
	r.check(r.server.Until(r.ctx, func() bool { return r.server.Pinned(r.channel) == 1 }))
	all = r.server.Messages(r.channel)
	notice := all[before]
	if !strings.HasPrefix(notice.Content, "<@&"+r.stewards+"> Marble is tagged out: do not use.") ||
		!slices.Equal(notice.Pings, []string{"role:" + r.stewards}) ||
		!strings.Contains(notice.Content, `\*\*now\*\*`) ||
		!strings.Contains(notice.Content, "A chat notice isolates nothing") {
		t.Errorf("notice: %+v", notice)
	}
	r.slash(r.bo, "tagout", "machine=Marble", "reason=guard is off")
	r.check(r.server.Until(r.ctx, func() bool {
		return strings.Contains(r.server.Content(r.channel, before),
			"guard is off")
	}))
	if got := r.server.Messages(r.channel)[before]; !strings.Contains(got.Content, "<@"+r.bo.ID+">") ||
		strings.Contains(got.Content, "<@"+r.ada.ID+">") {
		t.Errorf("who is named: %s", got.Content)
	}
	_, reply = r.slash(r.bo, "release", "machine=Marble")
	if !strings.Contains(reply.Content, "Only shop stewards") {
		t.Errorf("release by a member: %+v", reply)
	}
	_, reply = r.slash(r.wren, "release", "machine=Marble", "note=belt replaced")
	if !strings.Contains(reply.Content, "Cause of smoke or heat: to be checked after") {
		t.Errorf("release before the cause of the smoke was found: %+v", reply)
	}
	r.slash(r.wren, "reading", "machine=Marble", "check=cause of smoke or heat", "values=pass: belt slipped")
	i, reply = r.slash(r.wren, "release", "machine=Marble", "note=belt replaced")
	if len(reply.Buttons) != 1 || !strings.Contains(reply.Content, "tag 1 of 2") {
		t.Fatalf("release: %+v", reply)
	}
	i, reply = r.press(i, r.wren, "Seen to: next tag")
	if len(reply.Buttons) != 2 || !strings.Contains(reply.Content, "guard is off") {
		t.Fatalf("the second tag: %+v", reply)
	}
	i, reply = r.press(i, r.wren, "All done, owner asked")
	if !strings.Contains(reply.Content, "is under test by <@"+r.wren.ID+">: keep clear.") {
		t.Errorf("under test: %+v", reply)
	}
	_, reply = r.press(i, r.wren, "It runs well")
	if !strings.Contains(reply.Content, "Marble is back in service.") {
		t.Errorf("released: %+v", reply)
	}
	all, err = r.server.UntilMessages(r.ctx, r.channel, before+3)
	r.check(err)
	r.check(r.server.Until(r.ctx, func() bool { return r.server.Pinned(r.channel) == 0 }))
	if !strings.Contains(all[before].Content, "its tags are lifted") ||
		!strings.Contains(all[before+1].Content, "keep clear") ||
		!strings.HasPrefix(all[before+2].Content, "Marble is back in service.") {
		t.Errorf("in the end: %+v", all)
	}
	if s := r.log.String(); strings.Contains(s, discordtest.Token) {
		t.Error("the token stands in the log")
	}
}

func TestAutocomplete(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	r.start()
	r.ready()
	for _, c := range []struct {
		focused, partial string
		want             []string
	}{{"machine", "mar", []string{"Marble"}},
		{"check", "roller", []string{"infeed roller", "outfeed roller", "bed rollers"}}, {"gauge", "zzz", []string{}}} {
		i, err := r.server.Complete(r.guild, r.channel, r.ada, "reading", c.focused,
			map[string]string{"machine": "Marble", c.focused: c.partial})
		r.check(err)
		reply, err := i.Wait(r.ctx)
		r.check(err)
		if !slices.Equal(reply.Choices, c.want) {
			t.Errorf("%s %s: %q, want %q", c.focused, c.partial, reply.Choices, c.want)
		}
	}
}

// Commands are registered in bulk when they differ, and left alone when not.
func TestRegistersOnlyWhatDiffers(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	r.start()
	r.ready()
	r.end()
	r.start()
	r.check(r.server.UntilConnected(r.ctx, 2))
	r.slash(r.ada, "help")
	if n := r.server.Overwrites(); n != 1 {
		t.Errorf("registered %d times", n)
	}
}

// Long replies are paged, not cut.
func TestLongReplies(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	r.start()
	r.ready()
	for n := range 12 {
		r.slash(r.bo, "tagout", "machine=Marble", fmt.Sprintf("reason=%d %s", n, strings.Repeat("*", 190)))
	}
	_, reply := r.slash(r.bo, "machine", "machine=Marble")
	if len([]rune(reply.Content)) > 2000 || !strings.Contains(reply.Content, "tagged out") {
		t.Errorf("%d characters", len([]rune(reply.Content)))
	}
	r.check(r.server.Until(r.ctx, func() bool { return r.server.FollowUps() > 0 }))
}

// The same interaction delivered twice at once, or again later, is recorded
// once.
func TestDeliveredTwice(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	r.start()
	r.ready()
	i, err := r.server.Slash(r.guild, r.channel, r.ada, "hours", map[string]string{"machine": "Marble", "hours": "1"})
	r.check(err)
	for range 5 {
		r.server.Again(i)
	}
	_, err = i.Wait(r.ctx)
	r.check(err)
	r.server.Again(i)
	r.slash(r.ada, "hours", "machine=Marble", "hours=30 min", "sure=yes")
	snap, err := r.db.Shop(domain.ShopID(r.guild.ID)).Snapshot(r.ctx, 1)
	r.check(err)
	if got := snap.Hours.String(); got != "5400 s" {
		t.Errorf("%s logged, want 5400 s", got)
	}
}

// Malformed events do no harm.
func TestMalformed(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	r.start()
	r.ready()
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
		r.server.Raw("INTERACTION_CREATE", data)
	}
	if _, reply := r.slash(r.ada, "help"); !strings.Contains(reply.Content, "You can say") {
		t.Errorf("afterwards: %+v", reply)
	}
}

// Close codes after which a client must not come back end the bot, each with words of
// its own.
func TestFatalCloses(t *testing.T) {
	t.Parallel()
	for code, says := range map[int]string{4004: "refuses the token", 4010: "the shard", 4011: "too many servers",
		4012: "version of its gateway", 4013: "does not know the events", 4014: "does not let this application"} {
		r := newRig(t, nil)
		r.server.CloseNext(code)
		r.start()
		select {
		case err := <-r.ended:
			var refused bot.Refused
			if !errors.As(err, &refused) || refused.Code != code || !strings.Contains(err.Error(), says) ||
				!strings.HasSuffix(err.Error(), fmt.Sprintf(" (%d)", code)) {
				t.Errorf("%d: ended with %v", code, err)
			}
		case <-r.ctx.Done():
			t.Errorf("%d: it goes on trying", code)
		}
		r.stop()
		r.stop = nil
		if n := r.server.Connections(); n != 1 {
			t.Errorf("%d: %d connections", code, n)
		}
	}
}

// A connection that is closed for good while it runs ends the bot too.
func TestFatalCloseLater(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	r.start()
	r.ready()
	r.server.CloseNext(4004) // what a client is told that comes back after its token was reset
	r.server.CloseConnections(4004)
	select {
	case err := <-r.ended:
		if err != (bot.Refused{Code: 4004}) { //nolint:errorlint // it is no more than that
			t.Errorf("ended with %v", err)
		}
	case <-r.ctx.Done():
		t.Error("it goes on trying")
	}
	r.stop()
	r.stop = nil
}

// A refused token ends the bot with an error that says so.
func TestRefusedToken(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	r.start(func(c *bot.Config) { c.Token = "wrong" })
	select {
	case err := <-r.ended:
		if !errors.As(err, &bot.Refused{}) {
			t.Errorf("ended with %v", err)
		}
	case <-r.ctx.Done():
		t.Error("it goes on trying")
	}
	r.stop()
	r.stop = nil
}

// After each way in which a connection goes bad, the bot answers again; what
// was sent meanwhile is answered where the session could be resumed.
func TestConnections(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
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
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := newMarble(t)
			r.server.HeartbeatInterval = 400 * time.Millisecond
			r.start(func(c *bot.Config) { c.SilentFor = time.Second; c.OpenWithin = time.Second })
			r.ready()
			c.break_(r.server)
			if !c.resumes {
				r.check(r.server.UntilConnected(r.ctx, 2))
				r.server.MuteAcks(false)
			}
			// A member whose command was lost gives it again.
			for n := 0; ; n++ {
				i, err := r.server.Slash(r.guild, r.channel, r.ada, "hours",
					map[string]string{"machine": "Marble", "hours": "1 min", "sure": "yes"})
				r.check(err)
				ctx, cancel := context.WithTimeout(r.ctx, 3*time.Second)
				reply, err := i.Wait(ctx)
				cancel()
				if err == nil {
					if !strings.Contains(reply.Content, "1 min logged") {
						t.Errorf("afterwards: %+v", reply)
					}
					break
				}
				if c.resumes || n > 5 {
					t.Fatalf("not answered after %d tries", n+1)
				}
			}
		})
	}
}

// A connection on which nothing comes is cut and begun again, long before the library
// would miss a heartbeat.
func TestCutsWhatIsSilent(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil) // a heartbeat every 41 s
	r.start(func(c *bot.Config) { c.SilentFor = 300 * time.Millisecond })
	r.ready()
	ctx, cancel := context.WithTimeout(r.ctx, 10*time.Second*slower)
	defer cancel()
	if err := r.server.UntilConnected(ctx, 2); err != nil {
		t.Errorf("no other connection: %v", err)
	}
}

// Once a connection has lived for a while, the next attempts to connect are soon again,
// however many failed before.
func TestConnectedBeginsAgain(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	r.server.Fail("GET", "/gateway", discordtest.BadGateway, 3)
	r.start(func(c *bot.Config) { c.SteadyFor = time.Nanosecond })
	r.ready()
	r.server.CloseNext(4000)
	r.server.DropConnections()
	r.logged("connecting failed", 4)
	var waits []string
	for _, m := range regexp.MustCompile(`connecting failed.* wait=(\S+)`).FindAllStringSubmatch(r.log.String(), -1) {
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
	r := newRig(t, nil)
	r.start()
	r.ready()
	for n := range 4 {
		r.check(r.server.UntilConnected(r.ctx, n+1))
		r.server.DropConnections()
		r.logged("the connection was lost early", n+1)
	}
	var waits []string
	for _, m := range regexp.MustCompile(`lost early.* wait=(\S+)`).FindAllStringSubmatch(r.log.String(), -1) {
		waits = append(waits, m[1])
	}
	if want := []string{"10ms", "20ms", "40ms", "80ms"}; !slices.Equal(waits, want) {
		t.Errorf("waited %v, want %v", waits, want)
	}
	if n := r.server.Identifies(); n != 1 {
		t.Errorf("%d sessions were begun, though the first could be resumed", n)
	}
}

// Told that a session is invalid, or that it asks too soon, the bot asks for another as
// slowly as it connects, and once a connection.
func TestIdentifiesOnce(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	r.server.IdentifyEvery = 300 * time.Millisecond // as long as the bot waits for after five failures
	r.start()
	r.ready()
	r.server.InvalidateSessions(false)
	r.check(r.server.UntilConnected(r.ctx, 2))
	if _, reply := r.slash(r.ada, "help"); !strings.Contains(reply.Content, "You can say") {
		t.Errorf("afterwards: %+v", reply)
	}
	if made, over := r.server.Identifies(), r.server.Connections(); made > over {
		t.Errorf("%d identifies over %d connections", made, over)
	}
}

// When few of the day's sessions are left, the bot waits before it begins another: none
// are left at all until the day is over, and one of two takes half of the time.
func TestSparesIdentifies(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ total, remaining, reset, wait int }{
		{1000, 501, 60000, 0}, {1000, 500, 100000, 200}, {1000, 2, 600, 300}, {1000, 0, 600, 600}} {
		r := newRig(t, nil)
		r.server.Fail("GET", "/gateway/bot", discordtest.Fault{Status: 200, Body: fmt.Sprintf(`{"url": "wss://x",
			"shards": 1, "session_start_limit": {"total": %d, "remaining": %d, "reset_after": %d,
			"max_concurrency": 1}}`, c.total, c.remaining, c.reset)}, 1)
		begin := time.Now()
		r.start()
		r.check(r.server.UntilConnected(r.ctx, 1))
		took, least := time.Since(begin), time.Duration(c.wait)*time.Millisecond
		if took < least || c.wait == 0 && took > 10*time.Second {
			t.Errorf("%+v: connected after %v", c, took)
		}
		want := 0
		if c.wait > 0 {
			want = 1
		}
		said := strings.Count(r.log.String(), fmt.Sprintf("are used up\" wait=%v", least))
		if said != want {
			t.Errorf("%+v: said %d times", c, said)
		}
		r.end()
	}
}

// A session is begun five seconds after another at the soonest.
func TestIdentifiesApart(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	r.start(func(c *bot.Config) { c.IdentifyEvery = 2500 * time.Millisecond })
	r.ready()
	begin := time.Now()
	r.server.InvalidateSessions(false)
	r.check(r.server.UntilConnected(r.ctx, 3)) // the second tries to resume
	if took := time.Since(begin); took < 2*time.Second || r.server.Identifies() != 2 {
		t.Errorf("%d sessions, the second after %v", r.server.Identifies(), took)
	}
}

// What could not be posted while Discord was out of reach comes as soon as there is a
// connection again, though nobody gives a command.
func TestPostsOnceConnected(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	var ahead atomic.Int64 // of the clock
	r.start(func(c *bot.Config) { c.Now = func() time.Time { return time.Now().Add(time.Duration(ahead.Load())) } })
	r.ready()
	before := len(r.server.Messages(r.channel))
	r.server.Fail("POST", "/channels/*/messages", discordtest.BadGateway, 1)
	r.slash(r.ada, "tagout", "machine=Marble", "reason=loose")
	r.check(r.server.Until(r.ctx, func() bool { return r.server.Refused("POST", "/channels/*/messages") > 0 }))
	// No command from here on: that the attempt is written down is seen in the books.
	for {
		owed, err := r.db.Undelivered(r.ctx, domain.ShopID(r.guild.ID), time.Now(), 10)
		r.check(err)
		if len(owed) == 0 {
			break
		}
	}
	ahead.Add(int64(time.Minute))
	r.server.DropConnections()
	ctx, cancel := context.WithTimeout(r.ctx, 10*time.Second*slower)
	defer cancel()
	if _, err := r.server.UntilMessages(ctx, r.channel, before+1); err != nil {
		t.Errorf("not posted within ten seconds: %v", err)
	}
}

// A notice is posted once however its request goes wrong.
func TestPostingFaults(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
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
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := newMarble(t)
			var ahead atomic.Int64 // of the clock
			now := func() time.Time { return time.Now().Add(time.Duration(ahead.Load())) }
			r.start(func(c *bot.Config) { c.Now = now })
			r.ready()
			before := len(r.server.Messages(r.channel))
			r.server.Fail("POST", "/channels/*/messages", c.fault, c.times)
			r.slash(r.ada, "tagout", "machine=Marble", "reason=loose")
			// The retry comes with the outbox's own wait, by the bot's clock; a nudge
			// looks again. Two failures are 15 s apart at most.
			for n := 0; !r.pinned() && n < 30; n++ {
				ctx, cancel := context.WithTimeout(r.ctx, 100*time.Millisecond)
				//nolint:errcheck // looked at above
				r.server.Until(ctx, func() bool { return r.server.Pinned(r.channel) > 0 })
				cancel()
				ahead.Add(int64(time.Second))
				r.slash(r.bo, "due")
			}
			all := r.server.Messages(r.channel)
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
		r := newMarble(t)
		r.start()
		r.ready()
		r.server.Fail("POST", "/channels/*/messages", f, 1)
		r.slash(r.ada, "tagout", "machine=Marble", "reason=loose")
		r.check(r.server.Until(r.ctx, func() bool { return r.server.Refused("POST", "/channels/*/messages") > 0 }))
		if _, reply := r.slash(r.ada, "hours", "machine=Marble", "hours=1",
			"sure=yes"); !strings.Contains(reply.Content, "1 h logged") {
			t.Errorf("meanwhile: %+v", reply)
		}
		begin := time.Now()
		r.end()
		if d := time.Since(begin); d > 5*time.Second {
			t.Errorf("stopping took %v", d)
		}
		if n := len(r.server.Messages(r.channel)); n != 0 {
			t.Errorf("%d messages within the hour", n)
		}
	}
}

// One call to post makes one request, whatever the answer.
func TestNeverPostsBlindly(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	r.start()
	r.ready()
	r.server.Fail("POST", "/channels/*/messages", discordtest.BadGateway, 1000)
	r.slash(r.ada, "tagout", "machine=Marble", "reason=loose")
	r.check(r.server.Until(r.ctx, func() bool { return r.server.Refused("POST", "/channels/*/messages") > 0 }))
	for range 5 {
		r.slash(r.ada, "due")
	}
	n := 0
	for _, q := range r.server.Requests() {
		if q.Method == "POST" && strings.HasPrefix(q.Path, "/channels/") {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d requests at once", n)
	}
}

// An answer under way when the bot is stopped is finished first.
func TestStopWaitsForAnswers(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	r.start()
	r.ready()
	r.server.Fail("POST", "/interactions/*", discordtest.Fault{Status: 204, Served: true, Stalled: time.Second}, 1)
	i, err := r.server.Slash(r.guild, r.channel, r.ada, "hours",
		map[string]string{"machine": "Marble", "hours": "1", "sure": "yes"})
	r.check(err)
	reply, err := i.Wait(r.ctx)
	r.check(err)
	r.end()
	if !strings.Contains(reply.Content, "1 h logged") || strings.Contains(r.log.String(), "not delivered") {
		t.Errorf("%+v\n%s", reply, r.log)
	}
}

// panicking are books in which looking for machines panics.
type panicking struct{ commands.Books }

func (panicking) Machines(context.Context) ([]domain.Machine, error) { panic("out of range") }

// A panic while answering harms nobody else.
func TestPanicHarmsNobodyElse(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	r.start(func(c *bot.Config) {
		cat, err := words.Load()
		if err != nil {
			t.Fatal(err)
		}
		c.Desk = commands.NewDesk(func(id domain.ShopID) commands.Books { return panicking{r.db.Shop(id)} }, r.db, cat)
	})
	r.ready()
	_, err := r.server.Complete(r.guild, r.channel, r.ada, "due", "machine", map[string]string{"machine": "m"})
	r.check(err)
	if _, reply := r.slash(r.ada, "due"); !strings.Contains(reply.Content, "Something went wrong on our side") {
		t.Errorf("a command that panics: %+v", reply)
	}
	if _, reply := r.slash(r.ada, "help"); !strings.Contains(reply.Content, "You can say") {
		t.Errorf("afterwards: %+v", reply)
	}
	r.logged("out of range", 1)
}

// A late answer, and one given already, do no harm.
func TestLateAnswers(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	r.start()
	r.ready()
	for _, f := range []discordtest.Fault{discordtest.APIError(404, 10062, "Unknown interaction"),
		discordtest.APIError(400, 40060, "Interaction has already been acknowledged.")} {
		r.server.Fail("POST", "/interactions/*", f, 1)
		before := r.refused("POST", "/interactions")
		_, err := r.server.Slash(r.guild, r.channel, r.ada, "hours",
			map[string]string{"machine": "Marble", "hours": "1", "sure": "yes"})
		r.check(err)
		r.check(r.server.Until(r.ctx, func() bool { return r.server.Refused("POST", "/interactions") > before }))
	}
	r.logged("not delivered", 2)
	// The member is told of the last answer that did not reach them, once.
	_, reply := r.slash(r.ada, "due")
	if !strings.Contains(reply.Content, "due in 6 h of use") ||
		!strings.Contains(reply.Content, "You may not have seen this: Marble: 1 h logged") {
		t.Errorf("afterwards: %+v", reply)
	}
	if _, reply := r.slash(r.ada, "due"); strings.Contains(reply.Content, "may not have seen") {
		t.Errorf("told twice: %+v", reply)
	}
}

// Stopped, the bot leaves no goroutine behind. This test does not run beside
// others, whose goroutines it would see.
func TestLeavesNoGoroutine(t *testing.T) {
	r := newMarble(t)
	r.start()
	r.ready()
	r.slash(r.ada, "tagout", "machine=Marble", "reason=loose")
	r.server.DropConnections()
	r.check(r.server.UntilConnected(r.ctx, 2))
	r.slash(r.ada, "due")
	r.end()
	r.server.Close()
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
	n := 0
	for _, q := range r.server.Requests() {
		if q.Method == method && q.Status >= 400 && strings.HasPrefix(q.Path, path) {
			n++
		}
	}
	return n
}

// A notice with more tags than a message holds says so, keeps its first lines
// and its reference, and is still one message.
func TestLongNotice(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	r.start()
	r.ready()
	for n := range 12 {
		r.slash(r.bo, "tagout", "machine=Marble", fmt.Sprintf("reason=%d %s", n, strings.Repeat("*", 190)))
	}
	r.check(r.server.Until(r.ctx, func() bool {
		return strings.Contains(r.server.Content(r.channel, 0),
			"More with /machine.")
	}))
	all := r.server.Messages(r.channel)
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
