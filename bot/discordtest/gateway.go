package discordtest

import (
	"bytes"
	"cmp"
	"compress/zlib"
	"context"
	"encoding/json"
	"maps"
	"net/http"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/gorilla/websocket"
)

// gateway is the server's side of the websocket.
type gateway struct {
	wg       sync.WaitGroup
	conns    []*conn
	sessions map[string]*session
	count    int // connections accepted
	muted    bool
	zlib     bool

	identifies []time.Time // of the last day
	banned     bool        // more than a day's identifies were made: the token is reset

	closeNext     int  // close code for the next identify or resume
	reconnectNext bool // op 7 as the first packet after the next resume
	refuseResume  bool
	silentNext    bool // never answers the next identify or resume
}

// session is what the gateway remembers of a client between connections.
type session struct {
	id     string
	seq    int64
	events []event // not yet acknowledged by a heartbeat
	conn   *conn
	// intents are the kinds of events that the client asked for, a bit each.
	intents int
}

type event struct {
	seq  int64
	name string
	data json.RawMessage
}

type conn struct {
	ws      *websocket.Conn
	version string // of the API, as the client dialled
	write   sync.Mutex
	session *session
	sent    []time.Time // packets of the last minute
	beats   *time.Timer // closes the connection when no heartbeat comes
	closed  atomic.Bool // by the server: what the client says to that ends no session
}

// What the gateway holds its clients to.
const (
	identifiesADay = 1000
	identifyEvery  = 5 * time.Second // see Server.IdentifyEvery
	sendsAMinute   = 120
	largestPacket  = 4096 // bytes

	allIntents = (1<<17 - 1) | 1<<20 | 1<<21 | 1<<24 | 1<<25 // the bits that have a meaning
	privileged = 1<<1 | 1<<8 | 1<<15                         // granted to no application here
)

type packet struct {
	Op   int             `json:"op"`
	Data json.RawMessage `json:"d"`
	Seq  *int64          `json:"s"`
	Type string          `json:"t,omitempty"`
}

func (c *conn) send(compress bool, op int, data any, seq int64, name string) {
	d, err := json.Marshal(data)
	if err != nil {
		panic(err)
	}
	p := packet{Op: op, Data: d, Type: name}
	if seq > 0 {
		p.Seq = &seq
	}
	text, err := json.Marshal(p)
	if err != nil {
		panic(err)
	}
	c.write.Lock()
	defer c.write.Unlock()
	if !compress {
		c.ws.WriteMessage(websocket.TextMessage, text) //nolint:errcheck // a lost connection shows when reading
		return
	}
	var b bytes.Buffer
	z := zlib.NewWriter(&b)
	z.Write(text)                                         //nolint:errcheck // to memory
	z.Close()                                             //nolint:errcheck
	c.ws.WriteMessage(websocket.BinaryMessage, b.Bytes()) //nolint:errcheck
}

var upgrader = websocket.Upgrader{}

func (s *Server) serveGateway(writer http.ResponseWriter, request *http.Request) {
	// The connection is taken and counted.
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		http.Error(writer, "closed", http.StatusServiceUnavailable)
		return
	}
	s.gateway.wg.Add(1)
	s.mu.Unlock()
	defer s.gateway.wg.Done()
	ws, err := upgrader.Upgrade(writer, request, nil)
	if err != nil {
		return
	}
	defer ws.Close() //nolint:errcheck // the client is gone, or told already
	client := &conn{ws: ws, version: request.URL.Query().Get("v")}
	s.mu.Lock()
	s.gateway.conns = append(s.gateway.conns, client)
	s.gateway.count++
	interval := s.HeartbeatInterval
	if interval == 0 {
		interval = 41 * time.Second
	}
	closed := s.closed
	s.notify()
	s.mu.Unlock()
	if closed {
		return
	}
	ended := false // by the client, for good
	// Whoever lets two heartbeats fall out is thought to be gone.
	silent := 2 * interval
	client.beats = time.AfterFunc(silent, func() { client.close(4009) })
	defer client.beats.Stop()
	client.send(false, 10, map[string]any{"heartbeat_interval": interval.Milliseconds()}, 0, "")
	// Its packets are served until it ends.
	for {
		_, text, err := ws.ReadMessage()
		if err != nil {
			ended = websocket.IsCloseError(err, websocket.CloseNormalClosure, websocket.CloseGoingAway) &&
				!client.closed.Load()
			break
		}
		var got packet
		if len(text) > largestPacket || json.Unmarshal(text, &got) != nil {
			client.close(4002)
			break
		}
		if got.Op == 1 {
			client.beats.Reset(silent)
		}
		s.packet(client, got)
	}
	// What is left is a session that can be resumed, unless the client has ended it.
	s.mu.Lock()
	for i, x := range s.gateway.conns {
		if x == client {
			s.gateway.conns = append(s.gateway.conns[:i], s.gateway.conns[i+1:]...)
			break
		}
	}
	if client.session != nil && client.session.conn == client {
		client.session.conn = nil
		if ended {
			delete(s.gateway.sessions, client.session.id)
		}
	}
	s.notify()
	s.mu.Unlock()
}

func (c *conn) close(code int) {
	c.closed.Store(true)
	// A client may be gone: then there is nobody to tell.
	message := websocket.FormatCloseMessage(code, "")
	_ = c.ws.WriteControl(websocket.CloseMessage, message, time.Now().Add(time.Second))
	_ = c.ws.Close()
}

// packet serves one packet of a client.
func (s *Server) packet(c *conn, p packet) {
	s.mu.Lock()
	defer s.mu.Unlock()
	state := &s.gateway
	now := s.now()
	// What no client may send closes the connection.
	c.sent = slices.DeleteFunc(c.sent, func(at time.Time) bool { return now.Sub(at) >= time.Minute })
	c.sent = append(c.sent, now)
	switch {
	case len(c.sent) > sendsAMinute:
		c.close(4008)
		return
	case c.version != "9" && c.version != "10":
		c.close(4012)
		return
	case p.Op == 2 && c.session != nil:
		c.close(4005)
		return
	case !slices.Contains([]int{1, 2, 3, 4, 6, 8, 31}, p.Op):
		c.close(4001)
		return
	case p.Op != 1 && p.Op != 2 && p.Op != 6 && c.session == nil:
		c.close(4003)
		return
	}
	// A heartbeat is acknowledged, a session begun or resumed, the rest passed over.
	switch p.Op {
	case 1:
		if !state.muted {
			c.send(state.zlib, 11, nil, 0, "")
		}
	case 2, 6:
		switch {
		case state.silentNext:
			state.silentNext = false
			return
		case state.closeNext != 0:
			code := state.closeNext
			state.closeNext = 0
			c.close(code)
			return
		}
		if p.Op == 2 {
			s.identify(c, p)
			break
		}
		s.resume(c, p)
	}
	s.notify()
}

func (s *Server) identify(c *conn, p packet) {
	var said struct {
		Token   string `json:"token"`
		Intents int    `json:"intents"`
		Shard   []int  `json:"shard"`
	}
	err := json.Unmarshal(p.Data, &said)
	if err != nil || said.Token != "Bot "+Token && said.Token != Token {
		c.close(4004)
		return
	}
	// How often: within five seconds of another it is told to wait, and past a day's
	// number the token is reset.
	state, now := &s.gateway, s.now()
	soon := len(state.identifies) > 0 &&
		now.Sub(state.identifies[len(state.identifies)-1]) < cmp.Or(s.IdentifyEvery, identifyEvery)
	state.identifies = append(s.identifiesToday(), now)
	state.banned = state.banned || len(state.identifies) > identifiesADay
	// What it asks for.
	badShard := len(said.Shard) != 0 && (len(said.Shard) != 2 || said.Shard[0] < 0 || said.Shard[0] >= said.Shard[1])
	switch {
	case state.banned:
		c.close(4004)
		return
	case badShard:
		c.close(4010)
		return
	case said.Intents&^allIntents != 0:
		c.close(4013)
		return
	case said.Intents&privileged != 0:
		c.close(4014)
		return
	case soon:
		c.send(state.zlib, 9, false, 0, "")
		return
	}
	ss := &session{id: "session-" + s.newID(), conn: c, intents: said.Intents}
	s.gateway.sessions[ss.id] = ss
	c.session = ss
	var guilds []any
	for _, id := range slices.Sorted(maps.Keys(s.guilds)) {
		guilds = append(guilds, map[string]any{"id": id, "unavailable": true})
	}
	ss.seq++
	c.send(s.gateway.zlib, 0, map[string]any{"v": 9, "user": botUser(), "session_id": ss.id,
		"resume_gateway_url": "ws" + strings.TrimPrefix(s.URL(), "http") + "/gateway-socket",
		"application":        map[string]any{"id": AppID, "flags": 0}, "guilds": nonNil(guilds),
		"private_channels": []any{},
		"session_type":     "normal"}, ss.seq, "READY")
	s.sendGuilds(ss)
}

// identifiesToday are the identifies of the last 24 hours.
func (s *Server) identifiesToday() []time.Time {
	day := s.now().Add(-24 * time.Hour)
	made := slices.DeleteFunc(s.gateway.identifies, func(at time.Time) bool { return !at.After(day) })
	s.gateway.identifies = made
	return made
}

// startLimit is what the gateway says of the identifies that are left.
func (s *Server) startLimit() map[string]any {
	made := s.identifiesToday()
	reset := 24 * time.Hour
	if len(made) > 0 {
		reset -= s.now().Sub(made[0])
	}
	return map[string]any{"total": identifiesADay, "remaining": max(identifiesADay-len(made), 0),
		"reset_after": reset.Milliseconds(), "max_concurrency": 1}
}

// Identifies counts the sessions that were asked for in the last 24 hours.
func (s *Server) Identifies() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.identifiesToday())
}

func (s *Server) resume(c *conn, p packet) {
	var wanted struct {
		Token   string `json:"token"`
		Session string `json:"session_id"`
		Seq     int64  `json:"seq"`
	}
	err := json.Unmarshal(p.Data, &wanted)
	ss := s.gateway.sessions[wanted.Session]
	switch {
	case s.gateway.banned || wanted.Token != "Bot "+Token && wanted.Token != Token:
		c.close(4004)
	case s.gateway.reconnectNext:
		s.gateway.reconnectNext = false
		c.send(s.gateway.zlib, 7, nil, 0, "")
	case err != nil || ss == nil || s.gateway.refuseResume:
		s.gateway.refuseResume = false
		c.send(s.gateway.zlib, 9, false, 0, "")
	case wanted.Seq < 0 || wanted.Seq > ss.seq:
		delete(s.gateway.sessions, ss.id)
		c.close(4007)
	default:
		ss.conn, c.session = c, ss
		for _, e := range ss.events {
			if e.seq > wanted.Seq {
				c.send(s.gateway.zlib, 0, e.data, e.seq, e.name)
			}
		}
		ss.seq++
		c.send(s.gateway.zlib, 0, map[string]any{}, ss.seq, "RESUMED")
	}
}

// dispatch sends an event to every session; one without a connection gets it
// when it resumes.
func (s *Server) dispatch(name string, data any) {
	text, err := json.Marshal(data)
	if err != nil {
		panic(err)
	}
	for _, id := range slices.Sorted(maps.Keys(s.gateway.sessions)) {
		ss := s.gateway.sessions[id]
		if ss.intents&intentGuilds != 0 || !slices.Contains(guildEvents, name) {
			ss.deliver(s, name, text)
		}
	}
	s.notify()
}

// deliver sends an event to a session, at once or when it resumes.
func (ss *session) deliver(s *Server, name string, text json.RawMessage) {
	ss.seq++
	ss.events = append(ss.events, event{ss.seq, name, text})
	if ss.conn != nil {
		ss.conn.send(s.gateway.zlib, 0, text, ss.seq, name)
	}
}

// Connections counts the gateway connections accepted so far.
func (s *Server) Connections() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.gateway.count
}

// UntilConnected waits until a client is connected and identified, or has
// resumed, over at least n connections in all.
func (s *Server) UntilConnected(ctx context.Context, n int) error {
	return s.Until(ctx, func() bool {
		if s.gateway.count < n {
			return false
		}
		// any order: whether there is one
		for _, ss := range s.gateway.sessions {
			if ss.conn != nil {
				return true
			}
		}
		return false
	})
}

// each does something to every connection.
func (s *Server) each(f func(*conn)) {
	s.mu.Lock()
	conns := append([]*conn(nil), s.gateway.conns...)
	s.mu.Unlock()
	for _, c := range conns {
		f(c)
	}
}

// DropConnections cuts every gateway connection without a word; the sessions
// can be resumed.
func (s *Server) DropConnections() { s.each(func(c *conn) { c.ws.Close() }) } //nolint:errcheck

// CloseConnections closes every gateway connection with a code. The sessions can be
// resumed, unless the client itself closes its own with 1000 or 1001.
func (s *Server) CloseConnections(code int) { s.each(func(c *conn) { c.close(code) }) }

// AskReconnect tells every client to reconnect (op 7).
func (s *Server) AskReconnect() { s.each(func(c *conn) { c.send(s.gateway.zlib, 7, nil, 0, "") }) }

// InvalidateSessions tells every client that its session is invalid (op 9), and ends
// those that are not resumable.
func (s *Server) InvalidateSessions(resumable bool) {
	s.mu.Lock()
	conns := slices.Clone(s.gateway.conns)
	for _, client := range conns {
		if client.session == nil {
			continue
		}
		client.session.conn = nil
		if !resumable {
			delete(s.gateway.sessions, client.session.id)
		}
		client.session = nil
	}
	s.mu.Unlock()
	for _, c := range conns {
		c.send(s.gateway.zlib, 9, resumable, 0, "")
	}
}

// script changes how the gateway behaves.
func (s *Server) script(f func(*gateway)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	f(&s.gateway)
}

// MuteAcks lets heartbeats go unanswered, as on a dead connection.
func (s *Server) MuteAcks(on bool) { s.script(func(g *gateway) { g.muted = on }) }

// Compress sends every packet as a zlib frame.
func (s *Server) Compress(on bool) { s.script(func(g *gateway) { g.zlib = on }) }

// CloseNext closes with that code upon the next identify or resume.
func (s *Server) CloseNext(code int) { s.script(func(g *gateway) { g.closeNext = code }) }

// ReconnectInsteadOfResuming answers the next resume by op 7.
func (s *Server) ReconnectInsteadOfResuming() { s.script(func(g *gateway) { g.reconnectNext = true }) }

// RefuseResume answers the next resume by op 9.
func (s *Server) RefuseResume() { s.script(func(g *gateway) { g.refuseResume = true }) }

// IgnoreNext never answers the next identify or resume.
func (s *Server) IgnoreNext() { s.script(func(g *gateway) { g.silentNext = true }) }
