package commands

import (
	"slices"
	"strconv"
	"strings"

	"setscrew/commands/plot"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

var whyCommand = &Command{
	Name: "why", Who: Anyone, Quiet: true, Slow: true, Words: 470, // it may draw a picture
	Options: []Option{{Name: "report", Takes: Text, Max: 20}, {Name: "machine", Takes: Machine},
		{Name: "check", Takes: Check}, {Name: "service", Takes: Service}, {Name: "problem", Takes: OpenProblem, Max: 200}},
	Examples: []string{`/why machine:Marble check:"infeed roller"`, `/why machine:Marble service:bushings`, `/why report:12`},
}

// whyAction explains a report by its number.
const whyAction lasting[factArg] = "why"

func runWhy(c *call) (Reply, error) {
	switch {
	case c.options["report"] != "":
		no, err := reportNo(c.options["report"])
		if err != nil {
			return Reply{}, &userError{key: "report.number", data: words.D{"Given": words.User(c.options["report"])}, example: "/why report:12"}
		}
		return runWhyReport(c, factArg(no))
	case c.options["machine"] == "":
		return Reply{}, &userError{key: "why.what", example: c.exampleOf(whyCommand)}
	}
	m, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	switch {
	case c.options["service"] != "":
		s, err := c.service(m.Profile)
		if err != nil {
			return Reply{}, err
		}
		return c.whyService(st, s.ID)
	case c.options["problem"] != "":
		st, p, err := c.problemNamed()
		if err != nil {
			return Reply{}, err
		}
		return c.whyProblem(st, p)
	case c.options["check"] != "":
		k, err := c.check(m.Profile)
		if err != nil {
			return Reply{}, err
		}
		return c.whyCheck(st, k.ID)
	}
	r := Reply{Headline: c.state(st)}
	for _, t := range st.Tags {
		r.Lines = append(r.Lines, c.tagLine(t))
	}
	r.Lines = append(r.Lines, c.blockerLines(st.Blockers)...)
	r.Lines = append(r.Lines, c.say("why.more", nil), c.exampleOf(whyCommand))
	return r, nil
}

// runWhyReport explains the report of that number: a reading by its verdict,
// anything else by what it says.
func runWhyReport(c *call, of factArg) (Reply, error) {
	f, err := c.books.Fact(c, domain.FactNo(of))
	if err != nil {
		return Reply{}, err
	}
	if f.Machine == 0 {
		return Reply{Headline: c.factLine(f, domain.Machine{})}, nil
	}
	snap, err := c.books.Snapshot(c, f.Machine)
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.factLine(f, snap.Machine)}
	key := "why.when"
	if f.By == "" {
		key += ".own"
	}
	r.Lines = append(r.Lines, c.say(key, words.D{"At": words.Time(f.At, words.DateTime), "By": words.Person(string(f.By))}))
	if f.Withdrawn != 0 {
		r.Lines = append(r.Lines, c.say("why.withdrawn", words.D{"No": f.Withdrawn}))
	}
	b, ok := f.Body.(domain.Reading)
	if !ok {
		return r, nil
	}
	// The reading is judged as it would be if it were the last one, with
	// nothing moved since.
	snap.Latest = map[string]domain.Latest{b.Check: {Fact: f.No, At: f.At, By: f.For, Check: b.Check, Reading: &b}}
	snap.Moved = nil
	e, err := c.whyCheck(domain.Assess(snap, c.now), b.Check)
	e.Lines = append(append(r.Lines, e.Headline), e.Lines...)
	e.Headline = r.Headline
	return e, err
}

// whyCheck gives a check's verdict and move with inputs, formula and source.
func (c *call) whyCheck(st domain.Status, id string) (Reply, error) {
	cs := st.Check(id)
	k := cs.Check
	r := Reply{Headline: c.say("why.check", words.D{"Machine": words.User(st.Machine.Name), "Check": k.Name, "State": c.checkState(cs)})}
	add := func(key string, d words.D) { r.Lines = append(r.Lines, c.say(key, d)) }
	how := "why.measured"
	if k.Inspection {
		how = "why.passes"
	}
	add(how, words.D{"How": k.Measured})
	if cs.Freshness == domain.Stale {
		add("why.stale", words.D{"From": st.Machine.Profile.Check(cs.StaleFrom).Name,
			"Moved": words.Time(cs.StaleBy.At, words.DateTime), "Read": words.Time(cs.Latest.At, words.DateTime)})
	}
	if k.Every != nil {
		key := "why.last"
		last := cs.Latest.At
		if cs.Freshness == domain.Unread {
			key, last = "why.never", st.Machine.Added
		}
		add(key, words.D{"At": words.Time(last, words.DateTime), "No": cs.Latest.Fact})
		how, _ := c.interval(*k.Every)
		add("why.date", words.D{"How": how, "On": words.Time(cs.Due.On, words.Date)})
	}
	if k.Inspection || cs.Freshness == domain.Unread {
		if k.Source != "" {
			add("why.source", words.D{"Source": k.Source})
		}
		return r, nil
	}
	rl := rulerFor(k, st.Machine.UnitsIn(c.shop))
	g := cs.Latest.Reading.Gauge
	by := rl.by(g)
	add("why.read", words.D{"Values": c.values(by, cs.Latest.Reading.Values), "Typed": words.User(cs.Latest.Reading.Typed)})
	key := "why.gauge"
	if g.Assumed {
		key += ".assumed"
	}
	add(key, words.D{"Gauge": words.User(g.Name)})
	if late := c.calibrationLine(g, ""); late != "" {
		r.Lines = append(r.Lines, late)
	}
	for i, p := range cs.At {
		if i == 0 || p.Budget.Expanded != cs.At[0].Budget.Expanded {
			r.Lines = append(r.Lines, c.budgetLines(k, p, rl)...)
		}
		if n := cs.Latest.Reading.Values[i].Repeats; len(n) > 1 {
			add("why.repeats", words.D{"Position": place(k, p.Position), "Reps": len(n), "Mean": by.show(p.Verdict.Value), "S": short(quantity.FromFloat(p.Repeats.S, quantity.Base(k.Kind())), rl.unit.Step())})
		}
	}
	if k.Target.Valid() {
		r.Lines = append(r.Lines, capital(c.modeName(k))+c.say("why.limits", words.D{"Target": rl.exactly(k.Target), "Adjust": c.band(rl, k.Adjust), "Stop": c.band(rl, k.Stop)}))
	}
	add("why.rule", nil)
	for _, p := range cs.At {
		if !k.Target.Valid() {
			break
		}
		add("why.position", words.D{"Position": place(k, p.Position), "Value": by.show(p.Verdict.Value), "Likely": percent(p.Budget.Probability(p.Verdict.Value, k.Adjust)),
			"Adjust": c.say("proof."+p.Verdict.AdjustProof.String(), nil), "Stop": c.say("proof."+p.Verdict.StopProof.String(), nil)})
	}
	if a := cs.Alike; a != nil && a.Low != a.High {
		key := "why.alike"
		if a.Shared {
			key += ".shared"
		}
		add(key, words.D{"Low": a.Low, "High": a.High, "By": rl.size(a.Verdict.Value, k.AlikeAdjust), "U": rl.doubt(a.Verdict.Uncertainty),
			"Most": rl.size(k.AlikeAdjust, a.Verdict.Value), "Proof": c.say("proof."+a.Verdict.AdjustProof.String(), nil)})
	}
	r.Lines = append(r.Lines, c.angleLines(cs, rl)...)
	if b := k.Body; b != nil && b.Kind == profile.Belt {
		key := "why.belt"
		if k.Kind() == quantity.Force {
			key = "why.belt.force"
		}
		length := func(v quantity.Value) string {
			if st.Machine.UnitsIn(c.shop) == quantity.Imperial {
				return quantity.Format(v, quantity.Inch, 2)
			}
			return quantity.Format(v, quantity.Millimetre, 0)
		}
		add(key, words.D{"Tension": quantity.Format(b.Tension(cs.At[0].Verdict.Value), quantity.Newton, 0), "Target": quantity.Format(b.Tension(k.Target), quantity.Newton, 0),
			"Mass": quantity.Typed(b.Mass, quantity.KilogramMetre), "Span": length(b.Span()), "Belt": length(b.Length())})
	}
	drift, err := c.whyDrift(st, cs, rl)
	if err != nil {
		return Reply{}, err
	}
	r.Lines = append(r.Lines, drift...)
	if adjusting := st.Adjusting(k.ID); adjusting.Plan != nil {
		r.Lines = append(r.Lines, c.planWhy(st.Machine, adjusting, rl)...)
	}
	for _, s := range st.Caps() {
		if s.Cap.Check == k.ID {
			r.Lines = append(append(r.Lines, c.capLine(st.Machine, s)...), c.capWhy(s, rl)...)
		}
	}
	add("why.source", words.D{"Source": k.Source})
	item := domain.CheckItem(id)
	if k.Mode != "" {
		item = domain.ModeItem(id, k.Mode)
	}
	if slices.Contains(st.Starting, item) {
		add("why.starting", nil)
	}
	if cs.Predicted != nil {
		f := k.Follows
		key := "why.expect"
		if f.Opposite {
			key += ".opposite"
		}
		add(key, words.D{"Values": c.values(rl, predicted(cs)), "From": st.Machine.Profile.Check(f.Check).Name})
	}
	if series := c.limitSeries(cs, rl); series != nil {
		r.Picture = &Picture{Name: "limits", Alt: c.say("picture.limits", words.D{"Check": k.Name,
			"Values": c.values(rl, cs.Latest.Reading.Values), "Band": c.band(rl, k.Adjust)}), Data: series}
	}
	return r, nil
}

// planWhy is the arithmetic of a plan: what was wanted, each screw, and what is
// to be expected.
func (w *wording) planWhy(m domain.Machine, cs domain.Adjusting, rl ruler) []string {
	p := cs.Plan
	key := "why.plan"
	switch {
	case p.Drive == profile.Slide:
		key = "why.plan.slide"
	case p.Drive == profile.Eccentric:
		key = "why.plan.eccentric"
	}
	lines := []string{w.say(key, nil)}
	for _, mv := range p.Moves {
		if p.Drive != profile.Slide {
			lines = append(lines, w.turnsLine(m, cs.Check, mv, rl))
		}
	}
	for _, e := range p.Expect {
		lines = append(lines, w.say("why.expected", words.D{"Position": place(cs.Check, e.Position), "Before": rl.show(e.Before), "Then": rl.show(e.Reading), "U": rl.doubt(e.U)}))
	}
	d := words.D{"Likely": percent(p.Pass), "Tries": ""}
	if p.Pass > 0.01 {
		d["Tries"] = strconv.FormatFloat(p.Tries, 'f', 2, 64)
	}
	return append(lines, w.say("why.pass", d))
}

// turnsLine is the arithmetic of one adjuster.
func (w *wording) turnsLine(m domain.Machine, k *profile.Check, mv domain.Adjustment, rl ruler) string {
	a := m.Profile.Adjuster(mv.Adjuster)
	name := capital(a.Name)
	if k.Body == nil {
		name = place(k, mv.Position)
	}
	if a.Drive == profile.Shims {
		return w.say("why.shims", words.D{"Name": name, "By": rl.exactly(mv.By), "Stack": rl.exactly(sum(mv.Pieces))})
	}
	d := words.D{"Name": name, "Step": turnsText(a, a.Increment), "Turns": turnsText(a, mv.Turns.Abs()), "Thread": a.Thread,
		"Exact": "", "Lead": "", "Gain": strconv.FormatFloat(mv.Gain, 'f', 2, 64), "GainU": strconv.FormatFloat(2*mv.GainU, 'f', 2, 64), "Tries": mv.Learned, "First": mv.First}
	exact, _ := mv.Exact.Abs().In(quantity.Turn).Float64()
	d["Exact"] = strconv.FormatFloat(exact, 'f', 2, 64)
	if a.Drive == profile.Eccentric {
		d["Lead"] = quantity.Show(a.Lead, rl.unit.Step(), max(rl.decimals, 0))
		return w.say("why.eccentric", d)
	}
	switch {
	case a.Lead.Kind() == quantity.Angle:
		d["Lead"] = quantity.Format(a.Lead, quantity.Degree, 2)
	case rl.unit.Kind() != quantity.Length:
		d["Lead"] = quantity.Format(a.Lead, quantity.Millimetre, 2)
	default:
		d["Lead"] = quantity.Show(a.Lead, rl.unit.Step(), max(rl.decimals, 0))
	}
	return w.say("why.turn", d)
}

// limitSeries is what the picture of a check's limits shows.
func (w *wording) limitSeries(cs *domain.CheckStatus, rl ruler) *plot.Limits {
	k := cs.Check
	if !k.Target.Valid() {
		return nil // no limits to draw
	}
	return w.limits(cs, rl)
}

// limits is a check's readings, with its target and limits where it has any.
func (w *wording) limits(cs *domain.CheckStatus, rl ruler) *plot.Limits {
	k := cs.Check
	s := &plot.Limits{Title: k.Name, Unit: string(rl.unit),
		TargetLabel: w.say("plot.target", nil), AdjustLabel: w.say("plot.adjust", nil), StopLabel: w.say("plot.stop", nil)}
	set := func(v quantity.Value, to **float64) {
		if v.Valid() {
			f := v.Float(rl.unit)
			*to = &f
		}
	}
	set(k.Target, &s.Target)
	set(k.Adjust.Low, &s.AdjustLow)
	set(k.Adjust.High, &s.AdjustHigh)
	set(k.Stop.Low, &s.StopLow)
	set(k.Stop.High, &s.StopHigh)
	for _, p := range cs.At {
		s.Points = append(s.Points, plot.Point{Name: p.Position, Value: p.Verdict.Value.Float(rl.unit),
			Uncertainty: p.Verdict.Uncertainty.Float(rl.unit), Label: rl.show(p.Verdict.Value)})
	}
	return s
}

// whyService gives a service's due point with its inputs.
func (c *call) whyService(st domain.Status, id string) (Reply, error) {
	s := st.Service(id)
	if s == nil {
		return Reply{}, &userError{key: "why.noservice", example: "/due"}
	}
	from := s.From()
	r := Reply{Headline: c.dueLine(s.Service.Name, *s), Lines: []string{c.ruleLine(st.Machine.Profile, s.Service)}}
	d := words.D{"At": words.Time(from.At, words.DateTime), "No": from.Fact}
	key := "why.last"
	switch e := st.Machine.Profile.Event(s.Service.After); {
	case s.Last.Fact == 0 && from.Fact == 0:
		key = "why.never"
	case s.Last.Fact == 0:
		key, d["Event"] = "why.since", e.Name
	}
	r.Lines = append(r.Lines, c.say(key, d))
	if every := s.Rule.Hours; every.Valid() {
		r.Lines = append(r.Lines, c.say("why.hours", words.D{"Every": quantity.FormatDuration(every), "Since": quantity.FormatDuration(every.Sub(s.Due.Left)), "Left": signedHours(s.Due.Left)}))
		r.Lines = append(r.Lines, c.reportingLines(st)...)
	}
	if !s.Due.On.IsZero() {
		dated := s.Rule
		dated.Hours = quantity.Value{}
		how, _ := c.interval(dated)
		r.Lines = append(r.Lines, c.say("why.date", words.D{"How": how, "On": words.Time(s.Due.On, words.Date)}))
	}
	likely, err := c.whyLikely(st, *s)
	if err != nil {
		return Reply{}, err
	}
	r.Lines = append(r.Lines, likely...)
	for _, b := range s.Because {
		r.Lines = append(r.Lines, c.say("why.because", words.D{"Name": words.User(b.Name), "No": b.Fact, "At": words.Time(b.At, words.DateTime)}))
	}
	if s.TooEarly {
		r.Lines = append(r.Lines, c.say("service.early", nil))
	}
	source := c.say("why.source", words.D{"Source": s.Service.Source})
	if _, own := st.Machine.Setup.Intervals[domain.ServiceItem(s.Service.ID)]; own {
		source = c.say("why.source.own", nil)
	}
	r.Lines = append(r.Lines, source)
	return r, nil
}

func signedHours(v quantity.Value) string {
	if v.Sign() < 0 {
		return "-" + quantity.FormatDuration(v.Abs())
	}
	return quantity.FormatDuration(v)
}

// factLine says what a fact reports, in a few words.
func (w *wording) factLine(f domain.Fact, m domain.Machine) string {
	d := words.D{"Machine": words.User(m.Name), "No": f.No}
	name := func(check string) string {
		if m.Profile != nil {
			if k := m.Profile.Check(check); k != nil {
				return k.Name
			}
		}
		return check
	}
	switch b := f.Body.(type) {
	case domain.Hours:
		d["Used"] = quantity.FormatDuration(b.Used())
	case domain.CounterRead:
		d["Shown"] = counterText(b)
	case domain.EventSeen:
		d["Event"] = b.Event
		if e := m.Profile.Event(b.Event); e != nil {
			d["Event"] = e.Name
		}
	case domain.Mended:
		d["Problem"] = words.User(b.Name)
	case domain.Found:
		d["Problem"], d["About"] = words.User(b.Key), b.About
		if s := m.Profile.Symptom(b.Key); s != nil {
			d["Problem"] = s.Name
		}
		kind, id, _ := strings.Cut(b.About, ":")
		if q := m.Profile.Question(id); kind == "question" && q != nil {
			d["About"] = q.Ask
		}
		if k := m.Profile.Cause(id); kind == "cause" && k != nil {
			d["About"] = k.Name
		}
		d["Answer"] = w.say("said."+string(b.Answer), nil)
	case domain.Reading:
		d["Check"], d["Typed"] = name(b.Check), words.User(b.Typed)
	case domain.Inspection:
		d["Check"], d["Result"] = name(b.Check), w.say("sheet.failed", nil)
		if b.Pass {
			d["Result"] = w.say("sheet.passed", nil)
		}
	case domain.Problem:
		d["Problem"] = words.User(b.Name)
	case domain.ServiceDone:
		d["Service"] = b.Service
		if s := m.Profile.Service(b.Service); s != nil {
			d["Service"] = s.Name
		}
	case domain.StockCounted:
		d["Item"], d["Left"] = words.User(b.Name), b.Left
	case domain.SetMoved:
		d["Set"], d["Where"] = words.User(b.Set), w.say("blades.place."+string(b.Where), nil)
	case domain.TakenOver:
		d["Of"] = b.Of
	case domain.PutOff:
		d["Service"] = serviceName(m, b.Service)
	case domain.Taken:
		d["Service"] = serviceName(m, b.Service)
	case domain.Move:
		d["Check"] = name(b.Check)
	case domain.MoveAnswer:
		d["Of"], d["Check"] = b.Of, name(b.Check)
	case domain.TagOut:
		d["Reason"] = w.reason(b.Reason)
	case domain.StudyBegun:
		d["Gauge"], d["Check"] = words.User(b.Gauge), b.Name
	case domain.StudyReading:
		d["Study"], d["Part"] = b.Study, b.Part
	case domain.Withdrawal:
		d["Of"] = b.Of
	case domain.ReadingConfirmed:
		d["Of"] = b.Of
	}
	return w.say("fact."+string(f.Body.FactKind()), d)
}

// capWhy lists what the advice on spring caps stands on.
func (w *wording) capWhy(s domain.CapStatus, rl ruler) []string {
	lines := []string{w.say("why.caps", words.D{"Step": rl.exactly(s.Cap.Step)})}
	for _, x := range s.Reports {
		key := "why.cap.marks"
		if x.Stutters {
			key = "why.cap.stutters"
		}
		lines = append(lines, w.say(key, words.D{"No": x.Fact, "Height": rl.show(x.Height)}))
	}
	return lines
}

// angleLines say at what angle a tilted head or a turned piece stands, and how far
// a tailstock is to be set over.
func (w *wording) angleLines(cs *domain.CheckStatus, rl ruler) []string {
	b := cs.Check.Body
	if b == nil || b.Kind != profile.Tilt && b.Kind != profile.Taper {
		return nil
	}
	var read []quantity.Value
	for _, p := range cs.At {
		read = append(read, p.Verdict.Value)
	}
	angle, err := b.Angle(cs.Check.Positions, read)
	if err != nil {
		return nil
	}
	d := words.D{"Angle": quantity.Format(angle, quantity.Degree, 3)}
	if b.Kind == profile.Tilt || len(read) != 2 {
		return []string{w.say("why.tilt", d)}
	}
	d["Over"] = rl.size(b.SetOver(cs.Check.Positions, read))
	return []string{w.say("why.taper", d)}
}
