package discordtest_test

import (
	"context"
	"encoding/json"
	"fmt"
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
	s, g, c, ada := newServer(t)
	s.AnswerWithin = time.Hour // deadlines have a test of their own
	option := func(kind int, name string, more ...any) map[string]any {
		o := map[string]any{"type": kind, "name": name, "description": "x"}
		for i := 0; i+1 < len(more); i += 2 {
			o[more[i].(string)] = more[i+1]
		}
		return o
	}
	if status, a := api(t, s, "PUT", "/applications/"+discordtest.AppID+"/commands", []any{
		map[string]any{"name": "all", "description": "x", "options": []any{
			option(3, "text", "required", true, "max_length", 10), option(3, "one", "choices",
				[]any{map[string]any{"name": "A", "value": "a"}}), option(3, "part", "autocomplete", true),
			option(10, "number"), option(6, "who"), option(7, "where"), option(8, "role"), option(11, "photo")}},
		map[string]any{"name": "group", "description": "x", "options": []any{
			option(1, "sub", "options", []any{option(3, "text")})}}}); status != 200 {
		t.Fatalf("register: %d %v", status, a)
	}
	return &desk{t: t, s: s, guild: g, place: c, ada: ada, role: s.AddRole(g, "stewards")}
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
	d := newDesk(t)
	event := d.sent(d.slash("all", map[string]string{"text": "ten letter", "one": "a", "number": "1.5", "who": d.ada.ID,
		"where": d.place.ID, "role": d.role, "photo": "x.png"}))
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
	if event["guild_id"] != d.guild.ID || event["type"] != 2.0 || event["application_id"] != discordtest.AppID {
		t.Errorf("event %v", event)
	}
	sub := d.sent(d.slash("group sub", map[string]string{"text": "x"}))["data"].(map[string]any)
	if o := sub["options"].([]any)[0].(map[string]any); sub["name"] != "group" || o["name"] != "sub" ||
		len(o["options"].([]any)) != 1 {
		t.Errorf("a subcommand: %v", sub)
	}
}

// What a client does not let its user send is an error.
func TestClientRefuses(t *testing.T) {
	t.Parallel()
	d := newDesk(t)
	for _, x := range []struct {
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
		if _, err := d.s.Slash(d.guild, d.place, d.ada, x.command, x.options); err == nil ||
			!strings.Contains(err.Error(), x.why) {
			t.Errorf("/%s %v: %v, want %q", x.command, x.options, err, x.why)
		}
	}
	i := d.slash("all", map[string]string{"text": "x"})
	if _, err := d.s.Press(i, d.ada, "Go"); err == nil {
		t.Error("a button is pressed before there is an answer")
	}
	if _, err := d.s.Submit(i, d.ada, nil); err == nil {
		t.Error("a form is sent before one is open")
	}
	if _, err := d.s.Complete(d.guild, d.place, d.ada, "nothing", "text", nil); err == nil {
		t.Error("an unknown command is completed")
	}
}

// A completion is answered by choices, at most 25 and of at most 100 characters each, by
// nothing else, and never later.
func TestCompletion(t *testing.T) {
	t.Parallel()
	d := newDesk(t)
	complete := func() *discordtest.Interaction {
		t.Helper()
		i, err := d.s.Complete(d.guild, d.place, d.ada, "all", "part", map[string]string{"part": "mar"})
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
	i := complete()
	o := d.sent(i)["data"].(map[string]any)["options"].([]any)[0].(map[string]any)
	if o["focused"] != true || o["value"] != "mar" {
		t.Errorf("half-typed: %v", o)
	}
	for name, bad := range map[string]map[string]any{"26 choices": choices(26, 1, 1), "a long name": choices(1, 101, 1),
		"a long value": choices(1, 1, 101), "no name": choices(1, 0, 1)} {
		if code := d.answer(i, 8, bad); code != 50035 {
			t.Errorf("%s: %v", name, code)
		}
	}
	for _, kind := range []int{4, 5, 6, 7, 9} {
		if code := d.answer(i, kind, map[string]any{"content": "x"}); code != 50035 {
			t.Errorf("answered by type %d: %v", kind, code)
		}
	}
	if i.Answered() {
		t.Error("what was refused counts as answered")
	}
	if code := d.answer(i, 8, choices(25, 100, 100)); code != 0 || len(d.wait(i).Choices) != 25 {
		t.Errorf("25 choices: %v", code)
	}
	i = complete()
	if code := d.answer(i, 8, choices(0, 0, 0)); code != 0 || d.wait(i).Choices == nil {
		t.Errorf("no choices: %v", code)
	}
	if code := d.answer(d.slash("all", map[string]string{"text": "x"}), 8, choices(1, 1, 1)); code != 50035 {
		t.Errorf("choices for a command: %v", code)
	}
}

// An answer of each type is seen as such; whether a deferred one is quiet is settled
// when it is deferred.
func TestAnswers(t *testing.T) {
	t.Parallel()
	d := newDesk(t)
	button := []any{map[string]any{"type": 1, "components": []any{map[string]any{"type": 2, "style": 1,
		"label": "Go on", "custom_id": "go"}}}}
	text := map[string]string{"text": "x"}

	i := d.slash("all", text)
	if code := d.answer(i, 7, map[string]any{"content": "x"}); code != 50035 {
		t.Errorf("a command's message is updated: %v", code)
	}
	if code := d.answer(i, 6, nil); code != 50035 {
		t.Errorf("a command's message will be updated: %v", code)
	}
	if code := d.answer(i, 4, map[string]any{}); code != 50006 {
		t.Errorf("an empty answer: %v", code)
	}
	if code := d.answer(i, 4, map[string]any{"content": "hello <@8>", "flags": 64, "components": button}); code != 0 {
		t.Errorf("answered: %v", code)
	}
	r := d.wait(i)
	if r.Content != "hello <@8>" || !r.Ephemeral || r.Replaced || r.Deferred || len(r.Buttons) != 1 ||
		!slices.Equal(r.Pings, []string{"user:8"}) {
		t.Errorf("the answer: %+v", r)
	}
	if _, err := d.s.Press(i, d.ada, "Stop"); err == nil {
		t.Error("a button that is not there is pressed")
	}

	// A button's message is replaced, at once or later.
	for _, later := range []bool{false, true} {
		p, err := d.s.Press(i, d.ada, "Go")
		if err != nil {
			t.Fatal(err)
		}
		if e := d.sent(p); e["type"] != 3.0 || e["data"].(map[string]any)["custom_id"] != "go" || e["message"] == nil {
			t.Errorf("pressed: %v", e)
		}
		if !later {
			d.answer(p, 7, map[string]any{"content": "gone", "components": []any{}})
		} else {
			d.answer(p, 6, nil)
			api(t, d.s, "PATCH", "/webhooks/"+discordtest.AppID+"/token-"+p.ID+"/messages/@original",
				map[string]any{"content": "gone"})
		}
		if r := d.wait(p); r.Content != "gone" || !r.Replaced || r.Deferred != later || len(r.Buttons) != 0 {
			t.Errorf("replaced, later %t: %+v", later, r)
		}
	}

	// Deferred: nobody sees it before it is edited, and it stays quiet or loud.
	for _, flags := range []int{0, 64} {
		i = d.slash("all", text)
		edit := "/webhooks/" + discordtest.AppID + "/token-" + i.ID
		if status, a := api(t, d.s, "PATCH", edit+"/messages/@original",
			map[string]any{"content": "x"}); status != 404 {
			t.Errorf("edited before it was answered: %d %v", status, a)
		}
		d.answer(i, 5, map[string]any{"flags": flags})
		short, cancel := context.WithTimeout(context.Background(), 20*time.Millisecond)
		if _, err := i.Wait(short); err == nil {
			t.Error("a deferred answer is seen before it is there")
		}
		cancel()
		d.s.Advance(14 * time.Minute)
		api(t, d.s, "PATCH", edit+"/messages/@original", map[string]any{"content": "at last", "flags": 64 - flags})
		if r := d.wait(i); r.Content != "at last" || !r.Deferred || r.Ephemeral != (flags == 64) {
			t.Errorf("deferred with flags %d: %+v", flags, r)
		}
		before := d.s.FollowUps()
		if status, a := api(t, d.s, "POST", edit, map[string]any{"content": "and more"}); status != 200 ||
			d.s.FollowUps() != before+1 {
			t.Errorf("followed: %d %v", status, a)
		}
		if status, a := api(t, d.s, "POST", edit, map[string]any{"content": wide(2001)}); status != 400 {
			t.Errorf("followed by too much: %d %v", status, a)
		}
		d.s.Advance(2 * time.Minute)
		if status, a := api(t, d.s, "POST", edit, map[string]any{"content": "x"}); status != 401 ||
			a["code"] != 50027.0 {
			t.Errorf("followed too late: %d %v", status, a)
		}
	}
}

// A form opens from a command or button, keeps to Discord's limits, and is not opened
// from a form.
func TestForms(t *testing.T) {
	t.Parallel()
	d := newDesk(t)
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
	i := d.slash("group sub", nil)
	for name, bad := range map[string]map[string]any{"title": form(46, 1, 1, 1), "no title": form(0, 1, 1, 1),
		"id": form(1, 101, 1, 1), "no id": form(1, 0, 1, 1), "no inputs": form(1, 1, 0, 1), "six": form(1, 1, 6, 1),
		"label": form(1, 1, 1, 46), "no label": form(1, 1, 1, 0),
		"a button": with(map[string]any{"type": 2, "style": 1, "label": "x", "custom_id": "x"}),
		"a long example": with(map[string]any{"type": 4, "style": 1, "label": "x", "custom_id": "x",
			"placeholder": wide(101)})} {
		if code := d.answer(i, 9, bad); code != 50035 {
			t.Errorf("%s: %v", name, code)
		}
	}
	if code := d.answer(i, 9, form(45, 100, 5, 45)); code != 0 || d.wait(i).Modal["title"] != wide(45) {
		t.Errorf("a good form: %v", code)
	}
	f, err := d.s.Submit(i, d.ada, map[string]string{"f0": "one", "f1": "two"})
	if err != nil {
		t.Fatal(err)
	}
	if e := d.sent(f); e["type"] != 5.0 || len(e["data"].(map[string]any)["components"].([]any)) != 2 {
		t.Errorf("sent: %v", e)
	}
	if code := d.answer(f, 9, form(1, 1, 1, 1)); code != 50035 {
		t.Errorf("a form from a form: %v", code)
	}
	if code := d.answer(f, 4, map[string]any{"content": "taken"}); code != 0 || d.wait(f).Content != "taken" {
		t.Errorf("answered: %v", code)
	}
}
