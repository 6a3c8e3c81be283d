package commands

import (
	"setscrew/domain"
)

// Reply is an answer in structure; each chat lays it out its own way. Its texts
// may hold guarded parts (words.User and its siblings), which words.Expand
// turns into what the medium shows.
type Reply struct {
	Quiet    bool   // seen only by the one who asked
	Refused  bool   // nothing was done
	Headline string // the essential sentence
	Lines    []string
	Table    *Table
	Picture  *Picture
	File     *File // beside no picture
	Buttons  []Button
	Form     *Form // instead of everything else: opens a form
	// Aside is told to the one who asked alone, quiet even where the reply is not: what
	// keeps notices back, and how to mend it.
	Aside []string
	// Replaces says that the answer takes the place of the message whose button
	// was pressed, so that its buttons cannot be pressed again.
	Replaces bool
}

// Table is a small table: a chat may show it as aligned text or as lines.
type Table struct {
	Head []string
	Rows [][]string
}

// Picture is data to be drawn once the report is safely stored, by Draw.
type Picture struct {
	Name string // file name without extension
	Alt  string // says in words what it shows
	Data any    // one of the series that commands/plot draws
}

// File is a file to take away.
type File struct {
	Name string // with its extension
	Type string // media type
	Data []byte
}

// What a chat shows, in characters: of a button's label, of a form's title and its
// fields' labels, and of a completion.
const (
	buttonChars = 80
	formChars   = 45
	choiceChars = 100
)

// Button is a next step. Label is a verb and its object, at most 80 characters.
type Button struct {
	Label  string
	Custom string // custom id, 1 to 100 characters
	Style  Style
}

// Style is how much a button presses itself forward; at most one a reply is
// Primary.
type Style uint8

// The styles. Grave is for what stops or starts a machine.
const (
	Plain Style = iota
	Primary
	Grave
)

// Form asks for several values at once: a title of at most 45 characters and 1
// to 5 fields.
type Form struct {
	Title  string
	Custom string
	Fields []Field
}

// Field is one line of a form.
type Field struct {
	ID       string // at most 100 characters; what people type in `fill ID=…`
	Label    string // at most 45 characters
	Example  string // shown while the field is empty
	Value    string // filled in already
	Required bool
	Long     bool // several lines
}

// Message is a rendered notice: what stands, or is to stand, in the channel.
type Message struct {
	Text     string            // the essential sentence and its lines, with guarded parts
	Mention  bool              // mentions the shop's steward role
	People   []domain.PersonID // and these people; nobody else
	Buttons  []Button          // what may be done about it; an edit without one takes it away
	Headline string            // first line of Text, for logs and lists
}
