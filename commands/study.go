package commands

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
)

var gaugeStudy = &Command{
	Name: "gauge study", Who: Steward, Quiet: true, Words: 80,
	Options: []Option{{Name: "gauge", Takes: OwnGauge, Required: true}, machineOption,
		{Name: "check", Takes: Check, Required: true},
		{Name: "parts", Takes: Text, Max: 3}, {Name: "trials", Takes: Text, Max: 3}},
	Examples: []string{`/gauge study gauge:"long dial" machine:Marble check:"infeed roller" parts:5 trials:3`},
}

var gaugeMeasure = &Command{
	Name: "gauge measure", Who: Anyone, Quiet: true, Words: 25,
	Options: []Option{{Name: "study", Takes: Text, Required: true, Max: 20},
		{Name: "part", Takes: Text, Required: true, Max: 3},
		{Name: "values", Takes: Text, Required: true, Max: 200}, whenOption, forOption},
	Examples: []string{`/gauge measure study:64 part:1 values:"1.02 1.03 1.02 mm"`},
}

var gaugeResult = &Command{
	Name: "gauge result", Who: Anyone, Quiet: true, Words: 150,
	Options:  []Option{{Name: "study", Takes: Text, Required: true, Max: 20}},
	Examples: []string{`/gauge result study:64`},
}

var gaugeRepeat = &Command{
	Name: "gauge repeat", Who: Steward, Quiet: true, Words: 60,
	Options: []Option{{Name: "gauge", Takes: OwnGauge, Required: true},
		{Name: "values", Takes: Text, Required: true, Max: 300}},
	Examples: []string{`/gauge repeat gauge:"long dial" values:"1.02 1.03 1.02 1.02 1.03 1.02 1.01 1.02 1.03 1.02 mm"`},
}

// adoptAction makes a study's repeatability the gauge's own.
const adoptAction waiting[adopting] = "adopt"

// runStudy begins a gauge study, whose number its readings name, and says how to go on.
func runStudy(c *call) (Reply, error) {
	gauge, err := c.shopGauge()
	if err != nil {
		return Reply{}, err
	}
	machine, check, err := c.checkNamed()
	if err != nil {
		return Reply{}, err
	}
	// Whether the gauge can read the check, how often, and within what.
	switch {
	case check.Inspection:
		return Reply{}, &userError{key: "study.inspection", data: words.D{"Check": capital(check.Name)},
			example: c.exampleOf(gaugeStudy)}
	case quantity.Base(check.Kind()).Step().Kind() != gauge.Measures():
		return Reply{}, &userError{key: "study.kind", data: words.D{"Gauge": words.User(gauge.Name),
			"Of": gauge.Measures().String(), "Check": check.Name}, example: c.exampleOf(gaugeStudy)}
	}
	parts, err := c.wholeOption("parts", 5, 2, 20)
	if err != nil {
		return Reply{}, err
	}
	trials, err := c.wholeOption("trials", 3, 2, 10)
	if err != nil {
		return Reply{}, err
	}
	tolerance := check.AlikeAdjust
	if check.Adjust.Low.Valid() && check.Adjust.High.Valid() {
		tolerance = check.Adjust.High.Sub(check.Adjust.Low)
	}
	outcome, err := c.report(domain.Machine{}, domain.StudyBegun{Gauge: gauge.Name, Machine: machine.ID,
		Check: check.ID, Name: check.Name, Tolerance: tolerance,
		Entry: check.Entry[machine.UnitsIn(c.shop)], Kind: check.Kind(), Parts: parts, Trials: trials})
	if err != nil {
		return Reply{}, err
	}
	// How to go on, with commands that work.
	no := strconv.FormatInt(int64(outcome.Fact.No), 10)
	return Reply{Headline: c.say("study.begun", words.D{"Gauge": words.User(gauge.Name), "No": outcome.Fact.No}),
		Lines: []string{c.say("study.how", words.D{"Parts": parts, "Trials": trials}),
			c.say("example", words.D{"Example": "/gauge measure study:" + no + ` part:1 values:"` +
				exampleRepeats(check.Example, check.Entry[machine.UnitsIn(c.shop)], trials) + `"`}),
			c.say("study.then", words.D{"Example": "/gauge result study:" + no})}}, nil
}

// exampleRepeats is the same value n times.
func exampleRepeats(v quantity.Value, unit quantity.Unit, n int) string {
	parts := make([]string, n)
	for i := range parts {
		parts[i] = strings.TrimSuffix(quantity.Format(v, unit, 3), " "+string(unit))
	}
	return strings.Join(parts, " ") + " " + string(unit)
}

// study is the study that the option names, with its readings.
func (c *call) study() (domain.Fact, domain.StudyBegun, []domain.Fact, error) {
	no, err := reportNo(c.options["study"], c.exampleWith("study", "12"))
	if err != nil {
		return domain.Fact{}, domain.StudyBegun{}, nil, err
	}
	fact, err := c.books.Fact(c, no)
	if err != nil {
		return fact, domain.StudyBegun{}, nil, err
	}
	begun, ok := fact.Body.(domain.StudyBegun)
	if !ok {
		return fact, begun, nil, &userError{key: "study.none", data: words.D{"No": no},
			example: c.exampleOf(gaugeStudy)}
	}
	all, err := c.books.Study(c, no)
	return fact, begun, all, err
}

// tally is what each person read of each part.
func tally(study domain.StudyBegun, facts []domain.Fact) (people []domain.PersonID,
	read map[domain.PersonID][][]float64) {
	read = map[domain.PersonID][][]float64{}
	base := quantity.Base(study.Kind)
	for _, fact := range facts {
		reading, ok := fact.Body.(domain.StudyReading)
		if !ok || reading.Part < 1 || reading.Part > study.Parts {
			continue
		}
		if read[fact.For] == nil {
			read[fact.For] = make([][]float64, study.Parts)
			people = append(people, fact.For)
		}
		for _, v := range reading.Values {
			read[fact.For][reading.Part-1] = append(read[fact.For][reading.Part-1], v.Float(base))
		}
	}
	return people, read
}

// runMeasure records what one person reads of one part of a study, and how much is left.
func runMeasure(c *call) (Reply, error) {
	fact, study, all, err := c.study()
	if err != nil {
		return Reply{}, err
	}
	part, err := c.wholeOption("part", 1, 1, study.Parts)
	if err != nil {
		return Reply{}, err
	}
	list, err := quantity.ParseList(c.options["values"],
		quantity.Layout{Context: quantity.Context{Kind: study.Kind, Entry: study.Entry}, Positions: []string{""}})
	if err != nil {
		return c.askOrRefuse(err, "values", nil, "")
	}
	// How many times this person has read the part already.
	who := c.forWhom()
	_, read := tally(study, all)
	had := 0
	if r := read[who]; r != nil {
		had = len(r[part-1])
	}
	values := list.At[0].Repeats
	if had+len(values) > study.Trials {
		return Reply{}, &userError{key: "study.full", data: words.D{"Part": part, "Trials": study.Trials, "Had": had},
			example: c.exampleWith("part", strconv.Itoa(part%study.Parts+1))}
	}
	outcome, err := c.report(domain.Machine{}, domain.StudyReading{Study: fact.No, Part: part, Values: values})
	if err != nil {
		return Reply{}, err
	}
	// How much is left to read.
	left := study.Parts*study.Trials - len(values)
	if r := read[who]; r != nil {
		for _, p := range r {
			left -= len(p)
		}
	}
	data := words.D{"Part": part, "Had": had + len(values), "Trials": study.Trials, "No": outcome.Fact.No, "N": left}
	key := "study.measured"
	if left == 0 {
		key = "study.complete"
	}
	return Reply{Headline: c.say(key, data)}, nil
}

// runResult says whether a gauge is fit for a check by what was read in a study, with a
// steward's button that makes its repeatability the gauge's own.
func runResult(c *call) (Reply, error) {
	fact, study, all, err := c.study()
	if err != nil {
		return Reply{}, err
	}
	people, read := tally(study, all)
	// Everybody who has read every part every time takes part.
	data := make(metrology.Study, study.Parts)
	var lacking []string
	done := 0
	for _, person := range people {
		i := slices.IndexFunc(read[person], func(v []float64) bool { return len(v) < study.Trials })
		if i >= 0 {
			lacking = append(lacking,
				c.say("study.lacks", words.D{"By": words.Person(string(person)), "Part": i + 1,
					"Had": len(read[person][i]), "Trials": study.Trials}))
			continue
		}
		done++
		for part := range data {
			data[part] = append(data[part], read[person][part])
		}
	}
	more := words.D{"Gauge": words.User(study.Gauge), "No": fact.No, "Check": study.Name}
	if done == 0 {
		return Reply{Headline: c.say("study.waits", more), Lines: lacking}, nil
	}
	result, err := metrology.Analyse(data)
	if err != nil {
		return Reply{}, fmt.Errorf("analyse study %d: %w", fact.No, err) // whoever is counted has read all
	}
	// Fit for the check or not, then what it is made of.
	base := quantity.Base(study.Kind).Step()
	show := func(x float64) string { return short(quantity.FromFloat(x, base), study.Entry.Step()) }
	reply := Reply{}
	tolerance := 0.0
	if study.Tolerance.Valid() {
		tolerance = study.Tolerance.Float(base)
	}
	if tolerance > 0 {
		share := result.PercentOfTolerance(tolerance)
		more["Percent"] = strconv.FormatFloat(share, 'f', 0, 64) + " %"
		reply.Headline = c.say("study.fit."+string(metrology.Fit(share)), more)
	} else {
		reply.Headline = c.say("study.fit.unknown", more)
	}
	reply.Lines = append(reply.Lines,
		c.say("study.repeatability",
			words.D{"S": show(result.Repeatability), "Nu": strconv.FormatFloat(result.RepeatabilityDoF, 'f', 0, 64)}))
	if done > 1 {
		reply.Lines = append(reply.Lines,
			c.say("study.reproducibility", words.D{"S": show(result.Reproducibility), "People": done}))
	} else {
		reply.Lines = append(reply.Lines, c.say("study.alone", nil))
	}
	reply.Lines = append(reply.Lines,
		c.say("study.parts", words.D{"S": show(result.PartSpread),
			"Percent": strconv.FormatFloat(result.Percent, 'f', 0, 64) + " %", "Distinct": result.Distinct}))
	if tolerance > 0 && result.PartSpread > 0 && result.Gauge > 0 {
		// Pieces that spread as these parts do about the middle of the tolerance,
		// accepted where they read within it.
		risk := metrology.RisksOf(0, result.PartSpread, result.Gauge, [2]float64{-tolerance / 2, tolerance / 2},
			[2]float64{-tolerance / 2, tolerance / 2})
		reply.Lines = append(reply.Lines,
			c.say("study.risk", words.D{"Consumer": percent(risk.Consumer), "Producer": percent(risk.Producer)}))
	}
	reply.Lines = append(append(reply.Lines, lacking...), c.say("study.source", nil))
	if result.Repeatability > 0 && c.steward() {
		reply.Buttons = []Button{{Label: c.say("button.adopt", nil), Style: Primary,
			Custom: wait(c, adoptAction, adopting{study.Gauge, quantity.FromFloat(result.Repeatability, base),
				result.RepeatabilityDoF})}}
	}
	return reply, nil
}

// adopting is a repeatability that waits to be made a gauge's own.
type adopting struct {
	Gauge string         `json:"gauge"`
	S     quantity.Value `json:"s"`
	DoF   float64        `json:"dof"`
}

// runRepeat says how far a gauge repeats by ten readings or more at one place. Nothing is
// stored until a steward presses its button.
func runRepeat(c *call) (Reply, error) {
	gauge, err := c.shopGauge()
	if err != nil {
		return Reply{}, err
	}
	// Ten repeats at least, by one person at one place.
	list, err := quantity.ParseList(c.options["values"],
		quantity.Layout{Context: c.entryOf(gauge.Measures()), Positions: []string{""}})
	if err != nil {
		return c.askOrRefuse(err, "values", nil, "")
	}
	values := list.At[0].Repeats
	if len(values) < 10 {
		return Reply{}, &userError{key: "study.ten", data: words.D{"Given": len(values)},
			example: gaugeRepeat.Examples[0]}
	}
	// How far they spread, and one that stands out.
	base := quantity.Base(gauge.Measures())
	floats := make([]float64, len(values))
	for i, v := range values {
		floats[i] = v.Float(base)
	}
	rep := metrology.Describe(floats, gauge.Resolution.Float(base))
	value := quantity.FromFloat(rep.S, base)
	reply := Reply{Headline: c.say("study.quick",
		words.D{"Gauge": words.User(gauge.Name), "S": short(value, list.Unit), "Reps": rep.N, "Nu": rep.N - 1})}
	if rep.Outlier >= 0 {
		reply.Lines = append(reply.Lines,
			c.say("reading.outlier", words.D{"Position": capital(gauge.Name),
				"Value": quantity.Typed(values[rep.Outlier], list.Unit)}))
	}
	// A gauge that never moved has shown nothing of itself.
	if rep.S == 0 {
		reply.Lines = append(reply.Lines, c.say("study.still", nil))
		return reply, nil
	}
	reply.Buttons = []Button{{Label: c.say("button.adopt", nil), Style: Primary,
		Custom: wait(c, adoptAction, adopting{gauge.Name, value, float64(rep.N - 1)})}}
	return reply, nil
}

// mostDoF is more degrees of freedom than any study here has.
const mostDoF = 1e6

// runAdopt stores a repeatability that was found as the gauge's own.
func runAdopt(c *call, adopt adopting) (Reply, error) {
	gauge, ok, err := c.ownGauge(adopt.Gauge)
	if err != nil {
		return Reply{}, err
	}
	if !ok {
		return Reply{}, &domain.Refusal{Code: domain.PendingGone}
	}
	if !adopt.S.Valid() || adopt.S.Sign() <= 0 || adopt.S.Kind() != gauge.Measures() ||
		adopt.DoF < 1 || adopt.DoF > mostDoF {
		return Reply{}, noSuchButton()
	}
	gauge.Repeatability, gauge.DoF = adopt.S, adopt.DoF
	outcome, err := c.report(domain.Machine{}, domain.GaugeSet{Gauge: gauge})
	if err != nil {
		return Reply{}, err
	}
	return Reply{Replaces: true, Headline: c.gaugeSetLine(gauge, outcome.Fact.No)}, nil
}
