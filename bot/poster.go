// Package bot carries Setscrew into a chat.
package bot

import (
	"context"
	"errors"
	"fmt"
	"time"

	"setscrew/commands"
	"setscrew/domain"
)

// Outbox is what the poster needs of a store.
type Outbox interface {
	// Undelivered lists the notices that may be posted now, of each machine only the
	// first.
	Undelivered(ctx context.Context, now time.Time, limit int) ([]domain.Undelivered, error)
	// Posted confirms one; message is what a post became.
	Posted(ctx context.Context, shop domain.ShopID, id int64, message string, now time.Time) error
	// Tried notes a failure, and when to try again.
	Tried(ctx context.Context, shop domain.ShopID, id int64, now, again time.Time, problem string) error
}

// Channel is where a shop's notices go; bot/channeltest holds what it promises. No
// error means that the operation is done, or that trying it again is of no use: a
// message deleted meanwhile, a pin refused. A Wait says when to try again, any other
// error that it may be tried soon. The same operation again changes nothing more.
type Channel interface {
	// Post puts a notice into the channel and returns what it became, "" where it is
	// given up.
	Post(ctx context.Context, shop domain.Shop, o domain.Undelivered, m commands.Message) (message string, err error)
	// The operations that follow are about o.Message.
	Edit(ctx context.Context, shop domain.Shop, o domain.Undelivered, m commands.Message) error
	Pin(ctx context.Context, shop domain.Shop, o domain.Undelivered) error
	Unpin(ctx context.Context, shop domain.Shop, o domain.Undelivered) error
}

// Poster takes notices from the outbox to the channel, in order for each
// machine: one that fails holds back those behind it.
type Poster struct {
	Outbox   Outbox
	Channel  Channel
	Settings func(context.Context, domain.ShopID) (domain.Shop, error)
	Render   func(domain.Shop, domain.Notice) commands.Message
	// Jitter is a number from 0 to 1 that spreads retries; nil for none.
	Jitter func() float64
}

// batch is how many notices one look at the outbox takes.
const batch = 50

// The waits between attempts: doubled from the first to the longest.
const (
	firstWait   = 5 * time.Second
	longestWait = 10 * time.Minute
)

// noChannelWait is how long a shop's notices wait where no channel is set for them:
// the settings that name one have them tried again at once.
const noChannelWait = 24 * time.Hour

// errNoChannel is a notice owed by a shop that has no channel for it yet.
var errNoChannel = errors.New("no channel for notices is set")

// Drain posts what is owed at now and returns how many notices it confirmed. A
// notice that cannot be posted is tried again later and is no error; an error
// is the outbox's.
func (p *Poster) Drain(ctx context.Context, now time.Time) (int, error) {
	posted := 0
	for {
		undelivered, err := p.Outbox.Undelivered(ctx, now, batch)
		if err != nil || len(undelivered) == 0 {
			return posted, err
		}
		for _, owed := range undelivered {
			message, err := p.put(ctx, owed)
			if ctx.Err() != nil {
				return posted, ctx.Err()
			}
			if err != nil {
				wait := p.wait(owed.Attempts)
				var said *Wait
				switch {
				case errors.Is(err, errNoChannel):
					wait = noChannelWait
				case errors.As(err, &said):
					wait = max(said.For, time.Second)
				}
				err = p.Outbox.Tried(ctx, owed.Shop, owed.ID, now, now.Add(wait), err.Error())
			} else {
				err = p.Outbox.Posted(ctx, owed.Shop, owed.ID, message, now)
				posted++
			}
			if err != nil {
				return posted, err
			}
		}
	}
}

// put does what one notice asks.
func (p *Poster) put(ctx context.Context, o domain.Undelivered) (message string, err error) {
	shop, err := p.Settings(ctx, o.Shop)
	if err != nil {
		return "", err
	}
	if shop.NoticeChannel == "" {
		return "", errNoChannel
	}
	notice := o.Notice
	if notice.Op != domain.Post && o.Message == "" {
		return "", nil // its target was given up as posted: there is nothing to change
	}
	switch notice.Op {
	case domain.Post:
		return p.Channel.Post(ctx, shop, o, p.Render(shop, notice))
	case domain.Edit:
		return "", p.Channel.Edit(ctx, shop, o, p.Render(shop, notice))
	case domain.Pin:
		return "", p.Channel.Pin(ctx, shop, o)
	case domain.Unpin:
		return "", p.Channel.Unpin(ctx, shop, o)
	}
	return "", fmt.Errorf("unknown operation %q", notice.Op)
}

// wait is how long to wait after a number of failed attempts and one more.
func (p *Poster) wait(attempts int) time.Duration {
	wait := longestWait
	if attempts < 10 {
		wait = min(firstWait<<attempts, longestWait)
	}
	if p.Jitter != nil {
		wait += time.Duration(p.Jitter() * float64(wait) / 4)
	}
	return wait
}
