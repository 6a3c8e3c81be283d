package domain

import (
	"time"
)

// Fact is anything reported: only ever added. A withdrawal voids one and leaves
// it in place.
type Fact struct {
	No        FactNo
	Shop      ShopID
	Machine   MachineID // 0 for the shop's own settings
	At        time.Time // when it happened
	Recorded  time.Time // when it was typed
	By        PersonID  // who typed it; "" for Setscrew
	For       PersonID  // whom it is about, By unless said otherwise
	Hash      string    // the profile text and set-up it was judged by
	SetupRev  int64
	Withdrawn FactNo // the withdrawal that voids it, or 0
	Body      Body
}

// Body is what a fact says: the types in the files fact_*.go, a row each in the table
// of kinds.
type Body interface{ FactKind() Kind }

// Kind names a type of body, as it is stored. It stands beside its type.
type Kind string
