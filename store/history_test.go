package store_test

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// step is one thing that happens to the planer in a history. Its text is a line:
//
//	HOUR WHAT at=MINUTES of=FACT n=NUMBER word=WORD
//
// with what is not needed left out.
type step struct {
	hour int // after the start, at which it is typed; no two steps of a history share one
	what string
	at   int // minutes after the start, at which it happened
	of   factRef
	n    int64
	word string
}

// factRef names a fact in a history by how it came there, so that it means the same
// fact after steps before it were left out: the nth (from 0) that the step of an hour
// led to, or, for hour 0, the nth of the set-up. Its text is "HOUR" or "HOUR+NTH";
// the zero factRef is no fact's, since the set-up's are counted from 1.
type factRef struct{ hour, nth int }

func (r factRef) String() string {
	if r.hour > 0 && r.nth == 0 {
		return strconv.Itoa(r.hour)
	}
	return fmt.Sprintf("%d+%d", r.hour, r.nth)
}

func (st step) String() string {
	line := fmt.Sprintf("%d %s at=%d", st.hour, st.what, st.at)
	if st.of != (factRef{}) {
		line += " of=" + st.of.String()
	}
	if st.n != 0 {
		line += fmt.Sprint(" n=", st.n)
	}
	if st.word != "" {
		line += " word=" + st.word
	}
	return line
}

// writeHistory writes steps as text, which readHistory reads.
func writeHistory(steps []step) string {
	lines := make([]string, len(steps))
	for i, st := range steps {
		lines[i] = st.String()
	}
	return strings.Join(lines, "\n") + "\n"
}

// readHistory reads steps, one a line; empty lines and those that begin with "//" are
// passed over.
func readHistory(text string) (steps []step, err error) {
	for i, line := range strings.Split(text, "\n") {
		if line = strings.TrimSpace(line); line == "" || strings.HasPrefix(line, "//") {
			continue
		}
		st, err := readStep(line)
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", i+1, err)
		}
		steps = append(steps, st)
	}
	return steps, nil
}

func readStep(line string) (st step, err error) {
	words := strings.Fields(line)
	if len(words) < 2 {
		return st, fmt.Errorf("%q is no step", line)
	}
	if st.hour, err = strconv.Atoi(words[0]); err != nil {
		return st, fmt.Errorf("read the hour: %w", err)
	}
	if st.what = words[1]; operationOf(st.what) == nil {
		return st, fmt.Errorf("nothing is called %q", st.what)
	}
	for _, word := range words[2:] {
		name, value, _ := strings.Cut(word, "=")
		switch name {
		case "at":
			st.at, err = strconv.Atoi(value)
		case "of":
			hour, nth, _ := strings.Cut(value, "+")
			if st.of.hour, err = strconv.Atoi(hour); err == nil && nth != "" {
				st.of.nth, err = strconv.Atoi(nth)
			}
		case "n":
			st.n, err = strconv.ParseInt(value, 10, 64)
		case "word":
			st.word = value
		default:
			err = fmt.Errorf("nothing of a step is called %q", name)
		}
		if err != nil {
			return st, fmt.Errorf("read %q: %w", word, err)
		}
	}
	return st, nil
}

// operation is one sort of step.
type operation struct {
	what   string
	weight int  // how often it is drawn, against the others
	about  bool // it is about a fact
	draw   func(*rand.Rand, *step)
	body   func(*player, step) (domain.Body, error)
	// example is a history, in short (see readExample), whose last step is of this sort
	// and is taken: what has to happen before it, and what is said.
	example string
}

// readExample reads a history in short: steps one after another, between semicolons, each
// an hour after the one before, unless it begins with its hour, and of the moment at which
// it is typed.
func readExample(text string) (steps []step, err error) {
	hour := 0
	for line := range strings.SplitSeq(text, ";") {
		first, _, _ := strings.Cut(strings.TrimSpace(line), " ")
		if at, err := strconv.Atoi(first); err == nil {
			hour = at
		} else {
			hour++
			line = fmt.Sprint(hour, " ", line)
		}
		st, err := readStep(line)
		if err != nil {
			return nil, err
		}
		st.at = hour * 60
		steps = append(steps, st)
	}
	return steps, nil
}

// plain is the body of an operation that needs nothing of the machine.
func plain(body func(step) domain.Body) func(*player, step) (domain.Body, error) {
	return func(_ *player, st step) (domain.Body, error) { return body(st), nil }
}

// always is the body of an operation that is ever the same.
func always(b domain.Body) func(*player, step) (domain.Body, error) {
	return func(*player, step) (domain.Body, error) { return b, nil }
}

// ofLock is a report about the oldest lock that is on, or about none.
func ofLock(body func(domain.Tag) domain.Body) func(*player, step) (domain.Body, error) {
	return func(p *player, _ step) (domain.Body, error) {
		snap, err := p.shop.Snapshot(ctx, marble)
		for _, tag := range snap.Tags {
			if tag.Locked() {
				return body(tag), err
			}
		}
		return body(domain.Tag{}), err
	}
}

// oneOf draws a word; with one of "-" nothing is said.
func oneOf(words ...string) func(*rand.Rand, *step) {
	return func(r *rand.Rand, st *step) { st.word = words[r.IntN(len(words))] }
}

// surfaces are those after a comma in a word, nil for none.
func surfaces(word string) (id string, moved []string) {
	id, one, moves := strings.Cut(word, ",")
	if moves {
		moved = []string{one}
	}
	return id, moved
}

// operations are all sorts of step.
var operations = []operation{
	{"hours", 8, false, func(r *rand.Rand, st *step) { st.n = 1 + r.Int64N(20000) },
		plain(func(st step) domain.Body { return domain.Hours{Seconds: st.n} }), "hours n=3600"},
	{"counter", 5, false, func(r *rand.Rand, st *step) {
		st.n, st.word = r.Int64N(100000), []string{"", "", "", "new", "rolled"}[r.IntN(5)]
	}, plain(func(st step) domain.Body {
		return domain.CounterRead{Seconds: st.n, New: st.word == "new", Rolled: st.word == "rolled"}
	}), "counter n=3600"},
	{"reading", 4, false, func(r *rand.Rand, st *step) { st.n = []int64{40, 46, 61, 70}[r.IntN(4)] },
		func(p *player, st step) (domain.Body, error) { return p.reading("infeed", st.n, quantity.Thou) },
		"reading n=46"},
	{"unlikely", 2, false, nil, func(p *player, st step) (domain.Body, error) {
		b, err := p.reading("infeed", 400, quantity.Thou)
		b.Unconfirmed = true
		return b, err
	}, "unlikely"},
	{"confirm", 3, true, nil, func(p *player, st step) (domain.Body, error) {
		return domain.ReadingConfirmed{Of: p.number(st.of)}, nil
	}, "unlikely; confirm of=1"},
	{"inspect", 2, false, oneOf("pass", "fail"),
		plain(func(st step) domain.Body { return domain.Inspection{Check: "fingers", Pass: st.word == "pass"} }),
		"inspect word=pass"},
	{"service", 4, false, oneOf("bushings", "gearbox-oil"),
		plain(func(st step) domain.Body { return domain.ServiceDone{Service: st.word} }),
		"service word=bushings"},
	{"event", 3, false, oneOf("belts-changed", "belts-changed,belts", "knives-changed", "knives-changed,knives"),
		plain(func(st step) domain.Body {
			id, moved := surfaces(st.word)
			return domain.EventSeen{Event: id, Surfaces: moved}
		}), "event word=belts-changed,belts"},
	{"move", 4, true, func(r *rand.Rand, st *step) {
		st.n, st.word = []int64{-1, 1, 3}[r.IntN(3)], []string{"", "last"}[r.IntN(2)]
	}, func(p *player, st step) (domain.Body, error) {
		of := p.number(st.of)
		if st.word == "last" { // it is planned from the last reading, as it should be
			snap, err := p.shop.Snapshot(ctx, marble)
			if err != nil {
				return nil, err
			}
			of = snap.Latest["infeed"].Fact
		}
		return domain.Move{Check: "infeed", Reading: of,
			Turned: []domain.Turns{{Adjuster: "infeed-left", Turns: quantity.New(st.n, 8, quantity.Turn)}}}, nil
	}, "reading n=46; move of=1 n=1"},
	{"said", 3, true, oneOf(string(domain.TurnedOther), string(domain.TurnedAsSaid)),
		func(p *player, st step) (domain.Body, error) {
			return domain.MoveAnswer{Of: p.number(st.of), Check: "infeed", Said: domain.HowTurned(st.word)}, nil
		}, "reading n=46; move of=1 n=1; said of=2 word=as-said"},
	{"put-off", 2, false, nil, plain(func(st step) domain.Body {
		return domain.PutOff{Service: "bushings", Until: start.Add(time.Duration(st.hour+30) * time.Hour), Why: "x"}
	}), "put-off"},
	{"extended", 2, false, nil, always(domain.Extended{Check: "fingers", Days: 1, Why: "x"}), "extended"},
	{"taken", 2, false, oneOf("bushings", "dust"),
		plain(func(st step) domain.Body { return domain.Taken{Service: st.word} }), "taken word=bushings"},
	{"handover", 2, false, nil, always(domain.Handover{Apart: "hood", Next: "fit it"}), "handover"},
	{"taken-over", 2, true, nil, func(p *player, st step) (domain.Body, error) {
		snap, err := p.shop.Snapshot(ctx, marble)
		if err != nil || snap.Handover == nil {
			return domain.TakenOver{Of: p.number(st.of)}, err
		}
		return domain.TakenOver{Of: snap.Handover.Fact}, nil
	}, "handover; taken-over"},
	{"set", 2, false, oneOf("a", "b"), plain(func(st step) domain.Body {
		return domain.SetMoved{Set: st.word, Where: domain.Fitted}
	}), "set word=a"},
	{"interval", 2, false, func(r *rand.Rand, st *step) {
		st.n, st.word = r.Int64N(13), []string{"bushings", "gearbox-oil"}[r.IntN(2)]
	}, func(p *player, st step) (domain.Body, error) {
		snap, err := p.shop.Snapshot(ctx, marble)
		if err != nil {
			return nil, err
		}
		var every *domain.Interval // back to the profile's
		if st.n > 0 {
			every = &domain.Interval{Hours: quantity.New(st.n, 1, quantity.Hour), Months: int(st.n)}
		}
		item := domain.ServiceItem.Of(st.word)
		return domain.SetupChanged{Item: item, Setup: snap.Machine.Setup.WithInterval(item, every)}, nil
	}, "interval n=3 word=bushings"},
	{"loosen", 2, false, nil, func(p *player, _ step) (domain.Body, error) {
		snap, err := p.shop.Snapshot(ctx, marble)
		if err != nil {
			return nil, err
		}
		return loosening(snap.Machine, 30), nil
	}, "loosen"},
	{"caps", 3, false, func(r *rand.Rand, st *step) { st.n = 2 + r.Int64N(5) },
		func(p *player, st step) (domain.Body, error) {
			b, err := p.reading("infeed-caps", 1, quantity.Inch)
			for i := range b.Values {
				b.Values[i].Repeats[0] = quantity.New(st.n, 32, quantity.Inch)
			}
			return b, err
		}, "caps n=3"},
	{"board", 2, false, oneOf("marks", "stutter"),
		plain(func(st step) domain.Body { return domain.Problem{Symptom: st.word, Name: "board"} }),
		"board word=marks"},
	{"problem", 4, false, oneOf("snipe", "snipe,belts", "", ",belts"), plain(func(st step) domain.Body {
		id, moved := surfaces(st.word)
		return domain.Problem{Symptom: id, Name: "Odd", Surfaces: moved}
	}), "problem word=snipe"},
	{"danger", 2, false, nil, always(domain.Problem{Symptom: "smoke", Name: "smoke", Danger: true}), "danger"},
	{"mended", 3, false, oneOf("snipe", "odd"),
		plain(func(st step) domain.Body { return domain.Mended{Key: st.word} }),
		"problem word=snipe; mended word=snipe"},
	{"tag", 2, false, nil, always(hangsTag), "tag"},
	{"lock", 2, false, nil, always(domain.TagOut{Reason: domain.Reason{Code: domain.LockOn, Text: "knives"}}),
		"lock"},
	{"lock-asked", 3, false, nil, ofLock(func(tag domain.Tag) domain.Body { return domain.LockAsked{Tag: tag.Fact} }),
		"lock; lock-asked"},
	{"lock-kept", 1, false, nil, ofLock(func(tag domain.Tag) domain.Body { return domain.LockKept{Tag: tag.Fact} }),
		"lock; lock-asked; lock-kept"},
	{"lock-noted", 3, false, nil, ofLock(func(tag domain.Tag) domain.Body {
		return domain.LockProcedure{Tag: tag.Fact, Note: "nobody inside"}
	}), "lock; lock-asked; 40 lock-noted"},
	{"lock-confirmed", 3, false, nil, ofLock(func(tag domain.Tag) domain.Body {
		return domain.LockOff{Tag: tag.Fact, Procedure: max(tag.Lock.Noted.Fact, 1)}
	}), "lock; lock-asked; 40 lock-noted; lock-confirmed"},
	{"lock-off", 2, false, nil, ofLock(func(tag domain.Tag) domain.Body { return domain.LockOff{Tag: tag.Fact} }),
		"lock; lock-off"},
	{"pressed", 2, false, nil, always(domain.TagOut{Reason: domain.Reason{Code: domain.Pressed}}), "pressed"},
	{"mistake", 3, true, nil, func(p *player, st step) (domain.Body, error) {
		return domain.Mistake{Of: p.number(st.of)}, nil
	}, "pressed; mistake of=1"},
	{"test", 3, false, nil, func(p *player, st step) (domain.Body, error) { return seenTo(p.shop, marble) },
		"tag; test"},
	{"test-ended", 1, false, nil, always(domain.TestEnded{}), "tag; test; test-ended"},
	{"test-renewed", 2, false, nil, func(p *player, st step) (domain.Body, error) {
		snap, err := p.shop.Snapshot(ctx, marble)
		if err != nil || snap.Test == nil {
			return domain.TestRenewed{}, err
		}
		return domain.TestRenewed{Test: snap.Test.Fact}, nil
	}, "tag; test; test-renewed"},
	{"seen-to", 2, false, nil, func(p *player, st step) (domain.Body, error) {
		snap, err := p.shop.Snapshot(ctx, marble)
		if err != nil {
			return nil, err
		}
		seen := domain.SeenTo{}
		for _, alarm := range domain.Assess(snap, start.Add(time.Duration(st.hour)*time.Hour)).Alarms {
			seen.Of = alarm.Fact
		}
		return seen, nil
	}, "danger; seen-to"},
	{"release", 3, false, nil, always(domain.Release{Owner: domain.OwnerAsked, Note: "seen to"}),
		"tag; test; release"},
	{"withdraw", 12, true, nil, func(p *player, st step) (domain.Body, error) {
		return domain.Withdrawal{Of: p.number(st.of)}, nil
	}, "hours n=60; withdraw of=1"},
	{"gauge", 1, false, oneOf("dial", "feelers"), plain(func(st step) domain.Body {
		return domain.GaugeSet{Gauge: domain.OwnGauge{GaugeUsed: domain.GaugeUsed{Name: st.word}}}
	}), "gauge word=dial"},
	{"settings", 1, false, oneOf("Quarry", "Street"), plain(func(st step) domain.Body {
		settings := domain.NewShop("one")
		settings.Name = st.word
		return domain.ShopSet{Shop: settings}
	}), "settings word=Quarry"},
	{"away", 1, false, oneOf("wren", "ishaan"), plain(func(st step) domain.Body {
		from := start.Add(time.Duration(st.hour) * time.Hour).Format(time.DateOnly)
		who := domain.PersonID(st.word)
		return domain.AwaySet{Away: domain.Away{Person: who, From: from, Until: from, Deputy: "bo"}}
	}), "away word=wren"},
	{"found", 3, false, oneOf("yes", "no", "unsure"), plain(func(st step) domain.Body {
		return domain.Found{Key: "snipe", About: domain.QuestionItem.Of("both-ends"), Answer: domain.Answer(st.word)}
	}), "problem word=snipe; found word=no"},
	{"stock", 2, false, func(r *rand.Rand, st *step) {
		st.n, st.word = r.Int64N(5), []string{"oil", "gone", "belts"}[r.IntN(3)]
	}, plain(func(st step) domain.Body {
		if st.word == "gone" {
			return domain.StockCounted{Name: "Oil", Gone: true}
		}
		return domain.StockCounted{Name: st.word, Left: int(st.n)}
	}), "stock n=2 word=oil"},
	{"visits", 1, false, nil, plain(func(st step) domain.Body {
		return domain.VisitsPlanned{Visits: []domain.Visit{{Machine: marble, Name: "Marble", Minutes: st.hour}}}
	}), "visits"},
	{"study", 1, false, nil, always(domain.StudyBegun{Gauge: "dial", Machine: marble, Check: "infeed", Parts: 2,
		Trials: 2}), "study"},
	{"study-reading", 2, true, func(r *rand.Rand, st *step) { st.n = 1 + r.Int64N(2) },
		func(p *player, st step) (domain.Body, error) {
			return domain.StudyReading{Study: p.number(st.of), Part: int(st.n)}, nil
		}, "study; study-reading of=1 n=1"},
	// Another machine, in use already: it runs once its ticks are made.
	{"add", 1, false, nil, func(p *player, st step) (domain.Body, error) {
		snap, err := p.shop.Snapshot(ctx, marble)
		setup := domain.Setup{Kind: snap.Machine.Setup.Kind, Hash: snap.Machine.Setup.Hash,
			Params: snap.Machine.Setup.Params, Start: domain.Start{State: domain.StartInUse}, Rev: 1}
		return domain.MachineAdded{Name: fmt.Sprint("Slate ", st.hour), Setup: setup}, err
	}, "add"},
	{"tick", 6, false, nil, func(p *player, st step) (domain.Body, error) {
		other, err := p.other()
		if err != nil || other == 0 {
			return domain.Ticked{}, err
		}
		snap, err := p.shop.Snapshot(ctx, other)
		if err != nil {
			return nil, err
		}
		body := domain.Ticked{}
		for _, tick := range domain.Assess(snap, start.Add(time.Duration(st.hour)*time.Hour)).Missing {
			body = domain.Ticked{Tick: tick.ID, Name: tick.Name, Says: tick.Says}
		}
		return body, nil
	}, "add; tick"},
	{"retire", 1, false, nil, always(domain.MachineRetired{}), "add; retire"},
	// Everything is read again, so that a test and a release can follow.
	{"read-all", 2, false, nil, nil, "read-all"},
}

// operationOf is the operation of that name, nil if there is none.
func operationOf(what string) *operation {
	for i := range operations {
		if operations[i].what == what {
			return &operations[i]
		}
	}
	return nil
}

// hangsTag is what a person says who takes a machine out of service.
var hangsTag = domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: "loose"}}

// drawStep draws what is typed next, at an hour: an operation by weight, and what it is
// about mostly among the last ten facts, where a mistake shows; else among all, or one
// that is not there.
func (p *player) drawStep(r *rand.Rand, hour int) step {
	total := 0
	for _, o := range operations {
		total += o.weight
	}
	left := r.IntN(total)
	i := 0
	for ; left >= operations[i].weight; i++ {
		left -= operations[i].weight
	}
	drawn := operations[i]
	st := step{hour: hour, what: drawn.what, at: hour * 60}
	switch r.IntN(3) { // typed late, often of the very moment of an earlier step
	case 0:
		st.at = 1 + r.IntN(hour*60)
	case 1:
		st.at = 60 * (1 + r.IntN(hour))
	}
	if drawn.about {
		switch last := len(p.refs) - 1; {
		case r.IntN(8) > 0:
			st.of = p.refs[max(last-r.IntN(10), 1)]
		case r.IntN(8) > 0:
			st.of = p.refs[1+r.IntN(last)]
		default:
			st.of = factRef{hour, 99}
		}
	}
	if drawn.draw != nil {
		drawn.draw(r, &st)
	}
	return st
}

// shrink cuts a failing history down to one that fails as well and from which no step
// can be left out, and puts each step into its simplest form that still fails: typed
// when it happened, with a small number. It plays no more than that many.
func shrink(steps []step, plays int, fails func([]step) bool) []step {
	try := func(shorter []step) bool {
		if plays--; plays < 0 || !fails(shorter) {
			return false
		}
		steps = shorter
		return true
	}
	for size := max(len(steps)/2, 1); size > 0; size /= 2 {
		for again := true; again; {
			again = false
			for from := len(steps) - size; from >= 0; from-- { // the last ones first: most led to nothing
				if from+size > len(steps) {
					continue
				}
				without := append(append([]step{}, steps[:from]...), steps[from+size:]...)
				again = try(without) || again
			}
			again = again && size == 1 // one that was needed may be so no more
		}
	}
	for i := range steps {
		for _, simpler := range []func(step) step{
			func(st step) step { st.at = st.hour * 60; return st },
			func(st step) step { st.n = min(st.n, 1); return st },
			func(st step) step { st.n = max(st.n/3600*3600, min(st.n, 1)); return st },
		} {
			if st := simpler(steps[i]); st != steps[i] {
				changed := append([]step{}, steps...)
				changed[i] = st
				try(changed)
			}
		}
	}
	return steps
}
