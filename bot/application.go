package bot

import (
	"context"
	"fmt"
	"net/http"

	"github.com/bwmarrin/discordgo"
)

// Application is what Discord knows of the one whose token the bot has.
type Application struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

// Ask asks Discord whose token it is; Refused where it takes the token for none.
func Ask(ctx context.Context, token string, client *http.Client) (is Application, err error) {
	asking, err := newLink(token, client)
	if err != nil {
		return is, err
	}
	if is, err = ask(ctx, asking.s); err != nil {
		return is, asRefused(err)
	}
	return is, nil
}

// ask asks by a session.
func ask(ctx context.Context, session *discordgo.Session) (is Application, err error) {
	text, err := session.RequestWithBucketID("GET", discordgo.EndpointApplications+"/@me", nil, "application",
		discordgo.WithContext(ctx))
	if err != nil {
		return is, fmt.Errorf("ask Discord whose token it is: %w", err)
	}
	if err := discordgo.Unmarshal(text, &is); err != nil || is.ID == "" {
		return is, fmt.Errorf("read Discord's answer about the token: %.80q", text)
	}
	return is, nil
}

// mayAttach is the permission to attach files.
const mayAttach permissions = 1 << 15

// invited is what the bot does in a server: exactly what its role is asked to be permitted.
const invited = mayView | maySend | mayAttach | mayReadHistory | mayPin

// Invitation is the address at which somebody invites an application's bot to a server,
// with its commands and what it may do.
func Invitation(application string) string {
	return fmt.Sprintf("https://discord.com/oauth2/authorize?client_id=%s&scope=bot+applications.commands"+
		"&permissions=%d", application, uint64(invited))
}
