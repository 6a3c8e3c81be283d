package commands_test

import (
	"strings"
	"testing"
	"time"
)

// A time that may be one of several is asked with a button each; one that cannot be taken is
// refused in the words of what was typed, with an example that keeps what was right.
func TestTimesThatAreTyped(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.pass(48 * time.Hour)
	for _, test := range []struct{ when, want string }{
		{"30 feb 18:00", "“30 feb” is no date of the calendar."},
		{"30 feb 18:00", `when:"yesterday 18:00"`},
		{"yesterday 25:00", "“25:00” is no time that a clock shows."},
		{"last week", "“last week” does not say which day."},
		{"soon", "“soon” is not a time that can be read"},
		{"2030-01-01", "has not come yet"},
	} {
		reply := w.as("ada", "hours", "machine=Marble", "hours=1", "when="+test.when)
		if got := w.show(reply); !reply.Refused || !strings.Contains(got, test.want) {
			t.Errorf("%s:\n%s\nwant %q", test.when, got, test.want)
		}
	}
	reply := w.as("ada", "hours", "machine=Marble", "hours=1", "when=yesterday 5:30")
	if got := w.show(reply); !reply.Refused || !strings.Contains(got, "which is meant?") || len(reply.Buttons) != 2 {
		t.Fatalf("either half of the day:\n%s", got)
	}
	if reply := w.press("ada", reply.Buttons[1].Label); reply.Refused {
		t.Errorf("one of the two was pressed:\n%s", w.show(reply))
	}
	for hours, want := range map[string]string{"about 2": "roughly so", "3 or 4 hours": "which value is meant?",
		"a few hours": "says no number of hours"} {
		if got := w.show(w.as("ada", "hours", "machine=Marble", "hours="+hours)); !strings.Contains(got, want) {
			t.Errorf("%s:\n%s\nwant %q", hours, got, want)
		}
	}
	got := w.show(w.as("ada", "typein", "machine=Marble", "lines=yesterday 7, 1 h"))
	if !strings.Contains(got, "“yesterday 7” could be either") {
		t.Errorf("a line that may be of either half of the day:\n%s", got)
	}
}

// A shop says in which order it writes dates; settings take times as people write them, and ask where
// half of the day was left out.
func TestTimesOfAShop(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	if got := w.show(w.as("owner", "shop settings", "dates=month first", "digest=9am",
		"quiet=10pm-7am")); !strings.Contains(got, "month first") || !strings.Contains(got, "22:00-07:00") {
		t.Errorf("set:\n%s", got)
	}
	if got := w.show(w.as("owner", "shop settings", "digest=early")); !strings.Contains(got, "is not a time of day") {
		t.Errorf("no time:\n%s", got)
	}
	reply := w.as("owner", "shop settings", "digest=9")
	if len(reply.Buttons) != 2 || !strings.Contains(w.show(reply), "which is meant?") {
		t.Fatalf("asked:\n%s", w.show(reply))
	}
	if got := w.show(w.press("owner", "21:00")); !strings.Contains(got, "21:00") {
		t.Errorf("answered:\n%s", got)
	}
}
