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

	About bool // it was said not to be exact: "about 46 thou"
}

// ParseList reads the values of every position:
//
//  1. A whole number, a space and a proper fraction are one number: "1 1/16".
//  2. Named positions: "left 0.046 in, right 0.041 in", "L: 46 R: 41 thou",
//     "left=46 right=41"; or the names behind the values, throughout: "46 thou left,
//     41 right". A name may be cut short as long as it stays the only
//     one that begins so, several words may be given by their initials
//     ("k1l" for "knife 1 left"), and one with a number by that ("#2", "2:"). Several
//     numbers for a name are repeats.
//  3. Several names together have one value, or one each: "left and right 43",
//     "L/R 43/41". "both", "all", "each" and the like stand for every position, "rest" for
//     those not yet named, "same" for the value before.
//  4. Without names, as many numbers as there are positions are one each, in the layout's
//     order. One number alone for several positions is asked (*Ambiguity): the same at
//     each?
//  5. For a single position all numbers are repeats.
//
// A range ("38-42", "38 to 42") is asked about. Two numbers that touch are never two
// values. Numbers may be in words, as spoken says.
//
// A number without a unit takes the next unit to its right, else the last one
// to its left, else the context's entry unit. A comma with a digit on either
// side is a decimal comma ("1,09"), except that "1,234" is asked; a comma and a
// space part values. Every position must have a value.
func ParseList(text string, layout Layout) (List, error) {
	var met []string
	read := func(ch choice) (List, error) {
		scanner := &listScanner{scanner: scan(text, layout.Kind, ch, layout.Positions...), l: layout}
		list, err := scanner.list()
		met = scanner.met
		list.About = scanner.about
		if refusal := (*Refusal)(nil); errors.As(err, &refusal) {
			refusal.Example = layout.example()
		}
		return list, err
	}
	// Read it once; what has only one meaning is done.
	list, err := read(choice{})
	if len(met) == 0 {
		return list, err
	}
	// Otherwise ask only if the ways of reading it differ in value; a range and the number
	// behind a name are asked about in any case, and so is one value for several places.
	// What would be no list is not meant.
	question := &Ambiguity{Input: text, Code: met[0]}
	differ := slices.ContainsFunc(met, func(code string) bool {
		return code == AmbiguousRange || code == AmbiguousName || code == AmbiguousPlaces
	})
	var first List
	valid := 0
	ways := choices(met)
	for _, ch := range ways {
		other, wrong := read(ch)
		if wrong != nil {
			continue
		}
		if len(question.Options) == 0 {
			first = other
		}
		differ, valid = differ || !other.equal(first), valid+1
		question.add(other.text())
	}
	if question.Code == AmbiguousRange && valid > 1 && len(question.Options) == 1 {
		differ = false // from 0 to 0
	}
	switch {
	case len(question.Options) == 0:
		return List{}, err
	case !differ:
		return first, nil
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
		switch name := at.Position; {
		case name == "":
		case name[len(name)-1] >= '0' && name[len(name)-1] <= '9':
			words = append(words, name+":") // the number is the name's
		default:
			words = append(words, name)
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
	fraction bool // it was typed as one
	position int  // -1 where none was named
	at       int
}

// item is what stands in a list: the name of a position or of several, or a value.
type item struct {
	at     int
	end    int   // where it ended
	places []int // the positions named, nil of a value
	rest   bool  // "rest": the positions not named elsewhere
	same   bool  // "same": the value before
	value  typed
	comma  bool // something that parts values stands before it
}

// named reports whether an item is a name.
func (i item) named() bool { return i.places != nil || i.rest }

type listScanner struct {
	scanner
	l     Layout
	ended int // where the last value ended
}

func (s *listScanner) list() (List, error) {
	if err := s.begin(); err != nil {
		return List{}, err
	}
	items, err := s.items()
	if err != nil {
		return List{}, err
	}
	values, err := s.arrange(items)
	if err != nil {
		return List{}, err
	}
	if len(values) == 0 {
		return List{}, s.refuse(s.pos, CodeEmpty, "a value")
	}
	return s.place(values)
}

// items reads names and values, one after another.
func (s *listScanner) items() ([]item, error) {
	var items []item
	values := 0
	for {
		afterName := len(items) > 0 && items[len(items)-1].named()
		comma := s.between(values > 0 && !afterName, values == 0)
		if s.pos >= len(s.in) {
			return items, nil
		}
		next := item{at: s.pos, comma: comma}
		// A name, or a word for several.
		if places, rest, end := s.placesAt(s.pos); places != nil || rest {
			next.places, next.rest, s.pos = places, rest, end
			s.space()
			if char, size := s.peek(); char == ':' || char == '=' {
				s.pos += size
			}
			next.end = s.pos
			items = append(items, next)
			continue
		}
		if end := s.word(s.pos, sameAgain); end > 0 && values > 0 {
			next.same, s.pos = true, end
			items, values = append(items, next), values+1
			continue
		}
		// A word that is no name: say what could stand here.
		if char, _ := s.peek(); unicode.IsLetter(char) {
			if afterName || len(s.l.Positions) == 1 && s.l.Positions[0] == "" {
				return nil, s.refuse(s.pos, CodeNoNumber, "a number")
			}
			return nil, s.refuse(s.pos, CodeUnknownPosition, s.names())
		}
		// A value, or the ends of a range.
		last := -1
		if len(items) > 0 && !items[len(items)-1].named() {
			last = items[len(items)-1].at
		}
		read, err := s.valuesAt(last)
		if err != nil {
			return nil, err
		}
		for i, value := range read {
			next.value, next.at, next.comma, next.end = value, value.at, comma && i == 0, s.pos
			items = append(items, next)
		}
		values += len(read)
	}
}

// valuesAt reads a value; of a range one end or both, as is chosen. last is where the
// value directly before began, or -1.
func (s *listScanner) valuesAt(last int) ([]typed, error) {
	// Two numbers that touch, or have a dash between, are never two values.
	if last >= 0 {
		if err := s.apart(last, s.ended); err != nil {
			return nil, err
		}
	}
	value, err := s.value()
	if err != nil {
		return nil, err
	}
	if !s.rangeMark() {
		s.ended = s.pos
		return []typed{value}, nil
	}
	other, err := s.value()
	if err != nil {
		return nil, err
	}
	s.ended = s.pos
	s.meet(AmbiguousRange)
	if value.u == "" {
		value.u = other.u
	}
	switch s.choice.end {
	case 0:
		return []typed{value}, nil
	case 1:
		return []typed{other}, nil
	}
	return []typed{value, other}, nil
}

// Words between names and values that change nothing, that part values, and that stand
// for the value before.
var (
	fillers = []string{"the", "side", "sides", "end", "ends", "is", "are", "at", "on", "of", "reads", "read", "reading",
		"measures", "measured", "value", "gap", "thanks", "thank you", "thx", "please", "spot on", "dead on",
		"i get", "i got", "got", "it's", "its"}
	parters   = []string{"and", "vs.", "vs", "versus", "then", "und", "et", "y"}
	sameAgain = []string{"the same", "same", "ditto", "likewise"}
)

// word is where one of some phrases ends that stands at a byte, or 0.
func (s *listScanner) word(at int, phrases []string) (end int) {
	for _, phrase := range phrases {
		end = max(end, fullName(s.in, at, phrase))
	}
	return end
}

// between passes what stands between names and values, and reports whether something in
// it parts values. A comma counts only behind a value, else it is a decimal one. With first
// no value was read yet.
func (s *listScanner) between(behind, first bool) (comma bool) {
	for s.pos < len(s.in) {
		char, size := s.peek()
		switch {
		case char == ',' && !behind && s.digitAt(s.pos+1):
			return comma
		case char == ',' || char == ';' || char == '/' || char == '|' || char == '&':
			comma, s.pos = comma || behind, s.pos+size
			continue
		case char == ' ' || char == '(' || char == ')' || char == '!':
			s.pos += size
			continue
		case char == '.' && !s.digitAt(s.pos+1): // the end of a sentence
			s.pos += size
			continue
		}
		if char == '-' && s.dashBeforeName() {
			s.pos++
			continue
		}
		if places, rest, _ := s.placesAt(s.pos); places != nil || rest {
			return comma
		}
		if end := s.word(s.pos, parters); end > 0 {
			comma, s.pos = comma || behind, end
			continue
		}
		// "same on both" is about what follows.
		end := s.word(s.pos, fillers)
		if same := s.word(s.pos, sameAgain); same > 0 && first {
			end = same
		}
		if end == 0 {
			return comma
		}
		s.pos = end
		if strings.HasPrefix(s.in[end:], ":") { // "reading: left 46"
			s.pos++
		}
	}
	return comma
}

// dashBeforeName reports whether a dash with a space on either side stands before a name, as
// in "left 46 - right 41".
func (s *listScanner) dashBeforeName() bool {
	rest := s.in[s.pos+1:]
	name := strings.TrimLeft(rest, " ")
	if s.pos == 0 || s.in[s.pos-1] != ' ' || len(name) == len(rest) || name == "" {
		return false
	}
	places, others, _ := s.placesAt(len(s.in) - len(name))
	return places != nil || others
}

// digitAt reports whether a digit stands at a byte.
func (s *listScanner) digitAt(at int) bool {
	return at < len(s.in) && s.in[at] >= '0' && s.in[at] <= '9'
}

// apart refuses a value that runs into the one before, which stood from one byte to
// another: "1.234,5" and "46 mm2" are no numbers, and a dash behind a comma is no sign. A
// minus is a sign where a space stands before it and none behind.
func (s *listScanner) apart(from, to int) error {
	char, _ := s.peek()
	next := strings.TrimLeft(s.in[s.pos:], "0123456789")
	signed := s.digitAt(s.pos+1) || s.digitAt(s.pos+2) && s.in[s.pos+1] == '.'
	switch {
	case (char == '-' || char == '+') && (s.pos == to || !signed):
		return s.refuse(s.pos, CodeRange, "one number")
	case s.pos == to, s.in[to:s.pos] == "/" && strings.Contains(s.in[from:to], "/"), s.in[to:s.pos] == "," &&
		s.digitAt(s.pos) && s.digitAt(to-1) && strings.Contains(s.in[from:to], ".") && !strings.HasPrefix(next, "."):
		return s.refuse(to, CodeTrailing, "a space or a comma between two values")
	}
	return nil
}

// value reads a number and, behind it, a unit if there is one.
func (s *listScanner) value() (typed, error) {
	at := s.pos
	number, err := s.number()
	if err != nil {
		return typed{}, err
	}
	fraction := strings.Contains(s.in[at:s.pos], "/")
	if number, fraction, err = s.stroke(at, number, fraction); err != nil {
		return typed{}, err
	}
	unit, err := s.unit(func(at int) bool {
		places, rest, _ := s.placesAt(at)
		return places != nil || rest || s.word(at, parters) > 0 || s.word(at, fillers) > 0 ||
			s.word(at, sameAgain) > 0 || strings.HasPrefix(s.in[at:], "to ") || strings.HasPrefix(s.in[at:], "bis ")
	})
	if err == nil && unit.Kind() != 0 && s.kind != Duration {
		v, err := s.parts(FromRat(number, unit), unit) // 12°30', 5' 3"
		if err != nil {
			return typed{}, err
		}
		number = v.In(unit)
	}
	return typed{number, unit, fraction, -1, at}, err
}

// stroke reads on behind a whole number at " / " and another: a fraction that stands on a
// rule, or where that is chosen two values.
func (s *listScanner) stroke(at int, number *big.Rat, fraction bool) (*big.Rat, bool, error) {
	rest := strings.TrimLeft(s.in[s.pos:], " ")
	below := strings.TrimLeft(strings.TrimPrefix(rest, "/"), " ")
	digits := len(below) - len(strings.TrimLeft(below, "0123456789"))
	if fraction || !number.IsInt() || strings.ContainsAny(s.in[at:s.pos], ".,") || !strings.HasPrefix(rest, "/") ||
		digits == 0 || len(rest) == len(s.in)-s.pos && len(below) == len(rest)-1 ||
		strings.HasPrefix(below[digits:], ".") || strings.HasPrefix(below[digits:], ",") {
		return number, fraction, nil
	}
	part := mustRat(below[:digits])
	ruled := part.Num().IsInt64() && part.Num().Int64() > 1 && part.Num().Int64() <= 64 &&
		part.Num().Int64()&(part.Num().Int64()-1) == 0
	if !ruled || number.Cmp(part) >= 0 || number.Sign() <= 0 {
		return number, fraction, nil
	}
	s.meet(AmbiguousSlash)
	if s.choice.apart {
		return number, fraction, nil
	}
	s.pos = len(s.in) - len(below) + digits
	return new(big.Rat).Quo(number, part), true, nil
}

// arrange gives every value its position, where positions are named.
func (s *listScanner) arrange(items []item) ([]typed, error) {
	first := slices.IndexFunc(items, item.named)
	if first < 0 {
		var values []typed
		for _, next := range items {
			if next.same {
				next.value = values[len(values)-1]
			}
			values = append(values, next.value)
		}
		return values, nil
	}
	// Names stand before their values throughout, or behind them throughout.
	last := items[len(items)-1]
	switch {
	case first == 0 && last.named():
		return nil, s.refuse(last.end, CodeNoNumber, "a number")
	case first > 0 && !last.named():
		return nil, s.refuse(items[0].at, CodeUnknownPosition, s.names())
	}
	named := map[int]bool{}
	for _, next := range items {
		for _, place := range next.places {
			named[place] = true
		}
	}
	var values, before []typed
	seen := map[int]bool{}
	for len(items) > 0 {
		names, found := takeWhile(&items, first == 0)
		others, more := takeWhile(&items, first > 0)
		if first > 0 {
			names, found, others, more = others, more, names, found
		}
		// The names of one group, and its values.
		places := s.placesOf(names[:found], named)
		group := make([]typed, 0, more)
		for _, next := range others[:more] {
			if next.same && len(before) > 0 {
				group = append(group, before...)
				continue
			}
			if first > 0 && next.comma && len(group) > 0 && len(places) == 1 { // "46, 41 left": and the 46?
				return nil, s.refuse(next.at, CodeUnknownPosition, s.names())
			}
			group = append(group, next.value)
		}
		if first > 0 && names[0].comma { // "46, left 41": whose is it?
			return nil, s.refuse(names[0].at, CodeUnknownPosition, s.names())
		}
		if len(places) > 1 && len(group) > 1 && len(group) != len(places) {
			return nil, s.refuse(group[len(group)-1].at, CodeExtraValues, s.names())
		}
		for i, place := range places {
			if seen[place] {
				return nil, s.refuse(names[0].at, CodeRepeatedPosition, "each position once")
			}
			seen[place] = true
			for j, value := range group {
				if len(places) == 1 || len(group) == 1 || i == j {
					value.position = place
					values = append(values, value)
				}
			}
		}
		before = group
	}
	return values, nil
}

// takeWhile takes the first items that are names, or that are values, off a list.
func takeWhile(items *[]item, named bool) (taken []item, count int) {
	for count < len(*items) && (*items)[count].named() == named {
		count++
	}
	taken, *items = (*items)[:count], (*items)[count:]
	return taken, count
}

// placesOf are the positions that some names stand for, each once.
func (s *listScanner) placesOf(names []item, named map[int]bool) []int {
	var places []int
	add := func(place int) {
		if !slices.Contains(places, place) {
			places = append(places, place)
		}
	}
	for _, name := range names {
		for _, place := range name.places {
			add(place)
		}
		for place := range s.l.Positions {
			if name.rest && !named[place] {
				add(place)
			}
		}
	}
	return places
}

// place gives every number its unit and its position.
func (s *listScanner) place(values []typed) (List, error) {
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
		if value.u == "" && i > 0 && !list.Bare {
			value.u = values[i-1].u
		}
		if value.u == "" {
			value.u = s.bare(value.n, value.fraction, s.l.Entry)
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
	case len(values) == 1 && s.choice.all: // the same at each of them
		for i := range count - 1 {
			values = append(values, values[0])
			values[i].position = i
		}
		values[count-1].position = count - 1
	case len(values) < count:
		if len(values) == 1 {
			s.meet(AmbiguousPlaces)
		}
		return List{}, s.refuse(len(s.in), CodeMissingPositions, s.l.Positions[len(values)])
	default:
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

// everyPlace are words for all positions, and otherPlaces for those not named.
var (
	everyPlace = []string{"both", "all", "each", "every", "everywhere", "all round", "all around", "all of them",
		"beide", "alle", "les deux", "tous", "ambos", "todos"}
	otherPlaces = []string{"the rest", "rest", "the others", "others"}
)

// placesAt finds the positions that a word at a byte stands for, and where it ends: one by
// its name, all of them, or with rest those not named elsewhere.
func (s *listScanner) placesAt(at int) (places []int, rest bool, end int) {
	if place, end := s.positionAt(at); place >= 0 {
		return []int{place}, false, end
	}
	if len(s.l.Positions) > 1 || s.l.Positions[0] != "" {
		if end := s.word(at, otherPlaces); end > 0 {
			return nil, true, end
		}
	}
	end = s.word(at, everyPlace)
	if end == 0 {
		return nil, false, at
	}
	for place := range s.l.Positions {
		places = append(places, place)
	}
	// "every knife".
	if what := strings.Fields(s.l.Positions[0]); len(what) > 1 {
		if rest := strings.TrimLeft(s.in[end:], " "); s.word(len(s.in)-len(rest), what[:1]) > 0 {
			end = s.word(len(s.in)-len(rest), what[:1])
		}
	}
	return places, false, end
}

// sides are words that people use for places which are called otherwise.
var sides = map[string][]string{
	"left":  {"lh", "lhs", "lft", "links", "gauche", "izquierda", "izq", "izquierdo"},
	"right": {"rh", "rhs", "rt", "rgt", "rechts", "droite", "derecha", "der", "derecho"},
	"front": {"vorn", "vorne", "avant", "delante"},
	"back":  {"rear", "hinten", "arrière", "detrás"},
	"rear":  {"back", "hinten", "arrière", "detrás"},
}

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
		return position, s.numbered(at, end)
	}
	if place, end := s.byNumber(at); place >= 0 {
		return place, end
	}
	for i, name := range s.l.Positions { // what others call it
		if after := s.word(at, sides[strings.ToLower(name)]); after > 0 {
			return i, after
		}
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

// numbered is where a name ends that ends with a number and has a fraction behind it: it is
// asked whether "belt 1 1/4" is 1/4 at belt 1.
func (s *listScanner) numbered(at, end int) int {
	if s.digitAt(end-1) && strings.HasPrefix(s.in[end:], " ") && fraction(strings.TrimLeft(s.in[end:], " ")) {
		s.meet(AmbiguousName)
	}
	return end
}

// byNumber finds the position that is the only one with a number behind its name, by that
// number: "#2", "no. 2", or "2:" and "2=".
func (s *listScanner) byNumber(at int) (position, end int) {
	mark := s.word(at, []string{"no.", "no", "number"})
	from := at
	switch {
	case strings.HasPrefix(s.in[at:], "#"):
		from = at + 1
	case mark > 0:
		from = mark
	}
	rest := strings.TrimLeft(s.in[from:], " .")
	digits := len(rest) - len(strings.TrimLeft(rest, "0123456789"))
	end = len(s.in) - len(rest) + digits
	behind := strings.TrimLeft(s.in[end:], " ")
	if digits == 0 || from == at && (s.kind == Duration || s.kind == Ratio ||
		!strings.HasPrefix(behind, ":") && !strings.HasPrefix(behind, "=")) {
		return -1, at
	}
	position = -1
	for i, name := range s.l.Positions {
		words := strings.Fields(name)
		if len(words) < 2 || words[len(words)-1] != rest[:digits] {
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
	if at >= len(in) || name == "" || in[at]|0x20 != name[0]|0x20 && in[at] < utf8.RuneSelf && name[0] < utf8.RuneSelf {
		return 0 // it begins with another letter
	}
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
