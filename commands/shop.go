package commands

import (
	"errors"
	"math/big"
	"slices"
	"strings"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

var shopSettings = &Command{
	Name: "shop settings", Who: Keeper, Quiet: true, Words: 60,
	Options: []Option{{Name: "name", Takes: Text, Max: 60}, {Name: "zone", Takes: Text, Max: 60},
		{Name: "units", Takes: OneOf, OneOf: unitNames}, {Name: "notices", Takes: Channel},
		{Name: "stewards", Takes: Role}, {Name: "digest", Takes: Text, Max: 5}, {Name: "days", Takes: Text, Max: 40}, {Name: "open", Takes: Text, Max: 40}, {Name: "closed", Takes: Text, Max: 300}, {Name: "quiet", Takes: Text, Max: 20}, {Name: "evenings", Takes: Text, Max: 40}, {Name: "shims", Takes: Text, Max: 100}},
	Examples: []string{`/shop settings zone:Europe/Berlin units:metric digest:09:00`, `/shop settings`},
}

var shopAdd = &Command{
	Name: "shop add", Who: Steward, Quiet: true, Words: 60,
	Options: []Option{{Name: "name", Takes: Text, Required: true, Max: 40}, {Name: "kind", Takes: ProfileKind, Required: true},
		{Name: "units", Takes: OneOf, OneOf: unitNames}, {Name: "with", Takes: Text, Max: 100}},
	Examples: []string{`/shop add name:"Granite" kind:thickness-planer with:"knives=4"`},
}

var shopConfirm = &Command{
	Name: "shop confirm", Who: Steward, Quiet: true, Words: 100,
	Options: []Option{machineOption, {Name: "what", Takes: Item},
		{Name: "target", Takes: Text, Max: 40}, {Name: "adjust", Takes: Text, Max: 60}, {Name: "stop", Takes: Text, Max: 60}},
	Examples: []string{`/shop confirm machine:Marble what:"infeed roller"`,
		`/shop confirm machine:Marble what:"infeed roller" target:"1.0 mm" adjust:"0.9 to 1.1 mm" stop:"0.5 to 1.5 mm"`},
}

var shopSecond = &Command{
	Name: "shop second", Who: Steward, Quiet: true, Words: 40,
	Options:  []Option{machineOption, {Name: "check", Takes: Check, Required: true}, {Name: "wanted", Takes: OneOf, OneOf: []string{"yes", "no"}, Required: true}},
	Examples: []string{`/shop second machine:Marble check:"knife clamping" wanted:yes`},
}

var shopRetire = &Command{
	Name: "shop retire", Who: Steward, Quiet: true, Words: 25,
	Options:  []Option{machineOption},
	Examples: []string{`/shop retire machine:Marble`},
}

func runSettings(c *call) (Reply, error) {
	s := c.shop
	changed := false
	for name, v := range c.options {
		v = words.Clean(v)
		if v == "" {
			continue
		}
		changed = true
		switch name {
		case "name":
			s.Name = v
		case "zone":
			if _, err := time.LoadLocation(v); err != nil || v == "Local" {
				return Reply{}, &userError{key: "shop.zone", data: words.D{"Given": words.User(v)}, example: c.exampleWith("zone", "Europe/Berlin")}
			}
			s.Zone = v
		case "units":
			s.Units, _ = quantity.ParseSystem(v)
		case "notices":
			s.NoticeChannel = v
		case "stewards":
			s.StewardRole = v
		case "digest":
			at, err := upkeep.ParseTimeOfDay(v)
			if err != nil {
				return Reply{}, &userError{key: "shop.digest", data: words.D{"Given": words.User(v)}, example: c.exampleWith("digest", "09:00")}
			}
			s.Digest = at
		case "open":
			days, ok := weekdays(v)
			if !ok {
				return Reply{}, &userError{key: "shop.days", data: words.D{"Given": words.User(v)}, example: c.exampleWith("open", "mon tue wed")}
			}
			s.Open = days
		case "closed":
			closed, ok := closures(v)
			if !ok {
				return Reply{}, &userError{key: "shop.closed", data: words.D{"Given": words.User(v)}, example: c.exampleWith("closed", "2026-12-24 to 2027-01-02, 2027-05-01")}
			}
			s.Closed = closed
		case "quiet":
			quiet, ok := quietHours(v)
			if !ok {
				return Reply{}, &userError{key: "shop.quiet", data: words.D{"Given": words.User(v)}, example: c.exampleWith("quiet", "22:00-07:00")}
			}
			s.Quiet = quiet
		case "evenings":
			evenings, ok := stewardEvenings(v)
			if !ok {
				return Reply{}, &userError{key: "shop.evenings", data: words.D{"Given": words.User(v)}, example: c.exampleWith("evenings", "thu 18:00-21:00")}
			}
			s.Evenings = evenings
		case "days":
			days, ok := weekdays(v)
			if !ok {
				return Reply{}, &userError{key: "shop.days", data: words.D{"Given": words.User(v)}, example: c.exampleWith("days", "mon wed fri")}
			}
			s.Days = days
		case "shims":
			shims, err := c.shims(v)
			if err != nil {
				return Reply{}, err
			}
			s.Shims = shims
		}
	}
	if changed {
		if _, err := c.report(domain.Machine{}, domain.ShopSet{Shop: s}); err != nil {
			return Reply{}, err
		}
		c.shop = s
	}
	say := func(v, unset string) string {
		if v == "" {
			return c.say(unset, nil)
		}
		return words.User(v)
	}
	r := Reply{Headline: c.say("shop.settings", nil)}
	if changed {
		r.Headline = c.say("shop.changed", nil)
	}
	r.Table = &Table{Rows: [][]string{
		{c.say("shop.row.name", nil), say(s.Name, "shop.unset")},
		{c.say("shop.row.zone", nil), words.User(s.Zone)},
		{c.say("shop.row.units", nil), s.Units.String()},
		{c.say("shop.row.notices", nil), say(s.NoticeChannel, "shop.nochannel")},
		{c.say("shop.row.stewards", nil), say(s.StewardRole, "shop.norole")},
		{c.say("shop.row.digest", nil), s.Digest.String() + " " + c.days(s.Days)},
		{c.say("shop.row.open", nil), c.days(s.Open)},
		{c.say("shop.row.closed", nil), c.closed(s.Closed)},
		{c.say("shop.row.quiet", nil), c.quiet(s.Quiet)},
		{c.say("shop.row.evenings", nil), c.evenings(s.Evenings)},
		{c.say("shop.row.shims", nil), c.shimNames(s)},
	}}
	return r, nil
}

// quietHours reads from when until when it is quiet, or "none".
func quietHours(typed string) (q domain.Quiet, ok bool) {
	if fold(typed) == "none" {
		return q, true
	}
	from, until, ok := strings.Cut(strings.ReplaceAll(typed, "–", "-"), "-")
	if !ok {
		return q, false
	}
	var err error
	if q.From, err = upkeep.ParseTimeOfDay(strings.TrimSpace(from)); err != nil {
		return domain.Quiet{}, false
	}
	if q.Until, err = upkeep.ParseTimeOfDay(strings.TrimSpace(until)); err != nil {
		return domain.Quiet{}, false
	}
	return q, q.From != q.Until
}

// stewardEvenings reads when stewards work on machines: days of the week and a time,
// "tue thu 18:00-21:00"; or "none".
func stewardEvenings(typed string) (e domain.Evenings, ok bool) {
	if fold(typed) == "none" {
		return e, true
	}
	i := strings.IndexAny(typed, "0123456789")
	if i < 0 {
		return e, false
	}
	span, ok := quietHours(typed[i:])
	if !ok || span.Until <= span.From {
		return e, false
	}
	if e.Days, ok = weekdays(strings.Trim(typed[:i], " ,")); !ok || strings.Trim(typed[:i], " ,") == "" {
		return e, false
	}
	if len(e.Days) == 0 { // every day
		e.Days = []time.Weekday{1, 2, 3, 4, 5, 6, 0}
	}
	e.From, e.Minutes = span.From, int(span.Until-span.From)
	return e, true
}

// evenings prints when stewards work on machines.
func (w *wording) evenings(e domain.Evenings) string {
	if e.Minutes == 0 {
		return w.say("shop.noquiet", nil)
	}
	return w.days(e.Days) + " " + e.From.String() + "-" + e.From.Later(e.Minutes).String()
}

// mostClosures is how many times a shop may say that it is closed.
const mostClosures = 30

// closures reads days on which a shop is closed, with commas between: a date, or
// one to another; or "none".
func closures(typed string) (all []upkeep.Closure, ok bool) {
	if fold(typed) == "none" {
		return nil, true
	}
	for _, part := range strings.Split(typed, ",") {
		first, last, ranged := strings.Cut(part, "to")
		if !ranged {
			last = first
		}
		k := upkeep.Closure{First: strings.TrimSpace(first), Last: strings.TrimSpace(last)}
		for _, date := range []string{k.First, k.Last} {
			if _, err := time.Parse(time.DateOnly, date); err != nil {
				return nil, false
			}
		}
		all = append(all, k)
		if k.Last < k.First || len(all) > mostClosures {
			return nil, false
		}
	}
	slices.SortFunc(all, func(a, b upkeep.Closure) int { return strings.Compare(a.First, b.First) })
	return all, true
}

// closed prints the days on which a shop is closed.
func (w *wording) closed(all []upkeep.Closure) string {
	if len(all) == 0 {
		return w.say("shop.noquiet", nil)
	}
	var parts []string
	for _, k := range all {
		if k.First == k.Last {
			parts = append(parts, k.First)
			continue
		}
		parts = append(parts, w.say("shop.closed.span", words.D{"First": k.First, "Last": k.Last}))
	}
	return strings.Join(parts, ", ")
}

// quiet prints quiet hours.
func (w *wording) quiet(q domain.Quiet) string {
	if q.From == q.Until {
		return w.say("shop.noquiet", nil)
	}
	return q.From.String() + "-" + q.Until.String()
}

// mostShims is how many thicknesses of shim a shop may keep.
const mostShims = 20

// shims reads the thicknesses of shims in stock; none where it says so.
func (c *call) shims(typed string) ([]quantity.Value, error) {
	if fold(typed) == "none" {
		return nil, nil
	}
	refused := &userError{key: "shop.shims", data: words.D{"Given": words.User(typed)}, example: c.exampleWith("shims", "0.05 0.1 0.2 0.5 mm")}
	entry := quantity.Millimetre
	if c.shop.Units == quantity.Imperial {
		entry = quantity.Thou
	}
	list, err := quantity.ParseList(strings.ReplaceAll(typed, ",", " "), quantity.Layout{Context: quantity.Context{Kind: quantity.Length, Entry: entry}, Positions: []string{""}})
	if err != nil {
		return nil, refused
	}
	shims := slices.Clone(list.At[0].Repeats)
	slices.SortFunc(shims, quantity.Value.Cmp)
	shims = slices.CompactFunc(shims, quantity.Value.Equal)
	um := big.NewRat(1, 1)
	for _, v := range shims {
		if n := v.In(quantity.Micrometre); n.Cmp(um) < 0 || v.Cmp(quantity.New(10, 1, quantity.Millimetre)) > 0 || len(shims) > mostShims {
			return nil, refused
		}
	}
	return shims, nil
}

// shimNames prints the thicknesses of shims in stock.
func (w *wording) shimNames(s domain.Shop) string {
	if len(s.Shims) == 0 {
		return w.say("shop.noshims", nil)
	}
	unit := quantity.Millimetre
	if s.Units == quantity.Imperial {
		unit = quantity.Thou
	}
	var names []string
	for _, v := range s.Shims {
		names = append(names, strings.TrimSuffix(quantity.Typed(v, unit), " "+string(unit)))
	}
	return strings.Join(names, ", ") + " " + string(unit)
}

// dayNames are the days of the week as they are typed, Monday first.
var dayNames = []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"}

// weekdays reads days of the week; none of them for all.
func weekdays(typed string) (days []time.Weekday, ok bool) {
	index := func(w string) int {
		return slices.IndexFunc(dayNames, func(n string) bool { return strings.HasPrefix(w, n) })
	}
	for _, w := range strings.FieldsFunc(fold(typed), func(r rune) bool { return r == ' ' || r == ',' }) {
		first, last, ranged := strings.Cut(w, "-")
		if !ranged {
			last = first
		}
		i, n := index(first), index(last)
		switch {
		case w == "all":
			return nil, true
		case i < 0 || n < 0:
			return nil, false
		}
		for ; ; i = (i + 1) % 7 {
			if d := time.Weekday((i + 1) % 7); !slices.Contains(days, d) {
				days = append(days, d)
			}
			if i == n {
				break
			}
		}
	}
	return days, len(days) > 0
}

// days prints days of the week.
func (w *wording) days(days []time.Weekday) string {
	if len(days) == 0 {
		return w.say("shop.everyday", nil)
	}
	var names []string
	for i, n := range dayNames {
		if slices.Contains(days, time.Weekday((i+1)%7)) {
			names = append(names, n)
		}
	}
	return strings.Join(names, " ")
}

func runAdd(c *call) (Reply, error) {
	var kinds []named
	for _, k := range profile.Builtin() {
		kinds = append(kinds, named{k, strings.ReplaceAll(k, "-", " ")})
	}
	i, err := c.lookUp("kind", "kind", kinds)
	if err != nil {
		return Reply{}, err
	}
	kind := kinds[i].id
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
	b := domain.MachineAdded{Name: words.Clean(c.options["name"]), Setup: domain.Setup{Kind: kind, Hash: hash, Params: params, Rev: 1}}
	b.Units, _ = quantity.ParseSystem(c.options["units"])
	if b.Name == "" {
		return Reply{}, &userError{key: "option.missing", data: words.D{"Option": "name"}, example: shopAdd.Examples[0]}
	}
	o, err := c.report(domain.Machine{}, b)
	if err != nil {
		return Reply{}, err
	}
	m := o.After.Machine
	r := Reply{Headline: c.say("add.done", words.D{"Machine": words.User(m.Name), "Kind": m.Profile.Name, "No": o.Fact.No})}
	r.Lines = append(r.Lines, c.say("add.starting", words.D{"N": len(o.After.Starting)}), c.say("add.tag", nil),
		c.say("add.next", nil), `/shop confirm machine:`+quoted(m.Name))
	return r, nil
}

// quoted is a name as a command's option takes it.
func quoted(name string) string {
	if strings.ContainsAny(name, ` "`) {
		return words.User(`"` + strings.ReplaceAll(name, `"`, `\"`) + `"`)
	}
	return words.User(name)
}

// params reads a profile's parameters: "knives=4", several with commas.
func (c *call) params(p *profile.Profile) (profile.Params, error) {
	params := profile.Params{}
	for _, part := range strings.Split(c.options["with"], ",") {
		part = strings.TrimSpace(words.Clean(part))
		if part == "" {
			continue
		}
		id, text, _ := strings.Cut(part, "=")
		text = strings.TrimSpace(text)
		var found *profile.Parameter
		for i := range p.Parameters {
			if fold(id) == p.Parameters[i].ID {
				found = &p.Parameters[i]
			}
		}
		if found == nil || !found.Can(text) {
			var accepted []string
			works := ""
			for _, q := range p.Parameters {
				accepted = append(accepted, q.ID+" "+q.Accepts())
				if works == "" || q.ID == fold(id) {
					works = q.ID + "=" + q.Default
				}
			}
			return nil, &userError{key: "add.with", data: words.D{"Given": words.User(part), "Accepted": strings.Join(accepted, ", ")}, example: c.exampleWith("with", works)}
		}
		params[found.ID] = text
	}
	return params, nil
}

// confirmable lists everything of a machine that a steward can confirm.
func confirmable(m domain.Machine) []named {
	var n []named
	for _, item := range (domain.Setup{}).StartingValues(m.Profile) {
		kind, id, _ := strings.Cut(item, ":")
		switch kind + ":" {
		case domain.CheckItem(""):
			k := itemCheck(m.Profile, id)
			name := k.Name
			for _, x := range k.Modes {
				if x.ID == k.Mode {
					name += ", " + x.Name
				}
			}
			n = append(n, named{item, name})
		case domain.AdjusterItem(""):
			n = append(n, named{item, m.Profile.Adjuster(id).Name})
		case domain.ServiceItem(""):
			n = append(n, named{item, m.Profile.Service(id).Name})
		}
	}
	return n
}

// itemCheck is the check that an item is about, in the mode that it names.
func itemCheck(p *profile.Profile, id string) *profile.Check {
	check, mode, _ := strings.Cut(id, ".")
	return p.Check(check).In(mode)
}

// confirmAction confirms an item as it stands and shows the next.
const confirmAction waiting[confirming] = "confirm"

// confirming is an item that waits to be confirmed.
type confirming struct {
	Machine domain.MachineID `json:"machine"`
	Item    string           `json:"item"`
	Rev     int64            `json:"rev"` // of the set-up that was shown
}

func runConfirmNext(c *call, w confirming) (Reply, error) {
	snap, err := c.books.Snapshot(c, w.Machine)
	if err != nil {
		return Reply{}, err
	}
	m := snap.Machine
	if m.Setup.Rev != w.Rev {
		return Reply{}, &domain.Refusal{Code: domain.SetupChangedNow, Name: m.Name}
	}
	r, err := c.confirmItem(m, w.Item, nil)
	r.Replaces = true
	return r, err
}

// nextItem shows the next starting value and offers to confirm it.
func (c *call) nextItem(r *Reply, m domain.Machine, starting []string) {
	if len(starting) == 0 {
		r.Lines = append(r.Lines, c.say("confirm.all", nil))
		return
	}
	item := starting[0]
	name := c.itemNames(m, starting[:1])[0]
	r.Lines = append(r.Lines, c.say("confirm.left", words.D{"N": len(starting)}), c.say("confirm.next", words.D{"Item": name}), c.itemLine(m, item), c.say("why.source", words.D{"Source": itemSource(m.Profile, item)}), c.say("confirm.own", nil))
	r.Buttons = append(r.Buttons, Button{Label: shorten(c.say("button.confirm", words.D{"Item": name}), 80), Style: Primary,
		Custom: wait(c, confirmAction, confirming{m.ID, item, m.Setup.Rev})})
}

// confirmItem confirms an item, with own values where values is not nil.
func (c *call) confirmItem(m domain.Machine, item string, values *domain.CheckValues) (Reply, error) {
	o, err := c.report(m, domain.SetupChanged{Item: item, Setup: m.Setup.With(item, c.actor.ID, c.now, values)})
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.say("confirm.done", words.D{"Machine": words.User(m.Name), "Item": c.itemNames(m, []string{item})[0]})}
	if values != nil {
		r.Lines = append(r.Lines, c.itemLine(o.After.Machine, item))
	}
	c.nextItem(&r, o.After.Machine, o.After.Starting)
	r.Lines = append(r.Lines, c.say("caution.manual", nil))
	return r, nil
}

// runSecondWanted says whether a second person is to confirm an inspection.
func runSecondWanted(c *call) (Reply, error) {
	m, k, err := c.checkNamed()
	if err != nil {
		return Reply{}, err
	}
	if !k.Second {
		var can []string
		for _, x := range m.Profile.Checks {
			if x.Second {
				can = append(can, x.Name)
			}
		}
		if len(can) == 0 {
			can = []string{c.say("band.none", nil)}
		}
		return Reply{}, &userError{key: "second.none", data: words.D{"Check": capital(k.Name), "Checks": strings.Join(can, ", ")}, example: c.exampleWith("check", can[0])}
	}
	on := c.options["wanted"] == "yes"
	o, err := c.report(m, domain.SetupChanged{Item: "second:" + k.ID, Setup: m.Setup.WithSecond(k.ID, on)})
	if err != nil {
		return Reply{}, err
	}
	key := "second.off"
	if on {
		key = "second.on"
	}
	return Reply{Headline: c.say(key, words.D{"Machine": words.User(m.Name), "Check": k.Name, "No": o.Fact.No})}, nil
}

func runConfirm(c *call) (Reply, error) {
	m, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	if c.options["what"] == "" {
		r := Reply{Headline: c.say("confirm.headline", words.D{"Machine": words.User(m.Name)})}
		c.nextItem(&r, m, st.Starting)
		r.Lines = append(r.Lines, c.say("caution.manual", nil))
		return r, nil
	}
	items := confirmable(m)
	i, err := c.lookUp("what", "item", items)
	if err != nil {
		return Reply{}, err
	}
	item := items[i]
	values, err := c.ownValues(m, item.id)
	if err != nil {
		return Reply{}, err
	}
	return c.confirmItem(m, item.id, values)
}

// ownValues reads a shop's own target and limits for a check, nil when none are
// given.
func (c *call) ownValues(m domain.Machine, item string) (*domain.CheckValues, error) {
	id, isCheck := strings.CutPrefix(item, domain.CheckItem(""))
	given := c.options["target"] != "" || c.options["adjust"] != "" || c.options["stop"] != ""
	switch {
	case !given:
		return nil, nil
	case !isCheck:
		return nil, &userError{key: "confirm.notcheck", example: c.exampleWithout("target", "adjust", "stop")}
	}
	k := itemCheck(m.Profile, id)
	if !k.Target.Valid() {
		return nil, &userError{key: "confirm.notarget", data: words.D{"Check": capital(k.Name)}, example: c.exampleWithout("target", "adjust", "stop")}
	}
	example := c.exampleConfirm(m, k)
	ctx := quantity.Context{Kind: k.Kind(), Entry: k.Entry[m.UnitsIn(c.shop)]}
	v := &domain.CheckValues{Target: k.Target, Adjust: k.Adjust, Stop: k.Stop}
	if t := c.options["target"]; t != "" {
		p, err := quantity.Parse(t, ctx)
		if err != nil {
			return nil, c.optionError(err, "target", example)
		}
		v.Target = p.Value
	}
	for _, b := range []struct {
		option string
		limits *metrology.Limits
	}{{"adjust", &v.Adjust}, {"stop", &v.Stop}} {
		text := c.options[b.option]
		if text == "" {
			continue
		}
		low, high, err := quantity.ParseLimits(text, ctx, v.Target)
		if err != nil {
			return nil, c.optionError(err, b.option, example)
		}
		*b.limits = metrology.Limits{Low: low, High: high}
	}
	if !inOrder(v) {
		return nil, &userError{key: "confirm.order", example: example}
	}
	return v, nil
}

// exampleConfirm sets a check's values to what they are.
func (c *call) exampleConfirm(m domain.Machine, k *profile.Check) string {
	unit := k.Entry[m.UnitsIn(c.shop)]
	given := c.options
	defer func() { c.options = given }()
	c.options = map[string]string{"machine": m.Name, "what": given["what"], "target": quantity.Typed(k.Target, unit)}
	for option, b := range map[string]metrology.Limits{"adjust": k.Adjust, "stop": k.Stop} {
		if b.Low.Valid() && b.High.Valid() {
			c.options[option] = quantity.Typed(b.Low, unit) + " to " + quantity.Typed(b.High, unit)
		}
	}
	return c.exampleWithout()
}

// optionError words a value that could not be read, or could be read in two
// ways, where a question has no place.
func (c *call) optionError(err error, option, example string) error {
	r, err := c.askOrRefuse(err, option, nil, "")
	if err == nil {
		return &userError{key: "confirm.unclear", data: words.D{"Option": option, "Question": r.Headline}, example: example}
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
	for _, x := range row {
		if !x.Valid() {
			continue
		}
		if last.Valid() && last.Cmp(x) > 0 {
			return false
		}
		last = x
	}
	return true
}

// itemLine says what has been confirmed.
func (w *wording) itemLine(m domain.Machine, item string) string {
	kind, id, _ := strings.Cut(item, ":")
	switch kind + ":" {
	case domain.CheckItem(""):
		k := itemCheck(m.Profile, id)
		r := rulerFor(k, m.UnitsIn(w.shop))
		if !k.Target.Valid() {
			return w.say("how.alike", words.D{"Most": r.exactly(k.AlikeAdjust)})
		}
		return w.say("why.limits", words.D{"Target": r.exactly(k.Target), "Adjust": w.band(r, k.Adjust), "Stop": w.band(r, k.Stop)})
	case domain.AdjusterItem(""):
		a := m.Profile.Adjuster(id)
		return w.say("confirm.screw", words.D{"Thread": a.Thread, "Seen": a.SeenFrom, "Step": turnsText(a, a.Increment), "Do": w.say("do."+string(a.Clockwise), nil)})
	}
	return w.ruleLine(m.Profile, m.Profile.Service(id))
}

// itemSource is where an item's value comes from.
func itemSource(p *profile.Profile, item string) string {
	kind, id, _ := strings.Cut(item, ":")
	switch kind + ":" {
	case domain.CheckItem(""):
		return itemCheck(p, id).Source
	case domain.AdjusterItem(""):
		return p.Check(p.Adjuster(id).Check).Source
	}
	return p.Service(id).Source
}

// retiring is a machine whose retirement waits to be confirmed.
type retiring struct {
	Machine domain.MachineID `json:"machine"`
}

// retireAction takes a machine off the books.
const retireAction waiting[retiring] = "retire"

func runRetire(c *call) (Reply, error) {
	m, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	return Reply{Headline: c.say("retire.ask", words.D{"Machine": words.User(m.Name)}),
		Buttons: []Button{{Label: c.say("button.retire", words.D{"Machine": words.Clean(m.Name)}), Style: Grave, Custom: wait(c, retireAction, retiring{m.ID})}}}, nil
}

func runRetired(c *call, w retiring) (Reply, error) {
	snap, err := c.books.Snapshot(c, w.Machine)
	if err != nil {
		return Reply{}, err
	}
	if _, err := c.report(snap.Machine, domain.MachineRetired{}); err != nil {
		return Reply{}, err
	}
	return Reply{Replaces: true, Headline: c.say("retire.done", words.D{"Machine": words.User(snap.Machine.Name)})}, nil
}
