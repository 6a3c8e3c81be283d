package commands

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/domain"
)

// brokenWakes has machines whose time has come until they are settled, and digests;
// some of both fail.
type brokenWakes struct {
	waiting  []domain.Wake
	failing  []domain.MachineID
	settled  []domain.MachineID
	digests  []domain.ShopID
	bad      domain.ShopID
	posted   []domain.ShopID
	unlisted error // why machines cannot be listed
	kept     error // why nobody can be forgotten
}

func (b *brokenWakes) Due(_ context.Context, _ time.Time, limit int) ([]domain.Wake, error) {
	return slices.Clone(b.waiting[:min(limit, len(b.waiting))]), b.unlisted
}

func (b *brokenWakes) Settle(_ context.Context, _ domain.ShopID, machine domain.MachineID,
	_ time.Time) (domain.Status, error) {
	if slices.Contains(b.failing, machine) {
		return domain.Status{}, errors.New("disk on fire")
	}
	b.waiting = slices.DeleteFunc(b.waiting, func(w domain.Wake) bool { return w.Machine == machine })
	b.settled = append(b.settled, machine)
	return domain.Status{}, nil
}

func (b *brokenWakes) GoOnForgetting(context.Context, time.Time) error { return b.kept }

func (b *brokenWakes) DueDigests(context.Context, time.Time) ([]domain.ShopID, error) {
	return b.digests, nil
}

func (b *brokenWakes) SettleDigest(_ context.Context, shop domain.ShopID, _ time.Time) error {
	if shop == b.bad {
		return errors.New("disk full")
	}
	b.posted = append(b.posted, shop)
	return nil
}

// A machine that cannot be judged keeps no other from it, nor do digests that fail;
// each is told of once, with what failed.
func TestSweepGoesOnPastWhatFails(t *testing.T) {
	t.Parallel()
	wakes := &brokenWakes{failing: []domain.MachineID{2}, digests: []domain.ShopID{"tin-lane", "quarry-street"},
		bad: "tin-lane"}
	for i := range 2*sweepBatch + 5 {
		wakes.waiting = append(wakes.waiting, domain.Wake{Shop: "quarry-street", Machine: domain.MachineID(i + 1)})
	}
	err := (&Desk{wakes: wakes}).Sweep(context.Background(), time.Now())
	if n := len(wakes.settled); n != 2*sweepBatch+4 || slices.Contains(wakes.settled, 2) {
		t.Errorf("%d machines settled", n)
	}
	if !slices.Equal(wakes.posted, []domain.ShopID{"quarry-street"}) {
		t.Errorf("digests of %q", wakes.posted)
	}
	if err == nil || err.Error() != "judge machine 2 of shop quarry-street: disk on fire\n"+
		"post the digest of shop tin-lane: disk full" {
		t.Errorf("%v", err)
	}

	wakes = &brokenWakes{kept: errors.New("disk gone"), digests: []domain.ShopID{"quarry-street"}}
	if err := (&Desk{wakes: wakes}).Sweep(context.Background(), time.Now()); err == nil ||
		err.Error() != "go on forgetting: disk gone" || len(wakes.posted) != 1 {
		t.Errorf("%v, digests of %q", err, wakes.posted)
	}

	wakes = &brokenWakes{unlisted: errors.New("disk gone"), digests: []domain.ShopID{"quarry-street"}}
	if err := (&Desk{wakes: wakes}).Sweep(context.Background(), time.Now()); err == nil ||
		!strings.Contains(err.Error(), "list the machines to judge: disk gone") {
		t.Errorf("%v", err)
	}
}

// However many machines fail, those behind them are judged.
func TestSweepGoesOnPastManyThatFail(t *testing.T) {
	t.Parallel()
	for _, failing := range []int{sweepBatch - 1, sweepBatch, sweepBatch + 1, 2 * sweepBatch} {
		wakes := &brokenWakes{}
		for i := range failing + 3 {
			wakes.waiting = append(wakes.waiting, domain.Wake{Shop: "quarry-street", Machine: domain.MachineID(i + 1)})
			if i < failing {
				wakes.failing = append(wakes.failing, domain.MachineID(i+1))
			}
		}
		err := (&Desk{wakes: wakes}).Sweep(context.Background(), time.Now())
		if err == nil || len(wakes.settled) != 3 || strings.Count(err.Error(), "\n") != failing-1 {
			t.Errorf("%d fail: %d settled, %v", failing, len(wakes.settled), err)
		}
	}
}
