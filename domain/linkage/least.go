package linkage

import (
	"math"
)

// scratch is room for solving small systems.
type scratch struct {
	m, x, rest []float64
	at         []int
}

func newScratch(n int) *scratch {
	return &scratch{make([]float64, n*n), make([]float64, n), make([]float64, n), make([]int, 0, n)}
}

// least solves (normal + diag(noise)) x = right over a subset by Cholesky
// factorisation, and writes x into effect at the subset's places. What is not
// determined takes the smallest moves: 1e-9 of the diagonal is added to it.
func (s *scratch) least(normal, right, noise []float64, subset int, effect []float64) {
	n := len(right)
	s.at = s.at[:0]
	for j := range n {
		if subset>>j&1 == 1 {
			s.at = append(s.at, j)
		}
	}
	k := len(s.at)
	factor, solved := s.m[:k*k], s.x[:k]
	for a, j := range s.at {
		solved[a] = right[j]
		for b, l := range s.at[:a+1] {
			v := normal[j*n+l]
			if a == b {
				v *= 1 + 1e-9
				if noise != nil {
					v += noise[j]
				}
			}
			for c := range b {
				v -= factor[a*k+c] * factor[b*k+c]
			}
			if a == b {
				factor[a*k+a] = math.Sqrt(max(v, 1e-300))
			} else {
				factor[a*k+b] = v / factor[b*k+b]
			}
		}
	}
	for a := range k {
		for c := range a {
			solved[a] -= factor[a*k+c] * solved[c]
		}
		solved[a] /= factor[a*k+a]
	}
	for a := k - 1; a >= 0; a-- {
		for c := a + 1; c < k; c++ {
			solved[a] -= factor[c*k+a] * solved[c]
		}
		solved[a] /= factor[a*k+a]
	}
	for a, j := range s.at {
		effect[j] = solved[a]
	}
}
