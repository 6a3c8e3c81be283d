package store

import (
	"context"
	"fmt"
	"time"

	"setscrew/domain"
)

// How many photos of a shop are kept until they are posted, the latest; and for how long
// at most. Our own choice: at 2 MiB each that is 80 MiB.
const (
	mostPhotos = 40
	photosKept = 30 * 24 * time.Hour
)

// wantPhoto notes that a notice is to be posted with a photo, which is not
// fetched yet. What no longer has room, or was kept for too long, goes.
func (t *tx) wantPhoto(notice domain.Notice, now time.Time) error {
	if notice.Op != domain.Post || notice.Args.Photo == nil || notice.Args.Photo.URL == "" {
		return nil
	}
	if err := t.exec(`INSERT INTO photo (shop_id, key, url, made) SELECT ?1, ?2, ?3, ?4
		WHERE NOT EXISTS (SELECT 1 FROM outbox WHERE shop_id = ?1 AND key = ?2) ON CONFLICT DO NOTHING`,
		t.shop, notice.Key, notice.Args.Photo.URL, stamp(now)); err != nil {
		return fmt.Errorf("want a photo: %w", err)
	}
	if err := t.exec(`DELETE FROM photo WHERE made <= ?`, stamp(now.Add(-photosKept))); err != nil {
		return fmt.Errorf("forget old photos: %w", err)
	}
	return t.exec(`DELETE FROM photo WHERE shop_id = ?1 AND key IN (SELECT key FROM photo WHERE shop_id = ?1
		ORDER BY made DESC, key DESC LIMIT -1 OFFSET ?2)`, t.shop, mostPhotos)
}

// PhotosWanted lists the photos of all shops that are still to be fetched, the oldest
// first, at most limit.
func (db *DB) PhotosWanted(ctx context.Context, limit int) (all []domain.PhotoWanted, err error) {
	err = db.look(ctx, "", func(t *tx) error {
		var one domain.PhotoWanted
		return t.rows([]any{&one.Shop, &one.Key, &one.URL}, func() error { all = append(all, one); return nil },
			`SELECT shop_id, key, url FROM photo WHERE data IS NULL ORDER BY made, shop_id, key LIMIT ?`, limit)
	})
	return all, err
}

// Photo is the photo that a notice is posted with: its bytes, or where it is fetched from
// while that was not done; neither where there is none.
func (db *DB) Photo(ctx context.Context, shop domain.ShopID, key string) (data []byte, url string, err error) {
	err = db.look(ctx, shop, func(t *tx) error {
		_, err := t.row([]any{&data, &url}, `SELECT data, url FROM photo WHERE shop_id = ? AND key = ?`, shop, key)
		return err
	})
	return data, url, err
}

// KeepPhoto keeps a photo that was fetched until its notice is posted; one without bytes
// cannot be had, and is wanted no more.
func (db *DB) KeepPhoto(ctx context.Context, shop domain.ShopID, key string, data []byte) error {
	return db.write(ctx, shop, func(t *tx) error {
		if len(data) == 0 {
			return t.dropPhoto(key)
		}
		return t.exec(`UPDATE photo SET data = ?, url = '' WHERE shop_id = ? AND key = ?`, data, shop, key)
	})
}

// dropPhoto forgets the photo of a notice: it is posted, or cannot be had.
func (t *tx) dropPhoto(key string) error {
	return t.exec(`DELETE FROM photo WHERE shop_id = ? AND key = ?`, t.shop, key)
}
