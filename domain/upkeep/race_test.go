//go:build race

package upkeep_test

const raceEnabled = true
