package commands

import (
	"strings"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/upkeep"
)

var readyCommand = &Command{
	Name: "ready", Who: Anyone, Quiet: true, Words: 480,
	Options:  []Option{{Name: "before", Takes: Text, Required: true, Max: 40}},
	Examples: []string{`/ready before:saturday`},
}

// runReady says of each machine whether it will be fit for use before a day, and
// what to do first if not.
func runReady(c *call) (Reply, error) {
	until, err := upkeep.ParseUntil(c.options["before"], c.shop.Clocks(c.now))
	if err != nil {
		return Reply{}, c.noTime(err, "before", "ready.when")
	}
	machines, err := c.books.Machines(c)
	if err != nil {
		return Reply{}, err
	}
	if len(machines) == 0 {
		return Reply{Headline: c.say("none.machine", nil)}, nil
	}
	reply := Reply{Headline: c.say("ready.headline", words.D{"Before": words.Time(until, words.Date)})}
	for _, m := range machines {
		snap, err := c.books.Snapshot(c, m.ID)
		if err != nil {
			return Reply{}, err
		}
		now := domain.Assess(snap, c.now)
		maybe, err := c.maybeBy(now, until)
		if err != nil {
			return Reply{}, err
		}
		reply.Lines = append(reply.Lines, c.readyLine(now, domain.Assess(snap, until.Add(-time.Second)))+maybe)
	}
	return reply, nil
}

// maybeBy names the services that fall due by use before a day more likely than
// not, with how likely; "" for none.
func (c *call) maybeBy(st domain.Status, until time.Time) (string, error) {
	if st.TaggedOut() || st.Handover != nil {
		return "", nil
	}
	var parts []string
	for _, service := range st.ServicesByUse() {
		if service.Due.State != upkeep.NotDue {
			continue
		}
		u, err := c.usage(st)
		if err != nil {
			return "", err
		}
		if p := u.Before(service.Due.Left, until); p >= 0.5 {
			parts = append(parts, c.say("ready.chance", words.D{"Name": service.Service.Name, "Chance": percent(p)}))
		}
	}
	if len(parts) == 0 {
		return "", nil
	}
	return " " + c.say("ready.maybe", words.D{"What": strings.Join(parts, ", ")}), nil
}

// readyLine says whether a machine that stands so now, and will by time alone
// then, will be fit.
func (w *wording) readyLine(now, then domain.Status) string {
	data := words.D{"Machine": words.User(now.Machine.Name), "What": ""}
	no := func(what string) string {
		data["What"] = what
		return w.say("ready.no", data)
	}
	// What stops it now.
	switch {
	case now.Handover != nil:
		return no(words.User(now.Handover.Next))
	case now.TaggedOut():
		if lines := w.blockerLines(now.Blockers); len(lines) > 0 {
			return no(lines[0])
		}
		return no(w.say("ready.release", nil))
	case len(now.Lacks()) > 0:
		return no(w.needLines(now)[0])
	case len(now.Unanswered()) > 0:
		return no(w.say("ready.unanswered", words.D{"No": now.Unanswered()[0].Fact}))
	}
	steps, _ := domain.SetUp(now)
	for _, step := range steps {
		cs := now.Check(step.Check)
		if step.State == domain.StepProved || step.State == domain.StepNear || cs.Waits() {
			continue
		}
		if cs.Due.State == upkeep.NotDue {
			return no(w.say("ready.check", words.D{"Check": capital(cs.Check.Name)}))
		}
		break
	}
	// What will be due by then.
	var todo []string
	for _, s := range then.DueServices() {
		if s.PutOff == nil {
			todo = append(todo, s.Service.Name)
		}
	}
	todo = append(todo, domain.CheckNames(then.DueChecks())...)
	if now.Unproved {
		data["What"] = strings.Join(todo, ", ")
		return w.say("ready.unproved", data)
	}
	if len(todo) > 0 {
		data["What"] = strings.Join(todo, ", ")
		return w.say("ready.do", data)
	}
	return w.say("ready.yes", data)
}
