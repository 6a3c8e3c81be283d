package main

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// family is the part of an id by which a source lists a check: M01 of
// M01-nu-eff; an id without one is its own.
var family = regexp.MustCompile(`^([A-Z]+\d+)(?:-.*)?$`)

// The table of published checks in DEVELOPERS.md is made from the data: every id,
// with its source and its file.
func TestTableOfPublishedChecks(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("..", "..", "testdata", "published", "*.csv"))
	if err != nil || len(files) < 10 {
		t.Fatalf("%d files of published values, %v", len(files), err)
	}
	var table strings.Builder
	table.WriteString("| id | file | source |\n|---|---|---|\n")
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		head, rest, _ := strings.Cut(string(text), "\n")
		_, source, ok := strings.Cut(head, "ource")
		if !ok {
			t.Errorf("%s names no source", file)
		}
		source = strings.TrimSpace(strings.TrimLeft(source, "s:"))
		r := csv.NewReader(strings.NewReader(rest))
		r.Comment = '#'
		rows, err := r.ReadAll()
		if err != nil || len(rows) < 2 {
			t.Fatalf("%s: %v", file, err)
		}
		if rows[0][0] != "id" {
			continue // data that other files' checks are worked out from
		}
		seen := map[string]bool{}
		var ids []string
		for _, row := range rows[1:] {
			id := row[0]
			if m := family.FindStringSubmatch(id); m != nil {
				id = m[1]
			}
			if !seen[id] {
				seen[id] = true
				ids = append(ids, id)
			}
		}
		table.WriteString("| " + strings.Join(ids, " ") + " | " + filepath.Base(file) + " | " +
			strings.ReplaceAll(source, "|", "/") + " |\n")
	}
	path := filepath.Join("..", "..", "DEVELOPERS.md")
	guide, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	const begin, end = "<!-- published checks: made by go test ./cmd/setscrew -update -->\n",
		"<!-- end of published checks -->\n"
	before, rest, ok1 := strings.Cut(string(guide), begin)
	old, after, ok2 := strings.Cut(rest, end)
	if !ok1 || !ok2 {
		t.Fatal("DEVELOPERS.md has no place for the table of published checks")
	}
	if *update && old != table.String() {
		if err := os.WriteFile(path, []byte(before+begin+table.String()+end+after), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if old != table.String() {
		t.Error("the table of published checks in DEVELOPERS.md is not what the data give; -update writes it again")
	}
}
