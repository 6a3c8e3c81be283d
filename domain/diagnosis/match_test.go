package diagnosis

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Each ending, the letters that stay in spite of one, and the words that say
// nothing or that say no.
func TestStems(t *testing.T) {
	for in, want := range map[string]string{
		"bodies": "body", "presses": "press", "scratches": "scratch", "crushes": "crush", "dustiness": "dusty",
		"roughness": "rough", "bearings": "bear", "stopping": "stop", "repeatedly": "repeat", "carried": "carry",
		"stopped": "stop", "slowly": "slow", "rollers": "roll", "roller": "roll", "knives": "kniv", "knife": "knif",
		"boards": "board", "press": "press", "glass": "glass", "vibrates": "vibrat", "vibrating": "vibrat",
		// A stem keeps three letters: nothing is cut from these.
		"bus": "bus", "red": "red", "sing": "sing", "used": "used", "dried": "dri",
		// Doubled letters, but for l, s, z and words of three; a last e from five letters on.
		"egg": "egg", "eggs": "egg", "odd": "odd", "hiss": "hiss", "buzz": "buzz", "spilled": "spill", "edge": "edge",
		"table": "tabl",
		// Denials are kept, and all alike; what is too common is not.
		"won't": "not", "doesn’t": "not", "cannot": "not", "no": "not", "without": "not", "does": "do", "will": "do",
		"the": "", "please": "", "": "", "?!": "", "SMOKE!": "smok", "knife 2": "knif 2", "Left-hand": "left hand",
		"it won't stop": "not stop", "it stops": "stop",
	} {
		if got := strings.Join(Stems(in), " "); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

// The optimal string alignment distance, by values that are worked out by hand;
// the last shows that letters once swapped are not touched again (2 where they are).
func TestSlips(t *testing.T) {
	for _, test := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"", "abc", 3}, {"abc", "", 3}, {"snipe", "snipe", 0}, {"snipe", "snip", 1},
		{"snip", "snipe", 1},
		{"snipe", "snope", 1}, {"snipe", "snpie", 1}, {"ab", "ba", 1}, {"kitten", "sitting", 3}, {"abcd", "badc", 2},
		{"häm", "ham", 1}, {"xabcd", "ycbad", 3}, {"ca", "abc", 3},
	} {
		if got := Slips(test.a, test.b); got != test.want {
			t.Errorf("%q to %q: %d, want %d", test.a, test.b, got, test.want)
		}
	}
}

// The same as its recursive definition, and as many slips back as there.
func TestSlipsByDefinition(t *testing.T) {
	var slips func(a, b string) int
	slips = func(one, other string) int {
		rows, columns := len(one), len(other)
		if rows == 0 || columns == 0 {
			return rows + columns
		}
		change := 1
		if one[rows-1] == other[columns-1] {
			change = 0
		}
		least := min(slips(one[:rows-1], other)+1, slips(one, other[:columns-1])+1, slips(one[:rows-1],
			other[:columns-1])+change)
		if rows > 1 && columns > 1 && one[rows-1] == other[columns-2] && one[rows-2] == other[columns-1] {
			least = min(least, slips(one[:rows-2], other[:columns-2])+1)
		}
		return least
	}
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringMatching(`[abc]{0,5}`)
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		if got, want := Slips(a, b), slips(a, b); got != want || Slips(b, a) != want {
			t.Fatalf("%q to %q: %d, back %d, want %d", a, b, got, Slips(b, a), want)
		}
	})
}

func TestAlike(t *testing.T) {
	for _, test := range []struct {
		a, b string
		want float64
	}{
		{"hum", "hum", 1}, {"hum", "ham", 0}, {"hum", "hums", 0}, // three letters have no room for a slip
		{"blue", "bleu", 0.8}, {"blue", "blues", 0.8}, {"blue", "bal", 0}, {"blue", "bale", 0},
		{"scallop", "scalap", 0}, // two slips in six letters of the shorter
		{"scalloped", "scalaped", 0.6}, {"scallops", "skallips", 0.6}, {"scallops", "skalobbs", 0},
		{"washbord", "washboard", 0.8},
	} {
		if got := alike(test.a, test.b); got != test.want || alike(test.b, test.a) != test.want {
			t.Errorf("%q and %q: %v, back %v, want %v", test.a, test.b, got, alike(test.b, test.a), test.want)
		}
	}
}

// Scores worked out by hand from the formula. Of three things "mark" names two, so
// it weighs ln(1 + 3/2); what names one weighs ln(1 + 3/1).
func TestFind(t *testing.T) {
	matcher := NewMatcher([][]string{{"red mark"}, {"blue mark", "ghost"}, {"hum"}})
	one, two := math.Log(4), math.Log(2.5)
	for _, test := range []struct {
		said string
		want []Match
	}{
		{"red mark", []Match{{0, 1}, {1, two / (one + two)}}},
		{"mark, red!", []Match{{0, 1}, {1, two / (one + two)}}},
		{"mark", []Match{{0, (1 + 2*two/(one+two)) / 3}, {1, (1 + 2*two/(one+two)) / 3}}},
		// equal ones in their order
		{"blue", []Match{{1, (1 + 2*one/(one+two)) / 3}}},
		{"bleu", []Match{{1, (0.8 + 2*0.8*one/(one+two)) / 3}}},           // a slip counts for less
		{"ghost", []Match{{1, 1}}},                                        // one of its phrases is enough
		{"red wotsit", []Match{{0, (one/(one+1) + 2*one/(one+two)) / 3}}}, // an unknown word weighs 1
		{"hum hum", []Match{{2, 1}}},
		{"wotsit", nil}, {"", nil}, {"the", nil},
	} {
		got := matcher.Find(test.said)
		same := slices.EqualFunc(
			got,
			test.want,
			func(a, b Match) bool { return a.Thing == b.Thing && math.Abs(a.Score-b.Score) < 1e-12 },
		)
		if !same {
			t.Errorf("%q: %v, want %v", test.said, got, test.want)
		}
	}
	// A word as near to two stems weighs as the first of them by the alphabet.
	matcher = NewMatcher([][]string{{"mast"}, {"mist"}, {"mist"}, {"hum"}})
	mast, mist, hum := math.Log(1+4.0/1), math.Log(1+4.0/2), math.Log(1+4.0/1)
	got := matcher.Find("most hum")
	for _, x := range got {
		want := map[int]float64{0: (0.8*mast/(mast+hum) + 2*0.8) / 3, 3: (hum/(mast+hum) + 2) / 3}[x.Thing]
		if x.Thing != 1 && x.Thing != 2 && math.Abs(x.Score-want) > 1e-12 {
			t.Errorf("thing %d: %v, want %v (mist weighs %v)", x.Thing, x.Score, want, mist)
		}
	}
	if len(got) != 4 || got[0].Thing != 3 {
		t.Errorf("found %v", got)
	}
}

// Scores are shares, best first; the words of a thing's own name find it with 1;
// what is said in another order scores the same.
func TestFindProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringMatching(`[bdkmt][aou][bdkm][aou][nk]`)
		names := rapid.SliceOfN(
			rapid.SliceOfN(
				rapid.Map(rapid.SliceOfN(word, 1, 3), func(w []string) string { return strings.Join(w, " ") }),
				1,
				2,
			),
			1,
			6,
		).Draw(
			t,
			"names",
		)
		matcher := NewMatcher(names)
		i := rapid.IntRange(0, len(names)-1).Draw(t, "thing")
		said := strings.Fields(names[i][0])
		found := matcher.Find(strings.Join(said, " "))
		slices.Reverse(said)
		back := matcher.Find(strings.Join(said, " "))
		own := slices.IndexFunc(found, func(x Match) bool { return x.Thing == i })
		if own < 0 || math.Abs(found[own].Score-1) > 1e-9 {
			t.Fatalf("%q finds %v, want %d with 1", names[i][0], found, i)
		}
		for k, match := range found {
			if !(match.Score > 0 && match.Score <= 1+1e-9) || k > 0 && match.Score > found[k-1].Score {
				t.Fatalf("found %v", found)
			}
			if y := slices.IndexFunc(back, func(y Match) bool { return y.Thing == match.Thing }); y < 0 ||
				math.Abs(back[y].Score-match.Score) > 1e-9 {
				t.Fatalf("%v, in the other order %v", found, back)
			}
		}
	})
}
