package commands

import (
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
)

var setupCommand = &Command{
	Name: "setup", Who: Anyone, Quiet: true, Words: 190,
	Options:  []Option{machineOption},
	Examples: []string{`/setup machine:Marble`},
}

// runSetup lists the whole set-up of a machine in order, and says what comes
// next.
func runSetup(c *call) (Reply, error) {
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	// How far it is: the steps by their states, but for the next.
	steps, next := domain.SetUp(st)
	done := 0
	group := map[domain.StepState][]string{}
	for i, step := range steps {
		if step.State == domain.StepProved || step.State == domain.StepNear {
			done++
		}
		if next != nil && step == *next {
			continue
		}
		group[step.State] = append(group[step.State], strconv.Itoa(i+1)+" "+machine.Profile.Check(step.Check).Name)
	}
	data := words.D{"Machine": words.User(machine.Name), "Done": done, "All": len(steps)}
	// Nothing is left to do.
	if next == nil {
		r := Reply{Headline: c.say("setup.done", data)}
		if near := group[domain.StepNear]; len(near) > 0 {
			r.Lines = []string{c.say("setup.near", words.D{"Checks": strings.Join(near, ", ")})}
		}
		return r, nil
	}
	// The next step: cautions, how, and the command that reports it.
	cs := st.Check(next.Check)
	check := cs.Check
	data["Check"] = check.Name
	reply := Reply{Headline: c.say("setup.next", data),
		Lines: []string{c.say("setup."+string(next.State)+".next", words.D{"Check": capital(check.Name)})}}
	switch {
	case check.Isolated:
		reply.Lines = append(reply.Lines, c.say("caution.isolate", words.D{"Machine": words.User(machine.Name)}))
	case check.Running:
		reply.Lines = append(reply.Lines, c.say("caution.running", nil))
	}
	how := "why.measured"
	values := `values:"` + c.exampleValues(machine, check) + `"`
	if check.Inspection {
		how, values = "why.passes", "values:pass"
	}
	reply.Lines = append(reply.Lines, c.say(how, words.D{"How": check.Measured}))
	if next.State == domain.StepAdjust && st.Adjusting(next.Check).Plan != nil {
		reply.Lines = append(reply.Lines,
			c.say("setup.plan", words.D{"Example": slash("why", "machine", machine.Name, "check", check.Name)}))
	}
	reply.Lines = append(reply.Lines,
		c.say("notice.done-with",
			words.D{"Example": slash(readingName, "machine", machine.Name, "check", check.Name) + " " + values}))
	// The other steps.
	for _, state := range []domain.StepState{domain.StepRead, domain.StepAdjust, domain.StepAgain, domain.StepSecond,
		domain.StepNear, domain.StepProved} {
		if names := group[state]; len(names) > 0 {
			reply.Lines = append(reply.Lines,
				c.say("setup."+string(state), words.D{"Checks": strings.Join(names, ", ")}))
		}
	}
	return reply, nil
}
