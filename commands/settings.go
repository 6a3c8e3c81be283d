package commands

import (
	"math/big"
	"slices"
	"strings"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
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
