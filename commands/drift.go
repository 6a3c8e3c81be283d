package commands

import (
	"fmt"
	"math"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// drifts is how a check drifts, with the hours of use since the last reading.
func (c *call) drifts(snap domain.Snapshot, check *profile.Check) (all []domain.Drifting, used float64, err error) {
	if check.Inspection || !check.Target.Valid() {
		return nil, 0, nil
	}
	read, now, err := c.books.Readings(c, snap.Machine.ID, check.ID, domain.ComparableSince(snap, check.ID))
	if err != nil || len(read) == 0 {
		return nil, 0, err
	}
	return domain.Drifts(check, read), now - read[len(read)-1].Hours, nil
}

// leaves lists the checks of a machine that probably drift out of their adjust
// limits within the horizon, each by the position that does so first. It is kept
// until a reading, or what the use rests on, changes.
func (c *call) leaves(snap domain.Snapshot, st domain.Status) ([]leaving, error) {
	// What is known is kept while nothing that it rests on changes.
	read := fmt.Sprint(c.usageRests(st))
	for _, cs := range st.Checks {
		read += fmt.Sprintf(" %d/%d", cs.Latest.Fact, snap.Moved[cs.Check.ID].Fact)
	}
	key := usageKey{c.shop.ID, st.Machine.ID}
	kept := &c.desk.usages
	kept.Lock()
	known, ok := kept.leaves[key]
	kept.Unlock()
	if ok && known.rests == read {
		return known.all, nil
	}
	known = keptLeaves{rests: read}
	// The position of each good check that leaves its limits first.
	for _, cs := range st.FreshChecks() {
		if cs.Advice != domain.AdviceNone {
			continue
		}
		all, used, err := c.drifts(snap, cs.Check)
		if err != nil {
			return nil, err
		}
		var first *domain.Drifting
		for i := range all {
			if d := &all[i]; d.Adjust != nil && (first == nil || d.Adjust.Middle.Cmp(first.Adjust.Middle) < 0) {
				first = d
			}
		}
		if first == nil {
			continue
		}
		likely, err := c.leavesWhen(st, first.Adjust, used)
		if err != nil {
			return nil, err
		}
		if !likely.First.IsZero() {
			known.all = append(known.all, leaving{cs.Check.ID, first.Position, likely})
		}
	}
	kept.Lock()
	defer kept.Unlock()
	if kept.leaves == nil || len(kept.leaves) >= mostUsages {
		kept.leaves = map[usageKey]keptLeaves{}
	}
	kept.leaves[key] = known
	return known.all, nil
}

// leaveLine says when a check probably drifts out of its adjust limits.
func (w *wording) leaveLine(m domain.Machine, leaves leaving) string {
	name := capital(m.Profile.Check(leaves.check).Name)
	if leaves.position != "" {
		name += ", " + leaves.position
	}
	data := words.D{"Name": name, "First": words.Time(leaves.likely.First, words.Date),
		"Last": words.Time(leaves.likely.Last, words.Date)}
	if leaves.likely.Last.IsZero() {
		return w.say("drift.after", data)
	}
	return w.say("drift.between", data)
}

// leavesWhen turns the hours until a limit is reached into days.
func (c *call) leavesWhen(st domain.Status, limit *domain.Leaving, used float64) (domain.Likely, error) {
	usage, err := c.usage(st)
	if err != nil {
		return domain.Likely{}, err
	}
	left := func(v quantity.Value) quantity.Value {
		return quantity.FromFloat(max(v.Float(quantity.Hour)-used, 0.02)*3600, quantity.Second)
	}
	e := domain.Likely{First: usage.When(left(limit.Early)).First, Median: usage.When(left(limit.Middle)).Median}
	if limit.Late.Valid() {
		e.Last = usage.When(left(limit.Late)).Last
	}
	return e, nil
}

// whyDrift tells how each position of a check drifts, and what that rests on.
func (c *call) whyDrift(st domain.Status, cs *domain.CheckStatus, scale ruler) ([]string, error) {
	snap, err := c.books.Snapshot(c, st.Machine.ID)
	if err != nil {
		return nil, err
	}
	all, used, err := c.drifts(snap, cs.Check)
	if err != nil || len(all) == 0 || cs.Freshness != domain.Fresh {
		return nil, err
	}
	var lines []string
	base := quantity.Base(cs.Check.Kind())
	more, readings := 0, 0
	proved := false
	// Each position: a jump, the slope where it is proved, and when it reaches limits.
	for _, drifting := range all {
		trend := words.D{"Position": place(cs.Check, drifting.Position), "Count": drifting.Drift.Points}
		readings = max(readings, drifting.Drift.Points)
		if j := drifting.Drift.Jump; j != nil {
			trend["By"] = short(quantity.FromFloat(math.Abs(j.By), base), scale.unit.Step())
			lines = append(lines, c.say("drift.jump", trend))
		}
		if !drifting.Drift.Proved {
			if drifting.Drift.More > 0 && (more <= 0 || drifting.Drift.More < more) {
				more = drifting.Drift.More // of the position that would tell first
			}
			continue
		}
		proved = true
		slope, se := drifting.Drift.Line.Coef[1], drifting.Drift.Line.SE[1]
		trend["By"], trend["U"] = short(quantity.FromFloat(10*math.Abs(slope), base), scale.unit.Step()),
			short(quantity.FromFloat(20*se, base), scale.unit.Step())
		trend["Up"] = slope > 0
		lines = append(lines, c.say("drift.slope", trend))
		for _, limit := range []struct {
			key string
			*domain.Leaving
		}{{"drift.adjust", drifting.Adjust}, {"drift.stop", drifting.Stop}} {
			if limit.Leaving == nil {
				continue
			}
			likely, err := c.leavesWhen(st, limit.Leaving, used)
			if err != nil {
				return nil, err
			}
			figures := words.D{"Limit": scale.exactly(limit.Limit), "Early": quantity.FormatDuration(limit.Early),
				"Late": "", "First": "", "Last": ""}
			if limit.Late.Valid() {
				figures["Late"] = quantity.FormatDuration(limit.Late)
			}
			if !likely.First.IsZero() && !likely.Last.IsZero() {
				figures["First"], figures["Last"] = words.Time(likely.First, words.Date),
					words.Time(likely.Last, words.Date)
			}
			lines = append(lines, c.say(limit.key, figures))
		}
	}
	// What that rests on, or what is missing for it.
	switch {
	case !proved && (readings < 2 || st.Adjusting(cs.Check.ID).Plan != nil):
		// A plan, or a first reading, has nothing to do with it.
	case !proved:
		if more <= 0 {
			lines = append(lines, c.say("drift.none", nil))
			break
		}
		lines = append(lines, c.say("drift.more", words.D{"N": more, "Readings": readings}))
	default:
		lines = append(lines, c.say("drift.model", nil))
	}
	return lines, nil
}
