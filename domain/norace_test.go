//go:build !race

package domain_test

const raceEnabled = false
