package bot

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"setscrew/bot/discordtest"
)

// Discord says whose token it is, or that it is none.
func TestAsk(t *testing.T) {
	t.Parallel()
	server := discordtest.New()
	defer server.Close()
	is, err := Ask(context.Background(), discordtest.Token, server.Direct())
	if err != nil || is.ID != discordtest.AppID {
		t.Errorf("%+v, %v", is, err)
	}
	var refused Refused
	if _, err = Ask(context.Background(), "wrong", server.Direct()); !errors.As(err, &refused) || refused.Code != 4004 {
		t.Errorf("a wrong token: %v", err)
	}
	server.Fail("GET", "/applications/@me", discordtest.Fault{Status: 200, Body: `{}`}, 1)
	if is, err = Ask(context.Background(), discordtest.Token, server.Direct()); err == nil {
		t.Errorf("nobody's token: %+v", is)
	}
}

// The invitation is the guide's.
func TestInvitationIsTheGuides(t *testing.T) {
	t.Parallel()
	guide, err := os.ReadFile(filepath.Join("..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	if want := Invitation("APPLICATION_ID"); !strings.Contains(string(guide), want) {
		t.Errorf("the guide lacks %s", want)
	}
}
