package bot

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"time"

	"github.com/bwmarrin/discordgo"

	"setscrew/commands"
	"setscrew/domain"
)

// errNoTime is Discord's time that was not heard.
var errNoTime = errors.New("the time at Discord is not known, since it did not answer: look again once it does")

// Examine looks over an application by its token: whether Discord takes that and knows the
// commands of a desk, and whether a clock goes with Discord's. It connects to nothing.
func Examine(ctx context.Context, token string, client *http.Client, desk *commands.Desk,
	now func() time.Time) []domain.Finding {
	begun := now()
	heard := newClock(now, func() time.Duration { return now().Sub(begun) }, slog.New(slog.DiscardHandler))
	asking, err := newLink(token, dating(client, heard))
	if err != nil {
		return []domain.Finding{{Look: domain.LookToken, Err: err}}
	}
	return examine(ctx, asking.s, declare(desk), heard)
}

// examine asks by a session whose answers a clock hears.
func examine(ctx context.Context, session *discordgo.Session, want []declared, heard *clock) []domain.Finding {
	is, err := ask(ctx, session)
	if err != nil {
		return []domain.Finding{{Look: domain.LookToken, Err: asRefused(err)}, heard.examine()}
	}
	token := domain.Finding{Look: domain.LookToken, Says: fmt.Sprintf("of the application %s, %s", is.ID, is.Name)}
	known := domain.Finding{Look: domain.LookCommands, Says: fmt.Sprintf("%d, as this version has them", len(want))}
	if err := knowsCommands(ctx, session, is.ID, want); err != nil {
		known.Says, known.Err = "", err
	}
	return []domain.Finding{token, known, heard.examine()}
}

// knowsCommands refuses where Discord knows other commands than it should.
func knowsCommands(ctx context.Context, session *discordgo.Session, application string, want []declared) error {
	have, err := registered(ctx, session, application)
	if err == nil && !sameCommands(have, want) {
		err = errors.New("the commands of this version are not known to Discord: setscrew run tells it of them, and " +
			"its log says where that fails")
	}
	return err
}

// registered are the commands that Discord knows of an application.
func registered(ctx context.Context, session *discordgo.Session, application string) (have []declared, err error) {
	url := discordgo.EndpointApplicationGlobalCommands(application)
	text, err := session.RequestWithBucketID("GET", url, nil, url, discordgo.WithContext(ctx))
	if err != nil {
		return nil, fmt.Errorf("ask for the commands that Discord knows: %w", err)
	}
	if err := json.Unmarshal(text, &have); err != nil {
		return nil, fmt.Errorf("read the commands that Discord knows: %w", err)
	}
	return have, nil
}

// examine is whether this machine's clock goes with Discord's as it was heard last.
func (c *clock) examine() domain.Finding {
	c.mu.Lock()
	defer c.mu.Unlock()
	wall, steady := c.wall(), c.steady()
	ahead := c.judge.ahead(wall, steady)
	side := "ahead of"
	if ahead < 0 {
		side = "behind"
	}
	found := domain.Finding{Look: domain.LookClock}
	switch {
	case !c.judge.heard:
		found.Err = errNoTime
	case c.judge.agree(wall, steady):
		found.Says = fmt.Sprintf("%s %s Discord's", ahead.Abs().Round(time.Second), side)
	default:
		found.Err = fmt.Errorf("this machine's clock is %s %s Discord's: set it right, and let it be kept so "+
			"(timedatectl set-ntp true)", ahead.Abs().Round(time.Second), side)
	}
	return found
}

// Examine looks over Setscrew's account, by asking Discord.
func (c chat) Examine(ctx context.Context) []domain.Finding {
	session := c.notices.session()
	if session == nil {
		return []domain.Finding{{Look: domain.LookToken, Err: errNotConnected}, c.clock.examine()}
	}
	return examine(ctx, session, c.declared, c.clock)
}
