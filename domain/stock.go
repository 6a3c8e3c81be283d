package domain

import (
	"slices"
	"strings"
	"time"
)

// KindStock is the kind of a StockCounted.
const KindStock Kind = "stock"

// StockCounted says how much of one thing lies on the shelf, in pieces (cans,
// tubes, belts), and at how many more is bought.
type StockCounted struct {
	Name string `json:"name"`
	Left int    `json:"left"`
	Buy  int    `json:"buy"`            // bought when as few are left
	Gone bool   `json:"gone,omitempty"` // no longer kept
}

// FactKind is KindStock.
func (StockCounted) FactKind() Kind { return KindStock }

// Took is what work takes from the shelf.
type Took struct {
	Name string `json:"name"`
	N    int    `json:"n"`
}

// Shelf is what is known of one thing on the shelf.
type Shelf struct {
	Fact FactNo    // the last count
	At   time.Time // when that was
	Name string
	Left int // the last count, less what work reported since took; never below 0
	Buy  int
}

// ToBuy reports whether more of it should be bought.
func (s Shelf) ToBuy() bool { return s.Left <= s.Buy }

// Folded is a name without regard to case and to spaces around it.
func Folded(name string) string { return strings.ToLower(strings.TrimSpace(name)) }

// OnShelf finds a thing on the shelf by its name, or nil.
func OnShelf(all []Shelf, name string) *Shelf {
	i := slices.IndexFunc(all, func(s Shelf) bool { return Folded(s.Name) == Folded(name) })
	if i < 0 {
		return nil
	}
	return &all[i]
}

// KindSet is the kind of a SetMoved.
const KindSet Kind = "blade-set"

// SetMoved says where a set of knives or blades is from then on.
type SetMoved struct {
	Set   string    `json:"set"`
	Where Place     `json:"where"`
	Back  time.Time `json:"back,omitzero"` // when a set that is out should be back; zero if nobody said
	Note  string    `json:"note,omitempty"`
}

// FactKind is KindSet.
func (SetMoved) FactKind() Kind { return KindSet }

// Place is where a set of knives or blades is.
type Place string

// The places: in the machine; on the shelf, sharp; at the sharpener's. Off is
// said of none: it is what a set becomes when another is fitted in its place and
// nobody has said where it went.
const (
	Fitted Place = "fitted"
	Spare  Place = "spare"
	Out    Place = "out"
	Off    Place = "off"
)

// BladeSet is what is known of one set of knives or blades.
type BladeSet struct {
	Fact FactNo
	At   time.Time // since when it is there
	By   PersonID
	SetMoved
}

// Overdue reports whether a set that is out should be back.
func (s BladeSet) Overdue(now time.Time) bool {
	return s.Where == Out && !s.Back.IsZero() && s.Back.Before(now)
}

// SameVisit is the time within which a set fitted and an event that fits one are
// one and the same work. Common practice, no source.
const SameVisit = 12 * time.Hour

// fits are the last times that events happened which fit a set.
func fits(snap Snapshot) map[string]time.Time {
	all := map[string]time.Time{}
	for _, e := range snap.Machine.Profile.Events {
		if l, ok := snap.Events[e.ID]; ok && e.Fits {
			all[e.ID] = l.At
		}
	}
	return all
}

// sets are a machine's sets by name, each where it is: only the one fitted last is
// fitted, one fitted before it came off then.
func sets(all []BladeSet) []BladeSet {
	all = slices.Clone(all)
	slices.SortFunc(all, func(a, b BladeSet) int { return strings.Compare(Folded(a.Set), Folded(b.Set)) })
	last := -1
	for i, s := range all {
		if s.Where == Fitted &&
			(last < 0 || s.At.After(all[last].At) || s.At.Equal(all[last].At) && s.Fact > all[last].Fact) {
			last = i
		}
	}
	for i := range all {
		if all[i].Where == Fitted && i != last {
			all[i].Where, all[i].At = Off, all[last].At
		}
	}
	return all
}
