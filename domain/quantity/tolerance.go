package quantity

import "strings"

// Tolerance is what is allowed about a nominal value; either end may be absent.
type Tolerance struct {
	Nominal   Value // absent where only limits were given
	Low, High Value
}

// ParseTolerance reads what people write for limits:
//
//	0.038 to 0.042 in       0.038 in … 0.042 in
//	0.040 ± 0.002 in        0.040 +/- 0.002 in
//	0.040 +0.002/-0.001 in  +0.002/-0.000 in (about the nominal value given)
//	± 0.002 in (likewise)
//	at least 1 mm           at most 1 mm
//
// A number without a unit takes that of the one behind it, else the context's.
// Deviations without a nominal value to stand about, limits in the wrong order,
// and all that Parse refuses, are refused; what Parse asks about is asked.
func ParseTolerance(text string, c Context, nominal Value) (Tolerance, error) {
	s := simplify(text).text
	if len(text) > maxInput {
		return Tolerance{}, &Refusal{text, maxInput, CodeTooLong, "at most 400 characters", c.example() + " to " + c.example()}
	}
	t := strings.TrimSpace(strings.ReplaceAll(s, "+/-", "±"))
	refuse := func(code, want string) error {
		return &Refusal{Input: text, Code: code, Want: want, Example: c.example() + " to " + c.example()}
	}
	one := func(part string) (Value, error) {
		p, err := Parse(part, c)
		if r, ok := err.(*Refusal); ok {
			at := max(strings.Index(text, strings.TrimSpace(part)), 0)
			return Value{}, &Refusal{text, min(at+r.Offset, len(text)), r.Code, r.Want, r.Example + " to " + r.Example}
		}
		if a, ok := err.(*Ambiguity); ok {
			again := &Ambiguity{Input: text, Code: a.Code}
			for _, o := range a.Options {
				again.add(strings.Replace(t, strings.TrimSpace(part), o.Text, 1))
			}
			return Value{}, again
		}
		return p.Value, err
	}
	// pair reads two values, the first of which may take the second's unit.
	pair := func(a, b string, lent bool) (x, y Value, err error) {
		if y, err = one(b); err != nil {
			return x, y, err
		}
		with := c
		if p, err := Parse(b, c); err == nil && !p.Bare {
			with.Entry = p.Unit
			if lent {
				with.Entry = p.Unit.scale()
			}
		}
		p, err := Parse(a, with)
		if err != nil {
			x, err = one(a)
			return x, y, err
		}
		return p.Value, y, nil
	}
	lower := strings.ToLower(t)
	switch {
	case strings.HasPrefix(lower, "at least "):
		v, err := one(t[len("at least "):])
		return Tolerance{Low: v}, err
	case strings.HasPrefix(lower, "at most "):
		v, err := one(t[len("at most "):])
		return Tolerance{High: v}, err
	}
	for _, sep := range []string{" to ", "…", "..."} {
		if low, high, ok := strings.Cut(t, sep); ok {
			l, h, err := pair(low, high, false)
			if err == nil && l.Cmp(h) > 0 {
				err = refuse(CodeOrder, "the lower limit first")
			}
			if err != nil {
				return Tolerance{}, err
			}
			return Tolerance{Low: l, High: h}, nil
		}
	}
	steps := c
	steps.Kind, steps.Entry = c.Kind.difference(), c.Entry.Step()
	about := func(before, plus, minus string) (Tolerance, error) {
		// The deviations share the unit behind the last of them.
		scale, cc := c, c
		c = steps
		up, down, err := pair(plus, minus, false)
		if err != nil {
			return Tolerance{}, err
		}
		if p, err := Parse(minus, steps); err == nil && !p.Bare {
			scale.Entry = p.Unit.scale()
		}
		c = cc
		n := nominal
		if strings.TrimSpace(before) != "" {
			p, err := Parse(before, scale)
			if err != nil {
				_, err = one(before)
				return Tolerance{}, err
			}
			n = p.Value
		}
		if !n.Valid() {
			return Tolerance{}, refuse(CodeNoNominal, "a value to stand about")
		}
		tol := Tolerance{n, n.Add(down), n.Add(up)}
		if tol.Low.Cmp(tol.High) > 0 {
			return Tolerance{}, refuse(CodeOrder, "the upper deviation first")
		}
		return tol, nil
	}
	if before, by, ok := strings.Cut(t, "±"); ok {
		tol, err := about(before, by, by)
		if err != nil {
			return Tolerance{}, err
		}
		by2 := tol.High.Sub(tol.Nominal)
		if by2.Sign() < 0 {
			return Tolerance{}, refuse(CodeOrder, "a deviation without a sign")
		}
		tol.Low = tol.Nominal.Sub(by2)
		return tol, nil
	}
	if i := strings.Index(t, "+"); i >= 0 {
		before, rest := t[:i], t[i:]
		plus, minus, ok := strings.Cut(rest, "/")
		if j := strings.IndexByte(rest, '-'); !ok && j > 0 {
			plus, minus, ok = rest[:j], rest[j:], true
		}
		if ok && strings.HasPrefix(strings.TrimSpace(minus), "-") {
			return about(before, plus, minus)
		}
	}
	return Tolerance{}, refuse(CodeNoLimits, "limits")
}

// The codes of refused tolerances.
const (
	CodeOrder     = "order"      // limits or deviations the wrong way round
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
