package rehearse

import (
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"setscrew/commands"
	"setscrew/commands/words"
)

// wide is how many columns a line may take.
const wide = 80

// terminal shows guarded parts in a terminal: user text as it is, times in the
// shop's zone.
type terminal struct {
	loc *time.Location
	now time.Time
}

func (t terminal) User(s string) string    { return s }
func (t terminal) Person(id string) string { return id }

// Link shows the name: a terminal opens nothing.
func (t terminal) Link(address, name string) string { return name }
func (t terminal) Time(at time.Time, style words.TimeStyle) string {
	switch style {
	case words.Date:
		return at.In(t.loc).Format("Mon 2 Jan 2006")
	case words.Ago:
		return t.now.Sub(at).Round(time.Minute).String() + " ago"
	}
	return at.In(t.loc).Format("Mon 2 Jan 2006 15:04")
}

// wrap breaks a paragraph into lines of at most wide columns, each behind
// first or, from the second on, rest.
func wrap(text, first, rest string) string {
	var b strings.Builder
	line, empty := first, true
	for _, w := range strings.Fields(text) {
		if !empty && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) > wide {
			b.WriteString(line + "\n")
			line, empty = rest, true
		}
		if !empty {
			line += " "
		}
		line += w
		empty = false
	}
	b.WriteString(strings.TrimRight(line, " ") + "\n")
	return b.String()
}

// paragraphs wraps each line of a text by itself.
func paragraphs(text, first, rest string) string {
	var b strings.Builder
	for _, line := range strings.Split(text, "\n") {
		b.WriteString(wrap(line, first, rest))
		first = rest
	}
	return b.String()
}

// layOut prints a reply. picture is where its picture was written, or "".
func layOut(r commands.Reply, who, picture string, m words.Medium) string {
	var b strings.Builder
	if r.Quiet && r.Form == nil {
		fmt.Fprintf(&b, "  (only %s sees this)\n", who)
	}
	line := func(s string) {
		if s = words.Expand(s, m); s != "" {
			b.WriteString(wrap(s, "  ", "    "))
		}
	}
	line(r.Headline)
	for _, l := range r.Lines {
		line(l)
	}
	if r.Table != nil {
		b.WriteString(layOutTable(r.Table, m))
	}
	if r.Picture != nil {
		line("[picture: " + r.Picture.Alt + "]")
		if picture != "" {
			line(picture)
		}
	}
	if len(r.Buttons) > 0 {
		labels := make([]string, len(r.Buttons))
		for i, x := range r.Buttons {
			labels[i] = fmt.Sprintf("  [%d] %s", i+1, x.Label)
		}
		sep := " "
		if utf8.RuneCountInString(strings.Join(labels, sep)) > wide {
			sep = "\n"
		}
		b.WriteString(strings.Join(labels, sep) + "\n")
	}
	if r.Form != nil {
		parts := make([]string, len(r.Form.Fields))
		for i, f := range r.Form.Fields {
			line(fmt.Sprintf("%s: (such as %s)", f.Label, f.Example))
			parts[i] = fmt.Sprintf("%s=%q", f.ID, f.Example)
		}
		line("Fill it in: fill " + strings.Join(parts, " "))
	}
	return b.String()
}

// labelled is a row's cells from the third on, each behind its heading.
func labelled(head, row []string) string {
	var parts []string
	for i, c := range row[min(2, len(row)):] {
		if c != "" {
			parts = append(parts, head[i+2]+" "+c)
		}
	}
	return strings.Join(parts, "; ")
}

// layOutTable aligns a table's columns, or puts each row on two lines where they
// are too wide for a screen.
func layOutTable(t *commands.Table, m words.Medium) string {
	rows := make([][]string, 0, len(t.Rows)+1)
	if len(t.Head) > 0 {
		rows = append(rows, t.Head)
	}
	for _, row := range t.Rows {
		cells := make([]string, len(row))
		for i, c := range row {
			cells[i] = words.Expand(c, m)
		}
		rows = append(rows, cells)
	}
	var widths []int
	total := 0
	for _, row := range rows {
		for i, c := range row {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(c))
		}
	}
	for _, w := range widths {
		total += w + 2
	}
	var b strings.Builder
	if total > wide && len(t.Head) > 0 {
		for _, row := range rows[1:] {
			b.WriteString(wrap(row[0]+": "+row[1], "  ", "    "))
			if more := labelled(t.Head, row); more != "" {
				b.WriteString(wrap(more, "    ", "      "))
			}
		}
		return b.String()
	}
	for _, row := range rows {
		line := " "
		for i, c := range row {
			line += " " + c + strings.Repeat(" ", widths[i]-utf8.RuneCountInString(c)+1)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	return b.String()
}
