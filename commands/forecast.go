package commands

import (
	"fmt"
	"slices"
	"strconv"

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
	return fmt.Sprint(c.shop.Date(c.now), " ", st.Hours, " ", ratio, c.shop.Open,
		c.shop.Closed, st.Machine.Setup.Rev)
}

// keptUsage is how a machine is used and when its services fall due by that, as it is kept
// or learned now.
func (c *call) keptUsage(st domain.Status) (keptUsage, error) {
	// What is kept holds until something that it rests on changes.
	key := usageKey{c.shop.ID, st.Machine.ID}
	rests := c.usageRests(st)
	kept := &c.desk.usages
	kept.Lock()
	known, ok := kept.all[key]
	kept.Unlock()
	if ok && known.rests == rests {
		return known, nil
	}
	// Else it is learned from the books, and when each service falls due with it.
	runs, err := c.books.Runs(c, st.Machine.ID, c.now.AddDate(0, 0, -domain.LookBack-1), c.now)
	if err != nil {
		return keptUsage{}, err
	}
	others, err := c.others(st.Machine.ID)
	if err != nil {
		return keptUsage{}, err
	}
	known = keptUsage{rests: rests, usage: domain.NewUsage(st, runs, others, c.now), when: map[string]domain.Likely{}}
	var left []quantity.Value
	for _, s := range st.ServicesByUse() {
		if l := s.Due.Left; l.Sign() > 0 && !slices.ContainsFunc(left, l.Equal) {
			left = append(left, l)
		}
	}
	for i, e := range known.usage.WhenEach(left) {
		known.when[left[i].String()] = e
	}
	// It is kept for whoever asks next; all is forgotten where that grows too much.
	kept.Lock()
	defer kept.Unlock()
	if kept.all == nil || len(kept.all) >= mostUsages {
		kept.all = map[usageKey]keptUsage{}
	}
	kept.all[key] = known
	return known, nil
}

// others is how much the shop uses its machines but for one. It is looked up once a
// day, and again when a machine comes.
func (c *call) others(but domain.MachineID) (domain.Busyness, error) {
	day := c.shop.Date(c.now)
	kept := &c.desk.usages
	kept.Lock()
	known, ok := kept.levels[c.shop.ID]
	kept.Unlock()
	var busyness domain.Busyness
	machines, err := c.books.Machines(c)
	if err != nil {
		return busyness, err
	}
	if !ok || known.day != day || len(known.sessions) != len(machines) {
		if known.sessions, err = c.books.Sessions(c, c.now.AddDate(0, 0, -domain.LookBack), c.now); err != nil {
			return busyness, err
		}
		known.day = day
		kept.Lock()
		if kept.levels == nil || len(kept.levels) >= mostUsages {
			kept.levels = map[domain.ShopID]keptLevels{}
		}
		kept.levels[c.shop.ID] = known
		kept.Unlock()
	}
	for _, m := range machines {
		if m.ID != but {
			busyness = busyness.With(m, known.sessions[m.ID], c.now)
		}
	}
	return busyness, nil
}

// learnUsages works out how machines are used, several at a time, so that it is at
// hand.
func (c *call) learnUsages(all []domain.Status) error {
	return several(len(all), func(i int) (err error) {
		if slices.ContainsFunc(all[i].Services,
			func(s domain.ServiceStatus) bool { return s.Due.Left.Valid() && s.Due.State == upkeep.NotDue }) {
			_, err = c.keptUsage(all[i])
		}
		return err
	})
}

// likely says when a service probably falls due by use; "" where use does not tell,
// or the calendar comes first.
func (c *call) likely(st domain.Status, service domain.ServiceStatus) (string, error) {
	if service.Due.State != upkeep.NotDue || !service.Due.Left.Valid() {
		return "", nil
	}
	// By use, but no later than the calendar says.
	known, err := c.keptUsage(st)
	if err != nil {
		return "", err
	}
	when, ok := known.when[service.Due.Left.String()]
	if !ok {
		when = known.usage.When(service.Due.Left)
	}
	on := service.Due.On
	if !on.IsZero() {
		switch {
		case when.First.IsZero() || !when.First.Before(on):
			return "", nil
		case when.Last.IsZero() || when.Last.After(on):
			when.Last = on
		}
	}
	// From one day to another, on one, or not within sight.
	data := words.D{"First": words.Time(when.First, words.Date), "Last": words.Time(when.Last, words.Date)}
	switch {
	case when.First.IsZero():
		return " " + c.say("likely.never", nil), nil
	case when.Last.IsZero():
		return " " + c.say("likely.after", data), nil
	case when.First.Equal(when.Last):
		return " " + c.say("likely.on", data), nil
	}
	return " " + c.say("likely.between", data), nil
}

// whyLikely tells what a forecast rests on.
func (c *call) whyLikely(st domain.Status, service domain.ServiceStatus) ([]string, error) {
	line, err := c.likely(st, service)
	if err != nil || line == "" {
		return nil, err
	}
	usage, err := c.usage(st)
	if err != nil {
		return nil, err
	}
	lines := []string{line[1:]}
	if e := usage.When(service.Due.Left); !e.Median.IsZero() {
		lines = append(lines, c.say("likely.median", words.D{"Median": words.Time(e.Median, words.Date)}))
	}
	return append(lines, c.say("likely.rests",
		words.D{"N": usage.Sessions, "Hours": strconv.FormatFloat(usage.Hours, 'f', 1, 64), "Days": usage.Days}),
		c.say("likely.model", nil)), nil
}
