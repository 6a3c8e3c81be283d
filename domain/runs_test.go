package domain_test

import (
	"testing"
	"time"

	. "setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// What speaks against a run, to the minute: a day's total, a near-copy of the same
// person's last, a time that another took.
func TestCheckRunToTheMinute(t *testing.T) {
	noon := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	run := func(no FactNo, who PersonID, minutes, used int) Run {
		return Run{Fact: no, For: who, Until: noon.Add(time.Duration(minutes) * time.Minute),
			Used: time.Duration(used) * time.Minute}
	}
	for _, test := range []struct {
		name   string
		new    Run
		before []Run
		code   Code
		fact   FactNo
		used   int // minutes
	}{
		{"24 h on one day", run(9, "ada", 600, 1440-120), []Run{run(1, "bo", -720, 120)}, "", 0, 0},
		{"and a minute", run(9, "ada", 600, 1440-119), []Run{run(1, "bo", -720, 120)}, HoursOverDay, 0, 1441},
		{"of which none on the day before", run(9, "ada", 600, 1440-119), []Run{run(1, "bo", -721, 120)}, "", 0, 0},
		{"a copy", run(9, "ada", 0, 100), []Run{run(1, "ada", 0, 100)}, HoursTwice, 1, 100},
		{"ten minutes later, a tenth longer", run(9, "ada", 10, 100), []Run{run(1, "ada", 0, 90)}, HoursTwice, 1, 90},
		{"ten minutes earlier, a tenth shorter", run(9, "ada", -10, 90), []Run{run(1, "ada", 0, 100)}, HoursTwice, 1,
			100},
		{"eleven minutes later", run(9, "ada", 11, 100), []Run{run(1, "ada", 0, 90)}, HoursOverlap, 1, 89},
		{"more than a tenth longer", run(9, "ada", 10, 100), []Run{run(1, "ada", 0, 89)}, HoursOverlap, 1, 89},
		{"of the last only", run(9, "ada", 0, 100), []Run{run(1, "ada", 0, 100), run(2, "ada", 300, 60)},
			HoursOverlap, 1, 100},
		{"of the last, whatever the order", run(9, "ada", 0, 100),
			[]Run{run(2, "ada", 300, 60), run(1, "ada", 0, 100)}, HoursOverlap, 1, 100},
		{"by another", run(9, "ada", 0, 100), []Run{run(1, "bo", 0, 100)}, HoursOverlap, 1, 100},
		{"ten minutes into another", run(9, "ada", 0, 100), []Run{run(1, "bo", -90, 60)}, "", 0, 0},
		{"eleven minutes into another", run(9, "ada", 0, 100), []Run{run(1, "bo", -89, 60)}, HoursOverlap, 1, 11},
		{"into two, the more", run(9, "ada", 0, 100), []Run{run(1, "bo", -80, 60), run(2, "cy", 30, 60),
			run(3, "di", -85, 60)}, HoursOverlap, 2, 30},
		{"around another", run(9, "ada", 0, 100), []Run{run(1, "bo", -30, 20)}, HoursOverlap, 1, 20},
		{"after another", run(9, "ada", 0, 100), []Run{run(1, "bo", -200, 60)}, "", 0, 0},
	} {
		refusal := CheckRun(NewShop("s"), "Marble", test.new, test.before)
		switch {
		case (refusal == nil) != (test.code == ""):
			t.Errorf("%s: %v", test.name, refusal)
		case refusal != nil && (refusal.Code != test.code || refusal.Fact != test.fact || refusal.Name != "Marble" ||
			!refusal.Used.Equal(quantity.New(int64(test.used), 1, quantity.Minute))):
			t.Errorf("%s: %s of %d, %v; want %s of %d, %d min", test.name, refusal.Code, refusal.Fact, refusal.Used,
				test.code, test.fact,
				test.used)
		}
	}
}

// usage is a machine used two hours each Saturday for twelve weeks.
func usage(change func(*Status)) (*Usage, time.Time) {
	shop := NewShop("s")
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	st := Status{Shop: shop, Machine: Machine{ID: 1, Name: "Marble", Added: at,
		Profile: &profile.Profile{Typical: profile.Typical{Sessions: 0.5, Hours: hours(1)}}}}
	var runs []Run
	for w := range 12 {
		runs = append(runs, Run{Fact: FactNo(w + 1), For: "ada", Until: at.AddDate(0, 0, 5+7*w), Used: 2 * time.Hour})
	}
	change(&st)
	now := at.AddDate(0, 0, 84).Add(time.Hour)
	return NewUsage(st, runs, Busyness{}, now), now
}

// Several numbers of hours at once come out as each by itself, with more use than was
// reported too.
func TestWhenEach(t *testing.T) {
	for _, ratio := range []float64{1, 1.5} {
		learned, _ := usage(func(s *Status) {
			s.Reporting = &Reporting{}
			s.Reporting.Ratio = ratio
		})
		left := []quantity.Value{hours(1), hours(7), hours(3), hours(20)}
		for i, got := range learned.WhenEach(left) {
			if want := learned.When(left[i]); got != want {
				t.Errorf("ratio %v, %v: %+v, alone %+v", ratio, left[i], got, want)
			}
		}
	}
}

// The chance before a day: none before today is over, and beyond the horizon that at its
// end.
func TestChanceBefore(t *testing.T) {
	learned, now := usage(func(*Status) {})
	today := now.Truncate(24 * time.Hour)
	if p := learned.Before(hours(1), today); p != 0 {
		t.Errorf("before today %v", p)
	}
	if p := learned.Before(hours(1), today.AddDate(0, 0, -3)); p != 0 {
		t.Errorf("before the day before yesterday %v", p)
	}
	near, far := learned.Before(hours(1), today.AddDate(0, 0, 30)), learned.Before(hours(1), today.AddDate(9, 0, 0))
	if !(near > 0.9 && far >= near && far <= 1) {
		t.Errorf("within thirty days %v, within nine years %v", near, far)
	}
	// The first day that is half as likely as not to bring it, by the chances, is the middle one.
	median := learned.When(hours(5)).Median
	if before, by := learned.Before(hours(5), median), learned.Before(hours(5), median.AddDate(0, 0,
		1)); before >= 0.5 ||
		by < 0.5 {
		t.Errorf("the middle is %v: before it %v, by its end %v", median, before, by)
	}
}

// Runs count on the days on which they ended, within the days looked back on and no
// others: not on this day, nor before.
func TestUsageLooksBack(t *testing.T) {
	now := time.Date(2026, 9, 1, 9, 0, 0, 0, time.UTC)
	st := Status{Shop: NewShop("s"), Machine: Machine{ID: 1, Name: "Marble", Added: now.AddDate(-2, 0, 0),
		Profile: &profile.Profile{Typical: profile.Typical{Sessions: 0.5, Hours: hours(1)}}}}
	midnight := now.Truncate(24 * time.Hour)
	for _, test := range []struct {
		name  string
		until time.Time
		want  int
	}{
		{"this morning", midnight, 0}, {"last night", midnight.Add(-1), 1},
		{"the first of the days", midnight.AddDate(0, 0, -LookBack), 1},
		{"the day before that", midnight.AddDate(0, 0, -LookBack).Add(-1), 0},
	} {
		if u := NewUsage(st, []Run{{Fact: 1, Until: test.until, Used: time.Hour}}, Busyness{},
			now); u.Sessions != test.want || u.Hours != float64(test.want) || u.Days != LookBack {
			t.Errorf("%s: %d sessions, %v h in %d days", test.name, u.Sessions, u.Hours, u.Days)
		}
	}
	st.Machine.Added = now.AddDate(0, 0, -10)
	if u := NewUsage(st, []Run{{Fact: 1, Until: st.Machine.Added.Add(-time.Hour), Used: time.Hour},
		{Fact: 2, Until: midnight.AddDate(0, 0, -11), Used: time.Hour}}, Busyness{}, now); u.Days != 10 ||
		u.Sessions != 1 {
		t.Errorf("ten days on the books: %d sessions in %d days", u.Sessions, u.Days)
	}
}

// How busy a shop is against what its profiles expect: 10 sessions in 20 days at one a
// day are (10 + 20) / (20 + 20); of a year only the days looked back on count, and a
// machine that is still to come expects none.
func TestBusynessByHand(t *testing.T) {
	machine := Machine{Added: added, Profile: &profile.Profile{Typical: profile.Typical{Sessions: 1}}}
	for _, test := range []struct {
		days     int
		sessions int
		want     float64
	}{{20, 10, 0.75}, {365, 0, 0.1}, {-5, 0, 1}, {0, 20, 2}} {
		if got := (Busyness{}).With(machine, test.sessions, onDay(test.days)).Ratio(); !closeTo(got, test.want) {
			t.Errorf("%d sessions in %d days: %v, want %v", test.sessions, test.days, got, test.want)
		}
	}
	if got := (Busyness{}).With(machine, 10, onDay(20)).With(machine, 30, onDay(20)).Ratio(); !closeTo(got, 1) {
		t.Errorf("two machines: %v, want 1", got)
	}
}

// By hand: a reading that grows by 10 µm in each 10 h from 1 mm leaves a limit of 1.1 mm
// 30 h after the last of eight. One that may as well go either way names neither; one
// that takes a lifetime is not spoken of.
func TestLeavingByHand(t *testing.T) {
	um := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Micrometre) }
	check := &profile.Check{ID: "gap", Of: quantity.Length, Positions: []string{""}, Target: um(1000),
		Adjust: metrology.Limits{Low: um(900), High: um(1100)}}
	drift := func(values ...int64) Drifting {
		var all []ReadAt
		for i, v := range values {
			all = append(all, ReadAt{Hours: float64(10 * i),
				Reading: Reading{Check: "gap",
					Gauge:  GaugeUsed{Gauge: metrology.Gauge{Resolution: um(1), Uncertainty: um(2), Coverage: 2}},
					Values: []quantity.At{{Repeats: []quantity.Value{um(v)}}}}})
		}
		return Drifts(check, all)[0]
	}
	up := drift(1000, 1010, 1020, 1030, 1040, 1050, 1060, 1070)
	if up.Adjust == nil || !up.Adjust.Limit.Equal(um(1100)) || !up.Adjust.Middle.Equal(hours(30)) ||
		up.Adjust.Early.Cmp(hours(30)) > 0 || up.Stop != nil {
		t.Errorf("up: %+v", up.Adjust)
	}
	if up.Adjust.Late.Valid() && up.Adjust.Late.Cmp(hours(30)) < 0 {
		t.Errorf("late %v before the middle", up.Adjust.Late)
	}
	down := drift(1000, 990, 980, 970, 960, 950, 940, 930)
	if down.Adjust == nil || !down.Adjust.Limit.Equal(um(900)) || !down.Adjust.Middle.Equal(hours(30)) {
		t.Errorf("down: %+v", down.Adjust)
	}
	check.Adjust.Low = quantity.Value{}
	if got := drift(1000, 990, 980, 970, 960, 950, 940, 930); got.Adjust != nil {
		t.Errorf("down, where nothing is too low: %+v", got.Adjust)
	}
	check.Adjust = metrology.Limits{Low: um(900)}
	if got := drift(1000, 1010, 1020, 1030, 1040, 1050, 1060, 1070); got.Adjust != nil {
		t.Errorf("up, where nothing is too high: %+v", got.Adjust)
	}
	// Positions that a reading lacks, and modes of another kind, are left out.
	check.Positions = []string{"", "second"}
	if all := Drifts(check, []ReadAt{{Reading: Reading{Check: "gap",
		Values: []quantity.At{{Repeats: []quantity.Value{um(1)}}}}}}); len(all) != 2 || all[1].Position != "second" {
		t.Errorf("%+v", all)
	}
}
