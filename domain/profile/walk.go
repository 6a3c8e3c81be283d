package profile

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// Error is one mistake in a profile's file.
type Error struct {
	File         string
	Line, Column int // from 1
	Got, Want    string
}

// Error is the mistake in one line: file, line, column, what stands there and
// what was expected.
func (e Error) Error() string {
	return fmt.Sprintf("%s:%d:%d: got %s; expected %s", e.File, e.Line, e.Column, e.Got, e.Want)
}

// Errors are all the mistakes of a file, in its order.
type Errors []Error

// Error lists the mistakes, a line each.
func (e Errors) Error() string {
	lines := make([]string, len(e))
	for i, x := range e {
		lines[i] = x.Error()
	}
	return strings.Join(lines, "\n")
}

// The bounds of a file, seen to before it is parsed.
const (
	maxBytes = 256 << 10
	maxDepth = 16
)

// parse reads a file's syntax tree, nil where it has none. Its mistakes are
// noted in w.
func (w *walker) parse(text []byte) ast.Node {
	if len(text) > maxBytes {
		w.fail(1, 1, fmt.Sprintf("%d bytes", len(text)), fmt.Sprintf("at most %d", maxBytes))
		return nil
	}
	// Count brackets first: the parser takes seconds over a file of nothing else.
	depth := 0
	line, column := 1, 0
	for _, char := range text {
		column++
		switch char {
		case '\n':
			line, column = line+1, 0
		case '[', '{':
			depth++
		case ']', '}':
			depth = max(depth-1, 0)
		}
		if depth > maxDepth {
			w.fail(line, column, "brackets nested too deep", fmt.Sprintf("at most %d", maxDepth))
			return nil
		}
	}
	// Parse, and say where in the file it went wrong.
	tree, err := parser.ParseBytes(text, 0)
	var syntax *yaml.SyntaxError
	switch {
	case errors.As(err, &syntax):
		w.failAt(syntax.Token, syntax.Message, "YAML")
		return nil
	case err != nil:
		w.fail(1, 1, err.Error(), "YAML")
		return nil
	}
	// One profile a file; the parser would pass over further documents in silence.
	docs := slices.DeleteFunc(tree.Docs, func(d *ast.DocumentNode) bool { return d.Body == nil })
	if len(docs) == 0 {
		w.fail(1, 1, "an empty file", "a profile")
		return nil
	}
	if len(docs) > 1 {
		w.failNode(docs[1].Body, "a second document", "one profile a file")
	}
	return docs[0].Body
}

// walker reads a syntax tree and notes every mistake it meets.
type walker struct {
	file string
	errs Errors
}

func (w *walker) fail(line, column int, got, want string) {
	w.errs = append(w.errs, Error{w.file, max(line, 1), max(column, 1), got, want})
}

func (w *walker) failAt(found *token.Token, got, want string) {
	if found == nil || found.Position == nil {
		w.fail(1, 1, got, want)
		return
	}
	w.fail(found.Position.Line, found.Position.Column, got, want)
}

func (w *walker) failNode(n ast.Node, got, want string) { w.failAt(first(n), got, want) }

// first is the token at which a node begins.
func first(node ast.Node) *token.Token {
	switch typed := node.(type) {
	case nil:
		return nil
	case *ast.MappingNode:
		if !typed.IsFlowStyle && len(typed.Values) > 0 {
			return first(typed.Values[0])
		}
	case *ast.MappingValueNode:
		return typed.Key.GetToken()
	}
	return node.GetToken()
}

// describe says what a node is, for what was got.
func describe(node ast.Node) string {
	switch typed := node.(type) {
	case nil, *ast.NullNode:
		return "nothing"
	case *ast.MappingNode, *ast.MappingValueNode:
		return "a mapping"
	case *ast.SequenceNode:
		return "a list"
	case *ast.AnchorNode, *ast.AliasNode, *ast.TagNode, *ast.MergeKeyNode:
		return "YAML's " + typed.Type().String()
	}
	if s, ok := source(node); ok {
		return strconv.Quote(cut(s, 40))
	}
	return node.Type().String()
}

func cut(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n]) + "…"
	}
	return s
}

// source is a scalar as it stands in the file: 1.50 stays "1.50".
func source(node ast.Node) (string, bool) {
	switch typed := node.(type) {
	case *ast.LiteralNode:
		return typed.Value.Value, true
	case *ast.StringNode:
		return typed.Value, true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return typed.GetToken().Value, true
	}
	return "", false
}

// fields are the values of a mapping by key, with where it stands.
type fields struct {
	w    *walker
	node ast.Node
	by   map[string]ast.Node
}

// mapping reads a mapping whose keys are all among known.
func (w *walker) mapping(node ast.Node, known ...string) fields {
	keys := fields{w, node, map[string]ast.Node{}}
	var values []*ast.MappingValueNode
	switch typed := node.(type) {
	case *ast.MappingNode:
		values = typed.Values
	case *ast.MappingValueNode:
		values = []*ast.MappingValueNode{typed}
	default:
		w.failNode(typed, describe(typed), "a mapping with "+strings.Join(known, ", "))
		return keys
	}
	for _, value := range values {
		key, ok := source(value.Key)
		switch {
		case !ok || !slices.Contains(known, key):
			w.failAt(value.Key.GetToken(), describe(value.Key), "one of "+strings.Join(known, ", "))
		case keys.by[key] != nil:
			w.failAt(value.Key.GetToken(), "a second "+key, "each key once")
		default:
			keys.by[key] = value.Value
		}
	}
	return keys
}

func (f fields) has(key string) bool { return f.by[key] != nil }

// missing notes that a key is not there.
func (f fields) missing(key, want string) {
	f.w.failNode(f.node, "no "+key, want)
}

// text reads a scalar of at most limit characters; "" if the key is absent and
// not needed.
func (f fields) text(key string, needed bool, limit int) string {
	node := f.by[key]
	if node == nil {
		if needed {
			f.missing(key, key+": a text")
		}
		return ""
	}
	text, ok := source(node)
	text = strings.TrimSpace(text)
	if !ok || text == "" {
		f.w.failNode(node, describe(node), "a text")
		return ""
	}
	if len([]rune(text)) > limit {
		f.w.failNode(node, fmt.Sprintf("%d characters", len([]rune(text))), fmt.Sprintf("at most %d", limit))
	}
	if strings.ContainsFunc(text, func(r rune) bool { return r < ' ' && r != '\n' || r >= 0xE000 && r <= 0xF8FF }) {
		f.w.failNode(node, "a control character", "plain text")
	}
	return text
}

// word reads one of a few words.
func (f fields) word(key string, needed bool, among ...string) string {
	s := f.text(key, needed, 60)
	if s != "" && !slices.Contains(among, s) {
		f.w.failNode(f.by[key], describe(f.by[key]), "one of "+strings.Join(among, ", "))
	}
	return s
}

// whole reads a whole number from least to most.
func (f fields) whole(key string, needed bool, least, most int) int {
	s := f.text(key, needed, 20)
	if s == "" {
		return 0
	}
	number, err := strconv.Atoi(s)
	if err != nil || number < least || number > most {
		f.w.failNode(f.by[key], describe(f.by[key]), fmt.Sprintf("a whole number from %d to %d", least, most))
		return least
	}
	return number
}

// flag reads true or false, false if the key is absent.
func (f fields) flag(key string) bool { return f.word(key, false, "true", "false") == "true" }

// items are the entries of a list; none if the key is absent and not needed.
func (f fields) items(key string, needed bool) []ast.Node {
	node := f.by[key]
	if node == nil {
		if needed {
			f.missing(key, key+": a list")
		}
		return nil
	}
	list, ok := node.(*ast.SequenceNode)
	if !ok {
		f.w.failNode(node, describe(node), "a list")
		return nil
	}
	return list.Values
}

// texts reads a list of texts.
func (f fields) texts(key string, needed bool, limit int) []string {
	var list []string
	for _, node := range f.items(key, needed) {
		list = append(list, fields{f.w, node, map[string]ast.Node{key: node}}.text(key, true, limit))
	}
	return list
}
