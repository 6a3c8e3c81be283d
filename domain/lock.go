package domain

import (
	"fmt"
	"slices"
	"time"
)

// How long the owner of a lock is waited for before a steward may go on without them:
// what a shop may set, in whole minutes, and what it is where none is set. Our own
// choice.
const (
	LeastLockWait = 15 * time.Minute
	MostLockWait  = 24 * time.Hour
	usualLockWait = 30 * time.Minute
)

// That a lock comes off without its owner only after it was made sure that they are not
// there, all was tried to reach them, and they are told before they work again, is the rule
// of 29 CFR 1910.147(e)(3) (United States; from memory). The second person, and the times,
// are our own choice.

// LockAlone is how long a steward waits for a second person before the procedure goes on
// without one. Our own choice.
const LockAlone = 24 * time.Hour

// LockWaitingTime is how long the owner of a lock is waited for.
func (s Shop) LockWaitingTime() time.Duration {
	if s.LockWait == 0 {
		return usualLockWait
	}
	return time.Duration(s.LockWait) * time.Minute
}

// Lock is how far the taking off of a personal lock has come. The zero value: nobody has
// begun.
type Lock struct {
	Asked LockStep `json:"asked,omitzero"` // its owner was asked; Until is when the waiting time ends
	Noted LockStep `json:"noted,omitzero"` // what was done is noted; from Until on one person is enough
	Off   LockStep `json:"off,omitzero"`   // it is off
}

// LockStep is one step: the report of it, and what it says. The zero value: not done.
type LockStep struct {
	Fact  FactNo    `json:"fact"`
	By    PersonID  `json:"by"`
	At    time.Time `json:"at"`
	Until time.Time `json:"until,omitzero"`
	Note  string    `json:"note,omitempty"`
}

// Done reports whether the step was taken.
func (s LockStep) Done() bool { return s.Fact != 0 }

// Locked reports whether the tag is a personal lock that is on.
func (t Tag) Locked() bool { return t.Reason.Code == LockOn && !t.Lock.Off.Done() }

// OwnersWord reports whether a person who is about to lift the tag must say what its
// owner says of it: somebody else hung it, and no lock of theirs came off it since.
func (t Tag) OwnersWord(p PersonID) bool {
	return t.By != "" && t.By != p && !t.Lock.Off.Done()
}

// Locks lists the tags that are personal locks and on, oldest first.
func (s Status) Locks() []Tag {
	return slices.DeleteFunc(slices.Clone(s.Tags), func(t Tag) bool { return !t.Locked() })
}

// locked finds a lock that is on by its tag's number.
func (s Status) locked(no FactNo) (Tag, bool) {
	i := slices.IndexFunc(s.Tags, func(t Tag) bool { return t.Fact == no && t.Locked() })
	if i < 0 {
		return Tag{}, false
	}
	return s.Tags[i], true
}

// admitUnlocked refuses what must not be while a lock is on.
func admitUnlocked(before Status) *Refusal {
	if on := before.Locks(); len(on) > 0 {
		return &Refusal{Code: LockIsOn, Name: before.Machine.Name, Fact: on[0].Fact, By: on[0].By}
	}
	return nil
}

// admitAnswers refuses a test while a standing tag is not answered for, or what the owner
// of another's says is not told.
func admitAnswers(before Status, entry Entry, answers []TagAnswer) *Refusal {
	for _, tag := range before.Tags {
		i := slices.IndexFunc(answers, func(a TagAnswer) bool { return a.Tag == tag.Fact })
		switch {
		case i < 0:
			return &Refusal{Code: TagUnanswered, Name: before.Machine.Name, Fact: tag.Fact}
		case tag.OwnersWord(entry.By) && answers[i].Owner == "":
			return &Refusal{Code: OwnerNotAsked, Name: before.Machine.Name, Fact: tag.Fact}
		}
	}
	return nil
}

// admitLock says whether a step of the taking off of a lock is allowed. Its owner takes
// it off, or says that it stays. A steward asks the owner; once the waiting time is over
// a steward notes what was done; then anybody else but the owner confirms it or, after
// LockAlone, any steward.
func admitLock(before Status, entry Entry) *Refusal {
	// The tag that it is about must be a lock that is on.
	var no FactNo
	switch body := entry.Body.(type) {
	case LockAsked:
		no = body.Tag
	case LockKept:
		no = body.Tag
	case LockProcedure:
		no = body.Tag
	case LockOff:
		no = body.Tag
	}
	refuse := func(code Code, of FactNo, by PersonID, until time.Time) *Refusal {
		return &Refusal{Code: code, Name: before.Machine.Name, Fact: of, By: by, At: until}
	}
	tag, on := before.locked(no)
	if !on {
		return refuse(LockNotOn, no, "", time.Time{})
	}
	// Who may take this step, and whether its turn has come.
	own := entry.By == tag.By
	asked, noted := tag.Lock.Asked, tag.Lock.Noted
	switch body := entry.Body.(type) {
	case LockAsked:
		switch {
		case own:
			return refuse(OwnLock, no, tag.By, time.Time{})
		case !entry.Steward:
			return refuse(OthersLock, no, tag.By, time.Time{})
		case asked.Done():
			return refuse(LockAskedBefore, asked.Fact, tag.By, asked.Until)
		}
	case LockKept:
		if !own {
			return refuse(OthersLock, no, tag.By, time.Time{})
		}
	case LockProcedure:
		switch {
		case own:
			return refuse(OwnLock, no, tag.By, time.Time{})
		case !entry.Steward:
			return refuse(OthersLock, no, tag.By, time.Time{})
		case !asked.Done():
			return refuse(LockNotAsked, no, tag.By, time.Time{})
		case entry.Recorded.Before(asked.Until):
			return refuse(LockWaits, asked.Fact, tag.By, asked.Until)
		case body.Note == "":
			return refuse(LockNoteNeeded, no, tag.By, time.Time{})
		}
	case LockOff:
		alone := entry.Steward && !entry.Recorded.Before(noted.Until)
		switch {
		case body.Procedure == 0 && own:
		case body.Procedure == 0:
			return refuse(OthersLock, no, tag.By, time.Time{})
		case own:
			return refuse(OwnLock, no, tag.By, time.Time{})
		case noted.Fact != body.Procedure:
			return refuse(ProcedureOver, body.Procedure, tag.By, time.Time{})
		case entry.By == "" || entry.By == noted.By && !alone:
			return refuse(LockSecond, noted.Fact, noted.By, noted.Until)
		}
	}
	return nil
}

// lock owes what is told of a step of the taking off of a lock: to its owner that it is
// asked about, what was noted, or that it came off without them; to whoever asked that
// it stays on.
func (o *owed) lock(fact Fact, args NoticeArgs) {
	post := func(no FactNo, step string, topic Topic, person PersonID) {
		args.By = fact.By
		args.People = []PersonID{person}
		o.post(lockKey(no, step, fact.No), topic, args)
	}
	owner := func(no FactNo) PersonID {
		tag, _ := o.before.locked(no)
		return tag.By
	}
	switch body := fact.Body.(type) {
	case LockAsked:
		args.On = body.Until
		post(body.Tag, "asked", TopicLockAsked, owner(body.Tag))
	case LockProcedure:
		args.On, args.Note = body.Alone, body.Note
		post(body.Tag, "noted", TopicLockNoted, owner(body.Tag))
	case LockKept:
		if tag, _ := o.before.locked(body.Tag); tag.Lock.Asked.Done() {
			post(body.Tag, "kept", TopicLockKept, tag.Lock.Asked.By)
		}
	case LockOff:
		if body.Procedure != 0 {
			post(body.Tag, "off", TopicLockOff, owner(body.Tag))
		}
	}
}

// lockKey is the key of the message about a step of the taking off of a lock.
func lockKey(tag FactNo, step string, fact FactNo) string {
	return fmt.Sprintf("lock/%d/%s/%d", tag, step, fact)
}

// locks owes the edits that say of what was asked, or noted, of a lock that it is over:
// the lock is off, or the procedure began from the start.
func (o *owed) locks() {
	if o.fact == nil {
		return
	}
	for _, was := range o.before.Tags {
		now, on := o.after.locked(was.Fact)
		for _, step := range []struct {
			name     string
			was, now LockStep
		}{{"asked", was.Lock.Asked, now.Lock.Asked}, {"noted", was.Lock.Noted, now.Lock.Noted}} {
			if !was.Locked() || !step.was.Done() || step.was.Fact == step.now.Fact {
				continue
			}
			args := o.args
			args.Fact, args.Lifted = o.fact.No, !on
			key := lockKey(was.Fact, step.name, step.was.Fact)
			o.edit(fmt.Sprintf("%s/over/%d", key, o.fact.No), key, TopicLockOver, args)
		}
	}
}
