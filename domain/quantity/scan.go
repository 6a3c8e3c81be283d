package quantity

import (
	"math/big"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// maxInput is the longest input read, in bytes.
const maxInput = 400

// These are names of two units each; a choice makes one of them.
const (
	mil        Unit = "mil"
	tenth      Unit = "tenth"
	gallon     Unit = "gallon"
	fluidOunce Unit = "fluid ounce"
)

// choice is how the names and marks with two meanings are read.
type choice struct {
	thousands bool // 1,234 is 1234
	metricMil bool
	metricTen bool
	imperial  bool // a gallon or fluid ounce is the imperial one
	apart     bool // 46/41 is two values, and so is 3 / 4
	joined    bool // 1 200 is 1200
	entry     bool // a bare fraction is of the unit that a bare number takes, not of an inch
	all       bool // one value holds for every place
	end       int  // which end of a range is meant: the first, the second, or both as values of their own
}

// scanner reads values from plain text, one after another, under one choice, and
// notes which choices mattered.
type scanner struct {
	about  bool   // something says that it is not exact
	typed  string // as people wrote it
	in     string // plain
	from   []int  // where each byte of in stood in typed
	pos    int
	kind   Kind
	choice choice
	met    []string // codes of the ambiguities met
}

func scan(text string, kind Kind, ch choice, places ...string) scanner {
	if len(text) > maxInput {
		return scanner{typed: text, kind: kind, choice: ch}
	}
	words, about := spoken(simplify(text), places)
	return scanner{typed: text, in: words.text, from: words.from, kind: kind, choice: ch, about: about}
}

// peek is the next character.
func (s *scanner) peek() (rune, int) {
	if s.pos >= len(s.in) {
		return 0, 0
	}
	return utf8.DecodeRuneInString(s.in[s.pos:])
}

func (s *scanner) space() {
	for r, n := s.peek(); n > 0 && r == ' '; r, n = s.peek() {
		s.pos += n
	}
}

// digits reads a run of digits.
func (s *scanner) digits() string {
	from := s.pos
	for s.pos < len(s.in) && s.in[s.pos] >= '0' && s.in[s.pos] <= '9' {
		s.pos++
	}
	return s.in[from:s.pos]
}

// milli are units a thousandth of others of which there are millions too.
var milli = []Unit{Millibar, Millivolt, Milliamp}

// named finds the unit of a kind whose name begins at a byte, the longest name
// first, and where it ends.
func (s *scanner) named(k Kind, at int) (u Unit, end int, ok bool) {
	for _, known := range unitNames[k] {
		end := at + len(known.name)
		if end > len(s.in) {
			continue
		}
		got := s.in[at:end]
		if got != known.name && (known.exact || !strings.EqualFold(got, known.name)) {
			continue
		}
		if got[0] == 'M' && slices.Contains(milli, known.unit) {
			continue // a million of them
		}
		last, _ := utf8.DecodeLastRuneInString(known.name)
		if r, _ := utf8.DecodeRuneInString(s.in[end:]); unicode.IsLetter(last) && unicode.IsLetter(r) {
			continue // the beginning of another word
		}
		return known.unit, end, true
	}
	return "", at, false
}

func (s *scanner) refuse(at int, code, want string) error {
	if s.from != nil {
		at = s.from[min(at, len(s.from)-1)]
	}
	return &Refusal{Input: s.typed, Offset: at, Code: code, Want: want}
}

func (s *scanner) meet(code string) {
	if !slices.Contains(s.met, code) {
		s.met = append(s.met, code)
	}
}

// number reads a number: a sign, a decimal with point or comma, a fraction, or
// a whole number and a proper fraction.
func (s *scanner) number() (*big.Rat, error) {
	start := s.pos
	sign := int64(1)
	if r, n := s.peek(); r == '-' || r == '+' {
		if r == '-' {
			sign = -1
		}
		s.pos += n
		s.space()
	}
	// Digits before and after a point or comma; a point with nothing behind it is not ours.
	whole := s.digits()
	whole += s.thousands(whole)
	text, decimal := whole, false
	if s.pos < len(s.in) {
		switch char := s.in[s.pos]; {
		case char == '.':
			s.pos++
			part := s.digits()
			decimal = part != ""
			switch {
			case decimal:
				text = whole + "." + part
			case whole == "" || s.pos < len(s.in) && s.in[s.pos] == '.':
				s.pos-- // a point alone, or the first of several
			}
		case char == ',' && whole == "" && s.pos+1 < len(s.in) && s.in[s.pos+1] >= '0' && s.in[s.pos+1] <= '9':
			s.pos++
			text, decimal = "."+s.digits(), true
		case char == ',' && whole != "" && s.pos+1 < len(s.in) && s.in[s.pos+1] >= '0' && s.in[s.pos+1] <= '9':
			text, decimal = s.commas(whole)
		}
	}
	// Make a number of it; only a whole one can have a fraction behind it.
	if whole == "" && !decimal {
		return nil, s.refuse(start, CodeNoNumber, "a number")
	}
	if strings.HasPrefix(text, ".") {
		text = "0" + text
	}
	number, ok := new(big.Rat).SetString(text)
	if !ok {
		return nil, s.refuse(start, CodeNoNumber, "a number")
	}
	if !decimal {
		if err := s.fraction(number); err != nil {
			return nil, err
		}
	}
	s.exponent(number)
	if number.Cmp(greatest) >= 0 {
		return nil, s.refuse(start, CodeTooLong, "a number of at most 15 digits")
	}
	return number.Mul(number, big.NewRat(sign, 1)), nil
}

// thousands reads on from one to three digits at a space and three more, as in 1 200,
// where that is meant.
func (s *scanner) thousands(whole string) string {
	joined := ""
	for len(whole) > 0 && len(whole) <= 3 && whole[0] != '0' {
		rest := s.in[s.pos:]
		if len(rest) < 4 || rest[0] != ' ' || strings.Trim(rest[1:4], "0123456789") != "" ||
			len(rest) > 4 && strings.ContainsRune("0123456789/.:", rune(rest[4])) {
			break
		}
		s.meet(AmbiguousSpace)
		if !s.choice.joined {
			break
		}
		joined, s.pos = joined+rest[1:4], s.pos+4
	}
	return joined
}

// exponent reads on after a number at a power of ten, as in 1e-3.
func (s *scanner) exponent(number *big.Rat) {
	mark := s.pos
	if s.pos >= len(s.in) || s.in[s.pos] != 'e' && s.in[s.pos] != 'E' {
		return
	}
	s.pos++
	sign := ""
	if char, size := s.peek(); char == '-' || char == '+' {
		sign, s.pos = string(char), s.pos+size
	}
	digits := s.digits()
	char, _ := s.peek()
	power, ok := new(big.Rat).SetString("1e" + sign + digits)
	if len(digits) == 0 || len(digits) > 2 || unicode.IsLetter(char) || !ok {
		s.pos = mark
		return
	}
	number.Mul(number, power)
}

// greatest is more than any number that is meant: far below what overflows when plans
// are worked out from it.
var greatest = big.NewRat(1_000_000_000_000_000, 1)

// commas reads on from a whole number at a comma that a digit follows.
func (s *scanner) commas(whole string) (text string, decimal bool) {
	groups := []string{whole}
	for s.pos+1 < len(s.in) && s.in[s.pos] == ',' && s.in[s.pos+1] >= '0' && s.in[s.pos+1] <= '9' {
		mark := s.pos
		s.pos++
		group := s.digits()
		if len(groups) > 1 && len(group) != 3 {
			s.pos = mark // not a further group of thousands
			break
		}
		groups = append(groups, group)
		if len(group) != 3 {
			break
		}
	}
	last := groups[len(groups)-1]
	grouped := len(whole) <= 3 && whole[0] != '0' && len(last) == 3
	if grouped && s.pos+1 < len(s.in) && s.in[s.pos] == '.' && s.in[s.pos+1] >= '0' && s.in[s.pos+1] <= '9' {
		s.pos++ // 1,234.5 has only one meaning
		return strings.Join(groups, "") + "." + s.digits(), true
	}
	if len(groups) > 2 {
		return strings.Join(groups, ""), true
	}
	if grouped {
		s.meet(AmbiguousComma)
		if s.choice.thousands {
			return whole + last, true
		}
	}
	return whole + "." + last, true
}

// fraction reads "/16" after a whole number, or " 1/16" behind it, into number.
func (s *scanner) fraction(number *big.Rat) error {
	mark := s.pos
	num := ""
	if s.pos < len(s.in) && s.in[s.pos] == '/' {
		num = number.Num().String()
		number.SetInt64(0)
	} else {
		// "1 1/8", or as is written in drawings "1-1/8".
		if strings.HasPrefix(s.in[s.pos:], "-") && fraction(s.in[s.pos+1:]) {
			s.pos++
		}
		s.space()
		if s.pos == mark {
			return nil
		}
		num = s.digits()
		if num == "" || s.pos >= len(s.in) || s.in[s.pos] != '/' {
			s.pos = mark
			return nil
		}
	}
	at := s.pos
	s.pos++
	den := s.digits()
	if den == "" {
		return s.refuse(s.pos, CodeNoNumber, "a number below the line")
	}
	if strings.Trim(den, "0") == "" {
		return s.refuse(at+1, CodeZeroDivisor, "a number other than zero")
	}
	if mark == at && improper(num, den) { // 46/41
		s.meet(AmbiguousSlash)
		if s.choice.apart {
			s.pos = mark
			number.Set(mustRat(num))
			return nil
		}
	}
	above, _ := new(big.Int).SetString(num, 10) // digits alone, whatever zeros lead them
	below, _ := new(big.Int).SetString(den, 10)
	part := new(big.Rat).SetFrac(above, below)
	if mark != at && part.Cmp(big.NewRat(1, 1)) >= 0 {
		s.pos = mark // "3 5/4" is no mixed number
		return nil
	}
	number.Add(number, part)
	return nil
}

// improper reports whether a fraction's upper number is the greater, and it is none that
// stands on a rule.
func improper(num, den string) bool {
	above, below := mustRat(num), mustRat(den)
	whole := below.Num()
	ruled := whole.IsInt64() && whole.Int64() <= 64 && whole.Int64()&(whole.Int64()-1) == 0
	return above.Cmp(below) >= 0 && !ruled
}

// mustRat is the number of a run of digits.
func mustRat(digits string) *big.Rat {
	number, _ := new(big.Rat).SetString(digits)
	return number
}

// unit reads a unit behind a number, or nothing. follows says whether a word
// that is no unit of the kind may stand here.
func (s *scanner) unit(follows func(at int) bool) (Unit, error) {
	mark := s.pos
	s.space()
	at := s.pos
	if u, end, ok := s.named(s.kind, at); ok {
		s.pos = end
		if rest := s.in[end:]; u == Inch && strings.HasPrefix(rest, ".") &&
			(len(rest) == 1 || strings.ContainsRune(" ,;", rune(rest[1]))) {
			s.pos++ // "in."
		}
		return u, nil
	}
	char, _ := s.peek()
	if follows != nil && follows(at) || at >= len(s.in) ||
		!unicode.IsLetter(char) && !strings.ContainsRune("°%'\"", char) {
		s.pos = mark
		return "", nil
	}
	for k := range unitNames {
		if _, _, ok := s.named(Kind(k), at); ok {
			return "", s.refuse(at, CodeWrongKind, s.kind.String())
		}
	}
	return "", s.refuse(at, CodeUnknownUnit, unitWanted(s.kind))
}

// settle makes mil and tenth a unit and scales the number where needed.
func (s *scanner) settle(number *big.Rat, unit Unit) (*big.Rat, Unit) {
	switch unit {
	case mil:
		s.meet(AmbiguousMil)
		if s.choice.metricMil {
			return number, Millimetre
		}
		return number, Thou
	case tenth:
		s.meet(AmbiguousTenth)
		if s.choice.metricTen {
			return new(big.Rat).Mul(number, big.NewRat(1, 10)), Millimetre
		}
		return new(big.Rat).Mul(number, big.NewRat(1, 10000)), Inch
	case gallon, fluidOunce:
		s.meet(map[Unit]string{gallon: AmbiguousGallon, fluidOunce: AmbiguousFluidOunce}[unit])
		return number, map[Unit][]Unit{gallon: {USGallon, ImpGallon},
			fluidOunce: {USFluidOunce, ImpFluidOunce}}[unit][pick(s.choice.imperial)]
	}
	return number, unit
}

// pick is 1 for true.
func pick(second bool) int {
	if second {
		return 1
	}
	return 0
}

// begin refuses input that is empty or too long to be a value.
func (s *scanner) begin() error {
	if len(s.typed) > maxInput {
		return s.refuse(maxInput, CodeTooLong, "at most 400 characters")
	}
	s.space()
	if s.pos == len(s.in) {
		return s.refuse(s.pos, CodeEmpty, "a value")
	}
	return nil
}

// whole reads one value and nothing behind it.
func (s *scanner) whole(context Context) (Parsed, error) {
	if err := s.begin(); err != nil {
		return Parsed{}, err
	}
	parsed, err := s.one(context)
	if err != nil {
		return Parsed{}, err
	}
	if !s.rangeMark() {
		return s.end(parsed)
	}
	// One end of a range or the other; the first takes the unit of the second.
	other, err := s.one(context)
	if err != nil {
		return Parsed{}, err
	}
	s.meet(AmbiguousRange)
	if parsed.Bare && !other.Bare {
		parsed = Parsed{Value: FromRat(parsed.Value.In(parsed.Unit), other.Unit), Unit: other.Unit}
	}
	switch s.choice.end {
	case 0:
		return s.end(parsed)
	case 1:
		return s.end(other)
	}
	return Parsed{}, s.refuse(s.pos, CodeRange, "one number")
}

// one reads one value.
func (s *scanner) one(context Context) (Parsed, error) {
	at := s.pos
	number, err := s.number()
	if err != nil {
		return Parsed{}, err
	}
	// "1:30" is hours and minutes; it has no unit to read.
	if context.Kind == Duration {
		if v, ok := s.clock(number); ok {
			return Parsed{Value: v, Unit: Hour, About: s.about}, nil
		}
	}
	// The unit, as read or as entered by default.
	fraction := strings.Contains(s.in[at:s.pos], "/")
	unit, err := s.unit(nil)
	if err != nil {
		return Parsed{}, err
	}
	number, unit = s.settle(number, unit)
	parsed := Parsed{Unit: unit, About: s.about}
	if unit == "" {
		parsed.Bare, parsed.Unit = true, s.bare(number, fraction, context.Entry)
		if context.Entry == "" {
			return Parsed{}, s.refuse(s.pos, CodeUnknownUnit, unitWanted(context.Kind))
		}
	}
	parsed.Value = FromRat(number, parsed.Unit)
	if !parsed.Bare {
		if parsed.Value, err = s.parts(parsed.Value, parsed.Unit); err != nil {
			return Parsed{}, err
		}
	}
	return parsed, nil
}

// bare is the unit of a number without one: a fraction as it stands on an inch rule is of
// an inch, or where millimetres or thou are typed it is asked.
func (s *scanner) bare(number *big.Rat, fraction bool, entry Unit) Unit {
	below := number.Denom()
	if !fraction || entry == Inch || entry.Kind() != Length || !below.IsInt64() || below.Int64() == 1 ||
		below.Int64() > 64 || below.Int64()&(below.Int64()-1) != 0 {
		return entry
	}
	if entry == Thou && below.Int64() > 4 {
		return Inch
	}
	s.meet(AmbiguousFraction)
	if s.choice.entry {
		return entry
	}
	return Inch
}

// rangeMark reads on behind a value to the second number of a range: at a dash that
// touches it or has a space on either side, at "to" or at dots.
func (s *scanner) rangeMark() bool {
	mark := s.pos
	s.space()
	rest := s.in[s.pos:]
	for _, sign := range []string{"to ", "bis ", "à ", "…", "...", "..", "-"} {
		if !strings.HasPrefix(rest, sign) {
			continue
		}
		behind := strings.TrimLeft(rest[len(sign):], " ")
		number := strings.TrimLeft(strings.TrimLeft(behind, "+-"), ".,")
		if number == "" || number[0] < '0' || number[0] > '9' ||
			sign == "-" && s.pos > mark && len(behind) == len(rest)-1 { // " -41" has a sign
			break
		}
		s.pos = len(s.in) - len(behind)
		return true
	}
	s.pos = mark
	return false
}

func (s *scanner) end(parsed Parsed) (Parsed, error) {
	s.space()
	if s.in[s.pos:] == "." {
		s.pos++ // the end of a sentence
	}
	switch char, _ := s.peek(); {
	case char == '-':
		return Parsed{}, s.refuse(s.pos, CodeRange, "one number")
	case s.pos < len(s.in):
		return Parsed{}, s.refuse(s.pos, CodeTrailing, "nothing more")
	}
	return parsed, nil
}

// clock reads ":30" behind a whole number of hours.
func (s *scanner) clock(hours *big.Rat) (Value, bool) {
	mark := s.pos
	if s.pos >= len(s.in) || s.in[s.pos] != ':' || !hours.IsInt() || hours.Sign() < 0 {
		return Value{}, false
	}
	s.pos++
	digits := s.digits()
	if len(digits) != 2 || digits > "59" {
		s.pos = mark
		return Value{}, false
	}
	m, _ := new(big.Rat).SetString(digits)
	return FromRat(hours, Hour).Add(FromRat(m, Minute)), true
}

// parts reads on after the first part of what people write in parts: a duration
// ("2h30", "1 h 20 min"), feet with inches (5' 3", 5 ft 3 in), degrees with
// minutes and seconds (12°30'15"). Each unit is smaller than the one before. A
// minus before the first part holds for all.
func (s *scanner) parts(value Value, unit Unit) (Value, error) {
	marked := s.pos > 0 && s.in[s.pos-1] == '\'' || s.kind == Angle
	feet := s.kind == Length && unit == Foot
	if s.kind != Duration && !feet && !(marked && (s.kind == Angle || s.kind == Length)) {
		return value, nil
	}
	for {
		mark := s.pos
		s.space()
		if feet && unit == Foot && strings.HasPrefix(s.in[s.pos:], "-") {
			s.pos++ // 5'-3 1/2"
		}
		if s.pos >= len(s.in) || s.in[s.pos] < '0' || s.in[s.pos] > '9' {
			s.pos = mark
			return value, nil
		}
		at := s.pos
		number, err := s.number()
		if err != nil {
			return value, err
		}
		next, err := s.unit(nil)
		if err != nil {
			return value, err
		}
		if s.kind != Duration && !strings.ContainsRune("'\"", rune(s.in[s.pos-1])) && !(feet && next == Inch) &&
			next != ArcMinute && next != ArcSecond {
			s.pos = mark // no part: another value
			return value, nil
		}
		if next == "" {
			if unit != Hour {
				return value, s.refuse(at, CodeTrailing, "a unit")
			}
			next = Minute
		}
		if next.Factor().Cmp(unit.Factor()) >= 0 {
			return value, s.refuse(at, CodeTrailing, "a smaller unit")
		}
		part := FromRat(number, next)
		if s.kind != Duration && part.Cmp(New(1, 1, unit)) >= 0 { // 5'15"
			return value, s.refuse(at, CodeTrailing, "less than 1 "+string(unit))
		}
		if value.Sign() < 0 {
			part = part.Neg()
		}
		value, unit = value.Add(part), next
	}
}
