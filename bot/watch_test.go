package bot

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"setscrew/bot/discordtest"
	"setscrew/commands"
	"setscrew/domain"
)

// What is under way at the end is waited for, and cut off so that all of the end takes
// less than the ten seconds after which a supervisor kills: an answer that Discord stalls,
// and whatever goes on by itself and does not stop.
func TestTheEndIsBounded(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name           string
		command        string
		stalled, hangs time.Duration
		least, most    time.Duration
	}{
		{name: "nothing under way", most: time.Second},
		{"an answer that takes a while", "hours", 2 * time.Second, 0, 2 * time.Second, 3 * time.Second},
		{"an answer that may take a minute", "why", time.Hour, 0, drainWithin, 10*time.Second - time.Millisecond},
		{"a job that does not stop", "", 0, 20 * time.Second, drainWithin, 10*time.Second - time.Millisecond},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			synctest.Test(t, func(t *testing.T) {
				in := newInside(t)
				defer in.close()
				in.server.Fail("POST", "/interactions/*", discordtest.Fault{Status: 204, Served: true,
					Stalled: test.stalled}, 1)
				if test.command == "why" {
					// It is acknowledged at once; what follows hangs.
					in.server.Mend()
					in.server.Fail("PATCH", "/webhooks/*", discordtest.Fault{Status: 204, Stalled: test.stalled}, 1)
				}
				if test.command != "" {
					options := map[string][]string{"hours": {"machine=Marble", "hours=1", "sure=yes"},
						"why": {"machine=Marble"}}
					go in.slash(in.ada, test.command, options[test.command]...)
				}
				synctest.Wait()
				begun := time.Now()
				in.bot.drain(func() { time.Sleep(test.hangs) })
				if took := time.Since(begun); took < test.least || took > test.most {
					t.Errorf("the end took %v, want %v to %v", took, test.least, test.most)
				}
				// Nothing is left over, and nothing more is taken.
				time.Sleep(time.Minute)
				if i := in.slash(in.ada, "due"); i.Answered() {
					t.Error("answered after the end")
				}
			})
		})
	}
}

// Whoever watches is told each answer's name and outcome, of suggestions and buttons too;
// a name that is none of the commands' is not passed on.
func TestWatchIsToldOfAnswers(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in := newInside(t)
		defer in.close()
		var told []string
		in.bot.cfg.Watch.Answered = func(name string, outcome Outcome, took time.Duration) {
			told = append(told, fmt.Sprint(name, " ", outcome, " ", took))
		}
		in.slash(in.ada, "hours", "machine=Marble", "hours=1", "sure=yes")
		in.slash(in.ada, "hours", "machine=Granite", "hours=1")
		in.server.Fail("POST", "/interactions/*", discordtest.APIError(http.StatusNotFound, 10062, "Unknown"), 1)
		in.slash(in.ada, "hours", "machine=Marble", "hours=1", "sure=yes")
		in.server.Fail("POST", "/interactions/*", discordtest.Fault{Status: 204, Served: true,
			Stalled: time.Second}, 1)
		in.slash(in.ada, "due")
		in.bot.answered(event{kind: 2, command: "made up by somebody"}, true, nil, time.Now())
		in.bot.answered(event{kind: 3, command: "x"}, false, nil, time.Now())
		in.bot.answered(event{kind: 5}, true, nil, time.Now())
		in.bot.answered(event{kind: 4, command: "due"}, false, nil, time.Now())
		want := []string{"hours done 0s", "hours refused 0s", "hours undelivered 0s", "due done 1s",
			"unknown refused 0s", "press done 0s", "press refused 0s", "complete done 0s"}
		if !slices.Equal(told, want) {
			t.Errorf("told %q, want %q", told, want)
		}
	})
}

// A panic is caught and counted.
func TestWatchIsToldOfPanics(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in := newInside(t)
		defer in.close()
		panics, sweeps := 0, 0
		in.bot.cfg.Watch = Watch{Panicked: func() { panics++ }, Swept: func(time.Duration, error) { sweeps++ }}
		in.bot.safely("a test", func() { panic("out of range") })
		in.bot.safely("a test", func() {})
		in.bot.sweep(context.Background())
		if panics != 1 || sweeps != 1 {
			t.Errorf("told of %d panics and %d sweeps, want one of each", panics, sweeps)
		}
	})
}

// What keeps notices from their channel is logged once for each reason, and once when it
// is over; so is what the channel refuses.
func TestFailuresOfNoticesAreLoggedOnce(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in := newInside(t)
		defer in.close()
		var out bytes.Buffer
		log := slog.New(slog.NewTextHandler(&out, nil))
		in.bot.poster.Log, in.bot.access.log = log, log
		settings := in.bot.poster.Settings
		unset := func(ctx context.Context, id domain.ShopID) (domain.Shop, error) {
			shop, err := settings(ctx, id)
			shop.NoticeChannel = ""
			return shop, err
		}
		drain := func() {
			t.Helper()
			time.Sleep(25 * time.Hour)
			_, err := in.bot.poster.Drain(context.Background(), time.Now())
			in.check(err)
		}
		wantLog := func(want ...string) {
			t.Helper()
			for _, w := range want {
				if strings.Count(out.String(), w) != 1 {
					t.Errorf("want once %q in\n%s", w, out.String())
				}
			}
			if got := strings.Count(out.String(), "\n"); got != len(want) {
				t.Errorf("%d lines, want %d:\n%s", got, len(want), out.String())
			}
			out.Reset()
		}
		in.slash(in.ada, "tagout", "machine=Marble", "reason=loose")
		in.bot.poster.Settings = unset
		drain()
		drain()
		wantLog(`notices do not reach their channel" shop=` + in.guild.ID + ` reason="no channel for notices is set"`)
		in.bot.poster.Settings = settings
		in.server.Fail("POST", "/channels/*/messages", discordtest.APIError(http.StatusForbidden, 50013,
			"Missing Permissions"), 2)
		drain()
		drain()
		wantLog("notices reach their channel again", "a notice could not be posted")
		drain()
		wantLog("notices are posted again")
		drain()
		wantLog()
	})
}

// A pin that is refused is logged, and that it is over.
func TestRefusedPinIsOver(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	known := newAccess(slog.New(slog.NewTextHandler(&out, nil)))
	shop := domain.Shop{ID: "1", NoticeChannel: "2"}
	for _, ok := range []bool{true, false, false, true, true} {
		known.pins(shop, ok)
	}
	for _, want := range []string{"a notice could not be pinned", "notices can be pinned again"} {
		if strings.Count(out.String(), want) != 1 {
			t.Errorf("want once %q in\n%s", want, out.String())
		}
	}
	if is := known.channel("1", "2"); slices.Contains(is.Lacks, commands.RightPin) {
		t.Error("the right to pin is taken to be lacking still")
	}
}

// Whether Discord is heard is known, and since when.
func TestAlive(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in := newInside(t)
		defer in.close()
		want := func(ails string, since time.Time) {
			t.Helper()
			if got, at := in.bot.Alive(); got != ails || !at.Equal(since) {
				t.Errorf("%q since %v, want %q since %v", got, at, ails, since)
			}
		}
		begun := time.Now()
		want("not connected to Discord", begun)
		time.Sleep(time.Minute)
		in.bot.noteConnected(true)
		in.bot.link.Load().heard.Store(time.Now().UnixNano())
		want("", begun.Add(time.Minute))
		time.Sleep(silentFor)
		in.bot.noteConnected(true)
		want("", begun.Add(time.Minute))
		time.Sleep(time.Second)
		want("nothing heard from Discord", begun.Add(time.Minute))
		in.bot.noteConnected(false)
		want("not connected to Discord", time.Now())
	})
}
