// Package channeltest holds what bot.Channel promises, as cases for whatever claims to
// be one: Discord's, a terminal's, a fake in tests.
package channeltest

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/bot"
	"setscrew/commands"
	"setscrew/domain"
)

// Open makes a new channel in which nothing stands yet.
type Open func(t *testing.T) Rig

// Rig is a channel, and the world around it that a case changes and looks at.
type Rig struct {
	Channel bot.Channel
	// Shop and Other are two shops whose notices go there, each to a place of its own.
	Shop, Other domain.Shop
	// Stands lists what stands in a shop's channel, oldest first.
	Stands func(domain.Shop) []Message
	// Delete takes a message away, as somebody in the chat may.
	Delete func(shop domain.Shop, message string)
	// Now is the channel's clock, and Advance moves it on.
	Now     func() time.Time
	Advance func(time.Duration)
	// Meets lists the faults that the channel can meet; a case about any other is
	// skipped. Hurt brings one about in Shop's channel until Mend ends it.
	Meets []Fault
	Hurt  func(Fault)
	Mend  func()
}

// Message is what stands in a channel.
type Message struct {
	ID     string
	Text   string // at least what was posted, in the channel's own markup
	Pinned bool
}

// Fault is what can keep a notice from its channel.
type Fault string

// The faults. LimitedFor is how long a channel that is Limited asks to wait.
const (
	Lost     Fault = "what is asked for is done, and its answer lost"
	Broken   Fault = "nothing is done, for a reason that passes by itself"
	Limited  Fault = "nothing is done, and it asks to wait for a time"
	Refused  Fault = "nothing is done, until somebody permits it"
	PinsOnly Fault = "pins are refused, everything else is permitted"
	Gone     Fault = "the channel is deleted"
	Hidden   Fault = "what was posted earlier may not be read"

	LimitedFor = 7 * time.Second
)

// Run holds channels against every case, each a test of its own on a new channel. A
// case that fails says why the poster rests on it.
func Run(t *testing.T, open Open) {
	for _, test := range Cases() {
		t.Run(test.Name, func(t *testing.T) {
			t.Parallel()
			defer func() {
				if t.Failed() {
					t.Log("why it matters: " + test.Why)
				}
			}()
			rig := open(t)
			for _, f := range test.Needs {
				if !slices.Contains(rig.Meets, f) {
					t.Skipf("skipped: this channel cannot meet that %s", f)
				}
			}
			test.Check(t, rig)
		})
	}
}

// T is what a case needs of a test. Fatalf does not return.
type T interface {
	Helper()
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
}

// Case is one promise.
type Case struct {
	Name  string
	Why   string  // what would go wrong for a shop without it
	Needs []Fault // that the channel can meet
	run   func(*trial)
}

// Check holds a new channel against the case.
func (c Case) Check(t T, rig Rig) {
	t.Helper()
	c.run(&trial{T: t, Rig: rig, ctx: context.Background()})
}

// trial is a channel held against a case.
type trial struct {
	T
	Rig
	ctx context.Context
}

// owed is a notice of a topic, first owed now.
func (t *trial) owed(topic domain.Topic, key string) domain.Undelivered {
	return domain.Undelivered{Shop: t.Shop.ID, Made: t.Now(),
		Notice: domain.Notice{Key: key, Op: domain.Post, Topic: topic}}
}

// about is an edit, pin or unpin of a message that a notice became.
func (t *trial) about(o domain.Undelivered, message string, op domain.Op) domain.Undelivered {
	return domain.Undelivered{Shop: o.Shop, Made: t.Now(), Message: message,
		Notice: domain.Notice{Key: o.Notice.Key + "/" + string(op), Op: op, Target: o.Notice.Key,
			Topic: o.Notice.Topic}}
}

// says is a message of a text.
func says(text string) commands.Message { return commands.Message{Text: text, Headline: text} }

// post posts a notice in Shop's channel, which must succeed, and is its message.
func (t *trial) post(o domain.Undelivered, text string) string {
	t.Helper()
	message, err := t.Channel.Post(t.ctx, t.Shop, o, says(text))
	t.succeeds("post "+o.Notice.Key, err)
	return message
}

// edit, pin and unpin do so in Shop's channel.
func (t *trial) edit(o domain.Undelivered, message, text string) error {
	return t.Channel.Edit(t.ctx, t.Shop, t.about(o, message, domain.Edit), says(text))
}

func (t *trial) pin(o domain.Undelivered, message string) error {
	return t.Channel.Pin(t.ctx, t.Shop, t.about(o, message, domain.Pin))
}

func (t *trial) unpin(o domain.Undelivered, message string) error {
	return t.Channel.Unpin(t.ctx, t.Shop, t.about(o, message, domain.Unpin))
}

// failed attempts a post of a notice, which must fail, and is the notice as the outbox
// gives it for the next attempt, with the error: it may stand there, unless an Unsent
// says otherwise.
func (t *trial) failed(undelivered domain.Undelivered, text string) (domain.Undelivered, error) {
	t.Helper()
	message, err := t.Channel.Post(t.ctx, t.Shop, undelivered, says(text))
	if err == nil {
		t.Fatalf("post %s: message %q and no error", undelivered.Notice.Key, message)
	}
	var unsent *bot.Unsent
	if undelivered.Sent.IsZero() && !errors.As(err, &unsent) {
		undelivered.Sent = t.Now()
	}
	undelivered.Attempts++
	return undelivered, err
}

// succeeds ends the case where an error is one.
func (t *trial) succeeds(what string, err error) {
	t.Helper()
	if err != nil {
		t.Fatalf("%s: %v", what, err)
	}
}

// waits holds that an error asks to wait no shorter than one time and no longer than
// another.
func (t *trial) waits(what string, err error, least, most time.Duration) {
	t.Helper()
	var wait *bot.Wait
	switch {
	case !errors.As(err, &wait):
		t.Errorf("%s: %v, want an error that says when to try again", what, err)
	case wait.For < least || wait.For > most:
		t.Errorf("%s: try again after %v, want %v to %v", what, wait.For, least, most)
	}
}

// stands holds that these messages stand in Shop's channel and no others, by what
// their texts contain; one with a "*" before it is pinned.
func (t *trial) stands(when string, want ...string) {
	t.Helper()
	t.standsIn(t.Shop, when, want...)
}

func (t *trial) standsIn(shop domain.Shop, when string, want ...string) {
	t.Helper()
	all := t.Stands(shop)
	same := len(all) == len(want)
	for i := 0; same && i < len(all); i++ {
		text, pinned := strings.CutPrefix(want[i], "*")
		same = strings.Contains(all[i].Text, text) && all[i].Pinned == pinned
	}
	if !same {
		t.Errorf("%s: %+v stand in the channel, want %q", when, all, want)
	}
}
