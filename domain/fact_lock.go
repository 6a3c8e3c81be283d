package domain

import "time"

// KindLockAsked is the kind of a LockAsked.
const KindLockAsked Kind = "lock-asked"

// LockAsked is the first step of the written procedure for a personal lock whose owner
// is not there: the owner is mentioned in the channel, and has a waiting time.
type LockAsked struct {
	Tag FactNo `json:"tag"` // the tag-out that hung it
	// Until is when the waiting time ends that the owner was told of; filled in by Complete.
	Until time.Time `json:"until"`
}

// FactKind is KindLockAsked.
func (LockAsked) FactKind() Kind { return KindLockAsked }

// KindLockKept is the kind of a LockKept.
const KindLockKept Kind = "lock-kept"

// LockKept is its owner's word that a lock stays on: the procedure is over, and begins
// from the start if it is needed again.
type LockKept struct {
	Tag FactNo `json:"tag"`
}

// FactKind is KindLockKept.
func (LockKept) FactKind() Kind { return KindLockKept }

// KindLockProcedure is the kind of a LockProcedure.
const KindLockProcedure Kind = "lock-procedure"

// LockProcedure is the second step: a steward's note of how it was made sure that its
// owner is not in the machine. A second person then confirms it.
type LockProcedure struct {
	Tag  FactNo `json:"tag"`
	Note string `json:"note"`
	// Alone is from when on no second person is waited for; filled in by Complete.
	Alone time.Time `json:"alone"`
}

// FactKind is KindLockProcedure.
func (LockProcedure) FactKind() Kind { return KindLockProcedure }

// KindLockOff is the kind of a LockOff.
const KindLockOff Kind = "lock-off"

// LockOff says that a personal lock is off. Its tag stands, as any other, until the
// machine is released.
type LockOff struct {
	Tag FactNo `json:"tag"`
	// Procedure is the LockProcedure that whoever reports it confirms, 0 for the owner's
	// own word.
	Procedure FactNo `json:"procedure,omitempty"`
}

// FactKind is KindLockOff.
func (LockOff) FactKind() Kind { return KindLockOff }
