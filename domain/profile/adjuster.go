package profile

import (
	"math/big"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"setscrew/domain/quantity"
)

// Sense is which way something points or goes.
type Sense string

// What turning clockwise does, and which way a check's positive readings point:
// the two of a line are one direction, and each line is followed by its opposite.
const (
	Raises   Sense = "raises"
	Up       Sense = "up"
	Lowers   Sense = "lowers"
	Down     Sense = "down"
	Opens    Sense = "opens"
	Open     Sense = "open"
	Closes   Sense = "closes"
	Closed   Sense = "closed"
	Tightens Sense = "tightens"
	Tight    Sense = "tight"
	Slackens Sense = "slackens"
	Slack    Sense = "slack"
	Advances Sense = "advances" // towards the operator or the tool
	Forward  Sense = "forward"
	Retracts Sense = "retracts"
	Back     Sense = "back"
)

// directions are what a move can do, one way and the other.
var directions = []direction{
	{Raises, Up, Lowers, Down}, {Opens, Open, Closes, Closed}, {Tightens, Tight, Slackens, Slack},
	{Advances, Forward, Retracts, Back},
}

type direction struct{ does, points, undoes, counter Sense }

// Drive is how an adjuster moves what it moves.
type Drive string

// The drives: a screw, by its lead; an eccentric, by its throw; something
// slackened and slid; shims under a base.
const (
	Screw     Drive = "screw"
	Eccentric Drive = "eccentric"
	Slide     Drive = "slide"
	Shims     Drive = "shims"
)

// Adjuster is a screw or its like that moves one position of a check, or with
// others the body of one check or more.
type Adjuster struct {
	ID, Name string
	Check    string   // the check that it is set for
	Also     []string // other checks of the same body that it moves
	Position string   // the one that it moves, where the check has no body
	At       [2]quantity.Value
	Drive    Drive
	Fixed    bool // a foot that is never turned; the others are set to it

	Thread    string         // as it is named: "1/4-20", "M6"
	Lead      quantity.Value // travel, or angle, in one turn of what it moves; of an eccentric its throw
	Clockwise Sense          // what it does, as seen from the tool's end; of a slide: what moving it on does
	SeenFrom  string         // what that end is: "the key"
	Positive  Sense          // which way readings grow
	Increment quantity.Value // turns that a hand can set
	Useful    quantity.Value // the least turn worth making, or absent
	Play      quantity.Value // turns lost at most when it is reversed, or absent
	Approach  int            // the way to finish every turn: +1 clockwise, -1 counter-clockwise, 0 any
	Travel    quantity.Value // turns that it may go either way from where it stood when it was set up, or absent
	Lock      string         // what is slackened before and tightened after: "jam nut"

	Stock []quantity.Value // thicknesses of shims
}

// Turned reports whether it is turned, so that its sense matters.
func (a *Adjuster) Turned() bool {
	return !a.Fixed && (a.Drive == Screw || a.Drive == Eccentric)
}

// Raising reports whether turning clockwise does what the first of the senses
// does: raises, opens, tightens, advances.
func (a *Adjuster) Raising() bool {
	return slices.ContainsFunc(directions, func(d direction) bool { return d.does == a.Clockwise })
}

// Growing reports whether turning clockwise makes readings grow, or adding shims, which
// raise.
func (a *Adjuster) Growing() bool {
	return (a.Drive == Shims || a.Raising()) == slices.ContainsFunc(directions,
		func(d direction) bool { return d.points == a.Positive })
}

// Does is what a move does that makes readings grow, or shrink.
func (a *Adjuster) Does(grow bool) Sense {
	for _, way := range directions {
		switch {
		case a.Positive == way.points && grow, a.Positive == way.counter && !grow:
			return way.does
		case a.Positive == way.points, a.Positive == way.counter:
			return way.undoes
		}
	}
	return ""
}

// Points is where a reading stands that is too great, or too small: up, slack.
func (a *Adjuster) Points(great bool) Sense {
	for _, way := range directions {
		switch {
		case a.Positive == way.points && great, a.Positive == way.counter && !great:
			return way.points
		case a.Positive == way.points, a.Positive == way.counter:
			return way.counter
		}
	}
	return ""
}

// Moves reports whether the adjuster moves a check.
func (a *Adjuster) Moves(check string) bool {
	return a.Check == check || slices.Contains(a.Also, check)
}

func (l *loader) adjuster(node ast.Node) Adjuster {
	keys := l.mapping(
		node, "id", "name", "check", "also", "position", "at", "drive", "fixed", "thread", "thread-of", "lead",
		"ratio", "clockwise", "seen-from", "positive", "increment", "useful", "play", "approach", "travel",
		"lock", "stock",
	)
	adjuster := Adjuster{
		ID:       l.id(keys, "id", "adjuster"),
		Name:     keys.text("name", true, maxName),
		Check:    keys.text("check", true, 40),
		Also:     keys.texts("also", false, 40),
		Position: keys.text("position", false, maxName),
		Fixed:    keys.flag("fixed"),
		Lock:     keys.text("lock", false, maxName),
		Drive:    Drive(keys.word("drive", false, string(Screw), string(Eccentric), string(Slide), string(Shims))),
	}
	if adjuster.Drive == "" {
		adjuster.Drive = Screw
	}
	if keys.has("at") {
		_, list := keys.by["at"].(*ast.SequenceNode)
		adjuster.At = l.point(keys.by["at"], list)
	}
	// A fixed foot has a place and nothing else.
	if adjuster.Fixed {
		for _, key := range []string{"thread", "thread-of", "lead", "ratio", "clockwise", "seen-from", "positive",
			"increment", "useful", "play", "approach", "travel", "lock", "stock", "drive"} {
			if keys.has(key) {
				l.failNode(keys.by[key], key, "none: it is never turned")
			}
		}
		return adjuster
	}
	// Which way readings grow; then what is turned, with its thread and play.
	var does, points []string
	for _, direction := range directions {
		does = append(does, string(direction.does), string(direction.undoes))
		points = append(points, string(direction.points), string(direction.counter))
	}
	turned := adjuster.Drive == Screw || adjuster.Drive == Eccentric
	adjuster.Positive = Sense(keys.word("positive", true, points...))
	if turned {
		adjuster.Clockwise, adjuster.SeenFrom = Sense(keys.word("clockwise", true, does...)),
			keys.text("seen-from", true, maxName)
		adjuster.Increment = l.positive(keys, "increment", true, quantity.Turns)
		adjuster.Useful = l.positive(keys, "useful", false, quantity.Turns)
		adjuster.Play = l.positive(keys, "play", false, quantity.Turns)
		adjuster.Travel = l.positive(keys, "travel", false, quantity.Turns)
		switch keys.word("approach", false, "clockwise", "counter-clockwise") {
		case "clockwise":
			adjuster.Approach = 1
		case "counter-clockwise":
			adjuster.Approach = -1
		}
		if pair := directionOf(adjuster.Clockwise); adjuster.Positive != "" &&
			pair != directionOf(adjuster.Positive) {
			l.failNode(keys.by["positive"], string(adjuster.Positive),
				"the same kind of direction as "+string(adjuster.Clockwise))
		}
		l.lead(keys, &adjuster)
		l.ratio(keys, &adjuster)
		return adjuster
	}
	// What is slid or shimmed.
	for _, key := range []string{"thread", "thread-of", "lead", "ratio", "clockwise", "seen-from", "increment",
		"useful", "play", "approach", "travel"} {
		if keys.has(key) {
			l.failNode(keys.by[key], key, "none: it is not turned")
		}
	}
	if adjuster.Drive == Shims {
		for _, text := range keys.texts("stock", true, 40) {
			thickness := l.quantity(keys.by["stock"], text, quantity.Length)
			if thickness.Valid() && thickness.Sign() > 0 {
				adjuster.Stock = append(adjuster.Stock, thickness)
			}
		}
		if len(adjuster.Stock) == 0 && keys.has("stock") {
			l.failNode(keys.by["stock"], "no shim", "thicknesses, such as [0.05 mm, 0.1 mm]")
		}
	} else if keys.has("stock") {
		l.failNode(keys.by["stock"], "stock", "none: only shims have a stock")
	}
	return adjuster
}

func directionOf(s Sense) int {
	return slices.IndexFunc(directions, func(d direction) bool {
		return s == d.does || s == d.points || s == d.undoes || s == d.counter
	})
}

// lead reads what one turn brings: a thread says its own lead, another's must be
// given; so must an eccentric's throw.
func (l *loader) lead(keys fields, adjuster *Adjuster) {
	kind := quantity.Length
	if text, ok := source(keys.by["lead"]); ok {
		if angle, err := quantity.Parse(text, quantity.Context{Kind: quantity.Angle}); err == nil &&
			angle.Value.Kind() == quantity.Angle {
			kind = quantity.Angle
		}
	}
	// The throw of an eccentric stands in its lead; a thread says nothing of it.
	adjuster.Lead = l.positive(keys, "lead", false, kind)
	if adjuster.Drive == Eccentric {
		if !keys.has("lead") {
			keys.missing("lead", "lead: the throw of the eccentric")
		}
		adjuster.Thread = keys.text("thread", false, 20)
		return
	}
	// The thread: written out, or a parameter that the owner of the machine sets.
	key := "thread"
	if keys.has("thread-of") {
		key = "thread-of"
		id := keys.text(key, true, 40)
		if !slices.ContainsFunc(l.parameters, func(p Parameter) bool { return p.ID == id && p.Takes == Thread }) {
			l.failNode(keys.by[key], describe(keys.by[key]), "a parameter that is a thread")
			return
		}
		adjuster.Thread = l.params[id]
	} else {
		adjuster.Thread = keys.text("thread", kind == quantity.Length, 20)
	}
	// A lead beside a thread that says its own must agree with it.
	switch lead, ok := Lead(adjuster.Thread); {
	case kind == quantity.Angle:
	case ok && adjuster.Lead.Valid() && !adjuster.Lead.Equal(lead):
		l.failNode(
			keys.by["lead"],
			describe(keys.by["lead"]),
			"the lead of its thread, "+quantity.Typed(lead, quantity.Millimetre),
		)
	case ok:
		adjuster.Lead = lead
	case !adjuster.Lead.Valid() && keys.has(key):
		keys.missing("lead", "lead: travel in one turn, since "+adjuster.Thread+" does not say it")
	}
}

// ratio reads how far what an adjuster moves goes for its own travel: of a lever
// or of gears between the two.
func (l *loader) ratio(keys fields, adjuster *Adjuster) {
	if !keys.has("ratio") {
		return
	}
	text := keys.text("ratio", true, 20)
	ratio, ok := new(big.Rat).SetString(strings.ReplaceAll(text, " ", ""))
	if !ok || ratio.Sign() <= 0 || ratio.Cmp(big.NewRat(1000, 1)) > 0 || !adjuster.Lead.Valid() {
		l.failNode(
			keys.by["ratio"],
			strconv.Quote(text),
			"a number more than nothing, such as 1/2, with a lead or a thread",
		)
		return
	}
	adjuster.Lead = adjuster.Lead.Mul(ratio)
}
