package bot

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"github.com/bwmarrin/discordgo"
	"github.com/gorilla/websocket"
)

// Refused is Discord's refusal to be connected to, by the code with which its gateway
// closes: trying again would not help.
type Refused struct{ Code int }

// codeToken is the gateway's refusal of a token.
const codeToken = 4004

// refusals says, for each close code after which a client must not come back, what is
// wrong and what to do about it.
var refusals = map[int]string{
	codeToken: "Discord refuses the token: it is wrong or was reset, so copy the bot's token from the developer " +
		"portal again",
	4010: "Discord refuses the shard that Setscrew asked for: that is a fault of Setscrew's, please report it",
	4011: "Discord wants the bot in shards, since it is in too many servers for one connection: Setscrew has only " +
		"one, so take the bot out of some servers",
	4012: "Discord no longer speaks Setscrew's version of its gateway: get a newer Setscrew",
	4013: "Discord does not know the events that Setscrew asked for: that is a fault of Setscrew's, please report it",
	4014: "Discord does not let this application have the events that Setscrew asked for: see that the token is that " +
		"of Setscrew's own application, and report it if so, since Setscrew needs no privileged intent",
}

// Error says what is wrong and what to do about it.
func (r Refused) Error() string { return fmt.Sprintf("%s (%d)", refusals[r.Code], r.Code) }

// link is one session of the library, with a connection that can be watched and
// cut from outside without touching any of the session's locks.
type link struct {
	s     *discordgo.Session
	heard atomic.Int64 // unix nanoseconds of the last byte that came
	conn  atomic.Pointer[net.Conn]
	gone  chan struct{} // a connection was lost; holds at most one

	identified atomic.Bool // it began its one session
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
	session.Identify.Intents = discordgo.IntentsGuilds // roles and channels of servers; it is not privileged
	session.SyncEvents = true                          // in order; so no handler may wait for anything
	session.LogLevel = -1                              // what matters is logged here; the library would print tokens
	session.Dialer = fresh.dialer(nil)
	session.AddHandler(func(*discordgo.Session, *discordgo.Disconnect) {
		select {
		case fresh.gone <- struct{}{}:
		default:
		}
	})
	return fresh, nil
}

// dialer connects to the gateway, trusting the given authorities, or the system's if nil.
// Encryption is done here, so that what the library writes can be read; but through a
// proxy, which the library's own dialer knows, it is the dialer's, and the library may
// identify as often as it likes.
func (l *link) dialer(trusted *x509.CertPool) *websocket.Dialer {
	plain := net.Dialer{Timeout: 10 * time.Second}
	dial := func(ctx context.Context, network, addr string) (net.Conn, error) {
		opened, err := plain.DialContext(ctx, network, addr)
		if err != nil {
			return nil, err
		}
		l.heard.Store(time.Now().UnixNano())
		heard := net.Conn(&listening{opened, &l.heard})
		l.conn.Store(&heard)
		return heard, nil
	}
	dialer := &websocket.Dialer{HandshakeTimeout: 15 * time.Second, Proxy: http.ProxyFromEnvironment,
		NetDialContext: func(ctx context.Context, network, addr string) (net.Conn, error) {
			c, err := dial(ctx, network, addr)
			if err != nil {
				return nil, err
			}
			return &once{c, &l.identified}, nil
		}}
	gateway := &http.Request{URL: &url.URL{Scheme: "https", Host: "gateway.discord.gg"}}
	if proxy, err := http.ProxyFromEnvironment(gateway); proxy != nil || err != nil {
		return dialer
	}
	dialer.NetDialTLSContext = func(ctx context.Context, network, addr string) (net.Conn, error) {
		host, _, err := net.SplitHostPort(addr)
		if err != nil {
			return nil, err
		}
		opened, err := dial(ctx, network, addr)
		if err != nil {
			return nil, err
		}
		encrypted := tls.Client(opened, &tls.Config{ServerName: host, RootCAs: trusted, MinVersion: tls.VersionTLS12})
		if err := encrypted.HandshakeContext(ctx); err != nil {
			return nil, errors.Join(err, opened.Close())
		}
		return &once{encrypted, &l.identified}, nil
	}
	return dialer
}

// once is a connection on which one identify leaves in a link's life. Told that its
// session is invalid, the library would identify at once, and again for as long as it is
// told so; yet Discord takes one identify in five seconds and a thousand a day, and resets
// the token of whoever makes more. A second one closes the connection instead.
type once struct {
	net.Conn
	identified *atomic.Bool
}

var errIdentified = errors.New("the session is invalid")

// Write sends what the library writes, a whole packet at a time.
func (c *once) Write(p []byte) (int, error) {
	if isIdentify(p) && c.identified.Swap(true) {
		c.Close() //nolint:errcheck // it is given up
		return 0, errIdentified
	}
	return c.Conn.Write(p)
}

// isIdentify reports whether a client's websocket frame is an identify (op 2).
func isIdentify(frame []byte) bool {
	// RFC 6455, 5.2: a final frame of text, a length of 7 or 16 bits, four bytes of mask.
	if len(frame) < 2 || frame[0] != 0x81 || frame[1]&0x80 == 0 {
		return false
	}
	mask := frame[2:]
	if frame[1]&0x7f == 126 && len(frame) > 4 {
		mask = frame[4:]
	}
	const begin = `{"op":2,`
	if len(mask) < 4+len(begin) {
		return false
	}
	for i := range len(begin) {
		if mask[4+i]^mask[i%4] != begin[i] {
			return false
		}
	}
	return true
}

// allowance is how long to wait before a session is begun, by what Discord says is left
// of the day's identifies: nothing while it is more than half, then as long as spreads
// the rest over the day. So no loop of crashes, over however many processes, uses them up.
func (l *link) allowance(ctx context.Context) (time.Duration, error) {
	told, err := l.s.GatewayBot(discordgo.WithContext(ctx))
	if err != nil {
		return 0, asRefused(err)
	}
	limit := told.SessionStartLimit
	rest := time.Duration(limit.ResetAfter) * time.Millisecond
	switch {
	case limit.Remaining*2 > limit.Total:
		return 0, nil
	case limit.Remaining < 1:
		return rest, nil
	}
	return rest / time.Duration(limit.Remaining), nil
}

// asRefused is an error of connecting, Refused if Discord refuses for good.
func asRefused(err error) error {
	var closed *websocket.CloseError
	if errors.As(err, &closed) && refusals[closed.Code] != "" {
		return Refused{closed.Code}
	}
	var rest *discordgo.RESTError
	if errors.As(err, &rest) && rest.Response != nil && rest.Response.StatusCode == http.StatusUnauthorized {
		return Refused{codeToken}
	}
	return err
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
		return asRefused(err), false
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
