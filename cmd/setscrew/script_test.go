package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"

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

// TestScripts plays whole shops through the program.
func TestScripts(t *testing.T) {
	t.Parallel()
	testscript.Run(t, testscript.Params{Dir: filepath.Join("..", "..", "testdata", "script"), UpdateScripts: *update,
		RequireExplicitExec: true, RequireUniqueNames: true,
		Setup: func(env *testscript.Env) error {
			server := discordtest.New()
			env.Defer(server.Close)
			env.Setenv("DISCORD", server.URL()) // one for each script, on this machine
			return nil
		}})
}
