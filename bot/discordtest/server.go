// Package discordtest is a Discord server of one's own, on loopback: REST and
// gateway, enough of both for a real client to log in, register commands, be
// sent interactions and post messages. It enforces what Discord enforces (one
// answer per interaction, within three seconds; fifteen minutes for its token;
// permissions; lengths; the nonce window; how often) on a clock that tests move, and
// scripts the faults of the network and the platform.
package discordtest

import (
	"encoding/json"
	"fmt"
	"hash/fnv"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"time"
)

// The ids and the token of the application.
const (
	AppID = "1000000000000000001"
	Token = "not-a-real-token"
)

// Permissions that the fake looks at, as Discord counts them.
const (
	ViewChannel    = 1 << 10
	SendMessages   = 1 << 11
	ManageMessages = 1 << 13
	EmbedLinks     = 1 << 14
	AttachFiles    = 1 << 15
	ReadHistory    = 1 << 16
	ManageGuild    = 1 << 5
	PinMessages    = 1 << 51

	// AllPermissions is all of them.
	AllPermissions = ViewChannel | SendMessages | EmbedLinks | AttachFiles | ReadHistory | PinMessages
)

// Server is one fake Discord. Its exported fields are set before anything else
// is asked of it.
type Server struct {
	// HeartbeatInterval is what the gateway tells clients; 41 s if zero.
	HeartbeatInterval time.Duration
	// AnswerWithin is how long an interaction waits for its first answer; Discord's
	// 3 s if zero. For tests that run many times slower than the program does.
	AnswerWithin time.Duration
	// IdentifyEvery is how far apart identifies must be: sooner ones are answered by
	// op 9; Discord's 5 s if zero. For tests that connect more often than a program does.
	IdentifyEvery time.Duration
	// ChannelPosts is how many posts, and as many edits, a channel takes within five
	// seconds before they are refused with 429; about five, as Discord, if zero, and any
	// number if negative.
	ChannelPosts int
	// RequestsASecond is how many requests are taken within a second, those of interactions
	// apart; Discord's 50 if zero, and any number if negative.
	RequestsASecond int
	// Clock is the clock that Advance moves; time.Now if nil. Interactions' ids and the
	// dates of answers come from it.
	Clock func() time.Time
	// Attachment is what a file holds that a member attaches; a thousand zeros if nil.
	Attachment []byte
	// OnRequest is called, without any lock, when a REST request has come and
	// once more when it has taken effect but is not answered yet.
	OnRequest func(method, path string, served bool)
	// Problem is told of every request that Discord would refuse by its
	// published description or its written rules, besides the refusal itself.
	Problem func(string)

	mu           sync.Mutex
	changed      chan struct{} // closed and made again whenever anything changes
	listen       sync.Once
	http         *httptest.Server // nil until it is needed
	offset       time.Duration    // of the movable clock
	lastID       int64
	guilds       map[string]*Guild
	channels     map[string]*Channel
	commands     map[string][]json.RawMessage // by guild, "" for global
	overwrites   int
	interactions map[string]*Interaction // by id
	byToken      map[string]*Interaction
	faults       []*fault
	requests     []Request         // in the order in which they took effect
	turns        []int             // which each of them was
	taken        int               // turns so far
	requested    bucket            // lately, for RequestsASecond
	files        map[string][]byte // by path
	gateway      gateway
	schema       *schema
	closed       bool
}

// Request is one REST request that was made.
type Request struct {
	Method, Path string
	Body         string
	Status       int // 0 where the connection was cut without an answer
}

// New is a server, which listens as soon as its address is asked for. Close it
// at the end.
func New() *Server {
	server := &Server{changed: make(chan struct{}), guilds: map[string]*Guild{}, channels: map[string]*Channel{},
		commands: map[string][]json.RawMessage{}, files: map[string][]byte{},
		interactions: map[string]*Interaction{}, byToken: map[string]*Interaction{}}
	server.gateway.sessions = map[string]*session{}
	server.schema = loadSchema()
	return server
}

// Close ends every connection and waits for all that the server runs.
func (s *Server) Close() {
	s.mu.Lock()
	s.closed = true
	s.mu.Unlock()
	s.DropConnections()
	s.gateway.wg.Wait()
	s.listen.Do(func() {}) // nothing listens from here on
	if s.http != nil {
		s.http.Close()
	}
}

// HasSchema reports whether requests are held against Discord's published
// description; it is not shipped with the project.
func (s *Server) HasSchema() bool { return s.schema != nil }

// URL is the server's address: "http://127.0.0.1:port".
func (s *Server) URL() string {
	s.listen.Do(func() { s.http = httptest.NewServer(http.HandlerFunc(s.serve)) })
	if s.http == nil {
		return "http://127.0.0.1:0" // closed before it was asked for
	}
	return s.http.URL
}

// Client is an HTTP client whose requests to Discord reach the server, and that
// refuses to reach any other host.
func (s *Server) Client() *http.Client { return &http.Client{Transport: Transport(s.URL())} }

// Direct is an HTTP client whose requests to Discord are served where they are
// made, without a socket: it works in a bubble of testing/synctest, whose clock is
// then the server's too. It reaches no gateway.
func (s *Server) Direct() *http.Client { return &http.Client{Transport: direct{s}} }

type direct struct{ s *Server }

func (d direct) RoundTrip(request *http.Request) (resp *http.Response, err error) {
	if request.URL.Host != "discord.com" && request.URL.Host != fileHost {
		return nil, fmt.Errorf("discordtest: a request to %s", request.URL.Host)
	}
	defer func() {
		switch parts := recover(); parts {
		case nil:
		case http.ErrAbortHandler:
			err = io.ErrUnexpectedEOF
		default:
			panic(parts)
		}
	}()
	if err := request.Context().Err(); err != nil {
		return nil, err // no client sends what was given up already
	}
	if request.Body == nil {
		request.Body = http.NoBody
	}
	recorder := httptest.NewRecorder()
	d.s.serve(recorder, request)
	if err := request.Context().Err(); err != nil {
		return nil, err
	}
	return recorder.Result(), nil
}

// Transport sends requests for discord.com to an address, and refuses any other host;
// for a client in another process.
func Transport(address string) http.RoundTripper {
	u, err := url.Parse(address)
	return transport{u, err}
}

type transport struct {
	to  *url.URL
	err error
}

func (t transport) RoundTrip(request *http.Request) (*http.Response, error) {
	if t.err != nil {
		return nil, t.err
	}
	if request.URL.Host != "discord.com" && request.URL.Host != fileHost && request.URL.Host != t.to.Host {
		return nil, fmt.Errorf("discordtest: a request to %s", request.URL.Host)
	}
	to := request.Clone(request.Context())
	to.URL.Scheme, to.URL.Host, to.Host = t.to.Scheme, t.to.Host, t.to.Host
	return http.DefaultTransport.RoundTrip(to)
}

// Now is the server's clock.
func (s *Server) Now() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.now()
}

func (s *Server) now() time.Time {
	if s.Clock != nil {
		return s.Clock().Add(s.offset)
	}
	return time.Now().Add(s.offset)
}

// Advance moves the server's clock on.
func (s *Server) Advance(d time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.offset += d
	s.notify()
}

// notify wakes whoever waits for something to change.
func (s *Server) notify() {
	close(s.changed)
	s.changed = make(chan struct{})
}

// newID is a new snowflake of the server's clock.
func (s *Server) newID() string {
	id := (s.now().UnixMilli() - 1420070400000) << 22
	if id <= s.lastID {
		id = s.lastID + 1
	}
	s.lastID = id
	return strconv.FormatInt(id, 10)
}

// fixedID is an id that comes from a name, so that a shop's books fit any server
// that has the same names; taken says which are in use.
func fixedID(name string, taken func(id string) bool) string {
	h := fnv.New64a()
	h.Write([]byte(name)) //nolint:errcheck // never fails
	for n := h.Sum64() % 1e17; ; n++ {
		if id := strconv.FormatUint(1e17+n, 10); !taken(id) {
			return id
		}
	}
}

// Guild is a Discord server with its roles and members.
type Guild struct {
	ID, Name string
	Roles    map[string]string // name by id
	Members  map[string]*Member

	states   map[string]*roleState // by role
	appRole  string                // the application's own
	appRoles []string              // all that it has
}

// Member is a person in a guild.
type Member struct {
	ID, Name    string
	Roles       []string
	Permissions int64
}

// Channel is a text channel with its messages.
type Channel struct {
	ID, Guild, Name string
	Permissions     int64 // of the application in it
	overwrites      []Overwrite
	messages        []*Message
	buckets         map[string]*bucket // by what was asked, for Server.ChannelPosts
}

// Message is what stands in a channel, or answers an interaction.
type Message struct {
	ID, Channel string
	Content     string
	Components  json.RawMessage
	Files       []string
	Pinned      bool
	Edited      bool
	Pings       []string // who was notified: "everyone", "role:ID", "user:ID"
	Nonce       string
	At          time.Time
	Ephemeral   bool
	body        map[string]any
	kind        int // Discord's type: 0 for what is written, 6 for its own word of a pin
	refers      string
	flags       int
	files       []file
	server      *Server // that signs the links to its files
	unseen      bool    // shown to one member alone, whose client was opened again since
	gone        bool    // deleted
}

// messagePinned is the type of Discord's own message that one was pinned.
const messagePinned = 6

// AddGuild makes a guild.
func (s *Server) AddGuild(name string) *Guild {
	s.mu.Lock()
	defer s.mu.Unlock()
	id := fixedID("guild "+name, func(id string) bool { return s.guilds[id] != nil })
	g := newGuild(id, name)
	s.guilds[g.ID] = g
	s.dispatch("GUILD_CREATE", s.guildJSON(g))
	return g
}

// AddChannel makes a text channel, in which the application may do everything.
func (s *Server) AddChannel(g *Guild, name string) *Channel {
	s.mu.Lock()
	defer s.mu.Unlock()
	id := fixedID("channel "+name, func(id string) bool { return s.channels[id] != nil })
	c := &Channel{ID: id, Guild: g.ID, Name: name, Permissions: AllPermissions}
	s.channels[c.ID] = c
	s.dispatch("CHANNEL_CREATE", c.json())
	return c
}

// AddRole makes a role, which nobody may mention yet, and returns its id.
func (s *Server) AddRole(guild *Guild, name string) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	id := fixedID("role "+name, func(id string) bool { return guild.Roles[id] != "" })
	guild.Roles[id] = name
	s.dispatchRole("GUILD_ROLE_CREATE", guild, id)
	return id
}

// AddMember makes a member with roles.
func (s *Server) AddMember(guild *Guild, name string, permissions int64, roles ...string) *Member {
	s.mu.Lock()
	defer s.mu.Unlock()
	id := fixedID("member "+name, func(id string) bool { return guild.Members[id] != nil })
	m := &Member{ID: id, Name: name, Roles: roles, Permissions: permissions}
	guild.Members[m.ID] = m
	return m
}

// SetPermissions says what the application may do in a channel.
func (s *Server) SetPermissions(channel *Channel, p int64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	channel.Permissions = p
	channel.overwrites = []Overwrite{{ID: AppID, Member: true, Allow: p, Deny: allBits &^ p}}
	s.dispatch("CHANNEL_UPDATE", channel.json())
}

// DeleteChannel removes a channel.
func (s *Server) DeleteChannel(c *Channel) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.channels, c.ID)
	s.dispatch("CHANNEL_DELETE", c.json())
}

// Messages lists what was written in a channel, oldest first: not what Discord itself says
// there of pins.
func (s *Server) Messages(c *Channel) []Message {
	s.mu.Lock()
	defer s.mu.Unlock()
	return c.written()
}

func (c *Channel) written() []Message {
	all := []Message{}
	for _, m := range c.messages {
		if m.kind == 0 {
			all = append(all, *m)
		}
	}
	return all
}

// Requests lists the REST requests made so far.
func (s *Server) Requests() []Request {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]Request(nil), s.requests...)
}

// Overwrites counts how often commands were registered in bulk.
func (s *Server) Overwrites() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.overwrites
}

// fault is one scripted answer.
type fault struct {
	Fault
	method, path string
	times        int
}

// Fault is what happens to a request instead of, or after, being served.
type Fault struct {
	Status  int
	Body    string
	Type    string            // content type, JSON if ""
	Header  map[string]string // more headers
	Served  bool              // the request takes effect first; only its answer is replaced
	Drop    bool              // the connection is cut without an answer
	Stalled time.Duration     // the answer comes so late
}

// The faults that Discord is known for.
var (
	BadGateway  = Fault{Status: 502, Body: "<html>502</html>", Type: "text/html"}
	HTMLTooMany = Fault{Status: 429, Body: "<html>error 1015</html>", Type: "text/html"}
)

// TooMany is a 429 that asks to wait.
func TooMany(wait time.Duration, global bool) Fault {
	answer := Fault{Status: 429, Body: fmt.Sprintf(
		`{"message": "You are being rate limited.", "retry_after": %g, "global": %v}`, wait.Seconds(), global),
		Header: map[string]string{"Retry-After": strconv.Itoa(int(wait.Seconds()) + 1)}}
	answer.Header["X-RateLimit-Reset-After"] = fmt.Sprint(wait.Seconds())
	answer.Header["X-RateLimit-Remaining"] = "0"
	if global {
		answer.Header["X-RateLimit-Global"] = "true"
	}
	return answer
}

// APIError is a refusal with Discord's code.
func APIError(status, code int, message string) Fault {
	return Fault{Status: status, Body: fmt.Sprintf(`{"code": %d, "message": %q}`, code, message)}
}

// Fail lets the next requests of a method whose path begins so meet a fault. In
// the path, * stands for one segment.
func (s *Server) Fail(method, path string, f Fault, times int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.faults = append(s.faults, &fault{f, method, path, times})
}

// Mend ends every fault that Fail has begun.
func (s *Server) Mend() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.faults = nil
}

func (s *Server) fault(method, path string) *Fault {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, f := range s.faults {
		if f.times > 0 && f.method == method && matches(f.path, path) {
			f.times--
			found := f.Fault
			return &found
		}
	}
	return nil
}

func matches(pattern, path string) bool {
	parts, query := strings.Split(strings.Trim(pattern, "/"), "/"), strings.Split(strings.Trim(path, "/"), "/")
	if len(parts) > len(query) {
		return false
	}
	for i := range parts {
		if parts[i] != "*" && parts[i] != query[i] {
			return false
		}
	}
	return true
}
