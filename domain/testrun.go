package domain

import (
	"time"

	"setscrew/domain/profile"
)

// usualTest is how long a test lasts on a machine whose profile does not say. Common
// practice, no source.
const usualTest = 30 * time.Minute

// testLasts is how long a test lasts on a machine of a profile.
func testLasts(prof *profile.Profile) time.Duration {
	if prof.TestRun.Minutes == 0 {
		return usualTest
	}
	return time.Duration(prof.TestRun.Minutes) * time.Minute
}

// no is the report that began a test, 0 for no test.
func (t *Test) no() FactNo {
	if t == nil {
		return 0
	}
	return t.Fact
}

// testRun fills in the test that runs, or that has run out of time: one on a machine
// that runs unattended never does.
func testRun(status *Status, snap Snapshot) {
	status.Test = nil
	if snap.Test == nil {
		return
	}
	test := *snap.Test
	test.Renewed = test.At
	if r := snap.Renewed; r != nil && r.Test == test.Fact && r.At.After(test.At) {
		test.Renewed = r.At
	}
	prof := snap.Machine.Profile
	if !prof.TestRun.Unattended && !status.At.Before(test.Renewed.Add(testLasts(prof))) {
		status.TestOver = &test
		return
	}
	status.Test = &test
}

// TestAsks is when the test that runs ends by itself or, on a machine that runs
// unattended, when whoever tests it is asked next whether it goes on; zero if none runs.
func (s Status) TestAsks() time.Time {
	if s.Test == nil {
		return time.Time{}
	}
	lasts := testLasts(s.Machine.Profile)
	return s.Test.Renewed.Add((s.asked() + 1) * lasts)
}

// asked is how many times whoever tests an unattended machine was asked since the test
// was last said to go on.
func (s Status) asked() time.Duration {
	return max(s.At.Sub(s.Test.Renewed), 0) / testLasts(s.Machine.Profile)
}

// untested reports whether a check that is done while the machine runs was made since it
// was taken out of service, but before the test had begun that runs now, or without one.
func untested(status Status, cs *CheckStatus) bool {
	if !cs.Check.Running || cs.Freshness == Unread || !status.TaggedOut() || !cs.Latest.At.After(status.Tags[0].At) {
		return false
	}
	return status.Test == nil || cs.Latest.At.Before(status.Test.At)
}
