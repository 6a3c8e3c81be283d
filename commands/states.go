package commands

import (
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/upkeep"
)

// state is a machine's state in one sentence.
func (w *wording) state(st domain.Status) string {
	data := words.D{"Machine": words.User(st.Machine.Name)}
	if st.TaggedOut() {
		return w.notInService(st)
	}
	if len(st.Lacks()) > 0 {
		return w.say("state.lacks", data)
	}
	if waits := st.Unanswered(); len(waits) > 0 {
		data["No"] = waits[0].Fact
		return w.say("state.unanswered", data)
	}
	switch {
	case st.Advises(domain.AdviceMeasureToday):
		return w.say("state.measure", data)
	case !st.AllRead():
		return w.say("state.unread", data)
	case st.Unproved:
		return w.say("state.unproved", data)
	case st.WorstGrade() >= metrology.Adjust:
		return w.say("state.adjust", data)
	case st.MostDue() != upkeep.NotDue:
		return w.say("state.due", data)
	}
	return w.say("state.good", data)
}

// checkState is a check's state in a few words.
func (w *wording) checkState(cs *domain.CheckStatus) string {
	switch {
	case cs.Freshness != domain.Stale && cs.Asked != nil:
		return w.say("check.after", nil)
	case cs.Freshness == domain.Unread && cs.Check.EachUse:
		return w.say("check.each-use", nil)
	case cs.Freshness == domain.Unread:
		return w.say("check.unread", nil)
	case cs.Freshness == domain.Stale:
		return w.say("check.stale", nil)
	case cs.Untested && !cs.Failed && cs.Advice == domain.AdviceNone:
		return w.say("check.untested", nil)
	case cs.Unseconded:
		return w.say("check.second", nil)
	case cs.Failed, cs.Advice == domain.AdviceStop:
		return w.say("check.stop", nil)
	case cs.Advice == domain.AdvicePlan:
		return w.say("check.adjust", nil)
	case cs.Advice != domain.AdviceNone:
		return w.say("check.measure", nil)
	case cs.Grade == metrology.Near:
		return w.say("check.near", nil)
	case cs.Check.Inspection:
		return w.say("sheet.passed", nil)
	}
	return w.say("check.good", nil)
}

// needLines say which machines that one needs are out of service, and which are retired.
func (w *wording) needLines(st domain.Status) []string {
	var out, lines []string
	for _, need := range st.Lacks() {
		if !need.Retired {
			out = append(out, need.Name)
			continue
		}
		lines = append(lines, w.say("needs.retired", words.D{"Machine": words.User(st.Machine.Name),
			"Other": words.User(need.Name), "Example": slash("shop needs", "machine", st.Machine.Name, "other",
				need.Name, "wanted", "no")}))
	}
	if len(out) == 0 {
		return lines
	}
	return append([]string{w.say("needs.out",
		words.D{"Machine": words.User(st.Machine.Name), "Others": words.Users(out)})}, lines...)
}

// reportingLines say how much use there is for each hour reported.
func (w *wording) reportingLines(st domain.Status) []string {
	reporting := st.Reporting
	if reporting == nil {
		return nil
	}
	key := "sheet.reporting"
	if reporting.Like != "" {
		key = "sheet.reporting.like"
	}
	return []string{w.say(key,
		words.D{"Counted": wholeHours(reporting.Counted), "Logged": wholeHours(reporting.Logged),
			"Like": words.User(reporting.Like), "Ratio": strconv.FormatFloat(reporting.Ratio, 'f', 2, 64),
			"U": strconv.FormatFloat(2*reporting.U, 'f', 2, 64), "Known": reporting.U > 0})}
}

// firstLines say of a machine that came in use already until when what was never done on
// it falls due, and what is next; none where nothing waits.
func (w *wording) firstLines(st domain.Status) []string {
	waiting := st.FirstChecks()
	if len(waiting) == 0 {
		return nil
	}
	next, last := waiting[0], waiting[len(waiting)-1]
	return []string{w.say("first.checks", words.D{"N": len(waiting), "Check": next.Check.Name,
		"On": words.Time(next.Due.On, words.Date), "Until": words.Time(last.Due.On, words.Date)})}
}

// setLines say where each set of knives or blades is.
func (w *wording) setLines(st domain.Status) []string {
	var lines []string
	for _, set := range st.Sets {
		data := words.D{"Set": words.User(set.Set), "At": words.Time(set.At, words.Date), "Back": ""}
		key := "blades." + string(set.Where)
		if !set.Back.IsZero() {
			data["Back"] = words.Time(set.Back, words.Date)
			key += ".back"
			if set.Overdue(st.At) {
				key = "blades.overdue"
			}
		}
		lines = append(lines, w.say(key, data))
	}
	return lines
}

// handoverLines tell a handover that waits; none where there is none.
func (w *wording) handoverLines(st domain.Status) []string {
	handover := st.Handover
	if handover == nil {
		return nil
	}
	lines := []string{w.say("handover.from", words.D{"By": words.Person(string(handover.By)),
		"At": words.Time(handover.At, words.DateTime), "No": handover.Fact}),
		w.say("handover.apart", words.D{"Text": words.User(handover.Apart)})}
	if handover.Lock != "" {
		lines = append(lines, w.say("handover.lock", words.D{"Text": words.User(handover.Lock)}))
	}
	return append(lines, w.say("handover.next", words.D{"Text": words.User(handover.Next)}),
		w.say("handover.locks", nil))
}

// readAgain says which checks have to be read again once surfaces moved.
func (w *wording) readAgain(m domain.Machine, moves []string) []string {
	var names []string
	for _, id := range m.Profile.Moved(moves) {
		names = append(names, m.Profile.Check(id).Name)
	}
	if len(names) == 0 {
		return nil
	}
	return []string{w.say("moved.again", words.D{"Checks": strings.Join(names, ", ")})}
}
