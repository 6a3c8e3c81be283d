package commands

import (
	"context"
	"errors"
	"slices"

	"setscrew/domain"
)

// Chat is what the commands ask of the chat that carries them: what it lets Setscrew do
// for a shop. It answers from what it was told, at once, where it does not say otherwise.
type Chat interface {
	// Channel is what Setscrew may do in a channel of a shop's server.
	Channel(shop domain.ShopID, channel string) ChannelAccess
	// Role is whether a role of a shop's server can be pinged in a channel of it.
	Role(shop domain.ShopID, role, channel string) RoleAccess
	// Holders is how many have a role of a shop's server; known is false where the chat
	// does not tell. It may ask the chat, until ctx ends.
	Holders(ctx context.Context, shop domain.ShopID, role string) (n int, known bool)
	// Examine looks over Setscrew's account in the chat, by asking it until ctx ends: its
	// token, its commands, and this machine's clock against the chat's. A chat without such
	// things finds nothing.
	Examine(ctx context.Context) []domain.Finding
	// Unposted lists, in order, the machines whose tag-out by p could not be posted and
	// does not stand in the channel yet.
	Unposted(shop domain.ShopID, p domain.PersonID) []string
	// Ping posts a message to a shop's channel, as a notice that calls the stewards is
	// posted, once for a key, and says who was really mentioned.
	Ping(ctx context.Context, shop domain.Shop, key string, m Message) (Pinged, error)
}

// Right is something that Setscrew may be permitted to do in a channel.
type Right string

// The rights that notices need. Without the first two nothing is posted.
const (
	RightView    Right = "view"
	RightSend    Right = "send"
	RightHistory Right = "history" // read what was posted earlier
	RightPin     Right = "pin"
)

// ChannelAccess is what Setscrew may do in a channel. Its zero value is a channel in
// which notices have all that they need.
type ChannelAccess struct {
	Unknown bool    // the chat has not said: nothing follows
	Gone    bool    // the shop's server has no such channel that takes messages
	Lacks   []Right // of what notices need, in the order of the constants
}

// Closed reports whether no notice can be posted.
func (a ChannelAccess) Closed() bool {
	return a.Gone || slices.Contains(a.Lacks, RightView) || slices.Contains(a.Lacks, RightSend)
}

// RoleAccess is whether a role can be pinged.
type RoleAccess struct {
	Unknown  bool // the chat has not said: nothing follows
	Gone     bool // the shop's server has no such role
	Everyone bool // everybody in the server has it
	Pings    bool // a mention of it in the channel notifies whoever has it
}

// Pinged is who a posted message really mentioned.
type Pinged struct {
	Role   bool // the stewards' role
	People int  // how many people, one by one
}

// silent is a chat that says nothing.
type silent struct{}

var errSilent = errors.New("commands: no chat to post a test to")

func (silent) Channel(domain.ShopID, string) ChannelAccess { return ChannelAccess{Unknown: true} }

func (silent) Role(domain.ShopID, string, string) RoleAccess { return RoleAccess{Unknown: true} }

func (silent) Holders(context.Context, domain.ShopID, string) (int, bool) { return 0, false }

func (silent) Examine(context.Context) []domain.Finding { return nil }

func (silent) Unposted(domain.ShopID, domain.PersonID) []string { return nil }

func (silent) Ping(context.Context, domain.Shop, string, Message) (Pinged, error) {
	return Pinged{}, errSilent
}
