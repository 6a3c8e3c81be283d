package store

import (
	"context"
	"database/sql"
	"time"

	"setscrew/domain"
)

// Owing is how many notices of an urgency wait to be posted, over all shops.
type Owing struct {
	Urgency domain.Urgency
	Count   int
	Oldest  time.Time // when the oldest was owed
	// Stuck is when the oldest was owed that nothing but its channel keeps back; zero for none.
	Stuck time.Time
}

// Owing lists what waits in the outbox, by urgency. What failed for the reason given counts
// as kept back by the shop itself.
func (db *DB) Owing(ctx context.Context, kept string) (all []Owing, err error) {
	err = db.look(ctx, "", func(t *tx) error {
		var one Owing
		var oldest int64
		var stuck sql.NullInt64
		return t.rows([]any{&one.Urgency, &one.Count, &oldest, &stuck}, func() error {
			one.Oldest, one.Stuck = moment(oldest), time.Time{}
			if stuck.Valid {
				one.Stuck = moment(stuck.Int64)
			}
			all = append(all, one)
			return nil
		}, `SELECT urgency, count(*), min(made), min(CASE WHEN problem <> ? THEN made END) FROM outbox
			WHERE posted IS NULL GROUP BY urgency ORDER BY urgency`, kept)
	})
	return all, err
}
