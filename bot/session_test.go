package bot

import (
	"context"
	"errors"
	"net/http"
	"testing"
	"testing/synctest"
	"time"

	"github.com/bwmarrin/discordgo"

	"setscrew/bot/discordtest"
)

// The library makes one request of each, and never sleeps on what its answer says of
// limits: it would do so deaf to the context.
func TestLibraryNeverSleeps(t *testing.T) {
	t.Parallel()
	hour := map[string]string{"X-RateLimit-Remaining": "0", "X-RateLimit-Reset-After": "3600",
		"X-RateLimit-Global": "true", "Retry-After": "3600"}
	for _, c := range []struct {
		name  string
		fault discordtest.Fault
	}{
		{"a limit reached", discordtest.Fault{Status: http.StatusOK, Body: "{}", Header: hour}},
		{"a limit exceeded", discordtest.TooMany(time.Hour, false)},
		{"a limit for everything", discordtest.TooMany(time.Hour, true)},
		{"a page", discordtest.HTMLTooMany},
		{"502", discordtest.BadGateway},
		{"500", discordtest.APIError(http.StatusInternalServerError, 0, "oops")},
	} {
		synctest.Test(t, func(t *testing.T) {
			s := discordtest.New()
			defer s.Close()
			l, err := newLink(discordtest.Token, s.Direct())
			if err != nil {
				t.Fatal(err)
			}
			s.Fail("GET", "/users/@me", c.fault, 1)
			begin := time.Now()
			ask := func() error {
				_, err := l.s.RequestWithBucketID("GET", discordgo.EndpointUser("@me"), nil, "me",
					discordgo.WithContext(context.Background()))
				return err
			}
			first := ask()
			if (first == nil) != (c.fault.Status == http.StatusOK) || made(s, "GET", "/users/@me") != 1 {
				t.Errorf("%s: %v after %d requests", c.name, first, made(s, "GET", "/users/@me"))
			}
			if err := ask(); err != nil {
				t.Errorf("%s: the next request: %v", c.name, err)
			}
			if d := time.Since(begin); d != 0 {
				t.Errorf("%s: it took %v", c.name, d)
			}
		})
	}
}

// What the library would do by itself is switched off: it would reconnect for ever,
// print tokens, and keep what it hears; and Discord would send more than interactions.
func TestLibraryIsQuiet(t *testing.T) {
	t.Parallel()
	l, err := newLink(discordtest.Token, &http.Client{})
	if err != nil {
		t.Fatal(err)
	}
	if s := l.s; s.ShouldReconnectOnError || s.ShouldReconnectVoiceOnSessionError || s.StateEnabled ||
		s.LogLevel >= discordgo.LogError || s.Identify.Intents != discordgo.IntentsNone {
		t.Errorf("it reconnects %t, %t, keeps a state %t, logs at %d, asks for intents %d", s.ShouldReconnectOnError,
			s.ShouldReconnectVoiceOnSessionError, s.StateEnabled, s.LogLevel, s.Identify.Intents)
	}
}

// Opening and closing a session takes no longer than it is given, even where the library
// hangs: it holds its lock here, as in the deadlock that it is known for.
func TestLinkGivesUpWhatHangs(t *testing.T) {
	t.Parallel()
	l, err := newLink(discordtest.Token, &http.Client{})
	if err != nil {
		t.Fatal(err)
	}
	l.s.Lock()
	type outcome struct {
		err  error
		hung bool
	}
	opened, closed := make(chan outcome, 1), make(chan bool, 1)
	go func() {
		err, hung := l.open(context.Background(), 20*time.Millisecond)
		opened <- outcome{err, hung}
		l.close(20 * time.Millisecond)
		closed <- true
	}()
	select {
	case o := <-opened:
		if !errors.Is(o.err, context.DeadlineExceeded) || !o.hung {
			t.Errorf("opening ended with %v, hung %t", o.err, o.hung)
		}
	case <-time.After(10 * time.Second):
		t.Fatal("opening takes more than ten seconds, not one")
	}
	select {
	case <-closed:
	case <-time.After(time.Second):
		t.Error("closing takes more than a second")
	}
}
