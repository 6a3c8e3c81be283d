package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

var dueCommand = &Command{
	Name: "due", Who: Anyone, Quiet: true, Words: 600,
	Options:  []Option{{Name: "machine", Takes: Machine}, {Name: "calendar", Takes: OneOf, OneOf: []string{"yes"}}},
	Examples: []string{`/due`, `/due machine:Marble`, `/due calendar:yes`},
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

// dueLine says when a service falls due.
func (w *wording) dueLine(name string, s domain.ServiceStatus) string {
	switch {
	case len(s.Because) > 0 && s.Due.State == upkeep.DueNow && (!s.Due.Left.Valid() || s.Due.Left.Sign() > 0) && (s.Due.On.IsZero() || s.Due.On.After(s.Because[0].At)):
		return w.say("due.because", words.D{"Name": capital(name), "Because": words.User(s.Because[0].Name), "No": s.Because[0].Fact})
	case s.Rule.Recurs():
		return w.dueAt(name, s.Due)
	case len(s.Service.OnProblems)+len(s.Service.OnChecks) > 0:
		return w.say("due.needed", words.D{"Name": capital(name)})
	}
	return w.say("due.done", words.D{"Name": capital(name)})
}

// nextLine says when a service that has just been done falls due next.
func (w *wording) nextLine(m domain.Machine, s domain.ServiceStatus) string {
	d := words.D{}
	hours, day := s.Due.Left.Valid(), !s.Due.On.IsZero()
	if hours {
		d["Left"] = quantity.FormatDuration(s.Due.Left.Abs())
	}
	if day {
		d["On"] = words.Time(s.Due.On, words.Date)
	}
	switch {
	case !s.Rule.Recurs():
		if e := m.Profile.Event(s.Service.After); e != nil {
			return w.say("next.event", words.D{"Event": e.Name})
		}
		return w.say("due.done", words.D{"Name": capital(s.Service.Name)})
	case s.Due.State != upkeep.NotDue: // a later one stands, or it was typed late
		return w.dueLine(s.Service.Name, s)
	case hours && day:
		return w.say("next.both", d)
	case hours:
		return w.say("next.hours", d)
	}
	return w.say("next.date", d)
}

// dueAt says when something falls due.
func (w *wording) dueAt(name string, due upkeep.Due) string {
	d := words.D{"Name": capital(name)}
	key := "due."
	switch due.State {
	case upkeep.Late:
		key += "late"
	case upkeep.DueNow:
		key += "now"
	default:
		key += "later"
	}
	hours, day := due.Left.Valid(), !due.On.IsZero()
	if hours {
		d["Left"] = quantity.FormatDuration(due.Left.Abs())
	}
	if day {
		d["On"] = words.Time(due.On, words.Date)
	}
	over := due.State != upkeep.NotDue
	switch {
	case over && hours && due.Left.Sign() < 0:
		return w.say(key+".over", d)
	case over:
		return w.say(key, d)
	case hours && day:
		return w.say(key+".both", d)
	case hours:
		return w.say(key+".hours", d)
	}
	return w.say(key+".date", d)
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

// dueWith adds to a service's line what it needs.
func dueWith(line string, s *profile.Service) string {
	if s.Material == "" {
		return line
	}
	return line + " " + capital(s.Material) + "."
}
