package match_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	. "setscrew/domain/match"
)

var things = []Name{
	{ID: "knives-changed", Name: "knives changed or reset", Words: []string{"new knives", "knives sharpened"}},
	{ID: "belts-changed", Name: "belts changed", Words: []string{"new belts", "belt replaced"}},
	{ID: "machine-moved", Name: "machine moved", Words: []string{"moved across the shop"}},
	{ID: "infeed-replaced", Name: "infeed roller replaced", Words: nil},
	{ID: "outfeed-replaced", Name: "outfeed roller replaced", Words: nil},
	{ID: "", Name: "SAE 30 oil", Words: nil},
	{ID: "", Name: "Marble", Words: []string{"thickness-planer"}, Every: true},
}

// What each typed name is taken for, -1 where it is not sure, and what is offered first.
func TestFind(t *testing.T) {
	for _, test := range []struct {
		typed string
		found int
		near  []int // among the first three
	}{
		{"knives changed or reset", 0, nil}, {"BELTS-changed", 1, nil}, {"new belts", 1, nil},
		{"changed knives", 0, nil}, {"changing the knife", 0, nil}, {"new belt", 1, nil},
		{"we moved it across the shop", 2, nil}, {"replaced the infeed roller", 3, nil}, {"oil", 5, nil},
		{"planer", 6, nil}, {"the planer", 6, nil}, {"the", -1, nil},
		{"machine 30", -1, nil}, {"planer oil", 5, nil}, {"lathe marble", -1, nil}, {"planer marble", 6, nil},
		{"30", -1, nil}, {"marb", 6, nil},
		// Two things, a slip, a denial, and nothing.
		{"roller replaced", -1, []int{3, 4}}, {"new", -1, nil}, {"changed", -1, []int{0, 1}},
		{"belts chnaged", -1, []int{1}}, {"belts not changed", -1, []int{1}}, {"", -1, nil}, {"zither", -1, nil},
	} {
		if got := Find(test.typed, things); got != test.found {
			t.Errorf("%q is taken for %d, want %d", test.typed, got, test.found)
		}
		near := Near(test.typed, things)
		for _, want := range test.near {
			if !slices.Contains(near[:min(3, len(near))], want) {
				t.Errorf("%q is near %v, want %d among the first three", test.typed, near, want)
			}
		}
	}
	// Another thing's name goes before a word; a word that two have is neither's.
	two := []Name{{ID: "a", Name: "one", Words: []string{"two", "both"}},
		{ID: "b", Name: "two", Words: []string{"both"}}}
	if got := Find("two", two); got != 1 {
		t.Errorf("two: %d", got)
	}
	if got := Find("both", two); got != -1 {
		t.Errorf("both: %d", got)
	}
}

// An exact name always wins, and the words of a name in another order find the same
// thing or, where they are several things', none.
func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.Map(rapid.SliceOfN(rapid.StringMatching(`[bdkmt][aou][bdkm][aou][nk]`), 1, 3),
			func(words []string) string { return strings.Join(words, " ") })
		called := rapid.SliceOfNDistinct(name, 1, 6, rapid.ID[string]).Draw(t, "names")
		among := make([]Name, len(called))
		for i, name := range called {
			among[i] = Name{Name: name}
		}
		i := rapid.IntRange(0, len(called)-1).Draw(t, "thing")
		if got := Find(strings.ToUpper(called[i]), among); got != i {
			t.Fatalf("%q is taken for %d, want %d", called[i], got, i)
		}
		order := rapid.Permutation(strings.Fields(called[i])).Draw(t, "order")
		got := Find(strings.Join(order, " "), among)
		if got < 0 || got == i {
			return
		}
		// Only a thing that is called exactly or begins so may be meant instead.
		if !strings.HasPrefix(called[got], strings.Join(order, " ")) {
			t.Fatalf("%q is taken for %q", order, called[got])
		}
	})
}
