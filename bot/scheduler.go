package bot

import (
	"context"
	"runtime/debug"
	"sync"
	"time"

	"github.com/robfig/cron/v3"
)

// schedule wakes once at the start and then once a minute, in UTC: what is due
// is asked of the store, so a missed tick is caught up and one too many does
// nothing. In between, the poster looks at the outbox whenever it is nudged. The
// function that it returns stops all of it and waits.
func (b *Bot) schedule(ctx context.Context) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	clock := cron.New(cron.WithLocation(time.UTC), cron.WithLogger(cron.DiscardLogger),
		cron.WithChain(cron.SkipIfStillRunning(cron.DiscardLogger)))
	if _, err := clock.AddFunc("* * * * *", func() { b.safely("wake", func() { b.tick(ctx) }) }); err != nil {
		panic(err) // the pattern is a constant
	}
	clock.Start()
	done := make(chan struct{})
	go func() {
		defer close(done)
		b.safely("first wake", func() { b.tick(ctx) })
		b.keepPosting(ctx)
	}()
	return func() {
		cancel()
		<-clock.Stop().Done()
		<-done
	}
}

// keepPosting looks at the outbox whenever it is nudged, and when the next notice falls
// due by itself, until ctx is done. Looks may overlap: one that waits for a slow
// channel keeps no other from being posted to.
func (b *Bot) keepPosting(ctx context.Context) {
	var looks sync.WaitGroup
	defer looks.Wait()
	timer := time.NewTimer(0)
	defer timer.Stop()
	looked := make(chan time.Time, 1) // the moment of a look that has ended
	look := func() {
		looks.Go(func() {
			now := b.cfg.Now()
			b.safely("posting", func() { b.post(ctx, now) })
			select {
			case looked <- now:
			default:
			}
		})
	}
	for {
		select {
		case <-ctx.Done():
			return
		case <-b.wake:
			look()
		case <-timer.C:
			look()
		case then := <-looked:
			// From the look's own moment on, so that nothing falls between the two.
			if next, ok, err := b.poster.Next(ctx, then); err == nil && ok {
				timer.Reset(max(next.Sub(b.cfg.Now()), shortestLook))
			}
		}
	}
}

// shortestLook is the least time between two looks at the outbox that nobody asked for.
const shortestLook = 50 * time.Millisecond

// safely runs f; a panic in it is logged and ends nothing else.
func (b *Bot) safely(what string, f func()) {
	defer func() {
		if p := recover(); p != nil {
			b.cfg.Log.Error(what+" failed", "panic", p, "stack", string(debug.Stack()))
		}
	}()
	f()
}

// tick judges what time has changed, and posts what is owed.
func (b *Bot) tick(ctx context.Context) {
	if err := b.cfg.Desk.Sweep(ctx, b.cfg.Now()); err != nil && ctx.Err() == nil {
		b.cfg.Log.Error("sweep", "error", err)
	}
	b.nudge()
}

// post takes what is owed to the channels, while there is a connection.
func (b *Bot) post(ctx context.Context, now time.Time) {
	if b.link.Load() == nil {
		return
	}
	b.lookAtServers(ctx)
	if _, err := b.poster.Drain(ctx, now); err != nil && ctx.Err() == nil {
		b.cfg.Log.Error("posting", "error", err)
	}
}

// alt cuts a picture's alternative text to what Discord takes.
func alt(s string) string {
	if r := []rune(s); len(r) > 1024 {
		return string(r[:1023]) + "…"
	}
	return s
}
