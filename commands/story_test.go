package commands_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"setscrew/domain"
)

// Each story is played by people of the demo shop and compared, word for word,
// with its golden file.

func TestStoryReadings(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.02 mm, right 1.02 mm")
	world.as("ada", "reading", "machine=marble", "check=infeed", "values=46 41 thou")
	world.press("ada", "Why?")
	world.as("ada", "reading", "machine=marble", "check=infeed", "values=46 41 thou")
	world.press("ada", "I turned it")
	world.notices()
	world.as("ada", "reading", "machine=marble", "check=infeed", "values=46 41 thou")
	world.as("ada", "machine", "machine=marble")
	world.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=1.02 1.03")
	world.as("bo", "reading", "machine=Marble", "check=infeed roller")
	world.fill("bo", "left=0.86", "right=34 thou")
	world.as("bo", "reading", "machine=Marble", "check=knife projection")
	world.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 0.52 mm, right 1.02 mm")
	world.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.02 mm, right 1.02 mm",
		"when=yesterday 17:30")
	world.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.14 mm, right 1.02 mm",
		"gauge=feelers")
	world.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.7 mm, right 1.02 mm")
	world.notices()
	world.as("bo", "machine", "machine=Marble")
	world.golden("readings")
}

func TestStoryHours(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.sweep(2 * time.Hour)
	world.as("ada", "hours", "machine=Marble", "hours=7")
	world.as("bo", "hours", "machine=Marble", "hours=1h30", "sure=yes")
	world.notices()
	world.as("bo", "due")
	world.as("wren", "why", "machine=Marble", "service=bushings")
	world.as("wren", "service", "machine=Marble", "service=bushings", "note=two drops each")
	world.notices()
	world.as("bo", "due", "machine=Marble")
	world.as("ada", "hours", "machine=Marble")
	world.press("ada", "30 min")
	world.as("ada", "hours", "machine=Marble", "hours=1", "counter=2")
	world.as("ada", "hours", "machine=Marble", "counter=-1")
	world.as("ada", "hours", "machine=Marble", "counter=many")
	world.as("ada", "hours", "machine=Marble", "counter=143.2")
	world.as("ada", "hours", "machine=Marble", "hours=1", "sure=yes")
	world.as("wren", "hours", "machine=Marble", "counter=145.7")
	world.as("wren", "hours", "machine=Marble", "counter=12")
	world.press("wren", "It is a new counter")
	world.as("wren", "machine", "machine=Marble")
	world.as("wren", "undo")
	world.as("wren", "undo")
	world.as("wren", "due")
	world.golden("hours")
}

// Belts are tensioned again once after each change, the gearbox oil is changed
// first by hours and then by the year.
func TestStoryBelts(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("wren", "service", "machine=Marble", "service=belts-again"))
	world.must(world.as("wren", "reading", "machine=Marble", "check=belts", "values=6 6 mm"))
	world.as("wren", "why", "machine=Marble", "service=belts-again")
	world.as("wren", "event", "machine=Marble", "event=belts changed", "when=2 s ago")
	world.as("wren", "why", "machine=Marble", "service=belts-again")
	world.as("wren", "why", "machine=Marble", "service=gearbox-oil")
	world.as("wren", "why", "machine=Marble", "service=columns")
	world.as("wren", "event", "machine=Marble", "event=belts chnged")
	world.as("wren", "event", "machine=Marble", "event=zither")
	for range 4 {
		world.must(world.as("ada", "hours", "machine=Marble", "hours=5", "sure=yes"))
	}
	world.as("wren", "service", "machine=Marble", "service=gearbox-oil")
	world.as("wren", "why", "machine=Marble", "service=gearbox-oil")
	world.as("wren", "service", "machine=Marble", "service=belts-again")
	world.as("wren", "due")
	world.must(world.as("wren", "reading", "machine=Marble", "check=belts", "values=6 6 mm"))
	world.as("wren", "event", "machine=Marble", "event=bed roller replaced")
	world.must(world.as("wren", "reading", "machine=Marble", "check=bed rollers", "values=0.08 0.08 0.08 0.08 mm"))
	world.must(world.as("wren", "tagout", "machine=Marble", "reason=bed roller replaced"))
	world.as("wren", "release", "machine=Marble")
	world.intoTest("wren")
	running := world.last
	world.press("wren", "It runs well")
	world.as("wren", "reading", "machine=Marble", "check=test board", "values=left 20.02, right 20.05 mm")
	world.pressOn(running, "wren", "It runs well")
	world.notices()
	world.golden("belts")
}

func TestStoryHow(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	for _, what := range []string{"bushings", "knives changed or reset", "wax", "infeed", "bed rollers", "test-board",
		"fingers", "guards", "bushngs", "zither"} {
		world.as("ada", "how", "machine=Marble", "what="+what)
	}
	world.golden("how")
}

func TestStoryLogbook(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("ada", "hours", "machine=Marble", "hours=1", "for=chidi"))
	world.must(world.as("ada", "service", "machine=Marble", "service=bushings", "note=two drops *each*"))
	world.must(world.as("bo", "problem", "machine=Marble", "what=smoke"))
	world.must(world.as("bo", "undo"))
	world.out.Reset()
	world.sweep(2 * time.Hour)
	world.as("ada", "hours", "machine=Marble", "hours=20 min", "when=90 min ago")
	world.as("ada", "service", "machine=Marble", "service=columns", "when=1 h ago", "for=chidi")
	world.as("ada", "tagout", "machine=Marble", "reason=belt off", "when=30 min ago", "for=bo")
	world.as("ada", "logbook", "machine=Marble")
	world.press("bo", "Older")
	world.press("bo", "Older")
	world.press("bo", "Newest")
	world.send("ada", "press something broken", "s1:log:x.1", nil)
	world.send("ada", "press something broken", "s1:log:1.x", nil)
	world.golden("logbook")
}

// A second person confirms the clamping where the shop wants it; a rough and a
// planed setting have values of their own.
func TestStorySetUp(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.must(world.as("owner", "shop settings", "name=Quarry Street Commons", "zone=CET", "units=metric",
		"notices=shop-notices", "stewards=stewards"))
	world.as("wren", "shop add", "name=Granite", "kind=thickness-planer", "state=new",
		"with=knives=4, screws=M8, belt-span=350 mm, belts=3")
	world.as("wren", "shop add", "name=Gneiss", "kind=thickness-planer", "state=new", "with=screws=fat")
	world.as("wren", "shop confirm", "machine=Granite")
	world.press("wren", "Confirm table")
	stale := world.last
	world.as("wren", "shop confirm", "machine=Granite", "what=pressure bar, sprung bar", "target=0.2 mm",
		"adjust=0.1 to 0.3 mm", "stop=-0.2 to 1 mm")
	world.pressOn(stale, "wren", "Confirm knife width")
	world.as("wren", "shop confirm", "machine=Granite", "what=test board", "target=0.2 mm")
	world.as("wren", "shop second", "machine=Granite", "check=infeed", "wanted=yes")
	world.as("wren", "shop second", "machine=Granite", "check=clamping", "wanted=yes")
	world.as("ada", "reading", "machine=Granite", "check=clamping", "values=pass")
	world.as("ada", "reading", "machine=Granite", "check=clamping", "values=pass")
	world.as("wren", "machine", "machine=Granite")
	world.as("wren", "tagout", "machine=Granite", "reason=new, being set up", "paper=3")
	world.as("wren", "release", "machine=Granite")
	world.as("bo", "reading", "machine=Granite", "check=clamping", "values=pass")
	world.as("bo", "reading", "machine=Granite", "check=pressure bar", "values=left 0.2 mm, right 0.35 mm",
		"mode=sprung")
	world.as("bo", "reading", "machine=Granite", "check=pressure bar", "values=left 0.2 mm, right 0.2 mm")
	world.as("bo", "why", "machine=Granite", "check=pressure bar")
	world.as("bo", "reading", "machine=Granite", "check=pressure bar", "values=left 0.2 mm, right 0.2 mm",
		"mode=sprnug")
	world.as("bo", "reading", "machine=Granite", "check=pressure bar", "values=left 0.2 mm, right 0.2 mm",
		"mode=zither")
	world.as("bo", "reading", "machine=Granite", "check=infeed", "values=left 1 mm, right 1 mm", "mode=sprung")
	world.as("bo", "reading", "machine=Granite", "check=bed rollers", "values=0.45 0.46 0.45 0.46 mm", "mode=high")
	world.as("bo", "reading", "machine=Granite", "check=test board", "values=left 20.02 mm, right 20.31 mm")
	world.as("bo", "why", "machine=Granite", "check=test board")
	world.as("bo", "reading", "machine=Granite", "check=depth scale", "values=scale 20 mm, caliper 20.1 mm")
	world.must(world.as("wren", "shop second", "machine=Granite", "check=clamping", "wanted=no", "why=a small shop"))
	world.must(world.as("ishaan", "shop loosen", "machine=Granite", "note=seen"))
	world.as("wren", "shop second", "machine=Granite", "check=clamping", "wanted=no")
	world.as("wren", "machine", "machine=Granite")
	world.golden("set-up")
}

func TestStoryShop(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.as("ada", "due")
	world.as("ada", "shop add", "name=Basalt", "kind=thickness-planer")
	world.as("ada", "shop settings")
	world.as("owner", "shop settings")
	world.as("owner", "shop settings", "zone=Mars")
	world.as("owner", "shop settings", "digest=9 o'clock")
	world.as("owner", "shop settings", "units=cubits")
	world.as("owner", "shop settings", "days=someday")
	world.as("owner", "shop settings", "days=sat, mon Wednesday")
	world.as("owner", "shop settings", "days=all")
	world.as("owner", "shop settings", "name=Tin Lane", "zone=CET", "units=inch", "notices=notices",
		"stewards=stewards",
		"digest=08:30")
	world.as("ada", "shop add", "name=Basalt", "kind=thickness-planer")
	world.as("wren", "shop add", "name=Basalt", "kind=thicknes-planer")
	world.press("wren", "Use thickness planer")
	world.press("wren", "New, moved or unknown")
	world.as("wren", "shop add", "name=basalt", "kind=thickness-planer", "state=new")
	world.as("wren", "shop add", "name=Slate", "kind=loom")
	world.as("wren", "shop add", "name=Slate", "kind=thickness-planer", "with=knives=9")
	world.as("wren", "shop add", "name=Slate", "kind=thickness-planer", "state=in-use", "units=metric")
	world.as("wren", "shop add", "name=\u202e\u200b", "kind=thickness-planer")
	world.as("wren", "machine", "machine=Basalt")
	world.as("wren", "due", "machine=Basalt")
	world.as("wren", "shop confirm", "machine=Basalt", "what=infed roller")
	world.press("wren", "Use infeed roller")
	world.as("wren", "shop confirm", "machine=Basalt", "what=xyzzy")
	world.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller left set screw", "target=1 mm")
	world.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller left set screw")
	world.as("wren", "shop confirm", "machine=Basalt", "what=bushings")
	world.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=0.040 in", "adjust=40 thou")
	world.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=0.040 in", "adjust=44 to 36 thou")
	world.as("wren", "shop confirm", "machine=Basalt", "what=outfeed roller", "target=0.020 in", "adjust=± 0.004 in",
		"stop=+0.020/-0.015 in")
	world.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=0.040 in", "adjust=42 to 44 thou")
	world.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=40 furlongs")
	world.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=1,234 mm")
	world.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=40", "adjust=37 to 43 thou",
		"stop=20 to 60 thou")
	world.as("wren", "gauge set", "name=short dial", "resolution=0.0005 in", "uncertainty=0", "k=2")
	world.as("wren", "gauge set", "name=short dial", "resolution=0.0005 in", "uncertainty=0.0007 in", "k=20")
	world.as("wren", "gauge set", "name=short dial", "resolution=0.0005 in", "uncertainty=2 tenths", "k=2")
	world.as("wren", "gauge set", "name=short dial", "resolution=0.0005 in", "uncertainty=0.0007 in", "k=2")
	world.as("ada", "reading", "machine=Basalt", "check=infeed", "values=40 41 thou", "gauge=short dail")
	world.press("ada", "Use short dial")
	world.as("ada", "why", "machine=Basalt", "check=infeed")
	world.as("ada", "reading", "machine=Basalt", "check=infeed", "values=40 41 thou", "gauge=yardstick")
	world.as("ada", "reading", "machine=Basalt", "check=outfeed", "values=left 30 thou, right 24 thou")
	world.as("ada", "why", "machine=Basalt", "check=outfeed")
	world.as("ada", "shop retire", "machine=Slate")
	world.as("wren", "shop retire", "machine=Slate")
	world.press("wren", "Retire Slate")
	world.as("ada", "hours", "machine=Slate", "hours=1")
	world.notices()
	world.golden("shop")
}

func TestStoryBadInput(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "sermon")
	world.as("ada", "hours", "machine=Marble")
	world.as("ada", "hours", "machine=Marble", "hours=1", "colour=red")
	world.as("ada", "hours", "machin=Marble", "hours=1")
	world.as("ada", "problem", "machine=Marble", "what=snipe", "note="+strings.Repeat("long ", 100))
	world.as("ada", "hours", "machine=Marbel", "hours=1")
	world.press("bo", "Use Marble")
	world.as("ada", "hours", "machine=Marbel", "hours=1")
	world.press("ada", "Use Marble")
	another := world.reported()
	world.as("ada", "hours", "machine=Xylophone", "hours=1")
	for _, h := range []string{"30", "-2", "0", "lots", "1 mm", "1/0", "2 h 2 h", "0.1 s", "1,234"} {
		world.as("ada", "hours", "machine=Marble", "hours="+h)
	}
	world.as("ada", "hours", "machine=Marble", "hours=30")
	world.press("ada", "I meant 30 min")
	world.as("ada", "hours", "machine=Marble", "hours=1", "when=soon")
	world.as("ada", "hours", "machine=Marble", "hours=1", "when=23:59")
	world.as("ada", "hours", "machine=Marble", "hours=1", "when=2026-01-01 10:00")
	world.as("ada", "reading", "machine=Marble", "check=infed roller", "values=1 mm")
	world.as("ada", "reading", "machine=Marble", "check=zither", "values=1 mm")
	for _, v := range []string{"left 1 kg, right 1 mm", "left 1 mm", "1 2 3 mm", "up 1 mm, right 1 mm",
		"left 1 mm, left 2 mm", "left 1 h, right 1 h",
		"left 1 mm, right", " , ", strings.Repeat("µ", 300), strings.Repeat("1", 401), "left 1,234 mm, right 1 mm",
		"left 40 mil, right 40 mil", "left 4 tenths, right 4 tenths", "1.02 1.03"} {
		world.as("ada", "reading", "machine=Marble", "check=infeed roller", "values="+v)
	}
	world.as("ada", "reading", "machine=Marble", "check=infeed roller")
	world.fill("ada", "left=1.02", "right= ")
	world.as("ada", "reading", "machine=Marble", "check=fingers")
	world.as("ada", "reading", "machine=Marble", "check=fingers", "values=perhaps")
	world.as("ada", "service", "machine=Marble", "service=bushngs")
	world.as("ada", "service", "machine=Marble", "service=zither")
	world.as("ada", "why")
	world.as("ada", "why", "report=two")
	world.as("ada", "why", "report=999")
	world.as("ada", "why", "machine=Marble", "service=belts-again")
	world.as("ada", "undo", "report=0")
	world.as("chidi", "undo")
	world.as("chidi", "undo", report(another))
	world.as("wren", "undo", "report=1")
	world.as("wren", "release", "machine=Marble")
	world.as("ada", "help", "command=redaing")
	world.as("ada", "help", "command=xyzzy")
	world.send("ada", "press something old", "s0:again:1", nil)
	world.send("ada", "press something unknown", "s1:again:nothing", nil)
	world.send("ada", "press something foreign", "s1:sermon:1", nil)
	world.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=46-41 thou")
	world.golden("bad-input")
}

func TestStoryUnlikely(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.02 in, right 1.04 in")
	world.press("ada", "I meant")
	world.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 12 mm, right 11 mm")
	doubted := world.reported()
	believe := world.last
	world.press("bo", "It is right")
	world.pressOn(believe, "ada", "It is right")
	believed := world.reported()
	confirmed := world.now
	world.pressOn(believe, "ada", "It is right")
	world.pressOn(believe, "ada", "Withdraw")
	world.as("ada", "why", report(doubted))
	world.as("ada", "why", report(believed))
	world.as("ada", "undo", report(doubted))
	world.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 13 mm, right 11 mm")
	world.press("ada", "Withdraw")
	world.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 14 mm, right 11 mm")
	again := world.last
	world.as("wren", "release", "machine=Marble")
	world.pressOn(again, "ada", "It is right")
	if !confirmed.Before(world.now) {
		t.Error("no time has passed")
	}
	world.notices()
	world.golden("unlikely")
}

// Values as people type them: what a reader would understand is taken and said, what may be
// two things is asked, and a slip on a safety check keeps the machine from being used until
// somebody has said what was meant.
func TestStoryTyped(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	reads := func(check, values string) {
		world.as("ada", "reading", "machine=Marble", "check="+check, "values="+values)
	}
	for _, values := range []string{"1.02 mm left, 1.04 right", "L/R 1.02/1.04", "both 40 thou", "1.02 vs 1.04",
		"left ~1.02, right 1.04", "left forty thou, right same", "left 3/64, right 3/64",
		"left 1 020 µm, right 1 040 µm"} {
		reads("infeed", values)
	}
	for _, values := range []string{"1.02", "3 / 4", "left 1/2, right 1/2", "left 46 mil, right 3 mil",
		"left 1 900, right 1 900",
		"left 1.02-1.04, right 1.03", "left 46, - 41", "left 10.2, right 1.04", "left 1.02, right -1.04"} {
		reads("infeed", values)
	}
	reads("infeed", "ok")
	world.press("ada", "Type the values")
	reads("fingers", "all good 👍")
	reads("fingers", "ok except one sticking")
	world.press("ada", "It passes")
	reads("test board", "left 500 mm, right 500 mm")
	world.press("ada", "Withdraw")
	reads("knife width", "knife 1 15/16 in, knife 2 1 in, knife 3 1 in, knife 4 1 in")
	reads("knife width", "0.95 0.95 0.95 0.95")
	asked := world.last
	world.as("bo", "machine", "machine=Marble")
	world.as("bo", "hours", "machine=Marble", "hours=1")
	world.as("bo", "ready", "before=saturday")
	world.sweep(3 * time.Minute)
	world.pressOn(asked, "ada", "I meant")
	reads("guards", "doesn't work, hinge is loose")
	world.notices()
	world.golden("typed")
}

// A shop's own limit that is a slip of the unit is asked about, a safety check's above all.
func TestStoryUnlikelySetting(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	set := func(options ...string) {
		world.as("wren", "shop confirm", append([]string{"machine=Marble", "what=knife width"}, options...)...)
	}
	set("stop=at least 0.75 mm", "why=measured")
	set("stop=at least 3/4", "why=measured")
	set("adjust=at least 1/2", "why=measured")
	set("target=20-25 mm")
	set("target=250 mm")
	world.press("wren", "Yes, 250.00 mm")
	world.golden("unlikely-setting")
}

func TestStoryTags(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "tagout", "machine=Marble", "reason=belt squeals @everyone\n**now** \u202egnp", "paper=17")
	world.as("bo", "tagout", "machine=Marble", "reason=the feed is slow")
	slow := world.reported()
	world.as("bo", "hours", "machine=Marble", "hours=20 min")
	world.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.70 mm, right 1.02 mm")
	world.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.72 mm, right 1.02 mm")
	world.notices()
	world.as("bo", "machine", "machine=Marble")
	world.as("bo", "why", "machine=Marble")
	world.as("bo", "release", "machine=Marble")
	world.as("wren", "release", "machine=Marble")
	world.as("bo", "undo", report(slow))
	world.as("wren", "reading", "machine=Marble", "check=infeed roller", "values=left 1.02 mm, right 1.02 mm")
	world.as("wren", "release", "machine=Marble")
	asked := world.last
	world.as("chidi", "tagout", "machine=Marble", "reason=the bed is dirty")
	world.pressOn(asked, "bo", "Seen to, owner asked")
	world.pressOn(asked, "wren", "Seen to, owner asked")
	world.as("wren", "release", "machine=Marble")
	world.press("wren", "Seen to, owner asked")
	first := world.last
	world.press("wren", "Seen to, owner could not")
	world.intoTest("wren")
	world.pressOn(first, "wren", "Seen to, owner asked")
	world.as("wren", "release", "machine=Marble")
	world.press("bo", "It runs well")
	world.as("bo", "machine", "machine=Marble")
	world.as("wren", "hours", "machine=Marble", "hours=5 min")
	world.as("wren", "release", "machine=Marble")
	world.press("wren", "Stop the test")
	world.as("wren", "release", "machine=Marble")
	world.intoTest("wren")
	world.press("wren", "It runs well")
	released := world.reported()
	world.pressOn(asked, "wren", "Seen to, owner asked")
	world.notices()
	world.as("wren", "tagout", "machine=Marble", "reason=my own")
	world.as("wren", "release", "machine=Marble")
	world.intoTest("wren")
	running := world.last
	world.as("bo", "tagout", "machine=Marble", "reason=it is dirty")
	world.pressOn(running, "wren", "It runs well")
	world.as("wren", "release", "machine=Marble")
	world.intoTest("wren")
	world.press("wren", "It runs well")
	world.as("wren", "undo")
	world.as("wren", "why", report(released))
	world.as("wren", "undo", report(released))
	world.notices()
	world.golden("tags")
}

func TestStoryProblems(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "problem", "machine=Marble", "what=snipe")
	snipe := world.reported()
	world.press("ada", "Tag out Marble")
	world.as("ada", "problem", "machine=Marble", "what=it hums a tune", "note=quietly")
	world.as("bo", "problem", "machine=Marble", "what=there is SMOKE coming out, and it vibrates")
	world.as("bo", "problem", "machine=Marble", "what=hurt")
	world.as("bo", "why", report(snipe))
	world.as("wren", "release", "machine=Marble")
	world.as("wren", "release", "machine=Marble", "note=belt replaced, knives checked, ada was treated")
	world.putRight("wren")
	world.as("wren", "release", "machine=Marble", "note=belt replaced, knives checked, ada was treated")
	world.intoTest("wren")
	world.putRight("wren")
	world.as("wren", "release", "machine=Marble")
	world.press("wren", "It runs well")
	world.notices()
	world.as("bo", "problem", "machine=Marble", "what=hit a nail")
	world.as("bo", "undo")
	world.notices()
	world.as("chidi", "problem", "machine=Marble", "what=snipe", "note=both ends",
		`photo={"id":"77","name":"board.png","url":"https://cdn.discordapp.com/attachments/1/77/board.png"}`)
	world.as("bo", "problem", "machine=Marble", "what=snipe", "photo=sketch")
	world.as("ada", "mended", "machine=Marble", "problem=snipe")
	world.as("wren", "machine", "machine=Marble")
	world.as("wren", "mended", "machine=Marble", "problem=snpie")
	world.press("wren", "Use snipe")
	world.as("wren", "mended", "machine=Marble", "problem=zither")
	world.as("wren", "mended", "machine=Marble", "problem=snipe", "note=bed rollers lowered")
	world.as("wren", "mended", "machine=Marble", "problem=snipe")
	world.as("wren", "mended", "machine=Marble", "problem=it hums a tune")
	world.as("wren", "mended", "machine=Marble", "problem=snipe")
	world.notices()
	world.as("bo", "problem", "machine=Marble", "what=snipe")
	world.sweep(24 * time.Hour)
	world.as("bo", "problem", "machine=Marble", "what=snipe")
	world.notices()
	world.sweep(24 * time.Hour)
	world.notices()
	world.golden("problems")
}

// Danger in plain words stops the machine; what may be dangerous is asked about, and
// the stewards are called where nobody answers.
func TestStoryDanger(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "problem", "machine=Marble", "what=slight wobble on the cutter head i think")
	world.notices()
	world.as("bo", "hours", "machine=Marble", "hours=1")
	world.sweep(time.Minute)
	world.notices()
	world.sweep(time.Minute)
	world.notices()
	world.sweep(time.Hour)
	world.notices()
	world.press("ada", "It is not dangerous")
	world.notices()
	world.as("ada", "problem", "machine=Marble", "what=the guard feels a bit loose", "note=since the move")
	world.press("ada", "Stop it")
	world.notices()
	world.as("bo", "problem", "machine=Marble", "what=its on fire!!!")
	world.as("bo", "problem", "machine=Marble", "what=the bench rocks", "danger=yes")
	world.as("bo", "problem", "machine=Marble", "what=snipe", "note=and the emergency stop is jammed")
	world.as("wren", "release", "machine=Marble", "note=looked at")
	world.as("wren", "machine", "machine=Marble")
	world.as("bo", "problem", "machine=Marble", "what=almost lost a finger")
	world.as("bo", "problem", "machine=Marble", "what=fire", "danger=no")
	world.notices()
	world.golden("danger")
}

func TestStoryInspection(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "reading", "machine=Marble", "check=fingers", "values=fail: one sticks")
	sticks := world.reported()
	world.as("ada", "reading", "machine=Marble", "check=fingers")
	world.press("ada", "It fails")
	world.as("ada", "machine", "machine=Marble")
	world.as("wren", "release", "machine=Marble")
	world.as("wren", "reading", "machine=Marble", "check=fingers", "values=pass", "when=1 s ago")
	world.as("wren", "why", report(sticks))
	world.as("wren", "why", "machine=Marble", "check=fingers")
	world.as("wren", "reading", "machine=Marble", "check=fingers", "values=fail", "when=5 s ago")
	world.as("wren", "release", "machine=Marble")
	world.intoTest("wren")
	world.press("wren", "It runs well")
	world.sweep(7 * 24 * time.Hour)
	world.notices()
	world.as("ada", "due")
	world.as("ada", "machine", "machine=Marble")
	world.sweep(4 * 24 * time.Hour)
	world.notices()
	world.as("ada", "due")
	world.as("wren", "release", "machine=Marble")
	world.as("wren", "reading", "machine=Marble", "check=fingers", "values=pass")
	world.as("wren", "reading", "machine=Marble", "check=guards", "values=pass")
	world.as("wren", "release", "machine=Marble")
	world.intoTest("wren")
	world.press("wren", "It runs well")
	world.notices()
	world.as("ada", "machine", "machine=Marble")
	world.as("ada", "reading", "machine=Marble", "check=fingers", "values=fail")
	world.golden("inspection")
}

func TestStoryKnives(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	all := func(values string) { world.as("wren", "reading", "machine=Marble", "check=knives", "values="+values) }
	world.as("wren", "event", "machine=Marble", "event=new knives", "note=a sharpened set")
	world.as("wren", "due")
	world.as("wren", "machine", "machine=Marble")
	world.as("wren", "why", "machine=Marble", "check=infeed")
	world.as("wren", "why", "machine=Marble", "check=knives")
	world.as("ada", "reading", "machine=Marble", "check=infeed", "values=1.02 1.02 mm", "when=12 s ago")
	all("1.62 1.60 1.61 1.60 1.62 1.60 1.61 1.60 mm")
	world.as("wren", "machine", "machine=Marble")
	world.as("ada", "why", "machine=Marble", "check=infeed")
	world.as("ada", "reading", "machine=Marble", "check=clamping", "values=pass", "when=20 s ago")
	all("1.40 1.59 1.59 1.59 1.59 1.59 1.59 1.59 mm")
	all("1.50 1.60 1.55 1.55 1.55 1.55 1.55 1.55 mm")
	world.as("ada", "why", "machine=Marble", "check=knives")
	all("1.59 1.59 1.59 1.59 1.59 1.59 1.59 1.85 mm")
	all("1.40 1.40 1.40 1.40 1.40 1.40 1.40 1.40 mm")
	all("1.60 1.59 1.59 1.59 1.59 1.59 1.59 1.84 mm")
	all("2.08 2.08 2.08 2.08 2.08 2.08 2.08 2.08 mm")
	all("1.59 1.59 1.59 1.59 1.59 1.59 1.59 1.95 mm")
	all("2.10 2.10 2.10 2.10 2.10 2.10 2.10 2.10 mm")
	world.as("wren", "release", "machine=Marble")
	all("2.08 2.08 2.08 2.08 2.08 2.08 2.08 2.08 mm")
	world.as("wren", "release", "machine=Marble")
	all("k1l 1.59 1.60 1.58 k1r 1.59 k2l 1.59 k2r 1.59 k3l 1.59 k3r 1.59 k4l 1.59 k4r 1.59 mm")
	world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 1.02 1.03 1.02, right 1.016")
	world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 1.3 mm, right 1.016 mm")
	plan := world.last
	world.press("ada", "I turned it")
	world.pressOn(plan, "wren", "I turned it")
	world.as("ada", "undo")
	world.as("wren", "service", "machine=Marble", "service=bushings", "when=3 s ago")
	world.as("wren", "service", "machine=Marble", "service=bushings", "when=9 s ago")
	world.as("wren", "why", "machine=Marble", "service=bushings")
	world.as("wren", "undo")
	world.notices()
	world.golden("knives")
}

func TestStoryUnlikeKnives(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "reading", "machine=Marble", "check=knives", "values=1.59 1.59 1.59 1.59 1.59 1.59 1.59 1.95 mm")
	world.as("ada", "undo")
	world.as("wren", "release", "machine=Marble")
	world.intoTest("wren")
	world.press("wren", "It runs well")
	world.as("ada", "reading", "machine=Marble", "check=knives", "values=2.10 2.10 2.10 2.10 2.10 2.10 2.10 2.10 mm")
	world.golden("unlike-knives")
}

// A day's digest says what stands, the gravest first; a day with nothing to say
// has none.
func TestStoryDigest(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.sweep(24 * time.Hour)
	world.notices()
	world.must(world.as("ada", "hours", "machine=Marble", "hours=9"))
	world.must(world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 1.2 mm, right 1.016 mm"))
	world.notices()
	world.out.Reset()
	world.sweep(24 * time.Hour)
	world.sweep(time.Minute)
	world.notices()
	world.must(world.as("bo", "hours", "machine=Marble", "hours=4", "sure=yes"))
	world.must(world.as("ada", "reading", "machine=Marble", "check=outfeed", "values=left 21 mm, right 1.016 mm"))
	world.must(world.as("ada", "event", "machine=Marble", "event=knives-changed"))
	world.notices()
	world.sweep(24 * time.Hour)
	world.notices()
	world.sweep(3 * 24 * time.Hour)
	world.notices()
	world.sweep(5 * 24 * time.Hour)
	world.notices()
	world.golden("digest")
}

func TestStoryHelp(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "help")
	world.as("wren", "help")
	for _, c := range world.desk.Declarations() {
		world.as("ada", "help", "command="+c.Name)
	}
	world.golden("help")
}

// Every kind of report is named by its number.
func TestStoryFacts(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("wren", "gauge set", "name=long dial", "resolution=0.01 mm", "uncertainty=0.02 mm")
	world.as("ada", "hours", "machine=Marble", "hours=1")
	counter := world.reported()
	world.as("ada", "hours", "machine=Marble", "counter=143.2")
	world.as("ada", "event", "machine=Marble", "event=belts-changed")
	world.as("ada", "problem", "machine=Marble", "what=snipe")
	world.as("wren", "mended", "machine=Marble", "problem=snipe")
	world.as("wren", "reading", "machine=Marble", "check=belts", "values=6.2 6.2 mm")
	world.as("ada", "service", "machine=Marble", "service=bushings")
	world.as("ada", "tagout", "machine=Marble", "reason=x")
	world.as("wren", "release", "machine=Marble")
	world.intoTest("wren")
	world.press("wren", "Stop the test")
	world.as("wren", "release", "machine=Marble")
	world.intoTest("wren")
	world.press("wren", "It runs well")
	world.as("wren", "undo", report(counter))
	world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 1.3 mm, right 1.016 mm")
	world.press("ada", "I turned it")
	world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 13 mm, right 11 mm")
	world.press("ada", "It is right")
	world.as("wren", "shop retire", "machine=Marble")
	retire := world.last
	world.press("wren", "Retire Marble")
	world.pressOn(retire, "wren", "Retire Marble")
	world.out.Reset()
	last := world.reported()
	for no := domain.FactNo(1); no <= last+6; no++ { // the last six are none
		world.as("ada", "why", report(no))
	}
	world.golden("facts")
}

// The same reading is proved with a dial and too close to call with feeler
// gauges; repeats are averaged, and one that stands apart is named.
func TestStoryGauges(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "gauge list")
	world.as("wren", "gauge set", "name=short micrometer")
	world.as("wren", "gauge set", "name=short micrometer", "kind=micrometr")
	world.press("wren", "Use micrometer")
	world.press("wren", "Confirm its values")
	world.as("wren", "gauge set", "name=short micrometer", "kind=loom")
	world.as("wren", "gauge set", "name=bathroom scale", "kind=manometer")
	world.as("wren", "gauge set", "name=fine dial", "kind=dial", "calibrated=soon")
	world.as("wren", "gauge set", "name=fine dial", "resolution=0.002 mm", "error=0.004 mm", "uncertainty=0.002 mm")
	world.as("wren", "gauge set", "name=fine dial", "resolution=0.002 mm", "error=0.004 mm", "interval=40 years")
	world.as("wren", "gauge set", "name=fine dial", "resolution=0.002 mm", "error=0.004 mm", "interval=often")
	world.as("wren", "gauge set", "name=fine dial", "resolution=1,234 mm", "error=0.004 mm")
	world.as("wren", "gauge set", "name=fine dial", "resolution=0.002 mm", "error=0.004 mm", "calibrated=2024-01-10",
		"interval=1 year")
	world.as("wren", "gauge set", "name=long dial", "resolution=0.01 mm", "uncertainty=0.03 mm", "k=2")
	world.as("ada", "gauge list")
	world.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.09 mm, right 1.02 mm")
	world.press("ada", "Why?")
	world.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.09 mm, right 1.02 mm",
		"gauge=feelers")
	world.press("ada", "Why?")
	world.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.137 mm, right 1.02 mm",
		"gauge=fine dial")
	world.as("ada", "reading", "machine=Marble", "check=infeed roller",
		"values=left 1.13 1.12 1.13 mm, right 1.02 1.02 1.03 mm", "gauge=long dial")
	world.press("ada", "Why?")
	world.as("ada", "reading", "machine=Marble", "check=infeed roller",
		"values=left 1.02 1.02 1.03 1.02 1.03 1.19 mm, right 1.02 mm", "gauge=fine dial")
	world.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.143 mm, right 1.02 mm",
		"gauge=fine dial")
	world.as("ada", "reading", "machine=Marble", "check=knives", "values=1.59 1.61 1.59 1.59 1.59 1.59 1.59 1.59 mm",
		"gauge=long dial")
	world.press("ada", "Why?")
	world.as("ada", "gauge repeat", "gauge=fine dial", "values=1 1 1 mm")
	world.as("wren", "gauge repeat", "gauge=fin dial", "values=1 1 1 mm")
	world.press("wren", "Use fine dial")
	world.as("wren", "gauge repeat", "gauge=fine dial", "values=1 1 1 1 1 1 1 1 1 1 mm")
	world.as("wren", "gauge repeat", "gauge=fine dial",
		"values=1.02 1.024 1.022 1.02 1.02 1.024 1.022 1.02 1.02 1.2 mm")
	world.as("wren", "gauge repeat", "gauge=fine dial",
		"values=1.02 1.024 1.022 1.02 1.02 1.024 1.022 1.02 1.02 1.022 mm")
	world.press("wren", "Use this repeatability")
	world.as("wren", "gauge set", "name=rough dial", "resolution=0.002 mm", "error=0.004 mm")
	world.as("wren", "gauge repeat", "gauge=rough dial", "values=1.02 1.01 1.03 1.02 1.02 1.04 1.00 1.02 1.02 1.02 mm")
	world.press("wren", "Use this repeatability")
	world.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.130 mm, right 1.02 mm",
		"gauge=rough dial")
	world.as("wren", "gauge repeat", "gauge=fine dial", "values=1.02 1.01 1.03 1.02 1.02 1.04 1.00 1.02 1.02 1.02 mm")
	world.press("wren", "Use this repeatability")
	world.as("wren", "gauge set", "name=short micrometer", "resolution=0.1 mm", "error=0.1 mm")
	world.as("wren", "gauge set", "name=long dial", "resolution=0.1 mm", "error=0.1 mm")
	world.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.130 mm, right 1.02 mm",
		"gauge=fine dial")
	world.as("wren", "gauge repeat", "gauge=fine dial",
		"values=1.02 1.024 1.022 1.02 1.02 1.024 1.022 1.02 1.02 1.022 mm")
	world.press("wren", "Use this repeatability")
	world.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.1383 mm, right 1.02 mm",
		"gauge=fine dial")
	world.press("ada", "Why?")
	world.as("ada", "reading", "machine=Marble", "check=knives", "values=1.59 1.64 1.59 1.59 1.59 1.59 1.59 1.59 mm",
		"gauge=fine dial")
	world.press("ada", "Why?")
	world.golden("gauges")
}

// A study over days, by three people; its repeatability becomes the gauge's own.
func TestStoryStudy(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("wren", "gauge study", "gauge=long dial", "machine=Marble", "check=infeed roller")
	world.must(world.as("wren", "gauge set", "name=long dial", "resolution=0.01 mm", "error=0.01 mm"))
	world.must(world.as("wren", "gauge set", "name=hand pump", "kind=manometer"))
	world.as("wren", "gauge study", "gauge=zither", "machine=Marble", "check=infeed roller")
	world.as("wren", "gauge study", "gauge=long dial", "machine=Marble", "check=fingers")
	world.as("wren", "gauge study", "gauge=hand pump", "machine=Marble", "check=infeed")
	world.as("wren", "gauge study", "gauge=long dial", "machine=Marble", "check=infeed roller", "parts=1")
	world.as("wren", "gauge study", "gauge=long dial", "machine=Marble", "check=infeed roller", "parts=3", "trials=2")
	no := fmt.Sprint(world.reported())
	measure := func(who, part, values string) {
		world.as(who, "gauge measure", "study="+no, "part="+part, "values="+values)
	}
	measure("ada", "4", "1 mm")
	measure("ada", "1", "lots")
	measure("ada", "1", "1.00 1.01 1.00 mm")
	world.as("ada", "gauge measure", "study=first", "part=1", "values=1")
	world.as("ada", "gauge measure", "study=1", "part=1", "values=1")
	world.as("ada", "gauge result", "study="+no)
	measured := domain.FactNo(0)
	for _, test := range []struct {
		who    string
		offset float64
	}{{"ada", 0}, {"bo", 0.004}, {"chidi", -0.002}} {
		for part, base := range []float64{0.98, 1.02, 1.10} {
			measure(test.who, fmt.Sprint(part+1), fmt.Sprintf("%.3f", base+test.offset))
			if test.who == "chidi" && part == 2 {
				break
			}
			measure(test.who, fmt.Sprint(part+1), fmt.Sprintf("%.3f mm", base+test.offset+0.003*float64(part%2+1)))
			if measured == 0 {
				measured = world.reported()
			}
		}
		world.sweep(24 * time.Hour)
		world.as("ada", "gauge result", "study="+no)
	}
	measure("chidi", "3", "1.101")
	world.as("ada", "undo")
	world.as("ada", "undo", "report="+no)
	world.as("wren", "gauge result", "study="+no)
	world.press("wren", "Use this repeatability")
	world.as("ada", "why", "report="+no)
	world.as("ada", "why", report(measured))
	world.as("wren", "gauge study", "gauge=long dial", "machine=Marble", "check=knife width", "parts=2", "trials=2")
	second := strings.Fields(strings.TrimPrefix(world.last.Headline, "Study no. "))[0]
	for part, values := range []string{"25.4 25.41 mm", "25.2 25.22 mm"} {
		world.as("bo", "gauge measure", "study="+second, fmt.Sprintf("part=%d", part+1), "values="+values)
	}
	world.as("wren", "gauge result", "study="+second)
	world.as("wren", "gauge study", "gauge=long dial", "machine=Marble", "check=pressure bar", "parts=2", "trials=2")
	third := strings.Fields(strings.TrimPrefix(world.last.Headline, "Study no. "))[0]
	for part, values := range []string{"0.20 0.25 mm", "0.22 0.18 mm"} {
		world.as("bo", "gauge measure", "study="+third, fmt.Sprintf("part=%d", part+1), "values="+values,
			"when=1 h ago")
	}
	world.as("wren", "gauge result", "study="+third)
	world.golden("study")
}
