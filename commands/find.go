package commands

import (
	"maps"
	"slices"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/diagnosis"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// named is anything that people call by name.
type named struct{ id, name string }

// find looks a typed name up among what there is: by name or id without regard
// to case, then by the only name that begins so. When nothing fits, near holds
// the likeliest names, best first, at most three.
func find(typed string, among []named) (found int, near []string) {
	t := fold(typed)
	begins := -1
	for i, n := range among {
		id := n.id[strings.Index(n.id, ":")+1:] // an item's is "check:infeed"
		switch {
		case fold(n.name) == t, id != "" && fold(id) == t:
			return i, nil
		case t != "" && strings.HasPrefix(fold(n.name), t):
			if begins == -1 {
				begins = i
			} else {
				begins = -2
			}
		}
	}
	if begins >= 0 {
		return begins, nil
	}
	type scored struct {
		name string
		d    int
	}
	var s []scored
	for _, n := range among {
		name := fold(n.name)
		d := diagnosis.Slips(t, name)
		if id := n.id[strings.Index(n.id, ":")+1:]; id != "" {
			d = min(d, diagnosis.Slips(t, id))
		}
		if strings.Contains(name, t) && t != "" {
			d = min(d, 2)
		}
		if d <= max(2, len([]rune(t))/2) {
			s = append(s, scored{n.name, d})
		}
	}
	slices.SortStableFunc(s, func(a, b scored) int { return a.d - b.d })
	for _, x := range s[:min(3, len(s))] {
		near = append(near, x.name)
	}
	return -1, near
}

func fold(s string) string { return strings.ToLower(strings.TrimSpace(words.Clean(s))) }

// lookUp finds the thing that an option names, or refuses it and offers the
// nearest names as buttons that ask again. what is the message key of what was
// sought.
func (c *call) lookUp(option, what string, among []named) (int, error) {
	typed := c.options[option]
	i, near := find(typed, among)
	if i >= 0 {
		return i, nil
	}
	s := &userError{key: "unknown." + what, data: words.D{"Name": words.User(typed)}}
	if len(near) == 0 && len(among) > 0 {
		for _, n := range among[:min(len(among), 5)] {
			near = append(near, n.name)
		}
		s.key = "unlike." + what
	}
	switch {
	case len(among) == 0:
		s.key = "none." + what
		return -1, s
	case s.key == "unknown."+what:
		for _, n := range near {
			s.buttons = append(s.buttons, c.again(c.say("button.use", words.D{"Name": words.Clean(n)}), option, n))
		}
	}
	s.data["Near"] = words.Users(near)
	s.example = c.exampleWith(option, near[0])
	if option == "check" {
		// Values for one check are none for another; without them they are asked.
		s.example = c.exampleWith(option, near[0], "values")
	}
	return -1, s
}

// exampleWith is the command as it was given, with one option replaced, or left
// out where value is "", and others left out: an example that works.
func (c *call) exampleWith(option, value string, without ...string) string {
	given := c.options
	defer func() { c.options = given }()
	c.options = maps.Clone(given)
	c.options[option] = value
	return c.exampleWithout(without...)
}

// exampleWithout is the command as it was given, with some options left out.
func (c *call) exampleWithout(options ...string) string {
	cmd := c.desk.byName[c.name].Command
	if cmd == nil {
		return ""
	}
	var b strings.Builder
	b.WriteString("/" + cmd.Name)
	for _, o := range cmd.Options {
		v := c.options[o.Name]
		if v == "" || slices.Contains(options, o.Name) {
			continue
		}
		v = words.User(v)
		if strings.ContainsAny(v, " ,\"") {
			v = `"` + strings.ReplaceAll(v, `"`, `\"`) + `"`
		}
		b.WriteString(" " + o.Name + ":" + v)
	}
	return b.String()
}

// exampleOf is a command's first example, for a machine that this shop has.
func (c *call) exampleOf(cmd *Command) string { return c.here(cmd.Examples[0]) }

// demoMachine is the machine that the declarations' examples name.
const demoMachine = "machine:Marble"

// here is an example with the shop's first machine in the place of the demo
// shop's.
func (c *call) here(example string) string {
	if !strings.Contains(example, demoMachine) {
		return example
	}
	all, err := c.books.Machines(c)
	if err != nil || len(all) == 0 || machineNamed(all, "Marble") != nil {
		return example
	}
	return strings.ReplaceAll(example, demoMachine, "machine:"+quoted(all[0].Name))
}

// machine is the machine that the option "machine" names.
func (c *call) machine() (domain.Machine, error) { return c.machineOf("machine") }

// machineOf is the machine that an option names.
func (c *call) machineOf(option string) (domain.Machine, error) {
	all, err := c.books.Machines(c)
	if err != nil {
		return domain.Machine{}, err
	}
	among := make([]named, len(all))
	for i, m := range all {
		among[i] = named{"", m.Name}
	}
	i, err := c.lookUp(option, "machine", among)
	if err != nil {
		return domain.Machine{}, err
	}
	return all[i], nil
}

// status is the machine that the option "machine" names, and what is said of it
// now.
func (c *call) status() (domain.Machine, domain.Status, error) {
	m, err := c.machine()
	if err != nil {
		return m, domain.Status{}, err
	}
	snap, err := c.books.Snapshot(c, m.ID)
	if err != nil {
		return m, domain.Status{}, err
	}
	return m, domain.Assess(snap, c.now), nil
}

// serviceNamed is the machine and its service that the options name.
func (c *call) serviceNamed() (domain.Machine, *profile.Service, error) {
	m, err := c.machine()
	if err != nil {
		return m, nil, err
	}
	s, err := c.service(m.Profile)
	return m, s, err
}

// checkNamed is the machine and its check that the options name.
func (c *call) checkNamed() (domain.Machine, *profile.Check, error) {
	m, err := c.machine()
	if err != nil {
		return m, nil, err
	}
	k, err := c.check(m.Profile)
	return m, k, err
}

func (c *call) check(p *profile.Profile) (*profile.Check, error) {
	among := make([]named, len(p.Checks))
	for i, k := range p.Checks {
		among[i] = named{k.ID, k.Name}
	}
	i, err := c.lookUp("check", "check", among)
	if err != nil {
		return nil, err
	}
	return &p.Checks[i], nil
}

func (c *call) service(p *profile.Profile) (*profile.Service, error) {
	among := make([]named, len(p.Services))
	for i, s := range p.Services {
		among[i] = named{s.ID, s.Name}
	}
	i, err := c.lookUp("service", "service", among)
	if err != nil {
		return nil, err
	}
	return &p.Services[i], nil
}

// gauge is the gauge that a reading was taken with: one of the shop's own or of
// the profile's by name, or the check's own when none is named.
func (c *call) gauge(p *profile.Profile, k *profile.Check) (domain.GaugeUsed, error) {
	gauges, err := c.gauges(p, quantity.Base(k.Kind()).Step().Kind())
	if err != nil {
		return domain.GaugeUsed{}, err
	}
	if c.options["gauge"] == "" {
		assumed := p.Gauge(k.Gauge)
		for _, g := range gauges {
			if fold(g.Name) == fold(assumed.Name) {
				g.Assumed = true
				return g, nil
			}
		}
	}
	among := make([]named, len(gauges))
	for i, g := range gauges {
		among[i] = named{"", g.Name}
		for _, pg := range p.Gauges {
			if pg.Name == g.Name {
				among[i].id = pg.ID
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
func (c *call) gauges(p *profile.Profile, of quantity.Kind) ([]domain.GaugeUsed, error) {
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
	for _, g := range p.Gauges {
		if g.Of == of && !slices.ContainsFunc(own, func(o domain.OwnGauge) bool { return fold(o.Name) == fold(g.Name) }) {
			all = append(all, domain.FromProfile(g))
		}
	}
	return all, nil
}
