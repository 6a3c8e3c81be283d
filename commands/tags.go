package commands

import (
	"errors"
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
)

var tagoutCommand = &Command{
	Name: "tagout", Who: Anyone, Quiet: true, Words: 60,
	Options: []Option{machineOption, {Name: "reason", Takes: Text, Required: true, Max: 200},
		{Name: "paper", Takes: Text, Max: 40}, whenOption, forOption},
	Examples: []string{`/tagout machine:Marble reason:"knives look loose"`},
}

var releaseCommand = &Command{
	Name: "release", Who: Steward, Quiet: true, Words: 260,
	Options:  []Option{machineOption, noteOption},
	Examples: []string{`/release machine:Marble note:"infeed roller reset and read again"`},
}

var undoCommand = &Command{
	Name: "undo", Who: Anyone, Quiet: true, Words: 40,
	Options:  []Option{{Name: "report", Takes: Text, Max: 20}},
	Examples: []string{`/undo`, `/undo report:12`},
}

// testAction runs a machine under test once the return-to-service list is
// confirmed.
const testAction waiting[releasing] = "test"

// endTestAction ends a test; its argument is the machine.
const endTestAction lasting[machineArg] = "endtest"

// releaseAction lifts the tags of a machine that runs well under test; its
// argument is the machine.
const releaseAction lasting[machineArg] = "release"

// withdrawAction withdraws one report.
const withdrawAction waiting[turning] = "withdraw"

func runTagout(c *call) (Reply, error) {
	m, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	o, err := c.report(m, domain.TagOut{Paper: words.Clean(c.options["paper"]),
		Reason: domain.Reason{Code: domain.SaidBySomebody, Text: words.Clean(c.options["reason"])}})
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.outOfService(m), Lines: []string{c.say("tag.do", nil), c.say("tag.isolates-nothing", nil)}}
	if o.Before.TaggedOut() {
		r.Lines = append(r.Lines, c.say("tag.added", words.D{"N": len(o.After.Tags)}))
	}
	r.Lines = append(r.Lines, c.say("recorded", words.D{"No": o.Fact.No}))
	return r, nil
}

// releasing is a test before a release that waits for its list to be confirmed.
type releasing struct {
	Machine domain.MachineID    `json:"machine"`
	Note    string              `json:"note,omitempty"`
	Owner   domain.OwnerContact `json:"owner,omitempty"`
	Tags    []domain.FactNo     `json:"tags"` // those that stood when it was asked
}

func runRelease(c *call) (Reply, error) {
	m, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	if st.Test != nil {
		return c.testReply(st), nil
	}
	w := releasing{Machine: m.ID, Note: words.Clean(c.options["note"]), Owner: domain.OwnerAsked}
	// What would refuse the test is said now; whether the owner was asked is what
	// the buttons ask.
	if r := domain.Admit(st, domain.Entry{By: c.actor.ID, Body: domain.UnderTest{Note: w.Note, Owner: w.Owner}}); r != nil {
		return Reply{}, r
	}
	r := Reply{Headline: c.say("release.headline", words.D{"Machine": words.User(m.Name)})}
	var paper []string
	for _, t := range st.Tags {
		w.Tags = append(w.Tags, t.Fact)
		r.Lines = append(r.Lines, c.tagLine(t))
		if t.Paper != "" {
			paper = append(paper, words.User(t.Paper))
		}
	}
	r.Lines = append(r.Lines, c.say("release.list", nil))
	for _, line := range m.Profile.Return {
		r.Lines = append(r.Lines, "- "+line)
	}
	if len(paper) > 0 {
		r.Lines = append(r.Lines, "- "+c.say("release.paper", words.D{"Numbers": strings.Join(paper, ", ")}))
	}
	r.Lines = append(r.Lines, c.say("release.locks", nil))
	button := func(key string, style Style) {
		r.Buttons = append(r.Buttons, Button{Label: c.say(key, nil), Style: style, Custom: wait(c, testAction, w)})
	}
	if !domain.OthersHung(st.Tags, c.actor.ID) {
		w.Owner = ""
		button("button.test", Grave)
		return r, nil
	}
	button("button.test.asked", Grave)
	w.Owner = domain.OwnerUnreachable
	button("button.test.unreachable", Plain)
	return r, nil
}

func runTest(c *call, w releasing) (Reply, error) {
	snap, err := c.books.Snapshot(c, w.Machine)
	if err != nil {
		return Reply{}, err
	}
	known := map[domain.FactNo]bool{}
	for _, no := range w.Tags {
		known[no] = true
	}
	for _, t := range snap.Tags {
		if !known[t.Fact] {
			return Reply{}, &userError{key: "release.newtag", data: words.D{"Reason": c.reason(t.Reason)}}
		}
	}
	o, err := c.report(snap.Machine, domain.UnderTest{Owner: w.Owner, Note: w.Note})
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
	r := Reply{Headline: c.say("test.headline", d), Lines: []string{c.say("test.do", nil)}}
	if len(st.Blockers) > 0 {
		r.Lines = append(r.Lines, c.say("test.still", nil))
	}
	for _, line := range c.blockerLines(st.Blockers) {
		r.Lines = append(r.Lines, "- "+line)
	}
	r.Lines = append(r.Lines, c.say("test.then", nil))
	of := machineArg(st.Machine.ID)
	r.Buttons = []Button{{Label: c.say("button.release", nil), Style: Grave, Custom: releaseAction.with(of)},
		{Label: c.say("button.endtest", nil), Custom: endTestAction.with(of)}}
	return r
}

func runEndTest(c *call, of machineArg) (Reply, error) {
	snap, err := c.books.Snapshot(c, domain.MachineID(of))
	if err != nil {
		return Reply{}, err
	}
	m := snap.Machine
	o, err := c.report(m, domain.TestEnded{})
	if err != nil {
		return Reply{}, err
	}
	return Reply{Replaces: true, Headline: c.say("test.ended", words.D{"Machine": words.User(m.Name), "No": o.Fact.No}),
		Lines: []string{c.say("tag.do", nil)}}, nil
}

func runReleased(c *call, of machineArg) (Reply, error) {
	snap, err := c.books.Snapshot(c, domain.MachineID(of))
	if err != nil {
		return Reply{}, err
	}
	m := snap.Machine
	o, err := c.report(m, domain.Release{})
	if err != nil {
		return Reply{}, err
	}
	return Reply{Replaces: true, Headline: c.say("release.done", words.D{"Machine": words.User(m.Name)}),
		Lines: []string{c.say("release.tell", nil), c.say("recorded", words.D{"No": o.Fact.No})}}, nil
}

func runUndo(c *call) (Reply, error) {
	if typed := strings.TrimSpace(c.options["report"]); typed != "" {
		no, err := reportNo(typed)
		if err != nil {
			return Reply{}, &userError{key: "report.number", data: words.D{"Given": words.User(typed)}, example: "/undo report:12"}
		}
		return c.undo(no)
	}
	f, err := c.books.LastBy(c, c.actor.ID)
	if err != nil {
		return Reply{}, err
	}
	return c.undo(f.No)
}

// reportNo reads a report's number as people write it: "12", "no. 12", "#12".
func reportNo(typed string) (domain.FactNo, error) {
	t := strings.TrimLeft(strings.ToLower(typed), "no.# ")
	n, err := strconv.ParseInt(t, 10, 64)
	if err == nil && n < 1 {
		err = errors.New("not a report's number")
	}
	return domain.FactNo(n), err
}

func runWithdraw(c *call, t turning) (Reply, error) {
	r, err := c.undo(t.Reading)
	r.Replaces = true
	return r, err
}

func (c *call) undo(no domain.FactNo) (Reply, error) {
	f, err := c.books.Fact(c, no)
	if err != nil {
		return Reply{}, err
	}
	if f.By != c.actor.ID && !c.steward() {
		return Reply{}, &domain.Refusal{Code: domain.OthersReport, Fact: no}
	}
	o, err := c.books.Report(c, domain.Entry{Key: c.id, Pending: c.pending, Machine: f.Machine, At: c.now, Recorded: c.now, By: c.actor.ID,
		For: c.actor.ID, Typed: c.typed, Body: domain.Withdrawal{Of: no}})
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.say("undo.done", words.D{"No": no, "What": c.factLine(f, o.After.Machine)})}
	switch {
	case !o.Before.TaggedOut() && o.After.TaggedOut():
		r.Lines = append(r.Lines, c.outOfService(o.After.Machine))
	case o.After.TaggedOut():
		r.Lines = append(r.Lines, c.say("undo.tagged", words.D{"Machine": words.User(o.After.Machine.Name)}))
	}
	return r, nil
}
