package main

import (
	"context"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// heardBy lists what comes at a socket, until it is closed.
func heardBy(t *testing.T, name string) <-chan string {
	t.Helper()
	conn, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: name, Net: "unixgram"})
	do(t, err)
	t.Cleanup(func() { conn.Close() })
	heard := make(chan string, 100)
	go func() {
		text := make([]byte, 4096)
		for {
			n, err := conn.Read(text)
			if err != nil {
				close(heard)
				return
			}
			heard <- string(text[:n])
		}
	}()
	return heard
}

// The real program tells its supervisor when it works, again and again that it does, and
// when it stops.
func TestTellsItsSupervisor(t *testing.T) {
	t.Parallel()
	socket := filepath.Join(t.TempDir(), "notify")
	heard := heardBy(t, socket)
	live := goLive(t, nil, "NOTIFY_SOCKET="+socket, "WATCHDOG_USEC=200000")
	next := func(want string) {
		t.Helper()
		for {
			select {
			case got := <-heard:
				if slices.Contains(strings.Split(got, "\n"), want) {
					return
				}
			case <-time.After(20 * time.Second):
				t.Fatalf("not told %s\n%s", want, live.log.String())
			}
		}
	}
	if first := <-heard; first != "READY=1\nSTATUS=connecting to Discord" {
		t.Errorf("told first: %q", first)
	}
	live.ready()
	next("WATCHDOG=1")
	next("STATUS=connected to Discord")
	live.server.CloseConnections(1001)
	next("STATUS=not connected to Discord")
	do(t, live.cmd.Process.Signal(syscall.SIGTERM))
	next("STOPPING=1")
	if status, _ := live.ends(); status != exitOK {
		t.Errorf("ended with %d", status)
	}
}

// Without a supervisor nothing is told; one may listen at a name that is no file's, and may
// want to hear of another process.
func TestFindSupervisor(t *testing.T) {
	t.Parallel()
	find := func(pairs ...string) supervisor {
		return findSupervisor(func(name string) string {
			for pair := range slices.Chunk(pairs, 2) {
				if pair[0] == name {
					return pair[1]
				}
			}
			return ""
		})
	}
	if s := find(); s.every != 0 || s.tell("READY=1") != nil {
		t.Errorf("nobody: %+v", s)
	}
	if s := find("WATCHDOG_USEC", "5000000", "WATCHDOG_PID", strconv.Itoa(os.Getpid())); s.every != 5*time.Second {
		t.Errorf("every %v, want 5 s", s.every)
	}
	for _, pairs := range [][]string{{"WATCHDOG_USEC", "5000000", "WATCHDOG_PID", "1"}, {"WATCHDOG_USEC", "soon"},
		{"WATCHDOG_USEC", "-1"}} {
		if s := find(pairs...); s.every != 0 {
			t.Errorf("%q: every %v", pairs, s.every)
		}
	}
	if err := find("NOTIFY_SOCKET", filepath.Join(t.TempDir(), "none")).tell("READY=1"); err == nil {
		t.Error("told nobody, without a word")
	}
	name := "@setscrew-" + strconv.Itoa(os.Getpid())
	heard := heardBy(t, name)
	do(t, find("NOTIFY_SOCKET", name).tell("READY=1"))
	if got := <-heard; got != "READY=1" {
		t.Errorf("told %q", got)
	}
}

// The watchdog is told nothing once the jobs of each minute stay away.
func TestPulse(t *testing.T) {
	t.Parallel()
	heart, now := &pulse{}, time.Unix(1e9, 0)
	heart.beat(now)
	if !heart.beats(now.Add(stillFor-1)) || heart.beats(now.Add(stillFor)) {
		t.Error("the pulse is wrong")
	}
	socket := filepath.Join(t.TempDir(), "notify")
	heard := heardBy(t, socket)
	ctx, stop := context.WithTimeout(context.Background(), 300*time.Millisecond)
	defer stop()
	supervisor{socket, 20 * time.Millisecond}.keepTelling(ctx, heart, func() string { return "" })
	if len(heard) > 0 {
		t.Errorf("told %q while nothing beats", <-heard)
	}
}
