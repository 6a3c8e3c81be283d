package domain

import (
	"math"
	"math/big"
	"slices"

	"setscrew/domain/linkage"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// What is taken of every adjuster until its tries have taught better. Common
// practice, no source.
const (
	GainSpread = 0.1       // standard uncertainty of its response over the nominal one
	HandSpread = 4.0 / 360 // of one turn set by hand, in turns
)

// Plan is the moves that bring a check home in one try.
type Plan struct {
	Check  string
	Drive  profile.Drive
	Moves  []Adjustment // of every adjuster that is not fixed, in the profile's order
	Expect []Expected   // by position of the check
	Pass   float64      // the probability that all positions lie within their adjust limits after it
	Tries  float64      // the expected number of tries until they do, this one among them
	Left   []Expected   // positions that no turning brings within their adjust limits, and where they end
	Short  []OutOfReach
}

// ToDo reports whether the plan moves anything.
func (p *Plan) ToDo() bool { return slices.ContainsFunc(p.Moves, Adjustment.ToDo) }

// Adjustment is what to do with one adjuster.
type Adjustment struct {
	Adjuster string
	Position string         // the one that it moves; "" for one of a body
	Exact    quantity.Value // turns that would meet the targets, positive clockwise
	Turns    quantity.Value // what to turn, a multiple of the increment; zero: leave it
	Past     quantity.Value // how far to go past before coming back, absent for not at all
	// how far to slide, positive where readings grow, or how much shim to add; absent for turns
	By       quantity.Value
	Pieces   []quantity.Value // the shims that make it up
	Grow     bool             // whether the move makes readings grow
	First    bool             // cut to one increment, since its sense was never confirmed
	Response quantity.Value   // the change of the reading where it acts with one turn, as learned
	Gain     float64          // that over the nominal one
	GainU    float64          // and its standard uncertainty
	Learned  int              // tries that taught it
}

// ToDo reports whether there is anything to do.
func (a Adjustment) ToDo() bool { return a.Turns.Sign() != 0 || a.By.Valid() && a.By.Sign() != 0 }

// Expected is what a position should read after a plan.
type Expected struct {
	Position string
	Before   quantity.Value
	Reading  quantity.Value
	U        quantity.Value // expanded, at Level
}

// OutOfReach is an eccentric that cannot come home: what is missing at the end
// of its reach.
type OutOfReach struct {
	Adjuster string
	Missing  quantity.Value
}

// WrongWay is a move after which readings went the wrong way.
type WrongWay struct {
	Move      FactNo
	Adjusters []string
}

// OddScrew is an adjuster whose last turn did other than was to be expected.
type OddScrew struct {
	Adjuster string
	Did      float64 // of what was to be expected
}

// inBase is a value in the base unit of its kind.
func inBase(v quantity.Value) float64 { return v.Float(quantity.Base(v.Kind())) }

// exactly is a float of the base unit as a value, rounded to a tenth of a
// billionth of it, so that what was typed in thou or in millimetres comes out as it was.
func exactly(f float64, kind quantity.Kind) quantity.Value {
	const grain = 10_000_000_000
	if math.Abs(f) > 1e8 || math.IsNaN(f) {
		return quantity.FromFloat(f, quantity.Base(kind))
	}
	return quantity.FromRat(big.NewRat(int64(math.Round(f*grain)), grain), quantity.Base(kind))
}

// steps is how many steps a number is, to the nearest; at most what a whole
// number holds, for readings that no machine gives.
func steps(x, step float64) int64 {
	return int64(min(max(math.Round(x/step), -1e15), 1e15))
}

// gear is a check's adjusters with what they have taught.
type gear struct {
	all      []*profile.Adjuster
	turned   []int // those that are not fixed, as indices of all
	response [][]float64
	now      []linkage.Adjuster
	tries    []int  // by turned adjuster: the tries that taught it
	known    []bool // by turned adjuster: whether its sense is known
}

// starting is an adjuster before any go.
func starting(adjuster *profile.Adjuster, stock []quantity.Value) linkage.Adjuster {
	state := linkage.Adjuster{Least: math.Inf(-1), Most: math.Inf(1), Gain: 1, Approach: adjuster.Approach}
	turns := func(v quantity.Value) float64 {
		if !v.Valid() {
			return 0
		}
		return v.Float(quantity.Turn)
	}
	switch adjuster.Drive {
	case profile.Shims:
		least := stock[0]
		for _, s := range stock {
			if s.Cmp(least) < 0 {
				least = s
			}
		}
		state.Increment, state.Least = inBase(least), 0
	case profile.Slide:
		state.Increment = 1e-9
	default:
		state.Increment, state.Useful = turns(adjuster.Increment), turns(adjuster.Useful)
		state.GainU, state.Hand = GainSpread, HandSpread
		if p := turns(adjuster.Play); p > 0 { // up to that much
			state.Play, state.PlayU = p/2, metrology.Rectangular(p/2)
		}
	}
	return state
}

// geared is what is known of a check's adjusters, nil where nothing moves it. While
// it learns it notes in x what the last try showed.
func (x *Adjusting) geared(snap Snapshot) *gear {
	p, cs := snap.Machine.Profile, x.CheckStatus
	geared := &gear{all: p.AdjustersOf(cs.Check.ID)}
	// A check that no adjuster moves needs no plan.
	full, err := p.Response(cs.Check)
	if len(geared.all) == 0 || err != nil {
		return nil // the profile's linter refuses what cannot be reckoned with
	}
	// Keep the columns of the adjusters that turn, each in the state before any try.
	geared.response = make([][]float64, len(full))
	var index []string
	for j, adjuster := range geared.all {
		if adjuster.Fixed {
			continue
		}
		for i := range full {
			geared.response[i] = append(geared.response[i], full[i][j])
		}
		geared.turned, index = append(geared.turned, j), append(index, adjuster.ID)
		geared.now = append(geared.now, starting(adjuster, snap.Shop.shims(adjuster)))
		_, known := snap.Machine.Setup.Confirmed[AdjusterItem.Of(adjuster.ID)]
		geared.known = append(geared.known, known || !adjuster.Turned())
	}
	// Slides and shims move as far as they are set, so tries teach nothing about them.
	geared.tries = make([]int, len(index))
	drive := geared.all[geared.turned[0]].Drive
	if drive == profile.Slide || drive == profile.Shims {
		return geared
	}
	// Go through the tries in order, learning how far each adjuster really moves the readings.
	travel := make([]float64, len(index))
	learner := linkage.NewLearner(geared.now)
	for _, made := range snap.Tries[cs.Check.ID] {
		// The turns as they were made: the other way round where somebody said so.
		one := linkage.Try{Turns: make([]float64, len(index)), Past: make([]float64, len(index))}
		for _, turned := range made.Turned {
			j := slices.Index(index, turned.Adjuster)
			if j < 0 {
				continue
			}
			one.Turns[j] = turned.Turns.Float(quantity.Turn)
			if made.Said == TurnedOther {
				one.Turns[j] = -one.Turns[j]
			}
			if turned.Past.Valid() {
				one.Past[j] = turned.Past.Float(quantity.Turn)
			}
			travel[j] += one.Turns[j]
		}
		// A try that no pair of readings encloses, and any of an eccentric, only moves the screws.
		if !between(&one, cs.Check, made) || drive == profile.Eccentric {
			learner.Skip(one)
			continue
		}
		// See first whether the try fits what was believed, before anything is learned from it.
		seen := learner.Look(one, geared.response)
		var wrong []string
		x.Odd = nil
		for j, shown := range seen {
			if shown.Backwards() {
				wrong = append(wrong, index[j])
			} else if shown.Odd() {
				x.Odd = append(x.Odd, OddScrew{index[j], shown.Gain / shown.Expected})
			}
		}
		x.Wrong = nil
		switch {
		case len(wrong) > 0 && made.Said == TurnedAsSaid:
			// The screw works the other way: what is learned begins again from there.
			turned := learner.Adjusters()
			for j, shown := range seen {
				if shown.Backwards() {
					turned[j].Gain = -turned[j].Gain
				}
			}
			learner = linkage.NewLearner(turned)
			seen = learner.Look(one, geared.response)
		case len(wrong) > 0:
			x.Wrong = &WrongWay{made.Move, wrong}
			learner.Skip(one)
			for j, shown := range seen {
				if shown.Backwards() {
					geared.known[j] = false
				}
			}
			continue
		}
		// A screw that did something unbelievable would spoil what is known of the others.
		if slices.ContainsFunc(seen, func(shown linkage.Seen) bool { return shown.Turned && !shown.Believed() }) {
			learner.Skip(one) // told as odd, and not learned from
			continue
		}
		learner.Learn(one, geared.response)
		for j, shown := range seen {
			if shown.Turned {
				geared.tries[j]++
				geared.known[j] = true
			}
		}
	}
	// A screw is called odd only beside the reading that showed it.
	tries := snap.Tries[cs.Check.ID]
	if n := len(tries); n > 0 && (tries[n-1].After == nil || tries[n-1].After.Fact != cs.Latest.Fact) {
		x.Odd = nil // it was told with the reading that showed it
	}
	geared.now = learner.Adjusters()
	// What an adjuster has travelled already is missing from what it can still travel.
	for j, i := range geared.turned {
		if limit := geared.all[i].Travel; limit.Valid() {
			end := limit.Float(quantity.Turn)
			geared.now[j].Least, geared.now[j].Most = min(-end-travel[j], 0), max(end-travel[j], 0)
		}
	}
	return geared
}

// Adjusting is a check with what the tries at its adjusters have shown, and the moves
// that bring it home. CheckStatus is nil where the machine has no such check.
type Adjusting struct {
	*CheckStatus
	Plan  *Plan      // nil when there is nothing to turn
	Wrong *WrongWay  // the last move went the wrong way, and nobody has said how it was made
	Odd   []OddScrew // adjusters whose last turn did other than was to be expected
}

// Adjusting works out what the tries at a check's adjusters have taught and, where
// its verdict asks for it, the plan. It takes about a millisecond and decides nothing
// about the machine: ask it for words, never in a transaction.
func (s Status) Adjusting(check string) Adjusting {
	adjusting := Adjusting{CheckStatus: s.Check(check)}
	if adjusting.CheckStatus == nil || adjusting.Latest.Reading == nil ||
		adjusting.Advice == AdviceNone && len(s.known.Tries[check]) == 0 {
		return adjusting
	}
	gear := adjusting.geared(*s.known)
	if gear == nil || adjusting.Advice == AdviceNone {
		return adjusting
	}
	switch gear.all[gear.turned[0]].Drive {
	case profile.Slide:
		adjusting.Plan = adjusting.slide(gear)
	case profile.Eccentric:
		adjusting.Plan = adjusting.eccentric(*s.known, gear)
	default:
		adjusting.Plan = adjusting.turn(*s.known, gear)
	}
	return adjusting
}

// rows are what a check's positions, and the differences between them, ask of
// its adjusters. The positions come first.
func (cs *CheckStatus) rows(response [][]float64) []linkage.Row {
	check := cs.Check
	inf := math.Inf(1)
	edge := func(v quantity.Value, none float64) float64 {
		if !v.Valid() {
			return none
		}
		return inBase(v)
	}
	// Each position should come to the target, or stay where it is if the check has none.
	var rows []linkage.Row
	mean := 0.0
	for i, position := range cs.At {
		row := linkage.Row{Value: inBase(position.Verdict.Value), Low: -inf, High: inf, U: position.Budget.Combined,
			Response: response[i]}
		row.Target = row.Value
		if check.Target.Valid() {
			row.Target = inBase(check.Target)
			row.Low, row.High = edge(check.Adjust.Low, -inf), edge(check.Adjust.High, inf)
		}
		mean += row.Value / float64(len(cs.At))
		rows = append(rows, row)
	}
	if !check.AlikeAdjust.Valid() || len(rows) < 2 {
		return rows
	}
	// Every position within half of it from their mean: then no two differ by more.
	count := len(rows)
	half := inBase(check.AlikeAdjust) / 2
	for i := range count {
		row := linkage.Row{
			Value:    rows[i].Value - mean,
			Low:      -half,
			High:     half,
			U:        ownUncertainty(cs.Latest.Reading.Values[i], cs.Latest.Reading.Gauge),
			Response: make([]float64, len(response[i])),
		}
		for j := range row.Response {
			all := 0.0
			for k := range count {
				all += response[k][j] / float64(count)
			}
			row.Response[j] = response[i][j] - all
		}
		rows = append(rows, row)
	}
	return rows
}

// turn plans the moves of screws, or of shims, over the check and over the
// others that they move and that are fresh.
func (cs *CheckStatus) turn(snap Snapshot, geared *gear) *Plan {
	problem := linkage.Problem{Adjusters: slices.Clone(geared.now), Rows: cs.rows(geared.response)}
	// A screw whose sense nobody knows is turned by no more than one useful step.
	first := make([]bool, len(geared.turned))
	for j := range problem.Adjusters {
		if state := &problem.Adjusters[j]; !geared.known[j] {
			one := state.Increment * math.Ceil(max(state.Useful, state.Increment)/state.Increment-1e-9)
			state.Least, state.Most, first[j] = max(state.Least, -one), min(state.Most, one), true
		}
	}
	// Fresh readings of other checks must not get worse, so they have rows of their own.
	for _, other := range cs.sharing(snap) {
		full, err := snap.Machine.Profile.Response(other.Check)
		if err != nil {
			continue
		}
		of := snap.Machine.Profile.AdjustersOf(other.Check.ID)
		response := make([][]float64, len(full))
		for i := range full {
			response[i] = make([]float64, len(geared.turned))
			for j, k := range geared.turned {
				if at := slices.Index(of, geared.all[k]); at >= 0 {
					response[i][j] = full[i][at]
				}
			}
		}
		problem.Rows = append(problem.Rows, other.rows(response)...)
	}
	// Solve, and word the moves with what a person at the machine needs for them.
	solution, err := problem.Solve()
	if err != nil {
		return nil
	}
	plan := cs.planned(geared, solution)
	for j := range plan.Moves {
		move := &plan.Moves[j]
		adjuster := geared.all[geared.turned[j]]
		move.First = first[j] && move.Turns.Sign() != 0
		if adjuster.Drive == profile.Shims {
			move.Pieces = stacked(move.By, snap.Shop.shims(adjuster))
		}
	}
	// Say which positions will stay outside their limits whatever is turned.
	for i := range cs.At {
		low, high := cs.Check.Adjust.Low, cs.Check.Adjust.High
		if left := solution.Left[i]; cs.Check.Target.Valid() && math.Abs(left) > 1e-6 {
			at := exactly(inBase(cs.Check.Target)+left, cs.Check.Kind())
			if low.Valid() && at.Cmp(low) < 0 || high.Valid() && at.Cmp(high) > 0 {
				plan.Left = append(
					plan.Left,
					Expected{Position: cs.Check.Positions[i], Reading: at, Before: cs.At[i].Verdict.Value},
				)
			}
		}
	}
	return plan
}

// sharing lists the other checks of the same adjusters whose readings are fresh.
func (cs *CheckStatus) sharing(snap Snapshot) []*CheckStatus {
	var all []*CheckStatus
	prof := snap.Machine.Profile
	for i := range prof.Checks {
		check := &prof.Checks[i]
		latest, read := snap.Latest[check.ID]
		if check.ID == cs.Check.ID || check.Inspection || !read || latest.Reading == nil {
			continue
		}
		if !slices.ContainsFunc(
			prof.AdjustersOf(check.ID),
			func(a *profile.Adjuster) bool { return a.Moves(cs.Check.ID) && !a.Fixed },
		) {
			continue
		}
		if slices.ContainsFunc(prof.Datums(check.ID),
			func(id string) bool { return snap.Moved[id].At.After(latest.At) }) {
			continue
		}
		shared := &CheckStatus{Check: check.In(latest.Reading.Mode), Latest: latest}
		judge(shared, latest.Reading)
		all = append(all, shared)
	}
	return all
}

// planned puts a solution into the shop's terms.
func (cs *CheckStatus) planned(geared *gear, solution linkage.Solution) *Plan {
	check := cs.Check
	plan := &Plan{Check: check.ID, Pass: solution.Pass, Tries: solution.Tries}
	coverage := metrology.Coverage(Level, math.Inf(1))
	// The moves, rounded to what can be set by hand.
	for j, i := range geared.turned {
		adjuster := geared.all[i]
		plan.Drive = adjuster.Drive
		move := Adjustment{
			Adjuster: adjuster.ID,
			Position: adjuster.Position,
			Gain:     geared.now[j].Gain,
			GainU:    geared.now[j].GainU,
			Learned:  geared.tries[j],
			Turns:    quantity.Zero(quantity.Turns),
		}
		switch adjuster.Drive {
		case profile.Slide: // told by slide
		case profile.Shims:
			move.By = exactly(solution.Turns[j], quantity.Length)
			move.Grow = solution.Turns[j] != 0 && (solution.Turns[j] > 0) == adjuster.Growing()
		default:
			move.Turns = adjuster.Increment.Mul(big.NewRat(steps(solution.Turns[j], geared.now[j].Increment), 1))
			move.Exact = quantity.New(steps(solution.Exact[j], 1e-6), 1_000_000, quantity.Turn)
			move.Grow = move.Turns.Sign() != 0 &&
				(move.Turns.Sign() > 0) == (adjuster.Growing() == (geared.now[j].Gain > 0))
			if solution.Past[j] > 0 {
				move.Past = adjuster.Increment.Mul(big.NewRat(steps(solution.Past[j], geared.now[j].Increment), 1))
			}
			if adjuster.Lead.Kind() == quantity.Length &&
				(check.Body == nil || check.Body.Kind == profile.Bar || check.Body.Kind == profile.Plate) {
				move.Response = exactly(inBase(adjuster.Lead)*math.Abs(geared.now[j].Gain), quantity.Length)
			}
		}
		plan.Moves = append(plan.Moves, move)
	}
	// What each position should read afterwards, with its expanded uncertainty.
	for i, at := range cs.At {
		plan.Expect = append(plan.Expect, Expected{Position: at.Position, Before: at.Verdict.Value,
			Reading: exactly(solution.Predicted[i], check.Kind()),
			U:       exactly(coverage*solution.U[i], quantity.Base(check.Kind()).Step().Kind())})
	}
	return plan
}

// unlikeOff is how far a position should be moved: its distance from the target
// where it is outside the adjust limits, or where the positions are not alike.
func (cs *CheckStatus) unlikeOff(i int) float64 {
	p := cs.At[i]
	if p.Verdict.InsideAdjust && (cs.Alike == nil || cs.Alike.Verdict.Grade < metrology.Adjust) {
		return 0
	}
	return inBase(p.Verdict.Value) - inBase(cs.Check.Target)
}

func within(low, high, mean, sd float64) float64 {
	if sd == 0 {
		sd = 1e-12
	}
	phi := func(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
	return phi((high-mean)/sd) - phi((low-mean)/sd)
}

// Made is the report that a plan's moves were made, as planned from a reading.
func (p *Plan) Made(of *profile.Profile, reading FactNo) Move {
	move := Move{Check: p.Check, Reading: reading}
	for _, planned := range p.Moves {
		if !planned.ToDo() {
			continue
		}
		move.Turned = append(move.Turned,
			Turns{Adjuster: planned.Adjuster, Turns: planned.Turns, Past: planned.Past, By: planned.By})
		adjuster := of.Adjuster(planned.Adjuster)
		for _, id := range append([]string{adjuster.Check}, adjuster.Also...) {
			if id != p.Check && !slices.Contains(move.Also, id) {
				move.Also = append(move.Also, id)
			}
		}
	}
	return move
}

// ReadAgain lists the smallest set of checks to read again after a move, besides
// its own: those read before that now are stale by it, in the order of the set-up.
func ReadAgain(s Status, move FactNo, of string) []string {
	var all []string
	for _, cs := range s.Checks {
		if cs.Freshness == Stale && cs.StaleBy.Fact == move && cs.Check.ID != of {
			all = append(all, cs.Check.ID)
		}
	}
	return all
}
