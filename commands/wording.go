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
func (w *wording) tagLine(tag domain.Tag) string {
	data := words.D{"Reason": w.reason(tag.Reason), "At": words.Time(tag.At, words.DateTime),
		"By": words.Person(string(tag.By))}
	key := "tag.line"
	if tag.By == "" {
		key += ".own"
	}
	line := w.say(key, data)
	if tag.Paper != "" {
		line += " " + w.say("tag.paper", words.D{"Number": words.User(tag.Paper)})
	}
	if tag.ReportWithdrawn {
		line += " " + w.say("tag.withdrawn", nil)
	}
	if tag.Reason.Code == domain.LockOn {
		line += " " + w.lockLine(tag)
	}
	return line
}

// standingLines say why a machine is out of service, a line for each tag that hangs on it.
func (w *wording) standingLines(tags []domain.Tag) []string {
	var lines []string
	for _, tag := range tags {
		lines = append(lines, w.tagLine(tag))
	}
	return lines
}

// lockLine is how far the taking off of a lock has come.
func (w *wording) lockLine(tag domain.Tag) string {
	asked, noted, off := tag.Lock.Asked, tag.Lock.Noted, tag.Lock.Off
	data := words.D{"By": words.Person(string(tag.By)), "No": off.Fact, "Off": words.Time(off.At, words.DateTime),
		"Until": words.Time(asked.Until, words.DateTime)}
	switch {
	case off.Done() && off.By == tag.By:
		return w.say("tag.lock.off", data)
	case off.Done():
		return w.say("tag.lock.procedure", data)
	case noted.Done():
		return w.say("tag.lock.noted", data)
	case asked.Done():
		return w.say("tag.lock.asked", data)
	}
	return w.say("tag.lock.on", data)
}

// reason words why a machine is tagged out.
func (w *wording) reason(why domain.Reason) string {
	data := words.D{"Name": words.User(capital(why.Name)), "Position": why.Position, "Text": words.User(why.Text)}
	if why.Value.Valid() && why.Limit.Valid() {
		data["Value"] = quantity.Show(why.Value, why.Unit, why.Decimals, why.Limit)
		data["Limit"] = quantity.Show(why.Limit, why.Unit, why.Decimals, why.Value)
	}
	key := "reason." + string(why.Code)
	if why.Position == "" && (why.Code == domain.OutsideStop || why.Code == domain.MaybeStop) {
		key += ".single"
	}
	if why.Text != "" && (why.Code == domain.FailedCheck || why.Code == domain.DangerSeen) {
		key += ".note"
	}
	if why.Text != "" && why.Code == domain.LockOn || why.Name != "" && why.Code == domain.Pressed {
		key += ".said"
	}
	return w.say(key, data)
}

// blockerLines word what a release still needs, the same need in one line.
func (w *wording) blockerLines(all []domain.Blocker) []string {
	var lines []string
	done := map[domain.Blocker]bool{}
	for i, blocker := range all {
		need := domain.Blocker{Code: blocker.Code, From: blocker.From, Running: blocker.Running, By: blocker.By}
		if done[need] {
			continue
		}
		done[need] = true
		names := []string{words.User(capital(blocker.Name))}
		if blocker.Code == domain.BlockLock {
			names[0] = words.Person(string(blocker.By))
		}
		for _, x := range all[i+1:] {
			if need == (domain.Blocker{Code: x.Code, From: x.From, Running: x.Running, By: x.By}) &&
				x.Code != domain.BlockLock {
				names = append(names, words.User(x.Name))
			}
		}
		line := w.say("blocker."+string(blocker.Code),
			words.D{"Names": strings.Join(names, ", "), "From": words.User(blocker.From)})
		if blocker.Running && blocker.Code != domain.BlockDoubt {
			line += " " + w.say("blocker.running", nil)
		}
		lines = append(lines, line)
	}
	return lines
}

// asReported says of whom and of when a report is, where that is not of the one
// who typed it and of now.
func (w *wording) asReported(f domain.Fact) []string {
	data := words.D{"For": words.Person(string(f.For)), "At": words.Time(f.At, words.DateTime)}
	late, other := f.Recorded.Sub(f.At) > 5*time.Minute, f.For != f.By
	switch {
	case late && other:
		return []string{w.say("report.as.both", data)}
	case late:
		return []string{w.say("report.as", data)}
	case other:
		return []string{w.say("report.as.for", data)}
	}
	return nil
}

// joinedLine says what stands already for a report that joined it, "" for one that was
// stored.
func (w *wording) joinedLine(outcome domain.Outcome) string {
	switch {
	case outcome.Full:
		return w.say("joined.full", words.D{"No": outcome.Fact.No})
	case outcome.Joined:
		return w.say("joined", words.D{"No": outcome.Fact.No})
	}
	return ""
}

// tagLines says what a report's tags mean for the reader, first of all.
func (w *wording) tagLines(outcome domain.Outcome) []string {
	var lines []string
	for _, t := range outcome.Hung {
		lines = append(lines, w.say("tag.hung", words.D{"Reason": w.reason(t.Reason)}))
	}
	if len(outcome.Hung) > 0 {
		lines = append(lines, w.say("tag.isolates-nothing", nil))
	}
	return lines
}

// notInService heads a reply about a machine that has tags: it is tagged out, or only
// being set up.
func (w *wording) notInService(st domain.Status) string {
	if st.OnlySettingUp() {
		return w.say("state.setting-up", words.D{"Machine": words.User(st.Machine.Name)})
	}
	return w.outOfService(st.Machine)
}

// outOfService heads a reply about a machine that is tagged out.
func (w *wording) outOfService(m domain.Machine) string {
	return w.say("tag.headline", words.D{"Machine": words.User(m.Name)})
}
