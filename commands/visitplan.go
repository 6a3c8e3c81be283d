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
func (c *call) visitNamed(arg visitArg) (f domain.Fact, p domain.VisitsPlanned, err error) {
	if f, err = c.books.Fact(c, arg.plan); err != nil {
		return f, p, err
	}
	p, ok := f.Body.(domain.VisitsPlanned)
	if !ok || arg.visit >= len(p.Visits) || arg.job >= len(p.Visits[arg.visit].Items) {
		return f, p, noSuchButton()
	}
	return f, p, nil
}
