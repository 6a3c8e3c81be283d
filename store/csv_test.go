package store_test

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
	"setscrew/store"
)

// rowsOf are a CSV file's lines; it must be as RFC 4180 has it.
func rowsOf(t *testing.T, folder, name string) [][]string {
	t.Helper()
	file, err := os.ReadFile(filepath.Join(folder, name+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	if strings.Count(string(file), "\n") != strings.Count(string(file), "\r\n") {
		t.Errorf("%s: lines that do not end with CR LF", name)
	}
	rows, err := csv.NewReader(strings.NewReader(string(file))).ReadAll()
	if err != nil || len(rows) < 1 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	return rows
}

// cellOf is the cell of the last line of a file under a column's name.
func cellOf(t *testing.T, rows [][]string, column string) string {
	t.Helper()
	i := slices.Index(rows[0], column)
	if i < 0 {
		t.Fatalf("no column %s in %v", column, rows[0])
	}
	return rows[len(rows)-1][i]
}

// What people wrote is never a formula, whatever it begins with; numbers stay numbers, also
// negative ones; times are in the shop's zone; an account's number is no number.
func TestCSV(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db := open(t, path)
	shop := db.Shop("one")
	report(t, shop, entry("settings", time.Hour, 0, domain.ShopSet{Shop: domain.Shop{Name: "Quarry",
		Zone: "America/New_York", Units: quantity.Imperial}}))
	for i, name := range []string{"=1+2", "+1", "-1", "@sum", "\tx", "\rx", "\nx",
		"plain, \"quoted\"\r\nand more", "é"} {
		after := time.Duration(i+2) * time.Hour
		e := entry(name, after, marble, domain.Problem{Name: name, Note: name})
		e.By, e.Typed = "1234567890123456789", name
		report(t, shop, e)
		folder := filepath.Join(t.TempDir(), "sheets")
		if _, err := store.ExportCSV(ctx, path, "", folder); err != nil {
			t.Fatal(err)
		}
		want := name
		if i < 7 {
			want = "'" + name
		}
		// The reader of the test makes one character of an end of line.
		want = strings.ReplaceAll(strings.ReplaceAll(want, "\r\n", "\n"), "\r", "")
		problems, reports := rowsOf(t, folder, "problems"), rowsOf(t, folder, "reports")
		for _, got := range []string{cellOf(t, problems, "problem"), cellOf(t, problems, "note"),
			cellOf(t, reports, "typed")} {
			if strings.ReplaceAll(got, "\r", "") != want {
				t.Errorf("%q: %q, want %q", name, got, want)
			}
		}
		if got := cellOf(t, problems, "by"); got != "account 1234567890123456789" {
			t.Errorf("by %s", got)
		}
		want = start.Add(after).In(newYork(t)).Format(time.RFC3339)
		if got := cellOf(t, problems, "happened"); got != want || !strings.HasSuffix(got, "-05:00") {
			t.Errorf("happened %s, want %s", got, want)
		}
	}
	read := infeed(t, shop, marble, 40)
	read.Values[0].Repeats = []quantity.Value{quantity.New(-3, 1, quantity.Thou), quantity.New(1, 3, quantity.Thou)}
	report(t, shop, entry("read", 20*time.Hour, marble, read))
	report(t, shop, entry("hours", 21*time.Hour, marble, domain.Hours{Seconds: 5400}))
	folder := filepath.Join(t.TempDir(), "sheets")
	done, err := store.ExportCSV(ctx, path, "one", folder)
	if err != nil || done.Shops != 1 || done.Facts != len(dump(t, path)["fact"]) {
		t.Fatalf("%+v, %v", done, err)
	}
	readings := rowsOf(t, folder, "readings")
	last := len(readings) - 2 // before the other position's
	value, unit := slices.Index(readings[0], "value"), slices.Index(readings[0], "unit")
	got := []string{readings[last-1][value], readings[last-1][unit], readings[last][value]}
	if !slices.Equal(got, []string{"-3", "thou", "0.333333333"}) && !slices.Equal(got,
		[]string{"-0.003", "in", "0.000333333"}) {
		t.Errorf("readings %v", got)
	}
	if got := cellOf(t, rowsOf(t, folder, "hours"), "used (h)"); got != "1.5" {
		t.Errorf("hours %s", got)
	}
	for _, name := range []string{"machines", "inspections", "services", "tags"} {
		rowsOf(t, folder, name)
	}
	// What is there is left as it is.
	if _, err := store.ExportCSV(ctx, path, "", folder); err == nil ||
		!strings.Contains(err.Error(), "there is something at") {
		t.Errorf("into a folder that is there: %v", err)
	}
	if left := names(t, filepath.Dir(folder)); !slices.Equal(left, []string{"sheets"}) {
		t.Errorf("left behind: %v", left)
	}
}

func newYork(t *testing.T) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	return zone
}
