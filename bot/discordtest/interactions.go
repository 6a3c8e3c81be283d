package discordtest

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// The times that Discord gives.
const (
	firstAnswer = 3 * time.Second // see Server.AnswerWithin
	tokenLife   = 15 * time.Minute
)

// Interaction is one that was sent to the application, with what it answered.
type Interaction struct {
	s     *Server
	ID    string
	token string
	kind  int // 2 command, 3 button, 4 autocomplete, 5 form
	made  time.Time
	sent  time.Time // by the real clock

	guild  *Guild
	ch     *Channel
	member *Member
	event  map[string]any

	answered bool
	first    int // the type of the first answer
	reply    *Message
	replaced bool // the answer took the place of the message whose button was pressed
	modal    map[string]any
	choices  []string
}

// Reply is an interaction's answer as its member sees it.
type Reply struct {
	Content   string
	Ephemeral bool
	Deferred  bool // it was first answered by "thinking"
	Replaced  bool
	Buttons   []Button
	Modal     map[string]any
	Choices   []string
	Files     []string
	Pings     []string
}

// Button is one button of a reply.
type Button struct{ Label, ID string }

// Slash gives a command as a member would: with the options' types as the
// application registered them.
func (s *Server) Slash(g *Guild, c *Channel, m *Member, command string, options map[string]string) (*Interaction,
	error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	data, err := s.commandData(g, command, options, "")
	if err != nil {
		return nil, err
	}
	return s.send(g, c, m, 2, data, nil), nil
}

// Complete types a part of an option and asks for its choices.
func (s *Server) Complete(g *Guild, c *Channel, m *Member, command, focused string,
	options map[string]string) (*Interaction, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	data, err := s.commandData(g, command, options, focused)
	if err != nil {
		return nil, err
	}
	return s.send(g, c, m, 4, data, nil), nil
}

// Press presses a button of a reply or message by the beginning of its label.
func (s *Server) Press(i *Interaction, m *Member, label string) (*Interaction, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if i.reply == nil {
		return nil, fmt.Errorf("discordtest: no reply to press a button of")
	}
	for _, b := range buttons(i.reply) {
		if strings.HasPrefix(b.Label, label) {
			p := s.send(i.guild, i.ch, m, 3, map[string]any{"custom_id": b.ID, "component_type": 2}, i.reply)
			return p, nil
		}
	}
	return nil, fmt.Errorf("discordtest: no button %q among %v", label, buttons(i.reply))
}

// Submit fills in the form that answered an interaction.
func (s *Server) Submit(i *Interaction, m *Member, fields map[string]string) (*Interaction, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if i.modal == nil {
		return nil, fmt.Errorf("discordtest: no form is open")
	}
	var rows []any
	for _, id := range slices.Sorted(maps.Keys(fields)) {
		rows = append(rows, map[string]any{"type": 1,
			"components": []any{map[string]any{"type": 4, "custom_id": id, "value": fields[id]}}})
	}
	return s.send(i.guild, i.ch, m, 5, map[string]any{"custom_id": i.modal["custom_id"], "components": rows}, nil), nil
}

// Again delivers an interaction's event once more, as a gateway may.
func (s *Server) Again(i *Interaction) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.dispatch("INTERACTION_CREATE", i.event)
}

// Raw delivers any event.
func (s *Server) Raw(event string, data map[string]any) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.dispatch(event, data)
}

// send makes an interaction and delivers it.
func (s *Server) send(g *Guild, c *Channel, m *Member, kind int, data map[string]any, on *Message) *Interaction {
	sent := &Interaction{s: s, ID: s.newID(), kind: kind, made: s.now(), guild: g, ch: c, member: m}
	sent.token = "token-" + sent.ID
	sent.event = map[string]any{"id": sent.ID, "application_id": AppID, "type": kind, "data": data, "guild_id": g.ID,
		"channel_id": c.ID, "token": sent.token, "version": 1,
		"locale": "en-GB", "guild_locale": "en-US", "entitlements": []any{},
		"authorizing_integration_owners": map[string]any{}, "context": 0,
		"app_permissions": strconv.FormatInt(c.Permissions, 10),
		"channel":         map[string]any{"id": c.ID, "type": 0, "name": c.Name},
		"member": map[string]any{"user": user(m), "roles": nonNil(m.Roles),
			"permissions": strconv.FormatInt(m.Permissions, 10), "joined_at": "2026-01-01T00:00:00Z", "deaf": false,
			"mute": false, "flags": 0, "avatar": nil}}
	if on != nil {
		sent.event["message"] = on.json()
	}
	s.interactions[sent.ID], s.byToken[sent.token] = sent, sent
	sent.sent = time.Now()
	s.dispatch("INTERACTION_CREATE", sent.event)
	return sent
}

func user(m *Member) map[string]any {
	return map[string]any{"id": m.ID, "username": m.Name, "discriminator": "0", "global_name": m.Name, "avatar": nil}
}

// commandData is a command's data as a client sends it.
func (s *Server) commandData(g *Guild, command string, options map[string]string, focused string) (map[string]any,
	error) {
	name, sub, nested := strings.Cut(command, " ")
	for _, raw := range append(slices.Clone(s.commands[""]), s.commands[g.ID]...) {
		var known declaration
		if err := json.Unmarshal(raw, &known); err != nil || known.Name != name {
			continue
		}
		data := map[string]any{"id": known.ID, "name": name, "type": 1}
		resolved := map[string]any{}
		if !nested {
			if slices.ContainsFunc(known.Options, func(o declaration) bool { return o.Type < 3 }) {
				return nil, fmt.Errorf("discordtest: /%s is a group, and no command", name)
			}
			list, err := s.optionData(g, known.Options, options, focused, resolved)
			if err != nil {
				return nil, err
			}
			data["options"] = list
		} else {
			i := slices.IndexFunc(known.Options, func(o declaration) bool { return o.Name == sub && o.Type == 1 })
			if i < 0 {
				return nil, fmt.Errorf("discordtest: no subcommand %q", command)
			}
			list, err := s.optionData(g, known.Options[i].Options, options, focused, resolved)
			if err != nil {
				return nil, err
			}
			data["options"] = []any{map[string]any{"name": sub, "type": 1, "options": list}}
		}
		if len(resolved) > 0 {
			data["resolved"] = resolved
		}
		return data, nil
	}
	return nil, fmt.Errorf("discordtest: no command %q is registered", command)
}

func (s *Server) optionData(g *Guild, known []declaration, options map[string]string, focused string,
	resolved map[string]any) ([]any, error) {
	list := []any{}
	given := maps.Clone(options)
	for _, option := range known {
		value, ok := given[option.Name]
		delete(given, option.Name)
		if !ok {
			if option.Required && focused == "" {
				return nil, fmt.Errorf("discordtest: a client asks for %s before it sends", option.Name)
			}
			continue
		}
		sent := map[string]any{"name": option.Name, "type": option.Type, "value": value}
		switch {
		case option.Name == focused:
			sent["focused"] = true // half-typed values come as text whatever their type
		case option.Type == 4 || option.Type == 10:
			n, err := strconv.ParseFloat(value, 64)
			if err != nil {
				return nil, fmt.Errorf("discordtest: a client refuses %q for %s", value, option.Name)
			}
			sent["value"] = n
		case option.MaxLength > 0 && utf8.RuneCountInString(value) > option.MaxLength:
			return nil, fmt.Errorf("discordtest: a client takes %d characters for %s", option.MaxLength, option.Name)
		case option.Type == 6:
			if member := g.Members[value]; member != nil {
				resolved["users"] = map[string]any{value: user(member)}
			}
		case option.Type == 7:
			if channel := s.channels[value]; channel != nil {
				resolved["channels"] = map[string]any{value: map[string]any{"id": channel.ID,
					"name": channel.Name, "type": 0,
					"permissions": "0"}}
			}
		case option.Type == 8:
			resolved["roles"] = map[string]any{value: map[string]any{"id": value, "name": g.Roles[value],
				"permissions": "0",
				"color":       0, "hoist": false, "position": 1, "managed": false, "mentionable": true}}
		case option.Type == 11:
			id := s.newID()
			url := "https://cdn.discordapp.com/ephemeral-attachments/" + AppID + "/" + id + "/" + value
			resolved["attachments"] = map[string]any{id: map[string]any{"id": id, "filename": value, "size": 1000,
				"url": url, "proxy_url": url, "content_type": "image/png", "ephemeral": true}}
			sent["value"] = id
		case len(option.Choices) > 0:
			if !slices.ContainsFunc(option.Choices,
				func(channel any) bool { member, _ := channel.(map[string]any); return member["value"] == value }) {
				return nil, fmt.Errorf("discordtest: a client offers no choice %q for %s", value, option.Name)
			}
		}
		list = append(list, sent)
	}
	for _, name := range slices.Sorted(maps.Keys(given)) {
		return nil, fmt.Errorf("discordtest: a client knows no option %q", name)
	}
	return list, nil
}

// callback takes an interaction's first answer.
func (s *Server) callback(id, token string, body map[string]any, files []string) error {
	asked := s.interactions[id]
	if asked == nil || asked.token != token ||
		!asked.answered && s.now().Sub(asked.made) > cmp.Or(s.AnswerWithin, firstAnswer) {
		return errUnknownInteraction
	}
	if asked.answered {
		return errAcknowledged
	}
	kind, _ := body["type"].(float64)
	data, _ := body["data"].(map[string]any)
	flags, _ := data["flags"].(float64)
	switch answer := int(kind); {
	case answer == 4 && asked.kind != 4 || answer == 7 && asked.kind == 3:
		if err := s.checkMessage(data, files, answer == 7); err != nil {
			return err
		}
		asked.reply = &Message{ID: s.newID(), Channel: asked.ch.ID, At: s.now(), Ephemeral: int(flags)&64 != 0}
		asked.reply.take(data, files)
		asked.reply.Pings = pings(asked.reply.Content, data["allowed_mentions"])
		asked.replaced = answer == 7
	case answer == 5 && asked.kind != 4 || answer == 6 && asked.kind == 3:
		asked.reply = &Message{ID: s.newID(), Channel: asked.ch.ID, At: s.now(), Ephemeral: int(flags)&64 != 0}
	case answer == 8 && asked.kind == 4:
		choices, _ := data["choices"].([]any)
		if len(choices) > 25 {
			return errForm("more than 25 choices")
		}
		asked.choices = []string{}
		for _, c := range choices {
			m, _ := c.(map[string]any)
			name, _ := m["name"].(string)
			value, _ := m["value"].(string)
			if name == "" || len([]rune(name)) > 100 || len([]rune(value)) > 100 {
				return errForm(fmt.Sprintf("choice %q", name))
			}
			asked.choices = append(asked.choices, value)
		}
	case answer == 9 && (asked.kind == 2 || asked.kind == 3):
		if err := checkModal(data); err != nil {
			return err
		}
		asked.modal = data
	default:
		return errForm(fmt.Sprintf("answer of type %d to an interaction of type %d", answer, asked.kind))
	}
	asked.answered, asked.first = true, int(kind)
	return nil
}

// followUp edits the first answer, or adds another message to it.
func (s *Server) followUp(token string, edit bool, body map[string]any, files []string) (any, error) {
	asked := s.byToken[token]
	switch {
	case asked == nil || s.now().Sub(asked.made) > tokenLife:
		return nil, refuse(401, 50027, "Invalid Webhook Token")
	case !asked.answered || asked.reply == nil:
		return nil, errUnknownMessage
	}
	if err := s.checkMessage(body, files, edit); err != nil {
		return nil, err
	}
	if !edit {
		m := &Message{ID: s.newID(), Channel: asked.ch.ID, At: s.now()}
		m.take(body, files)
		return m.json(), nil
	}
	asked.reply.take(body, files)
	asked.reply.Edited = true
	asked.reply.Pings = pings(asked.reply.Content, body["allowed_mentions"])
	return asked.reply.json(), nil
}

func buttons(m *Message) []Button {
	var rows []struct {
		Components []struct {
			Label string `json:"label"`
			ID    string `json:"custom_id"`
		} `json:"components"`
	}
	if json.Unmarshal(m.Components, &rows) != nil {
		return nil
	}
	var all []Button
	for _, r := range rows {
		for _, b := range r.Components {
			all = append(all, Button{b.Label, b.ID})
		}
	}
	return all
}

// Wait waits until the member sees an answer: its first one or, where that was
// deferred, the one that took its place.
func (i *Interaction) Wait(ctx context.Context) (Reply, error) {
	var reply Reply
	err := i.s.Until(ctx, func() bool {
		deferred := i.first == 5 || i.first == 6
		if !i.answered || deferred && !i.reply.Edited {
			return false
		}
		reply = Reply{Deferred: deferred, Modal: i.modal, Choices: i.choices, Replaced: i.replaced || i.first == 6}
		if m := i.reply; m != nil {
			reply.Content, reply.Ephemeral, reply.Buttons = m.Content, m.Ephemeral, buttons(m)
			reply.Files, reply.Pings = m.Files, m.Pings
		}
		return true
	})
	return reply, err
}

// Event is the interaction as the gateway sends it, in JSON; for those who give it
// to an application themselves.
func (i *Interaction) Event() []byte {
	text, err := json.Marshal(i.event)
	if err != nil {
		panic(err)
	}
	return text
}

// Sent is when the interaction left the server, by the real clock.
func (i *Interaction) Sent() time.Time { return i.sent }

// Answered reports whether the application has answered.
func (i *Interaction) Answered() bool {
	i.s.mu.Lock()
	defer i.s.mu.Unlock()
	return i.answered
}

// Until waits until a condition holds, looking whenever anything changes. The
// condition is called under the server's lock and must not call the server.
func (s *Server) Until(ctx context.Context, holds func() bool) error {
	for {
		s.mu.Lock()
		ok, changed := holds(), s.changed
		s.mu.Unlock()
		if ok {
			return nil
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// UntilMessages waits until a channel holds at least n messages and returns
// them.
func (s *Server) UntilMessages(ctx context.Context, c *Channel, n int) ([]Message, error) {
	err := s.Until(ctx, func() bool { return len(c.messages) >= n })
	return s.Messages(c), err
}
