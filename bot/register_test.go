package bot

import (
	"reflect"
	"slices"
	"testing"

	"setscrew/commands"
	"setscrew/commands/words"
)

func newCatalogue(t *testing.T) *words.Catalogue {
	t.Helper()
	cat, err := words.Load()
	if err != nil {
		t.Fatal(err)
	}
	return cat
}

// Every command is declared with its options as they are, and works in servers only;
// a name of two words is a subcommand.
func TestDeclares(t *testing.T) {
	t.Parallel()
	desk := commands.NewDesk(nil, nil, newCatalogue(t))
	byName := map[string]declared{}
	for _, c := range declare(desk) {
		if c.Type != 1 || !slices.Equal(c.Contexts, []int{inServers}) {
			t.Errorf("/%s: type %d in contexts %v", c.Name, c.Type, c.Contexts)
		}
		byName[c.Name] = c
		for _, o := range c.Options {
			if o.Type == optionSub {
				byName[c.Name+" "+o.Name] = o
			}
		}
	}
	types := map[commands.Takes]int{commands.Person: 6, commands.Channel: 7, commands.Role: 8, commands.Attachment: 11}
	seen := map[commands.Takes]bool{}
	for _, c := range desk.Declarations() {
		d := byName[c.Name]
		if d.Description != desk.Describe(c, "") || len(d.Options) != len(c.Options) {
			t.Fatalf("/%s: %q with %d options, want %d", c.Name, d.Description, len(d.Options), len(c.Options))
		}
		for i, o := range c.Options {
			seen[o.Takes] = true
			want := declared{Type: 3, Name: o.Name, Description: desk.Describe(c, o.Name), Required: o.Required,
				MaxLength: o.Max}
			if kind := types[o.Takes]; kind != 0 {
				want.Type = kind
			}
			if o.Takes == commands.Channel {
				want.ChannelTypes = []int{0} // text channels
			}
			for _, one := range o.OneOf {
				want.Choices = append(want.Choices, choice{one, one})
			}
			want.Autocomplete = want.Type == 3 && o.Takes != commands.Text && o.Takes != commands.OneOf
			if !reflect.DeepEqual(d.Options[i], want) {
				t.Errorf("/%s %s: %+v, want %+v", c.Name, o.Name, d.Options[i], want)
			}
		}
	}
	for _, takes := range []commands.Takes{commands.Text, commands.Machine, commands.Person, commands.Role,
		commands.Channel, commands.Attachment, commands.OneOf} {
		if !seen[takes] {
			t.Errorf("no option takes %d: the test looks at nothing", takes)
		}
	}
}

// Whatever differs of a command differs; the order of the commands does not count.
func TestDeclaredTheSame(t *testing.T) {
	t.Parallel()
	list := func(change func([]declared)) []declared {
		all := []declared{{Type: 1, Name: "due", Description: "What is due", Contexts: []int{0},
			Options: []declared{{Type: 3, Name: "machine", Description: "which", MaxLength: 100}}},
			{Type: 1, Name: "help", Description: "Help", Contexts: []int{0}}}
		change(all)
		return all
	}
	want := list(func([]declared) {})
	if !sameCommands(list(slices.Reverse[[]declared]), want) {
		t.Error("another order differs")
	}
	for name, have := range map[string][]declared{
		"one more":     append(list(func([]declared) {}), declared{Type: 1, Name: "more"}),
		"one less":     want[:1],
		"another name": list(func(all []declared) { all[1].Name = "helping" }),
		"a word":       list(func(all []declared) { all[1].Description = "Helps" }),
		"an option":    list(func(all []declared) { all[0].Options = nil }),
		"a length":     list(func(all []declared) { all[0].Options[0].MaxLength = 50 }),
		"where":        list(func(all []declared) { all[1].Contexts = nil }),
	} {
		if sameCommands(have, want) {
			t.Errorf("%s: no difference is seen", name)
		}
	}
}
