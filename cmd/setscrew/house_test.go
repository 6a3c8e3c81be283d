package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"setscrew/bot/discordtest"
)

// The rules of the house: who may import what, and why.

// floors are the packages' places from the ground up; a floor imports only
// floors below it, or its own.
var floors = []struct {
	prefix string
	floor  int
}{
	{"setscrew/domain/quantity", 0},
	{"setscrew/domain/metrology", 1}, {"setscrew/domain/linkage", 1}, {"setscrew/domain/upkeep", 1},
	{"setscrew/domain/wear", 1},
	{"setscrew/domain/diagnosis", 0}, {"setscrew/domain/danger", 1}, // which allows for slips as it does
	{"setscrew/domain/profile", 2}, // its linter reckons a machine's geometry
	{"setscrew/domain", 3},
	{"setscrew/store", 4},
	{"setscrew/commands/words", 4}, {"setscrew/commands/plot", 4}, {"setscrew/commands/paper", 4},
	{"setscrew/commands", 5},
	{"setscrew/bot", 6},
	{"setscrew/testdata", 0},
	{"setscrew/cmd", 7},
}

func floorOf(pkg string) int {
	best, floor := "", -1
	for _, f := range floors {
		if (pkg == f.prefix || strings.HasPrefix(pkg, f.prefix+"/")) && len(f.prefix) > len(best) {
			best, floor = f.prefix, f.floor
		}
	}
	return floor
}

// neighbours are imports within the house that the floors alone would allow.
var neighbours = []struct{ from, not, why string }{
	{"setscrew/commands", "setscrew/store", "commands declare the small interface they need; cmd wires them"},
	{"setscrew/bot", "setscrew/store", "the adapter knows commands, not where facts are kept"},
	{"setscrew/domain/metrology", "setscrew/domain/profile", "the mathematics knows nothing of machines"},
	{"setscrew/domain/linkage", "setscrew/domain/profile", "the mathematics knows nothing of machines"},
	{"setscrew/domain/upkeep", "setscrew/domain/profile", "the mathematics knows nothing of machines"},
	{"setscrew/domain/wear", "setscrew/domain/profile", "the mathematics knows nothing of machines"},
	{"setscrew/domain/diagnosis", "setscrew/domain/profile", "the mathematics knows nothing of machines"},
}

// keepers are the only packages that may import a library, directly.
var keepers = []struct {
	library string
	keepers []string
	why     string
}{
	{"github.com/bwmarrin/discordgo", []string{"setscrew/bot"}, "one place knows Discord's client"},
	{"github.com/robfig/cron/v3", []string{"setscrew/bot"}, "cron only wakes"},
	{"github.com/mattn/go-sqlite3", []string{"setscrew/store"}, "one place knows where facts are kept"},
	{"github.com/pressly/goose/v3", []string{"setscrew/store"}, "one place knows the schema"},
	{"github.com/prometheus", []string{"setscrew/cmd"}, "one place keeps figures"},
	{"github.com/alecthomas/kong", []string{"setscrew/cmd"}, "one place knows the command line"},
	{"github.com/nicksnyder/go-i18n/v2", []string{"setscrew/commands/words"}, "words live in one place"},
	{"gonum.org/v1/plot", []string{"setscrew/commands/plot"}, "one place draws"},
	{"codeberg.org/go-pdf/fpdf", []string{"setscrew/commands/paper"}, "one place prints"},
}

// pure are what no package of the domain may import, nor anything below it, with
// the reason.
var pure = []struct{ prefix, why string }{
	{"os", "no files, no processes"}, {"io/ioutil", "no files"}, {"path/filepath", "no files"},
	{"net", "no network"}, {"database", "no database"}, {"log", "no log"},
	{"math/rand", "seeds are arguments"}, {"crypto/rand", "seeds are arguments"},
	{"context", "no deadlines: it computes, and does nothing that could be cut off"},
	{"flag", "no command line"}, {"testing", "no tests in what ships"}, {"time/tzdata", "cmd brings the zones"},
	{"runtime", "nothing of the machine that it runs on"}, {"syscall", "nothing of the machine that it runs on"},
	{"unsafe", "nothing of the machine that it runs on"}, {"plugin", "all of it is compiled in"},
	{"expvar", "no network"},
}

// domainLibraries are the third parties' modules that the domain may build on,
// directly or through one another.
var domainLibraries = []string{"gonum.org/v1/gonum", "github.com/goccy/go-yaml", "golang.org/x/text",
	"github.com/teambition/rrule-go"}

type goPackage struct {
	ImportPath   string
	Dir          string
	GoFiles      []string
	Imports      []string
	Deps         []string
	TestImports  []string
	XTestImports []string
}

func listPackages(t *testing.T) []goPackage {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Dir,GoFiles,Imports,Deps,TestImports,XTestImports", "./...")
	cmd.Dir = filepath.Join("..", "..")
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var all []goPackage
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var pkg goPackage
		if err := d.Decode(&pkg); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		all = append(all, pkg)
	}
	if len(all) < 10 {
		t.Fatalf("go list found only %d packages", len(all))
	}
	return all
}

func under(pkg, prefix string) bool { return pkg == prefix || strings.HasPrefix(pkg, prefix+"/") }

func TestImports(t *testing.T) {
	for _, pkg := range listPackages(t) {
		from := floorOf(pkg.ImportPath)
		if from < 0 {
			t.Errorf("%s stands on no floor", pkg.ImportPath)
		}
		for _, imp := range pkg.Imports {
			if to := floorOf(imp); to > from {
				t.Errorf("%s imports %s, a floor above it", pkg.ImportPath, imp)
			} else if to == from && under(pkg.ImportPath, "setscrew/domain") && pkg.ImportPath != imp &&
				strings.HasPrefix(imp, "setscrew/") {
				t.Errorf("%s imports %s, its neighbour on the same floor", pkg.ImportPath, imp)
			}
			for _, n := range neighbours {
				if under(pkg.ImportPath, n.from) && under(imp, n.not) {
					t.Errorf("%s imports %s: %s", pkg.ImportPath, imp, n.why)
				}
			}
			for _, k := range keepers {
				if under(imp, k.library) && !slices.ContainsFunc(k.keepers,
					func(ok string) bool { return under(pkg.ImportPath, ok) }) {
					t.Errorf("%s imports %s: %s", pkg.ImportPath, imp, k.why)
				}
			}
		}
		// What a library of the domain brings with it is the domain's too.
		for _, dep := range pkg.Deps {
			host, _, _ := strings.Cut(dep, "/")
			if under(pkg.ImportPath, "setscrew/domain") && strings.Contains(host, ".") &&
				!slices.ContainsFunc(domainLibraries, func(ok string) bool { return under(dep, ok) }) {
				t.Errorf("%s depends on %s, which the domain does not build on", pkg.ImportPath, dep)
			}
		}
	}
}

// impureImports lists the imports of a file that no package of the domain may
// have, by the file's own import lines: a file that is built only elsewhere
// counts too.
func impureImports(file *ast.File) (faults []string) {
	for _, spec := range file.Imports {
		path := strings.Trim(spec.Path.Value, "`\"")
		for _, p := range pure {
			if under(path, p.prefix) {
				faults = append(faults, path+": "+p.why)
			}
		}
	}
	return faults
}

func TestDomainIsPure(t *testing.T) {
	t.Parallel()
	files := 0
	err := filepath.WalkDir(filepath.Join("..", "..", "domain"), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		files++
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, fault := range impureImports(f) {
			t.Errorf("%s imports %s", path, fault)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if files < 10 {
		t.Fatalf("looked at only %d files", files)
	}
}

// What the domain may not import is found, renamed or not, and below a prefix.
func TestImpureImportsAreFound(t *testing.T) {
	t.Parallel()
	const bad = `package bad

import (
	"fmt"
	web "net/http"
	_ "os"
	"math/rand/v2"
	"math"
	"osmosis"
)
`
	file, err := parser.ParseFile(token.NewFileSet(), "bad.go", bad, parser.ImportsOnly)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"net/http: no network", "os: no files, no processes", "math/rand/v2: seeds are arguments"}
	if got := impureImports(file); !slices.Equal(got, want) {
		t.Errorf("found %q, want %q", got, want)
	}
}

// TestInviteLink holds README's invite link to exactly the permissions that the
// bot uses.
func TestInviteLink(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	used := discordtest.ViewChannel | discordtest.SendMessages | discordtest.AttachFiles |
		discordtest.ReadHistory | discordtest.PinMessages
	if want := fmt.Sprintf("permissions=%d`", used); !strings.Contains(string(text), want) {
		t.Errorf("README's invite link lacks %s", want)
	}
}

// TestTopLevel holds the repository's top level to what it may hold.
func TestTopLevel(t *testing.T) {
	allowed := []string{"cmd", "bot", "commands", "domain", "store", "testdata", "README.md", "DEVELOPERS.md",
		"go.mod", "go.sum", "LICENSE"}
	entries, err := os.ReadDir(filepath.Join("..", ".."))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), ".") && !slices.Contains(allowed, e.Name()) &&
			!strings.Contains(e.Name(), ".db") {
			t.Errorf("the top level holds %s", e.Name())
		}
	}
}
