package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var serviceCommand = &Command{
	Name: serviceName, Who: Anyone, Quiet: true, Words: 25, MostWords: 60,
	Options:  []Option{machineOption, {Name: "service", Takes: Service, Required: true}, noteOption, whenOption, forOption},
	Examples: []string{`/service machine:Marble service:bushings`, `/service machine:Marble service:bushings when:"yesterday 18:00" note:"two drops each"`},
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
	r.Lines = append(r.Lines, c.readAgain(m, s.Surfaces)...)
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
