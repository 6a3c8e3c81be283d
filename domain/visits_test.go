package domain_test

import (
	"slices"
	"testing"
	"time"

	. "setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// planerOn is a thickness planer on the books since a moment, as it stands at another.
func planerOn(t *testing.T, added, now time.Time) Status {
	t.Helper()
	text, err := profile.BuiltinText("thickness-planer")
	if err != nil {
		t.Fatal(err)
	}
	setup := Setup{Kind: "thickness-planer"}
	prof, err := Compile(text, setup)
	if err != nil {
		t.Fatal(err)
	}
	return Assess(Snapshot{Shop: NewShop("s"),
		Machine: Machine{ID: 1, Name: "Marble", Added: added, Setup: setup, Profile: prof},
		Hours:   quantity.Zero(quantity.Duration),
		Latest: map[string]Latest{"fingers": {Fact: 2, At: added, Check: "fingers",
			Inspection: &Inspection{Check: "fingers", Pass: true}}}}, now)
}

// A window opens before the work falls due and closes with the day before its late
// limit passes; by hours of use, with the forecast.
func TestWants(t *testing.T) {
	t.Parallel()
	added := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	st := planerOn(t, added, added.Add(time.Hour))
	usage := NewUsage(st, nil, Busyness{}, st.At)
	all := Wants(st, usage)
	find := func(item Item) *Wanted {
		if i := slices.IndexFunc(all, func(w Wanted) bool { return w.Item == item }); i >= 0 {
			return &all[i]
		}
		return nil
	}
	day := func(m time.Month, d int) time.Time { return time.Date(2026, m, d, 0, 0, 0, 0, time.UTC) }
	// A check by days, late three days after the seventh: 9 March, late on the 12th.
	if w := find(CheckItem.Of("fingers")); w == nil || !w.Opens.Equal(day(3, 8)) || !w.Closes.Equal(day(3, 11)) ||
		w.NotBefore {
		t.Errorf("fingers: %+v", w)
	}
	// Unread checks are the set-up's.
	if w := find(CheckItem.Of("knives")); w != nil {
		t.Errorf("knives: %+v", w)
	}
	// By hours: 8 of use, of which a quarter early, 4 late.
	s := st.Service("bushings")
	hours := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Hour) }
	if w := find(ServiceItem.Of("bushings")); s == nil || w == nil || !w.Closes.Equal(usage.When(hours(12)).First) ||
		!w.Opens.Equal(usage.When(hours(6)).First) {
		t.Errorf("bushings: %+v", w)
	}
	// An early window that counts is kept to.
	if w := find(ServiceItem.Of("gearbox-oil")); w == nil || w.Closes.Before(w.Opens) {
		t.Errorf("gearbox oil: %+v", w)
	}
	for _, w := range all {
		if w.Opens.Before(day(3, 2)) || w.Closes.Before(w.Opens) {
			t.Errorf("%s opens %v, closes %v", w.Item, w.Opens, w.Closes)
		}
	}
	// What is put off opens when that runs out.
	for i := range st.Services {
		if st.Services[i].Service.ID == "bushings" {
			st.Services[i].PutOff = &PutOffBy{PutOff: PutOff{Service: "bushings", Until: day(4, 20)}}
		}
	}
	all = Wants(st, usage)
	if w := find(ServiceItem.Of("bushings")); w == nil || !w.Opens.Equal(day(4, 20)) || w.Closes.Before(w.Opens) {
		t.Errorf("bushings put off: %+v", w)
	}
}

// One visit does what is isolated first, checks along the chain, what runs last; and
// prepares once what several need.
func TestOneVisit(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	prof := planerOn(t, at, at).Machine.Profile
	got := InOrder(prof, []Item{CheckItem.Of("test-board"), CheckItem.Of("outfeed"), CheckItem.Of("infeed"),
		CheckItem.Of("guards"), CheckItem.Of("belts"), CheckItem.Of("knives"), ServiceItem.Of("belts-again"),
		ServiceItem.Of("bushings")})
	want := []Item{ServiceItem.Of("bushings"), ServiceItem.Of("belts-again"), CheckItem.Of("knives"),
		CheckItem.Of("infeed"), CheckItem.Of("outfeed"), CheckItem.Of("belts"), CheckItem.Of("guards"),
		CheckItem.Of("test-board")}
	if !slices.Equal(got, want) {
		t.Errorf("order %v, want %v", got, want)
	}
	// Isolation 10, belt cover 4, the service 10; the check 5 and its rule 5.
	if n := MinutesOf(prof, []Item{ServiceItem.Of("belts-again"), CheckItem.Of("belts")}); n != 34 {
		t.Errorf("belts tensioned and read take %d minutes", n)
	}
	if alone := MinutesOf(prof, []Item{ServiceItem.Of("belts-again")}) +
		MinutesOf(prof, []Item{CheckItem.Of("belts")}); alone != 44 {
		t.Errorf("each by itself %d minutes", alone)
	}
}

// Evenings are those of the shop's days, when it is open, from now on.
func TestEveningsAhead(t *testing.T) {
	t.Parallel()
	shop := NewShop("s")
	shop.Zone = "Europe/Berlin"
	shop.Evenings = Evenings{Days: []time.Weekday{time.Thursday}, From: 18 * 60, Minutes: 180}
	now := time.Date(2026, 3, 5, 16, 59, 0, 0, time.UTC) // Thursday, 17:59 there
	all := shop.EveningsAhead(now)
	if len(all) != 13 || !all[0].Equal(now.Add(time.Minute)) {
		t.Fatalf("%d evenings from %v", len(all), all)
	}
	// After the clocks change it is still 18:00.
	if h := all[12].In(shop.Location()).Hour(); h != 18 || all[12].Sub(all[0]) != 12*7*24*time.Hour-time.Hour {
		t.Errorf("the last at %v", all[12])
	}
	if late := shop.EveningsAhead(now.Add(2 * time.Minute)); len(late) != 12 {
		t.Errorf("%d evenings once it has begun", len(late))
	}
}

// Knives come before the rollers that are read from them, in one visit or in an
// earlier one; one machine's visits share an evening.
func TestProposeVisits(t *testing.T) {
	t.Parallel()
	added := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	st := planerOn(t, added, added.Add(time.Hour))
	st.Shop.Evenings = Evenings{Days: []time.Weekday{time.Thursday}, From: 18 * 60, Minutes: 180}
	day := func(n int) time.Time { return time.Date(2026, 3, n, 0, 0, 0, 0, time.UTC) }
	proposal, err := ProposeVisits(st.Shop, []Status{st}, [][]Wanted{{
		{Item: CheckItem.Of("outfeed"), Opens: day(2), Closes: day(20)},
		{Item: CheckItem.Of("knives"), Opens: day(10), Closes: day(20)},
		{Item: ServiceItem.Of("bushings"), Opens: day(2), Closes: day(13)},
		{Item: ServiceItem.Of("belts-again"), Opens: day(3), Closes: day(14)},
		{Item: CheckItem.Of("fingers"), Opens: day(10), Closes: day(11)}}}, st.At)
	if err != nil {
		t.Fatal(err)
	}
	// No evening lies in the window of the fingers: the one before it is theirs.
	if len(proposal.Visits) != 2 || proposal.Visits[0].At.Day() != 5 ||
		!slices.Equal(proposal.Visits[0].Early, []Item{CheckItem.Of("fingers")}) ||
		!slices.Equal(proposal.Visits[0].Items,
			[]Item{ServiceItem.Of("bushings"), ServiceItem.Of("belts-again"), CheckItem.Of("fingers")}) ||
		!slices.Equal(proposal.Visits[1].Items, []Item{CheckItem.Of("knives"), CheckItem.Of("outfeed")}) {
		t.Errorf("visits %+v", proposal.Visits)
	}
	if proposal.Jobs != 5 || proposal.Bound != proposal.Cost || proposal.Out >= proposal.Alone ||
		proposal.Out != proposal.Visits[0].Minutes+proposal.Visits[1].Minutes {
		t.Errorf("%+v", proposal)
	}
}
