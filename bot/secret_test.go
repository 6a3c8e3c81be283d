package bot

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/bwmarrin/discordgo"

	"setscrew/bot/discordtest"
	"setscrew/commands"
)

// An interaction's token, with which anybody could answer in the bot's place for a
// quarter of an hour, and the bot's own never reach the log, however an answer fails:
// its first message, one that was put off, a page after it.
func TestTokensStayOutOfTheLog(t *testing.T) {
	t.Parallel()
	first := func(in *inside, i *discordtest.Interaction, _ event) { in.deliver(i) }
	putOff := func(in *inside, _ *discordtest.Interaction, e event) {
		e.command, e.options = "why", map[string]string{"machine": "Marble"}
		_, err := in.bot.respond(e)
		in.warn(e, err)
	}
	pages := func(in *inside, _ *discordtest.Interaction, e event) {
		long := commands.Reply{Headline: "long", Lines: make([]string, 300)}
		for n := range long.Lines {
			long.Lines[n] = strings.Repeat("x", 60)
		}
		in.warn(e, in.bot.answer(context.Background(), e, long, false))
	}
	for _, test := range []struct {
		name, method, path string
		fault              func(token string) discordtest.Fault
		play               func(*inside, *discordtest.Interaction, event)
	}{
		{"cut off", "POST", "/interactions/*", dropped, first},
		{"too many", "POST", "/interactions/*", tooMany, first},
		{"an answer that holds it", "POST", "/interactions/*", echoed, first},
		{"a page instead of an answer", "POST", "/interactions/*", echoedPage, first},
		{"too late", "POST", "/interactions/*", late, first},
		{"put off, cut off", "PATCH", "/webhooks/*", dropped, putOff},
		{"put off, too many", "PATCH", "/webhooks/*", tooMany, putOff},
		{"put off, an answer that holds it", "PATCH", "/webhooks/*", echoed, putOff},
		{"a later page cut off", "POST", "/webhooks/*", dropped, pages},
		{"a later page, too many", "POST", "/webhooks/*", tooMany, pages},
	} {
		synctest.Test(t, func(t *testing.T) {
			in := newInside(t)
			defer in.close()
			var log bytes.Buffer
			in.bot.cfg.Log = slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))
			i, got := in.event(in.ada)
			in.server.Fail(test.method, test.path, test.fault(got.token), 1)
			test.play(in, i, got)
			said := log.String()
			if !strings.Contains(said, "answer not delivered") {
				t.Errorf("%s: nothing is logged: %q", test.name, said)
			}
			for what, secret := range map[string]string{ // any order: each by itself
				"the interaction's": got.token, "the interaction's, as in an address": url.PathEscape(got.token),
				"the bot's": discordtest.Token} {
				if strings.Contains(said, secret) {
					t.Errorf("%s: %s token is logged: %s", test.name, what, said)
				}
			}
		})
	}
}

// warn logs what came of an answer, as the bot does.
func (in *inside) warn(e event, err error) {
	in.t.Helper()
	if err == nil {
		in.t.Fatal("the answer arrived")
	}
	in.bot.undelivered(e, err)
}

func dropped(string) discordtest.Fault { return discordtest.Fault{Drop: true} }
func tooMany(string) discordtest.Fault { return discordtest.TooMany(time.Second, false) }
func late(string) discordtest.Fault {
	return discordtest.APIError(http.StatusNotFound, 10062, "Unknown interaction")
}
func echoed(token string) discordtest.Fault {
	return discordtest.APIError(http.StatusNotFound, 10015, "no /webhooks/1/"+token)
}
func echoedPage(token string) discordtest.Fault {
	return discordtest.Fault{Status: http.StatusForbidden, Type: "text/html",
		Body: "<html>/interactions/1/" + url.PathEscape(token) + "/callback</html>"}
}

// An error without its token is still the error that it was.
func TestErrorsWithoutTheirToken(t *testing.T) {
	t.Parallel()
	const token = "a+b/c=="
	inner := &url.Error{Op: "Post", URL: "https://example.org/" + url.PathEscape(token) + "/callback",
		Err: &discordgo.RateLimitError{RateLimit: &discordgo.RateLimit{TooManyRequests: &discordgo.TooManyRequests{},
			URL: "https://example.org/" + token}}}
	err := withoutToken(inner, token)
	if said := err.Error(); strings.Contains(said, token) || strings.Contains(said, url.PathEscape(token)) ||
		!strings.Contains(said, "/callback") {
		t.Errorf("says %q", said)
	}
	var limited *discordgo.RateLimitError
	if !errors.As(err, &limited) {
		t.Error("it is no longer a limit's")
	}
	if withoutToken(nil, token) != nil {
		t.Error("no error became one")
	}
}
