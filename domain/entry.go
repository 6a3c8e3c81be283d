package domain

import (
	"fmt"
	"time"

	"setscrew/domain/quantity"
)

// Entry is a report on its way in: a fact to be, and what makes it happen once.
type Entry struct {
	Key      string // idempotency key: the interaction's id; never empty
	Pending  string // id of the pending button that it consumes, or ""
	Machine  MachineID
	SetupRev int64 // the set-up it was read against; 0 where that does not matter
	At       time.Time
	Recorded time.Time
	By, For  PersonID
	Typed    string // the command as it was given, for the audit
	Body     Body
	Sure     bool     // hours that were asked about and are meant
	Steward  bool     // By is a steward of the shop
	Next     *Machine // the machine as the set-up in Body makes it; the books fill it in
	Told     Told     // what the channel was told of it already, from memory
}

// Outcome is what became of an Entry.
type Outcome struct {
	Fact     Fact
	Before   Status // of the machine; zero for a fact about the shop
	After    Status
	Hung     []Tag // tags that this report hung by itself or through Assess
	Repeated bool  // the entry's Key had been applied before; nothing was done again
	Joined   bool  // Fact stood for it already; nothing was stored
	Full     bool  // and it had other words, which are not kept; see Joins
}

// Pending is a button's or form's state while it waits to be pressed. It is
// kept in the store, so that it outlives a restart, and is consumed once.
type Pending struct {
	ID      string
	Action  string // which action of the commands it belongs to
	Args    []byte // JSON, the action's own
	Asked   PersonID
	Made    time.Time
	Expires time.Time
	Used    string // the Key of the entry that consumed it, or ""
}

// Code names why something was refused.
type Code string

// The refusals that a state of the books can bring.
const (
	NoSuchMachine    Code = "no-such-machine"
	MachineTwice     Code = "machine-twice"   // a machine of that name exists
	MachineIsRetired Code = "machine-retired" // nothing more is recorded for it
	SetupChangedNow  Code = "setup-changed"   // the set-up changed since the entry was read; read it again
	NoSuchFact       Code = "no-such-fact"    // no report of that number
	NotTagged        Code = "not-tagged"      // nothing to release
	// a release of a machine that has not run under test since the last tag
	NotTested       Code = "not-tested"
	NoTest          Code = "no-test"            // no test to end
	OtherTest       Code = "other-test"         // a button of another test than the one that runs
	CounterBack     Code = "counter-back"       // the counter shows less than before
	HoursOverDay    Code = "hours-over-day"     // more than 24 h on one day: see Refusal.Used
	HoursTwice      Code = "hours-twice"        // much like the same person's last
	HoursOverlap    Code = "hours-overlap"      // at a time that another report took
	NoSuchProblem   Code = "no-such-problem"    // no open problem of that kind
	TakenBefore     Code = "taken-before"       // a handover that somebody took over, or that a later one replaced
	SafetyNotPutOff Code = "safety-not-put-off" // a safety service is not put off
	NotExtended     Code = "not-extended"       // not an inspection whose late limit is the shop's to move
	AuthorityDate   Code = "authority-date"     // an inspection that an authority demands by then
	NotPassed       Code = "not-passed"         // an inspection is extended on the strength of its last pass alone
	ExtendedBefore  Code = "extended-before"    // once until it is made again
	ExtendedTooFar  Code = "extended-too-far"   // by at most a quarter of its interval: see Refusal.N
	Blocked         Code = "blocked"            // a release with something blocking: see Refusal.Blockers
	OwnerNotAsked   Code = "owner-not-asked"    // a tag that someone else hung
	InspectorNeeded Code = "inspector-needed"   // an inspection by a qualified person, who is not named
	NoteNeeded      Code = "note-needed"        // a danger was reported: say what was found and done
	WithdrawnBefore Code = "withdrawn-before"   // the fact is withdrawn already
	WithdrawalNote  Code = "withdrawal-note"    // somebody else's report of danger: say what was looked at
	NotWithdrawable Code = "not-withdrawable"   // set-up and settings are changed again, a withdrawal is not withdrawn
	ConfirmedBefore Code = "confirmed-before"   // the reading is not waiting
	PendingUsed     Code = "pending-used"       // the button was pressed before
	PendingGone     Code = "pending-gone"       // no such button, or it expired
	ReadingMovedOn  Code = "reading-moved-on"   // a newer reading, or a move, has overtaken the plan
	OthersReport    Code = "others-report"      // somebody else's report: a steward may withdraw it
	NothingToSee    Code = "nothing-to-see"     // no such danger stands
	SeenBefore      Code = "seen-before"        // somebody sees to it already
	NothingToUndo   Code = "nothing-to-undo"    // this person has no report to withdraw
	TooMany         Code = "too-many"           // more reports by one person than MostInMinute or MostInDay
	LawFixed        Code = "law-fixed"          // the law fixes what it would loosen: see Refusal.Source
	ReasonNeeded    Code = "reason-needed"      // it loosens a safety check: say why
	PageNeeded      Code = "page-needed"        // past a standard's outer limits: see Refusal.Source
	SecondNeeded    Code = "second-needed"      // it loosens a safety check: it is asked for first
	LooseningGone   Code = "loosening-gone"     // no longer waits, or something took its place
	OtherSteward    Code = "other-steward"      // another steward than the one who asked puts it in force
	AloneTooSoon    Code = "alone-too-soon"     // whoever asked may put it in force from Refusal.At
	AloneNote       Code = "alone-note"         // whoever asked says in a note what they looked at
	TickNotAsked    Code = "tick-not-asked"     // a tick that is made, or that nobody asks for
	StartByTicks    Code = "start-by-ticks"     // that a machine is in use is said by its ticks alone
	OthersProblem   Code = "others-problem"     // it would close what somebody else reported: they or a steward may
	TagUnanswered   Code = "tag-unanswered"     // a standing tag that the steward did not answer for
	LockIsOn        Code = "lock-on"            // a personal lock is on: see Refusal.By
	LockForOther    Code = "lock-for-other"     // a personal lock is hung by its owner
	LockNotOn       Code = "lock-not-on"        // no such lock is on
	OthersLock      Code = "others-lock"        // somebody else's lock: they or a steward by the procedure
	OwnLock         Code = "own-lock"           // the procedure is for another's lock
	LockAskedBefore Code = "lock-asked-before"  // its owner is waited for until Refusal.At
	LockNotAsked    Code = "lock-not-asked"     // the second step before the first
	LockWaits       Code = "lock-waits"         // before the waiting time is over, at Refusal.At
	LockNoteNeeded  Code = "lock-note-needed"   // say what was done
	ProcedureOver   Code = "procedure-over"     // another one, or none, is under way by now
	LockSecond      Code = "lock-second"        // who noted it does not confirm it before Refusal.At
	NoMistake       Code = "no-mistake"         // not a stop of theirs that came without words
	MistakeLate     Code = "mistake-late"       // MistakeTime is over
	MistakeSince    Code = "mistake-since"      // something else was reported since: see Refusal.Fact
	TestRuns        Code = "test-runs"          // a machine under test is not retired
	HandoverWaits   Code = "handover-waits"     // what was left apart before waits to be taken over
	LockLifted      Code = "lock-lifted"        // the tag of that lock is lifted: it is not put on again by undoing
	ForgottenLately Code = "forgotten-lately"   // the same account again before Refusal.At
	RetiredTagged   Code = "retired-tagged"     // one of that name was retired out of service: it is added as new
)

// Refusal is an entry that the state of the books does not allow. Nothing was
// stored.
type Refusal struct {
	Code     Code
	Fact     FactNo
	Name     string
	Blockers []Blocker
	Used     quantity.Value // hours of use that it is about, if any
	Source   string         // where it is fixed, if anywhere
	At       time.Time      // from when it is allowed, if it is
	N        int            // the most that is allowed, where there is such a number
	By       PersonID       // whose lock, or note, it is about
}

// Error says the code, for logs; the words for people are in the catalogue.
func (r *Refusal) Error() string {
	return fmt.Sprintf("refused: %s (%s, no. %d)", r.Code, r.Name, r.Fact)
}
