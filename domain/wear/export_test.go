package wear

// Polynomial fits y = b0 + b1·x + … of that degree.
func Polynomial(x, y []float64, degree int) (Fit, error) {
	return LeastSquares(powers(x, degree), y, nil)
}
