package commands

import (
	"context"
	"strings"

	"setscrew/domain"
	"setscrew/domain/profile"
)

// maxChoices is how many offers a completion may make.
const maxChoices = 25

// Complete offers choices for a half-typed option: those whose name holds what
// was typed, at most 25. It never fails; when something is wrong there is
// nothing to offer.
func (d *Desk) Complete(ctx context.Context, q Completion) []Choice {
	cmd := d.byName[q.Name]
	if cmd == nil {
		return nil
	}
	var takes Takes
	for _, o := range cmd.Options {
		if o.Name == q.Option {
			takes = o.Takes
		}
	}
	books := d.open(q.Shop)
	machines, err := books.Machines(ctx)
	if err != nil {
		return nil
	}
	var names []string
	switch takes {
	case Machine:
		for _, m := range machines {
			names = append(names, m.Name)
		}
	case ProfileKind:
		names = profile.Builtin()
	case CommandName:
		for _, c := range d.list {
			names = append(names, c.Name)
		}
	default:
		m := machineNamed(machines, q.Options["machine"])
		if m == nil {
			return nil
		}
		names = d.partNames(ctx, books, *m, takes)
	}
	t := fold(q.Partial)
	var begins, holds []Choice
	for _, n := range names {
		switch f := fold(n); {
		case strings.HasPrefix(f, t):
			begins = append(begins, Choice{shorten(n, 100), n})
		case strings.Contains(f, t):
			holds = append(holds, Choice{shorten(n, 100), n})
		}
	}
	all := append(begins, holds...)
	return all[:min(len(all), maxChoices)]
}

func machineNamed(machines []domain.Machine, typed string) *domain.Machine {
	for i := range machines {
		if fold(machines[i].Name) == fold(typed) {
			return &machines[i]
		}
	}
	if len(machines) == 1 && typed == "" {
		return &machines[0]
	}
	return nil
}

// partNames are the names of a machine's checks, services, symptoms, gauges or
// items to confirm.
func (d *Desk) partNames(ctx context.Context, books Books, m domain.Machine, takes Takes) []string {
	var names []string
	p := m.Profile
	switch takes {
	case Check:
		for _, k := range p.Checks {
			names = append(names, k.Name)
		}
	case Service:
		for _, s := range p.Services {
			names = append(names, s.Name)
		}
	case Symptom:
		for _, s := range p.Symptoms {
			names = append(names, s.Name)
		}
	case Gauge:
		own, err := books.Gauges(ctx)
		if err != nil {
			return nil
		}
		for _, g := range own {
			names = append(names, g.Name)
		}
		for _, g := range p.Gauges {
			names = append(names, g.Name)
		}
	case Item:
		for _, n := range confirmable(m) {
			names = append(names, n.name)
		}
	}
	return names
}
