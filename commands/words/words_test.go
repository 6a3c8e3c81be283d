package words_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/commands/words"
)

// named shows which part of a text came to it as what.
type named struct{}

func (named) User(text string) string { return "user(" + text + ")" }
func (named) Time(t time.Time, style words.TimeStyle) string {
	return fmt.Sprintf("time(%s, %c)", t.UTC().Format(time.RFC3339), style)
}
func (named) Person(id string) string          { return "person(" + id + ")" }
func (named) Channel(id string) string         { return "channel(" + id + ")" }
func (named) Role(id string) string            { return "role(" + id + ")" }
func (named) Link(address, name string) string { return "link(" + address + ", " + name + ")" }

// What no medium should show is taken out of user text; white space becomes one
// space, none at either end; the rest stays as it was written.
func TestClean(t *testing.T) {
	for _, test := range []struct{ name, given, want string }{
		{"plain", "belt squeals", "belt squeals"},
		{"nothing", "", ""},
		{"letters of any script", "Größe 木工 ½\"", "Größe 木工 ½\""},
		{"what formats elsewhere is its medium's to guard", "**@everyone** `x`", "**@everyone** `x`"},
		{"lines and tabs", "a\nb\r\n\tc", "a b c"},
		{"white space at either end", "  a  ", "a"},
		{"white space alone", " \n\t ", ""},
		{"a space that does not break", "a\u00a0\u00a0b", "a b"},
		{"control characters", "a\x00b\x07c\x7f", "abc"},
		{"one between spaces", "a \x00 b", "a b"},
		{"text turned round", "\u202egnp\u202c", "gnp"},
		{"characters that join or are not seen", "a\u200db\u200bc\ufeff", "abc"},
		{"our own guards", "\ue000a\ue001b\ue002c\ue003d\ue00f", "abcd"},
		{"not UTF-8", "a\xff\xc3b", "ab"},
		{"a character that stands for what could not be read", "a\ufffdb", "ab"},
	} {
		if got := words.Clean(test.given); got != test.want {
			t.Errorf("%s: %q becomes %q, want %q", test.name, test.given, got, test.want)
		}
	}
}

// Every guarded part comes to the medium as what it is, with its payload whole and
// cleaned; what stands around it stays.
func TestExpand(t *testing.T) {
	at := time.Date(2026, 3, 2, 8, 0, 5, 600e6, time.UTC)
	for _, test := range []struct{ name, text, want string }{
		{"nothing guarded", "Marble is tagged out.", "Marble is tagged out."},
		{"nothing", "", ""},
		{"user text", "said " + words.User("a\nb") + ".", "said user(a b)."},
		{"user text at either end", words.User("a") + words.User("b"), "user(a)user(b)"},
		{"empty user text", "“" + words.User("\x00") + "”", "“user()”"},
		{"a channel", "in " + words.Channel("1\n2"), "in channel(1 2)"},
		{"a role", words.Role("34") + "!", "role(34)!"},
		{"names", "by " + words.Users([]string{"a", "b, c", "d"}), "by user(a), user(b, c), user(d)"},
		{"no names", words.Users(nil), ""},
		{"a moment, in whole seconds", words.Time(at, words.DateTime), "time(2026-03-02T08:00:05Z, f)"},
		{"a date", words.Time(at, words.Date), "time(2026-03-02T08:00:05Z, D)"},
		{"as how long ago", words.Time(at, words.Ago), "time(2026-03-02T08:00:05Z, R)"},
		{"a moment before 1970", words.Time(time.Unix(-1, 0), words.Date), "time(1969-12-31T23:59:59Z, D)"},
		{"a moment in another zone", words.Time(at.In(time.FixedZone("", 3600)), words.Ago),
			"time(2026-03-02T08:00:05Z, R)"},
		{"a person", words.Person("12\u202e3"), "person(123)"},
		{"a link", words.Link("https://chat.example/a?b=c", "smoke 1.jpg"),
			"link(https://chat.example/a?b=c, smoke 1.jpg)"},
		{"a link whose address has spaces", words.Link("https://chat.example/a b\nc", "x"),
			"link(https://chat.example/abc, x)"},
		{"a link without a name", words.Link("https://chat.example/a", ""), "link(https://chat.example/a, )"},
		{"a person who was forgotten", words.Person("former-12ab"), "a former member"},
		{"user text that holds guards", words.User(words.Person("7") + words.Time(at, words.Date)),
			"user(7D1772438405)"},
		{"what comes after user text that holds an end", words.User("a\ue00fb") + "c", "user(ab)c"},
		{"all at once", "1" + words.User("a") + "2" + words.Person("b") + "3" + words.Link("c", "d") + "4",
			"1user(a)2person(b)3link(c, d)4"},
		// What none of our functions makes is dropped, not guessed at.
		{"a guard without an end", "x\ue000abc", "xuser(abc)"},
		{"a moment without anything", "x\ue001\ue00fy", "xy"},
		{"a moment that is no number", "x\ue001fsoon\ue00fy", "xy"},
		{"an end alone", "x\ue00fy", "x\ue00fy"},
	} {
		if got := words.Expand(test.text, named{}); got != test.want {
			t.Errorf("%s: %q becomes %q, want %q", test.name, test.text, got, test.want)
		}
	}
}

func load(t *testing.T) *words.Catalogue {
	t.Helper()
	c, err := words.Load()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The catalogue knows its keys, each once and in order.
func TestKeys(t *testing.T) {
	cat := load(t)
	keys := cat.Keys()
	if len(keys) < 500 || !slices.IsSorted(keys) || len(slices.Compact(slices.Clone(keys))) != len(keys) {
		t.Errorf("%d keys, sorted %v", len(keys), slices.IsSorted(keys))
	}
	for _, key := range keys {
		if !cat.Has(key) {
			t.Errorf("it has no %q of its own keys", key)
		}
	}
	if cat.Has("no.such.key") || cat.Has("") {
		t.Error("it has a key that it lacks")
	}
}

// A message is said with its placeholders filled in; user text in them stays guarded.
// What cannot be said says its key, and is told.
func TestSay(t *testing.T) {
	cat := load(t)
	var missing, said []string
	cat.Missing = func(key string, err error) { missing = append(missing, fmt.Sprint(key, " ", err != nil)) }
	cat.Said = func(key string) { said = append(said, key) }
	for _, test := range []struct {
		name string
		key  string
		data words.D
		want string
	}{
		{"without placeholders", "refused.pending-used", nil, "That button was used already; it counts once."},
		{"with data that it does not need", "refused.pending-used", words.D{"No": 1},
			"That button was used already; it counts once."},
		{"with a placeholder", "refused.others-report", words.D{"No": 7},
			"Report no. 7 is somebody else's; a steward may withdraw it."},
		{"with what a template would read", "hours.negative", words.D{"Given": words.User("{{.No}} <b>")},
			"Hours cannot be negative: “user({{.No}} <b>)”."},
		{"of one", "typein.done", words.D{"Machine": "Marble", "N": 1, "First": 4, "Last": 4},
			"Marble: one line typed in, no. 4."},
		{"of several", "typein.done", words.D{"Machine": "Marble", "N": 3, "First": 4, "Last": 6},
			"Marble: 3 lines typed in, nos. 4 to 6."},
		{"of none", "typein.done", words.D{"Machine": "Marble", "N": 0, "First": 4, "Last": 3},
			"Marble: 0 lines typed in, nos. 4 to 3."},
	} {
		if got := words.Expand(cat.In().Say(test.key, test.data), named{}); got != test.want {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
	}
	if len(missing) != 0 || len(said) != 7 || said[2] != "refused.others-report" {
		t.Errorf("missing %q, said %q", missing, said)
	}
	for _, key := range []string{"no.such.key", "refused.others-report"} {
		if got := cat.In().Say(key, words.D{"Number": 7}); got != key {
			t.Errorf("%s without what it needs: %q", key, got)
		}
	}
	if want := []string{"no.such.key true", "refused.others-report true"}; !slices.Equal(missing, want) {
		t.Errorf("missing %q, want %q", missing, want)
	}
	// Nobody need listen.
	cat.Missing, cat.Said = nil, nil
	if got := cat.In().Say("no.such.key", nil); got != "no.such.key" {
		t.Errorf("a key that does not exist, told to nobody: %q", got)
	}
}

// Behind every language stands English.
func TestOtherLanguages(t *testing.T) {
	c := load(t)
	want := c.In().Say("refused.pending-used", nil)
	for _, languages := range [][]string{{"en"}, {"en-GB"}, {"xx"}, {"not a language"}, {"de", "fr"}} {
		if got := c.In(languages...).Say("refused.pending-used", nil); got != want {
			t.Errorf("in %s: %q", strings.Join(languages, ", "), got)
		}
	}
}
