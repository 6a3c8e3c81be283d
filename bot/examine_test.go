package bot_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"setscrew/bot"
	"setscrew/bot/discordtest"
	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
)

// wrongIn is what is wrong by look.
func wrongIn(all []domain.Finding) map[domain.Look]string {
	wrong := map[domain.Look]string{}
	for _, found := range all {
		if found.Err != nil {
			wrong[found.Look] = found.Err.Error()
		}
	}
	return wrong
}

// From beside, Discord says whether it takes a token and knows the commands, and by the
// date of its answer whether a clock is right.
func TestExamine(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	cat, err := words.Load()
	rig.check(err)
	desk := commands.NewDesk(nil, nil, cat)
	look := func(token string, ahead time.Duration) []domain.Finding {
		return bot.Examine(rig.ctx, token, rig.server.Client(), desk,
			func() time.Time { return rig.server.Now().Add(ahead) })
	}
	if all := look(discordtest.Token, 0); len(all) != 3 || len(wrongIn(all)) != 0 {
		t.Errorf("all is well: %+v", all)
	}
	for ahead, want := range map[time.Duration]string{ // any order: each by itself
		400 * 24 * time.Hour:  "is 9600h0m",
		-400 * 24 * time.Hour: " behind Discord's",
	} {
		if wrong := wrongIn(look(discordtest.Token, ahead)); len(wrong) != 1 ||
			!strings.Contains(wrong[domain.LookClock], want) {
			t.Errorf("a clock %v ahead: %v", ahead, wrong)
		}
	}
	var refused bot.Refused
	if all := look("wrong", 0); len(all) != 2 || !errors.As(all[0].Err, &refused) || all[1].Err != nil {
		t.Errorf("a wrong token: %+v", all)
	}
	rig.server.Fail("GET", "/applications/@me", discordtest.Fault{Status: 502}, 1)
	if all := look(discordtest.Token, 0); len(all) != 2 || all[0].Err == nil {
		t.Errorf("a bad gateway: %+v", all)
	}
	rig.server.Fail("GET", "/applications/*/commands", discordtest.Fault{Status: 200, Body: `[]`}, 1)
	if wrong := wrongIn(look(discordtest.Token, 0)); len(wrong) != 1 || wrong[domain.LookCommands] == "" {
		t.Errorf("no commands: %v", wrong)
	}
	ctx, stop := context.WithCancel(rig.ctx)
	stop()
	if all := bot.Examine(ctx, discordtest.Token, rig.server.Client(), desk, time.Now); len(all) != 2 ||
		all[0].Err == nil || all[1].Err == nil {
		t.Errorf("no network: %+v", all)
	}
}

// A steward reads the same in the chat.
func TestCheckInChat(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	check := func(when, want string) {
		t.Helper()
		if _, reply := rig.slash(rig.wren, "shop check"); !strings.Contains(reply.Content, want) || !reply.Ephemeral {
			t.Errorf("%s: %s\nwant %q", when, reply.Content, want)
		}
	}
	check("all is well", "All is well.\nFine: channel, posting, role, pings, token, commands, clock.")
	rig.server.MakeMentionable(rig.guild, rig.stewards, false)
	rig.server.SetPermissions(rig.channel, discordtest.AllPermissions&^discordtest.SendMessages)
	check("it may not post nor ping", "2 things to do:\nNotices wait: I may not post in the channel for them.")
	rig.server.Fail("GET", "/applications/*/commands", discordtest.Fault{Status: 200, Body: `[]`}, 1)
	check("no commands", "3 things to do:")
}
