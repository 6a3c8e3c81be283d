package commands

import (
	"setscrew/domain/quantity"
)

// Who says who may give a command or press a button. There is no default: a
// declaration without one is refused by a test.
type Who uint8

// The rules. Anyone: every member of the server. Steward: whoever has the
// shop's steward role, or may manage the server while no role is set. Keeper: a
// steward, or whoever may manage the server. Asker: whoever was asked, or a
// steward. OnCall: a steward, a deputy of one who is away, or whom the shop calls
// last.
const (
	Nobody Who = iota
	Anyone
	Asker
	Steward
	Keeper
	OnCall
)

// Takes says what an option holds; it decides completion and validation.
type Takes uint8

// What options take. Machine to Kind are completed from what there is.
const (
	Text Takes = iota + 1
	Machine
	Check
	Service
	Symptom
	OpenProblem
	Event
	Work
	Mode
	Gauge
	OwnGauge
	GaugeKind
	Item
	ProfileKind
	CommandName
	Person
	Role
	Channel
	Attachment
	Stock
	BladeSet
	OneOf
)

// Option is one option of a command.
type Option struct {
	Name     string
	Takes    Takes
	Required bool
	OneOf    []string // the fixed choices of a OneOf
	Max      int      // longest text, in characters; 0 for the usual 100
}

// Command is a slash command, declared beside its handler. Its descriptions
// are messages: "cmd.NAME", "opt.NAME.OPTION", with dots for spaces.
type Command struct {
	Name      string // "reading", or "shop add" for a subcommand
	Who       Who
	Quiet     bool // its replies are seen only by the one who asked
	Exact     bool // takes no name but a whole one: what it does is too grave to guess
	Slow      bool // may take longer than a chat waits for a first answer
	Words     int  // the most words of a plain answer, before its buttons
	MostWords int  // and of one that needs more: a plan, a tag-out; 0 for no more than Words
	Options   []Option
	Examples  []string // that work in the demo shop
}

// Action is what a button or a form does.
type Action struct {
	Name  string // in custom ids: lower case letters
	Who   Who
	Waits bool // its state is a pending, used once; otherwise it is in the custom id
	Slow  bool // may take longer than a chat waits for a first answer; of buttons alone
}

// Names of commands that others lead to, by a button or in an example.
const (
	readingName = "reading"
	serviceName = "service"
	howName     = "how"
	tagoutName  = "tagout"
	problemName = "problem"
	mendedName  = "mended"
	lockName    = "lock"

	settingsName = "shop settings"
	checkName    = "shop check"
)

// Options that most reports take.
var (
	machineOption = Option{Name: "machine", Takes: Machine, Required: true}
	whenOption    = Option{Name: "when", Takes: Text, Max: 40}
	forOption     = Option{Name: "for", Takes: Person}
	noteOption    = Option{Name: "note", Takes: Text, Max: 300}
)

// unitNames lists the systems in which a shop may measure.
var unitNames = []string{quantity.Metric.String(), quantity.Imperial.String()}

// otherOptions are what otherWanted reads.
var otherOptions = []Option{machineOption, {Name: "other", Takes: Machine, Required: true},
	{Name: "wanted", Takes: OneOf, OneOf: []string{"yes", "no"}, Required: true}}
