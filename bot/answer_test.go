package bot

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"net/http"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/bwmarrin/discordgo"

	"setscrew/bot/discordtest"
	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/store"
)

// inside is a bot whose requests are served where they are made: it is given its
// interactions by hand, and runs in a bubble of testing/synctest.
type inside struct {
	t                *testing.T
	bot              *Bot
	server           *discordtest.Server
	guild            *discordtest.Guild
	channel          *discordtest.Channel
	ada, bo, manager *discordtest.Member
	db               *store.DB
	catalogue        *words.Catalogue
}

// newInside is a bot with a shop of one machine, Marble. Close it in the bubble.
func newInside(t *testing.T) *inside {
	t.Helper()
	time.Sleep(26 * 365 * 24 * time.Hour) // from the bubble's 2000: Discord's ids begin in 2015
	in := &inside{t: t, server: discordtest.New()}
	in.server.Problem = func(p string) { t.Errorf("Discord would refuse: %s", p) }
	in.guild = in.server.AddGuild("guild")
	in.channel = in.server.AddChannel(in.guild, "notices")
	in.ada, in.bo = in.server.AddMember(in.guild, "ada", 0), in.server.AddMember(in.guild, "bo", 0)
	in.manager = in.server.AddMember(in.guild, "manager", discordtest.ManageGuild)
	ctx := context.Background()
	db, err := store.Open(ctx, filepath.Join(t.TempDir(), "shop.db"))
	in.check(err)
	in.db = db
	cat, err := words.Load()
	in.check(err)
	in.catalogue = cat
	books := func(id domain.ShopID) commands.Books { return db.Shop(id) }
	in.bot = New(Config{Token: discordtest.Token, Client: in.server.Direct(), Desk: commands.NewDesk(books, db, cat),
		Outbox: db, Log: slog.New(slog.DiscardHandler),
		Settings: func(ctx context.Context, id domain.ShopID) (domain.Shop, error) { return db.Shop(id).Shop(ctx) }})
	l, err := newLink(discordtest.Token, in.bot.cfg.Client)
	in.check(err)
	in.bot.link.Store(l)
	_, err = in.bot.registerCommands(ctx)
	in.check(err)

	shop := db.Shop(domain.ShopID(in.guild.ID))
	set := domain.NewShop(domain.ShopID(in.guild.ID))
	set.NoticeChannel = in.channel.ID
	text, err := profile.BuiltinText("thickness-planer")
	in.check(err)
	hash, err := shop.KeepProfile(ctx, "thickness-planer", text)
	in.check(err)
	for i, b := range []domain.Body{domain.ShopSet{Shop: set},
		domain.MachineAdded{Name: "Marble", Setup: domain.Setup{Kind: "thickness-planer", Hash: hash, Rev: 1}}} {
		_, err := shop.Report(ctx, domain.Entry{Key: string(rune('a' + i)), At: time.Now(), Recorded: time.Now(),
			By: "ada", For: "ada", Body: b})
		in.check(err)
	}
	return in
}

func (in *inside) close() {
	in.server.Close()
	in.check(in.db.Close())
}

func (in *inside) check(err error) {
	in.t.Helper()
	if err != nil {
		in.t.Fatal(err)
	}
}

// slash gives a command and returns once the bot is done with it.
func (in *inside) slash(m *discordtest.Member, command string, options ...string) *discordtest.Interaction {
	in.t.Helper()
	given := map[string]string{}
	for _, o := range options {
		name, value, _ := strings.Cut(o, "=")
		given[name] = value
	}
	i, err := in.server.Slash(in.guild, in.channel, m, command, given)
	in.check(err)
	in.deliver(i)
	return i
}

// deliver brings the bot an interaction, as the gateway does.
func (in *inside) deliver(i *discordtest.Interaction) {
	in.t.Helper()
	var event discordgo.InteractionCreate
	in.check(json.Unmarshal(i.Event(), &event))
	in.bot.receive(&event)
}

// says is what a command is answered.
func (in *inside) says(m *discordtest.Member, command string, options ...string) string {
	in.t.Helper()
	i := in.slash(m, command, options...)
	if !i.Answered() {
		in.t.Fatalf("/%s is not answered", command)
	}
	r, err := i.Wait(context.Background())
	in.check(err)
	return r.Content
}

const unseen = "may not have seen"

// An answer that did not arrive is told of at the member's next command, once,
// and to nobody else; one that the member has seen already, code 40060, is not.
func TestAnswersThatDidNotArrive(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name  string
		fault discordtest.Fault
		told  bool
	}{
		{"too late", discordtest.APIError(http.StatusNotFound, 10062, "Unknown interaction"), true},
		{"cut off", discordtest.Fault{Drop: true}, true},
		{"a fault of Discord's", discordtest.BadGateway, true},
		{"seen already", discordtest.APIError(http.StatusBadRequest, 40060,
			"Interaction has already been acknowledged."), false},
	} {
		synctest.Test(t, func(t *testing.T) {
			in := newInside(t)
			defer in.close()
			in.server.Fail("POST", "/interactions/*", test.fault, 1)
			in.slash(in.ada, "hours", "machine=Marble", "hours=1 min")
			if got := in.says(in.bo, "due"); strings.Contains(got, unseen) {
				t.Errorf("%s: somebody else is told: %q", test.name, got)
			}
			if got := in.says(in.ada, "due"); strings.Contains(got, unseen) != test.told || test.told &&
				!strings.Contains(got, "Marble: 1 min logged") {
				t.Errorf("%s: told %q", test.name, got)
			}
			if got := in.says(in.ada, "due"); strings.Contains(got, unseen) {
				t.Errorf("%s: told twice: %q", test.name, got)
			}
		})
	}
}

// Of several answers that did not arrive the latest is told; a refusal leaves
// the one before it to be told, since nothing was recorded by it.
func TestLatestAnswerThatDidNotArrive(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in := newInside(t)
		defer in.close()
		late := discordtest.APIError(http.StatusNotFound, 10062, "Unknown interaction")
		in.server.Fail("POST", "/interactions/*", late, 3)
		in.slash(in.ada, "hours", "machine=Marble", "hours=1 min")
		in.slash(in.ada, "hours", "machine=Marble", "hours=2 min")
		in.slash(in.ada, "hours", "machine=Granite", "hours=3 min") // refused: no such machine
		if got := in.says(in.ada, "due"); !strings.Contains(got, "Marble: 2 min logged") {
			t.Errorf("told %q", got)
		}
	})
}

// event is a command that the fake sent and the bot has not seen yet, as the bot reads it.
func (in *inside) event(m *discordtest.Member) (*discordtest.Interaction, event) {
	in.t.Helper()
	i, err := in.server.Slash(in.guild, in.channel, m, "due", nil)
	in.check(err)
	var raw discordgo.InteractionCreate
	in.check(json.Unmarshal(i.Event(), &raw))
	e, err := decode(raw.Interaction)
	in.check(err)
	return i, e
}

// waiting are books in which looking for machines takes as long as it is given.
type waiting struct{ commands.Books }

func (waiting) Machines(ctx context.Context) ([]domain.Machine, error) {
	<-ctx.Done()
	return nil, ctx.Err()
}

// Books that are too slow leave time for an answer that says so.
func TestAnswersInTimeThatBooksAreSlow(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in := newInside(t)
		defer in.close()
		in.bot.cfg.Desk = commands.NewDesk(func(id domain.ShopID) commands.Books { return waiting{in.db.Shop(id)} },
			in.db, in.catalogue)
		begin := time.Now()
		if got := in.says(in.ada, "due"); !strings.Contains(got, "wrong") && !strings.Contains(got, "long") {
			t.Errorf("answered %q", got)
		}
		if d := time.Since(begin); d != answerWithin-sendingTakes {
			t.Errorf("answered after %v", d)
		}
	})
}

// A form cannot be answered by a form: its words are sent. Pages follow a first one that
// arrived, and none that did not.
func TestAnswersByPages(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in := newInside(t)
		defer in.close()
		ctx := context.Background()
		reply := commands.Reply{Headline: strings.Repeat("x", 1500), Lines: []string{strings.Repeat("y", 1500)}}
		_, event := in.event(in.ada)
		in.server.Fail("POST", "/interactions/*", discordtest.BadGateway, 1)
		if err := in.bot.answer(ctx, event, reply, false); err == nil || made(in.server, "POST", "/webhooks") != 0 {
			t.Errorf("the first failed: %v, %d followed", err, made(in.server, "POST", "/webhooks"))
		}
		_, event = in.event(in.bo)
		if err := in.bot.answer(ctx, event, reply, false); err != nil || made(in.server, "POST", "/webhooks") != 1 {
			t.Errorf("the first arrived: %v, %d followed", err, made(in.server, "POST", "/webhooks"))
		}
		i, event := in.event(in.bo)
		event.kind = discordgo.InteractionModalSubmit
		in.check(in.bot.answer(ctx, event, commands.Reply{Headline: "Mend it.", Form: &commands.Form{Title: "Lines",
			Custom: "x", Fields: []commands.Field{{ID: "lines", Label: "Lines"}}}}, false))
		got, err := i.Wait(ctx)
		in.check(err)
		if got.Modal != nil || got.Content != "Mend it." {
			t.Errorf("a form is answered by %+v", got)
		}
	})
}

// A command that comes while the bot ends is not begun: nobody would wait for its answer.
func TestAnswersNothingAtTheEnd(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in := newInside(t)
		defer in.close()
		in.bot.closing = true
		if i := in.slash(in.ada, "due"); i.Answered() {
			t.Error("it is answered")
		}
	})
}

// The library keeps every rate-limit bucket for ever, so that interactions share some.
func TestAnswersShareBuckets(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in := newInside(t)
		defer in.close()
		for range 2 * buckets {
			_, e := in.event(in.ada)
			in.check(in.bot.answer(context.Background(), e, commands.Reply{Headline: "Nothing is due."}, false))
		}
		kept := reflect.ValueOf(in.bot.session().Ratelimiter).Elem().FieldByName("buckets").Len()
		if kept < 100 || kept > buckets+10 {
			t.Errorf("%d buckets after %d interactions, want at most %d", kept, 2*buckets, buckets)
		}
	})
}

// Attempts to connect come ever later, twice as late each time, up to two
// minutes, and are spread by up to half; nothing is tried after the end.
func TestConnectingBacksOff(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name   string
		jitter func() float64
		times  float64
	}{{"no jitter", nil, 1}, {"half of it", func() float64 { return 0.5 }, 1.25},
		{"all of it", func() float64 { return 1 }, 1.5}} {
		synctest.Test(t, func(t *testing.T) {
			var tries []time.Time
			client := &http.Client{Transport: transport(func(*http.Request) (*http.Response, error) {
				tries = append(tries, time.Now())
				return nil, errors.New("no network")
			})}
			cat, err := words.Load()
			if err != nil {
				t.Fatal(err)
			}
			b := New(Config{Token: discordtest.Token, Client: client, Desk: commands.NewDesk(nil, nil, cat),
				Log: slog.New(slog.DiscardHandler), Jitter: test.jitter})
			ctx, stop := context.WithCancel(context.Background())
			ended := make(chan error, 1)
			go func() { ended <- b.stayConnected(ctx) }()
			time.Sleep(20 * time.Minute)
			stop()
			if err := <-ended; err != nil {
				t.Errorf("%s: ended with %v", test.name, err)
			}
			var waits []time.Duration
			for i, at := range tries[1:] {
				waits = append(waits, at.Sub(tries[i]))
			}
			var want []time.Duration
			for _, seconds := range []float64{1, 2, 4, 8, 16, 32, 64, 120, 120} {
				want = append(want, time.Duration(seconds*test.times*float64(time.Second)))
			}
			if len(waits) < len(want) || !slices.Equal(waits[:len(want)], want) {
				t.Errorf("%s: waited %v, want %v", test.name, waits, want)
			}
		})
	}
}

type transport func(*http.Request) (*http.Response, error)

func (f transport) RoundTrip(r *http.Request) (*http.Response, error) { return f(r) }

// The poster's waits double from five seconds to ten minutes, whatever the
// number of attempts, and are spread by up to a quarter.
func TestPosterBacksOff(t *testing.T) {
	t.Parallel()
	want := []time.Duration{5, 10, 20, 40, 80, 160, 320, 600, 600, 600, 600}
	for attempts, seconds := range want {
		poster := &Poster{}
		if got := poster.wait(attempts, false); got != seconds*time.Second {
			t.Errorf("after %d attempts: wait %v, want %d s", attempts+1, got, seconds)
		}
		poster.Jitter = func() float64 { return 1 }
		if got := poster.wait(attempts, false); got != seconds*time.Second*5/4 {
			t.Errorf("after %d attempts, spread: wait %v", attempts+1, got)
		}
	}
	for attempts, seconds := range []time.Duration{1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 600} {
		if got := (&Poster{}).wait(attempts, true); got != seconds*time.Second {
			t.Errorf("what is urgent, after %d attempts: wait %v, want %d s", attempts+1, got, seconds)
		}
	}
	if got := (&Poster{}).wait(1<<20, false); got != longestWait {
		t.Errorf("after very many attempts: %v", got)
	}
}

// queue is an outbox that owes one notice, and notes what became of it.
type queue struct {
	owed     *domain.Undelivered
	message  string
	sent     time.Time     // when it was noted to be about to be sent
	again    time.Duration // after the attempt
	problem  string
	mayStand bool
	full     error // of a note that something is about to be sent
}

func (q *queue) ShopsUndelivered(context.Context, time.Time) ([]domain.ShopID, error) {
	if q.owed == nil {
		return nil, nil
	}
	return []domain.ShopID{q.owed.Shop}, nil
}

func (q *queue) NextTry(context.Context, time.Time) (time.Time, bool, error) {
	return time.Time{}, false, nil
}

func (q *queue) Undelivered(context.Context, domain.ShopID, time.Time, int) ([]domain.Undelivered, error) {
	if q.owed == nil {
		return nil, nil
	}
	return []domain.Undelivered{*q.owed}, nil
}

func (q *queue) Sending(_ context.Context, _ domain.Undelivered, now time.Time) error {
	q.sent = now
	return q.full
}

func (q *queue) Posted(_ context.Context, _ domain.ShopID, _ int64, message string, _ time.Time) error {
	q.owed, q.message = nil, message
	return nil
}

func (q *queue) Tried(_ context.Context, _ domain.Undelivered, now, again time.Time, problem string,
	mayStand bool) error {
	q.owed, q.again, q.problem, q.mayStand = nil, again.Sub(now), problem, mayStand
	return nil
}

// failing is a channel that answers everything by an error, and counts.
type failing struct {
	err   error
	asked int
	last  domain.Undelivered // what it was asked to post
}

func (f *failing) Post(_ context.Context, _ domain.Shop, o domain.Undelivered, _ commands.Message) (string, error) {
	f.asked++
	f.last = o
	return "", f.err
}

func (f *failing) Edit(context.Context, domain.Shop, domain.Undelivered, commands.Message) error {
	f.asked++
	return f.err
}

func (f *failing) Pin(context.Context, domain.Shop, domain.Undelivered) error {
	f.asked++
	return f.err
}

func (f *failing) Unpin(context.Context, domain.Shop, domain.Undelivered) error {
	f.asked++
	return f.err
}

// What the poster makes of a failure: when it is tried again, and what the outbox is
// told. What is about a message that was given up is done.
func TestPosterFailures(t *testing.T) {
	t.Parallel()
	failed := errors.New("failed")
	for _, test := range []struct {
		name     string
		owed     domain.Undelivered
		channel  error
		settings error
		asked    int
		again    time.Duration // 0 for never
	}{
		{"fails", domain.Undelivered{Notice: domain.Notice{Op: domain.Post}}, failed, nil, 1, firstWait},
		{"fails, being called for", domain.Undelivered{Urgency: domain.UrgentCall,
			Notice: domain.Notice{Op: domain.Post}}, failed, nil, 1, firstUrgentWait},
		{"asks to wait", domain.Undelivered{Notice: domain.Notice{Op: domain.Post}},
			&Wait{For: time.Hour, Err: failed}, nil, 1,
			time.Hour},
		{"asks for no time", domain.Undelivered{Notice: domain.Notice{Op: domain.Post}}, &Wait{Err: failed}, nil, 1,
			time.Second},
		{"no settings", domain.Undelivered{Notice: domain.Notice{Op: domain.Post}}, nil, failed, 0, firstWait},
		{"an edit of what was given up", domain.Undelivered{Notice: domain.Notice{Op: domain.Edit}}, failed, nil, 0, 0},
		{"a pin of what was given up", domain.Undelivered{Notice: domain.Notice{Op: domain.Pin}}, failed, nil, 0, 0},
		{"an edit", domain.Undelivered{Message: "1", Notice: domain.Notice{Op: domain.Edit}}, failed, nil, 1,
			firstWait},
		{"an unpin", domain.Undelivered{Message: "1", Notice: domain.Notice{Op: domain.Unpin}}, nil, nil, 1, 0},
		{"something unknown", domain.Undelivered{Message: "1", Notice: domain.Notice{Op: "shout"}}, nil, nil, 0,
			firstWait},
	} {
		if test.owed.Urgency == 0 {
			test.owed.Urgency = domain.Routine
		}
		outbox, ch := &queue{owed: &test.owed}, &failing{err: test.channel}
		poster := &Poster{Outbox: outbox, Channel: ch,
			Settings: func(context.Context, domain.ShopID) (domain.Shop, error) {
				return domain.Shop{NoticeChannel: "notices"}, test.settings
			},
			Render: func(domain.Shop, domain.Notice) commands.Message { return commands.Message{} }}
		n, err := poster.Drain(context.Background(), time.Now())
		if err != nil || (n == 1) != (test.again == 0) || outbox.again != test.again ||
			(outbox.problem == "") != (test.again == 0) ||
			ch.asked != test.asked {
			t.Errorf("%s: confirmed %d, %v; again after %v because of %q; the channel was asked %d times", test.name, n,
				err, outbox.again, outbox.problem, ch.asked)
		}
	}
}

// That a post is about to be sent is noted before; what is known afterwards of whether it
// stands in the channel is, too.
func TestPosterNotesBeforeItSends(t *testing.T) {
	t.Parallel()
	failed, now, earlier := errors.New("failed"), time.Now(), time.Now().Add(-time.Hour)
	for _, test := range []struct {
		name     string
		op       domain.Op
		topic    domain.Topic
		sent     time.Time // before
		channel  error     // the channel's answer
		full     error     // what the outbox says to the note
		noted    bool
		asked    int
		mayStand bool
		as       time.Time // what the channel is told of when it was sent
	}{
		{"is posted", domain.Post, domain.TopicDigest, time.Time{}, nil, nil, true, 1, false, time.Time{}},
		{"no answer", domain.Post, domain.TopicDigest, time.Time{}, failed, nil, true, 1, true, time.Time{}},
		{"refused", domain.Post, domain.TopicDigest, time.Time{}, &Unsent{failed}, nil, true, 1, false, time.Time{}},
		{"refused with a time", domain.Post, domain.TopicDigest, time.Time{},
			&Unsent{&Wait{For: time.Hour, Err: failed}}, nil, true, 1, false, time.Time{}},
		{"refused after no answer", domain.Post, domain.TopicDigest, earlier, &Unsent{failed}, nil, true, 1, true,
			earlier},
		{"an edit", domain.Edit, domain.TopicDigest, time.Time{}, failed, nil, false, 1, true, time.Time{}},
		{"books that are full", domain.Post, domain.TopicDigest, time.Time{}, nil, failed, true, 0, false, time.Time{}},
		{"urgent, and full books", domain.Post, domain.TopicTagOut, time.Time{}, nil, failed, true, 1, false, now},
		{"urgent, full books, no answer before", domain.Post, domain.TopicTagOut, earlier, nil, failed, true, 1, false,
			earlier},
	} {
		o := domain.Undelivered{Message: "1", Sent: test.sent, Made: now,
			Notice: domain.Notice{Op: test.op, Topic: test.topic}}
		outbox, ch := &queue{owed: &o, full: test.full}, &failing{err: test.channel}
		var log strings.Builder
		poster := &Poster{Outbox: outbox, Channel: ch, Log: slog.New(slog.NewTextHandler(&log, nil)),
			Settings: func(context.Context, domain.ShopID) (domain.Shop, error) {
				return domain.Shop{NoticeChannel: "notices"}, nil
			},
			Render: func(domain.Shop, domain.Notice) commands.Message { return commands.Message{} }}
		if _, err := poster.Drain(context.Background(), now); err != nil || outbox.sent.Equal(now) != test.noted ||
			ch.asked != test.asked || outbox.mayStand != test.mayStand || test.op == domain.Post &&
			!ch.last.Sent.Equal(test.as) {
			t.Errorf("%s: %v; noted %v, asked %d times as sent %v, may stand %v", test.name, err, outbox.sent, ch.asked,
				ch.last.Sent, outbox.mayStand)
		}
		// A channel that gives a notice up says so by no message, and somebody can read of it.
		if given := test.op == domain.Post && ch.asked > 0 && test.channel == nil; strings.Contains(log.String(),
			"was not sent again") != given {
			t.Errorf("%s: the log says %q", test.name, log.String())
		}
	}
}

// heavy are books in which to forget somebody takes a while.
type heavy struct {
	commands.Books
	refuse *bool
}

func (h heavy) Forget(ctx context.Context, p, by domain.PersonID, pending, key string, now time.Time) (
	domain.Forgetting, error) {
	time.Sleep(10 * time.Second)
	if *h.refuse {
		return domain.Forgetting{}, &domain.Refusal{Code: domain.ForgottenLately, At: now}
	}
	return h.Books.Forget(ctx, p, by, pending, key, now)
}

// A button behind which much is done is acknowledged at once, and answered when it is done:
// in place of the question, or below it where it was refused.
func TestSlowPress(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in := newInside(t)
		defer in.close()
		refuse := true
		in.bot.cfg.Desk = commands.NewDesk(func(id domain.ShopID) commands.Books {
			return heavy{in.db.Shop(id), &refuse}
		}, in.db, in.catalogue)
		asked := in.slash(in.bo, "forget")
		press := func() (*discordtest.Interaction, time.Duration) {
			begin := time.Now()
			pressed, err := in.server.Press(asked, in.bo, "Forget me")
			in.check(err)
			in.deliver(pressed)
			return pressed, time.Since(begin)
		}
		pressed, _ := press()
		more, err := pressed.FollowUps(context.Background(), 1)
		if err != nil || len(more) != 1 || !more[0].Ephemeral || strings.Contains(more[0].Content, "Done.") {
			t.Errorf("refused: %+v, %v", more, err)
		}
		refuse = false
		pressed, took := press()
		reply, err := pressed.Wait(context.Background())
		if err != nil || took != 10*time.Second || !reply.Deferred || !reply.Replaced ||
			!strings.Contains(reply.Content, "Done.") {
			t.Errorf("after %v: %+v, %v", took, reply, err)
		}
	})
}
