package domain_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	. "setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// startedAs is a planer of which nothing was read, that came on the books so.
func startedAs(t testing.TB, state StartState) Snapshot {
	snap := planer(t)
	snap.Machine.Setup.Start.State = state
	return snap
}

// tick makes the ticks of those numbers in the profile, each a minute after the last.
func tick(snap *Snapshot, numbers ...int) {
	snap.Ticked = map[string]TickedAt{}
	for i, n := range numbers {
		snap.Ticked[snap.Machine.Profile.Start[n].ID] = TickedAt{FactNo(10 + i),
			added.Add(time.Duration(i+1) * time.Minute)}
	}
}

// hang puts the tags on a machine that Assess demands, as the books do.
func hang(snap *Snapshot, at time.Time) Status {
	st := Assess(*snap, at)
	for i, cause := range st.MustTag {
		snap.Tags = append(snap.Tags, Tag{Fact: FactNo(90 + i), At: at, Cause: cause.Key, Reason: cause.Reason})
	}
	return Assess(*snap, at)
}

// How a machine stands by how it came on the books and what was said of it since.
func TestStarts(t *testing.T) {
	all := []int{0, 1, 2, 3, 4, 5}
	later := added.Add(time.Hour)
	for _, test := range []struct {
		name      string
		state     StartState
		change    func(*Snapshot)
		settingUp bool
		unproved  bool
		missing   int
		began     time.Time
	}{
		{"from before that was asked, in tests", "", nil, false, false, 0, time.Time{}},
		{"new", StartNew, nil, true, false, 0, time.Time{}},
		{"new, released", StartNew, func(s *Snapshot) { s.Released = later }, false, false, 0, time.Time{}},
		{"new, all ticked", StartNew, func(s *Snapshot) { tick(s, all...) }, true, false, 0, time.Time{}},
		{"new, of a kind without a serious hazard", StartNew, harmless, false, false, 0, time.Time{}},
		{"in use, nothing ticked", StartInUse, nil, true, false, 6, time.Time{}},
		{"in use, all but one ticked", StartInUse, func(s *Snapshot) { tick(s, 0, 1, 2, 3, 5) }, true, false, 1,
			time.Time{}},
		{"in use, all ticked", StartInUse, func(s *Snapshot) { tick(s, all...) }, false, false, 0,
			added.Add(6 * time.Minute)},
		{"in use, released", StartInUse, func(s *Snapshot) { s.Released = later }, false, false, 0, time.Time{}},
		{"in use, of a kind without a serious hazard", StartInUse, harmless, false, false, 0, added},
		{"on the books before", "", unasked, false, true, 6, time.Time{}},
		{"on the books before, some ticked", "", func(s *Snapshot) { unasked(s); tick(s, 1) }, false, true, 5,
			time.Time{}},
		{"on the books before, all ticked", "", func(s *Snapshot) { unasked(s); tick(s, all...) }, false, false, 0,
			time.Time{}},
		{"on the books before, released", "", func(s *Snapshot) { unasked(s); s.Released = later }, false, false, 0,
			time.Time{}},
		{"on the books before, without a serious hazard", "", func(s *Snapshot) { unasked(s); harmless(s) }, false,
			false, 0, time.Time{}},
		{"moved since", StartNew, func(s *Snapshot) {
			unasked(s)
			s.Released = later
			s.Machine.Setup.Start.At = later
		}, true, false, 0, time.Time{}},
		{"moved since, and released again", StartNew, func(s *Snapshot) {
			s.Machine.Setup.Start.At = later
			s.Released = later.Add(time.Second)
		}, false, false, 0, time.Time{}},
	} {
		snap := startedAs(t, test.state)
		if test.change != nil {
			test.change(&snap)
		}
		st := Assess(snap, later.Add(time.Hour))
		if st.SettingUp != test.settingUp || st.Unproved != test.unproved || len(st.Missing) != test.missing ||
			!st.Began.Equal(test.began) {
			t.Errorf("%s: being set up %v, unproved %v, %d missing, began %v", test.name, st.SettingUp, st.Unproved,
				len(st.Missing), st.Began)
		}
		demanded := slices.Contains(causes(st), "setting-up setting-up")
		if demanded != test.settingUp {
			t.Errorf("%s: the tags demanded are %q", test.name, causes(st))
		}
	}
}

func unasked(s *Snapshot) { s.Unasked = true }

func harmless(s *Snapshot) {
	kind := *s.Machine.Profile
	kind.Harmless, kind.Start = true, nil
	s.Machine.Profile = &kind
}

// A machine that is being set up is out of service whatever else is known of it, until
// all its ticks are made or it is released, and one added as new until it is released.
func TestNothingRunsUnproved(t *testing.T) {
	base := planer(t)
	rapid.Check(t, func(t *rapid.T) {
		snap := base
		snap.Machine.Setup.Start.State = rapid.SampledFrom([]StartState{StartNew, StartInUse}).Draw(t, "state")
		snap.Unasked = rapid.Bool().Draw(t, "unasked")
		snap.Latest = map[string]Latest{}
		for i, check := range snap.Machine.Profile.Checks {
			switch rapid.IntRange(0, 3).Draw(t, check.ID) {
			case 0:
			case 1:
				if check.Inspection {
					inspect(&snap, check.ID, FactNo(i+1), added, true)
				} else {
					read(&snap, check.ID, FactNo(i+1), added, check.Example)
				}
			default:
				if check.Inspection {
					inspect(&snap, check.ID, FactNo(i+1), added, false)
				} else {
					read(&snap, check.ID, FactNo(i+1), added, check.Example.Add(check.Example))
				}
			}
		}
		made := rapid.SliceOfNDistinct(rapid.IntRange(0, len(snap.Machine.Profile.Start)-1), -1, -1,
			rapid.ID[int]).Draw(t, "ticks")
		tick(&snap, made...)
		at := added.Add(time.Duration(rapid.IntRange(0, 200*24).Draw(t, "hours")) * time.Hour)
		if rapid.IntRange(0, 4).Draw(t, "released") == 0 {
			snap.Released = at
		}
		st := hang(&snap, at)
		proved := !snap.Released.IsZero() && snap.Released.After(snap.Machine.Setup.Start.At) ||
			snap.Machine.Setup.Start.State == StartInUse && len(made) == len(snap.Machine.Profile.Start)
		if !proved && !st.OnlySettingUp() {
			t.Fatalf("unproved, its tags are %+v", st.Tags)
		}
		if proved && slices.ContainsFunc(st.Tags, func(tag Tag) bool { return tag.Cause == SettingUpKey }) {
			t.Fatalf("proved, its tags are %+v", st.Tags)
		}
	})
}

// A tick is one that is missing, made once; only the last one of a machine that is being
// set up starts it. That a machine is in use is never simply said of one on the books.
func TestTicksAreAdmitted(t *testing.T) {
	inUse, new, before := startedAs(t, StartInUse), startedAs(t, StartNew), startedAs(t, "")
	unasked(&before)
	tick(&inUse, 0, 1, 2, 3)
	tick(&before, 0, 1, 2, 3, 4)
	for _, test := range []struct {
		snap   Snapshot
		tick   string
		code   Code
		starts bool
	}{
		{inUse, "loose", "", false}, {inUse, "stops", "", false}, {inUse, "guards", TickNotAsked, false},
		{inUse, "brakes", TickNotAsked, false}, {new, "stops", TickNotAsked, false}, {before, "stops", "", false},
		{before, "cord", TickNotAsked, false}, {startedAs(t, ""), "stops", TickNotAsked, false},
	} {
		st, entry := Assess(test.snap, added.Add(time.Hour)), Entry{Body: Ticked{Tick: test.tick}}
		if r := Admit(st, entry); r == nil && test.code != "" || r != nil && r.Code != test.code {
			t.Errorf("tick %s with %v: %v", test.tick, test.snap.Ticked, r)
		}
		if got := Complete(st, entry); got.(Ticked).Starts != test.starts {
			t.Errorf("tick %s with %v: %+v", test.tick, test.snap.Ticked, got)
		}
	}
	tick(&inUse, 0, 1, 2, 3, 4)
	if got := Complete(Assess(inUse, added.Add(time.Hour)), Entry{Body: Ticked{Tick: "stops"}}); !got.(Ticked).Starts {
		t.Errorf("the last tick does not start it: %+v", got)
	}
	for _, test := range []struct {
		from, to StartState
		code     Code
	}{
		{"", StartNew, ""}, {StartNew, StartNew, ""}, {StartInUse, StartNew, ""},
		{"", StartInUse, StartByTicks}, {StartNew, StartInUse, StartByTicks}, {StartNew, "", StartByTicks},
		{StartInUse, "", StartByTicks},
	} {
		snap := startedAs(t, test.from)
		setup := snap.Machine.Setup.WithStart(test.to, added.Add(time.Hour))
		entry := Entry{Body: SetupChanged{Item: Item{Kind: StartItem}, Setup: setup}, Next: &snap.Machine}
		r := Admit(Assess(snap, added.Add(time.Hour)), entry)
		if r == nil && test.code != "" || r != nil && r.Code != test.code {
			t.Errorf("from %q to %q: %v", test.from, test.to, r)
		}
	}
	// What else a set-up says is as free as ever.
	snap := startedAs(t, StartNew)
	if r := Admit(Assess(snap, added), Entry{Body: SetupChanged{Item: Item{Kind: NeedsItem},
		Setup: snap.Machine.Setup.WithNeed(2, true)}, Next: &snap.Machine}); r != nil {
		t.Errorf("a need: %v", r)
	}
}

// What was never done on a machine that came in use already is spread over eight weeks:
// what safety hangs on first, nothing twice at the same place, nothing on the first day;
// what is done falls due by its own rule.
func TestSpread(t *testing.T) {
	snap := startedAs(t, StartInUse)
	tick(&snap, 0, 1, 2, 3, 4, 5)
	began := added.Add(6 * time.Minute)
	st := Assess(snap, began)
	if over := len(st.DueChecks()) + len(st.DueServices()); over != 0 {
		t.Errorf("on the first day %d are due", over)
	}
	days := func(on time.Time) int { return int(on.Sub(added.Truncate(24*time.Hour)).Hours() / 24) }
	var safety, others []int
	ticked := map[string]int{"fingers": 7, "guards": 7, "emergency-stop": 30}
	for _, cs := range st.Checks {
		switch {
		case cs.Check.OnDemand:
			if !cs.Due.On.IsZero() {
				t.Errorf("%s, which only a danger asks for, is due %v", cs.Check.ID, cs.Due.On)
			}
		case ticked[cs.Check.ID] != 0:
			if got := days(cs.Due.On); got != ticked[cs.Check.ID] {
				t.Errorf("%s, as good as made by a tick, is due after %d days", cs.Check.ID, got)
			}
		case cs.Due.On.IsZero():
			t.Errorf("%s never falls due", cs.Check.ID)
		case cs.Check.Class == profile.Safety:
			safety = append(safety, days(cs.Due.On))
		default:
			others = append(others, days(cs.Due.On))
		}
	}
	if slices.Max(safety) > slices.Min(others) {
		t.Errorf("safety checks after %v days, the rest after %v", safety, others)
	}
	if last := slices.Max(others); last != SpreadDays {
		t.Errorf("the last after %d days", last)
	}
	if first := slices.Min(safety); first < 1 {
		t.Errorf("the first after %d days", first)
	}
	perDay := map[int]int{}
	for _, day := range append(safety, others...) {
		perDay[day]++
	}
	for day, n := range perDay { // any order: each is looked at by itself
		if n > 1 {
			t.Errorf("%d fall due after %d days", n, day)
		}
	}
	if got := fmt.Sprint(slices.Sorted(slices.Values(safety))); got != "[3 7 10 14]" {
		t.Errorf("safety checks after %s days", got)
	}
	// Once made it falls due by its own rule, or not at all; the others stay where they are.
	inspect(&snap, "guards", 50, began, true)
	read(&snap, "infeed", 51, began, thou(40))
	after := Assess(snap, began)
	for i, cs := range after.Checks {
		switch cs.Check.ID {
		case "guards":
			if days(cs.Due.On) != 7 || cs.First != nil {
				t.Errorf("guards, looked at, are due after %d days", days(cs.Due.On))
			}
		case "infeed":
			if !cs.Due.On.IsZero() || cs.First != nil {
				t.Errorf("the infeed roller, read, is due %v", cs.Due.On)
			}
		default:
			if cs.Due != st.Checks[i].Due {
				t.Errorf("%s moved from %v to %v", cs.Check.ID, st.Checks[i].Due.On, cs.Due.On)
			}
		}
	}
	// A tag that somebody hangs is released without what waits; what was moved waits no more,
	// and takes the machine out where safety hangs on it.
	tagged := snap
	tagged.Tags = []Tag{{Fact: 70, At: began, By: "ada", Reason: Reason{Code: SaidBySomebody, Text: "hums"}}}
	if got := blockers(Assess(tagged, began.Add(time.Hour))); len(got) != 0 {
		t.Errorf("tagged out, it needs %q", got)
	}
	moved := tagged
	moved.Moved = map[string]Moved{"knives": {At: began.Add(time.Minute), Fact: 71}}
	st = Assess(moved, began.Add(time.Hour))
	if got := causes(st); !slices.Equal(got, []string{"moved:71 moved"}) || st.MustTag[0].Reason.Name == "" {
		t.Errorf("knives moved: %q", causes(st))
	}
	if got := blockers(st); !slices.Contains(got, "knives unread") || !slices.Contains(got, "clamping unread") ||
		slices.Contains(got, "table unread") {
		t.Errorf("knives moved, it needs %q", got)
	}
	moved.Moved["knives"] = Moved{At: moved.Machine.Added.Add(-time.Minute), Fact: 71}
	if got := causes(Assess(moved, began.Add(time.Hour))); len(got) != 0 {
		t.Errorf("moved before it came: %q", got)
	}
	// A safety inspection that is not made takes the machine out as ever, by its late limit.
	late := Assess(snap, time.Date(2026, 4, 1, 7, 45, 0, 0, time.UTC)) // before it opens
	if !slices.Contains(causes(late), "overdue:check:fingers check-overdue") {
		t.Errorf("after 30 days without the fingers: %q", causes(late))
	}
}

// A service by the calendar alone, of a machine that came in use already, falls due at its
// place; the first time that it is done counts, however early it was. One by use, or after
// an event, counts as ever.
func TestSpreadServices(t *testing.T) {
	snap := startedAs(t, StartInUse)
	tick(&snap, 0, 1, 2, 3, 4, 5)
	kind := *snap.Machine.Profile
	hours := quantity.New(50, 1, quantity.Hour)
	kind.Services = []profile.Service{
		{ID: "belts", Class: profile.SafetyService, Every: profile.Rule{Months: 12, EarlyDays: 14, LateDays: 30}},
		{ID: "grease", Class: profile.RoutineService, Every: profile.Rule{Hours: hours, Days: 365}},
		{ID: "trap", Class: profile.SafetyService, Every: profile.Rule{Calendar: "FREQ=MONTHLY;BYDAY=1SA",
			EarlyDays: 3}},
		{ID: "oil", Class: profile.RoutineService, Every: profile.Rule{Hours: hours}},
		{ID: "again", Class: profile.RoutineService, Every: profile.Rule{Days: 90}, After: "belts-changed"}}
	kind.Checks = nil
	snap.Machine.Profile = &kind
	snap.Events["belts-changed"] = LastService{Fact: 40, At: added, Since: snap.Hours}
	now := added.Add(time.Hour)
	at := func(st Status, id string) string {
		sv := st.Service(id)
		return fmt.Sprint(sv.Spread, " ", sv.Due.On.Format("2 Jan"), " ", sv.Due.Left.Valid(), " ", sv.TooEarly)
	}
	for id, want := range map[string]string{ // any order: each is looked at by itself
		"belts": "true 8 Apr false false", "grease": "false 2 Mar true false", "oil": "false 1 Jan true false",
		"trap":  "false 7 Mar false false", // sooner by itself
		"again": "false 31 May false false",
	} {
		if got := at(Assess(snap, now), id); got != want {
			t.Errorf("%s: %s, want %s", id, got, want)
		}
	}
	late := Assess(snap, now).Service("belts").Due.LateOn
	if !late.Equal(time.Date(2026, 5, 8, 0, 0, 0, 0, time.UTC)) {
		t.Errorf("belts are late on %v", late)
	}
	snap.Services["belts"] = LastService{Fact: 60, At: now, Since: snap.Hours}
	snap.Done = map[string][]LastService{"belts": {{Fact: 60, At: now, Since: snap.Hours}}}
	if got := at(Assess(snap, now.Add(time.Hour)), "belts"); got != "false 2 Mar false false" {
		t.Errorf("belts, done: %s", got)
	}
}

// What the channel is owed: nothing when a machine comes to be set up, all as ever when
// something else takes it out, or when one that ran is being set up again.
func TestSettingUpIsQuiet(t *testing.T) {
	keys := func(before, after Status, fact Fact) []string {
		var all []string
		for _, n := range Owed(before, after, &fact) {
			all = append(all, strings.TrimPrefix(n.Key, "m1/")+" "+string(n.Op))
		}
		return all
	}
	snap := startedAs(t, StartNew)
	added0 := hang(&snap, added)
	snap.Outage = 1
	new := Assess(snap, added)
	if got := keys(Status{}, added0, Fact{No: 1, Body: MachineAdded{}}); len(got) != 0 {
		t.Errorf("added: %q", got)
	}
	// Weeks later nothing was done, and nothing is said of it.
	if got := Owed(new, Assess(snap, added.AddDate(0, 3, 0)), nil); len(got) != 0 {
		t.Errorf("after three months: %+v", got)
	}
	// Hours on it warn.
	if got := keys(new, new, Fact{No: 2, Body: Hours{Seconds: 60}}); !slices.Contains(got, "ran/2 post") {
		t.Errorf("hours on it: %q", got)
	}
	// A danger is told as ever.
	snap.Dangers = []Danger{{Fact: 3, At: added, Problem: Problem{Symptom: "smoke", Name: "smoke", Danger: true}}}
	burning := hang(&snap, added.Add(time.Minute))
	if got := keys(new, burning, Fact{No: 3, Body: snap.Dangers[0].Problem}); len(got) < 2 || got[0] != "out/1 post" ||
		got[1] != "out/1/pin pin" {
		t.Errorf("a danger: %q", got)
	}
	// Released it is in service.
	released := snap
	released.Tags, released.Dangers, released.Released = nil, nil, added.Add(time.Hour)
	var back *Notice
	for _, n := range Owed(new, Assess(released, added.Add(time.Hour)), &Fact{No: 4, Body: Release{}}) {
		if n.Topic == TopicBack {
			back = &n
		}
	}
	if back == nil || !back.Args.Begins {
		t.Errorf("released: %+v", back)
	}
	// By its ticks it runs as quietly as it came, but not where it was told that it is out.
	ticked := startedAs(t, StartInUse)
	tick(&ticked, 0, 1, 2, 3, 4)
	hang(&ticked, added)
	ticked.Outage = 1
	before := Assess(ticked, added)
	tick(&ticked, 0, 1, 2, 3, 4, 5)
	ticked.Tags = nil
	for outage, want := range map[int64]bool{1: false, 2: true} { // any order: each is looked at by itself
		ticked.Outage = outage
		got := keys(before, Assess(ticked, added), Fact{No: 6, Body: Ticked{}})
		if slices.Contains(got, fmt.Sprintf("out/%d/back post", outage)) != want {
			t.Errorf("ticked in outage %d: %q", outage, got)
		}
	}
	// One that ran is told of.
	if got := keys(Assess(released, added), new, Fact{No: 5, Body: SetupChanged{}}); len(got) < 2 ||
		got[0] != "out/1 post" {
		t.Errorf("moved: %q", got)
	}
	// One from before is told of once, by a key of its own, and keeps running.
	old := startedAs(t, "")
	unasked(&old)
	for range 2 {
		if got := Owed(Assess(old, added), Assess(old, added), nil); len(got) != 1 || got[0].Key != "m1/unproved" {
			t.Errorf("from before: %+v", got)
		}
	}
}

// A digest says of a machine that is being set up only that, and that once a week.
func TestDigestOfSettingUp(t *testing.T) {
	snap := startedAs(t, StartNew)
	hang(&snap, added)
	at := added.AddDate(0, 1, 0)
	shopwide := Shopwide{Shop: snap.Shop, Machines: []Status{Assess(snap, at)}}
	items, news := Digest(shopwide, at.AddDate(0, 0, -1), at)
	if len(items) != 1 || items[0].Code != DigestSetUp || news {
		t.Errorf("%+v, news %v", items, news)
	}
	week := NoticeArgs{At: at.AddDate(0, 0, -8), Pinged: at.AddDate(0, 0, -8)}
	if n, ok := DigestNotice(shopwide, week, at.AddDate(0, 0, -8), at); !ok || n.Args.Pings {
		t.Errorf("after a week %v, it calls: %v", ok, n.Args.Pings)
	}
	// Of one in use what safety hangs on is said when it is due, the rest in one line.
	inUse := startedAs(t, StartInUse)
	tick(&inUse, 0, 1, 2, 3, 4, 5)
	shopwide.Machines = []Status{Assess(inUse, added.AddDate(0, 0, SpreadDays+1))}
	items, _ = Digest(shopwide, at.AddDate(0, 0, -1), at)
	said := map[DigestCode]int{}
	for _, item := range items {
		said[item.Code]++
		if check := inUse.Machine.Profile.Check("infeed"); item.Name == check.Name {
			t.Errorf("a quality check of its own: %+v", item)
		}
	}
	if said[DigestLong] != 1 || said[DigestLate]+said[DigestDue] != 7 {
		t.Errorf("after eight weeks: %v", said)
	}
}
