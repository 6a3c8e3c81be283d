package domain

import (
	"fmt"
	"slices"
)

// PhotoWanted is a photo that is still to be fetched, by the notice that carries it.
type PhotoWanted struct {
	Shop ShopID
	Key  string
	URL  string
}

// PhotoOf is the photo that a report came with, nil for none.
func PhotoOf(body Body) *Photo {
	switch body := body.(type) {
	case Problem:
		return body.Photo
	case TagOut:
		return body.Photo
	case Reading:
		return body.Photo
	case Inspection:
		return body.Photo
	}
	return nil
}

// photo owes a report's photo in a message of its own, unless it stands in another that
// is owed: what is urgent waits for none, and an edit brings none.
func (o *owed) photo(fact Fact) {
	photo := PhotoOf(fact.Body)
	if photo == nil || slices.ContainsFunc(o.list, func(n Notice) bool { return n.Args.Photo != nil }) {
		return
	}
	args := o.args
	args.Fact, args.Name, args.Photo, args.Now = fact.No, Described(fact.Body), photo, StopsMachine(fact.Body)
	switch body := fact.Body.(type) {
	case Reading:
		args.Name = o.checkName(body.Check)
	case Inspection:
		args.Name = o.checkName(body.Check)
	}
	o.post(fmt.Sprintf("photo/%d", fact.No), TopicPhoto, args)
}

// checkName is a check's name in the machine's profile, or its id.
func (o *owed) checkName(id string) string {
	if check := o.after.Check(id); check != nil {
		return check.Check.Name
	}
	return id
}
