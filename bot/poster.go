// Package bot carries Setscrew into a chat.
package bot

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"time"

	"setscrew/commands"
	"setscrew/domain"
)

// Outbox is what the poster needs of a store.
type Outbox interface {
	// ShopsUndelivered lists the shops that owe a notice which may be posted now, or is held up by
	// another of its machine.
	ShopsUndelivered(ctx context.Context, now time.Time) ([]domain.ShopID, error)
	// Undelivered lists a shop's notices that may be posted now, of each machine only
	// the first, the most urgent first.
	Undelivered(ctx context.Context, shop domain.ShopID, now time.Time, limit int) ([]domain.Undelivered, error)
	// NextTry is when the next of those is tried again that wait; ok is false for none.
	NextTry(ctx context.Context, now time.Time) (next time.Time, ok bool, err error)
	// Sending notes durably that a post, with what shares its message, is about to be sent:
	// from then on it may stand in the channel, until Tried says otherwise.
	Sending(ctx context.Context, o domain.Undelivered, now time.Time) error
	// Posted confirms one, with what shares its message; message is what a post became.
	Posted(ctx context.Context, shop domain.ShopID, id int64, message string, now time.Time) error
	// Tried notes a failure, and when to try again: at once where the channel may have been
	// mended since o was listed; mayStand, that the post may stand in the channel all the
	// same.
	Tried(ctx context.Context, o domain.Undelivered, now, again time.Time, problem string, mayStand bool) error
}

// Channel is where a shop's notices go; bot/channeltest holds what it promises. No
// error means that the operation is done, or that trying it again is of no use: a
// message deleted meanwhile, a pin refused. A Wait says when to try again, any other
// error that it may be tried soon; an Unsent among them, that nothing was done. The same
// operation again changes nothing more.
type Channel interface {
	// Post puts a notice into the channel and returns what it became, "" where it is
	// given up. It may stand there already if o.Sent is set.
	Post(ctx context.Context, shop domain.Shop, o domain.Undelivered, m commands.Message) (message string, err error)
	// The operations that follow are about o.Message.
	Edit(ctx context.Context, shop domain.Shop, o domain.Undelivered, m commands.Message) error
	Pin(ctx context.Context, shop domain.Shop, o domain.Undelivered) error
	Unpin(ctx context.Context, shop domain.Shop, o domain.Undelivered) error
}

// Poster takes notices from the outbox to the channels: each shop by itself, so that
// none waits for another's channel; of a shop the most urgent first, and in order for
// each machine: one that fails holds back those behind it.
type Poster struct {
	Outbox   Outbox
	Channel  Channel
	Settings func(context.Context, domain.ShopID) (domain.Shop, error)
	Render   func(domain.Shop, domain.Notice) commands.Message
	// Jitter is a number from 0 to 1 that spreads retries; nil for none.
	Jitter func() float64
	// RoutineSlots is how many posts that are not urgent a channel takes within
	// SlotsWithin, so that an urgent one finds room at once; 0 for any number.
	RoutineSlots int
	// Log is told of notices that were given up, and of what keeps a shop's from its channel,
	// once and when it is over; nil for nobody.
	Log *slog.Logger
	// Now is the clock while a drain goes on; nil for one that stands still.
	Now func() time.Time

	mu    sync.Mutex
	shops map[domain.ShopID]*shopState
	pause time.Time // until when nothing is sent at all
}

// shopState is what the poster remembers of a shop's channel. Nothing is lost with it:
// it only keeps requests back that would be refused.
type shopState struct {
	busy    bool
	again   bool        // somebody found it busy: there may be more to post
	pause   time.Time   // until when its channel takes nothing
	routine []time.Time // its last routine posts
	later   time.Time   // when a routine post that was kept back finds a slot
	ails    string      // why its notices did not come as far as its channel, "" if they do
}

// SlotsWithin is the time over which a channel's posts are counted: Discord takes about
// five within it (seen, not documented).
const SlotsWithin = 5 * time.Second

// batch is how many notices of a shop one look at the outbox takes.
const batch = 50

// drains is how many shops are posted for at the same time.
const drains = 16

// The waits between attempts: doubled from the first to the longest. What is urgent is
// tried again sooner at first.
const (
	firstUrgentWait = time.Second
	firstWait       = 5 * time.Second
	longestWait     = 10 * time.Minute
)

// noChannelWait is how long a shop's notices wait where no channel is set for them:
// the settings that name one have them tried again at once.
const noChannelWait = 24 * time.Hour

// errNoChannel is a notice owed by a shop that has no channel for it yet.
var errNoChannel = errors.New(NoChannel)

// NoChannel is what the outbox notes as the problem of such a notice.
const NoChannel = "no channel for notices is set"

// Drain posts what is owed at now and returns how many notices it confirmed. A
// notice that cannot be posted is tried again later and is no error; an error
// is the outbox's. A shop for which another drain posts already is left to that.
func (p *Poster) Drain(ctx context.Context, now time.Time) (int, error) {
	shops, err := p.Outbox.ShopsUndelivered(ctx, now)
	if err != nil {
		return 0, err
	}
	var wait sync.WaitGroup
	var mu sync.Mutex
	posted, free := 0, make(chan struct{}, drains)
	var errs []error
	for _, id := range shops {
		state := p.take(id, now)
		if state == nil {
			continue
		}
		free <- struct{}{}
		wait.Go(func() {
			defer func() { <-free }()
			count, err := p.drainShop(ctx, id, state, now)
			for p.giveBack(state, err == nil, p.clock(now)) {
				var more int
				more, err = p.drainShop(ctx, id, state, now)
				count += more
			}
			mu.Lock()
			defer mu.Unlock()
			posted += count
			if err != nil {
				errs = append(errs, err)
			}
		})
	}
	wait.Wait()
	return posted, errors.Join(errs...)
}

// take is a shop's state for one that will post for it; nil where somebody does
// already, or its channel takes nothing yet.
func (p *Poster) take(id domain.ShopID, now time.Time) *shopState {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.shops == nil {
		p.shops = map[domain.ShopID]*shopState{}
	}
	state := p.shops[id]
	if state == nil {
		state = &shopState{}
		p.shops[id] = state
	}
	if state.busy {
		state.again = true
		return nil
	}
	if state.pause.After(now) || p.pause.After(now) {
		return nil
	}
	state.busy, state.later = true, time.Time{}
	return state
}

// giveBack ends posting for a shop, unless somebody has found it busy meanwhile: what
// that one came for may have been owed after the last look.
func (p *Poster) giveBack(state *shopState, ok bool, now time.Time) (more bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	more = ok && state.again && !state.pause.After(now) && !p.pause.After(now)
	state.busy, state.again = more, false
	return more
}

// Next is when there is something to do again by itself: a notice is tried again, a
// channel takes posts again. ok is false for never.
func (p *Poster) Next(ctx context.Context, now time.Time) (next time.Time, ok bool, err error) {
	next, ok, err = p.Outbox.NextTry(ctx, now)
	sooner := func(at time.Time) {
		if at.After(now) && (!ok || at.Before(next)) {
			next, ok = at, true
		}
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	sooner(p.pause)
	// any order: the soonest of them all
	for _, state := range p.shops {
		sooner(state.pause)
		sooner(state.later)
	}
	return next, ok, err
}

// drainShop posts what one shop owes, until nothing is left that may be posted now.
func (p *Poster) drainShop(ctx context.Context, id domain.ShopID, state *shopState, now time.Time) (posted int,
	err error) {
	begun := p.clock(now)
	for {
		undelivered, err := p.Outbox.Undelivered(ctx, id, now, batch)
		if err != nil {
			return posted, err
		}
		sent := 0
		for _, owed := range undelivered {
			at := now.Add(p.clock(now).Sub(begun))
			if !p.slot(state, owed, at) {
				continue
			}
			sent++
			message, err := p.put(ctx, owed, at)
			if ctx.Err() != nil {
				return posted, ctx.Err()
			}
			at = now.Add(p.clock(now).Sub(begun))
			if err == nil {
				p.logGivenUp(owed, message)
				p.reached(state, owed, nil)
				err = p.Outbox.Posted(ctx, owed.Shop, owed.ID, message, at)
				posted++
			} else {
				var stop bool
				if stop, err = p.failed(ctx, state, owed, at, err); stop && err == nil {
					return posted, nil
				}
			}
			if err != nil {
				return posted, err
			}
			// What was held up behind this one may be more urgent than what is listed next.
			if owed.Urgency < domain.Routine && owed.Notice.Urgency() > owed.Urgency {
				break
			}
		}
		if sent == 0 {
			return posted, nil
		}
	}
}

// failed notes that a notice could not be posted, and when to try again. stop says that
// the shop's channel takes nothing until then.
func (p *Poster) failed(ctx context.Context, state *shopState, owed domain.Undelivered, at time.Time,
	failure error) (stop bool, err error) {
	wait := p.wait(owed.Attempts, owed.Urgency < domain.Routine)
	var said *Wait
	p.reached(state, owed, failure)
	switch {
	case errors.Is(failure, errNoChannel):
		wait = noChannelWait
	case errors.As(failure, &said):
		wait = max(said.For, time.Second)
		if said.Limited {
			// As long as was asked, from now on.
			wait = max(said.For, time.Millisecond)
			p.mu.Lock()
			stop, state.pause = true, at.Add(wait)
			if said.All {
				p.pause = state.pause
			}
			p.mu.Unlock()
		}
	}
	var unsent *Unsent
	mayStand := !owed.Sent.IsZero() || !errors.As(failure, &unsent)
	return stop, p.Outbox.Tried(ctx, owed, at, at.Add(wait), failure.Error(), mayStand)
}

// unreached is what kept a notice from its channel, before that was asked for anything.
type unreached struct{ error }

// Unwrap is the reason.
func (u *unreached) Unwrap() error { return u.error }

// reached logs what keeps a shop's notices from its channel, once for each reason, and
// that it is over. What the channel answers is the channel's to log.
func (p *Poster) reached(state *shopState, owed domain.Undelivered, failure error) {
	why := ""
	var before *unreached
	if errors.As(failure, &before) {
		why = before.Error()
	}
	p.mu.Lock()
	ailed := state.ails
	state.ails = why
	p.mu.Unlock()
	switch {
	case p.Log == nil || why == ailed:
	case why != "":
		p.Log.Warn("notices do not reach their channel", "shop", owed.Shop, "reason", why)
	default:
		p.Log.Info("notices reach their channel again", "shop", owed.Shop)
	}
}

// logGivenUp logs a post that was given up.
func (p *Poster) logGivenUp(owed domain.Undelivered, message string) {
	if p.Log != nil && owed.Notice.Op == domain.Post && message == "" {
		p.Log.Warn("a notice that may stand in its channel, which cannot be read, was not sent again", "shop",
			owed.Shop,
			"notice", owed.Notice.Key, "sent", owed.Sent)
	}
}

// slot reports whether a notice may be sent now. A routine post takes one of the few
// places that such posts have; where none is free it waits, and what is urgent does not.
func (p *Poster) slot(state *shopState, owed domain.Undelivered, at time.Time) bool {
	if p.RoutineSlots == 0 || owed.Notice.Op != domain.Post || owed.Urgency < domain.Routine {
		return true
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	state.routine = slices.DeleteFunc(state.routine, func(t time.Time) bool { return at.Sub(t) >= SlotsWithin })
	if len(state.routine) >= p.RoutineSlots {
		state.later = state.routine[0].Add(SlotsWithin)
		return false
	}
	state.routine = append(state.routine, at)
	return true
}

// clock is the poster's clock, or now where it has none.
func (p *Poster) clock(now time.Time) time.Time {
	if p.Now == nil {
		return now
	}
	return p.Now()
}

// put does what one notice asks. That a post is sent is noted before, so that a program
// which dies of it is followed by one that knows.
func (p *Poster) put(ctx context.Context, undelivered domain.Undelivered, at time.Time) (message string, err error) {
	shop, err := p.Settings(ctx, undelivered.Shop)
	if err != nil {
		return "", &Unsent{&unreached{err}}
	}
	if shop.NoticeChannel == "" {
		return "", &Unsent{&unreached{errNoChannel}}
	}
	notice := undelivered.Notice
	if notice.Op != domain.Post && undelivered.Message == "" {
		return "", nil // its target was given up as posted: there is nothing to change
	}
	switch notice.Op {
	case domain.Post:
		said := p.Render(shop, notice)
		if err := p.Outbox.Sending(ctx, undelivered, at); err != nil && notice.Urgency() == domain.Routine {
			return "", &Unsent{&unreached{err}}
		} else if err != nil && undelivered.Sent.IsZero() {
			// What is urgent does not wait for books that cannot be written; it may have been
			// sent ever since it was owed.
			undelivered.Sent = undelivered.Made
		}
		return p.Channel.Post(ctx, shop, undelivered, said)
	case domain.Edit:
		return "", p.Channel.Edit(ctx, shop, undelivered, p.Render(shop, notice))
	case domain.Pin:
		return "", p.Channel.Pin(ctx, shop, undelivered)
	case domain.Unpin:
		return "", p.Channel.Unpin(ctx, shop, undelivered)
	}
	return "", fmt.Errorf("unknown operation %q", notice.Op)
}

// wait is how long to wait after a number of failed attempts and one more.
func (p *Poster) wait(attempts int, urgent bool) time.Duration {
	first := firstWait
	if urgent {
		first = firstUrgentWait
	}
	wait := longestWait
	if attempts < 10 {
		wait = min(first<<attempts, longestWait)
	}
	if p.Jitter != nil {
		wait += time.Duration(p.Jitter() * float64(wait) / 4)
	}
	return wait
}
