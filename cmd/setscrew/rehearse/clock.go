package rehearse

import (
	"context"
	"strings"
	"time"

	"setscrew/domain/quantity"
)

// wake does what is due now: dangers that waited for the books, the sweep, then the poster.
func (r *rehearsal) wake(ctx context.Context) error {
	r.desk.Book(ctx, r.state.Now)
	if err := r.desk.Sweep(ctx, r.state.Now); err != nil {
		return err
	}
	_, err := r.poster.Drain(ctx, r.state.Now)
	return err
}

// clock moves time on, through every wake on the way.
func (r *rehearsal) clock(ctx context.Context, to string) error {
	shop, err := r.db.Shop(r.state.Shop).Shop(ctx)
	if err != nil {
		return err
	}
	loc := shop.Location()
	var target time.Time
	if span, ok := strings.CutPrefix(to, "+"); ok {
		ahead, err := quantity.Parse(span, quantity.Context{Kind: quantity.Duration})
		if err != nil || ahead.Value.Cmp(quantity.New(20000, 1, quantity.Day)) > 0 {
			return r.usageError("%q is no span of time; for example: clock +3d", to)
		}
		target = r.state.Now.Add(time.Duration(ahead.Value.Float(quantity.Second)) * time.Second)
	} else if target, err = time.ParseInLocation("2006-01-02 15:04", to, loc); err != nil {
		return r.usageError("%q is no time; for example: clock 2026-03-05 09:00", to)
	}
	// Stop at every wake on the way, so that notices come when they would have come.
	if target.Before(r.state.Now) {
		return r.usageError("Time only moves on: it is %s.", r.state.Now.In(loc).Format("2006-01-02 15:04"))
	}
	for {
		next, ok, err := r.db.NextWake(ctx)
		if err != nil {
			return err
		}
		if !ok || next.After(target) || !next.After(r.state.Now) {
			break
		}
		r.state.Now = next
		if err := r.wake(ctx); err != nil {
			return err
		}
	}
	r.state.Now = target.UTC()
	if err := r.wake(ctx); err != nil {
		return err
	}
	r.printf("  It is %s.\n\n", r.state.Now.In(loc).Format("Mon 2 Jan 2006 15:04"))
	return nil
}
