package channeltest

import (
	"context"
	"slices"
	"strings"
	"time"

	"setscrew/domain"
)

// Cases lists every promise of bot.Channel.
func Cases() []Case { return slices.Concat(standingCases, onceCases, apartCases, errorCases) }

// The texts of the cases: without a character that any channel's markup escapes.
const (
	taggedOut = "Marble is tagged out"
	moreTags  = "Marble is tagged out twice"
	digest    = "Two services fall due"
)

// standingCases are about what stands in a channel.
var standingCases = []Case{
	{"what is posted stands once", "a machine is stopped by a notice that people read, and its edits and pins need " +
		"to find it", nil, func(t *trial) {
		message := t.post(t.owed(domain.TopicTagOut, "m1/out/1"), taggedOut)
		t.stands("posted", taggedOut)
		if all := t.Stands(t.Shop); len(all) == 1 && (message == "" || all[0].ID != message) {
			t.Errorf("posted as %q, but %q stands in the channel", message, all[0].ID)
		}
	}},
	{"notices stand in order", "what was told last is read last, and each is edited by itself", nil, func(t *trial) {
		first := t.post(t.owed(domain.TopicTagOut, "m1/out/1"), taggedOut)
		second := t.post(t.owed(domain.TopicDigest, "digest/1"), digest)
		t.stands("two posted", taggedOut, digest)
		if first == second {
			t.Errorf("two notices are both message %q", first)
		}
	}},
	{"an edit changes one message", "a second tag is added to the notice that people read, and to no other", nil,
		func(t *trial) {
			owed := t.owed(domain.TopicTagOut, "m1/out/1")
			message := t.post(owed, taggedOut)
			t.post(t.owed(domain.TopicDigest, "digest/1"), digest)
			t.succeeds("edit", t.edit(owed, message, moreTags))
			t.stands("edited", moreTags, digest)
			t.succeeds("edit again, as after an answer that was lost", t.edit(owed, message, moreTags))
			t.stands("edited twice", moreTags, digest)
		}},
	{"a pin stands until it is taken away", "the pinned notices are the machines out of service", nil, func(t *trial) {
		notice := t.owed(domain.TopicTagOut, "m1/out/1")
		message := t.post(notice, taggedOut)
		t.post(t.owed(domain.TopicDigest, "digest/1"), digest)
		t.succeeds("pin", t.pin(notice, message))
		t.stands("pinned", "*"+taggedOut, digest)
		t.succeeds("pin again, as after an answer that was lost", t.pin(notice, message))
		t.succeeds("edit", t.edit(notice, message, moreTags))
		t.stands("pinned twice and edited", "*"+moreTags, digest)
		t.succeeds("unpin", t.unpin(notice, message))
		t.stands("unpinned", moreTags, digest)
		t.succeeds("unpin again, as after an answer that was lost", t.unpin(notice, message))
		t.stands("unpinned twice", moreTags, digest)
	}},
	{"a notice is one message, however long", "several could not be edited or pinned as one, and what is refused for " +
		"its length would hold back those behind it for ever", nil, func(t *trial) {
		o := t.owed(domain.TopicTagOut, "m1/out/1")
		long := taggedOut + strings.Repeat("\nand one more reason for it", 400)
		message := t.post(o, long)
		t.stands("posted", taggedOut)
		t.succeeds("edit", t.edit(o, message, digest+long))
		t.stands("edited", digest)
	}},
	{"a message deleted meanwhile", "what nobody can do any more would be tried for ever, and hold back the " +
		"machine's notices behind it", nil, func(t *trial) {
		notice := t.owed(domain.TopicTagOut, "m1/out/1")
		message := t.post(notice, taggedOut)
		t.post(t.owed(domain.TopicDigest, "digest/1"), digest)
		t.Delete(t.Shop, message)
		t.succeeds("edit what is deleted", t.edit(notice, message, moreTags))
		t.succeeds("pin what is deleted", t.pin(notice, message))
		t.succeeds("unpin what is deleted", t.unpin(notice, message))
		t.stands("afterwards", digest)
	}},
}

// pauseLong is longer than any chat remembers what it was just sent.
const pauseLong = time.Hour

// onceCases are about a notice that is posted again, since nobody knows whether it
// stands there.
var onceCases = []Case{
	{"the same key again at once", "an answer that was lost is no reason to ping everybody twice", nil,
		func(t *trial) {
			o := t.owed(domain.TopicTagOut, "m1/out/1")
			first := t.post(o, taggedOut)
			o.Attempts, o.Sent = 1, t.Now()
			t.Advance(5 * time.Second)
			if again := t.post(o, taggedOut); again != first {
				t.Errorf("posted again as %q, want %q", again, first)
			}
			t.stands("posted twice", taggedOut)
		}},
	{"the same key again much later", "a chat can be out of reach for hours just after it took a notice", nil,
		func(t *trial) {
			owed := t.owed(domain.TopicTagOut, "m1/out/1")
			first := t.post(owed, taggedOut)
			t.post(t.owed(domain.TopicDigest, "digest/1"), digest)
			owed.Attempts, owed.Sent = 4, t.Now()
			t.Advance(pauseLong)
			if again := t.post(owed, taggedOut); again != first {
				t.Errorf("posted again as %q, want %q", again, first)
			}
			t.stands("posted again after an hour", taggedOut, digest)
		}},
	{"the same key again by another program", "one that died before it wrote down what it posted leaves a notice " +
		"that was sent, but never failed", nil, func(t *trial) {
		o := t.owed(domain.TopicTagOut, "m1/out/1")
		o.Sent = t.Now()
		first := t.post(o, taggedOut)
		t.Advance(pauseLong)
		if again := t.post(o, taggedOut); again != first {
			t.Errorf("posted again as %q, want %q", again, first)
		}
		t.stands("posted again after an hour", taggedOut)
	}},
	{"an edit leaves a message to be found", "a notice is found by its reference, not by what it said at first", nil,
		func(t *trial) {
			notice := t.owed(domain.TopicTagOut, "m1/out/1")
			first := t.post(notice, taggedOut)
			t.succeeds("edit", t.edit(notice, first, moreTags))
			notice.Sent = t.Now()
			t.Advance(pauseLong)
			if again := t.post(notice, taggedOut); again != first {
				t.Errorf("posted again as %q, want %q", again, first)
			}
			t.stands("posted again after an edit", moreTags)
		}},
	{"another key is another notice", "a machine is tagged out again in the same words: people must read it", nil,
		func(t *trial) {
			t.post(t.owed(domain.TopicTagOut, "m1/out/1"), taggedOut)
			t.post(t.owed(domain.TopicTagOut, "m1/out/11"), taggedOut)
			t.Advance(pauseLong)
			o := t.owed(domain.TopicTagOut, "m1/out/12")
			o.Sent = o.Made.Add(-pauseLong) // so that it is looked for
			t.post(o, taggedOut)
			t.stands("posted under three keys", taggedOut, taggedOut, taggedOut)
		}},
}

// apartCases are about two shops.
var apartCases = []Case{
	{"keys are a shop's own", "two shops number their machines alike, and a tag-out in one is none in the other", nil,
		func(t *trial) {
			o := t.owed(domain.TopicTagOut, "m1/out/1")
			t.post(o, taggedOut)
			o.Shop = t.Other.ID
			message, err := t.Channel.Post(t.ctx, t.Other, o, says(taggedOut))
			t.succeeds("post in the other shop", err)
			t.stands("posted in both", taggedOut)
			t.standsIn(t.Other, "posted in both", taggedOut)
			if all := t.Stands(t.Other); len(all) == 1 && all[0].ID != message {
				t.Errorf("posted as %q, but %q stands in the other shop's channel", message, all[0].ID)
			}
		}},
	{"another shop's message is out of reach", "what the members of one shop read is not another's to change", nil,
		func(t *trial) {
			o := t.owed(domain.TopicTagOut, "m1/out/1")
			theirs, err := t.Channel.Post(t.ctx, t.Other, o, says(taggedOut))
			t.succeeds("post in the other shop", err)
			t.succeeds("edit what does not stand here", t.edit(o, theirs, moreTags))
			t.succeeds("pin what does not stand here", t.pin(o, theirs))
			t.standsIn(t.Other, "edited and pinned from elsewhere", taggedOut)
			t.stands("edited and pinned from here")
		}},
	{"a context that ended does nothing", "a program that ends must not begin what it cannot write down", nil,
		func(t *trial) {
			owed := t.owed(domain.TopicTagOut, "m1/out/1")
			message := t.post(owed, taggedOut)
			ended, cancel := context.WithCancel(t.ctx)
			cancel()
			t.ctx = ended
			_, err := t.Channel.Post(t.ctx, t.Shop, t.owed(domain.TopicDigest, "digest/1"), says(digest))
			if err == nil || t.edit(owed, message, moreTags) == nil || t.pin(owed, message) == nil {
				t.Errorf("no error though the context ended")
			}
			t.stands("afterwards", taggedOut)
		}},
}

// The times that an error may ask to wait where somebody has to mend something:
// refusals in a row would have the chat ban the program, and whoever mends it wants to
// see the notice.
const (
	refusedLeast = time.Minute
	refusedMost  = 15 * time.Minute
)

// errorCases are about what an error means: none, that it is done or given up; Wait,
// when to try again; any other, that it may be tried again soon.
var errorCases = []Case{
	{"an answer that was lost", "the channel has the notice, and asked again must not double it", []Fault{Lost},
		func(t *trial) {
			owed := t.owed(domain.TopicTagOut, "m1/out/1")
			t.Hurt(Lost)
			owed, _ = t.failed(owed, taggedOut)
			t.Mend()
			message := t.post(owed, taggedOut)
			t.stands("posted again", taggedOut)
			t.Hurt(Lost)
			if t.edit(owed, message, moreTags) == nil || t.pin(owed, message) == nil {
				t.Errorf("a lost answer is no error")
			}
			t.Mend()
			t.succeeds("edit again", t.edit(owed, message, moreTags))
			t.succeeds("pin again", t.pin(owed, message))
			t.stands("edited and pinned again", "*"+moreTags)
		}},
	{"a fault that passes", "what fails without an error is never tried again", []Fault{Broken}, func(t *trial) {
		notice, other := t.owed(domain.TopicTagOut, "m1/out/1"), t.owed(domain.TopicDigest, "digest/1")
		message := t.post(notice, taggedOut)
		t.Hurt(Broken)
		other, _ = t.failed(other, digest)
		if t.edit(notice, message, moreTags) == nil || t.pin(notice, message) == nil {
			t.Errorf("a fault is no error")
		}
		t.stands("nothing was done", taggedOut)
		t.Mend()
		t.post(other, digest)
		t.succeeds("edit again", t.edit(notice, message, moreTags))
		t.succeeds("pin again", t.pin(notice, message))
		t.stands("tried again", "*"+moreTags, digest)
	}},
	{"asked to wait, it says for how long", "a chat that is asked again sooner bans the program", []Fault{Limited},
		func(t *trial) {
			notice, other := t.owed(domain.TopicTagOut, "m1/out/1"), t.owed(domain.TopicDigest, "digest/1")
			message := t.post(notice, taggedOut)
			t.Hurt(Limited)
			_, err := t.failed(other, digest)
			t.waits("post", err, LimitedFor, LimitedFor)
			t.waits("edit", t.edit(notice, message, moreTags), LimitedFor, LimitedFor)
			t.waits("pin", t.pin(notice, message), LimitedFor, LimitedFor)
			t.stands("nothing was done", taggedOut)
		}},
	{"what is refused is tried again, but not fast", "thousands of refusals ban the program, and a notice given up " +
		"is a machine that nobody knows to be stopped", []Fault{Refused}, func(t *trial) {
		notice := t.owed(domain.TopicTagOut, "m1/out/1")
		t.Hurt(Refused)
		notice, err := t.failed(notice, taggedOut)
		t.waits("post", err, refusedLeast, refusedMost)
		t.stands("nothing was done")
		t.Mend()
		t.post(notice, taggedOut)
		t.stands("permitted again", taggedOut)
	}},
	{"a channel that is gone", "the settings may name another one soon, and what is owed comes then", []Fault{Gone},
		func(t *trial) {
			notice, other := t.owed(domain.TopicTagOut, "m1/out/1"), t.owed(domain.TopicDigest, "digest/1")
			message := t.post(notice, taggedOut)
			t.Hurt(Gone)
			_, err := t.failed(other, digest)
			t.waits("post", err, refusedLeast, refusedMost)
			t.waits("edit", t.edit(notice, message, moreTags), refusedLeast, refusedMost)
			t.waits("pin", t.pin(notice, message), refusedLeast, refusedMost)
		}},
	{"a pin that is refused holds nothing up", "that a notice stands among the others is enough to go on, and the " +
		"pin can be permitted later", []Fault{PinsOnly}, func(t *trial) {
		notice := t.owed(domain.TopicTagOut, "m1/out/1")
		message := t.post(notice, taggedOut)
		t.Hurt(PinsOnly)
		t.succeeds("pin", t.pin(notice, message))
		t.stands("not pinned", taggedOut)
		t.succeeds("edit", t.edit(notice, message, moreTags))
		t.post(t.owed(domain.TopicDigest, "digest/1"), digest)
		t.stands("the others", moreTags, digest)
		t.Mend()
		t.succeeds("pin", t.pin(notice, message))
		t.stands("permitted again", "*"+moreTags, digest)
	}},
	{"what may stand there unseen", "where nobody can look whether it does, a digest twice is worse than none, and a " +
		"tag-out none is worse than twice", []Fault{Lost, Hidden}, func(t *trial) {
		t.Hurt(Lost)
		less, _ := t.failed(t.owed(domain.TopicDigest, "digest/1"), digest)
		more, _ := t.failed(t.owed(domain.TopicTagOut, "m1/out/1"), taggedOut)
		t.Mend()
		t.Hurt(Hidden)
		t.Advance(pauseLong)
		t.post(less, digest)
		t.stands("a digest is given up as posted", digest, taggedOut)
		t.post(more, taggedOut)
		t.stands("a tag-out is posted again", digest, taggedOut, taggedOut)
	}},
	{"what cannot stand there is posted", "a notice that was refused each time must come once it is permitted, also " +
		"where nobody can look for it", []Fault{Refused, Limited, Hidden}, func(t *trial) {
		notice := t.owed(domain.TopicDigest, "digest/1")
		for _, f := range []Fault{Refused, Limited} {
			t.Hurt(f)
			notice, _ = t.failed(notice, digest)
			t.Mend()
			t.Advance(pauseLong)
		}
		t.Hurt(Hidden)
		if message := t.post(notice, digest); message == "" {
			t.Errorf("it is given up as posted, but nothing ever reached the channel")
		}
		t.stands("permitted", digest)
	}},
}
