package commands_test

import (
	"strings"
	"testing"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// What loosens a safety check takes a reason and a second steward; what tightens one is
// done at once.
func TestStoryLoosen(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ishaan", "due")
	width := func(who string, more ...string) {
		world.as(who, "shop confirm", append([]string{"machine=Marble", "what=knife width"}, more...)...)
	}
	width("wren", "stop=at least 18.5 mm")
	width("wren", "stop=at least 18.5 mm", "why=the manual gives 18.5 mm", "page=manual, page 12")
	asked := world.reported()
	world.as("ada", "why", report(asked))
	world.as("ada", "shop loosen", "machine=Marble")
	world.as("wren", "shop loosen", "machine=Marble")
	world.as("wren", "shop loosen", "machine=Marble", "note=I am sure")
	world.notices()
	world.open()
	world.as("ishaan", "shop loosen", "machine=Marble")
	shown := world.last
	world.press("ishaan", "Put it in force")
	world.pressOn(shown, "ishaan", "Put it in force")
	world.as("ada", "why", report(world.reported()))
	world.as("wren", "undo", report(asked))
	world.as("wren", "shop loosen", "machine=Marble")
	world.notices()
	// Tightened at once, and quality as before.
	width("wren", "stop=at least 19 mm")
	world.as("wren", "shop confirm", "machine=Marble", "what=infeed roller", "stop=0.1 to 1.9 mm")
	// Intervals, and who confirms.
	world.as("wren", "shop interval", "machine=Marble", "what=fingers", "every=3 days")
	world.as("wren", "shop interval", "machine=Marble", "what=fingers", "every=14 days")
	world.as("wren", "shop interval", "machine=Marble", "what=fingers", "every=14 days", "why=it is hardly used")
	world.as("ishaan", "shop loosen", "machine=Marble")
	shown = world.last
	world.as("wren", "shop second", "machine=Marble", "check=clamping", "wanted=yes")
	world.pressOn(shown, "ishaan", "Put it in force")
	world.as("wren", "shop second", "machine=Marble", "check=clamping", "wanted=no")
	world.as("wren", "shop second", "machine=Marble", "check=clamping", "wanted=no", "why=nobody else is here")
	world.as("wren", "undo")
	world.as("ishaan", "shop loosen", "machine=Marble", "note=seen")
	world.as("wren", "logbook", "machine=Marble")
	world.notices()
	world.golden("loosen")
}

// Where one steward is known, a day in the channel and a note stand for the second.
func TestStoryLoosenAlone(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.as("owner", "shop settings", "notices=notices", "stewards=stewards")
	fixed := strings.Replace(press, "target: 5 mm, adjust: at most 6 mm, stop: at most 8 mm,",
		"target: 5 mm, adjust: at most 6 mm, stop: at most 8 mm, "+
			"outer: {limits: at most 9 mm, source: Standard 12},", 1)
	fixed = strings.Replace(fixed, "  - {id: oil,", "  - {id: rail, name: rail, class: safety, law: true, "+
		"measured: up., "+
		"target: 5 mm, adjust: at most 6 mm, stop: at most 8 mm, alike: {adjust: 1 mm, stop: 2 mm}, "+
		"positions: [left, right], gauge: dial, entry: {metric: mm, inch: thou}, decimals: {metric: 1, inch: 0}, "+
		"source: Act 7}\n  - {id: oil,", 1)
	world.plain("Anvil", "press", fixed)
	fence := func(more ...string) {
		world.as("wren", "shop confirm", append([]string{"machine=Anvil", "what=fence"}, more...)...)
	}
	fence("stop=at most 9 mm", "why=tall work")
	fence("stop=at most 9.5 mm", "why=tall work")
	fence("stop=at most 9.5 mm", "why=tall work", "photo=page.png")
	world.notices()
	world.as("wren", "shop loosen", "machine=Anvil")
	world.as("wren", "shop loosen", "machine=Anvil", "note=read it again")
	world.as("ada", "machine", "machine=Anvil")
	world.sweep(25 * time.Hour)
	world.as("ada", "shop loosen", "machine=Anvil", "note=me too")
	world.send("wren", "press", "s1:loosen:4", nil) // of a message shown to another
	world.as("wren", "shop loosen", "machine=Anvil", "note=read it again")
	world.notices()
	// Another who is known since puts it in force.
	fence("adjust=at most 7 mm", "why=tall work")
	world.sweep(25 * time.Hour)
	world.as("ishaan", "due")
	world.as("wren", "shop loosen", "machine=Anvil", "note=read it again")
	world.as("ishaan", "shop loosen", "machine=Anvil", "note=seen")
	// The law.
	world.as("wren", "shop confirm", "machine=Anvil", "what=rail", "stop=at most 7 mm")
	world.as("wren", "shop confirm", "machine=Anvil", "what=rail", "stop=at most 8.1 mm", "why=tall work")
	world.as("wren", "shop confirm", "machine=Anvil", "what=rail", "stop=at most 8 mm", "why=as the law says")
	world.as("wren", "shop interval", "machine=Anvil", "what=check the belt", "every=20 h or 30 days", "why=new belts")
	world.as("wren", "shop interval", "machine=Anvil", "what=check the belt", "every=5 h or 20 days")
	world.golden("loosen-alone")
}

// Every way to ask for less is said in words.
func TestLooseningInWords(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	mm := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Millimetre) }
	late := func(days int, hours int64) *profile.Rule {
		rule := &profile.Rule{Days: 7, LateDays: days}
		if hours > 0 {
			rule.LateHours = quantity.New(hours, 1, quantity.Hour)
		}
		return rule
	}
	for _, test := range []struct {
		is   domain.Loosening
		want string
	}{
		{domain.Loosening{Code: domain.LooseAdjust, Was: metrology.Limits{Low: mm(2), High: mm(3)},
			Now: metrology.Limits{Low: mm(1), High: mm(3)}}, "adjust limits 1 to 3 mm instead of 2 to 3 mm"},
		{domain.Loosening{Code: domain.LooseStop, Was: metrology.Limits{Low: mm(2)}},
			"stop limits none instead of at least 2 mm"},
		{domain.Loosening{Code: domain.LooseAlike, Was: metrology.Limits{High: mm(2)},
			Now: metrology.Limits{High: mm(3)}}, "positions alike within at most 3 mm instead of at most 2 mm"},
		{domain.Loosening{Code: domain.LooseEvery, WasEvery: late(3, 0)}, "interval none instead of 7 days"},
		{domain.Loosening{Code: domain.LooseLate, WasEvery: late(3, 2), NowEvery: late(4, 0)},
			"late after 4 days instead of 2 h of use or 3 days"},
		{domain.Loosening{Code: domain.LooseLate, WasEvery: late(3, 0), NowEvery: late(0, 0)},
			"late after none instead of 3 days"},
		{domain.Loosening{Code: domain.LooseRemoved}, "no longer asked for"},
		{domain.Loosening{Code: domain.LoosePlaces}, "made at fewer places"},
		{domain.Loosening{Code: domain.LooseSecond}, "no second person confirms it"},
		{domain.Loosening{Code: domain.LooseRule}, "made by others, or less often"},
	} {
		test.is.Name, test.is.Unit = "gap", quantity.Millimetre
		text := world.desk.Render(domain.NewShop("shop"), domain.Notice{Op: domain.Post, Topic: domain.TopicLoosened,
			Args: domain.NoticeArgs{Machine: "Anvil", Loosens: []domain.Loosening{test.is}}}).Text
		if want := "- Gap: " + test.want + ".\n"; !strings.Contains(words.Expand(text, plainMedium{}), want) {
			t.Errorf("%s is said as %q, want %q", test.is.Code, text, want)
		}
	}
}
