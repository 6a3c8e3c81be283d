package quantity

import (
	"errors"
	"math/big"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Layout says what is expected where the values of several positions are typed.
type Layout struct {
	Context
	Positions []string // in the profile's order; a single one may be ""
}

// At is what was read at one position.
type At struct {
	Position string  `json:"position"`
	Repeats  []Value `json:"repeats"` // at least one
}

// Mean is the mean of the repeats, exactly.
func (a At) Mean() Value {
	sum := a.Repeats[0]
	if len(a.Repeats) == 1 {
		return sum
	}
	for _, v := range a.Repeats[1:] {
		sum = sum.Add(v)
	}
	return sum.Mul(big.NewRat(1, int64(len(a.Repeats))))
}

// List is a reading as it was typed: every position of the layout, in its order.
type List struct {
	At   []At
	Unit Unit // the unit of the last value
	Bare bool // no unit was given at all
}

// ParseList reads the values of every position. What stands in front wins:
//
//  1. A whole number, a space and a proper fraction are one number: "1 1/16".
//  2. Named positions: "left 0.046 in, right 0.041 in", "L: 46 R: 41 thou",
//     "left=46 right=41". A name may be cut short as long as it stays the only
//     one that begins so, and several words may be given by their initials
//     ("k1l" for "knife 1 left"). Several numbers behind a name are repeats.
//  3. Without names, a list that has a unit, or whose values are parted by
//     commas or semicolons, is one value a position in the layout's order.
//  4. Without names, units and commas, three or more numbers for as many
//     positions are in the layout's order; two for two positions are asked
//     (*Ambiguity): in order, or repeats at one.
//  5. For a single position all numbers are repeats.
//
// Two numbers that touch, or have a dash between them, are never two values: they are
// refused as a range or as what they look like.
//
// A number without a unit takes the next unit to its right, else the last one
// to its left, else the context's entry unit. A comma with a digit on either
// side is a decimal comma ("1,09"), except that "1,234" is asked; a comma and a
// space part values. Every position must have a value.
func ParseList(text string, layout Layout) (List, error) {
	var met []string
	read := func(ch choice) (List, error) {
		scanner := &listScanner{scanner: scan(text, layout.Kind, ch), l: layout}
		list, err := scanner.list()
		met = scanner.met
		if refusal := (*Refusal)(nil); errors.As(err, &refusal) {
			refusal.Example = layout.example()
		}
		return list, err
	}
	// Read it once; what has only one meaning is done.
	list, err := read(choice{})
	if err != nil || len(met) == 0 {
		return list, err
	}
	// Two numbers for two positions: one each, or both at one of them.
	question := &Ambiguity{Input: text, Code: met[0]}
	if met[0] == AmbiguousList {
		question.add(list.text())
		var all []Value
		for _, at := range list.At {
			all = append(all, at.Repeats...)
		}
		for _, position := range layout.Positions {
			question.add(List{At: []At{{position, all}}, Unit: list.Unit}.text())
		}
		return List{}, question
	}
	// Otherwise ask only if the ways of reading it differ in value.
	differ := false
	for _, ch := range choices(met) {
		other, err := read(ch)
		if err != nil {
			return List{}, err
		}
		differ = differ || !other.equal(list)
		question.add(other.text())
	}
	if !differ {
		return list, nil
	}
	return List{}, question
}

// equal reports whether both lists hold the same values.
func (l List) equal(m List) bool {
	return slices.EqualFunc(l.At, m.At, func(a, b At) bool {
		return a.Position == b.Position && slices.EqualFunc(a.Repeats, b.Repeats, Value.Equal)
	})
}

// text is the list typed out, with one meaning.
func (l List) text() string {
	parts := make([]string, len(l.At))
	for i, at := range l.At {
		words := make([]string, 0, len(at.Repeats)+1)
		if at.Position != "" {
			words = append(words, at.Position)
		}
		for _, value := range at.Repeats {
			words = append(words, Typed(value, l.Unit))
		}
		parts[i] = strings.Join(words, " ")
	}
	return strings.Join(parts, ", ")
}

// example is a list that can be typed under that layout.
func (l Layout) example() string {
	parts := make([]string, len(l.Positions))
	for i, p := range l.Positions {
		parts[i] = strings.TrimSpace(p + " " + l.Context.example())
	}
	return strings.Join(parts, ", ")
}

// typed is a number as it stood in a list, before its unit was settled.
type typed struct {
	n        *big.Rat
	u        Unit
	position int // -1 where none was named
	at       int
}

type listScanner struct {
	scanner
	l Layout
}

func (s *listScanner) list() (List, error) {
	if err := s.begin(); err != nil {
		return List{}, err
	}
	var values []typed
	position, commas := -1, false
	seen := map[int]bool{}
	behind := 0 // where the value before ended
	for {
		s.space()
		// Separators; a comma counts only between values, before the first it is a decimal one.
		for char, size := s.peek(); char == ',' || char == ';' || char == ' ' && size > 0; char, size = s.peek() {
			if char == ',' && len(values) == 0 && s.digitAt(s.pos+1) {
				break
			}
			commas = commas || char != ' ' && len(values) > 0
			s.pos += size
		}
		if s.pos >= len(s.in) {
			break
		}
		// A name: what follows is read there.
		at := s.pos
		if place, end := s.positionAt(at); place >= 0 {
			if seen[place] {
				return List{}, s.refuse(at, CodeRepeatedPosition, "each position once")
			}
			if position == -1 && len(values) > 0 {
				return List{}, s.refuse(values[0].at, CodeUnknownPosition, s.names())
			}
			seen[place], position, s.pos = true, place, end
			s.space()
			if char, size := s.peek(); char == ':' || char == '=' {
				s.pos += size
				s.space()
			}
			if value, err := s.value(position); err != nil {
				return List{}, err
			} else {
				values = append(values, value)
			}
			behind = s.pos
			continue
		}
		// A word that is no name: say what could stand here.
		if char, _ := s.peek(); unicode.IsLetter(char) {
			if len(s.l.Positions) == 1 && s.l.Positions[0] == "" {
				return List{}, s.refuse(at, CodeNoNumber, "a number")
			}
			return List{}, s.refuse(at, CodeUnknownPosition, s.names())
		}
		// Two numbers that touch, or have a dash between, are never two values.
		if len(values) > 0 {
			if err := s.apart(values[len(values)-1].at, behind); err != nil {
				return List{}, err
			}
		}
		value, err := s.value(position)
		if err != nil {
			return List{}, err
		}
		values, behind = append(values, value), s.pos
	}
	if len(values) == 0 {
		return List{}, s.refuse(s.pos, CodeEmpty, "a value")
	}
	return s.place(values, commas)
}

// digitAt reports whether a digit stands at a byte.
func (s *listScanner) digitAt(at int) bool {
	return at < len(s.in) && s.in[at] >= '0' && s.in[at] <= '9'
}

// apart refuses a value that runs into the one before, which stood from one byte to
// another: "46-41" is a range, "1.234,5" and "46 mm2" are no numbers. A minus is a sign
// where a space stands before it and none behind.
func (s *listScanner) apart(from, to int) error {
	char, _ := s.peek()
	next := strings.TrimLeft(s.in[s.pos:], "0123456789")
	signed := s.digitAt(s.pos+1) || s.digitAt(s.pos+2) && s.in[s.pos+1] == '.'
	switch {
	case (char == '-' || char == '+') && (s.pos == to || !signed):
		return s.refuse(s.pos, CodeRange, "one number")
	case s.pos == to, s.in[to:s.pos] == "," && s.digitAt(s.pos) && s.digitAt(to-1) &&
		strings.Contains(s.in[from:to], ".") && !strings.HasPrefix(next, "."):
		return s.refuse(to, CodeTrailing, "a space or a comma between two values")
	}
	return nil
}

// value reads a number and, behind it, a unit if there is one.
func (s *listScanner) value(position int) (typed, error) {
	at := s.pos
	number, err := s.number()
	if err != nil {
		return typed{}, err
	}
	unit, err := s.unit(func(at int) bool {
		p, _ := s.positionAt(at)
		return p >= 0
	})
	if err == nil && unit.Kind() != 0 && s.kind != Duration {
		v, err := s.parts(FromRat(number, unit), unit) // 12°30', 5' 3"
		if err != nil {
			return typed{}, err
		}
		number = v.In(unit)
	}
	return typed{number, unit, position, at}, err
}

// place gives every number its unit and its position.
func (s *listScanner) place(values []typed, commas bool) (List, error) {
	var list List
	// Units: the next to the right, else the last to the left, else the one entered by default.
	unit := Unit("")
	for i := len(values) - 1; i >= 0; i-- {
		if values[i].u == "" {
			values[i].u = unit
		}
		unit = values[i].u
	}
	list.Bare = unit == "" && !slices.ContainsFunc(values, func(v typed) bool { return v.u != "" })
	for i := range values {
		value := &values[i]
		if value.u == "" && i > 0 {
			value.u = values[i-1].u
		}
		if value.u == "" {
			value.u = s.l.Entry
		}
		if value.u == "" {
			return List{}, s.refuse(len(s.in), CodeUnknownUnit, unitWanted(s.kind))
		}
	}
	// Positions: as named; unnamed ones in order, where the number of values allows it.
	count := len(s.l.Positions)
	named := values[0].position >= 0
	switch {
	case named:
	case count == 1:
		for i := range values {
			values[i].position = 0
		}
	case len(values) > count:
		return List{}, s.refuse(values[count].at, CodeExtraValues, s.names())
	case len(values) < count:
		return List{}, s.refuse(len(s.in), CodeMissingPositions, s.l.Positions[len(values)])
	default:
		if count == 2 && list.Bare && !commas {
			s.meet(AmbiguousList)
		}
		for i := range values {
			values[i].position = i
		}
	}
	// Put them together, and see that no position went without.
	list.At = make([]At, count)
	for i, name := range s.l.Positions {
		list.At[i].Position = name
	}
	for _, value := range values {
		num, settled := s.settle(value.n, value.u)
		list.Unit = settled
		at := &list.At[value.position]
		at.Repeats = append(at.Repeats, FromRat(num, settled))
	}
	for _, at := range list.At {
		if len(at.Repeats) == 0 {
			return List{}, s.refuse(len(s.in), CodeMissingPositions, at.Position)
		}
	}
	return list, nil
}

func (s *listScanner) names() string { return strings.Join(s.l.Positions, ", ") }

// positionAt finds the position whose name, cut short or by its initials,
// begins at that byte, and where the name ends; -1 if none, or more than one,
// does.
func (s *listScanner) positionAt(at int) (position, end int) {
	position = -1
	for i, name := range s.l.Positions { // a full name, the longest first
		if after := fullName(s.in, at, name); name != "" && after > end {
			position, end = i, after
		}
	}
	if position >= 0 {
		return position, end
	}
	// Else a word that only one name can mean: its beginning, or its initials.
	end = at
	for _, char := range s.in[at:] {
		if !unicode.IsLetter(char) && (end == at || !unicode.IsDigit(char)) {
			break
		}
		end += len(string(char))
	}
	word := strings.ToLower(s.in[at:end])
	if word == "" {
		return -1, at
	}
	for i, name := range s.l.Positions {
		if short := strings.ToLower(name); !strings.HasPrefix(short, word) && initials(short) != word {
			continue
		}
		if position >= 0 {
			return -1, at
		}
		position = i
	}
	return position, end
}

// fullName is where name ends if it stands at that byte of in, without regard
// to case and to the amount of space in it, and is not part of a longer word; 0
// otherwise.
func fullName(in string, at int, name string) int {
	pos := at
	for i, word := range strings.Fields(name) {
		if i > 0 {
			rest := strings.TrimLeft(in[pos:], " ")
			pos = len(in) - len(rest)
		}
		if len(in)-pos < len(word) || !strings.EqualFold(in[pos:pos+len(word)], word) {
			return 0
		}
		pos += len(word)
	}
	if r, _ := utf8.DecodeRuneInString(in[pos:]); unicode.IsLetter(r) || unicode.IsDigit(r) {
		return 0
	}
	return pos
}

// initials are the first characters of a name's words: "k1l".
func initials(name string) string {
	var b strings.Builder
	for _, w := range strings.Fields(name) {
		b.WriteString(string([]rune(w)[:1]))
	}
	return b.String()
}
