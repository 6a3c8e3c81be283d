package bot

import (
	"context"
	"slices"
	"testing"
	"testing/synctest"
	"time"
)

// What is done each minute is done by itself: neither one that panics nor one that takes
// long keeps the others waiting, none is done again while it goes on, and the end waits
// for it.
func TestEachMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		in := newInside(t)
		defer in.close()
		var usual, slow []time.Duration
		begun, ended := time.Now().Truncate(time.Minute), false
		in.bot.cfg.EachMinute = []func(context.Context, time.Time){
			func(context.Context, time.Time) { panic("once a minute") },
			func(ctx context.Context, now time.Time) {
				slow = append(slow, time.Since(begun))
				select {
				case <-time.After(150 * time.Second):
				case <-ctx.Done():
					time.Sleep(time.Second)
					ended = true
				}
			},
			func(_ context.Context, now time.Time) { usual = append(usual, now.Sub(begun)) },
		}
		stop := in.bot.schedule(context.Background())
		time.Sleep(time.Until(begun.Add(7*time.Minute + time.Second)))
		stop()
		minutes := func(all ...time.Duration) []time.Duration {
			for i := range all {
				all[i] *= time.Minute
			}
			return all
		}
		if want := minutes(1, 2, 3, 4, 5, 6, 7); !slices.Equal(usual, want) {
			t.Errorf("done at %v", usual)
		}
		if want := minutes(1, 4, 7); !slices.Equal(slow, want) || !ended {
			t.Errorf("the slow one at %v, ended %v", slow, ended)
		}
	})
}
