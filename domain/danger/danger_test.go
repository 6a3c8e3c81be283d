package danger

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

// phrasing is what somebody may say of a machine, and what a steward would make of it.
type phrasing struct {
	kind  Kind   // "" for no danger
	grade string // certain, likely, harmless
	said  string
	ruled bool // rules were made by it
}

// phrasings reads one language's sentences: a kind, a grade and the words a line.
func phrasings(t testing.TB, path string) (all []phrasing) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for i, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		if strings.HasPrefix(line, "#") {
			continue
		}
		parts := strings.Split(line, "\t")
		if len(parts) != 3 || !slices.Contains([]string{"certain", "likely", "harmless"}, parts[1]) {
			t.Fatalf("%s:%d: %q", path, i+1, line)
		}
		one := phrasing{kind: Kind(parts[0]), grade: parts[1], said: parts[2]}
		if parts[0] == "none" {
			one.kind = ""
		}
		if (one.kind == "") != (one.grade == "harmless") || one.kind != "" && !slices.Contains(Kinds(), one.kind) {
			t.Fatalf("%s:%d: kind %q, grade %q", path, i+1, parts[0], parts[1])
		}
		all = append(all, one)
	}
	return all
}

// share is how many of a number, in per cent.
func share(n, of int) float64 { return 100 * float64(n) / float64(max(of, 1)) }

// heardOf is what was made of sentences.
type heardOf struct {
	certain, stopped, noticed          int // of certain dangers: stopped at once; stopped or asked about
	harmless, harmlessStopped, annoyed int // of the harmless: stopped; asked about
}

func (h *heardOf) add(p phrasing, heard Heard) {
	switch p.grade {
	case "certain":
		h.certain++
		if heard.Stops() {
			h.stopped++
		}
		if heard.Certainty > None {
			h.noticed++
		}
	case "harmless":
		h.harmless++
		if heard.Stops() {
			h.harmlessStopped++
		} else if heard.Certainty > None {
			h.annoyed++
		}
	}
}

func (h heardOf) String() string {
	if h.harmless == 0 {
		return fmt.Sprintf("%3d dangers:  %5.1f %% stopped, %5.1f %% stopped or asked", h.certain,
			share(h.stopped, h.certain), share(h.noticed, h.certain))
	}
	if h.certain == 0 {
		return fmt.Sprintf("%3d harmless: %5.1f %% stopped, %5.1f %% asked", h.harmless,
			share(h.harmlessStopped, h.harmless), share(h.annoyed, h.harmless))
	}
	return fmt.Sprintf("%3d dangers: %5.1f %% stopped, %5.1f %% stopped or asked; %3d harmless: %4.1f %% stopped, "+
		"%4.1f %% asked",
		h.certain, share(h.stopped, h.certain), share(h.noticed, h.certain), h.harmless,
		share(h.harmlessStopped, h.harmless), share(h.annoyed, h.harmless))
}

// floors are shares in per cent that are asserted.
type floors struct {
	stopped, noticed         float64 // of certain dangers, at least
	harmlessStopped, annoyed float64 // of the harmless, at most
}

func (f floors) holds(h heardOf) bool {
	return share(h.stopped, h.certain) >= f.stopped && share(h.noticed, h.certain) >= f.noticed &&
		share(h.harmlessStopped, h.harmless) <= f.harmlessStopped && share(h.annoyed, h.harmless) <= f.annoyed
}

// hearAll hears a file of sentences, and says what was made of them: by kind, of all
// together, and, where each is asked for, which were misheard.
func hearAll(t *testing.T, name string, each bool) heardOf {
	t.Helper()
	var all heardOf
	byKind := map[Kind]*heardOf{}
	for _, p := range phrasings(t, filepath.Join(phrasingsDir, name+".tsv")) {
		h := Hear(p.said)
		if byKind[p.kind] == nil {
			byKind[p.kind] = &heardOf{}
		}
		byKind[p.kind].add(p, h)
		all.add(p, h)
		if each && (p.grade == "certain" && !h.Stops() || p.grade == "harmless" && h.Certainty > None) {
			t.Logf("%s, %s: %q: %d %s %q", name, p.grade, p.said, h.Certainty, h.Kind, h.Words)
		}
	}
	for _, kind := range append(Kinds(), "") {
		if h := byKind[kind]; h != nil {
			t.Logf("%-8s %-10s %s", name, cmp.Or(kind, "harmless"), h)
		}
	}
	t.Logf("%-8s %-10s %s", name, "all", all)
	return all
}

// phrasingsDir holds what people say of a machine, in four languages.
var phrasingsDir = filepath.Join("..", "..", "testdata", "phrasings", "danger")

// What people say of a machine: all of these were at hand when the words were chosen,
// so they do not judge them. What is asserted is what is reached, so that it does not
// get worse.
func TestPhrasings(t *testing.T) {
	// any order: each file is judged by itself
	for name, least := range map[string]floors{
		"given/en": {99.7, 99.9, 0.4, 4}, "given/de": {99.4, 99.8, 0.2, 4.5},
		"given/fr": {99.7, 99.9, 0.4, 4}, "given/es": {99.7, 99.9, 0.4, 4},
	} {
		if all := hearAll(t, name, true); all.certain+all.harmless < 600 {
			t.Errorf("%s: only %s", name, all)
		} else if !least.holds(all) {
			t.Errorf("%s: %s; want at least %+v", name, all, least)
		}
	}
}

// Sentences that nobody who chose the words has seen judge them, in judge/en.tsv and so
// on, in the form of those under given. The aims are 98 % of certain dangers stopped and
// all of them noticed, of the harmless 1 % stopped and 8 % asked about; what is asserted
// is what was reached when they were first read, or the weights last learned. They are
// not shown where they are misheard: who looks moves the file to given, and others
// write a new one.
func TestJudge(t *testing.T) {
	least := map[string]floors{
		"en": {stopped: 96, noticed: 99, harmlessStopped: 2, annoyed: 6},
		"de": {stopped: 98, noticed: 100, harmlessStopped: 2, annoyed: 7},
		"fr": {stopped: 100, noticed: 100, harmlessStopped: 4, annoyed: 12},
		"es": {stopped: 98, noticed: 100, harmlessStopped: 2, annoyed: 9},
	}
	judge(t, "judge", false, 30, least)
}

// judge hears a folder's sentences, at least some in each language, and holds what came of
// them against the least that is wanted. They are shown where they are misheard if told so.
func judge(t *testing.T, folder string, shown bool, some int, least map[string]floors) {
	t.Helper()
	for _, l := range languages {
		name := filepath.Join(folder, l.name)
		if all := hearAll(t, name, shown); all.certain+all.harmless < some || !least[l.name].holds(all) {
			t.Errorf("%s: %s; want at least %+v", name, all, least[l.name])
		}
	}
}

// A second look beside the judge: sentences written before words and weights were last
// changed. They have been read since, so they judge no longer.
func TestHeld(t *testing.T) {
	least := map[string]floors{
		"en": {stopped: 93, noticed: 100, harmlessStopped: 0, annoyed: 14},
		"de": {stopped: 100, noticed: 100, harmlessStopped: 0, annoyed: 7},
		"fr": {stopped: 100, noticed: 100, harmlessStopped: 0, annoyed: 7},
		"es": {stopped: 100, noticed: 100, harmlessStopped: 0, annoyed: 7},
	}
	judge(t, "held", true, 30, least)
}

// Sentences that were misheard once: what was tried on the program by hand.
func TestHear(t *testing.T) {
	for _, c := range []struct {
		said      string
		kind      Kind
		certainty Certainty
	}{
		{"fire", Fire, Sure}, {"its on fire!!!", Fire, Sure}, {"FIRE", Fire, Sure}, {"fiiiire", Fire, Sure},
		{"emergency stop button is stuck", StopButton, Sure}, {"e-stop doesnt work", StopButton, Sure},
		{"wont turn off", Runaway, Sure}, {"won't turn off", Runaway, Sure}, {"won’t turn off", Runaway, Sure},
		{"guard missing", Guard, Sure}, {"someone took the guard off", Guard, Sure}, {"no guard", Guard, Sure},
		{"exposed wire", Shock, Sure}, {"interlock bypassed", Guard, Sure}, {"cutter head wobbles", Cutter, Sure},
		{"wood shot out", Thrown, Sure}, {"almost lost a finger", Hurt, Sure}, {"a knife broke", Cutter, Sure},
		{"bearing screams", Bearing, Sure}, {"gas leak", Fumes, Sure}, {"it started by itself", SelfStart, Sure},
		// Denied, mended, asked, or a figure of speech.
		{"it's broken", "", None}, {"No smoke, but slow", "", None}, {"smoking hot deal", "", None},
		{"burn marks on the board", "", None}, {"no sparks", "", None}, {"where is the guard key?", "", None},
		{"the cracked blade was replaced yesterday", "", None}, {"nobody hurt", "", None}, {"", "", None},
		// But not where it goes on.
		{"replaced the belt and now it smokes", Fire, Sure}, {"no smoke but sparks from the motor", Fire, Sure},
		// Doubted: asked about, unless it is of a kind that never waits.
		{"maybe the guard is loose", Guard, Likely}, {"i think the blade is cracked", Cutter, Likely},
		{"a faint smell of burning", Fire, Likely},
		// Misspelt.
		{"smoek from the motor", Fire, Sure}, {"the gaurd is mising", Guard, Sure},
		{"bearring screeming", Bearing, Sure},
		// A class of parts with a class of what is wrong with them.
		{"the bench guillotine has my thumb in the blade", Hurt, Sure}, {"a splinter went in her left eye", Hurt, Sure},
		{"molten wax splashed on his arm", Hurt, Sure}, {"slipped and hit my head on the vice", Hurt, Sure},
		{"my kettle cord is frayed and i can see copper", Shock, Sure},
		{"the earth wire came off the kiln", Shock, Sure}, {"the battery charger has a red light", "", None},
		{"sparks fell into the bin of rags", Fire, Sure}, {"the lipo is swelling", Fire, Sure},
		{"i let go of the trigger and it carried on", Runaway, Sure}, {"cant get the mixer to stop", Runaway, Sure},
		{"brake on the mixer is broken", Runaway, Likely}, {"the press takes a minute to stop", Runaway, Sure},
		{"pressure in the tank keeps climbing", Runaway, Sure},
		{"the buffer came on when i plugged it in", SelfStart, Sure},
		{"no emergency stop on the mixer", StopButton, Sure}, {"the mixer guard wont close", Guard, Sure},
		{"the cover is off the fan belt", Guard, Sure}, {"the cover is cracked", Guard, Likely},
		{"the blank came out of the chuck", Thrown, Sure}, {"the blade has a big nick", Cutter, Sure},
		{"the bearing grinds", Bearing, Sure}, {"the bottle of propane hisses", Fumes, Sure},
		{"the torch leaks", Fumes, Likely},
		// What is of another kind altogether.
		{"the usb cable is broken", "", None}, {"the cover of the keyboard is missing", "", None},
		{"the hose leaks air", "", None}, {"almost out of screws", "", None}, {"the print came off the bed", "", None},
		// A no reaches past one word, not past an "and"; in French not from a verb before.
		{"it wont start and smells burnt", Fire, Sure}, {"it isnt smoking", "", None},
		{"elle ne démarre plus et fume", Fire, Sure}, {"elle ne fume pas", "", None},
		{"rien ne brûle", "", None}, {"kein Rauch", "", None}, {"es raucht nicht", "", None},
		{"no echa humo", "", None}, {"no arranca y echa humo", Fire, Sure},
		// A question is not heard, or asked back where it may be none.
		{"can i cut without the guard?", "", None}, {"the guard is missing?", Guard, Likely},
		// Compounds, and the language that most of the words are of.
		{"Spindellager kreischt", Bearing, Sure}, {"das Schneckenrad liegt, der Futterschutz fehlt", Guard, Sure},
		{"the lathe cuts a taper", "", None},
		// Unsafe, whatever it is.
		{"please stop this machine", Unsafe, Sure}, {"it is unsafe", Unsafe, Sure}, {"dangerous!!!", Unsafe, Sure},
		{"do not use", Unsafe, Sure}, {"not safe to use", Unsafe, Sure}, {"shut it down now", Unsafe, Sure},
		{"take it out of service", Unsafe, Sure}, {"the lathe isn't safe", Unsafe, Sure},
		{"don't use it, it needs fixing", Unsafe, Sure}, {"ce n'est pas un danger", "", None},
		{"i think it is dangerous", Unsafe, Likely}, {"dangerous, the guard is missing", Guard, Sure},
		{"sehr gefährlich", Unsafe, Sure}, {"die Säge ist nicht sicher", Unsafe, Sure},
		{"bitte nicht benutzen", Unsafe, Sure}, {"sofort abschalten", Unsafe, Sure},
		{"c'est dangereux", Unsafe, Sure}, {"ne pas utiliser cette machine", Unsafe, Sure},
		{"arrêtez cette machine", Unsafe, Sure}, {"mettez-la hors service", Unsafe, Sure},
		{"es peligrosa", Unsafe, Sure}, {"no es segura", Unsafe, Sure},
		{"no usen esta máquina", Unsafe, Sure}, {"por favor paren esta máquina", Unsafe, Sure},
		{"not dangerous", "", None}, {"it is safe now", "", None}, {"is it safe to use?", "", None},
		{"it was unsafe but was fixed", "", None}, {"how do i stop the machine", "", None},
		{"dangerously good cake", "", None}, {"remember to shut it down when you leave", "", None},
		{"nicht gefährlich", "", None}, {"bin nicht sicher welche Größe", "", None},
		{"ce n'est pas dangereux", "", None}, {"je ne suis pas sûr", "", None},
		{"no es peligroso", "", None}, {"no estoy seguro de la medida", "", None}, {"¿es seguro usarla?", "", None},
		{"powder explosion", Fire, Sure}, {"it starts when I close the hood", SelfStart, Sure},
		{"smells like an electrical fire but I can't see anything", Fire, Sure}, {"i cant see anything", Hurt, Sure},
	} {
		if h := Hear(c.said); h.Kind != c.kind || h.Certainty != c.certainty {
			t.Errorf("%q: %q, %d (%q); want %q, %d", c.said, h.Kind, h.Certainty, h.Words, c.kind, c.certainty)
		}
	}
}

// What stops a machine in each language, and what does not though it sounds alike.
func TestHearStops(t *testing.T) {
	for _, c := range []struct {
		said  string
		stops bool
	}{
		{"it keeps running when i let go", true}, {"she cut herself", true},
		{"sparks shooting out of the outlet", true}, {"smells like something is burning", true},
		{"the blade's bent", true}, {"she's hurt", true},
		{"hoist chain is cracked", true}, {"no joke, theres flames", true}, {"the guard's been wedged open", true},
		{"NOT KIDDING ITS ON FIRE", true}, {"co detector says 90 ppm", true}, {"generator running indoors", true},
		{"someone is going to get hurt", true}, {"about to explode", true}, {"faceplate screws loose", true},
		{"killer machine", false}, {"fire up the planer", false}, {"shocked at the price", false},
		{"smoke break", false}, {"dead simple", false}, {"blood orange acrylic", false},
		{"my print is stuck on the bed", false}, {"the emergency stop works", false}, {"lost and found", false},
		{"watched a video of a table saw accident", false},
		{"es qualmt aus dem motor", true}, {"hab eine gewischt bekommen", true}, {"geht nicht mehr aus", true},
		{"schutzhaube fehlt", true}, {"sägeblatt eiert", true}, {"er hat sich in den finger gesägt", true},
		{"not-aus klemmt", true}, {"der kran rutscht mit last", true}, {"ohne witz es brennt", true},
		{"hammer maschine", false}, {"ofen anfeuern bitte", false}, {"preisschock beim holzhändler", false},
		{"kurze raucherpause", false}, {"brandspuren am holz", false}, {"das lager ist voll", false},
		{"ça fume", true}, {"j'ai pris une châtaigne", true}, {"elle s'arrête plus", true},
		{"carter enlevé", true}, {"lame fêlée", true}, {"il s'est coupé le doigt", true},
		{"arrêt d'urgence bloqué", true}, {"la machine va basculer", true}, {"sans blague ça brûle", true},
		{"machine de ouf", false}, {"on allume le four ce soir ?", false}, {"choqué par le prix", false},
		{"pause clope", false}, {"traces de brûlé sur le bois", false}, {"coup de feu du samedi", false},
		{"echa humo", true}, {"me ha dado un calambrazo", true}, {"no se para", true},
		{"falta la protección", true}, {"disco rajado", true}, {"se cortó el dedo", true},
		{"la seta no hace nada", true}, {"la máquina se vuelca", true}, {"no es broma está ardiendo", true},
		{"máquina brutal", false}, {"encended el horno", false}, {"en shock con el precio", false},
		{"salgo a fumar", false}, {"marcas de quemado en la madera", false}, {"echando chispas con la cola", false},
	} {
		if h := Hear(c.said); h.Stops() != c.stops {
			t.Errorf("%q: %q, %d (%q); stops %v, want %v", c.said, h.Kind, h.Certainty, h.Words, h.Stops(), c.stops)
		}
	}
}

// What is likely stops the machine where it is of a kind that never waits.
func TestStops(t *testing.T) {
	for _, c := range []struct {
		heard Heard
		stops bool
	}{
		{Heard{}, false}, {Heard{Kind: Guard, Certainty: Likely}, false}, {Heard{Kind: Guard, Certainty: Sure}, true},
		{Heard{Kind: Fire, Certainty: Likely}, true}, {Heard{Kind: Shock, Certainty: Likely}, true},
		{Heard{Kind: Hurt, Certainty: Likely}, true},
		{Heard{Kind: Runaway, Certainty: Likely}, true}, {Heard{Kind: Bearing, Certainty: Likely}, false},
		{Heard{Kind: Fire, Certainty: Likely, Unclear: true}, false},
	} {
		if got := c.heard.Stops(); got != c.stops {
			t.Errorf("%+v stops: %v", c.heard, got)
		}
	}
}

// Names of one's own are spoken of, denied or doubted like any danger.
func TestSays(t *testing.T) {
	find := func(words []string) (all [][2]int) {
		for i, w := range words {
			if w == "knocks" {
				all = append(all, [2]int{i, i + 1})
			}
		}
		return all
	}
	for said, want := range map[string]Certainty{
		"it knocks": Sure, "it never knocks": None, "maybe it knocks": Likely, "it hums": None,
		"it knocks, but that was fixed": None, "no oil, and it knocks": Sure,
	} {
		if got := Says(said, find); got != want {
			t.Errorf("%q: %d, want %d", said, got, want)
		}
	}
}

// A place of a phrase is one of several words, one in the middle may be left out, and a
// word may be the end of a compound or stand alone; what begins or ends with nothing is refused.
func TestRead(t *testing.T) {
	l := &language{fold: strings.NewReplacer(), known: map[string]bool{}, stems: map[string]bool{}}
	into := map[rune][]meaning{}
	if err := l.read(into, "eye", "in|into my|his left|right? eye*, *lager"); err != nil {
		t.Fatal(err)
	}
	l.phrases = into
	for said, want := range map[string]int{ // any order: each is read by itself
		"in his eye": 3, "into my left eyes": 4, "in the eye": 0, "in my left": 0, "eye": 0,
		"Lagerbock": 0, "Spindellager": 1, "Lager": 1,
	} {
		end := 0
		for _, at := range l.ideas(l.split(said))["eye"] {
			end = at.to
		}
		if end != want {
			t.Errorf("%q: %d words, want %d", said, end, want)
		}
	}
	for _, list := range []string{"left? eye", "eye left?", "… eye", "eye …", "in | eye"} {
		if err := l.read(map[rune][]meaning{}, "eye", list); err == nil {
			t.Errorf("%q is accepted", list)
		}
	}
}

// How long it takes to hear a sentence of usual length.
func BenchmarkHear(b *testing.B) {
	said := "the bandsaw was making a noise all morning and now there is a smell near the motor, is that normal"
	for b.Loop() {
		Hear(said)
	}
}

// Whatever is typed is heard without end or fault, and its words are its own.
func FuzzHear(f *testing.F) {
	for _, said := range []string{"", "fire", "no smoke, but slow",
		"\u202e", "e-stop…", "l'arrêt d'urgence", "ß ss",
		strings.Repeat("hand caught ", 40)} {
		f.Add(said)
	}
	f.Fuzz(func(t *testing.T, said string) {
		if len(said) > 2000 {
			return
		}
		h := Hear(said)
		if (h.Kind == "") != (h.Certainty == None) || h.Unclear && h.Certainty != Likely ||
			h.Kind != "" && !slices.Contains(Kinds(), h.Kind) {
			t.Fatalf("%q: %+v", said, h)
		}
		if rules := byRules(read(said)); rules.Certainty > None && (h.Kind != rules.Kind || len(h.Words) == 0) {
			t.Fatalf("%q: %+v, though rules heard %+v", said, h, rules)
		}
		for _, w := range h.Words {
			if w == "" || !utf8.ValidString(w) {
				t.Fatalf("%q: %q", said, h.Words)
			}
		}
	})
}
