package bot_test

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/bot"
	"setscrew/bot/discordtest"
	"setscrew/domain"
)

// eventually waits until something holds of what stands in Discord.
func (r *rig) eventually(holds func() bool) {
	r.t.Helper()
	for !holds() {
		select {
		case <-r.ctx.Done():
			r.t.Fatal("it never came to hold")
		case <-time.After(5 * time.Millisecond):
		}
	}
}

// A danger's notice has a button by which a steward says that they see to it: who may not
// is refused, quietly; once pressed, the notice says who, and the button is gone from it.
func TestSeenToInDiscord(t *testing.T) {
	t.Parallel()
	r := newMarble(t)
	r.start()
	r.ready()
	r.slash(r.ada, "problem", "machine=Marble", "what=smoke")
	notice := func() (found discordtest.Message) {
		for _, m := range r.server.Messages(r.channel) {
			if strings.Contains(m.Content, "tagged out") {
				found = m
			}
		}
		return found
	}
	r.eventually(func() bool { return strings.Contains(string(notice().Components), "I see to it") })
	press := func(m *discordtest.Member) discordtest.Reply {
		t.Helper()
		i, err := r.server.PressNotice(r.guild, r.channel, m, "I see to it")
		r.check(err)
		reply, err := i.Wait(r.ctx)
		r.check(err)
		return reply
	}
	if reply := press(r.bo); !reply.Ephemeral || reply.Replaced || !strings.HasPrefix(reply.Content, "Only a steward") {
		t.Errorf("a member: %+v", reply)
	}
	if reply := press(r.wren); !reply.Ephemeral || reply.Replaced ||
		!strings.HasPrefix(reply.Content, "You see to Marble") {
		t.Errorf("a steward: %+v", reply)
	}
	r.eventually(func() bool {
		return strings.Contains(notice().Content, "<@"+r.wren.ID+"> sees to it") &&
			!strings.Contains(string(notice().Components), "I see to it")
	})
	if _, err := r.server.PressNotice(r.guild, r.channel, r.wren, "I see to it"); err == nil {
		t.Error("the button stands still")
	}
}

// Who stands in for a steward who is away is mentioned beside the stewards' role and,
// where stewards are mentioned one by one, in place of the one who is away.
func TestDeputiesAreMentioned(t *testing.T) {
	t.Parallel()
	for name, pings := range map[string]bool{"the role pings": true, "one by one": false} { // any order: each by itself
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			deputiesAreMentioned(t, pings)
		})
	}
}

func deputiesAreMentioned(t *testing.T, pings bool) {
	r := newMarble(t)
	r.server.MakeMentionable(r.guild, r.stewards, pings)
	r.start()
	r.ready()
	today := r.server.Now().UTC().AddDate(0, 0, -1).Format("2006-01-02")
	until := r.server.Now().UTC().AddDate(0, 0, 1).Format("2006-01-02")
	if _, reply := r.slash(r.wren, "shop away", "from="+today, "until="+until, "deputy="+r.bo.ID); !strings.HasPrefix(
		reply.Content, "You are away") {
		t.Fatalf("%q", reply.Content)
	}
	r.slash(r.ada, "problem", "machine=Marble", "what=smoke")
	r.eventually(func() bool {
		return slices.ContainsFunc(r.server.Messages(r.channel), func(m discordtest.Message) bool {
			return strings.Contains(m.Content, "tagged out") && slices.Contains(m.Pings, "user:"+r.bo.ID) &&
				!slices.Contains(m.Pings, "user:"+r.wren.ID)
		})
	})
}

// A photo is fetched as soon as it is reported, whatever becomes of its notice; and one
// that was reported before the program ended, when it begins again.
func TestPhotosAreFetchedAtOnce(t *testing.T) {
	t.Parallel()
	// any order: each by itself
	for name, before := range map[string]bool{"at once": false, "after a new beginning": true} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r := newMarble(t)
			var picture bytes.Buffer
			r.check(jpeg.Encode(&picture, image.NewGray(image.Rect(0, 0, 8, 8)), nil))
			r.server.Attachment = picture.Bytes()
			r.server.SetPermissions(r.channel, 0)
			fetching := func(cfg *bot.Config) { cfg.Photos, cfg.Album = r.server.Client(), r.db }
			report := func() {
				r.slash(r.ada, "tagout", "machine=Marble", "reason=guard off", "photo=guard.jpg")
			}
			if before {
				r.start()
				r.ready()
				report()
				r.end()
				r.start(fetching)
			} else {
				r.start(fetching)
				r.ready()
				report()
			}
			shop := domain.ShopID(r.guild.ID)
			last, err := r.db.Shop(shop).LastBy(r.ctx, domain.PersonID(r.ada.ID))
			r.check(err)
			r.eventually(func() bool {
				data, _, err := r.db.Photo(r.ctx, shop, fmt.Sprintf("m1/photo/%d", last.No))
				r.check(err)
				return len(data) > 0
			})
		})
	}
}
