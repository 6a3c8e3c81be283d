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
	// Look first for symptoms that are named outright; an exact name leaves no doubt.
	names := make([][]string, len(prof.Symptoms))
	heard := " " + strings.Join(diagnosis.Stems(said), " ") + " "
	var dangers, named []*profile.Symptom // named by their own words
	for i := range prof.Symptoms {
		symptom := &prof.Symptoms[i]
		if Folded(symptom.Name) == Folded(said) || symptom.ID == Folded(said) {
			return []*profile.Symptom{symptom}, true
		}
		names[i] = append([]string{symptom.Name}, symptom.Words...)
		for _, words := range names[i] {
			stems := strings.Join(diagnosis.Stems(words), " ")
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
	for _, match := range found {
		symptom := &prof.Symptoms[match.Thing]
		if slices.Contains(dangers, symptom) && (danger == nil || symptom.Hurt && !danger.Hurt) {
			danger = symptom
		}
	}
	add := func(s *profile.Symptom) {
		if !slices.Contains(near, s) {
			near = append(near, s)
		}
	}
	// A danger named is meant, and so is the only other symptom named.
	switch {
	case danger != nil:
		add(danger)
		sure = true
	case len(named) == 1:
		add(named[0])
		sure = true
	}
	// Fill up with what fits best; a clear lead over the next counts as meant too.
	for rank, match := range found {
		if len(near) == 3 || match.Score < leastFit {
			break
		}
		if rank == 0 && !sure && match.Score >= sureScore {
			sure = len(found) == 1 || match.Score-found[1].Score >= sureLead
		}
		add(&prof.Symptoms[match.Thing])
	}
	return near, sure
}
