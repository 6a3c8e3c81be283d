package domain

import (
	"math/big"
	"slices"

	"setscrew/domain/linkage"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// Unlikely reports whether a value at any position is more likely a slip of the unit, the
// decimal point or the sign than the machine:
//
//   - outside what the profile says is plausible, where it does, and then nothing else counts;
//   - ten times the target or more, or a tenth of it or less and outside the stop limits;
//   - five times the target or more, or a fifth or less, outside the limits that ask for an
//     adjustment, where a tenth or ten times of it lies within them;
//   - of the other sign than the target, farther outside the stop limits than they are wide,
//     where it lies within them with its sign turned;
//   - of a frequency, one that fits an overtone of the target.
//
// A target of zero has the greatest of the check's limits in its place. Where there is no
// target it is fifteen times the profile's example or more, or a fifteenth or less; or, in
// any case, eight times another position's value. On a scale of temperature only what the profile says
// counts.
func Unlikely(check *profile.Check, values []quantity.At) bool {
	if check.Kind() == quantity.Temperature && !check.Plausible.Set() {
		return false
	}
	return slices.ContainsFunc(values, func(at quantity.At) bool {
		return slices.ContainsFunc(at.Repeats, func(read quantity.Value) bool { return odd(check, read) })
	}) || unlike(check, values)
}

// UnlikelySetting reports whether a value that a shop sets for a check, its target or a
// limit, is more likely a slip than meant: outside what the profile says is plausible, else
// five times the greatest of the check's target and limits or more, or a tenth of the least
// of them or less. Zero is never a slip.
func UnlikelySetting(check *profile.Check, value quantity.Value) bool {
	if !value.Valid() || value.Sign() == 0 || check.Kind() == quantity.Temperature && !check.Plausible.Set() {
		return false
	}
	if check.Plausible.Set() {
		return !check.Plausible.Holds(value)
	}
	var least, most quantity.Value
	for _, known := range []quantity.Value{check.Target, check.Adjust.Low, check.Adjust.High, check.Stop.Low,
		check.Stop.High} {
		if !known.Valid() || known.Sign() == 0 {
			continue
		}
		if size := known.Abs(); !least.Valid() || size.Cmp(least) < 0 {
			least = size
		}
		if size := known.Abs(); !most.Valid() || size.Cmp(most) > 0 {
			most = size
		}
	}
	size := value.Abs()
	return least.Valid() && (size.Cmp(times(most, 5)) >= 0 || times(size, 10).Cmp(least) <= 0)
}

// times is a multiple of a value.
func times(value quantity.Value, by int64) quantity.Value { return value.Mul(big.NewRat(by, 1)) }

// sizeOf is what a check's values are compared with, and whether that is its target; not
// valid where nothing is known.
func sizeOf(check *profile.Check) (size quantity.Value, target bool) {
	if check.Target.Valid() && check.Target.Sign() != 0 {
		return check.Target.Abs(), true
	}
	if !check.Target.Valid() {
		if check.Example.Valid() && check.Example.Sign() != 0 {
			return check.Example.Abs(), false
		}
		return quantity.Value{}, false
	}
	for _, limit := range []quantity.Value{check.Adjust.Low, check.Adjust.High, check.Stop.Low, check.Stop.High} {
		if limit.Valid() && (!size.Valid() || limit.Abs().Cmp(size) > 0) {
			size = limit.Abs()
		}
	}
	if size.Valid() && size.Sign() == 0 {
		return quantity.Value{}, false
	}
	return size, false
}

// odd reports whether one value is more likely a slip than the machine.
func odd(check *profile.Check, read quantity.Value) bool {
	if check.Plausible.Set() {
		return !check.Plausible.Holds(read)
	}
	size, target := sizeOf(check)
	if !size.Valid() {
		return false
	}
	amount := read.Abs()
	switch {
	case !check.Target.Valid():
		return read.Sign() != 0 && (amount.Cmp(times(size, 15)) >= 0 || times(amount, 15).Cmp(size) <= 0)
	case !target:
		return amount.Cmp(times(size, 10)) >= 0
	case check.Kind() == quantity.Frequency &&
		linkage.Harmonic(read.Float(quantity.Hertz), check.Target.Float(quantity.Hertz)) != 0:
		return true
	}
	inside := check.Stop.Set() && check.Stop.Holds(read)
	if amount.Cmp(times(size, 10)) >= 0 || times(amount, 10).Cmp(size) <= 0 && !inside {
		return true
	}
	return slipped(check, read) || turnedRound(check, read)
}

// shifted is a value with its decimal point where it makes it a likely one, nil where
// neither place does.
func shifted(check *profile.Check, read quantity.Value) []quantity.Value {
	var likely []quantity.Value
	size, target := sizeOf(check)
	for _, factor := range []*big.Rat{big.NewRat(1, 10), big.NewRat(10, 1), big.NewRat(1, 100), big.NewRat(100, 1),
		big.NewRat(1, 1000), big.NewRat(1000, 1)} {
		moved := read.Mul(factor)
		near := !target || moved.Abs().Cmp(times(size, 3)) <= 0
		if check.Adjust.Set() && check.Adjust.Holds(moved) && near {
			likely = append(likely, moved)
		}
	}
	return likely
}

// slipped reports whether a value is five times the target or more, or a fifth of it or less,
// outside the limits that ask for an adjustment, and one place of its decimal point away
// from lying within them.
func slipped(check *profile.Check, read quantity.Value) bool {
	size, target := sizeOf(check)
	if !target || !check.Adjust.Set() || check.Adjust.Holds(read) || check.Stop.Set() && check.Stop.Holds(read) {
		return false
	}
	over := read.Abs().Cmp(times(size, 5)) >= 0 && check.Adjust.Holds(read.Mul(big.NewRat(1, 10)))
	under := times(read.Abs(), 5).Cmp(size) <= 0 && check.Adjust.Holds(times(read, 10))
	return over || under
}

// turnedRound reports whether a value has the other sign than the target and lies farther
// outside the stop limits than they are wide, but within them with its sign turned.
func turnedRound(check *profile.Check, read quantity.Value) bool {
	low, high := check.Stop.Low, check.Stop.High
	if read.Sign() == 0 || read.Sign() == check.Target.Sign() || !low.Valid() && !high.Valid() ||
		check.Stop.Holds(read) || !check.Stop.Holds(read.Neg()) {
		return false
	}
	if !low.Valid() || !high.Valid() {
		return true // on the far side of zero from the only limit
	}
	outside := low.Sub(read)
	if read.Cmp(high) > 0 {
		outside = read.Sub(high)
	}
	return outside.Cmp(high.Sub(low)) > 0
}

// unlike reports whether the values of a check without a target differ so much from place
// to place that one of them is a slip: by eight times.
func unlike(check *profile.Check, values []quantity.At) bool {
	if check.Target.Valid() || check.Kind() == quantity.Temperature {
		return false
	}
	var least, most quantity.Value
	for _, at := range values {
		for _, read := range at.Repeats {
			size := read.Abs()
			if size.Sign() == 0 {
				continue
			}
			if !least.Valid() || size.Cmp(least) < 0 {
				least = size
			}
			if !most.Valid() || size.Cmp(most) > 0 {
				most = size
			}
		}
	}
	return least.Valid() && most.Cmp(times(least, 8)) >= 0
}

// Meant lists what may have been meant by values that are unlikely, likeliest first: the
// lowest tone, the decimal point in another place, the sign turned. Each is the whole reading
// with only what is odd about it changed, and is not unlikely itself.
func Meant(check *profile.Check, values []quantity.At) [][]quantity.At {
	var all [][]quantity.At
	add := func(change func(quantity.Value) (quantity.Value, bool)) {
		meant := make([]quantity.At, len(values))
		for i, at := range values {
			meant[i].Position = at.Position
			for _, read := range at.Repeats {
				if odd(check, read) {
					changed, ok := change(read)
					if !ok {
						return
					}
					read = changed
				}
				meant[i].Repeats = append(meant[i].Repeats, read)
			}
		}
		if !Unlikely(check, meant) {
			all = append(all, meant)
		}
	}
	if lowest, overtone := Fundamental(check, values); overtone > 0 && !Unlikely(check, lowest) {
		all = append(all, lowest)
	}
	add(func(read quantity.Value) (quantity.Value, bool) {
		likely := shifted(check, read)
		return append(likely, read)[0], len(likely) > 0
	})
	add(func(read quantity.Value) (quantity.Value, bool) {
		return read.Neg(), check.Target.Valid() && turnedRound(check, read)
	})
	return all
}

// Fundamental is the values with each that fits an overtone of the target, which
// a phone often hears in place of the lowest tone, divided by its number; and the
// greatest of those numbers, 0 where none fits.
func Fundamental(check *profile.Check, values []quantity.At) (meant []quantity.At, overtone int) {
	if check.Kind() != quantity.Frequency || !check.Target.Valid() {
		return values, 0
	}
	for _, at := range values {
		place := quantity.At{Position: at.Position}
		for _, v := range at.Repeats {
			if n := linkage.Harmonic(v.Float(quantity.Hertz), check.Target.Float(quantity.Hertz)); n > 0 {
				v, overtone = v.Mul(big.NewRat(1, int64(n))), max(overtone, n)
			}
			place.Repeats = append(place.Repeats, v)
		}
		meant = append(meant, place)
	}
	return meant, overtone
}
