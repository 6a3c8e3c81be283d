package main

import (
	"os/exec"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"setscrew/bot/discordtest"
)

// Each way to tell the program to stop ends it with nothing to complain of, and within ten
// seconds even where an answer hangs: the supervisor kills it after as long.
func TestToldToStop(t *testing.T) {
	t.Parallel()
	for _, how := range []syscall.Signal{syscall.SIGTERM, syscall.SIGINT, syscall.SIGHUP} {
		t.Run(how.String(), func(t *testing.T) {
			t.Parallel()
			live := goLive(t, nil)
			live.ready()
			live.says(live.keeper, "shop settings", "notices", live.channel.ID, "stewards", live.stewards)
			live.says(live.wren, "shop add", "name", "Marble", "kind", "thickness-planer", "state", "new")
			if how == syscall.SIGTERM {
				live.hang()
			}
			do(t, live.cmd.Process.Signal(how))
			status, took := live.ends()
			if status != exitOK || took >= 10*time.Second || !strings.Contains(live.log.String(), "msg=stopped") {
				t.Errorf("%d after %v, want %d within 10 s\n%s", status, took, exitOK, live.log.String())
			}
			if how == syscall.SIGTERM && took < 4*time.Second {
				t.Errorf("it ended after %v: nothing hung", took)
			}
		})
	}
}

// hang has an answer under way that Discord never takes.
func (l *live) hang() {
	l.t.Helper()
	l.server.Fail("PATCH", "/webhooks/*", discordtest.Fault{Status: 204, Stalled: time.Minute}, 1)
	if _, err := l.server.Slash(l.guild, l.channel, l.wren, "why", map[string]string{"machine": "Marble"}); err != nil {
		l.t.Fatal(err)
	}
	acknowledged := func(r discordtest.Request) bool { return strings.HasPrefix(r.Path, "/interactions/") }
	for before := 2; len(slices.DeleteFunc(l.server.Requests(),
		func(r discordtest.Request) bool { return !acknowledged(r) })) <= before; {
		if l.ctx.Err() != nil {
			l.t.Fatal("not acknowledged")
		}
		time.Sleep(20 * time.Millisecond)
	}
	time.Sleep(300 * time.Millisecond) // the answer follows its acknowledgement
}

// Told a second time, it ends at once.
func TestToldToStopTwice(t *testing.T) {
	t.Parallel()
	live := goLive(t, nil)
	live.ready()
	live.says(live.keeper, "shop settings", "notices", live.channel.ID, "stewards", live.stewards)
	live.says(live.wren, "shop add", "name", "Marble", "kind", "thickness-planer", "state", "new")
	live.hang()
	do(t, live.cmd.Process.Signal(syscall.SIGHUP))
	time.Sleep(500 * time.Millisecond)
	do(t, live.cmd.Process.Signal(syscall.SIGTERM))
	if status, took := live.ends(); status != -int(syscall.SIGTERM) || took > time.Second {
		t.Errorf("%d after %v, want to be ended by the signal at once", status, took)
	}
}

// Under nohup, a terminal that closes ends nothing.
func TestHangUpIgnored(t *testing.T) {
	t.Parallel()
	if _, err := exec.LookPath("nohup"); err != nil {
		t.Skip("no nohup here")
	}
	live := goLive(t, nil)
	do(t, live.cmd.Process.Kill())
	live.ends()
	live.done = make(chan error, 1)
	before := live.server.Connections()
	again := exec.Command("nohup", append([]string{buildProgram(t)}, live.cmd.Args[1:]...)...)
	again.Env, again.Stderr = live.cmd.Env, &live.log
	live.cmd = again
	do(t, again.Start())
	go func() { live.done <- again.Wait() }()
	do(t, live.server.UntilConnected(live.ctx, before+1))
	do(t, again.Process.Signal(syscall.SIGHUP))
	time.Sleep(300 * time.Millisecond)
	do(t, live.server.Until(live.ctx, live.server.Registered))
	live.says(live.ada, "help")
	do(t, again.Process.Signal(syscall.SIGTERM))
	if status, _ := live.ends(); status != exitOK {
		t.Errorf("ended with %d\n%s", status, live.log.String())
	}
}
