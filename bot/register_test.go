package bot

import (
	"bytes"
	"context"
	"log/slog"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"setscrew/bot/discordtest"
	"setscrew/commands"
	"setscrew/commands/words"
)

func newCatalogue(t *testing.T) *words.Catalogue {
	t.Helper()
	cat, err := words.Load()
	if err != nil {
		t.Fatal(err)
	}
	return cat
}

// Every command is declared with its options as they are, and works in servers only;
// a name of two words is a subcommand.
func TestDeclares(t *testing.T) {
	t.Parallel()
	desk := commands.NewDesk(nil, nil, newCatalogue(t))
	byName := map[string]declared{}
	for _, command := range declare(desk) {
		if command.Type != 1 || !slices.Equal(command.Contexts, []int{inServers}) {
			t.Errorf("/%s: type %d in contexts %v", command.Name, command.Type, command.Contexts)
		}
		byName[command.Name] = command
		for _, o := range command.Options {
			if o.Type == optionSub {
				byName[command.Name+" "+o.Name] = o
			}
		}
	}
	types := map[commands.Takes]int{commands.Person: 6, commands.Channel: 7, commands.Role: 8, commands.Attachment: 11}
	seen := map[commands.Takes]bool{}
	for _, declaration := range desk.Declarations() {
		known := byName[declaration.Name]
		if known.Description != desk.Describe(declaration, "") || len(known.Options) != len(declaration.Options) {
			t.Fatalf("/%s: %q with %d options, want %d", declaration.Name, known.Description, len(known.Options),
				len(declaration.Options))
		}
		for i, option := range declaration.Options {
			seen[option.Takes] = true
			want := declared{Type: 3, Name: option.Name, Description: desk.Describe(declaration, option.Name),
				Required:  option.Required,
				MaxLength: option.Max}
			if kind := types[option.Takes]; kind != 0 {
				want.Type = kind
			}
			if option.Takes == commands.Channel {
				want.ChannelTypes = []int{0} // text channels
			}
			for _, one := range option.OneOf {
				want.Choices = append(want.Choices, choice{one, one})
			}
			want.Autocomplete = want.Type == 3 && option.Takes != commands.Text && option.Takes != commands.OneOf
			if !reflect.DeepEqual(known.Options[i], want) {
				t.Errorf("/%s %s: %+v, want %+v", declaration.Name, option.Name, known.Options[i], want)
			}
		}
	}
	for _, takes := range []commands.Takes{commands.Text, commands.Machine, commands.Person, commands.Role,
		commands.Channel, commands.Attachment, commands.OneOf} {
		if !seen[takes] {
			t.Errorf("no option takes %d: the test looks at nothing", takes)
		}
	}
}

// Commands are registered until Discord takes them: soon again after a fault, when it
// asks for it where there were too many requests, and hardly where it refuses, which is
// said for what it is.
func TestRegistersUntilItSucceeds(t *testing.T) {
	t.Parallel()
	put := func(f discordtest.Fault, times int) func(*discordtest.Server) {
		return func(s *discordtest.Server) { s.Fail("PUT", "/applications", f, times) }
	}
	for _, test := range []struct {
		name   string
		breaks func(*discordtest.Server)
		took   time.Duration
		tries  int
		says   string
	}{
		{"nothing wrong", func(*discordtest.Server) {}, 0, 1, ""},
		{"one bad gateway", put(discordtest.BadGateway, 1), time.Second, 2, "could not be registered"},
		{"ten", put(discordtest.BadGateway, 10), 8*time.Minute + 7*time.Second, 11, "could not be registered"},
		{"too many requests", put(discordtest.TooMany(90*time.Second, false), 1), 90 * time.Second, 2,
			"could not be registered"},
		{"a page", put(discordtest.HTMLTooMany, 1), longestWait, 2, "could not be registered"},
		{"token refused", put(discordtest.APIError(401, 0, "401: Unauthorized"), 1), time.Hour, 2,
			"Discord refuses the token"},
		{"forbidden", put(discordtest.APIError(403, 50001, "Missing Access"), 2), 2 * time.Hour, 3,
			"does not let this application have any"},
		{"bad form", put(discordtest.APIError(400, 50035, "Invalid Form Body"), 1), time.Hour, 2,
			"refuses them as they are declared"},
		{"served, but the answer lost", put(discordtest.Fault{Served: true, Drop: true}, 1), time.Second, 1,
			"could not be registered"},
		{"the application unknown", func(s *discordtest.Server) {
			s.Fail("GET", "/applications/@me", discordtest.BadGateway, 1)
		}, time.Second, 1, "could not be registered"},
		{"the commands unknown", func(s *discordtest.Server) {
			s.Fail("GET", "/applications/*/commands", discordtest.BadGateway, 1)
		}, time.Second, 1, "could not be registered"},
	} {
		synctest.Test(t, func(t *testing.T) {
			server := discordtest.New()
			defer server.Close()
			var said bytes.Buffer
			running := New(Config{Token: discordtest.Token, Client: server.Direct(),
				Desk: commands.NewDesk(nil, nil, newCatalogue(t)), Log: slog.New(slog.NewTextHandler(&said, nil))})
			l, err := newLink(discordtest.Token, server.Direct())
			if err != nil {
				t.Fatal(err)
			}
			running.link.Store(l)
			test.breaks(server)
			begin := time.Now()
			running.keepRegistering(t.Context())
			if took := time.Since(begin); took != test.took || server.Overwrites() != 1 {
				t.Errorf("%s: registered %d times after %v, want once after %v", test.name, server.Overwrites(), took,
					test.took)
			}
			if n := made(server, "PUT", "/applications"); n != test.tries {
				t.Errorf("%s: offered %d times, want %d", test.name, n, test.tries)
			}
			failed := strings.Contains(said.String(), "level=ERROR")
			if !strings.Contains(said.String(), test.says) || failed != (test.says != "") {
				t.Errorf("%s: said %q, want %q", test.name, &said, test.says)
			}
		})
	}
}

// Told to stop, the bot stops trying to register.
func TestRegisteringStops(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		server := discordtest.New()
		defer server.Close()
		running := New(Config{Token: discordtest.Token, Client: server.Direct(), Desk: commands.NewDesk(nil, nil,
			newCatalogue(t)),
			Log: slog.New(slog.DiscardHandler)})
		l, err := newLink(discordtest.Token, server.Direct())
		if err != nil {
			t.Fatal(err)
		}
		running.link.Store(l)
		server.Fail("PUT", "/applications", discordtest.BadGateway, 1000)
		ctx, stop := context.WithTimeout(t.Context(), 10*time.Minute)
		defer stop()
		begin := time.Now()
		running.keepRegistering(ctx)
		if took := time.Since(begin); took != 10*time.Minute {
			t.Errorf("it ended after %v", took)
		}
	})
}

// Whatever differs of a command differs; the order of the commands does not count.
func TestDeclaredTheSame(t *testing.T) {
	t.Parallel()
	list := func(change func([]declared)) []declared {
		all := []declared{{Type: 1, Name: "due", Description: "What is due", Contexts: []int{0},
			Options: []declared{{Type: 3, Name: "machine", Description: "which", MaxLength: 100}}},
			{Type: 1, Name: "help", Description: "Help", Contexts: []int{0}}}
		change(all)
		return all
	}
	want := list(func([]declared) {})
	if !sameCommands(list(slices.Reverse[[]declared]), want) {
		t.Error("another order differs")
	}
	for name, have := range map[string][]declared{
		"one more":     append(list(func([]declared) {}), declared{Type: 1, Name: "more"}),
		"one less":     want[:1],
		"another name": list(func(all []declared) { all[1].Name = "helping" }),
		"a word":       list(func(all []declared) { all[1].Description = "Helps" }),
		"an option":    list(func(all []declared) { all[0].Options = nil }),
		"a length":     list(func(all []declared) { all[0].Options[0].MaxLength = 50 }),
		"where":        list(func(all []declared) { all[1].Contexts = nil }),
	} {
		if sameCommands(have, want) {
			t.Errorf("%s: no difference is seen", name)
		}
	}
}
