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
	s := discordtest.New()
	defer s.Close()
	s.Problem = func(p string) { t.Errorf("Discord would refuse: %s", p) }
	g := s.AddGuild("Guild")
	c := s.AddChannel(g, "general")
	ada := s.AddMember(g, "ada", 0)
	out := &output{}
	cmd := exec.CommandContext(ctx, node, "client.mjs", s.URL(), c.ID)
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
	check(s.Until(ctx, s.Registered))
	ping, err := s.Slash(g, c, ada, "ping", map[string]string{"word": "hello", "who": ada.ID})
	check(err)
	r, err := ping.Wait(ctx)
	check(err)
	if r.Content != "pong hello ada" || !r.Ephemeral ||
		!slices.ContainsFunc(r.Buttons, func(b discordtest.Button) bool { return b.Label == "More" }) {
		t.Errorf("ping: %+v", r)
	}
	press, err := s.Press(ping, ada, "More")
	check(err)
	r, err = press.Wait(ctx)
	check(err)
	if r.Content != "pressed more" || !r.Replaced {
		t.Errorf("press: %+v", r)
	}
	slow, err := s.Slash(g, c, ada, "slowly", nil)
	check(err)
	r, err = slow.Wait(ctx)
	check(err)
	if r.Content != "at last" || !r.Deferred || r.Ephemeral {
		t.Errorf("slowly: %+v", r)
	}
	check(s.Until(ctx, func() bool { return s.Pinned(c) == 1 }))
	// What the application may do in a channel it works out by itself, as the fake does,
	// after each change.
	role := s.AddRole(g, "stewards")
	for _, change := range []struct {
		do    func()
		roles string
	}{
		{func() {}, ""},
		{func() { s.MakeMentionable(g, role, true) }, "stewards"},
		{func() {
			s.SetOverwrites(c, discordtest.Overwrite{ID: g.ID, Deny: discordtest.ReadHistory | discordtest.AttachFiles},
				discordtest.Overwrite{ID: s.AppRole(g), Allow: discordtest.AttachFiles})
		}, "stewards"},
		{func() { s.PermitRole(g, role, discordtest.MentionEveryone); s.GiveApp(g, role) }, "stewards"},
		{func() {
			s.SetOverwrites(c, discordtest.Overwrite{ID: role, Deny: discordtest.PinMessages},
				discordtest.Overwrite{ID: discordtest.AppID, Member: true, Deny: discordtest.EmbedLinks})
		}, "stewards"},
		{func() { s.DeleteRole(g, role) }, ""},
		{func() { s.SetPermissions(c, discordtest.AllPermissions) }, ""},
	} {
		change.do()
		may, err := s.Slash(g, c, ada, "may", nil)
		check(err)
		r, err := may.Wait(ctx)
		check(err)
		if want := fmt.Sprintf("%d %s", c.Permissions, change.roles); strings.TrimSpace(r.Content) !=
			strings.TrimSpace(want) {
			t.Errorf("it may do %q, want %q", r.Content, want)
		}
	}
	if all := s.Messages(c); len(all) != 1 {
		t.Errorf("%d messages, the nonce was enforced", len(all))
	}
	// What few programs use: groups in groups, components of the second version, buttons of
	// what follows, forms of labels, menus, and answers that are read and deleted.
	shop, err := s.Slash(g, c, ada, "shop gauge add", map[string]string{"count": "3"})
	check(err)
	more, err := shop.FollowUps(ctx, 1)
	check(err)
	if len(more[0].Buttons) != 2 || more[0].Content != "gauge add 3" {
		t.Errorf("what follows: %+v", more)
	}
	press, err = s.Press(shop, ada, "Form")
	check(err)
	_, err = press.Wait(ctx)
	check(err)
	form, err := s.Submit(press, ada, map[string]string{"in": "word"})
	check(err)
	r, err = form.Wait(ctx)
	check(err)
	if r.Content != "typed word" {
		t.Errorf("form: %+v", r)
	}
	look, err := s.OnMessage(g, c, ada, "Look At", s.Messages(c)[0])
	check(err)
	r, err = look.Wait(ctx)
	check(err)
	if r.Content != "looked at posted" {
		t.Errorf("menu: %+v", r)
	}
	check(s.Until(ctx, func() bool { return s.Deleted(look) }))
	// The session survives a lost connection.
	s.DropConnections()
	check(s.UntilConnected(ctx, 2))
	again, err := s.Slash(g, c, ada, "ping", map[string]string{"word": "again"})
	check(err)
	r, err = again.Wait(ctx)
	check(err)
	if r.Content != "pong again" && r.Content != "pong again " {
		t.Errorf("after a lost connection: %+v", r)
	}
}
