package bot_test

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/bot/discordtest"
	"setscrew/domain"
)

// last waits for one more message in the channel than there were, and is that.
func (r *rig) last(before int) discordtest.Message {
	r.t.Helper()
	all, err := r.server.UntilMessages(r.ctx, r.channel, before+1)
	r.check(err)
	return all[before]
}

// standing counts the channel's messages.
func (r *rig) standing() int { return len(r.server.Messages(r.channel)) }

// Where the stewards' role cannot be pinged, those who are known are mentioned one by one
// and somebody who can mend it is told once; as soon as it can, the role is pinged again.
func TestRoleThatCannotBePinged(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.server.MakeMentionable(rig.guild, rig.stewards, false)
	rig.start()
	rig.ready()
	role, wren := "role:"+rig.stewards, "user:"+rig.wren.ID
	_, reply := rig.slash(rig.ada, "tagout", "machine=Marble", "reason=loose")
	if strings.Contains(reply.Content, "cannot be pinged") {
		t.Errorf("a member is told: %s", reply.Content)
	}
	first := rig.last(0)
	if !slices.Equal(first.Pings, []string{wren}) ||
		!strings.HasPrefix(first.Content, "<@&"+rig.stewards+"> <@"+rig.wren.ID+"> Marble is tagged out") {
		t.Errorf("the stewards are called by %q: %s", first.Pings, first.Content)
	}
	for _, who := range []*discordtest.Member{rig.wren, rig.keeper} {
		for _, want := range []bool{true, false} {
			if _, reply := rig.slash(who, "help", "command=due"); strings.Contains(reply.Content,
				"Allow anyone to @mention this role") != want || !reply.Ephemeral {
				t.Errorf("%s is told %v, want %v: %s", who.Name, !want, want, reply.Content)
			}
		}
	}
	interaction, reply := rig.slash(rig.wren, "shop settings")
	if !strings.Contains(reply.Content, "the one steward whom I know") {
		t.Errorf("the settings: %s", reply.Content)
	}
	before := rig.standing()
	_, reply = rig.press(interaction, rig.wren, "Ping the stewards")
	if !strings.Contains(reply.Content, "One steward was mentioned, the role was not pinged.") {
		t.Errorf("a test: %s", reply.Content)
	}
	if test := rig.last(before); !slices.Equal(test.Pings, []string{wren}) {
		t.Errorf("a test pings %q", test.Pings)
	}
	// Somebody lets anybody mention it.
	rig.server.MakeMentionable(rig.guild, rig.stewards, true)
	interaction, reply = rig.slash(rig.wren, "shop settings")
	if !strings.Contains(reply.Content, "I may post notices there and ping the stewards.") {
		t.Errorf("the settings afterwards: %s", reply.Content)
	}
	before = rig.standing()
	_, reply = rig.press(interaction, rig.wren, "Ping the stewards")
	if test := rig.last(before); !slices.Equal(test.Pings, []string{role}) ||
		!strings.Contains(reply.Content, "the stewards' role was pinged") {
		t.Errorf("a test afterwards pings %q: %s", test.Pings, reply.Content)
	}
	// And nobody again, but the bot may mention all roles in the channel.
	rig.server.MakeMentionable(rig.guild, rig.stewards, false)
	rig.server.SetOverwrites(rig.channel, discordtest.Overwrite{ID: rig.server.AppRole(rig.guild),
		Allow: discordtest.MentionEveryone})
	before = rig.standing()
	rig.slash(rig.bo, "problem", "machine=Marble", "what=snipe")
	if last := rig.last(before); !slices.Equal(last.Pings, []string{role}) {
		t.Errorf("permitted to mention all: %q", last.Pings)
	}
	rig.logged("notices lack something", 1)
	rig.logged("notices lack nothing any more", 1)
	if strings.Contains(rig.log.String(), "mentioned and not pinged") {
		t.Error("what was known is logged as a surprise")
	}
}

// Who a posted message really mentioned is read from Discord's answer: where it is not who
// was meant, that is logged, and believed until the server changes.
func TestAnswersSayWhoWasMentioned(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	rig.server.Fail("POST", "/channels/*/messages", discordtest.Fault{Status: 200, Served: true,
		Body: `{"id": "123", "mention_roles": [], "mentions": []}`}, 1)
	rig.slash(rig.ada, "tagout", "machine=Marble", "reason=loose")
	rig.last(0)
	rig.logged("mentioned and not pinged", 1)
	_, reply := rig.slash(rig.wren, "shop settings")
	if !strings.Contains(reply.Content, "The stewards' role cannot be pinged.") {
		t.Errorf("the settings: %s", reply.Content)
	}
	before := rig.standing()
	rig.slash(rig.bo, "problem", "machine=Marble", "what=snipe")
	if last := rig.last(before); !slices.Equal(last.Pings, []string{"role:" + rig.stewards, "user:" + rig.wren.ID}) {
		t.Errorf("the next one calls %q", last.Pings)
	}
	// That one's answer says that the role was pinged after all.
	for strings.Contains(reply.Content, "cannot be pinged") {
		_, reply = rig.slash(rig.wren, "shop settings") // until the bot has read it
	}
	if !strings.Contains(reply.Content, "I may post notices there and ping the stewards.") {
		t.Errorf("the settings afterwards: %s", reply.Content)
	}
	// Who reported a problem, and is not mentioned, is logged.
	rig.server.Fail("POST", "/channels/*/messages", discordtest.Fault{Status: 200, Served: true,
		Body: `{"id": "124", "mention_roles": [], "mentions": []}`}, 1)
	rig.slash(rig.wren, "mended", "machine=Marble", "problem=snipe")
	rig.logged("somebody was not mentioned", 1)
}

// nameAnother makes another channel for notices and sets it.
func (r *rig) nameAnother() {
	r.channel = r.server.AddChannel(r.guild, "another")
	_, reply := r.slash(r.keeper, "shop settings", "notices="+r.channel.ID)
	if !strings.Contains(reply.Content, r.channel.ID) {
		r.t.Errorf("not set: %s", reply.Content)
	}
}

// A channel that is closed to the bot, or gone, is told to whoever can mend it until it is
// mended, and to whoever hung the tag; it is logged once. What is owed comes at once when
// somebody permits it, or names another channel.
func TestClosedChannel(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name       string
		hurt, mend func(*rig)
		told       string
	}{
		{"no sending, permitted again", func(r *rig) { r.server.SetPermissions(r.channel, discordtest.ViewChannel) },
			func(r *rig) { r.server.SetPermissions(r.channel, discordtest.AllPermissions) },
			"Switch on for me there: Send Messages, Read Message History, Pin Messages."},
		{"hidden, by its role", func(r *rig) {
			r.server.SetOverwrites(r.channel, discordtest.Overwrite{ID: r.server.AppRole(r.guild),
				Deny: discordtest.ViewChannel})
		}, func(r *rig) { r.server.SetOverwrites(r.channel) }, "Switch on for me there: View Channel, Send"},
		{"its role permits nothing", func(r *rig) {
			r.server.PermitRole(r.guild, r.guild.ID, 0)
			r.server.PermitRole(r.guild, r.server.AppRole(r.guild), 0)
		}, func(r *rig) {
			r.server.PermitRole(r.guild, r.server.AppRole(r.guild), discordtest.AllPermissions)
		}, "Switch on for me there: View Channel, Send"},
		{"deleted, another named", func(r *rig) { r.server.DeleteChannel(r.channel) }, func(r *rig) {
			r.nameAnother()
		}, "Notices wait: the channel for them is gone."},
		{"closed, another named", func(r *rig) { r.server.SetPermissions(r.channel, 0) }, func(r *rig) {
			r.nameAnother()
		}, "Notices wait: I may not post"},
		{"removed from the server, added again", func(r *rig) { r.server.RemoveApp(r.guild) },
			func(r *rig) { r.server.AddApp(r.guild) }, "Notices wait: the channel for them is gone."},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			made := newMarble(t)
			made.start()
			made.ready()
			test.hurt(made)
			const nothing = "No notice says in the channel yet that Marble is tagged out."
			_, reply := made.slash(made.ada, "tagout", "machine=Marble", "reason=loose")
			if !strings.Contains(reply.Content, nothing) {
				t.Errorf("whoever hung the tag is not told at once: %s", reply.Content)
			}
			made.check(made.server.Until(made.ctx, func() bool {
				return made.server.Refused("POST",
					"/channels/*/messages") > 0
			}))
			made.logged("a notice could not be posted", 1)
			for range 2 {
				if _, reply := made.slash(made.keeper, "help", "command=due"); !strings.Contains(reply.Content,
					test.told) {
					t.Errorf("told: %s, want %s", reply.Content, test.told)
				}
				if _, reply := made.slash(made.ada, "help", "command=due"); !strings.Contains(reply.Content, nothing) ||
					strings.Contains(reply.Content, "Notices wait") {
					t.Errorf("whoever hung the tag is told: %s", reply.Content)
				}
				if _, reply := made.slash(made.bo, "help", "command=due"); strings.Contains(reply.Content, "otice") {
					t.Errorf("a member is told: %s", reply.Content)
				}
			}
			test.mend(made)
			ctx, cancel := context.WithTimeout(made.ctx, 10*time.Second*slower)
			defer cancel()
			if all, err := made.server.UntilMessages(ctx, made.channel, 1); err != nil ||
				!strings.Contains(all[0].Content, "Marble is tagged out") {
				t.Fatalf("it does not come when it may: %+v, %v", all, err)
			}
			made.check(made.server.Until(made.ctx, func() bool { return made.server.Pinned(made.channel) == 1 }))
			for _, who := range []*discordtest.Member{made.keeper, made.ada} {
				if _, reply := made.slash(who, "help", "command=due"); strings.Contains(reply.Content, "otice") {
					t.Errorf("%s is told afterwards: %s", who.Name, reply.Content)
				}
			}
			if n := strings.Count(made.log.String(), "a notice could not be posted"); n != 1 {
				t.Errorf("logged %d times", n)
			}
		})
	}
}

// A server that cannot be reached for a while is no trouble of the shop's.
func TestOutageIsNotTold(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	rig.server.Outage(rig.guild, true)
	if _, reply := rig.slash(rig.keeper, "help", "command=due"); strings.Contains(reply.Content, "Notices") {
		t.Errorf("told: %s", reply.Content)
	}
	rig.slash(rig.ada, "tagout", "machine=Marble", "reason=loose")
	if first := rig.last(0); !slices.Equal(first.Pings, []string{"role:" + rig.stewards}) {
		t.Errorf("called by %q", first.Pings)
	}
	if strings.Contains(rig.log.String(), "removed from") {
		t.Error("an outage is taken for a removal")
	}
}

// What could not work is refused when it is set: a channel in which the bot may not write,
// a role that nobody has or everybody. No client offers those of another server; that they
// are refused too is a story of the commands.
func TestSettingsThatCannotWork(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	closed := rig.server.AddChannel(rig.guild, "closed")
	rig.server.SetPermissions(closed, discordtest.ViewChannel)
	idle := rig.server.AddRole(rig.guild, "idle")
	rig.start()
	rig.ready()
	for _, test := range []struct{ option, want string }{
		{"notices=" + closed.ID, "I may not post in that channel. Switch on for me there: Send Messages"},
		{"stewards=" + idle, "Nobody has that role."},
		{"stewards=" + rig.guild.ID, "Everybody has that role"},
	} {
		if _, reply := rig.slash(rig.keeper, "shop settings", test.option); !strings.Contains(reply.Content,
			test.want) {
			t.Errorf("%s: %s", test.option, reply.Content)
		}
	}
	shop, err := rig.db.Shop(domain.ShopID(rig.guild.ID)).Shop(rig.ctx)
	if err != nil || shop.NoticeChannel != rig.channel.ID || shop.StewardRole != rig.stewards {
		t.Errorf("stored: %+v, %v", shop, err)
	}
	// One that is counted by nobody is taken: Discord's fault keeps no shop from being set up.
	rig.server.Fail("GET", "/guilds/*/roles/member-counts", discordtest.APIError(500, 0, "oops"), 1)
	_, reply := rig.slash(rig.keeper, "shop settings", "stewards="+idle)
	if !strings.Contains(reply.Content, "Settings changed") {
		t.Errorf("not counted: %s", reply.Content)
	}
}

// A deleted role makes nobody a steward, and is told to whoever may manage the server.
func TestDeletedRole(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	rig.slash(rig.wren, "help", "command=due")
	rig.server.DeleteRole(rig.guild, rig.stewards)
	const gone = "The stewards' role is gone, so nobody is a steward."
	for range 2 {
		if _, reply := rig.slash(rig.keeper, "help", "command=due"); !strings.Contains(reply.Content, gone) {
			t.Errorf("told: %s", reply.Content)
		}
	}
	if _, reply := rig.slash(rig.wren, "help", "command=due"); strings.Contains(reply.Content, gone) {
		t.Errorf("who is no steward is told: %s", reply.Content)
	}
	rig.logged("the stewards' role", 1)
}

// What is told beside an answer that takes the place of a message follows it, quietly.
func TestAsideFollowsQuietly(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	i, _ := rig.slash(rig.wren, "reading", "machine=Marble", "check=infeed roller",
		"values=left 0.046 in, right 0.041 in")
	rig.server.SetPermissions(rig.channel, discordtest.ViewChannel)
	_, reply := rig.press(i, rig.wren, "I turned it")
	if !reply.Replaced || strings.Contains(reply.Content, "Notices wait") {
		t.Errorf("the answer: %+v", reply)
	}
	rig.check(rig.server.Until(rig.ctx, func() bool { return rig.server.FollowUps() == 1 }))
	for _, request := range rig.server.Requests() {
		var sent struct {
			Content string
			Flags   int
		}
		if !strings.HasPrefix(request.Path, "/webhooks/") {
			continue
		}
		if err := json.Unmarshal([]byte(request.Body), &sent); err != nil || sent.Flags != 64 ||
			!strings.HasPrefix(sent.Content, "Notices wait") {
			t.Errorf("followed by %+v, %v", sent, err)
		}
	}
}
