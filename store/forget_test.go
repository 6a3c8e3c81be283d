package store_test

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/store"
)

// gone is the account that is forgotten in these tests.
const gone domain.PersonID = "918273645501928374"

// ofTheirs is a report by somebody.
func ofTheirs(p domain.PersonID, e domain.Entry) domain.Entry {
	e.By, e.For = p, p
	return e
}

// rebuilt reports how deriving everything again differs from what is derived.
func rebuilt(t *testing.T, db *store.DB, path string, shop domain.ShopID) string {
	t.Helper()
	before := dump(t, path)
	do(t, db.Shop(shop).Rebuild(ctx))
	return cmp.Diff(before, dump(t, path))
}

// holds reports whether a file, with what lies beside it, holds a text anywhere.
func holds(t *testing.T, path, text string) bool {
	t.Helper()
	for _, end := range []string{"", "-wal"} {
		file, err := os.ReadFile(path + end)
		if err != nil && !os.IsNotExist(err) {
			t.Fatal(err)
		}
		if bytes.Contains(file, []byte(text)) {
			return true
		}
	}
	return false
}

// written are books in which a person stands wherever one can.
func written(t *testing.T) (path string, db *store.DB) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db = open(t, path)
	shop := db.Shop("one")
	n := 0
	say := func(m domain.MachineID, e domain.Body) domain.Outcome {
		t.Helper()
		n++
		given := ofTheirs(gone, entry("said "+string(rune('a'+n)), time.Duration(n)*time.Hour, m, e))
		given.Steward = true
		given.Typed = `/test for:"` + string(gone) + `" note:"<@` + string(gone) + `>"`
		return report(t, shop, given)
	}
	say(marble, domain.Hours{Seconds: 60})
	say(marble, domain.ServiceDone{Service: "bushings", Note: "with <@" + string(gone) + "> and <@!" + string(gone) +
		">"})
	say(marble, smoke)
	say(marble, hangsTag)
	set := domain.NewShop("one")
	set.Name, set.Call = "Quarry", gone
	say(0, domain.ShopSet{Shop: set})
	set.Call = ""
	say(0, domain.ShopSet{Shop: set})
	say(0, domain.AwaySet{Away: domain.Away{Person: "wren", From: "2026-03-03", Until: "2026-03-04", Deputy: gone}})
	machine := snapshot(t, shop, marble).Machine
	say(marble, domain.SetupChanged{Item: domain.CheckItem.Of("infeed"),
		Setup: machine.Setup.With(domain.CheckItem.Of("infeed"), gone, start, nil)})
	do(t, shop.Keep(ctx, domain.Pending{ID: "p", Action: "again", Args: []byte(`{"options":{"for":"` + string(gone) +
		`"}}`), Asked: "ada", Made: start, Expires: start.Add(999 * time.Hour)},
		domain.Pending{ID: "q", Action: "again", Args: []byte(`{}`), Asked: "ada", Made: start,
			Expires: start.Add(999 * time.Hour)}))
	do(t, shop.NoteSteward(ctx, gone, "stewards", start))
	return path, db
}

// later is after the days away, and long after somebody acted as a steward.
var later = start.Add(40 * 24 * time.Hour)

// Who is forgotten stands nowhere any more, not even in what is left over in the file; an
// id of their own stands in its place everywhere, so that their reports are still one
// person's, and all that is derived is as the facts have it.
func TestForget(t *testing.T) {
	t.Parallel()
	path, db := written(t)
	shop := db.Shop("one")
	elsewhere := ofTheirs(gone, entry("elsewhere", 0, 0, domain.ShopSet{Shop: domain.NewShop("two")}))
	report(t, db.Shop("two"), elsewhere)
	want, err := shop.Forgettable(ctx, gone, later)
	if err != nil || want.Reports != 8 || len(want.Kept) != 0 {
		t.Fatalf("%+v, %v", want, err)
	}
	before := dump(t, path)
	// What is read before is kept in memory.
	if hung := snapshot(t, shop, marble).Tags; !slices.ContainsFunc(hung, func(tag domain.Tag) bool {
		return tag.By == gone
	}) {
		t.Fatalf("none of %+v is theirs", hung)
	}
	got, err := shop.Forget(ctx, gone, gone, "", "press", later)
	if d := cmp.Diff(want, got); d != "" || err != nil {
		t.Fatalf("%v (-said before +done):\n%s", err, d)
	}
	all := dump(t, path)
	former := ""
	for table, rows := range all { // any order
		for _, row := range rows {
			if strings.Contains(row, string(gone)) && !strings.HasPrefix(row, "two") {
				t.Errorf("%s: %s", table, row)
			}
			if i := strings.Index(row, "former-"); i >= 0 {
				id := row[i : i+len("former-")+8]
				if former == "" {
					former = id
				}
				if id != former {
					t.Errorf("%s and %s are one person", id, former)
				}
			}
		}
		if len(rows) != len(before[table]) && table != "pending" && table != "steward" {
			t.Errorf("%s has %d rows, had %d", table, len(rows), len(before[table]))
		}
	}
	if len(all["pending"]) != 1 || len(all["steward"]) != 0 || len(all["forgetting"]) != 0 {
		t.Errorf("%v %v %v", all["pending"], all["steward"], all["forgetting"])
	}
	tags := snapshot(t, shop, marble).Tags
	if len(tags) == 0 || !slices.ContainsFunc(tags, func(tag domain.Tag) bool { return string(tag.By) == former }) {
		t.Errorf("tags %+v, want one by %s", tags, former)
	}
	if d := rebuilt(t, db, path, "one"); d != "" {
		t.Errorf("derived again:\n%s", d)
	}
	list, err := os.ReadFile(store.ForgottenOf(path))
	if err != nil || strings.Contains(string(list), string(gone)) || strings.Count(string(list), "\n") != 1 {
		t.Errorf("%s, %v", list, err)
	}
	if info, err := os.Stat(store.ForgottenOf(path)); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info, err)
	}
	// Nothing is left over in the file, once the other shop has forgotten them too.
	if _, err := db.Shop("two").Forget(ctx, gone, gone, "", "press", later); err != nil {
		t.Fatal(err)
	}
	do(t, db.Close())
	if holds(t, path, string(gone)) {
		t.Error("it stands in the file still")
	}
	// Exports, and CSV files, tell of a former member.
	if text := exported(t, path, "one"); strings.Contains(text, string(gone)) || !strings.Contains(text, former) {
		t.Error("the export names them")
	}
	folder := filepath.Join(t.TempDir(), "sheets")
	if _, err := store.ExportCSV(ctx, path, "one", folder); err != nil {
		t.Fatal(err)
	}
	if got := cellOf(t, rowsOf(t, folder, "tags"), "by"); got != "a former member ("+former[len("former-"):]+")" {
		t.Errorf("CSV: by %q", got)
	}
}

// What must stay stays, and is told; once something takes its place the rest follows by
// itself. What somebody reports later is theirs.
func TestForgetKeeps(t *testing.T) {
	t.Parallel()
	path, db := written(t)
	shop := db.Shop("one")
	during := start.Add(24*time.Hour + 30*time.Minute)
	lock := domain.TagOut{Reason: domain.Reason{Code: domain.LockOn, Text: "knives"}}
	hung := report(t, shop, ofTheirs(gone, entry("lock", 24*time.Hour, marble, lock))).Fact.No
	set := domain.NewShop("one")
	set.Call = gone
	report(t, shop, entry("called", 24*time.Hour, 0, domain.ShopSet{Shop: set}))
	got, err := shop.Forget(ctx, gone, gone, "", "press", during)
	want := []domain.Kept{{For: domain.KeptLock, Machine: "Marble", Fact: hung}, {For: domain.KeptCalled},
		{For: domain.KeptAway}, {For: domain.KeptSteward}}
	if d := cmp.Diff(want, got.Kept); d != "" || err != nil || got.Reports != 8 {
		t.Fatalf("%v, %d\n%s", err, got.Reports, d)
	}
	standing := func() (all []string) {
		for _, row := range dump(t, path)["fact"] {
			if strings.Contains(row, string(gone)) {
				all = append(all, row)
			}
		}
		return all
	}
	if d := rebuilt(t, db, path, "one"); d != "" {
		t.Errorf("derived again:\n%s", d)
	}
	if locks := domain.Assess(snapshot(t, shop, marble), during).Locks(); len(locks) != 1 || locks[0].By != gone {
		t.Errorf("locks %+v", locks)
	}
	if settings, err := shop.Shop(ctx); err != nil || settings.Call != gone {
		t.Errorf("called: %+v, %v", settings, err)
	}
	// The lock alone is theirs of the reports; the settings name them.
	for _, row := range standing() {
		if !strings.Contains(row, "tag-out") && !strings.Contains(row, "shop") && !strings.Contains(row, "away") {
			t.Errorf("stays: %s", row)
		}
	}
	if again := exported(t, path, "one"); !strings.Contains(again, `{"table":"forgetting"`) {
		t.Error("an export does not say that there is something to go on with")
	}
	if len(dump(t, path)["steward"]) != 1 {
		t.Error("what takes two counts on no other steward")
	}
	// Nothing has changed: nothing is done. Then each ends.
	do(t, db.GoOnForgetting(ctx, during.Add(time.Minute)))
	report(t, shop, ofTheirs(gone, entry("off", 25*time.Hour, marble, domain.LockOff{Tag: hung})))
	report(t, shop, ofTheirs(gone, entry("theirs", 26*time.Hour, marble, domain.Hours{Seconds: 7})))
	set.Name = "still called"
	report(t, shop, entry("still called", 26*time.Hour, 0, domain.ShopSet{Shop: set}))
	set.Call = "bo"
	report(t, shop, entry("called no more", 27*time.Hour, 0, domain.ShopSet{Shop: set}))
	do(t, db.GoOnForgetting(ctx, start.Add(28*time.Hour)))
	if len(dump(t, path)["forgetting"]) != 1 {
		t.Errorf("the days away are not over: %v", dump(t, path)["forgetting"])
	}
	do(t, db.GoOnForgetting(ctx, later))
	if left := dump(t, path)["forgetting"]; len(left) != 0 {
		t.Errorf("goes on for ever: %v", left)
	}
	if rows := standing(); len(rows) != 2 || !strings.Contains(rows[0]+rows[1], "lock-off") ||
		!strings.Contains(rows[0]+rows[1], "hours") {
		t.Errorf("what was reported later is theirs, nothing else: %s", strings.Join(rows, "\n"))
	}
	if d := rebuilt(t, db, path, "one"); d != "" {
		t.Errorf("derived again:\n%s", d)
	}
}

// Who was forgotten is forgotten again in an older copy and in an older export, by the list
// beside the books, until when they were.
func TestForgottenAgain(t *testing.T) {
	t.Parallel()
	path, db := written(t)
	older := exported(t, path, "")
	made, err := store.Backup(ctx, path, store.BackupsOf(path), start)
	do(t, err)
	_, err = db.Shop("one").Forget(ctx, gone, gone, "", "press", later)
	do(t, err)
	report(t, db.Shop("one"), ofTheirs(gone, entry("back", 1000*time.Hour, marble, domain.Hours{Seconds: 1})))
	newer := exported(t, path, "")
	do(t, db.Close())
	former := dump(t, path)["fact"]
	done, err := store.Restore(ctx, made.Path, path, later.Add(time.Hour))
	if err != nil || done.Forgotten != 1 {
		t.Fatalf("%+v, %v", done, err)
	}
	if holds(t, path, string(gone)) {
		t.Error("restored: it stands in the file")
	}
	if got := dump(t, path)["fact"]; !slices.ContainsFunc(got, func(row string) bool {
		return slices.Contains(former, row) && strings.Contains(row, "former-")
	}) {
		t.Error("restored: not under the id that they had")
	}
	// An export into other books, with the list that lies beside these.
	for _, test := range []struct {
		text string
		want bool // the report that came later
	}{{older, false}, {newer, true}} {
		into := filepath.Join(t.TempDir(), "new.db")
		got, err := store.Import(ctx, strings.NewReader(test.text), into, store.ForgottenOf(path), later)
		if err != nil || got.Forgotten != 1 {
			t.Fatalf("%+v, %v", got, err)
		}
		if holds(t, into, string(gone)) != test.want {
			t.Errorf("imported: it stands there %v", !test.want)
		}
		if _, err := os.Stat(store.ForgottenOf(into)); err != nil {
			t.Errorf("the list does not go with them: %v", err)
		}
		if d := rebuilt(t, open(t, into), into, "one"); d != "" {
			t.Errorf("derived again:\n%s", d)
		}
	}
	// Forgotten twice, by one id: until the later time.
	again := open(t, path)
	var refused *domain.Refusal
	if _, err := again.Shop("one").Forget(ctx, gone, gone, "", "press",
		later.Add(23*time.Hour)); !errors.As(err, &refused) ||
		refused.Code != domain.ForgottenLately || !refused.At.Equal(later.Add(24*time.Hour)) {
		t.Errorf("again within a day: %v", err)
	}
	_, err = again.Shop("one").Forget(ctx, gone, gone, "", "press", start.Add(1300*time.Hour))
	do(t, err)
	list, err := os.ReadFile(store.ForgottenOf(path))
	do(t, err)
	lines := strings.SplitAfter(string(list), "\n")
	if len(lines) != 3 || lines[0][:150] != lines[1][:150] {
		t.Errorf("the list: %q", lines)
	}
	into := filepath.Join(t.TempDir(), "new.db")
	if _, err := store.Import(ctx, strings.NewReader(newer), into, store.ForgottenOf(path), later); err != nil ||
		holds(t, into, string(gone)) {
		t.Errorf("forgotten twice: %v, or it stands there", err)
	}
	// A list that is none is not passed over.
	do(t, os.WriteFile(store.ForgottenOf(path), []byte("hours of the planer\n"), 0o600))
	if _, err := store.Restore(ctx, made.Path, path, later.Add(2*time.Hour)); err == nil ||
		!strings.Contains(err.Error(), ".forgotten, line 1, is none of ours") {
		t.Errorf("a list that is none: %v", err)
	}
	if _, err := store.Import(ctx, strings.NewReader(older), path+"x", path+".none", later); err == nil {
		t.Error("a list that is not there is passed over")
	}
}

// Who had another forgotten is on record, and stays so as a former member once they are
// forgotten too; whoever has themselves forgotten is on no such record. What was kept to
// tell somebody goes with them.
func TestForgottenByAnother(t *testing.T) {
	t.Parallel()
	path, db := written(t)
	shop := db.Shop("one")
	do(t, db.KeepUnseen(ctx, domain.Unseen{Shop: "one", Person: gone, Said: "logged", At: later}))
	do(t, shop.NoteTold(ctx, gone, "pins", later))
	_, err := shop.Forget(ctx, gone, "wren", "", "press", later)
	do(t, err)
	all := dump(t, path)
	if len(all["unseen"]) != 0 || len(all["told"]) != 0 {
		t.Errorf("kept: %v, %v", all["unseen"], all["told"])
	}
	if rows := all["forgot"]; len(rows) != 1 || !strings.Contains(rows[0], "wren") ||
		!strings.Contains(rows[0], "former-") {
		t.Errorf("recorded: %v", rows)
	}
	_, err = shop.Forget(ctx, "wren", "wren", "", "press of wren", later.Add(time.Minute))
	do(t, err)
	rows := dump(t, path)["forgot"]
	if len(rows) != 1 || strings.Contains(rows[0], "wren") || strings.Count(rows[0], "former-") != 2 {
		t.Errorf("afterwards: %v", rows)
	}
}
