package bot

import (
	"context"
	"crypto/sha256"
	"encoding/base32"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
)

// Discord's error codes that mean something here.
const (
	codeUnknownChannel = 10003
	codeUnknownMessage = 10008
	codeMissingAccess  = 50001
	codeMissingPerms   = 50013
	codeMaxPins        = 30003
	codeAcknowledged   = 40060 // the member has seen an answer already
)

// errNotConnected is a request while there is no session.
var errNotConnected = errors.New("not connected")

// nonceWindow is how long Discord surely still knows a nonce. After it, a
// notice whose fate is unknown is looked for in the channel before it is sent
// again.
const nonceWindow = 2 * time.Minute

// Wait is an error that says when to try again.
type Wait struct {
	For     time.Duration
	Err     error
	Limited bool // the channel takes nothing until then
	All     bool // and no channel does
}

// Error is the underlying error's.
func (w *Wait) Error() string { return w.Err.Error() }

// Unwrap is the underlying error.
func (w *Wait) Unwrap() error { return w.Err }

// Unsent is an error after which nothing was done: what was to be posted stands nowhere,
// unless it did before.
type Unsent struct{ Err error }

// Error is the underlying error's.
func (u *Unsent) Error() string { return u.Err.Error() }

// Unwrap is the underlying error.
func (u *Unsent) Unwrap() error { return u.Err }

// notices is a shop's channel in Discord.
type notices struct {
	session func() *discordgo.Session
	now     func() time.Time
	more    string  // where to find what a notice has no room for
	photos  *photos // that members attached, nil where none are posted
	access  *access
}

// newNotices posts over a session, which may be nil while there is no connection, and
// goes by a clock. more says where to find what a notice has no room for.
func newNotices(session func() *discordgo.Session, now func() time.Time, more string) *notices {
	return &notices{session: session, now: now, more: more, access: newAccess(slog.New(slog.DiscardHandler))}
}

// Post sends a notice with a nonce that Discord enforces: sent again within
// minutes it is not posted again. After longer, the channel is searched for its
// reference first. Where they may not be read, what is urgent is sent
// again, since missing it could hurt; anything else is given up as posted.
func (n *notices) Post(ctx context.Context, shop domain.Shop, o domain.Undelivered, m commands.Message) (string,
	error) {
	id, _, err := n.post(ctx, shop, o, m)
	n.access.notePost(shop.ID, o.Notice, err)
	return id, err
}

// post is Post, and who the message that it became really mentioned.
func (n *notices) post(ctx context.Context, shop domain.Shop, undelivered domain.Undelivered,
	message commands.Message) (string,
	mentioned, error) {
	var who mentioned
	ref, key := reference(shop.ID, undelivered.Notice.Key), nonce(shop.ID, undelivered.Notice.Key)
	// Look for it where its nonce would not keep it from being posted twice.
	if !undelivered.Sent.IsZero() && n.now().Sub(undelivered.Sent) > nonceWindow {
		id, readable, err := n.find(ctx, shop, ref, undelivered.Sent)
		switch {
		case err != nil:
			return "", who, n.failed(shop, err)
		case id != "":
			return id, who, nil
		case !readable && undelivered.Notice.Urgency() == domain.Routine:
			return "", who, nil
		}
	}
	// What it says, and whom it notifies.
	call := n.access.call(ctx, shop, message, n.now())
	payload := n.body(message, ref, call.text)
	payload.Nonce, payload.EnforceNonce = key, true
	payload.Mentions.Roles, payload.Mentions.Users = call.roles, call.users
	if undelivered.Notice.Urgency() == domain.Routine && !message.Mention && len(message.People) == 0 {
		payload.Flags = flagSilent
	}
	// Send it, and read which message it became.
	text, err := n.postWithPhoto(ctx, shop, undelivered.Notice, payload)
	if err != nil {
		if !maybeServed(err) {
			return "", who, &Unsent{n.failed(shop, err)}
		}
		return "", who, n.failed(shop, err)
	}
	n.access.worked(shop)
	var posted struct {
		ID string `json:"id"`
		mentioned
	}
	if err := json.Unmarshal(text, &posted); err != nil || posted.ID == "" {
		return "", who, fmt.Errorf("an answer without a message: %.80q", text)
	}
	n.access.answered(shop, call, posted.mentioned)
	return posted.ID, posted.mentioned, nil
}

// maybeServed reports whether a request that failed may have taken effect: one that
// never left, or that Discord refused, has not.
func maybeServed(err error) bool {
	var limited *discordgo.RateLimitError
	var dial *net.OpError
	if errors.Is(err, errNotConnected) || errors.As(err, &limited) || errors.As(err, &dial) && dial.Op == "dial" {
		return false
	}
	var rest *discordgo.RESTError
	if errors.As(err, &rest) && rest.Response != nil {
		return rest.Response.StatusCode >= http.StatusInternalServerError
	}
	return true
}

// body is a notice as it stands in the channel, behind the mentions that call somebody,
// with its visible reference and its buttons: an edit takes away those that it lacks.
func (n *notices) body(message commands.Message, ref, mentions string) body {
	tail := "\n-# " + ref
	room := maxContent - len(tail) - max(len(mentions), roleMention)
	text := words.Expand(message.Text, markdown{})
	if len([]rune(text)) > room {
		// A notice is one message, so that it can be edited and pinned: what does
		// not fit is left out by whole lines, and it says where to find it.
		all := pagesOf(strings.Split(text, "\n"), room-len([]rune(n.more))-1)
		text = all[0] + "\n" + n.more
	}
	return body{Content: mentions + text + tail, Components: rows(message.Buttons), Mentions: nobody}
}

// roleMention is the room that a mention of a role takes, in characters.
const roleMention = 30

// reference is what a notice shows to be found by.
func reference(shop domain.ShopID, key string) string { return "notice " + nonce(shop, key)[:8] }

// nonce is a notice's nonce, of 24 characters.
func nonce(shop domain.ShopID, key string) string {
	sum := sha256.Sum256([]byte(string(shop) + "\x00" + key))
	return strings.ToLower(base32.StdEncoding.EncodeToString(sum[:15]))
}

// A channel is searched by pages, as many at most as a busy channel fills in a day.
const (
	findPage  = 100
	findPages = 20
	findSlack = time.Minute // by how much Discord's clock may differ
)

// find looks for a notice among the channel's messages, from the last back to when it
// was sent. Discord shows an empty list where history may not be read.
func (n *notices) find(ctx context.Context, shop domain.Shop, ref string, sent time.Time) (id string, readable bool,
	err error) {
	url := discordgo.EndpointChannelMessages(shop.NoticeChannel)
	before := ""
	for range findPages {
		text, err := n.requestTo(ctx, "GET", fmt.Sprintf("%s?limit=%d%s", url, findPage, before), url, nil)
		if err != nil {
			return "", readable, err
		}
		var list []struct {
			ID      string `json:"id"`
			Content string `json:"content"`
		}
		if err := json.Unmarshal(text, &list); err != nil {
			return "", readable, fmt.Errorf("read a page of the channel's messages: %w", err)
		}
		for _, m := range list {
			if strings.Contains(m.Content, ref) {
				return m.ID, true, nil
			}
		}
		if len(list) < findPage {
			return "", readable || len(list) > 0, nil
		}
		readable = true
		last := list[len(list)-1].ID
		if at, err := discordgo.SnowflakeTimestamp(last); err != nil || at.Before(sent.Add(-findSlack)) {
			return "", readable, err
		}
		before = "&before=" + last
	}
	return "", readable, nil
}

// Edit changes a notice. One that somebody deleted has nothing to edit.
func (n *notices) Edit(ctx context.Context, shop domain.Shop, o domain.Undelivered, m commands.Message) error {
	_, err := n.request(ctx, "PATCH", discordgo.EndpointChannelMessage(shop.NoticeChannel, o.Message),
		n.body(m, reference(shop.ID, o.Notice.Target), ""))
	if restCode(err) == codeUnknownMessage {
		return nil
	}
	if err == nil {
		n.access.worked(shop)
	}
	return n.failed(shop, err)
}

// Pin pins a notice. That it may not be pinned keeps no later notice back; the
// shop is told.
func (n *notices) Pin(ctx context.Context, shop domain.Shop, o domain.Undelivered) error {
	return n.pin(ctx, shop, o, "PUT")
}

// Unpin takes the pin from a notice.
func (n *notices) Unpin(ctx context.Context, shop domain.Shop, o domain.Undelivered) error {
	return n.pin(ctx, shop, o, "DELETE")
}

func (n *notices) pin(ctx context.Context, shop domain.Shop, o domain.Undelivered, method string) error {
	_, err := n.request(ctx, method, discordgo.EndpointChannel(shop.NoticeChannel)+"/messages/pins/"+o.Message, nil)
	switch restCode(err) {
	case codeUnknownMessage, codeMaxPins:
		return nil
	case codeMissingPerms, codeMissingAccess:
		n.access.pins(shop, false)
		return nil
	}
	if err == nil {
		n.access.pins(shop, true)
	}
	return n.failed(shop, err)
}

func (n *notices) request(ctx context.Context, method, url string, b any) ([]byte, error) {
	return n.requestTo(ctx, method, url, url, b)
}

func (n *notices) requestTo(ctx context.Context, method, url, bucket string, b any) ([]byte, error) {
	s := n.session()
	if s == nil {
		return nil, errNotConnected
	}
	return s.RequestWithBucketID(method, url, b, bucket, discordgo.WithContext(ctx))
}

// failed says when to try again after an error, and notes what somebody in the
// shop can mend.
func (n *notices) failed(shop domain.Shop, err error) error {
	if err == nil {
		return nil
	}
	n.access.failed(shop, err)
	switch restCode(err) {
	case codeUnknownChannel, codeMissingAccess, codeMissingPerms:
		return &Wait{For: longestWait, Err: err}
	}
	var limited *discordgo.RateLimitError
	if errors.As(err, &limited) {
		return &Wait{For: limited.RetryAfter, Err: err, Limited: true,
			All: limited.Message == limitedEverywhere}
	}
	var rest *discordgo.RESTError
	if errors.As(err, &rest) && rest.Response != nil {
		// Refusals are never retried fast: ten thousand of them ban an address.
		switch rest.Response.StatusCode {
		case http.StatusUnauthorized, http.StatusForbidden:
			return &Wait{For: longestWait, Err: err}
		}
	}
	return err
}

// restCode is Discord's code of an error, 0 if it has none.
func restCode(err error) int {
	var rest *discordgo.RESTError
	if errors.As(err, &rest) && rest.Message != nil {
		return rest.Message.Code
	}
	return 0
}
