package bot

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/domain"
)

// plainOutbox owes notices of several shops, each of a machine of its own.
type plainOutbox struct {
	mu    sync.Mutex
	owed  []*plainOwed
	empty func() // called once when nothing is listed
}

type plainOwed struct {
	domain.Undelivered
	again time.Time
	done  bool
}

func (o *plainOutbox) add(shop domain.ShopID, urgency domain.Urgency, n int) {
	for range n {
		one := &plainOwed{Undelivered: domain.Undelivered{Shop: shop, ID: int64(len(o.owed) + 1), Urgency: urgency,
			Notice: domain.Notice{Op: domain.Post, Key: fmt.Sprint(shop, len(o.owed)+1)}}}
		o.owed = append(o.owed, one)
	}
}

// waiting lists what may be posted now.
func (o *plainOutbox) waiting(now time.Time) (all []*plainOwed) {
	for _, one := range o.owed {
		if !one.done && !one.again.After(now) {
			all = append(all, one)
		}
	}
	return all
}

func (o *plainOutbox) ShopsUndelivered(_ context.Context, now time.Time) (all []domain.ShopID, _ error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, one := range o.waiting(now) {
		if !slices.Contains(all, one.Shop) {
			all = append(all, one.Shop)
		}
	}
	return all, nil
}

func (o *plainOutbox) Undelivered(_ context.Context, shop domain.ShopID, now time.Time, limit int) (
	all []domain.Undelivered, _ error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	defer func() {
		if empty := o.empty; empty != nil && len(all) == 0 {
			o.empty = nil
			o.mu.Unlock()
			defer o.mu.Lock()
			empty()
		}
	}()
	for _, one := range o.waiting(now) {
		if one.Shop == shop {
			all = append(all, one.Undelivered)
		}
	}
	slices.SortStableFunc(all, func(a, b domain.Undelivered) int { return int(a.Urgency - b.Urgency) })
	return all[:min(limit, len(all))], nil
}

func (o *plainOutbox) NextTry(_ context.Context, now time.Time) (next time.Time, ok bool, _ error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, one := range o.owed {
		if !one.done && one.again.After(now) && (!ok || one.again.Before(next)) {
			next, ok = one.again, true
		}
	}
	return next, ok, nil
}

func (o *plainOutbox) Sending(_ context.Context, _ domain.Undelivered, _ time.Time) error {
	return nil
}

func (o *plainOutbox) Posted(_ context.Context, _ domain.ShopID, id int64, _ string, _ time.Time) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.owed[id-1].done = true
	return nil
}

func (o *plainOutbox) Tried(_ context.Context, tried domain.Undelivered, _, again time.Time, _ string, _ bool) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.owed[tried.ID-1].again = again
	o.owed[tried.ID-1].Attempts++
	return nil
}

// asked is a channel that notes what it was asked to post, and answers as told.
type asked struct {
	failing
	mu     sync.Mutex
	keys   []string
	answer func(shop domain.ShopID) error
	heard  chan struct{} // one for each post, where it is not nil
}

func (a *asked) Post(_ context.Context, shop domain.Shop, o domain.Undelivered, _ commands.Message) (string, error) {
	a.mu.Lock()
	a.keys = append(a.keys, o.Notice.Key)
	a.mu.Unlock()
	if a.heard != nil {
		a.heard <- struct{}{}
	}
	return "1", a.answer(shop.ID)
}

// of is how often a shop's channel was asked.
func (a *asked) of(shop domain.ShopID) (n int) {
	a.mu.Lock()
	defer a.mu.Unlock()
	for _, k := range a.keys {
		if strings.HasPrefix(k, string(shop)) {
			n++
		}
	}
	return n
}

func newSlots(answer func(domain.ShopID) error) (*plainOutbox, *asked, *Poster) {
	o, a := &plainOutbox{}, &asked{answer: answer}
	return o, a, &Poster{Outbox: o, Channel: a,
		Settings: func(_ context.Context, id domain.ShopID) (domain.Shop, error) {
			return domain.Shop{ID: id, NoticeChannel: "notices"}, nil
		},
		Render: func(domain.Shop, domain.Notice) commands.Message { return commands.Message{} }}
}

// A shop whose channel does not answer holds up no other, and is not asked a second
// time meanwhile.
func TestSlowShopHoldsUpNoOther(t *testing.T) {
	t.Parallel()
	release := make(chan struct{})
	owed, at, poster := newSlots(func(id domain.ShopID) error {
		if id == "slow" {
			<-release
		}
		return nil
	})
	at.heard = make(chan struct{}, 10)
	owed.add("slow", domain.Routine, 3)
	owed.add("quick", domain.Routine, 3)
	now := time.Now()
	first := make(chan int)
	go func() {
		n, err := poster.Drain(context.Background(), now)
		if err != nil {
			t.Error(err)
		}
		first <- n
	}()
	for range 4 { // three of the quick shop's, and one that is not answered
		<-at.heard
	}
	owed.mu.Lock()
	owed.add("quick", domain.UrgentDanger, 1)
	owed.mu.Unlock()
	if n, err := poster.Drain(context.Background(), now); n != 1 || err != nil {
		t.Errorf("while a shop is waited for, another's %d notices are posted, %v; want 1", n, err)
	}
	if n := at.of("slow"); n != 1 {
		t.Errorf("the slow shop is asked %d times at once", n)
	}
	close(release)
	if n := <-first; n != 6 {
		t.Errorf("%d notices in the end, want 6", n)
	}
}

// What is owed just when a drain has found nothing more is not left lying, though the
// drain that was begun for it finds the shop busy.
func TestNoNoticeIsLeftLying(t *testing.T) {
	t.Parallel()
	o, at, poster := newSlots(func(domain.ShopID) error { return nil })
	ctx, now := context.Background(), time.Now()
	o.add("a", domain.Routine, 1)
	o.empty = func() {
		o.add("a", domain.UrgentDanger, 1)
		if n, err := poster.Drain(ctx, now); n != 0 || err != nil {
			t.Errorf("a drain beside another posts %d, %v", n, err)
		}
	}
	if n, err := poster.Drain(ctx, now); n != 2 || err != nil || at.of("a") != 2 {
		t.Errorf("%d posted, %v; want 2", n, err)
	}
}

// A refusal for too many requests stops its channel, or all of them, for just as long
// as it asks; the poster knows when to go on.
func TestLimitedChannelWaits(t *testing.T) {
	t.Parallel()
	for _, all := range []bool{false, true} {
		limited := true
		owed, at, poster := newSlots(func(id domain.ShopID) error {
			if limited && id == "a" {
				return &Wait{For: 700 * time.Millisecond, Err: errors.New("too many"), Limited: true, All: all}
			}
			return nil
		})
		ctx, now := context.Background(), time.Now()
		drain := func(at time.Time) {
			t.Helper()
			if _, err := poster.Drain(ctx, at); err != nil {
				t.Fatal(err)
			}
		}
		owed.add("a", domain.UrgentDanger, 3)
		drain(now)
		if n := at.of("a"); n != 1 {
			t.Errorf("everywhere %v: asked %d times after a refusal", all, n)
		}
		if next, ok, err := poster.Next(ctx, now); !ok || err != nil || !next.Equal(now.Add(700*time.Millisecond)) {
			t.Errorf("everywhere %v: goes on at %v, %v, %v", all, next.Sub(now), ok, err)
		}
		owed.add("b", domain.Routine, 1)
		drain(now.Add(600 * time.Millisecond))
		if at.of("a") != 1 || at.of("b") != map[bool]int{false: 1, true: 0}[all] {
			t.Errorf("everywhere %v: meanwhile asked %d and %d times", all, at.of("a"), at.of("b"))
		}
		limited = false
		drain(now.Add(700 * time.Millisecond))
		if at.of("a") != 4 || at.of("b") != 1 {
			t.Errorf("everywhere %v: afterwards asked %d and %d times, want 4 and 1", all, at.of("a"), at.of("b"))
		}
	}
}

// Routine posts take three of a channel's places in five seconds; what is urgent goes
// past them.
func TestRoutineSlots(t *testing.T) {
	t.Parallel()
	o, at, poster := newSlots(func(domain.ShopID) error { return nil })
	poster.RoutineSlots = 3
	o.add("a", domain.Routine, 5)
	o.add("a", domain.UrgentCall, 2)
	ctx, now := context.Background(), time.Now()
	if n, err := poster.Drain(ctx, now); n != 5 || err != nil || !slices.Equal(at.keys[:2], []string{"a6", "a7"}) {
		t.Errorf("posted %d, %v: %q", n, err, at.keys)
	}
	if next, ok, err := poster.Next(ctx, now); !ok || err != nil || !next.Equal(now.Add(SlotsWithin)) {
		t.Errorf("the next slot in %v, %v, %v", next.Sub(now), ok, err)
	}
	if n, _ := poster.Drain(ctx, now.Add(SlotsWithin-time.Millisecond)); n != 0 {
		t.Errorf("%d too soon", n)
	}
	if n, _ := poster.Drain(ctx, now.Add(SlotsWithin)); n != 2 {
		t.Errorf("%d when the slots are free, want 2", n)
	}
	if next, ok, _ := poster.Next(ctx, now.Add(SlotsWithin)); ok {
		t.Errorf("with nothing owed there is more to do at %v", next)
	}
}
