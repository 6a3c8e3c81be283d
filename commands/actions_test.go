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
	world := newWorld(t)
	world.marble()
	for _, action := range world.desk.Actions() {
		if action.Waits {
			continue
		}
		for _, arg := range []string{"", "x", "1x", "-1", "1.", "1.x", "1/x", "1/question:/yes",
			"1/cause:pitch/perhaps", "1.1.1.1", "1/screw:a/yes"} {
			r := world.send("wren", "press "+action.Name, "s1:"+action.Name+":"+arg, nil)
			if !r.Refused || r.Headline != "This button is from an earlier version; give the command again." {
				t.Errorf("%s with %q: %q", action.Name, arg, r.Headline)
			}
		}
	}
}

// What waits in the books and cannot be read is our own fault, and is told of.
func TestWhatWaitsIsRead(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	for _, action := range world.desk.Actions() {
		if !action.Waits {
			continue
		}
		err := world.db.Shop(world.shop).Keep(context.Background(),
			domain.Pending{ID: "spoilt-" + action.Name, Action: action.Name, Args: []byte(`[]`),
				Asked: "wren", Made: world.now, Expires: world.now.Add(time.Hour)})
		if err != nil {
			t.Fatal(err)
		}
		var faults []error
		world.desk.Fault = func(_ string, err error) { faults = append(faults, err) }
		if r := world.send("wren", "press "+action.Name, "s1:"+action.Name+":spoilt-"+action.Name,
			nil); !r.Refused || len(faults) != 1 {
			t.Errorf("%s: %q, faults %v", action.Name, r.Headline, faults)
		}
	}
}
