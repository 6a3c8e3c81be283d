package quantity

import (
	"errors"
	"maps"
	"slices"
	"strings"
)

// ParseLimits reads what people write for limits, the least and the greatest
// value allowed; one that is left out is absent:
//
//	0.038 to 0.042 in       0.038 in … 0.042 in
//	0.040 ± 0.002 in        0.040 +/- 0.002 in
//	0.040 +0.002/-0.001 in  +0.002/-0.000 in (about the nominal value given)
//	± 0.002 in (likewise)
//	at least 1 mm           at most 1 mm           at least 1 mm, at most 2 mm
//	between 38 and 42 thou  38-42 thou             from 38 to 42 thou
//
// and the same in other words: "min 1 mm", "1 mm or more", ">= 1 mm", "no more than 1 mm",
// "40 thou plus or minus 2", "within 2 thou of 40 thou". A number without a unit takes that
// of the other, else the context's.
// Deviations without a nominal value to stand about, limits in the wrong order,
// and all that Parse refuses, are a *Refusal. What Parse asks about is an *Ambiguity
// of the whole text, read in one way throughout; ways in which the limits would be in
// the wrong order are left out, and one that is left alone is what is meant.
func ParseLimits(text string, context Context, nominal Value) (low, high Value, err error) {
	if len(text) > maxInput {
		return Value{}, Value{}, &Refusal{
			text, maxInput, CodeTooLong, "at most 400 characters",
			context.example() + " to " + context.example(),
		}
	}
	words, _ := spoken(simplify(text), nil)
	plain := strings.TrimSpace(phrases.Replace(" " + words.text + " "))
	if context.Kind != Duration { // in which min is a minute
		plain = strings.TrimSpace(shortPhrases.Replace(" " + plain + " "))
	}
	reader := &limitsReader{text: text, plain: plain, context: context, nominal: nominal}
	low, high, err = reader.ordered()
	if len(reader.met) == 0 {
		return low, high, err
	}
	// Something can be read in two ways: whatever is meant is meant throughout, and what
	// would be no limits is not meant.
	question, differ := &Ambiguity{Input: text, Code: reader.met[0]}, false
	for _, way := range choices(reader.met) {
		reader.choice, reader.written = way, nil
		otherLow, otherHigh, wrong := reader.ordered()
		if wrong != nil {
			continue
		}
		if len(question.Options) == 0 {
			low, high, err = otherLow, otherHigh, nil
		}
		differ = differ || !otherLow.Equal(low) || !otherHigh.Equal(high)
		question.add(reader.option())
	}
	if differ {
		return Value{}, Value{}, question
	}
	return low, high, err
}

// phrases are what is said in more than one way, and how it is read.
var phrases = phraseBook(map[string][]string{
	"±": {"+/-", "+-", "plus or minus", "plus/minus", "give or take"},
	" at least ": {" minimum of ", " minimum ", " no less than ", " not less than ", " not under ",
		" not below ", " no smaller than ", ">=", "≥", " atleast ", " mindestens ", " au moins ", " al menos ",
		" mínimo "},
	" at most ": {" maximum of ", " maximum ", " no more than ", " not more than ", " not over ",
		" not above ", " up to ", "<=", "≤", " atmost ", " höchstens ", " au plus ", " como máximo ", " máximo "},
	" or more ": {" and up ", " or above ", " or over ", " oder mehr "},
	" or less ": {" or below ", " or under ", " oder weniger "},
	" to ":      {" bis ", " through ", " till ", " until "},
	" within ":  {" to within "},
})

// shortPhrases are those that are units too.
var shortPhrases = phraseBook(map[string][]string{
	" at least ": {" min. ", " min "},
	" at most ":  {" max. ", " max "},
})

// phraseBook makes a replacer of ways to say things.
func phraseBook(ways map[string][]string) *strings.Replacer {
	var pairs []string
	for _, is := range slices.Sorted(maps.Keys(ways)) {
		for _, said := range ways[is] {
			pairs = append(pairs, said, is)
			if upper := strings.ToUpper(said[:min(2, len(said))]) + said[min(2, len(said)):]; upper != said {
				pairs = append(pairs, upper, is)
			}
		}
	}
	return strings.NewReplacer(pairs...)
}

// limitsReader reads the limits of one text.
type limitsReader struct {
	text    string // as it was typed
	plain   string // with its marks made plain
	context Context
	nominal Value
	choice  choice         // how what can be read in two ways is read
	met     []string       // the codes of what can
	written map[int]typing // what it was read as, by where it stands in plain
}

// typing is how a part of a text that can be read in two ways is typed out in one.
type typing struct{ part, as string }

// part is a part of the plain text, and where it begins.
type part struct {
	text string
	at   int
}

// trimmed is the part without the spaces around it.
func (p part) trimmed() part {
	text := strings.TrimLeft(p.text, " ")
	return part{strings.TrimRight(text, " "), p.at + len(p.text) - len(text)}
}

// option is the plain text with all that can be read in two ways typed out.
func (r *limitsReader) option() string {
	text := r.plain
	for _, at := range slices.Backward(slices.Sorted(maps.Keys(r.written))) {
		typed := r.written[at]
		text = text[:at] + typed.as + text[at+len(typed.part):]
	}
	return text
}

// ordered reads the limits, and refuses them the wrong way round.
func (r *limitsReader) ordered() (low, high Value, err error) {
	low, high, err = r.read()
	if err == nil && low.Valid() && high.Valid() && low.Cmp(high) > 0 {
		err = r.refuse(CodeOrder, "the lower limit first")
	}
	if err != nil {
		return Value{}, Value{}, err
	}
	return low, high, nil
}

// read tells the forms apart by the word or the sign that only one of them has.
func (r *limitsReader) read() (low, high Value, err error) {
	from := func(at int) part { return part{r.plain[at:], at} }
	lower := strings.ToLower(r.plain)
	lower = strings.TrimPrefix(lower, "from ")
	if cut := len(r.plain) - len(lower); cut > 0 {
		r.plain = r.plain[cut:]
	}
	// One limit, or one and then the other.
	least, most := strings.Index(lower, "at least "), strings.Index(lower, "at most ")
	switch {
	case least == 0 && most > 0, most == 0 && least > 0:
		return r.both(least, most)
	case least == 0:
		low, err = r.value(from(len("at least ")), r.context)
		return low, Value{}, err
	case most == 0:
		high, err = r.value(from(len("at most ")), r.context)
		return Value{}, high, err
	case strings.HasSuffix(lower, " or more"):
		low, err = r.value(part{strings.TrimSuffix(r.plain, r.plain[len(lower)-len(" or more"):]), 0}, r.context)
		return low, Value{}, err
	case strings.HasSuffix(lower, " or less"):
		high, err = r.value(part{strings.TrimSuffix(r.plain, r.plain[len(lower)-len(" or less"):]), 0}, r.context)
		return Value{}, high, err
	case strings.HasPrefix(lower, "within "):
		if of := strings.Index(lower, " of "); of > 0 {
			deviation, middle := part{r.plain[len("within "):of], len("within ")}, from(of+len(" of "))
			return r.either(middle, deviation)
		}
	}
	// Both limits as values.
	for _, separator := range []string{" to ", "…", "...", ".."} {
		if before, _, ok := strings.Cut(r.plain, separator); ok {
			return r.pair(part{before, 0}, from(len(before)+len(separator)), r.context)
		}
	}
	// A value with one deviation either way.
	if before, _, ok := strings.Cut(r.plain, "±"); ok {
		return r.either(part{before, 0}, from(len(before)+len("±")))
	}
	// A value with two deviations, upper first; a slash may part them.
	if i := strings.Index(r.plain, "+"); i >= 0 {
		before, deviations := part{r.plain[:i], 0}, r.plain[i:]
		plus, _, ok := strings.Cut(deviations, "/")
		minus := i + len(plus) + len("/")
		if j := strings.IndexByte(deviations, '-'); !ok && j > 0 {
			plus, minus, ok = deviations[:j], i+j, true
		}
		if ok && strings.HasPrefix(strings.TrimSpace(r.plain[minus:]), "-") {
			middle, down, up, err := r.about(before, part{plus, i}, from(minus))
			if err != nil {
				return Value{}, Value{}, err
			}
			return middle.Add(down), middle.Add(up), nil
		}
	}
	// Two values with a dash between.
	for i := range len(r.plain) {
		first := part{r.plain[:i], 0}
		if i > 0 && r.plain[i] == '-' && r.alone(first) && r.alone(from(i+1)) {
			return r.pair(first, from(i+1), r.context)
		}
	}
	return Value{}, Value{}, r.refuse(CodeNoLimits, "limits")
}

// alone reports whether a part is one value and no range.
func (r *limitsReader) alone(of part) bool {
	scanner := scan(of.text, r.context.Kind, r.choice)
	_, err := scanner.whole(r.context)
	return err == nil && !slices.Contains(scanner.met, AmbiguousRange)
}

// both reads "at least" and "at most", which stand at two bytes in either order.
func (r *limitsReader) both(least, most int) (low, high Value, err error) {
	lower := part{r.plain[least+len("at least "):], least + len("at least ")}
	upper := part{r.plain[most+len("at most "):], most + len("at most ")}
	if least < most {
		lower.text = r.plain[lower.at:most]
	} else {
		upper.text = r.plain[upper.at:least]
	}
	trim := func(p part) part {
		text := strings.TrimRight(p.text, " ,;")
		return part{strings.TrimSuffix(text, " and"), p.at}
	}
	return r.pair(trim(lower), trim(upper), r.context)
}

// either reads a value with one deviation either way.
func (r *limitsReader) either(value, deviation part) (low, high Value, err error) {
	middle, _, up, err := r.about(value, deviation, deviation)
	if err != nil {
		return Value{}, Value{}, err
	}
	if up.Sign() < 0 {
		return Value{}, Value{}, r.refuse(CodeOrder, "a deviation without a sign")
	}
	return middle.Sub(up), middle.Add(up), nil
}

// about reads a nominal value, the one given where before is blank, and the two
// deviations from it. Deviations without a unit take that of the nominal value that is
// typed; one without takes that of the deviations, unless they would be greater than it
// and are not in the context's.
func (r *limitsReader) about(before, plus, minus part) (middle, down, up Value, err error) {
	steps := Context{r.context.Kind.difference(), r.context.Entry.Step()}
	typed := strings.TrimSpace(before.text) != ""
	if typed {
		if first, err := r.parse(before, r.context); err == nil && !first.Bare {
			steps.Entry = first.Unit.Step()
		}
	}
	if up, down, err = r.pair(plus, minus, steps); err != nil {
		return middle, down, up, err
	}
	middle = r.nominal
	if typed {
		scale := r.context
		if last, err := r.parse(minus, steps); err == nil && !last.Bare {
			scale.Entry = last.Unit.scale()
		}
		if middle, err = r.valueLike(before, scale, r.context); err != nil {
			return middle, down, up, err
		}
		own, err := r.valueLike(before, r.context, r.context)
		if err == nil && r.context.Kind != Temperature && up.Abs().Cmp(middle.Abs()) >= 0 && middle.Sign() != 0 &&
			up.Abs().Cmp(own.Abs()) < 0 {
			middle = own
		}
	}
	if !middle.Valid() {
		err = r.refuse(CodeNoNominal, "a value to stand about")
	}
	return middle, down, up, err
}

// pair reads two values; one without a unit takes that of the other.
func (r *limitsReader) pair(first, second part, context Context) (one, other Value, err error) {
	like := context
	if before, err := r.parse(first, context); err == nil && !before.Bare {
		like.Entry = before.Unit
	}
	if other, err = r.valueLike(second, like, context); err != nil {
		return one, other, err
	}
	like = context
	if last, err := r.parse(second, context); err == nil && !last.Bare {
		like.Entry = last.Unit
	}
	one, err = r.valueLike(first, like, context)
	return one, other, err
}

// valueLike reads a value that may take the entry unit of like; what is wrong
// with it is said in terms of context.
func (r *limitsReader) valueLike(of part, like, context Context) (Value, error) {
	if parsed, err := r.parse(of, like); err == nil {
		return parsed.Value, nil
	}
	return r.value(of, context)
}

// parse reads one value in the way chosen, and notes what can be read in two.
func (r *limitsReader) parse(of part, context Context) (Parsed, error) {
	scanner := scan(of.text, context.Kind, r.choice)
	parsed, err := scanner.whole(context)
	if err != nil || len(scanner.met) == 0 {
		return parsed, err
	}
	for _, code := range scanner.met {
		if !slices.Contains(r.met, code) {
			r.met = append(r.met, code)
		}
	}
	if r.written == nil {
		r.written = map[int]typing{}
	}
	trimmed := of.trimmed()
	typed := Typed(parsed.Value, parsed.Unit)
	if strings.HasPrefix(trimmed.text, "+") {
		typed = "+" + typed // what tells a deviation from a value
	}
	r.written[trimmed.at] = typing{trimmed.text, typed}
	return parsed, nil
}

// value reads one value of the text; errors speak of the whole text.
func (r *limitsReader) value(of part, context Context) (Value, error) {
	parsed, err := r.parse(of, context)
	if refusal := (*Refusal)(nil); errors.As(err, &refusal) {
		at := max(strings.Index(r.text, of.trimmed().text), 0)
		example := context.example()
		return Value{}, &Refusal{
			r.text,
			min(at+refusal.Offset, len(r.text)),
			refusal.Code,
			refusal.Want,
			example + " to " + example,
		}
	}
	return parsed.Value, err
}

func (r *limitsReader) refuse(code, want string) error {
	example := r.context.example()
	return &Refusal{Input: r.text, Code: code, Want: want, Example: example + " to " + example}
}

// The codes of refused limits.
const (
	CodeOrder     = "order"      // limits the wrong way round, or a deviation with two signs
	CodeNoNominal = "no-nominal" // deviations without a value to stand about
	CodeNoLimits  = "no-limits"  // nothing that says what is allowed
)

// scale is the unit in which a scale is read whose differences are in u.
func (u Unit) scale() Unit {
	switch u {
	case CelsiusStep:
		return Celsius
	case FahrenheitStep:
		return Fahrenheit
	}
	return u
}
