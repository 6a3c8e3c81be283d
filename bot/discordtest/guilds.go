package discordtest

import (
	"encoding/json"
	"maps"
	"slices"
	"strconv"
)

// MentionEveryone permits to mention everybody and every role; Administrator everything.
const (
	MentionEveryone = 1 << 17
	Administrator   = 1 << 3

	allBits = 1<<53 - 1 // of all permissions that there are
)

// intentGuilds asks for what happens to guilds, their roles and channels.
const intentGuilds = 1

// guildEvents are the events that only come to sessions with that intent. Of its own
// membership an application is told without another.
var guildEvents = []string{"GUILD_CREATE", "GUILD_UPDATE", "GUILD_DELETE", "GUILD_ROLE_CREATE", "GUILD_ROLE_UPDATE",
	"GUILD_ROLE_DELETE", "CHANNEL_CREATE", "CHANNEL_UPDATE", "CHANNEL_DELETE", "GUILD_MEMBER_UPDATE"}

// roleState is a role beside its name.
type roleState struct {
	permissions int64
	mentionable bool
}

// Overwrite is what a channel allows and denies a role or a member; everybody's has the
// guild's id.
type Overwrite struct {
	ID          string
	Member      bool
	Allow, Deny int64
}

// MakeMentionable lets anybody mention a role, or nobody: a role is made so that nobody
// may.
func (s *Server) MakeMentionable(g *Guild, role string, on bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	g.state(role).mentionable = on
	s.dispatchRole("GUILD_ROLE_UPDATE", g, role)
}

// PermitRole says what a role permits; the guild's id is everybody's role, and AppRole the
// application's own.
func (s *Server) PermitRole(guild *Guild, role string, permissions int64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	guild.state(role).permissions = permissions
	s.work(guild)
	s.dispatchRole("GUILD_ROLE_UPDATE", guild, role)
}

// DeleteRole removes a role, and takes it from whoever has it.
func (s *Server) DeleteRole(guild *Guild, role string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(guild.Roles, role)
	delete(guild.states, role)
	guild.appRoles = slices.DeleteFunc(guild.appRoles, func(id string) bool { return id == role })
	// any order: each is looked at by itself
	for _, m := range guild.Members {
		m.Roles = slices.DeleteFunc(m.Roles, func(id string) bool { return id == role })
	}
	s.work(guild)
	s.dispatch("GUILD_ROLE_DELETE", map[string]any{"guild_id": guild.ID, "role_id": role})
}

// AppRole is the id of the application's own role in a guild.
func (s *Server) AppRole(g *Guild) string { return g.appRole }

// GiveApp gives the application a role.
func (s *Server) GiveApp(guild *Guild, role string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	guild.appRoles = append(guild.appRoles, role)
	s.work(guild)
	member := guild.app()
	member["guild_id"] = guild.ID
	s.dispatch("GUILD_MEMBER_UPDATE", member)
}

// SetOverwrites sets what a channel allows and denies.
func (s *Server) SetOverwrites(channel *Channel, all ...Overwrite) {
	s.mu.Lock()
	defer s.mu.Unlock()
	channel.overwrites = all
	s.work(s.guilds[channel.Guild])
	s.dispatch("CHANNEL_UPDATE", channel.json())
}

// RemoveApp removes the application from a guild: it may do nothing there.
func (s *Server) RemoveApp(guild *Guild) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.guilds, guild.ID)
	s.work(guild)
	s.dispatch("GUILD_DELETE", map[string]any{"id": guild.ID})
}

// AddApp adds the application to a guild from which it was removed.
func (s *Server) AddApp(guild *Guild) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.guilds[guild.ID] = guild
	s.work(guild)
	s.dispatch("GUILD_CREATE", s.guildJSON(guild))
}

// Outage makes a guild unavailable, as in an outage, or available again.
func (s *Server) Outage(guild *Guild, on bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if on {
		s.dispatch("GUILD_DELETE", map[string]any{"id": guild.ID, "unavailable": true})
		return
	}
	s.dispatch("GUILD_CREATE", s.guildJSON(guild))
}

// state is a role's, made where there was none.
func (g *Guild) state(role string) *roleState {
	if g.states[role] == nil {
		g.states[role] = &roleState{}
	}
	return g.states[role]
}

// newGuild is a guild with everybody's role and the application's own, which permits what
// it needs.
func newGuild(id, name string) *Guild {
	guild := &Guild{ID: id, Name: name, Roles: map[string]string{}, Members: map[string]*Member{},
		states: map[string]*roleState{}, appRole: "9" + id[1:]}
	guild.appRoles = []string{guild.appRole}
	guild.state(id).permissions = ViewChannel | SendMessages | ReadHistory
	guild.state(guild.appRole).permissions = AllPermissions
	return guild
}

// work works out what the application may do in each channel of a guild, by Discord's
// written rules: the guild's roles, then the channel's overwrites of everybody, of the
// application's roles, of itself.
func (s *Server) work(guild *Guild) {
	// any order: each is worked out by itself
	for _, channel := range s.channels {
		if guild == nil || channel.Guild != guild.ID {
			continue
		}
		channel.Permissions = 0
		if s.guilds[guild.ID] != nil {
			channel.Permissions = guild.permissions(channel)
		}
	}
}

func (g *Guild) permissions(channel *Channel) int64 {
	permissions := g.state(g.ID).permissions
	for _, r := range g.appRoles {
		permissions |= g.state(r).permissions
	}
	if permissions&Administrator == Administrator {
		return allBits
	}
	step := func(applies func(Overwrite) bool) {
		var allow, deny int64
		for _, o := range channel.overwrites {
			if applies(o) {
				allow, deny = allow|o.Allow, deny|o.Deny
			}
		}
		permissions &^= deny
		permissions |= allow
	}
	step(func(o Overwrite) bool { return !o.Member && o.ID == g.ID })
	step(func(o Overwrite) bool { return !o.Member && o.ID != g.ID && slices.Contains(g.appRoles, o.ID) })
	step(func(o Overwrite) bool { return o.Member && o.ID == AppID })
	if permissions&ViewChannel == 0 {
		return 0
	}
	if permissions&SendMessages == 0 {
		permissions &^= MentionEveryone
	}
	return permissions
}

// guildJSON is a guild as GUILD_CREATE tells of it.
func (s *Server) guildJSON(guild *Guild) map[string]any {
	roles := []any{guild.role(guild.ID), guild.role(guild.appRole)}
	for _, id := range slices.Sorted(maps.Keys(guild.Roles)) {
		roles = append(roles, guild.role(id))
	}
	var channels []any
	for _, id := range slices.Sorted(maps.Keys(s.channels)) {
		if c := s.channels[id]; c.Guild == guild.ID {
			channels = append(channels, c.json())
		}
	}
	return map[string]any{"id": guild.ID, "name": guild.Name, "owner_id": "1", "unavailable": false, "large": false,
		"member_count": len(guild.Members) + 1, "joined_at": "2026-01-01T00:00:00Z", "roles": roles,
		"channels": nonNil(channels), "members": []any{guild.app()}, "threads": []any{}, "emojis": []any{},
		"stickers": []any{}, "features": []any{}, "voice_states": []any{}, "presences": []any{},
		"stage_instances": []any{}, "guild_scheduled_events": []any{}, "preferred_locale": "en-US",
		"verification_level": 0, "default_message_notifications": 0, "explicit_content_filter": 0, "mfa_level": 0,
		"nsfw_level": 0, "premium_tier": 0, "system_channel_flags": 0, "afk_timeout": 300,
		"premium_progress_bar_enabled": false}
}

func (g *Guild) role(id string) map[string]any {
	name, state := g.Roles[id], g.state(id)
	switch id {
	case g.ID:
		name = "@everyone"
	case g.appRole:
		name = "Setscrew"
	}
	return map[string]any{"id": id, "name": name, "permissions": strconv.FormatInt(state.permissions, 10),
		"mentionable": state.mentionable, "managed": id == g.appRole, "color": 0, "hoist": false, "position": 1,
		"flags": 0}
}

// app is the application as a member.
func (g *Guild) app() map[string]any {
	return map[string]any{"user": botUser(), "roles": nonNil(g.appRoles), "joined_at": "2026-01-01T00:00:00Z",
		"deaf": false, "mute": false, "flags": 0}
}

func (c *Channel) json() map[string]any {
	overwrites := []any{}
	for _, rule := range c.overwrites {
		kind := 0
		if rule.Member {
			kind = 1
		}
		overwrites = append(overwrites, map[string]any{"id": rule.ID, "type": kind,
			"allow": strconv.FormatInt(rule.Allow, 10), "deny": strconv.FormatInt(rule.Deny, 10)})
	}
	return map[string]any{"id": c.ID, "guild_id": c.Guild, "type": 0, "name": c.Name, "position": 0,
		"permission_overwrites": overwrites, "nsfw": false, "parent_id": nil}
}

func (s *Server) dispatchRole(event string, g *Guild, role string) {
	s.dispatch(event, map[string]any{"guild_id": g.ID, "role": g.role(role)})
}

// sendGuilds tells a new session of every guild, if it asked for that.
func (s *Server) sendGuilds(ss *session) {
	if ss.intents&intentGuilds == 0 {
		return
	}
	for _, id := range slices.Sorted(maps.Keys(s.guilds)) {
		text, err := json.Marshal(s.guildJSON(s.guilds[id]))
		if err != nil {
			panic(err)
		}
		ss.deliver(s, "GUILD_CREATE", text)
	}
}

// memberCounts counts who has each role of a guild, but everybody's.
func (s *Server) memberCounts(guild string) (any, error) {
	home := s.guilds[guild]
	if home == nil {
		return nil, errAccess
	}
	counts := map[string]int{home.appRole: 1}
	// any order: each is counted
	for id := range home.Roles {
		counts[id] = 0
	}
	// any order: each is counted
	for _, m := range home.Members {
		for _, r := range m.Roles {
			counts[r]++
		}
	}
	return counts, nil
}

// answer is a message as it answers a request, with who it really mentioned.
func (s *Server) answer(m *Message, guild *Guild) map[string]any {
	all := m.json()
	roles, people := []any{}, []any{}
	for _, ping := range m.Pings {
		switch {
		case ping == "everyone":
			all["mention_everyone"] = true
		case len(ping) > 5 && ping[:5] == "role:":
			roles = append(roles, ping[5:])
		default:
			if known := guild.Members[ping[5:]]; known != nil {
				people = append(people, user(known))
			}
		}
	}
	all["mention_roles"], all["mentions"] = roles, people
	return all
}

// mayPing takes out of those whom a message would notify the roles, and everybody, whom
// the application may not mention in the channel.
func (s *Server) mayPing(c *Channel, pings []string) []string {
	guild := s.guilds[c.Guild]
	return slices.DeleteFunc(pings, func(ping string) bool {
		if c.Permissions&MentionEveryone != 0 || ping[:5] == "user:" {
			return false
		}
		return ping == "everyone" || guild == nil || !guild.state(ping[5:]).mentionable
	})
}
