package rehearse

import (
	"context"
	"fmt"

	"setscrew/commands"
	"setscrew/domain"
)

// message is what stands in a shop's channel.
type message struct {
	ID     string        `json:"id"`
	Shop   domain.ShopID `json:"shop"`
	Text   string        `json:"text"` // with guarded parts
	Pinned bool          `json:"pinned,omitempty"`
	Edited bool          `json:"edited,omitempty"`
}

// channel is a shop's notice channel in the terminal.
type channel struct {
	Messages []*message                `json:"messages"`
	show     func(domain.Shop, string) // prints what happens in it
}

// Post puts a message into the channel.
func (c *channel) Post(_ context.Context, shop domain.Shop, o domain.Undelivered, m commands.Message) (string, error) {
	id := fmt.Sprintf("n%d", len(c.Messages)+1)
	c.Messages = append(c.Messages, &message{ID: id, Shop: shop.ID, Text: m.Text})
	to := ""
	if m.Mention {
		to = "@stewards "
	}
	c.show(shop, to+m.Text)
	return id, nil
}

// Edit changes what a message says.
func (c *channel) Edit(_ context.Context, shop domain.Shop, o domain.Undelivered, m commands.Message) error {
	msg, err := c.find(shop, o.Message)
	if err != nil {
		return err
	}
	msg.Text, msg.Edited = m.Text, true
	c.show(shop, "(edited) "+m.Text)
	return nil
}

// Pin pins a message.
func (c *channel) Pin(_ context.Context, shop domain.Shop, o domain.Undelivered) error {
	return c.pin(shop, o.Message, true)
}

// Unpin takes the pin from a message.
func (c *channel) Unpin(_ context.Context, shop domain.Shop, o domain.Undelivered) error {
	return c.pin(shop, o.Message, false)
}

func (c *channel) pin(shop domain.Shop, id string, pinned bool) error {
	msg, err := c.find(shop, id)
	if err != nil {
		return err
	}
	msg.Pinned = pinned
	return nil
}

func (c *channel) find(shop domain.Shop, id string) (*message, error) {
	for _, m := range c.Messages {
		if m.ID == id && m.Shop == shop.ID {
			return m, nil
		}
	}
	return nil, fmt.Errorf("no message %s", id)
}
