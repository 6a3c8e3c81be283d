package bot_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the golden bodies again")

// volatile are the ids and times that differ from run to run.
var volatile = []struct {
	re   *regexp.Regexp
	with string
}{
	{regexp.MustCompile(`<t:\d+:`), "<t:TIME:"},
	{regexp.MustCompile(`-# notice [a-z2-7]{8}`), "-# notice REFERENCE"},
	{regexp.MustCompile(`"nonce": "[a-z2-7]{24}"`), `"nonce": "NONCE"`},
	{regexp.MustCompile(`token-\d+`), "token-ID"},
	{regexp.MustCompile(`\d{17,20}`), "ID"},
}

// The bodies that Discord is sent in the story of a shop, beside the golden
// replies: every kind of answer, and every kind of notice's operation.
func TestGoldenBodies(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	begin := len(rig.server.Requests())
	interaction, _ := rig.slash(rig.ada, "reading", "machine=Marble", "check=infeed roller",
		"values=left 0.046 in, right 0.041 in")
	rig.check(rig.server.Until(rig.ctx, func() bool { return rig.server.Content(rig.channel, 0) != "" }))
	rig.press(interaction, rig.ada, "I turned it")
	rig.slash(rig.ada, "reading", "machine=Marble", "check=infeed roller")
	rig.slash(rig.ada, "why", "machine=Marble", "check=outfeed roller")
	rig.slash(rig.ada, "hours", "machine=Marbel", "hours=1")
	rig.slash(rig.ada, "tagout", "machine=Marble", "reason=**loose** @everyone")
	rig.check(rig.server.Until(rig.ctx, func() bool { return rig.server.Pinned(rig.channel) == 1 }))
	rig.slash(rig.wren, "reading", "machine=Marble", "check=infeed roller", "values=left 1.02 mm, right 1.02 mm")
	rig.check(rig.server.Until(rig.ctx, func() bool {
		return !strings.Contains(rig.server.Content(rig.channel, 1),
			"read it again")
	}))
	interaction, _ = rig.slash(rig.wren, "release", "machine=Marble")
	interaction, _ = rig.press(interaction, rig.wren, "All done, owner asked")
	rig.check(rig.server.Until(rig.ctx, func() bool { return rig.server.Content(rig.channel, 2) != "" }))
	rig.press(interaction, rig.wren, "It runs well")
	rig.check(rig.server.Until(rig.ctx, func() bool {
		return rig.server.Content(rig.channel, 3) != "" &&
			rig.server.Pinned(rig.channel) == 0
	}))
	rig.slash(rig.bo, "problem", "machine=Marble", "what=snipe", "note=both ends", "photo=board_(1).png")
	rig.check(rig.server.Until(rig.ctx, func() bool { return rig.server.Content(rig.channel, 4) != "" }))
	rig.slash(rig.bo, "machine", "machine=Marble")
	rig.end()

	// Answers and posts come in no order between them; each kind keeps its own.
	var answers, notices bytes.Buffer
	for _, request := range rig.server.Requests()[begin:] {
		out := &answers
		switch {
		case strings.HasPrefix(request.Path, "/channels/"):
			out = &notices
		case !strings.HasPrefix(request.Path, "/interactions/") && !strings.HasPrefix(request.Path, "/webhooks/"):
			continue
		}
		out.WriteString(request.Method + " " + request.Path + "\n")
		if request.Body != "" {
			if err := json.Indent(out, []byte(request.Body), "", "  "); err != nil {
				t.Fatalf("%s: %v", request.Body, err)
			}
			out.WriteString("\n")
		}
		out.WriteString("\n")
	}
	got := answers.String() + "Notices:\n\n" + notices.String()
	got = strings.NewReplacer(`\u003c`, "<", `\u003e`, ">", `\u0026`, "&").Replace(got)
	for _, v := range volatile {
		got = v.re.ReplaceAllString(got, v.with)
	}
	path := filepath.Join("..", "testdata", "golden", "discord-bodies.txt")
	if *update {
		rig.check(os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	rig.check(err)
	if d := cmp.Diff(string(want), got); d != "" {
		t.Errorf("%s differs (-want +got), -update writes it again:\n%s", path, d)
	}
}
