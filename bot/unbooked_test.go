package bot_test

import (
	"context"
	"database/sql"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/bot/discordtest"
	"setscrew/domain"
)

// lock holds the lock of the books for writing, as another program may, until it is let
// go.
func (r *rig) lock() (release func()) {
	r.t.Helper()
	db, err := sql.Open("sqlite3", "file:"+r.path+"?_busy_timeout=5000&_txlock=immediate")
	r.check(err)
	held, err := db.Begin()
	r.check(err)
	return func() { r.check(errors.Join(held.Rollback(), db.Close())) }
}

// startBreakable is a rig with the planer, whose desk may meet faults.
func startBreakable(t *testing.T) *rig {
	made := newMarble(t)
	made.start()
	made.desk.Fault = func(string, error) {}
	made.ready()
	made.slash(made.bo, "due")
	return made
}

// until waits until the channel holds what is looked for; count counts the messages that
// hold a text.
func (r *rig) until(what string, is func(count func(text string) int) bool) {
	r.t.Helper()
	ctx, stop := context.WithTimeout(r.ctx, 15*time.Second*slower)
	defer stop()
	count := func(text string) (n int) {
		for i := 0; r.server.Content(r.channel, i) != ""; i++ {
			if strings.Contains(r.server.Content(r.channel, i), text) {
				n++
			}
		}
		return n
	}
	if err := r.server.Until(ctx, func() bool { return is(count) }); err != nil {
		for _, m := range r.server.Messages(r.channel) {
			r.t.Logf("%q", m.Content)
		}
		r.t.Fatalf("%s: not within 15 s", what)
	}
}

const (
	notBooked = "Marble: do not use. NOT in the books."
	nowBooked = "in them now, no. "
)

// holding counts the messages that hold a text.
func holding(all []discordtest.Message, text string) (n int) {
	for _, m := range all {
		if strings.Contains(m.Content, text) {
			n++
		}
	}
	return n
}

// While another program holds the books, a danger is answered within Discord's three
// seconds, and the channel told of it from memory; then it is stored, once, and the
// message becomes the machine's own notice. Anything else is told that it was not stored.
func TestUnbookedStory(t *testing.T) {
	t.Parallel()
	rig := startBreakable(t)
	before := len(rig.server.Messages(rig.channel))
	release := rig.lock()
	begun := time.Now()
	_, reply := rig.slash(rig.ada, "problem", "machine=Marble", "what=flames in the dust bin")
	if took := time.Since(begun); took > 3*time.Second*slower {
		t.Errorf("answered after %v", took)
	}
	if !strings.HasPrefix(reply.Content, "Stop. Do not use Marble. NOT in the books: tell a steward yourself.") ||
		!reply.Ephemeral {
		t.Errorf("answered %q", reply.Content)
	}
	if _, reply := rig.slash(rig.ada, "hours", "machine=Marble", "hours=1"); !strings.Contains(reply.Content,
		"Nothing was stored: another program holds the books. Give it again in a minute.") {
		t.Errorf("hours are answered by %q", reply.Content)
	}
	rig.until("told from memory", func(count func(string) int) bool { return count(notBooked) == 1 })
	told := rig.server.Messages(rig.channel)[before]
	if !slices.Equal(told.Pings, []string{"role:" + rig.stewards}) || told.Pinned {
		t.Errorf("told %+v", told)
	}
	release()
	rig.until("in the books", func(count func(string) int) bool {
		return count(nowBooked) == 1 && count(notBooked) == 0 && rig.server.Pinned(rig.channel) > 0
	})
	all := rig.server.Messages(rig.channel)
	if len(all) != before+1 || all[before].ID != told.ID || !strings.HasPrefix(all[before].Content,
		"Marble is tagged out: do not use.") {
		t.Errorf("the channel holds %+v", all[before:])
	}
	snap, err := rig.db.Shop(domain.ShopID(rig.guild.ID)).Snapshot(rig.ctx, 1)
	rig.check(err)
	if len(snap.Dangers) != 1 || len(snap.Tags) != 1 {
		t.Errorf("dangers %+v, tags %+v", snap.Dangers, snap.Tags)
	}
	if _, reply := rig.slash(rig.ada, "hours", "machine=Marble", "hours=1"); !strings.Contains(reply.Content,
		"1 h logged") {
		t.Errorf("afterwards hours are answered by %q", reply.Content)
	}
}

// A message whose answer was lost is not posted again, and a channel that cannot be
// reached keeps nothing from being stored: the machine's own notice comes when it can be,
// beside a message of which nobody knew whether it stood.
func TestUnbookedChannelTrouble(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name       string
		harm, mend func(*rig)
		told       int // messages that say it is not booked
		stand      int // in the end
	}{
		{"the answer is lost", func(r *rig) {
			r.server.Fail("POST", "/channels/*", discordtest.Fault{Served: true, Drop: true}, 1)
		}, func(*rig) {}, 1, 1},
		{"all answers are lost", func(r *rig) {
			r.server.Fail("POST", "/channels/*", discordtest.Fault{Served: true, Drop: true}, 1000)
		}, func(r *rig) { r.server.Mend() }, 1, 2},
		{"not permitted", func(r *rig) { r.server.SetPermissions(r.channel, discordtest.ViewChannel) },
			func(r *rig) { r.server.SetPermissions(r.channel, discordtest.AllPermissions) }, 0, 1},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			made := startBreakable(t)
			before := len(made.server.Messages(made.channel))
			release := made.lock()
			test.harm(made)
			made.slash(made.ada, "tagout", "machine=Marble", "reason=loose")
			time.Sleep(2500 * time.Millisecond) // more than one attempt at both
			if n := holding(made.server.Messages(made.channel), notBooked); n != test.told {
				t.Errorf("told %d times, want %d", n, test.told)
			}
			release()
			shop := made.db.Shop(domain.ShopID(made.guild.ID))
			for begun := time.Now(); ; time.Sleep(20 * time.Millisecond) {
				snap, err := shop.Snapshot(made.ctx, 1)
				made.check(err)
				if len(snap.Tags) == 1 {
					break
				}
				if time.Since(begun) > 15*time.Second*slower {
					t.Fatal("not stored within 15 s")
				}
			}
			test.mend(made)
			if test.told == 0 {
				// What was refused is tried again in ten minutes, or when the settings are given.
				made.slash(made.keeper, "shop settings", "notices="+made.channel.ID)
			}
			made.until("the machine's own notice", func(count func(string) int) bool {
				return count("Marble is tagged out: do not use.") == 1 && count(notBooked) == 0 &&
					made.server.Pinned(made.channel) > 0
			})
			if all := made.server.Messages(made.channel); len(all) != before+test.stand {
				t.Errorf("the channel holds %+v", all[before:])
			}
		})
	}
}

// What waits when the program ends is stored then, if the books can be written, and its
// loss told to the operator if they cannot.
func TestUnbookedAtTheEnd(t *testing.T) {
	t.Parallel()
	for _, locked := range []bool{false, true} {
		rig := startBreakable(t)
		release := rig.lock()
		rig.slash(rig.ada, "tagout", "machine=Marble", "reason=loose")
		if locked {
			rig.end()
			release()
		} else {
			release()
			rig.end()
		}
		snap, err := rig.db.Shop(domain.ShopID(rig.guild.ID)).Snapshot(rig.ctx, 1)
		rig.check(err)
		lost := strings.Count(rig.log.String(), "a danger is lost")
		if stored := len(snap.Tags) == 1; stored == locked || (lost == 1) != locked {
			t.Errorf("locked %v: stored %v, lost told %d times", locked, stored, lost)
		}
	}
}
