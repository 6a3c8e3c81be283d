package discordtest_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/bwmarrin/discordgo"

	"setscrew/bot/discordtest"
)

// api makes one REST request as the application and returns its status and
// what it answered.
func api(t *testing.T, s *discordtest.Server, method, path string, body any) (int, map[string]any) {
	t.Helper()
	text, err := json.Marshal(body)
	if err != nil {
		t.Fatal(err)
	}
	request, err := http.NewRequest(method, "https://discord.com/api/v9"+path, bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Authorization", "Bot "+discordtest.Token)
	request.Header.Set("Content-Type", "application/json")
	resp, err := s.Client().Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	var answer map[string]any
	json.NewDecoder(resp.Body).Decode(&answer) //nolint:errcheck // a list, or nothing
	return resp.StatusCode, answer
}

func newServer(t *testing.T) (*discordtest.Server, *discordtest.Guild, *discordtest.Channel, *discordtest.Member) {
	t.Helper()
	s := discordtest.New()
	t.Cleanup(s.Close)
	s.ChannelPosts, s.RequestsASecond = -1, -1 // how often has tests of its own
	g := s.AddGuild("guild")
	return s, g, s.AddChannel(g, "general"), s.AddMember(g, "ada", 0)
}

// Answers are dated by the server's clock, and ids made by it, whichever that is.
func TestDates(t *testing.T) {
	t.Parallel()
	server, guild, channel, ada := newServer(t)
	begin := time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC)
	server.Clock = func() time.Time { return begin }
	server.Advance(time.Hour)
	api(t, server, "PUT", "/applications/"+discordtest.AppID+"/commands", []any{map[string]any{"name": "due", "type": 1,
		"description": "What is due"}})
	for name, client := range map[string]*http.Client{"over a socket": server.Client(), "direct": server.Direct()} {
		resp, err := client.Get("https://discord.com/api/v9/nowhere") // refusals are dated too
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close() //nolint:errcheck // nothing in it is needed
		if got := resp.Header.Get("Date"); got != "Tue, 06 May 2031 08:08:09 GMT" {
			t.Errorf("%s: %q", name, got)
		}
	} // any order: each is looked at by itself
	i, err := server.Slash(guild, channel, ada, "due", nil)
	if err != nil {
		t.Fatal(err)
	}
	id, err := strconv.ParseInt(i.ID, 10, 64)
	if err != nil || time.UnixMilli(id>>22+1420070400000).Sub(begin.Add(time.Hour)).Abs() > time.Second {
		t.Errorf("the id %s, %v", i.ID, err)
	}
}

// What Discord refuses, with its codes.
func TestRefusals(t *testing.T) {
	t.Parallel()
	server, _, channel, _ := newServer(t)
	long := strings.Repeat("x", 2001)
	button := func(id, label string) any {
		return map[string]any{"type": 1,
			"components": []any{map[string]any{"type": 2, "style": 1, "label": label, "custom_id": id}}}
	}
	six := []any{button("1", "a"), button("2", "a"), button("3", "a"), button("4", "a"), button("5", "a"),
		button("6", "a")}
	for _, test := range []struct {
		path string
		body any
		code float64
	}{
		{"/channels/1/messages", map[string]any{"content": "x"}, 10003},
		{"/channels/" + channel.ID + "/messages", map[string]any{}, 50006},
		{"/channels/" + channel.ID + "/messages", map[string]any{"content": long}, 50035},
		{"/channels/" + channel.ID + "/messages", map[string]any{"content": "x", "components": six}, 50035},
		{"/channels/" + channel.ID + "/messages",
			map[string]any{"content": "x", "components": []any{button("1", "a"), button("1", "b")}}, 50035},
		{"/channels/" + channel.ID + "/messages",
			map[string]any{"content": "x", "components": []any{button(strings.Repeat("x", 101), "a")}}, 50035},
		{"/channels/" + channel.ID + "/messages",
			map[string]any{"content": "x", "components": []any{button("1", strings.Repeat("x", 81))}}, 50035},
		{"/channels/" + channel.ID + "/messages", map[string]any{"content": "x", "nonce": strings.Repeat("x", 26)},
			50035},
		{"/interactions/1/t/callback", map[string]any{"type": 4, "data": map[string]any{"content": "x"}}, 10062},
	} {
		if status, a := api(t, server, "POST", test.path, test.body); status < 400 || a["code"] != test.code {
			t.Errorf("%s: %d %v, want code %v", test.path, status, a, test.code)
		}
	}
	server.SetPermissions(channel, discordtest.ViewChannel)
	if status, a := api(t, server, "POST", "/channels/"+channel.ID+"/messages",
		map[string]any{"content": "x"}); status != 403 ||
		a["code"] != 50013.0 {
		t.Errorf("without permission: %d %v", status, a)
	}
	server.SetPermissions(channel, 0)
	if status, a := api(t, server, "GET", "/channels/"+channel.ID+"/messages", nil); status != 403 ||
		a["code"] != 50001.0 {
		t.Errorf("without access: %d %v", status, a)
	}
	if n := len(server.Messages(channel)); n != 0 {
		t.Errorf("%d messages", n)
	}
}

// Commands that break Discord's rules are refused whole.
func TestCommandRules(t *testing.T) {
	t.Parallel()
	server, _, _, _ := newServer(t)
	text := func(name string, required bool) map[string]any {
		return map[string]any{"type": 3, "name": name, "description": "x", "required": required}
	}
	command := func(name string, options ...any) map[string]any {
		return map[string]any{"name": name, "description": "x", "options": options}
	}
	many := make([]any, 26)
	for i := range many {
		many[i] = text(fmt.Sprintf("o%d", i), false)
	}
	long := command("long")
	for i := range 25 {
		long["options"] = append(long["options"].([]any),
			map[string]any{"type": 3, "name": fmt.Sprintf("o%d", i), "description": strings.Repeat("x", 100),
				"choices": []any{map[string]any{"name": strings.Repeat("y", 100), "value": strings.Repeat("z", 100)},
					map[string]any{"name": strings.Repeat("v", 100), "value": strings.Repeat("w", 100)}}})
	}
	for _, list := range [][]any{
		{command("Upper")}, {command("two words")}, {command("")}, {map[string]any{"name": "x"}},
		{command("a"), command("a")},
		{command("a", text("x", false), text("y", true))}, {command("a", text("x", false), text("x", false))},
		{command("a", many...)}, {long},
		{command("a", map[string]any{"type": 3, "name": "x", "description": "x", "autocomplete": true,
			"choices": []any{map[string]any{"name": "a", "value": "a"}}})},
	} {
		if status, a := api(t, server, "PUT", "/applications/"+discordtest.AppID+"/commands", list); status != 400 {
			t.Errorf("%.200v: %d %v", list, status, a)
		}
	}
	if status, a := api(t, server, "PUT", "/applications/"+discordtest.AppID+"/commands",
		[]any{command("a", text("x", true), text("y", false))}); status != 200 {
		t.Errorf("a good command: %d %v", status, a)
	}
}

// One answer an interaction, within three seconds; its token lives fifteen
// minutes.
func TestDeadlines(t *testing.T) {
	t.Parallel()
	server, g, c, ada := newServer(t)
	api(t, server, "PUT", "/applications/"+discordtest.AppID+"/commands",
		[]any{map[string]any{"name": "ping", "description": "x"}})
	begin := func() string {
		i, err := server.Slash(g, c, ada, "ping", nil)
		if err != nil {
			t.Fatal(err)
		}
		return "/interactions/" + i.ID + "/token-" + i.ID + "/callback"
	}
	hello := map[string]any{"type": 4, "data": map[string]any{"content": "x"}}
	path := begin()
	server.Advance(2900 * time.Millisecond)
	if status, a := api(t, server, "POST", path, hello); status != 204 {
		t.Errorf("in time: %d %v", status, a)
	}
	if status, a := api(t, server, "POST", path, hello); status != 400 || a["code"] != 40060.0 {
		t.Errorf("a second answer: %d %v", status, a)
	}
	edit := "/webhooks/" + discordtest.AppID + "/" + strings.Split(path, "/")[3] + "/messages/@original"
	server.Advance(14 * time.Minute)
	if status, a := api(t, server, "PATCH", edit, map[string]any{"content": "y"}); status != 200 {
		t.Errorf("an edit in time: %d %v", status, a)
	}
	server.Advance(2 * time.Minute)
	if status, a := api(t, server, "PATCH", edit, map[string]any{"content": "y"}); status != 401 ||
		a["code"] != 50027.0 {
		t.Errorf("an edit too late: %d %v", status, a)
	}
	path = begin()
	server.Advance(3100 * time.Millisecond)
	if status, a := api(t, server, "POST", path, hello); status != 404 || a["code"] != 10062.0 {
		t.Errorf("too late: %d %v", status, a)
	}
}

// A nonce that is enforced keeps a message from standing twice for some
// minutes, and no longer.
func TestNonceWindow(t *testing.T) {
	t.Parallel()
	server, _, channel, _ := newServer(t)
	post := func() string {
		_, a := api(t, server, "POST", "/channels/"+channel.ID+"/messages",
			map[string]any{"content": "x", "nonce": "n", "enforce_nonce": true})
		id, _ := a["id"].(string)
		return id
	}
	first := post()
	server.Advance(3 * time.Minute)
	if post() != first {
		t.Error("posted twice within minutes")
	}
	server.Advance(10 * time.Minute)
	if post() == first || len(server.Messages(channel)) != 2 {
		t.Error("a nonce is remembered for ever")
	}
}

// Whom a message notifies depends on allowed_mentions; without it, everybody
// mentioned.
func TestPings(t *testing.T) {
	t.Parallel()
	server, _, channel, _ := newServer(t)
	server.SetPermissions(channel, discordtest.AllPermissions|discordtest.MentionEveryone)
	const content = "@everyone <@&7> <@8> hello"
	for _, test := range []struct {
		allowed any
		want    string
	}{
		{nil, "[everyone role:7 user:8]"},
		{map[string]any{"parse": []string{}}, "[]"},
		{map[string]any{"parse": []string{}, "roles": []string{"7"}}, "[role:7]"},
		{map[string]any{"parse": []string{"users", "everyone"}}, "[everyone user:8]"},
	} {
		b := map[string]any{"content": content}
		if test.allowed != nil {
			b["allowed_mentions"] = test.allowed
		}
		api(t, server, "POST", "/channels/"+channel.ID+"/messages", b)
		all := server.Messages(channel)
		if got := fmt.Sprint(all[len(all)-1].Pings); got != test.want {
			t.Errorf("%v: %s, want %s", test.allowed, got, test.want)
		}
	}
}

// The description finds what the hand-written rules do not look for.
func TestSchema(t *testing.T) {
	t.Parallel()
	server, _, channel, _ := newServer(t)
	if !server.HasSchema() {
		t.Skip("skipped: shared/discord/openapi.json is missing")
	}
	var problems []string
	server.Problem = func(p string) { problems = append(problems, p) }
	api(t, server, "POST", "/channels/"+channel.ID+"/messages", map[string]any{"content": "fine"})
	if len(problems) != 0 {
		t.Errorf("a good message: %q", problems)
	}
	api(t, server, "POST", "/channels/"+channel.ID+"/messages", map[string]any{"content": 5})
	api(t, server, "POST", "/channels/"+channel.ID+"/sermons", map[string]any{"content": "x"})
	if len(problems) < 2 {
		t.Errorf("two bad requests: %q", problems)
	}
}

// The real client connects, resumes and is sent what it missed.
func TestRealClientResumes(t *testing.T) {
	t.Parallel()
	server, guild, channel, ada := newServer(t)
	api(t, server, "PUT", "/applications/"+discordtest.AppID+"/commands",
		[]any{map[string]any{"name": "ping", "description": "x"}})
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	session, err := discordgo.New("Bot " + discordtest.Token)
	if err != nil {
		t.Fatal(err)
	}
	session.Client = server.Client()
	session.LogLevel = -1
	got := make(chan string, 10)
	session.AddHandler(func(_ *discordgo.Session, i *discordgo.InteractionCreate) { got <- i.ID })
	if err := session.Open(); err != nil {
		t.Fatal(err)
	}
	defer session.Close() //nolint:errcheck
	expect := func(i *discordtest.Interaction, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		select {
		case id := <-got:
			if id != i.ID {
				t.Errorf("interaction %s, want %s", id, i.ID)
			}
		case <-ctx.Done():
			t.Fatal("no interaction came")
		}
	}
	expect(server.Slash(guild, channel, ada, "ping", nil))
	server.CloseConnections(4000)
	expect(server.Slash(guild, channel, ada, "ping", nil))
	server.Compress(true)
	expect(server.Slash(guild, channel, ada, "ping", nil))
}

// Requests to anywhere else are refused.
func TestTransportKeepsToItself(t *testing.T) {
	t.Parallel()
	s, _, _, _ := newServer(t)
	if resp, err := s.Client().Get("http://example.invalid/"); err == nil {
		resp.Body.Close()
		t.Error("a request left for another host")
	}
}
