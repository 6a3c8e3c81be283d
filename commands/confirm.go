package commands

import (
	"errors"
	"slices"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

var shopConfirm = &Command{
	Name: "shop confirm", Who: Steward, Quiet: true, Words: 100,
	Options: []Option{machineOption, {Name: "what", Takes: Item},
		{Name: "target", Takes: Text, Max: 40}, {Name: "adjust", Takes: Text, Max: 60},
		{Name: "stop", Takes: Text, Max: 60}, {Name: "why", Takes: Text, Max: 200},
		{Name: "page", Takes: Text, Max: 100}, {Name: "sure", Takes: OneOf, OneOf: []string{"yes"}}, photoOption},
	Examples: []string{`/shop confirm machine:Marble what:"infeed roller"`,
		`/shop confirm machine:Marble what:"infeed roller" ` +
			`target:"1.0 mm" adjust:"0.9 to 1.1 mm" stop:"0.5 to 1.5 mm"`},
}

// confirmAction confirms an item as it stands and shows the next.
const confirmAction waiting[confirming] = "confirm"

// confirming is an item that waits to be confirmed.
type confirming struct {
	Machine domain.MachineID `json:"machine"`
	Item    domain.Item      `json:"item"`
	Rev     int64            `json:"rev"` // of the set-up that was shown
}

// runConfirm confirms one starting value of a machine, or sets the shop's own in its place;
// with nothing named it shows the next that waits.
func runConfirm(c *call) (Reply, error) {
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	if c.options["what"] == "" {
		r := Reply{Headline: c.say("confirm.headline", words.D{"Machine": words.User(machine.Name)})}
		c.nextItem(&r, machine, st.Starting)
		r.Lines = append(r.Lines, c.say("caution.manual", nil))
		return r, nil
	}
	items := confirmable(machine)
	i, err := c.lookUpItem("what", "item", items)
	if err != nil {
		return Reply{}, err
	}
	item := items[i].item
	values, err := c.ownValues(machine, item)
	if err != nil {
		return Reply{}, err
	}
	return c.confirmItem(machine, item, values)
}

// runConfirmNext confirms the value that was shown and shows the next; where the set-up has
// changed since, nothing is stored.
func runConfirmNext(c *call, confirm confirming) (Reply, error) {
	snap, err := c.books.Snapshot(c, confirm.Machine)
	if err != nil {
		return Reply{}, err
	}
	machine := snap.Machine
	if machine.Setup.Rev != confirm.Rev {
		return Reply{}, &domain.Refusal{Code: domain.SetupChangedNow, Name: machine.Name}
	}
	if !slices.ContainsFunc(confirmable(machine), func(n namedItem) bool { return n.item == confirm.Item }) {
		return Reply{}, noSuchButton()
	}
	r, err := c.confirmItem(machine, confirm.Item, nil)
	r.Replaces = true
	return r, err
}

// nextItem shows the next starting value and offers to confirm it.
func (c *call) nextItem(reply *Reply, machine domain.Machine, starting []domain.Item) {
	if len(starting) == 0 {
		reply.Lines = append(reply.Lines, c.say("confirm.all", nil))
		return
	}
	item := starting[0]
	name := c.itemNames(machine, starting[:1])[0]
	reply.Lines = append(reply.Lines, c.say("confirm.left", words.D{"N": len(starting)}),
		c.say("confirm.next", words.D{"Item": name}), c.itemLine(machine, item, false),
		c.say("why.source", words.D{"Source": itemSource(machine.Profile, item)}), c.say("confirm.own", nil))
	reply.Buttons = append(reply.Buttons, Button{
		Label:  shorten(c.say("button.confirm", words.D{"Item": name}), buttonChars),
		Style:  Primary,
		Custom: wait(c, confirmAction, confirming{machine.ID, item, machine.Setup.Rev})})
}

// confirmItem confirms an item, with own values where values is not nil.
func (c *call) confirmItem(machine domain.Machine, item domain.Item, values *domain.CheckValues) (Reply, error) {
	outcome, asked, err := c.setUp(machine, item, machine.Setup.With(item, c.actor.ID, c.now, values))
	if err != nil {
		return Reply{}, err
	}
	if asked != nil {
		return *asked, nil
	}
	reply := Reply{Headline: c.say("confirm.done",
		words.D{"Machine": words.User(machine.Name), "Item": c.itemNames(machine, []domain.Item{item})[0]})}
	if values != nil {
		reply.Lines = append(reply.Lines, c.itemLine(outcome.After.Machine, item, true))
	}
	c.nextItem(&reply, outcome.After.Machine, outcome.After.Starting)
	reply.Lines = append(reply.Lines, c.say("caution.manual", nil))
	return reply, nil
}

// ownValues reads a shop's own target and limits for a check, nil when none are
// given.
func (c *call) ownValues(machine domain.Machine, item domain.Item) (*domain.CheckValues, error) {
	given := c.options["target"] != "" || c.options["adjust"] != "" || c.options["stop"] != ""
	switch {
	case !given:
		return nil, nil
	case item.Kind != domain.CheckItem:
		return nil, &userError{key: "confirm.notcheck", example: c.exampleWithout("target", "adjust", "stop")}
	}
	check := itemCheck(machine.Profile, item)
	if !check.Target.Valid() {
		return nil, &userError{key: "confirm.notarget", data: words.D{"Check": capital(check.Name)},
			example: c.exampleWithout("target", "adjust", "stop")}
	}
	// What is not given stays as it is.
	example := c.exampleConfirm(machine, check)
	ctx := quantity.Context{Kind: check.Kind(), Entry: check.Entry[machine.UnitsIn(c.shop)]}
	values := &domain.CheckValues{Target: check.Target, Adjust: check.Adjust, Stop: check.Stop}
	if t := c.options["target"]; t != "" {
		target, err := readSetting(t, func(text string) (*domain.CheckValues, error) {
			parsed, err := quantity.Parse(text, ctx)
			return &domain.CheckValues{Target: parsed.Value}, err
		}, check)
		if err != nil {
			return nil, c.optionError(err, "target", example)
		}
		values.Target = target.Target
	}
	for _, set := range []struct {
		option string
		limits *metrology.Limits
	}{{"adjust", &values.Adjust}, {"stop", &values.Stop}} {
		text := c.options[set.option]
		if text == "" {
			continue
		}
		read, err := readSetting(text, func(text string) (*domain.CheckValues, error) {
			low, high, err := quantity.ParseLimits(text, ctx, values.Target)
			return &domain.CheckValues{Stop: metrology.Limits{Low: low, High: high}}, err
		}, check)
		if err != nil {
			return nil, c.optionError(err, set.option, example)
		}
		*set.limits = read.Stop
	}
	if !inOrder(values) {
		return nil, &userError{key: "confirm.order", example: example}
	}
	if c.options["sure"] != "yes" {
		if err := c.doubtSettings(check, values, example); err != nil {
			return nil, err
		}
	}
	return values, nil
}

// readSetting reads a target or limits. Of what can be read in two ways only those count that are
// likely for the check; one that is left alone is taken.
func readSetting(typed string, read func(string) (*domain.CheckValues, error), check *profile.Check) (
	*domain.CheckValues, error) {
	values, err := read(typed)
	var question *quantity.Ambiguity
	if !errors.As(err, &question) {
		return values, err
	}
	var likely []quantity.Option
	for _, option := range question.Options {
		one, wrong := read(option.Text)
		if wrong == nil && !slices.ContainsFunc([]quantity.Value{one.Target, one.Stop.Low, one.Stop.High},
			func(v quantity.Value) bool { return domain.UnlikelySetting(check, v) }) {
			likely, values = append(likely, option), one
		}
	}
	switch {
	case len(likely) == 1 && question.BySize():
		return values, nil
	case len(likely) > 0:
		question.Options = likely
	}
	return nil, question
}

// doubtSettings asks about a target or a limit that is given and is more likely a slip of
// the unit or the decimal point than meant.
func (c *call) doubtSettings(check *profile.Check, values *domain.CheckValues, example string) error {
	for _, set := range []struct {
		option string
		values []quantity.Value
	}{{"target", []quantity.Value{values.Target}}, {"adjust", []quantity.Value{values.Adjust.Low, values.Adjust.High}},
		{"stop", []quantity.Value{values.Stop.Low, values.Stop.High}}} {
		odd := slices.IndexFunc(set.values, func(v quantity.Value) bool { return domain.UnlikelySetting(check, v) })
		if c.options[set.option] == "" || odd < 0 {
			continue
		}
		is := set.values[odd]
		return &userError{key: "confirm.unlikely", example: example,
			data: words.D{"Check": capital(check.Name), "Option": set.option, "Value": bothUnits(check, is),
				"Target": bothUnits(check, check.Target)},
			buttons: []Button{c.again(c.say("button.meant-so", words.D{"Value": bothUnits(check, is)}), "sure", "yes")}}
	}
	return nil
}

// bothUnits prints a value in the units of a check in both systems: "0.75 mm (0.030 in)".
func bothUnits(check *profile.Check, value quantity.Value) string {
	metric, inch := check.Entry[quantity.Metric], check.Entry[quantity.Imperial]
	text := quantity.Show(value, metric, check.Decimals[quantity.Metric]+1)
	if inch != metric {
		text += " (" + quantity.Show(value, inch, check.Decimals[quantity.Imperial]+1) + ")"
	}
	return text
}

// exampleConfirm sets a check's values to what they are.
func (c *call) exampleConfirm(m domain.Machine, check *profile.Check) string {
	unit := check.Entry[m.UnitsIn(c.shop)]
	given := c.options
	defer func() { c.options = given }()
	c.options = map[string]string{"machine": m.Name, "what": given["what"],
		"target": quantity.Typed(check.Target, unit)}
	for _, set := range []struct {
		option string
		limits metrology.Limits
	}{{"adjust", check.Adjust}, {"stop", check.Stop}} {
		if low, high := set.limits.Low, set.limits.High; low.Valid() && high.Valid() {
			c.options[set.option] = quantity.Typed(low, unit) + " to " + quantity.Typed(high, unit)
		}
	}
	return c.exampleWithout()
}

// optionError words a value that could not be read, or asks about one that could be read
// in two ways.
func (c *call) optionError(err error, option, example string) error {
	r, err := c.askOrRefuse(err, option, nil, "")
	if err == nil {
		return &userError{key: "confirm.unclear", data: words.D{"Option": option, "Question": r.Headline},
			example: example, buttons: r.Buttons}
	}
	var s *userError
	if errors.As(err, &s) {
		s.example = example
	}
	return err
}

// inOrder reports whether stop limits hold the adjust limits, and these the
// target.
func inOrder(v *domain.CheckValues) bool {
	row := []quantity.Value{v.Stop.Low, v.Adjust.Low, v.Target, v.Adjust.High, v.Stop.High}
	var last quantity.Value
	for _, value := range row {
		if !value.Valid() {
			continue
		}
		if last.Valid() && last.Cmp(value) > 0 {
			return false
		}
		last = value
	}
	return true
}

// itemLine says what is, or has been, confirmed: the shop's own values as they were set, a
// profile's to the digits of a reading.
func (w *wording) itemLine(machine domain.Machine, item domain.Item, own bool) string {
	switch item.Kind {
	case domain.CheckItem:
		check := itemCheck(machine.Profile, item)
		scale := rulerFor(check, machine.UnitsIn(w.shop))
		if !check.Target.Valid() {
			return w.say("how.alike", words.D{"Most": scale.most(check.AlikeAdjust)})
		}
		if own {
			return w.say("why.limits", words.D{"Target": scale.exactly(check.Target),
				"Adjust": w.limitsText(scale, check.Adjust), "Stop": w.limitsText(scale, check.Stop)})
		}
		return w.say("why.limits", words.D{"Target": scale.briefly(check.Target),
			"Adjust": w.limitsBrief(scale, check.Adjust), "Stop": w.limitsBrief(scale, check.Stop)})
	case domain.AdjusterItem:
		a := machine.Profile.Adjuster(item.ID)
		return w.say("confirm.screw", words.D{"Thread": a.Thread, "Seen": a.SeenFrom,
			"Step": turnsText(a, a.Increment), "Do": w.say("do."+string(a.Clockwise), nil)})
	}
	return w.ruleLine(machine.Profile, machine.Profile.Service(item.ID))
}

// itemSource is where an item's value comes from.
func itemSource(prof *profile.Profile, item domain.Item) string {
	switch item.Kind {
	case domain.CheckItem:
		return itemCheck(prof, item).Source
	case domain.AdjusterItem:
		return prof.Check(prof.Adjuster(item.ID).Check).Source
	}
	return prof.Service(item.ID).Source
}
