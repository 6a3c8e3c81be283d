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
	m, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	steps, next := domain.SetUp(st)
	done := 0
	group := map[domain.StepState][]string{}
	for i, s := range steps {
		if s.State == domain.StepProved || s.State == domain.StepNear {
			done++
		}
		if next != nil && s == *next {
			continue
		}
		group[s.State] = append(group[s.State], strconv.Itoa(i+1)+" "+m.Profile.Check(s.Check).Name)
	}
	d := words.D{"Machine": words.User(m.Name), "Done": done, "All": len(steps)}
	if next == nil {
		r := Reply{Headline: c.say("setup.done", d)}
		if near := group[domain.StepNear]; len(near) > 0 {
			r.Lines = []string{c.say("setup.near", words.D{"Checks": strings.Join(near, ", ")})}
		}
		return r, nil
	}
	cs := st.Check(next.Check)
	k := cs.Check
	d["Check"] = k.Name
	r := Reply{Headline: c.say("setup.next", d), Lines: []string{c.say("setup."+string(next.State)+".next", words.D{"Check": capital(k.Name)})}}
	switch {
	case k.Isolated:
		r.Lines = append(r.Lines, c.say("caution.isolate", words.D{"Machine": words.User(m.Name)}))
	case k.Running:
		r.Lines = append(r.Lines, c.say("caution.running", nil))
	}
	how := "why.measured"
	values := `values:"` + c.exampleValues(m, k) + `"`
	if k.Inspection {
		how, values = "why.passes", "values:pass"
	}
	r.Lines = append(r.Lines, c.say(how, words.D{"How": k.Measured}))
	if next.State == domain.StepAdjust && st.Adjusting(next.Check).Plan != nil {
		r.Lines = append(r.Lines, c.say("setup.plan", words.D{"Example": slash("why", "machine", m.Name, "check", k.Name)}))
	}
	r.Lines = append(r.Lines, c.say("notice.done-with", words.D{"Example": slash(readingName, "machine", m.Name, "check", k.Name) + " " + values}))
	for _, state := range []domain.StepState{domain.StepRead, domain.StepAdjust, domain.StepAgain, domain.StepSecond, domain.StepNear, domain.StepProved} {
		if names := group[state]; len(names) > 0 {
			r.Lines = append(r.Lines, c.say("setup."+string(state), words.D{"Checks": strings.Join(names, ", ")}))
		}
	}
	return r, nil
}
