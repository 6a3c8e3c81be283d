package domain

import (
	"encoding/json"
	"fmt"
	"time"

	"setscrew/domain/quantity"
)

// Notice is an operation owed to the shop's channel. It carries all that its
// words need, so that it can be rendered whenever it is posted; Key is unique
// in the shop, so that it is owed once.
type Notice struct {
	Key     string
	Machine MachineID // notices of one machine are posted in order
	Op      Op
	Target  string // Key of the post that an edit, pin or unpin is about
	Topic   Topic
	Args    NoticeArgs
	// Group are the notices that share its message, each as it stands, itself among them;
	// empty where it has a message of its own. The outbox fills it in.
	Group []Notice
}

// Joins reports whether a notice shares a message with others of its machine that join
// and are as urgent, where they have not been sent yet: what falls due.
func (n Notice) Joins() bool { return n.Op == Post && n.Topic == TopicDue }

// Op is what a notice does to the channel.
type Op string

// The operations.
const (
	Post  Op = "post"
	Edit  Op = "edit"
	Pin   Op = "pin"
	Unpin Op = "unpin"
)

// Topic is what a notice is about.
type Topic string

// The topics.
const (
	TopicTagOut     Topic = "tag-out"
	TopicBack       Topic = "back-in-service"
	TopicTest       Topic = "under-test"
	TopicTestEnded  Topic = "test-ended"
	TopicTestAsk    Topic = "test-ask" // whoever tests is asked whether it goes on
	TopicProblem    Topic = "problem"
	TopicTold       Topic = "told" // that what they reported is mended
	TopicMended     Topic = "mended"
	TopicDue        Topic = "due"
	TopicDone       Topic = "done"
	TopicNotDue     Topic = "no-longer-due"
	TopicPutOff     Topic = "put-off"
	TopicUnlikely   Topic = "unlikely-reading"
	TopicRanTagged  Topic = "ran-while-tagged"
	TopicOutOfTrue  Topic = "out-of-adjustment"
	TopicMeasureNow Topic = "measure-today"
	TopicDigest     Topic = "digest"
	TopicWarned     Topic = "overdue-soon" // what a machine will be taken out of service for
	TopicDoubt      Topic = "doubt"        // that it may be dangerous, and nobody has said
	TopicLoosening  Topic = "loosening"    // that a change which loosens a safety check waits, or no longer does
	TopicLoosened   Topic = "loosened"     // that it is in force
	TopicPhoto      Topic = "photo"        // what a report came with
	TopicDanger     Topic = "danger"       // that another danger was reported on a machine out of service
	TopicUnseen     Topic = "unseen"       // that nobody has said they see to a danger
	TopicUnbooked   Topic = "unbooked"     // a danger that the books could not take
	TopicUnproved   Topic = "unproved"     // that nobody has said how a machine on the books stands
	TopicLockAsked  Topic = "lock-asked"   // the owner of a lock is asked
	TopicLockNoted  Topic = "lock-noted"   // a second person is to confirm what was noted
	TopicLockKept   Topic = "lock-kept"    // its owner says that it stays on
	TopicLockOff    Topic = "lock-off"     // it came off without its owner, who is told
	TopicLockOver   Topic = "lock-over"    // what was asked, or noted, is over
)

// NoticeVersion is the version of NoticeArgs that this program writes.
const NoticeVersion = 1

// NoticeArgs are what a notice's words need. A field is set where its topic
// uses it.
type NoticeArgs struct {
	V       int             `json:"v"`
	Machine string          `json:"machine"`
	At      time.Time       `json:"at"`
	Units   quantity.System `json:"units,omitempty"`
	Fact    FactNo          `json:"fact,omitempty"` // the report behind it
	Tags    []Tag           `json:"tags,omitempty"`
	Needs   []Blocker       `json:"needs,omitempty"`
	Lifted  bool            `json:"lifted,omitempty"`
	Mistake bool            `json:"mistake,omitempty"` // it was stopped by mistake
	Name    string          `json:"name,omitempty"`    // of the service or check
	ID      string          `json:"id,omitempty"`
	Check   bool            `json:"check,omitempty"`   // ID is a check's, not a service's
	Hands   bool            `json:"hands,omitempty"`   // done with hands inside
	Running bool            `json:"running,omitempty"` // done while it runs
	Late    bool            `json:"late,omitempty"`
	Call    bool            `json:"call,omitempty"`  // the stewards are called
	Taken   PersonID        `json:"taken,omitempty"` // who will do it
	Left    quantity.Value  `json:"left"`            // hours of use until due; negative when over
	On      time.Time       `json:"on,omitzero"`
	Used    quantity.Value  `json:"used"`              // hours reported while tagged
	Typed   string          `json:"typed"`             // a reading as it was written
	By      PersonID        `json:"by,omitempty"`      // the steward who tests
	Reports int             `json:"reports,omitempty"` // of one problem
	Note    string          `json:"note,omitempty"`
	Photo   *Photo          `json:"photo,omitempty"`
	Digest  []DigestItem    `json:"digest,omitempty"`
	Pings   bool            `json:"pings,omitempty"` // a digest calls the stewards
	Pinged  time.Time       `json:"pinged,omitzero"` // when one last did, or the first was said
	Warned  []WarnedItem    `json:"warned,omitempty"`
	Cause   string          `json:"cause,omitempty"`   // what a problem was, by its name
	People  []PersonID      `json:"people,omitempty"`  // who is told
	Doubt   bool            `json:"doubt,omitempty"`   // it may be dangerous
	Seen    PersonID        `json:"seen,omitempty"`    // who sees to the dangers that stand
	Now     bool            `json:"now,omitempty"`     // a photo of what stops a machine: quiet hours do not keep it
	Unseen  FactNo          `json:"unseen,omitempty"`  // a danger of the tags that nobody sees to, by its tag
	Causes  bool            `json:"causes,omitempty"`  // the profile knows what may lie behind it
	Back    FactNo          `json:"back,omitempty"`    // the mend after which a problem came back
	Others  []string        `json:"others,omitempty"`  // machines that must not run without this one, by name
	Loosens []Loosening     `json:"loosens,omitempty"` // what a set-up asks less of
	Page    string          `json:"page,omitempty"`    // of the maker's manual
	Second  PersonID        `json:"second,omitempty"`  // who put it in force
	Why     string          `json:"why,omitempty"`     // and what they noted
	// Confirmed says that an unlikely reading was said to be right.
	Confirmed bool   `json:"confirmed,omitempty"`
	Booked    FactNo `json:"booked,omitempty"` // the report that was told before the books could take it
	// Measured says that what is due is measured, Unproved that nobody has said of the
	// machine that it may run, Begins that it is or was being set up.
	Measured bool `json:"measured,omitempty"`
	Unproved bool `json:"unproved,omitempty"`
	Begins   bool `json:"begins,omitempty"`
}

// Urgency is how soon a notice must stand in the channel: the least goes first.
type Urgency int

// The urgencies.
const (
	UrgentDanger  Urgency = iota // that a machine must not be used, or may be dangerous
	UrgentCall                   // that the stewards are called, or somebody is told to keep clear
	UrgentRelease                // that a machine is back
	Routine                      // the rest
)

// Urgency is the notice's own; one behind which a more urgent one of its machine waits
// goes as soon as that.
func (n Notice) Urgency() Urgency {
	switch {
	case n.Topic == TopicTagOut && !n.Args.Lifted, n.Topic == TopicDoubt && !n.Args.Lifted,
		n.Topic == TopicProblem && n.Args.Doubt, n.Topic == TopicUnbooked,
		n.Topic == TopicUnseen && n.Op == Post, n.Topic == TopicDanger:
		return UrgentDanger
	case n.Topic == TopicLockAsked, n.Topic == TopicLockNoted, n.Topic == TopicLockKept, n.Topic == TopicLockOff:
		return UrgentCall
	case n.Op == Post && (n.Args.Call || n.Topic == TopicTest || n.Topic == TopicTestAsk || n.Topic == TopicRanTagged ||
		n.Topic == TopicMeasureNow || n.Topic == TopicUnlikely):
		return UrgentCall
	case n.Topic == TopicTagOut, n.Topic == TopicBack, n.Topic == TopicTestEnded, n.Topic == TopicUnseen:
		return UrgentRelease
	}
	return Routine
}

// EncodeArgs writes args for the outbox; DecodeArgs reads them back.
func EncodeArgs(a NoticeArgs) ([]byte, error) {
	text, err := json.Marshal(a)
	if err != nil {
		return nil, fmt.Errorf("write what a notice says: %w", err)
	}
	return text, nil
}

// DecodeArgs reads what EncodeArgs wrote, by this version or an earlier one.
func DecodeArgs(text []byte) (NoticeArgs, error) {
	var args NoticeArgs
	if err := json.Unmarshal(text, &args); err != nil {
		return args, fmt.Errorf("read what a notice says: %w", err)
	}
	if args.V < 1 || args.V > NoticeVersion {
		return args, fmt.Errorf("read what a notice says: it is of version %d; this program reads 1 to %d",
			args.V, NoticeVersion)
	}
	return args, nil
}

// Undelivered is a notice in the outbox: not yet confirmed to stand in the channel. The
// Target of one about a message that notices share is the key that it was posted under.
type Undelivered struct {
	Shop     ShopID
	ID       int64
	Notice   Notice
	Made     time.Time // when it was first owed
	Attempts int
	Mended   int       // how often what kept it from its channel may have been mended
	Sent     time.Time // when a post that may stand there was sent first; zero if it surely does not
	Last     int64     // the ID of the last notice that a post's message tells of: its own, or of its Group
	Message  string    // the message id of its Target, "" while that is not posted
	Urgency  Urgency   // the greatest of the machine's notices that wait: it holds them up
}
