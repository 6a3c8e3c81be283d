package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var lockCommand = &Command{
	Name: lockName, Who: Anyone, Quiet: true, Words: 60, MostWords: 140,
	Options:  []Option{machineOption},
	Examples: []string{`/lock machine:Marble`},
}

// lockOffAction says that one's own lock is off, by the tag-out that hung it, and
// lockKeptAction that it stays on. A steward asks its owner (lockAskAction), then fills in
// the form that lockNoteAction opens and lockNotedAction takes; lockConfirmAction confirms
// what was noted, by the report of it.
const (
	lockOffAction     lasting[factArg] = "lock-off"
	lockKeptAction    lasting[factArg] = "lock-kept"
	lockAskAction     lasting[factArg] = "lock-ask"
	lockNoteAction    lasting[factArg] = "lock-note"
	lockNotedAction   waiting[noting]  = "lock-noted"
	lockConfirmAction lasting[factArg] = "lock-confirm"
)

// noting is a lock that waits for a note of how it was made sure that nobody is in the
// machine.
type noting struct {
	Tag domain.FactNo `json:"tag"`
}

// mostLockButtons is for how many locks the buttons are shown.
const mostLockButtons = 8

// runLock shows the locks that are on, with what the one who asks can do about each.
func runLock(c *call) (Reply, error) {
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	locks := st.Locks()
	data := words.D{"Machine": words.User(machine.Name), "N": len(locks)}
	if len(locks) == 0 {
		hang := slash(tagoutName, "machine", machine.Name) + ` reason:"changing the knives" lock:yes`
		return Reply{Headline: c.say("lock.none", data),
			Lines: []string{c.say("example", words.D{"Example": hang})}}, nil
	}
	reply := Reply{Headline: c.say("lock.headline", data)}
	for i, tag := range locks {
		reply.Lines = append(reply.Lines, c.tagLine(tag))
		if i < mostLockButtons {
			c.lockSteps(&reply, tag, len(locks) > 1)
		}
	}
	reply.Lines = append(reply.Lines, c.say("release.locks", nil))
	return reply, nil
}

// lockSteps adds what the one who asks can do about a lock; its number stands on the
// buttons where there are several.
func (c *call) lockSteps(reply *Reply, tag domain.Tag, several bool) {
	// A button, with the lock's number where there are several.
	button := func(key string, style Style, custom string) {
		label := c.say(key, nil)
		if several {
			label = c.say("button.lock.of", words.D{"Label": label, "No": tag.Fact})
		}
		reply.Buttons = append(reply.Buttons, Button{Label: label, Style: style, Custom: custom})
	}
	of, asked, noted := factArg(tag.Fact), tag.Lock.Asked, tag.Lock.Noted
	// What stands in its way, or has been done already.
	line := func(key string) {
		reply.Lines = append(reply.Lines, c.say(key, words.D{"By": words.Person(string(tag.By)),
			"Until": words.Time(asked.Until, words.DateTime), "Alone": words.Time(noted.Until, words.DateTime),
			"Note": words.User(noted.Note), "Noted": words.Person(string(noted.By))}))
	}
	// Its owner lifts it; else the procedure goes on where it stands: asked, noted, confirmed.
	switch {
	case tag.By == c.actor.ID:
		button("button.lock.off", Grave, lockOffAction.with(of))
		if asked.Done() {
			button("button.lock.kept", Plain, lockKeptAction.with(of))
		}
	case noted.Done():
		line("lock.step.noted")
		noSecond := c.steward() && !c.now.Before(noted.Until)
		switch {
		case noted.By != c.actor.ID:
			line("lock.step.second")
			button("button.lock.confirm", Grave, lockConfirmAction.with(factArg(noted.Fact)))
		case noSecond:
			button("button.lock.alone", Grave, lockConfirmAction.with(factArg(noted.Fact)))
		default:
			line("lock.step.alone")
		}
	case !c.steward():
		line("lock.step.theirs")
	case !asked.Done():
		line("lock.step.ask")
		button("button.lock.ask", Plain, lockAskAction.with(of))
	case c.now.Before(asked.Until):
		line("lock.step.waits")
	default:
		line("lock.step.note")
		button("button.lock.note", Plain, lockNoteAction.with(of))
	}
}

// runLockOff says that the lock of whoever presses it is off.
func runLockOff(c *call, of factArg) (Reply, error) {
	outcome, err := c.reportAbout(of, domain.LockOff{Tag: domain.FactNo(of)})
	if err != nil {
		return Reply{}, err
	}
	return c.lockIsOff("lock.off", outcome), nil
}

// lockIsOff says that a lock is off, and what follows.
func (c *call) lockIsOff(key string, outcome domain.Outcome) Reply {
	data := words.D{"Machine": words.User(outcome.After.Machine.Name), "No": outcome.Fact.No}
	reply := Reply{Replaces: true, Headline: c.say(key, data), Lines: []string{c.say("lock.off.stays", data)}}
	if left := len(outcome.After.Locks()); left > 0 {
		reply.Lines = append(reply.Lines, c.say("lock.left", words.D{"N": left}))
	}
	return reply
}

// runLockKept says that the lock of whoever presses it stays on.
func runLockKept(c *call, of factArg) (Reply, error) {
	outcome, err := c.reportAbout(of, domain.LockKept{Tag: domain.FactNo(of)})
	if err != nil {
		return Reply{}, err
	}
	return Reply{Replaces: true, Headline: c.say("lock.kept",
		words.D{"Machine": words.User(outcome.After.Machine.Name), "No": outcome.Fact.No})}, nil
}

// runLockAsk asks the owner of a lock in the channel: the first step.
func runLockAsk(c *call, of factArg) (Reply, error) {
	_, snap, err := c.aboutFact(domain.FactNo(of))
	if err != nil {
		return Reply{}, err
	}
	if c.shop.NoticeChannel == "" {
		return Reply{}, &userError{key: "lock.nochannel", example: "/" + settingsName + " notices:#workshop"}
	}
	outcome, err := c.report(snap.Machine, domain.LockAsked{Tag: domain.FactNo(of)})
	if err != nil {
		return Reply{}, err
	}
	body, _ := outcome.Fact.Body.(domain.LockAsked)
	return Reply{Replaces: true, Headline: c.say("lock.asked", words.D{"No": outcome.Fact.No}),
		Lines: []string{c.say("lock.asked.then", words.D{"Until": words.Time(body.Until, words.DateTime),
			"Example": slash(lockName, "machine", snap.Machine.Name)}), c.say("lock.asked.try", nil)}}, nil
}

// runLockNote asks a steward how it was made sure that nobody is in the machine: the
// second step.
func runLockNote(c *call, of factArg) (Reply, error) {
	_, snap, err := c.aboutFact(domain.FactNo(of))
	if err != nil {
		return Reply{}, err
	}
	// What would refuse the note is said before it is written.
	if refused := c.wouldRefuse(domain.Assess(snap, c.now),
		domain.LockProcedure{Tag: domain.FactNo(of), Note: "…"}); refused != nil {
		return Reply{}, refused
	}
	return Reply{Headline: c.say("lock.form", words.D{"Machine": words.User(snap.Machine.Name)}),
		Form: &Form{Title: shorten(c.say("lock.title", words.D{"Machine": snap.Machine.Name}), formChars),
			Custom: wait(c, lockNotedAction, noting{domain.FactNo(of)}),
			Fields: []Field{{ID: "note", Label: c.say("lock.label", nil), Example: c.say("lock.example", nil),
				Required: true, Long: true}}}}, nil
}

// runLockNoted stores the note, which a second person then confirms.
func runLockNoted(c *call, of noting) (Reply, error) {
	_, snap, err := c.aboutFact(of.Tag)
	if err != nil {
		return Reply{}, err
	}
	note := words.Clean(c.fields["note"])
	if len([]rune(note)) > noteOption.Max {
		return Reply{}, &userError{key: "lock.long", data: words.D{"Max": noteOption.Max}}
	}
	outcome, err := c.report(snap.Machine, domain.LockProcedure{Tag: of.Tag, Note: note})
	if err != nil {
		return Reply{}, err
	}
	body, _ := outcome.Fact.Body.(domain.LockProcedure)
	return Reply{Headline: c.say("lock.noted", words.D{"No": outcome.Fact.No}),
		Lines: []string{c.say("lock.noted.second", words.D{"Example": slash(lockName, "machine", snap.Machine.Name)}),
			c.say("lock.step.alone", words.D{"Alone": words.Time(body.Alone, words.DateTime)})}}, nil
}

// runLockConfirm confirms what a steward noted: the lock may come off.
func runLockConfirm(c *call, of factArg) (Reply, error) {
	fact, noted, snap, err := aboutA[domain.LockProcedure](c, domain.FactNo(of))
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.report(snap.Machine, domain.LockOff{Tag: noted.Tag, Procedure: fact.No})
	if err != nil {
		return Reply{}, err
	}
	return c.lockIsOff("lock.confirmed", outcome), nil
}
