package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// whyService gives a service's due point with its inputs.
func (c *call) whyService(st domain.Status, id string) (Reply, error) {
	s := st.Service(id)
	if s == nil {
		return Reply{}, &userError{key: "why.noservice", example: "/due"}
	}
	from := s.From()
	r := Reply{Headline: c.dueLine(s.Service.Name, *s), Lines: []string{c.ruleLine(st.Machine.Profile, s.Service)}}
	d := words.D{"At": words.Time(from.At, words.DateTime), "No": from.Fact}
	key := "why.last"
	switch e := st.Machine.Profile.Event(s.Service.After); {
	case s.Last.Fact == 0 && from.Fact == 0:
		key = "why.never"
	case s.Last.Fact == 0:
		key, d["Event"] = "why.since", e.Name
	}
	r.Lines = append(r.Lines, c.say(key, d))
	if every := s.Rule.Hours; every.Valid() {
		r.Lines = append(r.Lines, c.say("why.hours", words.D{"Every": quantity.FormatDuration(every), "Since": quantity.FormatDuration(every.Sub(s.Due.Left)), "Left": signedHours(s.Due.Left)}))
		r.Lines = append(r.Lines, c.reportingLines(st)...)
	}
	if !s.Due.On.IsZero() {
		dated := s.Rule
		dated.Hours = quantity.Value{}
		how, _ := c.interval(dated)
		r.Lines = append(r.Lines, c.say("why.date", words.D{"How": how, "On": words.Time(s.Due.On, words.Date)}))
	}
	likely, err := c.whyLikely(st, *s)
	if err != nil {
		return Reply{}, err
	}
	r.Lines = append(r.Lines, likely...)
	for _, b := range s.Because {
		r.Lines = append(r.Lines, c.say("why.because", words.D{"Name": words.User(b.Name), "No": b.Fact, "At": words.Time(b.At, words.DateTime)}))
	}
	if s.TooEarly {
		r.Lines = append(r.Lines, c.say("service.early", nil))
	}
	source := c.say("why.source", words.D{"Source": s.Service.Source})
	if _, own := st.Machine.Setup.Intervals[domain.ServiceItem.Of(s.Service.ID)]; own {
		source = c.say("why.source.own", nil)
	}
	r.Lines = append(r.Lines, source)
	return r, nil
}
