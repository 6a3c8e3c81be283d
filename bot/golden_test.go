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
	r := newMarble(t)
	r.start()
	r.ready()
	begin := len(r.server.Requests())
	i, _ := r.slash(r.ada, "reading", "machine=Marble", "check=infeed roller", "values=left 0.046 in, right 0.041 in")
	r.check(r.server.Until(r.ctx, func() bool { return r.server.Content(r.channel, 0) != "" }))
	r.press(i, r.ada, "I turned it")
	r.slash(r.ada, "reading", "machine=Marble", "check=infeed roller")
	r.slash(r.ada, "why", "machine=Marble", "check=outfeed roller")
	r.slash(r.ada, "hours", "machine=Marbel", "hours=1")
	r.slash(r.ada, "tagout", "machine=Marble", "reason=**loose** @everyone")
	r.check(r.server.Until(r.ctx, func() bool { return r.server.Pinned(r.channel) == 1 }))
	r.slash(r.wren, "reading", "machine=Marble", "check=infeed roller", "values=left 1.02 mm, right 1.02 mm")
	r.check(r.server.Until(r.ctx, func() bool {
		return !strings.Contains(r.server.Content(r.channel, 1),
			"read it again")
	}))
	i, _ = r.slash(r.wren, "release", "machine=Marble")
	i, _ = r.press(i, r.wren, "All done, owner asked")
	r.check(r.server.Until(r.ctx, func() bool { return r.server.Content(r.channel, 2) != "" }))
	r.press(i, r.wren, "It runs well")
	r.check(r.server.Until(r.ctx, func() bool {
		return r.server.Content(r.channel, 3) != "" &&
			r.server.Pinned(r.channel) == 0
	}))
	r.slash(r.bo, "problem", "machine=Marble", "what=snipe", "note=both ends", "photo=board_(1).png")
	r.check(r.server.Until(r.ctx, func() bool { return r.server.Content(r.channel, 4) != "" }))
	r.slash(r.bo, "machine", "machine=Marble")
	r.end()

	// Answers and posts come in no order between them; each kind keeps its own.
	var answers, notices bytes.Buffer
	for _, q := range r.server.Requests()[begin:] {
		out := &answers
		switch {
		case strings.HasPrefix(q.Path, "/channels/"):
			out = &notices
		case !strings.HasPrefix(q.Path, "/interactions/") && !strings.HasPrefix(q.Path, "/webhooks/"):
			continue
		}
		out.WriteString(q.Method + " " + q.Path + "\n")
		if q.Body != "" {
			if err := json.Indent(out, []byte(q.Body), "", "  "); err != nil {
				t.Fatalf("%s: %v", q.Body, err)
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
		r.check(os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	r.check(err)
	if d := cmp.Diff(string(want), got); d != "" {
		t.Errorf("%s differs (-want +got), -update writes it again:\n%s", path, d)
	}
}
