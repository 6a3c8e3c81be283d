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
		return err
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

// Can reports whether the parameter can be v.
func (p Parameter) Can(v string) bool {
	switch p.Takes {
	case Size:
		l, err := quantity.Parse(v, quantity.Context{Kind: quantity.Length})
		return err == nil && l.Value.Cmp(p.Least) >= 0 && l.Value.Cmp(p.Most) <= 0
	case Thread:
		_, ok := Lead(v)
		return ok
	}
	n, err := strconv.Atoi(v)
	return err == nil && n >= p.Min && n <= p.Max
}

func (l *loader) parameter(n ast.Node) Parameter {
	keys := l.mapping(n, "id", "name", "takes", "default", "min", "max")
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
func (l *loader) count(f fields, key string) int {
	id := f.text(key, true, 40)
	if n, err := strconv.Atoi(id); err == nil && n > 0 && n <= 100 {
		return n
	}
	for _, q := range l.parameters {
		if q.ID == id && q.Takes == Count {
			n, _ := strconv.Atoi(l.params[id])
			return n
		}
	}
	if id != "" {
		l.failNode(f.by[key], strconv.Quote(id), "a parameter that counts, or a number")
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
	if m := inchThread.FindStringSubmatch(thread); m != nil {
		if n, _ := strconv.ParseInt(m[1], 10, 64); n > 0 {
			return quantity.FromRat(big.NewRat(1, n), quantity.Inch), true
		}
		return lead, false
	}
	m := metricThread.FindStringSubmatch(thread)
	if m == nil {
		return lead, false
	}
	pitch := m[2]
	if pitch == "" {
		pitch = coarse[m[1]]
	}
	p, ok := new(big.Rat).SetString(strings.TrimSpace(pitch))
	if !ok || p.Sign() <= 0 {
		return lead, false
	}
	return quantity.FromRat(p, quantity.Millimetre), true
}
