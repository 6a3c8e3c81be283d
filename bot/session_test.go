package bot

import (
	"context"
	"crypto/x509"
	"errors"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/bwmarrin/discordgo"
	"github.com/gorilla/websocket"

	"setscrew/bot/discordtest"
)

// The library makes one request of each, and never sleeps on what its answer says of
// limits: it would do so deaf to the context.
func TestLibraryNeverSleeps(t *testing.T) {
	t.Parallel()
	hour := map[string]string{"X-RateLimit-Remaining": "0", "X-RateLimit-Reset-After": "3600",
		"X-RateLimit-Global": "true", "Retry-After": "3600"}
	for _, test := range []struct {
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
			server := discordtest.New()
			defer server.Close()
			link, err := newLink(discordtest.Token, server.Direct())
			if err != nil {
				t.Fatal(err)
			}
			server.Fail("GET", "/users/@me", test.fault, 1)
			begin := time.Now()
			ask := func() error {
				_, err := link.s.RequestWithBucketID("GET", discordgo.EndpointUser("@me"), nil, "me",
					discordgo.WithContext(context.Background()))
				return err
			}
			first := ask()
			if (first == nil) != (test.fault.Status == http.StatusOK) || made(server, "GET", "/users/@me") != 1 {
				t.Errorf("%s: %v after %d requests", test.name, first, made(server, "GET", "/users/@me"))
			}
			if err := ask(); err != nil {
				t.Errorf("%s: the next request: %v", test.name, err)
			}
			if d := time.Since(begin); d != 0 {
				t.Errorf("%s: it took %v", test.name, d)
			}
		})
	}
}

// What the library would do by itself is switched off: it would reconnect for ever,
// print tokens, keep what it hears, and hand it on in no order; and Discord would send more
// than is needed of servers.
func TestLibraryIsQuiet(t *testing.T) {
	t.Parallel()
	l, err := newLink(discordtest.Token, &http.Client{})
	if err != nil {
		t.Fatal(err)
	}
	if s := l.s; s.ShouldReconnectOnError || s.ShouldReconnectVoiceOnSessionError || s.StateEnabled ||
		s.LogLevel >= discordgo.LogError || s.Identify.Intents != discordgo.IntentsGuilds || !s.SyncEvents {
		t.Errorf("it reconnects %t, %t, keeps a state %t, logs at %d, asks for intents %d", s.ShouldReconnectOnError,
			s.ShouldReconnectVoiceOnSessionError, s.StateEnabled, s.LogLevel, s.Identify.Intents)
	}
}

// Opening and closing a session takes no longer than it is given, even where the library
// hangs: it holds its lock here, as in the deadlock that it is known for.
func TestLinkGivesUpWhatHangs(t *testing.T) {
	t.Parallel()
	link, err := newLink(discordtest.Token, &http.Client{})
	if err != nil {
		t.Fatal(err)
	}
	link.s.Lock()
	type outcome struct {
		err  error
		hung bool
	}
	opened, closed := make(chan outcome, 1), make(chan bool, 1)
	go func() {
		err, hung := link.open(context.Background(), 20*time.Millisecond)
		opened <- outcome{err, hung}
		link.close(20 * time.Millisecond)
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

// A second identify over an encrypted connection closes it; what else a client sends, and
// the first, arrive as they were written.
func TestOneIdentifyALink(t *testing.T) {
	t.Parallel()
	const identify = `{"op":2,"d":{"token":"x"}}`
	got := make(chan string, 10)
	gateway := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		ws, err := (&websocket.Upgrader{}).Upgrade(w, r, nil)
		if err != nil {
			t.Error(err)
			return
		}
		defer ws.Close() //nolint:errcheck // it ends with the test
		for {
			_, text, err := ws.ReadMessage()
			if err != nil {
				got <- "ended"
				return
			}
			got <- string(text)
		}
	}))
	gateway.Config.ErrorLog = log.New(io.Discard, "", 0) // of the stranger in the end
	gateway.StartTLS()
	defer gateway.Close()
	link, err := newLink(discordtest.Token, &http.Client{})
	if err != nil {
		t.Fatal(err)
	}
	trusted := x509.NewCertPool()
	trusted.AddCert(gateway.Certificate())
	for round, sends := range [][]string{
		{`{"op":1,"d":2}`, `{"op":6,"d":{}}`, identify, strings.Repeat(" ", 1000) + identify},
		{`{"op":6,"d":{"op":2,"token":""}}`},
	} {
		ws, resp, err := link.dialer(trusted).Dial("wss"+strings.TrimPrefix(gateway.URL, "https"), nil)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close() //nolint:errcheck // nothing in it is needed
		for _, text := range sends {
			if err := ws.WriteMessage(websocket.TextMessage, []byte(text)); err != nil {
				t.Fatalf("connection %d: %.40q: %v", round, text, err)
			}
			if arrived := <-got; arrived != text {
				t.Errorf("connection %d: %.40q arrived as %.40q", round, text, arrived)
			}
		}
		long := `{"op":2,"d":{"token":"` + strings.Repeat("x", 300) + `"}}`
		for _, text := range []string{identify, long}[round:] {
			if err := ws.WriteMessage(websocket.TextMessage, []byte(text)); err == nil {
				t.Errorf("connection %d: a second identify was written", round)
			}
		}
		if arrived := <-got; arrived != "ended" {
			t.Errorf("connection %d: %.40q arrived", round, arrived)
		}
		ws.Close() //nolint:errcheck
	}
	if link.silence() > time.Minute {
		t.Errorf("nothing was heard for %v", link.silence())
	}
	// Whoever cannot show that it is Discord is not talked to.
	stranger := "wss" + strings.TrimPrefix(gateway.URL, "https")
	if ws, _, err := link.dialer(nil).Dial(stranger, nil); err == nil { //nolint:bodyclose // there is none
		ws.Close() //nolint:errcheck
		t.Error("connected to a stranger")
	}
}

// An identify of any length, and masked by anything, is known; nothing else is one.
func TestIsIdentify(t *testing.T) {
	t.Parallel()
	frame := func(head []byte, text string) []byte {
		mask := []byte{7, 200, 31, 4}
		all := append(slices.Clone(head), mask...)
		for i := range len(text) {
			all = append(all, text[i]^mask[i%4])
		}
		return all
	}
	const text = `{"op":2,"d":{}}`
	long := text + strings.Repeat(" ", 300)
	for _, test := range []struct {
		name  string
		frame []byte
		want  bool
	}{
		{"short", frame([]byte{0x81, 0x80 | byte(len(text))}, text), true},
		{"long", frame([]byte{0x81, 0xfe, byte(len(long) >> 8), byte(len(long))}, long), true},
		{"op 22", frame([]byte{0x81, 0x80 | byte(len(text))}, `{"op":22,"d":{}`), false},
		{"heartbeat", frame([]byte{0x81, 0x8e}, `{"op":1,"d":2}`), false},
		{"a close", frame([]byte{0x88, 0x8f}, text), false},
		{"no mask", append([]byte{0x81, byte(len(text))}, text...), false},
		{"a request", []byte("GET /?v=9 HTTP/1.1\r\n\r\n"), false},
		{"nothing", nil, false},
		{"cut off", frame([]byte{0x81, 0x8f}, text[:5]), false},
		{"cut off in its length", []byte{0x81, 0xfe, 1}, false},
	} {
		if got := isIdentify(test.frame); got != test.want {
			t.Errorf("%s: %t", test.name, got)
		}
	}
}
