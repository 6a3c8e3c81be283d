package quantity

import (
	"errors"
	"strings"
)

// ParseLimits reads what people write for limits, the least and the greatest
// value allowed; one that is left out is absent:
//
//	0.038 to 0.042 in       0.038 in … 0.042 in
//	0.040 ± 0.002 in        0.040 +/- 0.002 in
//	0.040 +0.002/-0.001 in  +0.002/-0.000 in (about the nominal value given)
//	± 0.002 in (likewise)
//	at least 1 mm           at most 1 mm
//
// A number without a unit takes that of the one behind it, else the context's.
// Deviations without a nominal value to stand about, limits in the wrong order,
// and all that Parse refuses, are a *Refusal; what Parse asks about is an
// *Ambiguity.
func ParseLimits(text string, context Context, nominal Value) (low, high Value, err error) {
	if len(text) > maxInput {
		return Value{}, Value{}, &Refusal{
			text, maxInput, CodeTooLong, "at most 400 characters",
			context.example() + " to " + context.example(),
		}
	}
	reader := limitsReader{text, strings.TrimSpace(strings.ReplaceAll(normal(text), "+/-", "±")), context, nominal}
	low, high, err = reader.read()
	if err != nil {
		return Value{}, Value{}, err
	}
	if low.Valid() && high.Valid() && low.Cmp(high) > 0 {
		return Value{}, Value{}, reader.refuse(CodeOrder, "the lower limit first")
	}
	return low, high, nil
}

// limitsReader reads the limits of one text.
type limitsReader struct {
	text    string // as it was typed
	plain   string // with its marks made plain
	context Context
	nominal Value
}

// read tells the forms apart by the word or the sign that only one of them has.
func (r limitsReader) read() (low, high Value, err error) {
	lower := strings.ToLower(r.plain)
	switch {
	case strings.HasPrefix(lower, "at least "):
		low, err = r.value(r.plain[len("at least "):], r.context)
		return low, Value{}, err
	case strings.HasPrefix(lower, "at most "):
		high, err = r.value(r.plain[len("at most "):], r.context)
		return Value{}, high, err
	}
	// Both limits as values.
	for _, separator := range []string{" to ", "…", "..."} {
		if before, after, ok := strings.Cut(r.plain, separator); ok {
			return r.pair(before, after, r.context)
		}
	}
	// A value with one deviation either way.
	if before, deviation, ok := strings.Cut(r.plain, "±"); ok {
		middle, _, up, err := r.about(before, deviation, deviation)
		if err != nil {
			return Value{}, Value{}, err
		}
		if up.Sign() < 0 {
			return Value{}, Value{}, r.refuse(CodeOrder, "a deviation without a sign")
		}
		return middle.Sub(up), middle.Add(up), nil
	}
	// A value with two deviations, upper first; a slash may part them.
	if i := strings.Index(r.plain, "+"); i >= 0 {
		before, deviations := r.plain[:i], r.plain[i:]
		plus, minus, ok := strings.Cut(deviations, "/")
		if j := strings.IndexByte(deviations, '-'); !ok && j > 0 {
			plus, minus, ok = deviations[:j], deviations[j:], true
		}
		if ok && strings.HasPrefix(strings.TrimSpace(minus), "-") {
			middle, down, up, err := r.about(before, plus, minus)
			if err != nil {
				return Value{}, Value{}, err
			}
			return middle.Add(down), middle.Add(up), nil
		}
	}
	return Value{}, Value{}, r.refuse(CodeNoLimits, "limits")
}

// about reads a nominal value, the one given where before is blank, and the two
// deviations from it. All share the unit behind the last deviation.
func (r limitsReader) about(before, plus, minus string) (middle, down, up Value, err error) {
	steps := Context{r.context.Kind.difference(), r.context.Entry.Step()}
	if up, down, err = r.pair(plus, minus, steps); err != nil {
		return middle, down, up, err
	}
	middle = r.nominal
	if strings.TrimSpace(before) != "" {
		scale := r.context
		if p, err := Parse(minus, steps); err == nil && !p.Bare {
			scale.Entry = p.Unit.scale()
		}
		if middle, err = r.valueLike(before, scale, r.context); err != nil {
			return middle, down, up, err
		}
	}
	if !middle.Valid() {
		err = r.refuse(CodeNoNominal, "a value to stand about")
	}
	return middle, down, up, err
}

// pair reads two values; the first takes the unit of the second where it has
// none.
func (r limitsReader) pair(first, second string, context Context) (one, other Value, err error) {
	if other, err = r.value(second, context); err != nil {
		return one, other, err
	}
	like := context
	if p, err := Parse(second, context); err == nil && !p.Bare {
		like.Entry = p.Unit
	}
	one, err = r.valueLike(first, like, context)
	return one, other, err
}

// valueLike reads a value that may take the entry unit of like; what is wrong
// with it is said in terms of c.
func (r limitsReader) valueLike(part string, like, c Context) (Value, error) {
	if p, err := Parse(part, like); err == nil {
		return p.Value, nil
	}
	return r.value(part, c)
}

// value reads one value of the text; errors speak of the whole text.
func (r limitsReader) value(part string, c Context) (Value, error) {
	parsed, err := Parse(part, c)
	part = strings.TrimSpace(part)
	var refusal *Refusal
	var ambiguity *Ambiguity
	switch {
	case errors.As(err, &refusal):
		at := max(strings.Index(r.text, part), 0)
		return Value{}, &Refusal{
			r.text,
			min(at+refusal.Offset, len(r.text)),
			refusal.Code,
			refusal.Want,
			refusal.Example + " to " + refusal.Example,
		}
	case errors.As(err, &ambiguity):
		whole := &Ambiguity{Input: r.text, Code: ambiguity.Code}
		for _, o := range ambiguity.Options {
			whole.add(strings.Replace(r.plain, part, o.Text, 1))
		}
		return Value{}, whole
	}
	return parsed.Value, err
}

func (r limitsReader) refuse(code, want string) error {
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
