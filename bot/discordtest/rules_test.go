package discordtest_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"mime/multipart"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/bot/discordtest"
)

// wide is a text of that many characters, each of two bytes.
func wide(n int) string { return strings.Repeat("é", n) }

// Messages are taken up to the last character that Discord takes, and refused beyond.
func TestMessageLimits(t *testing.T) {
	t.Parallel()
	s, _, c, _ := newServer(t)
	content := func(n int) any { return map[string]any{"content": wide(n)} }
	embed := func(e map[string]any) any { return map[string]any{"embeds": []any{e}} }
	embeds := func(count, each int) any {
		var all []any
		for range count {
			all = append(all, map[string]any{"description": wide(each)})
		}
		return map[string]any{"embeds": all}
	}
	fields := func(n int, name, value string) any {
		var all []any
		for range n {
			all = append(all, map[string]any{"name": name, "value": value})
		}
		return embed(map[string]any{"fields": all})
	}
	rows := func(count, each, id, label int) any {
		var all []any
		for r := range count {
			var parts []any
			for p := range each {
				name := fmt.Sprintf("%d-%d", r, p)
				parts = append(parts, map[string]any{"type": 2, "style": 1, "label": wide(label),
					"custom_id": name + strings.Repeat("x", id-len(name))})
			}
			all = append(all, map[string]any{"type": 1, "components": parts})
		}
		return map[string]any{"content": "x", "components": all}
	}
	one := func(part map[string]any) any {
		return map[string]any{"content": "x",
			"components": []any{map[string]any{"type": 1, "components": []any{part}}}}
	}
	for _, x := range []struct {
		name      string
		good, bad any
	}{
		{"content", content(2000), content(2001)},
		{"nonce", map[string]any{"content": "x", "nonce": strings.Repeat("n", 25)},
			map[string]any{"content": "x", "nonce": strings.Repeat("n", 26)}},
		{"embeds", embeds(10, 100), embeds(11, 100)},
		{"embeds together", embeds(3, 2000), embeds(3, 2001)},
		{"embed's title", embed(map[string]any{"title": wide(256)}), embed(map[string]any{"title": wide(257)})},
		{"embed's description", embeds(1, 4096), embeds(1, 4097)},
		{"embed's footer", embed(map[string]any{"footer": map[string]any{"text": wide(2048)}}),
			embed(map[string]any{"footer": map[string]any{"text": wide(2049)}})},
		{"embed's fields", fields(25, "a", "b"), fields(26, "a", "b")},
		{"field's name", fields(1, wide(256), "b"), fields(1, wide(257), "b")},
		{"field's value", fields(1, "a", wide(1024)), fields(1, "a", wide(1025))},
		{"rows", rows(5, 5, 100, 80), rows(6, 5, 100, 80)},
		{"buttons in a row", rows(1, 5, 10, 10), rows(1, 6, 10, 10)},
		{"custom id", rows(1, 1, 100, 1), rows(1, 1, 101, 1)},
		{"label", rows(1, 1, 10, 80), rows(1, 1, 10, 81)},
		{"a row without buttons", rows(1, 1, 10, 10), rows(1, 0, 10, 10)},
		{"a row of another type", rows(1, 1, 10, 10), map[string]any{"content": "x",
			"components": []any{map[string]any{"type": 2, "label": "x", "style": 1, "custom_id": "x"}}}},
		{"style", one(map[string]any{"type": 2, "style": 4, "label": "x", "custom_id": "x"}),
			one(map[string]any{"type": 2, "style": 5, "label": "x", "custom_id": "x"})},
	} {
		before := len(s.Messages(c))
		if status, a := api(t, s, "POST", "/channels/"+c.ID+"/messages", x.good); status != 200 {
			t.Errorf("%s at its limit: %d %v", x.name, status, a)
		}
		if status, a := api(t, s, "POST", "/channels/"+c.ID+"/messages", x.bad); status != 400 || a["code"] != 50035.0 {
			t.Errorf("%s beyond its limit: %d %v", x.name, status, a)
		}
		if n := len(s.Messages(c)) - before; n != 1 {
			t.Errorf("%s: %d messages more", x.name, n)
		}
	}
}

// upload posts a message with files of a size.
func upload(t *testing.T, s *discordtest.Server, path string, files, size int) (int, map[string]any) {
	t.Helper()
	var text bytes.Buffer
	w := multipart.NewWriter(&text)
	w.WriteField("payload_json", `{"content": "see"}`) //nolint:errcheck // to memory
	for i := range files {
		f, err := w.CreateFormFile(fmt.Sprintf("files[%d]", i), fmt.Sprintf("%d.png", i))
		if err != nil {
			t.Fatal(err)
		}
		f.Write(make([]byte, size)) //nolint:errcheck
	}
	w.Close() //nolint:errcheck
	r, err := http.NewRequest("POST", "https://discord.com/api/v9"+path, &text)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bot "+discordtest.Token)
	r.Header.Set("Content-Type", w.FormDataContentType())
	resp, err := s.Direct().Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	var a map[string]any
	json.NewDecoder(resp.Body).Decode(&a) //nolint:errcheck // looked at by its status
	return resp.StatusCode, a
}

// Ten files of ten mebibytes, where files are permitted.
func TestFiles(t *testing.T) {
	t.Parallel()
	s, _, c, _ := newServer(t)
	path := "/channels/" + c.ID + "/messages"
	if status, a := upload(t, s, path, 10, 10); status != 200 {
		t.Errorf("ten files: %d %v", status, a)
	}
	if all := s.Messages(c); len(all) != 1 || len(all[0].Files) != 10 || all[0].Files[0] != "0.png" ||
		all[0].Content != "see" {
		t.Errorf("what stands there: %+v", all)
	}
	if status, _ := upload(t, s, path, 11, 10); status != 400 {
		t.Errorf("eleven files: %d", status)
	}
	if status, _ := upload(t, s, path, 1, 10<<20); status != 200 {
		t.Errorf("a file of 10 MiB: %d", status)
	}
	if status, a := upload(t, s, path, 1, 10<<20+1); status != 413 || a["code"] != 40005.0 {
		t.Errorf("a file over 10 MiB: %d %v", status, a)
	}
	s.SetPermissions(c, discordtest.AllPermissions&^discordtest.AttachFiles)
	if status, a := upload(t, s, path, 1, 10); status != 403 || a["code"] != 50013.0 {
		t.Errorf("where files are not permitted: %d %v", status, a)
	}
}

// A channel's messages are listed newest first, a hundred at most, and not at all where
// history may not be read; each can be read, edited and deleted.
func TestMessages(t *testing.T) {
	t.Parallel()
	s, _, c, _ := newServer(t)
	path := "/channels/" + c.ID + "/messages"
	for n := range 105 {
		api(t, s, "POST", path, map[string]any{"content": fmt.Sprint("message ", n)})
	}
	all := s.Messages(c)
	list := func(query string) (contents []string) {
		t.Helper()
		r, err := http.NewRequest("GET", "https://discord.com/api/v9"+path+query, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Authorization", "Bot "+discordtest.Token)
		resp, err := s.Direct().Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		var got []struct{ Content string }
		if err := json.NewDecoder(resp.Body).Decode(&got); err != nil {
			t.Fatal(err)
		}
		for _, m := range got {
			contents = append(contents, m.Content)
		}
		return contents
	}
	if got := list(""); len(got) != 50 || got[0] != "message 104" {
		t.Errorf("without a limit: %d, the first %q", len(got), got[:1])
	}
	if got := list("?limit=500"); len(got) != 100 || got[99] != "message 5" {
		t.Errorf("with a limit of 500: %d", len(got))
	}
	if got := list("?limit=2&before=" + all[10].ID); !slices.Equal(got, []string{"message 9", "message 8"}) {
		t.Errorf("before the eleventh: %q", got)
	}
	s.SetPermissions(c, discordtest.AllPermissions&^discordtest.ReadHistory)
	if got := list(""); len(got) != 0 {
		t.Errorf("where history may not be read: %d", len(got))
	}
	s.SetPermissions(c, discordtest.AllPermissions)
	one := path + "/" + all[3].ID
	if status, a := api(t, s, "PATCH", one, map[string]any{"content": "other"}); status != 200 ||
		a["content"] != "other" {
		t.Errorf("edited: %d %v", status, a)
	}
	if status, a := api(t, s, "PATCH", one, map[string]any{"content": wide(2001)}); status != 400 {
		t.Errorf("edited too long: %d %v", status, a)
	}
	if m := s.Messages(c)[3]; m.Content != "other" || !m.Edited || s.Content(c, 3) != "other" {
		t.Errorf("after the edit: %+v", m)
	}
	if status, a := api(t, s, "GET", one, nil); status != 200 || a["id"] != all[3].ID {
		t.Errorf("read: %d %v", status, a)
	}
	if status, _ := api(t, s, "DELETE", one, nil); status != 204 || len(s.Messages(c)) != 104 {
		t.Errorf("deleted: %d, %d left", status, len(s.Messages(c)))
	}
	s.DeleteMessage(c, all[4].ID)
	for _, m := range all[3:5] {
		if status, a := api(t, s, "PATCH", path+"/"+m.ID, map[string]any{"content": "x"}); status != 404 ||
			a["code"] != 10008.0 {
			t.Errorf("edited what is deleted: %d %v", status, a)
		}
	}
	if s.Content(c, 500) != "" {
		t.Error("there is a 501st message")
	}
	if status, a := api(t, s, "GET", "/channels/"+c.ID, nil); status != 200 || a["name"] != "general" {
		t.Errorf("the channel: %d %v", status, a)
	}
	s.DeleteChannel(c)
	if status, a := api(t, s, "GET", "/channels/"+c.ID, nil); status != 404 || a["code"] != 10003.0 {
		t.Errorf("a deleted channel: %d %v", status, a)
	}
}

// Two hundred and fifty pins a channel, by whoever may pin and sees it.
func TestPins(t *testing.T) {
	t.Parallel()
	s, _, c, _ := newServer(t)
	pins := "/channels/" + c.ID + "/messages/pins"
	for n := range 251 {
		api(t, s, "POST", "/channels/"+c.ID+"/messages", map[string]any{"content": fmt.Sprint(n)})
		if n >= 250 {
			break
		}
		if status, a := api(t, s, "PUT", pins+"/"+s.Messages(c)[n].ID, nil); status != 204 {
			t.Fatalf("pin %d: %d %v", n+1, status, a)
		}
	}
	all := s.Messages(c)
	if status, a := api(t, s, "PUT", pins+"/"+all[250].ID, nil); status != 400 || a["code"] != 30003.0 {
		t.Errorf("pin 251: %d %v", status, a)
	}
	if status, _ := api(t, s, "PUT", pins+"/"+all[0].ID, nil); status != 204 || s.Pinned(c) != 250 {
		t.Errorf("what is pinned already: %d, %d pinned", status, s.Pinned(c))
	}
	if status, _ := api(t, s, "DELETE", pins+"/"+all[0].ID, nil); status != 204 || s.Pinned(c) != 249 {
		t.Errorf("unpinned: %d, %d pinned", status, s.Pinned(c))
	}
	if status, a := api(t, s, "GET", pins, nil); status != 200 || len(a["items"].([]any)) != 249 {
		t.Errorf("the list: %d, %d long", status, len(a["items"].([]any)))
	}
	if status, a := api(t, s, "PUT", pins+"/1", nil); status != 404 || a["code"] != 10008.0 {
		t.Errorf("no such message: %d %v", status, a)
	}
	s.SetPermissions(c, discordtest.AllPermissions&^discordtest.PinMessages)
	if status, a := api(t, s, "PUT", pins+"/"+all[0].ID, nil); status != 403 || a["code"] != 50013.0 {
		t.Errorf("without permission: %d %v", status, a)
	}
	s.SetPermissions(c, 0)
	if status, a := api(t, s, "PUT", pins+"/"+all[0].ID, nil); status != 403 || a["code"] != 50001.0 {
		t.Errorf("without access: %d %v", status, a)
	}
	if status, a := api(t, s, "PUT", "/channels/1/messages/pins/1", nil); status != 404 || a["code"] != 10003.0 {
		t.Errorf("no such channel: %d %v", status, a)
	}
}

// More of what Discord refuses of commands: lengths of choices, groups that are commands
// too, and a hundred commands at most.
func TestMoreCommandRules(t *testing.T) {
	t.Parallel()
	s, g, _, _ := newServer(t)
	command := func(name string, options ...any) map[string]any {
		return map[string]any{"name": name, "description": "x", "options": options}
	}
	choice := func(name, value int) any {
		return map[string]any{"type": 3, "name": "x", "description": "x",
			"choices": []any{map[string]any{"name": wide(name), "value": wide(value)}}}
	}
	sub := map[string]any{"type": 1, "name": "sub", "description": "x"}
	text := map[string]any{"type": 3, "name": "text", "description": "x"}
	deep := map[string]any{"type": 1, "name": "a", "description": "x"}
	for range 4 {
		deep = map[string]any{"type": 2, "name": "a", "description": "x", "options": []any{deep}}
	}
	many := func(n int) (all []any) {
		for i := range n {
			all = append(all, command(fmt.Sprint("c", i)))
		}
		return all
	}
	described := func(n int) []any { return []any{map[string]any{"name": "x", "description": wide(n)}} }
	for _, x := range []struct {
		name      string
		good, bad []any
	}{
		{"choice's name", []any{command("a", choice(100, 1))}, []any{command("a", choice(101, 1))}},
		{"choice's value", []any{command("a", choice(1, 100))}, []any{command("a", choice(1, 101))}},
		{"a choice without a name", []any{command("a", choice(1, 1))}, []any{command("a", choice(0, 1))}},
		{"a group with options", []any{command("a", sub)}, []any{command("a", sub, text)}},
		{"groups in groups", []any{command("a", sub)}, []any{command("a", deep)}},
		{"an option of no type", []any{command("a", text)}, []any{command("a", map[string]any{"type": 12, "name": "x",
			"description": "x"})}},
		{"commands", many(100), many(101)},
		{"name", []any{command(strings.Repeat("a", 32))}, []any{command(strings.Repeat("a", 33))}},
		{"description", described(100), described(101)},
	} {
		path := "/applications/" + discordtest.AppID + "/commands"
		if status, a := api(t, s, "PUT", path, x.good); status != 200 {
			t.Errorf("%s, good: %d %v", x.name, status, a)
		}
		if status, a := api(t, s, "PUT", path, x.bad); status != 400 || a["code"] != 50035.0 {
			t.Errorf("%s, bad: %d %v", x.name, status, a)
		}
	}
	if n := s.Overwrites(); n != 9 || !s.Registered() {
		t.Errorf("registered %d times, want 9: what is refused changes nothing", n)
	}
	guild := "/applications/" + discordtest.AppID + "/guilds/" + g.ID + "/commands"
	if status, a := api(t, s, "PUT", guild, many(1)); status != 200 {
		t.Errorf("a guild's commands: %d %v", status, a)
	}
	if status, a := api(t, s, "PUT", strings.Replace(guild, g.ID, "1", 1), many(1)); status != 403 {
		t.Errorf("another guild's commands: %d %v", status, a)
	}
	if status, a := api(t, s, "PUT", guild, map[string]any{"name": "x"}); status != 400 {
		t.Errorf("no list: %d %v", status, a)
	}
}

// A request meets the faults scripted for it, each so often as it was said.
func TestFaults(t *testing.T) {
	t.Parallel()
	s, _, c, _ := newServer(t)
	path := "/channels/" + c.ID + "/messages"
	post := func() (int, map[string]any) { return api(t, s, "POST", path, map[string]any{"content": "x"}) }
	s.Fail("POST", "/channels/*/messages", discordtest.APIError(500, 7, "oops"), 2)
	s.Fail("POST", "/channels/*/messages", discordtest.TooMany(90*time.Second, true), 1)
	for range 2 {
		if status, a := post(); status != 500 || a["code"] != 7.0 || a["message"] != "oops" {
			t.Errorf("the first fault: %d %v", status, a)
		}
	}
	if status, a := post(); status != 429 || a["retry_after"] != 90.0 || a["global"] != true {
		t.Errorf("the second: %d %v", status, a)
	}
	if status, _ := post(); status != 200 || len(s.Messages(c)) != 1 {
		t.Errorf("no fault: %d, %d messages", status, len(s.Messages(c)))
	}
	s.Fail("POST", path, discordtest.Fault{Status: 502, Served: true, Stalled: 50 * time.Millisecond}, 9)
	begin := time.Now()
	if status, _ := post(); status != 502 || len(s.Messages(c)) != 2 || time.Since(begin) < 50*time.Millisecond {
		t.Errorf("served and stalled: %d, %d messages after %v", status, len(s.Messages(c)), time.Since(begin))
	}
	s.Mend()
	if status, _ := post(); status != 200 {
		t.Errorf("mended: %d", status)
	}
	s.Fail("POST", path, discordtest.Fault{Drop: true}, 1)
	for _, client := range []*http.Client{s.Direct(), s.Client()} {
		r, err := http.NewRequest("POST", "https://discord.com/api/v9"+path, strings.NewReader(`{"content": "x"}`))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Authorization", "Bot "+discordtest.Token)
		if resp, err := client.Do(r); err == nil {
			resp.Body.Close()
			t.Errorf("cut off: %s", resp.Status)
		}
		s.Fail("POST", path, discordtest.Fault{Drop: true}, 1)
	}
	if n := len(s.Messages(c)); n != 3 {
		t.Errorf("%d messages, want 3", n)
	}
	if refused := s.Refused("POST", "/channels/*"); refused != 4 {
		t.Errorf("%d refused, want 4", refused)
	}
	all := s.Requests()
	if last := all[len(all)-1]; len(all) != 8 || last.Status != 0 || last.Path != path {
		t.Errorf("%d requests, the last %+v", len(all), last)
	}
}

// Whoever has no token, or asks for what there is not, is refused; so is a body that is
// no JSON.
func TestRoutes(t *testing.T) {
	t.Parallel()
	s, _, c, _ := newServer(t)
	ask := func(path, token, body string) int {
		t.Helper()
		r, err := http.NewRequest("POST", "https://discord.com/api/v9"+path, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Authorization", token)
		resp, err := s.Direct().Do(r)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		return resp.StatusCode
	}
	path := "/channels/" + c.ID + "/messages"
	for _, x := range []struct {
		path, token, body string
		want              int
	}{
		{path, "Bot wrong", `{"content": "x"}`, 401},
		{path, "Bot " + discordtest.Token, `{"content"`, 400},
		{"/nothing", "Bot " + discordtest.Token, `{}`, 404},
		{"/channels/" + c.ID + "/sermons", "Bot " + discordtest.Token, `{}`, 404},
		{path, "Bot " + discordtest.Token, `{"content": "x"}`, 200},
	} {
		if got := ask(x.path, x.token, x.body); got != x.want {
			t.Errorf("%s %s: %d, want %d", x.path, x.body, got, x.want)
		}
	}
	if status, a := api(t, s, "GET", "/users/@me", nil); status != 200 || a["id"] != discordtest.AppID {
		t.Errorf("who I am: %d %v", status, a)
	}
	if status, a := api(t, s, "GET", "/gateway/bot", nil); status != 200 || a["shards"] != 1.0 ||
		!strings.HasPrefix(a["url"].(string), "ws://127.0.0.1:") {
		t.Errorf("the gateway: %d %v", status, a)
	}
	if resp, err := s.Direct().Get("http://example.invalid/"); err == nil {
		resp.Body.Close()
		t.Error("a request left for another host")
	}
}

// A channel takes five posts in five seconds where that is asked for, and says how long
// to wait; another channel has its own.
func TestChannelPosts(t *testing.T) {
	t.Parallel()
	s := discordtest.New()
	defer s.Close()
	s.ChannelPosts = 5
	g := s.AddGuild("Quarry Street Commons")
	a, b := s.AddChannel(g, "a"), s.AddChannel(g, "b")
	post := func(c *discordtest.Channel) (int, map[string]any) {
		return api(t, s, "POST", "/channels/"+c.ID+"/messages", map[string]any{"content": "x"})
	}
	for range 5 {
		if status, _ := post(a); status != 200 {
			t.Fatalf("one of the first five: %d", status)
		}
	}
	status, answer := post(a)
	if wait, _ := answer["retry_after"].(float64); status != 429 || !(wait > 4 && wait <= 5) ||
		answer["global"] != false {
		t.Errorf("the sixth: %d %v", status, answer)
	}
	if status, _ := post(b); status != 200 {
		t.Errorf("another channel's first: %d", status)
	}
	s.Advance(5 * time.Second)
	if status, _ := post(a); status != 200 {
		t.Errorf("five seconds later: %d", status)
	}
	if n := len(s.Messages(a)); n != 6 {
		t.Errorf("%d messages stand", n)
	}
}
