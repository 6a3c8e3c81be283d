package linkage_test

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	. "setscrew/domain/linkage"
)

// Common practice, no source: from the middle outwards, alternating sides.
func TestClampingOrder(t *testing.T) {
	for n, want := range map[int][]int{-1: nil, 0: nil, 1: {1}, 2: {1, 2}, 3: {2, 3, 1}, 4: {2, 3, 1, 4},
		5: {3, 4, 2, 5, 1}, 6: {3, 4, 2, 5, 1, 6}} {
		if d := cmp.Diff(want, ClampingOrder(n)); d != "" {
			t.Errorf("%d bolts (-want +got):\n%s", n, d)
		}
	}
	for bolts := 1; bolts <= 40; bolts++ {
		order := ClampingOrder(bolts)
		sorted := slices.Sorted(slices.Values(order))
		for i, b := range sorted {
			if b != i+1 {
				t.Fatalf("%d bolts: %v is not each once", bolts, order)
			}
		}
		for i := 1; i < bolts; i++ {
			// Twice the distance from the middle of the row, and the side.
			far := func(b int) int { return max(2*b-bolts-1, bolts+1-2*b) }
			if far(order[i]) < far(order[i-1]) {
				t.Errorf("%d bolts: %v comes back towards the middle at %d", bolts, order, order[i])
			}
			if side := 2*order[i] > bolts+1; i > 1 && side == (2*order[i-1] > bolts+1) {
				t.Errorf("%d bolts: %v stays on one side at %d", bolts, order, order[i])
			}
		}
	}
}
