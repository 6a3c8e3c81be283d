package domain

import (
	"time"

	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// Run is a time for which a machine ran, as reported: it ended at Until.
type Run struct {
	Fact  FactNo
	For   PersonID
	Until time.Time
	Used  time.Duration
}

// Two runs may overlap by Slack before anybody is asked: times are typed by
// hand. Two of one person that end within Slack of each other, as long as each
// other to a tenth, are taken for one told twice. Common practice, no source.
const Slack = 10 * time.Minute

// CheckRun says what speaks against a run, given those told before of the same
// machine that end within two days of it: more than 24 h on its day of the
// shop's calendar (HoursOverDay, with the day's total), a near-copy of the same
// person's last (HoursTwice), or a time that another took already
// (HoursOverlap, with how much of it). It is nil where nothing does. A run counts to
// the day on which it ended.
func CheckRun(shop Shop, name string, run Run, before []Run) *Refusal {
	loc := shop.Location()
	day := func(t time.Time) string { return t.In(loc).Format(time.DateOnly) }
	total := run.Used
	var last, most *Run
	var over time.Duration
	// One pass finds the day's total, the person's last run, and the worst overlap.
	for i := range before {
		earlier := &before[i]
		if day(earlier.Until) == day(run.Until) {
			total += earlier.Used
		}
		if earlier.For == run.For && (last == nil || earlier.Until.After(last.Until)) {
			last = earlier
		}
		if o := overlap(run, *earlier); o > Slack && o > over {
			most, over = earlier, o
		}
	}
	no := func(code Code, fact FactNo, d time.Duration) *Refusal {
		return &Refusal{Code: code, Fact: fact, Name: name,
			Used: quantity.New(int64(d/time.Second), 1, quantity.Second)}
	}
	switch {
	case total > 24*time.Hour:
		return no(HoursOverDay, 0, total)
	case last != nil && last.Until.Sub(run.Until).Abs() <= Slack &&
		10*(last.Used-run.Used).Abs() <= max(last.Used, run.Used):
		return no(HoursTwice, last.Fact, last.Used)
	case most != nil:
		return no(HoursOverlap, most.Fact, over)
	}
	return nil
}

// overlap is how long two runs went on at once, at most 0 where they did not.
func overlap(a, run Run) time.Duration {
	from, until := a.Until.Add(-a.Used), a.Until
	if f := run.Until.Add(-run.Used); f.After(from) {
		from = f
	}
	if run.Until.Before(until) {
		until = run.Until
	}
	return until.Sub(from)
}

// Reporting is how much use there is for each hour reported, with the hours
// that it rests on.
type Reporting struct {
	upkeep.Reporting
	Counted, Logged float64 // hours by the counter, and reported between its readings
	Like            string  // the machine whose ratio it is, "" for its own
}

// reporting is a machine's ratio, or that of the machine that a steward said it
// is like; ok is false where no counter tells.
func reporting(snap Snapshot, now time.Time) (estimate Reporting, ok bool) {
	if estimate.Reporting, ok = upkeep.Report(snap.Counted, now); !ok {
		return estimate, false
	}
	for _, s := range snap.Counted {
		estimate.Counted, estimate.Logged = estimate.Counted+s.Counted, estimate.Logged+s.Logged
	}
	estimate.Like = snap.Like
	return estimate, true
}
