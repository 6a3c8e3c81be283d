package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// whyService gives a service's due point with its inputs.
func (c *call) whyService(st domain.Status, id string) (Reply, error) {
	service := st.Service(id)
	if service == nil {
		return Reply{}, &userError{key: "why.noservice", example: "/due"}
	}
	from := service.From()
	reply := Reply{Headline: c.dueLine(service.Service.Name, *service),
		Lines: []string{c.ruleLine(st.Machine.Profile, service.Service)}}
	// What it is counted from.
	data := words.D{"At": words.Time(from.At, words.DateTime), "No": from.Fact}
	key := "why.last"
	switch e := st.Machine.Profile.Event(service.Service.After); {
	case service.Last.Fact == 0 && from.Fact == 0:
		key = "why.never"
	case service.Last.Fact == 0:
		key, data["Event"] = "why.since", e.Name
	}
	reply.Lines = append(reply.Lines, c.say(key, data))
	// By use, by the calendar, by forecast, and by what asked for it.
	if every := service.Rule.Hours; every.Valid() {
		reply.Lines = append(reply.Lines,
			c.say("why.hours", words.D{"Every": quantity.FormatDuration(every),
				"Since": quantity.FormatDuration(every.Sub(service.Due.Left)), "Left": signedHours(service.Due.Left)}))
		reply.Lines = append(reply.Lines, c.reportingLines(st)...)
	}
	if service.Spread {
		reply.Lines = append(reply.Lines, c.say("why.first", words.D{"On": words.Time(service.Due.On, words.Date)}))
	} else if !service.Due.On.IsZero() {
		dated := service.Rule
		dated.Hours = quantity.Value{}
		how, _ := c.interval(dated)
		reply.Lines = append(reply.Lines,
			c.say("why.date", words.D{"How": how, "On": words.Time(service.Due.On, words.Date)}))
	}
	likely, err := c.whyLikely(st, *service)
	if err != nil {
		return Reply{}, err
	}
	reply.Lines = append(reply.Lines, likely...)
	for _, b := range service.Because {
		reply.Lines = append(reply.Lines,
			c.say("why.because", words.D{"Name": words.User(b.Name), "No": b.Fact,
				"At": words.Time(b.At, words.DateTime)}))
	}
	if service.TooEarly {
		reply.Lines = append(reply.Lines, c.say("service.early", nil))
	}
	// Where the interval comes from.
	source := c.say("why.source", words.D{"Source": service.Service.Source})
	if _, own := st.Machine.Setup.Intervals[domain.ServiceItem.Of(service.Service.ID)]; own {
		source = c.say("why.source.own", nil)
	}
	reply.Lines = append(reply.Lines, source)
	return reply, nil
}
