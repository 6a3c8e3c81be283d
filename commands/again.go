package commands

import (
	"cmp"
	"errors"
	"maps"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/upkeep"
)

// askedAgain is a command waiting to be given again with a corrected option.
type askedAgain struct {
	Name    string            `json:"name"`
	Options map[string]string `json:"options"`
	At      time.Time         `json:"at,omitzero"` // the event time as it was first understood
	Undo    domain.FactNo     `json:"undo,omitempty"`
}

// againAction gives a command again, as a button's answer to a question.
const againAction waiting[askedAgain] = "again"

// again is a button that gives this command again with one option replaced.
func (c *call) again(label, option, value string) Button {
	return Button{Label: shorten(label, buttonChars), Custom: wait(c, againAction, c.asked(option, value))}
}

// asked is this command as it waits behind a button that replaces one option.
func (c *call) asked(option, value string) askedAgain {
	again := askedAgain{Name: c.name, Options: map[string]string{}}
	maps.Copy(again.Options, c.options)
	again.Options[option] = value
	if at, err := c.eventTime(); err == nil {
		again.At = at
	}
	delete(again.Options, "when")
	return again
}

// eventTime is when what is reported happened: what the option "when" says, or
// now.
func (c *call) eventTime() (time.Time, error) {
	if !c.at.IsZero() {
		return c.at, nil
	}
	at, err := upkeep.ParseWhen(c.options["when"], c.now, c.shop.Location())
	var w *upkeep.WhenError
	if errors.As(err, &w) {
		return at, &userError{key: "when." + string(w.Code), data: words.D{"Given": words.User(w.Input)},
			example: c.exampleWith("when", "")}
	}
	return at, err
}

// forWhom is whose report it is: whom the option "for" names, or the one who speaks.
func (c *call) forWhom() domain.PersonID {
	return domain.PersonID(cmp.Or(c.options["for"], string(c.actor.ID)))
}

// stopAction takes a machine out of service for a problem, by the report of it.
const stopAction lasting[factArg] = "stop"

// tagoutButton takes a machine out of service for a problem that was reported.
func (c *call) tagoutButton(machine domain.Machine, problem domain.FactNo) Button {
	return Button{Label: c.say("button.tagout", machineLabel(machine)), Style: Grave,
		Custom: stopAction.with(factArg(problem))}
}
