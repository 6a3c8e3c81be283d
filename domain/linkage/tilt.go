package linkage

import (
	"errors"
	"math"
	"slices"
)

// Tilt is the angle, in radians, at which a face stands from readings at places
// along it, both in one unit of length: the arc tangent of the slope of the
// least-squares line (of two readings, of their difference over the span). It is
// positive where readings grow with place. An error says that there are fewer
// than two places.
func Tilt(places, readings []float64) (float64, error) {
	if len(places) != len(readings) || len(places) < 2 {
		return 0, errors.New("an angle needs two readings or more, one a place")
	}
	n := float64(len(places))
	var place, reading, xx, xy float64 // the means, and the sums of squares and of products about them
	for i := range places {
		place, reading = place+places[i]/n, reading+readings[i]/n
	}
	for i := range places {
		xx += (places[i] - place) * (places[i] - place)
		xy += (places[i] - place) * (readings[i] - reading)
	}
	if xx == 0 {
		return 0, errors.New("two readings in one place")
	}
	return math.Atan(xy / xx), nil
}

// Taper is the half-angle of a turned piece from its diameters at two collars a
// distance apart, in radians, positive where the second is thicker:
// atan((D2 - D1)/(2 L)) (elementary geometry).
func Taper(first, second, apart float64) float64 { return math.Atan((second - first) / (2 * apart)) }

// SetOver is how far the tailstock must be moved across, away from the tool, so
// that a piece between centres turns parallel, from the diameters of two collars
// (the first near the headstock) a distance apart and the length between
// centres, all in one unit:
//
//	(D1 - D2)/2 · centres/apart
//
// A piece that is thinner near the tailstock was cut deeper there, since the
// tailstock stands too near the tool. (Elementary geometry: the axis is turned
// about the headstock's centre.)
func SetOver(first, second, apart, centres float64) float64 {
	return (first - second) / 2 * centres / apart
}

// Stack makes up a thickness from shims in stock, each as often as there are
// pieces of it, with the fewest pieces that come as near to it as any do. All
// are whole numbers of one small unit, such as micrometres. Of equally good
// stacks that with the thicker pieces is taken. It returns the pieces, thickest
// first, and what they add up to; none for a thickness under half the thinnest.
func Stack(thickness int, stock map[int]int) (pieces []int, sum int) {
	// The fewest pieces for each sum up to the first past the thickness.
	const most = 1 << 20
	if thickness <= 0 || thickness > most {
		return nil, 0
	}
	// Usable sizes, thinnest first.
	sizes := make([]int, 0, len(stock))
	// any order: sorted below
	for s, n := range stock {
		if s > 0 && n > 0 {
			sizes = append(sizes, s)
		}
	}
	slices.Sort(sizes)
	if len(sizes) == 0 {
		return nil, 0
	}
	top := thickness + sizes[len(sizes)-1]
	fewest := make([]int, top+1) // pieces + 1; 0 for a sum that cannot be had
	used := make([][]uint8, len(sizes))
	fewest[0] = 1
	for k, size := range sizes { // the thicker last, so that it is preferred
		next := slices.Clone(fewest)
		used[k] = make([]uint8, top+1)
		for n := 1; n <= min(stock[size], 255) && n*size <= top; n++ {
			for s := n * size; s <= top; s++ {
				if fewer := fewest[s-n*size]; fewer > 0 && (next[s] == 0 || fewer+n <= next[s]) {
					next[s], used[k][s] = fewer+n, uint8(n)
				}
			}
		}
		fewest = next
	}
	// The nearest sum that can be had; no shims at all is one of them.
	best := 0
	for total := 1; total <= top; total++ {
		if fewest[total] == 0 {
			continue
		}
		near, nearest := abs(total-thickness), abs(best-thickness)
		if near < nearest || near == nearest && fewest[total] < fewest[best] {
			best = total
		}
	}
	// Follow back how many of each size made it up.
	for s, k := best, len(sizes)-1; k >= 0; k-- {
		for range used[k][s] {
			pieces = append(pieces, sizes[k])
		}
		s -= int(used[k][s]) * sizes[k]
	}
	return pieces, best
}

func abs(n int) int { return max(n, -n) }
