package commands_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"slices"
	"strconv"
	"strings"
	"testing"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// Every topic that the domain names has words, even where a notice says little more
// than its topic; one that it does not name has none.
func TestEveryTopicHasWords(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	file, err := parser.ParseFile(token.NewFileSet(), "../domain/notice.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	topics := 0
	ast.Inspect(file, func(n ast.Node) bool {
		spec, ok := n.(*ast.ValueSpec)
		if !ok || len(spec.Values) != 1 || !strings.HasPrefix(spec.Names[0].Name, "Topic") {
			return true
		}
		topic, err := strconv.Unquote(spec.Values[0].(*ast.BasicLit).Value)
		if err != nil {
			t.Fatal(err)
		}
		topics++
		m := w.desk.Render(domain.NewShop("shop"), domain.Notice{Op: domain.Post, Topic: domain.Topic(topic),
			Args: domain.NoticeArgs{V: domain.NoticeVersion, Machine: "Marble", Name: "guards", At: w.now,
				Used: quantity.New(1, 1, quantity.Hour)}})
		if m.Headline == "" || !strings.HasPrefix(m.Text, m.Headline) {
			t.Errorf("%s: headline %q of %q", topic, m.Headline, m.Text)
		}
		return true
	})
	if topics < 16 {
		t.Errorf("only %d topics found", topics)
	}
	if m := w.desk.Render(domain.NewShop("shop"), domain.Notice{Topic: "none"}); m.Text != "" {
		t.Errorf("an unknown topic says %q", m.Text)
	}
}

// The stewards are called by a message that is new, and by what is due only where the
// shop wants it; an edit calls nobody again.
func TestWhoIsCalled(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for _, c := range []struct {
		op    domain.Op
		topic domain.Topic
		call  bool
		want  bool
	}{
		{domain.Post, domain.TopicDue, true, true},
		{domain.Edit, domain.TopicDue, true, false},
		{domain.Post, domain.TopicDue, false, false},
		{domain.Edit, domain.TopicDue, false, false},
		{domain.Post, domain.TopicTagOut, false, true},
		{domain.Edit, domain.TopicTagOut, false, false},
	} {
		m := w.desk.Render(domain.NewShop("shop"), domain.Notice{Op: c.op, Topic: c.topic,
			Args: domain.NoticeArgs{V: domain.NoticeVersion, Machine: "Marble", Name: "guards", At: w.now,
				Call: c.call}})
		if m.Mention != c.want {
			t.Errorf("%s %s, call %v: the stewards are called %v", c.op, c.topic, c.call, m.Mention)
		}
	}
}

// One notice tells twenty people at most.
func TestTwentyAreTold(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for reported, told := range map[int]int{1: 1, 20: 20, 21: 20} {
		people := make([]domain.PersonID, reported)
		for i := range people {
			people[i] = domain.PersonID("p" + strconv.Itoa(i))
		}
		m := w.desk.Render(domain.NewShop("shop"), domain.Notice{Op: domain.Post, Topic: domain.TopicTold,
			Args: domain.NoticeArgs{V: domain.NoticeVersion, Machine: "Marble", Name: "snipe", At: w.now,
				People: people}})
		if !slices.Equal(m.People, people[:told]) ||
			strings.Count(words.Expand(m.Text, plainMedium{}), "@p") != told {
			t.Errorf("%d reported it: told are %q in %q", reported, m.People, m.Text)
		}
	}
}
