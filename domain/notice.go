package domain

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"time"

	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
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
}

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
	Name    string          `json:"name,omitempty"` // of the service or check
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
	Cause   string          `json:"cause,omitempty"`  // what a problem was, by its name
	People  []PersonID      `json:"people,omitempty"` // who is told
	Causes  bool            `json:"causes,omitempty"` // the profile knows what may lie behind it
	Back    FactNo          `json:"back,omitempty"`   // the mend after which a problem came back
	Others  []string        `json:"others,omitempty"` // machines that must not run without this one, by name
}

// EncodeArgs writes args for the outbox; DecodeArgs reads them back.
func EncodeArgs(a NoticeArgs) ([]byte, error) { return json.Marshal(a) }

// DecodeArgs reads what EncodeArgs wrote, by this version or an earlier one.
func DecodeArgs(text []byte) (NoticeArgs, error) {
	var a NoticeArgs
	if err := json.Unmarshal(text, &a); err != nil {
		return a, fmt.Errorf("notice: %w", err)
	}
	if a.V < 1 || a.V > NoticeVersion {
		return a, fmt.Errorf("notice of version %d; this program reads 1 to %d", a.V, NoticeVersion)
	}
	return a, nil
}

// Owed lists, in order, what the channel is owed when a machine's status went
// from before to after because of fact (nil for a sweep). Keys tell apart what
// was owed already, so owing the same thing twice does nothing.
func Owed(before, after Status, fact *Fact) []Notice {
	var n []Notice
	id := after.Machine.ID
	args := NoticeArgs{V: NoticeVersion, Machine: after.Machine.Name, At: after.At, Units: after.Machine.UnitsIn(after.Shop)}
	add := func(key string, op Op, target string, topic Topic, a NoticeArgs) {
		n = append(n, Notice{Key: fmt.Sprintf("m%d/%s", id, key), Machine: id, Op: op,
			Target: target, Topic: topic, Args: a})
	}
	full := func(key string) string { return fmt.Sprintf("m%d/%s", id, key) }

	// Tags.
	tags := args
	tags.Tags, tags.Needs, tags.Others = after.Tags, after.Blockers, after.NeededBy
	if after.Test != nil {
		tags.By = after.Test.By
	}
	out := fmt.Sprintf("out/%d", after.Outage)
	switch {
	case !before.TaggedOut() && after.TaggedOut():
		add(out, Post, "", TopicTagOut, tags)
		add(out+"/pin", Pin, full(out), TopicTagOut, tags)
	case before.TaggedOut() && after.TaggedOut():
		if fact != nil && (!reflect.DeepEqual(before.Tags, after.Tags) || !reflect.DeepEqual(before.Blockers, after.Blockers) || !reflect.DeepEqual(before.Test, after.Test)) {
			add(fmt.Sprintf("%s/edit/%d", out, fact.No), Edit, full(out), TopicTagOut, tags)
		} else if len(before.Tags) != len(after.Tags) {
			last := after.Tags[len(after.Tags)-1]
			add(fmt.Sprintf("%s/edit/%d", out, last.Fact), Edit, full(out), TopicTagOut, tags)
		}
	case before.TaggedOut() && !after.TaggedOut():
		lifted := tags
		lifted.Lifted, lifted.Tags, lifted.Needs = true, before.Tags, nil
		add(out+"/lifted", Edit, full(out), TopicTagOut, lifted)
		add(out+"/unpin", Unpin, full(out), TopicTagOut, lifted)
		back := args
		back.Others = after.NeededBy
		add(out+"/back", Post, "", TopicBack, back)
	}

	// A test that begins, or ends without a release.
	switch {
	case after.Test != nil && (before.Test == nil || before.Test.Fact != after.Test.Fact):
		a := args
		a.By = after.Test.By
		add(fmt.Sprintf("test/%d", after.Test.Fact), Post, "", TopicTest, a)
	case before.Test != nil && after.Test == nil && after.TaggedOut():
		add(fmt.Sprintf("test/%d/ended", before.Test.Fact), Post, "", TopicTestEnded, args)
	}

	// What fell due, and what became of it: one notice for each occurrence, edited as
	// its state changes, and a call of the stewards when it is late and matters. An
	// edit of what was never posted is dropped by the outbox.
	key := func(a NoticeArgs, last FactNo) string {
		if a.Check {
			return fmt.Sprintf("check-due/%s/%d", a.ID, last)
		}
		return fmt.Sprintf("due/%s/%d", a.ID, last)
	}
	due := func(a NoticeArgs, k string, is upkeep.Due, matters, safety bool) {
		a.Left, a.On, a.Late = is.Left, is.On, is.State == upkeep.Late
		switch {
		case is.State == upkeep.NotDue:
		case !a.Late:
			a.Call = safety
			add(k, Post, "", TopicDue, a)
		default:
			add(k+"/overdue", Edit, full(k), TopicDue, a)
			if matters {
				k += "/late"
				a.Call = true
			}
			add(k, Post, "", TopicDue, a)
		}
	}
	became := func(a NoticeArgs, k, what string, topic Topic) {
		if fact == nil {
			return
		}
		a.Fact = fact.No
		add(fmt.Sprintf("%s/%s/%d", k, what, fact.No), Edit, full(k), topic, a)
		add(fmt.Sprintf("%s/late/%s/%d", k, what, fact.No), Edit, full(k+"/late"), topic, a)
	}
	for _, s := range after.Services {
		a := args
		a.ID, a.Name, a.Hands = s.Service.ID, s.Service.Name, s.Service.Isolated
		if s.Taken != nil {
			a.Taken = s.Taken.By
		}
		k := key(a, s.From().Fact)
		if s.Lapsed != 0 {
			k = fmt.Sprintf("%s/again/%d", k, s.Lapsed)
		}
		matters, safety := s.Service.Class != profile.RoutineService, s.Service.Class == profile.SafetyService
		if s.PutOff == nil {
			due(a, k, s.Due, matters, safety)
		}
		was := before.Service(a.ID)
		switch {
		case was == nil || was.Due.State == upkeep.NotDue:
		case was.From().Fact != s.From().Fact && s.Last.Fact != 0 && s.Due.State == upkeep.NotDue:
			for _, k := range s.keys(key(a, was.From().Fact), was.Lapsed) {
				became(a, k, "done", TopicDone)
			}
		case was.From().Fact != s.From().Fact:
		case s.Due.State == upkeep.NotDue:
			became(a, k, "not-due", TopicNotDue)
		case s.PutOff != nil && was.PutOff == nil:
			a.On, a.Note, a.By = s.PutOff.Until, s.PutOff.Why, s.PutOff.By
			became(a, k, "put-off", TopicPutOff)
		case s.Taken != nil && was.Taken == nil:
			a.Left, a.On, a.Late = s.Due.Left, s.Due.On, s.Due.State == upkeep.Late
			became(a, k, "taken", TopicDue)
		}
	}
	for _, c := range after.Checks {
		a := args
		a.ID, a.Name, a.Check, a.Hands, a.Running = c.Check.ID, c.Check.Name, true, c.Check.Isolated, c.Check.Running
		safety := c.Check.Class == profile.Safety
		due(a, key(a, c.Latest.Fact), c.Due, safety, false)
		if was := before.Check(a.ID); was != nil && was.Latest.Fact != c.Latest.Fact && was.Due.State != upkeep.NotDue && c.Due.State == upkeep.NotDue {
			became(a, key(a, was.Latest.Fact), "done", TopicDone)
		}
	}

	// What is mended is said where it was reported, and to those who reported it.
	for _, p := range before.Problems {
		m, ok := after.Mends[p.Key]
		if !ok || m.Fact <= p.Last || slices.ContainsFunc(after.Problems, func(q OpenProblem) bool { return q.Key == p.Key }) {
			continue
		}
		a := args
		a.Fact, a.Name, a.Reports, a.People = m.Fact, p.Name, p.Reports, p.By
		if id, _ := p.Cause(); id != "" {
			if c := after.Machine.Profile.Cause(id); c != nil {
				a.Cause = c.Name
			}
		}
		if fact != nil {
			if b, ok := fact.Body.(Mended); ok {
				a.Note = b.Note
			}
			if b, ok := fact.Body.(Found); ok && b.Key == p.Key && b.Answer == AnswerYes { // nothing but how it is used
				if c := after.Machine.Profile.Cause(strings.TrimPrefix(b.About, CauseItem(""))); c != nil {
					a.Cause, a.Note = c.Name, c.Advice
				}
			}
		}
		k := fmt.Sprintf("problem/%d", p.First)
		add(fmt.Sprintf("%s/mended/%d", k, m.Fact), Edit, full(k), TopicMended, a)
		if len(a.People) > 0 {
			add(fmt.Sprintf("%s/told/%d", k, m.Fact), Post, "", TopicTold, a)
		}
	}

	// What the steward is told of one report.
	if fact == nil {
		return n
	}
	a := args
	a.Fact = fact.No
	switch b := fact.Body.(type) {
	case Reading:
		c := after.Check(b.Check)
		if c == nil {
			break
		}
		a.ID, a.Name, a.Typed = b.Check, c.Check.Name, b.Typed
		switch {
		case b.Unconfirmed:
			add(fmt.Sprintf("unlikely/%d", fact.No), Post, "", TopicUnlikely, a)
		case c.Latest.Fact != fact.No:
		case after.TaggedOut(): // the tag's notice says what is needed
		case c.Advice == AdvicePlan:
			add(fmt.Sprintf("adjust/%d", fact.No), Post, "", TopicOutOfTrue, a)
		case c.Advice == AdviceMeasureToday:
			add(fmt.Sprintf("measure/%d", fact.No), Post, "", TopicMeasureNow, a)
		}
	case Problem:
		if b.Danger {
			break // its tag says it
		}
		i := slices.IndexFunc(after.Problems, func(p OpenProblem) bool { return p.Key == b.Key() })
		if i < 0 {
			break
		}
		p := after.Problems[i]
		a.Name, a.Reports, a.Note, a.Photo, a.Back = p.Name, p.Reports, b.Note, b.Photo, p.Returned
		a.Causes = NewDiagnosis(after.Machine.Profile, p.Symptom) != nil
		k := fmt.Sprintf("problem/%d", p.First)
		if p.First == fact.No {
			add(k, Post, "", TopicProblem, a)
		} else {
			add(fmt.Sprintf("%s/again/%d", k, fact.No), Edit, full(k), TopicProblem, a)
		}
	case Hours:
		if before.TaggedOut() && before.Test == nil {
			a.Used = b.Used()
			add(fmt.Sprintf("ran/%d", fact.No), Post, "", TopicRanTagged, a)
		}
	}
	return n
}

// keys are the keys of the notices of one occurrence: the first, and that after it
// was put off.
func (s ServiceStatus) keys(k string, lapsed FactNo) []string {
	if lapsed == 0 {
		return []string{k}
	}
	return []string{k, fmt.Sprintf("%s/again/%d", k, lapsed)}
}

// Undelivered is a notice in the outbox: not yet confirmed to stand in the channel.
type Undelivered struct {
	Shop     ShopID
	ID       int64
	Notice   Notice
	Made     time.Time // when it was first owed
	Attempts int
	Tried    time.Time // the first attempt; zero if none yet
	Message  string    // the message id of its Target, "" while that is not posted
}
