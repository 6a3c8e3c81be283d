package bot

import (
	"context"
	"errors"
	"time"

	"github.com/bwmarrin/discordgo"
)

// stayConnected keeps a session open until ctx is done. A lost connection is
// resumed; one that cannot be is begun again.
func (b *Bot) stayConnected(ctx context.Context) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	backoff := b.cfg.FirstBackoff
	// rest lets some time pass, more each time; false if ctx is done.
	rest := func(why string, more ...any) bool {
		wait := b.jittered(backoff)
		b.cfg.Log.Warn(why, append(more, "wait", wait)...)
		backoff = min(backoff*2, longestBackoff)
		return pause(ctx, wait)
	}
	var current *link
	registering := false
	for ctx.Err() == nil {
		// A session is begun, or the one that was lost is resumed.
		fresh := current == nil
		if fresh {
			l, err := b.begun()
			if err != nil {
				return err
			}
			current = l
		}
		err, hung := b.connect(ctx, current, fresh)
		switch {
		case errors.As(err, new(Refused)):
			return err
		case err != nil:
			current = nil // begin again; a hung session is given up
			if !rest("connecting failed", "error", err, "hung", hung) {
				return nil
			}
			continue
		}
		// It is watched until it is lost, which soon after its beginning makes the next wait.
		b.cfg.Log.Info("connected")
		b.noteConnected(true)
		if !registering {
			registering = true
			b.work.Go(func() { b.safely("registering", func() { b.keepRegistering(ctx) }) })
		}
		b.nudge()
		steady := b.watch(ctx, current)
		b.noteConnected(false)
		if steady {
			backoff = b.cfg.FirstBackoff
		} else if ctx.Err() == nil && !rest("the connection was lost early") {
			return nil
		}
	}
	return nil
}

// begun is a link on which interactions are answered.
func (b *Bot) begun() (*link, error) {
	fresh, err := newLink(b.cfg.Token, b.cfg.Client)
	if err != nil {
		return nil, err
	}
	fresh.s.AddHandler(func(_ *discordgo.Session, i *discordgo.InteractionCreate) { go b.receive(i) })
	fresh.s.AddHandler(func(_ *discordgo.Session, e *discordgo.Event) { b.hear(e.Type, e.RawData) })
	b.link.Store(fresh)
	return fresh, nil
}

// connect opens a link, or resumes it. One that is fresh begins a session, of which there
// may be one in five seconds and a thousand a day.
func (b *Bot) connect(ctx context.Context, link *link, fresh bool) (err error, hung bool) {
	if fresh {
		asking, cancel := context.WithTimeout(ctx, b.cfg.OpenWithin)
		defer cancel()
		wait, err := link.allowance(asking)
		if err != nil {
			return err, false
		}
		if wait > 0 {
			b.cfg.Log.Warn("half of the sessions that Discord allows a day are used up", "wait", wait)
		}
		if !pause(ctx, max(wait, b.cfg.IdentifyEvery-time.Since(b.identified))) {
			return ctx.Err(), false
		}
		b.identified = time.Now()
	}
	return link.open(ctx, b.cfg.OpenWithin)
}

// watch returns when the connection is lost, or ctx is done. It cuts one on
// which nothing has come for too long. steady says whether it lived long.
func (b *Bot) watch(ctx context.Context, link *link) (steady bool) {
	begin := time.Now()
	ticker := time.NewTicker(b.cfg.WatchInterval)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			return true
		case <-link.gone:
			b.cfg.Log.Info("connection lost")
			return time.Since(begin) >= b.cfg.SteadyFor
		case <-ticker.C:
			if link.silence() > b.cfg.SilentFor {
				b.cfg.Log.Warn("nothing heard for too long", "silence", link.silence())
				link.cut()
			}
		}
	}
}

// jittered is a time made longer by up to half of it, so that not all bots come back at
// once.
func (b *Bot) jittered(d time.Duration) time.Duration {
	if b.cfg.Jitter != nil {
		d += time.Duration(b.cfg.Jitter() * float64(d) / 2)
	}
	return d
}

// pause waits; false if ctx was done first.
func pause(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}
