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
	rig := newMarble(t)
	rig.start()
	rig.ready()
	rig.slash(rig.ada, "problem", "machine=Marble", "what=smoke")
	notice := func() (found discordtest.Message) {
		for _, m := range rig.server.Messages(rig.channel) {
			if strings.Contains(m.Content, "tagged out") {
				found = m
			}
		}
		return found
	}
	rig.eventually(func() bool { return strings.Contains(string(notice().Components), "I see to it") })
	press := func(m *discordtest.Member) discordtest.Reply {
		t.Helper()
		i, err := rig.server.PressNotice(rig.guild, rig.channel, m, "I see to it")
		rig.check(err)
		reply, err := i.Wait(rig.ctx)
		rig.check(err)
		return reply
	}
	if reply := press(rig.bo); !reply.Ephemeral || reply.Replaced || !strings.HasPrefix(reply.Content,
		"Only a steward") {
		t.Errorf("a member: %+v", reply)
	}
	if reply := press(rig.wren); !reply.Ephemeral || reply.Replaced ||
		!strings.HasPrefix(reply.Content, "You see to Marble") {
		t.Errorf("a steward: %+v", reply)
	}
	rig.eventually(func() bool {
		return strings.Contains(notice().Content, "<@"+rig.wren.ID+"> sees to it") &&
			!strings.Contains(string(notice().Components), "I see to it")
	})
	if _, err := rig.server.PressNotice(rig.guild, rig.channel, rig.wren, "I see to it"); err == nil {
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
	rig := newMarble(t)
	rig.server.MakeMentionable(rig.guild, rig.stewards, pings)
	rig.start()
	rig.ready()
	today := rig.server.Now().UTC().AddDate(0, 0, -1).Format("2006-01-02")
	until := rig.server.Now().UTC().AddDate(0, 0, 1).Format("2006-01-02")
	if _, reply := rig.slash(rig.wren, "shop away", "from="+today, "until="+until,
		"deputy="+rig.bo.ID); !strings.HasPrefix(
		reply.Content, "You are away") {
		t.Fatalf("%q", reply.Content)
	}
	rig.slash(rig.ada, "problem", "machine=Marble", "what=smoke")
	rig.eventually(func() bool {
		return slices.ContainsFunc(rig.server.Messages(rig.channel), func(m discordtest.Message) bool {
			return strings.Contains(m.Content, "tagged out") && slices.Contains(m.Pings, "user:"+rig.bo.ID) &&
				!slices.Contains(m.Pings, "user:"+rig.wren.ID)
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
			rig := newMarble(t)
			var picture bytes.Buffer
			rig.check(jpeg.Encode(&picture, image.NewGray(image.Rect(0, 0, 8, 8)), nil))
			rig.server.Attachment = picture.Bytes()
			rig.server.SetPermissions(rig.channel, 0)
			fetching := func(cfg *bot.Config) { cfg.Photos, cfg.Album = rig.server.Client(), rig.db }
			report := func() {
				rig.slash(rig.ada, "tagout", "machine=Marble", "reason=guard off", "photo=guard.jpg")
			}
			if before {
				rig.start()
				rig.ready()
				report()
				rig.end()
				rig.start(fetching)
			} else {
				rig.start(fetching)
				rig.ready()
				report()
			}
			shop := domain.ShopID(rig.guild.ID)
			last, err := rig.db.Shop(shop).LastBy(rig.ctx, domain.PersonID(rig.ada.ID))
			rig.check(err)
			rig.eventually(func() bool {
				data, _, err := rig.db.Photo(rig.ctx, shop, fmt.Sprintf("m1/photo/%d", last.No))
				rig.check(err)
				return len(data) > 0
			})
		})
	}
}
