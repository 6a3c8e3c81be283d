package bot

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"setscrew/bot/discordtest"
	"setscrew/domain"
)

// withPhotos has the bot fetch photos by a client.
func (in *inside) withPhotos(through http.RoundTripper) {
	in.bot.photos = newPhotos(&http.Client{Transport: through}, in.db, slog.New(slog.DiscardHandler), time.Now)
	in.bot.notices.photos = in.bot.photos
}

// drain posts what is owed now.
func (in *inside) drain() {
	in.t.Helper()
	_, err := in.bot.poster.Drain(context.Background(), time.Now())
	in.check(err)
}

// A notice carries the photo that its report came with, under a name of ours; without
// the right to attach it, or where it cannot be had, the notice is posted all the same,
// and what is dangerous does not wait for it: its photo follows.
func TestNoticesCarryPhotos(t *testing.T) {
	t.Parallel()
	photo := []string{"photo.jpg"}
	for _, test := range []struct {
		name, command string
		options       []string
		status        int
		may           int64
		files         [][]string // of each message, in order
	}{
		{"a photo", "problem", []string{"what=snipe"}, http.StatusOK, discordtest.AllPermissions, [][]string{photo}},
		{"a photo that may not be attached", "problem", []string{"what=snipe"}, http.StatusOK,
			discordtest.AllPermissions &^ discordtest.AttachFiles, [][]string{nil}},
		{"a link that died", "problem", []string{"what=snipe"}, http.StatusNotFound, discordtest.AllPermissions,
			[][]string{nil}},
		{"what may be dangerous", "problem", []string{"what=the guard feels a bit loose"}, http.StatusOK,
			discordtest.AllPermissions, [][]string{nil, photo}},
		{"a danger", "problem", []string{"what=smoke"}, http.StatusOK, discordtest.AllPermissions,
			[][]string{nil, photo}},
		{"a tag-out", "tagout", []string{"reason=guard off"}, http.StatusOK, discordtest.AllPermissions,
			[][]string{nil, photo}},
		{"a reading", "reading", []string{"check=fingers", "values=pass"}, http.StatusOK,
			discordtest.AllPermissions, [][]string{photo}},
	} {
		synctest.Test(t, func(t *testing.T) {
			in := newInside(t)
			defer in.close()
			in.server.SetPermissions(in.channel, test.may)
			from := &served{status: test.status, body: bytes.NewReader(jpegOf(t, shaded(32, 32), 90))}
			in.withPhotos(from)
			in.slash(in.ada, test.command, append([]string{"machine=Marble", "photo=my house.jpg"}, test.options...)...)
			in.drain()
			var files [][]string
			for _, m := range in.server.Messages(in.channel) {
				files = append(files, m.Files)
				if !strings.Contains(m.Content, "Marble") {
					t.Errorf("%s: %q", test.name, m.Content)
				}
			}
			if !slices.EqualFunc(files, test.files, slices.Equal) || from.asked != 1 {
				t.Errorf("%s: files %q, asked %d times", test.name, files, from.asked)
			}
			in.drain()
			if wanted, err := in.db.PhotosWanted(context.Background(), 10); err != nil || len(wanted) != 0 {
				t.Errorf("%s: still wanted: %+v, %v", test.name, wanted, err)
			}
		})
	}
}

// A photo is kept from its report on: where the channel is closed for more than a day, and
// the link has died meanwhile, it is posted all the same, once. So it is where the program
// had ended before it was fetched, if it began again in time.
func TestPhotosOutliveTheirLinks(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name   string
		killed bool          // before it was fetched
		after  time.Duration // until the program began again
		had    bool
	}{
		{"fetched at once", false, 0, true},
		{"killed, and back in time", true, 10 * time.Minute, true},
		{"killed, and back too late", true, 2 * time.Hour, false},
	} {
		synctest.Test(t, func(t *testing.T) {
			in := newInside(t)
			defer in.close()
			in.server.Attachment = jpegOf(t, shaded(32, 32), 90)
			in.server.SetPermissions(in.channel, 0)
			in.withPhotos(in.server.Direct().Transport)
			in.slash(in.ada, "tagout", "machine=Marble", "reason=guard off", "photo=guard.jpg")
			if !test.killed {
				in.bot.photos.look(context.Background())
			}
			in.drain()
			time.Sleep(test.after)
			in.withPhotos(in.server.Direct().Transport) // as a program begins that knows nothing of it
			in.bot.photos.look(context.Background())
			for range 30 {
				time.Sleep(time.Hour)
				in.drain()
			}
			if all := in.server.Messages(in.channel); len(all) != 0 {
				t.Fatalf("%s: a closed channel has %+v", test.name, all)
			}
			in.server.SetPermissions(in.channel, discordtest.AllPermissions)
			time.Sleep(time.Hour)
			in.drain()
			in.drain()
			all := in.server.Messages(in.channel)
			if len(all) != 2 || !strings.Contains(all[0].Content, "tagged out") || len(all[0].Files) != 0 ||
				len(all[1].Files) == 1 != test.had {
				t.Errorf("%s: %+v", test.name, all)
			}
			data, url, err := in.db.Photo(context.Background(), domain.ShopID(in.guild.ID), "m1/photo/3")
			if err != nil || data != nil || url != "" {
				t.Errorf("%s: posted, and %d bytes are kept, from %q, %v", test.name, len(data), url, err)
			}
		})
	}
}

// A photo that cannot be had just now is tried again after a while, and by its notice.
func TestPhotosAreTriedAgain(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in := newInside(t)
		defer in.close()
		from := &served{err: errors.New("cut off")}
		in.withPhotos(from)
		in.slash(in.ada, "tagout", "machine=Marble", "reason=guard off", "photo=guard.jpg")
		for range 3 {
			in.bot.photos.look(context.Background())
		}
		if from.asked != 1 {
			t.Errorf("asked %d times at once", from.asked)
		}
		time.Sleep(photoAgain)
		in.bot.photos.look(context.Background())
		if from.asked != 2 {
			t.Errorf("asked %d times in all", from.asked)
		}
		from.err, from.status, from.body = nil, http.StatusOK, bytes.NewReader(jpegOf(t, shaded(8, 8), 90))
		in.drain()
		if all := in.server.Messages(in.channel); len(all) != 2 || len(all[1].Files) != 1 || from.asked != 3 {
			t.Errorf("asked %d times: %+v", from.asked, all)
		}
	})
}

// slowly answers a request when it is told to.
type slowly struct {
	http.RoundTripper
	begin chan struct{}
}

func (s slowly) RoundTrip(request *http.Request) (*http.Response, error) {
	select {
	case <-s.begin:
		return s.RoundTripper.RoundTrip(request)
	case <-request.Context().Done():
		return nil, request.Context().Err()
	}
}

// A notice waits for a photo that is being fetched already, and for no longer than three
// seconds.
func TestNoticesWaitForPhotos(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name  string
		takes time.Duration
		files int
	}{{"in time", 2 * time.Second, 1}, {"too late", 4 * time.Second, 0}} {
		synctest.Test(t, func(t *testing.T) {
			in := newInside(t)
			defer in.close()
			from := &served{status: http.StatusOK, body: bytes.NewReader(jpegOf(t, shaded(8, 8), 90))}
			slow := slowly{from, make(chan struct{})}
			in.withPhotos(slow)
			in.slash(in.ada, "problem", "machine=Marble", "what=snipe", "photo=board.jpg")
			done := make(chan struct{})
			go func() { in.bot.photos.look(context.Background()); close(done) }()
			synctest.Wait()
			time.AfterFunc(test.takes, func() { close(slow.begin) })
			in.drain()
			<-done
			if all := in.server.Messages(in.channel); len(all) != 1 || len(all[0].Files) != test.files ||
				from.asked != 1 {
				t.Errorf("%s: asked %d times: %+v", test.name, from.asked, all)
			}
			data, _, err := in.db.Photo(context.Background(), domain.ShopID(in.guild.ID), "m1/problem/3")
			if err != nil || data != nil {
				t.Errorf("%s: kept after it was posted: %d bytes, %v", test.name, len(data), err)
			}
		})
	}
}
