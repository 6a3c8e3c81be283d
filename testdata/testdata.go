// Package testdata reads the values from outside the project that tests compare
// with.
package testdata

import (
	"embed"
	"encoding/csv"
	"strings"
	"testing"
)

//go:embed published/*.csv
var published embed.FS

// Published reads a table of published/NAME: its rows by column name. The first
// line of the file, a comment, names the source.
func Published(t testing.TB, name string) []map[string]string {
	t.Helper()
	text, err := published.ReadFile("published/" + name)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(string(text), "# ") || !strings.Contains(strings.SplitN(string(text), "\n", 2)[0], "ource") {
		t.Fatalf("%s names no source in its first line", name)
	}
	r := csv.NewReader(strings.NewReader(string(text)))
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 2 {
		t.Fatalf("%s has no rows", name)
	}
	var rows []map[string]string
	for _, rec := range all[1:] {
		row := map[string]string{}
		for i, v := range rec {
			row[all[0][i]] = v
		}
		rows = append(rows, row)
	}
	return rows
}
