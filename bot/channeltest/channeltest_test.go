package channeltest_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/bot"
	"setscrew/bot/channeltest"
	"setscrew/commands"
	"setscrew/domain"
)

// standing is a message in a wall.
type standing struct {
	channeltest.Message
	shop domain.ShopID
	key  string
}

// wall is a channel in memory that keeps every promise, unless told to break one.
type wall struct {
	all   []*standing
	now   time.Time
	count int
	fault channeltest.Fault

	// What it does wrong.
	doubles, forgetsSoon, forgetsUntried, onlyByText, prefixes, oneForAll, anyShop       bool
	noReference, wrongReference, newestFirst                                             bool
	editAppends, editAll, editUnpins, editForgets, pinToggles, unpinsNothing, limits     bool
	deletedFails, endless, lostIsWell, brokenIsWell, sayNothing, fast, givesUp, pinHolds bool
	posted, resends, neverResends, losesRefused, neverUnsent                             bool
}

// meet is what becomes of an operation: whether it is done, and its error.
func (w *wall) meet(ctx context.Context, pin bool) (done bool, err error) {
	if err := ctx.Err(); err != nil && !w.endless {
		return false, err
	}
	wait := func(duration time.Duration) error {
		err := errors.New(string(w.fault))
		if w.sayNothing {
			return err
		}
		return &bot.Wait{For: duration, Err: err}
	}
	long := 10 * time.Minute
	if w.fast {
		long = time.Second
	}
	switch w.fault {
	case channeltest.Lost:
		if w.lostIsWell {
			return true, nil
		}
		return true, errors.New("cut off")
	case channeltest.Broken:
		if w.brokenIsWell {
			return false, nil
		}
		return w.posted, errors.New("broken")
	case channeltest.Limited:
		return false, wait(channeltest.LimitedFor)
	case channeltest.Refused, channeltest.Gone:
		if w.givesUp {
			return false, nil
		}
		return false, wait(long)
	case channeltest.PinsOnly:
		if pin && w.pinHolds {
			return false, errors.New("pins are refused")
		}
		return !pin, nil
	}
	return true, nil
}

// known is the message of a key where the wall knows that it stands there.
func (w *wall) known(shop domain.Shop, undelivered domain.Undelivered, m commands.Message) *standing {
	later := !undelivered.Sent.IsZero() && w.now.Sub(undelivered.Sent) > time.Minute
	for _, message := range w.all {
		switch {
		case message.shop != shop.ID && !w.oneForAll, w.doubles, later && w.forgetsSoon,
			later && w.forgetsUntried && undelivered.Attempts == 0, later && w.fault == channeltest.Hidden:
		case w.onlyByText && message.Text == m.Text, w.prefixes && strings.HasPrefix(undelivered.Notice.Key,
			message.key),
			!w.onlyByText && message.key == undelivered.Notice.Key:
			return message
		}
	}
	return nil
}

func (w *wall) Post(ctx context.Context, shop domain.Shop, undelivered domain.Undelivered,
	m commands.Message) (string, error) {
	if s := w.known(shop, undelivered, m); s != nil {
		return s.ID, nil
	}
	if w.fault == channeltest.Hidden && !w.resends {
		less := undelivered.Notice.Urgency() == domain.Routine || w.neverResends
		if less && (!undelivered.Sent.IsZero() || w.losesRefused && undelivered.Attempts > 0) {
			return "", nil
		}
	}
	done, err := w.meet(ctx, false)
	if !done && err != nil && !w.neverUnsent {
		err = &bot.Unsent{Err: err}
	}
	if !done {
		return "", err
	}
	w.count++
	message := &standing{channeltest.Message{ID: fmt.Sprint(w.count), Text: m.Text}, shop.ID, undelivered.Notice.Key}
	w.all = append(w.all, message)
	if w.newestFirst {
		slices.Reverse(w.all)
	}
	switch {
	case err != nil || w.noReference:
		return "", err
	case w.wrongReference:
		return "1", nil
	}
	return message.ID, nil
}

// on does something to a message, if it stands there.
func (w *wall) on(ctx context.Context, shop domain.Shop, undelivered domain.Undelivered, pin bool,
	f func(*standing)) error {
	done, err := w.meet(ctx, pin)
	if !done {
		return err
	}
	found := false
	for _, s := range w.all {
		if (s.shop == shop.ID || w.anyShop) && s.ID == undelivered.Message {
			f(s)
			found = true
		}
	}
	if !found && w.deletedFails {
		return errors.New("no such message")
	}
	return err
}

func (w *wall) Edit(ctx context.Context, shop domain.Shop, undelivered domain.Undelivered,
	message commands.Message) error {
	return w.on(ctx, shop, undelivered, false, func(s *standing) {
		s.Text = message.Text
		s.Pinned = s.Pinned && !w.editUnpins
		if w.editForgets {
			s.key = undelivered.Notice.Key
		}
		if w.editAppends {
			w.all = append(w.all, &standing{s.Message, s.shop, undelivered.Notice.Key})
		}
		for _, other := range w.all {
			if w.editAll {
				other.Text = message.Text
			}
		}
	})
}

func (w *wall) Pin(ctx context.Context, shop domain.Shop, o domain.Undelivered) error {
	return w.on(ctx, shop, o, true, func(s *standing) { s.Pinned = !w.pinToggles || !s.Pinned })
}

func (w *wall) Unpin(ctx context.Context, shop domain.Shop, o domain.Undelivered) error {
	return w.on(ctx, shop, o, true, func(s *standing) { s.Pinned = w.unpinsNothing })
}

// rig is a wall as the cases use it.
func rig(change func(*wall)) channeltest.Rig {
	channel := &wall{now: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)}
	change(channel)
	return channeltest.Rig{Channel: channel, Shop: domain.NewShop("one"), Other: domain.NewShop("two"),
		Stands: func(shop domain.Shop) (all []channeltest.Message) {
			for _, s := range channel.all {
				if s.shop == shop.ID {
					m := s.Message
					if channel.limits && len(m.Text) > 2000 {
						continue
					}
					all = append(all, m)
				}
			}
			return all
		},
		Delete: func(shop domain.Shop, message string) {
			channel.all = slices.DeleteFunc(channel.all, func(s *standing) bool {
				return s.shop == shop.ID &&
					s.ID == message
			})
		},
		Now:     func() time.Time { return channel.now },
		Advance: func(d time.Duration) { channel.now = channel.now.Add(d) },
		Meets: []channeltest.Fault{channeltest.Lost, channeltest.Broken, channeltest.Limited, channeltest.Refused,
			channeltest.PinsOnly, channeltest.Gone, channeltest.Hidden},
		Hurt: func(f channeltest.Fault) { channel.fault = f }, Mend: func() { channel.fault = "" }}
}

// A channel that keeps every promise passes every case.
func TestGoodChannel(t *testing.T) {
	t.Parallel()
	channeltest.Run(t, func(*testing.T) channeltest.Rig { return rig(func(*wall) {}) })
}

// recorder is a test that notes whether it failed.
type recorder struct{ failed []string }

// stopped is what ends a case.
type stopped struct{}

func (r *recorder) Helper() {}
func (r *recorder) Errorf(format string, args ...any) {
	r.failed = append(r.failed, fmt.Sprintf(format, args...))
}
func (r *recorder) Fatalf(format string, args ...any) {
	r.Errorf(format, args...)
	panic(stopped{})
}

// failures is what a case finds wrong with a channel.
func failures(c channeltest.Case, rig channeltest.Rig) []string {
	noted := &recorder{}
	func() {
		defer func() {
			if p := recover(); p != nil && p != (stopped{}) {
				panic(p)
			}
		}()
		c.Check(noted, rig)
	}()
	return noted.failed
}

// Channels that break a promise are found out by the case about it, and every case
// finds out one of them.
func TestCasesFindWhatIsWrong(t *testing.T) {
	t.Parallel()
	finds := map[string]bool{}
	for _, test := range []struct {
		name  string
		wrong func(*wall)
		found string // by the case of that name
	}{
		{"it says no reference", func(w *wall) { w.noReference = true }, "what is posted stands once"},
		{"always the same reference", func(w *wall) { w.wrongReference = true }, "notices stand in order"},
		{"the newest first", func(w *wall) { w.newestFirst = true }, "notices stand in order"},
		{"an edit is another message", func(w *wall) { w.editAppends = true }, "an edit changes one message"},
		{"an edit changes all", func(w *wall) { w.editAll = true }, "an edit changes one message"},
		{"an edit takes the pin", func(w *wall) { w.editUnpins = true }, "a pin stands until it is taken away"},
		{"a second pin takes the first", func(w *wall) { w.pinToggles = true }, "a pin stands until it is taken away"},
		{"a pin is never taken", func(w *wall) { w.unpinsNothing = true }, "a pin stands until it is taken away"},
		{"what is long is left out", func(w *wall) { w.limits = true }, "a notice is one message, however long"},
		{"a deleted message is an error", func(w *wall) { w.deletedFails = true }, "a message deleted meanwhile"},
		{"posted each time", func(w *wall) { w.doubles = true }, "the same key again at once"},
		{"not looked for", func(w *wall) { w.forgetsSoon = true }, "the same key again much later"},
		{"only what was tried is looked for", func(w *wall) { w.forgetsUntried = true },
			"the same key again by another program"},
		{"found by its words", func(w *wall) { w.onlyByText = true }, "an edit leaves a message to be found"},
		{"an edit has another reference", func(w *wall) { w.editForgets = true },
			"an edit leaves a message to be found"},
		{"the same words are the same notice", func(w *wall) { w.onlyByText = true }, "another key is another notice"},
		{"found by the beginning of its key", func(w *wall) { w.prefixes = true }, "another key is another notice"},
		{"keys of all shops are one", func(w *wall) { w.oneForAll = true }, "keys are a shop's own"},
		{"any shop's message is edited", func(w *wall) { w.anyShop = true },
			"another shop's message is out of reach"},
		{"what is not there is an error", func(w *wall) { w.deletedFails = true },
			"another shop's message is out of reach"},
		{"a context is not looked at", func(w *wall) { w.endless = true }, "a context that ended does nothing"},
		{"a lost answer is taken for one", func(w *wall) { w.lostIsWell = true }, "an answer that was lost"},
		{"posted again after a lost answer", func(w *wall) { w.doubles = true }, "an answer that was lost"},
		{"a fault is taken for well", func(w *wall) { w.brokenIsWell = true }, "a fault that passes"},
		{"done in spite of a fault", func(w *wall) { w.posted = true }, "a fault that passes"},
		{"it does not say how long", func(w *wall) { w.sayNothing = true }, "asked to wait, it says for how long"},
		{"refused, tried soon", func(w *wall) { w.fast = true }, "what is refused is tried again, but not fast"},
		{"refused, given up", func(w *wall) { w.givesUp = true }, "what is refused is tried again, but not fast"},
		{"gone, tried soon", func(w *wall) { w.fast = true }, "a channel that is gone"},
		{"gone, given up", func(w *wall) { w.givesUp = true }, "a channel that is gone"},
		{"a refused pin is an error", func(w *wall) { w.pinHolds = true }, "a pin that is refused holds nothing up"},
		{"unseen, posted again", func(w *wall) { w.resends = true }, "what may stand there unseen"},
		{"unseen, a tag-out given up", func(w *wall) { w.neverResends = true }, "what may stand there unseen"},
		{"refused only, given up", func(w *wall) { w.losesRefused = true }, "what cannot stand there is posted"},
		{"refused, and not said to be unsent", func(w *wall) { w.neverUnsent = true },
			"what cannot stand there is posted"},
	} {
		cases := channeltest.Cases()
		i := slices.IndexFunc(cases, func(one channeltest.Case) bool { return one.Name == test.found })
		if i < 0 {
			t.Fatalf("%s: no case is called %q", test.name, test.found)
		}
		finds[test.found] = true
		if said := failures(cases[i], rig(test.wrong)); len(said) == 0 {
			t.Errorf("%s: %q finds nothing", test.name, test.found)
		}
	}
	for _, c := range channeltest.Cases() {
		if !finds[c.Name] {
			t.Errorf("no wrong channel shows that %q finds anything", c.Name)
		}
	}
}

// Every case has a name of its own and says why.
func TestCasesSayWhy(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, c := range channeltest.Cases() {
		if c.Name == "" || len(strings.Fields(c.Why)) < 6 || seen[c.Name] {
			t.Errorf("case %q, why: %q", c.Name, c.Why)
		}
		seen[c.Name] = true
	}
	if len(seen) < 15 {
		t.Errorf("only %d cases", len(seen))
	}
}
