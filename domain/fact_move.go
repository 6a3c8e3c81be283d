package domain

import (
	"setscrew/domain/quantity"
)

// KindMove is the kind of a Move.
const KindMove Kind = "move"

// Move is a check's adjusters turned, as planned from one reading.
type Move struct {
	Check   string   `json:"check"`
	Also    []string `json:"also,omitempty"` // other checks that they moved
	Reading FactNo   `json:"reading"`
	Turned  []Turns  `json:"turned"`
}

// FactKind is KindMove.
func (Move) FactKind() Kind { return KindMove }

// Turns is one adjuster's move, positive clockwise as seen from the tool's end.
type Turns struct {
	Adjuster string         `json:"adjuster"`
	Turns    quantity.Value `json:"turns"` // of a slide or of shims 0 turns
	// Past is how far it was turned past before it came back; absent for not at all.
	Past quantity.Value `json:"past"`
	// By is how far a slide was moved, positive where readings grow, or how much
	// shim was added; absent for what is turned.
	By quantity.Value `json:"by"`
}

// KindMoveAnswer is the kind of a MoveAnswer.
const KindMoveAnswer Kind = "move-said"

// MoveAnswer answers how a move was made after which readings went the wrong way.
type MoveAnswer struct {
	Of    FactNo    `json:"of"`
	Check string    `json:"check"`
	Said  HowTurned `json:"said"`
}

// FactKind is KindMoveAnswer.
func (MoveAnswer) FactKind() Kind { return KindMoveAnswer }

// HowTurned is what somebody says of a move.
type HowTurned string

// What can be said of a move that went the wrong way.
const (
	TurnedOther  HowTurned = "other-way" // it was turned the other way
	TurnedAsSaid HowTurned = "as-said"   // it was turned as planned: the screw works the other way
)
