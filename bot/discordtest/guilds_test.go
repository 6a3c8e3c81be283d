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
	server, guild, channel, _ := newServer(t)
	server.IdentifyEvery = time.Nanosecond // two at once
	role := server.AddRole(guild, "stewards")
	deaf, listens := dial(t, server), dial(t, server)
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
	if err := json.Unmarshal(listens.expects(0, "GUILD_CREATE").Data, &came); err != nil || came.ID != guild.ID ||
		len(came.Roles) != 3 || came.Roles[2].ID != role || came.Roles[2].Mentionable || len(came.Channels) != 1 ||
		came.Channels[0].ID != channel.ID || len(came.Members) != 1 || came.Members[0].User.ID != discordtest.AppID ||
		fmt.Sprint(came.Members[0].Roles) != "["+server.AppRole(guild)+"]" {
		t.Errorf("a guild: %+v, %v", came, err)
	}
	for _, change := range []struct {
		event string
		do    func()
	}{
		{"GUILD_ROLE_UPDATE", func() { server.MakeMentionable(guild, role, true) }},
		{"GUILD_ROLE_UPDATE", func() { server.PermitRole(guild, role, discordtest.MentionEveryone) }},
		{"GUILD_ROLE_CREATE", func() { server.AddRole(guild, "wardens") }},
		{"GUILD_MEMBER_UPDATE", func() { server.GiveApp(guild, role) }},
		{"GUILD_ROLE_DELETE", func() { server.DeleteRole(guild, role) }},
		{"CHANNEL_CREATE", func() { server.AddChannel(guild, "other") }},
		{"CHANNEL_UPDATE", func() { server.SetPermissions(channel, 0) }},
		{"CHANNEL_UPDATE", func() { server.SetOverwrites(channel) }},
		{"CHANNEL_DELETE", func() { server.DeleteChannel(channel) }},
		{"GUILD_DELETE", func() { server.Outage(guild, true) }},
		{"GUILD_CREATE", func() { server.Outage(guild, false) }},
		{"GUILD_DELETE", func() { server.RemoveApp(guild) }},
		{"GUILD_CREATE", func() { server.AddApp(guild) }},
	} {
		change.do()
		listens.expects(0, change.event)
	}
	server.Raw("ONE", map[string]any{})
	deaf.expects(0, "ONE")
}

// What the application may do in a channel follows from the guild's roles and the
// channel's overwrites.
func TestOverwritesDecide(t *testing.T) {
	t.Parallel()
	server, guild, channel, _ := newServer(t)
	post := func(when string, want int) {
		t.Helper()
		if got, a := api(t, server, "POST", "/channels/"+channel.ID+"/messages",
			map[string]any{"content": "x"}); got != want {
			t.Errorf("%s: %d %v, want %d", when, got, a, want)
		}
	}
	post("at first", 200)
	server.SetOverwrites(channel, discordtest.Overwrite{ID: guild.ID, Deny: discordtest.SendMessages})
	post("denied everybody", 403)
	own := discordtest.Overwrite{ID: server.AppRole(guild), Allow: discordtest.SendMessages}
	server.SetOverwrites(channel, discordtest.Overwrite{ID: guild.ID, Deny: discordtest.SendMessages}, own)
	post("but not its role", 200)
	server.SetOverwrites(channel, own, discordtest.Overwrite{ID: discordtest.AppID, Member: true,
		Deny: discordtest.ViewChannel})
	post("hidden from it", 403)
	server.PermitRole(guild, server.AppRole(guild), discordtest.Administrator)
	post("an administrator", 200)
	server.RemoveApp(guild)
	post("removed", 403)
	server.AddApp(guild)
	post("added again", 200)
}

// A role is pinged if anybody may mention it, or the application may mention everybody;
// the answer says who was mentioned, the second time too.
func TestRolesThatPing(t *testing.T) {
	t.Parallel()
	server, guild, channel, ada := newServer(t)
	role := server.AddRole(guild, "stewards")
	post := func(when, want string) {
		t.Helper()
		body := map[string]any{"content": "@everyone <@&" + role + "> <@" + ada.ID + ">", "nonce": when,
			"enforce_nonce": true}
		for range 2 {
			_, a := api(t, server, "POST", "/channels/"+channel.ID+"/messages", body)
			people := a["mentions"].([]any)
			got := fmt.Sprint(a["mention_everyone"], len(a["mention_roles"].([]any)), len(people))
			if got != want || people[0].(map[string]any)["id"] != ada.ID {
				t.Errorf("%s: mentioned %s, want %s", when, got, want)
			}
		}
	}
	post("as it was made", "false 0 1")
	server.MakeMentionable(guild, role, true)
	post("mentionable", "false 1 1")
	server.MakeMentionable(guild, role, false)
	server.SetPermissions(channel, discordtest.AllPermissions|discordtest.MentionEveryone)
	post("permitted", "true 1 1")
	server.SetOverwrites(channel)
	post("no longer", "false 0 1")
}

// Who has a role is counted, without naming them.
func TestMemberCounts(t *testing.T) {
	t.Parallel()
	server, guild, _, _ := newServer(t)
	role, idle := server.AddRole(guild, "stewards"), server.AddRole(guild, "idle")
	server.AddMember(guild, "wren", 0, role)
	server.AddMember(guild, "ishaan", 0, role)
	status, counts := api(t, server, "GET", "/guilds/"+guild.ID+"/roles/member-counts", nil)
	if status != 200 || counts[role] != 2.0 || counts[idle] != 0.0 || counts[guild.ID] != nil {
		t.Errorf("%d %v", status, counts)
	}
	if status, _ := api(t, server, "GET", "/guilds/1/roles/member-counts", nil); status != 403 {
		t.Errorf("of another guild: %d", status)
	}
}
