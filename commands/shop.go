package commands

import (
	"fmt"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

var shopAdd = &Command{
	Name: "shop add", Who: Steward, Quiet: true, Words: 60, MostWords: 190,
	Options: []Option{{Name: "name", Takes: Text, Required: true, Max: 40},
		{Name: "kind", Takes: ProfileKind, Required: true}, stateOption,
		{Name: "units", Takes: OneOf, OneOf: unitNames}, {Name: "with", Takes: Text, Max: 100}},
	Examples: []string{`/shop add name:"Granite" kind:thickness-planer state:new with:"knives=4"`},
}

// runAdd puts a machine of a built-in kind on the shop's books, and says what proves that it
// may run.
func runAdd(c *call) (Reply, error) {
	// The kind.
	var kinds []named
	for _, k := range profile.Builtin() {
		kinds = append(kinds, named{ID: k, Name: strings.ReplaceAll(k, "-", " ")})
	}
	i, err := c.lookUp("kind", "kind", kinds)
	if err != nil {
		return Reply{}, err
	}
	kind := kinds[i].ID
	// The profile as it stands now, with what is fitted.
	text, err := profile.BuiltinText(kind)
	if err != nil {
		return Reply{}, fmt.Errorf("read the built-in kind %s: %w", kind, err)
	}
	plain, err := profile.Load(kind+".yaml", text, nil)
	if err != nil {
		return Reply{}, fmt.Errorf("load the built-in kind %s: %w", kind, err)
	}
	params, err := c.params(plain)
	if err != nil {
		return Reply{}, err
	}
	name := words.Clean(c.options["name"])
	if name == "" {
		return Reply{}, &userError{key: "option.missing", data: words.D{"Option": "name"}, example: shopAdd.Examples[0]}
	}
	// Whether it is in use already, which does not matter where nothing can hurt much.
	state := domain.StartState(c.options[stateOption.Name])
	switch {
	case state != "":
	case plain.Harmless:
		state = domain.StartNew
	default:
		return c.askState(name), nil
	}
	hash, err := c.books.KeepProfile(c, kind, text)
	if err != nil {
		return Reply{}, err
	}
	added := domain.MachineAdded{Name: name, Setup: domain.Setup{Kind: kind, Hash: hash, Params: params,
		Start: domain.Start{State: state}, Rev: 1}}
	added.Units, _ = quantity.ParseSystem(c.options["units"])
	// What comes next: its ticks, or every starting value and a first release.
	outcome, err := c.report(domain.Machine{}, added)
	if err != nil {
		return Reply{}, err
	}
	st := outcome.After
	done := c.say("add.done", words.D{"Machine": words.User(st.Machine.Name), "Kind": st.Machine.Profile.Name,
		"No": outcome.Fact.No})
	switch {
	case len(st.Missing) > 0:
		reply := c.tickReply(st)
		reply.Lines = append([]string{done}, reply.Lines...)
		return reply, nil
	case st.SettingUp:
		reply := Reply{Headline: done, Lines: []string{c.notInService(st), c.say("add.release", nil)}}
		return c.withFirsts(reply, st), nil
	}
	return c.withFirsts(Reply{Headline: done}, st), nil
}

// askState asks whether a machine that is being added is in use already.
func (c *call) askState(name string) Reply {
	return Reply{Headline: c.say("add.state", words.D{"Machine": words.User(name)}),
		Lines: []string{c.say("add.state.new", nil), c.say("add.state.in-use", nil)},
		Buttons: []Button{c.again(c.say("button.state.new", nil), stateOption.Name, string(domain.StartNew)),
			c.again(c.say("button.state.in-use", nil), stateOption.Name, string(domain.StartInUse))}}
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
