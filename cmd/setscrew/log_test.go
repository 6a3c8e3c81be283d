package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"setscrew/bot/discordtest"
)

// tokenOf finds the token of an interaction in its event.
var tokenOf = regexp.MustCompile(`"token": ?"([^"]+)"`)

// guideLines finds what the guide shows of a good start.
var guideLines = regexp.MustCompile(`(?m)^ *level=INFO msg=(?:"([^"]+)"|(\w+))`)

// A day's log tells its story, each trouble once and that it is over, and never what
// members said or a token: not at the level that tells most either, as text or as JSON.
func TestLogOfADay(t *testing.T) {
	t.Parallel()
	for _, format := range []string{"text", "json"} {
		t.Run(format, func(t *testing.T) {
			t.Parallel()
			live := goLive(t, []string{"--log-format", format}, "SETSCREW_LOG_LEVEL=debug")
			live.ready()
			var secret []string
			say := func(member *discordtest.Member, command string, options ...string) *discordtest.Interaction {
				t.Helper()
				given := map[string]string{}
				for pair := range slices.Chunk(options, 2) {
					given[pair[0]] = pair[1]
				}
				i, err := live.server.Slash(live.guild, live.channel, member, command, given)
				do(t, err)
				secret = append(secret, tokenOf.FindStringSubmatch(string(i.Event()))[1])
				return i
			}
			answered := func(i *discordtest.Interaction) {
				t.Helper()
				if _, err := i.Wait(live.ctx); err != nil {
					t.Fatalf("%v\n%s", err, live.log.String())
				}
			}
			until := func(want string) {
				t.Helper()
				for !strings.Contains(live.log.String(), want) {
					if live.ctx.Err() != nil {
						t.Fatalf("the log lacks %q:\n%s", want, live.log.String())
					}
					time.Sleep(20 * time.Millisecond)
				}
			}
			answered(say(live.keeper, "shop settings", "notices", live.channel.ID, "stewards", live.stewards))
			answered(say(live.wren, "shop add", "name", "Quillwort", "kind", "thickness-planer", "state", "new"))
			answered(say(live.ada, "hours", "machine", "Quillwort", "hours", "seventeenish"))
			answered(say(live.ada, "hours", "machine", "Nonesuch", "hours", "1"))
			until("answered")
			// Notices fail for a reason, and no longer.
			live.server.Fail("POST", "/channels/*/messages", discordtest.BadGateway, 2)
			answered(say(live.ada, "tagout", "machine", "Quillwort", "reason", "wobblesome flywheel"))
			answered(say(live.ada, "problem", "machine", "Quillwort", "what", "smells of brimstone"))
			until("notices are posted again")
			// An answer does not arrive, in ways that hold its token; the connection is lost.
			live.server.Fail("POST", "/interactions/*", discordtest.Fault{Drop: true}, 1)
			say(live.ada, "due", "machine", "Quillwort")
			until("answer not delivered")
			live.server.DropConnections()
			until("connection lost")
			do(t, live.server.UntilConnected(live.ctx, 2))
			answered(say(live.ada, "why", "machine", "Quillwort"))
			do(t, live.cmd.Process.Signal(syscall.SIGTERM))
			if status, _ := live.ends(); status != exitOK {
				t.Errorf("ended with %d", status)
			}

			log := live.log.String()
			for _, never := range append(secret, discordtest.Token, "Quillwort", "seventeenish",
				"Nonesuch", "wobblesome", "flywheel", "brimstone") {
				if strings.Contains(log, never) {
					t.Errorf("the log holds %q:\n%s", never, log)
				}
			}
			for _, once := range []string{"starting", "no copy of the books yet", "the books are copied",
				"commands registered", "a notice could not be posted", "notices are posted again",
				"answer not delivered", "connection lost", "stopped"} {
				if n := strings.Count(log, once); n != 1 && once != "the books are copied" {
					t.Errorf("%d times %q, want once:\n%s", n, once, log)
				}
			}
			// The guide's good start is how this one began.
			guide, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
			do(t, err)
			shown := guideLines.FindAllStringSubmatch(string(guide), -1)
			if len(shown) < 5 {
				t.Errorf("the guide shows %q of a good start", shown)
			}
			for _, line := range shown {
				if message := line[1] + line[2]; !strings.Contains(log, message) {
					t.Errorf("the guide shows %q, which is not in\n%s", message, log)
				}
			}
			if !strings.Contains(log, live.db) {
				t.Errorf("the books' path is not in the log:\n%s", log)
			}
			for line := range strings.Lines(log) {
				text := strings.HasPrefix(line, "time=20") && strings.Contains(line, " level=")
				if format == "json" && !json.Valid([]byte(line)) || format == "text" && !text {
					t.Errorf("a line that is no %s: %s", format, line)
				}
			}
		})
	}
}

// A level leaves out what is below it, and a level or format that is none is refused.
func TestLogFlags(t *testing.T) {
	t.Parallel()
	live := goLive(t, []string{"--log-level", "error"})
	live.ready()
	live.says(live.ada, "help")
	do(t, live.cmd.Process.Signal(syscall.SIGTERM))
	if status, _ := live.ends(); status != exitOK || live.log.String() != "" {
		t.Errorf("%d, logged %s", status, live.log.String())
	}
	for flag, want := range map[string]string{"--log-level=loud": `"debug","info","warn","error"`,
		"--log-format=xml": `"text","json"`} {
		status, out := ended(t, answering(t, newBooks(t), flag))
		if status != exitUsage || !strings.Contains(out, want) {
			t.Errorf("%s: %d\n%s", flag, status, out)
		}
	}
}
