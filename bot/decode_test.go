package bot

import (
	"encoding/json"
	"errors"
	"testing"

	"github.com/bwmarrin/discordgo"
	"github.com/google/go-cmp/cmp"

	"setscrew/commands"
)

// interaction is one as the gateway sends it: a good /due by ada, changed by what is
// given. A key that is nil is left out; "member" and "data" are changed by their keys.
func interaction(t *testing.T, change map[string]any) *discordgo.Interaction {
	t.Helper()
	all := map[string]any{"id": "1", "application_id": "2", "token": "t", "guild_id": "3", "channel_id": "4", "type": 2,
		"member": map[string]any{"user": map[string]any{"id": "5", "username": "ada"}, "permissions": "0",
			"roles": []string{"6"}},
		"data": map[string]any{"id": "7", "type": 1, "name": "due"}}
	for key, value := range change {
		inner, nested := all[key].(map[string]any)
		more, ok := value.(map[string]any)
		switch {
		case value == nil:
			delete(all, key)
		case nested && ok:
			for k, v := range more {
				inner[k] = v
			}
		default:
			all[key] = value
		}
	}
	text, err := json.Marshal(all)
	if err != nil {
		t.Fatal(err)
	}
	var i discordgo.Interaction
	if err := json.Unmarshal(text, &i); err != nil {
		t.Fatal(err)
	}
	return &i
}

// What an interaction lacks, or has of another kind, refuses it.
func TestDecodeRefuses(t *testing.T) {
	t.Parallel()
	if _, err := decode(interaction(t, nil)); err != nil {
		t.Fatalf("a good one: %v", err)
	}
	// What the library would not decode by itself.
	made := func(data discordgo.InteractionData) *discordgo.Interaction {
		return &discordgo.Interaction{ID: "1", AppID: "2", Token: "t", GuildID: "3", Data: data,
			Type: discordgo.InteractionMessageComponent, Member: &discordgo.Member{User: &discordgo.User{ID: "5"}}}
	}
	for name, i := range map[string]*discordgo.Interaction{
		"nothing":        nil,
		"no id":          interaction(t, map[string]any{"id": nil}),
		"no token":       interaction(t, map[string]any{"token": nil}),
		"no application": interaction(t, map[string]any{"application_id": nil}),
		"no server":      interaction(t, map[string]any{"guild_id": nil}),
		"no member":      interaction(t, map[string]any{"member": nil}),
		"nobody":         interaction(t, map[string]any{"member": map[string]any{"user": nil}}),
		"nobody's id":    interaction(t, map[string]any{"member": map[string]any{"user": map[string]any{"id": ""}}}),
		"no command":     interaction(t, map[string]any{"data": map[string]any{"name": ""}}),
		"no option":      interaction(t, options([]any{nil})),
		"no option's":    interaction(t, options([]any{map[string]any{"type": 3, "name": "", "value": "x"}})),
		"a list":         interaction(t, options([]any{map[string]any{"type": 3, "name": "x", "value": []int{1}}})),
		"no attachment":  interaction(t, options([]any{map[string]any{"type": 11, "name": "photo", "value": "9"}})),
		"no data":        made(nil),
		"another type":   made(discordgo.ApplicationCommandInteractionData{Name: "due"}),
	} {
		if _, err := decode(i); !errors.Is(err, errMalformed) {
			t.Errorf("%s: %v, want it refused", name, err)
		}
	}
	// An attachment that is not among those that came with it.
	i := interaction(t, map[string]any{"data": map[string]any{
		"options":  []any{map[string]any{"type": 11, "name": "photo", "value": "9"}},
		"resolved": map[string]any{"attachments": map[string]any{"8": map[string]any{"id": "8"}}}}})
	if _, err := decode(i); !errors.Is(err, errMalformed) {
		t.Errorf("another attachment: %v, want it refused", err)
	}
}

// options are a command's options, as a change of an interaction.
func options(list []any) map[string]any {
	return map[string]any{"data": map[string]any{"options": list}}
}

// Options of every type are read as text, below any group of commands.
func TestDecodeOptions(t *testing.T) {
	t.Parallel()
	list := []any{map[string]any{"type": 3, "name": "machine", "value": "Marble"},
		map[string]any{"type": 10, "name": "hours", "value": 1.5},
		map[string]any{"type": 5, "name": "sure", "value": true},
		map[string]any{"type": 11, "name": "photo", "value": "8"}}
	resolved := map[string]any{"attachments": map[string]any{"8": map[string]any{"id": "8", "filename": "x.png",
		"url": "https://cdn.discordapp.com/x.png"}}}
	want := map[string]string{"machine": "Marble", "hours": "1.5", "sure": "true",
		"photo": `{"id":"8","name":"x.png","url":"https://cdn.discordapp.com/x.png"}`}
	for _, test := range []struct {
		options []any
		command string
	}{
		{list, "due"},
		{[]any{map[string]any{"type": 1, "name": "add", "options": list}}, "due add"},
		{[]any{map[string]any{"type": 2, "name": "more", "options": []any{map[string]any{"type": 1, "name": "add",
			"options": list}}}}, "due more add"},
	} {
		e, err := decode(interaction(t, map[string]any{"data": map[string]any{"options": test.options,
			"resolved": resolved}}))
		if d := cmp.Diff(want, e.options); err != nil || d != "" || e.command != test.command {
			t.Errorf("%s: %q, %v; options (-want +got):\n%s", test.command, e.command, err, d)
		}
	}
	e, err := decode(interaction(t, map[string]any{"type": 4, "data": map[string]any{"options": []any{
		map[string]any{"type": 3, "name": "machine", "value": "Marble"},
		map[string]any{"type": 3, "name": "check", "value": "inf", "focused": true}}}}))
	if err != nil || e.focused != "check" || e.options["check"] != "inf" {
		t.Errorf("a completion: %+v, %v", e, err)
	}
	typed := event{command: "due", options: map[string]string{"machine": `Mar"ble`, "calendar": "yes", "other": "x"}}.
		typed([]*commands.Command{{Name: "hours", Options: []commands.Option{{Name: "other"}}},
			{Name: "due", Options: []commands.Option{{Name: "calendar"}, {Name: "machine"}, {Name: "who"}}}})
	if want := `/due calendar:"yes" machine:"Mar\"ble"`; typed != want {
		t.Errorf("for the audit: %s, want %s", typed, want)
	}
}

// Who acts: by the name that the server knows them by, with their roles, and whether
// they manage it.
func TestDecodeActor(t *testing.T) {
	t.Parallel()
	user := map[string]any{"id": "5", "username": "ada_1"}
	named := map[string]any{"id": "5", "username": "ada_1", "global_name": "Ada"}
	for _, test := range []struct {
		member  map[string]any
		name    string
		manages bool
	}{
		{map[string]any{"user": user}, "ada_1", false},
		{map[string]any{"user": named}, "Ada", false},
		{map[string]any{"user": named, "nick": "Ada of the planer"}, "Ada of the planer", false},
		{map[string]any{"user": user, "permissions": "32"}, "ada_1", true},         // may manage the server
		{map[string]any{"user": user, "permissions": "8"}, "ada_1", true},          // administers it
		{map[string]any{"user": user, "permissions": "268435476"}, "ada_1", false}, // roles and channels only
	} {
		e, err := decode(interaction(t, map[string]any{"member": test.member}))
		want := commands.Actor{ID: "5", Name: test.name, Roles: []string{"6"}, Manages: test.manages}
		if d := cmp.Diff(want, e.actor); err != nil || d != "" {
			t.Errorf("%v: %v (-want +got):\n%s", test.member, err, d)
		}
	}
}

// A button brings its custom id, a form its fields; a form of other parts is refused.
func TestDecodeButtonsAndForms(t *testing.T) {
	t.Parallel()
	event, err := decode(interaction(t, map[string]any{"type": 3, "message": map[string]any{"id": "9"},
		"data": map[string]any{"custom_id": "why:3", "component_type": 2}}))
	if err != nil || event.custom != "why:3" {
		t.Errorf("a button: %+v, %v", event, err)
	}
	input := func(id, value string) any {
		return map[string]any{"type": 1,
			"components": []any{map[string]any{"type": 4, "custom_id": id, "value": value}}}
	}
	event, err = decode(interaction(t, map[string]any{"type": 5, "data": map[string]any{"custom_id": "form:1",
		"components": []any{input("left", "1.01"), input("right", "40 thou")}}}))
	if d := cmp.Diff(map[string]string{"left": "1.01", "right": "40 thou"}, event.fields); err != nil || d != "" ||
		event.custom != "form:1" {
		t.Errorf("a form: %+v, %v (-want +got):\n%s", event, err, d)
	}
	button := map[string]any{"type": 2, "style": 1, "label": "x", "custom_id": "x"}
	for name, parts := range map[string][]any{"a button in a row": {map[string]any{"type": 1,
		"components": []any{button}}}, "a button": {button}} {
		if _, err := decode(interaction(t, map[string]any{"type": 5, "data": map[string]any{"custom_id": "form:1",
			"components": parts}})); !errors.Is(err, errMalformed) {
			t.Errorf("a form with %s: %v, want it refused", name, err)
		}
	}
}
