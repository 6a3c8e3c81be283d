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
	at, err := upkeep.ParseWhen(c.options["when"], c.shop.Clocks(c.now))
	return at, c.noTime(err, "when", "")
}

// noTime refuses a time that an option gives, in words of what was typed, or asks which of several
// it is; by key where there is one and it is no question. Any other error it leaves.
func (c *call) noTime(err error, option, key string) error {
	var wrong *upkeep.WhenError
	if !errors.As(err, &wrong) {
		return err
	}
	if key == "" || wrong.Code == upkeep.Unsure {
		key = "when." + string(wrong.Code)
	}
	refused := &userError{key: key, data: words.D{"Given": words.User(wrong.Input),
		"Part": words.User(cmp.Or(wrong.Part, wrong.Input))}, example: c.exampleWith(option, wrong.Example)}
	for _, meant := range wrong.Options[:min(len(wrong.Options), buttonRow)] {
		refused.buttons = append(refused.buttons, c.mean(meant, option))
	}
	if wrong.Code == upkeep.Unsure {
		refused.example = "" // the buttons are
	}
	return refused
}

// mean is a button that gives the command again with a time that an option may mean.
func (c *call) mean(meant, option string) Button {
	label := meant
	if at, err := time.Parse("2006-01-02 15:04", meant); err == nil {
		label = at.Format("Mon 2 Jan 2006 15:04")
	} else if day, err := time.Parse(time.DateOnly, meant); err == nil {
		label = day.Format("Mon 2 Jan 2006")
	}
	if option != "when" {
		return c.again(label, option, meant)
	}
	// What is asked is the event time itself: there is none yet.
	waiting := askedAgain{Name: c.name, Options: maps.Clone(c.options)}
	waiting.Options["when"] = meant
	return Button{Label: label, Custom: wait(c, againAction, waiting)}
}

// buttonRow is how many buttons stand in a row.
const buttonRow = 5

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
