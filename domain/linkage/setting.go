package linkage

import (
	"math"
	"slices"
)

// option is one way to set an adjuster.
type option struct {
	turns, past float64
	effect      float64 // turns, less the play expected to be lost
	variance    float64 // variance of effect, by hand and by play
}

// finish is the way in which a turn ends, and what it loses by play.
func (a Adjuster) finish(turns float64) (way int, lost, variance float64) {
	way = a.Approach
	if way == 0 {
		way = sign(turns)
	}
	switch {
	case way == 0 || a.Engaged == way:
		return way, 0, 0
	case a.Engaged == 0: // uniform from none of it to all of it
		return way, a.Play / 2, a.Play*a.Play/12 + a.PlayU*a.PlayU/3
	}
	return way, a.Play, a.PlayU * a.PlayU
}

// set is what turning so far brings.
func (a Adjuster) set(turns float64) option {
	option := option{turns: turns}
	if turns == 0 {
		return option
	}
	way, lost, variance := a.finish(turns)
	hands := 1.0
	if a.Approach != 0 && sign(turns) != a.Approach {
		option.past = a.Increment * math.Ceil((a.Play+2*a.PlayU)/a.Increment-1e-9)
		option.past = max(option.past, a.Increment)
		hands = 2
	}
	option.effect = turns - float64(way)*lost
	option.variance = hands*a.Hand*a.Hand + variance
	return option
}

// around are the settings next to an exact effective turn: each multiples of
// the increment below and as many above, within the travel, and no turn in place
// of one that is too small to be worth making.
func (a Adjuster) around(effect float64, each int) []option {
	way, lost, _ := a.finish(effect)
	turns := effect + float64(way)*lost
	var all []option
	add := func(turn float64) {
		// Not past the ends of its travel.
		if turn > a.Most {
			turn = a.Increment * math.Floor(a.Most/a.Increment+1e-9)
		}
		if turn < a.Least {
			turn = a.Increment * math.Ceil(a.Least/a.Increment-1e-9)
		}
		if !slices.ContainsFunc(all, func(o option) bool { return o.turns == turn }) {
			all = append(all, a.set(turn))
		}
	}
	down, up := math.Floor(turns/a.Increment)-float64(each-1), math.Ceil(turns/a.Increment)+float64(each-1)
	for i := range int(up-down) + 1 { // counted in whole numbers: so far off that n + 1 is n, it ends too
		turn := a.Increment * (down + float64(i))
		if least := a.useful(); math.Abs(turn) < least-1e-9 && turn != 0 {
			add(0)
			turn = math.Copysign(least, turn)
		}
		add(turn)
	}
	return all
}

// nearest is the setting nearest to a number of turns that is within the travel and
// worth making.
func (a Adjuster) nearest(turns float64) option {
	turn := a.Increment * math.Round(min(max(turns, a.Least), a.Most)/a.Increment)
	if turn > a.Most || turn < a.Least {
		turn -= math.Copysign(a.Increment, turn)
	}
	if math.Abs(turn) < a.useful()-1e-9 {
		turn = 0
	}
	return a.set(turn)
}

// useful is the least turn worth making, in whole increments.
func (a Adjuster) useful() float64 {
	return a.Increment * math.Ceil(max(a.Useful, a.Increment)/a.Increment-1e-9)
}

// variance is what an adjuster so set adds to the variance of a row.
func (a Adjuster) variance(response float64, o option) float64 {
	if o.turns == 0 {
		return 0
	}
	return response * response * (a.GainU*a.GainU*o.effect*o.effect + a.Gain*a.Gain*o.variance)
}
