package bot

import (
	"context"
	"time"

	"github.com/bwmarrin/discordgo"
)

// Watch is told of what a bot does, for whoever keeps figures of it: by several goroutines
// at once. What is nil is not told.
type Watch struct {
	// Answered tells of an answer to a command, by its name, to a button or form ("press")
	// or of suggestions ("complete"): what it came to, and how long it took from its arrival.
	Answered func(name string, outcome Outcome, took time.Duration)
	// Swept tells of a sweep, and how long it took.
	Swept func(took time.Duration, err error)
	// Panicked tells of a panic that was caught.
	Panicked func()
}

// Outcome is what an answer came to.
type Outcome string

// The outcomes.
const (
	OutcomeDone        Outcome = "done"
	OutcomeRefused     Outcome = "refused"
	OutcomeUndelivered Outcome = "undelivered" // whatever it would have said
)

// Outcomes are all of them.
func Outcomes() []Outcome { return []Outcome{OutcomeDone, OutcomeRefused, OutcomeUndelivered} }

// The names of what is answered beside commands.
const (
	NamePress    = "press"
	NameComplete = "complete"
	nameUnknown  = "unknown"
)

// Alive says whether Discord is heard: what ails the connection, "" for nothing, and since
// when there is one, or was none.
func (b *Bot) Alive() (ails string, since time.Time) {
	b.mu.Lock()
	since, connected := b.since, b.connected
	b.mu.Unlock()
	current := b.link.Load()
	switch {
	case !connected:
		return "not connected to Discord", since
	case current != nil && current.silence() > b.cfg.SilentFor:
		return "nothing heard from Discord", time.Now().Add(-current.silence())
	}
	return "", since
}

// noteConnected notes that a connection came or went.
func (b *Bot) noteConnected(on bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.connected != on || b.since.IsZero() {
		b.connected, b.since = on, time.Now()
	}
}

// answered tells of an answer. The log has its name at most: never what was said, nor who
// said it.
func (b *Bot) answered(event event, refused bool, err error, begun time.Time) {
	outcome := OutcomeDone
	switch {
	case err != nil:
		outcome = OutcomeUndelivered
	case refused:
		outcome = OutcomeRefused
	}
	name := nameUnknown
	switch event.kind {
	case discordgo.InteractionApplicationCommandAutocomplete:
		name = NameComplete
	case discordgo.InteractionMessageComponent, discordgo.InteractionModalSubmit:
		name = NamePress
	case discordgo.InteractionApplicationCommand:
		if b.named[event.command] {
			name = event.command
		}
	}
	took := time.Since(begun)
	b.cfg.Log.Debug("answered", "name", name, "outcome", string(outcome), "took", took.Round(time.Millisecond),
		"shop", event.guild, "interaction", event.id)
	if b.cfg.Watch.Answered != nil {
		b.cfg.Watch.Answered(name, outcome, took)
	}
}

// sweep judges what time has changed.
func (b *Bot) sweep(ctx context.Context) {
	begun := time.Now()
	err := b.cfg.Desk.Sweep(ctx, b.clock.now())
	if err != nil && ctx.Err() == nil {
		b.cfg.Log.Error("sweep", "error", err)
	}
	if b.cfg.Watch.Swept != nil {
		b.cfg.Watch.Swept(time.Since(begun), err)
	}
}
