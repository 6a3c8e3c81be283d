package discordtest_test

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/bot/discordtest"
)

// desk is a guild in which one command of each sort is registered.
type desk struct {
	t     *testing.T
	s     *discordtest.Server
	guild *discordtest.Guild
	place *discordtest.Channel
	ada   *discordtest.Member
	role  string
}

func newDesk(t *testing.T) *desk {
	t.Helper()
	server, home, channel, ada := newServer(t)
	server.AnswerWithin = time.Hour // deadlines have a test of their own
	option := func(kind int, name string, more ...any) map[string]any {
		o := map[string]any{"type": kind, "name": name, "description": "x"}
		for i := 0; i+1 < len(more); i += 2 {
			o[more[i].(string)] = more[i+1]
		}
		return o
	}
	if status, answer := api(t, server, "PUT", "/applications/"+discordtest.AppID+"/commands", []any{
		map[string]any{"name": "all", "description": "x", "options": []any{
			option(3, "text", "required", true, "max_length", 10), option(3, "one", "choices",
				[]any{map[string]any{"name": "A", "value": "a"}}), option(3, "part", "autocomplete", true),
			option(10, "number"), option(6, "who"), option(7, "where"), option(8, "role"), option(11, "photo")}},
		map[string]any{"name": "group", "description": "x", "options": []any{
			option(1, "sub", "options", []any{option(3, "text")})}}}); status != 200 {
		t.Fatalf("register: %d %v", status, answer)
	}
	return &desk{t: t, s: server, guild: home, place: channel, ada: ada, role: server.AddRole(home, "stewards")}
}

func (d *desk) slash(command string, options map[string]string) *discordtest.Interaction {
	d.t.Helper()
	i, err := d.s.Slash(d.guild, d.place, d.ada, command, options)
	if err != nil {
		d.t.Fatal(err)
	}
	return i
}

// answer answers an interaction, and is the code with which that is refused, 0 if it is
// taken.
func (d *desk) answer(i *discordtest.Interaction, kind int, data map[string]any) float64 {
	d.t.Helper()
	status, a := api(d.t, d.s, "POST", "/interactions/"+i.ID+"/token-"+i.ID+"/callback",
		map[string]any{"type": kind, "data": data})
	code, _ := a["code"].(float64)
	if (status == 204) != (code == 0) {
		d.t.Errorf("answered by %d %v", status, a)
	}
	return code
}

func (d *desk) wait(i *discordtest.Interaction) discordtest.Reply {
	d.t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	r, err := i.Wait(ctx)
	if err != nil {
		d.t.Fatal(err)
	}
	return r
}

// sent is an interaction as the application gets it.
func (d *desk) sent(i *discordtest.Interaction) map[string]any {
	d.t.Helper()
	var event map[string]any
	if err := json.Unmarshal(i.Event(), &event); err != nil {
		d.t.Fatal(err)
	}
	return event
}

// A member's options arrive with their types as registered, and what is said of people,
// roles, channels and files stands beside them.
func TestOptionsArrive(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	event := desk.sent(desk.slash("all", map[string]string{"text": "ten letter", "one": "a", "number": "1.5",
		"who":   desk.ada.ID,
		"where": desk.place.ID, "role": desk.role, "photo": "x.png"}))
	data := event["data"].(map[string]any)
	got := map[string]string{}
	for _, o := range data["options"].([]any) {
		o := o.(map[string]any)
		got[o["name"].(string)] = fmt.Sprintf("%T", o["value"])
	}
	if want := "map[number:float64 one:string photo:string role:string text:string where:string who:string]"; want !=
		fmt.Sprint(got) {
		t.Errorf("types %v", got)
	}
	resolved := data["resolved"].(map[string]any)
	for _, key := range []string{"users", "channels", "roles", "attachments"} {
		if len(resolved[key].(map[string]any)) != 1 {
			t.Errorf("resolved %s: %v", key, resolved[key])
		}
	}
	if event["guild_id"] != desk.guild.ID || event["type"] != 2.0 || event["application_id"] != discordtest.AppID {
		t.Errorf("event %v", event)
	}
	sub := desk.sent(desk.slash("group sub", map[string]string{"text": "x"}))["data"].(map[string]any)
	if o := sub["options"].([]any)[0].(map[string]any); sub["name"] != "group" || o["name"] != "sub" ||
		len(o["options"].([]any)) != 1 {
		t.Errorf("a subcommand: %v", sub)
	}
}

// What a client does not let its user send is an error.
func TestClientRefuses(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	for _, test := range []struct {
		command string
		options map[string]string
		why     string
	}{
		{"nothing", nil, "no command"},
		{"group", nil, "is a group"},
		{"group other", nil, "no subcommand"},
		{"all", nil, "asks for text"},
		{"all", map[string]string{"text": "eleven char"}, "takes 10 characters"},
		{"all", map[string]string{"text": "x", "one": "b"}, "no choice"},
		{"all", map[string]string{"text": "x", "number": "many"}, "refuses"},
		{"all", map[string]string{"text": "x", "other": "y"}, "no option"},
		{"group sub", map[string]string{"other": "y"}, "no option"},
	} {
		if _, err := desk.s.Slash(desk.guild, desk.place, desk.ada, test.command, test.options); err == nil ||
			!strings.Contains(err.Error(), test.why) {
			t.Errorf("/%s %v: %v, want %q", test.command, test.options, err, test.why)
		}
	}
	i := desk.slash("all", map[string]string{"text": "x"})
	if _, err := desk.s.Press(i, desk.ada, "Go"); err == nil {
		t.Error("a button is pressed before there is an answer")
	}
	if _, err := desk.s.Submit(i, desk.ada, nil); err == nil {
		t.Error("a form is sent before one is open")
	}
	if _, err := desk.s.Complete(desk.guild, desk.place, desk.ada, "nothing", "text", nil); err == nil {
		t.Error("an unknown command is completed")
	}
}

// A completion is answered by choices, at most 25 and of at most 100 characters each, by
// nothing else, and never later.
func TestCompletion(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	complete := func() *discordtest.Interaction {
		t.Helper()
		i, err := desk.s.Complete(desk.guild, desk.place, desk.ada, "all", "part", map[string]string{"part": "mar"})
		if err != nil {
			t.Fatal(err)
		}
		return i
	}
	choices := func(n, name, value int) map[string]any {
		list := []any{}
		for range n {
			list = append(list, map[string]any{"name": wide(name), "value": wide(value)})
		}
		return map[string]any{"choices": list}
	}
	interaction := complete()
	o := desk.sent(interaction)["data"].(map[string]any)["options"].([]any)[0].(map[string]any)
	if o["focused"] != true || o["value"] != "mar" {
		t.Errorf("half-typed: %v", o)
	}
	for name, bad := range map[string]map[string]any{"26 choices": choices(26, 1, 1), "a long name": choices(1, 101, 1),
		"a long value": choices(1, 1, 101), "no name": choices(1, 0, 1)} {
		if code := desk.answer(interaction, 8, bad); code != 50035 {
			t.Errorf("%s: %v", name, code)
		}
	}
	for _, kind := range []int{4, 5, 6, 7, 9} {
		if code := desk.answer(interaction, kind, map[string]any{"content": "x"}); code != 50035 {
			t.Errorf("answered by type %d: %v", kind, code)
		}
	}
	if interaction.Answered() {
		t.Error("what was refused counts as answered")
	}
	if code := desk.answer(interaction, 8, choices(25, 100, 100)); code != 0 ||
		len(desk.wait(interaction).Choices) != 25 {
		t.Errorf("25 choices: %v", code)
	}
	interaction = complete()
	if code := desk.answer(interaction, 8, choices(0, 0, 0)); code != 0 || desk.wait(interaction).Choices == nil {
		t.Errorf("no choices: %v", code)
	}
	if code := desk.answer(desk.slash("all", map[string]string{"text": "x"}), 8, choices(1, 1, 1)); code != 50035 {
		t.Errorf("choices for a command: %v", code)
	}
}

// An answer of each type is seen as such; whether a deferred one is quiet is settled
// when it is deferred.
func TestAnswers(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	button := []any{map[string]any{"type": 1, "components": []any{map[string]any{"type": 2, "style": 1,
		"label": "Go on", "custom_id": "go"}}}}
	text := map[string]string{"text": "x"}

	interaction := desk.slash("all", text)
	if code := desk.answer(interaction, 7, map[string]any{"content": "x"}); code != 50035 {
		t.Errorf("a command's message is updated: %v", code)
	}
	if code := desk.answer(interaction, 6, nil); code != 50035 {
		t.Errorf("a command's message will be updated: %v", code)
	}
	if code := desk.answer(interaction, 4, map[string]any{}); code != 50006 {
		t.Errorf("an empty answer: %v", code)
	}
	if code := desk.answer(interaction, 4, map[string]any{"content": "hello <@8>", "flags": 64,
		"components": button}); code != 0 {
		t.Errorf("answered: %v", code)
	}
	r := desk.wait(interaction)
	if r.Content != "hello <@8>" || !r.Ephemeral || r.Replaced || r.Deferred || len(r.Buttons) != 1 ||
		!slices.Equal(r.Pings, []string{"user:8"}) {
		t.Errorf("the answer: %+v", r)
	}
	if _, err := desk.s.Press(interaction, desk.ada, "Stop"); err == nil {
		t.Error("a button that is not there is pressed")
	}

	// A button's message is replaced, at once or later.
	for _, later := range []bool{false, true} {
		interaction = desk.slash("all", text)
		desk.answer(interaction, 4, map[string]any{"content": "hello", "components": button})
		pressed, err := desk.s.Press(interaction, desk.ada, "Go")
		if err != nil {
			t.Fatal(err)
		}
		if e := desk.sent(pressed); e["type"] != 3.0 || e["data"].(map[string]any)["custom_id"] != "go" ||
			e["message"] == nil {
			t.Errorf("pressed: %v", e)
		}
		if !later {
			desk.answer(pressed, 7, map[string]any{"content": "gone", "components": []any{}})
		} else {
			desk.answer(pressed, 6, nil)
			api(t, desk.s, "PATCH", "/webhooks/"+discordtest.AppID+"/token-"+pressed.ID+"/messages/@original",
				map[string]any{"content": "gone", "components": []any{}})
		}
		if r := desk.wait(pressed); r.Content != "gone" || !r.Replaced || r.Deferred != later || len(r.Buttons) != 0 {
			t.Errorf("replaced, later %t: %+v", later, r)
		}
		if r := desk.wait(interaction); r.Content != "gone" {
			t.Errorf("the message that was replaced, later %t: %+v", later, r)
		}
		if _, err := desk.s.Press(interaction, desk.ada, "Go"); err == nil {
			t.Error("a button is pressed that was taken away")
		}
	}

	// Deferred: nobody sees it before it is edited, and it stays quiet or loud.
	for _, flags := range []int{0, 64} {
		interaction = desk.slash("all", text)
		edit := "/webhooks/" + discordtest.AppID + "/token-" + interaction.ID
		if status, a := api(t, desk.s, "PATCH", edit+"/messages/@original",
			map[string]any{"content": "x"}); status != 404 {
			t.Errorf("edited before it was answered: %d %v", status, a)
		}
		desk.answer(interaction, 5, map[string]any{"flags": flags})
		short, cancel := context.WithTimeout(context.Background(), 20*time.Millisecond)
		if _, err := interaction.Wait(short); err == nil {
			t.Error("a deferred answer is seen before it is there")
		}
		cancel()
		desk.s.Advance(14 * time.Minute)
		api(t, desk.s, "PATCH", edit+"/messages/@original", map[string]any{"content": "at last", "flags": 64 - flags})
		if r := desk.wait(interaction); r.Content != "at last" || !r.Deferred || r.Ephemeral != (flags == 64) {
			t.Errorf("deferred with flags %d: %+v", flags, r)
		}
		before := desk.s.FollowUps()
		if status, a := api(t, desk.s, "POST", edit, map[string]any{"content": "and more"}); status != 200 ||
			desk.s.FollowUps() != before+1 {
			t.Errorf("followed: %d %v", status, a)
		}
		if status, a := api(t, desk.s, "POST", edit, map[string]any{"content": wide(2001)}); status != 400 {
			t.Errorf("followed by too much: %d %v", status, a)
		}
		desk.s.Advance(2 * time.Minute)
		if status, a := api(t, desk.s, "POST", edit, map[string]any{"content": "x"}); status != 401 ||
			a["code"] != 50027.0 {
			t.Errorf("followed too late: %d %v", status, a)
		}
	}
}

// A form opens from a command or button, keeps to Discord's limits, and is not opened
// from a form.
func TestForms(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	form := func(title, id, inputs, label int) map[string]any {
		var rows []any
		for n := range inputs {
			rows = append(rows, map[string]any{"type": 1, "components": []any{map[string]any{"type": 4, "style": 1,
				"label": wide(label), "custom_id": fmt.Sprint("f", n)}}})
		}
		return map[string]any{"title": wide(title), "custom_id": strings.Repeat("x", id), "components": rows}
	}
	with := func(part map[string]any) map[string]any {
		f := form(1, 1, 0, 0)
		f["components"] = []any{map[string]any{"type": 1, "components": []any{part}}}
		return f
	}
	interaction := desk.slash("group sub", nil)
	for name, bad := range map[string]map[string]any{"title": form(46, 1, 1, 1), "no title": form(0, 1, 1, 1),
		"id": form(1, 101, 1, 1), "no id": form(1, 0, 1, 1), "no inputs": form(1, 1, 0, 1), "six": form(1, 1, 6, 1),
		"label": form(1, 1, 1, 46), "no label": form(1, 1, 1, 0),
		"a button": with(map[string]any{"type": 2, "style": 1, "label": "x", "custom_id": "x"}),
		"a long example": with(map[string]any{"type": 4, "style": 1, "label": "x", "custom_id": "x",
			"placeholder": wide(101)})} {
		if code := desk.answer(interaction, 9, bad); code != 50035 {
			t.Errorf("%s: %v", name, code)
		}
	}
	if code := desk.answer(interaction, 9, form(45, 100, 5, 45)); code != 0 ||
		desk.wait(interaction).Modal["title"] != wide(45) {
		t.Errorf("a good form: %v", code)
	}
	fields := map[string]string{"f0": "one", "f1": "two", "f2": "3", "f3": wide(4000)}
	for name, value := range map[string]string{"f4": "", "f5": "more", "f3": wide(4001)} {
		wrong := maps.Clone(fields)
		wrong[name] = value
		if _, err := desk.s.Submit(interaction, desk.ada, wrong); err == nil {
			t.Errorf("sent with %s=%.10q", name, value)
		}
	}
	fields["f4"] = "five"
	submitted, err := desk.s.Submit(interaction, desk.ada, fields)
	if err != nil {
		t.Fatal(err)
	}
	if e := desk.sent(submitted); e["type"] != 5.0 || len(e["data"].(map[string]any)["components"].([]any)) != 5 {
		t.Errorf("sent: %v", e)
	}
	if code := desk.answer(submitted, 9, form(1, 1, 1, 1)); code != 50035 {
		t.Errorf("a form from a form: %v", code)
	}
	if code := desk.answer(submitted, 4, map[string]any{"content": "taken"}); code != 0 ||
		desk.wait(submitted).Content != "taken" {
		t.Errorf("answered: %v", code)
	}
}

// one answers a command by a message with buttons.
func (d *desk) withButtons(flags int, buttons ...any) *discordtest.Interaction {
	d.t.Helper()
	interaction := d.slash("group sub", nil)
	if code := d.answer(interaction, 4, map[string]any{"content": "x", "flags": flags,
		"components": []any{map[string]any{"type": 1, "components": buttons}}}); code != 0 {
		d.t.Fatalf("refused: %v", code)
	}
	return interaction
}

func button(label string, more ...any) map[string]any {
	b := map[string]any{"type": 2, "style": 1, "label": label, "custom_id": label}
	for n := 0; n+1 < len(more); n += 2 {
		b[more[n].(string)] = more[n+1]
	}
	return b
}

// Buttons of messages that followed an answer are pressed as its own are, and the message
// that they stand on is replaced.
func TestFollowUpButtons(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	interaction := desk.slash("group sub", nil)
	desk.answer(interaction, 4, map[string]any{"content": "first"})
	path := "/webhooks/" + discordtest.AppID + "/token-" + interaction.ID
	row := []any{map[string]any{"type": 1, "components": []any{button("Go")}}}
	status, answer := api(t, desk.s, "POST", path, map[string]any{"content": "second", "components": row})
	if status != 200 {
		t.Fatalf("followed: %d %v", status, answer)
	}
	pressed, err := desk.s.Press(interaction, desk.ada, "Go")
	if err != nil {
		t.Fatal(err)
	}
	if on := desk.sent(pressed)["message"].(map[string]any); on["id"] != answer["id"] || on["content"] != "second" {
		t.Errorf("pressed on %v", on)
	}
	desk.answer(pressed, 7, map[string]any{"content": "third", "components": []any{}})
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	if all, err := interaction.FollowUps(ctx, 1); err != nil || len(all) != 1 || all[0].Content != "third" ||
		len(all[0].Buttons) != 0 || desk.wait(interaction).Content != "first" {
		t.Errorf("afterwards: %+v, %v", all, err)
	}
	// It is read, edited and deleted under its own id.
	one := path + "/messages/" + answer["id"].(string)
	if status, a := api(t, desk.s, "GET", one, nil); status != 200 || a["content"] != "third" {
		t.Errorf("read: %d %v", status, a)
	}
	if status, a := api(t, desk.s, "PATCH", one, map[string]any{"content": "fourth"}); status != 200 ||
		a["content"] != "fourth" {
		t.Errorf("edited: %d %v", status, a)
	}
	if status, _ := api(t, desk.s, "DELETE", one, nil); status != 204 {
		t.Errorf("deleted: %d", status)
	}
	if status, a := api(t, desk.s, "GET", one, nil); status != 404 || a["code"] != 10008.0 {
		t.Errorf("read when deleted: %d %v", status, a)
	}
	if status, a := api(t, desk.s, "GET", path+"/messages/1", nil); status != 404 || a["code"] != 10008.0 {
		t.Errorf("read another: %d %v", status, a)
	}
}

// What was shown to one member alone is theirs to press, and gone when their client is
// opened again; what everybody sees stays.
func TestEphemeral(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	bo := desk.s.AddMember(desk.guild, "bo", 0)
	quiet, loud := desk.withButtons(64, button("Go")), desk.withButtons(0, button("Go"))
	for _, test := range []struct {
		i     *discordtest.Interaction
		m     *discordtest.Member
		shown bool
	}{{quiet, desk.ada, true}, {quiet, bo, false}, {loud, desk.ada, true}, {loud, bo, true}} {
		if _, err := desk.s.Press(test.i, test.m, "Go"); (err == nil) != test.shown {
			t.Errorf("pressed by %s: %v", test.m.Name, err)
		}
	}
	desk.s.Reload(bo)
	if _, err := desk.s.Press(quiet, desk.ada, "Go"); err != nil {
		t.Errorf("after somebody else opened their client again: %v", err)
	}
	desk.s.Reload(desk.ada)
	if _, err := desk.s.Press(quiet, desk.ada, "Go"); err == nil {
		t.Error("pressed after it vanished")
	}
	if _, err := desk.s.Press(loud, desk.ada, "Go"); err != nil {
		t.Errorf("what everybody sees: %v", err)
	}
	path := "/webhooks/" + discordtest.AppID + "/token-" + quiet.ID + "/messages/@original"
	if status, a := api(t, desk.s, "PATCH", path, map[string]any{"content": "y"}); status != 200 || a["flags"] != 64.0 {
		t.Errorf("the application knows nothing of it: %d %v", status, a)
	}
}

// A button that is disabled, or leads to a page, tells the application nothing.
func TestButtonsThatTellNothing(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	page := map[string]any{"type": 2, "style": 5, "label": "Read", "url": "https://example.org/x"}
	interaction := desk.withButtons(0, button("On"), button("Off", "disabled", true), page)
	if r := desk.wait(interaction); len(r.Buttons) != 3 || !r.Buttons[1].Disabled ||
		r.Buttons[2].URL != "https://example.org/x" {
		t.Errorf("the buttons: %+v", r.Buttons)
	}
	for label, why := range map[string]string{"On": "", "Off": "is disabled", "Read": "leads to a page"} {
		_, err := desk.s.Press(interaction, desk.ada, label)
		if (err == nil) != (why == "") || err != nil && !strings.Contains(err.Error(), why) {
			t.Errorf("%s: %v, want %q", label, err, why)
		}
	}
}

// The answer is read and deleted, while its token lives.
func TestOriginal(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	interaction := desk.withButtons(0, button("Go"))
	path := "/webhooks/" + discordtest.AppID + "/token-" + interaction.ID + "/messages/@original"
	deleted := func() (is bool) {
		ctx, cancel := context.WithTimeout(context.Background(), time.Second)
		defer cancel()
		err := desk.s.Until(ctx, func() bool { is = desk.s.Deleted(interaction); return true })
		return is && err == nil
	}
	status, a := api(t, desk.s, "GET", path, nil)
	if status != 200 || a["content"] != "x" {
		t.Errorf("read: %d %v", status, a)
	}
	if deleted() {
		t.Error("deleted already")
	}
	if status, _ := api(t, desk.s, "DELETE", path, nil); status != 204 || !deleted() {
		t.Errorf("deleted: %d", status)
	}
	for _, method := range []string{"GET", "PATCH", "DELETE"} {
		status, a := api(t, desk.s, method, path, map[string]any{"content": "y"})
		if status != 404 || a["code"] != 10008.0 {
			t.Errorf("%s when it is deleted: %d %v", method, status, a)
		}
	}
	if _, err := desk.s.Press(interaction, desk.ada, "Go"); err == nil {
		t.Error("a button of a deleted message is pressed")
	}
	interaction = desk.withButtons(0, button("Go"))
	path = "/webhooks/" + discordtest.AppID + "/token-" + interaction.ID + "/messages/@original"
	other := strings.Replace(path, discordtest.AppID, "1", 1)
	if status, _ := api(t, desk.s, "GET", other, nil); status != 401 {
		t.Errorf("by another application: %d", status)
	}
	desk.s.Advance(16 * time.Minute)
	if status, a := api(t, desk.s, "GET", path, nil); status != 401 || a["code"] != 50027.0 {
		t.Errorf("read too late: %d %v", status, a)
	}
}

// Asked for, the answer to a first answer says what that became; else it says nothing.
func TestWithResponse(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	for _, test := range []struct {
		query  string
		status int
		kind   int
		flags  int
	}{{"", 204, 4, 0}, {"?with_response=false", 204, 4, 0}, {"?with_response=true", 200, 4, 0},
		{"?with_response=true", 200, 5, 64}} {
		interaction := desk.slash("group sub", nil)
		status, answer := api(t, desk.s, "POST",
			"/interactions/"+interaction.ID+"/token-"+interaction.ID+"/callback"+test.query,
			map[string]any{"type": test.kind, "data": map[string]any{"content": "x", "flags": test.flags}})
		if status != test.status || (len(answer) > 0) != (status == 200) {
			t.Errorf("%+v: %d %v", test, status, answer)
		}
		if status != 200 {
			continue
		}
		said, resource := answer["interaction"].(map[string]any), answer["resource"].(map[string]any)
		message := resource["message"].(map[string]any)
		if said["id"] != interaction.ID || said["type"] != 2.0 || said["response_message_id"] != message["id"] ||
			said["response_message_loading"] != (test.kind == 5) ||
			said["response_message_ephemeral"] != (test.flags == 64) || resource["type"] != float64(test.kind) {
			t.Errorf("%+v: %v", test, answer)
		}
	}
	i := desk.slash("group sub", nil)
	status, a := api(t, desk.s, "POST", "/interactions/"+i.ID+"/token-"+i.ID+"/callback?with_response=true",
		map[string]any{"type": 9, "data": map[string]any{"title": "x", "custom_id": "x", "components": []any{
			map[string]any{"type": 10, "content": "x"}}}})
	if status != 200 || a["interaction"] == nil || a["resource"] != nil {
		t.Errorf("a form: %d %v", status, a)
	}
}

// Options are of the types and within the bounds that the application registered; beyond
// them a client lets nobody send a command.
func TestOptionBounds(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	option := func(kind int, name string, more ...any) map[string]any {
		o := map[string]any{"type": kind, "name": name, "description": "x"}
		for i := 0; i+1 < len(more); i += 2 {
			o[more[i].(string)] = more[i+1]
		}
		return o
	}
	choice := func(v any) any { return map[string]any{"name": "A", "value": v} }
	if status, answer := api(t, desk.s, "PUT", "/applications/"+discordtest.AppID+"/commands", []any{
		map[string]any{"name": "all", "description": "x", "options": []any{
			option(3, "text", "min_length", 2, "max_length", 4), option(4, "whole", "min_value", -1, "max_value", 3),
			option(10, "number", "min_value", 0.5, "max_value", 1.5), option(5, "truth"),
			option(4, "four", "choices", []any{choice(4)}), option(10, "half", "choices", []any{choice(0.5)}),
			option(6, "who"), option(7, "where"), option(8, "role"), option(9, "either"),
			option(7, "stage", "channel_types", []int{13}), option(3, "any"), option(10, "large")}}}); status != 200 {
		t.Fatalf("register: %d %v", status, answer)
	}
	elsewhere := desk.s.AddChannel(desk.s.AddGuild("other"), "elsewhere")
	for _, test := range []struct {
		name      string
		good, bad []string
	}{
		{"text", []string{"ab", "abcd"}, []string{"a", "abcde"}},
		{"any", []string{"a", wide(6000)}, []string{"", wide(6001)}},
		{"whole", []string{"-1", "3"}, []string{"-2", "4", "1.5", "many"}},
		{"number", []string{"0.5", "1.5"}, []string{"0.4", "1.6", "NaN"}},
		{"large", []string{"9.007199254740992e+15"}, []string{"9007199254740994", "-1e300"}},
		{"truth", []string{"true", "false"}, []string{"perhaps"}},
		{"four", []string{"4"}, []string{"5"}},
		{"half", []string{"0.5"}, []string{"1"}},
		{"who", []string{desk.ada.ID}, []string{"ada", desk.role}},
		{"where", []string{desk.place.ID}, []string{"general", elsewhere.ID}},
		{"role", []string{desk.role}, []string{"stewards", desk.ada.ID}},
		{"either", []string{desk.role, desk.ada.ID}, []string{desk.place.ID}},
		{"stage", nil, []string{desk.place.ID}},
	} {
		for _, value := range test.good {
			interaction, err := desk.s.Slash(desk.guild, desk.place, desk.ada, "all",
				map[string]string{test.name: value})
			if err != nil {
				t.Errorf("%s %.20q: %v", test.name, value, err)
				continue
			}
			o := desk.sent(interaction)["data"].(map[string]any)["options"].([]any)[0].(map[string]any)
			if got := fmt.Sprint(o["value"]); got != value {
				t.Errorf("%s %.20q arrived as %.20q", test.name, value, got)
			}
		}
		for _, value := range test.bad {
			if _, err := desk.s.Slash(desk.guild, desk.place, desk.ada, "all",
				map[string]string{test.name: value}); err == nil {
				t.Errorf("%s %.20q is sent", test.name, value)
			}
		}
	}
	data := desk.sent(desk.slash("all", map[string]string{"truth": "true"}))["data"].(map[string]any)
	if o := data["options"].([]any)[0].(map[string]any); o["value"] != true {
		t.Errorf("a truth: %v", o)
	}
}

// Choices of a number are numbers, of a text texts.
func TestCompletionTypes(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	var options []any
	for kind, name := range map[int]string{3: "text", 4: "whole", 10: "number"} {
		options = append(options, map[string]any{"type": kind, "name": name, "description": "x", "autocomplete": true})
	}
	if status, a := api(t, desk.s, "PUT", "/applications/"+discordtest.AppID+"/commands", []any{map[string]any{
		"name": "all", "description": "x", "options": []any{map[string]any{"type": 1, "name": "sub", "description": "x",
			"options": options}}}}); status != 200 {
		t.Fatalf("register: %d %v", status, a)
	}
	for _, test := range []struct {
		name      string
		good, bad any
	}{{"text", "x", 1}, {"whole", 1, 1.5}, {"whole", 1, "1"}, {"number", 1.5, "1"}, {"text", "x", nil}} {
		interaction, err := desk.s.Complete(desk.guild, desk.place, desk.ada, "all sub", test.name,
			map[string]string{test.name: "1"})
		if err != nil {
			t.Fatal(err)
		}
		answer := func(v any) map[string]any {
			return map[string]any{"choices": []any{map[string]any{"name": "A", "value": v}}}
		}
		if code := desk.answer(interaction, 8, answer(test.bad)); code != 50035 {
			t.Errorf("%s offered %v: %v", test.name, test.bad, code)
		}
		if code := desk.answer(interaction, 8, answer(test.good)); code != 0 ||
			desk.wait(interaction).Choices[0] != fmt.Sprint(test.good) {
			t.Errorf("%s offered %v: %v", test.name, test.good, code)
		}
	}
}

// Groups of subcommands are called by three words, and arrive one inside another.
func TestSubcommandGroups(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	sub := map[string]any{"type": 1, "name": "sub", "description": "x", "options": []any{
		map[string]any{"type": 3, "name": "text", "description": "x"}}}
	group := map[string]any{"type": 2, "name": "group", "description": "x", "options": []any{sub}}
	if status, a := api(t, desk.s, "PUT", "/applications/"+discordtest.AppID+"/commands", []any{
		map[string]any{"name": "top", "description": "x", "options": []any{group, sub}}}); status != 200 {
		t.Fatalf("register: %d %v", status, a)
	}
	data := desk.sent(desk.slash("top group sub", map[string]string{"text": "y"}))["data"].(map[string]any)
	for _, want := range []struct {
		name string
		kind float64
	}{{"group", 2}, {"sub", 1}, {"text", 3}} {
		data = data["options"].([]any)[0].(map[string]any)
		if data["name"] != want.name || data["type"] != want.kind {
			t.Errorf("%v, want %+v", data, want)
		}
	}
	if data["value"] != "y" {
		t.Errorf("the option: %v", data)
	}
	data = desk.sent(desk.slash("top sub", nil))["data"].(map[string]any)
	if o := data["options"].([]any)[0].(map[string]any); o["type"] != 1.0 {
		t.Errorf("a subcommand beside the group: %v", o)
	}
	for _, wrong := range []string{"top", "top group", "top other", "top group other", "top sub sub"} {
		if _, err := desk.s.Slash(desk.guild, desk.place, desk.ada, wrong, nil); err == nil {
			t.Errorf("/%s is sent", wrong)
		}
	}
}

// Commands of the menus of messages and of people arrive with what they were given on.
func TestMenuCommands(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	if status, a := api(t, desk.s, "PUT", "/applications/"+discordtest.AppID+"/commands", []any{
		map[string]any{"name": "Tag Out", "type": 3}, map[string]any{"name": "Tag Out", "type": 2},
		map[string]any{"name": "due", "description": "x"}}); status != 200 {
		t.Fatalf("register: %d %v", status, a)
	}
	api(t, desk.s, "POST", "/channels/"+desk.place.ID+"/messages", map[string]any{"content": "smoke"})
	message := desk.s.Messages(desk.place)[0]
	for kind, give := range map[float64]func() (*discordtest.Interaction, error){
		3: func() (*discordtest.Interaction, error) {
			return desk.s.OnMessage(desk.guild, desk.place, desk.ada, "Tag Out", message)
		},
		2: func() (*discordtest.Interaction, error) {
			return desk.s.OnMember(desk.guild, desk.place, desk.ada, "Tag Out", desk.ada)
		},
	} {
		interaction, err := give()
		if err != nil {
			t.Fatal(err)
		}
		data := desk.sent(interaction)["data"].(map[string]any)
		target, _ := data["target_id"].(string)
		resolved := data["resolved"].(map[string]any)
		if kind == 3 && resolved["messages"].(map[string]any)[message.ID].(map[string]any)["content"] != "smoke" ||
			kind == 2 && resolved["users"].(map[string]any)[desk.ada.ID] == nil || data["type"] != kind ||
			target != map[float64]string{2: desk.ada.ID, 3: message.ID}[kind] {
			t.Errorf("type %v: %v", kind, data)
		}
		if code := desk.answer(interaction, 4, map[string]any{"content": "seen"}); code != 0 {
			t.Errorf("answered: %v", code)
		}
	}
	if _, err := desk.s.OnMessage(desk.guild, desk.place, desk.ada, "due", message); err == nil {
		t.Error("a slash command is found in a menu")
	}
	if _, err := desk.s.Slash(desk.guild, desk.place, desk.ada, "Tag", nil); err == nil {
		t.Error("a menu's command is typed")
	}
}

// A form of labels holds inputs, selects, uploads and texts, and comes back as it stood.
func TestLabelForms(t *testing.T) {
	t.Parallel()
	desk := newDesk(t)
	label := func(component any, more ...any) map[string]any {
		l := map[string]any{"type": 18, "label": "L", "component": component}
		for i := 0; i+1 < len(more); i += 2 {
			l[more[i].(string)] = more[i+1]
		}
		return l
	}
	form := func(parts ...any) map[string]any {
		return map[string]any{"title": "T", "custom_id": "form", "components": parts}
	}
	input := func(more ...any) map[string]any {
		c := map[string]any{"type": 4, "style": 1, "custom_id": "in"}
		for i := 0; i+1 < len(more); i += 2 {
			c[more[i].(string)] = more[i+1]
		}
		return c
	}
	choose := func(n int) map[string]any {
		var options []any
		for i := range n {
			options = append(options, map[string]any{"label": "o", "value": fmt.Sprint("v", i)})
		}
		return map[string]any{"type": 3, "custom_id": "choice", "options": options}
	}
	text := func(n int) any { return map[string]any{"type": 10, "content": wide(n)} }
	person := map[string]any{"type": 5, "custom_id": "who"}
	for _, test := range []struct {
		name      string
		good, bad map[string]any
	}{
		{"label", form(label(input(), "label", wide(45))), form(label(input(), "label", wide(46)))},
		{"a blank label", form(label(input())), form(label(input(), "label", "  "))},
		{"description", form(label(input(), "description", wide(100))), form(label(input(), "description", wide(101)))},
		{"an input with a label of its own", form(label(input())), form(label(input("label", "x")))},
		{"style", form(label(input("style", 2))), form(label(input("style", 3)))},
		{"lengths", form(label(input("min_length", 5, "max_length", 5))),
			form(label(input("min_length", 6, "max_length", 5)))},
		{"longest", form(label(input("max_length", 4000))), form(label(input("max_length", 4001)))},
		{"value", form(label(input("max_length", 3, "value", "abc"))),
			form(label(input("max_length", 3, "value", "abcd")))},
		{"options", form(label(choose(25))), form(label(choose(26)))},
		{"a select of nothing", form(label(choose(1))), form(label(choose(0)))},
		{"text", form(text(4000)), form(text(4001))},
		{"people", form(label(person)), form(label(button("x")))},
		{"files", form(label(map[string]any{"type": 19, "custom_id": "f", "max_values": 10})),
			form(label(map[string]any{"type": 19, "custom_id": "f", "max_values": 11}))},
		{"a label of nothing", form(label(input())), form(label(nil))},
		{"five", form(text(1), text(1), text(1), text(1), text(1)),
			form(text(1), text(1), text(1), text(1), text(1), text(1))},
		{"ids", form(label(input()), label(person)), form(label(input()), label(input()))},
		{"a select in a row", form(label(choose(1))), form(map[string]any{"type": 1, "components": []any{choose(1)}})},
	} {
		i := desk.slash("group sub", nil)
		if code := desk.answer(i, 9, test.bad); code != 50035 {
			t.Errorf("%s beyond its limit: %v", test.name, code)
		}
		if code := desk.answer(i, 9, test.good); code != 0 {
			t.Errorf("%s at its limit: %v", test.name, code)
		}
	}
	interaction := desk.slash("group sub", nil)
	desk.answer(interaction, 9, form(text(1), label(input("required", false)), label(choose(2)), label(person)))
	if _, err := desk.s.Submit(interaction, desk.ada, map[string]string{"choice": "v2"}); err == nil {
		t.Error("an option is chosen that there is not")
	}
	f, err := desk.s.Submit(interaction, desk.ada, map[string]string{"in": "typed", "choice": "v1", "who": desk.ada.ID})
	if err != nil {
		t.Fatal(err)
	}
	got, err := json.Marshal(desk.sent(f)["data"].(map[string]any)["components"])
	want := `[{"type":10},{"component":{"custom_id":"in","type":4,"value":"typed"},"type":18},` +
		`{"component":{"custom_id":"choice","type":3,"values":["v1"]},"type":18},` +
		`{"component":{"custom_id":"who","type":5,"values":["` + desk.ada.ID + `"]},"type":18}]`
	if err != nil || string(got) != want {
		t.Errorf("%v\n%s, want\n%s", err, got, want)
	}
}
