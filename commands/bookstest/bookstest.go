// Package bookstest holds what commands.Books promises, as cases for whatever claims
// to be one: a store, a recorder in tests, books over a network.
package bookstest

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// Open makes new books in which nothing stands yet, and gives each shop's.
type Open func(t *testing.T) func(domain.ShopID) commands.Books

// Run holds books against every case, each a test of its own on new books. A case that
// fails says why the commands rest on it.
func Run(t *testing.T, open Open) {
	for _, test := range Cases() {
		t.Run(test.Name, func(t *testing.T) {
			t.Parallel()
			defer func() {
				if t.Failed() {
					t.Log("why it matters: " + test.Why)
				}
			}()
			test.Check(t, open(t))
		})
	}
}

// T is what a case needs of a test. Fatalf does not return.
type T interface {
	Helper()
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
}

// Case is one promise.
type Case struct {
	Name string
	Why  string // what would go wrong for a shop without it
	run  func(*shop)
}

// Check holds new books against the case.
func (c Case) Check(t T, books func(domain.ShopID) commands.Books) {
	t.Helper()
	c.run(&shop{T: t, all: books, Books: books("one"), ctx: context.Background()})
}

// start is when the cases begin: a Monday morning.
var start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// after is a number of hours after the start.
func after(hours float64) time.Time { return start.Add(time.Duration(hours * float64(time.Hour))) }

// shop is shop "one", whose books are held against a case.
type shop struct {
	T
	commands.Books
	all  func(domain.ShopID) commands.Books
	ctx  context.Context
	keys int
}

// entry is a report by ada that happened, and is typed, a number of hours after the start,
// under a key of its own.
func (s *shop) entry(hours float64, m domain.MachineID, b domain.Body) domain.Entry {
	s.keys++
	return domain.Entry{Key: fmt.Sprint("interaction ", s.keys), Machine: m, At: after(hours), Recorded: after(hours),
		By: "ada", For: "ada", Typed: "/typed", Body: b, Sure: true}
}

// report reports an entry, which must be taken.
func (s *shop) report(e domain.Entry) domain.Outcome {
	s.Helper()
	o, err := s.Report(s.ctx, e)
	if err != nil {
		s.Fatalf("report %T: %v", e.Body, err)
	}
	return o
}

// tell reports a body by ada.
func (s *shop) tell(hours float64, m domain.MachineID, b domain.Body) domain.Outcome {
	s.Helper()
	return s.report(s.entry(hours, m, b))
}

// refused holds that an error is a refusal for a reason.
func (s *shop) refused(what string, err error, want domain.Code) {
	s.Helper()
	var refusal *domain.Refusal
	if !errors.As(err, &refusal) || refusal.Code != want {
		s.Errorf("%s: %v, want a refusal %s", what, err, want)
	}
}

// fails ends the case where an error is one.
func (s *shop) fails(what string, err error) {
	s.Helper()
	if err != nil {
		s.Fatalf("%s: %v", what, err)
	}
}

// setup keeps a planer's profile, and is a set-up with it.
func (s *shop) setup() domain.Setup {
	s.Helper()
	text, err := profile.BuiltinText("thickness-planer")
	s.fails("read the profile of a planer", err)
	hash, err := s.KeepProfile(s.ctx, "thickness-planer", text)
	s.fails("keep a profile", err)
	return domain.Setup{Kind: "thickness-planer", Hash: hash, Params: profile.Params{"knives": "2"}, Rev: 1}
}

// planer adds a planer on which all checks read as they should.
func (s *shop) planer(name string) domain.MachineID {
	s.Helper()
	o := s.tell(0, 0, domain.MachineAdded{Name: name, Setup: s.setup()})
	planer := o.Fact.Machine
	for i := range o.After.Machine.Profile.Checks {
		check := &o.After.Machine.Profile.Checks[i]
		if check.OnDemand {
			continue
		}
		if check.Inspection {
			s.tell(0, planer, domain.Inspection{Check: check.ID, Pass: true})
		} else {
			s.tell(0, planer, reading(check, check.Example))
		}
	}
	return planer
}

// reading is a reading of a check, with one value everywhere.
func reading(c *profile.Check, v quantity.Value) domain.Reading {
	reading := domain.Reading{Check: c.ID, Typed: "typed", Gauge: domain.GaugeUsed{Name: "dial",
		Gauge: metrology.Gauge{Uncertainty: quantity.New(1, 1, quantity.Thou), Coverage: 2}}}
	for _, position := range c.Positions {
		reading.Values = append(reading.Values, quantity.At{Position: position, Repeats: []quantity.Value{v}})
	}
	return reading
}

// infeed is a reading of a planer's infeed roller in thou.
func (s *shop) infeed(m domain.MachineID, thou int64) domain.Reading {
	s.Helper()
	return reading(s.snapshot(m).Machine.Profile.Check("infeed"), quantity.New(thou, 1, quantity.Thou))
}

func (s *shop) snapshot(m domain.MachineID) domain.Snapshot {
	s.Helper()
	snap, err := s.Snapshot(s.ctx, m)
	s.fails("a snapshot", err)
	return snap
}

// seconds is a machine's use in all.
func (s *shop) seconds(m domain.MachineID) int64 {
	s.Helper()
	return int64(s.snapshot(m).Hours.Float(quantity.Second))
}

// newest is the number of the last fact of a machine, by its logbook.
func (s *shop) newest(m domain.MachineID) domain.FactNo {
	s.Helper()
	facts, err := s.Logbook(s.ctx, m, 0, 1)
	s.fails("the logbook", err)
	if len(facts) == 0 {
		return 0
	}
	return facts[0].No
}

// numbers lists facts by their numbers.
func numbers(facts []domain.Fact) (all []domain.FactNo) {
	for _, f := range facts {
		all = append(all, f.No)
	}
	return all
}

// hours is a report of so much use.
func hours(n float64) domain.Hours { return domain.Hours{Seconds: int64(n * 3600)} }
