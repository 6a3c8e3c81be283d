package discordtest_test

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/json"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"setscrew/bot/discordtest"
)

// client is a bare client of the gateway.
type client struct {
	t  *testing.T
	ws *websocket.Conn
}

// packet is one of the gateway's.
type packet struct {
	Op   int             `json:"op"`
	Data json.RawMessage `json:"d"`
	Seq  int64           `json:"s"`
	Type string          `json:"t"`
}

func dial(t *testing.T, s *discordtest.Server) *client {
	t.Helper()
	ws, resp, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(s.URL(), "http")+"/gateway-socket/?v=9", nil)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	t.Cleanup(func() { ws.Close() })
	c := &client{t, ws}
	if p, err := c.read(); err != nil || p.Op != 10 || !strings.Contains(string(p.Data), "heartbeat_interval") {
		t.Fatalf("hello: %+v, %v", p, err)
	}
	return c
}

func (c *client) send(op int, data any) {
	c.t.Helper()
	if err := c.ws.WriteJSON(map[string]any{"op": op, "d": data}); err != nil {
		c.t.Fatal(err)
	}
}

func (c *client) read() (p packet, err error) {
	c.ws.SetReadDeadline(time.Now().Add(5 * time.Second)) //nolint:errcheck // it shows when reading
	kind, text, err := c.ws.ReadMessage()
	if err != nil {
		return p, err
	}
	if kind == websocket.BinaryMessage {
		z, err := zlib.NewReader(bytes.NewReader(text))
		if err != nil {
			return p, err
		}
		if text, err = io.ReadAll(z); err != nil {
			return p, err
		}
	}
	return p, json.Unmarshal(text, &p)
}

// expects reads a packet of an operation and type.
func (c *client) expects(op int, kind string) packet {
	c.t.Helper()
	p, err := c.read()
	if err != nil || p.Op != op || p.Type != kind {
		c.t.Fatalf("read %+v, %v, want op %d %s", p, err, op, kind)
	}
	return p
}

// closed reads until the connection ends, by a code.
func (c *client) closed(code int) {
	c.t.Helper()
	if p, err := c.read(); !websocket.IsCloseError(err, code) {
		c.t.Errorf("read %+v, %v, want it closed by %d", p, err, code)
	}
}

// identify begins a session and is its id.
func (c *client) identify() string {
	c.t.Helper()
	c.send(2, map[string]any{"token": "Bot " + discordtest.Token})
	var ready struct {
		Session string `json:"session_id"`
		Guilds  []struct{ ID string }
	}
	if err := json.Unmarshal(c.expects(0, "READY").Data, &ready); err != nil || ready.Session == "" ||
		len(ready.Guilds) != 1 {
		c.t.Fatalf("ready: %+v, %v", ready, err)
	}
	return ready.Session
}

func resume(session string, seq int64) map[string]any {
	return map[string]any{"token": discordtest.Token, "session_id": session, "seq": seq}
}

// A session that was cut off is resumed with what it missed, in order, and with nothing
// that it has; one that the client ended is not.
func TestGatewaySessions(t *testing.T) {
	t.Parallel()
	server, _, _, _ := newServer(t)
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	client := dial(t, server)
	session := client.identify()
	client.send(1, 1)
	client.expects(11, "")
	server.Raw("ONE", map[string]any{})
	if p := client.expects(0, "ONE"); p.Seq != 2 {
		t.Errorf("the first event has number %d", p.Seq)
	}
	server.DropConnections()
	if _, err := client.read(); err == nil {
		t.Error("the connection goes on")
	}
	server.Raw("TWO", map[string]any{})
	server.Raw("THREE", map[string]any{})
	client = dial(t, server)
	client.send(6, resume(session, 2))
	client.expects(0, "TWO")
	client.expects(0, "THREE")
	client.expects(0, "RESUMED")
	if err := server.UntilConnected(ctx, 2); err != nil || server.Connections() != 2 {
		t.Errorf("%v, %d connections", err, server.Connections())
	}
	if err := server.UntilConnected(ctx, 1); err != nil {
		t.Error(err)
	}
	// The client ends it.
	end := websocket.FormatCloseMessage(websocket.CloseNormalClosure, "")
	if err := client.ws.WriteControl(websocket.CloseMessage, end, time.Now().Add(time.Second)); err != nil {
		t.Fatal(err)
	}
	client.closed(websocket.CloseNormalClosure)
	client = dial(t, server)
	for deadline := time.Now().Add(5 * time.Second); ; {
		client.send(6, resume(session, 4))
		got, err := client.read()
		if err != nil {
			t.Fatal(err)
		}
		if got.Op == 9 && string(got.Data) == "false" {
			break
		}
		if time.Now().After(deadline) {
			t.Fatalf("a session that was ended is resumed: %+v", got)
		}
	}
	client.send(6, resume("none", 1))
	client.expects(9, "")
	short, cancel := context.WithTimeout(ctx, 20*time.Millisecond)
	defer cancel()
	if err := server.UntilConnected(short, 4); err == nil {
		t.Error("connected a fourth time")
	}
}

// What the gateway is told to do wrong, it does, and each once.
func TestGatewayFaults(t *testing.T) {
	t.Parallel()
	server, _, _, _ := newServer(t)
	server.HeartbeatInterval = time.Second
	client := dial(t, server)
	client.send(2, map[string]any{"token": "wrong"})
	client.closed(4004)
	client = dial(t, server)
	if err := client.ws.WriteMessage(websocket.TextMessage, []byte("{")); err != nil {
		t.Fatal(err)
	}
	client.closed(4002)

	client = dial(t, server)
	server.CloseNext(4014)
	client.send(2, map[string]any{"token": discordtest.Token})
	client.closed(4014)

	client = dial(t, server)
	server.IgnoreNext()
	client.send(2, map[string]any{"token": discordtest.Token})
	session := client.identify() // the first was not answered

	server.MuteAcks(true)
	client.send(1, 1)
	client.send(6, resume("none", 1))
	client.expects(9, "") // and no answer to the heartbeat before it
	server.MuteAcks(false)
	client.send(1, 1)
	client.expects(11, "")
	server.Compress(true)
	server.AskReconnect()
	client.expects(7, "")
	server.Compress(false)
	server.InvalidateSessions(true)
	if p := client.expects(9, ""); string(p.Data) != "true" {
		t.Errorf("invalid, to be resumed: %s", p.Data)
	}
	server.CloseConnections(4000)
	client.closed(4000)

	client = dial(t, server)
	server.ReconnectInsteadOfResuming()
	client.send(6, resume(session, 1))
	client.expects(7, "")
	server.RefuseResume()
	client.send(6, resume(session, 1))
	client.expects(9, "")
	client.send(6, resume(session, 1))
	client.expects(0, "RESUMED")
	server.InvalidateSessions(false)
	if p := client.expects(9, ""); string(p.Data) != "false" {
		t.Errorf("invalid for good: %s", p.Data)
	}
	client.send(6, resume(session, 1))
	client.expects(9, "")
}

// Within five seconds of another, an identify is told to wait; a thousand are taken in
// 24 hours, of which the application can ask what is left, and the next one costs the
// token.
func TestIdentifyLimits(t *testing.T) {
	t.Parallel()
	server, _, _, _ := newServer(t)
	hello := map[string]any{"token": discordtest.Token}
	left := func() (remaining, after float64) {
		t.Helper()
		_, a := api(t, server, "GET", "/gateway/bot", nil)
		limit, _ := a["session_start_limit"].(map[string]any)
		remaining, _ = limit["remaining"].(float64)
		after, _ = limit["reset_after"].(float64)
		return remaining, after
	}
	if n, _ := left(); n != 1000 {
		t.Errorf("%v left at first", n)
	}
	client := dial(t, server)
	client.identify()
	client = dial(t, server)
	server.Advance(4 * time.Second)
	client.send(2, hello)
	if p := client.expects(9, ""); string(p.Data) != "false" {
		t.Errorf("four seconds later: %s", p.Data)
	}
	server.Advance(5 * time.Second)
	client.identify()
	if n, after := left(); n != 997 || after <= 23.99*3600e3 || after > 24*3600e3-8e3 || server.Identifies() != 3 {
		t.Errorf("%v left for %v ms, after %d identifies", n, after, server.Identifies())
	}
	// Up to the limit, and one more.
	for range 997 {
		client = dial(t, server)
		server.Advance(5 * time.Second)
		client.identify()
		client.ws.Close()
	}
	if n, _ := left(); n != 0 {
		t.Errorf("%v left at the limit", n)
	}
	client = dial(t, server)
	server.Advance(5 * time.Second)
	client.send(2, hello)
	client.closed(4004)
	server.Advance(25 * time.Hour)
	client = dial(t, server)
	client.send(2, hello)
	client.closed(4004)
}

// A day later a thousand more are taken.
func TestIdentifiesReturn(t *testing.T) {
	t.Parallel()
	s, _, _, _ := newServer(t)
	dial(t, s).identify()
	s.Advance(24*time.Hour + time.Second)
	if n := s.Identifies(); n != 0 {
		t.Errorf("%d identifies a day later", n)
	}
}

// Each packet that breaks the gateway's rules closes the connection, by a code that says
// which; beside it stands one that is taken.
func TestGatewayRules(t *testing.T) {
	t.Parallel()
	server, _, _, _ := newServer(t)
	server.IdentifyEvery = time.Nanosecond
	who := func(more ...any) map[string]any {
		d := map[string]any{"token": discordtest.Token}
		for i := 0; i+1 < len(more); i += 2 {
			d[more[i].(string)] = more[i+1]
		}
		return d
	}
	for _, test := range []struct {
		name      string
		good, bad map[string]any
		code      int
	}{
		{"token", who(), map[string]any{"token": "other"}, 4004},
		{"shard", who("shard", []int{0, 1}), who("shard", []int{1, 1}), 4010},
		{"intents", who("intents", 1), who("intents", 1<<17), 4013},
		{"privileged intents", who("intents", 1<<25|1<<16), who("intents", 1<<1), 4014},
	} {
		client := dial(t, server)
		client.send(2, test.good)
		client.expects(0, "READY")
		client = dial(t, server)
		client.send(2, test.bad)
		if p, err := client.read(); !websocket.IsCloseError(err, test.code) {
			t.Errorf("%s: read %+v, %v, want it closed by %d", test.name, p, err, test.code)
		}
	}
	// Who asks before it identified, twice, of nothing, too much or too often.
	other := dial(t, server)
	other.send(3, map[string]any{"status": "online"})
	other.closed(4003)
	other = dial(t, server)
	session := other.identify()
	other.send(3, map[string]any{"status": "online"})
	other.send(1, 1)
	other.expects(11, "")
	other.send(2, who())
	other.closed(4005)
	other = dial(t, server)
	other.send(99, nil)
	other.closed(4001)
	other = dial(t, server)
	other.send(6, resume(session, 500))
	other.closed(4007)
	other = dial(t, server)
	other.send(6, resume(session, 1))
	other.expects(9, "") // it ended with that
	bare, err := json.Marshal(map[string]any{"op": 2, "d": who("more", "")})
	if err != nil {
		t.Fatal(err)
	}
	room := 4096 - len(bare) - 1 // a line's end is sent with it
	other = dial(t, server)
	other.send(2, who("more", strings.Repeat("x", room)))
	other.expects(0, "READY")
	other = dial(t, server)
	other.send(2, who("more", strings.Repeat("x", room+1)))
	other.closed(4002)
	other = dial(t, server)
	for range 120 {
		other.send(1, 1)
		other.expects(11, "")
	}
	server.Advance(time.Minute)
	for range 120 {
		other.send(1, 1)
		other.expects(11, "")
	}
	other.send(1, 1)
	other.closed(4008)
	// Another version of the API.
	ws, resp, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(server.URL(),
		"http")+"/gateway-socket/?v=5", nil)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	t.Cleanup(func() { ws.Close() })
	other = &client{t, ws}
	other.expects(10, "")
	other.send(2, who())
	other.closed(4012)
}

// A client that lets its heartbeats fall out is closed; one that sends them is not.
func TestHeartbeats(t *testing.T) {
	t.Parallel()
	server, _, _, _ := newServer(t)
	server.HeartbeatInterval = 200 * time.Millisecond
	alive := dial(t, server)
	alive.identify()
	server.Advance(time.Minute)
	silent := dial(t, server)
	silent.identify()
	ended := make(chan bool)
	go func() { silent.closed(4009); close(ended) }()
	for beats := 0; ; beats++ {
		alive.send(1, 1)
		alive.expects(11, "")
		select {
		case <-ended:
			if beats < 3 {
				t.Errorf("closed within %d heartbeats", beats)
			}
			if beats >= 10 { // more than two more heartbeats would have been missed
				return
			}
		default:
		}
		time.Sleep(100 * time.Millisecond)
	}
}

// An interaction may come twice, and whoever waits for messages is woken.
func TestGatewayRepeats(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	client := dial(t, desk.s)
	client.identify()
	before := time.Now()
	interaction := desk.slash("group sub", nil)
	desk.s.Again(interaction)
	first, second := client.expects(0, "INTERACTION_CREATE"), client.expects(0, "INTERACTION_CREATE")
	if !bytes.Equal(first.Data, second.Data) || first.Seq == second.Seq || !strings.Contains(string(first.Data),
		interaction.ID) {
		t.Errorf("delivered as %d %s and %d %s", first.Seq, first.Data, second.Seq, second.Data)
	}
	if interaction.Sent().Before(before) || interaction.Sent().After(time.Now()) {
		t.Errorf("sent at %v", interaction.Sent())
	}
	go func() {
		desk.s.Advance(time.Hour)
		api(t, desk.s, "POST", "/channels/"+desk.place.ID+"/messages", map[string]any{"content": "x"})
	}()
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	all, err := desk.s.UntilMessages(ctx, desk.place, 1)
	if err != nil || len(all) != 1 || all[0].At.Sub(before) < time.Hour || desk.s.Now().Sub(before) < time.Hour {
		t.Errorf("%+v, %v", all, err)
	}
	desk.s.Close()
	if _, err := client.read(); err == nil {
		t.Error("the connection outlives the server")
	}
}
