package rehearse

import (
	"context"

	"setscrew/commands"
	"setscrew/domain"
)

// stewardRole is the one role that anybody has in a rehearsal, and who has it.
const stewardRole = "stewards"

var stewards = []string{"wren", "ishaan"}

// chat is a terminal as a chat: every channel takes notices, and the one role that people have pings.
type chat struct{ channel *channel }

// Channel lets everything be done.
func (chat) Channel(domain.ShopID, string) commands.ChannelAccess { return commands.ChannelAccess{} }

// Role pings.
func (chat) Role(domain.ShopID, string, string) commands.RoleAccess {
	return commands.RoleAccess{Pings: true}
}

// Holders are the stewards of the demo shop, in every shop.
func (chat) Holders(_ context.Context, _ domain.ShopID, role string) (n int, known bool) {
	if role == stewardRole {
		return len(stewards), true
	}
	return 0, true
}

// Examine finds nothing: a terminal has no account, and no clock of its own.
func (chat) Examine(context.Context) []domain.Finding { return nil }

// Unposted is nothing: all that is owed is posted.
func (chat) Unposted(domain.ShopID, domain.PersonID) []string { return nil }

// Ping shows the message in the channel.
func (c chat) Ping(ctx context.Context, shop domain.Shop, key string, m commands.Message) (commands.Pinged, error) {
	_, err := c.channel.Post(ctx, shop, domain.Undelivered{Notice: domain.Notice{Key: "ping/" + key}}, m)
	return commands.Pinged{Role: true}, err
}
