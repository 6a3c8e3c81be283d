package discordtest_test

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"testing"

	"setscrew/bot/discordtest"
)

// A member presses a button of a message in a channel, the latest that has it, until an
// edit takes it away; what reaches the application says on which message.
func TestPressNotice(t *testing.T) {
	server, guild, channel, ada := newServer(t)
	button := func(id string) []any {
		return []any{map[string]any{"type": 1, "components": []any{
			map[string]any{"type": 2, "style": 1, "label": "I see to it", "custom_id": id}}}}
	}
	place := "/channels/" + channel.ID + "/messages"
	for _, id := range []string{"first", "second"} {
		body := map[string]any{"content": id, "components": button(id)}
		if status, a := api(t, server, "POST", place, body); status != 200 {
			t.Fatalf("posted: %d %v", status, a)
		}
	}
	pressed := func() (custom, on string) {
		t.Helper()
		interaction, err := server.PressNotice(guild, channel, ada, "I see")
		if err != nil {
			return "", ""
		}
		var event struct {
			Type    int
			Data    struct{ Custom_id string }
			Message struct{ Content string }
		}
		if err := json.Unmarshal(interaction.Event(), &event); err != nil || event.Type != 3 {
			t.Fatalf("%+v, %v", event, err)
		}
		return event.Data.Custom_id, event.Message.Content
	}
	for _, want := range []string{"second", "first", ""} {
		custom, on := pressed()
		if custom != want || on != want {
			t.Errorf("pressed %q on %q, want %q", custom, on, want)
		}
		for _, m := range server.Messages(channel) {
			if m.Content != want {
				continue
			}
			if status, a := api(t, server, "PATCH", place+"/"+m.ID, map[string]any{"content": want,
				"components": []any{}}); status != 200 {
				t.Fatalf("edited: %d %v", status, a)
			}
		}
	}
	if _, err := server.PressNotice(guild, channel, ada, "Stop"); err == nil {
		t.Error("a button that nobody posted is pressed")
	}
}

// A file that a member attaches holds what the test says.
func TestAttachment(t *testing.T) {
	server, guild, channel, ada := newServer(t)
	if status, a := api(t, server, "PUT", "/applications/"+discordtest.AppID+"/commands", []any{map[string]any{
		"name": "show", "description": "x", "options": []any{map[string]any{"type": 11, "name": "photo",
			"description": "x"}}}}); status != 200 {
		t.Fatalf("registered: %d %v", status, a)
	}
	for _, want := range [][]byte{make([]byte, 1000), []byte("a picture")} {
		if want[0] != 0 {
			server.Attachment = want
		}
		i, err := server.Slash(guild, channel, ada, "show", map[string]string{"photo": "a.png"})
		if err != nil {
			t.Fatal(err)
		}
		text := string(i.Event())
		_, address, _ := strings.Cut(text, `"url":"`)
		address, _, _ = strings.Cut(address, `"`)
		address = strings.ReplaceAll(address, `\u0026`, "&")
		request, err := http.NewRequestWithContext(context.Background(), http.MethodGet, address, nil)
		if err != nil {
			t.Fatal(err)
		}
		got, err := server.Direct().Do(request)
		if err != nil {
			t.Fatal(err)
		}
		file, err := io.ReadAll(got.Body)
		if err != nil || !bytes.Equal(file, want) {
			t.Errorf("%d bytes, %v; want %d", len(file), err, len(want))
		}
		if err := got.Body.Close(); err != nil {
			t.Error(err)
		}
	}
}
