package commands_test

import (
	"context"
	"fmt"
	"math/big"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// For every check, service, event and symptom of every kind that Setscrew brings
// these tests say it as a member would, and drive it to each verdict and action
// that it can lead to.

// kinds plays f for each kind, on a machine of it that is read and well.
func kinds(t *testing.T, each func(t *testing.T, w *world, p *profile.Profile)) {
	for _, kind := range profile.Builtin() {
		t.Run(kind, func(t *testing.T) {
			t.Parallel()
			w := newWorld(t)
			w.ready(kind)
			snap := w.snapshot()
			each(t, w, snap.Machine.Profile)
		})
	}
}

// ready adds a machine called Marble of a kind, confirms all and reads all.
func (w *world) ready(kind string) {
	w.t.Helper()
	if kind == "thickness-planer" {
		w.marble()
		return
	}
	w.t.Fatalf("no way to set up a %s", kind)
}

func (w *world) snapshot() domain.Snapshot {
	w.t.Helper()
	snap, err := w.db.Shop(w.shop).Snapshot(context.Background(), 1)
	if err != nil {
		w.t.Fatal(err)
	}
	return snap
}

// statusOf is the status of a machine by its name.
func (w *world) statusOf(name string) domain.Status {
	w.t.Helper()
	books := w.db.Shop(w.shop)
	machines, err := books.Machines(context.Background())
	if err != nil {
		w.t.Fatal(err)
	}
	for _, m := range machines {
		if m.Name == name {
			snap, err := books.Snapshot(context.Background(), m.ID)
			if err != nil {
				w.t.Fatal(err)
			}
			return domain.Assess(snap, w.now)
		}
	}
	w.t.Fatalf("no machine %s", name)
	return domain.Status{}
}

func (w *world) status() domain.Status { return domain.Assess(w.snapshot(), w.now) }

// typed writes the same value at every position of a check.
func typed(check *profile.Check, values ...quantity.Value) string {
	parts := make([]string, len(check.Positions))
	for i, position := range check.Positions {
		v := values[min(i, len(values)-1)]
		text := quantity.Typed(v, check.Entry[quantity.Metric])
		if len(text) > 20 { // worked out in floating point
			text = quantity.Format(v, check.Entry[quantity.Metric], 7)
		}
		parts[i] = strings.TrimSpace(position + " " + text)
	}
	return strings.Join(parts, ", ")
}

// read reports a check, withdraws it again after look has seen what it led to.
func (w *world) read(k *profile.Check, values string, look func(st domain.Status)) {
	w.t.Helper()
	options := []string{"machine=Marble", "check=" + k.Name, "values=" + values}
	if k.Mode != "" {
		options = append(options, "mode="+k.Mode)
	}
	w.must(w.as("ada", "reading", options...))
	if strings.Contains(w.last.Headline, "does not count until confirmed") {
		w.press("ada", "It is right")
	}
	look(w.status())
}

// putRight makes every check that a release of Marble waits for, by somebody; those
// that are made while it runs only once it runs.
func (w *world) putRight(who string) {
	w.t.Helper()
	st := w.status()
	for _, b := range st.Blockers {
		check := st.Machine.Profile.Check(b.ID)
		if check == nil || b.Running && st.Test == nil {
			continue
		}
		values := "pass"
		if check.Qualified {
			values = "pass: licensed electrician, report 7"
		}
		if !check.Inspection {
			values = typed(check, check.Example)
		}
		w.now = w.now.Add(time.Second)
		w.must(w.as(who, "reading", "machine=Marble", "check="+check.Name, "values="+values))
	}
}

// restart makes a tagged-out machine run again: everything is read, it runs
// under test, and it is released.
func (w *world) restart() {
	w.t.Helper()
	for range 2 { // what is read while it runs comes second
		w.putRight("wren")
		w.putRight("wren") // what that moved
		if w.status().Test == nil {
			w.must(w.as("wren", "release", "machine=Marble", "note=seen to"))
			w.must(w.intoTest("wren"))
		}
	}
	w.must(w.as("wren", "release", "machine=Marble"))
	w.must(w.press("wren", "It runs well"))
	if w.status().TaggedOut() {
		w.t.Fatal("released, and still tagged out")
	}
}

// Every dimension, in every mode: on target; beyond each adjust limit; near each
// stop limit, on both sides of it; beyond each stop limit; too unlike.
func TestEveryDimension(t *testing.T) {
	t.Parallel()
	kinds(t, func(t *testing.T, world *world, prof *profile.Profile) {
		for i := range prof.Checks {
			if prof.Checks[i].Inspection {
				continue
			}
			modes := []string{""}
			for _, m := range prof.Checks[i].Modes {
				modes = append(modes, m.ID)
			}
			for _, mode := range modes {
				k := prof.Checks[i].In(mode)
				t.Run(k.ID+" "+mode, func(t *testing.T) {
					everyVerdict(t, world, k,
						domain.FromProfile(*prof.Gauge(k.Gauge)).Budget().U())
				})
			}
		}
	})
}

func everyVerdict(t *testing.T, world *world, check *profile.Check, uncertainty quantity.Value) {
	safety := check.Class == profile.Safety
	expect := func(what, values string, advice domain.Advice) {
		t.Helper()
		world.read(check, values, func(st domain.Status) {
			cs := st.Check(check.ID)
			if cs.Advice != advice {
				t.Errorf("%s (%s): advice %d, want %d", what, values, cs.Advice, advice)
			}
			if st.TaggedOut() != (advice == domain.AdviceStop) {
				t.Errorf("%s (%s): tagged out %v", what, values, st.TaggedOut())
			}
			if blocks := slices.ContainsFunc(st.Blockers,
				func(b domain.Blocker) bool { return b.ID == check.ID }); blocks != (advice == domain.AdviceStop ||
				advice == domain.AdviceMeasureToday) {
				t.Errorf("%s (%s): blocks a release %v", what, values, blocks)
			}
			if plan := st.Adjusting(check.ID).Plan; plan != nil && len(plan.Moves) != 0 && advice == domain.AdviceNone {
				t.Errorf("%s (%s): a plan without need", what, values)
			}
			if st.TaggedOut() {
				world.restart()
			}
		})
	}
	half := func(v quantity.Value) quantity.Value { return v.Mul(big.NewRat(1, 2)) }
	alike := func(v quantity.Value) string { return typed(check, v) }
	expect("on target", alike(check.Example), domain.AdviceNone)
	if check.Target.Valid() {
		for _, side := range []struct {
			name         string
			adjust, stop quantity.Value
			sign         int64
		}{{"low", check.Adjust.Low, check.Stop.Low, -1}, {"high", check.Adjust.High, check.Stop.High, 1}} {
			out := func(v quantity.Value, by quantity.Value) quantity.Value {
				return v.Add(by.Mul(big.NewRat(side.sign, 1)))
			}
			if side.adjust.Valid() {
				expect(side.name+", at the adjust limit", alike(side.adjust), domain.AdviceNone)
			}
			if !side.stop.Valid() {
				continue
			}
			// Beyond the adjust limit and proved within the stop limit, where there
			// is room for such a value.
			if mid := half(side.adjust.Add(side.stop)); mid.Sub(side.stop).Abs().Cmp(uncertainty) > 0 {
				expect(side.name+", out of adjustment", alike(mid), domain.AdvicePlan)
			}
			near, beyond := domain.AdviceMeasure, domain.AdviceMeasure
			if safety {
				near, beyond = domain.AdviceMeasureToday, domain.AdviceStop
			}
			expect(side.name+", inside the stop limit, not proved", alike(out(side.stop, half(uncertainty).Neg())),
				near)
			expect(side.name+", outside the stop limit, not proved", alike(out(side.stop, half(uncertainty))), beyond)
			expect(side.name+", outside the stop limit", alike(out(side.stop, uncertainty.Add(uncertainty))),
				domain.AdviceStop)
		}
	}
	if !check.AlikeAdjust.Valid() || len(check.Positions) < 2 {
		return
	}
	// Positions apart, around the target, so that each by itself stays within
	// its own limits where it can.
	apart := func(d quantity.Value) (string, bool) {
		low := check.Example.Sub(half(d))
		high := low.Add(d)
		return typed(check, low, high), !check.Target.Valid() || check.Adjust.Holds(low) && check.Adjust.Holds(high)
	}
	if values, alone := apart(check.AlikeAdjust); alone {
		expect("as unlike as may be", values, domain.AdviceNone)
	}
	if values, alone := apart(half(check.AlikeAdjust.Add(check.AlikeStop))); alone {
		expect("unlike", values, domain.AdvicePlan)
	}
	if values, _ := apart(check.AlikeStop.Add(uncertainty.Mul(big.NewRat(2, 1)))); true {
		expect("too unlike", values, domain.AdviceStop)
	}
	expect("in the end", alike(check.Example), domain.AdviceNone)
}

// Every inspection: passes, fails, is mended; where it must be done at
// intervals, falls due and, if it is a safety matter, stops the machine when it
// is late.
func TestEveryInspection(t *testing.T) {
	t.Parallel()
	kinds(t, func(t *testing.T, world *world, prof *profile.Profile) {
		for i := range prof.Checks {
			check := &prof.Checks[i]
			if !check.Inspection {
				continue
			}
			if check.Qualified {
				if r := world.as("ada", "reading", "machine=Marble", "check="+check.Name, "values=pass"); !r.Refused {
					t.Errorf("%s passes, and nobody says who inspected it", check.ID)
				}
			}
			world.must(world.as("ada", "reading", "machine=Marble", "check="+check.Name, "values=pass: by hand"))
			world.must(world.as("ada", "reading", "machine=Marble", "check="+check.Name, "values=fail: worn"))
			if st := world.status(); st.TaggedOut() != (check.Class == profile.Safety) ||
				!strings.Contains(strings.Join(world.last.Lines, " "), check.Fail) {
				t.Errorf("%s fails: tagged out %v, said %q", check.ID, st.TaggedOut(), world.last.Lines)
			}
			world.restart()
			if check.Every == nil {
				continue
			}
			// Only this one is let go: the others are done on the day before.
			due := world.status().Check(check.ID).Due.On
			others := func(at time.Time) {
				for world.now.Before(at) {
					world.now = world.now.Add(min(at.Sub(world.now), 5*24*time.Hour))
					for j := range prof.Checks {
						if o := &prof.Checks[j]; o.Every != nil && o.ID != check.ID {
							world.must(world.as("ada", "reading", "machine=Marble", "check="+o.Name, "values=pass"))
						}
					}
				}
			}
			others(due.Add(-time.Hour))
			world.sweep(2 * time.Hour)
			if st := world.status(); st.TaggedOut() || st.Check(check.ID).Due.State == 0 {
				t.Errorf("%s, due: tagged out %v, state %d", check.ID, st.TaggedOut(), st.Check(check.ID).Due.State)
			}
			others(due.AddDate(0, 0, check.Every.LateDays).Add(-time.Hour))
			world.sweep(9 * time.Hour) // until the shop opens
			world.notices()
			if st := world.status(); st.TaggedOut() != (check.Class == profile.Safety) {
				t.Errorf("%s, late: tagged out %v", check.ID, st.TaggedOut())
			}
			world.restart()
		}
	})
}

// Every service: asked for, done, counted again, due by its hours and by its days,
// late, done late; and what it moves must be read again.
func TestEveryService(t *testing.T) {
	t.Parallel()
	for _, kind := range profile.Builtin() {
		text, err := profile.BuiltinText(kind)
		if err != nil {
			t.Fatal(err)
		}
		prof, err := profile.Load(kind+".yaml", text, nil)
		if err != nil {
			t.Fatal(err)
		}
		for i := range prof.Services {
			service := &prof.Services[i]
			t.Run(kind+" "+service.ID, func(t *testing.T) {
				t.Parallel()
				world := newWorld(t)
				world.ready(kind)
				world.must(world.as("ada", "how", "machine=Marble", "what="+service.Name))
				isolationFirst(t, world, service.Work)
				first := service.First
				if !first.Recurs() {
					first = service.Every
				}
				useUp(t, world, service, first)
				if service.Every.Recurs() {
					useUp(t, world, service, service.Every)
				}
				if service.After == "" {
					return
				}
				world.must(world.as("ada", "event", "machine=Marble", "event="+prof.Event(service.After).Name))
				useUp(t, world, service, first)
			})
		}
	}
}

// useUp lets a service fall due by a rule, be late, and be done.
func useUp(t *testing.T, world *world, service *profile.Service, rule profile.Rule) {
	t.Helper()
	state := func() (int, string) {
		st := world.status().Service(service.ID)
		return int(st.Due.State), fmt.Sprint(st.Due.Left, " ", st.Due.On)
	}
	want := func(what string, n int) {
		t.Helper()
		if got, how := state(); got != n {
			t.Errorf("%s, %s: state %d (%s), want %d", service.ID, what, got, how, n)
		}
	}
	run := func(h quantity.Value) {
		for day := quantity.New(10, 1, quantity.Hour); h.Sign() > 0; h = h.Sub(day) {
			use := h
			if use.Cmp(day) > 0 {
				use = day
			}
			world.must(world.as("bo", "hours", "machine=Marble", fmt.Sprintf("hours=%d s",
				int64(use.Float(quantity.Second))),
				"sure=yes"))
		}
	}
	want("before", 0)
	if rule.Hours.Valid() {
		minute := quantity.New(1, 1, quantity.Minute)
		run(rule.Hours.Sub(minute))
		want("a minute before its hours", 0)
		run(minute)
		want("at its hours", 1)
		if rule.LateHours.Valid() {
			run(rule.LateHours)
			want("late by hours", 2)
		}
	} else {
		world.now = world.status().Service(service.ID).Due.On.Add(-time.Minute)
		want("a minute before its day", 0)
		world.now = world.now.Add(time.Minute)
		want("on its day", 1)
		if rule.LateDays > 0 {
			world.now = world.status().Service(service.ID).Due.LateOn
			want("late by days", 2)
		}
	}
	world.must(world.as("ada", "service", "machine=Marble", "service="+service.Name, "note=done"))
	want("done", 0)
	st := world.status()
	for _, id := range world.snapshot().Machine.Profile.Moved(service.Surfaces) {
		cs := st.Check(id)
		if cs.Freshness != domain.Stale {
			t.Errorf("%s moved %s, which is not stale", service.ID, id)
		}
		world.must(world.as("ada", "reading", "machine=Marble", "check="+cs.Check.Name,
			"values="+typed(cs.Check, cs.Check.Example)))
	}
}

// isolationFirst sees that the work that was last asked for is told in order:
// every step of isolating, then what comes off, then the work, then what goes
// back on, then the way back to power.
func isolationFirst(t *testing.T, world *world, work profile.Work) {
	t.Helper()
	prof := world.snapshot().Machine.Profile
	var order []string
	if work.Isolated {
		order = append(order, prof.Isolation.Before...)
	}
	order = append(order, work.Off...)
	for _, s := range work.Steps {
		if s != profile.ClampingStep {
			order = append(order, s)
		}
	}
	if work.Isolated {
		order = append(order, prof.Isolation.After...)
	}
	said := strings.Join(world.last.Lines, "\n")
	at := 0
	for _, step := range order {
		i := strings.Index(said[at:], step)
		if i < 0 {
			t.Fatalf("%q is not said after what comes before it:\n%s", step, said)
		}
		at += i
	}
	for _, c := range work.Cautions {
		if i := strings.Index(said, c); i < 0 || i > strings.Index(said, "1. ") {
			t.Errorf("the caution %q is not said first", c)
		}
	}
}

// Every event makes stale just what it moves and what hangs on that, stops the
// machine if that is a safety matter, and begins what is counted from it.
func TestEveryEvent(t *testing.T) {
	t.Parallel()
	kinds(t, func(t *testing.T, world *world, prof *profile.Profile) {
		for i := range prof.Events {
			event := &prof.Events[i]
			if len(event.Steps) > 0 {
				world.must(world.as("ada", "how", "machine=Marble", "what="+event.Name))
				isolationFirst(t, world, event.Work)
			}
			for _, word := range append([]string{event.ID, event.Name}, event.Words...) {
				world.must(world.as("ada", "event", "machine=Marble", "event="+word))
				st := world.status()
				moved := prof.Moved(event.Surfaces)
				safety := false
				for _, cs := range st.Checks {
					if got := cs.Freshness == domain.Stale; got != slices.Contains(moved, cs.Check.ID) {
						t.Errorf("%s: %s stale %v", event.ID, cs.Check.ID, got)
					}
					safety = safety || cs.Check.Class == profile.Safety && slices.Contains(event.Surfaces, cs.Check.ID)
				}
				if st.TaggedOut() != safety {
					t.Errorf("%s: tagged out %v", event.ID, st.TaggedOut())
				}
				for _, s := range st.Services {
					if s.Service.After == event.ID && s.Began.At.Before(world.now.Add(-time.Second)) {
						t.Errorf("%s: %s is not counted from it", event.ID, s.Service.ID)
					}
				}
				if safety {
					world.restart()
					continue
				}
				for _, id := range moved {
					check := prof.Check(id)
					values := "pass"
					if !check.Inspection {
						values = typed(check, check.Example)
					}
					world.must(world.as("wren", "reading", "machine=Marble", "check="+check.Name, "values="+values))
				}
			}
		}
	})
}

// Every symptom, by its name and each of its words: a danger stops the machine
// and is released only with a word on it; another is told to the stewards,
// gathered, and closed.
func TestEverySymptom(t *testing.T) {
	t.Parallel()
	kinds(t, func(t *testing.T, world *world, prof *profile.Profile) {
		for i := range prof.Symptoms {
			symptom := &prof.Symptoms[i]
			said := append([]string{symptom.ID, symptom.Name, strings.ToUpper(symptom.Name)}, symptom.Words...)
			for count, word := range said {
				world.must(world.as("ada", "problem", "machine=Marble", "what="+word))
				st := world.status()
				if st.TaggedOut() != symptom.Danger {
					t.Fatalf("%q: tagged out %v", word, st.TaggedOut())
				}
				if (symptom.Danger || len(prof.CausesOf(symptom.ID)) == 0) &&
					!strings.Contains(strings.Join(world.last.Lines, " "), symptom.Advice) {
					t.Errorf("%q: the advice is not said: %q", word, world.last.Lines)
				}
				if symptom.Hurt && len(world.last.Buttons) != 0 {
					t.Errorf("%q: more is asked: %+v", word, world.last.Buttons)
				}
				if symptom.Danger {
					if len(st.Dangers) != 1 || st.Dangers[0].Problem.Symptom != symptom.ID {
						t.Errorf("%q: dangers %+v", word, st.Dangers)
					}
					if r := world.as("wren", "release", "machine=Marble"); !r.Refused {
						t.Errorf("%q: released without a word on it", word)
					}
					world.restart()
					continue
				}
				if len(st.Problems) != 1 || st.Problems[0].Key != symptom.ID || st.Problems[0].Reports != count+1 {
					t.Errorf("%q: problems %+v", word, st.Problems)
				}
			}
			if symptom.Danger {
				continue
			}
			world.must(world.as("wren", "mended", "machine=Marble", "problem="+symptom.Name))
			if st := world.status(); len(st.Problems) != 0 {
				t.Errorf("%s, mended: %+v", symptom.ID, st.Problems)
			}
		}
	})
}
