//go:build race

package danger

const raceEnabled = true
