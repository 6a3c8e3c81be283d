package domain

import (
	"slices"
	"time"

	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// Status is everything that is said of a machine at one moment. Setting sheets,
// digests, sweeps and notices all read it; nothing else decides. What only words need
// (plans, what tries have taught, spring caps) is worked out when it is asked for.
type Status struct {
	known *Snapshot // what it was judged by, for what is worked out when it is asked for

	At       time.Time
	Shop     Shop
	Machine  Machine
	Hours    quantity.Value
	Checks   []CheckStatus   // in the profile's order
	Services []ServiceStatus // those that recur, soonest first
	Tags     []Tag           // standing, oldest first
	Outage   int64
	Waiting  []Latest   // readings kept unconfirmed
	MustTag  []TagCause // what demands a tag that does not stand yet
	Warned   *Warning   // what it will be taken out of service for within days, or nil
	Blockers []Blocker  // what a release still needs
	Dangers  []Danger
	Alarms   []Alarm // dangers that nobody has said they see to, oldest first
	Seen     *SeenBy // who sees to the others that stand, or nil
	Problems []OpenProblem
	Events   map[string]LastService // by event id: the last time that each happened
	Mends    map[string]LastService // by a problem's key: the last time that it was mended
	Over     []Mended               // problems whose cause was found and has been mended since
	Needs    []Need                 // machines without which it must not run
	NeededBy []string               // names of those that must not run without it
	Sets     []BladeSet             // of knives or blades, by name
	Fits     map[string]time.Time   // by event id: the last time that one happened which fits a set
	// Loosening is a change of the set-up that was asked for and waits, or nil.
	Loosening *LooseningBy
	Handover  *HandoverBy // waits to be taken over, or nil
	Test      *Test       // it runs under test, or nil
	TestOver  *Test       // a test whose time has run out, to be ended, or nil
	Counter   *Counter    // nil where no counter was read
	// Reporting is how much use there is for each hour reported, nil where no counter
	// tells; use since the counter was read is scaled by it.
	Reporting *Reporting
	Starting  []Item // items that are still starting values
	// SettingUp says that it is new, or in use with ticks missing: out of service until
	// a first release or the last tick.
	SettingUp bool
	// Unproved says that it was on the books before that was asked, and neither released
	// nor ticked since: it stays as it is, and nobody has said that it may run.
	Unproved bool
	Missing  []profile.Tick // that would prove it, where ticks do
	Began    time.Time      // since when it runs as one that came in use already; zero for others
	spread   map[Item]profile.Rule
	Wake     time.Time // the next instant after At at which time alone changes any of this; zero if none
}

// Unanswered are the readings of safety checks that wait for somebody to say whether they
// are right: until then the machine is not to be used.
func (s Status) Unanswered() []Latest {
	return slices.DeleteFunc(slices.Clone(s.Waiting), func(waits Latest) bool {
		check := s.Check(waits.Check)
		return check == nil || check.Check.Class != profile.Safety
	})
}

// TaggedOut reports whether the machine is out of service.
func (s Status) TaggedOut() bool { return len(s.Tags) > 0 }

// Lacks lists the machines that it needs and that are out of service, or retired: while
// there is one it must not run.
func (s Status) Lacks() []Need {
	return slices.DeleteFunc(slices.Clone(s.Needs), func(n Need) bool { return !n.Out && !n.Retired })
}

// Check finds a check's status by its id, or nil.
func (s Status) Check(id string) *CheckStatus {
	for i := range s.Checks {
		if s.Checks[i].Check.ID == id {
			return &s.Checks[i]
		}
	}
	return nil
}

// Service finds a service's status by its id, or nil.
func (s Status) Service(id string) *ServiceStatus {
	for i := range s.Services {
		if s.Services[i].Service.ID == id {
			return &s.Services[i]
		}
	}
	return nil
}

// Freshness says whether a check's last reading may be relied on.
type Freshness uint8

// Unread: never read. Stale: what it is measured from, or it itself, moved
// after it was read. Fresh: neither.
const (
	Unread Freshness = iota
	Stale
	Fresh
)

// Advice is what to do about a check.
type Advice uint8

// The advice that a verdict brings: nothing; turn the screws as planned; measure
// again; measure again today; stop, the machine must not run.
const (
	AdviceNone Advice = iota
	AdvicePlan
	AdviceMeasure
	AdviceMeasureToday
	AdviceStop
)

// CheckStatus is what is said of one check.
type CheckStatus struct {
	Check     *profile.Check // in the mode of its latest reading
	Freshness Freshness
	StaleFrom string // the id of the check whose surface moved, when stale; also of one of First
	StaleBy   Moved  // and what moved it
	Latest    Latest // zero when unread
	At        []PositionVerdict
	Alike     *AlikeVerdict // nil where positions need not agree
	Grade     metrology.Grade
	Failed    bool // an inspection that did not pass
	Advice    Advice
	Untested  bool // done while it runs, and made since it was tagged out but before a test had begun
	// GoNoGo is its go/no-go check, made since it was last read; nil for none.
	GoNoGo *Latest
	// ProveBy is when the machine is taken out of service unless its value, which reads
	// within the stop limits, is proved; zero for never.
	ProveBy    time.Time
	Unseconded bool // an inspection that passed, and that a second person is still to confirm
	// Asked is the danger after which it is still to be made, the last of several; nil
	// where none asks for it.
	Asked *Danger
	// Predicted is what a stale check should read, in its order of
	// positions, where only the datum that it follows has moved and has been read
	// again; nil otherwise.
	Predicted []quantity.Value
	Due       upkeep.Due  // of the next time it falls due; State NotDue where it never falls due
	Extended  *ExtendedBy // its late limit was moved since it was last made
	LateWas   time.Time   // the late limit that was extended
	TagsAt    time.Time   // when the machine is taken out of service unless it is made; zero if never
	// First is the rule by which it falls due for the first time on a machine that came
	// in use already; nil once it was made, and on others.
	First *profile.Rule
}

// Rule is the rule by which it falls due now, nil where it never does.
func (c CheckStatus) Rule() *profile.Rule {
	if c.First != nil {
		return c.First
	}
	return c.Check.Every
}

// Idle reports whether it is a check that only a danger asks for, was never made, and
// none asks for it.
func (c CheckStatus) Idle() bool {
	return c.Check.OnDemand && c.Freshness == Unread && c.Asked == nil
}

// Stop reports whether the machine must not run by this check's last reading.
func (c CheckStatus) Stop() bool { return c.Advice == AdviceStop }

// PositionVerdict is the verdict on one position's mean.
type PositionVerdict struct {
	Position string
	Verdict  metrology.Verdict
	Budget   metrology.Budget  // what the verdict's uncertainty is made of
	Repeats  metrology.Repeats // in base units
}

// AlikeVerdict is the verdict on the largest difference between positions.
type AlikeVerdict struct {
	Verdict metrology.Verdict
	Budget  metrology.Budget
	Shared  bool   // part of the gauge's uncertainty cancelled
	Low     string // the position that reads least
	High    string // and most
}

// ServiceStatus is when one service falls due.
type ServiceStatus struct {
	Service *profile.Service
	Last    LastService  // Fact is 0 if it was not done since Began
	Began   LastService  // what it is counted from until it is done: the machine's coming (Fact 0) or an event
	Rule    profile.Rule // that counts now; none once it is done and waits for its event
	Due     upkeep.Due
	Because []Trigger // what makes it due that is neither use nor calendar
	// TooEarly says that it was last done before its early window: that does not
	// count.
	TooEarly bool
	Spread   bool      // it falls due for the first time on a machine that came in use already
	PutOff   *PutOffBy // it is put off, and that has not run out
	Taken    *TakenBy  // somebody will do it
	Lapsed   FactNo    // the put-off of this occurrence that has run out, or 0
	TagsAt   time.Time // when the machine is taken out of service unless it is done; zero if never, or not known
}

// Trigger is a problem, or a check outside its limits, that asks for a service.
type Trigger struct {
	Name string
	At   time.Time
	Fact FactNo
}

// From is what the service is counted from: when it was last done, or what it
// began with.
func (s ServiceStatus) From() LastService {
	if s.Last.Fact != 0 {
		return s.Last
	}
	return s.Began
}

// TagCause is a reason for which a machine must be tagged out. While a tag with
// its Key stands, the same cause hangs no second one.
type TagCause struct {
	Key     string
	Because FactNo
	Reason  Reason
}

// Reason says why a machine is tagged out, with the names as they stood, so
// that it can be put into words at any later time.
type Reason struct {
	Code ReasonCode `json:"code"`
	// Name is of the check, service or symptom; of several checks, with commas.
	Name     string          `json:"name,omitempty"`
	Position string          `json:"position,omitempty"` // where, or "A and B" positions of a difference
	Text     string          `json:"text,omitempty"`     // a person's own words
	Value    quantity.Value  `json:"value"`
	Limit    quantity.Value  `json:"limit"` // the limit passed
	Units    quantity.System `json:"units,omitempty"`
	Unit     quantity.Unit   `json:"unit,omitempty"`
	Decimals int             `json:"decimals,omitempty"`
}

// ReasonCode is the kind of reason.
type ReasonCode string

// The reasons for a tag.
const (
	SaidBySomebody ReasonCode = "said"          // a person's own words
	Pressed        ReasonCode = "pressed"       // a person's press, without words; Name is what they were told of
	LockOn         ReasonCode = "lock"          // a personal lock: whoever hung it works in the machine
	OutsideStop    ReasonCode = "outside-stop"  // proved outside a stop limit
	MaybeStop      ReasonCode = "maybe-stop"    // a safety check that reads outside a stop limit, not proved
	TooUnlike      ReasonCode = "too-unlike"    // positions differ by more than the stop limit, proved
	MaybeUnlike    ReasonCode = "maybe-unlike"  // a safety check, not proved
	FailedCheck    ReasonCode = "failed"        // a safety inspection did not pass
	CheckOverdue   ReasonCode = "check-overdue" // a safety inspection past its late limit
	ServiceOverdue ReasonCode = "overdue"       // a safety service past its late limit
	DangerSeen     ReasonCode = "danger"        // a danger symptom
	SurfaceMoved   ReasonCode = "moved"         // a safety check's surface was moved and not read since
	HandedApart    ReasonCode = "apart"         // handed over while it is apart
	NotProved      ReasonCode = "not-proved"    // a safety check within its stop limits, not proved in time
	NoGo           ReasonCode = "no-go"         // a go/no-go check did not pass
	BeingSetUp     ReasonCode = "setting-up"    // not released yet, or a tick is missing
)

// Blocker is one thing that a release still needs.
type Blocker struct {
	Code BlockerCode `json:"code"`
	ID   string      `json:"id"`   // of the check or service
	Name string      `json:"name"` // as it stood
	From string      `json:"from,omitempty"`
	// Running says that the machine must run for it: it is done under test.
	Running bool     `json:"running,omitempty"`
	By      PersonID `json:"by,omitempty"` // whose lock it is
}

// BlockerCode is the kind of blocker.
type BlockerCode string

// What can block a release.
const (
	BlockUnread    BlockerCode = "unread"    // a check never read
	BlockStale     BlockerCode = "stale"     // a check whose datum (From) moved
	BlockMoved     BlockerCode = "moved"     // a check whose own surface moved
	BlockStop      BlockerCode = "stop"      // a reading past a stop limit
	BlockUndecided BlockerCode = "undecided" // a safety reading not proved within its stop limits
	BlockFailed    BlockerCode = "failed"    // an inspection that did not pass
	BlockOverdue   BlockerCode = "overdue"   // a safety inspection or service past its late limit
	BlockUntested  BlockerCode = "untested"  // a check done while it runs, made before the test had begun
	BlockWaiting   BlockerCode = "waiting"   // a reading kept unconfirmed
	BlockSecond    BlockerCode = "second"    // an inspection that a second person is still to confirm
	BlockAfter     BlockerCode = "after"     // a check that is made after a danger, which From names
	BlockHandover  BlockerCode = "handover"  // handed over apart, and not taken over yet
	BlockLock      BlockerCode = "lock"      // a personal lock that is on
	BlockDoubt     BlockerCode = "doubt"     // a problem that may be dangerous, of which nobody has said
)
