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
	r := newMarble(t)
	r.server.MakeMentionable(r.guild, r.stewards, false)
	r.start()
	r.ready()
	role, wren := "role:"+r.stewards, "user:"+r.wren.ID
	_, reply := r.slash(r.ada, "tagout", "machine=Marble", "reason=loose")
	if strings.Contains(reply.Content, "cannot be pinged") {
		t.Errorf("a member is told: %s", reply.Content)
	}
	first := r.last(0)
	if !slices.Equal(first.Pings, []string{wren}) ||
		!strings.HasPrefix(first.Content, "<@&"+r.stewards+"> <@"+r.wren.ID+"> Marble is tagged out") {
		t.Errorf("the stewards are called by %q: %s", first.Pings, first.Content)
	}
	for _, who := range []*discordtest.Member{r.wren, r.keeper} {
		for _, want := range []bool{true, false} {
			if _, reply := r.slash(who, "help", "command=due"); strings.Contains(reply.Content,
				"Allow anyone to @mention this role") != want || !reply.Ephemeral {
				t.Errorf("%s is told %v, want %v: %s", who.Name, !want, want, reply.Content)
			}
		}
	}
	i, reply := r.slash(r.wren, "shop settings")
	if !strings.Contains(reply.Content, "the one steward whom I know") {
		t.Errorf("the settings: %s", reply.Content)
	}
	before := r.standing()
	_, reply = r.press(i, r.wren, "Ping the stewards")
	if !strings.Contains(reply.Content, "One steward was mentioned, the role was not pinged.") {
		t.Errorf("a test: %s", reply.Content)
	}
	if test := r.last(before); !slices.Equal(test.Pings, []string{wren}) {
		t.Errorf("a test pings %q", test.Pings)
	}
	// Somebody lets anybody mention it.
	r.server.MakeMentionable(r.guild, r.stewards, true)
	i, reply = r.slash(r.wren, "shop settings")
	if !strings.Contains(reply.Content, "I may post notices there and ping the stewards.") {
		t.Errorf("the settings afterwards: %s", reply.Content)
	}
	before = r.standing()
	_, reply = r.press(i, r.wren, "Ping the stewards")
	if test := r.last(before); !slices.Equal(test.Pings, []string{role}) ||
		!strings.Contains(reply.Content, "the stewards' role was pinged") {
		t.Errorf("a test afterwards pings %q: %s", test.Pings, reply.Content)
	}
	// And nobody again, but the bot may mention all roles in the channel.
	r.server.MakeMentionable(r.guild, r.stewards, false)
	r.server.SetOverwrites(r.channel, discordtest.Overwrite{ID: r.server.AppRole(r.guild),
		Allow: discordtest.MentionEveryone})
	before = r.standing()
	r.slash(r.bo, "problem", "machine=Marble", "what=snipe")
	if last := r.last(before); !slices.Equal(last.Pings, []string{role}) {
		t.Errorf("permitted to mention all: %q", last.Pings)
	}
	r.logged("notices lack something", 1)
	r.logged("notices lack nothing any more", 1)
	if strings.Contains(r.log.String(), "mentioned and not pinged") {
		t.Error("what was known is logged as a surprise")
	}
}

// Who a posted message really mentioned is read from Discord's answer: where it is not who
// was meant, that is logged, and believed until the server changes.
func TestAnswersSayWhoWasMentioned(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	r.start()
	r.ready()
	r.server.Fail("POST", "/channels/*/messages", discordtest.Fault{Status: 200, Served: true,
		Body: `{"id": "123", "mention_roles": [], "mentions": []}`}, 1)
	r.slash(r.ada, "tagout", "machine=Marble", "reason=loose")
	r.last(0)
	r.logged("mentioned and not pinged", 1)
	_, reply := r.slash(r.wren, "shop settings")
	if !strings.Contains(reply.Content, "The stewards' role cannot be pinged.") {
		t.Errorf("the settings: %s", reply.Content)
	}
	before := r.standing()
	r.slash(r.bo, "problem", "machine=Marble", "what=snipe")
	if last := r.last(before); !slices.Equal(last.Pings, []string{"role:" + r.stewards, "user:" + r.wren.ID}) {
		t.Errorf("the next one calls %q", last.Pings)
	}
	// That one's answer says that the role was pinged after all.
	for strings.Contains(reply.Content, "cannot be pinged") {
		_, reply = r.slash(r.wren, "shop settings") // until the bot has read it
	}
	if !strings.Contains(reply.Content, "I may post notices there and ping the stewards.") {
		t.Errorf("the settings afterwards: %s", reply.Content)
	}
	// Who reported a problem, and is not mentioned, is logged.
	r.server.Fail("POST", "/channels/*/messages", discordtest.Fault{Status: 200, Served: true,
		Body: `{"id": "124", "mention_roles": [], "mentions": []}`}, 1)
	r.slash(r.wren, "mended", "machine=Marble", "problem=snipe")
	r.logged("somebody was not mentioned", 1)
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
	for _, c := range []struct {
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
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := newMarble(t)
			r.start()
			r.ready()
			c.hurt(r)
			const nothing = "No notice says in the channel yet that Marble is tagged out."
			_, reply := r.slash(r.ada, "tagout", "machine=Marble", "reason=loose")
			if !strings.Contains(reply.Content, nothing) {
				t.Errorf("whoever hung the tag is not told at once: %s", reply.Content)
			}
			r.check(r.server.Until(r.ctx, func() bool { return r.server.Refused("POST", "/channels/*/messages") > 0 }))
			r.logged("a notice could not be posted", 1)
			for range 2 {
				if _, reply := r.slash(r.keeper, "help", "command=due"); !strings.Contains(reply.Content, c.told) {
					t.Errorf("told: %s, want %s", reply.Content, c.told)
				}
				if _, reply := r.slash(r.ada, "help", "command=due"); !strings.Contains(reply.Content, nothing) ||
					strings.Contains(reply.Content, "Notices wait") {
					t.Errorf("whoever hung the tag is told: %s", reply.Content)
				}
				if _, reply := r.slash(r.bo, "help", "command=due"); strings.Contains(reply.Content, "otice") {
					t.Errorf("a member is told: %s", reply.Content)
				}
			}
			c.mend(r)
			ctx, cancel := context.WithTimeout(r.ctx, 10*time.Second*slower)
			defer cancel()
			if all, err := r.server.UntilMessages(ctx, r.channel, 1); err != nil ||
				!strings.Contains(all[0].Content, "Marble is tagged out") {
				t.Fatalf("it does not come when it may: %+v, %v", all, err)
			}
			r.check(r.server.Until(r.ctx, func() bool { return r.server.Pinned(r.channel) == 1 }))
			for _, who := range []*discordtest.Member{r.keeper, r.ada} {
				if _, reply := r.slash(who, "help", "command=due"); strings.Contains(reply.Content, "otice") {
					t.Errorf("%s is told afterwards: %s", who.Name, reply.Content)
				}
			}
			if n := strings.Count(r.log.String(), "a notice could not be posted"); n != 1 {
				t.Errorf("logged %d times", n)
			}
		})
	}
}

// A server that cannot be reached for a while is no trouble of the shop's.
func TestOutageIsNotTold(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	r.start()
	r.ready()
	r.server.Outage(r.guild, true)
	if _, reply := r.slash(r.keeper, "help", "command=due"); strings.Contains(reply.Content, "Notices") {
		t.Errorf("told: %s", reply.Content)
	}
	r.slash(r.ada, "tagout", "machine=Marble", "reason=loose")
	if first := r.last(0); !slices.Equal(first.Pings, []string{"role:" + r.stewards}) {
		t.Errorf("called by %q", first.Pings)
	}
	if strings.Contains(r.log.String(), "removed from") {
		t.Error("an outage is taken for a removal")
	}
}

// What could not work is refused when it is set: a channel in which the bot may not write,
// a role that nobody has or everybody. No client offers those of another server; that they
// are refused too is a story of the commands.
func TestSettingsThatCannotWork(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	closed := r.server.AddChannel(r.guild, "closed")
	r.server.SetPermissions(closed, discordtest.ViewChannel)
	idle := r.server.AddRole(r.guild, "idle")
	r.start()
	r.ready()
	for _, c := range []struct{ option, want string }{
		{"notices=" + closed.ID, "I may not post in that channel. Switch on for me there: Send Messages"},
		{"stewards=" + idle, "Nobody has that role."},
		{"stewards=" + r.guild.ID, "Everybody has that role"},
	} {
		if _, reply := r.slash(r.keeper, "shop settings", c.option); !strings.Contains(reply.Content, c.want) {
			t.Errorf("%s: %s", c.option, reply.Content)
		}
	}
	shop, err := r.db.Shop(domain.ShopID(r.guild.ID)).Shop(r.ctx)
	if err != nil || shop.NoticeChannel != r.channel.ID || shop.StewardRole != r.stewards {
		t.Errorf("stored: %+v, %v", shop, err)
	}
	// One that is counted by nobody is taken: Discord's fault keeps no shop from being set up.
	r.server.Fail("GET", "/guilds/*/roles/member-counts", discordtest.APIError(500, 0, "oops"), 1)
	_, reply := r.slash(r.keeper, "shop settings", "stewards="+idle)
	if !strings.Contains(reply.Content, "Settings changed") {
		t.Errorf("not counted: %s", reply.Content)
	}
}

// A deleted role makes nobody a steward, and is told to whoever may manage the server.
func TestDeletedRole(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	r.start()
	r.ready()
	r.slash(r.wren, "help", "command=due")
	r.server.DeleteRole(r.guild, r.stewards)
	const gone = "The stewards' role is gone, so nobody is a steward."
	for range 2 {
		if _, reply := r.slash(r.keeper, "help", "command=due"); !strings.Contains(reply.Content, gone) {
			t.Errorf("told: %s", reply.Content)
		}
	}
	if _, reply := r.slash(r.wren, "help", "command=due"); strings.Contains(reply.Content, gone) {
		t.Errorf("who is no steward is told: %s", reply.Content)
	}
	r.logged("the stewards' role", 1)
}

// What is told beside an answer that takes the place of a message follows it, quietly.
func TestAsideFollowsQuietly(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	r.start()
	r.ready()
	i, _ := r.slash(r.wren, "reading", "machine=Marble", "check=infeed roller",
		"values=left 0.046 in, right 0.041 in")
	r.server.SetPermissions(r.channel, discordtest.ViewChannel)
	_, reply := r.press(i, r.wren, "I turned it")
	if !reply.Replaced || strings.Contains(reply.Content, "Notices wait") {
		t.Errorf("the answer: %+v", reply)
	}
	r.check(r.server.Until(r.ctx, func() bool { return r.server.FollowUps() == 1 }))
	for _, q := range r.server.Requests() {
		var sent struct {
			Content string
			Flags   int
		}
		if !strings.HasPrefix(q.Path, "/webhooks/") {
			continue
		}
		if err := json.Unmarshal([]byte(q.Body), &sent); err != nil || sent.Flags != 64 ||
			!strings.HasPrefix(sent.Content, "Notices wait") {
			t.Errorf("followed by %+v, %v", sent, err)
		}
	}
}
