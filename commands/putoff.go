package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/upkeep"
)

var putoffCommand = &Command{
	Name: "putoff", Who: Steward, Quiet: true, Words: 40,
	Options: []Option{machineOption, {Name: "service", Takes: Service, Required: true},
		{Name: "until", Takes: Text, Required: true, Max: 40}, {Name: "why", Takes: Text, Required: true, Max: 200}},
	Examples: []string{`/putoff machine:Marble service:dust until:"in 3 days" why:"the bag comes on Thursday"`},
}

var mineCommand = &Command{
	Name: "mine", Who: Anyone, Quiet: true, Words: 30,
	Options:  []Option{machineOption, {Name: "service", Takes: Service, Required: true}},
	Examples: []string{`/mine machine:Marble service:bushings`},
}

// runPutoff puts a service off: nothing is said of it until then.
func runPutoff(c *call) (Reply, error) {
	machine, service, err := c.serviceNamed()
	if err != nil {
		return Reply{}, err
	}
	until, err := upkeep.ParseUntil(c.options["until"], c.shop.Clocks(c.now))
	if err != nil {
		return Reply{}, c.noTime(err, "until", "putoff.until")
	}
	outcome, err := c.report(machine, domain.PutOff{Service: service.ID, Until: until,
		Why: words.Clean(c.options["why"])})
	if err != nil {
		return Reply{}, err
	}
	return Reply{Headline: c.say("putoff.done", words.D{"Machine": words.User(machine.Name), "Service": service.Name,
		"Until": words.Time(until, words.Date), "No": outcome.Fact.No})}, nil
}

// runMine says who will do a service.
func runMine(c *call) (Reply, error) {
	machine, service, err := c.serviceNamed()
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.report(machine, domain.Taken{Service: service.ID})
	if err != nil {
		return Reply{}, err
	}
	reply := Reply{Headline: c.say("mine.done", words.D{"Machine": words.User(machine.Name), "Service": service.Name,
		"No": outcome.Fact.No})}
	if service.Isolated {
		reply.Lines = []string{c.say("caution.isolate", words.D{"Machine": words.User(machine.Name)})}
	}
	return reply, nil
}
