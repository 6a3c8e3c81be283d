package commands

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"setscrew/commands/plot"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// Times of quiet and stewards' evenings are read from what people write, or not at all.
func TestHoursOfAShop(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string]string{
		"22:00-07:00": "22:00 07:00", "10pm-7am": "22:00 07:00", "10-7": "",
		"22:00 – 7:00": "22:00 07:00", "None": "00:00 00:00",
		"22:00": "", "22:00-22:00": "", "late-07:00": "", "22:00-early": "", "": "",
	} {
		q, err := quietHours(typed)
		if ok := err == nil; ok != (want != "") || ok && fmt.Sprint(q.From, " ", q.Until) != want {
			t.Errorf("quiet %q: %v to %v, %v", typed, q.From, q.Until, err)
		}
	}
	for typed, want := range map[string]string{
		"thu 18:00-21:00":      "[Thursday] 18:00 180",
		"tue, thu 18:00-21:30": "[Tuesday Thursday] 18:00 210",
		"all 18:00-18:01":      "[Monday Tuesday Wednesday Thursday Friday Saturday Sunday] 18:00 1",
		"sat-mon 9:00-10:00":   "[Saturday Sunday Monday] 09:00 60",
		"thu 6pm to 9pm":       "[Thursday] 18:00 180",
		"none":                 "[] 00:00 0",
		"thu":                  "", "18:00-21:00": "", "thu 18:00": "", "thu 21:00-18:00": "", "thu 18:00-18:00": "",
		"someday 18:00-21:00": "", "": "",
	} {
		e, err := stewardEvenings(typed)
		if ok := err == nil; ok != (want != "") || ok && fmt.Sprint(e.Days, " ", e.From, " ", e.Minutes) != want {
			t.Errorf("evenings %q: %v %v %d, %v", typed, e.Days, e.From, e.Minutes, err)
		}
	}
}

// Each picture has its drawing; anything else is no picture.
func TestDraw(t *testing.T) {
	t.Parallel()
	limits := &plot.Limits{Title: "infeed roller", Unit: "mm", Points: []plot.Point{{Name: "left", Value: 1}},
		After: []plot.Point{{Name: "left", Value: 2}}}
	moves := &plot.Moves{Limits: limits, Screws: []plot.Screw{{Name: "left"}}, InARow: true}
	for _, data := range []any{limits, moves} {
		if png, err := Draw(Picture{Data: data}); err != nil || !bytes.HasPrefix(png, []byte("\x89PNG")) {
			t.Errorf("%T: %v", data, err)
		}
	}
	if _, err := Draw(Picture{Data: 7}); err == nil || !strings.Contains(err.Error(), "int") {
		t.Errorf("a number: %v", err)
	}
}

// Each is done once; what fails, or panics, is told, and keeps no other back.
func TestSeveral(t *testing.T) {
	t.Parallel()
	var did atomic.Int64
	err := several(9, func(i int) error {
		did.Add(1 << i)
		switch i {
		case 3:
			return errors.New("three")
		case 5:
			panic("five")
		}
		return nil
	})
	if did.Load() != 1<<9-1 || err == nil || err.Error() != "three\npanic in part 6 of 9: five" {
		t.Errorf("did %b: %v", did.Load(), err)
	}
	if err := several(0, nil); err != nil {
		t.Error(err)
	}
}

// Two commands, or two actions, of one name are a fault of the program.
func TestNamesAreOnlyOnce(t *testing.T) {
	t.Parallel()
	one, press := command{Command: &Command{Name: "why"}}, action{Action: &Action{Name: "why"}}
	for want, make := range map[string]func(){
		"commands: two commands named why": func() { newDesk(nil, nil, nil, []command{one, one}, nil) },
		"commands: two actions named why":  func() { newDesk(nil, nil, nil, nil, []action{press, press}) },
	} {
		func() {
			defer func() {
				if got := recover(); got != want {
					t.Errorf("panics with %v", got)
				}
			}()
			make()
		}()
	}
	if d := newDesk(nil, nil, nil, []command{one}, []action{press}); !reflect.DeepEqual(d.Declarations(),
		[]*Command{one.Command}) || !reflect.DeepEqual(d.Actions(), []*Action{press.Action}) {
		t.Error("one of each is not taken")
	}
}

// On paper, names stand plain and times as the shop's clocks show them.
func TestOnPaper(t *testing.T) {
	t.Parallel()
	shop := domain.NewShop("quarry-street")
	shop.Zone = "CET"
	at := time.Date(2026, 3, 2, 23, 30, 0, 0, time.UTC)
	for said, want := range map[string]string{
		words.User("a **b**") + "":              "a **b**",
		words.Person("ada"):                     "ada",
		words.Link("http://shop.test/p", "pic"): "pic (http://shop.test/p)",
		words.Time(at, words.Date):              "Tue 3 Mar 2026",
		words.Time(at, words.DateTime):          "Tue 3 Mar 2026 00:30",
	} {
		if got := words.Expand(said, onPaper{shop}); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// A shop keeps at most twenty thicknesses of shim, from 0.001 to 10 mm, each once.
func TestShims(t *testing.T) {
	t.Parallel()
	thicknesses := func(n int) string {
		var all []string
		for i := range n {
			all = append(all, fmt.Sprintf("0.%02d", i+10))
		}
		return strings.Join(all, " ") + " mm"
	}
	for _, test := range []struct {
		typed string
		count int // -1 where it is refused
	}{
		{"None", 0}, {"0.1, 0.05 mm", 2}, {"0.1 0.1 0.2 mm", 2}, {"0.001 mm", 1}, {"0.0009 mm", -1}, {"10 mm", 1},
		{"10.001 mm", -1}, {thicknesses(20), 20}, {thicknesses(21), -1}, {"0.2 0.1 0.2 " + thicknesses(19), 19},
		{"thin", -1},
	} {
		all, ok := shims(test.typed, quantity.Metric)
		if ok != (test.count >= 0) || ok && len(all) != test.count ||
			ok && !slices.IsSortedFunc(all, quantity.Value.Cmp) {
			t.Errorf("%s: %d, %v", test.typed, len(all), ok)
		}
	}
	if all, ok := shims("5", quantity.Imperial); !ok || !all[0].Equal(quantity.New(5, 1, quantity.Thou)) {
		t.Errorf("in inches: %v, %v", all, ok)
	}
}

// Limits may meet, and meet the target, but not cross; those that are absent bound
// nothing.
func TestInOrder(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]bool{
		"1 2 3 4 5": true, "3 3 3 3 3": true, "- - 3 - -": true, "- 2 3 - 5": true, "1 - 3 4 -": true,
		"2 1 3 4 5": false, "1 4 3 4 5": false, "1 2 5 4 5": false, "1 2 3 6 5": false, "4 - 3 - -": false,
		"- - 3 - 2": false,
	} {
		value := make([]quantity.Value, 5)
		for i, s := range strings.Fields(text) {
			if n, err := strconv.ParseInt(s, 10, 64); err == nil {
				value[i] = quantity.New(n, 1, quantity.Millimetre)
			}
		}
		if got := inOrder(&domain.CheckValues{Stop: metrology.Limits{Low: value[0], High: value[4]},
			Adjust: metrology.Limits{Low: value[1], High: value[3]}, Target: value[2]}); got != want {
			t.Errorf("%s: in order %v", text, got)
		}
	}
}

// A shop says at most thirty times when it is closed, each a day or one to a later one.
func TestClosures(t *testing.T) {
	t.Parallel()
	by := upkeep.Clocks{Now: time.Date(2026, 3, 4, 10, 15, 0, 0, time.UTC), Loc: time.UTC}
	days := func(n int) string { return strings.TrimSuffix(strings.Repeat("2026-01-01,", n), ",") }
	for typed, want := range map[string]int{ // -1 where it is refused
		"none": 0, "2026-01-01": 1, "2026-01-01 to 2026-01-01": 1, "2026-12-24 to 2027-01-06, 2026-05-01": 2,
		"24 dec to 2 jan, may 1": 2, "3/4": -1, "13/4": 1,
		days(30): 30, days(31): -1, "2026-01-02 to 2026-01-01": -1, "2026-02-30": -1, "2026-01-01 to easter": -1,
		"": -1, "2026-01-01,": -1,
	} {
		all, err := closures(typed, by)
		inOrder := slices.IsSortedFunc(all, func(a, b upkeep.Closure) int { return strings.Compare(a.First, b.First) })
		if ok := err == nil; ok != (want >= 0) || ok && (len(all) != want || !inOrder) {
			t.Errorf("%s: %v, %v", typed, all, err)
		}
	}
}

// What is named of a cause speaks for it by a quarter of its odds at the least.
func TestStrongestEvidence(t *testing.T) {
	t.Parallel()
	for odds, named := range map[float64]bool{1.2: false, 1.25: true, 3: true} {
		suspect := domain.Suspect{Evidence: []domain.Evidence{{Code: domain.EvidenceSince, Odds: odds}}}
		if got := strongest(suspect); (got != nil) != named {
			t.Errorf("odds %g: %+v", odds, got)
		}
	}
}

// Nobody is told of more than twenty tries.
func TestTriesAreBounded(t *testing.T) {
	t.Parallel()
	cat, err := words.Load()
	if err != nil {
		t.Fatal(err)
	}
	one := quantity.New(1, 1, quantity.Millimetre)
	cs := domain.Adjusting{CheckStatus: &domain.CheckStatus{Check: &profile.Check{Name: "bed"}},
		Plan: &domain.Plan{Pass: 0.02, Tries: 50, Expect: []domain.Expected{{Position: "left", Reading: one, U: one}}}}
	wording := &wording{speaker: cat.In()}
	line := wording.expectLine(cs, ruler{unit: quantity.Millimetre, decimals: 1}, false)
	if !strings.Contains(line, "20.0") || strings.Contains(line, "50") {
		t.Errorf("%q", line)
	}
}

// Whoever answers an injury is not sent to read checks.
func TestInjuryComesFirst(t *testing.T) {
	t.Parallel()
	cat, err := words.Load()
	if err != nil {
		t.Fatal(err)
	}
	text, err := profile.BuiltinText("thickness-planer")
	if err != nil {
		t.Fatal(err)
	}
	prof, err := profile.Load("planer", text, nil)
	if err != nil {
		t.Fatal(err)
	}
	wording := &wording{speaker: cat.In()}
	moved := domain.Problem{Danger: true, Surfaces: []string{prof.Checks[0].ID, prof.Checks[1].ID}}
	machine := domain.Machine{Name: "Marble", Profile: prof}
	hurt := wording.dangerReply(machine, &profile.Symptom{Hurt: true, Advice: "Call for help."}, moved, "No. 1.")
	other := wording.dangerReply(machine, &profile.Symptom{Advice: "Stop it."}, moved, "No. 1.")
	if len(hurt.Lines) != 4 || len(other.Lines) <= 4 {
		t.Errorf("hurt %q, otherwise %q", hurt.Lines, other.Lines)
	}
}
