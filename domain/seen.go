package domain

import (
	"fmt"
	"slices"
	"time"
)

// SeenWithin is how long a danger waits for somebody to say that they see to it, before
// the person whom the shop named is called. Our own choice.
const SeenWithin = 15 * time.Minute

// surelyCalled is how long after its time a call has been made, since the program looks
// once a minute.
const surelyCalled = 2 * time.Minute

// Alarm is a danger that stands on a machine, and that somebody is to see to: a tag hung
// for it, or a report that may be one and that nobody has answered.
type Alarm struct {
	Fact  FactNo // the tag's, or the last report's
	Name  string
	At    time.Time // since when it stands
	Doubt bool      // nobody has said whether it is one
	First FactNo    // the same for as long as it stands
}

// CallAt is when somebody is called about it, unless one has said that they see to it.
func (a Alarm) CallAt() time.Time { return a.At.Add(SeenWithin) }

// key is the key of the call about it among the machine's notices.
func (a Alarm) key() string {
	if a.Doubt {
		return fmt.Sprintf("unseen/doubt/%d", a.First)
	}
	return fmt.Sprintf("unseen/%d", a.First)
}

// SeenBy is who said last that they see to the dangers on a machine.
type SeenBy struct {
	Fact  FactNo
	At    time.Time
	By    PersonID
	Until FactNo // the last of the reports that they have seen; what came up later waits still
}

// NewSeenBy is who sees to what, by a fact that says so.
func NewSeenBy(fact Fact, body SeenTo) *SeenBy {
	seen := &SeenBy{Fact: fact.No, At: fact.At, By: fact.For, Until: body.Of}
	if body.Of == 0 {
		seen.Until = fact.No
	}
	return seen
}

// dangersOn lists the dangers that stand on a machine, seen to or not, oldest first; one
// whose report was withdrawn is none.
func dangersOn(status Status) (all []Alarm) {
	for _, tag := range status.Tags {
		if tag.Reason.Code == DangerSeen && !tag.ReportWithdrawn {
			all = append(all, Alarm{Fact: tag.Fact, Name: tag.Reason.Name, At: tag.At, First: tag.Fact})
		}
	}
	if status.TaggedOut() {
		return all // it stands still, whatever may be dangerous besides
	}
	for _, p := range status.Doubts() {
		all = append(all, Alarm{Fact: p.Last, Name: p.Name, At: p.LastAt, Doubt: true, First: p.First})
	}
	return all
}

// seen fills in which dangers nobody sees to, and who sees to the others.
func seen(status *Status, snap Snapshot) {
	last := snap.Seen
	for _, alarm := range dangersOn(*status) {
		if last != nil && alarm.Fact <= last.Until {
			status.Seen = last
			continue
		}
		status.Alarms = append(status.Alarms, alarm)
	}
}

// seenBy is who sees to the dangers that stand, "" for nobody.
func (s Status) seenBy() PersonID {
	if s.Seen == nil {
		return ""
	}
	return s.Seen.By
}

// unseenTag is the last tag for a danger that nobody sees to, 0 for none.
func (s Status) unseenTag() (no FactNo) {
	for _, alarm := range s.Alarms {
		if !alarm.Doubt {
			no = alarm.Fact
		}
	}
	return no
}

// admitSeen refuses to see to what does not stand, or what somebody sees to already.
func admitSeen(before Status, body SeenTo) *Refusal {
	is := func(a Alarm) bool { return a.Fact == body.Of }
	switch {
	case slices.ContainsFunc(before.Alarms, is):
		return nil
	case slices.ContainsFunc(dangersOn(before), is):
		return &Refusal{Code: SeenBefore, Name: before.Machine.Name, Fact: before.Seen.Fact}
	}
	return &Refusal{Code: NothingToSee, Name: before.Machine.Name}
}

// ShowsCare is what a report shows beside what it says: a steward who tests or releases a
// machine sees to the dangers that stand on it; work that may have been routine shows
// nothing. no is the report's number; ok is false where it shows nothing of the kind.
func ShowsCare(before Status, entry Entry, no FactNo) (shown SeenTo, ok bool) {
	switch entry.Body.(type) {
	case UnderTest, TestRenewed, TestEnded, Release:
	default:
		return SeenTo{}, false
	}
	// What was done before a danger came up says nothing about it.
	earlier := func(a Alarm) bool { return entry.At.Before(a.At) }
	return SeenTo{Because: no}, entry.Steward && len(before.Alarms) > 0 &&
		!slices.ContainsFunc(before.Alarms, earlier)
}

// unseen owes a call, once for each danger, of those who are called where nobody has said
// in time that they see to it; and the edits of that call, and of the question whether it
// is one, once somebody does, or takes it back, or it is over.
func (o *owed) unseen() {
	about := func(a Alarm) NoticeArgs {
		args := o.args
		args.Fact, args.Name, args.Call = a.Fact, a.Name, true
		return args
	}
	for _, alarm := range o.after.Alarms {
		if !o.after.At.Before(alarm.CallAt()) {
			o.post(alarm.key(), TopicUnseen, about(alarm))
		}
	}
	if o.fact == nil {
		return
	}
	same := func(a Alarm) func(Alarm) bool {
		return func(b Alarm) bool { return a.key() == b.key() }
	}
	now := dangersOn(o.after)
	for _, alarm := range dangersOn(o.before) {
		stands := slices.ContainsFunc(now, same(alarm))
		was := slices.ContainsFunc(o.before.Alarms, same(alarm))
		is := slices.ContainsFunc(o.after.Alarms, same(alarm))
		args := about(alarm)
		switch {
		case !stands:
			args.Lifted = true
		case was == is:
			continue
		case !is:
			args.Seen = o.after.seenBy()
		}
		o.edit(fmt.Sprintf("%s/edit/%d", alarm.key(), o.fact.No), alarm.key(), TopicUnseen, args)
		if is && !was && o.before.Seen != nil && o.before.Seen.At.After(alarm.CallAt().Add(surelyCalled)) {
			// The call was made; whoever saw to it then does not after all.
			o.post(fmt.Sprintf("%s/again/%d", alarm.key(), o.fact.No), TopicUnseen, about(alarm))
		}
		if stands && alarm.Doubt {
			question := doubtKey(alarm.Fact)
			o.edit(fmt.Sprintf("%s/seen/%d", question, o.fact.No), question, TopicDoubt, args)
		}
	}
}
