package commands

import (
	"strings"
	"testing"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// What is printed keeps within its length, its digits and what may be claimed.
func TestTexts(t *testing.T) {
	t.Parallel()
	screw := func(num, denom int64) *profile.Adjuster {
		return &profile.Adjuster{Increment: quantity.New(num, denom, quantity.Turn)}
	}
	turns := func(num, denom int64) quantity.Value { return quantity.New(num, denom, quantity.Turn) }
	mm := func(millionths int64) quantity.Value { return quantity.New(millionths, 1_000_000, quantity.Millimetre) }
	hours := func(minutes int64) quantity.Value { return quantity.New(minutes, 60, quantity.Hour) }
	for _, test := range []struct{ name, got, want string }{
		{"a capital", capital("ölen"), "Ölen"},
		{"no capital", capital(""), ""},
		{"as long as may be", shorten("fünf", 4), "fünf"},
		{"longer by one", shorten("sechs", 4), "sec…"},
		{"a name of one word", slash("why", "machine", "Marble"), "/why machine:" + words.User("Marble")},
		{"never certain", percent(0.996), "over 99 %"},
		{"at 99.5", percent(0.995), "100 %"},
		{"never impossible", percent(0.004), "under 1 %"},
		{"at half a percent", percent(0.005), "0 %"},
		{"a chance", percent(0.256), "26 %"},
		{"two digits of ten", short(mm(12_340_000), quantity.Millimetre), "12 mm"},
		{"two digits of exactly ten", short(mm(10_000_000), quantity.Millimetre), "10 mm"},
		{"two digits of one", short(mm(1_234_000), quantity.Millimetre), "1.2 mm"},
		{"two digits of little", short(mm(1_234), quantity.Millimetre), "0.0012 mm"},
		{"two digits of a loss", short(mm(-12_345), quantity.Millimetre), "-0.012 mm"},
		{"seven digits at most", short(quantity.New(1, 1_000_000_000, quantity.Millimetre), quantity.Millimetre),
			"0.0000000 mm"},
		{"two digits of nothing", short(mm(0), quantity.Millimetre), "0 mm"},
		{"a sum of none", quantity.Format(sum(nil), quantity.Millimetre, 1), "0.0 mm"},
		{"a sum", quantity.Format(sum([]quantity.Value{mm(1_500_000), mm(250_000)}), quantity.Millimetre, 2),
			"1.75 mm"},
		{"eighths", turnsText(screw(1, 8), turns(3, 8)), "3/8 turn"},
		{"twelfths", turnsText(screw(1, 12), turns(5, 12)), "5/12 turn"},
		{"thirteenths", turnsText(screw(1, 13), turns(1, 13)), "28°"},
		{"sixteenths", turnsText(screw(1, 16), turns(3, 16)), "3/16 turn"},
		{"whole turns", turnsText(screw(1, 1), turns(2, 1)), "2 turns"},
		{"ninety minutes", minutesText(90), "1 h 30 min"},
		{"under ten hours", wholeHours(9.94), "9.9 h"},
		{"whole under ten", wholeHours(9), "9 h"},
		{"ten hours", wholeHours(10), "10 h"},
		{"over ten hours", wholeHours(10.6), "11 h"},
		{"hours left", signedHours(hours(90)), "1 h 30 min"},
		{"hours over", signedHours(hours(-90)), "-1 h 30 min"},
		{"no hours", signedHours(hours(0)), "0 h"},
		{"a counter", counterText(domain.CounterRead{Seconds: 143*3600 + 12*60}), "143.2 h"},
		{"odds", oddsText(12.4), "12"},
		{"even odds", oddsText(1), "1.0"},
		{"small odds", oddsText(0.126), "0.13"},
		{"tiny odds", oddsText(0.00012), "0.000"},
		{"a field of no position", fieldID(""), "value"},
		{"a field of a position", fieldID("knife 1 left"), "knife_1_left"},
		{"a word", wordAt("left 1.02 mm", 5), "1.02"},
		{"a word before a comma", wordAt("1.02,1.04", 0), "1.02"},
		{"the last word", wordAt("left 1.02", 5), "1.02"},
		{"a word past the end", wordAt("left", 9), ""},
		{"what begins with a gap", wordAt("a, b", 1), ", b"},
	} {
		if test.got != test.want {
			t.Errorf("%s: %q, want %q", test.name, test.got, test.want)
		}
	}
}

// An interval has hours, and days or months or both, each once and not without end.
func TestReadInterval(t *testing.T) {
	t.Parallel()
	hours := func(tenths int64) quantity.Value { return quantity.New(tenths, 10, quantity.Hour) }
	for typed, want := range map[string]domain.Interval{
		"10 h":                 {Hours: hours(100)},
		"7.5 hours":            {Hours: hours(75)},
		"10000 h":              {Hours: hours(100_000)},
		"1 day":                {Days: 1},
		"3660 days":            {Days: 3660},
		"3 Weeks":              {Days: 21},
		"522 weeks":            {Days: 3654},
		"120 months":           {Months: 120},
		"10 years":             {Months: 120},
		"40 h or 6 months":     {Hours: hours(400), Months: 6},
		"40h, 2 weeks, 1 year": {Hours: hours(400), Days: 14, Months: 12},
	} {
		if got, ok := readInterval(typed); !ok || got.Days != want.Days || got.Months != want.Months ||
			got.Hours.Valid() != want.Hours.Valid() || got.Hours.Valid() && !got.Hours.Equal(want.Hours) {
			t.Errorf("%s: %+v, %v", typed, got, ok)
		}
	}
	for _, typed := range []string{"", "h", "0 h", "10000.1 h", "1 h, 2 h", "0 days", "1.5 days", "3661 days",
		"523 weeks", "1317624576693539402 weeks", "121 months", "11 years", "768614336404564651 years",
		"99999999999999999999 days", "1 day, 2 days", "1 day or 1 week", "1 month, 1 year", "10 min", "often"} {
		if got, ok := readInterval(typed); ok {
			t.Errorf("%q is read as %+v", typed, got)
		}
	}
}

// What stands in a custom id is read only as it is written.
func TestOtherCustomIDsAreNoButtons(t *testing.T) {
	t.Parallel()
	refused := func(kind, text string, ok bool) {
		if ok {
			t.Errorf("%s: %q is read", kind, text)
		}
	}
	for _, s := range []string{"", "0", "-1", "+1", "01", "1.5", "x", "9223372036854775808"} {
		_, ok := factArg(0).parse(s)
		refused("report", s, ok)
	}
	for _, s := range []string{"", "0", "-1", "7.", "7.0", "7.-1", "x.1", "7.1.1", "07.1"} {
		_, ok := testArg{}.parse(s)
		refused("test", s, ok)
	}
	for _, s := range []string{"7", "7.", "0.0", "7.-1", "x.1", "7.0.0"} {
		_, ok := logPage{}.parse(s)
		refused("page", s, ok)
	}
	for _, s := range []string{"121.2", "121.2.0.0", "0.2.0", "121.0.0", "121.2.-1", "x.2.0", "121.x.0", "121.2.x"} {
		_, ok := visitArg{}.parse(s)
		refused("visit", s, ok)
	}
	for _, s := range []string{"31/cause:pitch", "31/cause:pitch/yes/no", "0/cause:pitch/yes", "31/pitch/yes",
		"31/cause:pitch/perhaps"} {
		_, ok := finding{}.parse(s)
		refused("finding", s, ok)
	}
	long := strings.Repeat("a", 100-len("s1:why:"))
	if _, arg, err := parseCustom("s1:why:" + long); err != nil || arg != long {
		t.Errorf("100 characters: %v", err)
	}
	for _, s := range []string{"s1:why:" + long + "a", "s2:why:1", "s1:why", ""} {
		if action, arg, err := parseCustom(s); err == nil {
			t.Errorf("%q is read as %s, %s", s, action, arg)
		}
	}
}
