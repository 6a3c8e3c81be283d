package bot

import (
	"context"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
)

// What links, mentions and times become: links only to what Discord itself keeps,
// mentions only of account ids.
func TestTextOfGuardedParts(t *testing.T) {
	t.Parallel()
	const kept = "https://cdn.discordapp.com/a/x.png"
	for _, test := range []struct{ got, want string }{
		{markdown{}.Link(kept, "x_1.png"), `[x\_1.png](<` + kept + `>)`},
		{markdown{}.Link("https://media.discordapp.net/x.png?ex=1", "x"),
			"[x](<https://media.discordapp.net/x.png?ex=1>)"},
		{markdown{}.Link("http://cdn.discordapp.com/a/x.png", "x_1"), `x\_1`},
		{markdown{}.Link("https://cdn.discordapp.com.example/x", "x"), "x"},
		{markdown{}.Link("https://example.invalid/x", "x"), "x"},
		{markdown{}.Link("https://me@cdn.discordapp.com/x", "x"), "x"},
		{markdown{}.Link("https://cdn.discordapp.com/x> [y](http://z)", "x"), "x"},
		{markdown{}.Link("https://cdn.discordapp.com/(x)", "x"), "x"},
		{markdown{}.Link("https://cdn.discordapp.com/a b", "x"), "x"},
		{markdown{}.Link("::", "x"), "x"},
		{markdown{}.Person("123"), "<@123>"},
		{markdown{}.Channel("123"), "<#123>"}, {markdown{}.Channel("a>b"), `a\>b`},
		{markdown{}.Role("123"), "<@&123>"}, {markdown{}.Role("@everyone"), `\@everyone`},
		{markdown{}.Person(""), ""},
		{markdown{}.Person("&7"), `\&7`},
		{markdown{}.Person("12a"), "12a"},
		{markdown{}.Time(time.Unix(5, 0), words.TimeStyle('R')), "<t:5:R>"},
		{markdown{}.Time(time.Unix(6, 0), words.TimeStyle('D')), "<t:6:D>"},
	} {
		if test.got != test.want {
			t.Errorf("%s, want %s", test.got, test.want)
		}
	}
	// Every mark that Discord reads, at the beginning of a line or within one.
	for _, mark := range "\\*_~`|>#-+:/<@[]()&" {
		if got, want := (markdown{}).User(string(mark)+"a"), `\`+string(mark)+"a"; got != want {
			t.Errorf("%q reads %q, want %q", mark, got, want)
		}
	}
}

// A table with a head says in each row what its further cells are; one without is
// pairs. What a picture shows is said in words.
func TestTextOfTables(t *testing.T) {
	t.Parallel()
	got := lines(commands.Reply{Headline: "Two machines.", Lines: []string{"", "A line."},
		Table: &commands.Table{Head: []string{"machine", "due", "after", "by"},
			Rows: [][]string{{"Marble", "wax", "6 h", "ada"}, {"Granite", "oil", "", "bo"}, {"Slate", "oil", "", ""}}},
		Picture: &commands.Picture{Alt: "It drifts up."}})
	want := []string{"Two machines.", "A line.", "**Marble**: wax", "after 6 h; by ada", "**Granite**: oil", "by bo",
		"**Slate**: oil", "It drifts up."}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("with a head (-want +got):\n%s", d)
	}
	got = lines(commands.Reply{Table: &commands.Table{Rows: [][]string{{"left", "1 mm"}, {"right", "2 mm"}}}})
	if d := cmp.Diff([]string{"left: 1 mm", "right: 2 mm"}, got); d != "" {
		t.Errorf("without one (-want +got):\n%s", d)
	}
}

// Messages are filled to the last character that Discord takes, line breaks counted and
// bytes not; a line that is longer is broken at a space.
func TestTextInPages(t *testing.T) {
	t.Parallel()
	full, half := strings.Repeat("é", 2000), strings.Repeat("é", 1000)
	for _, test := range []struct {
		name  string
		lines []string
		want  []string
	}{
		{"nothing", nil, []string{""}},
		{"one that fits", []string{full}, []string{full}},
		{"one too long", []string{full + "é"}, []string{full, "é"}},
		{"two that fit", []string{half, half[:2*999]}, []string{half + "\n" + half[:2*999]}},
		{"two that are one character too long", []string{half, half}, []string{half, half}},
		{"at a space", []string{half + "é " + half}, []string{half + "é", half}},
		{"a long one after a short one", []string{"a", full + " b"}, []string{"a", full, "b"}},
	} {
		if d := cmp.Diff(test.want, pages(test.lines)); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
}

// Nobody who was forgotten is notified: Discord refuses a message that names an account which
// is none.
func TestFormerMembersAreNotCalled(t *testing.T) {
	t.Parallel()
	who := newAccess(slog.New(slog.DiscardHandler)).call(context.Background(), domain.Shop{Zone: "UTC",
		Away: []domain.Away{{Person: "1", From: "2026-03-02", Until: "2026-03-02", Deputy: "former-2"},
			{Person: "3", From: "2026-03-02", Until: "2026-03-02", Deputy: "4"}}},
		commands.Message{People: []domain.PersonID{"former-1", "5"}, Mention: true},
		time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC))
	if !slices.Equal(who.users, []string{"5", "4"}) || who.text != "<@4> " {
		t.Errorf("called: %v, %q", who.users, who.text)
	}
}
