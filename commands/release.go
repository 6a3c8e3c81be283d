package commands

import (
	"slices"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
)

var releaseCommand = &Command{
	Name: "release", Who: Steward, Quiet: true, Words: 260,
	Options:  []Option{machineOption, noteOption},
	Examples: []string{`/release machine:Marble note:"infeed roller reset and read again"`},
}

// testAction runs a machine under test once the return-to-service list is
// confirmed.
const testAction waiting[releasing] = "test"

// endTestAction ends a test.
const endTestAction lasting[testArg] = "endtest"

// renewAction says that a test goes on.
const renewAction lasting[testArg] = "renewtest"

// releaseAction lifts the tags of a machine that runs well under test.
const releaseAction lasting[testArg] = "release"

// releasing is a test before a release that waits for its list to be confirmed.
type releasing struct {
	Machine domain.MachineID    `json:"machine"`
	Note    string              `json:"note,omitempty"`
	Owner   domain.OwnerContact `json:"owner,omitempty"`
	Tags    []domain.FactNo     `json:"tags"` // those that stood when it was asked
}

// about reports whether a test that waits is one of a machine as it stands: its tags
// all hang still, and what is said of their owners is one of the answers.
func (r releasing) about(st domain.Status) bool {
	if len([]rune(r.Note)) > noteOption.Max {
		return false
	}
	for _, no := range r.Tags {
		if st.TaggedOut() && !slices.ContainsFunc(st.Tags, func(t domain.Tag) bool { return t.Fact == no }) {
			return false
		}
	}
	switch r.Owner {
	case "", domain.OwnerAsked, domain.OwnerUnreachable:
		return true
	}
	return false
}

func runRelease(c *call) (Reply, error) {
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	if st.Test != nil {
		return c.testReply(st), nil
	}
	waiting := releasing{Machine: machine.ID, Note: words.Clean(c.options["note"]), Owner: domain.OwnerAsked}
	// What would refuse the test is said now; whether the owner was asked is what
	// the buttons ask.
	if r := domain.Admit(st, domain.Entry{By: c.actor.ID,
		Body: domain.UnderTest{Note: waiting.Note, Owner: waiting.Owner}}); r != nil {
		return Reply{}, r
	}
	reply := Reply{Headline: c.say("release.headline", words.D{"Machine": words.User(machine.Name)})}
	// The tags that stand, and the list to confirm.
	var paper []string
	for _, t := range st.Tags {
		waiting.Tags = append(waiting.Tags, t.Fact)
		reply.Lines = append(reply.Lines, c.tagLine(t))
		if t.Paper != "" {
			paper = append(paper, words.User(t.Paper))
		}
	}
	reply.Lines = append(reply.Lines, c.say("release.list", nil))
	for _, line := range machine.Profile.Return {
		reply.Lines = append(reply.Lines, "- "+line)
	}
	if len(machine.Profile.Checks) == 0 {
		// Nothing else asks for what every machine needs.
		reply.Lines = append(reply.Lines, "- "+c.say("release.guards", nil), "- "+c.say("release.stops", nil))
	}
	if len(paper) > 0 {
		reply.Lines = append(reply.Lines, "- "+c.say("release.paper", words.D{"Numbers": strings.Join(paper, ", ")}))
	}
	reply.Lines = append(reply.Lines, c.say("release.locks", nil))
	// Whoever else hung a tag has to be asked.
	button := func(key string, style Style) {
		reply.Buttons = append(reply.Buttons,
			Button{Label: c.say(key, nil), Style: style, Custom: wait(c, testAction, waiting)})
	}
	if !domain.OthersHung(st.Tags, c.actor.ID) {
		waiting.Owner = ""
		button("button.test", Grave)
		return reply, nil
	}
	button("button.test.asked", Grave)
	waiting.Owner = domain.OwnerUnreachable
	button("button.test.unreachable", Plain)
	return reply, nil
}

func runTest(c *call, waiting releasing) (Reply, error) {
	snap, err := c.books.Snapshot(c, waiting.Machine)
	if err != nil {
		return Reply{}, err
	}
	st := domain.Assess(snap, c.now)
	if !waiting.about(st) {
		return Reply{}, noSuchButton()
	}
	if t := st.NewTag(waiting.Tags); t != nil {
		return Reply{}, &userError{key: "release.newtag", data: words.D{"Reason": c.reason(t.Reason)}}
	}
	o, err := c.report(snap.Machine, domain.UnderTest{Owner: waiting.Owner, Note: waiting.Note})
	if err != nil {
		return Reply{}, err
	}
	r := c.testReply(o.After)
	r.Replaces = true
	return r, nil
}

// testReply says that a machine runs under test, what is still to be done while
// it runs, and how the test ends.
func (c *call) testReply(st domain.Status) Reply {
	d := words.D{"Machine": words.User(st.Machine.Name), "By": words.Person(string(st.Test.By))}
	reply := Reply{Headline: c.say("test.headline", d), Lines: []string{c.say("test.do", nil)}}
	if len(st.Blockers) > 0 {
		reply.Lines = append(reply.Lines, c.say("test.still", nil))
	}
	for _, line := range c.blockerLines(st.Blockers) {
		reply.Lines = append(reply.Lines, "- "+line)
	}
	reply.Lines = append(reply.Lines, c.say("test.then", nil))
	ends := "test.ends"
	if st.Machine.Profile.TestRun.Unattended {
		ends = "test.asks"
	}
	reply.Lines = append(reply.Lines, c.say(ends, words.D{"At": words.Time(st.TestAsks(), words.DateTime)}))
	of := testArg{st.Machine.ID, st.Test.Fact}
	reply.Buttons = []Button{{Label: c.say("button.release", nil), Style: Grave, Custom: releaseAction.with(of)},
		{Label: c.say("button.renewtest", nil), Custom: renewAction.with(of)},
		{Label: c.say("button.endtest", nil), Custom: endTestAction.with(of)}}
	return reply
}

// testOf is the machine that a test's button is about, and the test. One of an earlier
// version names no test: it stands for that of whoever presses it.
func (c *call) testOf(of testArg) (domain.Machine, domain.FactNo, error) {
	snap, err := c.books.Snapshot(c, of.machine)
	if err != nil || of.test != 0 || snap.Test == nil {
		return snap.Machine, of.test, err
	}
	if snap.Test.By != c.actor.ID {
		return snap.Machine, 0, &domain.Refusal{Code: domain.OtherTest, Name: snap.Machine.Name}
	}
	return snap.Machine, snap.Test.Fact, nil
}

// runRenewTest says that a test goes on: its time begins again.
func runRenewTest(c *call, of testArg) (Reply, error) {
	machine, test, err := c.testOf(of)
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.report(machine, domain.TestRenewed{Test: test})
	if err != nil {
		return Reply{}, err
	}
	reply := c.testReply(outcome.After)
	reply.Replaces = true
	return reply, nil
}

func runEndTest(c *call, of testArg) (Reply, error) {
	m, test, err := c.testOf(of)
	if err != nil {
		return Reply{}, err
	}
	o, err := c.report(m, domain.TestEnded{Test: test})
	if err != nil {
		return Reply{}, err
	}
	return Reply{Replaces: true, Headline: c.say("test.ended", words.D{"Machine": words.User(m.Name), "No": o.Fact.No}),
		Lines: []string{c.say("tag.do", nil)}}, nil
}

func runReleased(c *call, of testArg) (Reply, error) {
	m, test, err := c.testOf(of)
	if err != nil {
		return Reply{}, err
	}
	o, err := c.report(m, domain.Release{Test: test})
	if err != nil {
		return Reply{}, err
	}
	done := "release.done"
	if o.Before.SettingUp {
		done = "release.begins"
	}
	return Reply{Replaces: true, Headline: c.say(done, words.D{"Machine": words.User(m.Name)}),
		Lines: []string{c.say("release.tell", nil), c.say("recorded", words.D{"No": o.Fact.No})}}, nil
}
