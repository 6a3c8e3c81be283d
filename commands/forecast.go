package commands

import (
	"fmt"
	"slices"
	"strconv"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// usage is how a machine is used. It is worked out outside of any transaction, and
// kept while the day, the hours, the counter's ratio and the shop's calendar stay.
func (c *call) usage(st domain.Status) (*domain.Usage, error) {
	k, err := c.keptUsage(st)
	return k.usage, err
}

// usageRests is what a machine's use rests on: while it stays, so does the forecast.
func (c *call) usageRests(st domain.Status) string {
	ratio := 1.0
	if st.Reporting != nil {
		ratio = st.Reporting.Ratio
	}
	return fmt.Sprint(c.now.In(c.shop.Location()).Format(time.DateOnly), " ", st.Hours, " ", ratio, c.shop.Open, c.shop.Closed, st.Machine.Setup.Rev)
}

func (c *call) keptUsage(st domain.Status) (keptUsage, error) {
	key := usageKey{c.shop.ID, st.Machine.ID}
	rests := c.usageRests(st)
	u := &c.desk.usages
	u.Lock()
	k, ok := u.all[key]
	u.Unlock()
	if ok && k.rests == rests {
		return k, nil
	}
	runs, err := c.books.Runs(c, st.Machine.ID, c.now.AddDate(0, 0, -domain.LookBack-1), c.now)
	if err != nil {
		return keptUsage{}, err
	}
	others, err := c.others(st.Machine.ID)
	if err != nil {
		return keptUsage{}, err
	}
	k = keptUsage{rests: rests, usage: domain.NewUsage(st, runs, others, c.now), when: map[string]domain.Likely{}}
	var left []quantity.Value
	for _, s := range st.ServicesByUse() {
		if l := s.Due.Left; l.Sign() > 0 && !slices.ContainsFunc(left, l.Equal) {
			left = append(left, l)
		}
	}
	for i, e := range k.usage.WhenEach(left) {
		k.when[left[i].String()] = e
	}
	u.Lock()
	defer u.Unlock()
	if u.all == nil || len(u.all) >= mostUsages {
		u.all = map[usageKey]keptUsage{}
	}
	u.all[key] = k
	return k, nil
}

// others is how much the shop uses its machines but for one. It is looked up once a
// day, and again when a machine comes.
func (c *call) others(but domain.MachineID) (domain.Busyness, error) {
	day := c.now.In(c.shop.Location()).Format(time.DateOnly)
	u := &c.desk.usages
	u.Lock()
	k, ok := u.levels[c.shop.ID]
	u.Unlock()
	var l domain.Busyness
	machines, err := c.books.Machines(c)
	if err != nil {
		return l, err
	}
	if !ok || k.day != day || len(k.sessions) != len(machines) {
		if k.sessions, err = c.books.Sessions(c, c.now.AddDate(0, 0, -domain.LookBack), c.now); err != nil {
			return l, err
		}
		k.day = day
		u.Lock()
		if u.levels == nil || len(u.levels) >= mostUsages {
			u.levels = map[domain.ShopID]keptLevels{}
		}
		u.levels[c.shop.ID] = k
		u.Unlock()
	}
	for _, m := range machines {
		if m.ID != but {
			l = l.With(m, k.sessions[m.ID], c.now)
		}
	}
	return l, nil
}

// learnUsages works out how machines are used, several at a time, so that it is at
// hand.
func (c *call) learnUsages(all []domain.Status) error {
	return several(len(all), func(i int) (err error) {
		if slices.ContainsFunc(all[i].Services, func(s domain.ServiceStatus) bool { return s.Due.Left.Valid() && s.Due.State == upkeep.NotDue }) {
			_, err = c.keptUsage(all[i])
		}
		return err
	})
}

// likely says when a service probably falls due by use; "" where use does not tell,
// or the calendar comes first.
func (c *call) likely(st domain.Status, s domain.ServiceStatus) (string, error) {
	if s.Due.State != upkeep.NotDue || !s.Due.Left.Valid() {
		return "", nil
	}
	k, err := c.keptUsage(st)
	if err != nil {
		return "", err
	}
	e, ok := k.when[s.Due.Left.String()]
	if !ok {
		e = k.usage.When(s.Due.Left)
	}
	on := s.Due.On
	if !on.IsZero() {
		switch {
		case e.First.IsZero() || !e.First.Before(on):
			return "", nil
		case e.Last.IsZero() || e.Last.After(on):
			e.Last = on
		}
	}
	d := words.D{"First": words.Time(e.First, words.Date), "Last": words.Time(e.Last, words.Date)}
	switch {
	case e.First.IsZero():
		return " " + c.say("likely.never", nil), nil
	case e.Last.IsZero():
		return " " + c.say("likely.after", d), nil
	case e.First.Equal(e.Last):
		return " " + c.say("likely.on", d), nil
	}
	return " " + c.say("likely.between", d), nil
}

// whyLikely tells what a forecast rests on.
func (c *call) whyLikely(st domain.Status, s domain.ServiceStatus) ([]string, error) {
	line, err := c.likely(st, s)
	if err != nil || line == "" {
		return nil, err
	}
	u, err := c.usage(st)
	if err != nil {
		return nil, err
	}
	lines := []string{line[1:]}
	if e := u.When(s.Due.Left); !e.Median.IsZero() {
		lines = append(lines, c.say("likely.median", words.D{"Median": words.Time(e.Median, words.Date)}))
	}
	return append(lines, c.say("likely.rests", words.D{"N": u.Sessions, "Hours": strconv.FormatFloat(u.Hours, 'f', 1, 64), "Days": u.Days}), c.say("likely.model", nil)), nil
}
