package bot

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"reflect"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/bwmarrin/discordgo"

	"setscrew/bot/discordtest"
	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
)

// noticesOf is a shop's channel in the fake Discord, over the real client.
func noticesOf(t *testing.T) (*notices, *discordtest.Server, *discordtest.Channel, domain.Shop) {
	t.Helper()
	server := discordtest.New()
	t.Cleanup(server.Close)
	server.ChannelPosts, server.RequestsASecond = -1, -1 // how fast it goes is no matter here
	guild := server.AddGuild("guild")
	channel := server.AddChannel(guild, "notices")
	link, err := newLink(discordtest.Token, server.Direct())
	if err != nil {
		t.Fatal(err)
	}
	shop := domain.NewShop(domain.ShopID(guild.ID))
	shop.NoticeChannel = channel.ID
	return newNotices(func() *discordgo.Session { return link.s }, time.Now, "more"), server, channel, shop
}

func undelivered(topic domain.Topic, attempts int, sent time.Time) domain.Undelivered {
	return domain.Undelivered{Attempts: attempts, Sent: sent,
		Notice: domain.Notice{Key: "m1/out/1", Op: domain.Post, Topic: topic}}
}

// A notice whose fate is unknown for longer than a nonce lives is looked for in
// the channel before it is sent again.
func TestLooksBeforeSendingAgain(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	message := commands.Message{Text: "Marble is tagged out"}
	long := time.Now().Add(-time.Hour)

	posting, server, channel, shop := noticesOf(t)
	first, err := posting.Post(ctx, shop, undelivered(domain.TopicTagOut, 0, time.Time{}), message)
	if err != nil {
		t.Fatal(err)
	}
	server.Advance(time.Hour) // the nonce is forgotten
	again, err := posting.Post(ctx, shop, undelivered(domain.TopicTagOut, 1, long), message)
	if err != nil || again != first || len(server.Messages(channel)) != 1 {
		t.Errorf("found %s, %v, want %s; %d messages", again, err, first, len(server.Messages(channel)))
	}

	// One that is not there is sent.
	posting, server, channel, shop = noticesOf(t)
	if _, err := posting.Post(ctx, shop, domain.Undelivered{Notice: domain.Notice{Key: "other"}}, message); err != nil {
		t.Fatal(err)
	}
	if _, err := posting.Post(ctx, shop, undelivered(domain.TopicTagOut, 1, long), message); err != nil ||
		len(server.Messages(channel)) != 2 {
		t.Errorf("not found: %v, %d messages", err, len(server.Messages(channel)))
	}
}

// It is found behind hundreds of messages that came since; the search goes no further
// back than to when it was sent.
func TestLooksBehindManyMessages(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	message := commands.Message{Text: "Marble is tagged out"}
	posting, server, channel, shop := noticesOf(t)
	chat := func(since string) {
		t.Helper()
		for i := range 250 {
			o := domain.Undelivered{Notice: domain.Notice{Key: fmt.Sprint(since, i)}}
			if _, err := posting.Post(ctx, shop, o, message); err != nil {
				t.Fatal(err)
			}
		}
	}
	chat("before")
	server.Advance(24 * time.Hour)
	sent := server.Now()
	posting.now = server.Now
	first, err := posting.Post(ctx, shop, undelivered(domain.TopicTagOut, 0, time.Time{}), message)
	if err != nil {
		t.Fatal(err)
	}
	server.Advance(24 * time.Hour)
	chat("after")
	again, err := posting.Post(ctx, shop, undelivered(domain.TopicTagOut, 1, sent), message)
	if looks := made(server, "GET", "/channels"); err != nil || again != first || looks != 3 {
		t.Errorf("found %s, %v, want %s; looked at %d pages, want 3", again, err, first, looks)
	}
	o := undelivered(domain.TopicTagOut, 1, sent)
	o.Notice.Key = "m1/out/2"
	if id, err := posting.Post(ctx, shop, o, message); err != nil || id == "" || len(server.Messages(channel)) != 502 ||
		made(server, "GET", "/channels") != 6 {
		t.Errorf("one that is not there: message %q, %v; looked at %d pages, want 3 more", id, err,
			made(server, "GET", "/channels"))
	}
}

// Where history may not be read, a routine notice is given up as posted only if an
// attempt may have taken effect: if an answer was lost, not if Discord refused it or
// could not be reached.
func TestUnseenNotices(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	message := commands.Message{Text: "Two services fall due"}
	for _, test := range []struct {
		name  string
		fault discordtest.Fault
		lost  bool
	}{
		{"served, no answer", discordtest.Fault{Served: true, Drop: true}, true},
		{"no answer", discordtest.Fault{Drop: true}, true},
		{"502", discordtest.BadGateway, true},
		{"500", discordtest.APIError(http.StatusInternalServerError, 0, "oops"), true},
		{"an answer without a message", discordtest.Fault{Status: http.StatusOK, Body: "{}"}, true},
		{"400", discordtest.APIError(http.StatusBadRequest, 50035, "Invalid Form Body"), false},
		{"403", discordtest.APIError(http.StatusForbidden, codeMissingPerms, "Missing Permissions"), false},
		{"404", discordtest.APIError(http.StatusNotFound, codeUnknownChannel, "Unknown Channel"), false},
		{"429", discordtest.TooMany(time.Second, false), false},
		{"429 as a page", discordtest.HTMLTooMany, false},
	} {
		posting, server, ch, shop := noticesOf(t)
		server.SetPermissions(ch, discordtest.ViewChannel|discordtest.SendMessages)
		server.Fail("POST", "/channels/*", test.fault, 1)
		owed := undelivered(domain.TopicDigest, 0, time.Time{})
		owed.Made = time.Now()
		_, err := posting.Post(ctx, shop, owed, message)
		var unsent *Unsent
		if err == nil || errors.As(err, &unsent) == test.lost {
			t.Fatalf("%s: %v", test.name, err)
		}
		owed = undelivered(domain.TopicDigest, 1, time.Time{})
		if test.lost {
			owed.Sent = time.Now().Add(-time.Hour)
		}
		id, err := posting.Post(ctx, shop, owed, message)
		if sent := made(server, "POST", "/channels"); err != nil || (id == "") != test.lost ||
			(sent == 1) != test.lost {
			t.Errorf("%s: message %q, %v, sent %d times", test.name, id, err, sent)
		}
	}
	// Without a connection, or a network, nothing was sent.
	for name, err := range map[string]error{"no session": errNotConnected,
		"no network": &url.Error{Op: "Post", Err: &net.OpError{Op: "dial", Err: errors.New("no route")}}} {
		if maybeServed(err) {
			t.Errorf("%s: it may have been sent", name)
		}
	}
}

// A routine notice makes no sound, unless it calls somebody; what is urgent does. An edit
// never asks for it: Discord refuses that.
func TestRoutineIsSilent(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	posting, server, _, shop := noticesOf(t)
	server.Problem = func(p string) { t.Errorf("Discord would refuse: %s", p) }
	for i, test := range []struct {
		name    string
		topic   domain.Topic
		args    domain.NoticeArgs
		message commands.Message
		silent  bool
	}{
		{"a service is due", domain.TopicDue, domain.NoticeArgs{}, commands.Message{}, true},
		{"out of adjustment", domain.TopicOutOfTrue, domain.NoticeArgs{}, commands.Message{}, true},
		{"a service is due and calls", domain.TopicDue, domain.NoticeArgs{Call: true}, commands.Message{}, false},
		{"it calls the stewards", domain.TopicProblem, domain.NoticeArgs{}, commands.Message{Mention: true}, false},
		{"it tells people", domain.TopicTold, domain.NoticeArgs{},
			commands.Message{People: []domain.PersonID{"123456789012345678"}}, false},
		{"tagged out", domain.TopicTagOut, domain.NoticeArgs{}, commands.Message{}, false},
		{"back in service", domain.TopicBack, domain.NoticeArgs{}, commands.Message{}, false},
	} {
		owed := undelivered(test.topic, 0, time.Time{})
		owed.Notice.Key, owed.Notice.Args, test.message.Text = fmt.Sprint(i), test.args, test.name
		id, err := posting.Post(ctx, shop, owed, test.message)
		if err != nil {
			t.Fatalf("%s: %v", test.name, err)
		}
		all := server.Requests()
		if silent := strings.Contains(all[len(all)-1].Body, `"flags":4096`); silent != test.silent {
			t.Errorf("%s: silent %v: %s", test.name, silent, all[len(all)-1].Body)
		}
		owed.Message = id
		if err := posting.Edit(ctx, shop, owed, test.message); err != nil {
			t.Fatalf("%s: %v", test.name, err)
		}
		all = server.Requests()
		if strings.Contains(all[len(all)-1].Body, "flags") {
			t.Errorf("the edit of %s: %s", test.name, all[len(all)-1].Body)
		}
	}
}

// What keeps notices from the channel says how long to wait, what is told, and is logged
// once.
func TestWhatIsTold(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	message := commands.Message{Text: "x"}
	unknown, gone := commands.ChannelAccess{Unknown: true}, commands.ChannelAccess{Gone: true}
	closed := commands.ChannelAccess{Lacks: []commands.Right{commands.RightView, commands.RightSend}}
	for _, test := range []struct {
		name string
		hurt func(*discordtest.Server, *discordtest.Channel)
		told commands.ChannelAccess
		wait time.Duration
	}{
		{"channel gone", func(s *discordtest.Server, c *discordtest.Channel) { s.DeleteChannel(c) }, gone,
			longestWait},
		{"no access", func(s *discordtest.Server, c *discordtest.Channel) { s.SetPermissions(c, 0) }, closed,
			longestWait},
		{"no sending", func(s *discordtest.Server,
			c *discordtest.Channel) {
			s.SetPermissions(c, discordtest.ViewChannel)
		}, closed, longestWait},
		{"limited", func(s *discordtest.Server, c *discordtest.Channel) {
			s.Fail("POST", "/channels/*", discordtest.TooMany(7*time.Second, false), 1)
		}, unknown, 7 * time.Second},
		{"limited by a page", func(s *discordtest.Server, c *discordtest.Channel) {
			s.Fail("POST", "/channels/*", discordtest.HTMLTooMany, 1)
		}, unknown, longestWait},
		{"limited by a page for a time", func(s *discordtest.Server, c *discordtest.Channel) {
			f := discordtest.HTMLTooMany
			f.Header = map[string]string{"Retry-After": "90"}
			s.Fail("POST", "/channels/*", f, 1)
		}, unknown, 90 * time.Second},
		{"unauthorised", func(s *discordtest.Server, c *discordtest.Channel) {
			s.Fail("POST", "/channels/*", discordtest.APIError(401, 0, "no"), 1)
		}, unknown, longestWait},
	} {
		posting, s, ch, shop := noticesOf(t)
		test.hurt(s, ch)
		_, err := posting.Post(ctx, shop, undelivered(domain.TopicTagOut, 0, time.Time{}), message)
		var w *Wait
		if !errors.As(err, &w) || w.For != test.wait {
			t.Errorf("%s: %v, want a wait of %v", test.name, err, test.wait)
		}
		again := undelivered(domain.TopicTagOut, 0, time.Time{})
		posting.Post(ctx, shop, again, message) //nolint:errcheck // it may fail again
		if got := posting.access.channel(shop.ID, ch.ID); !reflect.DeepEqual(got, test.told) {
			t.Errorf("%s: told %+v, want %+v", test.name, got, test.told)
		}
	}
	// What cannot be pinned holds nothing up.
	poster, server, ch, shop := noticesOf(t)
	id, err := poster.Post(ctx, shop, undelivered(domain.TopicTagOut, 0, time.Time{}), message)
	if err != nil {
		t.Fatal(err)
	}
	server.SetPermissions(ch, discordtest.AllPermissions&^discordtest.PinMessages)
	noPins := commands.ChannelAccess{Lacks: []commands.Right{commands.RightPin}}
	if err := poster.Pin(ctx, shop, domain.Undelivered{Message: id}); err != nil ||
		!reflect.DeepEqual(poster.access.channel(shop.ID, ch.ID), noPins) {
		t.Errorf("pinning: %v", err)
	}
	server.SetPermissions(ch, discordtest.AllPermissions)
	if err := poster.Pin(ctx, shop, domain.Undelivered{Message: id}); err != nil ||
		!poster.access.channel(shop.ID, ch.ID).Unknown {
		t.Errorf("pinning when it is permitted: %v", err)
	}
	server.SetPermissions(ch, discordtest.AllPermissions&^discordtest.PinMessages)
	// One that somebody deleted has nothing to edit or pin.
	if err := errors.Join(poster.Edit(ctx, shop, domain.Undelivered{Message: "1"}, message),
		poster.Unpin(ctx, shop, domain.Undelivered{Message: "1"})); err != nil && !strings.Contains(err.Error(),
		"50013") {
		t.Errorf("a deleted message: %v", err)
	}
}

// A notice that mentions the stewards is no longer than Discord takes, and keeps its
// reference.
func TestLongNoticeWithARole(t *testing.T) {
	t.Parallel()
	posting, server, ch, shop := noticesOf(t)
	server.ChannelPosts = -1 // more than a channel takes in five seconds
	server.Problem = func(p string) { t.Errorf("Discord would refuse: %s", p) }
	shop.StewardRole = "12345678901234567890" // as long as ids get
	text := strings.Repeat(strings.Repeat("x", 99)+"\n", 18) + strings.Repeat("y", 250)
	for cut := 0; cut < 250; cut += 8 {
		owed := undelivered(domain.TopicTagOut, 0, time.Time{})
		owed.Made, owed.Notice.Key = time.Now(), fmt.Sprint(cut)
		if _, err := posting.Post(context.Background(), shop, owed,
			commands.Message{Text: text[:len(text)-cut], Mention: true}); err != nil {
			t.Fatalf("of %d characters: %v", len(text)-cut, err)
		}
		all := server.Messages(ch)
		if last := all[len(all)-1].Content; !strings.HasPrefix(last, "<@&"+shop.StewardRole+"> ") ||
			!strings.HasSuffix(last, "\n-# "+reference(shop.ID, owed.Notice.Key)) {
			t.Fatalf("of %d characters: %q", len(text)-cut, last)
		}
	}
}

// However many stewards are mentioned one by one, a notice is no longer than Discord
// takes, and keeps its reference.
func TestLongNoticeWithStewards(t *testing.T) {
	t.Parallel()
	posting, server, ch, shop := noticesOf(t)
	server.Problem = func(p string) { t.Errorf("Discord would refuse: %s", p) }
	shop.StewardRole = "12345678901234567890"
	tell(t, posting.access.directory, readyOne, fmt.Sprintf(
		`GUILD_CREATE {"id": %q, "roles": [{"id": %q, "permissions": "0"}]}`, shop.ID, shop.StewardRole))
	var known []domain.PersonID
	posting.access.stewards = func(context.Context, domain.Shop) ([]domain.PersonID, error) { return known, nil }
	for i := range 21 {
		owed := undelivered(domain.TopicTagOut, 0, time.Time{})
		owed.Made, owed.Notice.Key = time.Now(), fmt.Sprint(i)
		if _, err := posting.Post(context.Background(), shop, owed,
			commands.Message{Text: strings.Repeat("x y\n", 500), Mention: true}); err != nil {
			t.Fatalf("with %d stewards: %v", i, err)
		}
		all := server.Messages(ch)
		last := all[len(all)-1]
		if strings.Count(last.Content, "<@1") != i || len(last.Pings) != i ||
			!strings.HasSuffix(last.Content, "\n-# "+reference(shop.ID, owed.Notice.Key)) {
			t.Fatalf("with %d stewards: %q", i, last.Content)
		}
		known = append(known, domain.PersonID(fmt.Sprintf("1%019d", i)))
	}
}

// Stewards that cannot be looked up keep no notice back.
func TestStewardsNotFound(t *testing.T) {
	t.Parallel()
	posting, server, ch, shop := noticesOf(t)
	log := new(strings.Builder)
	posting.access.log = slog.New(slog.NewTextHandler(log, nil))
	shop.StewardRole = "7"
	tell(t, posting.access.directory, readyOne,
		fmt.Sprintf(`GUILD_CREATE {"id": %q, "roles": [{"id": "7", "permissions": "0"}]}`, shop.ID))
	posting.access.stewards = func(context.Context, domain.Shop) ([]domain.PersonID, error) {
		return nil, errors.New("no disk")
	}
	o := undelivered(domain.TopicTagOut, 0, time.Time{})
	o.Made = time.Now()
	if _, err := posting.Post(context.Background(), shop, o, commands.Message{Text: "x", Mention: true}); err != nil ||
		len(server.Messages(ch)) != 1 || !strings.Contains(log.String(), "no disk") {
		t.Errorf("%v, %d messages, logged: %s", err, len(server.Messages(ch)), log)
	}
}

// A notice that came says that nothing keeps notices back. Each failure is logged once,
// with its reason and what to do, and again after one came.
func TestTroubleThatPassed(t *testing.T) {
	t.Parallel()
	posting, server, ch, shop := noticesOf(t)
	log := new(strings.Builder)
	posting.access.log = slog.New(slog.NewTextHandler(log, nil))
	post := func(permissions int64) {
		server.SetPermissions(ch, permissions)
		o := undelivered(domain.TopicTagOut, 0, time.Time{})
		o.Made = time.Now()
		posting.Post(context.Background(), shop, o, commands.Message{Text: "x"}) //nolint:errcheck // one fails, one not
	}
	logged := func(when, what string, want int) {
		t.Helper()
		if got := strings.Count(log.String(), what); got != want {
			t.Errorf("%s: logged %d times, want %d: %s", when, got, want, log)
		}
	}
	for range 3 {
		post(discordtest.ViewChannel)
	}
	logged("refused three times", "50013", 1)
	logged("refused three times", `do="permit: view, send"`, 1)
	if !posting.access.channel(shop.ID, ch.ID).Closed() {
		t.Error("refused, and not told")
	}
	if posting.access.channel(shop.ID, "other").Closed() {
		t.Error("another channel is refused with it")
	}
	post(0)
	logged("for another reason", "50001", 1)
	post(discordtest.AllPermissions)
	if posting.access.channel(shop.ID, ch.ID).Closed() {
		t.Error("told after it came")
	}
	post(discordtest.ViewChannel)
	logged("refused after it had worked", "50013", 2)
	server.Fail("POST", "/channels/*", discordtest.TooMany(time.Second, false), 1)
	before := log.Len()
	post(discordtest.AllPermissions)
	if log.Len() != before {
		t.Errorf("to be asked to wait is logged: %s", log.String()[before:])
	}
}

// counting are wakes that only count how often they are asked.
type counting struct {
	n         atomic.Int32
	slow      time.Duration // each after the first takes so long
	at, worst atomic.Int32  // how many at once
}

func (c *counting) Due(context.Context, time.Time, int) ([]domain.Wake, error) {
	if c.n.Add(1) > 1 {
		c.worst.Store(max(c.worst.Load(), c.at.Add(1)))
		defer c.at.Add(-1)
		time.Sleep(c.slow)
	}
	return nil, nil
}
func (c *counting) Settle(context.Context, domain.ShopID, domain.MachineID, time.Time) (domain.Status, error) {
	return domain.Status{}, nil
}
func (c *counting) GoOnForgetting(context.Context, time.Time) error { return nil }
func (c *counting) DueDigests(context.Context, time.Time) ([]domain.ShopID, error) {
	panic("a wake that fails must not end the program")
}
func (c *counting) SettleDigest(context.Context, domain.ShopID, time.Time) error { return nil }

// The scheduler wakes at the start and once a minute after it, survives a wake
// that panics, and stops when told.
func TestSchedulerWakes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		cat, err := words.Load()
		if err != nil {
			t.Fatal(err)
		}
		transport := &counting{}
		b := New(Config{Outbox: &queue{}, Desk: commands.NewDesk(nil, transport, cat),
			Log: slog.New(slog.DiscardHandler)})
		b.clock.hear(time.Now())
		stop := b.schedule(context.Background())
		synctest.Wait()
		if n := transport.n.Load(); n != 1 {
			t.Errorf("%d wakes at the start", n)
		}
		time.Sleep(time.Hour)
		synctest.Wait()
		if n := transport.n.Load(); n != 61 {
			t.Errorf("%d wakes in an hour, want 61", n)
		}
		stop()
		time.Sleep(time.Hour)
		if n := transport.n.Load(); n != 61 {
			t.Errorf("%d wakes after it was stopped", n)
		}
	})
}

// A wake that takes longer than a minute is not joined by another.
func TestSchedulerWakesOneAtATime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		transport := &counting{slow: 150 * time.Second}
		b := New(Config{Outbox: &queue{}, Desk: commands.NewDesk(nil, transport, newCatalogue(t)),
			Log: slog.New(slog.DiscardHandler)})
		b.clock.hear(time.Now())
		stop := b.schedule(context.Background())
		time.Sleep(time.Hour)
		stop()
		if n, worst := transport.n.Load(), transport.worst.Load(); n < 15 || n > 30 || worst != 1 {
			t.Errorf("%d wakes in an hour, %d at once", n, worst)
		}
	})
}

// What is owed when the program starts is posted, though nobody gives a command.
func TestSchedulerWakesThePoster(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		in := newInside(t)
		defer in.close()
		now := time.Now()
		_, err := in.db.Shop(domain.ShopID(in.guild.ID)).Report(context.Background(), domain.Entry{Key: "out",
			Machine: 1, At: now, Recorded: now, By: "ada", For: "ada",
			Body: domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: "loose"}}})
		in.check(err)
		stop := in.bot.schedule(context.Background())
		time.Sleep(time.Second)
		stop()
		if all := in.server.Messages(in.channel); len(all) != 1 || !all[0].Pinned {
			t.Errorf("in the channel stands %+v", all)
		}
	})
}

// Whatever a member wrote, nothing of it is read as markup: only what Setscrew
// itself wrote is.
func FuzzMarkdown(f *testing.F) {
	for _, s := range []string{"plain", "**bold** _it_ ~~s~~ `c` ||sp|| > q # h - l",
		"@everyone <@1> <@&2> <#3> </due:4> <t:5:f>", "[x](http://y) https://z", "\\*", "1. a\n2. b"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		clean := words.Clean(s)
		got := words.Expand(words.User(s), markdown{})
		var back strings.Builder
		escaped := false
		for _, reply := range got {
			switch {
			case escaped:
				back.WriteRune(reply)
				escaped = false
			case reply == '\\':
				escaped = true
			case strings.ContainsRune("*_~`|>#<@[]():", reply):
				t.Fatalf("%q: %q has an unescaped %q", s, got, reply)
			default:
				back.WriteRune(reply)
			}
		}
		if escaped || back.String() != clean {
			t.Fatalf("%q: %q reads as %q", s, got, back.String())
		}
	})
}

// Pages hold every character of their lines, each page within its length.
func FuzzPages(f *testing.F) {
	f.Add("a\nb\nc", 10)
	f.Add(strings.Repeat("word ", 1000), 100)
	f.Fuzz(func(t *testing.T, s string, n int) {
		n = 20 + (n%2000+2000)%2000
		squash := func(s string) string { return strings.Join(strings.Fields(s), "") }
		joined := ""
		for _, p := range pagesOf(strings.Split(s, "\n"), n) {
			if len([]rune(p)) > n {
				t.Fatalf("a page of %d characters, at most %d", len([]rune(p)), n)
			}
			joined += p
		}
		if strings.ToValidUTF8(squash(joined), "") != strings.ToValidUTF8(squash(s), "") &&
			strings.ToValidUTF8(s, "") == s {
			t.Fatalf("something is lost: %q from %q", joined, s)
		}
	})
}
