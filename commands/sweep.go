package commands

import (
	"context"
	"errors"
	"fmt"
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
	// Every machine whose time has come, a batch at a time.
	var faults []error
	failed := map[domain.Wake]bool{}
	machines, digests := 0, 0
	defer func() {
		if d.Swept != nil && machines+digests > 0 {
			d.Swept(machines, digests)
		}
	}()
	for {
		due, err := d.wakes.Due(ctx, now, sweepBatch+len(failed))
		if err != nil {
			return errors.Join(append(faults, fmt.Errorf("list the machines to judge: %w", err))...)
		}
		tried := 0
		for _, wake := range due {
			if failed[wake] {
				continue
			}
			tried++
			if _, err := d.wakes.Settle(ctx, wake.Shop, wake.Machine, now); err != nil {
				failed[wake] = true
				faults = append(faults, fmt.Errorf("judge machine %d of shop %s: %w", wake.Machine, wake.Shop, err))
				continue
			}
			machines++
		}
		if tried == 0 {
			break
		}
	}
	// What people asked to be forgotten and had to stay until now.
	if err := d.wakes.GoOnForgetting(ctx, now); err != nil {
		faults = append(faults, fmt.Errorf("go on forgetting: %w", err))
	}
	// Then the digests.
	shops, err := d.wakes.DueDigests(ctx, now)
	if err != nil {
		faults = append(faults, fmt.Errorf("list the digests that are due: %w", err))
	}
	for _, s := range shops {
		if err := d.wakes.SettleDigest(ctx, s, now); err != nil {
			faults = append(faults, fmt.Errorf("post the digest of shop %s: %w", s, err))
			continue
		}
		digests++
	}
	return errors.Join(faults...)
}
