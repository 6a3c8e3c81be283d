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
	world := newWorld(t)
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
		m := world.desk.Render(domain.NewShop("shop"), domain.Notice{Op: domain.Post, Topic: domain.Topic(topic),
			Args: domain.NoticeArgs{V: domain.NoticeVersion, Machine: "Marble", Name: "guards", At: world.now,
				Used: quantity.New(1, 1, quantity.Hour)}})
		if m.Headline == "" || !strings.HasPrefix(m.Text, m.Headline) {
			t.Errorf("%s: headline %q of %q", topic, m.Headline, m.Text)
		}
		return true
	})
	if topics < 16 {
		t.Errorf("only %d topics found", topics)
	}
	if m := world.desk.Render(domain.NewShop("shop"), domain.Notice{Topic: "none"}); m.Text != "" {
		t.Errorf("an unknown topic says %q", m.Text)
	}
}

// The stewards are called by a message that is new, and by what is due only where the
// shop wants it; an edit calls nobody again.
func TestWhoIsCalled(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	for _, test := range []struct {
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
		{domain.Post, domain.TopicDigest, true, true},
		{domain.Edit, domain.TopicDigest, true, false},
		{domain.Post, domain.TopicDigest, false, false},
	} {
		m := world.desk.Render(domain.NewShop("shop"), domain.Notice{Op: test.op, Topic: test.topic,
			Args: domain.NoticeArgs{V: domain.NoticeVersion, Machine: "Marble", Name: "guards", At: world.now,
				Call: test.call, Pings: test.call}})
		if m.Mention != test.want {
			t.Errorf("%s %s, call %v: the stewards are called %v", test.op, test.topic, test.call, m.Mention)
		}
	}
}

// One notice tells twenty people at most.
func TestTwentyAreTold(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	for reported, told := range map[int]int{1: 1, 20: 20, 21: 20} {
		people := make([]domain.PersonID, reported)
		for i := range people {
			people[i] = domain.PersonID("p" + strconv.Itoa(i))
		}
		message := world.desk.Render(domain.NewShop("shop"), domain.Notice{Op: domain.Post, Topic: domain.TopicTold,
			Args: domain.NoticeArgs{V: domain.NoticeVersion, Machine: "Marble", Name: "snipe", At: world.now,
				People: people}})
		if !slices.Equal(message.People, people[:told]) ||
			strings.Count(words.Expand(message.Text, plainMedium{}), "@p") != told {
			t.Errorf("%d reported it: told are %q in %q", reported, message.People, message.Text)
		}
	}
}

// A message about several things says each once, as it was told of last, calls the
// stewards as a new one only, and asks for care with those that are still due; about one
// it is that one's own.
func TestSeveralInOneMessage(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	args := func(id string, change func(*domain.NoticeArgs)) domain.NoticeArgs {
		a := domain.NoticeArgs{V: domain.NoticeVersion, Machine: "Marble", ID: id, Name: id, At: world.now}
		change(&a)
		return a
	}
	plain := args("wax", func(*domain.NoticeArgs) {})
	hands := args("dust", func(a *domain.NoticeArgs) { a.Hands = true })
	running := args("stop", func(a *domain.NoticeArgs) { a.Running, a.Check, a.Call = true, true, true })
	late := args("wax", func(a *domain.NoticeArgs) { a.Late = true })
	done := args("dust", func(a *domain.NoticeArgs) { a.Fact = 7 })
	due, over := domain.TopicDue, domain.TopicDone
	of := func(topic domain.Topic, a domain.NoticeArgs) domain.Notice {
		return domain.Notice{Topic: topic, Args: a}
	}
	for _, test := range []struct {
		name  string
		op    domain.Op
		group []domain.Notice
		call  bool
		want  string
	}{
		{"two", domain.Post, []domain.Notice{of(due, plain), of(due, hands)}, false,
			"2 things are due on Marble:\n- wax.\n- dust.\n" +
				"Isolate and lock Marble first; guards back on before it runs.\n" +
				"How each is done and recorded: /how machine:Marble what:wax"},
		{"one is done", domain.Edit, []domain.Notice{of(over, done), of(due, plain)}, false,
			"One thing is due on Marble:\n- dust: done (no. 7).\n- wax.\n" +
				"How each is done and recorded: /how machine:Marble what:wax"},
		{"one that runs, and a call", domain.Post, []domain.Notice{of(due, running), of(due, plain)}, true,
			"2 things are due on Marble:\n" +
				"- stop. It runs for this: guards on, people clear, one person at the stop.\n" +
				"- wax.\nHow each is done and recorded: /how machine:Marble what:stop"},
		{"an edit of it", domain.Edit, []domain.Notice{of(due, running), of(over, done)}, false,
			"One thing is due on Marble:\n" +
				"- stop. It runs for this: guards on, people clear, one person at the stop.\n" +
				"- dust: done (no. 7).\nHow each is done and recorded: /how machine:Marble what:stop"},
		{"the same twice, and another", domain.Edit,
			[]domain.Notice{of(due, plain), of(over, done), of(due, late)}, false,
			"One thing is due on Marble:\n- dust: done (no. 7).\n- wax: overdue.\n" +
				"How each is done and recorded: /how machine:Marble what:wax"},
		{"the same twice", domain.Edit, []domain.Notice{of(due, hands), of(over, done)}, false,
			"Done on Marble: dust (no. 7)."},
	} {
		m := world.desk.Render(domain.NewShop("shop"), domain.Notice{Op: test.op, Topic: due, Args: plain,
			Group: test.group})
		if text := words.Expand(m.Text, plainMedium{}); text != test.want || m.Mention != test.call {
			t.Errorf("%s: to the stewards %v, %q,\nwant %q", test.name, m.Mention, text, test.want)
		}
	}
}
