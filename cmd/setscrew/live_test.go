package main

import (
	"bytes"
	"context"
	"errors"
	"os/exec"
	"slices"
	"sync"
	"syscall"
	"testing"
	"time"

	"setscrew/bot/discordtest"
)

// live is the real binary running for a shop in the fake Discord.
type live struct {
	t                 *testing.T
	ctx               context.Context
	server            *discordtest.Server
	guild             *discordtest.Guild
	channel           *discordtest.Channel
	stewards, db      string
	ada, wren, keeper *discordtest.Member
	log               logged
	cmd               *exec.Cmd
	done              chan error
}

// logged is what a program wrote, which may be read meanwhile.
type logged struct {
	mu   sync.Mutex
	text bytes.Buffer
}

// Write takes what the program writes.
func (l *logged) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

// String is all that it wrote.
func (l *logged) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

// goLive starts the binary for a new shop, with more flags and, as NAME=value, environment.
func goLive(t *testing.T, flags []string, env ...string) *live {
	t.Helper()
	l := newLive(t)
	l.begin(exec.Command(buildProgram(t), append([]string{"run", "--db", l.db}, flags...)...), env...)
	return l
}

// newLive is a new shop for which nothing runs yet.
func newLive(t *testing.T) *live {
	t.Helper()
	s := discordtest.New()
	s.IdentifyEvery = 10 * time.Millisecond
	s.Problem = func(p string) { t.Errorf("Discord would refuse: %s", p) }
	l := &live{t: t, server: s, guild: s.AddGuild("Quarry Street Commons"), db: newBooks(t)}
	l.channel, l.stewards = s.AddChannel(l.guild, "notices"), s.AddRole(l.guild, "stewards")
	s.MakeMentionable(l.guild, l.stewards, true)
	l.ada, l.wren = s.AddMember(l.guild, "ada", 0), s.AddMember(l.guild, "wren", 0, l.stewards)
	l.keeper = s.AddMember(l.guild, "keeper", discordtest.ManageGuild)
	var stop context.CancelFunc
	l.ctx, stop = context.WithTimeout(context.Background(), time.Minute)
	t.Cleanup(func() {
		stop()
		if l.cmd != nil {
			l.cmd.Process.Kill() //nolint:errcheck // it has ended, as a rule
		}
		s.Close()
	})
	return l
}

// begin starts a command as the program of the shop.
func (l *live) begin(cmd *exec.Cmd, env ...string) {
	l.t.Helper()
	cmd.Env = append(cleanEnv(), tokenVariable+"="+discordtest.Token, apiVariable+"="+l.server.URL())
	cmd.Env = append(cmd.Env, env...)
	cmd.Stderr = &l.log
	l.cmd, l.done = cmd, make(chan error, 1)
	do(l.t, cmd.Start())
	done := l.done
	go func() { done <- cmd.Wait() }()
}

// setUp has the shop name its channel and stewards, and a machine, Marble.
func (l *live) setUp() {
	l.t.Helper()
	l.ready()
	l.says(l.keeper, "shop settings", "notices", l.channel.ID, "stewards", l.stewards)
	l.says(l.wren, "shop add", "name", "Marble", "kind", "thickness-planer", "state", "new")
}

// ready waits until the program answers.
func (l *live) ready() {
	l.t.Helper()
	err := l.server.UntilConnected(l.ctx, 1)
	if err == nil {
		err = l.server.Until(l.ctx, l.server.Registered)
	}
	if err != nil {
		l.t.Fatalf("%v\n%s", err, l.log.String())
	}
}

// says gives a command, whose options are pairs of name and value, and is its answer.
func (l *live) says(member *discordtest.Member, command string, options ...string) string {
	l.t.Helper()
	given := map[string]string{}
	for pair := range slices.Chunk(options, 2) {
		given[pair[0]] = pair[1]
	}
	i, err := l.server.Slash(l.guild, l.channel, member, command, given)
	do(l.t, err)
	reply, err := i.Wait(l.ctx)
	if err != nil {
		l.t.Fatalf("/%s: %v\n%s", command, err, l.log.String())
	}
	return reply.Content
}

// ends waits until the program has ended, and says with which status and after how long; a
// signal that ended it is its number, negative.
func (l *live) ends() (status int, took time.Duration) {
	l.t.Helper()
	begun := time.Now()
	select {
	case err := <-l.done:
		var with *exec.ExitError
		if err != nil && !errors.As(err, &with) {
			l.t.Fatal(err)
		}
	case <-time.After(30 * time.Second):
		l.t.Fatalf("it does not end\n%s", l.log.String())
	}
	if state := l.cmd.ProcessState.Sys().(syscall.WaitStatus); state.Signaled() {
		return -int(state.Signal()), time.Since(begun)
	}
	return l.cmd.ProcessState.ExitCode(), time.Since(begun)
}
