package commands

import (
	"strings"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// wording puts things into words: in one language, for one shop, at one moment.
// Replies and notices are worded by the same one.
type wording struct {
	speaker words.Speaker
	shop    domain.Shop
	now     time.Time
}

// say is the message of that key, in the wording's language.
func (w *wording) say(key string, data words.D) string { return w.speaker.Say(key, data) }

// tagLine is one standing tag in words.
func (w *wording) tagLine(t domain.Tag) string {
	d := words.D{"Reason": w.reason(t.Reason), "At": words.Time(t.At, words.DateTime), "By": words.Person(string(t.By))}
	key := "tag.line"
	if t.By == "" {
		key += ".own"
	}
	line := w.say(key, d)
	if t.Paper != "" {
		line += " " + w.say("tag.paper", words.D{"Number": words.User(t.Paper)})
	}
	if t.ReportWithdrawn {
		line += " " + w.say("tag.withdrawn", nil)
	}
	return line
}

// reason words why a machine is tagged out.
func (w *wording) reason(r domain.Reason) string {
	d := words.D{"Name": words.User(capital(r.Name)), "Position": r.Position, "Text": words.User(r.Text)}
	if r.Value.Valid() && r.Limit.Valid() {
		d["Value"] = quantity.Show(r.Value, r.Unit, r.Decimals, r.Limit)
		d["Limit"] = quantity.Show(r.Limit, r.Unit, r.Decimals, r.Value)
	}
	key := "reason." + string(r.Code)
	if r.Position == "" && (r.Code == domain.OutsideStop || r.Code == domain.MaybeStop) {
		key += ".single"
	}
	if r.Text != "" && (r.Code == domain.FailedCheck || r.Code == domain.DangerSeen) {
		key += ".note"
	}
	return w.say(key, d)
}

// blockerLines word what a release still needs, the same need in one line.
func (w *wording) blockerLines(all []domain.Blocker) []string {
	var lines []string
	done := map[domain.Blocker]bool{}
	for i, b := range all {
		need := domain.Blocker{Code: b.Code, From: b.From, Running: b.Running}
		if done[need] {
			continue
		}
		done[need] = true
		names := []string{words.User(capital(b.Name))}
		for _, x := range all[i+1:] {
			if need == (domain.Blocker{Code: x.Code, From: x.From, Running: x.Running}) {
				names = append(names, words.User(x.Name))
			}
		}
		line := w.say("blocker."+string(b.Code), words.D{"Names": strings.Join(names, ", "), "From": words.User(b.From)})
		if b.Running {
			line += " " + w.say("blocker.running", nil)
		}
		lines = append(lines, line)
	}
	return lines
}

// asReported says of whom and of when a report is, where that is not of the one
// who typed it and of now.
func (w *wording) asReported(f domain.Fact) []string {
	d := words.D{"For": words.Person(string(f.For)), "At": words.Time(f.At, words.DateTime)}
	late, other := f.Recorded.Sub(f.At) > 5*time.Minute, f.For != f.By
	switch {
	case late && other:
		return []string{w.say("report.as.both", d)}
	case late:
		return []string{w.say("report.as", d)}
	case other:
		return []string{w.say("report.as.for", d)}
	}
	return nil
}

// tagLines says what a report's tags mean for the reader, first of all.
func (w *wording) tagLines(o domain.Outcome) []string {
	var lines []string
	for _, t := range o.Hung {
		lines = append(lines, w.say("tag.hung", words.D{"Reason": w.reason(t.Reason)}))
	}
	if len(o.Hung) > 0 {
		lines = append(lines, w.say("tag.isolates-nothing", nil))
	}
	return lines
}

// outOfService heads a reply about a machine that is tagged out.
func (w *wording) outOfService(m domain.Machine) string {
	return w.say("tag.headline", words.D{"Machine": words.User(m.Name)})
}
