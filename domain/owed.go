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
	owing := owed{before: before, after: after, fact: fact,
		args: NoticeArgs{
			V:       NoticeVersion,
			Machine: after.Machine.Name,
			At:      after.At,
			Units:   after.Machine.UnitsIn(after.Shop),

			Unproved: after.Unproved,
		}}
	owing.tags()
	owing.locks()
	owing.test()
	owing.unproved()
	owing.unseen()
	owing.warn()
	owing.loosening()
	for _, service := range after.Services {
		owing.service(service)
	}
	for _, check := range after.Checks {
		owing.check(check)
	}
	for _, problem := range before.Problems {
		owing.mended(problem)
	}
	for _, p := range before.Problems {
		owing.answered(p)
	}
	for _, p := range after.Problems {
		owing.doubt(p)
	}
	owing.unanswered()
	if fact != nil {
		owing.reported(*fact)
	}
	return owing.list
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
	o.list = append(
		o.list,
		Notice{Key: o.full(key), Machine: o.after.Machine.ID, Op: op, Target: target, Topic: topic, Args: a},
	)
}

// tags owes one pinned message for each time out of service, kept up to date while
// tags stand, and one that the machine is back. A machine that comes on the books to be
// set up is out of service quietly, until something else takes it out, and runs quietly by
// its ticks; the edits of a message that was never owed are dropped by the outbox.
func (o *owed) tags() {
	before, after := o.before, o.after
	// What every one of these notices says: the tags, what a release needs, who sees to it.
	args := o.args
	args.Tags, args.Needs, args.Others = after.Tags, after.Blockers, after.NeededBy
	args.Seen, args.Unseen = after.seenBy(), after.unseenTag()
	if after.Test != nil {
		args.By = after.Test.By
	}
	out := fmt.Sprintf("out/%d", after.Outage)
	// One post and its pin for each time out of service, edited as it changes, and lifted at the end.
	switch {
	case before.Machine.ID == 0 && after.OnlySettingUp():
	case !before.TaggedOut() && after.TaggedOut():
		o.post(out, TopicTagOut, args)
		o.add(out+"/pin", Pin, o.full(out), TopicTagOut, args)
	case before.TaggedOut() && after.TaggedOut():
		if before.OnlySettingUp() && !after.OnlySettingUp() { // until now it may have been quiet
			o.post(out, TopicTagOut, args)
			o.add(out+"/pin", Pin, o.full(out), TopicTagOut, args)
		}
		changed := !reflect.DeepEqual(before.Tags, after.Tags) || !reflect.DeepEqual(before.Blockers, after.Blockers) ||
			before.Test.no() != after.Test.no() || before.seenBy() != after.seenBy() ||
			before.unseenTag() != after.unseenTag()
		if o.fact != nil && changed {
			o.edit(fmt.Sprintf("%s/edit/%d", out, o.fact.No), out, TopicTagOut, args)
		} else if over := before.TestOver; over != nil && after.TestOver == nil {
			o.edit(fmt.Sprintf("%s/test-over/%d", out, over.Fact), out, TopicTagOut, args)
		} else if len(before.Tags) != len(after.Tags) {
			last := after.Tags[len(after.Tags)-1]
			o.edit(fmt.Sprintf("%s/edit/%d", out, last.Fact), out, TopicTagOut, args)
		}
	case before.TaggedOut() && !after.TaggedOut():
		lifted := args
		mistake := false
		if o.fact != nil {
			_, mistake = o.fact.Body.(Mistake)
		}
		lifted.Lifted, lifted.Mistake, lifted.Tags, lifted.Needs = true, mistake, before.Tags, nil
		o.edit(out+"/lifted", out, TopicTagOut, lifted)
		o.add(out+"/unpin", Unpin, o.full(out), TopicTagOut, lifted)
		if o.fact != nil && o.fact.Body.FactKind() == KindTicked && after.Outage == 1 {
			return // it came quietly, and was in use before
		}
		if mistake {
			return
		}
		back := o.args
		back.Others, back.Begins = after.NeededBy, before.SettingUp
		o.post(out+"/back", TopicBack, back)
	}
}

// unproved owes, once, that nobody has said how a machine stands that was on the books
// before that was asked.
func (o *owed) unproved() {
	if o.after.Unproved {
		o.post("unproved", TopicUnproved, o.args)
	}
}

// test owes that a test begins, or ends without a release, and that whoever tests an
// unattended machine is asked whether it goes on.
func (o *owed) test() {
	before, after := o.before, o.after
	ran := before.Test
	if ran == nil {
		ran = before.TestOver
	}
	switch {
	case after.Test != nil && (before.Test == nil || before.Test.Fact != after.Test.Fact):
		a := o.args
		a.By = after.Test.By
		o.post(fmt.Sprintf("test/%d", after.Test.Fact), TopicTest, a)
	case ran != nil && after.Test == nil && after.TaggedOut():
		o.post(fmt.Sprintf("test/%d/ended", ran.Fact), TopicTestEnded, o.args)
	}
	if after.Test != nil && after.Machine.Profile.TestRun.Unattended && after.asked() > 0 {
		a := o.args
		a.By, a.People = after.Test.By, []PersonID{after.Test.By}
		o.post(fmt.Sprintf("test/%d/ask/%d/%d", after.Test.Fact, after.Test.Renewed.Unix(),
			after.asked()), TopicTestAsk, a)
	}
}

// warn owes one notice for all that a machine will soon be taken out of service for,
// each time that there is something new to say, and its edit once a report changes it.
func (o *owed) warn() {
	key := func(w *Warning) string { return "warn/" + o.after.Shop.Date(w.At) }
	before, after := o.before.Warned, o.after.Warned
	args := o.args
	if before != nil && o.fact != nil && (after == nil || !slices.EqualFunc(before.Items, after.Items,
		WarnedItem.same)) {
		if after != nil {
			args.Warned = after.Items
		}
		o.edit(fmt.Sprintf("%s/edit/%d", key(before), o.fact.No), key(before), TopicWarned, args)
	}
	if after != nil {
		args.Warned = after.Items
		o.post(key(after), TopicWarned, args)
	}
}

// loosening owes that a change of the set-up which loosens a safety check waits, and what
// became of it: in force, or no longer waiting.
func (o *owed) loosening() {
	was, now := o.before.Loosening, o.after.Loosening
	if o.fact == nil || was == now || was != nil && now != nil && was.Fact == now.Fact {
		return
	}
	key := func(asked *LooseningBy) string { return fmt.Sprintf("loosen/%d", asked.Fact) }
	says := func(asked *LooseningBy) NoticeArgs {
		args := o.args
		args.Fact, args.By, args.Note, args.Page, args.Photo = asked.Fact, asked.By, asked.Why, asked.Page, asked.Photo
		args.Loosens = asked.Loosens
		if asked.Alone {
			args.On = asked.AloneFrom()
		}
		return args
	}
	if was != nil {
		args := says(was)
		args.Lifted = true
		if body, ok := o.fact.Body.(SetupChanged); ok && body.Loosens == was.Fact {
			args.Second, args.Why, args.Photo = o.fact.By, body.Note, nil // its link is dead by then
			o.post(key(was)+"/in-force", TopicLoosened, args)
		}
		o.edit(fmt.Sprintf("%s/over/%d", key(was), o.fact.No), key(was), TopicLoosening, args)
	}
	if now == nil {
		return
	}
	args := says(now)
	args.Call = true
	if o.fact.No == now.Fact {
		o.post(key(now), TopicLoosening, args)
	} else { // one that took its place was withdrawn
		o.edit(fmt.Sprintf("%s/again/%d", key(now), o.fact.No), key(now), TopicLoosening, args)
	}
}

// due owes one notice for each occurrence of what falls due, edited as its state
// changes, and a call of the stewards when it is late and matters. An edit of what
// was never posted is dropped by the outbox.
func (o *owed) due(args NoticeArgs, key string, is upkeep.Due, matters, safety bool) {
	args.Left, args.On, args.Late = is.Left, is.On, is.State == upkeep.Late
	switch {
	case is.State == upkeep.NotDue, o.after.SettingUp: // a release asks for it
	case !args.Late:
		args.Call = safety
		o.post(key, TopicDue, args)
	default:
		o.edit(key+"/overdue", key, TopicDue, args)
		if matters {
			key += "/late"
			args.Call = true
		}
		o.post(key, TopicDue, args)
	}
}

// tagSays reports whether the stewards are called by the tag that is hung for what is
// late by its date, before the shop opens.
func (o *owed) tagSays(due upkeep.Due) bool {
	return !due.LateOn.IsZero() && !o.after.At.Before(due.LateOn)
}

// became owes the edits of a due notice that say what a report made of it.
func (o *owed) became(args NoticeArgs, key, what string, topic Topic) {
	if o.fact == nil {
		return
	}
	args.Fact = o.fact.No
	o.edit(fmt.Sprintf("%s/%s/%d", key, what, o.fact.No), key, topic, args)
	o.edit(fmt.Sprintf("%s/late/%s/%d", key, what, o.fact.No), key+"/late", topic, args)
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
func (o *owed) service(service ServiceStatus) {
	args := o.args
	args.ID, args.Name, args.Hands = service.Service.ID, service.Service.Name, service.Service.Isolated
	if service.Taken != nil {
		args.Taken = service.Taken.By
	}
	key := dueKey(args, service.From().Fact)
	if service.Lapsed != 0 {
		key = againKey(key, service.Lapsed)
	}
	if service.PutOff == nil {
		o.due(
			args,
			key,
			service.Due,
			service.Service.Class != profile.RoutineService &&
				!(service.Service.Class == profile.SafetyService && o.tagSays(service.Due)),
			service.Service.Class == profile.SafetyService,
		)
	}
	was := o.before.Service(args.ID)
	switch {
	case was == nil || was.Due.State == upkeep.NotDue:
	case was.From().Fact != service.From().Fact && service.Last.Fact != 0 && service.Due.State == upkeep.NotDue:
		old := dueKey(args, was.From().Fact)
		o.became(args, old, "done", TopicDone)
		if was.Lapsed != 0 {
			o.became(args, againKey(old, was.Lapsed), "done", TopicDone)
		}
	case was.From().Fact != service.From().Fact:
	case service.Due.State == upkeep.NotDue:
		o.became(args, key, "not-due", TopicNotDue)
	case service.PutOff != nil && was.PutOff == nil:
		args.On, args.Note, args.By = service.PutOff.Until, service.PutOff.Why, service.PutOff.By
		o.became(args, key, "put-off", TopicPutOff)
	case service.Taken != nil && was.Taken == nil:
		args.Left, args.On, args.Late = service.Due.Left, service.Due.On, service.Due.State == upkeep.Late
		o.became(args, key, "taken", TopicDue)
	}
}

// check owes that a check fell due, and that it was made.
func (o *owed) check(check CheckStatus) {
	args := o.args
	args.ID, args.Name, args.Check = check.Check.ID, check.Check.Name, true
	args.Measured = !check.Check.Inspection
	args.Hands, args.Running = check.Check.Isolated, check.Check.Running
	o.due(args, dueKey(args, check.Latest.Fact), check.Due,
		check.Check.Class == profile.Safety && !(check.Check.TagsOut() && o.tagSays(check.Due)), false)
	was := o.before.Check(args.ID)
	if was != nil && was.Latest.Fact != check.Latest.Fact && was.Due.State != upkeep.NotDue &&
		check.Due.State == upkeep.NotDue {
		o.became(args, dueKey(args, was.Latest.Fact), "done", TopicDone)
	}
}

// mended owes that a problem is mended, where it was reported and to those who
// reported it.
func (o *owed) mended(problem OpenProblem) {
	last, ok := o.after.Mends[problem.Key]
	if !ok || last.Fact <= problem.Last ||
		slices.ContainsFunc(o.after.Problems, func(q OpenProblem) bool { return q.Key == problem.Key }) {
		return
	}
	args := o.args
	args.Fact, args.Name, args.Reports, args.People = last.Fact, problem.Name, problem.Reports, problem.By
	if id, _ := problem.Cause(); id != "" {
		if c := o.after.Machine.Profile.Cause(id); c != nil {
			args.Cause = c.Name
		}
	}
	if o.fact != nil {
		switch body := o.fact.Body.(type) {
		case Mended:
			args.Note = body.Note
		case Found:
			// Nothing but how it is used: the cause was found, and there is nothing to mend.
			if body.Key == problem.Key && body.Answer == AnswerYes {
				if c := o.after.Machine.Profile.Cause(body.About.ID); c != nil && body.About.Kind == CauseItem {
					args.Cause, args.Note = c.Name, c.Advice
				}
			}
		}
	}
	key := problemKey(problem.First)
	o.edit(fmt.Sprintf("%s/mended/%d", key, last.Fact), key, TopicMended, args)
	if len(args.People) > 0 {
		o.post(fmt.Sprintf("%s/told/%d", key, last.Fact), TopicTold, args)
	}
}

// problemKey is the key of the message about a problem, by its first report.
func problemKey(first FactNo) string { return fmt.Sprintf("problem/%d", first) }

// doubtKey is the key of the call about what may be dangerous, by its last report.
func doubtKey(last FactNo) string { return fmt.Sprintf("doubt/%d", last) }

// doubt calls the stewards, once, about what may be dangerous where nobody has said
// whether it is.
func (o *owed) doubt(problem OpenProblem) {
	if !problem.Doubt || o.after.At.Before(problem.DoubtEnds()) || o.after.TaggedOut() {
		return
	}
	args := o.args
	args.Fact, args.Name, args.Call = problem.Last, problem.Name, true
	if !slices.ContainsFunc(o.after.Alarms, func(a Alarm) bool { return a.Fact == problem.Last }) {
		args.Seen = o.after.seenBy()
	}
	o.post(doubtKey(problem.Last), TopicDoubt, args)
}

// answered owes that what might have been dangerous is no longer asked about, on the
// messages that said so.
func (o *owed) answered(problem OpenProblem) {
	now := o.after.Problem(problem.Key)
	if !problem.Doubt || o.fact == nil || now != nil && now.Doubt && now.Last == problem.Last {
		return
	}
	args := o.args
	args.Fact, args.Name, args.Lifted = o.fact.No, problem.Name, true
	targets := []string{doubtKey(problem.Last)}
	if now == nil {
		targets = append(targets, problemKey(problem.First))
	}
	for _, target := range targets {
		o.edit(fmt.Sprintf("%s/answered/%d", target, o.fact.No), target, TopicDoubt, args)
	}
}

// reported owes what the stewards are told of one report.
func (o *owed) reported(fact Fact) {
	args := o.args
	args.Fact = fact.No
	switch body := fact.Body.(type) {
	case Reading:
		o.reading(fact, body, args)
	case Problem:
		o.problem(fact, body, args)
	case LockAsked, LockProcedure, LockKept, LockOff:
		o.lock(fact, args)
	case Hours:
		if o.before.TaggedOut() && (o.before.Test == nil || o.before.Test.By != fact.For) {
			args.Used, args.Begins = body.Used(), o.before.OnlySettingUp()
			o.post(fmt.Sprintf("ran/%d", fact.No), TopicRanTagged, args)
		}
	}
	o.photo(fact)
}

// reading owes that a reading is unlikely, that it asks for screws to be turned, or
// that it must be taken again today. On a machine that is out of service the tag's
// own notice says what is needed.
func (o *owed) reading(fact Fact, reading Reading, args NoticeArgs) {
	check := o.after.Check(reading.Check)
	if check == nil {
		return
	}
	args.ID, args.Name, args.Typed = reading.Check, check.Check.Name, reading.Typed
	switch {
	case reading.Unconfirmed: // whoever typed it is asked
	case check.Latest.Fact != fact.No, o.after.TaggedOut():
	case check.Advice == AdvicePlan:
		o.post(fmt.Sprintf("adjust/%d", fact.No), TopicOutOfTrue, args)
	case check.Advice == AdviceMeasureToday:
		args.On = check.ProveBy
		o.post(fmt.Sprintf("measure/%d", fact.No), TopicMeasureNow, args)
	}
}

// unanswered calls the stewards about a reading that is unlikely: once it was said to be
// right, and where a safety check's waits for an answer longer than a doubt does. What was
// withdrawn since is said on that message.
func (o *owed) unanswered() {
	key := func(of FactNo) string { return fmt.Sprintf("unlikely/%d", of) }
	for _, waits := range o.before.Waiting {
		args := o.args
		args.Fact, args.ID, args.Typed = waits.Fact, waits.Check, waits.Reading.Typed
		if check := o.after.Check(waits.Check); check != nil {
			args.Name = check.Check.Name
		}
		if slices.ContainsFunc(o.after.Waiting, func(still Latest) bool { return still.Fact == waits.Fact }) ||
			o.fact == nil {
			continue
		}
		if confirmed, ok := o.fact.Body.(ReadingConfirmed); ok && confirmed.Of == waits.Fact {
			if !o.before.TaggedOut() && o.after.TaggedOut() {
				continue // its tag calls them
			}
			args.Confirmed = true
			o.post(key(waits.Fact)+"/confirmed", TopicUnlikely, args)
			continue
		}
		args.Lifted = true
		o.edit(fmt.Sprintf("%s/answered/%d", key(waits.Fact), o.fact.No), key(waits.Fact), TopicUnlikely, args)
	}
	for _, waits := range o.after.Unanswered() {
		if o.after.At.Before(waits.AnswerBy()) {
			continue
		}
		args := o.args
		args.Fact, args.ID, args.Typed = waits.Fact, waits.Check, waits.Reading.Typed
		args.Name, args.Call = o.after.Check(waits.Check).Check.Name, true
		o.post(key(waits.Fact), TopicUnlikely, args)
	}
}

// problem owes one message for all reports of a problem. A danger's tag says it.
func (o *owed) problem(fact Fact, problem Problem, args NoticeArgs) {
	if problem.Danger && o.before.TaggedOut() && !o.before.OnlySettingUp() {
		// The notice of its tags is edited, which notifies nobody.
		args.Name, args.Note, args.Call = problem.Name, problem.Note, true
		o.post(fmt.Sprintf("danger/%d", fact.No), TopicDanger, args)
	}
	i := slices.IndexFunc(o.after.Problems, func(p OpenProblem) bool { return p.Key == problem.Key() })
	if problem.Danger || i < 0 {
		return
	}
	open := o.after.Problems[i]
	args.Name, args.Reports, args.Note, args.Back = open.Name, open.Reports, problem.Note, open.Returned
	args.Doubt = open.Doubt
	args.Causes = NewDiagnosis(o.after.Machine.Profile, open.Symptom) != nil
	key := problemKey(open.First)
	if open.First == fact.No {
		if !open.Doubt {
			args.Photo = problem.Photo
		}
		o.post(key, TopicProblem, args)
	} else {
		o.edit(fmt.Sprintf("%s/again/%d", key, fact.No), key, TopicProblem, args)
	}
}
