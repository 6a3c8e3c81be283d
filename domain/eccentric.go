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
	p := linkage.Eccentrics{
		Target: make([]float64, len(cs.At)),
		Low:    make([]float64, len(cs.At)),
		High:   make([]float64, len(cs.At)),
	}
	for i := range cs.At {
		p.Target[i], p.Low[i], p.High[i] = inBase(check.Target), inBase(check.Adjust.Low), inBase(check.Adjust.High)
		p.U = max(p.U, cs.At[i].Budget.Combined)
	}
	chain := chained(snap.Tries[check.ID], cs.Latest.Fact)
	values := func(l *Latest) []float64 {
		var all []float64
		for _, at := range l.Reading.Values {
			all = append(all, inBase(at.Mean()))
		}
		return all
	}
	for _, x := range chain {
		p.Readings = append(p.Readings, values(x.Before))
	}
	p.Readings = append(p.Readings, values(&cs.Latest))
	p.Body = make([][]float64, len(geared.response))
	for j, i := range geared.turned {
		adjuster := geared.all[i]
		throw := inBase(adjuster.Lead)
		e := linkage.Eccentric{Adjuster: geared.now[j], Throw: throw, Rising: geared.known[j], Turned: []float64{0}}
		for _, x := range chain {
			turned := e.Turned[len(e.Turned)-1]
			for _, t := range x.Turned {
				if t.Adjuster == adjuster.ID {
					turned += t.Turns.Float(quantity.Turn)
				}
			}
			e.Turned = append(e.Turned, turned)
		}
		p.Each = append(p.Each, e)
		for row := range geared.response {
			p.Body[row] = append(p.Body[row], geared.response[row][j]/throw)
		}
		geared.tries[j] = len(chain)
	}
	s, reach, err := p.Solve()
	if err != nil {
		return nil
	}
	plan := cs.planned(geared, s)
	for j, r := range reach {
		if r.Out {
			plan.Short = append(plan.Short, OutOfReach{geared.all[geared.turned[j]].ID, exactly(r.Most, check.Kind())})
		}
	}
	return plan
}
