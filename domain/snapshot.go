package domain

import (
	"time"

	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// Snapshot is what is known of one machine: running totals, latest readings,
// last services, standing tags. Its size does not grow with the shop's age.
type Snapshot struct {
	Shop    Shop
	Machine Machine
	Gauges  []OwnGauge // the shop's own, by name

	Hours  quantity.Value    // all hours reported for it
	Latest map[string]Latest // by check id: the last believed reading or inspection by event time
	// GoNoGo is, by check id, the last go/no-go check of a dimension.
	GoNoGo map[string]Latest
	// Undecided is, by the id of a safety check whose last reading neither proves nor
	// disproves that it lies within its stop limits, since when none has proved it.
	Undecided map[string]time.Time
	Waiting   []Latest               // readings kept unconfirmed, oldest first
	Moved     map[string]Moved       // by check id: the last time that its surface was moved, by event time
	Services  map[string]LastService // by service id: the last time each was done; none if never
	// Done is, by service id, every time that one was done whose rule counts all of them, oldest first.
	Done     map[string][]LastService
	PutOff   map[string]PutOffBy    // by service id: the last time that each was put off
	Extended map[string]ExtendedBy  // by check id: the last time that each was extended
	Taken    map[string]TakenBy     // by service id: who last took each
	Events   map[string]LastService // by event id: the last time that each happened; none if never
	Mends    map[string]LastService // by a problem's key: the last time that it was mended; none if never
	Tries    map[string][]Try       // by check id: the last tries at its adjusters, oldest first
	Caps     map[string][]CapReport // by check id: what boards showed at each height of spring caps, oldest first
	// Loosening is the last change of the set-up that was asked for, nil if none was.
	Loosening *LooseningBy
	Sets      []BladeSet          // each set of knives or blades, as it was last said of it
	Handover  *HandoverBy         // not taken over yet, or nil
	Handed    bool                // it was handed over once
	Counted   []upkeep.Span       // between the last readings of the counter, oldest first
	Like      string              // the machine that Counted is of, "" for itself
	Counter   *Counter            // the hour counter's last reading, nil if there is none
	Tags      []Tag               // standing, oldest first
	Outage    int64               // how many times it has been taken out of service
	Dangers   []Danger            // danger symptoms reported and not yet released from, oldest first
	Withdrawn []Danger            // those taken back whose tags stand, and whose checks are asked for; see AsksStill
	Problems  []OpenProblem       // other problems not mended, that reported last first
	Needs     []Need              // machines without which it must not run
	NeededBy  []string            // names of those that must not run without it
	Renewed   *Renewal            // the last time that a test was said to go on, nil if none
	Test      *Test               // a test that runs since the last tag, nil if none
	Seen      *SeenBy             // who said last that they see to the dangers on it, nil if nobody did
	Released  time.Time           // when it was released last; zero if never
	Ticked    map[string]TickedAt // by a tick's id: when it was made last
	Unasked   bool                // it was on the books before it was asked how a machine starts
	KeptFrom  time.Time           // the earliest of its last facts that use since is counted of; zero for none
}

// Need is a machine that another needs.
type Need struct {
	Machine MachineID
	Name    string
	Out     bool // it is tagged out
	Retired bool // it was retired, and is missing until it is needed no more
}

// HandoverBy is a handover that waits to be taken over.
type HandoverBy struct {
	Fact FactNo
	At   time.Time
	By   PersonID
	Handover
}

// PutOffBy is a service put off.
type PutOffBy struct {
	Fact FactNo
	At   time.Time
	By   PersonID
	PutOff
}

// ExtendedBy is an inspection extended.
type ExtendedBy struct {
	Fact FactNo
	At   time.Time
	By   PersonID
	Extended
}

// TakenBy is a service that somebody will do.
type TakenBy struct {
	Fact FactNo
	At   time.Time
	By   PersonID
}

// MaxTries is how many tries at a check are kept in view.
const MaxTries = 24

// Try is one try at a check's adjusters: turned, between two readings.
type Try struct {
	Move   FactNo
	At     time.Time
	Turned []Turns
	Before *Latest   // the reading that it was planned from, nil if that was withdrawn
	After  *Latest   // the first reading after it and before the next, nil if there is none
	Said   HowTurned // how it was made, if somebody was asked
}

// CapReport is what a board showed at one height of spring caps.
type CapReport struct {
	Fact            FactNo
	Height          quantity.Value
	Marks, Stutters bool
}

// Counter is the last reading of a machine's hour counter.
type Counter struct {
	Fact  FactNo
	At    time.Time
	Shown quantity.Value
	Since quantity.Value // use logged after At
}

// OpenProblem is the reports of one problem that nobody has said is mended.
type OpenProblem struct {
	Key, Name   string
	First, Last FactNo
	At, LastAt  time.Time // of the first, and of the last
	Reports     int
	Symptom     string             // the profile's, or ""
	By          []PersonID         // who reported it
	Found       map[Item]FoundThen // what was answered and looked for since the first report
	Returned    FactNo             // the mend that it came back after, or 0
	Before      string             // the cause that that mend was for, or ""
	Doubt       bool               // it may be dangerous: whoever reported it last was asked, and has not answered
}

// DoubtWaits is how long whoever reported something that may be dangerous is waited
// for before the stewards are called. Our own choice.
const DoubtWaits = 2 * time.Minute

// DoubtEnds is when the stewards are called about a problem that may be dangerous.
func (p OpenProblem) DoubtEnds() time.Time { return p.LastAt.Add(DoubtWaits) }

// FoundThen is the last answer to one question, or about one cause.
type FoundThen struct {
	Fact   FactNo
	At     time.Time
	Answer Answer
}

// Cause is the cause that was found to be it, "" while none was, and when.
func (p OpenProblem) Cause() (id string, at time.Time) {
	var no FactNo
	// any order: the latest fact, and of one fact the first by name
	for item, f := range p.Found {
		if item.Kind == CauseItem && f.Answer == AnswerYes && (f.Fact > no || f.Fact == no && item.ID < id) {
			id, at, no = item.ID, f.At, f.Fact
		}
	}
	return id, at
}

// Renewal says when a test was said to go on.
type Renewal struct {
	At   time.Time
	Test FactNo
}

// Test is a machine running under test.
type Test struct {
	Fact    FactNo
	By      PersonID
	At      time.Time
	Renewed time.Time // when it was last said to go on; At if it never was
}

// Latest is the last reading or inspection of a check.
type Latest struct {
	Fact       FactNo
	At         time.Time
	By         PersonID // whose report it is
	Check      string
	Reading    *Reading    // of a dimension
	Inspection *Inspection // of an inspection
}

// AnswerBy is when the stewards are called about a safety check's reading that waits
// unconfirmed.
func (l Latest) AnswerBy() time.Time { return l.At.Add(DoubtWaits) }

// Moved says when, and by which report, a check's surface was last moved.
type Moved struct {
	At   time.Time
	Fact FactNo
}

// LastService is when a service was last done, or an event last happened, and
// the use since.
type LastService struct {
	Fact  FactNo
	At    time.Time
	Since quantity.Value // hours of use whose event time is after At
	Asked bool           // of a service whose rule counts every time: something asked for it then
}

// Tag stands on a machine and takes it out of service.
type Tag struct {
	Fact            FactNo    `json:"fact"`              // the TagOut that hung it
	By              PersonID  `json:"by"`                // whose it is; "" for Setscrew
	At              time.Time `json:"at"`                // when
	Cause           string    `json:"cause,omitempty"`   // TagCause.Key, "" when a person hung it
	Because         FactNo    `json:"because,omitempty"` // the report it rests on
	Reason          Reason    `json:"reason"`
	Paper           string    `json:"paper,omitempty"`     // number of the paper tag at the machine
	ReportWithdrawn bool      `json:"withdrawn,omitempty"` // that report, or the tag-out itself, was withdrawn since
	Lock            Lock      `json:"lock,omitzero"`       // of a personal lock
}

// Danger is a danger symptom that nobody has released the machine from.
type Danger struct {
	Fact    FactNo
	At      time.Time
	By      PersonID // whose report it is
	Problem Problem
	Found   map[Item]FoundThen // what was answered and looked for since
}

// Wake is a machine that wants to be judged again at a moment.
type Wake struct {
	Shop    ShopID
	Machine MachineID
	At      time.Time
}
