package commands

import (
	"slices"
	"testing"

	"setscrew/domain/quantity"
)

// A name is found whole before by its beginning, and by its beginning only where no
// other begins so; what is near is offered, the likeliest first, three at the most.
func TestFind(t *testing.T) {
	among := []named{{ID: "infeed", Name: "infeed roller"}, {ID: "outfeed", Name: "outfeed roller"},
		{ID: "bed", Name: "bed rollers"},
		{Name: "infeed roller caps"},
		{ID: "fingers", Name: "anti-kickback fingers"}, {ID: "b", Name: "Belt"}}
	for _, test := range []struct {
		name, typed string
		found       int
		near        []string
	}{
		{"by name", "bed rollers", 2, nil},
		{"by id", "fingers", 4, nil},
		{"in other letters", "OUTFEED Roller", 1, nil},
		{"a whole name that another begins with", "infeed roller", 0, nil},
		{"the only one that begins so", "anti", 4, nil},
		{"a whole id that a name begins with", "b", 5, nil},
		{"two that begin so", "infeed r", -1, []string{"infeed roller", "infeed roller caps"}},
		{"a slip", "infed roller", -1, []string{"infeed roller", "outfeed roller", "bed rollers"}},
		{"words of another form", "the rollers of the bed", 2, nil},
		{"a slip of an id", "fingrs", -1, []string{"anti-kickback fingers"}},
		{"a word inside", "kickback", 4, nil},
		{"three slips in a short name", "bzzz", -1, nil},
		{"two slips in a short name", "bezz", -1, []string{"bed rollers", "Belt"}},
		{"something else", "zither", -1, nil},
	} {
		found, near := find(test.typed, among)
		if found != test.found || !slices.Equal(near, test.near) {
			t.Errorf("%s: %q finds %d, near %q; want %d, near %q", test.name, test.typed, found, near, test.found,
				test.near)
		}
	}
	if found, near := find("x", nil); found != -1 || near != nil {
		t.Errorf("among none: %d, %q", found, near)
	}
}

// Durations are stored in whole seconds: halves go up.
func TestRoundedSeconds(t *testing.T) {
	for _, c := range []struct {
		millis, want int64
	}{{0, 0}, {499, 0}, {500, 1}, {1499, 1}, {1500, 2}, {90_000, 90}} {
		if got := roundedSeconds(quantity.New(c.millis, 1000, quantity.Second)); got != c.want {
			t.Errorf("%d ms are %d s, want %d", c.millis, got, c.want)
		}
	}
}
