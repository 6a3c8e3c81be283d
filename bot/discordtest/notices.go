package discordtest

import (
	"fmt"
	"strings"
)

// PressNotice presses a button of a message that stands in a channel, the latest that has
// one whose label begins so. It is an error where a client shows no such button.
func (s *Server) PressNotice(guild *Guild, channel *Channel, member *Member, label string) (*Interaction, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := len(channel.messages) - 1; i >= 0; i-- {
		message := channel.messages[i]
		if message.gone {
			continue
		}
		for _, b := range buttons(message) {
			if strings.HasPrefix(b.Label, label) && b.ID != "" && !b.Disabled {
				return s.send(guild, channel, member, 3, map[string]any{"custom_id": b.ID,
					"component_type": typeButton}, message), nil
			}
		}
	}
	return nil, fmt.Errorf("discordtest: no message in %s has a button %q", channel.Name, label)
}

// attachment is what a file holds that a member attaches.
func (s *Server) attachment() []byte {
	if s.Attachment == nil {
		return make([]byte, 1000)
	}
	return s.Attachment
}
