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

// channel serves the routes of a channel's messages.
func (s *Server) channel(call *restCall) (any, error) {
	ch := s.channels[call.path[1]]
	if ch == nil {
		return nil, errUnknownChannel
	}
	if ch.Permissions&ViewChannel == 0 {
		return nil, errAccess
	}
	switch {
	case call.is("GET", "channels/*"):
		return map[string]any{"id": ch.ID, "guild_id": ch.Guild, "type": 0, "name": ch.Name}, nil
	case call.is("POST", "channels/*/messages"):
		if err := s.slot(ch); err != nil {
			return nil, err
		}
		return s.post(ch, call.body, call.files)
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
		case "PATCH":
			if err := s.checkMessage(call.body, call.files, true); err != nil {
				return nil, err
			}
			message.take(call.body, call.files)
			message.Edited = true
		}
		return message.json(), nil
	}
	return nil, refuse(404, 0, "404: Not Found")
}

func olderID(a, b string) bool { return len(a) < len(b) || len(a) == len(b) && a < b }

// postsWithin is the time over which a channel's posts are counted.
const postsWithin = 5 * time.Second

// slot takes one of the places that a channel has for posts, or refuses with 429.
func (s *Server) slot(ch *Channel) error {
	if s.ChannelPosts == 0 {
		return nil
	}
	now := s.now()
	ch.posts = slices.DeleteFunc(ch.posts, func(at time.Time) bool { return now.Sub(at) >= postsWithin })
	if len(ch.posts) >= s.ChannelPosts {
		return &refusal{status: 429, message: "You are being rate limited.",
			wait: ch.posts[0].Add(postsWithin).Sub(now)}
	}
	ch.posts = append(ch.posts, now)
	return nil
}

// post puts a message into a channel, once for a nonce that is enforced.
func (s *Server) post(ch *Channel, body map[string]any, files []string) (any, error) {
	if ch.Permissions&SendMessages == 0 || len(files) > 0 && ch.Permissions&AttachFiles == 0 {
		return nil, errPermissions
	}
	if err := s.checkMessage(body, files, false); err != nil {
		return nil, err
	}
	nonce, _ := body["nonce"].(string)
	if len(nonce) > 25 {
		return nil, errForm("nonce over 25 characters")
	}
	if enforce, _ := body["enforce_nonce"].(bool); enforce && nonce != "" {
		for _, message := range ch.messages {
			if message.Nonce == nonce && s.now().Sub(message.At) < nonceWindow {
				return message.json(), nil
			}
		}
	}
	message := &Message{ID: s.newID(), Channel: ch.ID, At: s.now(), Nonce: nonce}
	message.take(body, files)
	message.Pings = pings(message.Content, body["allowed_mentions"])
	ch.messages = append(ch.messages, message)
	return message.json(), nil
}

// take sets what a body says of a message.
func (m *Message) take(body map[string]any, files []string) {
	m.body = body
	if v, ok := body["content"].(string); ok {
		m.Content = v
	}
	if v, ok := body["components"]; ok {
		m.Components, _ = json.Marshal(v)
	}
	if len(files) > 0 {
		m.Files = files
	}
}

func (m *Message) json() map[string]any {
	all := map[string]any{"id": m.ID, "channel_id": m.Channel, "content": m.Content,
		"timestamp": m.At.UTC().Format(time.RFC3339), "edited_timestamp": nil, "tts": false,
		"mention_everyone": false, "mentions": []any{}, "mention_roles": []any{}, "attachments": []any{},
		"embeds": []any{}, "pinned": m.Pinned, "type": 0, "author": botUser()}
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
	ch := s.channels[call.path[1]]
	if ch == nil {
		return nil, errUnknownChannel
	}
	if ch.Permissions&ViewChannel == 0 {
		return nil, errAccess
	}
	if call.r.Method == "GET" {
		items := []any{}
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
			if call.r.Method == "PUT" && !message.Pinned && s.Pinned(ch) >= mostPins {
				return nil, refuse(400, 30003, "Maximum number of pins reached (250)")
			}
			message.Pinned = call.r.Method == "PUT"
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
	if i >= len(c.messages) {
		return ""
	}
	return c.messages[i].Content
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
