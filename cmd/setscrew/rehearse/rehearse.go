// Package rehearse is Setscrew in a terminal: the same commands, store, poster
// and sweep, with a clock that steps through every wake. It is the way to try
// Setscrew, to train a steward, and to script tests of the whole program.
package rehearse

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"setscrew/bot"
	"setscrew/cmd/setscrew/rehearse/demo"
	"setscrew/commands"
	catalogue "setscrew/commands/words"
	"setscrew/domain"
	"setscrew/store"
)

// Config says how to rehearse.
type Config struct {
	In          io.Reader
	Out         io.Writer
	Interactive bool   // a person types: prompt, and echo nothing
	DB          string // keep the shop in this file; "" for one that is deleted at the end
	Empty       bool   // begin without the demo shop
	Strict      bool   // stop at the first refused command
	Pictures    string // write pictures into this folder; "" for none
}

// ErrRefused is a command refused under Config.Strict.
var ErrRefused = errors.New("a command was refused")

// begin is when a rehearsal begins: a Monday morning.
var begin = time.Date(2026, 2, 23, 8, 0, 0, 0, time.UTC)

// state is what a rehearsal keeps beside the shop's file, so that it goes on
// after a restart where it was.
type state struct {
	Now     time.Time         `json:"now"`
	Calls   int               `json:"calls"`
	Who     string            `json:"who"`
	Shop    domain.ShopID     `json:"shop"`
	Buttons []commands.Button `json:"buttons,omitempty"` // of the last reply that has any
	Earlier []commands.Button `json:"earlier,omitempty"` // of those before it, the latest first
	Form    *commands.Form    `json:"form,omitempty"`
	Channel channel           `json:"channel"`
	Machine string            `json:"machine,omitempty"` // that was measured last
	// Measured lists the readings that measure gave.
	Measured map[domain.ShopID][]domain.FactNo `json:"measured,omitempty"`
}

type rehearsal struct {
	cfg      Config
	db       *store.DB
	desk     *commands.Desk
	poster   *bot.Poster
	state    state
	quiet    bool // the demo shop is being set up
	pictures int
	fault    error
}

// Run rehearses until the input ends, a line says quit, or ctx is done.
func Run(ctx context.Context, cfg Config) (err error) {
	// The shop's file: the one given, or one that is deleted with its folder.
	path := cfg.DB
	if path == "" {
		dir, err := os.MkdirTemp("", "setscrew-rehearsal-")
		if err != nil {
			return fmt.Errorf("rehearse: make a folder for the shop's file: %w", err)
		}
		defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
		path = filepath.Join(dir, "shop.db")
	}
	db, err := store.Use(ctx, path, store.ForRehearsal, store.MakeMissing)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	// A new shop is set up by the demo's own commands, with nothing printed.
	rehearsal, err := newRehearsal(cfg, db)
	if err != nil {
		return err
	}
	fresh, err := rehearsal.restore()
	if err != nil {
		return err
	}
	if fresh && !cfg.Empty {
		rehearsal.quiet = true
		for _, line := range strings.Split(demo.Script, "\n") {
			if err := rehearsal.line(ctx, line); err != nil {
				return fmt.Errorf("rehearse: demo shop: %q: %w", line, err)
			}
		}
		rehearsal.quiet = false
	}
	if err := rehearsal.greet(ctx, fresh); err != nil {
		return err
	}
	return rehearsal.play(ctx)
}

// newRehearsal is a rehearsal over a shop's file, at the moment when all begin.
func newRehearsal(cfg Config, db *store.DB) (*rehearsal, error) {
	cat, err := catalogue.Load()
	if err != nil {
		return nil, err
	}
	rehearsal := &rehearsal{cfg: cfg, db: db,
		state: state{Now: begin, Who: "ada", Shop: domain.ShopID(slug(demo.Name))}}
	rehearsal.desk = commands.NewDesk(func(id domain.ShopID) commands.Books { return db.Shop(id) }, db, cat)
	rehearsal.desk.Fault = func(id string, err error) {
		rehearsal.fault = errors.Join(rehearsal.fault, fmt.Errorf("%s: %w", id, err))
	}
	rehearsal.state.Channel.show = rehearsal.showNotice
	rehearsal.state.Channel.now = func() time.Time { return rehearsal.state.Now }
	rehearsal.desk.Chat = chat{&rehearsal.state.Channel}
	rehearsal.desk.Examine = func(ctx context.Context, now time.Time) []domain.Finding {
		return db.Examine(ctx, "", now) // nobody copies a rehearsal's books
	}
	rehearsal.poster = &bot.Poster{Outbox: db, Channel: &rehearsal.state.Channel, Render: rehearsal.desk.Render,
		Settings: func(ctx context.Context, id domain.ShopID) (domain.Shop, error) { return db.Shop(id).Shop(ctx) }}
	return rehearsal, nil
}

// sidecar is the file beside the shop's that holds a rehearsal's state.
func (r *rehearsal) sidecar() string { return r.cfg.DB + ".rehearsal" }

// restore goes on with the state of an earlier rehearsal, if there was one.
func (r *rehearsal) restore() (fresh bool, err error) {
	if r.cfg.DB == "" {
		return true, nil
	}
	text, err := os.ReadFile(r.sidecar())
	if errors.Is(err, os.ErrNotExist) {
		return true, nil
	}
	if err == nil {
		err = json.Unmarshal(text, &r.state)
	}
	if err != nil {
		return false, fmt.Errorf("rehearse: go on with what %s keeps: %w", r.sidecar(), err)
	}
	return false, nil
}

// save keeps where the rehearsal is beside the shop's file, if that is kept.
func (r *rehearsal) save() error {
	if r.cfg.DB == "" {
		return nil
	}
	text, err := json.Marshal(r.state)
	if err != nil {
		return fmt.Errorf("rehearse: encode where the rehearsal is: %w", err)
	}
	if err := os.WriteFile(r.sidecar(), text, 0o600); err != nil {
		return fmt.Errorf("rehearse: keep where the rehearsal is: %w", err)
	}
	return nil
}

// greet says which shop this is, when it is there and who speaks, and what to try in a new one.
func (r *rehearsal) greet(ctx context.Context, fresh bool) error {
	shop, err := r.db.Shop(r.state.Shop).Shop(ctx)
	if err != nil {
		return err
	}
	name := shop.Name
	if name == "" {
		name = "An empty shop"
	}
	r.printf("Setscrew, rehearsal. %s, %s. You are %s.\n", name,
		r.state.Now.In(shop.Location()).Format("Mon 2 Jan 2006 15:04"), r.state.Who)
	switch {
	case r.cfg.Empty && fresh:
		r.printf("Three things to try:\n  as owner\n  /shop settings name:\"Tin Lane\" zone:CET units:inch " +
			"notices:notices\n  /shop add name:Basalt kind:thickness-planer state:new\n")
	case fresh:
		r.printf("Three things to try:\n  /hours machine:Marble hours:1.5\n  /reading machine:Marble " +
			"check:\"infeed roller\" values:\"left 1.17 mm, right 1.04 mm\"\n  /problem machine:Marble " +
			"what:\"smoke from the motor\"\n")
	}
	r.printf("Type help for the rest.\n\n")
	return nil
}

// play takes lines until there are no more.
func (r *rehearsal) play(ctx context.Context) error {
	lines := make(chan string)
	var readErr error
	// Read in the background, so that the end of ctx need not wait for a line.
	go func() {
		defer close(lines)
		scanner := bufio.NewScanner(r.cfg.In)
		scanner.Buffer(nil, 1<<20)
		for scanner.Scan() {
			select {
			case lines <- scanner.Text():
			case <-ctx.Done():
				return
			}
		}
		readErr = scanner.Err()
	}()
	for {
		if r.cfg.Interactive {
			r.printf("%s> ", r.state.Who)
		}
		select {
		case <-ctx.Done():
			r.printf("\n")
			return nil
		case line, ok := <-lines:
			if !ok {
				if readErr != nil {
					return fmt.Errorf("rehearse: read the next line: %w", readErr)
				}
				return nil
			}
			// Echo what nobody sees typed, play it, and keep the state in case this was the last.
			if !r.cfg.Interactive {
				r.printf("> %s\n", line)
			}
			if strings.TrimSpace(line) == "quit" {
				return nil
			}
			if err := r.line(ctx, line); err != nil {
				return err
			}
			if err := r.save(); err != nil {
				return err
			}
		}
	}
}

// printf prints, unless the demo shop is being set up.
func (r *rehearsal) printf(format string, args ...any) {
	if !r.quiet {
		fmt.Fprintf(r.cfg.Out, format, args...)
	}
}

// usageError says that a line is none that the rehearsal can follow.
func (r *rehearsal) usageError(format string, args ...any) error {
	r.printf("  "+format+"\n", args...)
	if r.cfg.Strict || r.quiet {
		return ErrRefused
	}
	return nil
}

// line plays one line.
func (r *rehearsal) line(ctx context.Context, line string) error {
	line = strings.TrimSpace(line)
	words := split(line)
	switch {
	case len(words) == 0 || strings.HasPrefix(line, "#"):
		return nil
	case strings.HasPrefix(line, "/"):
		return r.slash(ctx, line)
	}
	switch words[0] {
	case "as":
		return r.as(words)
	case "clock":
		return r.clock(ctx, strings.TrimSpace(strings.TrimPrefix(line, "clock")))
	case "press":
		return r.press(ctx, strings.Join(words[1:], " "))
	case "fill":
		return r.fill(ctx, words[1:])
	case "notices":
		return r.notices(ctx)
	case "measure":
		return r.measure(ctx, words)
	case "bring":
		return r.bring(ctx, words)
	case "help":
		r.printf("%s", helpText)
		return nil
	}
	return r.usageError("%q is not understood; a command begins with /, and help lists the rest.", words[0])
}

const helpText = `  /help              what Setscrew can do
  as wren            speak as somebody: ada, bo, chidi are members; wren and
                     ishaan stewards; owner may manage the server
  as ada in "Tin Lane"
                     speak in another shop
  clock +3d          let time pass: +90min, +2h30, or 2026-03-05 09:00
  press 1            press a button of the last reply that has any, by number;
                     or of an earlier one, or a notice in the channel, by words:
                     press "I see to it"
  fill left=1.17     fill in the form that is open
  measure infeed     read a check of the machine behind the rehearsal, which
                     moves as its screws are turned; or: measure bed on Flint
  bring tilting-mill Flint
                     bring a small machine for trying plans out; bring alone
                     lists them
  notices            what the shop's channel holds
  quit               end; # begins a comment
`

// bring adds a machine of one of the demo's small kinds.
func (r *rehearsal) bring(ctx context.Context, words []string) error {
	if len(words) != 3 {
		return r.usageError("Bring what? For example: bring tilting-mill Flint. There are: %s.",
			strings.Join(demo.Kinds(), ", "))
	}
	text, err := demo.Kind(words[1])
	if err != nil {
		return r.usageError("There is no kind %q. There are: %s.", words[1], strings.Join(demo.Kinds(), ", "))
	}
	// Keep the kind's file with the shop, since it is none of the built-in ones.
	books := r.db.Shop(r.state.Shop)
	hash, err := books.KeepProfile(ctx, words[1], text)
	if err != nil {
		return err
	}
	shop, err := books.Shop(ctx)
	if err != nil {
		return err
	}
	who := domain.PersonID(r.state.Who)
	id := r.next()
	added, err := books.Report(ctx, domain.Entry{Key: id, At: r.state.Now, Recorded: r.state.Now, By: who, For: who,
		Typed: strings.Join(words, " "),
		Body: domain.MachineAdded{Name: words[2], Units: shop.Units, Setup: domain.Setup{Kind: words[1], Hash: hash,
			Start: domain.Start{State: domain.StartInUse}, Rev: 1}}})
	var refused *domain.Refusal
	if errors.As(err, &refused) {
		return r.usageError("A machine called %s is on the books already.", words[2])
	}
	if err != nil {
		return err
	}
	// It is in use already, and all that is asked of it is so.
	var ticks []domain.Entry
	for _, tick := range added.After.Missing {
		ticks = append(ticks, domain.Entry{Key: id + "/" + tick.ID, Machine: added.Fact.Machine, At: r.state.Now,
			Recorded: r.state.Now, By: who, For: who, Typed: strings.Join(words, " "),
			Body: domain.Ticked{Tick: tick.ID, Name: tick.Name, Says: tick.Says}})
	}
	if _, err := books.ReportAll(ctx, ticks, false); err != nil {
		return err
	}
	r.state.Machine = words[2]
	r.printf("  %s stands in the shop.\n\n", words[2])
	return nil
}

// as changes who speaks, and where.
func (r *rehearsal) as(words []string) error {
	switch {
	case len(words) == 2:
	case len(words) == 4 && words[2] == "in" && slug(words[3]) != "":
		r.state.Shop = domain.ShopID(slug(words[3]))
	default:
		return r.usageError(`Who? For example: as wren, or as ada in "Tin Lane"`)
	}
	r.state.Who = words[1]
	return nil
}

// actor is who speaks, with the roles that the people of the demo shop have in
// every shop.
func (r *rehearsal) actor() commands.Actor {
	actor := commands.Actor{ID: domain.PersonID(r.state.Who), Name: r.state.Who}
	switch {
	case slices.Contains(stewards, r.state.Who):
		actor.Roles = []string{stewardRole}
	case r.state.Who == "owner":
		actor.Manages = true
	}
	return actor
}

// next begins an interaction: time passes and it gets an id.
func (r *rehearsal) next() string {
	r.state.Calls++
	r.state.Now = r.state.Now.Add(time.Second)
	return "r" + strconv.Itoa(r.state.Calls)
}

// slash gives a slash command and prints its answer.
func (r *rehearsal) slash(ctx context.Context, line string) error {
	slash, err := parseSlash(line, r.desk.Declarations())
	if err != nil {
		return r.usageError("%v.", err)
	}
	return r.answer(ctx, r.desk.Run(ctx,
		commands.Request{ID: r.next(), Shop: r.state.Shop, Actor: r.actor(), Name: slash.name,
			Options: slash.options, Typed: line, Now: r.state.Now}))
}

// press presses a button: by its number, of the last reply that has any; by its words, of
// the latest reply that has one so labelled, else of the latest notice. What was said since
// does not take it away, as in a chat; once it was pressed those beside it are gone.
func (r *rehearsal) press(ctx context.Context, which string) error {
	all := slices.Concat(r.state.Buttons, r.state.Earlier)
	for _, message := range slices.Backward(r.state.Channel.Messages) {
		if message.Shop == r.state.Shop {
			all = append(all, message.Buttons...)
		}
	}
	chosen := slices.IndexFunc(all, func(b commands.Button) bool {
		return which != "" && strings.HasPrefix(strings.ToLower(b.Label), strings.ToLower(which))
	})
	if number, err := strconv.Atoi(which); err == nil {
		if chosen = number - 1; chosen >= len(r.state.Buttons) {
			chosen = -1
		}
	}
	if chosen < 0 {
		return r.usageError("The last reply has no button %q.", which)
	}
	reply := r.send(ctx, all[chosen].Custom, nil)
	if !reply.Refused && chosen < len(r.state.Buttons) {
		r.state.Buttons = nil
	}
	return r.answer(ctx, reply)
}

// fill sends the open form.
func (r *rehearsal) fill(ctx context.Context, fields []string) error {
	if r.state.Form == nil {
		return r.usageError("No form is open.")
	}
	values := map[string]string{}
	for _, field := range fields {
		id, value, ok := strings.Cut(field, "=")
		if !ok {
			return r.usageError(`%q is no field; for example: fill left="1.17 mm"`, field)
		}
		values[id] = value
	}
	form := r.state.Form
	r.state.Form = nil // it closes when it is sent
	return r.answer(ctx, r.send(ctx, form.Custom, values))
}

// mostEarlier is how many buttons of earlier replies are kept for press.
const mostEarlier = 50

// showNotice prints what happens in a shop's channel.
func (r *rehearsal) showNotice(shop domain.Shop, text string, buttons []commands.Button) {
	r.printf("  #%s\n%s", shop.NoticeChannel, r.noticeText(shop, text, buttons))
}

// noticeText is a notice as it stands in a shop's channel, with its buttons, which are
// pressed by their words.
func (r *rehearsal) noticeText(shop domain.Shop, text string, buttons []commands.Button) string {
	shown := paragraphs(catalogue.Expand(text, terminal{shop.Location(), r.state.Now}), "  | ", "  | ")
	for _, b := range buttons {
		shown += "  | [" + b.Label + "]\n"
	}
	return shown
}

// notices prints what the shop's channel holds.
func (r *rehearsal) notices(ctx context.Context) error {
	shop, err := r.db.Shop(r.state.Shop).Shop(ctx)
	if err != nil {
		return err
	}
	count := 0
	for _, message := range r.state.Channel.Messages {
		if message.Shop != r.state.Shop {
			continue
		}
		count++
		marks := ""
		if message.Pinned {
			marks += " (pinned)"
		}
		if message.Edited {
			marks += " (edited)"
		}
		r.printf("  #%s, %d%s\n%s", shop.NoticeChannel, count, marks,
			r.noticeText(shop, message.Text, message.Buttons))
	}
	if count == 0 {
		r.printf("  The channel is empty.\n")
	}
	r.printf("\n")
	return nil
}
