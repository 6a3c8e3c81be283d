package commands_test

import (
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"os"
	"slices"
	"strings"
	"testing"
)

// layers are the package's files from the ground up, as its comment tells. A file
// names what is defined in itself or in a layer below.
var layers = [][]string{
	// What a chat hands in and gets back; what is needed of the books.
	{"doc.go", "request.go", "reply.go", "declare.go", "books.go", "text.go", "kept.go"},
	// Wording: tags, reasons, blockers; values in a machine's units; names.
	{"wording.go", "find.go", "chat.go", "lastknown.go", "unbookedqueue.go", "ail.go"},
	{"format.go", "names.go"},
	// A call on its way: who may, examples, buttons that give it again, what options name.
	{"call.go"},
	{"action.go", "example.go"},
	{"again.go"},
	{"lookup.go"},
	// The desk: from a request to its answer; a report and what came of it.
	{"refusal.go", "access.go", "unbooked.go"},
	{"desk.go"},
	{"report.go"},
	// What more than one command says.
	{"states.go", "rules.go", "gaugewords.go", "shelf.go", "facts.go", "work.go", "onpaper.go", "plan.go",
		"forecast.go", "visitplan.go", "photo.go", "seen.go"},
	{"drift.go", "picture.go", "calendar.go", "prove.go", "loosening.go", "mistake.go"},
	{"diagnosis.go", "readingreply.go", "ticks.go", "due.go", "visitsheet.go"},
	{"heard.go", "gonogo.go", "whycheck.go", "whyservice.go", "whyproblem.go", "lock.go"},
	// One file a command family.
	{"hours.go", "reading.go", "turned.go", "problem.go", "service.go", "event.go", "putoff.go", "extend.go",
		"handover.go",
		"blades.go", "stock.go", "logsheet.go", "typein.go",
		"cause.go", "visits.go", "visit.go", "ready.go", "machine.go", "setup.go", "how.go", "logbook.go", "why.go",
		"tags.go", "release.go", "mended.go", "undo.go", "forget.go", "settings.go", "check.go", "start.go", "shop.go",
		"confirm.go",
		"interval.go",
		"second.go", "loosen.go", "need.go", "restored.go", "reporting.go", "retire.go", "away.go",
		"gauge.go", "study.go", "help.go", "complete.go", "sweep.go"},
	// Notices: what several are made of, those of one matter, and all of them.
	{"notice.go"},
	{"dangernotices.go", "locknotices.go", "loosennotices.go"},
	{"notices.go"},
	{"table.go"},
}

// No file of the package names something that is defined in its own layer or above.
func TestLayers(t *testing.T) {
	t.Parallel()
	fset := token.NewFileSet()
	entries, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	// Which layer each file is in.
	layer := map[string]int{}
	for i, files := range layers {
		for _, file := range files {
			if _, twice := layer[file]; twice {
				t.Errorf("%s is in two layers", file)
			}
			if _, err := os.Stat(file); err != nil {
				t.Errorf("a layer lists what is not there: %v", err)
			}
			layer[file] = i
		}
	}
	// Every file is in a layer.
	var files []*ast.File
	for _, entry := range entries {
		if !strings.HasSuffix(entry.Name(), ".go") || strings.HasSuffix(entry.Name(), "_test.go") {
			continue
		}
		f, err := parser.ParseFile(fset, entry.Name(), nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, f)
		if _, ok := layer[entry.Name()]; !ok {
			t.Fatalf("%s is in no layer: put it into one of layers, above what it uses", entry.Name())
		}
	}
	info := &types.Info{Uses: map[*ast.Ident]types.Object{}, Selections: map[*ast.SelectorExpr]*types.Selection{}}
	// What other packages define is not looked at: the checker goes on without it.
	conf := types.Config{Importer: nothing{}, Error: func(error) {}}
	pkg, _ := conf.Check("commands", fset, files, info)
	// What each file names of the package, by where it is defined.
	seen := map[string]bool{}
	references := 0
	for id, obj := range info.Uses {
		if f, ok := obj.(*types.Func); ok {
			obj = f.Origin()
		}
		method := false
		if f, ok := obj.(*types.Func); ok {
			method = f.Signature().Recv() != nil
		}
		if obj.Pkg() != pkg || obj.Parent() != pkg.Scope() && !method {
			continue
		}
		from, to := fset.Position(id.Pos()).Filename, fset.Position(obj.Pos()).Filename
		references++
		if from == to || layer[to] < layer[from] {
			continue
		}
		seen[from+" names "+obj.Name()+" of "+to] = true
	}
	var all []string
	for line := range seen {
		all = append(all, line)
	}
	slices.Sort(all)
	for _, line := range all {
		t.Error(line)
	}
	if references < 1000 {
		t.Errorf("only %d references between the package's own names were found", references)
	}
}

// nothing imports no package.
type nothing struct{}

func (nothing) Import(string) (*types.Package, error) { return nil, errors.New("not looked at") }
