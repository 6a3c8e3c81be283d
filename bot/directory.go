package bot

import (
	"encoding/json"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"sync"

	"setscrew/commands"
	"setscrew/domain"
)

// How much is kept of servers: more than Discord lets one connection, and one server,
// have. Of what is beyond it nothing is known.
const (
	mostServers  = 2500
	mostRoles    = 500
	mostChannels = 1000
)

// The kinds of channels that take notices.
const (
	textChannel = 0
	newsChannel = 5
)

// directory is what Discord has told of the servers that Setscrew is in: what decides
// what it may do in a channel, and whether a role pings. Events come to it in the order
// in which Discord sent them.
type directory struct {
	log *slog.Logger

	mu      sync.Mutex
	me      string // Setscrew's own account; "" until Discord has told of anything
	servers map[domain.ShopID]*server
	missing bool // there are servers beyond mostServers
	changed map[domain.ShopID]bool
}

// server is what counts of one server.
type server struct {
	told     bool // by Discord; until then nothing is known but that Setscrew is in it
	owner    string
	mine     []string // Setscrew's own roles
	roles    map[string]role
	channels map[string][]overwrite // those that take notices
}

func newDirectory(log *slog.Logger) *directory {
	return &directory{log: log, servers: map[domain.ShopID]*server{}, changed: map[domain.ShopID]bool{}}
}

// What the events hold, of which only what counts here is read.
type (
	serverEvent struct {
		ID          domain.ShopID  `json:"id"`
		Unavailable bool           `json:"unavailable"`
		Owner       string         `json:"owner_id"`
		Roles       []roleEvent    `json:"roles"`
		Channels    []channelEvent `json:"channels"`
		Members     []memberEvent  `json:"members"`
	}
	roleEvent struct {
		ID string `json:"id"`
		role
	}
	channelEvent struct {
		ID         string        `json:"id"`
		Server     domain.ShopID `json:"guild_id"`
		Kind       int           `json:"type"`
		Overwrites []overwrite   `json:"permission_overwrites"`
	}
	memberEvent struct {
		Server domain.ShopID `json:"guild_id"`
		User   struct {
			ID string `json:"id"`
		} `json:"user"`
		Roles []string `json:"roles"`
	}
	inServer struct {
		Server domain.ShopID `json:"guild_id"`
		Role   roleEvent     `json:"role"`
		RoleID string        `json:"role_id"`
	}
	readyEvent struct {
		User struct {
			ID string `json:"id"`
		} `json:"user"`
		Servers []serverEvent `json:"guilds"`
	}
)

// take takes in one event of the gateway, and reports whether it told of servers. One
// that cannot be read is an error and changes nothing.
func (d *directory) take(kind string, data []byte) (bool, error) {
	take := map[string]func(*directory, []byte) error{
		"READY":               taking((*directory).ready),
		"GUILD_CREATE":        taking((*directory).came),
		"GUILD_UPDATE":        taking((*directory).serverChanged),
		"GUILD_DELETE":        taking((*directory).left),
		"GUILD_ROLE_CREATE":   taking((*directory).roleChanged),
		"GUILD_ROLE_UPDATE":   taking((*directory).roleChanged),
		"GUILD_ROLE_DELETE":   taking((*directory).roleGone),
		"CHANNEL_CREATE":      taking((*directory).channelChanged),
		"CHANNEL_UPDATE":      taking((*directory).channelChanged),
		"CHANNEL_DELETE":      taking((*directory).channelGone),
		"GUILD_MEMBER_UPDATE": taking((*directory).memberChanged),
	}[kind]
	if take == nil {
		return false, nil
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := take(d, data); err != nil {
		return false, fmt.Errorf("read %s: %w", kind, err)
	}
	return true, nil
}

// taking reads an event's data for what takes it in.
func taking[T any](in func(*directory, T)) func(*directory, []byte) error {
	return func(d *directory, data []byte) error {
		var event T
		if err := json.Unmarshal(data, &event); err != nil {
			return err
		}
		in(d, event)
		return nil
	}
}

// ready begins a session: Setscrew is in the servers that it lists, and in no others.
// What is known of them stands until Discord tells of each.
func (d *directory) ready(e readyEvent) {
	d.me, d.missing = e.User.ID, false
	listed := map[domain.ShopID]bool{}
	for _, s := range e.Servers {
		listed[s.ID] = true
		d.at(s.ID)
	}
	for _, id := range slices.Sorted(maps.Keys(d.servers)) {
		if !listed[id] {
			d.remove(id)
		}
	}
}

// at is a server, known to be there from now on; nil where there are too many, or it has
// no id.
func (d *directory) at(id domain.ShopID) *server {
	switch {
	case d.servers[id] != nil:
	case id == "":
		return nil
	case len(d.servers) >= mostServers:
		d.missing = true
		return nil
	default:
		d.servers[id] = &server{}
	}
	return d.servers[id]
}

func (d *directory) remove(id domain.ShopID) {
	delete(d.servers, id)
	d.changed[id] = true
	d.log.Warn("removed from a server", "shop", id)
}

// came tells of a server in full: at the beginning, or because Setscrew was added to it.
func (d *directory) came(event serverEvent) {
	if event.Unavailable {
		return
	}
	added := d.servers[event.ID] == nil
	known := d.at(event.ID)
	if known == nil {
		return
	}
	if added {
		d.log.Info("added to a server", "shop", event.ID)
	}
	d.changed[event.ID] = true
	*known = server{told: len(event.Roles) <= mostRoles && len(event.Channels) <= mostChannels, owner: event.Owner,
		roles: map[string]role{}, channels: map[string][]overwrite{}}
	if !known.told {
		return
	}
	for _, r := range event.Roles {
		known.roles[r.ID] = r.role
	}
	for _, m := range event.Members {
		if m.User.ID == d.me {
			known.mine = m.Roles
		}
	}
	for _, c := range event.Channels {
		d.put(known, c)
	}
}

// serverChanged takes in who owns a server, and its roles.
func (d *directory) serverChanged(event serverEvent) {
	server := d.told(event.ID)
	if server == nil {
		return
	}
	if event.Owner != "" {
		server.owner = event.Owner
	}
	for _, r := range event.Roles {
		server.roles[r.ID] = r.role
	}
}

// left says that a server cannot be reached for a while, or that Setscrew is in it no
// longer.
func (d *directory) left(event serverEvent) {
	switch {
	case d.servers[event.ID] == nil:
	case event.Unavailable:
		*d.servers[event.ID] = server{}
	default:
		d.remove(event.ID)
	}
}

// told is a server that Discord has told of, and that changes now; nil for any other.
func (d *directory) told(id domain.ShopID) *server {
	known := d.servers[id]
	if known == nil || !known.told {
		return nil
	}
	d.changed[id] = true
	return known
}

func (d *directory) roleChanged(e inServer) {
	server := d.told(e.Server)
	if server == nil || e.Role.ID == "" {
		return
	}
	server.roles[e.Role.ID] = e.Role.role
	server.told = len(server.roles) <= mostRoles
}

func (d *directory) roleGone(e inServer) {
	if s := d.told(e.Server); s != nil {
		delete(s.roles, e.RoleID)
		s.mine = slices.DeleteFunc(s.mine, func(id string) bool { return id == e.RoleID })
	}
}

func (d *directory) channelChanged(e channelEvent) {
	if s := d.told(e.Server); s != nil {
		d.put(s, e)
		s.told = len(s.channels) <= mostChannels
	}
}

func (d *directory) channelGone(e channelEvent) {
	if s := d.told(e.Server); s != nil {
		delete(s.channels, e.ID)
	}
}

// put keeps a channel, if it takes notices: of its overwrites those that may ever concern
// Setscrew.
func (d *directory) put(s *server, c channelEvent) {
	delete(s.channels, c.ID)
	if c.Kind != textChannel && c.Kind != newsChannel {
		return
	}
	s.channels[c.ID] = slices.Clip(slices.DeleteFunc(c.Overwrites, func(o overwrite) bool {
		return o.Kind == overwriteMember && o.ID != d.me
	}))
}

// memberChanged takes in Setscrew's own roles: of itself Discord always tells.
func (d *directory) memberChanged(e memberEvent) {
	if e.User.ID != d.me {
		return
	}
	if s := d.told(e.Server); s != nil {
		s.mine = e.Roles
	}
}

// takeChanged lists, in order, the servers of which something was told since it was asked
// last.
func (d *directory) takeChanged() []domain.ShopID {
	d.mu.Lock()
	defer d.mu.Unlock()
	all := slices.Sorted(maps.Keys(d.changed))
	clear(d.changed)
	return all
}

// look is a server that is known; known is false where Discord has not told of it, and s
// is nil where Setscrew is in no such server.
func (d *directory) look(shop domain.ShopID) (s *server, known bool) {
	s = d.servers[shop]
	if d.me == "" || s != nil && !s.told || s == nil && d.missing {
		return nil, false
	}
	return s, true
}

// may is what Setscrew may do in a channel of a server.
func (d *directory) may(shop domain.ShopID, s *server, channel string) permissions {
	return permissionsIn(member{server: string(shop), id: d.me, owner: s.owner == d.me, roles: s.mine}, s.roles,
		s.channels[channel])
}

// rights are the rights that notices need, with Discord's permissions for them.
var rights = []struct {
	right commands.Right
	may   permissions
}{{commands.RightView, mayView}, {commands.RightSend, maySend}, {commands.RightHistory, mayReadHistory},
	{commands.RightPin, mayPin}}

// channel is what Setscrew may do in a channel of a shop's server.
func (d *directory) channel(shop domain.ShopID, channel string) (access commands.ChannelAccess) {
	d.mu.Lock()
	defer d.mu.Unlock()
	server, known := d.look(shop)
	if !known {
		return commands.ChannelAccess{Unknown: true}
	}
	if server == nil {
		return commands.ChannelAccess{Gone: true}
	}
	if _, there := server.channels[channel]; !there {
		return commands.ChannelAccess{Gone: true}
	}
	may := d.may(shop, server, channel)
	for _, r := range rights {
		if may&r.may == 0 {
			access.Lacks = append(access.Lacks, r.right)
		}
	}
	return access
}

// role is whether a role of a shop's server pings in a channel of it.
func (d *directory) role(shop domain.ShopID, role, channel string) commands.RoleAccess {
	d.mu.Lock()
	defer d.mu.Unlock()
	server, known := d.look(shop)
	if !known {
		return commands.RoleAccess{Unknown: true}
	}
	if server == nil {
		return commands.RoleAccess{Gone: true}
	}
	r, there := server.roles[role]
	return commands.RoleAccess{Gone: !there, Everyone: role == string(shop),
		Pings: there && pings(r, d.may(shop, server, channel))}
}
