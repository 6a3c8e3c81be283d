package bot

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net"
	"net/http"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"github.com/bwmarrin/discordgo"
	"github.com/gorilla/websocket"
)

// ErrRefused is a token, or a request to connect, that Discord refuses for
// good: trying again would not help.
var ErrRefused = errors.New("refused by Discord: see that the token is right and the application still exists")

// refusedCodes are the close codes after which a client must not reconnect.
var refusedCodes = map[int]bool{4004: true, 4010: true, 4011: true, 4012: true, 4013: true, 4014: true}

// link is one session of the library, with a connection that can be watched and
// cut from outside without touching any of the session's locks.
type link struct {
	s     *discordgo.Session
	heard atomic.Int64 // unix nanoseconds of the last byte that came
	conn  atomic.Pointer[net.Conn]
	gone  chan struct{} // a connection was lost; holds at most one
}

// newLink constructs a session: the only place that does. Its library would
// post again blindly after a 502, sleep without limit on a 429, and reconnect
// for ever whatever the reason; all three are switched off and done here.
func newLink(token string, client *http.Client) (*link, error) {
	session, err := discordgo.New("Bot " + token)
	if err != nil {
		return nil, err
	}
	fresh := &link{s: session, gone: make(chan struct{}, 1)}
	session.Client = withoutLimits(client)
	session.MaxRestRetries = 0
	session.ShouldRetryOnRateLimit = false
	session.ShouldReconnectOnError = false
	session.ShouldReconnectVoiceOnSessionError = false
	session.StateEnabled = false
	session.Identify.Intents = discordgo.IntentsNone
	session.LogLevel = -1 // what matters is logged here; the library would print tokens
	dialer := net.Dialer{Timeout: 10 * time.Second}
	session.Dialer = &websocket.Dialer{HandshakeTimeout: 15 * time.Second, Proxy: http.ProxyFromEnvironment,
		NetDialContext: func(ctx context.Context, network, addr string) (net.Conn, error) {
			c, err := dialer.DialContext(ctx, network, addr)
			if err != nil {
				return nil, err
			}
			fresh.heard.Store(time.Now().UnixNano())
			heard := net.Conn(&listening{c, &fresh.heard})
			fresh.conn.Store(&heard)
			return heard, nil
		}}
	session.AddHandler(func(*discordgo.Session, *discordgo.Disconnect) {
		select {
		case fresh.gone <- struct{}{}:
		default:
		}
	})
	return fresh, nil
}

// withoutLimits is a client whose answers carry no rate-limit headers, and whose every
// 429 is one that the library understands. It would sleep on the headers, however
// long, holding its lock and deaf to the context; a 429 itself is an error here, with
// its own time to wait.
func withoutLimits(c *http.Client) *http.Client {
	limited := *c
	next := c.Transport
	if next == nil {
		next = http.DefaultTransport
	}
	limited.Transport = limitless{next}
	return &limited
}

type limitless struct{ next http.RoundTripper }

func (l limitless) RoundTrip(r *http.Request) (*http.Response, error) {
	resp, err := l.next.RoundTrip(r)
	if err != nil {
		return nil, err
	}
	everywhere := resp.Header.Get("X-RateLimit-Global") == "true"
	// any order: each is deleted
	for k := range resp.Header {
		if strings.HasPrefix(http.CanonicalHeaderKey(k), "X-Ratelimit-") {
			resp.Header.Del(k)
		}
	}
	kind, _, _ := mime.ParseMediaType(resp.Header.Get("Content-Type"))
	switch {
	case resp.StatusCode != http.StatusTooManyRequests:
	case kind == "application/json" && everywhere:
		// The library's error has no room for it but in its message.
		var said struct {
			Wait float64 `json:"retry_after"`
		}
		err := json.NewDecoder(io.LimitReader(resp.Body, 1<<16)).Decode(&said)
		if err = errors.Join(err, resp.Body.Close()); err != nil {
			return nil, fmt.Errorf("read how long to wait: %w", err)
		}
		text := fmt.Sprintf(`{"message": %q, "retry_after": %g}`, limitedEverywhere, said.Wait)
		resp.Body, resp.ContentLength = io.NopCloser(strings.NewReader(text)), int64(len(text))
	case kind != "application/json":
		// What stands before Discord answers with a page, of which the library would
		// say only that it is no JSON.
		wait := longestWait
		if seconds, err := strconv.Atoi(resp.Header.Get("Retry-After")); err == nil {
			wait = time.Duration(seconds) * time.Second
		}
		resp.Body.Close() //nolint:errcheck // nothing in it is needed
		text := fmt.Sprintf(`{"message": "a page instead of an answer", "retry_after": %g}`, wait.Seconds())
		resp.Body, resp.ContentLength = io.NopCloser(strings.NewReader(text)), int64(len(text))
	}
	return resp, nil
}

// limitedEverywhere is the message of an error that forbids requests to every channel.
const limitedEverywhere = "no requests at all"

// listening notes when anything was read.
type listening struct {
	net.Conn
	heard *atomic.Int64
}

func (c *listening) Read(p []byte) (int, error) {
	n, err := c.Conn.Read(p)
	if n > 0 {
		c.heard.Store(time.Now().UnixNano())
	}
	return n, err
}

// silence is how long nothing has come.
func (l *link) silence() time.Duration { return time.Since(time.Unix(0, l.heard.Load())) }

// cut closes the connection beneath the session. Nothing is said to Discord, so
// the session can be resumed.
func (l *link) cut() {
	if c := l.conn.Load(); c != nil {
		(*c).Close() //nolint:errcheck // it may be closed already
	}
}

// open connects, or resumes, within a time. The library can hang for good in
// here (a reconnect asked for while resuming deadlocks it); then ok is false
// and the link must be given up.
func (l *link) open(ctx context.Context, within time.Duration) (err error, hung bool) {
	done := make(chan error, 1)
	go func() { done <- l.s.Open() }()
	timer := time.NewTimer(within)
	defer timer.Stop()
	select {
	case err := <-done:
		var closed *websocket.CloseError
		if errors.As(err, &closed) && refusedCodes[closed.Code] {
			return ErrRefused, false
		}
		var rest *discordgo.RESTError
		if errors.As(err, &rest) && rest.Response != nil && rest.Response.StatusCode == http.StatusUnauthorized {
			return ErrRefused, false
		}
		return err, false
	case <-timer.C:
	case <-ctx.Done():
	}
	l.cut()
	// Cut off, an honest Open ends at once; a deadlocked one never does.
	grace := time.NewTimer(time.Second)
	defer grace.Stop()
	select {
	case err := <-done:
		return errors.Join(context.DeadlineExceeded, err), false
	case <-grace.C:
		return context.DeadlineExceeded, true
	}
}

// close ends the session, waiting no longer than a time for the library.
func (l *link) close(within time.Duration) {
	done := make(chan struct{})
	go func() { l.s.Close(); close(done) }() //nolint:errcheck
	select {
	case <-done:
	case <-time.After(within):
		l.cut()
	}
}
