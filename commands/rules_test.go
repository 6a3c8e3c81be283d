package commands_test

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// Every command and every button has its rule of who may use it, and both are
// kept: whoever the rule leaves out is refused before anything else is looked
// at.
func TestEveryCommandAndButtonHasItsRule(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	rules := map[commands.Who][]string{ // who is let in
		commands.Anyone:  {"ada", "wren", "owner"},
		commands.Asker:   {"ada", "wren", "owner"},
		commands.Steward: {"wren"},
		commands.Keeper:  {"wren", "owner"},
		commands.OnCall:  {"wren"},
	}
	forbidden := regexp.MustCompile(`^Only `)
	// Every command lets in whom its rule names.
	all := world.desk.Declarations()
	if len(all) < 16 {
		t.Fatalf("only %d commands", len(all))
	}
	for _, command := range all {
		in, ok := rules[command.Who]
		if !ok || command.Who == commands.Asker {
			t.Errorf("/%s has no rule of who may use it", command.Name)
			continue
		}
		for _, who := range []string{"ada", "wren", "owner"} {
			r := world.as(who, command.Name, "machine=Xylophone")
			if got := !forbidden.MatchString(r.Headline); got != slices.Contains(in, who) {
				t.Errorf("/%s by %s: let in %v, by rule %d", command.Name, who, got, command.Who)
			}
		}
	}
	// So does every button; what waits behind one is kept for whoever was asked.
	actions := world.desk.Actions()
	if len(actions) < 8 {
		t.Fatalf("only %d actions", len(actions))
	}
	for _, action := range actions {
		in, ok := rules[action.Who]
		if !ok {
			t.Errorf("button %s has no rule of who may press it", action.Name)
			continue
		}
		if action.Waits && action.Who == commands.Anyone || !action.Waits && action.Who == commands.Asker {
			t.Errorf("button %s: who was asked is known from a pending alone", action.Name)
		}
		id := "pending-" + action.Name
		arg := "1"
		if action.Waits {
			arg = id
			if err := world.db.Shop(world.shop).Keep(context.Background(),
				domain.Pending{ID: id, Action: action.Name, Args: []byte("{}"), Asked: "ada", Made: world.now,
					Expires: world.now.Add(time.Hour)}); err != nil {
				t.Fatal(err)
			}
		}
		world.desk.Fault = nil // an empty argument is no press that a button makes
		for _, who := range []string{"ada", "bo", "wren", "owner"} {
			reply := world.send(who, "press "+action.Name, "s1:"+action.Name+":"+arg, nil)
			want := slices.Contains(in, who) && (action.Who != commands.Asker || who != "owner") ||
				action.Who == commands.Anyone
			if action.Who == commands.Asker {
				want = who == "ada" || who == "wren"
			}
			if got := !forbidden.MatchString(reply.Headline); got != want {
				t.Errorf("button %s pressed by %s: let in %v, by rule %d", action.Name, who, got, action.Who)
			}
		}
	}
}

// The declarations keep the chat's rules: names, descriptions, order and
// lengths of options; and every command has examples.
func TestDeclarations(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	name := regexp.MustCompile(`^[a-z]{1,32}( [a-z]{1,32})?$`)
	seen := map[string]bool{}
	for _, command := range world.desk.Declarations() {
		if !name.MatchString(command.Name) || seen[command.Name] {
			t.Errorf("command %q", command.Name)
		}
		seen[command.Name] = true
		if len(command.Examples) == 0 {
			t.Errorf("/%s has no example", command.Name)
		}
		for _, e := range command.Examples {
			if e != "/"+command.Name && !strings.HasPrefix(e, "/"+command.Name+" ") {
				t.Errorf("/%s: example %s", command.Name, e)
			}
		}
		if n := utf8.RuneCountInString(world.desk.Describe(command, "")); n < 1 || n > 100 {
			t.Errorf("/%s: description of %d characters", command.Name, n)
		}
		if len(command.Options) > 25 {
			t.Errorf("/%s has %d options", command.Name, len(command.Options))
		}
		optional := false
		options := map[string]bool{}
		for _, option := range command.Options {
			if n := utf8.RuneCountInString(world.desk.Describe(command, option.Name)); n < 1 || n > 100 {
				t.Errorf("/%s %s: description of %d characters", command.Name, option.Name, n)
			}
			if !name.MatchString(option.Name) || options[option.Name] || option.Takes == 0 ||
				(option.Takes == commands.OneOf) != (len(option.OneOf) > 0) || len(option.OneOf) > 25 {
				t.Errorf("/%s: option %+v", command.Name, option)
			}
			options[option.Name] = true
			if option.Required && optional {
				t.Errorf("/%s: required option %s after an optional one", command.Name, option.Name)
			}
			optional = optional || !option.Required
		}
	}
}

// What a chat is told of each command stands in a golden file: who may give it, how
// long its answers and its options may be, and what they take.
func TestDeclarationsAreWrittenDown(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	who := map[commands.Who]string{commands.Anyone: "anyone", commands.Steward: "steward", commands.Keeper: "keeper"}
	for _, c := range world.desk.Declarations() {
		fmt.Fprintf(&world.out, "/%s: %s, quiet %v, slow %v, %d to %d words\n", c.Name, who[c.Who], c.Quiet, c.Slow,
			c.Words, max(c.Words, c.MostWords))
		for _, o := range c.Options {
			fmt.Fprintf(&world.out, "  %s: takes %d %q, required %v, at most %d characters\n", o.Name, o.Takes, o.OneOf,
				o.Required, o.Max)
		}
	}
	world.golden("declarations")
}

// Every refusal that the books can give has its words.
func TestEveryRefusalHasWords(t *testing.T) {
	t.Parallel()
	for _, code := range []domain.Code{domain.NoSuchMachine, domain.MachineTwice, domain.MachineIsRetired,
		domain.SetupChangedNow, domain.NoSuchFact,
		domain.NotTagged, domain.NotTested, domain.NoTest, domain.HoursOverDay, domain.HoursTwice,
		domain.HoursOverlap, domain.NoSuchProblem, domain.Blocked, domain.OwnerNotAsked, domain.NoteNeeded,
		domain.WithdrawnBefore, domain.NotWithdrawable, domain.SafetyNotPutOff, domain.TakenBefore,
		domain.ConfirmedBefore,
		domain.PendingUsed, domain.PendingGone, domain.ReadingMovedOn, domain.OthersReport, domain.NothingToUndo,
		domain.OthersProblem, domain.TooMany} {
		w := newWorld(t)
		w.marble()
		w.desk = faulty(w, map[string]error{"Report": &domain.Refusal{Code: code, Name: "Marble", Fact: 7,
			Blockers: []domain.Blocker{{Code: domain.BlockUnread, Name: "table"}}}})
		r := w.as("ada", "hours", "machine=Marble", "hours=1")
		if !r.Refused || r.Headline == "" || strings.HasPrefix(r.Headline, "refused.") {
			t.Errorf("%s: %+v", code, r)
		}
	}
}

// What goes wrong inside is worded, never shown; the program's keeper is told.
func TestFaults(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		method string
		err    error
		want   string
		told   bool
	}{
		{"Report", errors.New("disk on fire"),
			"Something went wrong on our side and nothing was recorded; please try again. Reference i", true},
		{"Shop", errors.New("disk on fire"), "Something went wrong", true},
		{"Report", fmt.Errorf("commit: %w", context.DeadlineExceeded), "That took too long", false},
		{"Machines", errPanic, "Something went wrong", true},
	} {
		world := newWorld(t)
		world.marble()
		var told []string
		world.desk = faulty(world, map[string]error{test.method: test.err})
		world.desk.Fault = func(id string, err error) { told = append(told, err.Error()) }
		r := world.as("ada", "hours", "machine=Marble", "hours=1")
		if !r.Refused || !r.Quiet || !strings.HasPrefix(r.Headline, test.want) || strings.Contains(r.Headline, "fire") {
			t.Errorf("%s fails: %+v", test.method, r)
		}
		if (len(told) == 1) != test.told {
			t.Errorf("%s fails: the keeper was told %q", test.method, told)
		}
	}
	// A report stands even if the buttons behind its reply could not be kept.
	world := newWorld(t)
	world.marble()
	world.desk = faulty(world, map[string]error{"Keep": errors.New("disk full")})
	world.desk.Fault = func(string, error) {}
	r := world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 46 thou, right 40 thou")
	if r.Refused || len(r.Buttons) != 0 || !strings.Contains(strings.Join(r.Lines, " "), "report itself is safe") {
		t.Errorf("buttons not kept: %+v", r)
	}
	if snap, err := world.db.Shop(world.shop).Snapshot(context.Background(), 1); err != nil ||
		snap.Latest["infeed"].Reading.Typed != "left 46 thou, right 40 thou" {
		t.Errorf("the report does not stand: %+v, %v", snap.Latest["infeed"], err)
	}
}

var errPanic = errors.New("panic")

// faulty is the world's desk over books whose named methods fail.
func faulty(w *world, fail map[string]error) *commands.Desk {
	cat := catalogue(w.t)
	cat.Said = sayKey
	return commands.NewDesk(func(id domain.ShopID) commands.Books { return faultyBooks{w.db.Shop(id), fail} }, w.db,
		cat)
}

type faultyBooks struct {
	commands.Books
	fail map[string]error
}

func (b faultyBooks) Shop(ctx context.Context) (domain.Shop, error) {
	if err := b.fail["Shop"]; err != nil {
		return domain.Shop{}, err
	}
	return b.Books.Shop(ctx)
}

func (b faultyBooks) Machines(ctx context.Context) ([]domain.Machine, error) {
	if err := b.fail["Machines"]; errors.Is(err, errPanic) {
		panic("index out of range")
	}
	return b.Books.Machines(ctx)
}

func (b faultyBooks) Report(ctx context.Context, e domain.Entry) (domain.Outcome, error) {
	if err := b.fail["Report"]; err != nil {
		return domain.Outcome{}, err
	}
	return b.Books.Report(ctx, e)
}

func (b faultyBooks) Keep(ctx context.Context, p ...domain.Pending) error {
	if err := b.fail["Keep"]; err != nil {
		return err
	}
	return b.Books.Keep(ctx, p...)
}

// The same interaction delivered twice is answered twice and recorded once.
func TestSameInteractionTwice(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	before := world.reported()
	first := world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 46 thou, right 40 thou")
	world.n--
	world.now = world.now.Add(-time.Second)
	second := world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 46 thou, right 40 thou")
	if first.Headline != second.Headline || second.Refused {
		t.Errorf("first %q, second %q", first.Headline, second.Headline)
	}
	first.Buttons = slices.Clone(first.Buttons)
	reply := world.pressOn(first, "ada", "I turned it")
	world.n--
	b := world.pressOn(first, "ada", "I turned it")
	if reply.Refused || !b.Refused {
		// The reading has been overtaken by the move itself.
		t.Errorf("pressed: %q; delivered again: %q", reply.Headline, b.Headline)
	}
	if n := world.reported() - before; n != 2 {
		t.Errorf("a reading and a move are %d reports", n)
	}
}

// Completions are at most 25, begin with what begins so, and know the machine.
func TestComplete(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("wren", "gauge set", "name=long dial", "resolution=0.01 mm", "uncertainty=0.02 mm"))
	world.must(world.as("ada", "problem", "machine=Marble", "what=snipe"))
	for i := range 30 {
		world.must(world.as("wren", "shop add", fmt.Sprintf("name=Slate %02d", i), "kind=thickness-planer",
			"state=new"))
	}
	complete := func(name, option, partial string, options map[string]string) []string {
		var all []string
		for _, c := range world.desk.Complete(context.Background(),
			commands.Completion{Shop: world.shop, Actor: actor("ada"), Name: name, Option: option, Partial: partial,
				Options: options, Now: world.now}) {
			all = append(all, c.Value)
		}
		return all
	}
	marble := map[string]string{"machine": "marble"}
	for _, test := range []struct {
		name, option, partial string
		options               map[string]string
		want                  []string
	}{
		{"hours", "machine", "MAR", nil, []string{"Marble"}},
		{"reading", "check", "roller", marble, []string{"infeed roller", "outfeed roller", "bed rollers"}},
		{"reading", "check", "outfeed r", marble, []string{"outfeed roller", "outfeed spring caps"}},
		{"reading", "check", "", map[string]string{"machine": "none such"}, nil},
		{"reading", "gauge", "dial", marble, []string{"dial indicator on a base", "long dial"}},
		{"service", "service", "bush", marble, []string{"oil the feed-roller bushings"}},
		{"event", "event", "kni", marble, []string{"knives changed or reset"}},
		{"how", "what", "knives", marble, []string{"knives changed or reset", "knife width", "knife projection",
			"knife clamping"}},
		{"how", "what", "bush", marble, []string{"oil the feed-roller bushings"}},
		{"reading", "mode", "", map[string]string{"machine": "marble", "check": "bed rollers"},
			[]string{"planed stock (keeps snipe down)", "rough stock (would drag)"}},
		{"reading", "mode", "", map[string]string{"machine": "marble", "check": "infeed"}, nil},
		{"mended", "problem", "", marble, []string{"snipe"}},
		{"problem", "what", "smo", marble, []string{"smoke or a smell of burning", "smo"}},
		{"shop confirm", "what", "outfeed roller r", marble, []string{"outfeed roller right set screw",
			"outfeed roller", "outfeed roller left set screw", "outfeed spring caps", "infeed roller"}},
		{"shop add", "kind", "", nil, []string{"thickness-planer"}},
		{"help", "command", "readi", nil, []string{"reading", "ready"}},
		{"hours", "hours", "1", nil, nil},
		{"sermon", "machine", "", nil, nil},
	} {
		if got := complete(test.name, test.option, test.partial, test.options); !slices.Equal(got, test.want) {
			t.Errorf("/%s %s:%s: %q, want %q", test.name, test.option, test.partial, got, test.want)
		}
	}
	if n := len(complete("hours", "machine", "", nil)); n != 25 {
		t.Errorf("%d choices of 31 machines", n)
	}
	// What this person used last stands first, then what is nearest to due.
	first := func(name, option string, options map[string]string) string {
		return complete(name, option, "", options)[0]
	}
	if got := first("reading", "check", marble); got != "table to cutterhead" {
		t.Errorf("first check: %s", got)
	}
	world.must(world.as("ada", "reading", "machine=Marble", "check=outfeed", "values=left 20 thou, right 20 thou"))
	if got := first("reading", "check", marble); got != "outfeed roller" {
		t.Errorf("first check after it was used: %s", got)
	}
	world.must(world.as("bo", "hours", "machine=Slate 07", "hours=9"))
	if got := complete("hours", "machine", "", nil)[:2]; !slices.Equal(got, []string{"Marble", "Slate 07"}) {
		t.Errorf("first machines: %q, one used, one due", got)
	}
	world.must(world.as("ada", "hours", "machine=Slate 29", "hours=1"))
	if got := first("hours", "machine", nil); got != "Slate 29" {
		t.Errorf("first machine after it was used: %s", got)
	}
}

// User text stays inside its guard, whatever it holds.
func FuzzUserText(f *testing.F) {
	for _, s := range []string{"plain", "@everyone **x**", "\u202egnp", "\ue000x\ue00f", "a\nb", "\x00", "\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got := words.Expand("before "+words.User(text)+" after", markMedium{})
		inside, ok := strings.CutPrefix(got, "before [")
		inside, end := strings.CutSuffix(inside, "] after")
		if !ok || !end {
			t.Fatalf("%q: %q", text, got)
		}
		if !utf8.ValidString(inside) {
			t.Fatalf("%q: not UTF-8: %q", text, inside)
		}
		for _, r := range inside {
			if unicode.IsControl(r) || unicode.Is(unicode.Co, r) || unicode.Is(unicode.Cf, r) {
				t.Fatalf("%q keeps %U", text, r)
			}
		}
		if inside != words.Clean(inside) {
			t.Fatalf("%q cleaned twice differs", text)
		}
	})
}

type markMedium struct{}

func (markMedium) User(s string) string                       { return "[" + s + "]" }
func (markMedium) Time(t time.Time, _ words.TimeStyle) string { return t.String() }
func (markMedium) Person(id string) string                    { return id }
func (markMedium) Channel(id string) string                   { return id }
func (markMedium) Role(id string) string                      { return id }
func (markMedium) Link(_, name string) string                 { return name }

// A machine of a kind that has what the planer lacks: limits on one side, work
// by days or by both, a screw that lowers, a check measured from another that
// has a screw, a safety service.
const press = `setscrew-profile: 1
kind: press
name: press
revision: 1
gauges:
  - {id: dial, name: dial, resolution: 0.01 mm, uncertainty: 0.1 mm, k: 2}
  - {id: can, name: can, of: volume, resolution: 10 mL, error: 20 mL}
checks:
  - {id: table, name: table, class: quality, measured: "above the base, positive up.", positions: [left, right],
    target: 10 mm, adjust: at least 9 mm, gauge: dial,
     entry: {metric: mm, inch: thou}, decimals: {metric: 1, inch: 0}, source: common practice}
  - {id: fence, name: fence, class: safety, from: table, follows: {check: table},
    measured: "from the table, positive up.", target: 5 mm, adjust: at most 6 mm, stop: at most 8 mm, gauge: dial,
     entry: {metric: mm, inch: thou}, decimals: {metric: 1, inch: 0}, source: common practice}
  - {id: oil, name: oil in the sump, class: quality, of: volume, measured: "by the can.", target: 2 L,
    adjust: 1.5 L to 2.5 L, gauge: can,
     entry: {metric: L, inch: US gal}, decimals: {metric: 2, inch: 2}, source: common practice}
adjusters:
  - {id: left, name: left screw, check: table, position: left, thread: M6, lead: 1 mm, clockwise: lowers,
    seen-from: below, positive: up, increment: 1/4 turn}
services:
  - {id: belt, name: check the belt, class: safety, every: {hours: 10 h, days: 30, late-hours: 2 h},
    steps: [isolate it, look at the belt], source: common practice}
  - {id: wax, name: wax the table, class: routine, every: {days: 5, late-days: 5}, steps: [isolate it, wax],
    source: common practice}
  - {id: paint, name: paint it, class: routine, steps: [paint], source: common practice}
symptoms:
  - {id: tilt, name: tilts, advice: Read the table.}
cautions: [{id: isolate, text: Isolate it.}]
return: [guards on]
`

func TestStoryPress(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.as("owner", "shop settings", "notices=notices", "stewards=stewards")
	ctx := context.Background()
	books := world.db.Shop(world.shop)
	hash, err := books.KeepProfile(ctx, "press", []byte(press))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := books.Report(ctx, domain.Entry{Key: "add", At: world.now, Recorded: world.now, By: "wren", For: "wren",
		Body: domain.MachineAdded{Name: "Anvil", Units: quantity.Metric,
			Setup: domain.Setup{Kind: "press", Hash: hash, Rev: 1}}}); err != nil {
		t.Fatal(err)
	}
	world.as("wren", "shop confirm", "machine=Anvil", "what=table")
	world.as("wren", "shop confirm", "machine=Anvil", "what=fence")
	world.press("wren", "Confirm oil in the sump")
	world.press("wren", "Confirm left screw")
	world.as("wren", "shop confirm", "machine=Anvil", "what=wax")
	world.press("wren", "Confirm check the belt")
	world.as("wren", "why", "machine=Anvil", "service=paint")
	world.as("bo", "reading", "machine=Anvil", "check=oil", "values=0.5 gal")
	world.as("bo", "reading", "machine=Anvil", "check=oil", "values=64 fl oz")
	world.press("bo", "64 US fl oz")
	world.as("bo", "reading", "machine=Anvil", "check=oil", "values=2 kg")
	world.as("wren", "shop confirm", "machine=Anvil", "what=oil in the sump")
	world.as("wren", "reading", "machine=Anvil", "check=table", "values=left 10 mm, right 10 mm")
	world.as("wren", "why", "machine=Anvil", "check=table")
	world.as("wren", "undo")
	world.as("ada", "reading", "machine=Anvil", "check=table", "values=left 8 mm, right 7 mm")
	table := world.last
	world.as("ada", "reading", "machine=Anvil", "check=fence", "values=5 mm")
	world.pressOn(table, "ada", "I turned it")
	world.as("ada", "reading", "machine=Anvil", "check=fence", "values=5 mm", "when=1 min ago")
	world.as("ada", "reading", "machine=Anvil", "check=table", "values=left 10 mm, right 9.05 mm")
	world.as("ada", "machine", "machine=Anvil")
	world.as("ada", "why", "machine=Anvil", "check=fence")
	world.as("ada", "reading", "machine=Anvil", "check=fence", "values=5 5.2 5.1")
	world.as("ada", "reading", "machine=Anvil", "check=fence", "values=7.95")
	world.as("ada", "machine", "machine=Anvil")
	world.as("ada", "reading", "machine=Anvil", "check=table", "values=left 7 mm, right 10 mm")
	world.as("ada", "machine", "machine=Anvil")
	world.as("ada", "reading", "machine=Anvil", "check=fence", "values=8.05 mm")
	world.as("ada", "reading", "machine=Anvil", "check=fence", "values=9 mm")
	world.as("ada", "undo")
	world.as("ada", "reading", "machine=Anvil", "check=fence", "values=5 mm")
	world.as("wren", "release", "machine=Anvil")
	world.intoTest("wren")
	world.press("wren", "It runs well")
	world.as("ada", "reading", "machine=Anvil", "check=fence", "values=9 mm")
	world.as("ada", "why", "machine=Anvil", "service=wax")
	world.as("ada", "due")
	world.as("ada", "hours", "machine=Anvil", "hours=13")
	world.as("ada", "due")
	world.sweep(12 * 24 * time.Hour)
	world.as("ada", "due")
	world.notices()
	world.as("ada", "problem", "machine=Anvil", "what=tilts")
	world.golden("press")
}

// What the chat's adapter asks of the desk has its words too.
func TestWordsForTheAdapter(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	if got := world.desk.More(); !strings.Contains(got, "/machine") {
		t.Errorf("where more is: %q", got)
	}
	if got := world.desk.Unseen("it was done"); !strings.Contains(got, "it was done") {
		t.Errorf("unseen: %q", got)
	}
	for _, group := range []string{"shop", "gauge"} {
		if got := world.desk.DescribeGroup(group); got == "cmd."+group || len(got) > 100 {
			t.Errorf("group %s: %q", group, got)
		}
	}
	if slow, quiet := world.desk.Slow("why"); !slow || !quiet {
		t.Error("why may draw a picture, yet is not put off")
	}
}
