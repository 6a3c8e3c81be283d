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
	s := discordtest.New()
	s.IdentifyEvery = 10 * time.Millisecond
	s.Problem = func(p string) { t.Errorf("Discord would refuse: %s", p) }
	l := &live{t: t, server: s, guild: s.AddGuild("Quarry Street Commons"), db: newBooks(t), done: make(chan error, 1)}
	l.channel, l.stewards = s.AddChannel(l.guild, "notices"), s.AddRole(l.guild, "stewards")
	s.MakeMentionable(l.guild, l.stewards, true)
	l.ada, l.wren = s.AddMember(l.guild, "ada", 0), s.AddMember(l.guild, "wren", 0, l.stewards)
	l.keeper = s.AddMember(l.guild, "keeper", discordtest.ManageGuild)
	var stop context.CancelFunc
	l.ctx, stop = context.WithTimeout(context.Background(), time.Minute)
	l.cmd = exec.Command(buildProgram(t), append([]string{"run", "--db", l.db}, flags...)...)
	l.cmd.Env = append(cleanEnv(), tokenVariable+"="+discordtest.Token, apiVariable+"="+s.URL())
	l.cmd.Env = append(l.cmd.Env, env...)
	l.cmd.Stderr = &l.log
	do(t, l.cmd.Start())
	go func() { l.done <- l.cmd.Wait() }()
	t.Cleanup(func() {
		stop()
		l.cmd.Process.Kill() //nolint:errcheck // it has ended, as a rule
		s.Close()
	})
	return l
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
