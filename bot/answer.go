package bot

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"strconv"

	"github.com/bwmarrin/discordgo"

	"setscrew/commands"
)

// respond runs what an interaction asks for and answers it; refused says that it answered
// why not.
func (b *Bot) respond(e event) (refused bool, err error) {
	now := b.clock.reported(e.id)
	ctx, cancel := context.WithTimeout(b.answering, b.cfg.AnswerWithin)
	defer cancel()
	switch e.kind {
	case discordgo.InteractionApplicationCommandAutocomplete:
		list := choices{Choices: []choice{}}
		for _, c := range b.cfg.Desk.Complete(ctx,
			commands.Completion{Shop: e.guild, Actor: e.actor, Name: e.command, Option: e.focused,
				Partial: e.options[e.focused], Options: e.options, Now: now}) {
			list.Choices = append(list.Choices, choice{c.Label, c.Value})
		}
		return false, b.callback(ctx, e, answer{answerChoices, list}, nil)
	case discordgo.InteractionApplicationCommand:
		request := commands.Request{ID: e.id, Shop: e.guild, Actor: e.actor, Name: e.command, Options: e.options,
			Typed: e.typed(b.cfg.Desk.Declarations()), Now: now}
		// What is quick is answered at once, what may be slow within a minute.
		slow, quiet := b.cfg.Desk.Slow(e.command)
		if !slow {
			work, done := context.WithTimeout(ctx, b.cfg.AnswerWithin-sendingTakes)
			defer done()
			reply := b.cfg.Desk.Run(work, request)
			return reply.Refused, b.answer(ctx, e, reply, false)
		}
		d := body{Components: []row{}, Mentions: nobody}
		if quiet {
			d.Flags = flagEphemeral
		}
		if err := b.callback(ctx, e, answer{answerDeferred, map[string]any{"flags": d.Flags}}, nil); err != nil {
			return false, err
		}
		long, cancel := context.WithTimeout(b.answering, slowWithin)
		defer cancel()
		reply := b.cfg.Desk.Run(long, request)
		return reply.Refused, b.answer(long, e, reply, true)
	}
	// A button or a form, which may be slow, too.
	press := commands.Press{ID: e.id, Shop: e.guild, Actor: e.actor, Custom: e.custom, Fields: e.fields, Now: now}
	if e.kind == discordgo.InteractionMessageComponent && b.cfg.Desk.SlowPress(e.custom) {
		if err := b.callback(ctx, e, answer{Type: answerDeferredPress}, nil); err != nil {
			return false, err
		}
		long, cancel := context.WithTimeout(b.answering, slowWithin)
		defer cancel()
		reply := b.cfg.Desk.Press(long, press)
		return reply.Refused, b.answer(long, e, reply, true)
	}
	work, done := context.WithTimeout(ctx, b.cfg.AnswerWithin-sendingTakes)
	defer done()
	reply := b.cfg.Desk.Press(work, press)
	return reply.Refused, b.answer(ctx, e, reply, false)
}

// answer sends a reply. Its pages beyond the first follow it.
func (b *Bot) answer(ctx context.Context, e event, reply commands.Reply, deferred bool) (err error) {
	// What is told beside the answer stands below it where nobody else sees that.
	aside := reply.Aside
	if reply.Quiet && !reply.Replaces {
		reply.Lines, aside = append(reply.Lines, reply.Aside...), nil
	}
	// What its member missed before is told with it, and what they miss of this is kept.
	missed := b.missed(e.guild, e.actor.ID)
	took := missed
	if missed != "" {
		reply.Lines = append(reply.Lines, b.cfg.Desk.Unseen(missed))
	}
	defer func() {
		switch {
		case err == nil && reply.Form != nil: // a form has no room for it
		case err == nil:
			missed = ""
		case restCode(err) != codeAcknowledged && !reply.Refused && reply.Form == nil:
			missed = reply.Headline // the latest is what they wait for
		}
		b.keepUnseen(e.guild, e.actor.ID, took, missed)
	}()
	// A form is all that there is.
	if reply.Form != nil && !deferred && e.kind != discordgo.InteractionModalSubmit {
		return b.callback(ctx, e, answer{answerModal, form(reply.Form)}, nil)
	}
	// Its words and buttons, and its files on the first message.
	all := bodies(reply)
	var files []*discordgo.File
	if reply.Picture != nil {
		png, err := commands.Draw(*reply.Picture)
		if err != nil {
			return fmt.Errorf("draw the picture of an answer: %w", err)
		}
		files = []*discordgo.File{{Name: reply.Picture.Name + ".png", ContentType: "image/png",
			Reader: bytes.NewReader(png)}}
		all[0].Attachments = []attachment{{ID: "0", Filename: reply.Picture.Name + ".png",
			Description: alt(reply.Picture.Alt)}}
	}
	if f := reply.File; f != nil {
		files = append(files, &discordgo.File{Name: f.Name, ContentType: f.Type, Reader: bytes.NewReader(f.Data)})
		all[0].Attachments = append(all[0].Attachments,
			attachment{ID: strconv.Itoa(len(files) - 1), Filename: f.Name, Description: f.Name})
	}
	// The first message goes where the interaction waits for it, the others follow.
	switch {
	case deferred && e.kind == discordgo.InteractionMessageComponent && !reply.Replaces:
		// The message with the button stays as it is.
		err = b.send(ctx, "POST", discordgo.EndpointWebhookToken(e.app, e.token), e, all[0], files)
	case deferred:
		err = b.send(ctx, "PATCH", discordgo.EndpointWebhookMessage(e.app, e.token, "@original"), e, all[0], files)
	case reply.Replaces && e.kind == discordgo.InteractionMessageComponent:
		err = b.callback(ctx, e, answer{answerUpdate, all[0]}, files)
	default:
		err = b.callback(ctx, e, answer{answerMessage, all[0]}, files)
	}
	for _, page := range all[1:] {
		if err != nil {
			return err
		}
		err = b.send(ctx, "POST", discordgo.EndpointWebhookToken(e.app, e.token), e, page, nil)
	}
	if err == nil && len(aside) > 0 {
		for _, page := range bodies(commands.Reply{Quiet: true, Lines: aside}) {
			err = errors.Join(err, b.send(ctx, "POST", discordgo.EndpointWebhookToken(e.app, e.token), e, page, nil))
		}
	}
	return err
}

// callback is an interaction's first answer.
func (b *Bot) callback(ctx context.Context, e event, a answer, files []*discordgo.File) error {
	err := b.send(ctx, "POST", discordgo.EndpointInteractionResponse(e.id, e.token), e, a, files)
	if err == nil {
		b.clock.accepted(e.id)
	}
	return err
}

// buckets is how many rate-limit buckets interactions share. The library keeps
// every bucket for ever, and each interaction's address is a new one.
const buckets = 256

func (b *Bot) send(ctx context.Context, method, url string, e event, payload any, files []*discordgo.File) (err error) {
	defer func() { err = withoutToken(err, e.token) }()
	session := b.session()
	if session == nil {
		return errNotConnected
	}
	h := fnv.New32a()
	h.Write([]byte(e.id)) //nolint:errcheck // never fails
	bucket := fmt.Sprintf("interactions-%d", h.Sum32()%buckets)
	if len(files) == 0 {
		_, err = session.RequestWithBucketID(method, url, payload, bucket, discordgo.WithContext(ctx))
		return err
	}
	kind, text, err := discordgo.MultipartBodyWithJSON(payload, files)
	if err != nil {
		return fmt.Errorf("put files into an answer: %w", err)
	}
	_, err = session.RequestRaw(method, url, kind, text, bucket, 0, discordgo.WithContext(ctx))
	return err
}
