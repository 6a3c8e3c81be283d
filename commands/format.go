package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// ruler prints the values of one check in a machine's units.
type ruler struct {
	unit     quantity.Unit
	decimals int
	fraction int64            // print inches as fractions of so much, or 0
	limits   []quantity.Value // that a printed value must not contradict
	ruled    int64            // print limits in inches as fractions of so much, or 0
}

// rulerFor prints c's values in system s.
func rulerFor(c *profile.Check, s quantity.System) ruler {
	scale := ruler{unit: c.Entry[s], decimals: c.Decimals[s]}
	for _, v := range []quantity.Value{c.Adjust.Low, c.Adjust.High, c.Stop.Low, c.Stop.High} {
		if v.Valid() {
			scale.limits = append(scale.limits, v)
		}
	}
	scale.ruled = ruled(c, scale.unit)
	return scale
}

// ruled is the denominator that a check's target and limits have on an inch rule, 0 where
// they are no such fractions or whole numbers alone.
func ruled(check *profile.Check, unit quantity.Unit) int64 {
	if unit != quantity.Inch {
		return 0
	}
	most := int64(1)
	for _, v := range []quantity.Value{check.Target, check.Adjust.Low, check.Adjust.High, check.Stop.Low,
		check.Stop.High, check.AlikeAdjust, check.AlikeStop} {
		if !v.Valid() {
			continue
		}
		below := v.In(unit).Denom()
		if !below.IsInt64() || below.Int64() > 64 || below.Int64()&(below.Int64()-1) != 0 {
			return 0
		}
		most = max(most, below.Int64())
	}
	if most == 1 {
		return 0
	}
	return most
}

// by prints readings to the digits that a gauge supports: as a fraction where its
// step is one of an inch.
func (r ruler) by(gauge domain.GaugeUsed) ruler {
	if !gauge.Resolution.Valid() || r.unit == "" || gauge.Resolution.Kind() != r.unit.Step().Kind() {
		return r
	}
	r.decimals = quantity.Digits(gauge.Resolution, r.unit)
	if r.unit == quantity.Inch {
		if n := gauge.Resolution.In(quantity.Inch); n.Num().IsInt64() && n.Num().Int64() == 1 &&
			n.Denom().IsInt64() && n.Denom().Int64()&(n.Denom().Int64()-1) == 0 {
			r.fraction = n.Denom().Int64()
		}
	}
	return r
}

// show prints a value with its unit, to as many digits as its comparison with
// the check's limits needs.
func (r ruler) show(value quantity.Value) string {
	if r.fraction > 0 {
		if text, ok := quantity.FormatFraction(value, r.unit, r.fraction); ok {
			return text
		}
	}
	return quantity.Show(value, r.unit, r.decimals, r.limits...)
}

// size prints a difference or an uncertainty, which no limit of the check bounds.
func (r ruler) size(v quantity.Value, against ...quantity.Value) string {
	return quantity.Show(v.Abs(), r.unit.Step(), r.decimals, against...)
}

// travel prints how far something is slid: to the digits of a reading, in millimetres
// where the check measures something else than what moves it.
func (r ruler) travel(v quantity.Value) string {
	if v.Kind() != r.unit.Step().Kind() {
		return quantity.Format(v.Abs(), quantity.Millimetre, 2)
	}
	return r.size(v)
}

// briefly prints a target to the digits of a reading, for a page that is read at a glance;
// exactly stands behind "why".
func (r ruler) briefly(v quantity.Value) string {
	if text, ok := r.fractional(v); ok {
		return text
	}
	return quantity.Format(v, r.unit, r.decimals)
}

// least and most print a limit briefly, on its safe side: a reading that looks to be within
// it is.
func (r ruler) least(v quantity.Value) string { return r.limit(v, true) }

func (r ruler) most(v quantity.Value) string { return r.limit(v, false) }

func (r ruler) limit(v quantity.Value, least bool) string {
	if text, ok := r.fractional(v); ok {
		return text
	}
	return quantity.FormatLimit(v, r.unit, r.decimals, least)
}

// fractional prints a target or limit as it stands on an inch rule, where the check's all
// do.
func (r ruler) fractional(v quantity.Value) (text string, ok bool) {
	if r.ruled == 0 {
		return "", false
	}
	return quantity.FormatFraction(v, r.unit, r.ruled)
}

// doubt prints an expanded uncertainty: one digit more than a reading has.
func (r ruler) doubt(u quantity.Value) string { return quantity.Format(u, r.unit.Step(), r.decimals+1) }

// exactly prints a target or limit so that nothing is rounded away that
// matters: with up to three more digits than a reading.
func (r ruler) exactly(value quantity.Value) string {
	if text, ok := r.fractional(value); ok {
		return text
	}
	for d := r.decimals; d < r.decimals+3; d++ {
		text := quantity.Format(value, r.unit, d)
		if p, err := quantity.Parse(text, quantity.Context{Kind: value.Kind(), Entry: r.unit}); err == nil &&
			p.Value.Equal(value) {
			return text
		}
	}
	return r.show(value)
}

// limitsText prints limits exactly: "0.889 to 1.143 mm", "at least 1.2 mm", "at most 3 mm".
func (w *wording) limitsText(r ruler, b metrology.Limits) string {
	return w.limitsTextBy(r.exactly, r.exactly, r, b)
}

// limitsBrief prints limits to the digits of a reading, on their safe side.
func (w *wording) limitsBrief(r ruler, b metrology.Limits) string {
	return w.limitsTextBy(r.least, r.most, r, b)
}

// limitsTextBy prints limits, the least and the greatest value each by its function.
func (w *wording) limitsTextBy(least, most func(quantity.Value) string, scale ruler, limits metrology.Limits) string {
	switch {
	case limits.Low.Valid() && limits.High.Valid():
		low, high := least(limits.Low), most(limits.High)
		// One unit is enough for both.
		if unit := " " + string(scale.unit); strings.HasSuffix(low, unit) && strings.HasSuffix(high, unit) {
			low = strings.TrimSuffix(low, unit)
		}
		return w.say("limits.between", words.D{"Low": low, "High": high})
	case limits.Low.Valid():
		return w.say("limits.least", words.D{"Low": least(limits.Low)})
	case limits.High.Valid():
		return w.say("limits.most", words.D{"High": most(limits.High)})
	}
	return w.say("limits.none", nil)
}

// place is a position at the beginning of a sentence; where a check has only
// one place, the check itself.
func place(k *profile.Check, position string) string {
	if position == "" {
		return capital(k.Name)
	}
	return capital(position)
}

// values prints a reading's positions: "left 1.17, right 1.04 mm", or from the
// least to the greatest where there are more than two.
func (w *wording) values(scale ruler, at []quantity.At) string {
	if len(at) > 2 {
		return w.span(scale, at)
	}
	parts := make([]string, len(at))
	for i, position := range at {
		parts[i] = position.Position + " " + scale.show(position.Mean())
		if i < len(at)-1 {
			parts[i] = strings.TrimSuffix(parts[i], " "+string(scale.unit)) // the last one's is enough
		}
		if len(position.Repeats) > 1 {
			parts[i] = w.say("values.mean", words.D{"At": parts[i], "N": len(position.Repeats)})
		}
	}
	return strings.TrimSpace(strings.Join(parts, ", "))
}

// span prints the least and the greatest of many positions.
func (w *wording) span(scale ruler, at []quantity.At) string {
	low, high := at[0].Mean(), at[0].Mean()
	for _, a := range at[1:] {
		if v := a.Mean(); v.Cmp(low) < 0 {
			low = v
		} else if v.Cmp(high) > 0 {
			high = v
		}
	}
	if scale.show(low) == scale.show(high) {
		return w.say("range.same", words.D{"Low": scale.show(low), "Places": len(at)})
	}
	return w.say("range", words.D{"Low": strings.TrimSuffix(scale.show(low), " "+string(scale.unit)),
		"High": scale.show(high), "Places": len(at)})
}

// exampleValues are values at the target, or likely ones, for every position of a check.
func (w *wording) exampleValues(m domain.Machine, check *profile.Check) string {
	scale := rulerFor(check, m.UnitsIn(w.shop))
	parts := make([]string, len(check.Positions))
	for i, p := range check.Positions {
		parts[i] = strings.TrimSpace(p + " " + scale.show(check.Example))
		if i < len(check.Positions)-1 {
			parts[i] = strings.TrimSuffix(parts[i], " "+string(scale.unit))
		}
	}
	return strings.Join(parts, ", ")
}

// layout is how a check's values are typed on a machine: its unit and its positions.
func layout(m domain.Machine, s domain.Shop, k *profile.Check) quantity.Layout {
	return quantity.Layout{Context: quantity.Context{Kind: k.Kind(), Entry: k.Entry[m.UnitsIn(s)]},
		Positions: k.Positions}
}
