package commands

import (
	"slices"

	"setscrew/domain"
	"setscrew/domain/profile"
)

// namedItem is an item with the name that people call it by.
type namedItem struct {
	item domain.Item
	name string
}

// works lists what a machine's profile says how to do: services, events that
// are work, and checks.
func works(prof *profile.Profile) []namedItem {
	var all []namedItem
	for _, s := range prof.Services {
		all = append(all, namedItem{domain.ServiceItem.Of(s.ID), s.Name})
	}
	for _, e := range prof.Events {
		if len(e.Steps) > 0 {
			all = append(all, namedItem{domain.EventItem.Of(e.ID), e.Name})
		}
	}
	for _, k := range prof.Checks {
		all = append(all, namedItem{domain.CheckItem.Of(k.ID), k.Name})
	}
	return all
}

// confirmable lists everything of a machine that a steward can confirm.
func confirmable(machine domain.Machine) []namedItem {
	var all []namedItem
	for _, item := range (domain.Setup{}).StartingValues(machine.Profile) {
		switch item.Kind {
		case domain.CheckItem:
			k := itemCheck(machine.Profile, item)
			name := k.Name
			for _, x := range k.Modes {
				if x.ID == k.Mode {
					name += ", " + x.Name
				}
			}
			all = append(all, namedItem{item, name})
		case domain.AdjusterItem:
			all = append(all, namedItem{item, machine.Profile.Adjuster(item.ID).Name})
		case domain.ServiceItem:
			all = append(all, namedItem{item, machine.Profile.Service(item.ID).Name})
		}
	}
	return all
}

// itemCheck is the check that an item is about, in the mode that it names.
func itemCheck(p *profile.Profile, item domain.Item) *profile.Check {
	return p.Check(item.ID).In(item.Mode)
}

// itemNames are the names of things that can be confirmed.
func (w *wording) itemNames(m domain.Machine, items []domain.Item) []string {
	names := make([]string, len(items))
	all := confirmable(m)
	for i, item := range items {
		for _, n := range all {
			if n.item == item {
				names[i] = n.name
			}
		}
	}
	return names
}

// itemName is a service's or a check's name, or its id where the profile has it no
// more.
func itemName(p *profile.Profile, item domain.Item) string {
	if s := p.Service(item.ID); item.Kind == domain.ServiceItem && s != nil {
		return s.Name
	}
	if k := p.Check(item.ID); item.Kind == domain.CheckItem && k != nil {
		return k.Name
	}
	return item.Local()
}

// workNames names services and checks.
func workNames(m domain.Machine, items []domain.Item) []string {
	names := make([]string, len(items))
	for i, item := range items {
		names[i] = itemName(m.Profile, item)
	}
	return names
}

// checkNames are the names of checks by their ids.
func checkNames(p *profile.Profile, ids []string) []string {
	var names []string
	for _, id := range ids {
		names = append(names, p.Check(id).Name)
	}
	return names
}

// checksByName lists a profile's checks by the names that people call them by.
func checksByName(prof *profile.Profile) []named {
	return namedIn(prof.Checks, func(k *profile.Check) named { return named{ID: k.ID, Name: k.Name} })
}

// calledMachine is what a machine is called: by its name, or by its kind.
func calledMachine(m *domain.Machine) named {
	return named{Name: m.Name, Words: []string{m.Setup.Kind}, Every: true}
}

// nameOfService is a service's name, or its id where the profile has it no more.
func nameOfService(m domain.Machine, id string) string {
	if m.Profile != nil {
		if s := m.Profile.Service(id); s != nil {
			return s.Name
		}
	}
	return id
}

// mendName is the name of what mends a cause, "" where nothing but its use does.
func mendName(prof *profile.Profile, cause *profile.Cause) string {
	switch {
	case cause.Mend.Service != "":
		return prof.Service(cause.Mend.Service).Name
	case cause.Mend.Event != "":
		return prof.Event(cause.Mend.Event).Name
	case cause.Mend.Check != "":
		return prof.Check(cause.Mend.Check).Name
	}
	return ""
}

// materials is all work of a profile that needs a material, services first.
func materials(prof *profile.Profile) []profile.Work {
	var all []profile.Work
	for _, s := range prof.Services {
		all = append(all, s.Work)
	}
	for _, e := range prof.Events {
		all = append(all, e.Work)
	}
	return slices.DeleteFunc(all, func(w profile.Work) bool { return w.Material == "" })
}

// machineNamed finds a machine by its name without regard to case; the only one
// there is if nothing was typed.
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

// variants are a check in each of its modes, or the check itself.
func variants(check *profile.Check) []*profile.Check {
	if len(check.Modes) == 0 {
		return []*profile.Check{check}
	}
	var all []*profile.Check
	for _, m := range check.Modes {
		all = append(all, check.In(m.ID))
	}
	return all
}
