package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

var shopAdd = &Command{
	Name: "shop add", Who: Steward, Quiet: true, Words: 60,
	Options: []Option{{Name: "name", Takes: Text, Required: true, Max: 40},
		{Name: "kind", Takes: ProfileKind, Required: true},
		{Name: "units", Takes: OneOf, OneOf: unitNames}, {Name: "with", Takes: Text, Max: 100}},
	Examples: []string{`/shop add name:"Granite" kind:thickness-planer with:"knives=4"`},
}

func runAdd(c *call) (Reply, error) {
	// The kind.
	var kinds []named
	for _, k := range profile.Builtin() {
		kinds = append(kinds, named{k, strings.ReplaceAll(k, "-", " ")})
	}
	i, err := c.lookUp("kind", "kind", kinds)
	if err != nil {
		return Reply{}, err
	}
	kind := kinds[i].id
	// The profile as it stands now, with what is fitted.
	text, err := profile.BuiltinText(kind)
	if err != nil {
		return Reply{}, err
	}
	plain, err := profile.Load(kind+".yaml", text, nil)
	if err != nil {
		return Reply{}, err
	}
	params, err := c.params(plain)
	if err != nil {
		return Reply{}, err
	}
	hash, err := c.books.KeepProfile(c, kind, text)
	if err != nil {
		return Reply{}, err
	}
	added := domain.MachineAdded{Name: words.Clean(c.options["name"]),
		Setup: domain.Setup{Kind: kind, Hash: hash, Params: params, Rev: 1}}
	added.Units, _ = quantity.ParseSystem(c.options["units"])
	if added.Name == "" {
		return Reply{}, &userError{key: "option.missing", data: words.D{"Option": "name"}, example: shopAdd.Examples[0]}
	}
	// What comes next: every starting value is confirmed.
	outcome, err := c.report(domain.Machine{}, added)
	if err != nil {
		return Reply{}, err
	}
	m := outcome.After.Machine
	r := Reply{Headline: c.say("add.done", words.D{"Machine": words.User(m.Name), "Kind": m.Profile.Name,
		"No": outcome.Fact.No})}
	r.Lines = append(r.Lines, c.say("add.starting", words.D{"N": len(outcome.After.Starting)}), c.say("add.tag", nil),
		c.say("add.next", nil), `/shop confirm machine:`+quoted(m.Name))
	return r, nil
}

// params reads a profile's parameters: "knives=4", several with commas.
func (c *call) params(prof *profile.Profile) (profile.Params, error) {
	params := profile.Params{}
	for _, part := range strings.Split(c.options["with"], ",") {
		part = strings.TrimSpace(words.Clean(part))
		if part == "" {
			continue
		}
		id, text, _ := strings.Cut(part, "=")
		text = strings.TrimSpace(text)
		var found *profile.Parameter
		for i := range prof.Parameters {
			if fold(id) == prof.Parameters[i].ID {
				found = &prof.Parameters[i]
			}
		}
		if found == nil || !found.Can(text) {
			var accepted []string
			works := ""
			for _, q := range prof.Parameters {
				accepted = append(accepted, q.ID+" "+q.Accepts())
				if works == "" || q.ID == fold(id) {
					works = q.ID + "=" + q.Default
				}
			}
			return nil, &userError{key: "add.with", data: words.D{"Given": words.User(part),
				"Accepted": strings.Join(accepted, ", ")}, example: c.exampleWith("with", works)}
		}
		params[found.ID] = text
	}
	return params, nil
}
