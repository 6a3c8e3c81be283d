package commands

import (
	"time"

	"setscrew/domain"
)

// Actor is who speaks. The chat's adapter fills it in from what the platform
// says of the member, at every request.
type Actor struct {
	ID      domain.PersonID
	Name    string   // as shown in the chat; user text
	Roles   []string // role ids
	Manages bool     // may manage the server
}

// Request is one slash command.
type Request struct {
	ID      string // the interaction's id, which makes it happen once; never empty
	Shop    domain.ShopID
	Actor   Actor
	Name    string            // "reading", or "shop add" for a subcommand
	Options map[string]string // as typed, by option name; people options hold account ids
	Typed   string            // the command as it was given, for the audit
	Now     time.Time
}

// Press is a button pressed, or a form sent.
type Press struct {
	ID     string // the interaction's id
	Shop   domain.ShopID
	Actor  Actor
	Custom string            // the button's or form's custom id
	Fields map[string]string // a form's fields by id, nil for a button
	Now    time.Time
}

// Completion asks for the choices of a half-typed option.
type Completion struct {
	Shop    domain.ShopID
	Actor   Actor
	Name    string // of the command
	Option  string // the focused option
	Partial string
	Options map[string]string // those given so far
	Now     time.Time
}

// Choice is one offer of a completion, label and value of at most 100 characters.
type Choice struct{ Label, Value string }
