package bot

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/bwmarrin/discordgo"

	"setscrew/bot/discordtest"
	"setscrew/commands"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
	"setscrew/store"
)

// report stores what somebody says of a machine, now.
func (in *inside) report(key string, machine domain.MachineID, body domain.Body) domain.Fact {
	in.t.Helper()
	o, err := in.db.Shop(domain.ShopID(in.guild.ID)).Report(context.Background(), domain.Entry{Key: key,
		Machine: machine, At: time.Now(), Recorded: time.Now(), By: "ada", For: "ada", Body: body, Sure: true})
	in.check(err)
	return o.Fact
}

// addMachine adds a machine of Marble's kind.
func (in *inside) addMachine(name string) domain.MachineID {
	in.t.Helper()
	shop := in.db.Shop(domain.ShopID(in.guild.ID))
	snap, err := shop.Snapshot(context.Background(), 1)
	in.check(err)
	setup := snap.Machine.Setup
	setup.Rev = 1
	o, err := shop.Report(context.Background(), domain.Entry{Key: "add " + name, At: time.Now(), Recorded: time.Now(),
		By: "ada", For: "ada", Body: domain.MachineAdded{Name: name, Setup: setup}})
	in.check(err)
	return o.Fact.Machine
}

// prove checks all of a machine, and finds it well.
func (in *inside) prove(machine domain.MachineID) {
	in.t.Helper()
	snap, err := in.db.Shop(domain.ShopID(in.guild.ID)).Snapshot(context.Background(), machine)
	in.check(err)
	for _, c := range snap.Machine.Profile.Checks {
		if c.OnDemand {
			continue
		}
		if c.Inspection {
			in.report("check "+c.ID, machine, domain.Inspection{Check: c.ID, Pass: true})
			continue
		}
		read := domain.Reading{Check: c.ID, Typed: "well", Gauge: domain.GaugeUsed{Name: "dial",
			Gauge: metrology.Gauge{Uncertainty: quantity.New(1, 1, quantity.Thou), Coverage: 2}}}
		for _, p := range c.Positions {
			read.Values = append(read.Values, quantity.At{Position: p, Repeats: []quantity.Value{c.Example}})
		}
		in.report("check "+c.ID, machine, read)
	}
}

// runFor lets the bot go on for a while.
func (in *inside) runFor(d time.Duration) {
	stop := in.bot.schedule(context.Background())
	time.Sleep(d)
	stop()
}

// restoreFrom ends the bot, puts a copy in the books' place, and begins another.
func (in *inside) restoreFrom(copied string) {
	in.t.Helper()
	path := in.db.Path()
	in.check(in.db.Close())
	_, err := store.Restore(context.Background(), copied, path, time.Now())
	in.check(err)
	in.db, err = store.Open(context.Background(), path)
	in.check(err)
	db := in.db
	books := func(id domain.ShopID) commands.Books { return db.Shop(id) }
	in.bot = New(Config{Token: discordtest.Token, Client: in.server.Direct(),
		Desk: commands.NewDesk(books, db, in.catalogue), Outbox: db, Log: slog.New(slog.DiscardHandler), Restored: db,
		Settings: func(ctx context.Context, id domain.ShopID) (domain.Shop, error) { return db.Shop(id).Shop(ctx) }})
	l, err := newLink(discordtest.Token, in.bot.cfg.Client)
	in.check(err)
	in.bot.link.Store(l)
	_, err = in.bot.registerCommands(context.Background()) // so that its clock has heard
	in.check(err)
}

// tagged says whether each of some machines is out of service.
func (in *inside) tagged(machines ...domain.MachineID) (out []bool) {
	in.t.Helper()
	for _, m := range machines {
		snap, err := in.db.Shop(domain.ShopID(in.guild.ID)).Snapshot(context.Background(), m)
		in.check(err)
		out = append(out, len(snap.Tags) > 0)
	}
	return out
}

// After a restore the channel is held against the books, once: a machine whose last word
// there is that it is tagged out is tagged out, one that the books have tagged out stays
// so whatever the channel says, and one message tells the stewards.
func TestRestoredBooksAreHeldAgainstTheChannel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		in := newInside(t)
		defer in.close()
		const marble = domain.MachineID(1)
		loose := domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: "loose knives"}}
		slate, bigMarble, flint := in.addMachine("Slate"), in.addMachine("Big Marble"), in.addMachine("Flint")
		out := in.report("slate out", slate, loose)
		in.runFor(10 * time.Second)
		time.Sleep(time.Hour)
		copies := filepath.Join(t.TempDir(), "copies")
		copied, err := store.Backup(context.Background(), in.db.Path(), copies, time.Now())
		in.check(err)
		time.Sleep(time.Hour)
		// What the copy does not know: two are tagged out, one of them only for a moment, and
		// one that was out comes back.
		in.report("big out", bigMarble, loose)
		pressed := in.report("flint out", flint, domain.TagOut{Reason: domain.Reason{Code: domain.Pressed}})
		in.runFor(10 * time.Second)
		in.report("flint mistake", flint, domain.Mistake{Of: pressed.No})
		in.prove(slate)
		in.report("test", slate, domain.UnderTest{Note: "seen to", Tags: []domain.TagAnswer{{Tag: out.No}}})
		in.report("release", slate, domain.Release{})
		in.runFor(5 * time.Minute)
		time.Sleep(time.Hour)
		in.restoreFrom(copied.Path)
		if got := in.tagged(marble, slate, bigMarble, flint); got[0] || !got[1] || got[2] || got[3] {
			t.Fatalf("the copy has tagged out %v", got)
		}
		in.runFor(3 * time.Minute)
		if got := in.tagged(marble, slate, bigMarble, flint); got[0] || !got[1] || !got[2] || got[3] {
			t.Errorf("tagged out: %v", got)
		}
		var told []string
		for _, m := range in.server.Messages(in.channel) {
			if strings.Contains(m.Content, "put back from a copy, and know nothing") {
				told = append(told, m.Content)
			}
		}
		if len(told) != 1 || !strings.Contains(told[0], "channel said last: Big Marble.\n") ||
			!strings.Contains(told[0], "channel says otherwise: Slate.") || strings.Contains(told[0], "Flint") {
			t.Errorf("told %q", told)
		}
		if left, err := in.db.Restorations(context.Background()); err != nil || len(left) != 0 {
			t.Errorf("left to be reconciled: %+v, %v", left, err)
		}
	})
}

// pagesOfMessages answers each request with the next of some pages of messages.
type pagesOfMessages struct {
	t     *testing.T
	pages [][]map[string]any
	asked []string
}

// RoundTrip answers a request.
func (p *pagesOfMessages) RoundTrip(request *http.Request) (*http.Response, error) {
	p.asked = append(p.asked, request.URL.RawQuery)
	text, err := json.Marshal(p.pages[min(len(p.asked), len(p.pages))-1])
	if err != nil {
		p.t.Error(err)
	}
	return &http.Response{StatusCode: http.StatusOK, Header: http.Header{}, Request: request,
		Body: io.NopCloser(strings.NewReader(string(text)))}, nil
}

// Only notices that Setscrew posted since a moment count, without those whom they
// mention: no member's words, no answer, nothing from before.
func TestWhatAChannelSaidSince(t *testing.T) {
	t.Parallel()
	from := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	message := func(after time.Duration, bot bool, content string) map[string]any {
		id := (from.Add(after).UnixMilli() - 1420070400000) << 22 // https://discord.com/developers/docs/reference
		return map[string]any{"id": fmt.Sprint(id), "content": content, "author": map[string]any{"bot": bot}}
	}
	first := []map[string]any{
		message(5*time.Hour, true, "<@&12> <@34> Marble is tagged out: do not use.\nloose\n-# notice abcdefgh"),
		message(4*time.Hour, false, "Marble is back in service.\n-# notice abcdefgh"),
		message(3*time.Hour, true, "Marble is back in service."),
	}
	for len(first) < findPage {
		first = append(first, message(2*time.Hour, false, "hello"))
	}
	pages := &pagesOfMessages{t: t, pages: [][]map[string]any{first, {
		message(time.Hour, true, "Slate is back in service.\n-# notice abcdefgh"),
		message(-30*time.Second, true, "Flint is back in service.\n-# notice abcdefgh"), // as clocks differ
		message(-2*time.Minute, true, "Basalt is back in service.\n-# notice abcdefgh"),
	}}}
	l, err := newLink(discordtest.Token, &http.Client{Transport: pages})
	if err != nil {
		t.Fatal(err)
	}
	posts := newNotices(func() *discordgo.Session { return l.s }, time.Now, "")
	got, err := posts.since(context.Background(), domain.Shop{NoticeChannel: "7"}, from)
	want := []string{"Marble is tagged out: do not use.", "Slate is back in service.", "Flint is back in service."}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("%q, %v", got, err)
	}
	if len(pages.asked) != 2 || !strings.Contains(pages.asked[1], "before="+first[findPage-1]["id"].(string)) {
		t.Errorf("asked for %q", pages.asked)
	}
}
