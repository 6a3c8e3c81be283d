package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var serviceCommand = &Command{
	Name: serviceName, Who: Anyone, Quiet: true, Words: 25, MostWords: 90,
	Options: []Option{machineOption, {Name: "service", Takes: Service, Required: true}, noteOption, whenOption,
		forOption},
	Examples: []string{`/service machine:Marble service:bushings`,
		`/service machine:Marble service:bushings when:"yesterday 18:00" note:"two drops each"`},
}

// runService records that a service was done, and says when it falls due next.
func runService(c *call) (Reply, error) {
	machine, service, err := c.serviceNamed()
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.report(machine, domain.ServiceDone{Service: service.ID, Surfaces: service.Surfaces,
		Note: words.Clean(c.options["note"])})
	if err != nil {
		return Reply{}, err
	}
	// Whether it counts, and when it falls due next.
	reply := Reply{Headline: c.say("service.recorded",
		words.D{"Machine": words.User(machine.Name), "Service": service.Name, "No": outcome.Fact.No})}
	if st := outcome.After.Service(service.ID); st != nil {
		if st.Last.Fact != outcome.Fact.No {
			reply.Lines = append(reply.Lines,
				c.say("service.older", words.D{"At": words.Time(st.From().At, words.DateTime)}))
		}
		if st.TooEarly {
			reply.Lines = append(reply.Lines, c.say("service.early", nil))
		}
		reply.Lines = append(reply.Lines, c.nextLine(machine, *st))
	}
	// What has to be read again, bought, and seen to before it runs.
	reply.Lines = append(reply.Lines, c.readAgain(machine, service.Surfaces)...)
	low, err := c.shelfLines(service.Material, true)
	if err != nil {
		return Reply{}, err
	}
	reply.Lines = append(reply.Lines, low...)
	if outcome.After.TaggedOut() {
		reply.Lines = append(reply.Lines, c.notInService(outcome.After))
	}
	return c.hearNote(reply)
}
