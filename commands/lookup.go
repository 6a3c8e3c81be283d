package commands

import (
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/match"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// lookUp finds the thing that an option names, or refuses it and offers the
// nearest names as buttons that ask again. what is the message key of what was
// sought.
func (c *call) lookUp(option, what string, among []named) (int, error) {
	typed := c.options[option]
	i, near := find(typed, among)
	cmd := c.desk.byName[c.name].Command // nil for a button
	if cmd != nil && cmd.Exact && match.Exact(words.Clean(typed), among) < 0 {
		// What starts a machine again, or loosens what keeps it safe, is not guessed.
		i, near = -1, nearest(typed, among)
	}
	if i >= 0 {
		return i, nil
	}
	refused := &userError{key: "unknown." + what, data: words.D{"Name": words.User(typed)},
		noMachine: option == "machine"}
	if len(near) == 0 && len(among) > 0 {
		for _, n := range among[:min(len(among), 5)] {
			near = append(near, n.Name)
		}
		refused.key = "unlike." + what
	}
	switch {
	case len(among) == 0:
		refused.key = "none." + what
		return -1, refused
	case refused.key == "unknown."+what:
		for _, n := range near {
			refused.buttons = append(refused.buttons, c.again(c.say("button.use", words.D{"Name": words.Clean(n)}),
				option, n))
		}
	}
	refused.data["Near"] = words.Users(near)
	refused.example = c.exampleWith(option, near[0])
	if option == "check" {
		// Values for one check are none for another; without them they are asked.
		refused.example = c.exampleWith(option, near[0], "values")
	}
	return -1, refused
}

// lookUpItem finds the item that an option names, as lookUp does.
func (c *call) lookUpItem(option, what string, items []namedItem) (int, error) {
	return c.lookUp(option, what, namedIn(items,
		func(n *namedItem) named { return named{ID: n.item.Local(), Name: n.name} }))
}

// machine is the machine that the option "machine" names.
func (c *call) machine() (domain.Machine, error) { return c.machineOf("machine") }

// machineOf is the machine that an option names.
func (c *call) machineOf(option string) (domain.Machine, error) {
	all, err := c.books.Machines(c)
	if err != nil {
		return domain.Machine{}, err
	}
	i, err := c.lookUp(option, "machine", namedIn(all, calledMachine))
	if err != nil {
		return domain.Machine{}, err
	}
	return all[i], nil
}

// status is the machine that the option "machine" names, and what is said of it
// now.
func (c *call) status() (domain.Machine, domain.Status, error) {
	machine, err := c.machine()
	if err != nil {
		return machine, domain.Status{}, err
	}
	snap, err := c.books.Snapshot(c, machine.ID)
	if err != nil {
		return machine, domain.Status{}, err
	}
	return machine, domain.Assess(snap, c.now), nil
}

// statuses is every machine's, by name.
func (c *call) statuses() ([]domain.Status, error) {
	machines, err := c.books.Machines(c)
	if err != nil {
		return nil, err
	}
	_, all, err := c.assess(machines)
	return all, err
}

// assess is what is known and what is said of machines now.
func (c *call) assess(machines []domain.Machine) ([]domain.Snapshot, []domain.Status, error) {
	snaps, all := make([]domain.Snapshot, len(machines)), make([]domain.Status, len(machines))
	err := several(len(machines), func(i int) (err error) {
		if snaps[i], err = c.books.Snapshot(c, machines[i].ID); err == nil {
			all[i] = domain.Assess(snaps[i], c.now)
		}
		return err
	})
	return snaps, all, err
}

// several does something n times over, a few at a time.
func several(count int, do func(i int) error) error {
	var wait sync.WaitGroup
	errs := make([]error, count)
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i := range count {
		wait.Go(func() {
			free <- struct{}{}
			defer func() { <-free }()
			defer func() {
				if p := recover(); p != nil {
					errs[i] = fmt.Errorf("panic in part %d of %d: %v", i+1, count, p)
				}
			}()
			errs[i] = do(i)
		})
	}
	wait.Wait()
	return errors.Join(errs...)
}

// serviceNamed is the machine and its service that the options name.
func (c *call) serviceNamed() (domain.Machine, *profile.Service, error) {
	machine, err := c.machine()
	if err != nil {
		return machine, nil, err
	}
	s, err := c.service(machine.Profile)
	return machine, s, err
}

// checkNamed is the machine and its check that the options name.
func (c *call) checkNamed() (domain.Machine, *profile.Check, error) {
	machine, err := c.machine()
	if err != nil {
		return machine, nil, err
	}
	k, err := c.check(machine.Profile)
	return machine, k, err
}

// otherWanted is a machine, another, and whether something between the two is
// wanted.
func (c *call) otherWanted() (m, other domain.Machine, on bool, err error) {
	if m, err = c.machine(); err == nil {
		other, err = c.machineOf("other")
	}
	return m, other, c.options["wanted"] == "yes", err
}

// check is the check that the option "check" names.
func (c *call) check(prof *profile.Profile) (*profile.Check, error) {
	i, err := c.lookUp("check", "check", checksByName(prof))
	if err != nil {
		return nil, err
	}
	return &prof.Checks[i], nil
}

// service is the service that the option "service" names.
func (c *call) service(prof *profile.Profile) (*profile.Service, error) {
	i, err := c.lookUp("service", "service",
		namedIn(prof.Services, func(s *profile.Service) named { return named{ID: s.ID, Name: s.Name} }))
	if err != nil {
		return nil, err
	}
	return &prof.Services[i], nil
}

// event is the event that the option "event" names.
func (c *call) event(prof *profile.Profile) (*profile.Event, error) {
	i, err := c.lookUp("event", "event",
		namedIn(prof.Events, func(e *profile.Event) named { return named{ID: e.ID, Name: e.Name, Words: e.Words} }))
	if err != nil {
		return nil, err
	}
	return &prof.Events[i], nil
}

// gauge is the gauge that a reading was taken with: one of the shop's own or of
// the profile's by name, or the check's own when none is named.
func (c *call) gauge(prof *profile.Profile, check *profile.Check) (domain.GaugeUsed, error) {
	gauges, err := c.gauges(prof, quantity.Base(check.Kind()).Step().Kind())
	if err != nil {
		return domain.GaugeUsed{}, err
	}
	if c.options["gauge"] == "" {
		assumed := prof.Gauge(check.Gauge)
		for _, g := range gauges {
			if fold(g.Name) == fold(assumed.Name) {
				g.Assumed = true
				return g, nil
			}
		}
	}
	among := make([]named, len(gauges))
	for i, g := range gauges {
		among[i] = named{Name: g.Name}
		for _, pg := range prof.Gauges {
			if pg.Name == g.Name {
				among[i].ID = pg.ID
			}
		}
	}
	i, err := c.lookUp("gauge", "gauge", among)
	if err != nil {
		return domain.GaugeUsed{}, err
	}
	return gauges[i], nil
}

// gauges lists what a shop can measure a kind of quantity with: its own gauges,
// then those of a profile that it has no values of its own for.
func (c *call) gauges(prof *profile.Profile, of quantity.Kind) ([]domain.GaugeUsed, error) {
	own, err := c.books.Gauges(c)
	if err != nil {
		return nil, err
	}
	var all []domain.GaugeUsed
	for _, g := range own {
		if g.Measures() == of {
			all = append(all, g.GaugeUsed)
		}
	}
	for _, g := range prof.Gauges {
		if g.Of == of && !slices.ContainsFunc(own,
			func(o domain.OwnGauge) bool { return fold(o.Name) == fold(g.Name) }) {
			all = append(all, domain.FromProfile(g))
		}
	}
	return all, nil
}

// shopGauge is the shop's own gauge that the option names.
func (c *call) shopGauge() (domain.OwnGauge, error) {
	own, err := c.books.Gauges(c)
	if err != nil {
		return domain.OwnGauge{}, err
	}
	i, err := c.lookUp("gauge", "owngauge", namedIn(own, func(g *domain.OwnGauge) named { return named{Name: g.Name} }))
	if err != nil {
		return domain.OwnGauge{}, err
	}
	return own[i], nil
}

// ownGauge is the shop's own gauge of the name given, if there is one.
func (c *call) ownGauge(name string) (g domain.OwnGauge, ok bool, err error) {
	all, err := c.books.Gauges(c)
	for _, g := range all {
		if fold(g.Name) == fold(name) {
			return g, true, err
		}
	}
	return domain.OwnGauge{}, false, err
}

// aboutFact is a report, and what is known now of the machine that it is about.
func (c *call) aboutFact(no domain.FactNo) (domain.Fact, domain.Snapshot, error) {
	fact, err := c.books.Fact(c, no)
	if err != nil {
		return fact, domain.Snapshot{}, err
	}
	snap, err := c.books.Snapshot(c, fact.Machine)
	return fact, snap, err
}

// aboutA is aboutFact for a button that is about reports of one kind; about any other it
// is refused as none of this version's.
func aboutA[T domain.Body](c *call, no domain.FactNo) (fact domain.Fact, body T, snap domain.Snapshot, err error) {
	if fact, err = c.books.Fact(c, no); err != nil {
		return fact, body, snap, err
	}
	body, ok := fact.Body.(T)
	if !ok {
		return fact, body, snap, noSuchButton()
	}
	snap, err = c.books.Snapshot(c, fact.Machine)
	return fact, body, snap, err
}

// readingOf is the reading that a report holds, and what is known now of its machine.
func (c *call) readingOf(no domain.FactNo) (domain.Fact, domain.Reading, domain.Snapshot, error) {
	fact, err := c.books.Fact(c, no)
	if err != nil {
		return fact, domain.Reading{}, domain.Snapshot{}, err
	}
	reading, ok := fact.Body.(domain.Reading)
	if !ok {
		return fact, reading, domain.Snapshot{}, &domain.Refusal{Code: domain.NoSuchFact, Fact: no}
	}
	snap, err := c.books.Snapshot(c, fact.Machine)
	return fact, reading, snap, err
}

// reportNo reads a report's number as people write it: "12", "no. 12", "#12". Anything
// else is refused with the example.
func reportNo(typed, example string) (domain.FactNo, error) {
	no, err := strconv.ParseInt(strings.TrimLeft(strings.ToLower(typed), "no.# "), 10, 64)
	if err != nil || no < 1 {
		return 0, &userError{key: "report.number", data: words.D{"Given": words.User(typed)}, example: example}
	}
	return domain.FactNo(no), nil
}

// askOrRefuse turns what a parser could not read, or could read in two ways,
// into a question with a button for each way, or into a refusal with an example
// (the parser's own, if example is "").
func (c *call) askOrRefuse(err error, option string, positions []string, example string) (Reply, error) {
	var a *quantity.Ambiguity
	if errors.As(err, &a) {
		r := Reply{Headline: c.say("ask."+a.Code, words.D{"Given": words.User(a.Input)})}
		for _, o := range a.Options {
			r.Buttons = append(r.Buttons, c.again(o.Text, option, o.Text))
		}
		return r, nil
	}
	var refusal *quantity.Refusal
	if errors.As(err, &refusal) {
		if example == "" {
			example = refusal.Example
		}
		s := &userError{key: "quantity." + refusal.Code,
			data: words.D{"Given": words.User(refusal.Input), "Want": refusal.Want,
				"Positions": strings.Join(positions, ", "), "At": words.User(wordAt(refusal.Input, refusal.Offset))},
			example: c.exampleWith(option, example)}
		return Reply{}, s
	}
	return Reply{}, err
}

// wholeOption reads a whole number from least to most; usual if it is left out.
func (c *call) wholeOption(option string, usual, least, most int) (int, error) {
	text := c.options[option]
	if text == "" {
		return usual, nil
	}
	number, err := strconv.Atoi(strings.TrimSpace(text))
	if err != nil || number < least || number > most {
		return 0, &userError{key: "study.number", data: words.D{"Option": option, "Least": least, "Most": most,
			"Given": words.User(text)},
			example: c.exampleWith(option, strconv.Itoa(max(usual, least)))}
	}
	return number, nil
}
