//go:build race

package bot_test

// The race detector makes everything many times slower, so answers are given
// more time and fewer tests run side by side.
const (
	slower     = 10
	sideBySide = 2
)
