package commands_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"setscrew/domain"
)

// A month of a quiet planer that nobody looks after calls the stewards six times at
// most, of all notices; its digests are said every day, and nothing is left out.
func TestAQuietMonthCallsSixTimes(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.notices()
	calls, digests := []string{}, 0
	for range 31 {
		world.sweep(24 * time.Hour)
		shop, err := world.db.Shop(world.shop).Shop(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		for _, notice := range world.notices() {
			if notice.Topic == domain.TopicDigest {
				digests++
			}
			if m := world.desk.Render(shop, notice); m.Mention && notice.Op == domain.Post {
				calls = append(calls, fmt.Sprintf("%s %s", notice.Args.At.Format("2 Jan"), notice.Topic))
			}
		}
	}
	if len(calls) > 6 || len(calls) < 4 {
		t.Errorf("%d calls: %s", len(calls), strings.Join(calls, ", "))
	}
	if digests < 24 {
		t.Errorf("%d digests", digests)
	}
	t.Logf("%d digests, %d calls: %s", digests, len(calls), strings.Join(calls, ", "))
}
