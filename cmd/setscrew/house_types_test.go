package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
)

// The rules of the house that need types: what a name stands for, however its
// package was renamed on import.

// typed is one package's code, without its tests, read and type-checked.
type typed struct {
	path  string
	fset  *token.FileSet
	files []*ast.File
	info  *types.Info
}

// checkTypes reads and checks a package's files.
func checkTypes(path string, fset *token.FileSet, files []*ast.File, imports types.Importer) (typed, error) {
	info := &types.Info{Types: map[ast.Expr]types.TypeAndValue{}, Uses: map[*ast.Ident]types.Object{}}
	conf := types.Config{Importer: imports}
	if _, err := conf.Check(path, fset, files, info); err != nil {
		return typed{}, fmt.Errorf("check the types of %s: %w", path, err)
	}
	return typed{path, fset, files, info}, nil
}

// project is all of the project's code but its tests, and what reads the
// packages that it imports.
type project struct {
	packages []typed
	fset     *token.FileSet
	imports  types.Importer
}

// typedProject checks the project's own files, once. What they import is read
// from the compiler's export data.
func typedProject(t *testing.T) project {
	t.Helper()
	p, err := readProject()
	if err != nil {
		t.Fatal(err)
	}
	return p
}

var readProject = sync.OnceValues(func() (project, error) {
	cmd := exec.Command("go", "list", "-export", "-deps", "-json=ImportPath,Dir,GoFiles,Export", "./...", "./testdata")
	cmd.Dir = filepath.Join("..", "..")
	out, err := cmd.Output()
	if err != nil {
		return project{}, fmt.Errorf("list the packages with their export data: %w", err)
	}
	type listed struct {
		ImportPath, Dir, Export string
		GoFiles                 []string
	}
	var own []listed
	exports := map[string]string{}
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var pkg listed
		if err := d.Decode(&pkg); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return project{}, fmt.Errorf("read the list of packages: %w", err)
		}
		exports[pkg.ImportPath] = pkg.Export
		if under(pkg.ImportPath, "setscrew") {
			own = append(own, pkg)
		}
	}
	all := project{fset: token.NewFileSet()}
	all.imports = importer.ForCompiler(all.fset, "gc",
		func(path string) (io.ReadCloser, error) { return os.Open(exports[path]) })
	for _, pkg := range own {
		var files []*ast.File
		for _, name := range pkg.GoFiles {
			f, err := parser.ParseFile(all.fset, filepath.Join(pkg.Dir, name), nil,
				parser.ParseComments|parser.SkipObjectResolution)
			if err != nil {
				return project{}, fmt.Errorf("read %s: %w", name, err)
			}
			files = append(files, f)
		}
		checked, err := checkTypes(pkg.ImportPath, all.fset, files, all.imports)
		if err != nil {
			return project{}, err
		}
		all.packages = append(all.packages, checked)
	}
	if len(all.packages) < 15 {
		return project{}, fmt.Errorf("only %d packages were checked", len(all.packages))
	}
	return all, nil
})

// place is a file's base name and a line in it.
func (p typed) place(pos token.Pos) string {
	at := p.fset.Position(pos)
	return fmt.Sprintf("%s/%s:%d", p.path, filepath.Base(at.Filename), at.Line)
}

// function finds the package-level function that an identifier names: its
// package and name, or "" if it names none.
func (p typed) function(id *ast.Ident) (pkg, name string) {
	f, ok := p.info.Uses[id].(*types.Func)
	if !ok || f.Pkg() == nil || f.Type().(*types.Signature).Recv() != nil {
		return "", ""
	}
	return f.Pkg().Path(), f.Name()
}

// anyOrder marks, on its line or the line above, a range over a map whose order
// does not matter, with the reason.
var anyOrder = regexp.MustCompile(`^// any order: \w+`)

// unsorted lists the places at which code goes through a map in the map's own
// order, which differs from run to run, and does not say why that is no matter:
// ranges over maps, and what package maps gives in that order unless it goes
// straight into a function that sorts it.
func unsorted(code typed) []string {
	var faults []string
	for _, file := range code.files {
		marked := map[int]bool{}
		for _, group := range file.Comments {
			for _, c := range group.List {
				if anyOrder.MatchString(c.Text) {
					marked[code.fset.Position(c.Pos()).Line] = true
				}
			}
		}
		fault := func(n ast.Node, what string) {
			if line := code.fset.Position(n.Pos()).Line; !marked[line] && !marked[line-1] {
				faults = append(faults, code.place(n.Pos())+": "+what)
			}
		}
		sorted := map[ast.Expr]bool{}
		ast.Inspect(file, func(n ast.Node) bool {
			switch node := n.(type) {
			case *ast.RangeStmt:
				if isMap(code.info.TypeOf(node.X)) {
					fault(node, "a range over a map")
				}
			case *ast.CallExpr:
				pkg, name := code.function(called(node))
				switch {
				case pkg == "slices" && strings.HasPrefix(name, "Sorted") && len(node.Args) > 0:
					sorted[node.Args[0]] = true
				case pkg == "maps" && slices.Contains([]string{"Keys", "Values", "All"}, name) && !sorted[node]:
					fault(node, "maps."+name+" in the map's order")
				}
			}
			return true
		})
	}
	return faults
}

// called is the name of the function that is called, or a name that stands for
// nothing.
func called(call *ast.CallExpr) *ast.Ident {
	fun := ast.Unparen(call.Fun)
	if generic, ok := fun.(*ast.IndexExpr); ok {
		fun = generic.X
	}
	switch fun := fun.(type) {
	case *ast.Ident:
		return fun
	case *ast.SelectorExpr:
		return fun.Sel
	}
	return ast.NewIdent("_")
}

// isMap reports whether a value is a map, or of a type parameter that maps
// satisfy.
func isMap(typ types.Type) bool {
	if typ == nil {
		return false
	}
	if parameter, ok := typ.(*types.TypeParam); ok {
		constraint := parameter.Constraint().Underlying().(*types.Interface)
		for embedded := range constraint.EmbeddedTypes() {
			if union, ok := embedded.(*types.Union); ok {
				for term := range union.Terms() {
					if isMap(term.Type()) {
						return true
					}
				}
			}
			if isMap(embedded) {
				return true
			}
		}
		return false
	}
	_, ok := typ.Underlying().(*types.Map)
	return ok
}

// Nothing is said, stored or drawn in a map's order: it differs from run to run.
func TestMapsAreSorted(t *testing.T) {
	t.Parallel()
	for _, p := range typedProject(t).packages {
		for _, fault := range unsorted(p) {
			t.Errorf("%s: sort the keys, or say why in a comment of the form \"any order: reason\"", fault)
		}
	}
}

// needsTime are the functions of package time that read the clock or wait.
var needsTime = []string{"Now", "Since", "Until", "After", "AfterFunc", "Tick", "NewTicker", "NewTimer", "Sleep"}

// needsDeadline are those of package context.
var needsDeadline = []string{"WithTimeout", "WithTimeoutCause", "WithDeadline", "WithDeadlineCause"}

// seeded are the functions of math/rand and math/rand/v2 that read no global
// source: their randomness is an argument.
var seeded = []string{"New", "NewSource", "NewPCG", "NewChaCha8", "NewZipf"}

// unrepeatable lists what reads the clock, waits or draws from the global
// random source, as "function: what", with the place of each. The function is
// the package's, or "(var)" outside any.
func unrepeatable(code typed) (uses []use) {
	for _, file := range code.files {
		for _, decl := range file.Decls {
			where := "(var)"
			if f, ok := decl.(*ast.FuncDecl); ok {
				where = f.Name.Name
				if f.Recv != nil {
					where = strings.TrimPrefix(types.ExprString(f.Recv.List[0].Type), "*") + "." + where
				}
			}
			ast.Inspect(decl, func(n ast.Node) bool {
				id, ok := n.(*ast.Ident)
				if !ok {
					return true
				}
				pkg, name := code.function(id)
				switch {
				case pkg == "time" && slices.Contains(needsTime, name),
					pkg == "context" && slices.Contains(needsDeadline, name),
					(pkg == "math/rand" || pkg == "math/rand/v2") && !slices.Contains(seeded, name):
					uses = append(uses, use{code.path, where, code.place(id.Pos()), pkg + "." + name})
				}
				return true
			})
		}
	}
	return uses
}

type use struct{ pkg, function, place, what string }

// clocks are the only functions that may read a clock, wait or draw from the
// global random source, each with the reason. Everything else is given the time
// and its randomness.
var clocks = []struct{ pkg, function, why string }{
	{"setscrew/bot", "New", "this machine's clock, and one that nobody sets to hold it against"},
	{"setscrew/bot", "Bot.askTime", "how long Discord may take"},
	{"setscrew/bot", "booking.keep", "waits until the books are tried again"},
	{"setscrew/bot", "booking.postUnbooked", "how long a channel may take"},
	{"setscrew/bot", "booking.last", "how long the books may take at the end"},
	{"setscrew/bot", "doneWithin", "how long what is under way at the end may take"},
	{"setscrew/bot", "Bot.take", "how long an answer took"},
	{"setscrew/bot", "Bot.answered", "how long an answer took"},
	{"setscrew/bot", "Bot.sweep", "how long a sweep took"},
	{"setscrew/bot", "Bot.noteConnected", "since when there is a connection"},
	{"setscrew/bot", "Bot.Alive", "since when nothing was heard"},
	{"setscrew/bot", "Bot.registerCommands", "how long Discord may take"},
	{"setscrew/bot", "Bot.watch", "looks at the connection again and again"},
	{"setscrew/bot", "pause", "the wait between attempts to connect, and to register the commands"},
	{"setscrew/bot", "Bot.keepPosting", "waits until the next notice falls due by itself"},
	{"setscrew/bot", "Bot.respond", "Discord's own deadlines for an answer"},
	{"setscrew/bot", "Bot.drain", "how long the books may take at the end"},
	{"setscrew/bot", "Bot.keepUnseen", "how long the books may take"},
	{"setscrew/bot", "Bot.connect", "how far apart sessions are begun"},
	{"setscrew/bot", "link.dialer", "when the connection was last heard"},
	{"setscrew/bot", "notices.postWithPhoto", "how long a notice waits for its photo"},
	{"setscrew/bot", "photos.look", "how long a photo that nobody waits for may take"},
	{"setscrew/bot", "listening.Read", "when the connection was last heard"},
	{"setscrew/bot", "link.silence", "how long ago that was"},
	{"setscrew/bot", "link.open", "how long connecting may take"},
	{"setscrew/bot", "link.close", "how long disconnecting may take"},
	{"setscrew/bot/discordtest", "Server.now", "the clock that tests move"},
	{"setscrew/bot/discordtest", "Server.serve", "an answer that comes late, as told"},
	{"setscrew/bot/discordtest", "Server.send", "when an interaction left, for measuring"},
	{"setscrew/bot/discordtest", "Server.serveGateway", "how long a client may be silent"},
	{"setscrew/bot/discordtest", "conn.close", "how long the other side may take"},
	{"setscrew/cmd/setscrew", "runCmd.Run", "draws by how much the waits between its attempts vary"},
	{"setscrew/cmd/setscrew", "folding.Handle", "begins the time in which repeats are folded"},
	{"setscrew/cmd/setscrew", "initCmd.askToken", "how long Discord may take"},
	{"setscrew/cmd/setscrew", "doctorCmd.examineDiscord", "how long Discord may take"},
	{"setscrew/cmd/setscrew", "supervisor.keepTelling", "tells the supervisor again and again"},
	{"setscrew/cmd/setscrew", "run", "the clock of what is done once"},
}

// Time and randomness are arguments everywhere but in a few places, in every
// package.
func TestClocks(t *testing.T) {
	t.Parallel()
	used := make([]bool, len(clocks))
	for _, p := range typedProject(t).packages {
		for _, found := range unrepeatable(p) {
			allowed := false
			for i, c := range clocks {
				if c.pkg == found.pkg && c.function == found.function {
					used[i], allowed = true, true
				}
			}
			if !allowed {
				t.Errorf("%s: %s uses %s: take it as an argument", found.place, found.function, found.what)
			}
		}
	}
	for i, c := range clocks {
		if under(c.pkg, "setscrew/domain") {
			t.Errorf("%s %s: the domain needs no clock", c.pkg, c.function)
		}
		if !used[i] {
			t.Errorf("%s %s needs no clock any more", c.pkg, c.function)
		}
	}
}

// badExample breaks each rule in every way that the rules should find, where a
// line says so, and breaks none elsewhere.
const badExample = `package bad

import (
	"context"
	mymaps "maps"
	"math/rand/v2"
	"slices"
	clock "time"
)

type byName map[string]int

var started = clock.Now() // BAD clock

type T struct{}

func (T) Now() int { return 0 }

func (t *T) wait(m byName, ctx context.Context) {
	for range m { // BAD order
	}
	for k := range mymaps.Keys(m) { // BAD order
		_ = k
	}
	for _, k := range slices.Sorted(mymaps.Keys(m)) {
		_ = k
	}
	for _, v := range slices.Collect(mymaps.Values(m)) { // BAD order
		_ = v
	}
	// any order: a sum
	for range m {
	}
	for range m { // BAD order: no comment here
	}
	for range m { // any order: (a marker without a reason) BAD order
	}
	// any order: counts what is there
	for range m {
	}
	for _, x := range []int{1} {
		_ = x
	}
	f := clock.Since // BAD clock
	_ = f(clock.Time{})
	<-clock.After(1) // BAD clock
	_, stop := context.WithTimeout(ctx, 1) // BAD clock
	stop()
	_ = T{}.Now()
	_ = clock.Unix(0, 0)
	_ = rand.IntN(2) // BAD clock
	_ = rand.New(rand.NewPCG(1, 2)).IntN(2)
}

func generic[M ~map[K]V, K comparable, V any](m M) {
	for range m { // BAD order
	}
}
`

// Each rule finds what it is for.
func TestRulesCanFail(t *testing.T) {
	t.Parallel()
	all := typedProject(t)
	f, err := parser.ParseFile(all.fset, "bad.go", badExample, parser.ParseComments)
	if err != nil {
		t.Fatal(err)
	}
	pkg, err := checkTypes("bad", all.fset, []*ast.File{f}, all.imports)
	if err != nil {
		t.Fatal(err)
	}
	var wantOrder, wantClock []string
	for i, line := range strings.Split(badExample, "\n") {
		at := i + 1
		if strings.Contains(line, "BAD order") {
			wantOrder = append(wantOrder, fmt.Sprintf("bad/bad.go:%d", at))
		}
		if strings.Contains(line, "BAD clock") {
			wantClock = append(wantClock, fmt.Sprintf("bad/bad.go:%d", at))
		}
	}
	var order, clock []string
	for _, fault := range unsorted(pkg) {
		place, _, _ := strings.Cut(fault, ": ")
		order = append(order, place)
	}
	for _, u := range unrepeatable(pkg) {
		clock = append(clock, u.place)
	}
	if !slices.Equal(order, wantOrder) {
		t.Errorf("ranges over maps found at %q, want %q", order, wantOrder)
	}
	if !slices.Equal(clock, wantClock) {
		t.Errorf("clocks found at %q, want %q", clock, wantClock)
	}
}
