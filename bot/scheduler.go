package bot

import (
	"context"
	"runtime/debug"
	"sync"
	"time"

	"github.com/bwmarrin/discordgo"
	"github.com/robfig/cron/v3"
)

// everyMinute wakes at each full minute of this machine's clock. Its times are sums, which
// go by the steady clock beneath: that somebody sets the other keeps no wake back.
type everyMinute struct{}

// Next is the next full minute.
func (everyMinute) Next(now time.Time) time.Time {
	return now.Add(time.Minute - time.Duration(now.Second())*time.Second - time.Duration(now.Nanosecond()))
}

// schedule wakes once Discord's time was heard and then once a minute: what is due
// is asked of the store, so a missed tick is caught up and one too many does
// nothing. In between, the poster looks at the outbox whenever it is nudged. The
// function that it returns stops all of it and waits.
func (b *Bot) schedule(ctx context.Context) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	clock := cron.New(cron.WithLocation(time.UTC), cron.WithLogger(cron.DiscardLogger),
		cron.WithChain(cron.SkipIfStillRunning(cron.DiscardLogger)))
	clock.Schedule(everyMinute{}, cron.FuncJob(func() { b.safely("wake", func() { b.tick(ctx) }) }))
	for _, job := range b.cfg.EachMinute {
		clock.Schedule(everyMinute{}, cron.FuncJob(func() {
			b.safely("a minute's job", func() { job(ctx, b.clock.now()) })
		}))
	}
	clock.Start()
	var running sync.WaitGroup
	running.Go(func() {
		select {
		case <-b.clock.first:
			b.safely("first wake", func() { b.tick(ctx) })
		case <-ctx.Done():
		}
	})
	running.Go(func() { b.keepPosting(ctx) })
	running.Go(func() { b.booking.keep(ctx) })
	running.Go(func() { b.photos.keep(ctx, b.safely) })
	return func() {
		cancel()
		<-clock.Stop().Done()
		running.Wait()
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
			now := b.clock.now()
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
				timer.Reset(max(next.Sub(b.clock.now()), shortestLook))
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
			if b.cfg.Watch.Panicked != nil {
				b.cfg.Watch.Panicked()
			}
		}
	}()
	f()
}

// tick judges what time has changed, and posts what is owed. Nothing is judged by a clock
// that Discord's contradicts, or before Discord's was heard: a year ahead for a minute
// would take every machine out of service.
func (b *Bot) tick(ctx context.Context) {
	if !b.clock.agrees() {
		b.askTime(ctx)
	}
	b.clock.look()
	if b.clock.agrees() {
		b.sweep(ctx)
		b.reconcile(ctx)
	}
	b.nudge()
	b.photos.nudge()
}

// askTime asks Discord something small, for the date of its answer: which of two clocks
// that are apart is right is not known before.
func (b *Bot) askTime(ctx context.Context) {
	session := b.session()
	if session == nil {
		return
	}
	ctx, cancel := context.WithTimeout(ctx, askWithin)
	defer cancel()
	if _, err := session.RequestWithBucketID("GET", discordgo.EndpointApplications+"/@me", nil, "application",
		discordgo.WithContext(ctx)); err != nil && !b.clock.heard() {
		b.cfg.Log.Warn("Discord's time is not known yet", "error", err)
	}
}

// askWithin is how long Discord may take to say what time it is.
const askWithin = 10 * time.Second

// post takes what is owed to the channels, while there is a connection.
func (b *Bot) post(ctx context.Context, now time.Time) {
	if b.link.Load() == nil || !b.clock.heard() {
		return
	}
	b.lookAtServers(ctx)
	if _, err := b.poster.Drain(ctx, now); err != nil && ctx.Err() == nil {
		b.cfg.Log.Error("posting", "error", err)
	}
	b.keepTroubles(ctx)
}

// alt cuts a picture's alternative text to what Discord takes.
func alt(s string) string {
	if r := []rune(s); len(r) > 1024 {
		return string(r[:1023]) + "…"
	}
	return s
}
