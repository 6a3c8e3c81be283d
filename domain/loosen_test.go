package domain_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	. "setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// mm is a length.
func mm(n int64) quantity.Value { return quantity.New(n, 1, quantity.Millimetre) }

// lathe is a small kind for these tests: a gap with modes, a guard, and a safety service.
func lathe() *profile.Profile {
	band := func(low, high int64) metrology.Limits { return metrology.Limits{Low: mm(low), High: mm(high)} }
	return &profile.Profile{
		Checks: []profile.Check{
			{ID: "gap", Name: "gap", Class: profile.Safety, Positions: []string{"left", "right"}, Target: mm(10),
				Adjust: band(8, 12), Stop: band(5, 15), AlikeAdjust: mm(1), AlikeStop: mm(2), Source: "a standard",
				Entry: map[quantity.System]quantity.Unit{quantity.Metric: quantity.Millimetre}},
			{ID: "way", Name: "way", Class: profile.Safety, Positions: []string{""}, Mode: "a", Adjust: band(8, 12),
				Modes: []profile.Mode{{ID: "a", Name: "plain", Adjust: band(8, 12)},
					{ID: "b", Name: "fine", Adjust: band(9, 11)}}},
			{ID: "bed", Name: "bed", Class: profile.Quality, Positions: []string{""}, Adjust: band(8, 12)},
			{ID: "guard", Name: "guard", Class: profile.Safety, Inspection: true, Qualified: true, EachUse: true,
				Every: &profile.Rule{Days: 7, LateDays: 3}},
		},
		Services: []profile.Service{
			{ID: "chuck", Name: "chuck", Class: profile.SafetyService, Every: profile.Rule{Months: 6},
				First: profile.Rule{Days: 30}},
			{ID: "oil", Name: "oil", Class: profile.RoutineService, Every: profile.Rule{Days: 7}},
		},
	}
}

// changed is the same with something changed.
func changed(change func(*profile.Profile)) *profile.Profile {
	p := lathe()
	change(p)
	return p
}

// What asks for less of a safety check or service, and what does not.
func TestLoosened(t *testing.T) {
	check := func(id string, change func(*profile.Check)) *profile.Profile {
		return changed(func(p *profile.Profile) { change(p.Check(id)) })
	}
	service := func(id string, change func(*profile.Service)) *profile.Profile {
		return changed(func(p *profile.Profile) { change(p.Service(id)) })
	}
	for _, test := range []struct {
		name string
		now  *profile.Profile
		want string
	}{
		{"nothing", lathe(), ""},
		{"adjust limits, below", check("gap", func(k *profile.Check) { k.Adjust.Low = mm(7) }), "check:gap adjust"},
		{"adjust limits, above", check("gap", func(k *profile.Check) { k.Adjust.High = mm(13) }), "check:gap adjust"},
		{"narrower", check("gap", func(k *profile.Check) {
			k.Adjust = metrology.Limits{Low: mm(9), High: mm(11)}
		}), ""},
		{"one end in, one out", check("gap", func(k *profile.Check) {
			k.Adjust = metrology.Limits{Low: mm(9), High: mm(13)}
		}), "check:gap adjust"},
		{"stop limits", check("gap", func(k *profile.Check) { k.Stop.High = mm(16) }), "check:gap stop"},
		{"a limit gone", check("gap", func(k *profile.Check) { k.Stop.Low = quantity.Value{} }), "check:gap stop"},
		{"another unit's same", check("gap", func(k *profile.Check) {
			k.Stop.High = quantity.New(15000, 1, quantity.Micrometre)
		}), ""},
		{"the target", check("gap", func(k *profile.Check) { k.Target = mm(11) }), ""},
		{"positions unlike", check("gap", func(k *profile.Check) { k.AlikeStop = mm(3) }), "check:gap alike"},
		{"however unlike", check("gap", func(k *profile.Check) {
			k.AlikeAdjust, k.AlikeStop = quantity.Value{}, quantity.Value{}
		}), "check:gap alike, check:gap alike"},
		{"fewer places", check("gap", func(k *profile.Check) { k.Positions = []string{"left"} }), "check:gap places"},
		{"more places", check("gap", func(k *profile.Check) { k.Positions = append(k.Positions, "middle") }), ""},
		{"a mode", check("way", func(k *profile.Check) { k.Modes[1].Adjust.High = mm(12) }), "check:way.b adjust"},
		{"a new mode", check("way", func(k *profile.Check) {
			k.Modes = append(k.Modes, profile.Mode{ID: "c", Adjust: metrology.Limits{Low: mm(1), High: mm(12)}})
		}), "check:way.c adjust"},
		{"no modes any more", check("way", func(k *profile.Check) { k.Modes, k.Mode = nil, "" }), ""},
		{"quality", check("bed", func(k *profile.Check) { k.Adjust = metrology.Limits{} }), ""},
		{"no safety check any more", check("gap", func(k *profile.Check) { k.Class = profile.Quality }),
			"check:gap removed"},
		{"not fitted", changed(func(p *profile.Profile) { p.Checks = p.Checks[:3] }), "check:guard removed"},
		{"less often", check("guard", func(k *profile.Check) { k.Every = &profile.Rule{Days: 8, LateDays: 3} }),
			"check:guard every"},
		{"never", check("guard", func(k *profile.Check) { k.Every = nil }), "check:guard every"},
		{"later", check("guard", func(k *profile.Check) { k.Every = &profile.Rule{Days: 7, LateDays: 4} }),
			"check:guard late"},
		{"more often", check("guard", func(k *profile.Check) { k.Every = &profile.Rule{Days: 6, LateDays: 3} }), ""},
		{"by anybody", check("guard", func(k *profile.Check) { k.Qualified = false }), "check:guard rule"},
		{"on demand", check("guard", func(k *profile.Check) { k.OnDemand = true }), "check:guard rule"},
		{"not each use", check("guard", func(k *profile.Check) { k.EachUse = false }), "check:guard rule"},
		{"a safety service", service("chuck", func(s *profile.Service) { s.Every.Months = 7 }), "service:chuck every"},
		{"its first time", service("chuck", func(s *profile.Service) { s.First.Days = 31 }), "service:chuck every"},
		{"a routine one", service("oil", func(s *profile.Service) { s.Every.Days = 70 }), ""},
		{"a safety service less so", service("chuck", func(s *profile.Service) { s.Class = profile.ImportantService }),
			"service:chuck removed"},
	} {
		var got []string
		for _, one := range Loosened(Machine{Profile: lathe()}, Machine{Profile: test.now}, quantity.Metric) {
			got = append(got, fmt.Sprintf("%s %s", one.Item, one.Code))
		}
		if text := strings.Join(got, ", "); text != test.want {
			t.Errorf("%s: %q, want %q", test.name, text, test.want)
		}
	}
	// What is said of one.
	want := []Loosening{{Item: CheckItem.Of("gap"), Name: "gap", Code: LooseStop,
		Was: metrology.Limits{Low: mm(5), High: mm(15)}, Now: metrology.Limits{Low: mm(5), High: mm(17)},
		Unit: quantity.Millimetre, Law: "a standard", Outer: "another"}}
	was := check("gap", func(k *profile.Check) {
		k.Fixed = &profile.Fixed{Stop: k.Stop}
		k.Outer = &profile.Outer{Limits: metrology.Limits{High: mm(16)}, Source: "another"}
	})
	now := check("gap", func(k *profile.Check) {
		*k, k.Stop.High = *was.Check("gap"), mm(17)
	})
	got := Loosened(Machine{Profile: was}, Machine{Profile: now}, quantity.Metric)
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("stop limits (-want +got):\n%s", d)
	}
	now.Check("gap").Stop.High = mm(16) // to the standard's limit, not past it
	got = Loosened(Machine{Profile: was}, Machine{Profile: now}, quantity.Metric)
	if len(got) != 1 || got[0].Outer != "" {
		t.Errorf("to the outer limit: %+v", got)
	}
	// What the law fixes is what the profile says: limits of a shop's own may go back to it.
	own := check("gap", func(k *profile.Check) { *k, k.Stop.High = *was.Check("gap"), mm(14) })
	got = Loosened(Machine{Profile: own}, Machine{Profile: was}, quantity.Metric)
	if len(got) != 1 || got[0].Law != "" {
		t.Errorf("back to the law's limit: %+v", got)
	}
	dated := func(days int) Machine {
		return Machine{Profile: check("guard", func(k *profile.Check) {
			k.Fixed, k.Source = &profile.Fixed{Every: &profile.Rule{Days: 7, LateDays: 3}}, "a law"
			k.Every = &profile.Rule{Days: days, LateDays: 3}
		})}
	}
	for days, law := range map[int]string{7: "", 8: "a law"} {
		if got = Loosened(dated(6), dated(days), quantity.Metric); len(got) != 1 || got[0].Law != law {
			t.Errorf("every %d days: %+v", days, got)
		}
	}
	unfixed := check("guard", func(*profile.Check) {})
	if got = Loosened(dated(7), Machine{Profile: unfixed}, quantity.Metric); len(got) != 1 || got[0].Law != "a law" {
		t.Errorf("no law any more: %+v", got)
	}
	// Whom a shop wants to confirm it.
	second := func(on bool) Machine {
		return Machine{Profile: lathe(), Setup: Setup{Second: map[string]bool{"guard": on, "bed": on}}}
	}
	if got := Loosened(second(true), second(false), quantity.Metric); len(got) != 1 || got[0].Code != LooseSecond {
		t.Errorf("a second person no more: %+v", got)
	}
	if got := Loosened(second(false), second(true), quantity.Metric); len(got) != 0 {
		t.Errorf("a second person: %+v", got)
	}
}

// gapped is a lathe whose stop limit is a number of millimetres, and its set-up's number.
func gapped(stop int64, rev int64) Machine {
	return Machine{ID: 1, Name: "Lathe", Added: added, Setup: Setup{Kind: "lathe", Rev: rev,
		Values: map[string]CheckValues{"gap": {Stop: metrology.Limits{Low: mm(5), High: mm(stop)}}}},
		Profile: changed(func(p *profile.Profile) { p.Check("gap").Stop.High = mm(stop) })}
}

// lathed is a snapshot of it.
func lathed(m Machine, asked *LooseningBy) Snapshot {
	return Snapshot{Shop: NewShop("shop"), Machine: m, Hours: quantity.Zero(quantity.Duration),
		Latest: map[string]Latest{}, Moved: map[string]Moved{}, Services: map[string]LastService{},
		Events: map[string]LastService{}, Loosening: asked}
}

// Who may loosen a safety check, when, and with what.
func TestAdmitLoosening(t *testing.T) {
	next := gapped(20, 2)
	ask := LooseningAsked{Item: CheckItem.Of("gap"), Setup: next.Setup, Why: "the manual says so"}
	asked := func(change func(*LooseningBy)) *LooseningBy {
		by := &LooseningBy{Fact: 40, Recorded: added, By: "wren", LooseningAsked: ask}
		if change != nil {
			change(by)
		}
		return by
	}
	force := SetupChanged{Item: ask.Item, Setup: ask.Setup, Loosens: 40}
	alone := func(by *LooseningBy) { by.Alone = true }
	noted := SetupChanged{Item: ask.Item, Setup: ask.Setup, Loosens: 40, Note: "looked it up", Alone: true}
	standard := func(p *profile.Profile) {
		p.Check("gap").Outer = &profile.Outer{Limits: metrology.Limits{High: mm(18)}, Source: "a standard"}
	}
	lawful := func(p *profile.Profile) {
		p.Check("gap").Fixed = &profile.Fixed{Stop: metrology.Limits{High: mm(15)}}
	}
	with := func(change func(*SetupChanged)) SetupChanged { b := noted; change(&b); return b }
	for _, test := range []struct {
		name   string
		change func(*profile.Profile) // of the machine as it is and as it would be
		asked  *LooseningBy
		entry  Entry
		want   Code
	}{
		{"asked for", nil, nil, Entry{By: "wren", Steward: true, Body: ask, Next: &next}, ""},
		{"without a reason", nil, nil, Entry{By: "wren", Body: LooseningAsked{Setup: next.Setup}, Next: &next},
			ReasonNeeded},
		{"fixed by law", lawful, nil, Entry{Body: ask, Next: &next},
			LawFixed},
		{"past a standard", standard, nil, Entry{Body: ask, Next: &next}, PageNeeded},
		{"with the page", standard, nil, Entry{Body: LooseningAsked{Setup: next.Setup, Why: "x", Page: "12"},
			Next: &next}, ""},
		{"with a photo", standard, nil, Entry{Body: LooseningAsked{Setup: next.Setup, Why: "x", Photo: &Photo{ID: "1"}},
			Next: &next}, ""},
		{"nothing that loosens", nil, nil, Entry{Body: LooseningAsked{Setup: gapped(14, 2).Setup, Why: "x"},
			Next: ptr(gapped(14, 2))}, SetupChangedNow},
		{"of an older set-up", nil, nil, Entry{Body: LooseningAsked{Setup: gapped(20, 3).Setup, Why: "x"},
			Next: ptr(gapped(20, 3))}, SetupChangedNow},
		{"changed without asking", nil, nil, Entry{By: "wren", Steward: true, Next: &next,
			Body: SetupChanged{Setup: next.Setup}}, SecondNeeded},
		{"changed to what nobody knows", nil, nil, Entry{By: "wren", Steward: true,
			Body: SetupChanged{Setup: gapped(14, 2).Setup}}, SecondNeeded},
		{"tightened", nil, nil, Entry{By: "wren", Next: ptr(gapped(14, 2)),
			Body: SetupChanged{Setup: gapped(14, 2).Setup}}, ""},
		{"the law, in force", lawful, asked(nil),
			Entry{By: "ishaan", Steward: true, Body: force, Next: &next}, LawFixed},
		{"by another steward", nil, asked(nil), Entry{By: "ishaan", Steward: true, Recorded: added, Body: force,
			Next: &next}, ""},
		{"by a member", nil, asked(alone), Entry{By: "ada", Recorded: added.AddDate(0, 0, 9), Body: noted, Next: &next},
			OtherSteward},
		{"by whoever asked", nil, asked(nil), Entry{By: "wren", Steward: true, Recorded: added.AddDate(0, 0, 9),
			Body: noted, Next: &next}, OtherSteward},
		{"another is known since", nil, asked(alone), Entry{By: "wren", Steward: true, Recorded: added.AddDate(0, 0, 9),
			Body: with(func(b *SetupChanged) { b.Alone = false }), Next: &next}, OtherSteward},
		{"alone, a second too soon", nil, asked(alone), Entry{By: "wren", Steward: true,
			Recorded: added.Add(24*time.Hour - time.Second), Body: noted, Next: &next}, AloneTooSoon},
		{"alone, a day after", nil, asked(alone), Entry{By: "wren", Steward: true, Recorded: added.Add(24 * time.Hour),
			Body: noted, Next: &next}, ""},
		{"alone, without a note", nil, asked(alone), Entry{By: "wren", Steward: true,
			Recorded: added.Add(24 * time.Hour), Next: &next,
			Body: with(func(b *SetupChanged) { b.Note = "" })}, AloneNote},
		{"alone, and no steward any more", nil, asked(alone), Entry{By: "wren", Recorded: added.Add(24 * time.Hour),
			Body: noted, Next: &next}, OtherSteward},
		{"in the name of another", nil, asked(nil), Entry{By: "wren", For: "ishaan", Steward: true, Recorded: added,
			Body: force, Next: &next}, OtherSteward},
		{"not what was asked for", nil, asked(nil), Entry{By: "ishaan", Steward: true, Next: ptr(gapped(21, 2)),
			Body: SetupChanged{Setup: gapped(21, 2).Setup, Loosens: 40}}, LooseningGone},
		{"another's number", nil, asked(func(by *LooseningBy) { by.Fact = 41 }),
			Entry{By: "ishaan", Steward: true, Body: force, Next: &next}, LooseningGone},
		{"the set-up changed since", nil, asked(func(by *LooseningBy) { by.Setup.Rev = 1 }),
			Entry{By: "ishaan", Steward: true, Body: force, Next: &next}, LooseningGone},
		{"nothing waits", nil, nil, Entry{By: "ishaan", Steward: true, Body: force, Next: &next}, LooseningGone},
	} {
		now := gapped(15, 1)
		if test.change != nil {
			test.change(now.Profile)
			would := *test.entry.Next
			would.Profile = changed(func(p *profile.Profile) { p.Check("gap").Stop.High = mm(20); test.change(p) })
			test.entry.Next = &would
		}
		got := Admit(Assess(lathed(now, test.asked), test.entry.Recorded), test.entry)
		if (got == nil) != (test.want == "") || got != nil && got.Code != test.want {
			t.Errorf("%s: %v, want %q", test.name, got, test.want)
		}
	}
}

func ptr[T any](v T) *T { return &v }

// A machine that needs another does so until two say that it needs it no more.
func TestNeedIsLoosened(t *testing.T) {
	needing := gapped(15, 1)
	needing.Setup = needing.Setup.WithNeed(7, true)
	snap := lathed(needing, nil)
	snap.Needs = []Need{{Machine: 7, Name: "Cyclone"}}
	before := Assess(snap, added)
	for _, test := range []struct {
		name  string
		other MachineID
		on    bool
		want  Code
	}{
		{"taken away", 7, false, SecondNeeded},
		{"another too", 8, true, ""},
	} {
		next := needing
		next.Setup = needing.Setup.WithNeed(test.other, test.on)
		entry := Entry{By: "wren", Steward: true, Next: &next, Body: SetupChanged{Setup: next.Setup}}
		if got := Admit(before, entry); (got == nil) != (test.want == "") || got != nil &&
			(got.Code != test.want || got.Name != "Cyclone") {
			t.Errorf("%s: %v, want %q", test.name, got, test.want)
		}
	}
}

// What is asked for is frozen with what it loosens.
func TestCompleteLoosening(t *testing.T) {
	next := gapped(20, 2)
	body, _ := Complete(Assess(lathed(gapped(15, 1), nil), added), Entry{Next: &next,
		Body: LooseningAsked{Setup: next.Setup, Why: "x"}}).(LooseningAsked)
	if len(body.Loosens) != 1 || body.Loosens[0].Code != LooseStop {
		t.Errorf("it loosens %+v", body.Loosens)
	}
}

// Whoever reports what, in whatever order and however often, a safety limit becomes no
// wider unless two stewards said so, or it stood for a day.
func TestNobodyLoosensAlone(t *testing.T) {
	t.Parallel()
	wider, refused, alone := 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		machine, now := gapped(15, 1), added
		limit := int64(15)
		var asks []LooseningBy // standing, by number
		var no FactNo
		people := []PersonID{"wren", "wren", "ishaan", "ada"}
		sole := rapid.Bool().Draw(t, "one steward is known")
		if sole {
			people = []PersonID{"wren", "wren", "wren", "ada"}
		}
		last := func() *LooseningBy {
			if len(asks) == 0 {
				return nil
			}
			return &asks[len(asks)-1]
		}
		for range rapid.IntRange(1, 40).Draw(t, "reports") {
			now = now.Add(time.Duration(rapid.SampledFrom([]int{0, 1, 23, 24, 30}).Draw(t, "hours")) * time.Hour)
			who := rapid.SampledFrom(people).Draw(t, "who")
			entry := Entry{By: who, For: rapid.SampledFrom([]PersonID{"wren", "ishaan", "ada"}).Draw(t, "for"),
				Steward: who != "ada", At: now.AddDate(0, 0, -rapid.IntRange(0, 5).Draw(t, "days ago")), Recorded: now}
			to := rapid.Int64Range(12, 20).Draw(t, "limit")
			next := gapped(to, machine.Setup.Rev+rapid.SampledFrom([]int64{1, 1, 1, 0, 2}).Draw(t, "rev"))
			what := rapid.SampledFrom([]string{"ask", "ask", "change", "force", "force", "force",
				"withdraw"}).Draw(t, "what")
			known := sole || rapid.Bool().Draw(t, "alone")
			switch what {
			case "withdraw":
				if len(asks) > 0 {
					i := rapid.IntRange(0, len(asks)-1).Draw(t, "which")
					asks = slices.Delete(asks, i, i+1)
				}
				continue
			case "ask":
				entry.Body = LooseningAsked{Setup: next.Setup, Why: "x", Alone: known}
			case "change":
				entry.Body = SetupChanged{Setup: next.Setup}
			case "force":
				body := SetupChanged{Setup: next.Setup, Alone: known,
					Loosens: FactNo(rapid.IntRange(1, 9).Draw(t, "of")),
					Note:    rapid.SampledFrom([]string{"", "x"}).Draw(t, "note")}
				if asked := last(); asked != nil && rapid.IntRange(0, 3).Draw(t, "the last") > 0 {
					body.Loosens, body.Setup = asked.Fact, asked.Setup
					next = gapped(0, asked.Setup.Rev)
					next.Setup = asked.Setup
					next.Profile.Check("gap").Stop = asked.Setup.Values["gap"].Stop
				}
				entry.Body = body
			}
			entry.Next = &next
			before := Assess(lathed(machine, last()), now)
			if Admit(before, entry) != nil {
				refused++
				continue
			}
			no++
			switch body := Complete(before, entry).(type) {
			case LooseningAsked:
				asks = append(asks, LooseningBy{Fact: no, Recorded: now, By: who, LooseningAsked: body})
			case SetupChanged:
				high := next.Profile.Check("gap").Stop.High
				if high.Cmp(mm(limit)) > 0 {
					wider++
					asked := last()
					switch {
					case asked == nil || asked.Fact != body.Loosens || asked.Why == "":
						t.Fatalf("%s widened to %v what nobody had asked for", who, high)
					case who == "ada":
						t.Fatal("a member widened it")
					case who == asked.By && (now.Sub(asked.Recorded) < 24*time.Hour || !body.Alone || body.Note == ""):
						t.Fatalf("%s widened alone what was asked for %v before", who, now.Sub(asked.Recorded))
					case who == asked.By:
						alone++
					}
				}
				machine = next
				limit = int64(high.Float(quantity.Millimetre))
			}
		}
	})
	if wider < 15 || alone < 2 || refused < 100 {
		t.Errorf("widened %d times, alone %d, refused %d", wider, alone, refused)
	}
}

// The channel is told what is asked for, what became of it, and when it is in force.
func TestOwedOfLoosening(t *testing.T) {
	ask := LooseningAsked{Setup: gapped(20, 2).Setup, Why: "the manual", Page: "12",
		Loosens: []Loosening{{Name: "gap", Code: LooseStop}}}
	by := func(no FactNo) *LooseningBy {
		return &LooseningBy{Fact: no, Recorded: added, By: "wren", LooseningAsked: ask}
	}
	for _, test := range []struct {
		name        string
		was, now    *LooseningBy
		after       Machine
		fact        *Fact
		want        string
		second, why string
	}{
		{"asked for", nil, by(40), gapped(15, 1), &Fact{No: 40, Body: ask}, "post m1/loosen/40 loosening", "", ""},
		{"nothing new", by(40), by(40), gapped(15, 1), &Fact{No: 41, Body: Hours{}}, "", "", ""},
		{"a sweep", by(40), by(40), gapped(15, 1), nil, "", "", ""},
		{"in force", by(40), by(40), gapped(20, 2), &Fact{No: 41, By: "ishaan",
			Body: SetupChanged{Loosens: 40, Note: "read"}}, "post m1/loosen/40/in-force loosened, " +
			"edit m1/loosen/40/over/41 loosening", "ishaan", "read"},
		{"something else changed", by(40), by(40), gapped(15, 2), &Fact{No: 41, Body: SetupChanged{}},
			"edit m1/loosen/40/over/41 loosening", "", ""},
		{"withdrawn", by(40), nil, gapped(15, 1), &Fact{No: 41, Body: Withdrawal{Of: 40}},
			"edit m1/loosen/40/over/41 loosening", "", ""},
		{"another asked for", by(40), by(41), gapped(15, 1), &Fact{No: 41, Body: ask},
			"edit m1/loosen/40/over/41 loosening, post m1/loosen/41 loosening", "", ""},
		{"that one withdrawn", by(41), by(40), gapped(15, 1), &Fact{No: 42, Body: Withdrawal{Of: 41}},
			"edit m1/loosen/41/over/42 loosening, edit m1/loosen/40/again/42 loosening", "", ""},
	} {
		var got []string
		before, after := Assess(lathed(gapped(15, 1), test.was), added), Assess(lathed(test.after, test.now), added)
		for _, notice := range Owed(before, after, test.fact) {
			if notice.Topic != TopicLoosening && notice.Topic != TopicLoosened {
				continue
			}
			got = append(got, fmt.Sprintf("%s %s %s", notice.Op, notice.Key, notice.Topic))
			if notice.Args.By != "wren" || notice.Args.Note != "the manual" || notice.Args.Page != "12" ||
				len(notice.Args.Loosens) != 1 ||
				notice.Args.Second != PersonID(test.second) || notice.Args.Why != test.why {
				t.Errorf("%s: %+v", test.name, notice.Args)
			}
		}
		if text := strings.Join(got, ", "); text != test.want {
			t.Errorf("%s: %q, want %q", test.name, text, test.want)
		}
	}
}
