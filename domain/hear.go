package domain

import (
	"slices"
	"strings"

	"setscrew/domain/danger"
	"setscrew/domain/diagnosis"
	"setscrew/domain/profile"
)

// Hearing is what somebody's words about a machine mean.
type Hearing struct {
	// Symptom is the symptom of the profile's that is meant, nil where that is not sure.
	Symptom *profile.Symptom
	// Near are the symptoms that may be meant, best first, at most three.
	Near []*profile.Symptom
	// Hazard is the kind of danger, common to all machines, that the words speak of, ""
	// for none.
	Hazard danger.Kind
	// Danger is how surely the machine is dangerous, by the words or by the symptom.
	Danger danger.Certainty
}

// Hear finds what somebody's words about a machine mean. Danger comes first: what is
// common to all kinds of machine (see package danger) and the profile's own dangers,
// of which somebody hurt goes before all. A danger of the profile's counts where it is
// chosen by its name or spoken of by its own words, and neither denied nor asked
// about; words that are merely like it stop nothing.
func Hear(prof *profile.Profile, said string) Hearing {
	near, sure := MatchSymptoms(prof, said)
	heard := Hearing{Near: slices.DeleteFunc(slices.Clone(near), func(s *profile.Symptom) bool {
		return s.Danger && denied(s, said)
	})}
	first := func() *profile.Symptom { // taken for it without asking
		if sure {
			return near[0]
		}
		return nil
	}()
	if first != nil && chosen(first, said) {
		heard.Symptom = first
		if first.Danger {
			heard.Danger = danger.Sure
		}
		return heard
	}

	// The profile's own dangers, then those common to all.
	own := danger.None
	if first != nil && first.Danger {
		if own = danger.Says(said, named(first)); own == danger.None {
			first = nil
		}
	}
	common := danger.Hear(said)
	if common.Certainty > danger.None && (len(common.Words) == 0 && first != nil && !first.Danger ||
		namesHarmless(prof, said, common.Words)) {
		// Weights alone are no likelier than a symptom that was named, and what its own
		// name says is that symptom.
		common = danger.Heard{}
	}
	switch {
	case common.Stops() && (own != danger.Sure || common.Kind == danger.Hurt && !first.Hurt &&
		danger.Hear(without(said, first)).Kind == danger.Hurt):
		heard.Hazard, heard.Danger = common.Kind, danger.Sure
		if hurt := slices.IndexFunc(prof.Symptoms, func(s profile.Symptom) bool { return s.Hurt }); hurt >= 0 &&
			common.Kind == danger.Hurt {
			heard.Symptom = &prof.Symptoms[hurt]
		}
	case own > danger.None:
		heard.Symptom, heard.Danger = first, own
	case common.Certainty > danger.None:
		heard.Hazard, heard.Danger = common.Kind, common.Certainty
	default:
		heard.Symptom = first
	}
	return heard
}

// chosen reports whether what was said is a symptom's name, nothing more or less: as
// when it is taken from the list.
func chosen(s *profile.Symptom, said string) bool {
	return Folded(said) == s.ID || slices.ContainsFunc(append([]string{s.Name}, s.Words...),
		func(name string) bool { return Folded(name) == Folded(said) })
}

// namesHarmless reports whether words name a symptom that is no danger, and all words
// that were heard as one belong to its name.
func namesHarmless(prof *profile.Profile, said string, heard []string) bool {
	return slices.ContainsFunc(prof.Symptoms, func(symptom profile.Symptom) bool {
		if symptom.Danger {
			return false
		}
		found := false
		danger.Says(said, func(words []string) [][2]int {
			for _, place := range named(&symptom)(words) {
				found = found || !slices.ContainsFunc(heard, func(word string) bool {
					return !slices.Contains(words[place[0]:place[1]], word)
				})
			}
			return nil
		})
		return found
	})
}

// denied reports whether words name a symptom, and say that it is not so.
func denied(s *profile.Symptom, said string) bool {
	found := false
	certainty := danger.Says(said, func(words []string) [][2]int {
		places := named(s)(words)
		found = found || len(places) > 0
		return places
	})
	return found && certainty == danger.None
}

// named is where words name a symptom by one of its own names, by their stems.
func named(symptom *profile.Symptom) func(words []string) [][2]int {
	return func(words []string) (places [][2]int) {
		// The stems of the words that say something, and which words they are of.
		var stems []string
		var at []int
		for i, w := range words {
			for _, stem := range diagnosis.Stems(w) {
				stems, at = append(stems, stem), append(at, i)
			}
		}
		for _, name := range append([]string{symptom.Name}, symptom.Words...) {
			of := diagnosis.Stems(name)
			for i := 0; len(of) > 0 && i+len(of) <= len(stems); i++ {
				if slices.Equal(stems[i:i+len(of)], of) {
					places = append(places, [2]int{at[i], at[i+len(of)-1] + 1})
				}
			}
		}
		return places
	}
}

// without is what was said but for the words that name a symptom: a planer has fingers
// of its own.
func without(said string, s *profile.Symptom) string {
	words := strings.Fields(said)
	for _, at := range named(s)(words) {
		for i := at[0]; i < at[1]; i++ {
			words[i] = ""
		}
	}
	return strings.Join(words, " ")
}

// HazardKey is the key of the problem that reports of one kind of danger are of.
func HazardKey(kind danger.Kind) string { return "hazard/" + strings.ToLower(string(kind)) }
