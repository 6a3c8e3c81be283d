package commands

import "setscrew/commands/words"

// loosening says what a change of a set-up that waits would loosen, why, and who puts it
// in force; or that it no longer waits.
func (n *notice) loosening() {
	n.data["By"] = words.Person(string(n.By))
	switch {
	case n.Lifted && n.Second != "":
		n.headline("notice.loosening.done")
		return
	case n.Lifted:
		n.headline("notice.loosening.over")
		return
	}
	n.callStewards("notice.loosening")
	n.loosens()
	n.lines = append(n.lines, n.forceLine(n.Machine, !n.On.IsZero(), n.On))
}

// loosened says that a change of a set-up which loosens a safety check is in force.
func (n *notice) loosened() {
	n.data["By"], n.data["Second"] = words.Person(string(n.By)), words.Person(string(n.Second))
	if n.By == n.Second {
		n.headline("notice.loosened.alone")
	} else {
		n.headline("notice.loosened")
	}
	n.loosens()
	if n.Why != "" {
		n.lines = append(n.lines, words.User(n.Why))
	}
}

// loosens lists what a set-up asks less of, and why.
func (n *notice) loosens() {
	n.list(n.loosenLines(n.Loosens))
	n.add("loosen.why", words.D{"Why": words.User(n.Note)})
	if n.Page != "" {
		n.add("loosen.page", words.D{"Page": words.User(n.Page)})
	}
	n.picture()
}
