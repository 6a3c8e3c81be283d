package bot_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"setscrew/bot/discordtest"
	"setscrew/domain"
)

// owe has the shop owe routine notices of as many machines, which are put straight
// into its books: each reports a problem.
func (r *rig) owe(notices int) {
	r.t.Helper()
	shop := r.db.Shop(domain.ShopID(r.guild.ID))
	machines, err := shop.Machines(r.ctx)
	r.check(err)
	setup := machines[0].Setup
	for i := range notices {
		at, by := time.Now(), domain.PersonID(fmt.Sprint("member ", i%10)) // nobody may report so much alone
		o, err := shop.Report(r.ctx, domain.Entry{Key: fmt.Sprint("add", i), At: at, Recorded: at,
			By: by, For: by, Body: domain.MachineAdded{Name: fmt.Sprintf("Slate %d", i), Setup: setup}})
		r.check(err)
		_, err = shop.Report(r.ctx, domain.Entry{Key: fmt.Sprint("hums", i), Machine: o.After.Machine.ID, At: at,
			Recorded: at, By: by, For: by,
			Body: domain.Problem{Name: "hums a tune"}})
		r.check(err)
	}
}

// stands waits until a message of the channel begins so, and is how long that took.
func (r *rig) stands(within time.Duration, begins string) time.Duration {
	r.t.Helper()
	begun := time.Now()
	ctx, cancel := context.WithTimeout(r.ctx, within*slower)
	defer cancel()
	err := r.server.Until(ctx, func() bool {
		for i := 0; ; i++ {
			text := r.server.Content(r.channel, i)
			if text == "" || strings.Contains(text, begins) {
				return text != ""
			}
		}
	})
	if err != nil {
		for _, m := range r.server.Messages(r.channel) {
			r.t.Logf("%s %q", m.At.Format(time.StampMilli), m.Content)
		}
		r.t.Errorf("%q does not stand after %v: %v", begins, time.Since(begun), err)
	}
	return time.Since(begun)
}

// Behind a hundred routine notices, with a channel that takes five posts in five
// seconds, a tag-out stands at once; behind two bad gateways within ten seconds.
func TestTagOutGoesFirst(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name   string
		faults int
		within time.Duration
	}{{"a hundred routine notices", 0, 2 * time.Second}, {"and two bad gateways", 2, 10 * time.Second}} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			rig := newMarble(t)
			rig.server.ChannelPosts = 5
			rig.owe(100)
			rig.start()
			rig.ready()
			_, err := rig.server.UntilMessages(rig.ctx, rig.channel, 3)
			rig.check(err)
			rig.server.Fail("POST", "/channels/*/messages", discordtest.BadGateway, test.faults)
			_, reply := rig.slash(rig.ada, "problem", "machine=Marble", "what=fire")
			if !strings.Contains(reply.Content, "tagged out") {
				t.Fatalf("%q", reply.Content)
			}
			took := rig.stands(test.within, "Marble is tagged out: do not use")
			t.Logf("it stood after %v, with %d messages in the channel", took, len(rig.server.Messages(rig.channel)))
			for _, q := range rig.server.Requests() {
				if q.Status == 429 {
					t.Errorf("refused: %s %s", q.Method, q.Path)
				}
			}
		})
	}
}

// A refusal stops a channel for just as long as it asks, and then the poster goes on
// by itself, though no minute has passed and nobody gives a command.
func TestGoesOnByItself(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	rig.server.Fail("POST", "/channels/*/messages", discordtest.TooMany(1500*time.Millisecond, false), 1)
	rig.slash(rig.ada, "problem", "machine=Marble", "what=guard missing")
	if took := rig.stands(4*time.Second, "Marble is tagged out"); took < time.Second {
		t.Errorf("it was posted after %v, before the channel takes anything", took)
	}
}
