package bot_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"setscrew/bot"
	"setscrew/bot/channeltest"
	"setscrew/bot/discordtest"
	"setscrew/domain"
)

// Discord's channel keeps what its interface promises.
func TestDiscordChannel(t *testing.T) {
	t.Parallel()
	channeltest.Run(t, func(t *testing.T) channeltest.Rig {
		server := discordtest.New()
		t.Cleanup(server.Close)
		server.Problem = func(p string) { t.Errorf("Discord would refuse: %s", p) }
		places := map[domain.ShopID]*discordtest.Channel{}
		open := func(name string) domain.Shop {
			g := server.AddGuild(name)
			shop := domain.NewShop(domain.ShopID(g.ID))
			places[shop.ID] = server.AddChannel(g, "notices of "+name)
			shop.NoticeChannel = places[shop.ID].ID
			return shop
		}
		rig := channeltest.Rig{Shop: open("one"), Other: open("two"), Now: server.Now, Advance: server.Advance,
			Meets: []channeltest.Fault{channeltest.Lost, channeltest.Broken, channeltest.Limited, channeltest.Refused,
				channeltest.PinsOnly, channeltest.Gone, channeltest.Hidden}}
		place := places[rig.Shop.ID]
		var err error
		rig.Channel, err = bot.DiscordChannel(server.Direct(), server.Now)
		if err != nil {
			t.Fatal(err)
		}
		rig.Stands = func(shop domain.Shop) (all []channeltest.Message) {
			for _, m := range server.Messages(places[shop.ID]) {
				all = append(all, channeltest.Message{ID: m.ID, Text: m.Content, Pinned: m.Pinned})
			}
			return all
		}
		rig.Delete = func(shop domain.Shop, message string) { server.DeleteMessage(places[shop.ID], message) }
		always := func(f discordtest.Fault) {
			for _, method := range []string{"POST", "PATCH", "PUT", "DELETE"} {
				server.Fail(method, "/channels/"+place.ID, f, 100)
			}
		}
		rig.Hurt = func(f channeltest.Fault) {
			switch f {
			case channeltest.Lost:
				always(discordtest.Fault{Served: true, Drop: true})
			case channeltest.Broken:
				always(discordtest.BadGateway)
			case channeltest.Limited:
				always(discordtest.TooMany(channeltest.LimitedFor, false))
			case channeltest.Refused:
				server.SetPermissions(place, discordtest.ViewChannel)
			case channeltest.PinsOnly:
				server.SetPermissions(place, discordtest.AllPermissions&^discordtest.PinMessages)
			case channeltest.Gone:
				server.DeleteChannel(place)
			case channeltest.Hidden:
				server.SetPermissions(place, discordtest.AllPermissions&^discordtest.ReadHistory)
			}
		}
		rig.Mend = func() {
			server.Mend()
			server.SetPermissions(place, discordtest.AllPermissions)
		}
		return rig
	})
}

// The channel of the poster's tests keeps what its interface promises.
func TestBoard(t *testing.T) {
	t.Parallel()
	channeltest.Run(t, func(t *testing.T) channeltest.Rig {
		made := &board{}
		now := time.Now()
		return channeltest.Rig{Channel: made, Shop: domain.NewShop("one"), Other: domain.NewShop("two"),
			Stands: func(shop domain.Shop) (all []channeltest.Message) {
				for _, m := range made.messages {
					if m.shop == shop.ID {
						all = append(all, m.Message)
					}
				}
				return all
			},
			Delete: func(shop domain.Shop, message string) {
				made.messages = slices.DeleteFunc(made.messages,
					func(m *posted) bool { return m.shop == shop.ID && m.ID == message })
			},
			Now: func() time.Time { return now }, Advance: func(d time.Duration) { now = now.Add(d) },
			Meets: []channeltest.Fault{channeltest.Broken, channeltest.Limited, channeltest.PinsOnly},
			Hurt: func(fault channeltest.Fault) {
				made.fail = func(op string) error {
					switch fault {
					case channeltest.Limited:
						return &bot.Wait{For: channeltest.LimitedFor, Err: errors.New("too many")}
					case channeltest.Broken:
						return errors.New("broken")
					}
					return nil
				}
				made.noPins = fault == channeltest.PinsOnly
			},
			Mend: func() { made.fail, made.noPins = nil, false }}
	})
}
