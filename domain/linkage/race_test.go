//go:build race

package linkage_test

const raceEnabled = true
