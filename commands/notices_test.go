package commands_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"strconv"
	"strings"
	"testing"

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
