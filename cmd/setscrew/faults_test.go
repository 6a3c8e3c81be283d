package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"database/sql"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"setscrew/bot/discordtest"
)

// tell notes for the guide's table what was read in a fault.
func (l *live) tell(who, text string) {
	l.t.Helper()
	text, _, _ = strings.Cut(text, "\n")
	l.t.Logf("%s reads: %s", who, text)
}

// wrote waits until the log has a text, and notes its line.
func (l *live) wrote(text string) {
	l.t.Helper()
	for l.ctx.Err() == nil {
		for line := range strings.Lines(l.log.String()) {
			if strings.Contains(line, text) {
				_, line, _ = strings.Cut(line, " level=")
				l.t.Logf("the operator reads: level=%s", strings.TrimSpace(line))
				return
			}
		}
		time.Sleep(20 * time.Millisecond)
	}
	l.t.Fatalf("the log lacks %q:\n%s", text, l.log.String())
}

// stands waits until the channel says a text.
func (l *live) stands(text string) {
	l.t.Helper()
	for l.ctx.Err() == nil {
		for _, m := range l.server.Messages(l.channel) {
			if strings.Contains(m.Content, text) {
				return
			}
		}
		time.Sleep(20 * time.Millisecond)
	}
	l.t.Fatalf("the channel lacks %q:\n%s", text, l.log.String())
}

// hours reports a minute of use.
func (l *live) hours() string {
	l.t.Helper()
	return l.says(l.ada, "hours", "machine", "Marble", "hours", "1 min", "sure", "yes")
}

// refuses holds that a report is not stored for a reason, that a danger stands in the channel
// all the same, and that both come right once the fault is mended.
func (l *live) refuses(reason string, mend func()) {
	l.t.Helper()
	said := l.hours()
	if !strings.Contains(said, "Nothing was stored: "+reason) {
		l.t.Errorf("hours: %s\n%s", said, l.log.String())
	}
	l.tell("the member", said)
	if said = l.says(l.ada, "problem", "machine", "Marble", "what", "smoke from the motor"); !strings.Contains(said,
		"Stop. Do not use Marble. NOT in the books") {
		l.t.Errorf("a danger: %s", said)
	}
	l.tell("who reports a danger", said)
	l.stands("Marble: do not use. NOT in the books.")
	l.wrote("a danger could not be stored")
	mend()
	l.stands("Marble is tagged out: do not use.")
	if said := l.hours(); !strings.Contains(said, "1 min logged") {
		l.t.Errorf("afterwards: %s", said)
	}
}

// stopped ends the program as its supervisor does.
func (l *live) stopped() {
	l.t.Helper()
	do(l.t, l.cmd.Process.Signal(syscall.SIGTERM))
	if status, took := l.ends(); status != exitOK || took > 10*time.Second {
		l.t.Errorf("%d after %v\n%s", status, took, l.log.String())
	}
}

// A disk that fills up keeps reports back, and no danger; once there is room again all goes
// on. A program that is started on a full disk says so by a status, and changes nothing.
func TestFaultFullDisk(t *testing.T) {
	t.Parallel()
	l := newLive(t)
	disk := t.TempDir()
	if err := syscall.Mount("none", disk, "tmpfs", 0, "size=80m"); err != nil {
		t.Skipf("no disk of a size of its own can be mounted here: %v", err)
	}
	t.Cleanup(func() { syscall.Unmount(disk, syscall.MNT_DETACH) }) //nolint:errcheck // it is gone with the machine
	text, err := os.ReadFile(l.db)
	do(t, err)
	l.db = filepath.Join(disk, "shop.db")
	do(t, os.WriteFile(l.db, text, 0o600))
	l.begin(exec.Command(buildProgram(t), "run", "--db", l.db))
	l.setUp()
	filler := filepath.Join(disk, "filler")
	fill := func() {
		file, err := os.Create(filler)
		do(t, err)
		for _, size := range []int{1 << 20, 4096, 1} {
			for err == nil {
				_, err = file.Write(make([]byte, size))
			}
			err = nil
		}
		do(t, file.Close())
	}
	fill()
	l.refuses("the disk that holds the books is full.", func() { do(t, os.Remove(filler)) })
	l.stopped()
	fill()
	status, out := ended(t, l.again())
	t.Logf("started on a full disk: status %d, %s", status, lastLine(out))
	if status != exitFailed || !strings.Contains(out, "setscrew: the disk that holds "+l.db+" is full. Make room") {
		t.Errorf("started on a full disk: %d\n%s", status, out)
	}
	do(t, os.Remove(filler))
	l.begin(l.again())
	do(t, l.server.UntilConnected(l.ctx, 2))
	if said := l.hours(); !strings.Contains(said, "1 min logged") {
		t.Errorf("with room again: %s", said)
	}
	l.stopped()
}

// lastLine is the last line of a text.
func lastLine(text string) string {
	lines := strings.Split(strings.TrimSpace(text), "\n")
	return lines[len(lines)-1]
}

// again is the command that starts the program once more.
func (l *live) again() *exec.Cmd {
	cmd := exec.Command(buildProgram(l.t), "run", "--db", l.db)
	cmd.Env = append(cleanEnv(), tokenVariable+"="+discordtest.Token, apiVariable+"="+l.server.URL())
	return cmd
}

// Where no file may grow past a size, the program goes on and says that nothing is stored;
// started without that limit it has all that it had confirmed.
func TestFaultFileSizeLimit(t *testing.T) {
	t.Parallel()
	l := newLive(t)
	info, err := os.Stat(l.db)
	do(t, err)
	limit := info.Size() + 400<<10
	l.begin(exec.Command("prlimit", fmt.Sprintf("--fsize=%d", limit), buildProgram(t), "run", "--db", l.db))
	l.setUp()
	confirmed := 0
	said := ""
	for count := range 400 {
		note := strings.Repeat("it hums a little louder than last week; ", 6)
		said = l.says(l.someone(count), "problem", "machine", "Marble", "what", fmt.Sprintf("hums tune %d", count),
			"note", note)
		if strings.Contains(said, "Nothing was stored") {
			break
		}
		if strings.Contains(said, "recorded, no.") {
			confirmed++
		}
	}
	if !strings.Contains(said, "Nothing was stored") {
		t.Fatalf("%d confirmed, and then: %s\n%s", confirmed, said, l.log.String())
	}
	l.tell("the member", said)
	l.wrote("request failed")
	l.stopped()
	l.begin(l.again())
	do(t, l.server.UntilConnected(l.ctx, 2))
	if said := l.hours(); !strings.Contains(said, "1 min logged") {
		t.Errorf("without the limit: %s", said)
	}
	l.stopped()
	var stored int64
	ask(t, l.db, &stored, `SELECT count(*) FROM fact WHERE kind = 'problem'`)
	t.Logf("%d confirmed, %d stored", confirmed, stored)
	if int(stored) != confirmed {
		t.Errorf("%d confirmed, %d stored", confirmed, stored)
	}
}

// someone is one member of many, so that nobody reports too much.
func (l *live) someone(n int) *discordtest.Member {
	name := fmt.Sprint("member", n/8)
	for _, m := range l.guild.Members {
		if m.Name == name {
			return m
		}
	}
	return l.server.AddMember(l.guild, name, 0)
}

// While another program locks the books, reports are refused and a danger is not; once it
// lets go all goes on.
func TestFaultLocked(t *testing.T) {
	t.Parallel()
	l := goLive(t, nil)
	l.setUp()
	other, err := sql.Open("sqlite3", "file:"+l.db+"?_txlock=immediate")
	do(t, err)
	defer other.Close()
	held, err := other.Begin()
	do(t, err)
	l.refuses("another program holds the books.", func() { do(t, held.Rollback()) })
	l.stopped()
}

// A file that took the books' name is not written to, nor is the old one any more.
func TestFaultReplaced(t *testing.T) {
	t.Parallel()
	l := goLive(t, nil)
	l.setUp()
	other := newBooks(t)
	before, err := os.ReadFile(other)
	do(t, err)
	do(t, os.Rename(l.db, l.db+".old"))
	do(t, os.Rename(other, l.db))
	l.refuses("the books' file was moved or replaced.", func() {
		after, err := os.ReadFile(l.db)
		do(t, err)
		if !bytes.Equal(before, after) {
			t.Error("the other file is written to")
		}
		do(t, os.Rename(l.db+".old", l.db))
	})
	l.stopped()
}

// A page that is damaged where nothing looks at the start is found by looking through all of
// the file: from then on no report is taken.
func TestFaultDamagedPage(t *testing.T) {
	t.Parallel()
	l := goLive(t, nil)
	l.setUp()
	l.stopped()
	spoil(t, l.db)
	l.begin(l.again())
	do(t, l.server.UntilConnected(l.ctx, 2))
	l.wrote("the books are not sound")
	said := l.hours()
	if !strings.Contains(said, "Nothing was stored: the books are damaged.") {
		t.Errorf("hours: %s", said)
	}
	l.tell("the member", said)
	said = l.says(l.wren, "shop check")
	if !strings.Contains(said, "The books are damaged, and no report is taken.") {
		t.Errorf("check: %s", said)
	}
	l.stopped()
}

// Books of the first schema are copied and brought up to date.
func TestFaultOlder(t *testing.T) {
	t.Parallel()
	l := newLive(t)
	packed, err := os.Open(filepath.Join("..", "..", "store", "testdata", "schemas", "0001.db.gz"))
	do(t, err)
	defer packed.Close()
	unpacked, err := gzip.NewReader(packed)
	do(t, err)
	text, err := io.ReadAll(unpacked)
	do(t, err)
	do(t, os.WriteFile(l.db, text, 0o600))
	l.begin(l.again())
	l.ready()
	l.wrote("msg=starting")
	copies, err := filepath.Glob(l.db + ".before-*")
	if err != nil || len(copies) != 1 {
		t.Errorf("copies from before: %v, %v", copies, err)
	}
	l.stopped()
}

// Without a network the program goes on trying, and ends when it is told to.
func TestFaultNoNetwork(t *testing.T) {
	t.Parallel()
	l := newLive(t)
	l.begin(exec.Command(buildProgram(t), "run", "--db", l.db), apiVariable+"=http://127.0.0.1:9")
	l.wrote(`msg="connecting failed"`)
	l.stopped()
}

// A channel that was deleted, or in which it may not post any more, is told to the operator
// once, to whoever hangs a tag and to stewards; once it is mended the notice stands.
func TestFaultChannel(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"deleted", "forbidden"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			l := goLive(t, nil)
			l.setUp()
			if name == "deleted" {
				l.server.DeleteChannel(l.channel)
				l.channel = l.server.AddChannel(l.guild, "another")
			} else {
				l.server.SetPermissions(l.channel, discordtest.AllPermissions&^discordtest.SendMessages)
			}
			said := l.says(l.ada, "tagout", "machine", "Marble", "reason", "loose")
			if !strings.Contains(said, "No notice says in the channel yet that Marble is tagged out") {
				t.Errorf("who hangs a tag: %s", said)
			}
			t.Logf("who hangs a tag reads: %s", lastLine(said))
			l.wrote("a notice could not be posted")
			said = l.says(l.wren, "due")
			if !strings.Contains(said, "Notices wait: ") {
				t.Errorf("a steward: %s", said)
			}
			t.Logf("the steward reads: %s", lastLine(said))
			if name == "deleted" {
				l.says(l.wren, "shop settings", "notices", l.channel.ID)
			} else {
				l.server.SetPermissions(l.channel, discordtest.AllPermissions)
			}
			l.stands("Marble is tagged out: do not use.")
			l.wrote("notices are posted again")
			if n := strings.Count(l.log.String(), "a notice could not be posted"); n != 1 {
				t.Errorf("told %d times:\n%s", n, l.log.String())
			}
			l.stopped()
		})
	}
}

// By a clock that is wrong by 400 days nothing falls due, nothing is taken out of service and
// no report is dated.
func TestFaultClock(t *testing.T) {
	t.Parallel()
	for _, apart := range []time.Duration{400 * 24 * time.Hour, -400 * 24 * time.Hour} {
		t.Run(apart.String(), func(t *testing.T) {
			t.Parallel()
			l := goLive(t, nil)
			l.setUp()
			l.stopped()
			l.begin(exec.Command(aheadProgram, l.db, apart.String()))
			do(t, l.server.UntilConnected(l.ctx, 2))
			l.wrote("this machine's clock is wrong")
			said := l.hours()
			if !strings.Contains(said, "1 min logged") {
				t.Errorf("hours: %s", said)
			}
			l.tell("the member", said)
			said = l.says(l.wren, "shop check")
			if !strings.Contains(said, "The clock of Setscrew's machine is wrong") {
				t.Errorf("check: %s", said)
			}
			l.stopped()
			var wrong, posts int64
			ask(t, l.db, &wrong, fmt.Sprintf(`SELECT count(*) FROM fact WHERE abs(recorded - %d) > 3600000`,
				l.server.Now().UnixMilli()))
			ask(t, l.db, &posts, `SELECT count(*) FROM outbox WHERE topic IN ('due', 'digest')`)
			t.Logf("%d reports are dated wrong, %d notices of what is due", wrong, posts)
			if wrong != 0 || posts != 0 {
				t.Errorf("%d reports are dated wrong, %d notices of what is due", wrong, posts)
			}
		})
	}
}

// Told to stop while many report at once, the program ends within ten seconds, and all that it
// confirmed is in the books, once.
func TestFaultStoppedInABurst(t *testing.T) {
	t.Parallel()
	l := goLive(t, nil)
	l.setUp()
	const burst = 60
	var confirmed atomic.Int64
	var wait sync.WaitGroup
	ctx, stop := context.WithTimeout(l.ctx, 8*time.Second)
	defer stop()
	for n := range burst {
		i, err := l.server.Slash(l.guild, l.channel, l.someone(n*8), "hours",
			map[string]string{"machine": "Marble", "hours": "1 min", "sure": "yes"})
		do(t, err)
		wait.Go(func() {
			if reply, err := i.Wait(ctx); err == nil && strings.Contains(reply.Content, "1 min logged") {
				confirmed.Add(1)
			}
		})
		if n == burst/2 {
			do(t, l.cmd.Process.Signal(syscall.SIGTERM))
		}
	}
	status, took := l.ends()
	time.AfterFunc(300*time.Millisecond, stop)
	wait.Wait()
	var stored int64
	ask(t, l.db, &stored, `SELECT count(*) FROM fact WHERE kind = 'hours'`)
	t.Logf("%d sent, %d confirmed, %d stored; ended after %v", burst, confirmed.Load(), stored,
		took.Round(time.Millisecond))
	if status != exitOK || took > 10*time.Second || stored < confirmed.Load() || stored > burst {
		t.Errorf("status %d; %d confirmed, %d stored, %d sent\n%s", status, confirmed.Load(), stored, burst,
			l.log.String())
	}
}
