package bot

import (
	"net/http"
	"time"

	"github.com/bwmarrin/discordgo"

	"setscrew/bot/discordtest"
)

// DiscordChannel is the channel that a bot posts to, over a client of the fake
// Discord and by a clock.
func DiscordChannel(client *http.Client, now func() time.Time) (Channel, error) {
	l, err := newLink(discordtest.Token, client)
	if err != nil {
		return nil, err
	}
	return newNotices(func() *discordgo.Session { return l.s }, now, "more"), nil
}
