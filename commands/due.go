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

// runDue lists what is due, then what is not yet, on one machine or all.
func runDue(c *call) (Reply, error) {
	machines, err := c.books.Machines(c)
	if err == nil && c.options["machine"] != "" {
		machines = make([]domain.Machine, 1)
		machines[0], err = c.machine()
	}
	if err != nil {
		return Reply{}, err
	}
	if len(machines) == 0 {
		return Reply{Headline: c.say("none.machine", nil)}, nil
	}
	// What is due on each, and what is not yet.
	snaps, all, err := c.assess(machines)
	if err != nil {
		return Reply{}, err
	}
	if err := c.learnUsages(all); err != nil {
		return Reply{}, err
	}
	var now, later []string
	for i, st := range all {
		due, notYet, err := c.dueOn(snaps[i], st)
		if err != nil {
			return Reply{}, err
		}
		prefix := ""
		if len(machines) > 1 {
			prefix = words.User(st.Machine.Name) + ": "
		}
		for _, line := range due {
			now = append(now, prefix+line)
		}
		for _, line := range notYet {
			later = append(later, prefix+line)
		}
	}
	// What is due first, and all of it as a calendar file where that is wanted.
	reply := Reply{Headline: c.say("due.headline", words.D{"N": len(now)}), Lines: append(now, later...)}
	if len(now) == 0 {
		reply.Headline = c.say("due.nothing", nil)
	}
	if c.options["calendar"] == "yes" {
		visits, err := c.plannedVisits()
		if err != nil {
			return Reply{}, err
		}
		reply.File = c.calendarFile(all, visits)
		reply.Lines = append(reply.Lines, c.say("due.calendar", words.D{"File": reply.File.Name}))
	}
	return reply, nil
}

// dueOn lists what is due on a machine, and what is not yet.
func (c *call) dueOn(snap domain.Snapshot, st domain.Status) (now, later []string, err error) {
	put := func(line string, state upkeep.State) {
		if state == upkeep.NotDue {
			later = append(later, line)
		} else {
			now = append(now, line)
		}
	}
	if st.SettingUp {
		return nil, []string{c.notInService(st) + " " + c.say("due.setting-up", nil)}, nil
	}
	// Services, with when they will probably fall due; checks by the calendar.
	for _, due := range st.Services {
		likely, err := c.likely(st, due)
		if err != nil {
			return nil, nil, err
		}
		put(dueWith(c.dueLine(due.Service.Name, due)+likely, due.Service)+c.standing(due), due.Due.State)
	}
	for _, k := range st.RecurringChecks() {
		put(c.dueAt(k.Check.Name, k.Due), k.Due.State)
	}
	// What has to be read again since something moved.
	for _, k := range st.MovedChecks() {
		now = append(now, c.say("due.moved", words.D{"Name": capital(k.Check.Name)}))
	}
	for _, g := range st.StaleGroups() {
		now = append(now, c.say("due.stale", words.D{"Names": capital(strings.Join(domain.CheckNames(g.Checks), ", ")),
			"From": st.Machine.Profile.Check(g.From).Name}))
	}
	// What probably drifts out of its limits, and what was never read.
	leaves, err := c.leaves(snap, st)
	if err != nil {
		return nil, nil, err
	}
	for _, l := range leaves {
		later = append(later, c.leaveLine(st.Machine, l))
	}
	later = append(later, c.firstLines(st)...)
	if unread := domain.CheckNames(st.UnreadChecks()); len(unread) > 0 {
		later = append(later, c.say("due.unread", words.D{"Names": strings.Join(unread, ", ")}))
	}
	return now, later, nil
}

// dueLine says when a service falls due.
func (w *wording) dueLine(name string, service domain.ServiceStatus) string {
	switch {
	case len(service.Because) > 0 && service.Due.State == upkeep.DueNow &&
		(!service.Due.Left.Valid() || service.Due.Left.Sign() > 0) &&
		(service.Due.On.IsZero() || service.Due.On.After(service.Because[0].At)):
		return w.say("due.because", words.D{"Name": capital(name), "Because": words.User(service.Because[0].Name),
			"No": service.Because[0].Fact})
	case service.Rule.Recurs():
		return w.dueAt(name, service.Due)
	case len(service.Service.OnProblems)+len(service.Service.OnChecks) > 0:
		return w.say("due.needed", words.D{"Name": capital(name)})
	}
	return w.say("due.done", words.D{"Name": capital(name)})
}

// nextLine says when a service that has just been done falls due next.
func (w *wording) nextLine(machine domain.Machine, service domain.ServiceStatus) string {
	data := words.D{}
	hours, day := service.Due.Left.Valid(), !service.Due.On.IsZero()
	if hours {
		data["Left"] = quantity.FormatDuration(service.Due.Left.Abs())
	}
	if day {
		data["On"] = words.Time(service.Due.On, words.Date)
	}
	switch {
	case !service.Rule.Recurs():
		if e := machine.Profile.Event(service.Service.After); e != nil {
			return w.say("next.event", words.D{"Event": e.Name})
		}
		return w.say("due.done", words.D{"Name": capital(service.Service.Name)})
	case service.Due.State != upkeep.NotDue: // a later one stands, or it was typed late
		return w.dueLine(service.Service.Name, service)
	case hours && day:
		return w.say("next.both", data)
	case hours:
		return w.say("next.hours", data)
	}
	return w.say("next.date", data)
}

// dueAt says when something falls due.
func (w *wording) dueAt(name string, due upkeep.Due) string {
	data := words.D{"Name": capital(name)}
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
		data["Left"] = quantity.FormatDuration(due.Left.Abs())
	}
	if day {
		data["On"] = words.Time(due.On, words.Date)
	}
	over := due.State != upkeep.NotDue
	switch {
	case over && hours && due.Left.Sign() < 0:
		return w.say(key+".over", data)
	case over:
		return w.say(key, data)
	case hours && day:
		return w.say(key+".both", data)
	case hours:
		return w.say(key+".hours", data)
	}
	return w.say(key+".date", data)
}

// standing says that a service is put off, or who will do it; "" for neither.
func (w *wording) standing(service domain.ServiceStatus) string {
	text := ""
	if service.PutOff != nil {
		text += " (" + w.say("due.put-off", words.D{"Until": words.Time(service.PutOff.Until, words.Date),
			"Why": words.User(service.PutOff.Why)}) + ")"
	}
	if service.Taken != nil {
		text += " (" + w.say("due.taken", words.D{"By": words.Person(string(service.Taken.By))}) + ")"
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
