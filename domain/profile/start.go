package profile

import (
	_ "embed"
	"fmt"
	"slices"
	"strconv"
	"sync"

	"github.com/goccy/go-yaml/ast"
)

// Tick is what a steward has seen of a machine that is in use already, before it runs
// on: one of those common to all machines, or a kind's own.
type Tick struct {
	ID, Name string
	Says     string // what was seen, in a sentence
	Check    string // the inspection that was as good as made by it, so that its interval begins; "" for none
}

// mostTicks is how many ticks a kind asks for at most: each has its button.
const mostTicks = 10

//go:embed start.yaml
var commonTicks []byte

// CommonTicks lists the ticks that every kind asks for that says nothing itself, in the
// order in which they are asked: what needs power is last.
var CommonTicks = sync.OnceValue(func() []Tick {
	l := &loader{walker: walker{file: "start.yaml"}, at: map[string]ast.Node{}}
	var all []Tick
	if root := l.parse(commonTicks); root != nil {
		all = l.ticks(fields{&l.walker, root, map[string]ast.Node{"start": root}}, nil)
	}
	if len(l.errs) > 0 {
		panic(fmt.Sprint("profile: ", l.errs)) // the file is part of the program
	}
	return all
})

// ticks reads the list under start: common ticks by their ids, and ticks of the kind's own.
func (l *loader) ticks(file fields, common []Tick) []Tick {
	var all []Tick
	for _, node := range file.items("start", true) {
		keys := fields{&l.walker, node, map[string]ast.Node{"id": node}}
		if _, more := node.(*ast.MappingNode); more {
			keys = l.mapping(node, "id", "name", "says", "check")
		}
		tick := Tick{ID: l.id(keys, "id", "tick"), Check: keys.text("check", false, 40)}
		known := at(common, func(t *Tick) bool { return t.ID == tick.ID })
		switch {
		case known != nil && !keys.has("name") && !keys.has("says"):
			tick.Name, tick.Says = known.Name, known.Says
		case known == nil && !keys.has("name") && !keys.has("says"):
			l.failNode(node, strconv.Quote(cut(tick.ID, 40)), "a common tick, or one with name and says")
		default:
			tick.Name, tick.Says = keys.text("name", true, 40), keys.text("says", true, maxText)
		}
		l.at["ticked:"+tick.ID] = node
		all = append(all, tick)
	}
	if len(all) > mostTicks {
		l.failNode(file.by["start"], fmt.Sprintf("%d ticks", len(all)), fmt.Sprintf("at most %d", mostTicks))
	}
	return all
}

// start reads what is ticked before a machine that is in use already runs on, and
// whether the kind has a serious hazard at all. It has one unless its file says that it
// has none: what a file leaves out must not make a machine safe.
func (l *loader) start(prof *Profile, file fields) {
	prof.Harmless = file.word("hazard", false, "none") == "none"
	switch {
	case file.has("start"):
		prof.Start = l.ticks(file, CommonTicks())
		if len(prof.Start) == 0 {
			l.failNode(file.by["start"], "no tick", "one tick or more, or hazard: none")
		}
	case !prof.Harmless:
		prof.Start = CommonTicks()
	}
	if prof.Harmless {
		l.at["hazard"] = file.by["hazard"]
	}
}

// lintStart notes ticks of inspections that are none, and what a kind that says that it
// has no serious hazard must not have.
func (l *loader) lintStart(prof *Profile) {
	for _, tick := range prof.Start {
		if check := prof.Check(tick.Check); tick.Check != "" && (check == nil || !check.Inspection) {
			l.failNode(l.at["ticked:"+tick.ID], "check: "+tick.Check, "the id of an inspection")
		}
	}
	if !prof.Harmless {
		return
	}
	serious := ""
	switch {
	case len(prof.Start) > 0:
		serious = "start"
	case slices.ContainsFunc(prof.Checks, func(c Check) bool { return c.Class == Safety }):
		serious = "a safety check"
	case slices.ContainsFunc(prof.Services, func(s Service) bool { return s.Class == SafetyService }):
		serious = "a safety service"
	case slices.ContainsFunc(prof.Symptoms, func(s Symptom) bool { return s.Danger }):
		serious = "a danger among its symptoms"
	default:
		return
	}
	l.failNode(l.at["hazard"], "hazard: none with "+serious, "no hazard: none")
}
