package store_test

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/store"
)

// BenchmarkBackup copies and checks books of 100 MB while reports come in, and says how
// long the slowest of these took, beside the slowest of as many without it.
func BenchmarkBackup(b *testing.B) {
	dir := b.TempDir()
	path := filepath.Join(dir, "shop.db")
	copyPrepared(b, path)
	db := open(b, path)
	for n := range 100 {
		if err := db.OnWriter(fmt.Sprintf(`INSERT INTO photo VALUES ('one', 'k%d', '', 0, randomblob(1048576))`,
			n)); err != nil {
			b.Fatal(err)
		}
	}
	shop, n := db.Shop("one"), 0
	slowest := func(until <-chan struct{}, most int) (worst time.Duration) {
		for range most {
			select {
			case <-until:
				return worst
			default:
			}
			n++
			e := entry(fmt.Sprint("k", n), time.Hour, marble, domain.Hours{Seconds: 60})
			e.By, e.Sure = domain.PersonID(fmt.Sprint("p", n)), true
			begun := time.Now()
			if _, err := shop.Report(ctx, e); err != nil {
				b.Error(err)
			}
			worst = max(worst, time.Since(begun))
		}
		return worst
	}
	// Each copy is of another second.
	for at := start; b.Loop(); at = at.Add(time.Second) {
		done := make(chan struct{})
		var took time.Duration
		go func() {
			defer close(done)
			begun := time.Now()
			copied, err := store.Backup(ctx, path, store.BackupsOf(path), at)
			if took = time.Since(begun); err != nil || copied.Size < 100<<20 {
				b.Errorf("%+v, %v", copied, err)
			}
		}()
		before := n
		with := slowest(done, 1<<20)
		<-done
		without := slowest(nil, n-before)
		b.ReportMetric(took.Seconds(), "s/copy")
		b.ReportMetric(float64(with.Milliseconds()), "ms/slowest")
		b.ReportMetric(float64(without.Milliseconds()), "ms/slowest-without")
	}
}
