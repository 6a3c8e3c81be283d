package store_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/store"
)

// names are the files of a folder.
func names(t *testing.T, folder string) (all []string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		all = append(all, e.Name())
	}
	return all
}

// A backup is made while the program goes on writing: it is one sound file that only its
// owner may read, of one moment, with all that was confirmed before it began.
func TestBackupWhileReportsComeIn(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path, folder := filepath.Join(dir, "shop.db"), filepath.Join(dir, "copies")
	copyPrepared(t, path)
	shop := use(t, path, store.MakeNone).Shop("one")
	stop, reported := make(chan struct{}), make(chan domain.FactNo, 1)
	var writing sync.WaitGroup
	writing.Go(func() {
		for n := 0; ; n++ {
			select {
			case <-stop:
				return
			default:
			}
			e := entry(fmt.Sprint("k", n), time.Hour, marble, domain.Hours{Seconds: 60})
			e.By, e.Sure = domain.PersonID(fmt.Sprint("p", n)), true // of whom each may report so much a minute
			outcome, err := shop.Report(ctx, e)
			if err != nil {
				t.Error(err)
				close(reported)
				return
			}
			select {
			case <-reported:
			default:
			}
			reported <- outcome.Fact.No
		}
	})
	for n := range 5 {
		least := <-reported
		copied, err := store.Backup(ctx, path, folder, start.Add(time.Duration(n)*time.Hour))
		if err != nil {
			t.Fatal(err)
		}
		info, err := os.Stat(copied.Path)
		if err != nil || info.Mode().Perm() != 0o600 || info.Size() != copied.Size {
			t.Errorf("%+v: %v, %v", copied, info, err)
		}
		of := use(t, copied.Path, store.MakeNone)
		if err := of.CheckPages(ctx); err != nil {
			t.Error(err)
		}
		if _, err := of.Shop("one").Fact(ctx, least); err != nil {
			t.Errorf("no. %d, confirmed before, is not in the copy: %v", least, err)
		}
		before := dump(t, copied.Path)
		if err := of.Shop("one").Rebuild(ctx); err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(before, dump(t, copied.Path)); d != "" {
			t.Errorf("the copy is of no one moment:\n%s", d)
		}
		if err := of.Close(); err != nil {
			t.Error(err)
		}
	}
	close(stop)
	writing.Wait()
	for _, name := range names(t, folder) {
		if strings.HasSuffix(name, ".part") {
			t.Errorf("left behind: %s", name)
		}
	}
	all, err := store.Copies(path, folder)
	if err != nil || len(all) != 5 || !all[0].Made.Equal(start.Add(4*time.Hour)) ||
		filepath.Base(all[0].Path) != "shop-20260302T120000Z.db" {
		t.Errorf("%+v, %v", all, err)
	}
}

// A copy that would not be sound, or that is given up, is not made.
func TestNoBackupOfDamage(t *testing.T) {
	t.Parallel()
	over, end := context.WithCancel(ctx)
	end()
	for _, test := range []struct {
		name string
		ctx  context.Context
		harm func(t *testing.T, path string)
		want store.Fault
	}{
		{"damaged", ctx, func(t *testing.T, path string) { overwrite(t, path, "fact_by") }, store.FileDamaged},
		{"altered", ctx, func(t *testing.T, path string) { damage(t, path, `DROP INDEX fact_by`) }, store.FileAltered},
		{"missing", ctx, func(t *testing.T, path string) { do(t, os.Remove(path)) }, store.FileMissing},
		{"given up", over, func(*testing.T, string) {}, ""},
	} {
		path := filepath.Join(t.TempDir(), "shop.db")
		copyPrepared(t, path)
		test.harm(t, path)
		_, err := store.Backup(test.ctx, path, store.BackupsOf(path), start)
		if test.want == "" {
			if !errors.Is(err, context.Canceled) {
				t.Errorf("%s: %v", test.name, err)
			}
		} else if got := faultOf(t, path, err); got != test.want {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
		if _, err := os.Stat(store.BackupsOf(path)); err == nil {
			if left := names(t, store.BackupsOf(path)); len(left) != 0 {
				t.Errorf("%s: left behind: %v", test.name, left)
			}
		}
	}
	// One that is there is not written over.
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	first, err := store.Backup(ctx, path, store.BackupsOf(path), start)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := store.Backup(ctx, path, store.BackupsOf(path), start); !errors.Is(err, os.ErrExist) {
		t.Errorf("%+v, %v", again, err)
	}
	if _, err := os.Stat(first.Path); err != nil {
		t.Error(err)
	}
}

// Of three years of nights the last of 7 days, 4 weeks and 12 months are kept; a long
// pause takes none of them; what is no backup of these books is left alone.
func TestBackupsAreThinned(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path := filepath.Join(dir, "shop.db")
	alone := []string{"notes.txt", "other-20260101T033000Z.db", "shop-20260101.db", "shop-20260101T033000Z.txt"}
	for _, name := range alone {
		put(t, filepath.Join(dir, name), "x")
	}
	night := time.Date(2024, 1, 1, 3, 30, 0, 0, time.UTC)
	last := time.Date(2026, 12, 31, 3, 30, 0, 0, time.UTC) // a Thursday
	for ; !night.After(last); night = night.AddDate(0, 0, 1) {
		put(t, filepath.Join(dir, "shop-"+night.Format("20060102T150405Z")+".db"), "x")
		if err := store.Thin(path, dir); err != nil {
			t.Fatal(err)
		}
	}
	kept := func() (days string) {
		all, err := store.Copies(path, dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, one := range all {
			days += one.Made.Format("060102 ")
		}
		return days
	}
	const want = "261231 261230 261229 261228 261227 261226 261225 261220 261213 261130 261031 260930 260831 260731 " +
		"260630 260531 260430 260331 260228 260131 "
	if got := kept(); got != want {
		t.Errorf("kept\n%s, want\n%s", got, want)
	}
	// After half a year without any, the next one takes the places of the oldest alone.
	put(t, filepath.Join(dir, "shop-20270701T033000Z.db"), "x")
	if err := store.Thin(path, dir); err != nil {
		t.Fatal(err)
	}
	if got := strings.Fields(kept()); len(got) != 18 || got[0] != "270701" || slices.Contains(got, "260131") ||
		!slices.Contains(got, "261220") {
		t.Errorf("after a pause: %v", got)
	}
	for _, name := range alone {
		if _, err := os.Stat(filepath.Join(dir, name)); err != nil {
			t.Errorf("%s is gone: %v", name, err)
		}
	}
}

// A backup is due once a night, also where the clock jumps that night, at once where there
// is none, and after a night that was missed.
func TestBackupDue(t *testing.T) {
	t.Parallel()
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	at := func(day, hour, minute int) time.Time { return time.Date(2026, 3, day, hour, minute, 0, 0, berlin) }
	for _, test := range []struct {
		last, now time.Time
		want      bool
	}{
		{time.Time{}, at(2, 12, 0), true},
		{at(2, 3, 30), at(2, 12, 0), false},
		{at(2, 3, 30), at(3, 3, 29), false},
		{at(2, 3, 30), at(3, 3, 30), true},
		{at(2, 12, 0), at(3, 3, 29), false},
		{at(2, 12, 0), at(3, 3, 31), true},
		{at(2, 3, 30), at(9, 20, 0), true},
		{at(3, 1, 0), at(3, 2, 0), false},
		{at(28, 3, 30), at(29, 1, 59), false}, // clocks go forward at two
		{at(28, 3, 30), at(29, 3, 30), true},
		{at(29, 3, 30), at(29, 3, 31), false},
	} {
		if got := store.BackupDue(test.last.UTC(), test.now.UTC(), berlin); got != test.want {
			t.Errorf("last %v, now %v: %v", test.last, test.now, got)
		}
	}
	of := []store.Copy{{Path: "ahead", Made: at(9, 0, 0)}, {Path: "last", Made: at(2, 0, 0)}, {Made: at(1, 0, 0)}}
	if last, ok := store.LastCopy(of, at(3, 0, 0)); !ok || last.Path != "last" {
		t.Errorf("the last is %+v, %v", last, ok)
	}
	if last, ok := store.LastCopy(of, at(1, 0, 0).Add(-time.Second)); ok {
		t.Errorf("before all of them: %+v", last)
	}
}
