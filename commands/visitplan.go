package commands

import (
	"setscrew/domain"
)

// plan is the shop's plan of visits.
func (c *call) plan() (domain.Fact, domain.VisitsPlanned, bool, error) {
	f, found, err := c.books.Visits(c)
	p, _ := f.Body.(domain.VisitsPlanned)
	return f, p, found, err
}

// plannedVisits lists the visits of the shop's plan.
func (c *call) plannedVisits() ([]domain.Visit, error) {
	_, p, _, err := c.plan()
	return p.Visits, err
}

// visitNamed is the plan that a visit's button is about; it refuses what the plan
// does not have.
func (c *call) visitNamed(arg visitArg) (fact domain.Fact, plan domain.VisitsPlanned, err error) {
	if fact, err = c.books.Fact(c, arg.plan); err != nil {
		return fact, plan, err
	}
	plan, ok := fact.Body.(domain.VisitsPlanned)
	if !ok || arg.visit >= len(plan.Visits) || arg.job >= len(plan.Visits[arg.visit].Items) {
		return fact, plan, noSuchButton()
	}
	return fact, plan, nil
}
