package commands_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
)

// serverLooks are at what a server lets Setscrew do, which the commands ask the chat.
var serverLooks = []domain.Look{domain.LookChannel, domain.LookPosting, domain.LookRole, domain.LookPings}

// findings are of looks at what lies outside the commands, all well but those named.
func findings(wrong map[domain.Look]error) (account, file []domain.Finding) {
	all := domain.Looks()
	for _, look := range all {
		if slices.Contains(serverLooks, look) {
			continue
		}
		one := domain.Finding{Look: look, Says: "fine", Err: wrong[look]}
		if slices.Contains([]domain.Look{domain.LookToken, domain.LookCommands, domain.LookClock}, look) {
			account = append(account, one)
		} else {
			file = append(file, one)
		}
	}
	return account, file
}

// onePhone fails where a reply takes more than twelve lines of forty characters.
func (w *world) onePhone(reply commands.Reply) {
	w.t.Helper()
	lines := 0
	for _, line := range append([]string{reply.Headline}, reply.Lines...) {
		text := words.Expand(line, plainMedium{})
		lines += (len([]rune(text)) + 39) / 40
	}
	if lines > 12 {
		w.t.Errorf("%d lines on a phone: %s", lines, w.show(reply))
	}
}

// Whoever looks after a shop is told what is to do, first of all, and what is fine, on one
// screen: of the channel, the role, the account and the books.
func TestStoryCheck(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	chat := fineChat()
	world.desk.Chat = chat
	wrong := map[domain.Look]error{}
	var file []domain.Finding
	world.desk.Examine = func(context.Context, time.Time) []domain.Finding { return file }
	check := func(what string) {
		fmt.Fprintf(&world.out, "== %s\n\n", what)
		chat.account, file = findings(wrong)
		world.onePhone(world.as("wren", "shop check"))
		clear(wrong)
	}
	check("all is well")
	if reply := world.as("ada", "shop check"); !reply.Refused {
		t.Error("a member may check")
	}
	lacks := func(rights ...commands.Right) {
		chat.channels["shop-notices"] = commands.ChannelAccess{Lacks: rights}
	}
	lacks(commands.RightSend)
	check("it may not post")
	lacks(commands.RightPin, commands.RightHistory)
	chat.roles["stewards"] = commands.RoleAccess{}
	check("nor pin, see and ping")
	lacks()
	chat.roles["stewards"], chat.holders["stewards"] = commands.RoleAccess{Pings: true}, 0
	check("nobody has the role")
	chat.holders["stewards"] = 2
	// Each look at what lies outside by itself.
	failed := errors.New("for the operator")
	for _, look := range domain.Looks() {
		if slices.Contains(serverLooks, look) {
			continue
		}
		wrong[look] = failed
		check(string(look))
	}
	wrong[domain.LookFile] = &domain.BooksError{Trouble: domain.BooksMoved, Err: failed}
	check("moved")
	wrong[domain.LookFile] = &domain.BooksError{Trouble: domain.BooksDamaged, Err: failed}
	check("damaged")
	for _, look := range domain.Looks() {
		wrong[look] = failed
	}
	check("everything outside")
	delete(chat.channels, "shop-notices")
	delete(chat.roles, "stewards")
	fmt.Fprintf(&world.out, "== gone\n\n")
	chat.account, file = findings(nil)
	world.onePhone(world.as("owner", "shop check"))
	// Where nothing is set, and the chat says nothing.
	chat.channels["elsewhere"], chat.roles["wardens"] = commands.ChannelAccess{}, commands.RoleAccess{Pings: true}
	world.shop = "other"
	fmt.Fprintf(&world.out, "== nothing is set\n\n")
	world.onePhone(world.as("owner", "shop check"))
	world.shop, world.desk.Chat = "quarry-street", nil
	fmt.Fprintf(&world.out, "== no chat, and the file cannot be looked into\n\n")
	file = []domain.Finding{{Look: domain.LookFile, Err: &domain.BooksError{Trouble: domain.BooksMoved, Err: failed}}}
	world.onePhone(world.as("wren", "shop check"))
	world.golden("check")
	if strings.Contains(world.out.String(), "for the operator") {
		t.Error("what is for the operator is told in the chat")
	}
}
