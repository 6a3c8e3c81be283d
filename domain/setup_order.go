package domain

import (
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/upkeep"
)

// Step is one check of a whole set-up, and how it stands.
type Step struct {
	Check string
	State StepState
}

// StepState is what is left to do at a step.
type StepState string

// The states of a step. A proved one is fresh and proved within its adjust
// limits, or an inspection that passes and is not due; a near one lies within
// them, not proved.
const (
	StepProved StepState = "proved"
	StepNear   StepState = "near"
	StepRead   StepState = "read"
	StepAdjust StepState = "adjust"
	StepAgain  StepState = "again"
	StepSecond StepState = "second"
)

// SetUp lists the checks of a machine in the order in which it is set up: each
// after all that it is measured from, otherwise as the profile lists them, without
// those that nothing asks for. Next is the first with something left to do, or nil.
func SetUp(s Status) (steps []Step, next *Step) {
	for _, id := range chainOrder(s.Machine.Profile) {
		if cs := s.Check(id); !cs.Idle() {
			steps = append(steps, Step{id, cs.step()})
		}
	}
	for i := range steps {
		if steps[i].State != StepProved && steps[i].State != StepNear {
			return steps, &steps[i]
		}
	}
	return steps, nil
}

func (cs *CheckStatus) step() StepState {
	switch {
	case cs.Freshness != Fresh, cs.Asked != nil, cs.Failed, cs.Check.Inspection && cs.Due.State != upkeep.NotDue:
		return StepRead
	case cs.Unseconded:
		return StepSecond
	case cs.Advice == AdvicePlan, cs.Advice == AdviceStop:
		return StepAdjust
	case cs.Advice != AdviceNone:
		return StepAgain
	case cs.Grade == metrology.Near:
		return StepNear
	}
	return StepProved
}

// chainOrder is the checks over the reference chain: the first in the profile's
// order whose datums all stand before it, again and again.
func chainOrder(prof *profile.Profile) []string {
	var order []string
	placed := map[string]bool{}
	for len(order) < len(prof.Checks) {
		before := len(order)
		for i := range prof.Checks {
			check := &prof.Checks[i]
			ready := !placed[check.ID]
			for _, from := range check.From {
				ready = ready && placed[from]
			}
			if ready {
				order, placed[check.ID] = append(order, check.ID), true
				break
			}
		}
		if len(order) == before {
			break // a circle, which the profile's linter refuses
		}
	}
	return order
}
