package bot

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"setscrew/domain"
)

// Album is what keeps photos from the report that they came with until they are posted.
type Album interface {
	// PhotosWanted lists the photos that are still to be fetched, the oldest first, at
	// most limit.
	PhotosWanted(ctx context.Context, limit int) ([]domain.PhotoWanted, error)
	// Photo is the photo that a notice is posted with: its bytes, or where it is fetched
	// from while that was not done; neither where there is none.
	Photo(ctx context.Context, shop domain.ShopID, key string) (data []byte, url string, err error)
	// KeepPhoto keeps one that was fetched until its notice is posted; without bytes it
	// cannot be had, and is wanted no more.
	KeepPhoto(ctx context.Context, shop domain.ShopID, key string, data []byte) error
}

// The times that photos are given.
const (
	photoWaits   = 3 * time.Second  // that a notice waits for its photo
	fetchWithin  = 20 * time.Second // a photo that no notice waits for yet
	photoAgain   = time.Minute      // until one is tried again that could not be fetched
	mostOfPhotos = 1000             // how many wanted photos one look takes
)

// photos fetches what members attached as soon as it is reported, since a link to it dies
// within a day, and has it kept until it is posted.
type photos struct {
	client *http.Client
	album  Album
	log    *slog.Logger
	now    func() time.Time
	wake   chan struct{} // something may be wanted

	again map[domain.PhotoWanted]time.Time // when one that failed is tried again; of keep's goroutine

	mu      sync.Mutex
	fetched map[photoKey]chan struct{} // being fetched now; closed when that is over
}

// photoKey is a notice of a shop.
type photoKey struct {
	shop domain.ShopID
	key  string
}

// newPhotos is nil, which fetches nothing, where there is no client or nowhere to keep a
// photo.
func newPhotos(client *http.Client, album Album, log *slog.Logger, now func() time.Time) *photos {
	if client == nil || album == nil {
		return nil
	}
	return &photos{client: client, album: album, log: log, now: now, wake: make(chan struct{}, 1),
		again: map[domain.PhotoWanted]time.Time{}, fetched: map[photoKey]chan struct{}{}}
}

// nudge has what is wanted looked at soon.
func (p *photos) nudge() {
	if p == nil {
		return
	}
	select {
	case p.wake <- struct{}{}:
	default:
	}
}

// keep fetches what is wanted from before, and then whatever it is nudged for, until ctx
// is done.
func (p *photos) keep(ctx context.Context, safely func(string, func())) {
	if p == nil {
		return
	}
	for {
		safely("fetching photos", func() { p.look(ctx) })
		select {
		case <-ctx.Done():
			return
		case <-p.wake:
		}
	}
}

// look fetches what is wanted, but for what could not be had a moment ago.
func (p *photos) look(ctx context.Context) {
	wanted, err := p.album.PhotosWanted(ctx, mostOfPhotos)
	if err != nil {
		if ctx.Err() == nil {
			p.log.Error("wanted photos not listed", "error", err)
		}
		return
	}
	again := map[domain.PhotoWanted]time.Time{}
	for _, one := range wanted {
		if at := p.again[one]; p.now().Before(at) {
			again[one] = at
			continue
		}
		within, cancel := context.WithTimeout(ctx, fetchWithin)
		if p.get(within, one.Shop, one.Key) == nil {
			again[one] = p.now().Add(photoAgain)
		}
		cancel()
	}
	p.again = again
}

// get is the photo that a notice is posted with, fetched if it was not: nil where there is
// none, or it cannot be had until ctx ends.
func (p *photos) get(ctx context.Context, shop domain.ShopID, key string) []byte {
	for {
		data, url, err := p.album.Photo(ctx, shop, key)
		switch {
		case err != nil:
			p.log.Error("photo not found in the books", "shop", shop, "notice", key, "error", err)
			return nil
		case data != nil || url == "":
			return data
		}
		// Somebody may be at it already.
		over, mine := p.begin(photoKey{shop, key})
		if mine {
			defer p.end(photoKey{shop, key}, over)
			return p.fetch(ctx, shop, key, url)
		}
		select {
		case <-over:
		case <-ctx.Done():
			return nil
		}
	}
}

// fetch fetches a photo and has it kept; one that cannot be had is wanted no more.
func (p *photos) fetch(ctx context.Context, shop domain.ShopID, key, url string) []byte {
	data, err := fetchPhoto(ctx, p.client, url)
	if err != nil {
		p.log.Info("photo not fetched", "shop", shop, "notice", key, "error", err)
		if !errors.Is(err, errPhoto) {
			return nil
		}
	}
	if err := p.album.KeepPhoto(ctx, shop, key, data); err != nil {
		p.log.Error("photo not kept", "shop", shop, "notice", key, "error", err)
	}
	return data
}

// begin says that a photo is being fetched, unless it is already: until over is closed.
func (p *photos) begin(of photoKey) (over chan struct{}, mine bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if over, busy := p.fetched[of]; busy {
		return over, false
	}
	over = make(chan struct{})
	p.fetched[of] = over
	return over, true
}

// end says that a photo is not being fetched any more.
func (p *photos) end(of photoKey, over chan struct{}) {
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.fetched, of)
	close(over)
}
