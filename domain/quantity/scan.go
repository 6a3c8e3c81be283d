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

// names are the words and marks for units, in lower case. Two lengths that mean
// different things to different people stand under their own names.
var names = map[string]Unit{
	"m": Metre, "metre": Metre, "metres": Metre, "meter": Metre, "meters": Metre,
	"cm": Centimetre, "centimetre": Centimetre, "centimetres": Centimetre, "centimeter": Centimetre, "centimeters": Centimetre,
	"mm": Millimetre, "millimetre": Millimetre, "millimetres": Millimetre, "millimeter": Millimetre, "millimeters": Millimetre,
	"µm": Micrometre, "um": Micrometre, "micron": Micrometre, "microns": Micrometre, "micrometre": Micrometre, "micrometres": Micrometre,
	"in": Inch, "inch": Inch, "inches": Inch, `"`: Inch,
	"thou": Thou, "thous": Thou, "thousandth": Thou, "thousandths": Thou,
	"ft": Foot, "foot": Foot, "feet": Foot,
	"s": Second, "sec": Second, "secs": Second, "second": Second, "seconds": Second,
	"min": Minute, "mins": Minute, "minute": Minute, "minutes": Minute,
	"h": Hour, "hr": Hour, "hrs": Hour, "hour": Hour, "hours": Hour,
	"d": Day, "day": Day, "days": Day,
	"w": Week, "wk": Week, "wks": Week, "week": Week, "weeks": Week,
	"°": Degree, "deg": Degree, "degs": Degree, "degree": Degree, "degrees": Degree,
	"arcmin": ArcMinute, "turn": Turn, "turns": Turn,
	"mil": mil, "mils": mil, "tenth": tenth, "tenths": tenth,
}

// mil and tenth are names of two units each; a choice makes one of them.
const (
	mil   Unit = "mil"
	tenth Unit = "tenth"
)

// choice is how the names and marks with two meanings are read.
type choice struct {
	thousands bool // 1,234 is 1234
	metricMil bool
	metricTen bool
}

// scanner reads values from text, one after another, under one choice, and
// notes which choices mattered.
type scanner struct {
	in     string
	pos    int
	kind   Kind
	choice choice
	met    []string // codes of the ambiguities met
}

// peek is the next character, with the many marks that people type for one
// thing made one.
func (s *scanner) peek() (rune, int) {
	if s.pos >= len(s.in) {
		return 0, 0
	}
	r, n := utf8.DecodeRuneInString(s.in[s.pos:])
	switch r {
	case '−', '‐', '‑', '–':
		r = '-'
	case '”', '“', '″', '„':
		r = '"'
	case 'μ':
		r = 'µ'
	case 'º':
		r = '°'
	}
	if unicode.IsSpace(r) {
		r = ' '
	}
	return r, n
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

// word reads a unit's name or mark as people type it, in lower case, or
// nothing.
func (s *scanner) word() string {
	r, n := s.peek()
	if r == '"' || r == '°' {
		s.pos += n
		return string(r)
	}
	var b strings.Builder
	for ; n > 0 && unicode.IsLetter(r); r, n = s.peek() {
		b.WriteRune(unicode.ToLower(r))
		s.pos += n
	}
	return b.String()
}

func (s *scanner) refuse(at int, code, want string) error {
	return &Refusal{Input: s.in, Offset: at, Code: code, Want: want}
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
	whole := s.digits()
	text, decimal := whole, false
	if s.pos < len(s.in) {
		switch c := s.in[s.pos]; {
		case c == '.':
			s.pos++
			part := s.digits()
			decimal = part != ""
			if !decimal {
				s.pos--
			} else {
				text = whole + "." + part
			}
		case c == ',' && whole != "" && s.pos+1 < len(s.in) && s.in[s.pos+1] >= '0' && s.in[s.pos+1] <= '9':
			text, decimal = s.commas(whole)
		}
	}
	if whole == "" && !decimal {
		return nil, s.refuse(start, CodeNoNumber, "a number")
	}
	if strings.HasPrefix(text, ".") {
		text = "0" + text
	}
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		return nil, s.refuse(start, CodeNoNumber, "a number")
	}
	if !decimal {
		if err := s.fraction(r); err != nil {
			return nil, err
		}
	}
	return r.Mul(r, big.NewRat(sign, 1)), nil
}

// commas reads on from a whole number at a comma that a digit follows.
func (s *scanner) commas(whole string) (text string, decimal bool) {
	groups := []string{whole}
	for s.pos+1 < len(s.in) && s.in[s.pos] == ',' && s.in[s.pos+1] >= '0' && s.in[s.pos+1] <= '9' {
		mark := s.pos
		s.pos++
		g := s.digits()
		if len(groups) > 1 && len(g) != 3 {
			s.pos = mark // not a further group of thousands
			break
		}
		groups = append(groups, g)
		if len(g) != 3 {
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

// fraction reads "/16" after a whole number, or " 1/16" behind it, into r.
func (s *scanner) fraction(r *big.Rat) error {
	mark := s.pos
	num := ""
	if s.pos < len(s.in) && s.in[s.pos] == '/' {
		num = r.Num().String()
		r.SetInt64(0)
	} else {
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
	above, _ := new(big.Int).SetString(num, 10) // digits alone, whatever zeros lead them
	below, _ := new(big.Int).SetString(den, 10)
	f := new(big.Rat).SetFrac(above, below)
	if mark != at && f.Cmp(big.NewRat(1, 1)) >= 0 {
		s.pos = mark // "3 5/4" is no mixed number
		return nil
	}
	r.Add(r, f)
	return nil
}

// unit reads a unit behind a number, or nothing. follows says whether a word
// that is no unit may stand here.
func (s *scanner) unit(follows func(at int) bool) (Unit, error) {
	mark := s.pos
	s.space()
	at := s.pos
	if follows != nil && follows(at) {
		s.pos = mark
		return "", nil
	}
	w := s.word()
	if w == "" {
		s.pos = mark
		return "", nil
	}
	u, ok := names[w]
	if s.kind == Duration && w == "m" {
		u = Minute
	}
	switch {
	case !ok:
		return "", s.refuse(at, CodeUnknownUnit, unitWanted(s.kind))
	case u == mil, u == tenth:
		if s.kind != Length {
			return "", s.refuse(at, CodeWrongKind, s.kind.String())
		}
	case u.Kind() != s.kind:
		return "", s.refuse(at, CodeWrongKind, s.kind.String())
	}
	return u, nil
}

// settle makes mil and tenth a unit and scales the number where needed.
func (s *scanner) settle(n *big.Rat, u Unit) (*big.Rat, Unit) {
	switch u {
	case mil:
		s.meet(AmbiguousMil)
		if s.choice.metricMil {
			return n, Millimetre
		}
		return n, Thou
	case tenth:
		s.meet(AmbiguousTenth)
		if s.choice.metricTen {
			return new(big.Rat).Mul(n, big.NewRat(1, 10)), Millimetre
		}
		return new(big.Rat).Mul(n, big.NewRat(1, 10000)), Inch
	}
	return n, u
}

// begin refuses input that is empty or too long to be a value.
func (s *scanner) begin() error {
	if len(s.in) > maxInput {
		return s.refuse(maxInput, CodeTooLong, "at most 400 characters")
	}
	s.space()
	if s.pos == len(s.in) {
		return s.refuse(s.pos, CodeEmpty, "a value")
	}
	return nil
}

// whole reads one value and nothing behind it.
func (s *scanner) whole(c Context) (Parsed, error) {
	if err := s.begin(); err != nil {
		return Parsed{}, err
	}
	n, err := s.number()
	if err != nil {
		return Parsed{}, err
	}
	if c.Kind == Duration {
		if v, ok := s.clock(n); ok {
			return s.end(Parsed{v, Hour, false})
		}
	}
	u, err := s.unit(nil)
	if err != nil {
		return Parsed{}, err
	}
	n, u = s.settle(n, u)
	p := Parsed{Unit: u}
	if u == "" {
		p.Bare, p.Unit = true, c.Entry
		if c.Entry == "" {
			return Parsed{}, s.refuse(s.pos, CodeUnknownUnit, unitWanted(c.Kind))
		}
	}
	p.Value = FromRat(n, p.Unit)
	if c.Kind == Duration && !p.Bare {
		if p.Value, err = s.parts(p.Value, p.Unit); err != nil {
			return Parsed{}, err
		}
	}
	return s.end(p)
}

func (s *scanner) end(p Parsed) (Parsed, error) {
	s.space()
	if s.pos < len(s.in) {
		return Parsed{}, s.refuse(s.pos, CodeTrailing, "nothing more")
	}
	return p, nil
}

// clock reads ":30" behind a whole number of hours.
func (s *scanner) clock(hours *big.Rat) (Value, bool) {
	mark := s.pos
	if s.pos >= len(s.in) || s.in[s.pos] != ':' || !hours.IsInt() || hours.Sign() < 0 {
		return Value{}, false
	}
	s.pos++
	d := s.digits()
	if len(d) != 2 || d > "59" {
		s.pos = mark
		return Value{}, false
	}
	m, _ := new(big.Rat).SetString(d)
	return FromRat(hours, Hour).Add(FromRat(m, Minute)), true
}

// parts reads on after a duration's first part: "30" or "30 min" after hours,
// each unit smaller than the one before. A minus before the first part holds
// for all.
func (s *scanner) parts(v Value, u Unit) (Value, error) {
	for {
		s.space()
		if s.pos >= len(s.in) || s.in[s.pos] < '0' || s.in[s.pos] > '9' {
			return v, nil
		}
		at := s.pos
		n, err := s.number()
		if err != nil {
			return v, err
		}
		next, err := s.unit(nil)
		if err != nil {
			return v, err
		}
		if next == "" {
			if u != Hour {
				return v, s.refuse(at, CodeTrailing, "a unit")
			}
			next = Minute
		}
		if next.Factor().Cmp(u.Factor()) >= 0 {
			return v, s.refuse(at, CodeTrailing, "a smaller unit")
		}
		part := FromRat(n, next)
		if v.Sign() < 0 {
			part = part.Neg()
		}
		v, u = v.Add(part), next
	}
}
