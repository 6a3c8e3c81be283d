//go:build !race

package bot_test

const (
	slower     = 1
	sideBySide = 8
)
