package upkeep_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	. "setscrew/domain/upkeep"
	"setscrew/testdata"
)

func TestParseTimeOfDay(t *testing.T) {
	for in, want := range map[string]TimeOfDay{"00:00": 0, "0:00": 0, "00:01": 1, "01:00": 60, "9:05": 545,
		"09:05": 545, "18:00": 1080, "23:59": 1439} {
		if got, err := ParseTimeOfDay(in); err != nil || got != want {
			t.Errorf("%q: %d, %v; want %d", in, got, err, want)
		}
	}
	for _, in := range []string{"", "6", "18:0", "18:000", "24:00", "23:60", "-1:00", "018:00", "18:00:0", "6:30",
		":30", "18:00 19:00", "today 18:00"} {
		if got, err := ParseTimeOfDay(in); err == nil || got != 0 || !strings.Contains(err.Error(), `such as "18:00"`) {
			t.Errorf("%q: %v, %v", in, got, err)
		}
	}
}

// A time of day prints as it is typed, is stored as its minutes, and comes round
// after a day.
func TestTimeOfDay(t *testing.T) {
	for at, want := range map[TimeOfDay]string{0: "00:00", 59: "00:59", 60: "01:00", 545: "09:05", 1439: "23:59",
		Clock(18, 30): "18:30"} {
		if at.String() != want {
			t.Errorf("%d minutes are %s, want %s", int(at), at, want)
		}
	}
	for _, test := range []struct {
		at      string
		minutes int
		want    string
	}{{"18:00", 180, "21:00"}, {"23:00", 60, "00:00"}, {"23:00", 59, "23:59"}, {"00:30", -60, "23:30"},
		{"12:00", 2 * 1440, "12:00"}, {"12:00", -3*1440 - 1, "11:59"}} {
		at, err := ParseTimeOfDay(test.at)
		if got := at.Later(test.minutes); err != nil || got.String() != test.want {
			t.Errorf("%d minutes after %s: %v, %v; want %s", test.minutes, test.at, got, err, test.want)
		}
	}
	text, err := json.Marshal(struct{ From TimeOfDay }{1080})
	if err != nil || string(text) != `{"From":1080}` {
		t.Errorf("stored as %s, %v", text, err)
	}
	var back struct{ From TimeOfDay }
	if err := json.Unmarshal([]byte(`{"From":1080}`), &back); err != nil || back.From != Clock(18, 0) {
		t.Errorf("read back as %v, %v", back.From, err)
	}
	loc := zone(t, "Europe/Berlin")
	rapid.Check(t, func(t *rapid.T) {
		at := TimeOfDay(rapid.IntRange(0, 1439).Draw(t, "minutes"))
		if got, err := ParseTimeOfDay(at.String()); err != nil || got != at {
			t.Fatalf("%s is read as %v, %v", at, got, err)
		}
		// On a day without a change of the clocks it is the moment that shows it.
		moment := at.On(2026, time.July, 10, loc)
		if moment.Format("2006-01-02 15:04:05") != "2026-07-10 "+at.String()+":00" ||
			TimeOfDayAt(moment.Add(59*time.Second), loc) != at {
			t.Fatalf("%s on 10 July is %v", at, moment)
		}
	})
}

// Published changes of the clocks: a time that is skipped is as far after the
// change as it stands after the start of the gap, and of one that comes twice the
// first counts; the days before and after are as usual.
func TestPublishedTimeOfDayAtChanges(t *testing.T) {
	for _, row := range testdata.Published(t, "tz_transitions.csv") {
		t.Run(row["id"], func(t *testing.T) {
			loc := zone(t, row["zone"])
			change, err := time.Parse(time.RFC3339, row["instant_utc"])
			if err != nil {
				t.Fatal(err)
			}
			before, after := offset(t, row["offset_before"]), offset(t, row["offset_after"])
			// What the old clocks show at the change, and half an hour on.
			shown := change.Add(before).UTC()
			at, half := TimeOfDayAt(shown, time.UTC), TimeOfDayAt(shown.Add(30*time.Minute), time.UTC)
			year, month, date := shown.Date()
			if after > before { // skipped
				if got := at.On(year, month, date, loc); !got.Equal(change) {
					t.Errorf("%s on %s: %v, want the change, %v", at, row["id"], got.UTC(), change)
				}
				if got := half.On(year, month, date, loc); !got.Equal(change.Add(30 * time.Minute)) {
					t.Errorf("%s: %v, want half an hour after the change", half, got.UTC())
				}
			} else { // half an hour before the change, and half an hour after it
				twice := TimeOfDayAt(shown.Add(-30*time.Minute), time.UTC)
				if got := twice.On(year, month, date, loc); !got.Equal(change.Add(-30 * time.Minute)) {
					t.Errorf("%s comes twice: %v, want half an hour before the change", twice, got.UTC())
				}
			}
			for _, day := range []int{-1, 1} {
				got := half.On(year, month, date+day, loc)
				wall := time.Date(year, month, date+day, int(half)/60, int(half)%60, 0, 0, time.UTC)
				want := wall.Add(-map[int]time.Duration{-1: before, 1: after}[day])
				if !got.Equal(want) {
					t.Errorf("%d day: %v, want %v", day, got.UTC(), want)
				}
			}
		})
	}
}

func FuzzParseTimeOfDay(f *testing.F) {
	for _, s := range []string{"18:00", "9:05", "24:00", "", "9:5", "1 2:30", "0:09", "00:09"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		at, err := ParseTimeOfDay(text)
		if err != nil {
			if at != 0 {
				t.Fatalf("%q: %v with %v", text, at, err)
			}
			return
		}
		if at < 0 || at > 1439 {
			t.Fatalf("%q is %d minutes", text, int(at))
		}
		if again, err := ParseTimeOfDay(at.String()); err != nil || again != at {
			t.Fatalf("%q is %s, read back as %v, %v", text, at, again, err)
		}
	})
}
