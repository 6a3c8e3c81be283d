package profile

import (
	"encoding/json"
	"fmt"
	"math/big"
	"regexp"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"setscrew/domain/quantity"
)

// Parameter is something in which machines of a kind differ.
type Parameter struct {
	ID, Name    string
	Takes       Takes
	Default     string
	Min, Max    int            // of a Count
	Least, Most quantity.Value // of a Size
}

// Takes says what a parameter takes.
type Takes string

// What parameters take: a whole number, a length with its unit, the name of a
// screw thread.
const (
	Count  Takes = "count"
	Size   Takes = "length"
	Thread Takes = "thread"
)

// Params are parameters as they were written, by id: "4", "350 mm", "M8".
type Params map[string]string

// UnmarshalJSON reads what was stored, counts also as numbers.
func (p *Params) UnmarshalJSON(text []byte) error {
	var raw map[string]any
	if err := json.Unmarshal(text, &raw); err != nil {
		return fmt.Errorf("read a machine's parameters: %w", err)
	}
	*p = Params{}
	// any order: fills a map
	for id, v := range raw {
		(*p)[id] = fmt.Sprint(v)
	}
	return nil
}

// Accepts says in a few words what the parameter takes.
func (p Parameter) Accepts() string {
	switch p.Takes {
	case Size:
		return quantity.Typed(p.Least, quantity.Millimetre) + " to " + quantity.Typed(p.Most, quantity.Millimetre)
	case Thread:
		return "a thread such as 1/4-20 or M8"
	}
	return fmt.Sprintf("%d to %d", p.Min, p.Max)
}

// Can reports whether the parameter can be what is given.
func (p Parameter) Can(given string) bool {
	switch p.Takes {
	case Size:
		length, err := quantity.Parse(given, quantity.Context{Kind: quantity.Length})
		return err == nil && length.Value.Cmp(p.Least) >= 0 && length.Value.Cmp(p.Most) <= 0
	case Thread:
		_, ok := Lead(given)
		return ok
	}
	number, err := strconv.Atoi(given)
	return err == nil && number >= p.Min && number <= p.Max
}

func (l *loader) parameter(node ast.Node) Parameter {
	keys := l.mapping(node, "id", "name", "takes", "default", "min", "max")
	parameter := Parameter{
		ID:    l.id(keys, "id", "parameter"),
		Name:  keys.text("name", true, maxName),
		Takes: Takes(keys.word("takes", false, string(Count), string(Size), string(Thread))),
	}
	if parameter.Takes == "" {
		parameter.Takes = Count
	}
	switch parameter.Takes {
	case Size:
		parameter.Least, parameter.Most = l.positive(keys, "min", true, quantity.Length),
			l.positive(keys, "max", true, quantity.Length)
		if !parameter.Least.Valid() || !parameter.Most.Valid() {
			return parameter
		}
	case Count:
		parameter.Min, parameter.Max = keys.whole("min", true, 0, 100), keys.whole("max", true, 0, 100)
	}
	parameter.Default = keys.text("default", true, 40)
	if parameter.Default != "" && !parameter.Can(parameter.Default) {
		l.failNode(keys.by["default"], describe(keys.by["default"]), parameter.Accepts())
	}
	return parameter
}

// count is a parameter's whole number; named where it is no such parameter.
func (l *loader) count(keys fields, key string) int {
	id := keys.text(key, true, 40)
	if number, err := strconv.Atoi(id); err == nil && number > 0 && number <= 100 {
		return number
	}
	for _, parameter := range l.parameters {
		if parameter.ID == id && parameter.Takes == Count {
			number, _ := strconv.Atoi(l.params[id])
			return number
		}
	}
	if id != "" {
		l.failNode(keys.by[key], strconv.Quote(id), "a parameter that counts, or a number")
	}
	return 1
}

var (
	inchThread   = regexp.MustCompile(`^(?:#\d{1,2}|\d{1,2}/\d{1,2}|\d{1,2})-(\d{1,2})$`)
	metricThread = regexp.MustCompile(`^M(\d{1,2}(?:\.\d)?)(?:[x×](\d(?:\.\d{1,2})?))?$`)
)

// coarse is the coarse pitch of metric threads, in mm (ISO 261).
var coarse = map[string]string{"2": "0.4", "2.5": "0.45", "3": "0.5", "4": "0.7", "5": "0.8", "6": "1", "8": "1.25",
	"10": "1.5", "12": "1.75", "14": "2", "16": "2", "18": "2.5", "20": "2.5", "24": "3"}

// Lead is the travel in one turn of a single-start screw, from the name of its
// thread; ok is false where the name does not say it:
//
//	d-n     1/n inch (ASME B1.1: "1/4-20" has 20 threads an inch)
//	MdxP    P mm; Md alone has the coarse pitch (ISO 261)
func Lead(thread string) (lead quantity.Value, ok bool) {
	if inch := inchThread.FindStringSubmatch(thread); inch != nil {
		if n, _ := strconv.ParseInt(inch[1], 10, 64); n > 0 {
			return quantity.FromRat(big.NewRat(1, n), quantity.Inch), true
		}
		return lead, false
	}
	metric := metricThread.FindStringSubmatch(thread)
	if metric == nil {
		return lead, false
	}
	pitch := metric[2]
	if pitch == "" {
		pitch = coarse[metric[1]]
	}
	millimetres, ok := new(big.Rat).SetString(strings.TrimSpace(pitch))
	if !ok || millimetres.Sign() <= 0 {
		return lead, false
	}
	return quantity.FromRat(millimetres, quantity.Millimetre), true
}
