package domain

import (
	"slices"
	"time"
)

// MistakeTime is how long a stop that was pressed by mistake may be taken back. Our own
// choice.
const MistakeTime = 2 * time.Minute

// AdmitWithdrawal says whether a report may be taken back so, or why not: somebody else's
// report of danger only with a note of what was looked at, as a release is.
func AdmitWithdrawal(report Fact, entry Entry, body Withdrawal) *Refusal {
	if problem, ok := report.Body.(Problem); ok && problem.Danger && entry.By != report.By && body.Note == "" {
		return &Refusal{Code: WithdrawalNote, Name: problem.Name, Fact: report.No}
	}
	return nil
}

// AsksStill reports whether what a report of danger promised is asked for though the
// report was taken back: until a release, unless whoever made it did so within
// MistakeTime.
func AsksStill(report, withdrawal Fact) bool {
	problem, ok := report.Body.(Problem)
	return ok && problem.Danger &&
		(withdrawal.By != report.By || withdrawal.Recorded.Sub(report.Recorded) > MistakeTime)
}

// admitMistake says whether a stop may be taken back: one that came without words or a
// paper tag, by who pressed it, in time. That nothing else was reported since is for who knows the
// reports.
func admitMistake(before Status, entry Entry, mistake Mistake) *Refusal {
	i := slices.IndexFunc(before.Tags, func(t Tag) bool { return t.Fact == mistake.Of })
	switch {
	case i < 0, before.Tags[i].Reason.Code != Pressed, before.Tags[i].Paper != "", before.Tags[i].By != entry.By:
		return &Refusal{Code: NoMistake, Name: before.Machine.Name, Fact: mistake.Of}
	case entry.Recorded.Sub(before.Tags[i].At) > MistakeTime:
		return &Refusal{Code: MistakeLate, Name: before.Machine.Name, Fact: mistake.Of}
	}
	return nil
}
