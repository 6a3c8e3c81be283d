package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"setscrew/bot/discordtest"
)

var update = flag.Bool("update", false, "write again what the scripts compare with")

func TestMain(m *testing.M) {
	testscript.Main(tests{m}, map[string]func(){
		"setscrew":   func() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) },
		aheadProgram: runAhead,
	})
}

// binaries is the directory of what the tests build, for as long as they run.
var binaries string

// tests runs the tests between the making and the removal of that directory.
type tests struct{ m *testing.M }

func (t tests) Run() int {
	var err error
	if binaries, err = os.MkdirTemp("", "setscrew"); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(binaries) //nolint:errcheck // the system removes what is left
	return t.m.Run()
}

// TestScripts plays whole shops through the program, and the program's own life.
func TestScripts(t *testing.T) {
	t.Parallel()
	testscript.Run(t, testscript.Params{Dir: filepath.Join("..", "..", "testdata", "script"), UpdateScripts: *update,
		RequireExplicitExec: true, RequireUniqueNames: true,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"connected": connected, "says": says,
			"ticks":  ticks,
			"stands": stands, "until": until},
		Setup: func(env *testscript.Env) error {
			server := discordtest.New()
			env.Defer(server.Close)
			server.IdentifyEvery = 10 * time.Millisecond   // the program is started again at once
			env.Setenv("DISCORD", server.URL())            // one for each script, on this machine
			env.Setenv("DISCORD_TOKEN", discordtest.Token) // which it takes
			guild := server.AddGuild("Quarry Street Commons")
			place := &place{server: server, guild: guild, channel: server.AddChannel(guild, "notices"),
				members: map[string]*discordtest.Member{}}
			role := server.AddRole(guild, "stewards")
			server.MakeMentionable(guild, role, true)
			env.Setenv("CHANNEL", place.channel.ID)
			env.Setenv("ROLE", role)
			for _, name := range []string{"ada", "bo"} {
				place.members[name] = server.AddMember(guild, name, 0)
			}
			place.members["wren"] = server.AddMember(guild, "wren", 0, role)
			place.members["owner"] = server.AddMember(guild, "owner", discordtest.ManageGuild)
			env.Values[placeKey{}] = place
			return nil
		}})
}

// place is the server in the fake Discord of a script: $CHANNEL for notices, $ROLE for
// stewards, ada and bo, wren who is a steward, and owner, who manages it.
type place struct {
	server  *discordtest.Server
	guild   *discordtest.Guild
	channel *discordtest.Channel
	members map[string]*discordtest.Member
	last    *discordtest.Interaction // that was answered
}

type placeKey struct{}

// patience is how long a script waits for what a program does.
const patience = 90 * time.Second

// at is a script's place, and how long it waits.
func at(script *testscript.TestScript) (*place, context.Context, func()) {
	ctx, stop := context.WithTimeout(context.Background(), patience)
	return script.Value(placeKey{}).(*place), ctx, stop
}

// connected waits until the program is connected for the Nth time and its commands are known:
// connected N.
func connected(script *testscript.TestScript, _ bool, args []string) {
	place, ctx, stop := at(script)
	defer stop()
	count, err := strconv.Atoi(strings.Join(args, " "))
	script.Check(err)
	script.Check(place.server.UntilConnected(ctx, count))
	script.Check(place.server.Until(ctx, place.server.Registered))
}

// says gives a command and holds the answer against a text that it has, or with ! has not:
// says WHO COMMAND OPTION=VALUE... TEXT.
func says(script *testscript.TestScript, not bool, args []string) {
	if len(args) < 3 {
		script.Fatalf("says WHO COMMAND OPTION=VALUE... TEXT")
	}
	place, ctx, stop := at(script)
	defer stop()
	options := map[string]string{}
	for _, option := range args[2 : len(args)-1] {
		name, value, _ := strings.Cut(option, "=")
		options[name] = value
	}
	given, err := place.server.Slash(place.guild, place.channel, place.members[args[0]], args[1], options)
	script.Check(err)
	reply, err := given.Wait(ctx)
	script.Check(err)
	script.Logf("%s", reply.Content)
	place.last = given
	if strings.Contains(reply.Content, args[len(args)-1]) == not {
		script.Fatalf("%q: wanted %v", args[len(args)-1], !not)
	}
}

// ticks presses what a steward has seen of a machine that is in use, until nothing is asked
// any more: ticks WHO.
func ticks(script *testscript.TestScript, _ bool, args []string) {
	place, ctx, stop := at(script)
	defer stop()
	for {
		reply, err := place.last.Wait(ctx)
		script.Check(err)
		if len(reply.Buttons) == 0 {
			return
		}
		place.last, err = place.server.Press(place.last, place.members[args[0]], "Seen: ")
		script.Check(err)
	}
}

// stands waits until the channel says a text: stands TEXT.
func stands(script *testscript.TestScript, _ bool, args []string) {
	place, ctx, stop := at(script)
	defer stop()
	for ctx.Err() == nil {
		if slices.ContainsFunc(place.server.Messages(place.channel), func(m discordtest.Message) bool {
			return strings.Contains(m.Content, strings.Join(args, " "))
		}) {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	script.Fatalf("the channel does not come to say %q", strings.Join(args, " "))
}

// until waits until a file has a text, or any text: until PATTERN [TEXT]; PATTERN may have *.
func until(script *testscript.TestScript, _ bool, args []string) {
	text := strings.Join(args[1:], " ")
	for end := time.Now().Add(patience); ; time.Sleep(50 * time.Millisecond) {
		files, err := filepath.Glob(script.MkAbs(args[0]))
		script.Check(err)
		for _, path := range files {
			if held, err := os.ReadFile(path); err == nil && strings.Contains(string(held), text) {
				return
			}
		}
		if time.Now().After(end) {
			script.Fatalf("%v does not come to have %q", args[0], text)
		}
	}
}
