package bot_test

import (
	"net/http"
	"strings"
	"testing"

	"setscrew/bot/discordtest"
	"setscrew/domain"
	"setscrew/store"
)

// restart ends the bot, closes its books and begins again with them.
func (r *rig) restart() {
	r.t.Helper()
	before := r.server.Connections()
	r.end()
	r.check(r.db.Close())
	db, err := store.Open(r.ctx, r.path)
	r.check(err)
	r.db = db
	r.start()
	r.check(r.server.UntilConnected(r.ctx, before+1))
	r.ready()
}

// An answer that could not be delivered is told of after a restart too, and then no more;
// what notices lack is told to a steward once, whatever becomes of the program meanwhile.
func TestRememberedOverARestart(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.server.MakeMentionable(rig.guild, rig.stewards, false)
	rig.start()
	rig.ready()
	const missed, lacks = "may not have seen this: Marble: 1 min logged", "Allow anyone to @mention this role"
	told := func(when string, m *discordtest.Member, text string, want bool) {
		t.Helper()
		if _, reply := rig.slash(m, "help", "command=due"); strings.Contains(reply.Content, text) != want {
			t.Errorf("%s: %s is told %v, want %v: %s", when, m.Name, !want, want, reply.Content)
		}
	}
	told("at first", rig.wren, lacks, true)
	rig.server.Fail("POST", "/interactions/*", discordtest.APIError(http.StatusNotFound, 10062, "Unknown interaction"),
		1)
	_, err := rig.server.Slash(rig.guild, rig.channel, rig.ada, "hours",
		map[string]string{"machine": "Marble", "hours": "1 min"})
	rig.check(err)
	rig.eventually(func() bool { return strings.Contains(rig.log.String(), "answer not delivered") })
	rig.restart()
	told("after a restart", rig.wren, lacks, false)
	told("after a restart", rig.keeper, lacks, true)
	told("after a restart", rig.bo, missed, false)
	told("after a restart", rig.ada, missed, true)
	rig.restart()
	told("after another", rig.ada, missed, false)
	told("after another", rig.keeper, lacks, false)
	// It is over, and comes back.
	rig.server.MakeMentionable(rig.guild, rig.stewards, true)
	told("it is over", rig.wren, lacks, false)
	rig.restart()
	rig.server.MakeMentionable(rig.guild, rig.stewards, false)
	told("it came back", rig.wren, lacks, true)
}

// That notices cannot be posted is logged once over a restart, and that they can again once
// it is so; whoever hung a tag that nobody reads of is told so meanwhile.
func TestTroubleIsLoggedOnceOverARestart(t *testing.T) {
	t.Parallel()
	rig := newMarble(t)
	rig.start()
	rig.ready()
	rig.server.SetPermissions(rig.channel, discordtest.AllPermissions&^discordtest.SendMessages)
	_, reply := rig.slash(rig.ada, "tagout", "machine=Marble", "reason=loose")
	rig.eventually(func() bool { return strings.Contains(rig.log.String(), "could not be posted") })
	const untold = "No notice says in the channel yet that Marble is tagged out"
	if !strings.Contains(reply.Content, untold) {
		t.Errorf("%s", reply.Content)
	}
	rig.restart()
	if _, reply = rig.slash(rig.ada, "help", "command=due"); !strings.Contains(reply.Content, untold) {
		t.Errorf("after a restart: %s", reply.Content)
	}
	rig.check(rig.db.RetryNotices(rig.ctx, domain.ShopID(rig.guild.ID))) // it is tried again
	rig.slash(rig.bo, "help", "command=due")
	rig.restart()
	if all := rig.log.String(); strings.Count(all, `msg="a notice could not be posted"`) != 1 ||
		strings.Count(all, `msg="notices lack something in a server"`) != 1 {
		t.Errorf("not told once:\n%s", all)
	}
	rig.server.SetPermissions(rig.channel, discordtest.AllPermissions)
	rig.eventually(func() bool { return strings.Contains(rig.log.String(), `msg="notices are posted again"`) })
	if _, reply = rig.slash(rig.ada, "help", "command=due"); strings.Contains(reply.Content, untold) {
		t.Errorf("once it stands: %s", reply.Content)
	}
	rig.restart()
	if all := rig.log.String(); strings.Count(all, `msg="notices are posted again"`) != 1 {
		t.Errorf("that it is over is told twice:\n%s", all)
	}
}
