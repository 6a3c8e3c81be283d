package bot

import (
	"bytes"
	"context"
	"log/slog"
	"net/http"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"setscrew/bot/discordtest"
	"setscrew/commands"
	"setscrew/domain"
)

// noon is Discord's time when the steady clock of these tests stands at nothing.
var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// Which clock holds, for work and for a report.
func TestJudge(t *testing.T) {
	t.Parallel()
	heard := judge{}.hear(noon.Add(-time.Hour), -time.Hour)
	year := 400 * 24 * time.Hour
	for _, test := range []struct {
		name   string
		judge  judge
		steady time.Duration
		wall   time.Time
		made   time.Time // of the report's id
		agree  bool
		now    time.Time
		report time.Time
	}{
		{"as it should be", heard, time.Minute, noon.Add(time.Minute), noon.Add(time.Minute), true,
			noon.Add(time.Minute), noon.Add(time.Minute)},
		{"two minutes ahead", heard, 0, noon.Add(2 * time.Minute), noon, true, noon.Add(2 * time.Minute),
			noon.Add(2 * time.Minute)},
		{"two minutes behind", heard, 0, noon.Add(-2 * time.Minute), noon, true, noon.Add(-2 * time.Minute),
			noon.Add(-2 * time.Minute)},
		{"a little more ahead", heard, 0, noon.Add(2*time.Minute + 1), noon, false, noon, noon},
		{"a little more behind", heard, 0, noon.Add(-2*time.Minute - 1), noon, false, noon, noon},
		{"400 days ahead", heard, time.Minute, noon.Add(year), noon.Add(time.Minute), false, noon.Add(time.Minute),
			noon.Add(time.Minute)},
		{"at the clock's own beginning", heard, 0, time.Unix(0, 0), noon, false, noon, noon},
		{"never heard", judge{}, 0, noon, noon, false, noon, noon},
		{"never heard, and wrong", judge{}, 0, noon.Add(year), noon, false, noon.Add(year), noon},
		{"the report was kept back for an hour", heard, time.Hour, noon.Add(time.Hour), noon, true,
			noon.Add(time.Hour), noon.Add(time.Hour)},
		{"that, and the clock is wrong", heard, time.Hour, noon.Add(year), noon, false, noon.Add(time.Hour),
			noon.Add(time.Hour)},
		{"the machine slept for three hours, and the steady clock with it", heard, 0, noon.Add(3 * time.Hour),
			noon.Add(3*time.Hour - time.Second), false, noon, noon.Add(3 * time.Hour)},
		{"that, and the clock is wrong", heard, 0, noon.Add(year), noon.Add(3 * time.Hour), false, noon,
			noon.Add(3 * time.Hour)},
	} {
		if got := test.judge.agree(test.wall, test.steady); got != test.agree {
			t.Errorf("%s: agree %v", test.name, got)
		}
		if got := test.judge.now(test.wall, test.steady); !got.Equal(test.now) {
			t.Errorf("%s: now %v, want %v", test.name, got, test.now)
		}
		if got := test.judge.reported(test.wall, test.steady, test.made); !got.Equal(test.report) {
			t.Errorf("%s: reported %v, want %v", test.name, got, test.report)
		}
	}
}

// An id of Discord's bears the time at which it was made; anything else bears none.
func TestMadeAt(t *testing.T) {
	t.Parallel()
	for id, want := range map[string]time.Time{
		"175928847299117063": time.Date(2016, 4, 30, 11, 18, 25, 796e6, time.UTC), // Discord's own example
		"1":                  time.Date(2015, 1, 1, 0, 0, 0, 0, time.UTC),
		"":                   {}, "r12": {}, "-5": {}, "0": {}, "99999999999999999999": {},
	} { // any order: each is looked at by itself
		if got, ok := madeAt(id); !got.Equal(want) || ok == want.IsZero() {
			t.Errorf("%q: %v, %v; want %v", id, got, ok, want)
		}
	}
}

// A date counts while none was heard and while the clocks are apart, an accepted
// interaction always; the operator is told once when the clock begins to be wrong, and
// once when it is right again.
func TestClockHears(t *testing.T) {
	t.Parallel()
	var log bytes.Buffer
	wall, steady := noon, time.Duration(0)
	clock := newClock(func() time.Time { return wall }, func() time.Duration { return steady },
		slog.New(slog.NewTextHandler(&log, nil)))
	date := func(at time.Time) { clock.dated(http.Header{"Date": {at.UTC().Format(http.TimeFormat)}}) }
	step := func(name string, do func(), agrees bool, now time.Time, told int) {
		t.Helper()
		do()
		clock.look()
		if got := strings.Count(log.String(), "\n"); clock.agrees() != agrees || !clock.now().Equal(now) ||
			got != told {
			t.Errorf("%s: agrees %v, now %v, told %d times; want %v, %v, %d\n%s", name, clock.agrees(), clock.now(),
				got,
				agrees,
				now, told, log.String())
		}
	}
	id := "1477998909849600000" // made at noon
	if made, ok := madeAt(id); !ok || made.Sub(noon).Abs() > time.Second {
		t.Fatalf("the id was made at %v", made)
	}
	step("nothing heard", func() {}, false, noon, 0)
	step("an answer without a date", func() { clock.dated(http.Header{"Date": {"soon"}}) }, false, noon, 0)
	step("a date", func() { date(noon.Add(time.Second)) }, true, noon, 0)
	step("a date that is far off, while the clocks agree", func() { date(noon.Add(9 * time.Hour)) }, true, noon, 0)
	step("what is no id", func() { clock.accepted("r12") }, true, noon, 0)
	step("400 days ahead", func() { wall = noon.Add(400 * 24 * time.Hour) }, false, noon.Add(time.Second), 1)
	step("still", func() { steady += time.Minute }, false, noon.Add(time.Minute+time.Second), 1)
	step("a date that says so too", func() { date(noon.Add(time.Minute)) }, false, noon.Add(time.Minute), 1)
	step("right again", func() { wall = noon.Add(time.Minute) }, true, noon.Add(time.Minute), 2)
	step("after sleep", func() { wall = noon.Add(3 * time.Hour); date(noon.Add(3 * time.Hour)) }, true,
		noon.Add(3*time.Hour), 2)
	step("an accepted interaction says otherwise", func() { clock.accepted(id) }, false, noon, 3)
}

// moved is a wall clock that a test sets.
type moved struct {
	mu  sync.Mutex
	off time.Duration
}

func (m *moved) now() time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	return time.Now().Add(m.off).Round(0)
}

func (m *moved) set(off time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.off = off
}

// counted counts the lines of a log that hold a text.
func counted(log *lockedBuffer, text string) int { return strings.Count(log.String(), text) }

type lockedBuffer struct {
	mu sync.Mutex
	bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.Buffer.Write(p)
}

func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.Buffer.String()
}

// withClock is an inside bot that goes by a clock which a test sets, and its log. Discord
// was not heard yet.
func withClock(t *testing.T) (*inside, *moved, *lockedBuffer) {
	in, wall, log := newInside(t), &moved{}, &lockedBuffer{}
	c := in.bot.clock
	c.wall, c.log, c.judge, c.first = wall.now, slog.New(slog.NewTextHandler(log, nil)), judge{}, make(chan struct{})
	return in, wall, log
}

// tags counts the tags of Marble, and posts what its shop's channel holds.
func (in *inside) tags() int {
	in.t.Helper()
	snap, err := in.db.Shop(domain.ShopID(in.guild.ID)).Snapshot(context.Background(), 1)
	in.check(err)
	return len(snap.Tags)
}

// A clock that is 400 days ahead for a few minutes hangs no tag, posts nothing, and keeps
// no digest back; the operator is told once that it begins and once that it ends. With a
// clock that is right the same days do bring notices, so that there was something to miss.
func TestClockAheadJudgesNothing(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name string
		off  time.Duration
	}{{"right", 0}, {"400 days ahead", 400 * 24 * time.Hour}, {"ten minutes behind", -10 * time.Minute}} {
		synctest.Test(t, func(t *testing.T) {
			in, wall, log := withClock(t)
			defer in.close()
			stop := in.bot.schedule(context.Background())
			defer stop()
			time.Sleep(5 * time.Minute)
			before, _, err := in.db.NextWake(context.Background())
			in.check(err)
			wall.set(test.off)
			time.Sleep(5 * time.Minute)
			during := in.tags()
			wall.set(0)
			time.Sleep(5 * time.Minute)
			after, _, err := in.db.NextWake(context.Background())
			in.check(err)
			if during != in.tags() || len(in.server.Messages(in.channel)) != 0 || after.Sub(before) > 24*time.Hour {
				t.Errorf("%s: %d tags, then %d; %d messages; the next wake was %v and is %v", test.name, during,
					in.tags(),
					len(in.server.Messages(in.channel)), before, after)
			}
			told := 0
			if test.off != 0 {
				told = 1
			}
			if begins, ends := counted(log, "clock is wrong"), counted(log, "right again"); begins != told ||
				ends != told {
				t.Errorf("%s: told %d times that it is wrong, %d that it is right; want %d\n%s", test.name, begins,
					ends,
					told,
					log)
			}
			time.Sleep(10 * 24 * time.Hour)
			if len(in.server.Messages(in.channel)) == 0 {
				t.Errorf("%s: nothing in ten days", test.name)
			}
		})
	}
}

// Until Discord's time was heard nothing is judged, and nothing posted; then both are at
// once, without waiting for the minute.
func TestClockUnheard(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in, wall, _ := withClock(t)
		defer in.close()
		time.Sleep(300 * 24 * time.Hour) // much falls due
		wall.set(400 * 24 * time.Hour)
		link := in.bot.link.Swap(nil) // no connection yet
		stop := in.bot.schedule(context.Background())
		defer stop()
		time.Sleep(90 * time.Second)
		if owing, err := in.db.ShopsUndelivered(context.Background(), time.Now().Add(1000*24*time.Hour)); err != nil ||
			len(owing) != 0 {
			t.Errorf("owed: %v, %v", owing, err)
		}
		wall.set(0)
		in.bot.link.Store(link)
		_, _ = in.bot.registerCommands(context.Background())
		time.Sleep(5 * time.Second)
		if len(in.server.Messages(in.channel)) == 0 {
			t.Error("nothing is posted once Discord was heard")
		}
	})
}

// A clock that nobody can hold against Discord's, since there is no connection, judges
// nothing once it has jumped.
func TestClockJumpsWhileDisconnected(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in, wall, log := withClock(t)
		defer in.close()
		_, _ = in.bot.registerCommands(context.Background())
		stop := in.bot.schedule(context.Background())
		defer stop()
		in.bot.link.Store(nil)
		wall.set(400 * 24 * time.Hour)
		time.Sleep(10 * time.Minute)
		if in.tags() != 0 || counted(log, "clock is wrong") != 1 {
			t.Errorf("%d tags; %s", in.tags(), log)
		}
	})
}

// With a wrong clock reports take Discord's time, and so do the poster's waits: what fails
// is tried again within seconds, and not in a year.
func TestClockOfReportsAndWaits(t *testing.T) {
	t.Parallel()
	for _, off := range []time.Duration{0, 400 * 24 * time.Hour, -400 * 24 * time.Hour} {
		synctest.Test(t, func(t *testing.T) {
			in, wall, _ := withClock(t)
			defer in.close()
			_, _ = in.bot.registerCommands(context.Background())
			stop := in.bot.schedule(context.Background())
			defer stop()
			wall.set(off)
			in.server.Fail("POST", "/channels/*", discordtest.BadGateway, 1)
			in.slash(in.ada, "tagout", "machine=Marble", "reason=loose")
			synctest.Wait() // the first attempt has failed
			wall.set(0)
			time.Sleep(10 * time.Second)
			if n := made(in.server, "GET", "/channels"); n != 0 {
				t.Errorf("off by %v: looked for %d times, as after a nonce's minutes", off, n)
			}
			if all := in.server.Messages(in.channel); len(all) != 1 || !all[0].Pinned {
				t.Errorf("off by %v: in the channel stands %+v", off, all)
			}
			last, err := in.db.Shop(domain.ShopID(in.guild.ID)).LastBy(context.Background(), domain.PersonID(in.ada.ID))
			in.check(err)
			if age := time.Since(last.Recorded); age < 9*time.Second || age > 15*time.Second ||
				!last.At.Equal(last.Recorded) {
				t.Errorf("off by %v: recorded %v ago, as of %v", off, age, last.At)
			}
		})
	}
}

// While the clocks are apart nothing is judged, by whatever time; before and after it is.
func TestClockApartIsNotSwept(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in, wall, _ := withClock(t)
		defer in.close()
		wakes := &counting{}
		in.bot.cfg.Desk = commands.NewDesk(nil, wakes, in.catalogue)
		_, _ = in.bot.registerCommands(context.Background())
		count := func() int { return int(wakes.n.Swap(0)) }
		for _, test := range []struct {
			off  time.Duration
			want int
		}{{0, 1}, {time.Minute, 1}, {3 * time.Minute, 0}, {-3 * time.Minute, 0}, {400 * 24 * time.Hour, 0}, {0, 1}} {
			wall.set(test.off)
			in.bot.safely("wake", func() { in.bot.tick(context.Background()) })
			if got := count(); got != test.want {
				t.Errorf("off by %v: swept %d times, want %d", test.off, got, test.want)
			}
		}
	})
}

// An interaction that Discord accepted the answer to corrects what a date had wrong.
func TestClockAcceptedCorrectsADate(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in, _, log := withClock(t)
		defer in.close()
		wrong := time.Now().Add(9 * time.Hour).UTC().Format(http.TimeFormat)
		in.bot.clock.dated(http.Header{"Date": {wrong}})
		for _, test := range []struct {
			name   string
			answer discordtest.Fault
			agrees bool
		}{
			{"refused", discordtest.Fault{Status: 404, Body: `{"code": 10062, "message": "Unknown interaction"}`,
				Header: map[string]string{"Date": wrong}}, false},
			{"accepted", discordtest.Fault{Status: 204, Served: true, Header: map[string]string{"Date": wrong}}, true},
		} {
			in.server.Fail("POST", "/interactions/*", test.answer, 1)
			in.slash(in.ada, "due")
			if in.bot.clock.agrees() != test.agrees {
				t.Errorf("%s: the clocks agree: %v\n%s", test.name, !test.agrees, log)
			}
		}
	})
}

// A notice that is owed while Discord cannot be reached and the clock is wrong is not put
// off by it.
func TestClockUnheardPutsNothingOff(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in, wall, _ := withClock(t)
		defer in.close()
		now := time.Now()
		_, err := in.db.Shop(domain.ShopID(in.guild.ID)).Report(context.Background(), domain.Entry{Key: "out",
			Machine: 1, At: now, Recorded: now, By: "ada", For: "ada",
			Body: domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: "loose"}}})
		in.check(err)
		for _, path := range []string{"/applications", "/channels"} {
			for _, method := range []string{"GET", "POST", "PUT"} {
				in.server.Fail(method, path, discordtest.Fault{Drop: true}, 1000)
			}
		}
		wall.set(400 * 24 * time.Hour)
		stop := in.bot.schedule(context.Background())
		defer stop()
		time.Sleep(10 * time.Minute)
		wall.set(0)
		in.server.Mend()
		time.Sleep(2 * time.Minute)
		if all := in.server.Messages(in.channel); len(all) != 1 {
			t.Errorf("in the channel stand %d messages", len(all))
		}
	})
}

// The wake's times are sums, so that they go by the steady clock under them, whatever
// somebody sets the other to; and they are full minutes.
func TestEveryMinute(t *testing.T) {
	t.Parallel()
	now := time.Now()
	next := everyMinute{}.Next(now)
	if !strings.Contains(next.String(), " m=") {
		t.Error("the next wake has lost the steady clock")
	}
	if wait := next.Sub(now); wait <= 0 || wait > time.Minute || next.Second() != 0 || next.Nanosecond() != 0 {
		t.Errorf("from %v the next is %v", now, next)
	}
	if next := (everyMinute{}).Next(noon); !next.Equal(noon.Add(time.Minute)) {
		t.Errorf("from a full minute the next is %v", next)
	}
}
