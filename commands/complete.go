package commands

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/match"
	"setscrew/domain/profile"
	"setscrew/domain/upkeep"
)

// maxChoices is how many offers a completion may make.
const maxChoices = 25

// maxRecent is how many of a person's last reports a completion looks at.
const maxRecent = 50

// offer is a name that may complete an option, with its rank: lower stands
// first.
type offer struct {
	name  string
	used  int      // how many of the person's reports ago it was last used
	due   int      // how near it is to being due
	words []string // what else people say for it
}

// Complete offers choices for a half-typed option, at most 25: those whose name holds
// what was typed, first those that this person used last, then those nearest to being
// due, then by name; after them those that its words fit, best first. Where a symptom is
// asked for, what was typed is always one of them. It never fails; when something is
// wrong there is nothing to offer.
func (d *Desk) Complete(ctx context.Context, asked Completion) []Choice {
	cmd := d.byName[asked.Name].Command
	if cmd == nil {
		return nil
	}
	i := slices.IndexFunc(cmd.Options, func(o Option) bool { return o.Name == asked.Option })
	if i < 0 {
		return nil
	}
	// What the option takes: of the shop, of the program, or of a machine.
	var offers []offer
	switch takes := cmd.Options[i].Takes; takes {
	case Machine:
		offers = d.machines(ctx, asked)
	case ProfileKind:
		for _, k := range profile.Builtin() {
			offers = append(offers, offer{name: k})
		}
	case GaugeKind:
		for n, k := range profile.GaugeKinds() {
			offers = append(offers, offer{name: k.Name, due: n})
		}
	case OwnGauge:
		own, err := d.open(asked.Shop).Gauges(ctx)
		if err != nil {
			return nil
		}
		for n, g := range own {
			offers = append(offers, offer{name: g.Name, due: n})
		}
	case Stock:
		shelf, err := d.open(asked.Shop).Shelf(ctx)
		if err != nil {
			return nil
		}
		for _, s := range shelf {
			offers = append(offers, offer{name: s.Name})
		}
		all, err := d.open(asked.Shop).Machines(ctx)
		if err != nil {
			return nil
		}
		for _, m := range all {
			for _, w := range materials(m.Profile) {
				if domain.OnShelf(shelf, w.Material) == nil &&
					!slices.ContainsFunc(offers, func(o offer) bool { return o.name == w.Material }) {
					offers = append(offers, offer{name: w.Material, due: 1}) // not counted yet
				}
			}
		}
	case CommandName:
		for n, c := range d.list {
			offers = append(offers, offer{name: c.Name, due: n}) // as help lists them
		}
	default:
		offers = d.parts(ctx, asked, takes)
	}
	// Those that hold what was typed, in their order.
	t := fold(asked.Partial)
	fitting := fitting(asked.Partial, offers)
	offers = slices.DeleteFunc(offers, func(o offer) bool { return !strings.Contains(fold(o.name), t) })
	slices.SortStableFunc(offers, func(a, b offer) int {
		return cmp.Or(cmp.Compare(a.used, b.used), cmp.Compare(a.due, b.due), cmp.Compare(fold(a.name), fold(b.name)))
	})
	for _, o := range fitting {
		if !slices.ContainsFunc(offers, func(other offer) bool { return other.name == o.name }) {
			offers = append(offers, o)
		}
	}
	most := maxChoices
	own := words.Clean(asked.Partial)
	if cmd.Options[i].Takes != Symptom || slices.ContainsFunc(offers, func(o offer) bool { return fold(o.name) == t }) {
		own = ""
	}
	if own != "" {
		most--
	}
	var all []Choice
	for _, o := range offers[:min(len(offers), most)] {
		// A longer name stands for itself by its beginning, as lookUp takes it.
		r := []rune(o.name)
		all = append(all, Choice{shorten(o.name, choiceChars), string(r[:min(len(r), choiceChars)])})
	}
	if r := []rune(own); own != "" {
		label := d.cat.In().Say("complete.own", words.D{"Words": own})
		all = append(all, Choice{shorten(label, choiceChars), string(r[:min(len(r), choiceChars)])})
	}
	return all
}

// fitting are the offers that a half-typed option's words fit, best first.
func fitting(partial string, offers []offer) []offer {
	among := make([]named, len(offers))
	for i, o := range offers {
		among[i] = named{Name: o.name, Words: o.words}
	}
	var all []offer
	for _, i := range match.ByWords(words.Clean(partial), among) {
		all = append(all, offers[i])
	}
	return all
}

// machines offers the machines in use.
func (d *Desk) machines(ctx context.Context, asked Completion) []offer {
	books := d.open(asked.Shop)
	all, err := books.Machines(ctx)
	if err != nil {
		return nil
	}
	recent, err := books.Recent(ctx, asked.Actor.ID, maxRecent)
	if err != nil {
		return nil
	}
	var offers []offer
	for _, machine := range all {
		snap, err := books.Snapshot(ctx, machine.ID)
		if err != nil {
			return nil
		}
		o := offer{name: machine.Name, words: []string{machine.Setup.Kind}, used: maxRecent,
			due: nearness(domain.Assess(snap, asked.Now))}
		if i := slices.IndexFunc(recent, func(f domain.Fact) bool { return f.Machine == machine.ID }); i >= 0 {
			o.used = i
		}
		offers = append(offers, o)
	}
	return offers
}

// nearness ranks a machine by what is due on it: overdue, due, or not, and then
// by the hours until the next date that it falls due by itself.
func nearness(st domain.Status) int {
	if most := st.MostDue(); most != upkeep.NotDue {
		return -int(most)
	}
	if st.Wake.IsZero() {
		return int((100 * 365 * 24 * time.Hour).Hours())
	}
	return int(st.Wake.Sub(st.At).Hours())
}

// parts offers a machine's checks, services, symptoms, gauges or items to
// confirm.
func (d *Desk) parts(ctx context.Context, asked Completion, takes Takes) []offer {
	books := d.open(asked.Shop)
	all, err := books.Machines(ctx)
	if err != nil {
		return nil
	}
	machine := machineNamed(all, asked.Options["machine"])
	if machine == nil {
		return nil
	}
	// How many reports ago this person last used something of the machine.
	recent, err := books.Recent(ctx, asked.Actor.ID, maxRecent)
	if err != nil {
		return nil
	}
	recent = slices.DeleteFunc(recent, func(f domain.Fact) bool { return f.Machine != machine.ID })
	last := func(is func(domain.Body) bool) int {
		if i := slices.IndexFunc(recent, func(f domain.Fact) bool { return is(f.Body) }); i >= 0 {
			return i
		}
		return maxRecent
	}
	// What there is of the kind that the option takes.
	snap, err := books.Snapshot(ctx, machine.ID)
	if err != nil {
		return nil
	}
	st := domain.Assess(snap, asked.Now)
	var offers []offer
	prof := machine.Profile
	switch takes {
	case Check:
		for i, check := range prof.Checks {
			used := last(func(b domain.Body) bool {
				r, isReading := b.(domain.Reading)
				in, isInspection := b.(domain.Inspection)
				return isReading && r.Check == check.ID || isInspection && in.Check == check.ID
			})
			offers = append(offers, offer{name: check.Name, used: used, due: i - 100*int(st.Check(check.ID).Due.State)})
		}
	case Service:
		for i, service := range prof.Services {
			due := 1000 + i // one that never falls due stands last
			if n := slices.IndexFunc(st.Services,
				func(x domain.ServiceStatus) bool { return x.Service.ID == service.ID }); n >= 0 {
				due = n
			}
			used := last(func(b domain.Body) bool {
				done, ok := b.(domain.ServiceDone)
				return ok && done.Service == service.ID
			})
			offers = append(offers, offer{name: service.Name, used: used, due: due})
		}
	case BladeSet:
		for i, x := range st.Sets {
			offers = append(offers, offer{name: x.Set, due: i})
		}
	case OpenProblem:
		for i, x := range problemsShown(st) {
			if asked.Name != mendedName || x.first != 0 && st.Problem(x.key) != nil {
				offers = append(offers, offer{name: x.name, due: i})
			}
		}
	case Event:
		for i, e := range prof.Events {
			offers = append(offers, offer{e.Name,
				last(func(b domain.Body) bool { x, ok := b.(domain.EventSeen); return ok && x.Event == e.ID }),
				i, e.Words})
		}
	case Work:
		for i, n := range works(prof) {
			offers = append(offers, offer{name: n.name, due: i})
		}
	case Mode:
		for _, k := range prof.Checks {
			if fold(k.Name) != fold(asked.Options["check"]) && k.ID != fold(asked.Options["check"]) {
				continue
			}
			for i, x := range k.Modes {
				offers = append(offers, offer{name: x.Name, due: i})
			}
		}
	case Symptom:
		for i, s := range prof.Symptoms {
			offers = append(offers, offer{s.Name,
				last(func(b domain.Body) bool { x, ok := b.(domain.Problem); return ok && x.Symptom == s.ID }),
				i, s.Words})
		}
	case Gauge:
		used := func(name string) int {
			return last(func(b domain.Body) bool {
				r, ok := b.(domain.Reading)
				return ok && !r.Gauge.Assumed && r.Gauge.Name == name
			})
		}
		for _, g := range snap.Gauges {
			offers = append(offers, offer{name: g.Name, used: used(g.Name)})
		}
		for _, g := range prof.Gauges {
			offers = append(offers, offer{name: g.Name, used: used(g.Name)})
		}
	case Item:
		for i, one := range confirmable(*machine) {
			due := i
			if !slices.Contains(st.Starting, one.item) {
				due += 1000 // confirmed already
			}
			offers = append(offers, offer{name: one.name, due: due})
		}
	}
	return offers
}
