package rehearse

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"setscrew/commands"
	catalogue "setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/store"
)

// Somebody who types sees a prompt with who speaks, and no echo; quit ends it, and
// what came after is not played.
func TestInteractive(t *testing.T) {
	t.Parallel()
	out, err := perform(t, Config{Interactive: true, Empty: true}, "# nobody yet", "", "as wren", "help", "notices",
		"quit", "as bo")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"You are ada.", "ada> ada> ada> wren> ", "clock +3d ", "The channel is empty."} {
		if !strings.Contains(out, want) {
			t.Errorf("nothing says %q:\n%s", want, out)
		}
	}
	if strings.Contains(out, "> help") || strings.Contains(out, "bo> ") {
		t.Errorf("echoed, or played after quit:\n%s", out)
	}
}

// What the rehearsal itself cannot follow says how it is done, and stops a strict one.
func TestWhatCannotBeFollowed(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ line, want string }{
		{"as", "Who? For example: as wren"},
		{"as ada on Marble", "Who? For example: as wren"},
		{`as ada in "!!"`, "Who? For example: as wren"},
		{"dance", `"dance" is not understood`},
		{"/hours machine:\"Marble", "a quote is not closed"},
		{"press", `has no button ""`},
		{"press 0", `has no button "0"`},
		{"press -1", `has no button "-1"`},
		{"fill left=1", "No form is open."},
		{"clock", "is no time; for example: clock"},
		{"clock +2 mm", "is no span of time; for example: clock"},
		{"measure", "Measure what?"},
		{"measure infeed at Marble", "Measure what?"},
		{"bring", "Bring what?"},
		{"bring loom Flint", `There is no kind "loom"`},
	} {
		out, err := perform(t, Config{Empty: true}, test.line)
		if err != nil || !strings.Contains(out, test.want) {
			t.Errorf("%s: %v\n%s\nwant %q", test.line, err, out, test.want)
		}
		if out, err := perform(t, Config{Empty: true, Strict: true}, test.line, "as bo"); !errors.Is(err, ErrRefused) ||
			strings.Contains(out, "as bo") {
			t.Errorf("%s, strictly: %v\n%s", test.line, err, out)
		}
	}
	out, err := perform(t, Config{}, `/reading machine:Marble check:"infeed roller"`, "fill left",
		"fill left=1.02 right=1.02")
	if err != nil || !strings.Contains(out, `"left" is no field; for example: fill left="1.17 mm"`) ||
		!strings.Contains(out, "infeed roller: within limits") {
		t.Errorf("a field without a value: %v\n%s", err, out)
	}
}

// Pictures and files are written where they are wanted, numbered in the order in
// which they came; the reply names the picture's place.
func TestPicturesAndFiles(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "a", "b")
	out, err := perform(t, Config{Pictures: dir}, "/why machine:Marble check:infeed",
		"/why machine:Marble check:outfeed", "/due calendar:yes")
	if err != nil {
		t.Fatal(err)
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 3 {
		t.Fatalf("%v, %v", left, err)
	}
	for i, begins := range []string{"\x89PNG", "\x89PNG", "BEGIN:VCALENDAR"} {
		text, err := os.ReadFile(filepath.Join(dir, left[i].Name()))
		if err != nil || !strings.HasPrefix(string(text), begins) {
			t.Errorf("%s begins with %.12q, %v", left[i].Name(), text, err)
		}
	}
	if !strings.HasPrefix(left[0].Name(), "001-") || !strings.HasPrefix(left[1].Name(), "002-") ||
		!strings.Contains(strings.Join(strings.Fields(out), ""), filepath.ToSlash(filepath.Join(dir, left[1].Name()))) {
		t.Errorf("%s and %s\n%s", left[0].Name(), left[1].Name(), out)
	}
	out, err = perform(t, Config{}, "/why machine:Marble check:infeed")
	if err != nil || !strings.Contains(out, "[picture: ") || strings.Contains(out, ".png") {
		t.Errorf("where no pictures are wanted: %v\n%s", err, out)
	}
	// A place that is a file already is an error, not a silence.
	taken := filepath.Join(t.TempDir(), "taken")
	if err := os.WriteFile(taken, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{"/why machine:Marble check:infeed", "/due calendar:yes"} {
		if _, err := perform(t, Config{Pictures: taken}, line); err == nil || !strings.Contains(err.Error(), "taken") {
			t.Errorf("%s, with a file in the folder's place: %v", line, err)
		}
	}
}

// A rehearsal that is kept goes on where it was: whose turn, when, in which shop, with
// its channel; a file beside it that cannot be read is not written over.
func TestGoesOn(t *testing.T) {
	t.Parallel()
	db := filepath.Join(t.TempDir(), "shop.db")
	if _, err := perform(t, Config{DB: db}, "as wren", "/tagout machine:Marble reason:loose",
		"clock 2026-03-04 10:00"); err != nil {
		t.Fatal(err)
	}
	out, err := perform(t, Config{DB: db}, "notices")
	if err != nil || !strings.Contains(out, "Quarry Street Commons, Wed 4 Mar 2026 10:00. You are wren.") ||
		strings.Contains(out, "Three things") || !strings.Contains(out, "(pinned)") {
		t.Errorf("gone on: %v\n%s", err, out)
	}
	const torn = `{"now":`
	if err := os.WriteFile(db+".rehearsal", []byte(torn), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := perform(t, Config{DB: db}, "as bo"); err == nil || out != "" {
		t.Errorf("with a torn state: %v, %q", err, out)
	}
	if left, err := os.ReadFile(db + ".rehearsal"); err != nil || string(left) != torn {
		t.Errorf("the torn state became %q, %v", left, err)
	}
}

// failing is input, or output, that fails.
type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }

// What ends a rehearsal: input that fails, a context that is done, books that cannot
// be opened or written beside.
func TestEnds(t *testing.T) {
	t.Parallel()
	broken := errors.New("the line is cut")
	if err := Run(context.Background(), Config{In: failing{broken}, Out: io.Discard, Empty: true}); !errors.Is(err,
		broken) {
		t.Errorf("input that fails: %v", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	in, typed := io.Pipe()
	defer typed.Close()
	ended := make(chan error, 1)
	out := &saying{said: make(chan string, 100)}
	go func() { ended <- Run(ctx, Config{In: in, Out: out, Interactive: true, Empty: true}) }()
	for !strings.HasSuffix(<-out.said, "ada> ") {
	}
	cancel()
	if err := <-ended; err != nil {
		t.Errorf("interrupted: %v", err)
	}
	dir := t.TempDir()
	if err := Run(context.Background(), Config{In: strings.NewReader(""), Out: io.Discard, DB: dir}); err == nil {
		t.Error("a folder is opened as books")
	}
	db := filepath.Join(dir, "shop.db")
	if err := os.Mkdir(db+".rehearsal", 0o700); err != nil {
		t.Fatal(err)
	}
	if err := Run(context.Background(),
		Config{In: strings.NewReader(""), Out: io.Discard, DB: db, Empty: true}); err == nil {
		t.Error("a folder is read as a rehearsal's state")
	}
}

// saying hands on what is written.
type saying struct{ said chan string }

func (s *saying) Write(b []byte) (int, error) {
	s.said <- string(b)
	return len(b), nil
}

// Books that fail end a rehearsal, strict or not: no line of it is merely refused.
func TestBooksThatFail(t *testing.T) {
	t.Parallel()
	db, err := store.Open(context.Background(), filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	rehearsal, err := newRehearsal(Config{Out: io.Discard}, db)
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{"clock +1d", "clock 2026-03-05 09:00", "measure infeed", "bring tilting-mill Flint",
		"notices"} {
		ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
		if err := rehearsal.line(ctx, line); err == nil || errors.Is(err, ErrRefused) {
			t.Errorf("%s over closed books: %v", line, err)
		}
		cancel()
	}
}

// A terminal shows dates and how long ago something was, by the shop's clocks; a link
// is its name.
func TestTerminal(t *testing.T) {
	t.Parallel()
	zone := time.FixedZone("", 3600)
	at := time.Date(2026, 3, 2, 23, 30, 0, 0, time.UTC)
	medium := terminal{zone, at.Add(90 * time.Minute)}
	for _, test := range []struct{ text, want string }{
		{catalogue.Time(at, catalogue.DateTime), "Tue 3 Mar 2026 00:30"},
		{catalogue.Time(at, catalogue.Date), "Tue 3 Mar 2026"},
		{catalogue.Time(at, catalogue.Ago), "1h30m0s ago"},
		{catalogue.Link("https://chat.example/1", "photo 1"), "photo 1"},
		{catalogue.Person("ada"), "ada"},
		{catalogue.User("**x**"), "**x**"},
	} {
		if got := catalogue.Expand(test.text, medium); got != test.want {
			t.Errorf("%q, want %q", got, test.want)
		}
	}
}

// A reply is laid out for a screen: whom it is for, its picture's place, buttons by
// number, on lines of their own where they do not fit beside each other.
func TestLayOut(t *testing.T) {
	t.Parallel()
	medium := terminal{time.UTC, begin}
	short := commands.Reply{Quiet: true, Headline: "Sure?", Lines: []string{"", "It counts once."},
		Picture: &commands.Picture{Alt: "a strip"}, Buttons: []commands.Button{{Label: "Yes"}, {Label: "No"}}}
	want := "  (only bo sees this)\n  Sure?\n  It counts once.\n  [picture: a strip]\n  p/001.png\n  [1] Yes   [2] No\n"
	if got := layOut(short, "bo", "p/001.png", medium); got != want {
		t.Errorf("%q, want %q", got, want)
	}
	long := commands.Reply{Headline: "Which?",
		Buttons: []commands.Button{{Label: strings.Repeat("a", 40)}, {Label: strings.Repeat("b", 40)}}}
	if got, want := layOut(long, "bo", "", medium),
		"  Which?\n  [1] "+strings.Repeat("a", 40)+"\n  [2] "+strings.Repeat("b", 40)+"\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// The true machine follows what is reported of it: a typed reading is the truth, one
// that the rehearsal measured is not, a withdrawn or unlikely one neither; what happens to
// the machine moves what it says it moves, and nothing else.
func TestStanding(t *testing.T) {
	t.Parallel()
	machine, p := demoMachine(t, "three-knob-printer")
	check := p.Checks[0]
	value := func(body domain.Body, more ...domain.Fact) []float64 {
		facts := append([]domain.Fact{{No: 1, Machine: machine.ID, Body: body}}, more...)
		return standing(machine, facts, func(no domain.FactNo) bool { return no == 9 }).values[check.ID]
	}
	unit := quantity.Base(check.Kind())
	reading := func(v float64) domain.Reading {
		b := domain.Reading{Check: check.ID}
		for _, position := range check.Positions {
			b.Values = append(b.Values, quantity.At{Position: position,
				Repeats: []quantity.Value{quantity.FromFloat(v, unit)}})
		}
		return b
	}
	near := func(got []float64, want, within float64) bool {
		for _, v := range got {
			if v < want-within || v > want+within {
				return false
			}
		}
		return len(got) == len(check.Positions)
	}
	const typed = 0.000123
	unread := value(domain.Hours{})
	if near(unread, typed, 1e-12) {
		t.Fatalf("unread it stands at %v", unread)
	}
	if got := value(reading(typed)); !near(got, typed, 1e-12) {
		t.Errorf("typed %v, it stands at %v", typed, got)
	}
	for name, fact := range map[string]domain.Fact{
		"measured":  {No: 9, Machine: machine.ID, Body: reading(typed)},
		"withdrawn": {No: 3, Machine: machine.ID, Body: reading(typed), Withdrawn: 4},
		"another's": {No: 3, Machine: machine.ID + 1, Body: reading(typed)},
		"not confirmed": {No: 3, Machine: machine.ID,
			Body: func() domain.Reading { b := reading(typed); b.Unconfirmed = true; return b }()},
	} {
		if got := value(domain.Hours{}, fact); near(got, typed, 1e-12) {
			t.Errorf("a reading that is %s is taken for the truth", name)
		}
	}
	for name, body := range map[string]domain.Body{
		"an event":  domain.EventSeen{Surfaces: []string{check.ID}},
		"a service": domain.ServiceDone{Surfaces: []string{check.ID}},
		"a problem": domain.Problem{Surfaces: []string{check.ID}},
	} {
		if got := value(reading(typed), domain.Fact{No: 2, Machine: machine.ID, Body: body}); near(got, typed, 1e-9) {
			t.Errorf("%s moved it, and it stands at %v", name, got)
		}
	}
	if got := value(reading(typed),
		domain.Fact{No: 2, Machine: machine.ID, Body: domain.EventSeen{Surfaces: []string{"none"}}}); !near(got,
		typed, 1e-12) {
		t.Errorf("an event that moved something else: %v", got)
	}
}

// demoMachine is a machine of one of the demo's kinds.
func demoMachine(t *testing.T, kind string) (domain.Machine, *profile.Profile) {
	t.Helper()
	out := filepath.Join(t.TempDir(), "shop.db")
	if _, err := perform(t, Config{DB: out, Empty: true, Strict: true}, "as wren", "bring "+kind+" Flint"); err != nil {
		t.Fatal(err)
	}
	db, err := store.Open(context.Background(), out)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	machines, err := db.Shop("quarry-street-commons").Machines(context.Background())
	if err != nil || len(machines) != 1 {
		t.Fatalf("%d machines, %v", len(machines), err)
	}
	return machines[0], machines[0].Profile
}
