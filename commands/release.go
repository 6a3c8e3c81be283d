package commands

import (
	"slices"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
)

var releaseCommand = &Command{
	Name: "release", Who: Steward, Quiet: true, Exact: true, Words: 260,
	Options:  []Option{machineOption, noteOption},
	Examples: []string{`/release machine:Marble note:"infeed roller reset and read again"`},
}

// tagSeenAction answers for one of several tags and shows the next; testAction answers for
// the last and, with that, confirms the return-to-service list: the machine runs under
// test.
const (
	tagSeenAction waiting[releasing] = "tag-seen"
	testAction    waiting[releasing] = "test"
)

// endTestAction ends a test.
const endTestAction lasting[testArg] = "endtest"

// renewAction says that a test goes on.
const renewAction lasting[testArg] = "renewtest"

// releaseAction lifts the tags of a machine that runs well under test.
const releaseAction lasting[testArg] = "release"

// releasing is a test before a release, on its way through the tags that stand.
type releasing struct {
	Machine domain.MachineID   `json:"machine"`
	Note    string             `json:"note,omitempty"`
	Tags    []domain.FactNo    `json:"tags"`           // those that stood when it was asked
	Seen    []domain.TagAnswer `json:"seen,omitempty"` // what is answered for by the button's press
}

// about reports whether a test that waits is one of a machine as it stands: its tags
// all hang still, and each answer is one about a tag of its own.
func (r releasing) about(st domain.Status) bool {
	if len([]rune(r.Note)) > noteOption.Max || len(r.Seen) > len(r.Tags) {
		return false
	}
	for _, no := range r.Tags {
		if st.TaggedOut() && !slices.ContainsFunc(st.Tags, func(t domain.Tag) bool { return t.Fact == no }) {
			return false
		}
	}
	for i, answer := range r.Seen {
		if answer.Tag != r.Tags[i] {
			return false
		}
		switch answer.Owner {
		case "", domain.OwnerAsked, domain.OwnerUnreachable:
		default:
			return false
		}
	}
	return true
}

// answered is what waits once the next tag is answered for.
func (r releasing) answered(owner domain.OwnerContact) releasing {
	r.Seen = append(slices.Clone(r.Seen), domain.TagAnswer{Tag: r.Tags[len(r.Seen)], Owner: owner})
	return r
}

// runRelease begins a release: it shows the tags one after another, the last with the list
// that is confirmed before a test; a machine under test is asked whether it runs well.
func runRelease(c *call) (Reply, error) {
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	if st.Test != nil {
		return c.testReply(st), nil
	}
	waiting := releasing{Machine: machine.ID, Note: words.Clean(c.options["note"])}
	for _, t := range st.Tags {
		waiting.Tags = append(waiting.Tags, t.Fact)
	}
	// What would refuse the test once every tag is answered for is said now.
	all := waiting
	for range waiting.Tags {
		all = all.answered(domain.OwnerAsked)
	}
	if refused := c.wouldRefuse(st, domain.UnderTest{Note: all.Note, Tags: all.Seen}); refused != nil {
		return Reply{}, refused
	}
	return c.nextTag(st, waiting), nil
}

// nextTag shows the next tag to be answered for, with the buttons that do. The last comes
// with the list that is confirmed before a test.
func (c *call) nextTag(st domain.Status, waiting releasing) Reply {
	at, action, key := len(waiting.Seen), tagSeenAction, "button.seen"
	last := at+1 == len(waiting.Tags)
	if last {
		action, key = testAction, "button.test"
	}
	data := words.D{"Machine": words.User(st.Machine.Name), "Tag": at + 1, "Of": len(waiting.Tags)}
	reply := Reply{Headline: c.say("release.headline", data)}
	if len(waiting.Tags) > 1 {
		reply.Headline = c.say("release.tag", data)
	}
	tag := st.Tags[slices.IndexFunc(st.Tags, func(t domain.Tag) bool { return t.Fact == waiting.Tags[at] })]
	reply.Lines = append(reply.Lines, c.tagLine(tag))
	if last {
		reply.Lines = append(reply.Lines, c.returnList(st)...)
	} else {
		reply.Lines = append(reply.Lines, c.say("release.see", nil))
	}
	// Whoever else hung it has to be asked.
	button := func(key string, style Style, owner domain.OwnerContact) {
		reply.Buttons = append(reply.Buttons,
			Button{Label: c.say(key, nil), Style: style, Custom: wait(c, action, waiting.answered(owner))})
	}
	if !tag.OwnersWord(c.actor.ID) {
		button(key, Grave, "")
		return reply
	}
	button(key+".asked", Grave, domain.OwnerAsked)
	button(key+".unreachable", Plain, domain.OwnerUnreachable)
	return reply
}

// returnList is what is seen to before a machine runs.
func (w *wording) returnList(st domain.Status) []string {
	lines := []string{w.say("release.list", nil)}
	for _, line := range st.Machine.Profile.Return {
		lines = append(lines, "- "+line)
	}
	if len(st.Machine.Profile.Checks) == 0 {
		// Nothing else asks for what every machine needs.
		lines = append(lines, "- "+w.say("release.guards", nil), "- "+w.say("release.stops", nil))
	}
	var paper []string
	for _, t := range st.Tags {
		if t.Paper != "" {
			paper = append(paper, words.User(t.Paper))
		}
	}
	if len(paper) > 0 {
		lines = append(lines, "- "+w.say("release.paper", words.D{"Numbers": strings.Join(paper, ", ")}))
	}
	return append(lines, w.say("release.locks", nil))
}

// onItsWay is the machine that a test waits for, as it stands.
func (c *call) onItsWay(waiting releasing) (domain.Status, error) {
	snap, err := c.books.Snapshot(c, waiting.Machine)
	if err != nil {
		return domain.Status{}, err
	}
	st := domain.Assess(snap, c.now)
	if t := st.NewTag(waiting.Tags); t != nil {
		return st, &userError{key: "release.newtag", data: words.D{"Reason": c.reason(t.Reason)}}
	}
	if !waiting.about(st) {
		return st, noSuchButton()
	}
	return st, nil
}

// runTagSeen shows the next tag.
func runTagSeen(c *call, waiting releasing) (Reply, error) {
	st, err := c.onItsWay(waiting)
	switch {
	case err != nil:
		return Reply{}, err
	case !st.TaggedOut():
		return Reply{}, &domain.Refusal{Code: domain.NotTagged, Name: st.Machine.Name}
	case len(waiting.Seen) == 0 || len(waiting.Seen) == len(waiting.Tags):
		return Reply{}, noSuchButton()
	}
	if err := c.books.Use(c, c.pending, c.id, c.now); err != nil {
		return Reply{}, err
	}
	reply := c.nextTag(st, waiting)
	reply.Replaces = true
	return reply, nil
}

// runTest records that the machine runs under test: its tags stay until it is released.
func runTest(c *call, waiting releasing) (Reply, error) {
	st, err := c.onItsWay(waiting)
	if err != nil {
		return Reply{}, err
	}
	o, err := c.report(st.Machine, domain.UnderTest{Note: waiting.Note, Tags: waiting.Seen})
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

// runEndTest records that a test ended without a release: the machine stays tagged out.
func runEndTest(c *call, of testArg) (Reply, error) {
	machine, test, err := c.testOf(of)
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.report(machine, domain.TestEnded{Test: test})
	if err != nil {
		return Reply{}, err
	}
	return Reply{Replaces: true,
		Headline: c.say("test.ended", words.D{"Machine": words.User(machine.Name), "No": outcome.Fact.No}),
		Lines:    []string{c.say("tag.do", nil)}}, nil
}

// runReleased lifts a machine's tags after its test: it is in service.
func runReleased(c *call, of testArg) (Reply, error) {
	machine, test, err := c.testOf(of)
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.report(machine, domain.Release{Test: test})
	if err != nil {
		return Reply{}, err
	}
	done := "release.done"
	if outcome.Before.SettingUp {
		done = "release.begins"
	}
	return Reply{Replaces: true, Headline: c.say(done, words.D{"Machine": words.User(machine.Name)}),
		Lines: []string{c.say("release.tell", nil), c.say("recorded", words.D{"No": outcome.Fact.No})}}, nil
}
