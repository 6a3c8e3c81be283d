package domain_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	. "setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/upkeep"
)

// clock is a moment of March 2026, or of the days after it, in UTC.
func clock(day, hour, minute int) time.Time {
	return time.Date(2026, 3, day, hour, minute, 0, 0, time.UTC)
}

// hoursFrom are opening hours.
func hoursFrom(from, until upkeep.TimeOfDay) OpenHours { return OpenHours{From: from, Until: until} }

// When a shop is open, and when a machine that is overdue from a moment on is taken out
// of service. The second of March 2026 is a Monday.
func TestOpenHours(t *testing.T) {
	weekdays := []time.Weekday{1, 2, 3, 4, 5}
	late := hoursFrom(upkeep.Clock(18, 0), upkeep.Clock(2, 0))
	for _, test := range []struct {
		name       string
		shop       Shop
		at         time.Time
		open       bool
		tags, then time.Time
	}{
		{"usual hours, at night", Shop{}, clock(2, 0, 0), false, clock(2, 7, 30), clock(2, 8, 0)},
		{"just before it opens", Shop{}, clock(2, 8, 0).Add(-1), false, clock(2, 7, 30), clock(2, 8, 0)},
		{"as it opens", Shop{}, clock(2, 8, 0), true, clock(3, 7, 30), clock(3, 8, 0)},
		{"just before it closes", Shop{}, clock(2, 22, 0).Add(-1), true, clock(3, 7, 30), clock(3, 8, 0)},
		{"as it closes", Shop{}, clock(2, 22, 0), false, clock(3, 7, 30), clock(3, 8, 0)},
		{"over a weekend", Shop{Open: weekdays}, clock(6, 23, 0), false, clock(9, 7, 30), clock(9, 8, 0)},
		{"on a closed day at noon", Shop{Open: weekdays}, clock(7, 12, 0), false, clock(9, 7, 30), clock(9, 8, 0)},
		{"through a closure", Shop{Closed: []upkeep.Closure{{First: "2026-03-03", Last: "2026-03-09"}}},
			clock(2, 23, 0), false, clock(10, 7, 30), clock(10, 8, 0)},
		{"past midnight it is open still", Shop{Hours: late}, clock(3, 1, 0), true, clock(3, 17, 30), clock(3, 18, 0)},
		{"after that it is not", Shop{Hours: late}, clock(3, 2, 0), false, clock(3, 17, 30), clock(3, 18, 0)},
		{"past midnight into a closed day", Shop{Hours: late, Open: weekdays}, clock(7, 1, 0), true,
			clock(9, 17, 30), clock(9, 18, 0)},
		{"a short night", Shop{Hours: hoursFrom(upkeep.Clock(6, 0), upkeep.Clock(5, 50))}, clock(3, 5, 55), false,
			clock(3, 5, 50), clock(3, 6, 0)},
		{"its first day after a closure", Shop{Hours: hoursFrom(upkeep.Clock(0, 30), upkeep.Clock(5, 0)),
			Closed: []upkeep.Closure{{First: "2026-03-02", Last: "2026-03-02"}}}, clock(2, 12, 0), false,
			clock(3, 0, 0), clock(3, 0, 30)},
		{"never again", Shop{Closed: []upkeep.Closure{{First: "2026-01-01", Last: "2099-01-01"}}}, clock(2, 12, 0),
			false, time.Time{}, time.Time{}},
	} {
		if got := test.shop.OpenAt(test.at); got != test.open {
			t.Errorf("%s: open %t", test.name, got)
		}
		if tags, then := test.shop.NextTagging(test.at); !tags.Equal(test.tags) || !then.Equal(test.then) {
			t.Errorf("%s: tagged at %v, opens at %v", test.name, tags, then)
		}
	}
	for _, wrong := range []struct {
		hours OpenHours
		good  bool
	}{
		{UsualHours, true}, {late, true}, {hoursFrom(upkeep.Clock(0, 30), upkeep.Clock(0, 29)), true},
		{hoursFrom(upkeep.Clock(0, 29), upkeep.Clock(20, 0)), false},
		{hoursFrom(upkeep.Clock(9, 0), upkeep.Clock(9, 0)), false}, {OpenHours{}, false},
	} {
		if got := wrong.hours.Good(); got != wrong.good {
			t.Errorf("hours %v: good %t", wrong.hours, got)
		}
	}
}

// drawnShop is a shop with hours, open days and closures of any sort.
func drawnShop(t *rapid.T) Shop {
	shop := NewShop("shop")
	shop.Zone = rapid.SampledFrom([]string{"UTC", "Europe/Berlin", "Pacific/Auckland",
		"America/New_York"}).Draw(t, "zone")
	if rapid.Bool().Draw(t, "has hours") {
		shop.Hours = OpenHours{From: upkeep.TimeOfDay(rapid.IntRange(30, 1439).Draw(t, "from")),
			Until: upkeep.TimeOfDay(rapid.IntRange(0, 1439).Draw(t, "until"))}
		if !shop.Hours.Good() {
			shop.Hours = OpenHours{}
		}
	}
	for day := range 7 {
		if rapid.Bool().Draw(t, time.Weekday(day).String()) {
			shop.Open = append(shop.Open, time.Weekday(day))
		}
	}
	for range rapid.IntRange(0, 3).Draw(t, "closures") {
		first := added.AddDate(0, 0, rapid.IntRange(0, 60).Draw(t, "closed from"))
		shop.Closed = append(shop.Closed, upkeep.Closure{First: first.Format(time.DateOnly),
			Last: first.AddDate(0, 0, rapid.IntRange(0, 14).Draw(t, "closed for")).Format(time.DateOnly)})
	}
	return shop
}

// Nothing that is overdue takes a machine out of service while the shop is open, on a
// day on which it is closed, or more than half an hour before it opens; whenever it is
// judged, by the sweep or by a report.
func TestNothingOverdueTagsWhileOpen(t *testing.T) {
	t.Parallel()
	tagged := 0
	rapid.Check(t, func(t *rapid.T) {
		snap := bench()
		snap.Shop = drawnShop(t)
		snap.Hours = hours(rapid.Int64Range(0, 60).Draw(t, "hours"))
		now := added.Add(time.Duration(rapid.Int64Range(0, 80*24*60).Draw(t, "now")) * time.Minute)
		if rapid.Bool().Draw(t, "swept") { // often the very moment to judge at
			snap.Hours = hours(0)
			st := Assess(snap, added)
			for len(st.MustTag) == 0 && !st.Wake.IsZero() && st.Wake.Before(now) {
				st = Assess(snap, st.Wake)
			}
			now = st.At
		}
		for _, cause := range Assess(snap, now).MustTag {
			if !strings.HasPrefix(cause.Key, "overdue:") {
				continue
			}
			tagged++
			opens := snap.Shop.OpenAt(now.Add(BeforeOpening))
			if snap.Shop.OpenAt(now) || !snap.Shop.Calendar().IsOpen(now) || !opens &&
				shortest(snap.Shop) > BeforeOpening {
				t.Fatalf("%s at %v, when the shop is open: %t, that day: %t, half an hour later: %t", cause.Key, now,
					snap.Shop.OpenAt(now), snap.Shop.Calendar().IsOpen(now), opens)
			}
		}
	})
	if tagged == 0 {
		t.Error("nothing was ever overdue")
	}
}

// shortest is for how long a shop with those hours is open.
func shortest(s Shop) time.Duration {
	if s.Hours == (OpenHours{}) {
		return 24 * time.Hour
	}
	return time.Duration((int(s.Hours.Until-s.Hours.From)+24*60)%(24*60)) * time.Minute
}

// From wake to wake what is overdue does take the machine out of service: before the
// shop opens for the first time at which it is past its late limit.
func TestOverdueTagsBeforeTheFirstOpening(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		snap := bench()
		snap.Shop = drawnShop(t)
		late := Assess(snap, added).Check("guard").Due.LateOn
		_, opens := snap.Shop.NextTagging(late)
		st := Assess(snap, added)
		for len(st.MustTag) == 0 {
			if st.Wake.IsZero() || !st.Wake.Before(opens) {
				t.Fatalf("the guard is late on %v, the shop opens at %v, and nothing is tagged; wakes at %v", late,
					opens, st.Wake)
			}
			st = Assess(snap, st.Wake)
		}
		if st.At.Before(late) || !st.At.Equal(st.Check("guard").TagsAt) {
			t.Fatalf("tagged at %v, foretold for %v, late on %v", st.At, st.Check("guard").TagsAt, late)
		}
	})
}

// What is missed in the half hour before an opening is done before the next one.
func TestMissedTagging(t *testing.T) {
	snap := bench()
	for _, test := range []struct {
		now  time.Time
		tags bool
		wake time.Time
	}{
		{clock(12, 7, 29), false, clock(12, 7, 30)}, {clock(12, 7, 59), true, time.Time{}},
		{clock(12, 9, 0), false, clock(12, 7, 30)}, {clock(12, 23, 0), false, clock(13, 7, 30)},
		{clock(13, 7, 45), true, time.Time{}},
	} {
		st := Assess(snap, test.now)
		if got := len(st.MustTag) > 0; got != test.tags {
			t.Errorf("at %v: %v", test.now, causes(st))
		}
		if at := st.Check("guard").TagsAt; !test.tags && !at.Equal(test.wake) &&
			!(test.now.Hour() == 9 && at.Equal(clock(13, 7, 30))) {
			t.Errorf("at %v: foretold for %v", test.now, at)
		}
	}
	// Of a machine that is out of service for it already nothing is foretold.
	snap.Tags = []Tag{{Fact: 20, Cause: "overdue:check:guard"}}
	if st := Assess(snap, clock(13, 7, 45)); !st.Check("guard").TagsAt.IsZero() || len(st.MustTag) != 0 {
		t.Errorf("tagged: foretold for %v, %v", st.Check("guard").TagsAt, causes(st))
	}
	// All that is overdue is named by one tag-out.
	all := bench()
	all.Machine.Profile.Check("cover").Class = profile.Safety
	all.Machine.Profile.Check("cover").Every = &profile.Rule{Days: 7, LateDays: 3}
	if d := cmp.Diff([]string{"overdue:check:guard check-overdue", "overdue:check:cover check-overdue"},
		causes(Assess(all, clock(12, 7, 30)))); d != "" {
		t.Errorf("two at once (-want +got):\n%s", d)
	}
}

// A machine is warned of 7, 3 and 1 days before, in one notice for all that will take it
// out of service, and not before it is time to speak of it; a report edits it.
func TestWarnings(t *testing.T) {
	set := func(s *Snapshot, days, late int) {
		s.Machine.Profile.Services = nil
		s.Machine.Profile.Check("guard").Every = &profile.Rule{Days: days, LateDays: late}
		s.Machine.Profile.Check("cover").Class = profile.Safety
		s.Machine.Profile.Check("cover").Every = &profile.Rule{Days: days, LateDays: late + 2}
	}
	for _, test := range []struct {
		name       string
		days, late int
		want       []string
	}{
		{"a month", 30, 10, []string{ // the guard goes out on the 40th day, the cover on the 42nd
			"04-04 guard", "04-06 guard cover", "04-08 guard cover", "04-10 guard cover"}},
		{"a week", 7, 3, []string{"03-09 guard", "03-11 guard cover"}},
	} {
		s := bench()
		set(&s, test.days, test.late)
		var got []string
		owed := map[string]bool{} // as an outbox takes each key once
		for st := Assess(s, added); len(st.MustTag) == 0; st = Assess(s, st.Wake) {
			for _, notice := range Owed(st, st, nil) {
				if notice.Topic != TopicWarned || owed[notice.Key] {
					continue
				}
				owed[notice.Key] = true
				line := notice.Args.At.Format("01-02")
				for _, item := range notice.Args.Warned {
					line += " " + item.Item.ID
				}
				got = append(got, line)
			}
		}
		if d := cmp.Diff(test.want, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
	// What is done is taken from the notice, and when nothing is left it says so.
	snap := bench()
	set(&snap, 30, 10)
	before := Assess(snap, clock(41, 12, 0)) // the tenth of April
	inspect(&snap, "guard", 20, clock(41, 12, 0), true)
	one := Assess(snap, clock(41, 12, 0))
	inspect(&snap, "cover", 21, clock(41, 12, 0), true)
	none := Assess(snap, clock(41, 12, 0))
	for _, told := range []struct {
		before, after Status
		fact          *Fact
		want          string
	}{
		{before, one, &Fact{No: 20, Body: Inspection{}},
			"edit m1/warn/2026-04-10/edit/20 cover, post m1/warn/2026-04-10 cover"},
		{one, none, &Fact{No: 21, Body: Inspection{}}, "edit m1/warn/2026-04-10/edit/21"},
		{before, before, &Fact{No: 22, Body: Hours{}}, "post m1/warn/2026-04-10 guard cover"},
		{before, before, nil, "post m1/warn/2026-04-10 guard cover"},
	} {
		var lines []string
		for _, warned := range Owed(told.before, told.after, told.fact) {
			if warned.Topic != TopicWarned {
				continue
			}
			line := fmt.Sprintf("%s %s", warned.Op, warned.Key)
			for _, item := range warned.Args.Warned {
				line += " " + item.Item.ID
			}
			if warned.Op == Edit && warned.Target != "m1/warn/2026-04-10" {
				t.Errorf("edits %q", warned.Target)
			}
			lines = append(lines, line)
		}
		if got := strings.Join(lines, ", "); got != told.want {
			t.Errorf("%q, want %q", got, told.want)
		}
	}
	// Nothing is warned of on a machine that is out of service.
	snap = bench()
	snap.Tags = []Tag{{Fact: 20}}
	if st := Assess(snap, clock(11, 12, 0)); st.Warned != nil {
		t.Errorf("tagged out: %+v", st.Warned)
	}
}

// An inspection is extended once, by a quarter of its interval at most, on the strength
// of its last pass, and not past an authority's date.
func TestExtended(t *testing.T) {
	monthly := func(s *Snapshot) {
		s.Machine.Profile.Check("guard").Every = &profile.Rule{Days: 30, LateDays: 10}
	}
	before := ExtendedBy{Fact: 20, At: onDay(20), By: "wren", Extended: Extended{Check: "guard", Days: 5, Why: "x"}}
	for _, test := range []struct {
		name string
		set  func(*Snapshot)
		body Extended
		want *Refusal
	}{
		{"a quarter", nothing, Extended{"guard", 7, "x"}, nil},
		{"one day more", nothing, Extended{"guard", 8, "x"}, &Refusal{Code: ExtendedTooFar, Name: "the guard", N: 7}},
		{"no day", nothing, Extended{"guard", 0, "x"}, &Refusal{Code: ExtendedTooFar, Name: "the guard", N: 7}},
		{"back", nothing, Extended{"guard", -1, "x"}, &Refusal{Code: ExtendedTooFar, Name: "the guard", N: 7}},
		{"every other day: a quarter is no day", func(s *Snapshot) {
			s.Machine.Profile.Check("guard").Every = &profile.Rule{Days: 3, LateDays: 3}
		}, Extended{"guard", 1, "x"}, &Refusal{Code: NotExtended, Name: "the guard"}},
		{"a year", func(s *Snapshot) {
			s.Machine.Profile.Check("guard").Every = &profile.Rule{Months: 12, LateDays: 3}
		}, Extended{"guard", 91, "x"}, nil},
		{"again", func(s *Snapshot) { s.Extended = map[string]ExtendedBy{"guard": before} }, Extended{"guard", 1, "x"},
			&Refusal{Code: ExtendedBefore, Name: "the guard", Fact: 20}},
		{"again, made since", func(s *Snapshot) {
			s.Extended = map[string]ExtendedBy{"guard": before}
			inspect(s, "guard", 21, onDay(21), true)
		}, Extended{"guard", 1, "x"}, nil},
		{"it failed", func(s *Snapshot) { inspect(s, "guard", 20, added, false) }, Extended{"guard", 1, "x"},
			&Refusal{Code: NotPassed, Name: "the guard"}},
		{"never made", func(s *Snapshot) { delete(s.Latest, "guard") }, Extended{"guard", 1, "x"},
			&Refusal{Code: NotPassed, Name: "the guard"}},
		{"moved since", func(s *Snapshot) { s.Moved["guard"] = Moved{At: onDay(1), Fact: 20} },
			Extended{"guard", 1, "x"}, &Refusal{Code: NotPassed, Name: "the guard"}},
		{"an authority's date", func(s *Snapshot) { s.Machine.Profile.Check("guard").Authority = true },
			Extended{"guard", 1, "x"}, &Refusal{Code: AuthorityDate, Name: "the guard"}},
		{"it takes nothing out of service", nothing, Extended{"cover", 1, "x"},
			&Refusal{Code: NotExtended, Name: "the cover"}},
		{"a measurement", nothing, Extended{"blade", 1, "x"}, &Refusal{Code: NotExtended, Name: "the blade"}},
		{"what is not there", nothing, Extended{"wing", 1, "x"}, &Refusal{Code: NotExtended, Name: "wing"}},
	} {
		s := bench()
		monthly(&s)
		test.set(&s)
		if d := cmp.Diff(test.want, Admit(Assess(s, onDay(30)), Entry{Body: test.body})); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
	// It moves the late limit and what follows from it, and falls away once it is made.
	snap := bench()
	monthly(&snap)
	snap.Extended = map[string]ExtendedBy{"guard": before}
	st := Assess(snap, onDay(30))
	if g := st.Check("guard"); !g.Due.LateOn.Equal(clock(2+45, 0, 0)) || !g.TagsAt.Equal(clock(2+45, 7, 30)) ||
		g.Extended == nil || g.Due.State != upkeep.DueNow || !g.Due.On.Equal(clock(2+30, 0, 0)) {
		t.Errorf("extended: %+v, tags at %v", g.Due, g.TagsAt)
	}
	if w := Assess(snap, clock(2+44, 12, 0)).Warned; w == nil || w.Items[0].Extends != 0 {
		t.Errorf("extended, a day before: %+v", w)
	}
	delete(snap.Extended, "guard")
	if w := Assess(snap, clock(2+39, 12, 0)).Warned; w == nil || w.Items[0].Extends != 7 {
		t.Errorf("not extended, a day before: %+v", w)
	}
	// What was warned of is edited, and said again by the new date alone.
	snap.Machine.Profile.Services, snap.Machine.Profile.Check("cover").Every = nil, nil
	snap.Tags = nil
	warnedAt := Assess(snap, clock(2+38, 12, 0))
	late := before
	late.At = clock(2+38, 12, 0)
	snap.Extended = map[string]ExtendedBy{"guard": late}
	after := Assess(snap, clock(2+38, 12, 0))
	var ops []string
	for _, n := range Owed(warnedAt, after, &Fact{No: 20, Body: Extended{}}) {
		if n.Topic == TopicWarned {
			ops = append(ops, fmt.Sprintf("%s %s %s", n.Op, n.Key, n.Args.Warned[0].TagsAt.Format("01-02")))
		}
	}
	if d := cmp.Diff([]string{"edit m1/warn/2026-04-08/edit/20 04-16", "post m1/warn/2026-04-08 04-16"}, ops); d != "" {
		t.Errorf("extended two days before (-want +got):\n%s", d)
	}
	if next := Assess(snap, clock(2+38, 12, 0)).Wake; !next.Equal(clock(2+42, 7, 30)) {
		t.Errorf("warned again at %v", next)
	}
	inspect(&snap, "guard", 21, onDay(21), true)
	snap.Extended = map[string]ExtendedBy{"guard": before}
	if g := Assess(snap, onDay(30)).Check("guard"); g.Extended != nil || !g.Due.LateOn.Equal(clock(2+21+40, 0, 0)) {
		t.Errorf("made since: %+v", g.Due)
	}
}

// What is made before each use never falls due, never takes a machine out of service,
// and gets no interval.
func TestEachUse(t *testing.T) {
	snap := bench()
	guard := snap.Machine.Profile.Check("guard")
	guard.EachUse, guard.Every = true, nil
	for _, day := range []int{0, 30, 3000} {
		st := Assess(snap, onDay(day).Add(-time.Minute))
		if g := st.Check("guard"); g.Due.State != upkeep.NotDue || !g.TagsAt.IsZero() || len(st.MustTag) != 0 &&
			day < 50 {
			t.Errorf("on day %d: %+v, %v", day, g.Due, causes(st))
		}
	}
	if got := BadInterval(snap.Machine.Profile, CheckItem.Of("guard"), &Interval{Days: 7}); got != "each-use" {
		t.Errorf("an interval of its own: %q", got)
	}
	items, _ := Digest(Shopwide{Shop: snap.Shop, Machines: []Status{Assess(snap, onDay(400))}}, added, onDay(400))
	for _, item := range items {
		if item.Name == "the guard" {
			t.Errorf("the digest says %+v", item)
		}
	}
	inspect(&snap, "guard", 20, onDay(1), false)
	if st := Assess(snap, onDay(1)); len(st.MustTag) != 1 || st.MustTag[0].Key != "check:guard" {
		t.Errorf("failed: %v", causes(st))
	}
}
