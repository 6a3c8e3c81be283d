package commands

import (
	"setscrew/commands/words"
	"setscrew/domain/match"
)

// mostNear is how many names are offered in the place of one that is not sure.
const mostNear = 3

// named is anything that people call by name.
type named = match.Name

// namedIn lists things by the names that people call them by.
func namedIn[T any](all []T, as func(*T) named) []named {
	among := make([]named, len(all))
	for i := range all {
		among[i] = as(&all[i])
	}
	return among
}

// find looks a typed name up among what there is. When nothing is surely meant found is
// -1, and near holds the likeliest names, best first.
func find(typed string, among []named) (found int, near []string) {
	typed = words.Clean(typed)
	if found = match.Find(typed, among); found >= 0 {
		return found, nil
	}
	return -1, nearest(typed, among)
}

// nearest are the names that may be meant by a typed one, best first, at most mostNear.
func nearest(typed string, among []named) (near []string) {
	for _, i := range match.Near(words.Clean(typed), among) {
		if len(near) < mostNear {
			near = append(near, among[i].Name)
		}
	}
	return near
}
