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

// OddScrew is an adjuster whose last turn did other than was expected.
type OddScrew struct {
	Adjuster string
	Did      float64 // of what was expected
}

// inBase is a value in the base unit of its kind.
func inBase(v quantity.Value) float64 { return v.Float(quantity.Base(v.Kind())) }

// exactly is a float of the base unit as a value, rounded to a tenth of a
// billionth of it, so that what was typed in thou or in millimetres comes out as it was.
func exactly(number float64, kind quantity.Kind) quantity.Value {
	const grain = 10_000_000_000
	if math.Abs(number) > 1e8 || math.IsNaN(number) {
		return quantity.FromFloat(number, quantity.Base(kind))
	}
	return quantity.FromRat(big.NewRat(int64(math.Round(number*grain)), grain), quantity.Base(kind))
}

// steps is how many steps a number is, to the nearest; at most what a whole
// number holds, for readings that no machine gives.
func steps(x, step float64) int64 {
	return int64(min(max(math.Round(x/step), -1e15), 1e15))
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
