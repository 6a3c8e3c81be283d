package domain

import (
	"setscrew/domain/linkage"
	"setscrew/domain/quantity"
)

// eccentric plans the moves of eccentrics by all readings since they were last
// moved otherwise than by a plan.
func (cs *CheckStatus) eccentric(snap Snapshot, geared *gear) *Plan {
	check := cs.Check
	if !check.Target.Valid() || !check.Adjust.Low.Valid() || !check.Adjust.High.Valid() {
		return nil
	}
	// The same target and limits at every position, and the least certain reading's uncertainty.
	problem := linkage.Eccentrics{
		Target: make([]float64, len(cs.At)),
		Low:    make([]float64, len(cs.At)),
		High:   make([]float64, len(cs.At)),
	}
	for i := range cs.At {
		problem.Target[i] = inBase(check.Target)
		problem.Low[i], problem.High[i] = inBase(check.Adjust.Low), inBase(check.Adjust.High)
		problem.U = max(problem.U, cs.At[i].Budget.Combined)
	}
	// The readings since the eccentrics were last moved by anything but a plan, oldest first.
	chain := chained(snap.Tries[check.ID], cs.Latest.Fact)
	values := func(l *Latest) []float64 {
		var all []float64
		for _, at := range l.Reading.Values {
			all = append(all, inBase(at.Mean()))
		}
		return all
	}
	for _, try := range chain {
		problem.Readings = append(problem.Readings, values(try.Before))
	}
	problem.Readings = append(problem.Readings, values(&cs.Latest))
	// Each eccentric with where it stood at each reading, counted from the first.
	problem.Body = make([][]float64, len(geared.response))
	for j, i := range geared.turned {
		adjuster := geared.all[i]
		throw := inBase(adjuster.Lead)
		eccentric := linkage.Eccentric{Adjuster: geared.now[j], Throw: throw, Rising: geared.known[j],
			Turned: []float64{0}}
		for _, try := range chain {
			turned := eccentric.Turned[len(eccentric.Turned)-1]
			for _, turn := range try.Turned {
				if turn.Adjuster == adjuster.ID {
					turned += turn.Turns.Float(quantity.Turn)
				}
			}
			eccentric.Turned = append(eccentric.Turned, turned)
		}
		problem.Each = append(problem.Each, eccentric)
		for row := range geared.response {
			problem.Body[row] = append(problem.Body[row], geared.response[row][j]/throw)
		}
		geared.tries[j] = len(chain)
	}
	// Solve, and name the eccentrics that cannot reach far enough.
	solution, reach, err := problem.Solve()
	if err != nil {
		return nil
	}
	plan := cs.planned(geared, solution)
	for j, far := range reach {
		if far.Out {
			adjuster := geared.all[geared.turned[j]]
			plan.Short = append(plan.Short, OutOfReach{adjuster.ID, exactly(far.Most, check.Kind())})
		}
	}
	return plan
}
