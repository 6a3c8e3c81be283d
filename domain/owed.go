package domain

import (
	"fmt"
	"reflect"
	"slices"

	"setscrew/domain/profile"
	"setscrew/domain/upkeep"
)

// Owed lists, in order, what the channel is owed when a machine's status went
// from before to after because of fact (nil for a sweep). Keys tell apart what
// was owed already, so owing the same thing twice does nothing.
func Owed(before, after Status, fact *Fact) []Notice {
	o := owed{before: before, after: after, fact: fact,
		args: NoticeArgs{V: NoticeVersion, Machine: after.Machine.Name, At: after.At, Units: after.Machine.UnitsIn(after.Shop)}}
	o.tags()
	o.test()
	for _, s := range after.Services {
		o.service(s)
	}
	for _, c := range after.Checks {
		o.check(c)
	}
	for _, p := range before.Problems {
		o.mended(p)
	}
	if fact != nil {
		o.reported(*fact)
	}
	return o.list
}

// owed collects what is owed of one change of a machine's status.
type owed struct {
	before, after Status
	fact          *Fact      // nil for a sweep
	args          NoticeArgs // what every notice of the machine says
	list          []Notice
}

// full is a notice's key in the shop for its key among the machine's notices.
func (o *owed) full(key string) string { return fmt.Sprintf("m%d/%s", o.after.Machine.ID, key) }

// post owes a new message.
func (o *owed) post(key string, topic Topic, a NoticeArgs) { o.add(key, Post, "", topic, a) }

// edit owes an edit of the message that was owed under target.
func (o *owed) edit(key, target string, topic Topic, a NoticeArgs) {
	o.add(key, Edit, o.full(target), topic, a)
}

func (o *owed) add(key string, op Op, target string, topic Topic, a NoticeArgs) {
	o.list = append(o.list, Notice{Key: o.full(key), Machine: o.after.Machine.ID, Op: op, Target: target, Topic: topic, Args: a})
}

// tags owes one pinned message for each time out of service, kept up to date while
// tags stand, and one that the machine is back.
func (o *owed) tags() {
	before, after := o.before, o.after
	a := o.args
	a.Tags, a.Needs, a.Others = after.Tags, after.Blockers, after.NeededBy
	if after.Test != nil {
		a.By = after.Test.By
	}
	out := fmt.Sprintf("out/%d", after.Outage)
	switch {
	case !before.TaggedOut() && after.TaggedOut():
		o.post(out, TopicTagOut, a)
		o.add(out+"/pin", Pin, o.full(out), TopicTagOut, a)
	case before.TaggedOut() && after.TaggedOut():
		changed := !reflect.DeepEqual(before.Tags, after.Tags) || !reflect.DeepEqual(before.Blockers, after.Blockers) ||
			!reflect.DeepEqual(before.Test, after.Test)
		if o.fact != nil && changed {
			o.edit(fmt.Sprintf("%s/edit/%d", out, o.fact.No), out, TopicTagOut, a)
		} else if len(before.Tags) != len(after.Tags) {
			last := after.Tags[len(after.Tags)-1]
			o.edit(fmt.Sprintf("%s/edit/%d", out, last.Fact), out, TopicTagOut, a)
		}
	case before.TaggedOut() && !after.TaggedOut():
		lifted := a
		lifted.Lifted, lifted.Tags, lifted.Needs = true, before.Tags, nil
		o.edit(out+"/lifted", out, TopicTagOut, lifted)
		o.add(out+"/unpin", Unpin, o.full(out), TopicTagOut, lifted)
		back := o.args
		back.Others = after.NeededBy
		o.post(out+"/back", TopicBack, back)
	}
}

// test owes that a test begins, or ends without a release.
func (o *owed) test() {
	before, after := o.before, o.after
	switch {
	case after.Test != nil && (before.Test == nil || before.Test.Fact != after.Test.Fact):
		a := o.args
		a.By = after.Test.By
		o.post(fmt.Sprintf("test/%d", after.Test.Fact), TopicTest, a)
	case before.Test != nil && after.Test == nil && after.TaggedOut():
		o.post(fmt.Sprintf("test/%d/ended", before.Test.Fact), TopicTestEnded, o.args)
	}
}

// due owes one notice for each occurrence of what falls due, edited as its state
// changes, and a call of the stewards when it is late and matters. An edit of what
// was never posted is dropped by the outbox.
func (o *owed) due(a NoticeArgs, key string, is upkeep.Due, matters, safety bool) {
	a.Left, a.On, a.Late = is.Left, is.On, is.State == upkeep.Late
	switch {
	case is.State == upkeep.NotDue:
	case !a.Late:
		a.Call = safety
		o.post(key, TopicDue, a)
	default:
		o.edit(key+"/overdue", key, TopicDue, a)
		if matters {
			key += "/late"
			a.Call = true
		}
		o.post(key, TopicDue, a)
	}
}

// became owes the edits of a due notice that say what a report made of it.
func (o *owed) became(a NoticeArgs, key, what string, topic Topic) {
	if o.fact == nil {
		return
	}
	a.Fact = o.fact.No
	o.edit(fmt.Sprintf("%s/%s/%d", key, what, o.fact.No), key, topic, a)
	o.edit(fmt.Sprintf("%s/late/%s/%d", key, what, o.fact.No), key+"/late", topic, a)
}

// dueKey is the key of the notice that says that something fell due, counted from the
// last time that it was done.
func dueKey(a NoticeArgs, last FactNo) string {
	if a.Check {
		return fmt.Sprintf("check-due/%s/%d", a.ID, last)
	}
	return fmt.Sprintf("due/%s/%d", a.ID, last)
}

// againKey is the key of the notice that says so again after it was put off.
func againKey(key string, lapsed FactNo) string { return fmt.Sprintf("%s/again/%d", key, lapsed) }

// service owes that a service fell due, and what became of it: done, no longer due,
// put off, or taken by somebody.
func (o *owed) service(s ServiceStatus) {
	a := o.args
	a.ID, a.Name, a.Hands = s.Service.ID, s.Service.Name, s.Service.Isolated
	if s.Taken != nil {
		a.Taken = s.Taken.By
	}
	key := dueKey(a, s.From().Fact)
	if s.Lapsed != 0 {
		key = againKey(key, s.Lapsed)
	}
	if s.PutOff == nil {
		o.due(a, key, s.Due, s.Service.Class != profile.RoutineService, s.Service.Class == profile.SafetyService)
	}
	was := o.before.Service(a.ID)
	switch {
	case was == nil || was.Due.State == upkeep.NotDue:
	case was.From().Fact != s.From().Fact && s.Last.Fact != 0 && s.Due.State == upkeep.NotDue:
		old := dueKey(a, was.From().Fact)
		o.became(a, old, "done", TopicDone)
		if was.Lapsed != 0 {
			o.became(a, againKey(old, was.Lapsed), "done", TopicDone)
		}
	case was.From().Fact != s.From().Fact:
	case s.Due.State == upkeep.NotDue:
		o.became(a, key, "not-due", TopicNotDue)
	case s.PutOff != nil && was.PutOff == nil:
		a.On, a.Note, a.By = s.PutOff.Until, s.PutOff.Why, s.PutOff.By
		o.became(a, key, "put-off", TopicPutOff)
	case s.Taken != nil && was.Taken == nil:
		a.Left, a.On, a.Late = s.Due.Left, s.Due.On, s.Due.State == upkeep.Late
		o.became(a, key, "taken", TopicDue)
	}
}

// check owes that a check fell due, and that it was made.
func (o *owed) check(c CheckStatus) {
	a := o.args
	a.ID, a.Name, a.Check, a.Hands, a.Running = c.Check.ID, c.Check.Name, true, c.Check.Isolated, c.Check.Running
	o.due(a, dueKey(a, c.Latest.Fact), c.Due, c.Check.Class == profile.Safety, false)
	was := o.before.Check(a.ID)
	if was != nil && was.Latest.Fact != c.Latest.Fact && was.Due.State != upkeep.NotDue && c.Due.State == upkeep.NotDue {
		o.became(a, dueKey(a, was.Latest.Fact), "done", TopicDone)
	}
}

// mended owes that a problem is mended, where it was reported and to those who
// reported it.
func (o *owed) mended(p OpenProblem) {
	m, ok := o.after.Mends[p.Key]
	if !ok || m.Fact <= p.Last || slices.ContainsFunc(o.after.Problems, func(q OpenProblem) bool { return q.Key == p.Key }) {
		return
	}
	a := o.args
	a.Fact, a.Name, a.Reports, a.People = m.Fact, p.Name, p.Reports, p.By
	if id, _ := p.Cause(); id != "" {
		if c := o.after.Machine.Profile.Cause(id); c != nil {
			a.Cause = c.Name
		}
	}
	if o.fact != nil {
		switch b := o.fact.Body.(type) {
		case Mended:
			a.Note = b.Note
		case Found:
			// Nothing but how it is used: the cause was found, and there is nothing to mend.
			if b.Key == p.Key && b.Answer == AnswerYes {
				if c := o.after.Machine.Profile.Cause(b.About.ID); c != nil && b.About.Kind == CauseItem {
					a.Cause, a.Note = c.Name, c.Advice
				}
			}
		}
	}
	key := fmt.Sprintf("problem/%d", p.First)
	o.edit(fmt.Sprintf("%s/mended/%d", key, m.Fact), key, TopicMended, a)
	if len(a.People) > 0 {
		o.post(fmt.Sprintf("%s/told/%d", key, m.Fact), TopicTold, a)
	}
}

// reported owes what the stewards are told of one report.
func (o *owed) reported(f Fact) {
	a := o.args
	a.Fact = f.No
	switch b := f.Body.(type) {
	case Reading:
		o.reading(f, b, a)
	case Problem:
		o.problem(f, b, a)
	case Hours:
		if o.before.TaggedOut() && o.before.Test == nil {
			a.Used = b.Used()
			o.post(fmt.Sprintf("ran/%d", f.No), TopicRanTagged, a)
		}
	}
}

// reading owes that a reading is unlikely, that it asks for screws to be turned, or
// that it is to be taken again today. On a machine that is out of service the tag's
// own notice says what is needed.
func (o *owed) reading(f Fact, b Reading, a NoticeArgs) {
	c := o.after.Check(b.Check)
	if c == nil {
		return
	}
	a.ID, a.Name, a.Typed = b.Check, c.Check.Name, b.Typed
	switch {
	case b.Unconfirmed:
		o.post(fmt.Sprintf("unlikely/%d", f.No), TopicUnlikely, a)
	case c.Latest.Fact != f.No, o.after.TaggedOut():
	case c.Advice == AdvicePlan:
		o.post(fmt.Sprintf("adjust/%d", f.No), TopicOutOfTrue, a)
	case c.Advice == AdviceMeasureToday:
		o.post(fmt.Sprintf("measure/%d", f.No), TopicMeasureNow, a)
	}
}

// problem owes one message for all reports of a problem. A danger's tag says it.
func (o *owed) problem(f Fact, b Problem, a NoticeArgs) {
	i := slices.IndexFunc(o.after.Problems, func(p OpenProblem) bool { return p.Key == b.Key() })
	if b.Danger || i < 0 {
		return
	}
	p := o.after.Problems[i]
	a.Name, a.Reports, a.Note, a.Photo, a.Back = p.Name, p.Reports, b.Note, b.Photo, p.Returned
	a.Causes = NewDiagnosis(o.after.Machine.Profile, p.Symptom) != nil
	key := fmt.Sprintf("problem/%d", p.First)
	if p.First == f.No {
		o.post(key, TopicProblem, a)
	} else {
		o.edit(fmt.Sprintf("%s/again/%d", key, f.No), key, TopicProblem, a)
	}
}
