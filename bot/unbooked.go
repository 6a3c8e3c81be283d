package bot

import (
	"context"
	"errors"
	"time"

	"setscrew/commands"
	"setscrew/domain"
)

// The times of what the books could not take.
const (
	bookAgain  = 2 * time.Second // between two attempts to store it
	tellWithin = 5 * time.Second // for telling a channel of it; storing it waits no longer
	lastBook   = 2 * time.Second // for storing it when the program ends
)

// booking tells channels of dangers that wait in memory for the books, and has them
// stored. It is used by one goroutine at a time.
type booking struct {
	bot   *Bot
	wake  chan struct{} // something may wait
	tries map[string]domain.Undelivered
	again map[string]time.Time // when a notice that failed is tried again; both by its key in all shops
}

func newBooking(b *Bot) *booking {
	return &booking{bot: b, wake: make(chan struct{}, 1), tries: map[string]domain.Undelivered{},
		again: map[string]time.Time{}}
}

// nudge has what waits seen to soon.
func (k *booking) nudge() {
	select {
	case k.wake <- struct{}{}:
	default:
	}
}

// keep sees to what waits whenever it is nudged, and again and again while something
// does, until ctx is done.
func (k *booking) keep(ctx context.Context) {
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-k.wake:
		case <-timer.C:
		}
		k.bot.safely("booking", func() { k.see(ctx) })
		if len(k.bot.cfg.Desk.Unbooked()) > 0 {
			timer.Reset(bookAgain)
		}
	}
}

// see tells the channels of what waits and was not told yet, and has all of it stored.
func (k *booking) see(ctx context.Context) {
	waiting := k.bot.cfg.Desk.Unbooked()
	if len(waiting) == 0 {
		clear(k.tries)
		clear(k.again)
		return
	}
	for _, one := range waiting {
		k.postUnbooked(ctx, one)
	}
	left := k.bot.cfg.Desk.Book(ctx, k.bot.clock.now())
	if left < len(waiting) {
		k.bot.cfg.Log.Info("dangers that waited for the books are seen to", "left", left)
		k.bot.nudge()
	}
}

// postUnbooked posts from memory that a danger is not in the books, once for each: its nonce
// keeps one whose answer was lost from being posted again.
func (k *booking) postUnbooked(ctx context.Context, one commands.Unbooked) {
	key, now := one.Notice.Key, k.bot.clock.now()
	id := nonce(one.Shop.ID, key)
	if one.Entry.Told.Message != "" || one.Shop.NoticeChannel == "" || k.bot.link.Load() == nil ||
		now.Before(k.again[id]) {
		return
	}
	owed, tried := k.tries[id]
	if !tried {
		owed = domain.Undelivered{Shop: one.Shop.ID, Notice: one.Notice, Made: now, Urgency: one.Notice.Urgency()}
	}
	soon, stop := context.WithTimeout(ctx, tellWithin)
	defer stop()
	text := k.bot.cfg.Desk.Render(one.Shop, one.Notice)
	if owed.Sent.IsZero() {
		owed.Sent = now
	}
	message, err := k.bot.notices.Post(soon, one.Shop, owed, text)
	if mayStand(err) {
		// Asked again at once, Discord says which message it is.
		message, err = k.bot.notices.Post(soon, one.Shop, owed, text)
	}
	told := domain.Told{Key: key, Message: message, At: owed.Made}
	if err == nil || mayStand(err) {
		k.bot.cfg.Desk.Told(one.Shop.ID, one.Entry.Key, told)
	}
	if err == nil {
		return
	}
	if !mayStand(err) {
		owed.Sent = time.Time{}
	}
	wait := k.bot.poster.wait(owed.Attempts, true)
	var said *Wait
	if errors.As(err, &said) {
		wait = said.For
	}
	owed.Attempts++
	k.tries[id], k.again[id] = owed, now.Add(wait)
}

// mayStand reports whether a post that failed may stand in the channel all the same.
func mayStand(err error) bool { return err != nil && !errors.As(err, new(*Unsent)) }

// last has what waits stored while there is time, and tells the operator of what is lost.
func (k *booking) last() {
	if len(k.bot.cfg.Desk.Unbooked()) == 0 {
		return
	}
	ctx, stop := context.WithTimeout(context.Background(), lastBook)
	defer stop()
	k.bot.safely("booking", func() { k.bot.cfg.Desk.Book(ctx, k.bot.clock.now()) })
	for _, one := range k.bot.cfg.Desk.Unbooked() {
		k.bot.cfg.Log.Error("a danger is lost: the books could not be written before the end", "shop", one.Shop.ID,
			"machine", one.Notice.Args.Machine, "interaction", one.Entry.Key)
	}
}
