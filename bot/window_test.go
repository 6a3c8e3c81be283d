package bot

import (
	"context"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"setscrew/bot/discordtest"
	"setscrew/commands"
	"setscrew/domain"
)

// made counts the requests of a method below a path.
func made(s *discordtest.Server, method, path string) (n int) {
	for _, r := range s.Requests() {
		if r.Method == method && strings.HasPrefix(r.Path, path) {
			n++
		}
	}
	return n
}

// A notice whose answer got lost is sent again with its nonce while Discord
// surely knows it, and looked for from then on; the time counts from the first
// attempt.
func TestNonceWindow(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		after        time.Duration
		posts, looks int
	}{
		{5 * time.Second, 2, 0},
		{2 * time.Minute, 2, 0},
		{2*time.Minute + time.Second, 1, 1},
		{time.Hour, 1, 1},
	} {
		synctest.Test(t, func(t *testing.T) {
			posting, server, ch, shop := noticesOf(t)
			channel := "/channels/" + ch.ID + "/messages"
			server.Fail("POST", channel, discordtest.Fault{Served: true, Drop: true}, 1)
			ctx, message := context.Background(), commands.Message{Text: "Marble is tagged out"}
			owed := domain.Undelivered{Made: time.Now(),
				Notice: domain.Notice{Key: "m1/out/1", Op: domain.Post, Topic: domain.TopicDigest}}
			if _, err := posting.Post(ctx, shop, owed, message); err == nil {
				t.Fatal("a lost answer is no error")
			}
			owed.Attempts, owed.Sent = 3, time.Now()
			time.Sleep(test.after)
			id, err := posting.Post(ctx, shop, owed, message)
			all := server.Messages(ch)
			if err != nil || len(all) != 1 || id != all[0].ID {
				t.Errorf("after %v: message %q, %v; %d stand in the channel", test.after, id, err, len(all))
			}
			if posts, looks := made(server, "POST", channel), made(server, "GET", channel); posts != test.posts ||
				looks != test.looks {
				t.Errorf("after %v: sent %d times and looked %d times, want %d and %d", test.after, posts, looks,
					test.posts, test.looks)
			}
		})
	}
}

// The window counts from when it was sent, not from when it was first owed or tried: one
// that waited for quiet hours to end is sent again at once, and one that was never sent is
// not looked for.
func TestNonceWindowOfWhatWaited(t *testing.T) {
	t.Parallel()
	posting, server, ch, shop := noticesOf(t)
	channel := "/channels/" + ch.ID + "/messages"
	for _, sent := range []time.Time{time.Now().Add(-5 * time.Second), {}} {
		o := undelivered(domain.TopicDigest, 1, sent)
		o.Made = time.Now().Add(-8 * time.Hour)
		id, err := posting.Post(context.Background(), shop, o, commands.Message{Text: "Two services fall due"})
		if looks := made(server, "GET", channel); err != nil || id == "" || looks != 0 {
			t.Errorf("sent %v: message %q, %v; looked %d times, want none", sent, id, err, looks)
		}
	}
}

// A program that dies between posting a notice and writing that down leaves one that may
// stand there. Hours later it is looked for first; where it cannot be, what is urgent is
// sent again, and what is routine is not.
func TestNoticeOfAProgramThatDied(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		posting, server, ch, shop := noticesOf(t)
		ctx, message := context.Background(), commands.Message{Text: "Marble is tagged out"}
		owed := domain.Undelivered{Made: time.Now(),
			Notice: domain.Notice{Key: "m1/out/1", Op: domain.Post, Topic: domain.TopicDigest}}
		first, err := posting.Post(ctx, shop, owed, message)
		if err != nil {
			t.Fatal(err)
		}
		owed.Sent = time.Now()
		time.Sleep(6 * time.Hour)
		if id, err := posting.Post(ctx, shop, owed, message); err != nil || id != first ||
			len(server.Messages(ch)) != 1 {
			t.Errorf("after a restart: message %s, %v, want %s; %d messages", id, err, first, len(server.Messages(ch)))
		}
		server.SetPermissions(ch, discordtest.ViewChannel|discordtest.SendMessages)
		if id, err := posting.Post(ctx, shop, owed, message); err != nil || id != "" || len(server.Messages(ch)) != 1 {
			t.Errorf("a digest where history is hidden: message %q, %v; %d messages", id, err, len(server.Messages(ch)))
		}
		for i, topic := range []domain.Topic{domain.TopicTagOut, domain.TopicRanTagged, domain.TopicBack} {
			owed.Notice.Topic = topic
			owed.Notice.Key = string(topic)
			if id, err := posting.Post(ctx, shop, owed, message); err != nil || id == "" ||
				len(server.Messages(ch)) != 2+i {
				t.Errorf("%s where history is hidden: message %q, %v; %d messages", topic, id, err,
					len(server.Messages(ch)))
			}
		}
	})
}

// That notices may not be pinned holds nothing up, is logged once and told until pins have
// worked again.
func TestPinTrouble(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		posting, server, ch, shop := noticesOf(t)
		ctx, m := context.Background(), commands.Message{Text: "Marble is tagged out"}
		post := func(key string) domain.Undelivered {
			t.Helper()
			id, err := posting.Post(ctx, shop, domain.Undelivered{Made: time.Now(), Notice: domain.Notice{Key: key}}, m)
			if err != nil {
				t.Fatal(err)
			}
			return domain.Undelivered{Message: id}
		}
		log := new(strings.Builder)
		posting.access.log = slog.New(slog.NewTextHandler(log, nil))
		told := func(when string, want bool, logged int) {
			t.Helper()
			lacks := posting.access.channel(shop.ID, ch.ID).Lacks
			if got := slices.Contains(lacks, commands.RightPin); got != want || got && len(lacks) != 1 {
				t.Errorf("%s: lacks %q, want the right to pin: %v", when, lacks, want)
			}
			if got := strings.Count(log.String(), "could not be pinned"); got != logged {
				t.Errorf("%s: logged %d times, want %d", when, got, logged)
			}
		}
		pin := func(o domain.Undelivered) {
			t.Helper()
			if err := posting.Pin(ctx, shop, o); err != nil {
				t.Errorf("pinning holds notices up: %v", err)
			}
		}
		const permitted, forbidden = discordtest.AllPermissions, discordtest.AllPermissions &^ discordtest.PinMessages
		first := post("1")
		server.SetPermissions(ch, forbidden)
		pin(first)
		post("2") // that this one came says nothing of pins
		told("a pin refused", true, 1)
		pin(first)
		post("3")
		pin(first)
		told("refused again", true, 1)
		server.SetPermissions(ch, permitted)
		pin(first)
		if server.Pinned(ch) != 1 {
			t.Error("it is not pinned")
		}
		server.SetPermissions(ch, forbidden)
		if err := posting.Unpin(ctx, shop, first); err != nil {
			t.Errorf("unpinning holds notices up: %v", err)
		}
		told("refused after it had worked", true, 2)

		// Permitted, there is nothing to tell.
		server.SetPermissions(ch, permitted)
		pin(first)
		server.SetPermissions(ch, forbidden)
		pin(first)
		server.SetPermissions(ch, permitted)
		pin(first)
		told("permitted meanwhile", false, 3)

		// A deleted message and a full channel are nobody's to mend; what may pass
		// is tried again.
		pin(domain.Undelivered{Message: "1"})
		server.Fail("PUT", "/channels/*", discordtest.APIError(http.StatusBadRequest, codeMaxPins,
			"Maximum number of pins reached"), 1)
		pin(first)
		told("nothing to mend", false, 3)
		server.Fail("PUT", "/channels/*", discordtest.APIError(http.StatusInternalServerError, 0, "oops"), 1)
		if err := posting.Pin(ctx, shop, first); err == nil {
			t.Error("a fault of Discord's counts as pinned")
		}
		server.Fail("PUT", "/channels/*", discordtest.APIError(http.StatusForbidden, codeMissingAccess,
			"Missing Access"), 1)
		pin(first)
		told("no access", true, 4)
	})
}
