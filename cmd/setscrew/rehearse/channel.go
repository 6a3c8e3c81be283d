package rehearse

import (
	"context"
	"fmt"
	"slices"
	"time"

	"setscrew/commands"
	"setscrew/domain"
)

// message is what stands in a shop's channel.
type message struct {
	ID     string        `json:"id"`
	Shop   domain.ShopID `json:"shop"`
	Key    string        `json:"key,omitempty"` // of its notice
	Text   string        `json:"text"`          // with guarded parts
	Pinned bool          `json:"pinned,omitempty"`
	Edited bool          `json:"edited,omitempty"`

	Buttons []commands.Button `json:"buttons,omitempty"`
}

// channel is a shop's notice channel in the terminal.
type channel struct {
	Messages []*message                                   `json:"messages"`
	show     func(domain.Shop, string, []commands.Button) // prints what happens in it
	now      func() time.Time
}

// Post puts a message into the channel, unless its notice stands there already.
func (c *channel) Post(ctx context.Context, shop domain.Shop, notice domain.Undelivered,
	rendered commands.Message) (string, error) {
	if err := ctx.Err(); err != nil {
		return "", err
	}
	for _, old := range c.Messages {
		if old.Shop == shop.ID && old.Key != "" && old.Key == notice.Notice.Key {
			return old.ID, nil
		}
	}
	id := fmt.Sprintf("n%d", len(c.Messages)+1)
	c.Messages = append(c.Messages, &message{ID: id, Shop: shop.ID, Key: notice.Notice.Key, Text: rendered.Text,
		Buttons: rendered.Buttons})
	to := ""
	if rendered.Mention {
		to = "@stewards "
		for _, p := range shop.Deputies(c.now()) {
			to += "@" + string(p) + " "
		}
	}
	c.show(shop, to+rendered.Text, rendered.Buttons)
	return id, nil
}

// Edit changes what a message says. One that does not stand there, or says so already, is
// left alone.
func (c *channel) Edit(ctx context.Context, shop domain.Shop, o domain.Undelivered, rendered commands.Message) error {
	return c.change(ctx, shop, o.Message, func(msg *message) {
		if msg.Text == rendered.Text && slices.Equal(msg.Buttons, rendered.Buttons) {
			return
		}
		msg.Text, msg.Buttons, msg.Edited = rendered.Text, rendered.Buttons, true
		c.show(shop, "(edited) "+rendered.Text, rendered.Buttons)
	})
}

// Pin pins a message.
func (c *channel) Pin(ctx context.Context, shop domain.Shop, o domain.Undelivered) error {
	return c.change(ctx, shop, o.Message, func(msg *message) { msg.Pinned = true })
}

// Unpin takes the pin from a message.
func (c *channel) Unpin(ctx context.Context, shop domain.Shop, o domain.Undelivered) error {
	return c.change(ctx, shop, o.Message, func(msg *message) { msg.Pinned = false })
}

// change does something to a shop's message, if it stands there.
func (c *channel) change(ctx context.Context, shop domain.Shop, id string, alter func(*message)) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, m := range c.Messages {
		if m.ID == id && m.Shop == shop.ID {
			alter(m)
		}
	}
	return nil
}
