package commands

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"setscrew/commands/plot"
	"setscrew/commands/words"
	"setscrew/domain"
)

// Times of quiet and stewards' evenings are read from what people write, or not at all.
func TestHoursOfAShop(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string]string{
		"22:00-07:00": "22:00 07:00", "22:00 – 7:00": "22:00 07:00", "None": "00:00 00:00",
		"22:00": "", "22:00-22:00": "", "late-07:00": "", "22:00-early": "", "": "",
	} {
		q, ok := quietHours(typed)
		if ok != (want != "") || ok && fmt.Sprint(q.From, " ", q.Until) != want {
			t.Errorf("quiet %q: %v to %v, %v", typed, q.From, q.Until, ok)
		}
	}
	for typed, want := range map[string]string{
		"thu 18:00-21:00":      "[Thursday] 18:00 180",
		"tue, thu 18:00-21:30": "[Tuesday Thursday] 18:00 210",
		"all 18:00-18:01":      "[Monday Tuesday Wednesday Thursday Friday Saturday Sunday] 18:00 1",
		"sat-mon 9:00-10:00":   "[Saturday Sunday Monday] 09:00 60",
		"none":                 "[] 00:00 0",
		"thu":                  "", "18:00-21:00": "", "thu 18:00": "", "thu 21:00-18:00": "", "thu 18:00-18:00": "",
		"someday 18:00-21:00": "", "": "",
	} {
		e, ok := stewardEvenings(typed)
		if ok != (want != "") || ok && fmt.Sprint(e.Days, " ", e.From, " ", e.Minutes) != want {
			t.Errorf("evenings %q: %v %v %d, %v", typed, e.Days, e.From, e.Minutes, ok)
		}
	}
}

// Each picture has its drawing; anything else is no picture.
func TestDraw(t *testing.T) {
	t.Parallel()
	limits := &plot.Limits{Title: "infeed roller", Unit: "mm", Points: []plot.Point{{Name: "left", Value: 1}},
		After: []plot.Point{{Name: "left", Value: 2}}}
	for _, data := range []any{limits, &plot.Moves{Limits: limits, Screws: []plot.Screw{{Name: "left"}}, InARow: true}} {
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
	if did.Load() != 1<<9-1 || err == nil || err.Error() != "three\npanic: five" {
		t.Errorf("did %b: %v", did.Load(), err)
	}
	if err := several(0, nil); err != nil {
		t.Error(err)
	}
}

// Two commands, or two actions, of one name are a fault of the program.
func TestNamesAreOnlyOnce(t *testing.T) {
	t.Parallel()
	c, a := command{Command: &Command{Name: "why"}}, action{Action: &Action{Name: "why"}}
	for want, make := range map[string]func(){
		"commands: two commands named why": func() { newDesk(nil, nil, nil, []command{c, c}, nil) },
		"commands: two actions named why":  func() { newDesk(nil, nil, nil, nil, []action{a, a}) },
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
	if d := newDesk(nil, nil, nil, []command{c}, []action{a}); !reflect.DeepEqual(d.Declarations(),
		[]*Command{c.Command}) || !reflect.DeepEqual(d.Actions(), []*Action{a.Action}) {
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
