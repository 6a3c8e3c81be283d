package discordtest_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"mime/multipart"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"setscrew/bot/discordtest"
)

// wide is a text of that many characters, each of two bytes.
func wide(n int) string { return strings.Repeat("é", n) }

// Messages are taken up to the last character that Discord takes, and refused beyond.
func TestMessageLimits(t *testing.T) {
	t.Parallel()
	server, _, channel, _ := newServer(t)
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
	link := func(url string) map[string]any {
		return map[string]any{"type": 2, "style": 5, "label": "x", "url": url}
	}
	options := func(n, label, value int) map[string]any {
		var all []any
		for i := range n {
			name := fmt.Sprint(i)
			all = append(all, map[string]any{"label": wide(label), "value": name + wide(max(value-len(name), 0))})
		}
		return map[string]any{"type": 3, "custom_id": "x", "options": all}
	}
	with := func(o map[string]any, key string, value any) map[string]any {
		o[key] = value
		return o
	}
	ids := func(n int) (all []string) {
		for i := range n {
			all = append(all, fmt.Sprint(1000+i))
		}
		return all
	}
	allowed := func(more ...any) any {
		a := map[string]any{}
		for i := 0; i+1 < len(more); i += 2 {
			a[more[i].(string)] = more[i+1]
		}
		return map[string]any{"content": "x", "allowed_mentions": a}
	}
	for _, test := range []struct {
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
			one(map[string]any{"type": 2, "style": 7, "label": "x", "custom_id": "x"})},
		{"a button of a blank", rows(1, 1, 10, 1),
			one(map[string]any{"type": 2, "style": 1, "label": " ", "custom_id": "x"})},
		{"a button of a picture alone", one(map[string]any{"type": 2, "style": 1, "custom_id": "x",
			"emoji": map[string]any{"name": "x"}}), one(map[string]any{"type": 2, "style": 1, "custom_id": "x"})},
		{"link", one(link("https://example.org/" + strings.Repeat("x", 492))),
			one(link("https://example.org/" + strings.Repeat("x", 493)))},
		{"a link's scheme", one(link("http://example.org")), one(link("ftp://example.org"))},
		{"a link with an id", one(link("https://example.org")), one(map[string]any{"type": 2, "style": 5, "label": "x",
			"url": "https://example.org", "custom_id": "x"})},
		{"a page behind an ordinary button", rows(1, 1, 10, 1), one(map[string]any{"type": 2, "style": 1, "label": "x",
			"url": "https://example.org", "custom_id": "x"})},
		{"options", one(options(25, 1, 1)), one(options(26, 1, 1))},
		{"an option's label", one(options(1, 100, 1)), one(options(1, 101, 1))},
		{"an option's value", one(options(25, 1, 100)), one(options(25, 1, 101))},
		{"selects in a row", one(options(1, 1, 1)), map[string]any{"content": "x", "components": []any{map[string]any{
			"type": 1, "components": []any{options(1, 1, 1), map[string]any{"type": 5, "custom_id": "who"}}}}}},
		{"a select of people", one(map[string]any{"type": 5, "custom_id": "x", "max_values": 25}),
			one(map[string]any{"type": 5, "custom_id": "x", "max_values": 26})},
		{"chosen of few options", one(with(options(2, 1, 1), "max_values", 2)),
			one(with(options(2, 1, 1), "max_values", 3))},
		{"a text input in a message", rows(1, 1, 10, 1), one(map[string]any{"type": 4, "style": 1, "label": "x",
			"custom_id": "x"})},
		{"users", allowed("users", ids(100)), allowed("users", ids(101))},
		{"roles", allowed("roles", ids(100)), allowed("roles", ids(101))},
		{"an id", allowed("roles", []string{"12345678901234567890"}), allowed("roles", []string{"stewards"})},
		{"an id of a person", allowed("users", []string{"7"}), allowed("users", []string{"<@7>"})},
		{"an id twice", allowed("users", []string{"7", "8"}), allowed("users", []string{"7", "7"})},
		{"parse", allowed("parse", []string{"users", "roles", "everyone"}), allowed("parse", []string{"members"})},
		{"parse together with users", allowed("users", []string{"7"}, "parse", []string{"roles"}),
			allowed("users", []string{"7"}, "parse", []string{"users"})},
		{"parse together with roles", allowed("roles", []string{}, "parse", []string{"roles"}),
			allowed("roles", []string{"7"}, "parse", []string{"roles", "users"})},
	} {
		before := len(server.Messages(channel))
		if status, a := api(t, server, "POST", "/channels/"+channel.ID+"/messages", test.good); status != 200 {
			t.Errorf("%s at its limit: %d %v", test.name, status, a)
		}
		if status, a := api(t, server, "POST", "/channels/"+channel.ID+"/messages", test.bad); status != 400 ||
			a["code"] != 50035.0 {
			t.Errorf("%s beyond its limit: %d %v", test.name, status, a)
		}
		if n := len(server.Messages(channel)) - before; n != 1 {
			t.Errorf("%s: %d messages more", test.name, n)
		}
	}
}

// upload posts a message with files of a size.
func upload(t *testing.T, server *discordtest.Server, path string, files, size int) (int, map[string]any) {
	t.Helper()
	var text bytes.Buffer
	writer := multipart.NewWriter(&text)
	writer.WriteField("payload_json", `{"content": "see"}`) //nolint:errcheck // to memory
	for i := range files {
		f, err := writer.CreateFormFile(fmt.Sprintf("files[%d]", i), fmt.Sprintf("%d.png", i))
		if err != nil {
			t.Fatal(err)
		}
		f.Write(make([]byte, size)) //nolint:errcheck
	}
	writer.Close() //nolint:errcheck
	request, err := http.NewRequest("POST", "https://discord.com/api/v9"+path, &text)
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Authorization", "Bot "+discordtest.Token)
	request.Header.Set("Content-Type", writer.FormDataContentType())
	resp, err := server.Direct().Do(request)
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
	server, _, channel, _ := newServer(t)
	path := "/channels/" + channel.ID + "/messages"
	if status, a := upload(t, server, path, 10, 10); status != 200 {
		t.Errorf("ten files: %d %v", status, a)
	}
	if all := server.Messages(channel); len(all) != 1 || len(all[0].Files) != 10 || all[0].Files[0] != "0.png" ||
		all[0].Content != "see" {
		t.Errorf("what stands there: %+v", all)
	}
	if status, _ := upload(t, server, path, 11, 10); status != 400 {
		t.Errorf("eleven files: %d", status)
	}
	if status, _ := upload(t, server, path, 1, 10<<20); status != 200 {
		t.Errorf("a file of 10 MiB: %d", status)
	}
	if status, a := upload(t, server, path, 1, 10<<20+1); status != 413 || a["code"] != 40005.0 {
		t.Errorf("a file over 10 MiB: %d %v", status, a)
	}
	server.SetPermissions(channel, discordtest.AllPermissions&^discordtest.AttachFiles)
	if status, a := upload(t, server, path, 1, 10); status != 403 || a["code"] != 50013.0 {
		t.Errorf("where files are not permitted: %d %v", status, a)
	}
}

// A channel's messages are listed newest first, a hundred at most, and not at all where
// history may not be read; each can be read, edited and deleted.
func TestMessages(t *testing.T) {
	t.Parallel()
	server, _, channel, _ := newServer(t)
	path := "/channels/" + channel.ID + "/messages"
	for n := range 105 {
		api(t, server, "POST", path, map[string]any{"content": fmt.Sprint("message ", n)})
	}
	all := server.Messages(channel)
	list := func(query string) (contents []string) {
		t.Helper()
		request, err := http.NewRequest("GET", "https://discord.com/api/v9"+path+query, nil)
		if err != nil {
			t.Fatal(err)
		}
		request.Header.Set("Authorization", "Bot "+discordtest.Token)
		resp, err := server.Direct().Do(request)
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
	server.SetPermissions(channel, discordtest.AllPermissions&^discordtest.ReadHistory)
	if got := list(""); len(got) != 0 {
		t.Errorf("where history may not be read: %d", len(got))
	}
	server.SetPermissions(channel, discordtest.AllPermissions)
	one := path + "/" + all[3].ID
	if status, a := api(t, server, "PATCH", one, map[string]any{"content": "other"}); status != 200 ||
		a["content"] != "other" {
		t.Errorf("edited: %d %v", status, a)
	}
	if status, a := api(t, server, "PATCH", one, map[string]any{"content": wide(2001)}); status != 400 {
		t.Errorf("edited too long: %d %v", status, a)
	}
	if m := server.Messages(channel)[3]; m.Content != "other" || !m.Edited || server.Content(channel, 3) != "other" {
		t.Errorf("after the edit: %+v", m)
	}
	if status, a := api(t, server, "GET", one, nil); status != 200 || a["id"] != all[3].ID {
		t.Errorf("read: %d %v", status, a)
	}
	if status, _ := api(t, server, "DELETE", one, nil); status != 204 || len(server.Messages(channel)) != 104 {
		t.Errorf("deleted: %d, %d left", status, len(server.Messages(channel)))
	}
	server.DeleteMessage(channel, all[4].ID)
	for _, m := range all[3:5] {
		if status, a := api(t, server, "PATCH", path+"/"+m.ID, map[string]any{"content": "x"}); status != 404 ||
			a["code"] != 10008.0 {
			t.Errorf("edited what is deleted: %d %v", status, a)
		}
	}
	if server.Content(channel, 500) != "" {
		t.Error("there is a 501st message")
	}
	if status, a := api(t, server, "GET", "/channels/"+channel.ID, nil); status != 200 || a["name"] != "general" {
		t.Errorf("the channel: %d %v", status, a)
	}
	server.DeleteChannel(channel)
	if status, a := api(t, server, "GET", "/channels/"+channel.ID, nil); status != 404 || a["code"] != 10003.0 {
		t.Errorf("a deleted channel: %d %v", status, a)
	}
}

// Two hundred and fifty pins a channel, by whoever may pin and sees it.
func TestPins(t *testing.T) {
	t.Parallel()
	server, _, channel, _ := newServer(t)
	pins := "/channels/" + channel.ID + "/messages/pins"
	for count := range 251 {
		api(t, server, "POST", "/channels/"+channel.ID+"/messages", map[string]any{"content": fmt.Sprint(count)})
		if count >= 250 {
			break
		}
		if status, a := api(t, server, "PUT", pins+"/"+server.Messages(channel)[count].ID, nil); status != 204 {
			t.Fatalf("pin %d: %d %v", count+1, status, a)
		}
	}
	all := server.Messages(channel)
	if status, a := api(t, server, "PUT", pins+"/"+all[250].ID, nil); status != 400 || a["code"] != 30003.0 {
		t.Errorf("pin 251: %d %v", status, a)
	}
	if status, _ := api(t, server, "PUT", pins+"/"+all[0].ID, nil); status != 204 || server.Pinned(channel) != 250 {
		t.Errorf("what is pinned already: %d, %d pinned", status, server.Pinned(channel))
	}
	// Discord has said of each pin that there was one, and nothing of what was pinned already.
	if newest := lists(t, server, "/channels/"+channel.ID+"/messages?limit=100"); len(newest) != 100 ||
		newest[0]["content"] != "250" || newest[1]["type"] != 6.0 || newest[1]["content"] != "" ||
		newest[1]["message_reference"].(map[string]any)["message_id"] != all[249].ID || newest[2]["content"] != "249" {
		t.Errorf("the newest: %v", newest[:3])
	} else {
		said := "/channels/" + channel.ID + "/messages/" + newest[1]["id"].(string)
		for method, path := range map[string]string{"PATCH": said, "PUT": pins + "/" + newest[1]["id"].(string)} {
			status, a := api(t, server, method, path, map[string]any{"content": "x"})
			if status != 403 || a["code"] != 50021.0 {
				t.Errorf("%s what Discord said: %d %v", method, status, a)
			}
		}
		if status, _ := api(t, server, "DELETE", said, nil); status != 204 {
			t.Errorf("what Discord said is deleted: %d", status)
		}
	}
	if status, _ := api(t, server, "DELETE", pins+"/"+all[0].ID, nil); status != 204 || server.Pinned(channel) != 249 {
		t.Errorf("unpinned: %d, %d pinned", status, server.Pinned(channel))
	}
	if status, a := api(t, server, "GET", pins, nil); status != 200 || len(a["items"].([]any)) != 249 {
		t.Errorf("the list: %d, %d long", status, len(a["items"].([]any)))
	}
	if status, a := api(t, server, "PUT", pins+"/1", nil); status != 404 || a["code"] != 10008.0 {
		t.Errorf("no such message: %d %v", status, a)
	}
	server.SetPermissions(channel, discordtest.AllPermissions&^discordtest.ReadHistory)
	if status, a := api(t, server, "GET", pins, nil); status != 200 || len(a["items"].([]any)) != 0 {
		t.Errorf("the list where history may not be read: %d %v", status, a)
	}
	one := "/channels/" + channel.ID + "/messages/" + all[0].ID
	if status, a := api(t, server, "GET", one, nil); status != 403 || a["code"] != 50013.0 {
		t.Errorf("one message where history may not be read: %d %v", status, a)
	}
	server.SetPermissions(channel, discordtest.AllPermissions&^discordtest.PinMessages)
	if status, a := api(t, server, "PUT", pins+"/"+all[0].ID, nil); status != 403 || a["code"] != 50013.0 {
		t.Errorf("without permission: %d %v", status, a)
	}
	server.SetPermissions(channel, 0)
	if status, a := api(t, server, "PUT", pins+"/"+all[0].ID, nil); status != 403 || a["code"] != 50001.0 {
		t.Errorf("without access: %d %v", status, a)
	}
	if status, a := api(t, server, "PUT", "/channels/1/messages/pins/1", nil); status != 404 || a["code"] != 10003.0 {
		t.Errorf("no such channel: %d %v", status, a)
	}
}

// More of what Discord refuses of commands: lengths of choices, groups that are commands
// too, and a hundred commands at most.
func TestMoreCommandRules(t *testing.T) {
	t.Parallel()
	server, home, _, _ := newServer(t)
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
	with := func(o map[string]any, more ...any) map[string]any {
		o = maps.Clone(o)
		for i := 0; i+1 < len(more); i += 2 {
			o[more[i].(string)] = more[i+1]
		}
		return o
	}
	group := func(inner ...any) map[string]any {
		return map[string]any{"type": 2, "name": "group", "description": "x", "options": inner}
	}
	values := func(v any) []any { return []any{map[string]any{"name": "x", "value": v}} }
	menu := func(kind int, name string) map[string]any { return map[string]any{"type": kind, "name": name} }
	menus := func(n int) (all []any) {
		for i := range n {
			all = append(all, menu(3, fmt.Sprint("M ", i)))
		}
		return all
	}
	described := func(n int) []any { return []any{map[string]any{"name": "x", "description": wide(n)}} }
	cases := []struct {
		name      string
		good, bad []any
	}{
		{"choice's name", []any{command("a", choice(100, 1))}, []any{command("a", choice(101, 1))}},
		{"choice's value", []any{command("a", choice(1, 100))}, []any{command("a", choice(1, 101))}},
		{"a choice without a name", []any{command("a", choice(1, 1))}, []any{command("a", choice(0, 1))}},
		{"a group with options", []any{command("a", sub)}, []any{command("a", sub, text)}},
		{"groups in groups", []any{command("a", sub)}, []any{command("a", deep)}},
		{"a group of subcommands", []any{command("a", group(sub))}, []any{command("a", group(text))}},
		{"a group in a group", []any{command("a", group(sub))}, []any{command("a", group(group(sub)))}},
		{"an empty group", []any{command("a", group(sub))}, []any{command("a", group())}},
		{"a subcommand in a subcommand", []any{command("a", with(sub, "options", []any{text}))},
			[]any{command("a", with(sub, "options", []any{sub}))}},
		{"a subcommand that is required", []any{command("a", sub)}, []any{command("a", with(sub, "required", true))}},
		{"lengths", []any{command("a", with(text, "min_length", 6000, "max_length", 6000))},
			[]any{command("a", with(text, "max_length", 6001))}},
		{"least length", []any{command("a", with(text, "min_length", 6000))},
			[]any{command("a", with(text, "min_length", 6001))}},
		{"lengths in order", []any{command("a", with(text, "min_length", 5, "max_length", 5))},
			[]any{command("a", with(text, "min_length", 6, "max_length", 5))}},
		{"lengths of a number", []any{command("a", with(text, "max_length", 5))},
			[]any{command("a", with(text, "type", 4, "max_length", 5))}},
		{"bounds", []any{command("a", with(text, "type", 4, "min_value", 1<<53))},
			[]any{command("a", with(text, "type", 4, "min_value", 1<<53+2))}},
		{"bounds in order", []any{command("a", with(text, "type", 10, "min_value", 1.5, "max_value", 1.5))},
			[]any{command("a", with(text, "type", 10, "min_value", 1.6, "max_value", 1.5))}},
		{"a whole number's bounds", []any{command("a", with(text, "type", 10, "max_value", 1.5))},
			[]any{command("a", with(text, "type", 4, "max_value", 1.5))}},
		{"bounds of a text", []any{command("a", with(text, "type", 4, "min_value", 1))},
			[]any{command("a", with(text, "min_value", 1))}},
		{"types of channels", []any{command("a", with(text, "type", 7, "channel_types", []int{0}))},
			[]any{command("a", with(text, "channel_types", []int{0}))}},
		{"choices of people", []any{command("a", choice(1, 1))},
			[]any{command("a", with(choice(1, 1).(map[string]any), "type", 6))}},
		{"completed people", []any{command("a", with(text, "autocomplete", true))},
			[]any{command("a", with(text, "type", 6, "autocomplete", true))}},
		{"a number's choice", []any{command("a", with(text, "type", 4, "choices", values(1)))},
			[]any{command("a", with(text, "type", 4, "choices", values("1")))}},
		{"a text's choice", []any{command("a", with(text, "choices", values("1")))},
			[]any{command("a", with(text, "choices", values(1)))}},
		{"options of a text", []any{command("a", text)}, []any{command("a", with(text, "options", []any{text}))}},
		{"a menu's name", []any{menu(3, strings.Repeat("A b ", 8))}, []any{menu(3, strings.Repeat("A b ", 8)+"c")}},
		{"a menu's description", []any{menu(2, "Tag Out")}, []any{with(menu(2, "Tag Out"), "description", "x")}},
		{"a menu's options", []any{menu(3, "Tag Out")}, []any{with(menu(3, "Tag Out"), "options", []any{text})}},
		{"a menu's number", menus(15), menus(16)},
		{"names of one type", []any{menu(2, "a"), menu(3, "a"), command("a")}, []any{menu(2, "a"), menu(2, "a")}},
		{"a type of command", []any{menu(3, "a")}, []any{menu(4, "a")}},
		{"a description of blanks", described(1), []any{map[string]any{"name": "x", "description": " "}}},
		{"an option of no type", []any{command("a", text)}, []any{command("a", map[string]any{"type": 12, "name": "x",
			"description": "x"})}},
		{"commands", many(100), many(101)},
		{"name", []any{command(strings.Repeat("a", 32))}, []any{command(strings.Repeat("a", 33))}},
		{"description", described(100), described(101)},
	}
	for _, test := range cases {
		path := "/applications/" + discordtest.AppID + "/commands"
		if status, a := api(t, server, "PUT", path, test.good); status != 200 {
			t.Errorf("%s, good: %d %v", test.name, status, a)
		}
		if status, a := api(t, server, "PUT", path, test.bad); status != 400 || a["code"] != 50035.0 {
			t.Errorf("%s, bad: %d %v", test.name, status, a)
		}
	}
	if n := server.Overwrites(); n != len(cases) || !server.Registered() {
		t.Errorf("registered %d times, want %d: what is refused changes nothing", n, len(cases))
	}
	guild := "/applications/" + discordtest.AppID + "/guilds/" + home.ID + "/commands"
	if status, a := api(t, server, "PUT", guild, many(1)); status != 200 {
		t.Errorf("a guild's commands: %d %v", status, a)
	}
	if status, a := api(t, server, "PUT", strings.Replace(guild, home.ID, "1", 1), many(1)); status != 403 {
		t.Errorf("another guild's commands: %d %v", status, a)
	}
	if status, a := api(t, server, "PUT", guild, map[string]any{"name": "x"}); status != 400 {
		t.Errorf("no list: %d %v", status, a)
	}
}

// A request meets the faults scripted for it, each so often as it was said.
func TestFaults(t *testing.T) {
	t.Parallel()
	server, _, channel, _ := newServer(t)
	path := "/channels/" + channel.ID + "/messages"
	post := func() (int, map[string]any) { return api(t, server, "POST", path, map[string]any{"content": "x"}) }
	server.Fail("POST", "/channels/*/messages", discordtest.APIError(500, 7, "oops"), 2)
	server.Fail("POST", "/channels/*/messages", discordtest.TooMany(90*time.Second, true), 1)
	for range 2 {
		if status, a := post(); status != 500 || a["code"] != 7.0 || a["message"] != "oops" {
			t.Errorf("the first fault: %d %v", status, a)
		}
	}
	if status, a := post(); status != 429 || a["retry_after"] != 90.0 || a["global"] != true {
		t.Errorf("the second: %d %v", status, a)
	}
	if status, _ := post(); status != 200 || len(server.Messages(channel)) != 1 {
		t.Errorf("no fault: %d, %d messages", status, len(server.Messages(channel)))
	}
	server.Fail("POST", path, discordtest.Fault{Status: 502, Served: true, Stalled: 50 * time.Millisecond}, 9)
	begin := time.Now()
	if status, _ := post(); status != 502 || len(server.Messages(channel)) != 2 ||
		time.Since(begin) < 50*time.Millisecond {
		t.Errorf("served and stalled: %d, %d messages after %v", status, len(server.Messages(channel)),
			time.Since(begin))
	}
	server.Mend()
	if status, _ := post(); status != 200 {
		t.Errorf("mended: %d", status)
	}
	server.Fail("POST", path, discordtest.Fault{Drop: true}, 1)
	for _, client := range []*http.Client{server.Direct(), server.Client()} {
		request, err := http.NewRequest("POST", "https://discord.com/api/v9"+path,
			strings.NewReader(`{"content": "x"}`))
		if err != nil {
			t.Fatal(err)
		}
		request.Header.Set("Authorization", "Bot "+discordtest.Token)
		if resp, err := client.Do(request); err == nil {
			resp.Body.Close()
			t.Errorf("cut off: %s", resp.Status)
		}
		server.Fail("POST", path, discordtest.Fault{Drop: true}, 1)
	}
	if n := len(server.Messages(channel)); n != 3 {
		t.Errorf("%d messages, want 3", n)
	}
	if refused := server.Refused("POST", "/channels/*"); refused != 4 {
		t.Errorf("%d refused, want 4", refused)
	}
	all := server.Requests()
	if last := all[len(all)-1]; len(all) != 8 || last.Status != 0 || last.Path != path {
		t.Errorf("%d requests, the last %+v", len(all), last)
	}
}

// Whoever has no token, or asks for what there is not, is refused; so is a body that is
// no JSON.
func TestRoutes(t *testing.T) {
	t.Parallel()
	server, _, channel, _ := newServer(t)
	ask := func(path, token, body string) int {
		t.Helper()
		request, err := http.NewRequest("POST", "https://discord.com/api/v9"+path, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		request.Header.Set("Authorization", token)
		resp, err := server.Direct().Do(request)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		return resp.StatusCode
	}
	path := "/channels/" + channel.ID + "/messages"
	for _, test := range []struct {
		path, token, body string
		want              int
	}{
		{path, "Bot wrong", `{"content": "x"}`, 401},
		{path, "Bot " + discordtest.Token, `{"content"`, 400},
		{"/nothing", "Bot " + discordtest.Token, `{}`, 404},
		{"/channels/" + channel.ID + "/sermons", "Bot " + discordtest.Token, `{}`, 404},
		{path, "Bot " + discordtest.Token, `{"content": "x"}`, 200},
	} {
		if got := ask(test.path, test.token, test.body); got != test.want {
			t.Errorf("%s %s: %d, want %d", test.path, test.body, got, test.want)
		}
	}
	if status, a := api(t, server, "GET", "/users/@me", nil); status != 200 || a["id"] != discordtest.AppID {
		t.Errorf("who I am: %d %v", status, a)
	}
	if status, a := api(t, server, "GET", "/gateway/bot", nil); status != 200 || a["shards"] != 1.0 ||
		!strings.HasPrefix(a["url"].(string), "ws://127.0.0.1:") {
		t.Errorf("the gateway: %d %v", status, a)
	}
	if resp, err := server.Direct().Get("http://example.invalid/"); err == nil {
		resp.Body.Close()
		t.Error("a request left for another host")
	}
}

// lists is the list that a request is answered by.
func lists(t *testing.T, s *discordtest.Server, path string) (all []map[string]any) {
	t.Helper()
	resp := ask(t, s, "GET", path, "")      //nolint:bodyclose // ask does
	json.NewDecoder(resp.Body).Decode(&all) //nolint:errcheck // looked at by its elements
	return all
}

// ask makes one request and is all of its answer, which is closed with the test.
func ask(t *testing.T, server *discordtest.Server, method, path, body string) *http.Response {
	t.Helper()
	request, err := http.NewRequest(method, "https://discord.com/api/v9"+path, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Authorization", "Bot "+discordtest.Token)
	resp, err := server.Direct().Do(request)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { resp.Body.Close() })
	return resp
}

// A channel takes five posts in five seconds, and five edits, says in its headers what is
// left, and beyond that how long to wait; another channel has its own, and a refused
// message uses its place up too.
func TestChannelPosts(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		server := discordtest.New()
		defer server.Close()
		g := server.AddGuild("Quarry Street Commons")
		attached, button := server.AddChannel(g, "a"), server.AddChannel(g, "b")
		post := func(c *discordtest.Channel, text string) *http.Response {
			return ask(t, server, "POST", "/channels/"+c.ID+"/messages", `{"content": "`+text+`"}`)
		}
		headers := func(response *http.Response) string {
			var all []string
			for _, name := range []string{"Limit", "Remaining", "Reset-After", "Bucket", "Scope", "Global"} {
				all = append(all, response.Header.Get("X-RateLimit-"+name))
			}
			return fmt.Sprintf("%d %s %s", response.StatusCode, strings.Join(all, "|"),
				response.Header.Get("Retry-After"))
		}
		for count, want := range []string{"200 5|4|5.000|posts-of-channels|| ", "200 5|3|4.000|posts-of-channels|| ",
			"200 5|2|3.000|posts-of-channels|| ", "400 5|1|2.000|posts-of-channels|| ",
			"200 5|0|1.000|posts-of-channels|| "} {
			text := "x"
			if count == 3 {
				text = "" // refused for what it says
			}
			if got := headers(post(attached, text)); got != want { //nolint:bodyclose // ask does
				t.Errorf("post %d: %q, want %q", count+1, got, want)
			}
			time.Sleep(time.Second)
		}
		// The first has just left the five seconds.
		sixth := post(attached, "x") //nolint:bodyclose // ask does
		if got := headers(sixth); got != "200 5|0|1.000|posts-of-channels|| " {
			t.Errorf("the sixth after five seconds: %q", got)
		}
		refused := post(attached, "x") //nolint:bodyclose // ask does
		if got := headers(refused); got != "429 5|0|1.000|posts-of-channels|user| 2" {
			t.Errorf("the seventh: %q", got)
		}
		var said map[string]any
		if err := json.NewDecoder(refused.Body).Decode(&said); err != nil || said["retry_after"] != 1.0 ||
			said["global"] != false {
			t.Errorf("the seventh: %v, %v", said, err)
		}
		at, err := strconv.ParseFloat(refused.Header.Get("X-RateLimit-Reset"), 64)
		if want := float64(time.Now().Add(time.Second).UnixMilli()) / 1000; err != nil || at != want {
			t.Errorf("reset at %v, want %v", at, want)
		}
		if got := headers(post(button, "x")); got != "200 5|4|5.000|posts-of-channels|| " {
			t.Errorf("another channel's first: %q", got)
		}
		one := "/channels/" + attached.ID + "/messages/" + server.Messages(attached)[0].ID
		for n := range 6 {
			want := []string{"200", "429"}[n/5]
			if got := headers(ask(t, server, "PATCH", one, `{"content": "y"}`)); !strings.HasPrefix(got, want+" 5|") ||
				!strings.Contains(got, "|edits-of-channels|") {
				t.Errorf("edit %d: %q", n+1, got)
			}
		}
		if got := ask(t, server, "GET", one, ""); got.StatusCode != 200 || got.Header.Get("X-RateLimit-Limit") != "" {
			t.Errorf("reading: %q", headers(got))
		}
		time.Sleep(time.Second)
		if got := post(attached, "x"); got.StatusCode != 200 {
			t.Errorf("a second later: %q", headers(got))
		}
	})
}

// Fifty requests a second are taken, wherever to; those of interactions are not counted.
func TestRequestsASecond(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		server := discordtest.New()
		defer server.Close()
		for n := range 50 {
			if r := ask(t, server, "GET", "/users/@me", ""); r.StatusCode != 200 {
				t.Fatalf("request %d: %s", n+1, r.Status)
			}
		}
		r := ask(t, server, "GET", "/users/@me", "")
		if r.StatusCode != 429 || r.Header.Get("X-RateLimit-Global") != "true" {
			t.Errorf("request 51: %s %v", r.Status, r.Header)
		}
		for _, path := range []string{"/interactions/1/x/callback", "/webhooks/" + discordtest.AppID + "/x"} {
			if r := ask(t, server, "POST", path, "{}"); r.StatusCode == 429 {
				t.Errorf("%s: %s", path, r.Status)
			}
		}
		time.Sleep(time.Second)
		if r := ask(t, server, "GET", "/users/@me", ""); r.StatusCode != 200 {
			t.Errorf("a second later: %s", r.Status)
		}
	})
}

// A message of blanks says nothing, be it made so or edited so.
func TestBlank(t *testing.T) {
	t.Parallel()
	server, _, c, _ := newServer(t)
	path := "/channels/" + c.ID + "/messages"
	for _, text := range []string{"", " ", "\n\t \u00a0"} {
		status, a := api(t, server, "POST", path, map[string]any{"content": text})
		if status != 400 || a["code"] != 50006.0 {
			t.Errorf("%q: %d %v", text, status, a)
		}
	}
	_, a := api(t, server, "POST", path, map[string]any{"content": " x "})
	one := path + "/" + a["id"].(string)
	row := []any{map[string]any{"type": 1, "components": []any{map[string]any{"type": 2, "style": 1, "label": "x",
		"custom_id": "x"}}}}
	for _, test := range []struct {
		body map[string]any
		want int
	}{
		{map[string]any{"content": " "}, 400}, {map[string]any{"components": []any{}}, 200},
		{map[string]any{"components": row}, 200},
		{map[string]any{"content": ""}, 200}, {map[string]any{"components": []any{}}, 400},
		{map[string]any{"embeds": []any{map[string]any{"title": "x"}}, "components": []any{}}, 200},
	} {
		if status, a := api(t, server, "PATCH", one, test.body); status != test.want {
			t.Errorf("edited by %v: %d %v", test.body, status, a)
		}
	}
}

// Components of the second version stand instead of words, within Discord's limits, and
// for good; their buttons are found wherever they stand.
func TestSecondVersion(t *testing.T) {
	t.Parallel()
	server, _, c, _ := newServer(t)
	path := "/channels/" + c.ID + "/messages"
	message := func(parts ...any) map[string]any { return map[string]any{"flags": 1 << 15, "components": parts} }
	text := func(n int) map[string]any { return map[string]any{"type": 10, "content": wide(n)} }
	texts := func(n int) (all []any) {
		for range n {
			all = append(all, text(1))
		}
		return all
	}
	section := func(accessory any, parts ...any) map[string]any {
		return map[string]any{"type": 9, "components": parts, "accessory": accessory}
	}
	container := func(parts ...any) map[string]any { return map[string]any{"type": 17, "components": parts} }
	row := func(ids ...string) map[string]any {
		var all []any
		for _, id := range ids {
			all = append(all, button(id))
		}
		return map[string]any{"type": 1, "components": all}
	}
	picture := map[string]any{"type": 11, "media": map[string]any{"url": "https://example.org/x.png"}}
	gallery := func(n int) map[string]any {
		var items []any
		for range n {
			items = append(items, map[string]any{"media": map[string]any{"url": "https://example.org/x.png"}})
		}
		return map[string]any{"type": 12, "items": items}
	}
	withWords := message(text(1))
	withWords["content"] = "x"
	withEmbed := message(text(1))
	withEmbed["embeds"] = []any{map[string]any{"title": "x"}}
	for _, test := range []struct {
		name      string
		good, bad map[string]any
	}{
		{"components", message(texts(40)...), message(texts(41)...)},
		{"components, some in others", message(container(append(texts(33), row("a", "b", "c"), text(1))...)),
			message(container(append(texts(34), row("a", "b", "c"), text(1))...), text(1))},
		{"text", message(text(4000)), message(text(4001))},
		{"text together", message(text(2000), container(text(2000))), message(text(2000), container(text(2001)))},
		{"a blank text", message(text(1)), message(map[string]any{"type": 10, "content": " "})},
		{"a section's texts", message(section(button("x"), texts(3)...)), message(section(button("x"), texts(4)...))},
		{"a section without a text", message(section(picture, text(1))), message(section(picture))},
		{"a section without an accessory", message(section(picture, text(1))), message(section(nil, text(1)))},
		{"a section's text", message(section(picture, text(1))), message(section(picture, row("x")))},
		{"a container in a container", message(container(text(1))), message(container(container(text(1))))},
		{"an empty container", message(container(text(1))), message(container())},
		{"gallery", message(gallery(10)), message(gallery(11))},
		{"an empty gallery", message(gallery(1)), message(gallery(0))},
		{"separator", message(text(1), map[string]any{"type": 14}, text(1)),
			message(text(1), map[string]any{"type": 4})},
		{"a button without a row", message(row("x")), message(button("x"))},
		{"ids", message(row("x"), section(button("y"), text(1))), message(row("x"), section(button("x"), text(1)))},
		{"a file that came along", message(map[string]any{"type": 13, "file": map[string]any{"url": "attachment://x"}}),
			message(map[string]any{"type": 13, "file": map[string]any{"url": "https://example.org/x"}})},
		{"words beside it", message(text(1)), withWords},
		{"an embed beside it", message(text(1)), withEmbed},
		{"without its flag", message(text(1)), map[string]any{"components": []any{text(1)}}},
	} {
		if status, a := api(t, server, "POST", path, test.good); status != 200 || a["flags"] != float64(1<<15) {
			t.Errorf("%s, good: %d %v", test.name, status, a)
		}
		if status, a := api(t, server, "POST", path, test.bad); status != 400 || a["code"] != 50035.0 {
			t.Errorf("%s, bad: %d %v", test.name, status, a)
		}
	}
	if status, a := api(t, server, "POST", path, message()); status != 400 || a["code"] != 50006.0 {
		t.Errorf("of nothing: %d %v", status, a)
	}
	// It stays what it is.
	_, a := api(t, server, "POST", path, message(text(1)))
	one := path + "/" + a["id"].(string)
	words := map[string]any{"content": "x", "components": []any{}, "flags": 0}
	if status, a := api(t, server, "PATCH", one, words); status != 400 {
		t.Errorf("words instead: %d %v", status, a)
	}
	if status, a := api(t, server, "PATCH", one, map[string]any{"components": []any{text(5)}}); status != 200 ||
		a["flags"] != float64(1<<15) {
		t.Errorf("another text: %d %v", status, a)
	}
	d := newDesk(t)
	i := d.slash("group sub", nil)
	d.answer(i, 4, message(container(section(button("inner"), text(1)), row("lower"))))
	for _, label := range []string{"inner", "lower"} {
		if _, err := d.s.Press(i, d.ada, label); err != nil {
			t.Error(err)
		}
	}
}

// Links to files hold a day, those of a command's for as long as its token lives, and
// only as they were given.
func TestLinksExpire(t *testing.T) {
	t.Parallel()
	fetch := func(s *discordtest.Server, url string) (int, int) {
		t.Helper()
		resp, err := s.Client().Get(url)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		text, err := io.ReadAll(resp.Body)
		if err != nil {
			t.Fatal(err)
		}
		return resp.StatusCode, len(text)
	}
	server, _, channel, _ := newServer(t)
	status, attached := upload(t, server, "/channels/"+channel.ID+"/messages", 2, 10)
	if status != 200 || len(attached["attachments"].([]any)) != 2 {
		t.Fatalf("posted: %d %v", status, attached)
	}
	file := attached["attachments"].([]any)[0].(map[string]any)
	url := file["url"].(string)
	if file["filename"] != "0.png" || file["size"] != 10.0 {
		t.Errorf("the file: %v", file)
	}
	server.Advance(24*time.Hour - time.Minute)
	if status, n := fetch(server, url); status != 200 || n != 10 {
		t.Errorf("within a day: %d, %d bytes", status, n)
	}
	plain, _, _ := strings.Cut(url, "?")
	longer := regexp.MustCompile(`ex=\w+`).ReplaceAllString(url, "ex=ffffffff")
	for _, wrong := range []string{plain, longer, strings.Replace(url, "0.png", "1.png", 1)} {
		if status, _ := fetch(server, wrong); status != 404 {
			t.Errorf("%s: %d", wrong, status)
		}
	}
	server.Advance(2 * time.Minute)
	if status, _ := fetch(server, url); status != 404 {
		t.Errorf("a day later: %d", status)
	}
	// Read again, the message has a link that holds, and the files that an edit keeps.
	one := "/channels/" + channel.ID + "/messages/" + attached["id"].(string)
	_, attached = api(t, server, "GET", one, nil)
	file = attached["attachments"].([]any)[0].(map[string]any)
	if status, n := fetch(server, file["url"].(string)); status != 200 || n != 10 {
		t.Errorf("its new link: %d, %d bytes", status, n)
	}
	if _, attached = api(t, server, "PATCH", one,
		map[string]any{"content": "x"}); len(attached["attachments"].([]any)) != 2 {
		t.Errorf("an edit of the words: %v", attached)
	}
	if _, attached = api(t, server, "PATCH", one,
		map[string]any{"attachments": []any{map[string]any{"id": file["id"]}}}); len(
		attached["attachments"].([]any)) != 1 || !slices.Equal(server.Messages(channel)[0].Files, []string{"0.png"}) {
		t.Errorf("one is kept: %v", attached)
	}
	// A member's photo.
	desk := newDesk(t)
	i := desk.slash("all", map[string]string{"text": "x", "photo": "x.png"})
	resolved := desk.sent(i)["data"].(map[string]any)["resolved"].(map[string]any)["attachments"].(map[string]any)
	for _, photo := range resolved {
		url = photo.(map[string]any)["url"].(string)
	}
	if status, n := fetch(desk.s, url); status != 200 || n != 1000 {
		t.Errorf("a photo: %d, %d bytes", status, n)
	}
	desk.s.Advance(15*time.Minute + time.Second)
	if status, _ := fetch(desk.s, url); status != 404 {
		t.Errorf("a photo later: %d", status)
	}
}

// What is no id, or another application's, is refused before it is looked for.
func TestIDs(t *testing.T) {
	t.Parallel()
	server, _, channel, _ := newServer(t)
	for _, test := range []struct {
		method, path string
		status       int
		code         float64
	}{
		{"GET", "/channels/general", 400, 50035}, {"GET", "/channels/1", 404, 10003},
		{"POST", "/channels/general/messages", 400, 50035},
		{"GET", "/channels/" + channel.ID + "/messages/last", 400, 50035},
		{"GET", "/channels/" + channel.ID + "/messages/1", 404, 10008},
		{"PUT", "/channels/" + channel.ID + "/messages/pins/last", 400, 50035},
		{"GET", "/applications/7/commands", 403, 20012}, {"GET", "/applications/mine/commands", 400, 50035},
		{"GET", "/applications/" + discordtest.AppID + "/guilds/here/commands", 400, 50035},
		{"GET", "/applications/" + discordtest.AppID + "/commands/1", 404, 10063},
	} {
		status, a := api(t, server, test.method, test.path, map[string]any{"content": "x"})
		if status != test.status || a["code"] != test.code {
			t.Errorf("%s %s: %d %v, want %d %v", test.method, test.path, status, a, test.status, test.code)
		}
	}
}

// Commands are also made, read, changed and deleted one by one.
func TestSingleCommands(t *testing.T) {
	t.Parallel()
	server, g, _, _ := newServer(t)
	for _, path := range []string{"/applications/" + discordtest.AppID + "/commands",
		"/applications/" + discordtest.AppID + "/guilds/" + g.ID + "/commands"} {
		status, first := api(t, server, "POST", path, map[string]any{"name": "due", "description": "x"})
		if status != 201 || first["id"] == nil || first["type"] != 1.0 {
			t.Errorf("made: %d %v", status, first)
		}
		// Under the same name it takes the other's place; of another type it stands beside it.
		status, again := api(t, server, "POST", path, map[string]any{"name": "due", "description": "y"})
		if status != 200 || again["id"] != first["id"] || again["description"] != "y" {
			t.Errorf("made again: %d %v", status, again)
		}
		status, menu := api(t, server, "POST", path, map[string]any{"name": "due", "type": 3})
		if status != 201 || menu["id"] == first["id"] {
			t.Errorf("a menu's: %d %v", status, menu)
		}
		one := path + "/" + first["id"].(string)
		if status, a := api(t, server, "PATCH", one, map[string]any{"description": "z"}); status != 200 ||
			a["description"] != "z" || a["name"] != "due" || a["id"] != first["id"] {
			t.Errorf("changed: %d %v", status, a)
		}
		for _, bad := range []map[string]any{{"name": "Due"}, {"description": ""}} {
			if status, a := api(t, server, "PATCH", one, bad); status != 400 || a["code"] != 50035.0 {
				t.Errorf("changed to %v: %d %v", bad, status, a)
			}
		}
		if status, a := api(t, server, "GET", one, nil); status != 200 || a["description"] != "z" {
			t.Errorf("read: %d %v", status, a)
		}
		if n := len(lists(t, server, path)); n != 2 {
			t.Errorf("%d stand", n)
		}
		if status, _ := api(t, server, "DELETE", one, nil); status != 204 {
			t.Errorf("deleted: %d", status)
		}
		if all := lists(t, server, path); len(all) != 1 || all[0]["id"] != menu["id"] {
			t.Errorf("left: %v", all)
		}
	}
	if server.Overwrites() != 0 {
		t.Errorf("registered in bulk %d times", server.Overwrites())
	}
	path := strings.Replace("/applications/A/guilds/1/commands", "A", discordtest.AppID, 1)
	if status, a := api(t, server, "POST", path, map[string]any{"name": "due", "description": "x"}); status != 403 ||
		a["code"] != 50001.0 {
		t.Errorf("for a guild that it is not in: %d %v", status, a)
	}
}
