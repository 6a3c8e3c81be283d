package commands_test

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// door is one action as it is rightly used, and how its arguments could be changed by
// whoever forges it.
type door struct {
	action string
	who    string                          // who may use it
	fields map[string]string               // of its form
	open   func(w *world) commands.Reply   // gives the reply with its button or form
	label  string                          // of the button, "" for a form
	change func(w *world) map[string][]any // by parameter: what it is changed to, one after another
	// nobody else's: the button may be used by whoever sees it
	anyones bool
}

// Numbers and texts that stand for nothing: what is not there, what no number of ours
// is, and what no text of ours is as long as.
var (
	noNumbers = []any{0, -1, 999_999, int64(9_223_372_036_854_775_807), json.Number("1e300"), 1.5, "1", true, []int{1}}
	noTexts   = []any{"no such thing", strings.Repeat("x", 5000), "\u202e", 7, true, []string{"a"}}
)

// and is a list with more at its end.
func and(all []any, more ...any) []any { return append(slices.Clone(all), more...) }

// doors are all actions. Numbers from Slate, the other machine, and from the other
// shop stand among what each is changed to.
func doors() []door {
	elsewhere := func(w *world) (otherFact, shopFact domain.FactNo) {
		return w.slateReading(), w.otherShopFact()
	}
	facts := func(w *world) []any {
		slate, other := elsewhere(w)
		return and(noNumbers, slate, other)
	}
	options := and([]any{}, map[string]string{}, map[string]string{"machine": "Marble", "sermon": "x"},
		map[string]string{"machine": strings.Repeat("x", 5000)}, map[string]string{"machine": "Nobody's"}, "x", 7)
	asked := func(world *world) map[string][]any {
		return map[string][]any{
			"name":    and(noTexts, "shop retire", "gauge list", "why"),
			"options": options,
			"at":      {"2999-01-01T00:00:00Z", "0001-01-02T00:00:00Z", "yesterday", 7, true},
			"undo": {-1, 999_999, int64(9_223_372_036_854_775_807), world.slateReading(), world.otherShopFact(),
				"1", 1.5},
		}
	}
	// A machine, and a test of it.
	ofTest := func(w *world) map[string][]any {
		return map[string][]any{"0": {0, -1, 2, 999_999, w.otherShopMachine(), "1.5", "1e0", "01", " 1", "x", ""},
			"1": {0, -1, 1, 999_999, "1.5", "01", "x", ""}}
	}
	ofRelease := func(w *world) map[string][]any {
		slate, other := elsewhere(w)
		answer := func(tag, owner any) []map[string]any { return []map[string]any{{"tag": tag, "owner": owner}} }
		return map[string][]any{"machine": and(noNumbers, 2, w.otherShopMachine()),
			"note": {strings.Repeat("x", 5000), 7},
			"tags": {[]int{}, []int{0}, []int{-1}, []any{slate}, []any{other}, []string{"x"}, 7},
			"seen": {[]int{}, nil, answer(0, "asked"), answer(-1, ""), answer(slate, "asked"), answer(other, "asked"),
				answer("x", ""), answer(1, "nobody"), "x", 7}}
	}
	reading := func(w *world) map[string][]any { return map[string][]any{"reading": facts(w)} }
	return []door{
		{action: "typein", who: "ada", fields: map[string]string{"lines": "2026-03-04 18:00, 1 h"},
			open: func(w *world) commands.Reply { return w.as("ada", "typein", "machine=Marble") },
			change: func(*world) map[string][]any {
				return map[string][]any{"machine": noTexts, "lines": {7, true, []string{"a"}}}
			}},
		{action: "typein-mend", who: "ada", label: "Mend",
			open: func(w *world) commands.Reply { return w.as("ada", "typein", "machine=Marble", "lines=nothing") },
			change: func(*world) map[string][]any {
				return map[string][]any{"machine": noTexts, "lines": {strings.Repeat("x", 5000), 7, true}}
			}},
		{action: "again", who: "ada", label: "It is not dangerous",
			open: func(w *world) commands.Reply {
				return w.as("ada", "problem", "machine=Marble", "what=the guard feels a bit loose")
			},
			change: asked},
		{action: "values", who: "ada", fields: map[string]string{"left": "1.02 mm", "right": "1.02 mm"},
			open:   func(w *world) commands.Reply { return w.as("ada", "reading", "machine=Marble", "check=infeed") },
			change: asked},
		{action: "believe", who: "ada", label: "It is right as typed", change: reading,
			open: func(w *world) commands.Reply {
				return w.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 40 mm, right 40 mm")
			}},
		{action: "withdraw", who: "ada", label: "Withdraw it", change: reading,
			open: func(w *world) commands.Reply {
				return w.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 40 mm, right 40 mm")
			}},
		{action: "turned", who: "ada", label: "I turned it", change: reading,
			open: func(w *world) commands.Reply {
				return w.as("ada", "reading", "machine=Marble", "check=infeed", "values=50 41 thou")
			}},
		{action: "how-turned", who: "ada", label: "I turned it the other way",
			open: func(w *world) commands.Reply {
				return w.as("ada", "reading", "machine=Marble", "check=infeed", "values=59 41 thou")
			},
			change: func(w *world) map[string][]any {
				return map[string][]any{"move": facts(w), "reading": facts(w), "said": noTexts}
			}},
		{action: "why", who: "bo", label: "Why?", anyones: true,
			open: func(w *world) commands.Reply {
				return w.as("ada", "reading", "machine=Marble", "check=infeed", "values=40 40 thou")
			},
			change: func(w *world) map[string][]any { return map[string][]any{"0": and(nil, 0, -1, 999_999, "x")} }},
		{action: "take-over", who: "bo", label: "I take it over", anyones: true,
			open: func(w *world) commands.Reply {
				w.must(w.as("ada", "handover", "machine=Marble", "apart=head cover off", "next=fit it",
					"moved=nothing"))
				return w.as("ada", "handover", "machine=Marble")
			},
			change: func(w *world) map[string][]any { return map[string][]any{"0": facts(w)} }},
		{action: "log", who: "bo", label: "Older", anyones: true,
			open: func(w *world) commands.Reply { return w.as("ada", "logbook", "machine=Marble") },
			change: func(w *world) map[string][]any {
				slate, other := elsewhere(w)
				return map[string][]any{"0": {0, -1, 99, w.otherShopMachine(), "x", ""},
					"1": {-1, 999_999, slate, other, "x", ""}}
			}},
		{action: "found", who: "bo", label: "It was this: infeed spring caps", anyones: true,
			open: func(w *world) commands.Reply {
				w.must(w.as("ada", "problem", "machine=Marble", "what=marks"))
				w.press("ada", "Can't tell")
				return w.press("ada", "No")
			},
			change: func(w *world) map[string][]any {
				slate, other := elsewhere(w)
				return map[string][]any{"0": {0, -1, 999_999, slate, other, "x", ""},
					// of another symptom, of another kind, and nobody's
					"1": {"cause:nicked-knife", "question:drooped", "question:pitch", "cause:gone", "check:infeed",
						"service:wax", "pitch", "", "cause:light-cut"}, // the last would close another's problem
					"2": {"perhaps", "YES", "", "7"}}
			}},
		{action: "take-visits", who: "wren", label: "Take it",
			open: func(w *world) commands.Reply {
				w.must(w.as("wren", "shop settings", "evenings=thu 18:00-21:00"))
				w.must(w.as("wren", "shop interval", "machine=Marble", "what=infeed roller", "every=30 days"))
				return w.as("wren", "visits", "new=yes")
			},
			change: func(*world) map[string][]any {
				visit := func(change map[string]any) []map[string]any {
					one := map[string]any{"machine": 1, "name": "Marble", "at": "2026-03-12T17:00:00Z", "minutes": 30,
						"items": []string{"service:wax"}}
					maps.Copy(one, change)
					return []map[string]any{one}
				}
				all := []any{[]any{}, "x", 7}
				for name, values := range map[string][]any{ // any order: each is refused by itself
					"machine": and(noNumbers, 2), "name": and(noTexts, ""),
					"at":      {"1970-01-01T00:00:00Z", "2999-01-01T00:00:00Z", "tomorrow"},
					"minutes": {-1, 1441, json.Number("1e300"), "30"},
					"items": {[]string{}, []string{"service:gone"}, []string{"check:gone"},
						[]string{"cause:pitch"}, "wax"},
					"early": {[]string{"service:bushings"}, 7}, "late": {[]string{"service:bushings"}, 7},
					"short": {7},
				} {
					for _, value := range values {
						all = append(all, visit(map[string]any{name: value}))
					}
				}
				return map[string][]any{"visits": all}
			}},
		{action: "visit", who: "bo", label: "Sheet of visit 1", anyones: true,
			open: func(w *world) commands.Reply { return w.as("wren", "visits") },
			change: func(w *world) map[string][]any {
				return map[string][]any{"0": facts(w), "1": {0, -1, 999, "x"}, "2": {-1, 1, 999, "x"}}
			}},
		{action: "visit-done", who: "bo", label: "Done: ", anyones: true,
			open: func(w *world) commands.Reply {
				for n := 1; ; n++ {
					r := w.as("bo", "visits", fmt.Sprint("visit=", n))
					if _, ok := button(r, "Done: "); ok || r.Refused {
						return r
					}
				}
			},
			change: func(w *world) map[string][]any {
				return map[string][]any{"0": facts(w), "1": {0, -1, 999, "x"}, "2": {-1, 0, 999, "x"}}
			}},
		{action: "gauge", who: "wren", label: "Confirm its values",
			open: func(w *world) commands.Reply {
				return w.as("wren", "gauge set", "name=long dial", "kind=dial indicator")
			},
			change: func(*world) map[string][]any {
				return map[string][]any{"name": noTexts, "kind": noTexts,
					"resolution": {"1 mm", "-1 mm", "1 kg", "x", 7},
					"error":      {"1 mm", "-1 mm", "x", 7}, "starting": {false, "x"}, "assumed": {true, "x"},
					"uncertainty": {"1 mm", 7}, "coverage": {-1, 2, json.Number("1e300"), "2"},
					"repeatability": {"1 mm", 7}, "zeroed": {false, 7}, "dof": {-1, 3, "3"}}
			}},
		{action: "adopt", who: "wren", label: "Use this repeatability",
			open: func(w *world) commands.Reply {
				return w.as("wren", "gauge repeat", "gauge=long dial",
					"values=1.00 1.01 1.00 1.02 1.00 1.01 1.00 0.99 1.00 1.01 mm")
			},
			change: func(*world) map[string][]any {
				return map[string][]any{"gauge": noTexts, "s": {"0 m", "-1 mm", "1 kg", "1 s", "x", 7},
					"dof": {0, -1, json.Number("1e300"), "9", true}}
			}},
		{action: "confirm", who: "wren", label: "Confirm ",
			open: func(w *world) commands.Reply { return w.as("wren", "shop confirm", "machine=Slate") },
			change: func(w *world) map[string][]any {
				return map[string][]any{"machine": and(noNumbers, w.otherShopMachine()),
					"item": {"check:gone", "cause:pitch", "adjuster:gone", "service:gone", "check:bed.gone",
						"x", "", 7},
					"rev": noNumbers}
			}},
		{action: "tick", who: "wren", label: "Seen: nothing loose",
			open: func(w *world) commands.Reply {
				w.must(w.as("wren", "shop add", "name=Tuff", "kind=thickness-planer", "state=in-use"))
				w.must(w.pressOn(w.last, "wren", "Seen: guards"))
				return w.as("wren", "shop start", "machine=Tuff")
			},
			change: func(w *world) map[string][]any {
				return map[string][]any{"0": {0, -1, 1, 2, 999_999, w.otherShopMachine(), "1e0", "01", "x", ""},
					"1": {"guards", "gone", "cutter", "stops.x", "x", ""}}
			}},
		{action: "tag-seen", who: "wren", label: "Seen to",
			open: func(w *world) commands.Reply {
				w.must(w.as("ada", "reading", "machine=Marble", "check=infeed", "values=40 40 thou"))
				w.readAll()
				w.must(w.as("ada", "tagout", "machine=Marble", "reason=belt off"))
				return w.as("wren", "release", "machine=Marble", "note=guard refitted")
			},
			change: ofRelease},
		{action: "test", who: "wren", label: "All done, owner asked",
			open: func(world *world) commands.Reply {
				world.must(world.as("wren", "release", "machine=Marble", "note=guard refitted"))
				for _, ok := button(world.last, "Seen to"); ok; _, ok = button(world.last, "Seen to") {
					world.must(world.pressOn(world.last, "wren", "Seen to"))
				}
				return world.last
			},
			change: ofRelease},
		{action: "renewtest", who: "wren", label: "Still testing",
			open:   func(w *world) commands.Reply { return w.as("wren", "release", "machine=Marble") },
			change: ofTest},
		{action: "endtest", who: "wren", label: "Stop the test",
			open:   func(w *world) commands.Reply { return w.as("wren", "release", "machine=Marble") },
			change: ofTest},
		{action: "release", who: "wren", label: "It runs well",
			open: func(w *world) commands.Reply {
				w.as("wren", "release", "machine=Marble")
				w.intoTest("wren")
				w.putRight("wren")
				return w.as("wren", "release", "machine=Marble")
			},
			change: ofTest},
		{action: "loosen", who: "wren", label: "Put it in force",
			open: func(w *world) commands.Reply {
				w.must(w.as("ishaan", "shop interval", "machine=Marble", "what=fingers", "every=30 days", "why=rare"))
				return w.as("wren", "shop loosen", "machine=Marble")
			},
			change: func(w *world) map[string][]any { return map[string][]any{"0": facts(w)} }},
		{action: "stop", who: "ada", label: "Tag out Marble", anyones: true,
			open:   func(w *world) commands.Reply { return w.as("ada", "problem", "machine=Marble", "what=creaks") },
			change: func(w *world) map[string][]any { return map[string][]any{"0": facts(w)} }},
		{action: "mistake", who: "ada", label: "Pressed by mistake",
			open:   func(w *world) commands.Reply { return w.as("ada", "tagout", "machine=Marble") },
			change: func(w *world) map[string][]any { return map[string][]any{"0": facts(w)} }},
		{action: "lock-off", who: "ada", label: "My lock is off",
			open:   func(w *world) commands.Reply { return w.as("ada", "tagout", "machine=Marble", "lock=yes") },
			change: func(w *world) map[string][]any { return map[string][]any{"0": facts(w)} }},
		{action: "lock-kept", who: "ada", label: "My lock stays on",
			open: func(w *world) commands.Reply {
				w.must(w.as("ada", "tagout", "machine=Marble", "lock=yes"))
				w.must(w.as("wren", "lock", "machine=Marble"))
				w.must(w.press("wren", "Ask its owner"))
				return w.as("ada", "lock", "machine=Marble")
			},
			change: func(w *world) map[string][]any { return map[string][]any{"0": facts(w)} }},
		{action: "lock-ask", who: "wren", label: "Ask its owner",
			open:   func(w *world) commands.Reply { return w.as("wren", "lock", "machine=Marble") },
			change: func(w *world) map[string][]any { return map[string][]any{"0": facts(w)} }},
		{action: "lock-note", who: "wren", label: "Note what was done",
			open: func(w *world) commands.Reply {
				w.now = w.now.Add(time.Hour)
				return w.as("wren", "lock", "machine=Marble")
			},
			change: func(w *world) map[string][]any { return map[string][]any{"0": facts(w)} }},
		{action: "lock-noted", who: "wren", fields: map[string]string{"note": "covers open, nobody inside"},
			open: func(w *world) commands.Reply {
				w.must(w.as("wren", "lock", "machine=Marble"))
				return w.press("wren", "Note what was done")
			},
			change: func(w *world) map[string][]any { return map[string][]any{"tag": facts(w)} }},
		{action: "lock-confirm", who: "bo", label: "I looked: nobody is in it", anyones: true,
			open:   func(w *world) commands.Reply { return w.as("bo", "lock", "machine=Marble") },
			change: func(w *world) map[string][]any { return map[string][]any{"0": facts(w)} }},
		{action: "seeto", who: "wren", label: "I see to it",
			open: func(w *world) commands.Reply {
				w.must(w.as("ada", "problem", "machine=Marble", "what=smoke"))
				w.notices()
				return w.replies[len(w.replies)-1]
			},
			change: func(w *world) map[string][]any {
				slate, other := elsewhere(w)
				return map[string][]any{"0": {0, -1, 2, 999_999, w.otherShopMachine(), "1.5", "01", "x", ""},
					"1": {0, -1, 1, 999_999, slate, other, "1.5", "01", "x", ""}}
			}},
		{action: "ping", who: "owner", label: "Ping the stewards",
			open:   func(w *world) commands.Reply { return w.as("owner", "shop settings") },
			change: func(*world) map[string][]any { return map[string][]any{"0": {"x", "", "everyone", 1}} }},
		{action: "forget", who: "bo", label: "Forget me",
			open: func(w *world) commands.Reply {
				w.must(w.as("bo", "hours", "machine=Marble", "hours=1"))
				return w.as("bo", "forget")
			},
			change: func(*world) map[string][]any {
				return map[string][]any{"who": {"", "ada", "former-1", 7, true}}
			}},
		{action: "retire", who: "wren", label: "Retire",
			open: func(w *world) commands.Reply { return w.as("wren", "shop retire", "machine=Slate") },
			change: func(w *world) map[string][]any {
				return map[string][]any{"machine": and(noNumbers, w.otherShopMachine())}
			}},
	}
}

// Every action is refused in one sentence, and nothing is stored, with any of its
// arguments changed: to what is not there, is of another kind, another machine's or
// another shop's, no number of ours, far too long. As it was shown it then does what it
// says, by whom it may; so what was refused before was refused for the change alone.
func TestForgedActions(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.desk.Chat = fineChat()
	world.now = world.now.Add(72 * time.Hour)
	world.addInUse("wren", "Slate", "with=knives=4")
	world.must(world.as("bo", "reading", "machine=Slate", "check=infeed", "values=40 40 thou"))
	world.otherShop()
	tried := map[string]bool{}
	for _, door := range doors() {
		tried[door.action] = true
		forge(world, door)
	}
	for _, a := range world.desk.Actions() {
		if !tried[a.Name] {
			t.Errorf("no argument of %s is changed", a.Name)
		}
	}
}

// forge uses an action with each of its arguments changed, then as somebody whom it is
// not for, then as it was shown.
func forge(world *world, door door) {
	world.t.Helper()
	reply := door.open(world)
	custom := ""
	if b, ok := button(reply, door.label); door.label != "" && ok {
		custom = b.Custom
	} else if reply.Form != nil {
		custom = reply.Form.Custom
	}
	prefix := "s1:" + door.action + ":"
	kept, ok := strings.CutPrefix(custom, prefix)
	if !ok {
		world.t.Errorf("%s: %q has %q, buttons %+v", door.action, reply.Headline, custom, reply.Buttons)
		return
	}
	before := world.stored()
	refused := func(what, custom string) {
		world.t.Helper()
		r := world.send(door.who, what, custom, door.fields)
		said := words.Expand(r.Headline, plainMedium{})
		if !r.Refused || said == "" || strings.Contains(said, "\n") || len([]rune(said)) > 300 {
			world.t.Errorf("%s, %s: answered %q", door.action, what, said)
		}
		if after := world.stored(); after != before {
			world.t.Fatalf("%s, %s: stored %s, before %s", door.action, what, after, before)
		}
	}
	fault := world.desk.Fault
	// Text that is no argument of ours at all is told of (see TestWhatWaitsIsRead), and
	// nothing else.
	world.desk.Fault = func(_ string, err error) {
		if !strings.Contains(err.Error(), "decode what waited behind") {
			world.t.Errorf("%s: %.300v", door.action, err)
		}
	}
	books, ctx := world.db.Shop(world.shop), context.Background()
	changes := door.change(world)
	if pending, err := books.Pending(ctx, kept, world.now); err == nil {
		var args map[string]any
		if err := json.Unmarshal(pending.Args, &args); err != nil {
			world.t.Fatal(err)
		}
		for name := range args { // any order: each is only looked for
			if changes[name] == nil && !door.unchanged(name) {
				world.t.Errorf("%s: its argument %s is not changed", door.action, name)
			}
		}
		for _, name := range slices.Sorted(maps.Keys(changes)) {
			for i, value := range changes[name] {
				forged := maps.Clone(args)
				forged[name] = value
				text, err := json.Marshal(forged)
				if err != nil {
					world.t.Fatal(err)
				}
				one := pending
				one.ID, one.Args = fmt.Sprintf("forged-%s-%s-%d", door.action, name, i), text
				if err := books.Keep(ctx, one); err != nil {
					world.t.Fatal(err)
				}
				refused(fmt.Sprintf("%s changed to %.60v", name, value), prefix+one.ID)
			}
		}
		refused("a button of nobody's", prefix+"i999.1")
		for _, a := range world.desk.Actions() {
			if a.Waits && a.Name != door.action {
				refused("what waits behind another", "s1:"+a.Name+":"+kept)
			}
		}
	} else {
		cut := "."
		if door.action == "found" {
			cut = "/"
		}
		parts := strings.Split(kept, cut)
		for i := range parts {
			if len(changes[fmt.Sprint(i)]) == 0 {
				world.t.Errorf("%s: its argument %d is not changed", door.action, i)
			}
			for _, value := range changes[fmt.Sprint(i)] {
				forged := slices.Clone(parts)
				forged[i] = fmt.Sprint(value)
				refused(fmt.Sprintf("argument %d changed to %.60v", i, value), prefix+strings.Join(forged, cut))
			}
		}
	}
	if !door.anyones {
		who := door.who
		door.who = "chidi"
		refused("pressed by another member", custom)
		door.who = who
	}
	world.desk.Fault = fault
	if r := world.send(door.who, door.action+" as it was shown", custom, door.fields); r.Refused {
		world.t.Errorf("%s as it was shown is refused: %q %q", door.action, r.Headline, r.Lines)
	}
}

// unchanged are arguments that may say anything of their kind: a text to start from, a
// day.
func (d door) unchanged(name string) bool {
	return d.action == "gauge" && (name == "calibrated" || name == "interval" || name == "of" || name == "units")
}

// stored is how far the books are: the last report, and what is owed.
func (w *world) stored() string {
	w.t.Helper()
	w.reported()
	owed, err := w.db.Undelivered(context.Background(), w.shop, w.now, 1000)
	if err != nil {
		w.t.Fatal(err)
	}
	return fmt.Sprintf("no. %d, %d notices", w.seen, len(owed))
}

// slateReading is the number of a reading of the other machine, otherShopFact and
// otherShopMachine numbers that only the other shop has.
func (w *world) slateReading() domain.FactNo {
	w.t.Helper()
	all, err := w.db.Shop(w.shop).Logbook(context.Background(), 2, 0, 100)
	if err != nil {
		w.t.Fatal(err)
	}
	for _, f := range all {
		if f.Body.FactKind() == domain.KindReading {
			return f.No
		}
	}
	w.t.Fatal("the other machine was never read")
	return 0
}

func (w *world) otherShopFact() domain.FactNo { return 400 }

func (w *world) otherShopMachine() domain.MachineID { return 5 }

// otherShop fills another shop of the same file with machines and reports of numbers
// that this one does not come to.
func (w *world) otherShop() {
	w.t.Helper()
	here := w.shop
	w.shop = "mill-lane"
	for _, name := range []string{"Flint", "Slab", "Chalk", "Shale", "Marl"} {
		w.bring("levelled-table", name, quantity.Metric)
	}
	var all []domain.Entry
	for n := range 400 {
		all = append(all, domain.Entry{Key: fmt.Sprint("wax ", n), Machine: 1, At: w.now, Recorded: w.now,
			By: domain.PersonID(fmt.Sprint("p", n%10)), For: "ada",
			Body: domain.Handover{Apart: "top off", Next: "fit it"}})
	}
	books := w.db.Shop(w.shop)
	if _, err := books.ReportAll(context.Background(), all, false); err != nil {
		w.t.Fatal(err)
	}
	if _, err := books.Fact(context.Background(), w.otherShopFact()); err != nil {
		w.t.Fatal(err)
	}
	if _, err := books.Snapshot(context.Background(), w.otherShopMachine()); err != nil {
		w.t.Fatal(err)
	}
	w.shop = here
}

// A tag or a danger that says what stands already adds nothing and says so; neither is
// ever refused, and a button whose report joined one is used up.
func TestStoryJoined(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("ada", "tagout", "machine=Marble", "reason=the belt is off"))
	tag := world.reported()
	world.must(world.as("ada", "tagout", "machine=Marble", "reason=the belt is off"))
	if got := world.reported(); got != tag {
		t.Errorf("the same tag is reported again, as no. %d", got)
	}
	world.must(world.as("bo", "tagout", "machine=Marble", "reason=the belt is off"))
	world.must(world.as("ada", "problem", "machine=Marble", "what=smoke", "note=by the motor"))
	world.must(world.as("ada", "problem", "machine=Marble", "what=smoke", "note=by the motor"))
	world.notices()
	said := world.out.String()
	for n := range domain.MostOwn {
		world.must(world.as("ada", "tagout", "machine=Marble", fmt.Sprint("reason=reason ", n)))
	}
	world.out.Reset()
	world.out.WriteString(said)
	world.must(world.as("ada", "tagout", "machine=Marble", "reason=the lamp flickers"))
	world.golden("joined")
}
