package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"setscrew/bot/discordtest"
	"setscrew/store"
)

// While the program runs its books can be copied and looked at from beside, but neither
// replaced by a restore nor taken by another program. Where their file is moved, whoever
// reports is told that nothing is stored, a danger stands in the channel all the same, and
// once the file is back it is in the books.
func TestBooksUnderARunningProgram(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	binary, path := buildProgram(t), filepath.Join(t.TempDir(), "shop.db")
	server := discordtest.New()
	defer server.Close()
	server.ChannelPosts = -1
	guild := server.AddGuild("Quarry Street Commons")
	channel := server.AddChannel(guild, "notices")
	role := server.AddRole(guild, "stewards")
	keeper := server.AddMember(guild, "keeper", discordtest.ManageGuild)
	wren := server.AddMember(guild, "wren", 0, role)
	ada := server.AddMember(guild, "ada", 0)
	var log strings.Builder // read once the program has ended
	p := startProgram(t, binary, path, server, 0, &log)
	defer func() {
		p.stop(t)
		if t.Failed() {
			t.Log(log.String())
		}
	}()
	say := func(m *discordtest.Member, command string, options map[string]string) string {
		t.Helper()
		i, err := server.Slash(guild, channel, m, command, options)
		do(t, err)
		r, err := i.Wait(ctx)
		do(t, err)
		return r.Content
	}
	do(t, server.Until(ctx, server.Registered))
	say(keeper, "shop settings", map[string]string{"notices": channel.ID, "stewards": role})
	say(wren, "shop add", map[string]string{"name": "Marble", "kind": "thickness-planer", "state": "new"})

	// From beside.
	copies := filepath.Join(t.TempDir(), "copies")
	made, err := store.Backup(ctx, path, copies, time.Now())
	if err != nil {
		t.Errorf("a copy: %v", err)
	}
	beside := func(want int, says string, args ...string) {
		t.Helper()
		cmd := answering(t, path)
		cmd.Args = append([]string{binary}, args...)
		cmd.Env = append(cleanEnv(), tokenVariable+"="+discordtest.Token, apiVariable+"="+server.URL())
		if status, out := ended(t, cmd); status != want || !strings.Contains(out, says) {
			t.Errorf("%v: %d\n%s", args, status, out)
		}
	}
	beside(exitOK, "Copied and checked: ", "backup", "--db", path)
	beside(exitOK, "a program works on it", "doctor", "--full", "--db", path)
	beside(exitHeld, "another program works on ", "run", "--db", path)
	beside(exitHeld, "another program works on ", "restore", made.Path, "--db", path)

	// Moved, and back.
	do(t, os.Rename(path, path+".away"))
	hours := map[string]string{"machine": "Marble", "hours": "1 min", "sure": "yes"}
	if said := say(ada, "hours", hours); !strings.Contains(said, "the books' file was moved or replaced") {
		t.Errorf("hours: %s", said)
	}
	smoke := map[string]string{"machine": "Marble", "what": "smoke from the motor"}
	if said := say(ada, "problem", smoke); !strings.Contains(said, "Stop. Do not use Marble. NOT in the books") {
		t.Errorf("a danger: %s", said)
	}
	stands := func(text string) bool {
		for ctx.Err() == nil {
			for _, m := range server.Messages(channel) {
				if strings.Contains(m.Content, text) {
					return true
				}
			}
			time.Sleep(20 * time.Millisecond)
		}
		return false
	}
	if !stands("Marble: do not use. NOT in the books.") {
		t.Error("the danger does not stand in the channel")
	}
	do(t, os.Rename(path+".away", path))
	if !stands("Marble is tagged out: do not use.") {
		t.Error("the danger does not come into the books")
	}
	if said := say(ada, "hours", hours); !strings.Contains(said, "1 min logged") {
		t.Errorf("afterwards: %s", said)
	}
}
