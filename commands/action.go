package commands

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"

	"setscrew/domain"
)

// waiting names what waits in the books behind a button or a form until it is
// pressed, once. What it needs to know is a T, kept as JSON. The one who handles it
// stands in the table.
type waiting[T any] string

// wait keeps what an action needs to know and returns a custom id for its button
// or form. The id follows from the interaction's, so it is unique and the same in
// every run.
func wait[T any](c *call, action waiting[T], with T) string {
	text, err := json.Marshal(with)
	if err != nil {
		panic(fmt.Errorf("commands: encode what waits behind %s: %w", action, err)) // our own plain structs
	}
	p := domain.Pending{ID: c.id + "." + strconv.Itoa(len(c.kept)+1), Action: string(action), Args: text,
		Asked: c.actor.ID, Made: c.now, Expires: c.now.Add(pendingLife)}
	c.kept = append(c.kept, p)
	return custom(p.Action, p.ID)
}

// waits is an action whose argument waits in the books.
func waits[T any](a waiting[T], who Who, press func(*call, T) (Reply, error)) action {
	return action{&Action{Name: string(a), Who: who, Waits: true}, func(c *call, kept string) (Reply, error) {
		var with T
		if err := json.Unmarshal([]byte(kept), &with); err != nil {
			return Reply{}, fmt.Errorf("decode what waited behind %s: %w", a, err)
		}
		return press(c, with)
	}}
}

// slowly is the action as one that may take longer than a chat waits.
func (a action) slowly() action {
	a.Slow = true
	return a
}

// lasting names what a button does as often as it is pressed: its argument, a T,
// stands in its custom id.
type lasting[T argument[T]] string

// argument is what a custom id holds: it parses what its String gives, and refuses
// anything else.
type argument[T any] interface {
	String() string
	parse(text string) (T, bool)
}

// with is the custom id of a button that does it with an argument.
func (a lasting[T]) with(arg T) string { return custom(string(a), arg.String()) }

// lasts is an action whose argument stands in its custom id.
func lasts[T argument[T]](a lasting[T], who Who, press func(*call, T) (Reply, error)) action {
	return action{&Action{Name: string(a), Who: who}, func(c *call, text string) (Reply, error) {
		var none T
		arg, ok := none.parse(text)
		if !ok {
			return Reply{}, noSuchButton()
		}
		return press(c, arg)
	}}
}

// noSuchButton refuses a button that is none of this version's.
func noSuchButton() error { return &userError{key: "no-such-button"} }

// calledArg is whom a button calls: the stewards, nobody else so far.
type calledArg struct{}

func (calledArg) String() string { return "stewards" }

func (c calledArg) parse(text string) (calledArg, bool) { return c, text == c.String() }

// testArg is a machine, and the test of it that a button is about, by its report. Its
// text is "machine.test", "machine" alone where the test is 0: of an earlier version.
type testArg struct {
	machine domain.MachineID
	test    domain.FactNo
}

func (a testArg) String() string {
	if a.test == 0 {
		return strconv.FormatInt(int64(a.machine), 10)
	}
	return fmt.Sprintf("%d.%d", a.machine, a.test)
}

func (testArg) parse(text string) (testArg, bool) {
	machine, test, named := strings.Cut(text, ".")
	no, ok := number(machine, 1)
	if !named {
		return testArg{machine: domain.MachineID(no)}, ok
	}
	of, okTest := number(test, 1)
	return testArg{domain.MachineID(no), domain.FactNo(of)}, ok && okTest
}

// factArg is the report that a button is about.
type factArg domain.FactNo

func (f factArg) String() string { return strconv.FormatInt(int64(f), 10) }

func (factArg) parse(text string) (factArg, bool) {
	no, ok := number(text, 1)
	return factArg(no), ok
}

// logPage is a page of a machine's logbook: what was reported before a report, the
// newest where that is 0. Its text is "machine.before".
type logPage struct {
	machine domain.MachineID
	before  domain.FactNo
}

func (p logPage) String() string { return fmt.Sprintf("%d.%d", p.machine, p.before) }

func (logPage) parse(text string) (logPage, bool) {
	machine, before, ok := parseOfMachine(text, 0)
	return logPage{machine, before}, ok
}

// parseOfMachine reads "machine.report", the text of what is about a report of a machine's;
// the report's number is at least a number.
func parseOfMachine(text string, least int64) (machine domain.MachineID, report domain.FactNo, ok bool) {
	of, about, _ := strings.Cut(text, ".")
	id, okMachine := number(of, 1)
	no, okReport := number(about, least)
	return domain.MachineID(id), domain.FactNo(no), okMachine && okReport
}

// finding is an answer about a problem by the report of it: to a question, or about
// a cause. Its text is "report/item/answer".
type finding struct {
	problem domain.FactNo
	about   domain.Item
	answer  domain.Answer
}

func (f finding) String() string { return fmt.Sprintf("%d/%s/%s", f.problem, f.about, f.answer) }

func (finding) parse(text string) (finding, bool) {
	parts := strings.Split(text, "/")
	if len(parts) != 3 {
		return finding{}, false
	}
	no, ok := number(parts[0], 1)
	about, err := domain.ParseItem(parts[1])
	f := finding{domain.FactNo(no), about, domain.Answer(parts[2])}
	switch f.answer {
	case domain.AnswerYes, domain.AnswerNo, domain.AnswerUnsure:
		return f, ok && err == nil
	}
	return finding{}, false
}

// visitArg is a visit of the plan that a report keeps, and one of its jobs: both
// from 0, the job -1 for none. Its text, "report.visit.job", counts from 1.
type visitArg struct {
	plan       domain.FactNo
	visit, job int
}

func (v visitArg) String() string { return fmt.Sprintf("%d.%d.%d", v.plan, v.visit+1, v.job+1) }

func (visitArg) parse(text string) (visitArg, bool) {
	parts := strings.Split(text, ".")
	if len(parts) != 3 {
		return visitArg{}, false
	}
	plan, okPlan := number(parts[0], 1)
	visit, okVisit := number(parts[1], 1)
	job, okJob := number(parts[2], 0)
	return visitArg{domain.FactNo(plan), int(visit) - 1, int(job) - 1}, okPlan && okVisit && okJob
}

// number reads a whole number that is not less than the least, in the digits in
// which it is printed.
func number(text string, least int64) (int64, bool) {
	n, err := strconv.ParseInt(text, 10, 64)
	return n, err == nil && n >= least && strconv.FormatInt(n, 10) == text
}

// customVersion begins every custom id, so that a later form of them can be
// told from this one.
const customVersion = "s1"

// custom is the custom id of an action with its argument, at most 100
// characters.
func custom(action, arg string) string { return customVersion + ":" + action + ":" + arg }

// parseCustom splits what custom made.
func parseCustom(id string) (action, arg string, err error) {
	parts := strings.SplitN(id, ":", 3)
	if len(parts) != 3 || parts[0] != customVersion || len(id) > 100 {
		return "", "", fmt.Errorf("custom id %q is not one of ours", id)
	}
	return parts[1], parts[2], nil
}

// pendingLife is how long a button or form may wait.
const pendingLife = 30 * 24 * time.Hour
