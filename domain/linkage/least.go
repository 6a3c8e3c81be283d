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
	size := len(right)
	// The subset's places in the whole system.
	s.at = s.at[:0]
	for j := range size {
		if subset>>j&1 == 1 {
			s.at = append(s.at, j)
		}
	}
	// Factorise the subset's part of the matrix, row by row.
	count := len(s.at)
	factor, solved := s.m[:count*count], s.x[:count]
	for row, j := range s.at {
		solved[row] = right[j]
		for column, other := range s.at[:row+1] {
			value := normal[j*size+other]
			if row == column {
				value *= 1 + 1e-9
				if noise != nil {
					value += noise[j]
				}
			}
			for inner := range column {
				value -= factor[row*count+inner] * factor[column*count+inner]
			}
			if row == column {
				factor[row*count+row] = math.Sqrt(max(value, 1e-300))
			} else {
				factor[row*count+column] = value / factor[column*count+column]
			}
		}
	}
	// Solve forwards through the factor, then backwards through its transpose.
	for row := range count {
		for inner := range row {
			solved[row] -= factor[row*count+inner] * solved[inner]
		}
		solved[row] /= factor[row*count+row]
	}
	for row := count - 1; row >= 0; row-- {
		for inner := row + 1; inner < count; inner++ {
			solved[row] -= factor[inner*count+row] * solved[inner]
		}
		solved[row] /= factor[row*count+row]
	}
	// Back to where they stand in the whole system.
	for row, j := range s.at {
		effect[j] = solved[row]
	}
}
