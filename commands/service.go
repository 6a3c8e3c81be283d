package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/upkeep"
)

var serviceCommand = &Command{
	Name: "service", Who: Anyone, Quiet: true,
	Options:  []Option{machineOption, {Name: "service", Takes: Service, Required: true}, noteOption, whenOption, forOption},
	Examples: []string{`/service machine:Marble service:bushings`, `/service machine:Marble service:bushings when:"yesterday 18:00" note:"two drops each"`},
}

var dueCommand = &Command{
	Name: "due", Who: Anyone, Quiet: true,
	Options:  []Option{{Name: "machine", Takes: Machine}},
	Examples: []string{`/due`, `/due machine:Marble`},
}

func init() {
	serviceCommand.handle = runService
	dueCommand.handle = runDue
}

func runService(c *call) (Reply, error) {
	m, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	s, err := c.service(m.Profile)
	if err != nil {
		return Reply{}, err
	}
	o, err := c.report(m, domain.ServiceDone{Service: s.ID, Moves: s.Moves, Note: words.Clean(c.options["note"])})
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.say("service.recorded", words.D{"Machine": words.User(m.Name), "Service": s.Name, "No": o.Fact.No})}
	if st := o.After.Service(s.ID); st != nil {
		if st.Last.Fact != o.Fact.No {
			r.Lines = append(r.Lines, c.say("service.older", words.D{"At": words.Time(st.Last.At, words.DateTime)}))
		}
		r.Lines = append(r.Lines, c.dueLine(s.Name, st.Due))
	}
	if stale := movedNames(m, s.Moves); stale != "" {
		r.Lines = append(r.Lines, c.say("service.stale", words.D{"Checks": stale}))
	}
	if o.After.TaggedOut() {
		r.Lines = append(r.Lines, c.outOfService(m))
	}
	return r, nil
}

// movedNames lists the checks to be read again after their surfaces moved, with
// those measured from them.
func movedNames(m domain.Machine, moves []string) string {
	var names []string
	seen := map[string]bool{}
	for _, id := range moves {
		for _, d := range append([]string{id}, m.Profile.Dependents(id)...) {
			if k := m.Profile.Check(d); k != nil && !seen[d] {
				seen[d] = true
				names = append(names, k.Name)
			}
		}
	}
	return strings.Join(names, ", ")
}

func runDue(c *call) (Reply, error) {
	var machines []domain.Machine
	if c.options["machine"] != "" {
		m, err := c.machine()
		if err != nil {
			return Reply{}, err
		}
		machines = []domain.Machine{m}
	} else {
		all, err := c.books.Machines(c)
		if err != nil {
			return Reply{}, err
		}
		machines = all
	}
	if len(machines) == 0 {
		return Reply{Headline: c.say("none.machine", nil)}, nil
	}
	var now, later []string
	for _, m := range machines {
		snap, err := c.books.Snapshot(c, m.ID)
		if err != nil {
			return Reply{}, err
		}
		st := domain.Assess(snap, c.now)
		prefix := ""
		if len(machines) > 1 {
			prefix = words.User(m.Name) + ": "
		}
		put := func(name string, d upkeep.Due) {
			line := prefix + c.dueLine(name, d)
			if d.State == upkeep.NotDue {
				later = append(later, line)
			} else {
				now = append(now, line)
			}
		}
		for _, s := range st.Services {
			put(s.Service.Name, s.Due)
		}
		for _, k := range st.Checks {
			if k.Check.Every != nil {
				put(k.Check.Name, k.Due)
			}
		}
		for _, k := range st.Checks {
			switch k.Freshness {
			case domain.Unread:
				later = append(later, prefix+c.say("due.unread", words.D{"Name": capital(k.Check.Name)}))
			case domain.Stale:
				if k.StaleFrom == k.Check.ID {
					now = append(now, prefix+c.say("due.moved", words.D{"Name": capital(k.Check.Name)}))
					break
				}
				now = append(now, prefix+c.say("due.stale", words.D{"Name": capital(k.Check.Name), "From": m.Profile.Check(k.StaleFrom).Name}))
			}
		}
	}
	r := Reply{Headline: c.say("due.headline", words.D{"N": len(now)}), Lines: append(now, later...)}
	if len(now) == 0 {
		r.Headline = c.say("due.nothing", nil)
	}
	return r, nil
}
