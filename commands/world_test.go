package commands_test

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/store"
)

var update = flag.Bool("update", false, "write the golden replies again")

// said collects the messages that were said by all tests of this package.
var said = struct {
	sync.Mutex
	keys map[string]bool
}{keys: map[string]bool{}}

// sayKey notes that a message was said.
func sayKey(key string) {
	said.Lock()
	defer said.Unlock()
	said.keys[key] = true
}

// TestMain runs every test and then sees that no message of the catalogue was
// left unsaid.
func TestMain(m *testing.M) {
	flag.Parse()
	code := m.Run()
	if code == 0 && flag.Lookup("test.run").Value.String() == "" && flag.Lookup("test.fuzz").Value.String() == "" &&
		flag.Lookup("test.list").Value.String() == "" && flag.Lookup("test.bench").Value.String() == "" {
		cat, err := words.Load()
		if err != nil {
			panic(err)
		}
		for _, k := range cat.Keys() {
			if !said.keys[k] {
				fmt.Printf("FAIL: no test says the message %q\n", k)
				code = 1
			}
		}
	}
	os.Exit(code)
}

// start is when every world begins: a Monday.
var start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// world is a shop with its store, its desk and a clock.
type world struct {
	t           *testing.T
	path        string // of the books
	cat         *words.Catalogue
	db          *store.DB
	desk        *commands.Desk
	now         time.Time
	shop        domain.ShopID
	n           int
	last        commands.Reply
	replies     []commands.Reply // all, the last at the end
	seen, typed domain.FactNo    // the last report of all, and that somebody typed; see reported
	keys        []string         // said in the last reply
	out         strings.Builder  // everything said, for golden files
}

// books is a shop's file as tests begin with it: made by the first that wants it,
// copied for each.
type books struct {
	setUp func(*world) // what is played to make it

	sync.Mutex
	file []byte // nil until it is made
	at   world  // how far the world that made it had come
}

// The books that tests begin with: with nothing in them, and with the demo's planer
// set up and read.
var (
	emptyBooks  = &books{setUp: func(*world) {}}
	marbleBooks = &books{setUp: (*world).setUpMarble}
)

// copyTo writes a copy to a path, and says how far the world that made it had come.
func (b *books) copyTo(t *testing.T, path string) world {
	t.Helper()
	b.Lock()
	defer b.Unlock()
	if b.file == nil {
		made := &world{t: t, cat: catalogue(t), now: start, shop: "quarry-street",
			path: filepath.Join(t.TempDir(), "made.db")}
		made.open()
		b.setUp(made)
		typed := made.reported()
		at := world{now: made.now, n: made.n, typed: typed, seen: made.seen}
		if err := made.db.Close(); err != nil { // which folds the journal into the file
			t.Fatal(err)
		}
		// Only a file that stands alone can be copied.
		if beside, err := filepath.Glob(made.path + "-*"); err != nil || len(beside) > 0 {
			t.Fatalf("beside the closed books lies %q, %v", beside, err)
		}
		file, err := os.ReadFile(made.path)
		if err != nil {
			t.Fatal(err)
		}
		b.file, b.at = file, at
	}
	if err := os.WriteFile(path, b.file, 0o600); err != nil {
		t.Fatal(err)
	}
	return b.at
}

func newWorld(t *testing.T) *world {
	t.Helper()
	world := &world{t: t, cat: catalogue(t), shop: "quarry-street", path: filepath.Join(t.TempDir(), "shop.db")}
	world.begin(emptyBooks)
	t.Cleanup(func() {
		if err := world.db.Close(); err != nil {
			t.Error(err)
		}
	})
	return world
}

// begin opens a copy of books.
func (w *world) begin(b *books) {
	w.t.Helper()
	from := b.copyTo(w.t, w.path)
	w.now, w.n, w.seen, w.typed = from.now, from.n, from.seen, from.typed
	w.open()
}

// open opens the world's books and gives it a desk over them.
func (w *world) open() {
	w.t.Helper()
	db, err := store.Open(context.Background(), w.path)
	if err != nil {
		w.t.Fatal(err)
	}
	w.db = db
	w.cat.Said = func(key string) {
		sayKey(key)
		w.keys = append(w.keys, key)
	}
	w.desk = commands.NewDesk(func(id domain.ShopID) commands.Books { return db.Shop(id) }, db, w.cat)
	w.desk.Fault = func(id string, err error) { w.t.Errorf("fault at %s: %v", id, err) }
}

// loadWords reads the catalogue once for all tests.
var loadWords = sync.OnceValues(words.Load)

// catalogue is the words of one world: a copy that tells what is said to it.
func catalogue(t *testing.T) *words.Catalogue {
	t.Helper()
	loaded, err := loadWords()
	if err != nil {
		t.Fatal(err)
	}
	one := *loaded
	cat := &one
	cat.Missing = func(key string, err error) { t.Errorf("message %s: %v", key, err) }
	return cat
}

// actor knows the people of the demo shop.
func actor(name string) commands.Actor {
	actor := commands.Actor{ID: domain.PersonID(name), Name: name}
	switch name {
	case "wren", "ishaan":
		actor.Roles = []string{"stewards"}
	case "owner":
		actor.Manages = true
	}
	return actor
}

// as gives a command with options written "name=value", and a second passes.
func (w *world) as(who, command string, options ...string) commands.Reply {
	w.t.Helper()
	w.n++
	w.now = w.now.Add(time.Second)
	request := commands.Request{ID: fmt.Sprintf("i%d", w.n), Shop: w.shop, Actor: actor(who), Name: command,
		Options: map[string]string{}, Now: w.now,
		Typed: "/" + command + " " + strings.Join(options, " ")}
	for _, o := range options {
		name, value, ok := strings.Cut(o, "=")
		if !ok {
			w.t.Fatalf("option %q has no value", o)
		}
		request.Options[name] = value
	}
	w.keys = nil
	w.last = w.desk.Run(context.Background(), request)
	w.replies = append(w.replies, w.last)
	w.brief(command, w.last)
	fmt.Fprintf(&w.out, "%s> /%s %s\n%s\n", who, command, strings.Join(options, " "), w.show(w.last))
	return w.last
}

// mostRefused is how many words a refusal or a question may have.
const mostRefused = 80

// confirms are the messages that head a plain confirmation, and more those that
// say that something must be done about it.
var (
	confirms = []string{"hours.logged", "hours.counted", "reading.good", "reading.near", "reading.older",
		"inspection.passed", "service.recorded", "problem.recorded", "event.recorded", "mended.done"}
	more = []string{"tag.headline", "state.setting-up", "moved.again", "reading.expect", "problem.first", "due.late",
		"due.late.over",
		"settle.repeats", "settle.gauge", "settle.both", "settle.none", "reading.outlier", "gauge.overdue",
		"service.early", "needs.out", "needs.retired", "hours.unlogged", "untested.why",
		"problem.near", "doubt.headline", "cause.ask", "cause.suspect", "cause.settled"}
)

// brief holds a reply against its command's word limit: a plain confirmation, a
// fuller answer, or a refusal.
func (w *world) brief(command string, reply commands.Reply) {
	w.t.Helper()
	count := func(s string) int { return len(strings.Fields(words.Expand(s, plainMedium{}))) }
	total := count(reply.Headline)
	for _, l := range reply.Lines {
		total += count(l)
	}
	if reply.Table != nil {
		for _, row := range reply.Table.Rows {
			total += count(strings.Join(row, " "))
		}
	}
	said := func(keys []string) bool {
		return slices.ContainsFunc(keys, func(k string) bool { return slices.Contains(w.keys, k) })
	}
	for _, declared := range w.desk.Declarations() {
		if declared.Name != command {
			continue
		}
		most := max(declared.Words, declared.MostWords)
		switch {
		case reply.Refused:
			most = mostRefused
		case said(confirms) && !said(more):
			most = declared.Words
		}
		if total > most {
			w.t.Errorf("/%s answers in %d words, at most %d: %s %q", command, total, most, reply.Headline, reply.Lines)
		}
	}
}

// press presses the button whose label begins so of the latest reply that has one:
// what was said since does not take it away, as in a chat.
func (w *world) press(who, label string) commands.Reply {
	w.t.Helper()
	for _, reply := range slices.Backward(w.replies) {
		if _, ok := button(reply, label); ok {
			return w.pressOn(reply, who, label)
		}
	}
	w.t.Fatalf("no reply has a button %q; the last has %+v", label, w.last.Buttons)
	return commands.Reply{}
}

// pressOn presses a button of a reply that may have been overtaken by others.
func (w *world) pressOn(reply commands.Reply, who, label string) commands.Reply {
	w.t.Helper()
	b, ok := button(reply, label)
	if !ok {
		w.t.Fatalf("no button %q in %+v", label, reply.Buttons)
	}
	return w.send(who, "press "+label, b.Custom, nil)
}

// button is a reply's first button whose label begins so.
func button(reply commands.Reply, label string) (commands.Button, bool) {
	i := slices.IndexFunc(reply.Buttons, func(b commands.Button) bool { return strings.HasPrefix(b.Label, label) })
	if i < 0 {
		return commands.Button{}, false
	}
	return reply.Buttons[i], true
}

// fill sends the form that was opened last, with fields written "id=value".
func (w *world) fill(who string, fields ...string) commands.Reply {
	w.t.Helper()
	values := map[string]string{}
	for _, f := range fields {
		id, value, _ := strings.Cut(f, "=")
		values[id] = value
	}
	for _, reply := range slices.Backward(w.replies) {
		if reply.Form != nil {
			return w.send(who, "fill "+strings.Join(fields, " "), reply.Form.Custom, values)
		}
	}
	w.t.Fatalf("no form was opened; the last reply is %+v", w.last)
	return commands.Reply{}
}

func (w *world) send(who, what, id string, fields map[string]string) commands.Reply {
	w.n++
	w.now = w.now.Add(time.Second)
	w.last = w.desk.Press(context.Background(),
		commands.Press{ID: fmt.Sprintf("i%d", w.n), Shop: w.shop, Actor: actor(who), Custom: id, Fields: fields,
			Now: w.now})
	w.replies = append(w.replies, w.last)
	fmt.Fprintf(&w.out, "%s> %s\n%s\n", who, what, w.show(w.last))
	return w.last
}

// sweep lets time pass, and judges what comes due when it does.
func (w *world) sweep(span time.Duration) {
	w.t.Helper()
	for end := w.now.Add(span); w.now.Before(end); {
		next, ok, err := w.db.NextWake(context.Background())
		if err != nil {
			w.t.Fatal(err)
		}
		if w.now = w.now.Add(time.Minute); ok && next.After(w.now) {
			w.now = next
		}
		if !ok || w.now.After(end) {
			w.now = end
		}
		w.judge()
	}
	fmt.Fprintf(&w.out, "%s passes\n\n", span)
}

// intoTest answers for each tag of the machine whose release was asked for last, saying
// of those that others hung that they were asked, until it runs under test.
func (w *world) intoTest(who string) commands.Reply {
	w.t.Helper()
	for _, ok := button(w.last, "Seen to"); ok; _, ok = button(w.last, "Seen to") {
		w.must(w.pressOn(w.last, who, "Seen to"))
	}
	return w.pressOn(w.last, who, "All done")
}

// off lets time pass while the program is switched off.
func (w *world) off(d time.Duration) {
	w.t.Helper()
	w.now = w.now.Add(d)
	w.judge()
	fmt.Fprintf(&w.out, "%s passes, switched off\n\n", d)
}

func (w *world) judge() {
	w.t.Helper()
	if err := w.desk.Sweep(context.Background(), w.now); err != nil {
		w.t.Fatal(err)
	}
}

// notices posts everything owed, renders it, and returns what was posted.
func (w *world) notices() []domain.Notice {
	w.t.Helper()
	ctx := context.Background()
	shop, err := w.db.Shop(w.shop).Shop(ctx)
	if err != nil {
		w.t.Fatal(err)
	}
	var posted []domain.Notice
	for {
		undelivered, err := w.db.Undelivered(ctx, w.shop, w.now, 100)
		if err != nil {
			w.t.Fatal(err)
		}
		if len(undelivered) == 0 {
			return posted
		}
		for _, owed := range undelivered {
			message := ""
			if owed.Notice.Op == domain.Post {
				message = owed.Notice.Key
			}
			if owed.Notice.Op == domain.Post {
				if err := w.db.Sending(ctx, owed, w.now); err != nil {
					w.t.Fatal(err)
				}
			}
			rendered := w.desk.Render(shop, owed.Notice)
			fmt.Fprintf(&w.out, "[%s %s]\n", owed.Notice.Op, owed.Notice.Topic)
			if owed.Notice.Op == domain.Post || owed.Notice.Op == domain.Edit {
				if rendered.Mention {
					fmt.Fprintln(&w.out, "(to the stewards)")
				}
				fmt.Fprintln(&w.out, words.Expand(rendered.Text, plainMedium{}))
				for _, b := range rendered.Buttons {
					fmt.Fprintf(&w.out, "[%s]\n", b.Label)
				}
				if len(rendered.Buttons) > 0 {
					w.replies = append(w.replies, commands.Reply{Headline: rendered.Headline,
						Buttons: rendered.Buttons})
				}
			}
			fmt.Fprintln(&w.out)
			if err := w.db.Posted(ctx, owed.Shop, owed.ID, message, w.now); err != nil {
				w.t.Fatal(err)
			}
			posted = append(posted, owed.Notice)
		}
	}
}

// plainMedium shows guarded parts so that a golden file shows where they are.
type plainMedium struct{}

func (plainMedium) User(s string) string { return s }
func (plainMedium) Time(t time.Time, style words.TimeStyle) string {
	return t.UTC().Format("<2006-01-02 15:04>")
}
func (plainMedium) Person(id string) string          { return "@" + id }
func (plainMedium) Channel(id string) string         { return "#" + id }
func (plainMedium) Role(id string) string            { return "@&" + id }
func (plainMedium) Link(address, name string) string { return "[" + name + "](" + address + ")" }

// show lays a reply out for a golden file.
func (w *world) show(reply commands.Reply) string {
	var text strings.Builder
	line := func(s string) {
		if s != "" {
			text.WriteString("  " + words.Expand(s, plainMedium{}) + "\n")
		}
	}
	line(reply.Headline)
	for _, l := range reply.Lines {
		line(l)
	}
	if reply.Table != nil {
		line(strings.Join(reply.Table.Head, " | "))
		for _, row := range reply.Table.Rows {
			line(strings.Join(row, " | "))
		}
	}
	if reply.Picture != nil {
		line("picture: " + reply.Picture.Alt)
	}
	for _, x := range reply.Buttons {
		line("[" + x.Label + "]")
	}
	if reply.Form != nil {
		for _, f := range reply.Form.Fields {
			line(fmt.Sprintf("field %s: %s (such as %s)", f.ID, f.Label, f.Example))
		}
	}
	for _, a := range reply.Aside {
		line("(aside) " + a)
	}
	if reply.Refused {
		line("(refused)")
	}
	return text.String()
}

// golden compares everything said with a golden file.
func (w *world) golden(name string) {
	w.t.Helper()
	path := filepath.Join("..", "testdata", "golden", name+".txt")
	got := w.out.String()
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			w.t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			w.t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		w.t.Fatal(err)
	}
	if d := cmp.Diff(string(want), got); d != "" {
		w.t.Errorf("%s differs (-want +got), -update writes it again:\n%s", path, d)
	}
}

// marble is the demo's planer, set up: added, every item confirmed, every check read
// within limits. Where it is the first thing in a world it is a copy.
func (w *world) marble() {
	w.t.Helper()
	if w.n != 0 {
		w.setUpMarble()
		return
	}
	if err := w.db.Close(); err != nil {
		w.t.Fatal(err)
	}
	w.begin(marbleBooks)
}

// setUpMarble sets the demo's planer up as a steward would.
func (w *world) setUpMarble() {
	w.t.Helper()
	w.must(w.as("owner", "shop settings", "name=Quarry Street Commons", "zone=CET", "units=metric",
		"notices=shop-notices", "stewards=stewards"))
	w.addInUse("wren", "Marble", "with=knives=4")
	ctx := context.Background()
	machines, err := w.db.Shop(w.shop).Machines(ctx)
	if err != nil {
		w.t.Fatal(err)
	}
	prof := machines[0].Profile
	names := map[domain.Item]string{}
	for _, k := range prof.Checks {
		names[domain.CheckItem.Of(k.ID)] = k.Name
		for _, m := range k.Modes {
			names[domain.CheckItem.Of(k.ID).In(m.ID)] = k.Name + ", " + m.Name
		}
	}
	for _, a := range prof.Adjusters {
		names[domain.AdjusterItem.Of(a.ID)] = a.Name
	}
	for _, s := range prof.Services {
		names[domain.ServiceItem.Of(s.ID)] = s.Name
	}
	for _, item := range machines[0].Setup.StartingValues(prof) {
		w.must(w.as("wren", "shop confirm", "machine=Marble", "what="+names[item]))
	}
	w.readAll()
	w.notices()
	w.out.Reset()
}

// addInUse adds a planer that is in use already, and makes its ticks.
func (w *world) addInUse(who, name string, more ...string) {
	w.t.Helper()
	said := w.out.String()
	w.must(w.as(who, "shop add", append([]string{"name=" + name, "kind=thickness-planer", "state=in-use"}, more...)...))
	for len(w.last.Buttons) > 0 {
		w.must(w.pressOn(w.last, who, "Seen: "))
	}
	w.out.Reset()
	w.out.WriteString(said) // what is ticked is told once, by TestStoryInUse
}

// readAll reads every check of Marble within its limits.
func (w *world) readAll() {
	w.t.Helper()
	machines, err := w.db.Shop(w.shop).Machines(context.Background())
	if err != nil {
		w.t.Fatal(err)
	}
	for _, check := range machines[0].Profile.Checks {
		if check.OnDemand {
			continue
		}
		values := "pass"
		if !check.Inspection {
			var parts []string
			for _, pos := range check.Positions {
				parts = append(parts, strings.TrimSpace(pos+" "+check.Example.String()))
			}
			values = strings.Join(parts, ", ")
		}
		w.must(w.as("wren", "reading", "machine=Marble", "check="+check.Name, "values="+values))
	}
}

// reported is the number of the last report that somebody typed, to be asked about
// later. Nothing that a story says before or after changes what it stands for.
func (w *world) reported() domain.FactNo {
	w.t.Helper()
	for no := w.seen + 1; ; no++ {
		fact, err := w.db.Shop(w.shop).Fact(context.Background(), no)
		var none *domain.Refusal
		if errors.As(err, &none) {
			return w.typed
		}
		if err != nil {
			w.t.Fatal(err)
		}
		w.seen = no
		if fact.By != "" { // not a tag that Setscrew hung because of it
			w.typed = no
		}
	}
}

// report is the option that names a report.
func report(no domain.FactNo) string { return fmt.Sprintf("report=%d", no) }

func (w *world) must(r commands.Reply) {
	w.t.Helper()
	if r.Refused {
		w.t.Fatalf("refused: %s %q", r.Headline, r.Lines)
	}
}
