package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/upkeep"
)

var serviceCommand = &Command{
	Name: "service", Who: Anyone, Quiet: true, Words: 25, MostWords: 60,
	Options:  []Option{machineOption, {Name: "service", Takes: Service, Required: true}, noteOption, whenOption, forOption},
	Examples: []string{`/service machine:Marble service:bushings`, `/service machine:Marble service:bushings when:"yesterday 18:00" note:"two drops each"`},
}

var dueCommand = &Command{
	Name: "due", Who: Anyone, Quiet: true, Words: 600,
	Options:  []Option{{Name: "machine", Takes: Machine}, {Name: "calendar", Takes: OneOf, OneOf: []string{"yes"}}},
	Examples: []string{`/due`, `/due machine:Marble`, `/due calendar:yes`},
}

func runService(c *call) (Reply, error) {
	m, s, err := c.serviceNamed()
	if err != nil {
		return Reply{}, err
	}
	o, err := c.report(m, domain.ServiceDone{Service: s.ID, Surfaces: s.Surfaces, Note: words.Clean(c.options["note"])})
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.say("service.recorded", words.D{"Machine": words.User(m.Name), "Service": s.Name, "No": o.Fact.No})}
	if st := o.After.Service(s.ID); st != nil {
		if st.Last.Fact != o.Fact.No {
			r.Lines = append(r.Lines, c.say("service.older", words.D{"At": words.Time(st.From().At, words.DateTime)}))
		}
		if st.TooEarly {
			r.Lines = append(r.Lines, c.say("service.early", nil))
		}
		r.Lines = append(r.Lines, c.nextLine(m, *st))
	}
	r.Lines = append(r.Lines, c.after(m, s.Surfaces)...)
	low, err := c.shelfLines(s.Material, true)
	if err != nil {
		return Reply{}, err
	}
	r.Lines = append(r.Lines, low...)
	if o.After.TaggedOut() {
		r.Lines = append(r.Lines, c.outOfService(m))
	}
	return r, nil
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
	snaps, all, err := c.assess(machines)
	if err != nil {
		return Reply{}, err
	}
	if err := c.learnUsages(all); err != nil {
		return Reply{}, err
	}
	for i, st := range all {
		m := st.Machine
		prefix := ""
		if len(machines) > 1 {
			prefix = words.User(m.Name) + ": "
		}
		put := func(line string, s upkeep.State) {
			if s == upkeep.NotDue {
				later = append(later, prefix+line)
			} else {
				now = append(now, prefix+line)
			}
		}
		for _, s := range st.Services {
			likely, err := c.likely(st, s)
			if err != nil {
				return Reply{}, err
			}
			put(dueWith(c.dueLine(s.Service.Name, s)+likely, s.Service)+c.standing(s), s.Due.State)
		}
		for _, k := range st.Checks {
			if k.Check.Every != nil {
				put(c.dueAt(k.Check.Name, k.Due), k.Due.State)
			}
		}
		var unread, moved []string
		again := map[string][]string{} // by what moved
		for _, k := range st.Checks {
			switch {
			case k.Freshness == domain.Unread:
				unread = append(unread, k.Check.Name)
			case k.Freshness == domain.Fresh:
			case k.StaleFrom == k.Check.ID:
				now = append(now, prefix+c.say("due.moved", words.D{"Name": capital(k.Check.Name)}))
			default:
				if again[k.StaleFrom] == nil {
					moved = append(moved, k.StaleFrom)
				}
				again[k.StaleFrom] = append(again[k.StaleFrom], k.Check.Name)
			}
		}
		for _, from := range moved {
			now = append(now, prefix+c.say("due.stale", words.D{"Names": capital(strings.Join(again[from], ", ")), "From": m.Profile.Check(from).Name}))
		}
		leaves, err := c.leaves(snaps[i], st)
		if err != nil {
			return Reply{}, err
		}
		for _, l := range leaves {
			later = append(later, prefix+c.leaveLine(m, l))
		}
		if len(unread) > 0 {
			later = append(later, prefix+c.say("due.unread", words.D{"Names": strings.Join(unread, ", ")}))
		}
	}
	r := Reply{Headline: c.say("due.headline", words.D{"N": len(now)}), Lines: append(now, later...)}
	if len(now) == 0 {
		r.Headline = c.say("due.nothing", nil)
	}
	if c.options["calendar"] == "yes" {
		visits, err := c.plannedVisits()
		if err != nil {
			return Reply{}, err
		}
		r.File = c.calendarFile(all, visits)
		r.Lines = append(r.Lines, c.say("due.calendar", words.D{"File": r.File.Name}))
	}
	return r, nil
}

// standing says that a service is put off, or who will do it; "" for neither.
func (w *wording) standing(s domain.ServiceStatus) string {
	text := ""
	if s.PutOff != nil {
		text += " (" + w.say("due.put-off", words.D{"Until": words.Time(s.PutOff.Until, words.Date), "Why": words.User(s.PutOff.Why)}) + ")"
	}
	if s.Taken != nil {
		text += " (" + w.say("due.taken", words.D{"By": words.Person(string(s.Taken.By))}) + ")"
	}
	return text
}
