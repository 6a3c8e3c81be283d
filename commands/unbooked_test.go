package commands_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
)

// brokenBooks are books that fail as they are told to.
type brokenBooks struct {
	commands.Books
	*breakage
}

// breakage is what fails, and how.
type breakage struct {
	sync.Mutex
	reads, writes error
	only          domain.MachineID // whose reports fail; 0 for all
}

func (b *breakage) set(reads, writes error) {
	b.Lock()
	defer b.Unlock()
	b.reads, b.writes = reads, writes
}

func (b *breakage) of() (reads, writes error) {
	b.Lock()
	defer b.Unlock()
	return b.reads, b.writes
}

func (b brokenBooks) Shop(ctx context.Context) (domain.Shop, error) {
	if err, _ := b.of(); err != nil {
		return domain.Shop{}, err
	}
	return b.Books.Shop(ctx)
}

func (b brokenBooks) Machines(ctx context.Context) ([]domain.Machine, error) {
	if err, _ := b.of(); err != nil {
		return nil, err
	}
	return b.Books.Machines(ctx)
}

func (b brokenBooks) Snapshot(ctx context.Context, m domain.MachineID) (domain.Snapshot, error) {
	if err, _ := b.of(); err != nil {
		return domain.Snapshot{}, err
	}
	return b.Books.Snapshot(ctx, m)
}

func (b brokenBooks) Pending(ctx context.Context, id string, now time.Time) (domain.Pending, error) {
	if err, _ := b.of(); err != nil {
		return domain.Pending{}, err
	}
	return b.Books.Pending(ctx, id, now)
}

func (b brokenBooks) Report(ctx context.Context, e domain.Entry) (domain.Outcome, error) {
	if _, err := b.of(); err != nil && (b.only == 0 || b.only == e.Machine) {
		return domain.Outcome{}, err
	}
	return b.Books.Report(ctx, e)
}

func (b brokenBooks) Keep(ctx context.Context, p ...domain.Pending) error {
	if _, err := b.of(); err != nil {
		return err
	}
	return b.Books.Keep(ctx, p...)
}

// breakable gives a world a desk over books that can be broken, and lists the faults that
// its keeper is told of.
func (w *world) breakable() (*breakage, func() []string) {
	broken := &breakage{}
	w.desk = commands.NewDesk(func(id domain.ShopID) commands.Books { return brokenBooks{w.db.Shop(id), broken} }, w.db,
		w.cat)
	var faults []string
	w.desk.Fault = func(id string, err error) { faults = append(faults, id+": "+err.Error()) }
	return broken, func() []string { return faults }
}

// full are books whose disk is full.
var full = &domain.BooksError{Trouble: domain.BooksFull, Err: errors.New("database or disk is full")}

// A danger that the books cannot take gets its advice, is told to the channel from
// memory, and is stored as soon as it can be: once, and its notice becomes the one that
// it is owed.
func TestStoryUnbooked(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	books, faults := world.breakable()
	world.as("ada", "hours", "machine=Marble", "hours=1")
	books.set(nil, full)
	world.as("ada", "hours", "machine=Marble", "hours=2", "sure=yes")
	world.as("ada", "problem", "machine=Marble", "what=flames in the dust bin", "note=behind the hood")
	world.as("bo", "tagout", "machine=Marble", "reason=belt off")
	told := world.desk.Unbooked()
	if len(told) != 2 {
		t.Fatalf("%d wait, want 2", len(told))
	}
	shop, err := world.db.Shop(world.shop).Shop(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	for i, one := range told {
		if one.Shop.NoticeChannel != shop.NoticeChannel || one.Shop.ID != world.shop {
			t.Errorf("told to %+v", one.Shop)
		}
		m := world.desk.Render(one.Shop, one.Notice)
		if !m.Mention {
			t.Errorf("the stewards are not called: %q", m.Text)
		}
		fmt.Fprintf(&world.out, "[from memory]\n%s\n\n", m.Text)
		world.desk.Told(world.shop, one.Entry.Key, domain.Told{Key: one.Notice.Key, Message: fmt.Sprint("told", i)})
	}
	if left := world.desk.Book(context.Background(), world.now); left != 2 || world.status().TaggedOut() {
		t.Errorf("%d wait while the disk is full; tagged out: %v", left, world.status().TaggedOut())
	}
	books.set(nil, nil)
	world.now = world.now.Add(20 * time.Minute)
	if left := world.desk.Book(context.Background(), world.now); left != 0 {
		t.Errorf("%d wait still", left)
	}
	st := world.status()
	if len(st.Tags) != 2 || len(st.Dangers) != 1 ||
		st.Dangers[0].Problem.Note != "flames in the dust bin. behind the hood" {
		t.Errorf("tags %+v, dangers %+v", st.Tags, st.Dangers)
	}
	for _, n := range world.notices() {
		if n.Op == domain.Post {
			t.Errorf("posted again: %s", n.Topic)
		}
	}
	world.as("wren", "logbook", "machine=Marble")
	if got := len(faults()); got != 3 {
		t.Errorf("%d faults told, want 3: %q", got, faults())
	}
	world.golden("unbooked")
}

// Every trouble is said by its own sentence, with what to do; nothing of it waits but a
// danger.
func TestBooksThatCannotBeUsed(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		err   error
		says  string
		todo  string
		calls string // what a danger says of it
	}{
		{full, "disk that holds the books is full", "tell whoever runs Setscrew", "disk that holds the books is full"},
		{&domain.BooksError{Trouble: domain.BooksBusy, Err: errors.New("locked")}, "another program holds the books",
			"again in a minute", "another program"},
		{&domain.BooksError{Trouble: domain.BooksBusy, Err: context.DeadlineExceeded},
			"another program holds the books",
			"again in a minute", "another program"},
		{&domain.BooksError{Trouble: domain.BooksDamaged, Err: errors.New("malformed")}, "the books are damaged",
			"tell whoever runs Setscrew", "damaged"},
		{&domain.BooksError{Trouble: domain.BooksUnreachable, Err: errors.New("I/O")}, "cannot be read or written",
			"tell whoever runs Setscrew", "cannot be read or written"},
		{&domain.BooksError{Trouble: domain.BooksMoved, Err: errors.New("moved")}, "file was moved or replaced",
			"tell whoever runs Setscrew", "file was moved or replaced"},
		{&domain.BooksError{Trouble: domain.BooksClosed, Err: errors.New("closed")}, "Setscrew is stopping",
			"again in a minute", "stopping"},
		{errors.New("a row that nobody can read"), "went wrong on our side", "", "cannot be read or written"},
		{context.DeadlineExceeded, "took too long", "", "cannot be read or written"},
	} {
		world := newWorld(t)
		world.marble()
		books, _ := world.breakable()
		world.as("bo", "due")
		books.set(test.err, test.err)
		reply := world.as("ada", "hours", "machine=Marble", "hours=1")
		if !reply.Refused || !strings.Contains(reply.Headline, test.says) || !strings.Contains(reply.Headline,
			test.todo) ||
			len(reply.Lines) != 0 || len(world.desk.Unbooked()) != 0 {
			t.Errorf("%v: %q %q, %d wait", test.err, reply.Headline, reply.Lines, len(world.desk.Unbooked()))
		}
		reply = world.as("ada", "problem", "machine=Marble", "what=snipe")
		if strings.Contains(reply.Headline, "NOT in the books") || len(world.desk.Unbooked()) != 0 {
			t.Errorf("%v: no danger is answered by %q", test.err, reply.Headline)
		}
		reply = world.as("ada", "tagout", "machine=Marble", "reason=loose")
		if !reply.Refused || !strings.Contains(reply.Headline, "Stop. Do not use") ||
			!strings.Contains(reply.Headline, "NOT in the books: tell a steward yourself") ||
			!strings.Contains(strings.Join(reply.Lines, "\n"), test.calls) ||
			!strings.Contains(strings.Join(reply.Lines, "\n"),
				"lost if Setscrew stops") || len(world.desk.Unbooked()) != 1 {
			t.Errorf("%v: %q %q, %d wait", test.err, reply.Headline, reply.Lines, len(world.desk.Unbooked()))
		}
	}
}

// Whatever is a danger when the books can be written is one when they cannot.
func TestUnbookedDangers(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name    string
		command string
		options []string
		advice  string // "" where it is none
	}{
		{"by words", "problem", []string{"what=bare wire hanging out of the plug"}, "Touch neither"},
		{"in the note", "problem", []string{"what=snipe", "note=there is a fire in the bin"}, "Leave the covers shut"},
		{"a symptom of the profile's", "problem", []string{"what=smoke from the motor"}, "do not open covers"},
		{"outright", "problem", []string{"what=the bench rocks", "danger=yes"}, "Cut the power at the isolator"},
		{"likely", "problem", []string{"what=the guard feels a bit loose"}, "It must not run like this"},
		{"a tag-out", "tagout", []string{"reason=loose"}, "hang a tag at the isolator"},
		{"likely, but denied", "problem", []string{"what=the guard feels a bit loose", "danger=no"}, ""},
		{"none", "problem", []string{"what=snipe"}, ""},
	} {
		for _, known := range []bool{true, false} {
			world := newWorld(t)
			world.marble()
			books, _ := world.breakable()
			if known {
				world.as("bo", "due")
			}
			books.set(full, full)
			reply := world.as("ada", test.command, append([]string{"machine=Marble"}, test.options...)...)
			headline := words.Expand(reply.Headline, plainMedium{})
			is := strings.Contains(headline, "Do not use Marble. NOT in the books")
			if is != (test.advice != "") {
				t.Errorf("%s, machines known %v: %q", test.name, known, reply.Headline)
			}
			text := strings.Join(reply.Lines, "\n")
			if waits := len(world.desk.Unbooked()) == 1; waits != (known && is) ||
				is && strings.Contains(text, "waits in memory") != waits ||
				is && strings.Contains(text, "not kept either") == waits {
				t.Errorf("%s, machines known %v: waits %v, %q", test.name, known, waits, text)
			}
			if known && is && !strings.Contains(text, test.advice) {
				t.Errorf("%s: %q lacks %q", test.name, text, test.advice)
			}
		}
	}
}

// A button that stops a machine does so while the books cannot be written, too; one that
// cannot be read says what to do of itself.
func TestUnbookedButtons(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	books, _ := world.breakable()
	world.must(world.as("ada", "problem", "machine=Marble", "what=snipe"))
	books.set(full, full)
	r := world.press("ada", "Tag out Marble")
	if strings.Contains(r.Headline, "NOT") || !strings.Contains(r.Headline, "Nothing was stored") ||
		!strings.Contains(strings.Join(r.Lines, " "), "tell a steward yourself") || len(world.desk.Unbooked()) != 0 {
		t.Errorf("unreadable: %q %q", r.Headline, r.Lines)
	}
	books.set(nil, full)
	if r := world.press("ada", "Tag out Marble"); !strings.Contains(r.Headline, "NOT in the books") || r.Replaces {
		t.Errorf("unwritable: %q", r.Headline)
	}
	// Pressed again while it waits, by another: both are stored, though the button is used.
	world.press("wren", "Tag out Marble")
	books.set(nil, nil)
	if left := world.desk.Book(context.Background(), world.now); left != 0 || len(world.status().Tags) != 2 {
		t.Errorf("%d wait, %d tags", left, len(world.status().Tags))
	}
}

// The same interaction delivered twice waits once, and is stored once, whether it came
// again before or after.
func TestUnbookedOnce(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	books, _ := world.breakable()
	world.as("bo", "due")
	again := commands.Request{ID: "twice", Shop: world.shop, Actor: actor("ada"), Name: "tagout", Now: world.now,
		Options: map[string]string{"machine": "Marble", "reason": "loose"}}
	books.set(nil, full)
	for range 2 {
		world.desk.Run(context.Background(), again)
	}
	if n := len(world.desk.Unbooked()); n != 1 {
		t.Errorf("%d wait", n)
	}
	books.set(nil, nil)
	world.must(world.desk.Run(context.Background(), again))
	if left := world.desk.Book(context.Background(), world.now); left != 0 || len(world.status().Tags) != 1 {
		t.Errorf("%d wait, tags %+v", left, world.status().Tags)
	}
}

// What the books refuse once they can be written is given up, and their keeper is told;
// what comes after it is stored.
func TestUnbookedGivenUp(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.bring("tilting-mill", "Flint", 0)
	books, faults := world.breakable()
	world.as("bo", "due")
	books.set(nil, full)
	world.as("ada", "tagout", "machine=Flint", "reason=loose")
	world.as("ada", "tagout", "machine=Marble", "reason=loose")
	flint := world.desk.Unbooked()[0].Entry.Machine
	books.set(nil, nil)
	if _, err := world.db.Shop(world.shop).Report(context.Background(), domain.Entry{Key: "gone", Machine: flint,
		At:       world.now,
		Recorded: world.now, By: "wren", For: "wren", Body: domain.MachineRetired{}}); err != nil {
		t.Fatal(err)
	}
	before := len(faults())
	if left := world.desk.Book(context.Background(), world.now); left != 0 || !world.status().TaggedOut() {
		t.Errorf("%d wait, Marble out: %v", left, world.status().TaggedOut())
	}
	if told := faults()[before:]; len(told) != 1 || !strings.Contains(told[0], string(domain.MachineIsRetired)) {
		t.Errorf("told %q", told)
	}
}

// Trouble with one machine's rows keeps no other waiting.
func TestUnbookedOneByOne(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.bring("tilting-mill", "Flint", 0)
	books, _ := world.breakable()
	world.as("bo", "due")
	books.set(nil, errors.New("a row that nobody can read"))
	world.as("ada", "tagout", "machine=Flint", "reason=loose")
	world.as("ada", "tagout", "machine=Marble", "reason=loose")
	books.only = world.desk.Unbooked()[0].Entry.Machine
	if left := world.desk.Book(context.Background(), world.now); left != 1 || !world.status().TaggedOut() {
		t.Errorf("%d wait, Marble out: %v", left, world.status().TaggedOut())
	}
}

// Not more wait than memory is set aside for, and whoever comes after is told.
func TestUnbookedBounded(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	books, _ := world.breakable()
	world.as("bo", "due")
	books.set(nil, full)
	kept := 0
	for n := range 600 {
		reply := world.desk.Run(context.Background(), commands.Request{ID: fmt.Sprint("many", n), Shop: world.shop,
			Actor: actor("ada"), Name: "tagout", Now: world.now,
			Options: map[string]string{"machine": "Marble", "reason": "loose"}})
		if !strings.Contains(reply.Headline, "NOT in the books") {
			t.Fatalf("%q", reply.Headline)
		}
		if slices.ContainsFunc(reply.Lines, func(l string) bool { return strings.Contains(l, "waits in memory") }) {
			kept++
		}
	}
	if waits := len(world.desk.Unbooked()); waits != 500 || kept != waits {
		t.Errorf("%d wait, %d were told so", waits, kept)
	}
}
