package domain

import (
	"slices"
	"strings"

	"setscrew/domain/diagnosis"
	"setscrew/domain/profile"
)

// sureScore is how well words must fit a symptom, and sureLead by how much better
// than the next, for it to be taken without asking.
const (
	sureScore = 0.7
	sureLead  = 0.15
	leastFit  = 0.25 // below it a symptom is not offered
)

// MatchSymptoms finds the symptoms that somebody's words may mean, best first, at
// most three. sure says that the first is meant: it is named by its own words, and no other
// is, or the words fit it much better than any other. Of a danger naming it is
// enough, whatever else is named, since stopping wrongly costs little.
func MatchSymptoms(prof *profile.Profile, said string) (near []*profile.Symptom, sure bool) {
	names := make([][]string, len(prof.Symptoms))
	heard := " " + strings.Join(diagnosis.Stems(said), " ") + " "
	var dangers, named []*profile.Symptom // named by their own words
	for i := range prof.Symptoms {
		symptom := &prof.Symptoms[i]
		if Folded(symptom.Name) == Folded(said) || symptom.ID == Folded(said) {
			return []*profile.Symptom{symptom}, true
		}
		names[i] = append([]string{symptom.Name}, symptom.Words...)
		for _, n := range names[i] {
			stems := strings.Join(diagnosis.Stems(n), " ")
			switch {
			case stems == "" || !strings.Contains(heard, " "+stems+" "):
			case symptom.Danger && !slices.Contains(dangers, symptom):
				dangers = append(dangers, symptom)
			case !symptom.Danger && !slices.Contains(named, symptom):
				named = append(named, symptom)
			}
		}
	}
	found := diagnosis.NewMatcher(names).Find(said)
	// Of several dangers, somebody hurt goes before all; else the one that fits best.
	var danger *profile.Symptom
	for _, f := range found {
		if s := &prof.Symptoms[f.Thing]; slices.Contains(dangers, s) && (danger == nil || s.Hurt && !danger.Hurt) {
			danger = s
		}
	}
	add := func(s *profile.Symptom) {
		if !slices.Contains(near, s) {
			near = append(near, s)
		}
	}
	switch {
	case danger != nil:
		add(danger)
		sure = true
	case len(named) == 1:
		add(named[0])
		sure = true
	}
	for i, f := range found {
		if len(near) == 3 || f.Score < leastFit {
			break
		}
		if i == 0 && !sure && f.Score >= sureScore {
			sure = len(found) == 1 || f.Score-found[1].Score >= sureLead
		}
		add(&prof.Symptoms[f.Thing])
	}
	return near, sure
}
