package domain_test

import (
	"time"

	. "setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// onDay is that many days after the machines of these tests came on the books.
func onDay(n int) time.Time { return added.AddDate(0, 0, n) }

// within are limits in thou.
func within(low, high int64) metrology.Limits {
	return metrology.Limits{Low: thou(low), High: thou(high)}
}

// inThou is how a check of the bench is typed and printed.
var inThou = map[quantity.System]quantity.Unit{quantity.Metric: quantity.Millimetre, quantity.Imperial: quantity.Thou}

// bench is a machine made up for these tests: few checks and services, one of each
// kind that is judged in its own way. Everything is read, passes and is in order; no
// service was ever done.
func bench() Snapshot {
	dimension := func(id string, class profile.Class, target, adjust, stop int64, from ...string) profile.Check {
		return profile.Check{ID: id, Name: "the " + id, Class: class, From: from,
			Positions: []string{"left", "right"},
			Of:        quantity.Length, Target: thou(target), Example: thou(target), Gauge: "dial",
			Adjust: within(target-adjust, target+adjust), Stop: within(target-stop, target+stop),
			Entry: inThou, Decimals: map[quantity.System]int{quantity.Metric: 2, quantity.Imperial: 1}, Minutes: 5}
	}
	inspection := func(id string, class profile.Class, every *profile.Rule) profile.Check {
		return profile.Check{ID: id, Name: "the " + id, Class: class, Inspection: true, Every: every, Minutes: 5}
	}
	service := func(id string, class profile.ServiceClass, every profile.Rule) profile.Service {
		return profile.Service{ID: id, Name: "the " + id, Class: class, Every: every, Work: profile.Work{Minutes: 10}}
	}
	prof := &profile.Profile{Kind: "bench", Name: "bench", Typical: profile.Typical{Sessions: 1, Hours: hours(1)},
		Minutes: profile.Minutes{Isolation: 10, Cover: 4, Material: 3, Gauge: 5, Service: 10, Check: 5},
		Checks: []profile.Check{
			dimension("bed", profile.Quality, 0, 10, 50),
			dimension("blade", profile.Safety, 1000, 10, 100, "bed"),
			dimension("gap", profile.Quality, 200, 10, 50, "blade"),
			inspection("guard", profile.Safety, &profile.Rule{Days: 7, LateDays: 3}),
			inspection("cover", profile.Quality, &profile.Rule{Days: 30, LateDays: 10}),
			inspection("sound", profile.Quality, nil),
		},
		Services: []profile.Service{
			service("oil", profile.RoutineService, profile.Rule{Hours: hours(8)}),
			service("brake", profile.SafetyService, profile.Rule{Hours: hours(40), LateHours: hours(8)}),
			service("tidy", profile.ImportantService, profile.Rule{Days: 40, LateDays: 10}),
			service("tension", profile.ImportantService, profile.Rule{}),
		},
		Events: []profile.Event{
			{ID: "belt-changed", Name: "belt changed", Work: profile.Work{Material: "belts", Uses: 2}},
			{ID: "blade-changed", Name: "blade changed", Fits: true, Surfaces: []string{"blade"}},
			{ID: "crash", Name: "crash"},
		},
		Symptoms: []profile.Symptom{{ID: "dirt", Name: "dirt on the bed"},
			{ID: "smoke", Name: "smoke", Danger: true}},
	}
	prof.Check("gap").Follows = &profile.Follows{Check: "blade"}
	prof.Check("sound").Running = true
	prof.Service("tidy").OnProblems, prof.Service("tidy").OnChecks = []string{"dirt"}, []string{"bed", "sound"}
	prof.Service("tension").First, prof.Service("tension").After = profile.Rule{Hours: hours(16)}, "belt-changed"
	prof.Service("oil").Material, prof.Service("oil").Uses = "oil", 1
	snap := Snapshot{Shop: NewShop("shop"), Machine: Machine{ID: 1, Name: "Slate", Added: added, Profile: prof},
		Hours: hours(0), Latest: map[string]Latest{}, Moved: map[string]Moved{}, Services: map[string]LastService{},
		Done: map[string][]LastService{}, PutOff: map[string]PutOffBy{}, Taken: map[string]TakenBy{},
		Events: map[string]LastService{}, Mends: map[string]LastService{}}
	for i, c := range prof.Checks {
		if c.Inspection {
			inspect(&snap, c.ID, FactNo(i+1), added, true)
		} else {
			read(&snap, c.ID, FactNo(i+1), added, c.Example)
		}
	}
	return snap
}

// item is the item of a text that is one.
func item(text string) Item {
	i, err := ParseItem(text)
	if err != nil {
		panic(err)
	}
	return i
}

// items are the items of texts.
func items(texts ...string) (all []Item) {
	for _, t := range texts {
		all = append(all, item(t))
	}
	return all
}

// ruled is a bench with one of its services changed.
func ruled(s Snapshot, service string, change func(*profile.Service)) Snapshot {
	change(s.Machine.Profile.Service(service))
	return s
}
