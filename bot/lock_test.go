package bot

import (
	"context"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"setscrew/bot/discordtest"
)

// press presses a button, or sends the form that is open, and returns once the bot is done
// with it.
func (in *inside) press(i *discordtest.Interaction, m *discordtest.Member, label string,
	form map[string]string) (*discordtest.Interaction, discordtest.Reply) {
	in.t.Helper()
	next, err := in.server.Press(i, m, label)
	in.check(err)
	in.deliver(next)
	reply, err := next.Wait(context.Background())
	in.check(err)
	if form != nil {
		next, err = in.server.Submit(next, m, form)
		in.check(err)
		in.deliver(next)
		reply, err = next.Wait(context.Background())
		in.check(err)
	}
	return next, reply
}

// The buttons of a lock, from the reply that hangs it to the second person's, and who is
// mentioned in the channel meanwhile: its owner alone.
func TestLockButtons(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in, _, _ := withClock(t)
		defer in.close()
		stop := in.bot.schedule(context.Background())
		defer stop()
		said := func(i *discordtest.Interaction) string {
			reply, err := i.Wait(context.Background())
			in.check(err)
			return reply.Content
		}
		// told is what stands in the channel last, and whom it pings.
		told := func(about string, pings ...string) {
			t.Helper()
			time.Sleep(10 * time.Second)
			all := in.server.Messages(in.channel)
			if last := all[len(all)-1]; !strings.Contains(last.Content, about) || !slices.Equal(last.Pings, pings) {
				t.Errorf("%q pings %v; want %q to ping %v", last.Content, last.Pings, about, pings)
			}
		}
		ada := "user:" + in.ada.ID
		in.slash(in.ada, "tagout", "machine=Marble", "lock=yes")
		look := in.slash(in.manager, "lock", "machine=Marble")
		if _, reply := in.press(look, in.manager, "Ask its owner", nil); !reply.Replaced {
			t.Errorf("asked: %+v", reply)
		}
		told("<@"+in.ada.ID+">: is your lock still on Marble?", ada)
		time.Sleep(31 * time.Minute)
		look = in.slash(in.manager, "lock", "machine=Marble")
		if _, reply := in.press(look, in.manager, "Note what was done", map[string]string{
			"note": "covers open, nobody inside @everyone"}); !strings.Contains(reply.Content, "second person") {
			t.Errorf("noted: %+v", reply)
		}
		told("your lock on Marble is to come off", ada)
		if got := said(in.slash(in.manager, "release", "machine=Marble")); !strings.Contains(got, "has the lock of") {
			t.Errorf("released with a lock on: %s", got)
		}
		look = in.slash(in.bo, "lock", "machine=Marble")
		if _, reply := in.press(look, in.bo, "I looked: nobody is in it", nil); !strings.Contains(reply.Content,
			"may come off") {
			t.Errorf("confirmed: %+v", reply)
		}
		told("your lock came off Marble by the written procedure, confirmed by <@"+in.bo.ID+">", ada)
	})
}

// A stop that is pressed without words is taken back by the button of its reply; the notice
// says so and is unpinned.
func TestMistakeButton(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in, _, _ := withClock(t)
		defer in.close()
		stop := in.bot.schedule(context.Background())
		defer stop()
		i := in.slash(in.bo, "tagout", "machine=Marble")
		time.Sleep(10 * time.Second)
		pinned := 0
		if err := in.server.Until(context.Background(), func() bool {
			pinned = in.server.Pinned(in.channel)
			return true
		}); err != nil || pinned != 1 {
			t.Errorf("%d pinned, %v", pinned, err)
		}
		if _, reply := in.press(i, in.bo, "Pressed by mistake", nil); !strings.Contains(reply.Content, "no more") {
			t.Errorf("taken back: %+v", reply)
		}
		time.Sleep(10 * time.Second)
		all := in.server.Messages(in.channel)
		if len(all) != 1 || !strings.Contains(all[0].Content, "stopped by mistake") || all[0].Pinned {
			t.Errorf("in the channel stands %+v", all)
		}
	})
}
