package main

import (
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "write again what the scripts compare with")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"setscrew":   func() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) },
		aheadProgram: runAhead,
	})
}

// TestScripts plays whole shops through the program.
func TestScripts(t *testing.T) {
	t.Parallel()
	testscript.Run(t, testscript.Params{Dir: filepath.Join("..", "..", "testdata", "script"), UpdateScripts: *update,
		RequireExplicitExec: true, RequireUniqueNames: true})
}
