package discordtest

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
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
	on     *Message // whose button was pressed
	typing int      // the type of the option that is completed

	answered bool
	first    int // the type of the first answer
	reply    *Message
	edited   bool       // the first answer was, which ends waiting for a deferred one
	more     []*Message // that followed
	replaced bool       // the answer took the place of the message whose button was pressed
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

// Slash gives a command as a member would: with the options' types as the
// application registered them.
func (s *Server) Slash(guild *Guild, channel *Channel, member *Member, command string,
	options map[string]string) (*Interaction,
	error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	data, err := s.commandData(guild, command, options, "")
	if err != nil {
		return nil, err
	}
	return s.send(guild, channel, member, 2, data, nil), nil
}

// Complete types a part of an option and asks for its choices.
func (s *Server) Complete(guild *Guild, channel *Channel, member *Member, command, focused string,
	options map[string]string) (*Interaction, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	data, err := s.commandData(guild, command, options, focused)
	if err != nil {
		return nil, err
	}
	asked := s.send(guild, channel, member, 4, data, nil)
	asked.typing = typing(data)
	return asked, nil
}

// Press presses a button of a reply, or of a message that followed it, by the beginning of
// its label. It is an error where a client shows no such button, or lets nobody press it.
func (s *Server) Press(interaction *Interaction, m *Member, label string) (*Interaction, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if interaction.reply == nil {
		return nil, fmt.Errorf("discordtest: no reply to press a button of")
	}
	var seen []Button
	var why error
	for _, message := range append([]*Message{interaction.reply}, interaction.more...) {
		if message.gone || message.Ephemeral && (interaction.member != m || message.unseen) {
			why = fmt.Errorf("discordtest: %s does not see a message of it", m.Name)
			continue
		}
		for _, button := range buttons(message) {
			seen = append(seen, button)
			switch {
			case !strings.HasPrefix(button.Label, label):
			case button.Disabled:
				return nil, fmt.Errorf("discordtest: the button %q is disabled", button.Label)
			case button.ID == "":
				return nil, fmt.Errorf("discordtest: the button %q leads to a page, and tells nobody", button.Label)
			default:
				return s.send(interaction.guild, interaction.ch, m, 3, map[string]any{"custom_id": button.ID,
					"component_type": typeButton},
					message), nil
			}
		}
	}
	return nil, errors.Join(fmt.Errorf("discordtest: no button %q among %v", label, seen), why)
}

// Reload is a member's client being opened again: what was shown to them alone, and still
// stood there, is gone for them.
func (s *Server) Reload(m *Member) {
	s.mu.Lock()
	defer s.mu.Unlock()
	// any order: each is marked
	for _, i := range s.interactions {
		if i.member != m {
			continue
		}
		for _, message := range append([]*Message{i.reply}, i.more...) {
			if message != nil && message.Ephemeral {
				message.unseen = true
			}
		}
	}
}

// Submit fills in the form that answered an interaction.
func (s *Server) Submit(interaction *Interaction, member *Member, fields map[string]string) (*Interaction, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if interaction.modal == nil {
		return nil, fmt.Errorf("discordtest: no form is open")
	}
	open, err := components(list(interaction.modal, "components"))
	if err != nil {
		return nil, err
	}
	// Each field comes back as it stood: in a row, or in a label.
	rows := []any{}
	given := maps.Clone(fields)
	for _, part := range open {
		field := part.Component
		if part.Type == typeRow {
			field = &part.Components[0]
		}
		if field == nil {
			rows = append(rows, map[string]any{"type": part.Type})
			continue
		}
		filled, err := field.filled(given)
		if err != nil {
			return nil, err
		}
		delete(given, field.CustomID)
		if part.Type == typeLabel {
			rows = append(rows, map[string]any{"type": typeLabel, "component": filled})
			continue
		}
		rows = append(rows, map[string]any{"type": typeRow, "components": []any{filled}})
	}
	for _, id := range slices.Sorted(maps.Keys(given)) {
		return nil, fmt.Errorf("discordtest: the form has no field %q", id)
	}
	return s.send(interaction.guild, interaction.ch, member, 5,
		map[string]any{"custom_id": interaction.modal["custom_id"], "components": rows}, nil), nil
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
func (s *Server) send(g *Guild, channel *Channel, m *Member, kind int, data map[string]any, on *Message) *Interaction {
	sent := &Interaction{s: s, ID: s.newID(), kind: kind, made: s.now(), guild: g, ch: channel, member: m}
	sent.token = "token-" + sent.ID
	sent.event = map[string]any{"id": sent.ID, "application_id": AppID, "type": kind, "data": data, "guild_id": g.ID,
		"channel_id": channel.ID, "token": sent.token, "version": 1,
		"locale": "en-GB", "guild_locale": "en-US", "entitlements": []any{},
		"authorizing_integration_owners": map[string]any{}, "context": 0,
		"app_permissions": strconv.FormatInt(channel.Permissions, 10),
		"channel":         map[string]any{"id": channel.ID, "type": 0, "name": channel.Name},
		"member": map[string]any{"user": user(m), "roles": nonNil(m.Roles),
			"permissions": strconv.FormatInt(m.Permissions, 10), "joined_at": "2026-01-01T00:00:00Z", "deaf": false,
			"mute": false, "flags": 0, "avatar": nil}}
	if on != nil {
		sent.event["message"] = on.json()
		sent.on = on
	}
	s.interactions[sent.ID], s.byToken[sent.token] = sent, sent
	sent.sent = time.Now()
	s.dispatch("INTERACTION_CREATE", sent.event)
	return sent
}

// typing is the type of the option that is typed.
func typing(data map[string]any) int {
	for _, o := range list(data, "options") {
		option, _ := o.(map[string]any)
		if option["focused"] == true {
			kind, _ := option["type"].(int)
			return kind
		}
		if kind := typing(option); kind != 0 {
			return kind
		}
	}
	return 0
}

func user(m *Member) map[string]any {
	return map[string]any{"id": m.ID, "username": m.Name, "discriminator": "0", "global_name": m.Name, "avatar": nil}
}

// callback takes an interaction's first answer. It is answered by nothing, or by what the
// answer became where that is asked for.
func (s *Server) callback(call *restCall) (any, error) {
	id, token, body, files := call.path[1], call.path[2], call.body, call.files
	// An interaction is answered in time, and once.
	asked := s.interactions[id]
	if asked == nil || asked.token != token ||
		!asked.answered && s.now().Sub(asked.made) > cmp.Or(s.AnswerWithin, firstAnswer) {
		return nil, errUnknownInteraction
	}
	if asked.answered {
		return nil, errAcknowledged
	}
	// Each kind of answer goes with some kinds of interaction only.
	kind, _ := body["type"].(float64)
	data, _ := body["data"].(map[string]any)
	switch answer := int(kind); {
	case answer == 4 && asked.kind != 4:
		if err := s.checkMessage(data, files, nil); err != nil {
			return nil, err
		}
		asked.reply = asked.message(data)
		s.take(asked.reply, data, files)
		asked.reply.Pings = pings(asked.reply.Content, data["allowed_mentions"])
	case answer == 7 && asked.kind == 3:
		if err := s.checkMessage(data, files, asked.on); err != nil {
			return nil, err
		}
		asked.reply, asked.replaced = asked.on, true
		s.take(asked.reply, data, files)
		asked.reply.Pings = pings(asked.reply.Content, data["allowed_mentions"])
	case answer == 5 && asked.kind != 4:
		asked.reply = asked.message(data)
	case answer == 6 && asked.kind == 3:
		asked.reply = asked.on
	case answer == 8 && asked.kind == 4:
		choices, err := asked.checkChoices(list(data, "choices"))
		if err != nil {
			return nil, err
		}
		asked.choices = choices
	case answer == 9 && (asked.kind == 2 || asked.kind == 3):
		if err := checkModal(data); err != nil {
			return nil, err
		}
		asked.modal = data
	default:
		return nil, errForm(fmt.Sprintf("answer of type %d to an interaction of type %d", answer, asked.kind))
	}
	// It is answered from now on.
	asked.answered, asked.first = true, int(kind)
	if call.r.URL.Query().Get("with_response") != "true" {
		return nil, nil
	}
	return asked.response(), nil
}

// message is an empty one that answers an interaction.
func (i *Interaction) message(data map[string]any) *Message {
	flags, _ := data["flags"].(float64)
	return &Message{ID: i.s.newID(), Channel: i.ch.ID, At: i.s.now(), Ephemeral: int(flags)&flagEphemeral != 0}
}

// response is what an answer became, for whoever asked with_response.
func (i *Interaction) response() map[string]any {
	said := map[string]any{"id": i.ID, "type": i.kind}
	all := map[string]any{"interaction": said}
	if i.reply == nil {
		return all
	}
	said["response_message_id"] = i.reply.ID
	said["response_message_loading"] = i.first == 5
	said["response_message_ephemeral"] = i.reply.Ephemeral
	all["resource"] = map[string]any{"type": i.first, "message": i.reply.json()}
	return all
}

// webhook serves the routes by which an interaction's answer is read, edited and deleted,
// and by which messages follow it.
func (s *Server) webhook(call *restCall) (any, error) {
	asked := s.byToken[call.path[2]]
	switch {
	case asked == nil || call.path[1] != AppID || s.now().Sub(asked.made) > tokenLife:
		return nil, refuse(401, 50027, "Invalid Webhook Token")
	case !asked.answered || asked.reply == nil:
		return nil, errUnknownMessage
	}
	// Another message.
	if call.r.Method == "POST" {
		if err := s.checkMessage(call.body, call.files, nil); err != nil {
			return nil, err
		}
		m := asked.message(call.body)
		s.take(m, call.body, call.files)
		m.Pings = pings(m.Content, call.body["allowed_mentions"])
		asked.more = append(asked.more, m)
		return m.json(), nil
	}
	// One that stands.
	message := asked.reply
	if id := call.path[4]; id != "@original" && id != message.ID {
		at := slices.IndexFunc(asked.more, func(m *Message) bool { return m.ID == id })
		if at < 0 {
			return nil, errUnknownMessage
		}
		message = asked.more[at]
	}
	if message.gone {
		return nil, errUnknownMessage
	}
	switch call.r.Method {
	case "DELETE":
		message.gone = true
		return nil, nil
	case "PATCH":
		if err := s.checkMessage(call.body, call.files, message); err != nil {
			return nil, err
		}
		s.take(message, call.body, call.files)
		message.Edited = true
		message.Pings = pings(message.Content, call.body["allowed_mentions"])
		asked.edited = asked.edited || message == asked.reply
	}
	return message.json(), nil
}

// Wait waits until the member sees an answer: its first one or, where that was
// deferred, the one that took its place.
func (i *Interaction) Wait(ctx context.Context) (Reply, error) {
	var reply Reply
	err := i.s.Until(ctx, func() bool {
		deferred := i.first == 5 || i.first == 6
		if !i.answered || deferred && !i.edited {
			return false
		}
		reply = Reply{Deferred: deferred, Modal: i.modal, Choices: i.choices, Replaced: i.replaced || i.first == 6}
		if m := i.reply; m != nil {
			m.show(&reply)
		}
		return true
	})
	return reply, err
}

// show puts what a message says into a reply.
func (m *Message) show(r *Reply) {
	r.Content, r.Ephemeral, r.Buttons, r.Files, r.Pings = m.Content, m.Ephemeral, buttons(m), m.Files, m.Pings
}

// FollowUps waits until n messages have followed the answer, and is all that did.
func (i *Interaction) FollowUps(ctx context.Context, n int) ([]Reply, error) {
	var all []Reply
	err := i.s.Until(ctx, func() bool {
		all = make([]Reply, len(i.more))
		for at, m := range i.more {
			m.show(&all[at])
		}
		return len(all) >= n
	})
	return all, err
}

// Deleted reports whether the application has deleted its answer; for use inside Until.
func (s *Server) Deleted(i *Interaction) bool { return i.reply != nil && i.reply.gone }

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
	err := s.Until(ctx, func() bool { return len(c.written()) >= n })
	return s.Messages(c), err
}
