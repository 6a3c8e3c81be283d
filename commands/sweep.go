package commands

import (
	"context"
	"errors"
	"time"

	"setscrew/domain"
)

// sweepBatch is how many machines one look at the wakes takes.
const sweepBatch = 100

// Sweep judges every machine whose wake time has come, so that what time alone
// brings (a service due, an inspection overdue) is said. Running it late, or
// twice, changes nothing. Machines that fail are told of together; the others
// are settled all the same.
func (d *Desk) Sweep(ctx context.Context, now time.Time) error {
	var faults []error
	failed := map[domain.Wake]bool{}
	for {
		due, err := d.wakes.Due(ctx, now, sweepBatch+len(failed))
		if err != nil {
			return errors.Join(append(faults, err)...)
		}
		settled := 0
		for _, w := range due {
			if failed[w] {
				continue
			}
			if _, err := d.wakes.Settle(ctx, w.Shop, w.Machine, now); err != nil {
				failed[w] = true
				faults = append(faults, err)
				continue
			}
			settled++
		}
		if settled == 0 {
			break
		}
	}
	shops, err := d.wakes.DueDigests(ctx, now)
	faults = append(faults, err)
	for _, s := range shops {
		faults = append(faults, d.wakes.SettleDigest(ctx, s, now))
	}
	return errors.Join(faults...)
}
