package discordtest

import (
	"encoding/json"
	"regexp"
	"slices"
	"strconv"
	"time"
)

// nonceWindow is how long a nonce keeps a message from being posted again.
const nonceWindow = 4 * time.Minute

// place is the channel that a request names, if the application sees it.
func (call *restCall) place() (*Channel, error) {
	ch := call.s.channels[call.path[1]]
	switch {
	case ch == nil:
		return nil, errUnknownChannel
	case ch.Permissions&ViewChannel == 0:
		return nil, errAccess
	}
	return ch, nil
}

// channel serves the routes of a channel's messages.
func (s *Server) channel(call *restCall) (any, error) {
	ch, err := call.place()
	if err != nil {
		return nil, err
	}
	switch {
	// The channel, and a post to it.
	case call.is("GET", "channels/*"):
		return map[string]any{"id": ch.ID, "guild_id": ch.Guild, "type": 0, "name": ch.Name}, nil
	case call.is("POST", "channels/*/messages"):
		if err := call.inChannel("posts", ch); err != nil {
			return nil, err
		}
		return s.post(ch, call.body, call.files)
	// A page of messages, the newest first.
	case call.is("GET", "channels/*/messages"):
		if ch.Permissions&ReadHistory == 0 {
			return []any{}, nil // Discord shows nothing rather than refusing
		}
		limit, err := strconv.Atoi(call.r.URL.Query().Get("limit"))
		if err != nil {
			limit = 50
		}
		var all []any
		for _, message := range slices.Backward(ch.messages) {
			if before := call.r.URL.Query().Get("before"); before != "" && !olderID(message.ID, before) {
				continue
			}
			if len(all) < min(limit, 100) {
				all = append(all, message.json())
			}
		}
		return nonNil(all), nil
	// One message.
	case call.is("GET", "channels/*/messages/*"), call.is("PATCH", "channels/*/messages/*"),
		call.is("DELETE", "channels/*/messages/*"):
		at := slices.IndexFunc(ch.messages, func(message *Message) bool { return message.ID == call.path[3] })
		if at < 0 {
			return nil, errUnknownMessage
		}
		message := ch.messages[at]
		switch call.r.Method {
		case "DELETE":
			ch.messages = slices.Delete(ch.messages, at, at+1)
			return nil, nil
		case "GET":
			if ch.Permissions&ReadHistory == 0 {
				return nil, errPermissions
			}
		case "PATCH":
			if err := call.inChannel("edits", ch); err != nil {
				return nil, err
			}
			if message.kind != 0 {
				return nil, errSystemMessage
			}
			if err := s.checkMessage(call.body, call.files, message); err != nil {
				return nil, err
			}
			s.take(message, call.body, call.files)
			message.Edited = true
		}
		return message.json(), nil
	}
	return nil, refuse(404, 0, "404: Not Found")
}

// olderID reports whether one id was made before another.
func olderID(a, b string) bool { return len(a) < len(b) || len(a) == len(b) && a < b }

// post puts a message into a channel, once for a nonce that is enforced.
func (s *Server) post(ch *Channel, body map[string]any, files []upload) (any, error) {
	if ch.Permissions&SendMessages == 0 || len(files) > 0 && ch.Permissions&AttachFiles == 0 {
		return nil, errPermissions
	}
	if err := s.checkMessage(body, files, nil); err != nil {
		return nil, err
	}
	nonce, _ := body["nonce"].(string)
	if len(nonce) > 25 {
		return nil, errForm("nonce over 25 characters")
	}
	if enforce, _ := body["enforce_nonce"].(bool); enforce && nonce != "" {
		for _, message := range ch.messages {
			if message.Nonce == nonce && s.now().Sub(message.At) < nonceWindow {
				return s.answer(message, s.guilds[ch.Guild]), nil
			}
		}
	}
	message := &Message{ID: s.newID(), Channel: ch.ID, At: s.now(), Nonce: nonce}
	s.take(message, body, files)
	message.Pings = s.mayPing(ch, pings(message.Content, body["allowed_mentions"]))
	ch.messages = append(ch.messages, message)
	return s.answer(message, s.guilds[ch.Guild]), nil
}

// take sets what a body says of a message.
func (s *Server) take(message *Message, body map[string]any, files []upload) {
	message.body = body
	if v, ok := body["content"].(string); ok {
		message.Content = v
	}
	if v, ok := body["components"]; ok {
		message.Components, _ = json.Marshal(v)
	}
	if flags, ok := body["flags"].(float64); ok {
		message.flags |= int(flags) & flagComponents
	}
	// The files that it had stay unless it lists which do.
	if listed, ok := body["attachments"].([]any); ok {
		message.files = slices.DeleteFunc(message.files, func(had file) bool {
			return !slices.ContainsFunc(listed, func(kept any) bool {
				one, _ := kept.(map[string]any)
				return one["id"] == had.id
			})
		})
	}
	message.server = s
	for _, f := range files {
		message.files = append(message.files, file{s.newID(), f})
	}
	message.Files = nil
	for _, had := range message.files {
		message.Files = append(message.Files, had.what.name)
	}
}

func (m *Message) json() map[string]any {
	all := map[string]any{"id": m.ID, "channel_id": m.Channel, "content": m.Content,
		"timestamp": m.At.UTC().Format(time.RFC3339), "edited_timestamp": nil, "tts": false,
		"mention_everyone": false, "mentions": []any{}, "mention_roles": []any{}, "attachments": m.attached(),
		"embeds": []any{}, "pinned": m.Pinned, "type": m.kind, "author": botUser(), "flags": m.flags}
	if m.Ephemeral {
		all["flags"] = m.flags | flagEphemeral
	}
	if m.Edited {
		all["edited_timestamp"] = all["timestamp"]
	}
	if m.refers != "" {
		all["message_reference"] = map[string]any{"message_id": m.refers, "channel_id": m.Channel}
	}
	if m.Components != nil {
		all["components"] = m.Components
	}
	if m.Nonce != "" {
		all["nonce"] = m.Nonce
	}
	return all
}

var mention = regexp.MustCompile(`<@(&|!)?(\d+)>|@(everyone|here)`)

// pings are those whom a message notifies, given its allowed_mentions. Without
// any, everybody mentioned is.
func pings(content string, allowed any) []string {
	var all []string
	a, limited := allowed.(map[string]any)
	lists := func(key, value string) bool {
		list, _ := a[key].([]any)
		return slices.ContainsFunc(list, func(v any) bool { return v == value })
	}
	for _, found := range mention.FindAllStringSubmatch(content, -1) {
		switch {
		case found[3] != "":
			if !limited || lists("parse", "everyone") {
				all = append(all, "everyone")
			}
		case found[1] == "&":
			if !limited || lists("parse", "roles") || lists("roles", found[2]) {
				all = append(all, "role:"+found[2])
			}
		default:
			if !limited || lists("parse", "users") || lists("users", found[2]) {
				all = append(all, "user:"+found[2])
			}
		}
	}
	return all
}

// mostPins is how many messages may be pinned in a channel.
const mostPins = 250

// pins serves the routes of a channel's pins.
func (s *Server) pins(call *restCall) (any, error) {
	ch, err := call.place()
	if err != nil {
		return nil, err
	}
	if call.r.Method == "GET" {
		items := []any{}
		if ch.Permissions&ReadHistory == 0 {
			return map[string]any{"items": items, "has_more": false}, nil
		}
		for _, message := range ch.messages {
			if message.Pinned {
				items = append(items, map[string]any{"pinned_at": message.At.UTC().Format(time.RFC3339),
					"message": message.json()})
			}
		}
		return map[string]any{"items": items, "has_more": false}, nil
	}
	if ch.Permissions&PinMessages == 0 {
		return nil, errPermissions
	}
	for _, message := range ch.messages {
		if message.ID == call.path[4] {
			pins := call.r.Method == "PUT"
			switch {
			case pins && message.kind != 0:
				return nil, errSystemMessage
			case pins && !message.Pinned && s.Pinned(ch) >= mostPins:
				return nil, refuse(400, 30003, "Maximum number of pins reached (250)")
			case pins && !message.Pinned:
				// Discord says so in the channel.
				ch.messages = append(ch.messages, &Message{ID: s.newID(), Channel: ch.ID, At: s.now(),
					kind: messagePinned, refers: message.ID})
			}
			message.Pinned = pins
			return nil, nil
		}
	}
	return nil, errUnknownMessage
}

// DeleteMessage removes a message, as somebody in the channel may.
func (s *Server) DeleteMessage(c *Channel, id string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c.messages = slices.DeleteFunc(c.messages, func(m *Message) bool { return m.ID == id })
	s.notify()
}

// Pinned counts a channel's pinned messages. Inside Until it may be called as
// it is.
func (s *Server) Pinned(c *Channel) int {
	count := 0
	for _, m := range c.messages {
		if m.Pinned {
			count++
		}
	}
	return count
}

// Content is what a channel's message of that index says, "" if there is none;
// for use inside Until.
func (s *Server) Content(c *Channel, i int) string {
	all := c.written()
	if i >= len(all) {
		return ""
	}
	return all[i].Content
}

// Registered reports whether any commands are; for use inside Until.
func (s *Server) Registered() bool { return s.overwrites > 0 }

// FollowUps counts messages that followed a first answer; for use inside Until.
func (s *Server) FollowUps() int {
	count := 0
	for _, r := range s.requests {
		if r.Method == "POST" && matches("webhooks", r.Path) && r.Status == 200 {
			count++
		}
	}
	return count
}

// Refused counts requests that were refused; for use inside Until.
func (s *Server) Refused(method, path string) int {
	count := 0
	for _, r := range s.requests {
		if r.Method == method && r.Status >= 400 && matches(path, r.Path) {
			count++
		}
	}
	return count
}
