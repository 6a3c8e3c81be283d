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
	w := newWorld(t)
	w.marble()
	w.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.02 mm, right 1.02 mm")
	w.as("ada", "reading", "machine=marble", "check=infeed", "values=46 41 thou")
	w.press("ada", "Why?")
	w.as("ada", "reading", "machine=marble", "check=infeed", "values=46 41 thou")
	w.press("ada", "I turned it")
	w.notices()
	w.as("ada", "reading", "machine=marble", "check=infeed", "values=46 41 thou")
	w.as("ada", "machine", "machine=marble")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=1.02 1.03")
	w.press("bo", "left 1.02 mm, right 1.03 mm")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller")
	w.fill("bo", "left=0.86", "right=34 thou")
	w.as("bo", "reading", "machine=Marble", "check=knife projection")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 0.52 mm, right 1.02 mm")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.02 mm, right 1.02 mm",
		"when=yesterday 17:30")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.14 mm, right 1.02 mm",
		"gauge=feelers")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.7 mm, right 1.02 mm")
	w.notices()
	w.as("bo", "machine", "machine=Marble")
	w.golden("readings")
}

func TestStoryHours(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.sweep(2 * time.Hour)
	w.as("ada", "hours", "machine=Marble", "hours=7")
	w.as("bo", "hours", "machine=Marble", "hours=1h30", "sure=yes")
	w.notices()
	w.as("bo", "due")
	w.as("wren", "why", "machine=Marble", "service=bushings")
	w.as("wren", "service", "machine=Marble", "service=bushings", "note=two drops each")
	w.notices()
	w.as("bo", "due", "machine=Marble")
	w.as("ada", "hours", "machine=Marble")
	w.press("ada", "30 min")
	w.as("ada", "hours", "machine=Marble", "hours=1", "counter=2")
	w.as("ada", "hours", "machine=Marble", "counter=-1")
	w.as("ada", "hours", "machine=Marble", "counter=many")
	w.as("ada", "hours", "machine=Marble", "counter=143.2")
	w.as("ada", "hours", "machine=Marble", "hours=1", "sure=yes")
	w.as("wren", "hours", "machine=Marble", "counter=145.7")
	w.as("wren", "hours", "machine=Marble", "counter=12")
	w.press("wren", "It is a new counter")
	w.as("wren", "machine", "machine=Marble")
	w.as("wren", "undo")
	w.as("wren", "undo")
	w.as("wren", "due")
	w.golden("hours")
}

// Belts are tensioned again once after each change, the gearbox oil is changed
// first by hours and then by the year.
func TestStoryBelts(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.must(w.as("wren", "service", "machine=Marble", "service=belts-again"))
	w.must(w.as("wren", "reading", "machine=Marble", "check=belts", "values=6 6 mm"))
	w.as("wren", "why", "machine=Marble", "service=belts-again")
	w.as("wren", "event", "machine=Marble", "event=belts changed", "when=2 s ago")
	w.as("wren", "why", "machine=Marble", "service=belts-again")
	w.as("wren", "why", "machine=Marble", "service=gearbox-oil")
	w.as("wren", "why", "machine=Marble", "service=columns")
	w.as("wren", "event", "machine=Marble", "event=belts chnged")
	w.as("wren", "event", "machine=Marble", "event=zither")
	for range 4 {
		w.must(w.as("ada", "hours", "machine=Marble", "hours=5", "sure=yes"))
	}
	w.as("wren", "service", "machine=Marble", "service=gearbox-oil")
	w.as("wren", "why", "machine=Marble", "service=gearbox-oil")
	w.as("wren", "service", "machine=Marble", "service=belts-again")
	w.as("wren", "due")
	w.must(w.as("wren", "reading", "machine=Marble", "check=belts", "values=6 6 mm"))
	w.as("wren", "event", "machine=Marble", "event=bed roller replaced")
	w.must(w.as("wren", "reading", "machine=Marble", "check=bed rollers", "values=0.08 0.08 0.08 0.08 mm"))
	w.must(w.as("wren", "tagout", "machine=Marble", "reason=bed roller replaced"))
	w.as("wren", "release", "machine=Marble")
	w.intoTest("wren")
	running := w.last
	w.press("wren", "It runs well")
	w.as("wren", "reading", "machine=Marble", "check=test board", "values=left 20.02, right 20.05 mm")
	w.pressOn(running, "wren", "It runs well")
	w.notices()
	w.golden("belts")
}

func TestStoryHow(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	for _, what := range []string{"bushings", "knives changed or reset", "wax", "infeed", "bed rollers", "test-board",
		"fingers", "guards", "bushngs", "zither"} {
		w.as("ada", "how", "machine=Marble", "what="+what)
	}
	w.golden("how")
}

func TestStoryLogbook(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.must(w.as("ada", "hours", "machine=Marble", "hours=1", "for=chidi"))
	w.must(w.as("ada", "service", "machine=Marble", "service=bushings", "note=two drops *each*"))
	w.must(w.as("bo", "problem", "machine=Marble", "what=smoke"))
	w.must(w.as("bo", "undo"))
	w.out.Reset()
	w.sweep(2 * time.Hour)
	w.as("ada", "hours", "machine=Marble", "hours=20 min", "when=90 min ago")
	w.as("ada", "service", "machine=Marble", "service=columns", "when=1 h ago", "for=chidi")
	w.as("ada", "tagout", "machine=Marble", "reason=belt off", "when=30 min ago", "for=bo")
	w.as("ada", "logbook", "machine=Marble")
	w.press("bo", "Older")
	w.press("bo", "Older")
	w.press("bo", "Newest")
	w.send("ada", "press something broken", "s1:log:x.1", nil)
	w.send("ada", "press something broken", "s1:log:1.x", nil)
	w.golden("logbook")
}

// A second person confirms the clamping where the shop wants it; a rough and a
// planed setting have values of their own.
func TestStorySetUp(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.must(w.as("owner", "shop settings", "name=Quarry Street Commons", "zone=CET", "units=metric",
		"notices=shop-notices", "stewards=stewards"))
	w.as("wren", "shop add", "name=Granite", "kind=thickness-planer", "state=new",
		"with=knives=4, screws=M8, belt-span=350 mm, belts=3")
	w.as("wren", "shop add", "name=Gneiss", "kind=thickness-planer", "state=new", "with=screws=fat")
	w.as("wren", "shop confirm", "machine=Granite")
	w.press("wren", "Confirm table")
	stale := w.last
	w.as("wren", "shop confirm", "machine=Granite", "what=pressure bar, sprung bar", "target=0.2 mm",
		"adjust=0.1 to 0.3 mm", "stop=-0.2 to 1 mm")
	w.pressOn(stale, "wren", "Confirm knife width")
	w.as("wren", "shop confirm", "machine=Granite", "what=test board", "target=0.2 mm")
	w.as("wren", "shop second", "machine=Granite", "check=infeed", "wanted=yes")
	w.as("wren", "shop second", "machine=Granite", "check=clamping", "wanted=yes")
	w.as("ada", "reading", "machine=Granite", "check=clamping", "values=pass")
	w.as("ada", "reading", "machine=Granite", "check=clamping", "values=pass")
	w.as("wren", "machine", "machine=Granite")
	w.as("wren", "tagout", "machine=Granite", "reason=new, being set up", "paper=3")
	w.as("wren", "release", "machine=Granite")
	w.as("bo", "reading", "machine=Granite", "check=clamping", "values=pass")
	w.as("bo", "reading", "machine=Granite", "check=pressure bar", "values=left 0.2 mm, right 0.35 mm", "mode=sprung")
	w.as("bo", "reading", "machine=Granite", "check=pressure bar", "values=left 0.2 mm, right 0.2 mm")
	w.as("bo", "why", "machine=Granite", "check=pressure bar")
	w.as("bo", "reading", "machine=Granite", "check=pressure bar", "values=left 0.2 mm, right 0.2 mm", "mode=sprnug")
	w.as("bo", "reading", "machine=Granite", "check=pressure bar", "values=left 0.2 mm, right 0.2 mm", "mode=zither")
	w.as("bo", "reading", "machine=Granite", "check=infeed", "values=left 1 mm, right 1 mm", "mode=sprung")
	w.as("bo", "reading", "machine=Granite", "check=bed rollers", "values=0.45 0.46 0.45 0.46 mm", "mode=high")
	w.as("bo", "reading", "machine=Granite", "check=test board", "values=left 20.02 mm, right 20.31 mm")
	w.as("bo", "why", "machine=Granite", "check=test board")
	w.as("bo", "reading", "machine=Granite", "check=depth scale", "values=scale 20 mm, caliper 20.1 mm")
	w.must(w.as("wren", "shop second", "machine=Granite", "check=clamping", "wanted=no", "why=a small shop"))
	w.must(w.as("ishaan", "shop loosen", "machine=Granite", "note=seen"))
	w.as("wren", "shop second", "machine=Granite", "check=clamping", "wanted=no")
	w.as("wren", "machine", "machine=Granite")
	w.golden("set-up")
}

func TestStoryShop(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.as("ada", "due")
	w.as("ada", "shop add", "name=Basalt", "kind=thickness-planer")
	w.as("ada", "shop settings")
	w.as("owner", "shop settings")
	w.as("owner", "shop settings", "zone=Mars")
	w.as("owner", "shop settings", "digest=9 o'clock")
	w.as("owner", "shop settings", "units=cubits")
	w.as("owner", "shop settings", "days=someday")
	w.as("owner", "shop settings", "days=sat, mon Wednesday")
	w.as("owner", "shop settings", "days=all")
	w.as("owner", "shop settings", "name=Tin Lane", "zone=CET", "units=inch", "notices=notices", "stewards=stewards",
		"digest=08:30")
	w.as("ada", "shop add", "name=Basalt", "kind=thickness-planer")
	w.as("wren", "shop add", "name=Basalt", "kind=thicknes-planer")
	w.press("wren", "Use thickness planer")
	w.press("wren", "New, moved or unknown")
	w.as("wren", "shop add", "name=basalt", "kind=thickness-planer", "state=new")
	w.as("wren", "shop add", "name=Slate", "kind=loom")
	w.as("wren", "shop add", "name=Slate", "kind=thickness-planer", "with=knives=9")
	w.as("wren", "shop add", "name=Slate", "kind=thickness-planer", "state=in-use", "units=metric")
	w.as("wren", "shop add", "name=\u202e\u200b", "kind=thickness-planer")
	w.as("wren", "machine", "machine=Basalt")
	w.as("wren", "due", "machine=Basalt")
	w.as("wren", "shop confirm", "machine=Basalt", "what=infed roller")
	w.press("wren", "Use infeed roller")
	w.as("wren", "shop confirm", "machine=Basalt", "what=xyzzy")
	w.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller left set screw", "target=1 mm")
	w.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller left set screw")
	w.as("wren", "shop confirm", "machine=Basalt", "what=bushings")
	w.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=0.040 in", "adjust=40 thou")
	w.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=0.040 in", "adjust=44 to 36 thou")
	w.as("wren", "shop confirm", "machine=Basalt", "what=outfeed roller", "target=0.020 in", "adjust=± 0.004 in",
		"stop=+0.020/-0.015 in")
	w.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=0.040 in", "adjust=42 to 44 thou")
	w.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=40 furlongs")
	w.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=1,234 mm")
	w.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=40", "adjust=37 to 43 thou",
		"stop=20 to 60 thou")
	w.as("wren", "gauge set", "name=short dial", "resolution=0.0005 in", "uncertainty=0", "k=2")
	w.as("wren", "gauge set", "name=short dial", "resolution=0.0005 in", "uncertainty=0.0007 in", "k=20")
	w.as("wren", "gauge set", "name=short dial", "resolution=0.0005 in", "uncertainty=2 tenths", "k=2")
	w.as("wren", "gauge set", "name=short dial", "resolution=0.0005 in", "uncertainty=0.0007 in", "k=2")
	w.as("ada", "reading", "machine=Basalt", "check=infeed", "values=40 41 thou", "gauge=short dail")
	w.press("ada", "Use short dial")
	w.as("ada", "why", "machine=Basalt", "check=infeed")
	w.as("ada", "reading", "machine=Basalt", "check=infeed", "values=40 41 thou", "gauge=yardstick")
	w.as("ada", "reading", "machine=Basalt", "check=outfeed", "values=left 30 thou, right 24 thou")
	w.as("ada", "why", "machine=Basalt", "check=outfeed")
	w.as("ada", "shop retire", "machine=Slate")
	w.as("wren", "shop retire", "machine=Slate")
	w.press("wren", "Retire Slate")
	w.as("ada", "hours", "machine=Slate", "hours=1")
	w.notices()
	w.golden("shop")
}

func TestStoryBadInput(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "sermon")
	w.as("ada", "hours", "machine=Marble")
	w.as("ada", "hours", "machine=Marble", "hours=1", "colour=red")
	w.as("ada", "problem", "machine=Marble", "what=snipe", "note="+strings.Repeat("long ", 100))
	w.as("ada", "hours", "machine=Marbel", "hours=1")
	w.press("bo", "Use Marble")
	w.as("ada", "hours", "machine=Marbel", "hours=1")
	w.press("ada", "Use Marble")
	another := w.reported()
	w.as("ada", "hours", "machine=Xylophone", "hours=1")
	for _, h := range []string{"30", "-2", "0", "lots", "1 mm", "1/0", "2 h 2 h", "0.1 s", "1,234"} {
		w.as("ada", "hours", "machine=Marble", "hours="+h)
	}
	w.as("ada", "hours", "machine=Marble", "hours=30")
	w.press("ada", "I meant 30 min")
	w.as("ada", "hours", "machine=Marble", "hours=1", "when=soon")
	w.as("ada", "hours", "machine=Marble", "hours=1", "when=23:59")
	w.as("ada", "hours", "machine=Marble", "hours=1", "when=2026-01-01 10:00")
	w.as("ada", "reading", "machine=Marble", "check=infed roller", "values=1 mm")
	w.as("ada", "reading", "machine=Marble", "check=zither", "values=1 mm")
	for _, v := range []string{"left 1 kg, right 1 mm", "left 1 mm", "1 2 3 mm", "up 1 mm, right 1 mm",
		"left 1 mm, left 2 mm", "left 1 h, right 1 h",
		"left 1 mm, right", " , ", strings.Repeat("µ", 300), strings.Repeat("1", 401), "left 1,234 mm, right 1 mm",
		"left 40 mil, right 40 mil", "left 4 tenths, right 4 tenths", "1.02 1.03"} {
		w.as("ada", "reading", "machine=Marble", "check=infeed roller", "values="+v)
	}
	w.as("ada", "reading", "machine=Marble", "check=infeed roller")
	w.fill("ada", "left=1.02", "right= ")
	w.as("ada", "reading", "machine=Marble", "check=fingers")
	w.as("ada", "reading", "machine=Marble", "check=fingers", "values=perhaps")
	w.as("ada", "service", "machine=Marble", "service=bushngs")
	w.as("ada", "service", "machine=Marble", "service=zither")
	w.as("ada", "why")
	w.as("ada", "why", "report=two")
	w.as("ada", "why", "report=999")
	w.as("ada", "why", "machine=Marble", "service=belts-again")
	w.as("ada", "undo", "report=0")
	w.as("chidi", "undo")
	w.as("chidi", "undo", report(another))
	w.as("wren", "undo", "report=1")
	w.as("wren", "release", "machine=Marble")
	w.as("ada", "help", "command=redaing")
	w.as("ada", "help", "command=xyzzy")
	w.send("ada", "press something old", "s0:again:1", nil)
	w.send("ada", "press something unknown", "s1:again:nothing", nil)
	w.send("ada", "press something foreign", "s1:sermon:1", nil)
	w.golden("bad-input")
}

func TestStoryUnlikely(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.02 in, right 1.04 in")
	w.press("ada", "I meant")
	w.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 12 mm, right 11 mm")
	doubted := w.reported()
	believe := w.last
	w.press("bo", "It is right")
	w.pressOn(believe, "ada", "It is right")
	believed := w.reported()
	confirmed := w.now
	w.pressOn(believe, "ada", "It is right")
	w.pressOn(believe, "ada", "Withdraw")
	w.as("ada", "why", report(doubted))
	w.as("ada", "why", report(believed))
	w.as("ada", "undo", report(doubted))
	w.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 13 mm, right 11 mm")
	w.press("ada", "Withdraw")
	w.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 14 mm, right 11 mm")
	w.as("wren", "release", "machine=Marble")
	if !confirmed.Before(w.now) {
		t.Error("no time has passed")
	}
	w.notices()
	w.golden("unlikely")
}

func TestStoryTags(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "tagout", "machine=Marble", "reason=belt squeals @everyone\n**now** \u202egnp", "paper=17")
	w.as("bo", "tagout", "machine=Marble", "reason=and it smells")
	smells := w.reported()
	w.as("bo", "hours", "machine=Marble", "hours=20 min")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.70 mm, right 1.02 mm")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.72 mm, right 1.02 mm")
	w.notices()
	w.as("bo", "machine", "machine=Marble")
	w.as("bo", "why", "machine=Marble")
	w.as("bo", "release", "machine=Marble")
	w.as("wren", "release", "machine=Marble")
	w.as("bo", "undo", report(smells))
	w.as("wren", "reading", "machine=Marble", "check=infeed roller", "values=left 1.02 mm, right 1.02 mm")
	w.as("wren", "release", "machine=Marble")
	asked := w.last
	w.as("chidi", "tagout", "machine=Marble", "reason=guard is off")
	w.pressOn(asked, "bo", "Seen to, owner asked")
	w.pressOn(asked, "wren", "Seen to, owner asked")
	w.as("wren", "release", "machine=Marble")
	w.press("wren", "Seen to, owner asked")
	first := w.last
	w.press("wren", "Seen to, owner could not")
	w.intoTest("wren")
	w.pressOn(first, "wren", "Seen to, owner asked")
	w.as("wren", "release", "machine=Marble")
	w.press("bo", "It runs well")
	w.as("bo", "machine", "machine=Marble")
	w.as("wren", "hours", "machine=Marble", "hours=5 min")
	w.as("wren", "release", "machine=Marble")
	w.press("wren", "Stop the test")
	w.as("wren", "release", "machine=Marble")
	w.intoTest("wren")
	w.press("wren", "It runs well")
	released := w.reported()
	w.pressOn(asked, "wren", "Seen to, owner asked")
	w.notices()
	w.as("wren", "tagout", "machine=Marble", "reason=my own")
	w.as("wren", "release", "machine=Marble")
	w.intoTest("wren")
	running := w.last
	w.as("bo", "tagout", "machine=Marble", "reason=it rattles")
	w.pressOn(running, "wren", "It runs well")
	w.as("wren", "release", "machine=Marble")
	w.intoTest("wren")
	w.press("wren", "It runs well")
	w.as("wren", "undo")
	w.as("wren", "why", report(released))
	w.as("wren", "undo", report(released))
	w.notices()
	w.golden("tags")
}

func TestStoryProblems(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "problem", "machine=Marble", "what=snipe")
	snipe := w.reported()
	w.press("ada", "Tag out Marble")
	w.as("ada", "problem", "machine=Marble", "what=it hums a tune", "note=quietly")
	w.as("bo", "problem", "machine=Marble", "what=there is SMOKE coming out, and it vibrates")
	w.as("bo", "problem", "machine=Marble", "what=hurt")
	w.as("bo", "why", report(snipe))
	w.as("wren", "release", "machine=Marble")
	w.as("wren", "release", "machine=Marble", "note=belt replaced, knives checked, ada was treated")
	w.putRight("wren")
	w.as("wren", "release", "machine=Marble", "note=belt replaced, knives checked, ada was treated")
	w.intoTest("wren")
	w.putRight("wren")
	w.as("wren", "release", "machine=Marble")
	w.press("wren", "It runs well")
	w.notices()
	w.as("bo", "problem", "machine=Marble", "what=hit a nail")
	w.as("bo", "undo")
	w.notices()
	w.as("chidi", "problem", "machine=Marble", "what=snipe", "note=both ends",
		`photo={"id":"77","name":"board.png","url":"https://cdn.discordapp.com/attachments/1/77/board.png"}`)
	w.as("bo", "problem", "machine=Marble", "what=snipe", "photo=sketch")
	w.as("ada", "mended", "machine=Marble", "problem=snipe")
	w.as("wren", "machine", "machine=Marble")
	w.as("wren", "mended", "machine=Marble", "problem=snpie")
	w.press("wren", "Use snipe")
	w.as("wren", "mended", "machine=Marble", "problem=zither")
	w.as("wren", "mended", "machine=Marble", "problem=snipe", "note=bed rollers lowered")
	w.as("wren", "mended", "machine=Marble", "problem=snipe")
	w.as("wren", "mended", "machine=Marble", "problem=it hums a tune")
	w.as("wren", "mended", "machine=Marble", "problem=snipe")
	w.notices()
	w.as("bo", "problem", "machine=Marble", "what=snipe")
	w.sweep(24 * time.Hour)
	w.as("bo", "problem", "machine=Marble", "what=snipe")
	w.notices()
	w.sweep(24 * time.Hour)
	w.notices()
	w.golden("problems")
}

// Danger in plain words stops the machine; what may be dangerous is asked about, and
// the stewards are called where nobody answers.
func TestStoryDanger(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "problem", "machine=Marble", "what=slight wobble on the cutter head i think")
	w.notices()
	w.as("bo", "hours", "machine=Marble", "hours=1")
	w.sweep(time.Minute)
	w.notices()
	w.sweep(time.Minute)
	w.notices()
	w.sweep(time.Hour)
	w.notices()
	w.press("ada", "It is not dangerous")
	w.notices()
	w.as("ada", "problem", "machine=Marble", "what=the guard feels a bit loose", "note=since the move")
	w.press("ada", "Stop it")
	w.notices()
	w.as("bo", "problem", "machine=Marble", "what=its on fire!!!")
	w.as("bo", "problem", "machine=Marble", "what=the bench rocks", "danger=yes")
	w.as("bo", "problem", "machine=Marble", "what=snipe", "note=and the emergency stop is jammed")
	w.as("wren", "release", "machine=Marble", "note=looked at")
	w.as("wren", "machine", "machine=Marble")
	w.as("bo", "problem", "machine=Marble", "what=almost lost a finger")
	w.as("bo", "problem", "machine=Marble", "what=fire", "danger=no")
	w.notices()
	w.golden("danger")
}

func TestStoryInspection(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "reading", "machine=Marble", "check=fingers", "values=fail: one sticks")
	sticks := w.reported()
	w.as("ada", "reading", "machine=Marble", "check=fingers")
	w.press("ada", "It fails")
	w.as("ada", "machine", "machine=Marble")
	w.as("wren", "release", "machine=Marble")
	w.as("wren", "reading", "machine=Marble", "check=fingers", "values=pass", "when=1 s ago")
	w.as("wren", "why", report(sticks))
	w.as("wren", "why", "machine=Marble", "check=fingers")
	w.as("wren", "reading", "machine=Marble", "check=fingers", "values=fail", "when=5 s ago")
	w.as("wren", "release", "machine=Marble")
	w.intoTest("wren")
	w.press("wren", "It runs well")
	w.sweep(7 * 24 * time.Hour)
	w.notices()
	w.as("ada", "due")
	w.as("ada", "machine", "machine=Marble")
	w.sweep(4 * 24 * time.Hour)
	w.notices()
	w.as("ada", "due")
	w.as("wren", "release", "machine=Marble")
	w.as("wren", "reading", "machine=Marble", "check=fingers", "values=pass")
	w.as("wren", "reading", "machine=Marble", "check=guards", "values=pass")
	w.as("wren", "release", "machine=Marble")
	w.intoTest("wren")
	w.press("wren", "It runs well")
	w.notices()
	w.as("ada", "machine", "machine=Marble")
	w.as("ada", "reading", "machine=Marble", "check=fingers", "values=fail")
	w.golden("inspection")
}

func TestStoryKnives(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	all := func(values string) { w.as("wren", "reading", "machine=Marble", "check=knives", "values="+values) }
	w.as("wren", "event", "machine=Marble", "event=new knives", "note=a sharpened set")
	w.as("wren", "due")
	w.as("wren", "machine", "machine=Marble")
	w.as("wren", "why", "machine=Marble", "check=infeed")
	w.as("wren", "why", "machine=Marble", "check=knives")
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=1.02 1.02 mm", "when=12 s ago")
	all("1.62 1.60 1.61 1.60 1.62 1.60 1.61 1.60 mm")
	w.as("wren", "machine", "machine=Marble")
	w.as("ada", "why", "machine=Marble", "check=infeed")
	w.as("ada", "reading", "machine=Marble", "check=clamping", "values=pass", "when=20 s ago")
	all("1.40 1.59 1.59 1.59 1.59 1.59 1.59 1.59 mm")
	all("1.50 1.60 1.55 1.55 1.55 1.55 1.55 1.55 mm")
	w.as("ada", "why", "machine=Marble", "check=knives")
	all("1.59 1.59 1.59 1.59 1.59 1.59 1.59 1.85 mm")
	all("1.40 1.40 1.40 1.40 1.40 1.40 1.40 1.40 mm")
	all("1.60 1.59 1.59 1.59 1.59 1.59 1.59 1.84 mm")
	all("2.08 2.08 2.08 2.08 2.08 2.08 2.08 2.08 mm")
	all("1.59 1.59 1.59 1.59 1.59 1.59 1.59 1.95 mm")
	all("2.10 2.10 2.10 2.10 2.10 2.10 2.10 2.10 mm")
	w.as("wren", "release", "machine=Marble")
	all("2.08 2.08 2.08 2.08 2.08 2.08 2.08 2.08 mm")
	w.as("wren", "release", "machine=Marble")
	all("k1l 1.59 1.60 1.58 k1r 1.59 k2l 1.59 k2r 1.59 k3l 1.59 k3r 1.59 k4l 1.59 k4r 1.59 mm")
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 1.02 1.03 1.02, right 1.016")
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 1.3 mm, right 1.016 mm")
	plan := w.last
	w.press("ada", "I turned it")
	w.pressOn(plan, "wren", "I turned it")
	w.as("ada", "undo")
	w.as("wren", "service", "machine=Marble", "service=bushings", "when=3 s ago")
	w.as("wren", "service", "machine=Marble", "service=bushings", "when=9 s ago")
	w.as("wren", "why", "machine=Marble", "service=bushings")
	w.as("wren", "undo")
	w.notices()
	w.golden("knives")
}

func TestStoryUnlikeKnives(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "reading", "machine=Marble", "check=knives", "values=1.59 1.59 1.59 1.59 1.59 1.59 1.59 1.95 mm")
	w.as("ada", "undo")
	w.as("wren", "release", "machine=Marble")
	w.intoTest("wren")
	w.press("wren", "It runs well")
	w.as("ada", "reading", "machine=Marble", "check=knives", "values=2.10 2.10 2.10 2.10 2.10 2.10 2.10 2.10 mm")
	w.golden("unlike-knives")
}

// A day's digest says what stands, the gravest first; a day with nothing to say
// has none.
func TestStoryDigest(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.sweep(24 * time.Hour)
	w.notices()
	w.must(w.as("ada", "hours", "machine=Marble", "hours=9"))
	w.must(w.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 1.2 mm, right 1.016 mm"))
	w.notices()
	w.out.Reset()
	w.sweep(24 * time.Hour)
	w.sweep(time.Minute)
	w.notices()
	w.must(w.as("bo", "hours", "machine=Marble", "hours=4", "sure=yes"))
	w.must(w.as("ada", "reading", "machine=Marble", "check=outfeed", "values=left 21 mm, right 1.016 mm"))
	w.must(w.as("ada", "event", "machine=Marble", "event=knives-changed"))
	w.notices()
	w.sweep(24 * time.Hour)
	w.notices()
	w.sweep(3 * 24 * time.Hour)
	w.notices()
	w.sweep(5 * 24 * time.Hour)
	w.notices()
	w.golden("digest")
}

func TestStoryHelp(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "help")
	w.as("wren", "help")
	for _, c := range w.desk.Declarations() {
		w.as("ada", "help", "command="+c.Name)
	}
	w.golden("help")
}

// Every kind of report is named by its number.
func TestStoryFacts(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("wren", "gauge set", "name=long dial", "resolution=0.01 mm", "uncertainty=0.02 mm")
	w.as("ada", "hours", "machine=Marble", "hours=1")
	counter := w.reported()
	w.as("ada", "hours", "machine=Marble", "counter=143.2")
	w.as("ada", "event", "machine=Marble", "event=belts-changed")
	w.as("ada", "problem", "machine=Marble", "what=snipe")
	w.as("wren", "mended", "machine=Marble", "problem=snipe")
	w.as("wren", "reading", "machine=Marble", "check=belts", "values=6.2 6.2 mm")
	w.as("ada", "service", "machine=Marble", "service=bushings")
	w.as("ada", "tagout", "machine=Marble", "reason=x")
	w.as("wren", "release", "machine=Marble")
	w.intoTest("wren")
	w.press("wren", "Stop the test")
	w.as("wren", "release", "machine=Marble")
	w.intoTest("wren")
	w.press("wren", "It runs well")
	w.as("wren", "undo", report(counter))
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 1.3 mm, right 1.016 mm")
	w.press("ada", "I turned it")
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 13 mm, right 11 mm")
	w.press("ada", "It is right")
	w.as("wren", "shop retire", "machine=Marble")
	retire := w.last
	w.press("wren", "Retire Marble")
	w.pressOn(retire, "wren", "Retire Marble")
	w.out.Reset()
	last := w.reported()
	for no := domain.FactNo(1); no <= last+6; no++ { // the last six are none
		w.as("ada", "why", report(no))
	}
	w.golden("facts")
}

// The same reading is proved with a dial and too close to call with feeler
// gauges; repeats are averaged, and one that stands apart is named.
func TestStoryGauges(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "gauge list")
	w.as("wren", "gauge set", "name=short micrometer")
	w.as("wren", "gauge set", "name=short micrometer", "kind=micrometr")
	w.press("wren", "Use micrometer")
	w.press("wren", "Confirm its values")
	w.as("wren", "gauge set", "name=short micrometer", "kind=loom")
	w.as("wren", "gauge set", "name=bathroom scale", "kind=manometer")
	w.as("wren", "gauge set", "name=fine dial", "kind=dial", "calibrated=soon")
	w.as("wren", "gauge set", "name=fine dial", "resolution=0.002 mm", "error=0.004 mm", "uncertainty=0.002 mm")
	w.as("wren", "gauge set", "name=fine dial", "resolution=0.002 mm", "error=0.004 mm", "interval=40 years")
	w.as("wren", "gauge set", "name=fine dial", "resolution=0.002 mm", "error=0.004 mm", "interval=often")
	w.as("wren", "gauge set", "name=fine dial", "resolution=1,234 mm", "error=0.004 mm")
	w.as("wren", "gauge set", "name=fine dial", "resolution=0.002 mm", "error=0.004 mm", "calibrated=2024-01-10",
		"interval=1 year")
	w.as("wren", "gauge set", "name=long dial", "resolution=0.01 mm", "uncertainty=0.03 mm", "k=2")
	w.as("ada", "gauge list")
	w.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.09 mm, right 1.02 mm")
	w.press("ada", "Why?")
	w.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.09 mm, right 1.02 mm",
		"gauge=feelers")
	w.press("ada", "Why?")
	w.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.137 mm, right 1.02 mm",
		"gauge=fine dial")
	w.as("ada", "reading", "machine=Marble", "check=infeed roller",
		"values=left 1.13 1.12 1.13 mm, right 1.02 1.02 1.03 mm", "gauge=long dial")
	w.press("ada", "Why?")
	w.as("ada", "reading", "machine=Marble", "check=infeed roller",
		"values=left 1.02 1.02 1.03 1.02 1.03 1.19 mm, right 1.02 mm", "gauge=fine dial")
	w.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.143 mm, right 1.02 mm",
		"gauge=fine dial")
	w.as("ada", "reading", "machine=Marble", "check=knives", "values=1.59 1.61 1.59 1.59 1.59 1.59 1.59 1.59 mm",
		"gauge=long dial")
	w.press("ada", "Why?")
	w.as("ada", "gauge repeat", "gauge=fine dial", "values=1 1 1 mm")
	w.as("wren", "gauge repeat", "gauge=fin dial", "values=1 1 1 mm")
	w.press("wren", "Use fine dial")
	w.as("wren", "gauge repeat", "gauge=fine dial", "values=1 1 1 1 1 1 1 1 1 1 mm")
	w.as("wren", "gauge repeat", "gauge=fine dial", "values=1.02 1.024 1.022 1.02 1.02 1.024 1.022 1.02 1.02 1.2 mm")
	w.as("wren", "gauge repeat", "gauge=fine dial", "values=1.02 1.024 1.022 1.02 1.02 1.024 1.022 1.02 1.02 1.022 mm")
	w.press("wren", "Use this repeatability")
	w.as("wren", "gauge set", "name=rough dial", "resolution=0.002 mm", "error=0.004 mm")
	w.as("wren", "gauge repeat", "gauge=rough dial", "values=1.02 1.01 1.03 1.02 1.02 1.04 1.00 1.02 1.02 1.02 mm")
	w.press("wren", "Use this repeatability")
	w.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.130 mm, right 1.02 mm",
		"gauge=rough dial")
	w.as("wren", "gauge repeat", "gauge=fine dial", "values=1.02 1.01 1.03 1.02 1.02 1.04 1.00 1.02 1.02 1.02 mm")
	w.press("wren", "Use this repeatability")
	w.as("wren", "gauge set", "name=short micrometer", "resolution=0.1 mm", "error=0.1 mm")
	w.as("wren", "gauge set", "name=long dial", "resolution=0.1 mm", "error=0.1 mm")
	w.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.130 mm, right 1.02 mm",
		"gauge=fine dial")
	w.as("wren", "gauge repeat", "gauge=fine dial", "values=1.02 1.024 1.022 1.02 1.02 1.024 1.022 1.02 1.02 1.022 mm")
	w.press("wren", "Use this repeatability")
	w.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.1383 mm, right 1.02 mm",
		"gauge=fine dial")
	w.press("ada", "Why?")
	w.as("ada", "reading", "machine=Marble", "check=knives", "values=1.59 1.64 1.59 1.59 1.59 1.59 1.59 1.59 mm",
		"gauge=fine dial")
	w.press("ada", "Why?")
	w.golden("gauges")
}

// A study over days, by three people; its repeatability becomes the gauge's own.
func TestStoryStudy(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("wren", "gauge study", "gauge=long dial", "machine=Marble", "check=infeed roller")
	w.must(w.as("wren", "gauge set", "name=long dial", "resolution=0.01 mm", "error=0.01 mm"))
	w.must(w.as("wren", "gauge set", "name=hand pump", "kind=manometer"))
	w.as("wren", "gauge study", "gauge=zither", "machine=Marble", "check=infeed roller")
	w.as("wren", "gauge study", "gauge=long dial", "machine=Marble", "check=fingers")
	w.as("wren", "gauge study", "gauge=hand pump", "machine=Marble", "check=infeed")
	w.as("wren", "gauge study", "gauge=long dial", "machine=Marble", "check=infeed roller", "parts=1")
	w.as("wren", "gauge study", "gauge=long dial", "machine=Marble", "check=infeed roller", "parts=3", "trials=2")
	no := fmt.Sprint(w.reported())
	measure := func(who, part, values string) {
		w.as(who, "gauge measure", "study="+no, "part="+part, "values="+values)
	}
	measure("ada", "4", "1 mm")
	measure("ada", "1", "lots")
	measure("ada", "1", "1.00 1.01 1.00 mm")
	w.as("ada", "gauge measure", "study=first", "part=1", "values=1")
	w.as("ada", "gauge measure", "study=1", "part=1", "values=1")
	w.as("ada", "gauge result", "study="+no)
	measured := domain.FactNo(0)
	for _, p := range []struct {
		who    string
		offset float64
	}{{"ada", 0}, {"bo", 0.004}, {"chidi", -0.002}} {
		for part, base := range []float64{0.98, 1.02, 1.10} {
			measure(p.who, fmt.Sprint(part+1), fmt.Sprintf("%.3f", base+p.offset))
			if p.who == "chidi" && part == 2 {
				break
			}
			measure(p.who, fmt.Sprint(part+1), fmt.Sprintf("%.3f mm", base+p.offset+0.003*float64(part%2+1)))
			if measured == 0 {
				measured = w.reported()
			}
		}
		w.sweep(24 * time.Hour)
		w.as("ada", "gauge result", "study="+no)
	}
	measure("chidi", "3", "1.101")
	w.as("ada", "undo")
	w.as("ada", "undo", "report="+no)
	w.as("wren", "gauge result", "study="+no)
	w.press("wren", "Use this repeatability")
	w.as("ada", "why", "report="+no)
	w.as("ada", "why", report(measured))
	w.as("wren", "gauge study", "gauge=long dial", "machine=Marble", "check=knife width", "parts=2", "trials=2")
	second := strings.Fields(strings.TrimPrefix(w.last.Headline, "Study no. "))[0]
	for part, values := range []string{"25.4 25.41 mm", "25.2 25.22 mm"} {
		w.as("bo", "gauge measure", "study="+second, fmt.Sprintf("part=%d", part+1), "values="+values)
	}
	w.as("wren", "gauge result", "study="+second)
	w.as("wren", "gauge study", "gauge=long dial", "machine=Marble", "check=pressure bar", "parts=2", "trials=2")
	third := strings.Fields(strings.TrimPrefix(w.last.Headline, "Study no. "))[0]
	for part, values := range []string{"0.20 0.25 mm", "0.22 0.18 mm"} {
		w.as("bo", "gauge measure", "study="+third, fmt.Sprintf("part=%d", part+1), "values="+values, "when=1 h ago")
	}
	w.as("wren", "gauge result", "study="+third)
	w.golden("study")
}
