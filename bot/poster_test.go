package bot_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"
	_ "time/tzdata"

	"setscrew/bot"
	"setscrew/bot/channeltest"
	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/store"
)

// board is a channel that notes what was done to it, and fails as told.
type board struct {
	done     []string
	messages []*posted
	fail     func(op string) error
	noPins   bool
}

// posted is what stands on a board.
type posted struct {
	channeltest.Message
	shop domain.ShopID
}

// do notes an operation, unless it fails.
func (b *board) do(ctx context.Context, op string) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if b.fail != nil {
		if err := b.fail(op); err != nil {
			return err
		}
	}
	b.done = append(b.done, op)
	return nil
}

// find is a shop's message, nil if it does not stand there.
func (b *board) find(shop domain.ShopID, message string) *posted {
	for _, m := range b.messages {
		if m.shop == shop && m.ID == message {
			return m
		}
	}
	return nil
}

func (b *board) Post(ctx context.Context, shop domain.Shop, o domain.Undelivered, message commands.Message) (string,
	error) {
	id := "msg:" + o.Notice.Key
	if err := b.do(ctx, "post "+o.Notice.Key+": "+message.Headline); err != nil {
		return "", err
	}
	if b.find(shop.ID, id) == nil {
		b.messages = append(b.messages, &posted{channeltest.Message{ID: id, Text: message.Text}, shop.ID})
	}
	return id, nil
}

func (b *board) Edit(ctx context.Context, shop domain.Shop, o domain.Undelivered, m commands.Message) error {
	err := b.do(ctx, "edit "+o.Message+": "+m.Headline)
	if at := b.find(shop.ID, o.Message); err == nil && at != nil {
		at.Text = m.Text
	}
	return err
}

func (b *board) Pin(ctx context.Context, shop domain.Shop, o domain.Undelivered) error {
	return b.pin(ctx, shop, o, true)
}

func (b *board) Unpin(ctx context.Context, shop domain.Shop, o domain.Undelivered) error {
	return b.pin(ctx, shop, o, false)
}

func (b *board) pin(ctx context.Context, shop domain.Shop, undelivered domain.Undelivered, pinned bool) error {
	op := "unpin "
	if pinned {
		op = "pin "
	}
	err := b.do(ctx, op+undelivered.Message)
	if at := b.find(shop.ID, undelivered.Message); err == nil && at != nil && !b.noPins {
		at.Pinned = pinned
	}
	return err
}

// shop is a real store with two planers, and a poster over it.
type shop struct {
	t      *testing.T
	db     *store.DB
	poster *bot.Poster
	board  *board
	desk   *commands.Desk
	n      int
}

func newShop(t *testing.T, channel string) *shop {
	t.Helper()
	ctx := context.Background()
	db, err := store.Open(ctx, filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	cat, err := words.Load()
	if err != nil {
		t.Fatal(err)
	}
	desk := commands.NewDesk(func(id domain.ShopID) commands.Books { return db.Shop(id) }, db, cat)
	b := &board{}
	made := &shop{t: t, db: db, board: b, desk: desk, poster: &bot.Poster{Outbox: db, Channel: b, Render: desk.Render,
		Settings: func(ctx context.Context, id domain.ShopID) (domain.Shop, error) { return db.Shop(id).Shop(ctx) }}}
	set := domain.NewShop("one")
	set.NoticeChannel = channel
	made.report(0, domain.ShopSet{Shop: set})
	text, err := profile.BuiltinText("thickness-planer")
	if err != nil {
		t.Fatal(err)
	}
	hash, err := db.Shop("one").KeepProfile(ctx, "thickness-planer", text)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"Marble", "Granite"} {
		made.report(0, domain.MachineAdded{Name: name, Setup: domain.Setup{Kind: "thickness-planer", Hash: hash,
			Rev: 1}})
	}
	return made
}

func (s *shop) report(m domain.MachineID, body domain.Body) {
	s.t.Helper()
	s.n++
	if _, err := s.db.Shop("one").Report(context.Background(),
		domain.Entry{Key: fmt.Sprint(s.n), Machine: m, At: time.Now(), Recorded: time.Now(), By: "ada", For: "ada",
			Body: body}); err != nil {
		s.t.Fatal(err)
	}
}

func (s *shop) tagOut(m domain.MachineID) {
	s.report(m, domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: fmt.Sprint("loose ", s.n)}})
}

func (s *shop) drain() int {
	s.t.Helper()
	n, err := s.poster.Drain(context.Background(), time.Now())
	if err != nil {
		s.t.Fatal(err)
	}
	return n
}

func (s *shop) close() {
	if err := s.db.Close(); err != nil {
		s.t.Error(err)
	}
}

func TestPosterKeepsOrder(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		shop := newShop(t, "notices")
		defer shop.close()
		shop.tagOut(1)
		shop.tagOut(1)
		shop.tagOut(2)
		if n := shop.drain(); n != 5 {
			t.Errorf("%d confirmed, want 5", n)
		}
		want := []string{"post m1/out/1: Marble is tagged out: do not use.",
			"post m2/out/1: Granite is tagged out: do not use.",
			"pin msg:m1/out/1", "pin msg:m2/out/1", "edit msg:m1/out/1: Marble is tagged out: do not use."}
		if got := plain(shop.board.done); !slices.Equal(got, want) {
			t.Errorf("done %q,\nwant %q", got, want)
		}
		if n := shop.drain(); n != 0 {
			t.Errorf("%d more", n)
		}
	})
}

// plain takes the guards out of what was done.
func plain(done []string) []string {
	var all []string
	for _, d := range done {
		all = append(all, words.Expand(d, terminal{}))
	}
	return all
}

type terminal struct{}

func (terminal) User(s string) string                   { return s }
func (terminal) Time(time.Time, words.TimeStyle) string { return "" }
func (terminal) Person(id string) string                { return id }
func (terminal) Channel(id string) string               { return id }
func (terminal) Role(id string) string                  { return id }
func (terminal) Link(_, name string) string             { return name }

// A notice that fails is tried again, ever later but at least every ten
// minutes; it holds back its machine's and no other's.
func TestPosterTriesAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		shop := newShop(t, "notices")
		defer shop.close()
		var tries []time.Duration
		begin := time.Now()
		shop.board.fail = func(op string) error {
			if strings.Contains(op, "m1/") {
				tries = append(tries, time.Since(begin))
				return errors.New("no permission")
			}
			return nil
		}
		shop.tagOut(1)
		shop.tagOut(2)
		for time.Since(begin) < time.Hour {
			shop.drain()
			time.Sleep(time.Second)
		}
		if got := plain(shop.board.done); len(got) != 2 || !strings.HasPrefix(got[0], "post m2/out/1") ||
			got[1] != "pin msg:m2/out/1" {
			t.Errorf("done %q", got)
		}
		if len(tries) < 8 || tries[1]-tries[0] != time.Second || tries[2]-tries[1] != 2*time.Second {
			t.Errorf("tried at %v", tries)
		}
		for i := 1; i < len(tries); i++ {
			if gap := tries[i] - tries[i-1]; gap > 10*time.Minute+time.Second {
				t.Errorf("%v between tries", gap)
			}
		}
		shop.board.fail = nil
		time.Sleep(10 * time.Minute)
		shop.drain()
		if got := plain(shop.board.done); len(got) != 4 || !strings.HasPrefix(got[2], "post m1/out/1") {
			t.Errorf("in the end %q", got)
		}
	})
}

// What is owed waits until there is a channel for it.
func TestPosterWaitsForAChannel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		shop := newShop(t, "")
		defer shop.close()
		shop.tagOut(1)
		shop.drain()
		if len(shop.board.done) != 0 {
			t.Errorf("done %q without a channel", shop.board.done)
		}
		time.Sleep(time.Hour)
		if again, err := shop.db.Undelivered(context.Background(), "one", time.Now(), 10); err != nil ||
			len(again) != 0 {
			t.Errorf("tried again within the hour though no channel is set: %v, %v", again, err)
		}
		// Once the settings name one, at once.
		set := domain.NewShop("one")
		set.NoticeChannel = "notices"
		shop.report(0, domain.ShopSet{Shop: set})
		shop.drain()
		if len(shop.board.done) != 2 {
			t.Errorf("with a channel: %q", shop.board.done)
		}
	})
}

// A cancelled context ends the work between two notices.
func TestPosterHonoursItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		shop := newShop(t, "notices")
		defer shop.close()
		shop.tagOut(1)
		shop.tagOut(2)
		ctx, cancel := context.WithCancel(context.Background())
		shop.board.fail = func(string) error { cancel(); return errors.New("cut off") }
		if _, err := shop.poster.Drain(ctx, time.Now()); !errors.Is(err, context.Canceled) {
			t.Errorf("drain: %v", err)
		}
		shop.board.fail = nil
		if n := shop.drain(); n != 4 {
			t.Errorf("%d confirmed afterwards, want 4", n)
		}
	})
}

// Two years of daily digests in three time zones, with a real file, stepping
// through the stored wakes: while there is something to say, each local day has
// exactly one, on the days of the clocks' changes too.
func TestTwoYearsOfDigests(t *testing.T) {
	t.Parallel()
	for _, zone := range []string{"Europe/Berlin", "America/New_York", "Pacific/Auckland"} {
		t.Run(zone, func(t *testing.T) {
			t.Parallel()
			synctest.Test(t, func(t *testing.T) {
				ctx := context.Background()
				shop := newShop(t, "notices")
				defer shop.close()
				set := domain.NewShop("one")
				set.NoticeChannel, set.Zone, set.Digest = "notices", zone, 2*60+30
				loc := set.Location()
				time.Sleep(26 * 365 * 24 * time.Hour) // from the bubble's epoch, 2000, to 2026
				shop.report(0, domain.ShopSet{Shop: set})
				shop.tagOut(1)
				begin := time.Now()
				days := map[string]int{}
				shop.board.fail = func(op string) error {
					if strings.HasPrefix(op, "post digest/") {
						days[time.Now().In(loc).Format("2006-01-02")]++
					}
					return nil
				}
				end := begin.AddDate(2, 0, 0)
				for {
					next, ok, err := shop.db.NextWake(ctx)
					if err != nil || !ok {
						t.Fatal(ok, err)
					}
					if next.After(end) {
						break
					}
					time.Sleep(time.Until(next))
					if err := shop.desk.Sweep(ctx, time.Now()); err != nil {
						t.Fatal(err)
					}
					if err := shop.desk.Sweep(ctx, time.Now()); err != nil { // twice does nothing more
						t.Fatal(err)
					}
					shop.drain()
				}
				if len(days) < 729 || len(days) > 731 {
					t.Errorf("digests on %d days of 730", len(days))
				}
				for day, n := range days {
					if n != 1 {
						t.Errorf("%d digests on %s", n, day)
					}
				}
			})
		})
	}
}
