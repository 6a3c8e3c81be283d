package commands

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

var shopSettings = &Command{
	Name: settingsName, Who: Keeper, Quiet: true, Words: 60, MostWords: 110,
	Options:  settingOptions(),
	Examples: []string{`/shop settings zone:Europe/Berlin units:metric digest:09:00`, `/shop settings`},
}

// setting is one thing that a shop sets.
type setting struct {
	option Option
	// read puts what was typed into the shop and reports whether it could be read;
	// what stands before it in the table has been read by then.
	read func(s *domain.Shop, typed string) bool
	// hear does so for a setting that is a time, by the clocks of the one who sets it; its error
	// may ask which of several was meant.
	hear    func(s *domain.Shop, typed string, by upkeep.Clocks) error
	refused string // the message where it could not
	// allowed refuses what was read and would not do in this shop's chat; nil for
	// whatever was read.
	allowed func(c *call, typed string) error
	works   string // something that can be read, for its example
	row     string // the message that heads it, "" where it stands in another's row
	show    func(w *wording, s domain.Shop) string
}

// settings are what a shop sets, in the order in which they are read and shown.
var settings = []setting{
	{
		option: Option{Name: "name", Takes: Text, Max: 60},
		read:   func(s *domain.Shop, typed string) bool { s.Name = typed; return true },
		row:    "shop.row.name",
		show:   func(w *wording, s domain.Shop) string { return w.orUnset(s.Name, words.User, "shop.unset") },
	},
	{
		option: Option{Name: "zone", Takes: Text, Max: 60},
		read: func(s *domain.Shop, typed string) (ok bool) {
			s.Zone, ok = zoneNamed(typed)
			return ok
		},
		refused: "shop.zone", works: "Europe/Berlin",
		row: "shop.row.zone",
		show: func(w *wording, s domain.Shop) string {
			if fixedZone(s, w.now.Year()) {
				return w.say("shop.zone.fixed", words.D{"Zone": words.User(s.Zone)})
			}
			return words.User(s.Zone)
		},
	},
	{
		option: Option{Name: "units", Takes: OneOf, OneOf: unitNames},
		read: func(s *domain.Shop, typed string) bool {
			s.Units, _ = quantity.ParseSystem(typed) // one of the names, as options are checked
			return true
		},
		row:  "shop.row.units",
		show: func(_ *wording, s domain.Shop) string { return s.Units.String() },
	},
	{
		option: Option{Name: "dates", Takes: OneOf, OneOf: dateOrders},
		read: func(s *domain.Shop, typed string) bool {
			s.Dates = upkeep.DateOrder(typed)
			return true
		},
		row: "shop.row.dates",
		show: func(w *wording, s domain.Shop) string {
			return w.orUnset(string(s.Dates), func(order string) string { return order }, "shop.nodates")
		},
	},
	{
		option:  Option{Name: "notices", Takes: Channel},
		read:    func(s *domain.Shop, typed string) bool { s.NoticeChannel = typed; return true },
		allowed: allowedChannel,
		row:     "shop.row.notices",
		show: func(w *wording, s domain.Shop) string {
			return w.orUnset(s.NoticeChannel, words.Channel, "shop.nochannel")
		},
	},
	{
		option:  Option{Name: "stewards", Takes: Role},
		read:    func(s *domain.Shop, typed string) bool { s.StewardRole = typed; return true },
		allowed: allowedRole,
		row:     "shop.row.stewards",
		show:    func(w *wording, s domain.Shop) string { return w.orUnset(s.StewardRole, words.Role, "shop.norole") },
	},
	{
		option: Option{Name: "call", Takes: Person},
		read: func(s *domain.Shop, typed string) bool {
			if s.Call == domain.PersonID(typed) {
				typed = "" // a chat can only name a person: whoever is named again is called no more
			}
			s.Call = domain.PersonID(typed)
			return true
		},
		row: "shop.row.call",
		show: func(w *wording, s domain.Shop) string {
			if s.Call == "" {
				return w.say("shop.nocall", nil)
			}
			return w.say("shop.called", words.D{"Who": words.Person(string(s.Call))})
		},
	},
	{
		option: Option{Name: "digest", Takes: Text, Max: 30},
		hear: func(s *domain.Shop, typed string, _ upkeep.Clocks) (err error) {
			s.Digest, err = upkeep.ParseTimeOfDay(typed)
			return err
		},
		refused: "shop.digest", works: "09:00",
		row:  "shop.row.digest",
		show: func(w *wording, s domain.Shop) string { return s.Digest.String() + " " + w.days(s.Days) },
	},
	{
		option:  Option{Name: "days", Takes: Text, Max: 40},
		read:    func(s *domain.Shop, typed string) (ok bool) { s.Days, ok = weekdays(typed); return ok },
		refused: "shop.days", works: "mon wed fri",
	},
	{
		option:  Option{Name: "open", Takes: Text, Max: 40},
		read:    func(s *domain.Shop, typed string) (ok bool) { s.Open, ok = weekdays(typed); return ok },
		refused: "shop.days", works: "mon tue wed",
		row:  "shop.row.open",
		show: func(w *wording, s domain.Shop) string { return w.days(s.Open) + " " + w.openHours(s.Hours) },
	},
	{
		option: Option{Name: "hours", Takes: Text, Max: 60},
		hear: func(s *domain.Shop, typed string, _ upkeep.Clocks) (err error) {
			s.Hours, err = openHours(typed)
			return err
		},
		refused: "shop.hours", works: "10:00-22:00",
	},
	{
		option: Option{Name: "closed", Takes: Text, Max: 300},
		hear: func(s *domain.Shop, typed string, by upkeep.Clocks) (err error) {
			s.Closed, err = closures(typed, by)
			return err
		},
		refused: "shop.closed", works: "2026-12-24 to 2027-01-02, 2027-05-01",
		row:  "shop.row.closed",
		show: func(w *wording, s domain.Shop) string { return w.closed(s.Closed) },
	},
	{
		option: Option{Name: "quiet", Takes: Text, Max: 60},
		hear: func(s *domain.Shop, typed string, _ upkeep.Clocks) (err error) {
			s.Quiet, err = quietHours(typed)
			return err
		},
		refused: "shop.quiet", works: "22:00-07:00",
		row:  "shop.row.quiet",
		show: func(w *wording, s domain.Shop) string { return w.quiet(s.Quiet) },
	},
	{
		option: Option{Name: "evenings", Takes: Text, Max: 80},
		hear: func(s *domain.Shop, typed string, _ upkeep.Clocks) (err error) {
			s.Evenings, err = stewardEvenings(typed)
			return err
		},
		refused: "shop.evenings", works: "thu 18:00-21:00",
		row:  "shop.row.evenings",
		show: func(w *wording, s domain.Shop) string { return w.evenings(s.Evenings) },
	},
	{
		option:  Option{Name: "shims", Takes: Text, Max: 100},
		read:    func(s *domain.Shop, typed string) (ok bool) { s.Shims, ok = shims(typed, s.Units); return ok },
		refused: "shop.shims", works: "0.05 0.1 0.2 0.5 mm",
		row:  "shop.row.shims",
		show: func(w *wording, s domain.Shop) string { return w.shimNames(s) },
	},
	{
		option:  Option{Name: "lock", Takes: Text, Max: 20},
		read:    func(s *domain.Shop, typed string) (ok bool) { s.LockWait, ok = lockWait(typed); return ok },
		refused: "shop.lock", works: "30 min",
		row: "shop.row.lock",
		show: func(_ *wording, s domain.Shop) string {
			return quantity.FormatDuration(quantity.New(int64(s.LockWaitingTime()/time.Minute), 1, quantity.Minute))
		},
	},
}

// dateOrders are the orders in which a shop may write dates in numbers.
var dateOrders = []string{string(upkeep.DayFirst), string(upkeep.MonthFirst)}

// errUnread is the error of a setting that could not be read, where nothing more is known.
var errUnread = errors.New("not what the setting takes")

// hearSetting puts a time that was typed into the shop, and refuses it with something that can be
// read, or asks which of several was meant.
func (c *call) hearSetting(setting setting, shop *domain.Shop, typed string) error {
	err := setting.hear(shop, typed, shop.Clocks(c.now))
	if err == nil {
		return nil
	}
	var wrong *upkeep.WhenError
	if errors.As(err, &wrong) && wrong.Code == upkeep.Unsure {
		return c.noTime(err, setting.option.Name, "")
	}
	return &userError{key: setting.refused, data: words.D{"Given": words.User(typed)},
		example: c.exampleWith(setting.option.Name, setting.works)}
}

// settingOptions are the options that set a shop.
func settingOptions() []Option {
	var all []Option
	for _, x := range settings {
		all = append(all, x.option)
	}
	return all
}

// runSettings sets what is given, all of it or nothing, and shows what is set.
func runSettings(c *call) (Reply, error) {
	shop, changed := c.shop, false
	for _, setting := range settings {
		typed := words.Clean(c.options[setting.option.Name])
		if typed == "" {
			continue
		}
		changed = true
		if setting.hear != nil {
			if err := c.hearSetting(setting, &shop, typed); err != nil {
				return Reply{}, err
			}
			continue
		}
		if !setting.read(&shop, typed) {
			return Reply{}, &userError{key: setting.refused, data: words.D{"Given": words.User(typed)},
				example: c.exampleWith(setting.option.Name, setting.works)}
		}
		if setting.allowed == nil {
			continue
		}
		if err := setting.allowed(c, typed); err != nil {
			return Reply{}, err
		}
	}
	reply := Reply{Headline: c.say("shop.settings", nil), Table: &Table{}}
	if changed {
		if _, err := c.report(domain.Machine{}, domain.ShopSet{Shop: shop}); err != nil {
			return Reply{}, err
		}
		c.shop = shop
		reply.Headline = c.say("shop.changed", nil)
	}
	for _, x := range settings {
		if x.row != "" {
			reply.Table.Rows = append(reply.Table.Rows, []string{c.say(x.row, nil), x.show(&c.wording, shop)})
		}
	}
	reply.Lines = c.access(shop)
	if shop.NoticeChannel != "" && shop.StewardRole != "" && c.desk.Chat != nil &&
		!c.chat().Channel(shop.ID, shop.NoticeChannel).Closed() {
		reply.Buttons = []Button{{Label: c.say("button.ping", nil), Custom: pingAction.with(calledArg{})}}
	}
	return reply, nil
}

// access says whether notices can be posted and the stewards pinged, and what to switch
// on where they cannot.
func (c *call) access(shop domain.Shop) []string {
	closed, poorer := c.troubles(shop)
	if all := append(closed, c.poorer(shop, poorer)...); len(all) > 0 || shop.NoticeChannel == "" ||
		c.chat().Channel(shop.ID, shop.NoticeChannel).Unknown {
		return all
	}
	switch {
	case shop.StewardRole == "":
		return []string{c.say("access.post", nil)}
	case c.chat().Role(shop.ID, shop.StewardRole, shop.NoticeChannel).Unknown:
		return nil
	}
	return []string{c.say("access.ping", nil)}
}

// runPing posts the test that pings the stewards, and says who was really mentioned.
func runPing(c *call, _ calledArg) (Reply, error) {
	if c.shop.NoticeChannel == "" || c.shop.StewardRole == "" {
		return Reply{}, &userError{key: "ping.unset", example: "/" + settingsName}
	}
	pinged, err := c.chat().Ping(c, c.shop, c.id, Message{Text: c.say("ping.text", nil), Mention: true})
	reply := Reply{Lines: c.access(c.shop)}
	switch {
	case err != nil:
		c.fault(fmt.Errorf("post the test that calls the stewards: %w", err))
		reply.Refused, reply.Headline = true, c.say("ping.failed", nil)
	case pinged.Role:
		reply.Headline, reply.Lines = c.say("ping.role", nil), nil
	case pinged.People > 0:
		reply.Headline = c.say("ping.people", words.D{"N": pinged.People})
	default:
		reply.Headline = c.say("ping.nobody", nil)
	}
	return reply, nil
}

// orUnset is what a person set, shown as what it is, or the message that it is not set.
func (w *wording) orUnset(given string, as func(string) string, unset string) string {
	if given == "" {
		return w.say(unset, nil)
	}
	return as(given)
}

// quietHours reads from when until when it is quiet, or "none".
func quietHours(typed string) (quiet domain.Quiet, err error) {
	if fold(typed) == "none" {
		return quiet, nil
	}
	read, err := upkeep.ParseStretch(typed)
	if err == nil && read.From == read.Until {
		return quiet, errUnread
	}
	return domain.Quiet(read), err
}

// openHours reads from when until when a shop is open, or "none" for the usual hours.
func openHours(typed string) (hours domain.OpenHours, err error) {
	if fold(typed) == "none" {
		return hours, nil
	}
	read, err := upkeep.ParseStretch(typed)
	hours = domain.OpenHours(read)
	if err == nil && !hours.Good() {
		return hours, errUnread
	}
	return hours, err
}

// openHours prints from when until when a shop is open.
func (w *wording) openHours(hours domain.OpenHours) string {
	if hours == (domain.OpenHours{}) {
		hours = domain.UsualHours
	}
	return hours.From.String() + "-" + hours.Until.String()
}

// stewardEvenings reads when stewards work on machines: days of the week and a time,
// "tue thu 18:00-21:00", "thu 6pm to 9pm"; or "none".
func stewardEvenings(typed string) (evenings domain.Evenings, err error) {
	if fold(typed) == "none" {
		return evenings, nil
	}
	digit := strings.IndexAny(typed, "0123456789")
	if digit < 0 {
		return evenings, errUnread
	}
	days := strings.Trim(strings.TrimSuffix(strings.TrimSpace(typed[:digit]), " from"), " ,")
	read, err := upkeep.ParseStretch(typed[digit:])
	var wrong *upkeep.WhenError
	if errors.As(err, &wrong) {
		for i, meant := range wrong.Options {
			wrong.Options[i] = days + " " + meant
		}
		// An evening ends on its own day.
		wrong.Options = slices.DeleteFunc(wrong.Options, func(meant string) bool {
			_, err := stewardEvenings(meant)
			return err != nil
		})
	}
	if err != nil {
		return evenings, err
	}
	var ok bool
	if evenings.Days, ok = weekdays(days); !ok || days == "" || read.Until <= read.From {
		return domain.Evenings{}, errUnread
	}
	if len(evenings.Days) == 0 { // every day
		evenings.Days = []time.Weekday{1, 2, 3, 4, 5, 6, 0}
	}
	evenings.From, evenings.Minutes = read.From, int(read.Until-read.From)
	return evenings, nil
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

var closedUntil = regexp.MustCompile(` (?:to|until|till|-|–|—) `)

// closures reads days on which a shop is closed, with commas between: a day, or
// one to another, "24 dec to 2 jan"; or "none".
func closures(typed string, by upkeep.Clocks) (all []upkeep.Closure, err error) {
	if fold(typed) == "none" {
		return nil, nil
	}
	for _, part := range strings.Split(typed, ",") {
		ends := closedUntil.Split(strings.TrimSpace(part), 3)
		if len(ends) > 2 {
			return nil, errUnread
		}
		var closure upkeep.Closure
		if closure.First, err = oneClosed(ends[0], by); err != nil {
			return nil, err
		}
		// The last is the next such day from the first on.
		first, err := time.ParseInLocation(time.DateOnly, closure.First, by.Loc)
		if err != nil {
			return nil, errUnread
		}
		by := upkeep.Clocks{Now: first, Loc: by.Loc, Dates: by.Dates}
		if closure.Last, err = oneClosed(ends[len(ends)-1], by); err != nil {
			return nil, err
		}
		all = append(all, closure)
		if closure.Last < closure.First || len(all) > mostClosures {
			return nil, errUnread
		}
	}
	slices.SortFunc(all, func(a, b upkeep.Closure) int { return strings.Compare(a.First, b.First) })
	return all, nil
}

// oneClosed reads a day on which a shop is closed. One that may be another is not taken: among
// several days a button could not say which is meant.
func oneClosed(typed string, by upkeep.Clocks) (string, error) {
	day, err := upkeep.ParseDay(typed, by)
	if err != nil {
		return "", errUnread
	}
	return day, nil
}

// closed prints the days on which a shop is closed.
func (w *wording) closed(all []upkeep.Closure) string {
	if len(all) == 0 {
		return w.say("shop.noquiet", nil)
	}
	var parts []string
	for _, closure := range all {
		if closure.First == closure.Last {
			parts = append(parts, closure.First)
			continue
		}
		parts = append(parts, w.say("shop.closed.span", words.D{"First": closure.First, "Last": closure.Last}))
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

// lockWait reads how many minutes the owner of a lock is waited for, 0 for as long as is
// usual where it says "none".
func lockWait(typed string) (minutes int, ok bool) {
	if fold(typed) == "none" {
		return 0, true
	}
	parsed, err := quantity.Parse(typed, quantity.Context{Kind: quantity.Duration, Entry: quantity.Minute})
	if err != nil || !parsed.Value.Valid() {
		return 0, false
	}
	waits := time.Duration(parsed.Value.Float(quantity.Minute)) * time.Minute
	return int(waits / time.Minute), waits >= domain.LeastLockWait && waits <= domain.MostLockWait
}

// mostShims is how many thicknesses of shim a shop may keep.
const mostShims = 20

// shimUnit is the unit in which a shop reads and prints its shims.
func shimUnit(units quantity.System) quantity.Unit {
	if units == quantity.Imperial {
		return quantity.Thou
	}
	return quantity.Millimetre
}

// shims reads the thicknesses of shims in stock, from 0.001 to 10 mm; none where it
// says so.
func shims(typed string, units quantity.System) (all []quantity.Value, ok bool) {
	if fold(typed) == "none" {
		return nil, true
	}
	list, err := quantity.ParseList(strings.ReplaceAll(typed, ",", " "),
		quantity.Layout{Context: quantity.Context{Kind: quantity.Length, Entry: shimUnit(units)},
			Positions: []string{""}})
	if err != nil {
		return nil, false
	}
	all = slices.Clone(list.At[0].Repeats)
	slices.SortFunc(all, quantity.Value.Cmp)
	all = slices.CompactFunc(all, quantity.Value.Equal)
	thinnest, thickest := quantity.New(1, 1, quantity.Micrometre), quantity.New(10, 1, quantity.Millimetre)
	return all, all[0].Cmp(thinnest) >= 0 && all[len(all)-1].Cmp(thickest) <= 0 && len(all) <= mostShims
}

// shimNames prints the thicknesses of shims in stock.
func (w *wording) shimNames(shop domain.Shop) string {
	if len(shop.Shims) == 0 {
		return w.say("shop.noshims", nil)
	}
	unit := shimUnit(shop.Units)
	var names []string
	for _, v := range shop.Shims {
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
	for _, text := range strings.FieldsFunc(fold(typed), func(r rune) bool { return r == ' ' || r == ',' }) {
		first, last, ranged := strings.Cut(text, "-")
		if !ranged {
			last = first
		}
		day, until := index(first), index(last)
		switch {
		case text == "all":
			return nil, true
		case day < 0 || until < 0:
			return nil, false
		}
		for ; ; day = (day + 1) % 7 {
			if weekday := time.Weekday((day + 1) % 7); !slices.Contains(days, weekday) {
				days = append(days, weekday)
			}
			if day == until {
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

// regions are the parts of the world that zones are named by, before the place.
var regions = []string{"America", "Europe", "Asia", "Africa", "Australia", "Pacific", "Atlantic", "Indian",
	"Antarctica"}

// zoneNamed is the zone of that name, or of a place in one of the regions: "new york" is
// America/New_York.
func zoneNamed(typed string) (zone string, ok bool) {
	known := func(name string) bool {
		_, err := time.LoadLocation(name)
		return err == nil && name != "" && name != "Local"
	}
	if known(typed) {
		return typed, true
	}
	parts := strings.Split(fold(typed), "/")
	for i, part := range parts {
		words := strings.FieldsFunc(part, func(char rune) bool { return char == ' ' || char == '_' })
		for j, word := range words {
			words[j] = capital(word)
		}
		parts[i] = strings.Join(words, "_")
	}
	place := strings.Join(parts, "/")
	for _, name := range append([]string{place}, inRegions(place)...) {
		if known(name) {
			return name, true
		}
	}
	return typed, false
}

// inRegions are the names that a place would have in each region.
func inRegions(place string) (names []string) {
	for _, region := range regions {
		names = append(names, region+"/"+place)
	}
	return names
}

// fixedZone reports whether a shop's zone is one of those that are named by their letters
// alone and keep no summer time that year, as EST does.
func fixedZone(shop domain.Shop, year int) bool {
	if strings.Contains(shop.Zone, "/") {
		return false
	}
	offset := func(month time.Month) int {
		_, seconds := time.Date(year, month, 1, 0, 0, 0, 0, shop.Location()).Zone()
		return seconds
	}
	return shop.Zone != "" && offset(time.January) == offset(time.July)
}
