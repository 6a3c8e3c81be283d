package commands_test

import (
	"context"
	"testing"
	"time"

	"setscrew/domain"
)

// A button whose custom id holds what no button of ours does is refused, and the
// program's keeper hears nothing of it.
func TestButtonsOfNoUse(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	for _, a := range w.desk.Actions() {
		if a.Waits {
			continue
		}
		for _, arg := range []string{"", "x", "1x", "-1", "1.", "1.x", "1/x", "1/question:/yes",
			"1/cause:pitch/perhaps", "1.1.1.1", "1/screw:a/yes"} {
			r := w.send("wren", "press "+a.Name, "s1:"+a.Name+":"+arg, nil)
			if !r.Refused || r.Headline != "This button is from an earlier version; give the command again." {
				t.Errorf("%s with %q: %q", a.Name, arg, r.Headline)
			}
		}
	}
}

// What waits in the books and cannot be read is our own fault, and is told of.
func TestWhatWaitsIsRead(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	for _, a := range w.desk.Actions() {
		if !a.Waits {
			continue
		}
		err := w.db.Shop(w.shop).Keep(context.Background(),
			domain.Pending{ID: "spoilt-" + a.Name, Action: a.Name, Args: []byte(`[]`),
				Asked: "wren", Made: w.now, Expires: w.now.Add(time.Hour)})
		if err != nil {
			t.Fatal(err)
		}
		var faults []error
		w.desk.Fault = func(_ string, err error) { faults = append(faults, err) }
		if r := w.send("wren", "press "+a.Name, "s1:"+a.Name+":spoilt-"+a.Name, nil); !r.Refused || len(faults) != 1 {
			t.Errorf("%s: %q, faults %v", a.Name, r.Headline, faults)
		}
	}
}
