package store_test

import (
	"database/sql"
	"errors"
	"slices"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/store"
)

// What waits is counted by urgency over all shops, with the oldest, and the oldest that its
// shop does not keep back itself; what was posted is not.
func TestOwing(t *testing.T) {
	t.Parallel()
	db, path := fresh(t)
	at := func(minute int) time.Time { return time.Date(2026, 11, 27, 9, minute, 0, 0, time.UTC) }
	add := func(shop, key string, urgency domain.Urgency, minute int, problem string, posted any) {
		t.Helper()
		raw, err := sql.Open("sqlite3", path)
		if err == nil {
			_, err = raw.Exec(`INSERT INTO outbox (shop_id, machine_id, key, op, target, topic, args, made, problem,
				urgency, posted) VALUES (?, 1, ?, 'post', '', 'tag-out', '{}', ?, ?, ?, ?)`, shop, key,
				at(minute).UnixMilli(), problem, urgency, posted)
			err = errors.Join(err, raw.Close())
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if got, err := db.Owing(ctx, "kept"); err != nil || len(got) != 0 {
		t.Errorf("of nothing: %v, %v", got, err)
	}
	add("one", "a", domain.UrgentDanger, 3, "", nil)
	add("one", "b", domain.UrgentDanger, 1, "kept", nil)
	add("two", "a", domain.UrgentDanger, 2, "refused", nil)
	add("two", "b", domain.Routine, 5, "kept", nil)
	add("two", "c", domain.UrgentCall, 0, "", at(9).UnixMilli())
	got, err := db.Owing(ctx, "kept")
	want := []store.Owing{{Urgency: domain.UrgentDanger, Count: 3, Oldest: at(1), Stuck: at(2)},
		{Urgency: domain.Routine, Count: 1, Oldest: at(5)}}
	if err != nil || !slices.EqualFunc(got, want, func(a, b store.Owing) bool {
		return a.Urgency == b.Urgency && a.Count == b.Count && a.Oldest.Equal(b.Oldest) && a.Stuck.Equal(b.Stuck)
	}) {
		t.Errorf("%+v, %v; want %+v", got, err, want)
	}
}
