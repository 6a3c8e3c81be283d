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
func (c *call) drifts(snap domain.Snapshot, k *profile.Check) (all []domain.Drifting, used float64, err error) {
	if k.Inspection || !k.Target.Valid() {
		return nil, 0, nil
	}
	read, now, err := c.books.Readings(c, snap.Machine.ID, k.ID, domain.Since(snap, k.ID))
	if err != nil || len(read) == 0 {
		return nil, 0, err
	}
	return domain.Drifts(k, read), now - read[len(read)-1].Hours, nil
}

// leaves lists the checks of a machine that probably drift out of their adjust
// limits within the horizon, each by the position that does so first. It is kept
// until a reading, or what the use rests on, changes.
func (c *call) leaves(snap domain.Snapshot, st domain.Status) ([]leaving, error) {
	read := fmt.Sprint(c.usageRests(st))
	for _, cs := range st.Checks {
		read += fmt.Sprintf(" %d/%d", cs.Latest.Fact, snap.Moved[cs.Check.ID].Fact)
	}
	key := usageKey{c.shop.ID, st.Machine.ID}
	u := &c.desk.usages
	u.Lock()
	k, ok := u.leaves[key]
	u.Unlock()
	if ok && k.rests == read {
		return k.all, nil
	}
	k = keptLeaves{rests: read}
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
		e, err := c.leavesWhen(st, first.Adjust, used)
		if err != nil {
			return nil, err
		}
		if !e.First.IsZero() {
			k.all = append(k.all, leaving{cs.Check.ID, first.Position, e})
		}
	}
	u.Lock()
	defer u.Unlock()
	if u.leaves == nil || len(u.leaves) >= mostUsages {
		u.leaves = map[usageKey]keptLeaves{}
	}
	u.leaves[key] = k
	return k.all, nil
}

// leaveLine says when a check probably drifts out of its adjust limits.
func (w *wording) leaveLine(m domain.Machine, l leaving) string {
	name := capital(m.Profile.Check(l.check).Name)
	if l.position != "" {
		name += ", " + l.position
	}
	d := words.D{"Name": name, "First": words.Time(l.likely.First, words.Date), "Last": words.Time(l.likely.Last, words.Date)}
	if l.likely.Last.IsZero() {
		return w.say("drift.after", d)
	}
	return w.say("drift.between", d)
}

// leavesWhen turns the hours until a limit is reached into days.
func (c *call) leavesWhen(st domain.Status, l *domain.Leaving, used float64) (domain.Likely, error) {
	u, err := c.usage(st)
	if err != nil {
		return domain.Likely{}, err
	}
	left := func(v quantity.Value) quantity.Value {
		return quantity.FromFloat(max(v.Float(quantity.Hour)-used, 0.02)*3600, quantity.Second)
	}
	e := domain.Likely{First: u.When(left(l.Early)).First, Median: u.When(left(l.Middle)).Median}
	if l.Late.Valid() {
		e.Last = u.When(left(l.Late)).Last
	}
	return e, nil
}

// whyDrift tells how each position of a check drifts, and what that rests on.
func (c *call) whyDrift(st domain.Status, cs *domain.CheckStatus, rl ruler) ([]string, error) {
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
	for _, x := range all {
		d := words.D{"Position": place(cs.Check, x.Position), "Count": x.Drift.Points}
		readings = max(readings, x.Drift.Points)
		if j := x.Drift.Jump; j != nil {
			d["By"] = short(quantity.FromFloat(math.Abs(j.By), base), rl.unit.Step())
			lines = append(lines, c.say("drift.jump", d))
		}
		if !x.Drift.Proved {
			if x.Drift.More > 0 && (more <= 0 || x.Drift.More < more) {
				more = x.Drift.More // of the position that would tell first
			}
			continue
		}
		proved = true
		slope, se := x.Drift.Line.Coef[1], x.Drift.Line.SE[1]
		d["By"], d["U"] = short(quantity.FromFloat(10*math.Abs(slope), base), rl.unit.Step()), short(quantity.FromFloat(20*se, base), rl.unit.Step())
		d["Up"] = slope > 0
		lines = append(lines, c.say("drift.slope", d))
		for _, l := range []struct {
			key string
			*domain.Leaving
		}{{"drift.adjust", x.Adjust}, {"drift.stop", x.Stop}} {
			if l.Leaving == nil {
				continue
			}
			e, err := c.leavesWhen(st, l.Leaving, used)
			if err != nil {
				return nil, err
			}
			d := words.D{"Limit": rl.exactly(l.Limit), "Early": quantity.FormatDuration(l.Early), "Late": "", "First": "", "Last": ""}
			if l.Late.Valid() {
				d["Late"] = quantity.FormatDuration(l.Late)
			}
			if !e.First.IsZero() && !e.Last.IsZero() {
				d["First"], d["Last"] = words.Time(e.First, words.Date), words.Time(e.Last, words.Date)
			}
			lines = append(lines, c.say(l.key, d))
		}
	}
	switch {
	case !proved && (readings < 2 || st.Adjusting(cs.Check.ID).Plan != nil): // a plan, or a first reading, has nothing to do with it
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
