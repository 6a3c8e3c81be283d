package discordtest_test

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"setscrew/bot/discordtest"
)

// A session that asks for guilds is told of each in full, and then of whatever changes in
// them; one that does not is told of neither.
func TestGuildEvents(t *testing.T) {
	t.Parallel()
	s, g, c, _ := newServer(t)
	s.IdentifyEvery = time.Nanosecond // two at once
	role := s.AddRole(g, "stewards")
	deaf, listens := dial(t, s), dial(t, s)
	deaf.identify()
	listens.send(2, map[string]any{"token": "Bot " + discordtest.Token, "intents": 1})
	listens.expects(0, "READY")
	var came struct {
		ID    string
		Roles []struct {
			ID, Name    string
			Permissions string
			Mentionable bool
		}
		Channels []struct{ ID string }
		Members  []struct {
			User  struct{ ID string }
			Roles []string
		}
	}
	if err := json.Unmarshal(listens.expects(0, "GUILD_CREATE").Data, &came); err != nil || came.ID != g.ID ||
		len(came.Roles) != 3 || came.Roles[2].ID != role || came.Roles[2].Mentionable || len(came.Channels) != 1 ||
		came.Channels[0].ID != c.ID || len(came.Members) != 1 || came.Members[0].User.ID != discordtest.AppID ||
		fmt.Sprint(came.Members[0].Roles) != "["+s.AppRole(g)+"]" {
		t.Errorf("a guild: %+v, %v", came, err)
	}
	for _, change := range []struct {
		event string
		do    func()
	}{
		{"GUILD_ROLE_UPDATE", func() { s.MakeMentionable(g, role, true) }},
		{"GUILD_ROLE_UPDATE", func() { s.PermitRole(g, role, discordtest.MentionEveryone) }},
		{"GUILD_ROLE_CREATE", func() { s.AddRole(g, "wardens") }},
		{"GUILD_MEMBER_UPDATE", func() { s.GiveApp(g, role) }},
		{"GUILD_ROLE_DELETE", func() { s.DeleteRole(g, role) }},
		{"CHANNEL_CREATE", func() { s.AddChannel(g, "other") }},
		{"CHANNEL_UPDATE", func() { s.SetPermissions(c, 0) }},
		{"CHANNEL_UPDATE", func() { s.SetOverwrites(c) }},
		{"CHANNEL_DELETE", func() { s.DeleteChannel(c) }},
		{"GUILD_DELETE", func() { s.Outage(g, true) }},
		{"GUILD_CREATE", func() { s.Outage(g, false) }},
		{"GUILD_DELETE", func() { s.RemoveApp(g) }},
		{"GUILD_CREATE", func() { s.AddApp(g) }},
	} {
		change.do()
		listens.expects(0, change.event)
	}
	s.Raw("ONE", map[string]any{})
	deaf.expects(0, "ONE")
}

// What the application may do in a channel follows from the guild's roles and the
// channel's overwrites.
func TestOverwritesDecide(t *testing.T) {
	t.Parallel()
	s, g, c, _ := newServer(t)
	post := func(when string, want int) {
		t.Helper()
		if got, a := api(t, s, "POST", "/channels/"+c.ID+"/messages", map[string]any{"content": "x"}); got != want {
			t.Errorf("%s: %d %v, want %d", when, got, a, want)
		}
	}
	post("at first", 200)
	s.SetOverwrites(c, discordtest.Overwrite{ID: g.ID, Deny: discordtest.SendMessages})
	post("denied everybody", 403)
	own := discordtest.Overwrite{ID: s.AppRole(g), Allow: discordtest.SendMessages}
	s.SetOverwrites(c, discordtest.Overwrite{ID: g.ID, Deny: discordtest.SendMessages}, own)
	post("but not its role", 200)
	s.SetOverwrites(c, own, discordtest.Overwrite{ID: discordtest.AppID, Member: true, Deny: discordtest.ViewChannel})
	post("hidden from it", 403)
	s.PermitRole(g, s.AppRole(g), discordtest.Administrator)
	post("an administrator", 200)
	s.RemoveApp(g)
	post("removed", 403)
	s.AddApp(g)
	post("added again", 200)
}

// A role is pinged if anybody may mention it, or the application may mention everybody;
// the answer says who was mentioned, the second time too.
func TestRolesThatPing(t *testing.T) {
	t.Parallel()
	s, g, c, ada := newServer(t)
	role := s.AddRole(g, "stewards")
	post := func(when, want string) {
		t.Helper()
		body := map[string]any{"content": "@everyone <@&" + role + "> <@" + ada.ID + ">", "nonce": when,
			"enforce_nonce": true}
		for range 2 {
			_, a := api(t, s, "POST", "/channels/"+c.ID+"/messages", body)
			people := a["mentions"].([]any)
			got := fmt.Sprint(a["mention_everyone"], len(a["mention_roles"].([]any)), len(people))
			if got != want || people[0].(map[string]any)["id"] != ada.ID {
				t.Errorf("%s: mentioned %s, want %s", when, got, want)
			}
		}
	}
	post("as it was made", "false 0 1")
	s.MakeMentionable(g, role, true)
	post("mentionable", "false 1 1")
	s.MakeMentionable(g, role, false)
	s.SetPermissions(c, discordtest.AllPermissions|discordtest.MentionEveryone)
	post("permitted", "true 1 1")
	s.SetOverwrites(c)
	post("no longer", "false 0 1")
}

// Who has a role is counted, without naming them.
func TestMemberCounts(t *testing.T) {
	t.Parallel()
	s, g, _, _ := newServer(t)
	role, idle := s.AddRole(g, "stewards"), s.AddRole(g, "idle")
	s.AddMember(g, "wren", 0, role)
	s.AddMember(g, "ishaan", 0, role)
	status, counts := api(t, s, "GET", "/guilds/"+g.ID+"/roles/member-counts", nil)
	if status != 200 || counts[role] != 2.0 || counts[idle] != 0.0 || counts[g.ID] != nil {
		t.Errorf("%d %v", status, counts)
	}
	if status, _ := api(t, s, "GET", "/guilds/1/roles/member-counts", nil); status != 403 {
		t.Errorf("of another guild: %d", status)
	}
}
