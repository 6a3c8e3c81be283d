package upkeep

import "math"

// life is how long levels of a sort last: with a chance of reg as long as one of
// those that there have been, give or take, otherwise for a time at random.
type life struct {
	like []int
	reg  float64
	mean float64 // days of a time at random
}

// lives learns how long low and high levels last, from the likeliest course.
func (f *Forecast) lives() {
	for sort, low := range []bool{false, true} {
		ends, days := hazardEnds, hazardDays
		if len(f.past) > 2 {
			ends = hazardOften
		}
		lasting := life{}
		// The level of today is still running, so it adds days without an end.
		for i, segment := range f.past {
			if f.low(segment.GammaPoisson) != low {
				continue
			}
			days += float64(segment.days)
			if i < len(f.past)-1 {
				ends++
				if i > 0 { // the first is cut off by the beginning of the history
					lasting.like = append(lasting.like, segment.days)
				}
			}
		}
		if lasting.mean = days / ends; len(lasting.like) > 0 {
			lasting.reg = regular
		}
		f.life[sort] = lasting
	}
}

func (f *Forecast) lifeOf(l GammaPoisson) life { return f.life[f.sort(l)] }

// survives is the chance that a level lasts longer than a number of days, by either
// way of lasting.
func (v life) survives(days float64) (regular, random float64) {
	for _, like := range v.like {
		regular += v.reg / float64(len(v.like)) * math.Erfc((days-float64(like))/(ruler*float64(like))/math.Sqrt2) / 2
	}
	return regular, (1 - v.reg) * math.Exp(-days/v.mean)
}

// ends is the chance that a level of an age ends on the next day.
func (v life) ends(age int) float64 {
	a, b := v.survives(float64(age))
	c, d := v.survives(float64(age + 1))
	if a+b <= 0 {
		return 1 / v.mean
	}
	return 1 - (c+d)/(a+b)
}

// left is how many days more a level of an age lasts: way and long, each
// drawn from 0 to 1, tell in which way it ends and how long that takes.
func (l life) left(age int, way, long float64) int {
	reg, random := l.survives(float64(age))
	if way*(reg+random) >= reg {
		return 1 + int(min(-math.Log(1-long)*l.mean, 2*Horizon))
	}
	// One of those that it may still last as long as.
	part := way * (reg + random)
	for i, like := range l.like {
		days := float64(like)
		one := l.reg / float64(len(l.like)) * math.Erfc((float64(age)-days)/(ruler*days)/math.Sqrt2) / 2
		if part -= one; part < 0 || i == len(l.like)-1 {
			sd := ruler * days
			below := 1 - math.Erfc((float64(age)-days)/sd/math.Sqrt2)/2
			at := days + sd*normal(min(below+long*(1-below), 1-1e-9))
			return max(1, int(math.Round(at))-age)
		}
	}
	return 1
}
