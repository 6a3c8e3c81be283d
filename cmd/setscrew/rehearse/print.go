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

func (t terminal) User(s string) string     { return s }
func (t terminal) Person(id string) string  { return id }
func (t terminal) Channel(id string) string { return "#" + id }
func (t terminal) Role(id string) string    { return "@" + id }

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
	var out strings.Builder
	line, empty := first, true
	for _, word := range strings.Fields(text) {
		if !empty && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > wide {
			out.WriteString(line + "\n")
			line, empty = rest, true
		}
		if !empty {
			line += " "
		}
		line += word
		empty = false
	}
	out.WriteString(strings.TrimRight(line, " ") + "\n")
	return out.String()
}

// paragraphs wraps each line of a text by itself.
func paragraphs(text, first, rest string) string {
	var out strings.Builder
	for _, line := range strings.Split(text, "\n") {
		out.WriteString(wrap(line, first, rest))
		first = rest
	}
	return out.String()
}

// layOut prints a reply. picture is where its picture was written, or "".
func layOut(reply commands.Reply, who, picture string, medium words.Medium) string {
	var out strings.Builder
	if reply.Quiet && reply.Form == nil {
		fmt.Fprintf(&out, "  (only %s sees this)\n", who)
	}
	line := func(s string) {
		if s = words.Expand(s, medium); s != "" {
			out.WriteString(wrap(s, "  ", "    "))
		}
	}
	// What it says: text, then table, then picture.
	line(reply.Headline)
	for _, text := range reply.Lines {
		line(text)
	}
	if reply.Table != nil {
		out.WriteString(layOutTable(reply.Table, medium))
	}
	if reply.Picture != nil {
		line("[picture: " + reply.Picture.Alt + "]")
		if picture != "" {
			line(picture)
		}
	}
	for _, text := range reply.Aside {
		line(text)
	}
	// What can be done next: buttons by number, a form by its fields.
	if len(reply.Buttons) > 0 {
		labels := make([]string, len(reply.Buttons))
		for i, button := range reply.Buttons {
			labels[i] = fmt.Sprintf("  [%d] %s", i+1, button.Label)
		}
		sep := " "
		if utf8.RuneCountInString(strings.Join(labels, sep)) > wide {
			sep = "\n"
		}
		out.WriteString(strings.Join(labels, sep) + "\n")
	}
	if reply.Form != nil {
		parts := make([]string, len(reply.Form.Fields))
		for i, field := range reply.Form.Fields {
			line(fmt.Sprintf("%s: (such as %s)", field.Label, field.Example))
			parts[i] = fmt.Sprintf("%s=%q", field.ID, field.Example)
		}
		line("Fill it in: fill " + strings.Join(parts, " "))
	}
	return out.String()
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
func layOutTable(table *commands.Table, medium words.Medium) string {
	rows := make([][]string, 0, len(table.Rows)+1)
	if len(table.Head) > 0 {
		rows = append(rows, table.Head)
	}
	for _, row := range table.Rows {
		cells := make([]string, len(row))
		for i, cell := range row {
			cells[i] = words.Expand(cell, medium)
		}
		rows = append(rows, cells)
	}
	// Each column as wide as its widest cell.
	var widths []int
	total := 0
	for _, row := range rows {
		for i, cell := range row {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	for _, width := range widths {
		total += width + 2
	}
	// Too wide for a screen: a line for the first two cells, one for the rest.
	var out strings.Builder
	if total > wide && len(table.Head) > 0 {
		for _, row := range rows[1:] {
			out.WriteString(wrap(row[0]+": "+row[1], "  ", "    "))
			if more := labelled(table.Head, row); more != "" {
				out.WriteString(wrap(more, "    ", "      "))
			}
		}
		return out.String()
	}
	for _, row := range rows {
		line := " "
		for i, cell := range row {
			line += " " + cell + strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell)+1)
		}
		out.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	return out.String()
}
