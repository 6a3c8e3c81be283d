package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// Render puts a notice into words, as they are to stand in the channel.
func (d *Desk) Render(shop domain.Shop, n domain.Notice) Message {
	a := n.Args
	w := &wording{speaker: d.cat.In(), shop: shop, now: a.At}
	data := words.D{"Machine": words.User(a.Machine), "Name": words.User(a.Name), "No": a.Fact, "Typed": words.User(a.Typed)}
	m := Message{}
	var lines []string
	switch n.Topic {
	case domain.TopicTagOut:
		m.Mention = !a.Lifted && n.Op == domain.Post
		m.Headline = w.say("tag.headline", data)
		if a.Lifted {
			m.Headline = w.say("notice.lifted", data)
		}
		if !a.Lifted {
			lines = append(lines, w.say("tag.isolates-nothing", nil)) // first, lest a long list push it out
			if a.By != "" {
				lines = append(lines, w.say("notice.test", words.D{"Machine": data["Machine"], "By": words.Person(string(a.By))}))
			}
		}
		if len(a.Others) > 0 && !a.Lifted {
			lines = append(lines, w.say("notice.others", words.D{"Machine": data["Machine"], "Others": words.Users(a.Others)}))
		}
		for _, t := range a.Tags {
			lines = append(lines, "- "+w.tagLine(t))
		}
		if a.Lifted {
			break
		}
		if len(a.Needs) == 0 {
			lines = append(lines, w.say("notice.release", data))
			break
		}
		lines = append(lines, w.say("notice.release.needs", data))
		for _, line := range w.blockerLines(a.Needs) {
			lines = append(lines, "- "+line)
		}
	case domain.TopicBack:
		m.Headline = w.say("notice.back", data)
		lines = append(lines, w.say("notice.back.guards", nil))
		if len(a.Others) > 0 {
			lines = append(lines, w.say("notice.others.back", words.D{"Machine": data["Machine"], "Others": words.Users(a.Others)}))
		}
	case domain.TopicTest:
		m.Headline = w.say("notice.test", words.D{"Machine": data["Machine"], "By": words.Person(string(a.By))})
		lines = append(lines, w.say("notice.test.clear", nil))
	case domain.TopicTestEnded:
		m.Headline = w.say("notice.test.ended", data)
	case domain.TopicProblem:
		m.Mention = true
		data["N"] = a.Reports
		m.Headline = w.say("notice.problem", data)
		if a.Back != 0 {
			lines = append(lines, w.say("notice.problem-back", words.D{"No": a.Back}))
		}
		if a.Note != "" {
			lines = append(lines, words.User(a.Note))
		}
		if a.Photo != nil {
			lines = append(lines, w.say("notice.photo", words.D{"Name": words.Link(a.Photo.URL, a.Photo.Name)}))
		}
		if a.Causes {
			lines = append(lines, w.say("notice.causes", words.D{"Example": "/cause machine:" + quoted(a.Machine) + " problem:" + quoted(a.Name)}))
		}
		lines = append(lines, w.say("notice.mended-with", words.D{"Example": "/mended machine:" + quoted(a.Machine) + " problem:" + quoted(a.Name)}))
	case domain.TopicMended:
		m.Headline = w.say("notice.mended", data)
		if a.Cause != "" {
			lines = append(lines, w.say("notice.cause", words.D{"Cause": a.Cause}))
		}
	case domain.TopicTold:
		m.People = a.People[:min(len(a.People), mostTold)]
		who := make([]string, len(m.People))
		for i, p := range m.People {
			who[i] = words.Person(string(p))
		}
		data["People"] = strings.Join(who, ", ")
		m.Headline = w.say("notice.told", data)
		if a.Cause != "" {
			lines = append(lines, w.say("notice.cause", words.D{"Cause": a.Cause}))
		}
		if a.Note != "" {
			lines = append(lines, words.User(a.Note))
		}
	case domain.TopicDue:
		m.Mention = a.Call && n.Op == domain.Post
		key := "notice.due"
		switch {
		case a.Late && a.Check:
			key = "notice.check.late"
		case a.Late:
			key = "notice.late"
		case a.Check:
			key = "notice.check.due"
		}
		m.Headline = w.say(key, data)
		if a.Left.Valid() && a.Left.Sign() < 0 {
			lines = append(lines, w.say("notice.over", words.D{"Left": quantity.FormatDuration(a.Left.Abs())}))
		}
		example := "/service machine:" + quoted(a.Machine) + " service:" + quoted(a.Name)
		if a.Check {
			example = "/reading machine:" + quoted(a.Machine) + " check:" + quoted(a.Name) + " values:pass"
		}
		if a.Taken != "" {
			lines = append(lines, w.say("notice.taken", words.D{"By": words.Person(string(a.Taken))}))
		}
		switch {
		case a.Hands:
			lines = append(lines, w.say("caution.isolate", data))
		case a.Running:
			lines = append(lines, w.say("caution.running", nil))
		}
		lines = append(lines, w.say("notice.how", words.D{"Example": "/how machine:" + quoted(a.Machine) + " what:" + quoted(a.Name)}), w.say("notice.done-with", words.D{"Example": example}))
	case domain.TopicNotDue:
		m.Headline = w.say("notice.not-due", data)
	case domain.TopicPutOff:
		m.Headline = w.say("notice.put-off", words.D{"Machine": data["Machine"], "Name": data["Name"], "By": words.Person(string(a.By)), "Until": words.Time(a.On, words.Date)})
		lines = append(lines, words.User(a.Note))
	case domain.TopicDone:
		m.Headline = w.say("notice.done", data)
	case domain.TopicUnlikely:
		m.Mention = true
		m.Headline = w.say("notice.unlikely", data)
	case domain.TopicRanTagged:
		m.Mention = true
		data["Used"] = quantity.FormatDuration(a.Used)
		m.Headline = w.say("notice.ran", data)
		lines = append(lines, w.say("tag.isolates-nothing", nil))
	case domain.TopicOutOfTrue:
		m.Headline = w.say("notice.adjust", data)
		lines = append(lines, w.say("notice.see", words.D{"Example": "/why machine:" + quoted(a.Machine) + " check:" + quoted(a.Name)}))
	case domain.TopicDigest:
		m.Mention = true
		m.Headline = w.say("digest.headline", words.D{"N": len(a.Digest)})
		for _, i := range a.Digest {
			d := words.D{"Machine": words.User(i.Machine), "Name": words.User(i.Name), "From": words.User(i.From), "No": i.Fact,
				"At": words.Time(i.At, words.DateTime), "On": words.Time(i.At, words.Date)}
			key := "digest." + string(i.Code)
			if i.Left.Valid() {
				d["Left"] = quantity.FormatDuration(i.Left.Abs())
			}
			switch {
			case i.Code == domain.DigestTagged && i.N > 0:
				key, d["N"] = "digest.tagged.days", i.N
			case i.Code == domain.DigestProblem, i.Code == domain.DigestVisit:
				d["N"] = i.N
			case i.Code == domain.DigestBuy:
				d["Left"] = i.N
			case i.Code == domain.DigestSoon && i.Left.Valid():
				key = "digest.soon.hours"
			case i.Code == domain.DigestLong && i.N > 1:
				key, d["N"] = "digest.long.others", i.N-1
			case i.Code != domain.DigestSoon && i.Left.Valid() && i.Left.Sign() < 0:
				key += ".over"
			}
			lines = append(lines, "- "+w.say(key, d))
		}
	case domain.TopicMeasureNow:
		m.Mention = true
		m.Headline = w.say("notice.measure", data)
	}
	m.Text = strings.Join(append([]string{m.Headline}, lines...), "\n")
	return m
}

// mostTold is how many people one notice tells.
const mostTold = 20
