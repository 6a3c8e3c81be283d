package commands_test

import (
	"fmt"
	"strings"
	"testing"
	"time"
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
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.02 mm, right 1.02 mm", "when=yesterday 17:30")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.14 mm, right 1.02 mm", "gauge=feelers")
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
	w.as("bo", "hours", "machine=Marble", "hours=1h30")
	w.notices()
	w.as("bo", "due")
	w.as("wren", "why", "machine=Marble", "service=bushings")
	w.as("wren", "service", "machine=Marble", "service=bushings", "note=two drops each")
	w.notices()
	w.as("bo", "due", "machine=Marble")
	w.golden("hours")
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
	w.as("owner", "shop settings", "name=Tin Lane", "zone=CET", "units=inch", "notices=notices", "stewards=stewards", "digest=08:30")
	w.as("ada", "shop add", "name=Basalt", "kind=thickness-planer")
	w.as("wren", "shop add", "name=Basalt", "kind=thicknes-planer")
	w.press("wren", "Use thickness planer")
	w.as("wren", "shop add", "name=basalt", "kind=thickness-planer")
	w.as("wren", "shop add", "name=Slate", "kind=loom")
	w.as("wren", "shop add", "name=Slate", "kind=thickness-planer", "with=knives=9")
	w.as("wren", "shop add", "name=Slate", "kind=thickness-planer", "units=metric")
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
	w.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=0.040 in", "adjust=42 to 44 thou")
	w.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=40 furlongs")
	w.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=1,234 mm")
	w.as("wren", "shop confirm", "machine=Basalt", "what=infeed roller", "target=40", "adjust=37 to 43 thou", "stop=20 to 60 thou")
	w.as("wren", "shop gauge", "name=short dial", "resolution=0.0005 in", "uncertainty=0", "k=2")
	w.as("wren", "shop gauge", "name=short dial", "resolution=0.0005 in", "uncertainty=0.0007 in", "k=20")
	w.as("wren", "shop gauge", "name=short dial", "resolution=0.0005 in", "uncertainty=2 tenths", "k=2")
	w.as("wren", "shop gauge", "name=short dial", "resolution=0.0005 in", "uncertainty=0.0007 in", "k=2")
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
	for _, v := range []string{"left 1 kg, right 1 mm", "left 1 mm", "1 2 3 mm", "up 1 mm, right 1 mm", "left 1 mm, left 2 mm", "left 1 h, right 1 h",
		"left 1 mm, right", " , ", strings.Repeat("µ", 300), strings.Repeat("1", 401), "left 1,234 mm, right 1 mm", "left 40 mil, right 40 mil", "left 4 tenths, right 4 tenths", "1.02 1.03"} {
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
	w.as("ada", "why", "machine=Marble", "service=knife-change")
	w.as("ada", "undo", "report=0")
	w.as("chidi", "undo")
	w.as("chidi", "undo", "report=15")
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
	believe := w.last
	w.press("bo", "It is right")
	w.last = believe
	w.press("ada", "It is right")
	confirmed := w.now
	w.last = believe
	w.press("ada", "It is right")
	w.last = believe
	w.press("ada", "Withdraw")
	w.as("ada", "why", "report=18")
	w.as("ada", "why", "report=19")
	w.as("ada", "undo", "report=18")
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
	w.as("bo", "hours", "machine=Marble", "hours=20 min")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.70 mm, right 1.02 mm")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.72 mm, right 1.02 mm")
	w.notices()
	w.as("bo", "machine", "machine=Marble")
	w.as("bo", "why", "machine=Marble")
	w.as("bo", "release", "machine=Marble")
	w.as("wren", "release", "machine=Marble")
	w.as("bo", "undo", "report=16")
	w.as("wren", "reading", "machine=Marble", "check=infeed roller", "values=left 1.02 mm, right 1.02 mm")
	w.as("wren", "release", "machine=Marble")
	asked := w.last
	w.as("chidi", "tagout", "machine=Marble", "reason=guard is off")
	w.last = asked
	w.press("bo", "All done, owner asked")
	w.last = asked
	w.press("wren", "All done, owner asked")
	w.as("wren", "release", "machine=Marble")
	w.press("wren", "All done, owner could not")
	used := w.last
	w.last = asked
	w.press("wren", "All done, owner asked")
	w.last = used
	w.notices()
	w.as("wren", "tagout", "machine=Marble", "reason=my own")
	w.as("wren", "release", "machine=Marble")
	w.press("wren", "All done: release")
	w.as("wren", "undo")
	w.as("wren", "why", "report=28")
	w.as("wren", "undo", "report=28")
	w.notices()
	w.golden("tags")
}

func TestStoryProblems(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "problem", "machine=Marble", "what=snipe")
	w.press("ada", "Tag out Marble")
	w.as("ada", "problem", "machine=Marble", "what=it hums a tune", "note=quietly")
	w.as("bo", "problem", "machine=Marble", "what=there is SMOKE coming out, and it vibrates")
	w.as("bo", "problem", "machine=Marble", "what=hurt")
	w.as("bo", "why", "report=15")
	w.as("wren", "release", "machine=Marble")
	w.as("wren", "release", "machine=Marble", "note=belt replaced, knives checked, ada was treated")
	w.press("wren", "All done, owner asked")
	w.notices()
	w.as("bo", "problem", "machine=Marble", "what=hit a nail")
	w.as("bo", "undo")
	w.notices()
	w.golden("problems")
}

func TestStoryInspection(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "reading", "machine=Marble", "check=fingers", "values=fail: one sticks")
	w.as("ada", "reading", "machine=Marble", "check=fingers")
	w.press("ada", "It fails")
	w.as("ada", "machine", "machine=Marble")
	w.as("wren", "release", "machine=Marble")
	w.as("wren", "reading", "machine=Marble", "check=fingers", "values=pass", "when=1 s ago")
	w.as("wren", "why", "report=15")
	w.as("wren", "why", "machine=Marble", "check=fingers")
	w.as("wren", "reading", "machine=Marble", "check=fingers", "values=fail", "when=5 s ago")
	w.as("wren", "release", "machine=Marble")
	w.press("wren", "All done")
	w.sweep(7 * 24 * time.Hour)
	w.notices()
	w.as("ada", "due")
	w.as("ada", "machine", "machine=Marble")
	w.sweep(4 * 24 * time.Hour)
	w.notices()
	w.as("ada", "due")
	w.as("wren", "release", "machine=Marble")
	w.as("wren", "reading", "machine=Marble", "check=fingers", "values=pass")
	w.as("wren", "release", "machine=Marble")
	w.press("wren", "All done")
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
	w.as("wren", "service", "machine=Marble", "service=knife-change")
	w.as("wren", "due")
	w.as("wren", "machine", "machine=Marble")
	w.as("wren", "why", "machine=Marble", "check=infeed")
	w.as("wren", "why", "machine=Marble", "check=knives")
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=1.02 1.02 mm", "when=7 s ago")
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
	w.last = plan
	w.press("wren", "I turned it")
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
	w.press("wren", "All done")
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
	w.must(w.as("bo", "hours", "machine=Marble", "hours=4"))
	w.must(w.as("ada", "reading", "machine=Marble", "check=outfeed", "values=left 21 mm, right 1.016 mm"))
	w.must(w.as("ada", "service", "machine=Marble", "service=knife-change"))
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
	w.as("wren", "shop gauge", "name=long dial", "resolution=0.01 mm", "uncertainty=0.02 mm")
	w.as("ada", "hours", "machine=Marble", "hours=1")
	w.as("ada", "problem", "machine=Marble", "what=snipe")
	w.as("ada", "service", "machine=Marble", "service=bushings")
	w.as("ada", "tagout", "machine=Marble", "reason=x")
	w.as("wren", "release", "machine=Marble")
	w.press("wren", "All done, owner asked")
	w.as("wren", "undo", "report=16")
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 1.3 mm, right 1.016 mm")
	w.press("ada", "I turned it")
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 13 mm, right 11 mm")
	w.press("ada", "It is right")
	w.as("wren", "shop retire", "machine=Marble")
	retire := w.last
	w.press("wren", "Retire Marble")
	w.last = retire
	w.press("wren", "Retire Marble")
	w.out.Reset()
	for no := 1; no <= 28; no++ {
		w.as("ada", "why", fmt.Sprintf("report=%d", no))
	}
	w.golden("facts")
}
