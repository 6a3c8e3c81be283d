package rehearse

import (
	"bytes"
	"context"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"setscrew/bot/channeltest"
	"setscrew/commands"
	catalogue "setscrew/commands/words"
	"setscrew/domain"
	"setscrew/store"
)

func declared(t testing.TB) []*commands.Command {
	t.Helper()
	cat, err := catalogue.Load()
	if err != nil {
		t.Fatal(err)
	}
	return commands.NewDesk(nil, nil, cat).Declarations()
}

func TestParseSlash(t *testing.T) {
	known := declared(t)
	for _, test := range []struct {
		line string
		name string
		want map[string]string
	}{
		{"/due", "due", map[string]string{}},
		{"/hours machine:Marble hours:1.5", "hours", map[string]string{"machine": "Marble", "hours": "1.5"}},
		{`/reading machine:"Long Meg" check:"infeed roller" values:"left 1 1/16\", right 1\""`, "reading",
			map[string]string{"machine": "Long Meg", "check": "infeed roller", "values": `left 1 1/16", right 1"`}},
		{"/reading machine:Long Meg check:infeed roller values:left 1.17 mm, right 1.04 mm", "reading",
			map[string]string{"machine": "Long Meg", "check": "infeed roller",
				"values": "left 1.17 mm, right 1.04 mm"}},
		{"/hours machine:Marble hours:45min when:yesterday 17:30", "hours",
			map[string]string{"machine": "Marble", "hours": "45min", "when": "yesterday 17:30"}},
		{"/hours machine:Marble houts:2 when:yesterday 17:30", "hours",
			map[string]string{"machine": "Marble", "houts": "2", "when": "yesterday 17:30"}},
		{"/problem machine:Marble what:it smells note:like oil: burnt", "problem",
			map[string]string{"machine": "Marble", "what": "it smells", "note": "like oil: burnt"}},
		{"/shop add name:Slate kind:thickness-planer", "shop add",
			map[string]string{"name": "Slate", "kind": "thickness-planer"}},
		{"/shop", "shop", map[string]string{}},
		{"/sermon on:mount", "sermon", map[string]string{}},
		{`/tagout machine:Marble reason:""`, "tagout", map[string]string{"machine": "Marble", "reason": ""}},
	} {
		got, err := parseSlash(test.line, known)
		if err != nil || got.name != test.name || !maps.Equal(got.options, test.want) {
			t.Errorf("%s: %+v, %v; want %s %v", test.line, got, err, test.name, test.want)
		}
	}
	for _, line := range []string{"/hours Marble", `/hours machine:"Marble`, "/hours machine:Marble machine:Granite",
		"/hours :x"} {
		if got, err := parseSlash(line, known); err == nil {
			t.Errorf("%s: %+v, want an error", line, got)
		}
	}
}

func FuzzParseSlash(fuzz *testing.F) {
	for _, s := range []string{"/due", `/reading machine:"x" values:"1 1/16\""`, "/hours machine:a hours:",
		"/shop add name:x", `/x y:"`} {
		fuzz.Add(s)
	}
	known := declared(fuzz)
	fuzz.Fuzz(func(t *testing.T, line string) {
		s, err := parseSlash(line, known)
		if err != nil {
			return
		}
		for name, v := range s.options {
			if name == "" || len(v) > len(line) {
				t.Fatalf("%q: option %q %q", line, name, v)
			}
		}
		split(line)
	})
}

func TestWrap(t *testing.T) {
	text := strings.Repeat("word ", 60) + strings.Repeat("x", 100)
	for _, line := range strings.Split(strings.TrimRight(wrap(text, "  ", "    "), "\n"), "\n") {
		if utf8.RuneCountInString(line) > wide && strings.Contains(strings.TrimSpace(line), " ") {
			t.Errorf("%d columns: %q", utf8.RuneCountInString(line), line)
		}
	}
}

// perform plays lines and returns what was printed.
func perform(t *testing.T, cfg Config, lines ...string) (string, error) {
	t.Helper()
	var out bytes.Buffer
	cfg.In, cfg.Out = strings.NewReader(strings.Join(lines, "\n")), &out
	err := Run(context.Background(), cfg)
	return out.String(), err
}

// Nothing is left behind without --db, the same input gives the same output,
// and a strict rehearsal stops at the first refusal.
func TestLeavesNothingAndRepeats(t *testing.T) {
	tmp := t.TempDir()
	t.Setenv("TMPDIR", tmp)
	lines := []string{"/hours machine:Marble hours:1.5", "clock +9d", "notices", "/hours machine:Marbel hours:1",
		"/due"}
	first, err := perform(t, Config{}, lines...)
	if err != nil {
		t.Fatal(err)
	}
	second, err := perform(t, Config{}, lines...)
	if err != nil || first != second {
		t.Errorf("played twice: %v, the same %v", err, first == second)
	}
	strict, err := perform(t, Config{Strict: true}, lines...)
	if !errors.Is(err, ErrRefused) || strings.Contains(strict, "/due") {
		t.Errorf("strict: %v, %s", err, strict)
	}
	left, err := os.ReadDir(tmp)
	if err != nil || len(left) != 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// The clock stops at every wake on the way: an inspection that falls due and is
// then overdue is said at its own times.
func TestClockStepsThroughWakes(t *testing.T) {
	t.Parallel()
	out, err := perform(t, Config{DB: filepath.Join(t.TempDir(), "shop.db")}, "clock +30d", "/machine machine:Marble")
	if err != nil {
		t.Fatal(err)
	}
	due := strings.Index(out, "things are due on Marble")
	out2 := out[max(due, 0):]
	if due < 0 || !strings.Contains(out2, "anti-kickback fingers: overdue.") ||
		!strings.Contains(out2, "inspection overdue. (Mon 9 Mar 2026 07:30)") {
		t.Errorf("thirty days:\n%s", out)
	}
}

func TestClockOnlyMovesOn(t *testing.T) {
	t.Parallel()
	out, err := perform(t, Config{}, "clock 2026-01-01 10:00", "clock soon", "clock +x", "clock", "clock +999999d",
		"clock 2026-03-05 09:00")
	if err != nil || strings.Count(out, "It is Thu 5 Mar 2026 09:00.") != 1 ||
		strings.Count(out, "Time only moves on") != 1 || strings.Count(out, "for example: clock") != 4 {
		t.Errorf("%v\n%s", err, out)
	}
}

// Every example that a refusal gives works, given just as it is printed by the
// same person.
func TestExamplesWork(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	count := 0
	for _, empty := range []bool{false, true} {
		file, at := madeShop(t, empty)
		for _, line := range []string{
			"/hours machine:Marbel hours:1", "/hours machine:Xylophone hours:1",
			"/hours machine:Marble hours:1 counter:2", "/hours machine:Marble hours:30",
			"/hours machine:Marble hours:-1",
			"/hours machine:Marble hours:lots", "/hours machine:Marble hours:1 when:soon",
			"/hours machine:Marble hours:1 when:2029-01-01", "/hours machine:Marble hours:1 when:2020-01-01",
			`/reading machine:Marble check:zither values:"left 1 mm, right 1 mm"`,
			"/reading machine:Marble check:infeed values:left 1 kg, right 2 mm",
			"/reading machine:Marble check:infeed values:left 1 mm",
			"/reading machine:Marble check:infeed values:1 2 3 mm",
			"/reading machine:Marble check:infeed values:left 1/0 mm, right 1 mm",
			"/reading machine:Marble check:infeed values:up 1 mm",
			"/reading machine:Marble check:fingers values:perhaps",
			`/reading machine:Marble check:infeed gauge:yardstick values:"left 1 mm, right 1 mm"`,
			"/service machine:Marble service:bushngs", "/service machine:Marble", "/problem machine:Marble",
			"/tagout reason:loose", "/due machine:Xylophone", "/machine",
			"/why", "/why report:two", "/why report:99999", "/why machine:Marble service:knife-change",
			"/event machine:Marble event:zither", "/event machine:Marble", "/how machine:Marble what:zither",
			"/logbook machine:Xylophone", "/hours machine:Marble counter:many",
			`/reading machine:Marble check:infeed values:"left 1 mm, right 1 mm" mode:low`,
			`/reading machine:Marble check:"bed rollers" values:"1 1 1 1 mm" mode:zither`,
			"/shop second machine:Marble check:infeed wanted:yes", "/undo report:two", "/undo report:99999",
			"/help command:xyzzy", "/sermon",
			"/shop settings zone:Mars", "/shop settings digest:late", "/shop settings units:cubits",
			"/shop add name:Slate kind:loom", "/shop add name:Slate",
			"/shop add name:Slate kind:thickness-planer with:knives=99",
			"/shop confirm machine:Marble what:xyzzy", "/shop confirm machine:Marble what:infeed target:40 furlongs",
			"/shop confirm machine:Marble what:infeed adjust:40 thou",
			"/shop confirm machine:Marble what:infeed adjust:1 to 2 mm",
			"/shop confirm machine:Marble what:infeed target:1,234 mm",
			`/shop confirm machine:Marble what:bushings target:1 mm`,
			"/gauge set name:x resolution:y uncertainty:0.02mm", `/gauge set name:x resolution:0.01mm uncertainty:0`,
			`/gauge set name:x resolution:0.01mm uncertainty:0.02mm k:99`, "/shop retire machine:Xylophone",
		} {
			path := filepath.Join(t.TempDir(), "shop.db")
			if err := os.WriteFile(path, file, 0o600); err != nil {
				t.Fatal(err)
			}
			rehearsal, db := rehearsalOver(t, path)
			rehearsal.state = at
			rehearsal.state.Channel.show = rehearsal.showNotice
			refused := say(t, rehearsal, line)
			if !refused.Refused {
				t.Errorf("%s: not refused: %+v", line, refused)
			}
			for _, l := range refused.Lines {
				example, ok := strings.CutPrefix(catalogue.Expand(l, terminal{time.UTC, rehearsal.state.Now}),
					"This works: ")
				if !ok {
					continue
				}
				count++
				if err := rehearsal.line(ctx, "clock +1d"); err != nil { // so that hours overlap with no others
					t.Fatal(err)
				}
				if again := say(t, rehearsal, example); again.Refused {
					t.Errorf("%s: its example %s is refused: %s", line, example, again.Headline)
				}
			}
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
		}
	}
	if count < 80 {
		t.Errorf("only %d examples were given", count)
	}
}

// madeShop is the file of a shop that was set up, and where its rehearsal stood.
func madeShop(t *testing.T, other bool) (file []byte, at state) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "made.db")
	rehearsal, db := rehearsalOver(t, path)
	for _, l := range setUp(other) {
		if err := rehearsal.line(context.Background(), l); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil { // which folds the journal into the file
		t.Fatal(err)
	}
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return file, rehearsal.state
}

// rehearsalOver is a rehearsal over a file.
func rehearsalOver(t *testing.T, path string) (*rehearsal, *store.DB) {
	t.Helper()
	db, err := store.Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	r, err := newRehearsal(Config{Out: &bytes.Buffer{}}, db)
	if err != nil {
		t.Fatal(err)
	}
	return r, db
}

// setUp is a shop with one planer: the demo's Marble, or one of another name in
// an inch shop.
func setUp(other bool) []string {
	name, units := "Marble", "metric"
	if other {
		name, units = "Granite Two", "inch"
	}
	lines := []string{"as owner", "/shop settings zone:CET stewards:stewards units:" + units, "as wren",
		`/shop add name:"` + name + `" kind:thickness-planer state:in-use with:knives=4`,
		"press Seen", "press Seen", "press Seen", "press Seen", "press Seen", "press Seen"}
	for range 10 {
		lines = append(lines, "clock +8h", `/hours machine:"`+name+`" hours:1`)
	}
	return append(lines, "clock +8h")
}

// say gives a command; in the shop whose machine has another name, for that one.
func say(t *testing.T, rehearsal *rehearsal, line string) commands.Reply {
	t.Helper()
	ctx := context.Background()
	all, err := rehearsal.db.Shop(rehearsal.state.Shop).Machines(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if all[0].Name != "Marble" && !strings.Contains(line, all[0].Name) {
		line = strings.ReplaceAll(line, "machine:Marble ", `machine:"`+all[0].Name+`" `)
	}
	s, err := parseSlash(line, rehearsal.desk.Declarations())
	if err != nil {
		t.Fatalf("%s: %v", line, err)
	}
	return rehearsal.desk.Run(ctx, commands.Request{ID: rehearsal.next(), Shop: rehearsal.state.Shop,
		Actor: rehearsal.actor(), Name: s.name,
		Options: s.options, Typed: line, Now: rehearsal.state.Now})
}

// A button is pressed whatever was said since: by its number where that had no
// buttons, by its words where it had; and a form stays open. A shop that is gone on
// with later has them still.
func TestPressOverOtherCommands(t *testing.T) {
	t.Parallel()
	reading := `/reading machine:Marble check:"infeed roller" values:"left 1.17 mm, right 1.04 mm"`
	for _, test := range []struct {
		name    string
		between []string
		press   string
	}{
		{"nothing in between", nil, "press 1"},
		{"a command without buttons", []string{"/due"}, "press 1"},
		{"a command with buttons of its own", []string{"/hours machine:Marbel hours:1"}, `press "I turned it"`},
		{"a command that is refused", []string{"/sermon"}, "press 1"},
		{"two with buttons", []string{"/hours machine:Marbel hours:1", "/hours machine:Marbel hours:2"},
			`press "i turned"`},
	} {
		db := filepath.Join(t.TempDir(), "shop.db")
		out, err := perform(t, Config{DB: db}, append([]string{reading}, test.between...)...)
		if err != nil || !strings.Contains(out, "[1] I turned it") {
			t.Fatalf("%s: %v\n%s", test.name, err, out)
		}
		out, err = perform(t, Config{DB: db}, test.press, "press 1")
		if err != nil || !strings.Contains(out, "Now read") {
			t.Errorf("%s: %v\n%s", test.name, err, out)
		}
	}
	out, err := perform(t, Config{}, `/reading machine:Marble check:"infeed roller"`, "/due",
		"fill left=1.02 right=1.03", "fill left=1.02 right=1.03")
	if err != nil || strings.Count(out, "infeed roller: within limits") != 1 ||
		!strings.Contains(out, "No form is open.") {
		t.Errorf("a form filled in after another command: %v\n%s", err, out)
	}
}

// The channel in the terminal keeps what its interface promises; nothing can go
// wrong on the way to it.
func TestChannel(t *testing.T) {
	t.Parallel()
	channeltest.Run(t, func(*testing.T) channeltest.Rig {
		channel := &channel{show: func(domain.Shop, string, []commands.Button) {}}
		now := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
		return channeltest.Rig{Channel: channel, Shop: domain.NewShop("one"), Other: domain.NewShop("two"),
			Stands: func(shop domain.Shop) (all []channeltest.Message) {
				for _, m := range channel.Messages {
					if m.Shop == shop.ID {
						all = append(all, channeltest.Message{ID: m.ID, Text: m.Text, Pinned: m.Pinned})
					}
				}
				return all
			},
			Delete: func(shop domain.Shop, id string) {
				channel.Messages = slices.DeleteFunc(channel.Messages,
					func(m *message) bool { return m.Shop == shop.ID && m.ID == id })
			},
			Now: func() time.Time { return now }, Advance: func(d time.Duration) { now = now.Add(d) }}
	})
}

// The machine behind a rehearsal stands where its screws were turned, whether the
// rehearsal was left in between or not; what somebody typed is taken for the
// truth, what was measured is not; and what happens to a machine moves it.
func TestMeasure(t *testing.T) {
	t.Parallel()
	first := []string{"as wren", "bring three-knob-printer Flint", "measure bed on Flint", "press 1", "measure bed"}
	second := []string{"press 1", "measure bed", "measure bed", "measure infeed on Marble",
		`/reading machine:Marble check:"infeed roller" values:"left 1.3 mm, right 1.0 mm"`, "press 1", "measure infeed",
		`/event machine:Marble event:"knives changed or reset"`, `measure "knife projection"`, "measure infeed",
		"measure clamping", "measure", "measure sideways", `measure tram on Nobody`, "bring", "bring owls Flint",
		"bring tilting-mill Flint"}
	play := func(db string, lines []string) string {
		var out strings.Builder
		if err := Run(context.Background(),
			Config{In: strings.NewReader(strings.Join(lines, "\n")), Out: &out, DB: db}); err != nil {
			t.Fatal(err)
		}
		return out.String()
	}
	whole := play(filepath.Join(t.TempDir(), "a.db"), append(slices.Clone(first), second...))
	left := filepath.Join(t.TempDir(), "b.db")
	parted := play(left, first) + play(left, second)
	// measured lists what the gauge showed, line by line.
	measured := func(out string) (all []string) {
		for _, l := range strings.Split(out, "\n") {
			if l = strings.TrimSpace(l); strings.HasPrefix(l, "(wren: ") {
				all = append(all, l)
			}
		}
		return all
	}
	shown := measured(whole)
	if d := cmp.Diff(shown, measured(parted)); d != "" {
		t.Errorf("played at once and in two (-once +in two):\n%s", d)
	}
	if len(shown) != 9 || shown[0] == shown[1] || !strings.Contains(shown[4],
		"left 1.0") || strings.Contains(shown[5], "left 1.3") ||
		!strings.Contains(shown[8], "values:pass") {
		t.Errorf("measured %q", first)
	}
	for _, want := range []string{"Measure what?", "has no check", "On which machine?", "Bring what?",
		"There is no kind", "is on the books already"} {
		if !strings.Contains(whole, want) {
			t.Errorf("nothing says %q", want)
		}
	}
}
