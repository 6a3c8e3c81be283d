package domain_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	. "setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// Each change of a set-up gives a new one, one revision on, and leaves the old one as
// it was, whether it held anything before or not.
func TestSetupChanges(t *testing.T) {
	interval := &Interval{Days: 5}
	own := &CheckValues{Target: thou(1)}
	full := func() Setup {
		return Setup{Kind: "bench", Rev: 4, Second: map[string]bool{"cover": true}, Needs: []MachineID{2, 3}, Like: 9,
			Intervals: map[Item]Interval{item("service:oil"): {Days: 9}},
			Confirmed: map[Item]Confirmation{item("check:gap"): {By: "ada", At: added}},
			Values:    map[string]CheckValues{"gap": {Target: thou(200)}}}
	}
	rev := func(change func(*Setup)) Setup { s := full(); s.Rev = 5; change(&s); return s }
	for _, test := range []struct {
		name string
		do   func(Setup) Setup
		want Setup // of the full one
		bare Setup // of an empty one
	}{
		{"a second person wanted", func(s Setup) Setup { return s.WithSecond("guard", true) },
			rev(func(s *Setup) { s.Second["guard"] = true }), Setup{Rev: 1, Second: map[string]bool{"guard": true}}},
		{"and no longer", func(s Setup) Setup { return s.WithSecond("cover", false) },
			rev(func(s *Setup) { s.Second["cover"] = false }),
			Setup{Rev: 1, Second: map[string]bool{"cover": false}}},
		{"another machine needed", func(s Setup) Setup { return s.WithNeed(4, true) },
			rev(func(s *Setup) { s.Needs = []MachineID{2, 3, 4} }), Setup{Rev: 1, Needs: []MachineID{4}}},
		{"one needed already", func(s Setup) Setup { return s.WithNeed(2, true) },
			rev(func(s *Setup) { s.Needs = []MachineID{3, 2} }), Setup{Rev: 1, Needs: []MachineID{2}}},
		{"one no longer needed", func(s Setup) Setup { return s.WithNeed(2, false) },
			rev(func(s *Setup) { s.Needs = []MachineID{3} }), Setup{Rev: 1}},
		{"like another", func(s Setup) Setup { return s.WithLike(7) }, rev(func(s *Setup) { s.Like = 7 }),
			Setup{Rev: 1, Like: 7}},
		{"like none", func(s Setup) Setup { return s.WithLike(0) }, rev(func(s *Setup) { s.Like = 0 }),
			Setup{Rev: 1}},
		{"an interval", func(s Setup) Setup { return s.WithInterval(item("service:tidy"), interval) },
			rev(func(s *Setup) { s.Intervals[item("service:tidy")] = *interval }),
			Setup{Rev: 1, Intervals: map[Item]Interval{item("service:tidy"): *interval}}},
		{"another interval", func(s Setup) Setup { return s.WithInterval(item("service:oil"), interval) },
			rev(func(s *Setup) { s.Intervals[item("service:oil")] = *interval }),
			Setup{Rev: 1, Intervals: map[Item]Interval{item("service:oil"): *interval}}},
		{"the profile's interval again", func(s Setup) Setup { return s.WithInterval(item("service:oil"), nil) },
			rev(func(s *Setup) { s.Intervals = map[Item]Interval{} }),
			Setup{Rev: 1, Intervals: map[Item]Interval{}}},
		{"a value confirmed", func(s Setup) Setup { return s.With(item("check:bed"), "bo", onDay(1), nil) },
			rev(func(s *Setup) { s.Confirmed[item("check:bed")] = Confirmation{"bo", onDay(1)} }),
			Setup{Rev: 1, Confirmed: map[Item]Confirmation{item("check:bed"): {By: "bo", At: onDay(1)}}}},
		{"own values", func(s Setup) Setup { return s.With(item("check:bed.low"), "bo", onDay(1), own) },
			rev(func(s *Setup) {
				s.Confirmed[item("check:bed.low")], s.Values["bed.low"] = Confirmation{"bo", onDay(1)},
					*own
			}),
			Setup{Rev: 1, Confirmed: map[Item]Confirmation{item("check:bed.low"): {By: "bo", At: onDay(1)}},
				Values: map[string]CheckValues{"bed.low": *own}}},
		{"a service confirmed: it has no values",
			func(s Setup) Setup { return s.With(item("service:oil"), "bo", onDay(1), own) },
			rev(func(s *Setup) { s.Confirmed[item("service:oil")] = Confirmation{"bo", onDay(1)} }),
			Setup{Rev: 1, Confirmed: map[Item]Confirmation{item("service:oil"): {By: "bo", At: onDay(1)}}}},
	} {
		old, bare := full(), Setup{}
		if d := cmp.Diff(test.want, test.do(old)); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
		if d := cmp.Diff(test.bare, test.do(bare), cmpopts.EquateEmpty()); d != "" {
			t.Errorf("%s, of an empty one (-want +got):\n%s", test.name, d)
		}
		if d := cmp.Diff(full(), old); d != "" {
			t.Errorf("%s changes the old one:\n%s", test.name, d)
		}
	}
}

// Starting values are those that nobody confirmed: of every dimension, by mode where it
// has modes, every adjuster that is turned and every service that recurs.
func TestStartingValues(t *testing.T) {
	prof := bench().Machine.Profile
	prof.Check("gap").Modes = []profile.Mode{{ID: "low"}, {ID: "high"}}
	prof.Adjusters = []profile.Adjuster{{ID: "a", Drive: profile.Screw}, {ID: "b", Drive: profile.Slide},
		{ID: "c", Drive: profile.Screw, Fixed: true}, {ID: "d", Drive: profile.Eccentric}}
	prof.Services = append(prof.Services, profile.Service{ID: "never"},
		profile.Service{ID: "asked", OnProblems: []string{"dirt"}})
	all := items("check:bed", "check:blade", "check:gap.low", "check:gap.high", "adjuster:a", "adjuster:d",
		"service:oil", "service:brake", "service:tidy", "service:tension", "service:asked")
	if d := cmp.Diff(all, Setup{}.StartingValues(prof)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	s := Setup{}
	for i, one := range all {
		s = s.With(one, "bo", added, nil)
		if d := cmp.Diff(all[i+1:], s.StartingValues(prof), cmpopts.EquateEmpty()); d != "" {
			t.Errorf("with %s confirmed (-want +got):\n%s", one, d)
		}
	}
	snap := bench()
	snap.Machine.Setup = Setup{}.With(item("check:bed"), "bo", added, nil)
	if got := Assess(snap, added).Starting; slices.Contains(got, item("check:bed")) ||
		!slices.Contains(got, item("check:blade")) {
		t.Errorf("a status says %v", got)
	}
}

// planerWith is a planer's profile with a shop's own values and intervals.
func planerWith(t *testing.T, setup Setup) (*profile.Profile, error) {
	t.Helper()
	text, err := profile.BuiltinText("thickness-planer")
	if err != nil {
		t.Fatal(err)
	}
	setup.Kind = "thickness-planer"
	return Compile(text, setup)
}

// A shop's own values take the place of the profile's, those that are given; of a check
// with modes those of one mode, and the check's own where that mode counts.
func TestOwnValues(t *testing.T) {
	get := func(values map[string]CheckValues) *profile.Profile {
		p, err := planerWith(t, Setup{Values: values})
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	plain := get(nil)
	for _, test := range []struct {
		name string
		own  CheckValues
		want profile.Check
	}{
		{"a target alone", CheckValues{Target: thou(39)}, profile.Check{Target: thou(39), Adjust: within(35, 45),
			Stop: within(20, 60)}},
		{"adjust limits alone", CheckValues{Adjust: metrology.Limits{High: thou(44)}},
			profile.Check{Target: thou(40), Adjust: metrology.Limits{High: thou(44)}, Stop: within(20, 60)}},
		{"a lower stop limit alone", CheckValues{Stop: metrology.Limits{Low: thou(22)}},
			profile.Check{Target: thou(40), Adjust: within(35, 45), Stop: metrology.Limits{Low: thou(22)}}},
		{"nothing", CheckValues{}, profile.Check{Target: thou(40), Adjust: within(35, 45), Stop: within(20, 60)}},
	} {
		got := get(map[string]CheckValues{"infeed": test.own}).Check("infeed")
		if d := cmp.Diff(test.want, profile.Check{Target: got.Target, Adjust: got.Adjust, Stop: got.Stop}); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
	// Of two modes, the first counts: 3 thou for planed stock, 18 for rough.
	low, high := plain.Check("bed-rollers").Modes[0].Target, plain.Check("bed-rollers").Modes[1].Target
	if !low.Equal(thou(3)) || !high.Equal(thou(18)) {
		t.Fatalf("the profile has %v and %v", low, high)
	}
	for item, want := range map[string][3]int64{"bed-rollers.low": {7, 7, 18}, "bed-rollers.high": {3, 3, 7}} {
		c := get(map[string]CheckValues{item: {Target: thou(7)}}).Check("bed-rollers")
		if !c.Target.Equal(thou(want[0])) || !c.Modes[0].Target.Equal(thou(want[1])) ||
			!c.Modes[1].Target.Equal(thou(want[2])) {
			t.Errorf("%s: %v, modes %v and %v, want %v", item, c.Target, c.Modes[0].Target, c.Modes[1].Target, want)
		}
	}
	for _, item := range []string{"wings", "bed-rollers.middle", "infeed.low", "wings.low"} {
		if _, err := planerWith(t, Setup{Values: map[string]CheckValues{item: {Target: thou(7)}}}); err == nil ||
			!strings.Contains(err.Error(), item) {
			t.Errorf("own values for %q: %v", item, err)
		}
	}
	if _, err := Compile([]byte("no profile"), Setup{Kind: "thickness-planer"}); err == nil ||
		!strings.Contains(err.Error(), "thickness-planer.yaml") {
		t.Errorf("no profile: %v", err)
	}
}

// A shop's own interval takes the place of a rule's, with its windows kept where they
// still make sense; of a service that has only a first one, of that.
func TestOwnIntervals(t *testing.T) {
	get := func(of string, v Interval) *profile.Profile {
		p, err := planerWith(t, Setup{Intervals: map[Item]Interval{item(of): v}})
		if err != nil {
			t.Fatalf("%s: %v", of, err)
		}
		return p
	}
	for _, test := range []struct {
		name, item string
		own        Interval
		rule       func(*profile.Profile) profile.Rule
		want       profile.Rule
	}{
		{"hours for hours", "service:bushings", Interval{Hours: hours(5)},
			func(p *profile.Profile) profile.Rule { return p.Service("bushings").Every },
			profile.Rule{Hours: hours(5), LateHours: hours(4)}},
		{"days for hours: no late hours", "service:bushings", Interval{Days: 5},
			func(p *profile.Profile) profile.Rule { return p.Service("bushings").Every }, profile.Rule{Days: 5}},
		{"both", "service:columns", Interval{Hours: hours(5), Days: 6},
			func(p *profile.Profile) profile.Rule { return p.Service("columns").Every },
			profile.Rule{Hours: hours(5), Days: 6}},
		{"months for a year: its windows stay", "service:gearbox-oil", Interval{Months: 6},
			func(p *profile.Profile) profile.Rule { return p.Service("gearbox-oil").Every },
			profile.Rule{Months: 6, EarlyDays: 60, LateDays: 60}},
		{"days for a year: its windows stay", "service:gearbox-oil", Interval{Days: 200},
			func(p *profile.Profile) profile.Rule { return p.Service("gearbox-oil").Every },
			profile.Rule{Days: 200, EarlyDays: 60, LateDays: 60}},
		{"hours for a year: no windows by days", "service:gearbox-oil", Interval{Hours: hours(50)},
			func(p *profile.Profile) profile.Rule { return p.Service("gearbox-oil").Every },
			profile.Rule{Hours: hours(50)}},
		{"the first rule stays", "service:gearbox-oil", Interval{Months: 6},
			func(p *profile.Profile) profile.Rule { return p.Service("gearbox-oil").First },
			profile.Rule{Hours: hours(20), LateHours: hours(10)}},
		{"a first rule alone", "service:belts-again", Interval{Hours: hours(12)},
			func(p *profile.Profile) profile.Rule { return p.Service("belts-again").First },
			profile.Rule{Hours: hours(12), LateHours: hours(8)}},
		{"a check", "check:guards", Interval{Days: 3},
			func(p *profile.Profile) profile.Rule { return *p.Check("guards").Every },
			profile.Rule{Days: 3, LateDays: 3}},
		{"a check without one", "check:table", Interval{Months: 3},
			func(p *profile.Profile) profile.Rule { return *p.Check("table").Every }, profile.Rule{Months: 3}},
	} {
		if d := cmp.Diff(test.want, test.rule(get(test.item, test.own))); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
	for _, of := range []string{"service:gone", "check:gone", "adjuster:infeed-left", "service:table", "check:oil",
		"event:machine-moved"} {
		if _, err := planerWith(t, Setup{Intervals: map[Item]Interval{item(of): {Days: 3}}}); err == nil ||
			!strings.Contains(err.Error(), of) {
			t.Errorf("an interval for %q: %v", of, err)
		}
	}
	// A calendar of the profile's gives way, with its words.
	snap := bench()
	snap.Machine.Profile.Service("tidy").Every = profile.Rule{Calendar: "FREQ=WEEKLY;BYDAY=MO", Named: "every Monday"}
	own, err := Setup{Intervals: map[Item]Interval{item("service:tidy"): {Days: 3}}}.Own(snap.Machine.Profile)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(profile.Rule{Days: 3}, own.Service("tidy").Every); d != "" {
		t.Errorf("instead of a calendar (-want +got):\n%s", d)
	}
	// A service that only problems ask for has no interval to take the place of.
	snap.Machine.Profile.Service("oil").Every = profile.Rule{}
	tight := Setup{Intervals: map[Item]Interval{item("service:oil"): {Days: 3}}}
	if _, err := tight.Own(snap.Machine.Profile); err == nil {
		t.Error("an interval for a service without a rule")
	}
}

// Why an item cannot have an interval: checks go by days; a safety service keeps what
// its late limit is counted in; a service without a rule has none to give way.
func TestBadInterval(t *testing.T) {
	s := bench()
	prof := s.Machine.Profile
	prof.Services = append(prof.Services, profile.Service{ID: "asked", OnProblems: []string{"dirt"}},
		profile.Service{ID: "yearly", Class: profile.SafetyService, Every: profile.Rule{Months: 12, LateDays: 30}},
		profile.Service{ID: "first", Class: profile.SafetyService, First: profile.Rule{Hours: hours(9),
			LateHours: hours(1)}},
		profile.Service{ID: "lax", Class: profile.SafetyService, Every: profile.Rule{Hours: hours(9)}})
	for _, test := range []struct {
		item string
		v    *Interval
		want string
	}{
		{"check:guard", nil, ""}, {"check:guard", &Interval{Days: 3}, ""}, {"check:guard", &Interval{Hours: hours(3)},
			"days"}, {"check:guard", &Interval{Days: 3, Months: 1}, "days"},
		{"check:bed", &Interval{Days: 3}, ""},
		{"service:oil", nil, ""}, {"service:oil", &Interval{Days: 3}, ""}, {"service:oil", &Interval{Hours: hours(3)},
			""},
		{"service:asked", nil, "none"}, {"service:asked", &Interval{Days: 3}, "none"},
		{"service:brake", nil, ""}, {"service:brake", &Interval{Hours: hours(3)}, ""},
		{"service:brake", &Interval{Hours: hours(3), Days: 9}, ""}, {"service:brake", &Interval{Days: 3},
			"safety"},
		{"service:yearly", &Interval{Days: 3}, ""}, {"service:yearly", &Interval{Months: 3}, ""},
		{"service:yearly", &Interval{Hours: hours(3)}, "safety"},
		{"service:first", &Interval{Hours: hours(3)}, ""}, {"service:first", &Interval{Months: 1}, "safety"},
		{"service:lax", &Interval{Days: 3}, ""},
		{"service:tidy", &Interval{Hours: hours(3)}, ""}, // important: it tags nothing out
	} {
		if got := BadInterval(prof, item(test.item), test.v); got != test.want {
			t.Errorf("%s with %+v: %q, want %q", test.item, test.v, got, test.want)
		}
	}
}

// A shop begins in metric units by UTC with its digest at nine; an unknown zone, which
// only a broken installation has, is UTC too.
func TestShop(t *testing.T) {
	if d := cmp.Diff(Shop{ID: "s", Zone: "UTC", Units: quantity.Metric, Digest: upkeep.Clock(9, 0)},
		NewShop("s")); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	shop := NewShop("s")
	shop.Zone = "Nowhere/Town"
	if shop.Location() != time.UTC {
		t.Errorf("location %v", shop.Location())
	}
	shop.Zone, shop.Open, shop.Closed = "Europe/Berlin", []time.Weekday{time.Monday},
		[]upkeep.Closure{{First: "2026-03-09", Last: "2026-03-09"}}
	days := shop.Calendar()
	if days.Loc.String() != "Europe/Berlin" || !days.IsOpen(onDay(0)) || days.IsOpen(onDay(1)) ||
		days.IsOpen(onDay(7)) ||
		!days.IsOpen(onDay(14)) {
		t.Errorf("calendar %+v", days)
	}
	if shop.Location() != days.Loc {
		t.Error("the zone was read twice")
	}
	for _, x := range []struct{ machine, want quantity.System }{{0, quantity.Metric},
		{quantity.Imperial, quantity.Imperial}, {quantity.Metric, quantity.Metric}} {
		if got := (Machine{Units: x.machine}).UnitsIn(shop); got != x.want {
			t.Errorf("units %v: %v", x.machine, got)
		}
	}
}

// The states of a step of the set-up, one by one; the first with something left to do
// is the next.
func TestSetUpSteps(t *testing.T) {
	later := onDay(1)
	for _, test := range []struct {
		name  string
		check string
		now   time.Time
		set   func(*Snapshot)
		state StepState
		next  string // "" for none
	}{
		{"proved", "bed", later, nothing, StepProved, ""},
		{"near its limit", "bed", later, func(s *Snapshot) { read(s, "bed", 20, added, thou(10)) }, StepNear, ""},
		{"never read", "bed", later, func(s *Snapshot) { delete(s.Latest, "bed") }, StepRead, "bed"},
		{"moved", "gap", later, func(s *Snapshot) { s.Moved["gap"] = Moved{At: later, Fact: 9} }, StepRead, "gap"},
		{"outside its adjust limits", "bed", later, func(s *Snapshot) { read(s, "bed", 20, added, thou(11)) },
			StepAdjust, "bed"},
		{"past its stop limits", "bed", later, func(s *Snapshot) { read(s, "bed", 20, added, thou(60)) }, StepAdjust,
			"bed"},
		{"not proved", "bed", later, func(s *Snapshot) { read(s, "bed", 20, added, thou(50)) }, StepAgain, "bed"},
		{"a safety check not proved", "blade", later, func(s *Snapshot) { read(s, "blade", 20, added, thou(1100)) },
			StepAgain, "blade"},
		{"outside, and moved since", "gap", later,
			func(s *Snapshot) { read(s, "gap", 20, added, thou(211)); s.Moved["gap"] = Moved{At: later, Fact: 9} },
			StepRead, "gap"},
		{"an inspection that passed", "guard", later, nothing, StepProved, ""},
		{"one that failed", "cover", later, func(s *Snapshot) { inspect(s, "cover", 20, added, false) }, StepRead,
			"cover"},
		{"one to be confirmed", "guard", later,
			func(s *Snapshot) { s.Machine.Setup = s.Machine.Setup.WithSecond("guard", true) }, StepSecond, "guard"},
		{"one that is due", "guard", onDay(7), nothing, StepRead, "guard"},
		{"a dimension that is due stays read", "bed", later,
			func(s *Snapshot) { s.Machine.Profile.Check("bed").Every = &profile.Rule{Days: 1} }, StepProved, ""},
	} {
		s := bench()
		test.set(&s)
		steps, next := SetUp(Assess(s, test.now))
		i := slices.IndexFunc(steps, func(x Step) bool { return x.Check == test.check })
		if len(steps) != 6 || i < 0 || steps[i].State != test.state {
			t.Fatalf("%s: %+v", test.name, steps)
		}
		switch {
		case test.next == "" && next != nil, test.next != "" && (next == nil || next.Check != test.next):
			t.Errorf("%s: next %+v, want %q", test.name, next, test.next)
		}
	}
	// Along the chain, otherwise as listed; the first left to do of several is next.
	snap := bench()
	p := snap.Machine.Profile
	slices.Reverse(p.Checks)
	delete(snap.Latest, "gap")
	delete(snap.Latest, "cover")
	steps, next := SetUp(Assess(snap, later))
	var order []string
	for _, x := range steps {
		order = append(order, x.Check)
	}
	if want := []string{"sound", "cover", "guard", "bed", "blade", "gap"}; !slices.Equal(order, want) ||
		next.Check != "cover" {
		t.Errorf("order %v, next %+v", order, next)
	}
}
