package paper_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"setscrew/commands/paper"
)

func page() paper.Page {
	return paper.Page{Title: "Marble", Under: "Quarry Street Commons", Notes: []string{"Öl ohne Silikon."},
		Heads: []string{"when", "what"}, Shares: []float64{1, 3}, Made: time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)}
}

// pages counts the pages of a PDF by its page objects.
func pages(b []byte) int { return bytes.Count(b, []byte("/Type /Page\n")) }

// A filled page is one page, the same bytes each time; one without room for its
// rows is an error, not a second page.
func TestFill(t *testing.T) {
	page := page()
	page.Fill, page.Least, page.After = true, 10, []string{"Type it in later."}
	first, err := paper.PDF(page)
	if err != nil {
		t.Fatal(err)
	}
	b, err := paper.PDF(page)
	if err != nil || !bytes.Equal(first, b) {
		t.Errorf("twice: %v, alike %t", err, bytes.Equal(first, b))
	}
	if !bytes.HasPrefix(first, []byte("%PDF-")) || pages(first) != 1 {
		t.Errorf("%d pages, begins %q", pages(first), first[:8])
	}
	page.Notes = []string{strings.Repeat("word ", 2000)}
	if _, err := paper.PDF(page); err == nil {
		t.Error("a page without room is laid out")
	}
}

// A long table goes on on a next page.
func TestManyRows(t *testing.T) {
	p := page()
	for range 60 {
		p.Rows = append(p.Rows, []string{"Tue 3 Mar", strings.Repeat("step by step ", 12)})
	}
	b, err := paper.PDF(p)
	if err != nil || pages(b) < 3 {
		t.Errorf("%d pages, %v", pages(b), err)
	}
}
