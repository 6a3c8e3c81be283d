package bot

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"setscrew/commands"
	"setscrew/commands/words"
)

// Buttons stand five to a row, each with its style, on the last of a reply's messages;
// all of them are quiet or none, and none notifies anybody.
func TestBodies(t *testing.T) {
	t.Parallel()
	var buttons []commands.Button
	for i := range 7 {
		buttons = append(buttons, commands.Button{Label: fmt.Sprint("Do ", i), Custom: fmt.Sprint("do:", i)})
	}
	buttons[1].Style, buttons[2].Style = commands.Primary, commands.Grave
	long := strings.Repeat("x", 1500)
	for _, quiet := range []bool{true, false} {
		all := bodies(commands.Reply{Quiet: quiet, Headline: long, Lines: []string{long}, Buttons: buttons})
		if len(all) != 2 || len(all[0].Components) != 0 || len(all[1].Components) != 2 ||
			len(all[1].Components[0].Components) != 5 || len(all[1].Components[1].Components) != 2 {
			t.Fatalf("%d messages: %+v", len(all), all)
		}
		for i, page := range all {
			if (page.Flags == flagEphemeral) != quiet || page.Components == nil {
				t.Errorf("message %d of a reply that is quiet %t: flags %d, components %v", i, quiet, page.Flags,
					page.Components)
			}
			if d := cmp.Diff(mentions{Parse: []string{}}, page.Mentions); d != "" {
				t.Errorf("message %d may notify (-want +got):\n%s", i, d)
			}
		}
		var styles []int
		for _, p := range all[1].Components[0].Components {
			styles = append(styles, p.Style)
		}
		if d := cmp.Diff([]int{2, 1, 4, 2, 2}, styles); d != "" {
			t.Errorf("styles of the buttons (-want +got):\n%s", d)
		}
	}
}

// A form's fields are one line of 100 characters, or several of 4,000; an example is
// shown as it reads, without marks.
func TestForm(t *testing.T) {
	t.Parallel()
	yes, no := true, false
	want := modal{Title: "Read it", CustomID: "form:1", Components: []row{
		{1, []part{{Type: 4, Style: fieldShort, Label: "left", CustomID: "left", Value: "1.01", Placeholder: "1 mm",
			Required: &yes, MaxLength: 100}}},
		{1, []part{{Type: 4, Style: fieldLong, Label: "lines", CustomID: "lines", Placeholder: words.Clean("a\u202eb"),
			Required: &no, MaxLength: 4000}}}}}
	got := form(&commands.Form{Title: "Read it", Custom: "form:1", Fields: []commands.Field{
		{ID: "left", Label: "left", Value: "1.01", Example: "1 mm", Required: true},
		{ID: "lines", Label: "lines", Example: "a\u202eb", Long: true}}})
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("the form (-want +got):\n%s", d)
	}
	if got.Components[1].Components[0].Placeholder == "a\u202eb" {
		t.Error("an example turns the direction of what is read")
	}
}

// An alternative text is at most 1,024 characters, of whatever length in bytes.
func TestAlternativeText(t *testing.T) {
	t.Parallel()
	for _, n := range []int{0, 1023, 1024} {
		if s := strings.Repeat("é", n); alt(s) != s {
			t.Errorf("%d characters are cut", n)
		}
	}
	got := []rune(alt(strings.Repeat("é", 1025)))
	if len(got) != 1024 || got[1022] != 'é' || got[1023] != '…' {
		t.Errorf("1025 characters became %d: …%q", len(got), string(got[len(got)-3:]))
	}
}
