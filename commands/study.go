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
	Options: []Option{{Name: "gauge", Takes: OwnGauge, Required: true}, machineOption, {Name: "check", Takes: Check, Required: true},
		{Name: "parts", Takes: Text, Max: 3}, {Name: "trials", Takes: Text, Max: 3}},
	Examples: []string{`/gauge study gauge:"long dial" machine:Marble check:"infeed roller" parts:5 trials:3`},
}

var gaugeMeasure = &Command{
	Name: "gauge measure", Who: Anyone, Quiet: true, Words: 25,
	Options: []Option{{Name: "study", Takes: Text, Required: true, Max: 20}, {Name: "part", Takes: Text, Required: true, Max: 3},
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
	Options:  []Option{{Name: "gauge", Takes: OwnGauge, Required: true}, {Name: "values", Takes: Text, Required: true, Max: 300}},
	Examples: []string{`/gauge repeat gauge:"long dial" values:"1.02 1.03 1.02 1.02 1.03 1.02 1.01 1.02 1.03 1.02 mm"`},
}

// adoptAction makes a study's repeatability the gauge's own.
const adoptAction waiting[adopting] = "adopt"

func runStudy(c *call) (Reply, error) {
	g, err := c.shopGauge()
	if err != nil {
		return Reply{}, err
	}
	m, k, err := c.checkNamed()
	if err != nil {
		return Reply{}, err
	}
	switch {
	case k.Inspection:
		return Reply{}, &userError{key: "study.inspection", data: words.D{"Check": capital(k.Name)}, example: c.exampleOf(gaugeStudy)}
	case quantity.Base(k.Kind()).Step().Kind() != g.Measures():
		return Reply{}, &userError{key: "study.kind", data: words.D{"Gauge": words.User(g.Name), "Of": g.Measures().String(), "Check": k.Name}, example: c.exampleOf(gaugeStudy)}
	}
	parts, err := c.wholeOption("parts", 5, 2, 20)
	if err != nil {
		return Reply{}, err
	}
	trials, err := c.wholeOption("trials", 3, 2, 10)
	if err != nil {
		return Reply{}, err
	}
	tolerance := k.AlikeAdjust
	if k.Adjust.Low.Valid() && k.Adjust.High.Valid() {
		tolerance = k.Adjust.High.Sub(k.Adjust.Low)
	}
	o, err := c.report(domain.Machine{}, domain.StudyBegun{Gauge: g.Name, Machine: m.ID, Check: k.ID, Name: k.Name, Tolerance: tolerance,
		Entry: k.Entry[m.UnitsIn(c.shop)], Kind: k.Kind(), Parts: parts, Trials: trials})
	if err != nil {
		return Reply{}, err
	}
	no := strconv.FormatInt(int64(o.Fact.No), 10)
	return Reply{Headline: c.say("study.begun", words.D{"Gauge": words.User(g.Name), "No": o.Fact.No}),
		Lines: []string{c.say("study.how", words.D{"Parts": parts, "Trials": trials}), c.say("example", words.D{"Example": "/gauge measure study:" + no + ` part:1 values:"` + exampleRepeats(k.Example, k.Entry[m.UnitsIn(c.shop)], trials) + `"`}),
			c.say("study.then", words.D{"Example": "/gauge result study:" + no})}}, nil
}

// exampleRepeats is the same value n times.
func exampleRepeats(v quantity.Value, u quantity.Unit, n int) string {
	parts := make([]string, n)
	for i := range parts {
		parts[i] = strings.TrimSuffix(quantity.Format(v, u, 3), " "+string(u))
	}
	return strings.Join(parts, " ") + " " + string(u)
}

// study is the study that the option names, with its readings.
func (c *call) study() (domain.Fact, domain.StudyBegun, []domain.Fact, error) {
	no, err := reportNo(c.options["study"])
	if err != nil {
		return domain.Fact{}, domain.StudyBegun{}, nil, &userError{key: "report.number", data: words.D{"Given": words.User(c.options["study"])}, example: c.exampleWith("study", "12")}
	}
	f, err := c.books.Fact(c, no)
	if err != nil {
		return f, domain.StudyBegun{}, nil, err
	}
	s, ok := f.Body.(domain.StudyBegun)
	if !ok {
		return f, s, nil, &userError{key: "study.none", data: words.D{"No": no}, example: c.exampleOf(gaugeStudy)}
	}
	all, err := c.books.Study(c, no)
	return f, s, all, err
}

// tally is what each person read of each part.
func tally(s domain.StudyBegun, facts []domain.Fact) (people []domain.PersonID, read map[domain.PersonID][][]float64) {
	read = map[domain.PersonID][][]float64{}
	base := quantity.Base(s.Kind)
	for _, f := range facts {
		b, ok := f.Body.(domain.StudyReading)
		if !ok || b.Part < 1 || b.Part > s.Parts {
			continue
		}
		if read[f.For] == nil {
			read[f.For] = make([][]float64, s.Parts)
			people = append(people, f.For)
		}
		for _, v := range b.Values {
			read[f.For][b.Part-1] = append(read[f.For][b.Part-1], v.Float(base))
		}
	}
	return people, read
}

func runMeasure(c *call) (Reply, error) {
	f, s, all, err := c.study()
	if err != nil {
		return Reply{}, err
	}
	part, err := c.wholeOption("part", 1, 1, s.Parts)
	if err != nil {
		return Reply{}, err
	}
	list, err := quantity.ParseList(c.options["values"], quantity.Layout{Context: quantity.Context{Kind: s.Kind, Entry: s.Entry}, Positions: []string{""}})
	if err != nil {
		return c.askOrRefuse(err, "values", nil, "")
	}
	who := c.actor.ID
	if p := c.options["for"]; p != "" {
		who = domain.PersonID(p)
	}
	_, read := tally(s, all)
	had := 0
	if r := read[who]; r != nil {
		had = len(r[part-1])
	}
	values := list.At[0].Repeats
	if had+len(values) > s.Trials {
		return Reply{}, &userError{key: "study.full", data: words.D{"Part": part, "Trials": s.Trials, "Had": had}, example: c.exampleWith("part", strconv.Itoa(part%s.Parts+1))}
	}
	o, err := c.report(domain.Machine{}, domain.StudyReading{Study: f.No, Part: part, Values: values})
	if err != nil {
		return Reply{}, err
	}
	left := s.Parts*s.Trials - len(values)
	if r := read[who]; r != nil {
		for _, p := range r {
			left -= len(p)
		}
	}
	d := words.D{"Part": part, "Had": had + len(values), "Trials": s.Trials, "No": o.Fact.No, "N": left}
	key := "study.measured"
	if left == 0 {
		key = "study.complete"
	}
	return Reply{Headline: c.say(key, d)}, nil
}

func runResult(c *call) (Reply, error) {
	f, s, all, err := c.study()
	if err != nil {
		return Reply{}, err
	}
	people, read := tally(s, all)
	// Everybody who has read every part every time takes part.
	data := make(metrology.Study, s.Parts)
	var lacking []string
	done := 0
	for _, p := range people {
		i := slices.IndexFunc(read[p], func(v []float64) bool { return len(v) < s.Trials })
		if i >= 0 {
			lacking = append(lacking, c.say("study.lacks", words.D{"By": words.Person(string(p)), "Part": i + 1, "Had": len(read[p][i]), "Trials": s.Trials}))
			continue
		}
		done++
		for part := range data {
			data[part] = append(data[part], read[p][part])
		}
	}
	d := words.D{"Gauge": words.User(s.Gauge), "No": f.No, "Check": s.Name}
	if done == 0 {
		return Reply{Headline: c.say("study.waits", d), Lines: lacking}, nil
	}
	result, err := metrology.Analyse(data)
	if err != nil {
		return Reply{}, fmt.Errorf("analyse study %d: %w", f.No, err) // whoever is counted has read all
	}
	base := quantity.Base(s.Kind).Step()
	show := func(x float64) string { return short(quantity.FromFloat(x, base), s.Entry.Step()) }
	r := Reply{}
	tolerance := 0.0
	if s.Tolerance.Valid() {
		tolerance = s.Tolerance.Float(base)
	}
	if tolerance > 0 {
		share := result.PercentOfTolerance(tolerance)
		d["Percent"] = strconv.FormatFloat(share, 'f', 0, 64) + " %"
		r.Headline = c.say("study.fit."+string(metrology.Fit(share)), d)
	} else {
		r.Headline = c.say("study.fit.unknown", d)
	}
	r.Lines = append(r.Lines, c.say("study.repeatability", words.D{"S": show(result.Repeatability), "Nu": strconv.FormatFloat(result.RepeatabilityDoF, 'f', 0, 64)}))
	if done > 1 {
		r.Lines = append(r.Lines, c.say("study.reproducibility", words.D{"S": show(result.Reproducibility), "People": done}))
	} else {
		r.Lines = append(r.Lines, c.say("study.alone", nil))
	}
	r.Lines = append(r.Lines, c.say("study.parts", words.D{"S": show(result.PartSpread), "Percent": strconv.FormatFloat(result.Percent, 'f', 0, 64) + " %", "Distinct": result.Distinct}))
	if tolerance > 0 && result.PartSpread > 0 && result.Gauge > 0 {
		// Pieces that spread as these parts do about the middle of the tolerance,
		// accepted where they read within it.
		risk := metrology.RisksOf(0, result.PartSpread, result.Gauge, [2]float64{-tolerance / 2, tolerance / 2}, [2]float64{-tolerance / 2, tolerance / 2})
		r.Lines = append(r.Lines, c.say("study.risk", words.D{"Consumer": percent(risk.Consumer), "Producer": percent(risk.Producer)}))
	}
	r.Lines = append(append(r.Lines, lacking...), c.say("study.source", nil))
	if result.Repeatability > 0 && c.steward() {
		r.Buttons = []Button{{Label: c.say("button.adopt", nil), Style: Primary, Custom: wait(c, adoptAction, adopting{s.Gauge, quantity.FromFloat(result.Repeatability, base), result.RepeatabilityDoF})}}
	}
	return r, nil
}

// adopting is a repeatability that waits to be made a gauge's own.
type adopting struct {
	Gauge string         `json:"gauge"`
	S     quantity.Value `json:"s"`
	DoF   float64        `json:"dof"`
}

func runRepeat(c *call) (Reply, error) {
	g, err := c.shopGauge()
	if err != nil {
		return Reply{}, err
	}
	list, err := quantity.ParseList(c.options["values"], quantity.Layout{Context: c.entryOf(g.Measures()), Positions: []string{""}})
	if err != nil {
		return c.askOrRefuse(err, "values", nil, "")
	}
	values := list.At[0].Repeats
	if len(values) < 10 {
		return Reply{}, &userError{key: "study.ten", data: words.D{"Given": len(values)}, example: gaugeRepeat.Examples[0]}
	}
	base := quantity.Base(g.Measures())
	floats := make([]float64, len(values))
	for i, v := range values {
		floats[i] = v.Float(base)
	}
	rep := metrology.Describe(floats, g.Resolution.Float(base))
	s := quantity.FromFloat(rep.S, base)
	r := Reply{Headline: c.say("study.quick", words.D{"Gauge": words.User(g.Name), "S": short(s, list.Unit), "Reps": rep.N, "Nu": rep.N - 1})}
	if rep.Outlier >= 0 {
		r.Lines = append(r.Lines, c.say("reading.outlier", words.D{"Position": capital(g.Name), "Value": quantity.Typed(values[rep.Outlier], list.Unit)}))
	}
	if rep.S == 0 {
		r.Lines = append(r.Lines, c.say("study.still", nil))
		return r, nil
	}
	r.Buttons = []Button{{Label: c.say("button.adopt", nil), Style: Primary, Custom: wait(c, adoptAction, adopting{g.Name, s, float64(rep.N - 1)})}}
	return r, nil
}

func runAdopt(c *call, w adopting) (Reply, error) {
	g, ok, err := c.ownGauge(w.Gauge)
	if err != nil {
		return Reply{}, err
	}
	if !ok {
		return Reply{}, &domain.Refusal{Code: domain.PendingGone}
	}
	g.Repeatability, g.DoF = w.S, w.DoF
	o, err := c.report(domain.Machine{}, domain.GaugeSet{Gauge: g})
	if err != nil {
		return Reply{}, err
	}
	return Reply{Replaces: true, Headline: c.say("gauge.done", words.D{"Gauge": c.gaugeLine(g.GaugeUsed, g.Measures()), "No": o.Fact.No})}, nil
}
