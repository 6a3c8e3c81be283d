package main

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"setscrew/bot/discordtest"
	"setscrew/store"
)

// ended runs the real binary until it ends, and says with what and what it wrote.
func ended(t *testing.T, cmd *exec.Cmd) (status int, out string) {
	t.Helper()
	text, err := cmd.CombinedOutput()
	var with *exec.ExitError
	if err != nil && !errors.As(err, &with) {
		t.Fatal(err)
	}
	return cmd.ProcessState.ExitCode(), string(text)
}

// answering is the real binary that is to answer from books; what it asks of Discord leads
// nowhere.
func answering(t *testing.T, db string, more ...string) *exec.Cmd {
	t.Helper()
	cmd := exec.Command(buildProgram(t), append([]string{"run", "--db", db}, more...)...)
	cmd.Env = append(cleanEnv(), tokenVariable+"=x", apiVariable+"=http://127.0.0.1:9")
	return cmd
}

// newBooks are empty books.
func newBooks(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "shop.db")
	db, err := store.Use(context.Background(), path, store.ForBooks, store.MakeNew)
	if err == nil {
		err = db.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// onFile runs SQL on a file past the program.
func onFile(t *testing.T, path, query string) {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+path)
	if err == nil {
		_, err = db.Exec(query)
		err = errors.Join(err, db.Close())
	}
	if err != nil {
		t.Fatal(err)
	}
}

// do fails a test whose preparation failed.
func do(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// ask reads one number from a file past the program.
func ask(t *testing.T, path string, to *int64, query string) {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+path+"?mode=ro")
	if err == nil {
		err = db.QueryRow(query).Scan(to)
		err = errors.Join(err, db.Close())
	}
	if err != nil {
		t.Fatal(err)
	}
}

// Each way in which books are of no use ends the program with its own sentence and a
// status, both of which the guide and the help list.
func TestRunEndsByItsBooks(t *testing.T) {
	t.Parallel()
	guide, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	help, err := exec.Command(buildProgram(t), "--help").Output()
	if err != nil {
		t.Fatal(err)
	}
	write := func(text string) func(*testing.T, string) {
		return func(t *testing.T, path string) {
			if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, test := range []struct {
		name   string
		harm   func(*testing.T, string)
		status int
		want   string
	}{
		{"missing", func(t *testing.T, path string) { do(t, os.Remove(path)) }, exitMissing, "there are no books at "},
		{"empty", write(""), exitDamaged, " is empty, and holds no books"},
		{"short", func(t *testing.T, path string) {
			info, err := os.Stat(path)
			if err == nil {
				err = os.Truncate(path, info.Size()/2)
			}
			if err != nil {
				t.Fatal(err)
			}
		}, exitDamaged, " is cut short"},
		{"newer", func(t *testing.T, path string) {
			onFile(t, path, `INSERT INTO goose_db_version (version_id, is_applied, tstamp)
				VALUES (9999, 1, '2026-01-01')`)
		}, exitNewer, " was written by a later version"},
		{"altered", func(t *testing.T, path string) { onFile(t, path, `DROP INDEX tag_standing`) }, exitDamaged,
			"is not as Setscrew made it"},
		{"foreign", write("hours of the planer\n"), exitNotBooks, "is no file of Setscrew's"},
		{"held", func(t *testing.T, path string) {
			db, err := store.Use(context.Background(), path, store.ForBooks, store.MakeNone)
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { db.Close() })
		}, exitHeld, "another program works on "},
	} {
		path := newBooks(t)
		test.harm(t, path)
		status, out := ended(t, answering(t, path))
		if status != test.status || !strings.Contains(out, "setscrew: ") || !strings.Contains(out, test.want) ||
			strings.Contains(out, "panic") {
			t.Errorf("%s: %d\n%s\nwant %d, %q", test.name, status, out, test.status, test.want)
		}
		if row := fmt.Sprintf("| %d |", test.status); !strings.Contains(string(guide), row) {
			t.Errorf("README lacks status %d", test.status)
		}
		if !regexp.MustCompile(fmt.Sprintf(`\b%d\b`, test.status)).Match(help) {
			t.Errorf("--help lacks status %d", test.status)
		}
	}
}

// A user who may not write the books is told so, be it the file or its folder.
func TestRunWithoutPermission(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"the file", "its folder"} {
		path := newBooks(t)
		dir := filepath.Dir(path)
		cmd := answering(t, path)
		// As somebody else, whose books they are but for one of both.
		if os.Getuid() == 0 {
			const nobody = 65534
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
			for _, open := range []string{binaries, filepath.Dir(dir), dir} {
				if err := os.Chmod(open, 0o755); err != nil {
					t.Fatal(err)
				}
			}
			for _, owned := range []string{dir, path, path + ".lock"} {
				if err := os.Chown(owned, nobody, nobody); err != nil {
					t.Fatal(err)
				}
			}
		}
		if name == "the file" {
			if err := os.Chmod(path, 0o400); err != nil {
				t.Fatal(err)
			}
		} else {
			do(t, os.Remove(path+".lock"))
			if err := os.Chmod(dir, 0o500); err != nil {
				t.Fatal(err)
			}
		}
		status, out := ended(t, cmd)
		if status != exitForbidden || !strings.Contains(out, "cannot be read and written by the user who runs ") {
			t.Errorf("%s: %d\n%s", name, status, out)
		}
		do(t, os.Chmod(dir, 0o700))
	}
}

// A file whose permissions would let others read the books, or the token, is warned of;
// the log says which books were opened, in full, and what was found in them.
func TestRunSaysWhatItOpened(t *testing.T) {
	t.Parallel()
	server := discordtest.New()
	defer server.Close()
	path := newBooks(t)
	token := filepath.Join(t.TempDir(), "token")
	if err := os.WriteFile(token, []byte(discordtest.Token), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(os.Chmod(token, 0o644), os.Chmod(path, 0o644)); err != nil {
		t.Fatal(err)
	}
	var log strings.Builder // read once the program has ended
	cmd := exec.Command(buildProgram(t), "run", "--db", filepath.Base(path))
	cmd.Dir = filepath.Dir(path)
	cmd.Env = append(cleanEnv(), tokenFileVariable+"="+token, apiVariable+"="+server.URL())
	cmd.Stderr = &log
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	p := &program{cmd, make(chan error, 1)}
	go func() { p.done <- cmd.Wait() }()
	ctx, stop := context.WithTimeout(context.Background(), 20*time.Second)
	defer stop()
	connected := server.UntilConnected(ctx, 1)
	p.stop(t)
	if connected != nil {
		t.Errorf("%v\n%s", connected, log.String())
	}
	for _, want := range []string{
		`level=WARN msg="others on this machine may read the token: chmod 600 its file" file=` + token,
		`level=WARN msg="others on this machine could read the books, and no longer can" books=` + path,
		`level=INFO msg=starting books=` + path + ` shops=0 machines=0 tags=0`,
	} {
		if !strings.Contains(log.String(), want) {
			t.Errorf("the log lacks %q:\n%s", want, log.String())
		}
	}
}
