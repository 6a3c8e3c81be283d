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

// Body is what a fact says. The types in this file are all there are.
type Body interface{ FactKind() Kind }

// Kind names a type of body, as it is stored.
type Kind string

// The kinds of fact.
const (
	KindHours        Kind = "hours"
	KindCounter      Kind = "counter"
	KindReading      Kind = "reading"
	KindInspection   Kind = "inspection"
	KindProblem      Kind = "problem"
	KindMended       Kind = "mended"
	KindFound        Kind = "found"
	KindService      Kind = "service"
	KindPutOff       Kind = "put-off"
	KindTaken        Kind = "taken"
	KindHandover     Kind = "handover"
	KindTakenOver    Kind = "taken-over"
	KindEvent        Kind = "event"
	KindStock        Kind = "stock"
	KindSet          Kind = "blade-set"
	KindVisits       Kind = "visits"
	KindMove         Kind = "move"
	KindMoveAnswer   Kind = "move-said"
	KindTagOut       Kind = "tag-out"
	KindTest         Kind = "test"
	KindTestEnded    Kind = "test-ended"
	KindRelease      Kind = "release"
	KindWithdrawal   Kind = "withdrawal"
	KindConfirmation Kind = "confirmation"
	KindShop         Kind = "shop"
	KindMachine      Kind = "machine"
	KindSetup        Kind = "set-up"
	KindRetired      Kind = "retired"
	KindGauge        Kind = "gauge"
	KindStudy        Kind = "study"
	KindStudyReading Kind = "study-reading"
)
