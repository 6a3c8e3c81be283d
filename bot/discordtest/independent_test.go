package discordtest_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"setscrew/bot/discordtest"
)

// output collects what a process prints.
type output struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (o *output) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.b.Write(p)
}

func (o *output) String() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.b.String()
}

// An independent client, discord.js, logs in to the fake, registers commands,
// and is sent interactions: a mistake of the fake that one library hides
// another shows.
func TestIndependentClient(t *testing.T) {
	t.Parallel()
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("skipped: Node.js is missing")
	}
	if _, err := os.Stat(filepath.Join("independent", "node_modules", "discord.js")); err != nil {
		t.Skip("skipped: run npm ci in bot/discordtest/independent, for which Node.js's npm is needed")
	}
	ctx, cancel := context.WithTimeout(context.Background(), 60*time.Second)
	defer cancel()
	server := discordtest.New()
	defer server.Close()
	server.Problem = func(p string) { t.Errorf("Discord would refuse: %s", p) }
	guild := server.AddGuild("Guild")
	channel := server.AddChannel(guild, "general")
	ada := server.AddMember(guild, "ada", 0)
	out := &output{}
	cmd := exec.CommandContext(ctx, node, "client.mjs", server.URL(), channel.ID)
	cmd.Dir = "independent"
	cmd.Env = append(os.Environ(), "FAKE_TOKEN="+discordtest.Token)
	cmd.Stdout, cmd.Stderr = out, out
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() {
		cmd.Process.Kill() //nolint:errcheck
		cmd.Wait()         //nolint:errcheck // killed
		if t.Failed() {
			t.Log(out.String())
		}
	}()
	check := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
	}
	check(server.Until(ctx, server.Registered))
	ping, err := server.Slash(guild, channel, ada, "ping", map[string]string{"word": "hello", "who": ada.ID})
	check(err)
	reply, err := ping.Wait(ctx)
	check(err)
	if reply.Content != "pong hello ada" || !reply.Ephemeral ||
		!slices.ContainsFunc(reply.Buttons, func(b discordtest.Button) bool { return b.Label == "More" }) {
		t.Errorf("ping: %+v", reply)
	}
	press, err := server.Press(ping, ada, "More")
	check(err)
	reply, err = press.Wait(ctx)
	check(err)
	if reply.Content != "pressed more" || !reply.Replaced {
		t.Errorf("press: %+v", reply)
	}
	slow, err := server.Slash(guild, channel, ada, "slowly", nil)
	check(err)
	reply, err = slow.Wait(ctx)
	check(err)
	if reply.Content != "at last" || !reply.Deferred || reply.Ephemeral {
		t.Errorf("slowly: %+v", reply)
	}
	check(server.Until(ctx, func() bool { return server.Pinned(channel) == 1 }))
	// What the application may do in a channel it works out by itself, as the fake does,
	// after each change.
	role := server.AddRole(guild, "stewards")
	for _, change := range []struct {
		do    func()
		roles string
	}{
		{func() {}, ""},
		{func() { server.MakeMentionable(guild, role, true) }, "stewards"},
		{func() {
			server.SetOverwrites(channel, discordtest.Overwrite{ID: guild.ID,
				Deny: discordtest.ReadHistory | discordtest.AttachFiles},
				discordtest.Overwrite{ID: server.AppRole(guild), Allow: discordtest.AttachFiles})
		}, "stewards"},
		{func() { server.PermitRole(guild, role, discordtest.MentionEveryone); server.GiveApp(guild, role) },
			"stewards"},
		{func() {
			server.SetOverwrites(channel, discordtest.Overwrite{ID: role, Deny: discordtest.PinMessages},
				discordtest.Overwrite{ID: discordtest.AppID, Member: true, Deny: discordtest.EmbedLinks})
		}, "stewards"},
		{func() { server.DeleteRole(guild, role) }, ""},
		{func() { server.SetPermissions(channel, discordtest.AllPermissions) }, ""},
	} {
		change.do()
		may, err := server.Slash(guild, channel, ada, "may", nil)
		check(err)
		r, err := may.Wait(ctx)
		check(err)
		if want := fmt.Sprintf("%d %s", channel.Permissions, change.roles); strings.TrimSpace(r.Content) !=
			strings.TrimSpace(want) {
			t.Errorf("it may do %q, want %q", r.Content, want)
		}
	}
	if all := server.Messages(channel); len(all) != 1 {
		t.Errorf("%d messages, the nonce was enforced", len(all))
	}
	// What few programs use: groups in groups, components of the second version, buttons of
	// what follows, forms of labels, menus, and answers that are read and deleted.
	shop, err := server.Slash(guild, channel, ada, "shop gauge add", map[string]string{"count": "3"})
	check(err)
	more, err := shop.FollowUps(ctx, 1)
	check(err)
	if len(more[0].Buttons) != 2 || more[0].Content != "gauge add 3" {
		t.Errorf("what follows: %+v", more)
	}
	press, err = server.Press(shop, ada, "Form")
	check(err)
	_, err = press.Wait(ctx)
	check(err)
	form, err := server.Submit(press, ada, map[string]string{"in": "word"})
	check(err)
	reply, err = form.Wait(ctx)
	check(err)
	if reply.Content != "typed word" {
		t.Errorf("form: %+v", reply)
	}
	look, err := server.OnMessage(guild, channel, ada, "Look At", server.Messages(channel)[0])
	check(err)
	reply, err = look.Wait(ctx)
	check(err)
	if reply.Content != "looked at posted" {
		t.Errorf("menu: %+v", reply)
	}
	check(server.Until(ctx, func() bool { return server.Deleted(look) }))
	// The session survives a lost connection.
	server.DropConnections()
	check(server.UntilConnected(ctx, 2))
	again, err := server.Slash(guild, channel, ada, "ping", map[string]string{"word": "again"})
	check(err)
	reply, err = again.Wait(ctx)
	check(err)
	if reply.Content != "pong again" && reply.Content != "pong again " {
		t.Errorf("after a lost connection: %+v", reply)
	}
}
