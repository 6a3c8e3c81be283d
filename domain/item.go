package domain

import (
	"fmt"
	"regexp"
	"strings"
)

// Item names one thing of a machine's profile or set-up: what a steward confirms or
// changes, what a visit does, what a finding is about. Its text is "kind:id", with a
// mode "kind:id.mode", and "kind" alone for what is there once; so it is stored and
// stands in buttons. The zero Item names nothing, and its text is empty.
type Item struct {
	Kind ItemKind
	ID   string // in the profile; "" where the kind is there once
	Mode string // of a check, "" for one without modes
}

// ItemKind says what an Item is.
type ItemKind string

// The kinds of item. What a set-up needs, whose hours it borrows, and how the machine
// came on the books, is there once.
const (
	CheckItem     ItemKind = "check"
	ServiceItem   ItemKind = "service"
	EventItem     ItemKind = "event"
	AdjusterItem  ItemKind = "adjuster"
	QuestionItem  ItemKind = "question"
	CauseItem     ItemKind = "cause"
	SecondItem    ItemKind = "second"
	NeedsItem     ItemKind = "needs"
	ReportingItem ItemKind = "reporting"
	StartItem     ItemKind = "start"
)

// itemID is what the id or the mode of an item looks like: as ids in a profile do.
var itemID = regexp.MustCompile(`^[a-z][a-z0-9-]*$`)

// Of is the item of this kind with that id in the profile.
func (k ItemKind) Of(id string) Item { return Item{Kind: k, ID: id} }

// In is the item in one of its modes; a mode of "" leaves it as it is.
func (i Item) In(mode string) Item {
	if mode != "" {
		i.Mode = mode
	}
	return i
}

// Parse reads what Local writes: "id", or "id.mode" for a check. It fails where a
// kind that is there once is given an id, and where another has none.
func (k ItemKind) Parse(local string) (Item, error) {
	item := Item{Kind: k}
	switch k {
	case CheckItem:
		var modal bool
		item.ID, item.Mode, modal = strings.Cut(local, ".")
		if itemID.MatchString(item.ID) && (!modal || itemID.MatchString(item.Mode)) {
			return item, nil
		}
	case ServiceItem, EventItem, AdjusterItem, QuestionItem, CauseItem, SecondItem:
		if item.ID = local; itemID.MatchString(local) {
			return item, nil
		}
	case NeedsItem, ReportingItem, StartItem:
		if local == "" {
			return item, nil
		}
	default:
		return Item{}, fmt.Errorf("no kind of item is called %q", string(k))
	}
	return Item{}, fmt.Errorf("%q names no item of kind %q", local, string(k))
}

// ParseItem reads what String writes; an empty text is the zero Item. It fails on
// every other text.
func ParseItem(text string) (Item, error) {
	if text == "" {
		return Item{}, nil
	}
	kind, local, cut := strings.Cut(text, ":")
	if cut && local == "" {
		return Item{}, fmt.Errorf("item %q has no id", text)
	}
	return ItemKind(kind).Parse(local)
}

// Local is the item's text without its kind: "id", or "id.mode".
func (i Item) Local() string {
	if i.Mode == "" {
		return i.ID
	}
	return i.ID + "." + i.Mode
}

// String is the item's text.
func (i Item) String() string {
	if i.ID == "" {
		return string(i.Kind)
	}
	return string(i.Kind) + ":" + i.Local()
}

// MarshalText writes what String does, in JSON and as a map's key. It never fails.
func (i Item) MarshalText() ([]byte, error) { return []byte(i.String()), nil }

// UnmarshalText reads what MarshalText writes; its errors are ParseItem's.
func (i *Item) UnmarshalText(text []byte) (err error) {
	*i, err = ParseItem(string(text))
	return err
}

// compareItems puts items into the order of their texts.
func compareItems(a, b Item) int { return strings.Compare(a.String(), b.String()) }

// The keys of what demands a tag: while a tag with a key stands, nothing hangs
// another. They are stored with the tag.

// outsideStopKey is for a check whose reading or inspection stops the machine.
func outsideStopKey(check string) string { return CheckItem.Of(check).String() }

// overdueKey is for a check or a service past its late limit.
func overdueKey(i Item) string { return "overdue:" + i.String() }

// notProvedKey is for a safety check that was not proved within its stop limits in time.
func notProvedKey(check string) string { return "not-proved:" + CheckItem.Of(check).String() }

// movedKey is for a report that moved the surface of a safety check.
func movedKey(report FactNo) string { return fmt.Sprintf("moved:%d", report) }

// dangerKey is for a danger that somebody saw.
func dangerKey(p Problem) string { return "danger:" + p.Key() }

// apartKey is the cause of a tag for a handover of a machine that is apart.
func apartKey(handover FactNo) string { return fmt.Sprintf("apart:%d", handover) }
