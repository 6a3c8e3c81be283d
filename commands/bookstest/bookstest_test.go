package bookstest_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/commands/bookstest"
	"setscrew/domain"
	"setscrew/store"
)

// recorder is a test that notes whether it failed.
type recorder struct{ failed []string }

// stopped is what ends a case.
type stopped struct{}

func (r *recorder) Helper() {}
func (r *recorder) Errorf(format string, args ...any) {
	r.failed = append(r.failed, fmt.Sprintf(format, args...))
}
func (r *recorder) Fatalf(format string, args ...any) {
	r.Errorf(format, args...)
	panic(stopped{})
}

// failures is what a case finds wrong with books.
func failures(promise bookstest.Case, books func(domain.ShopID) commands.Books) []string {
	read := &recorder{}
	func() {
		defer func() {
			if p := recover(); p != nil && p != (stopped{}) {
				panic(p)
			}
		}()
		promise.Check(read, books)
	}()
	return read.failed
}

// wrong are books with one method that does not keep its promise.
type wrong struct {
	commands.Books
	report    func(commands.Books, context.Context, domain.Entry) (domain.Outcome, error)
	reportAll func(commands.Books, context.Context, []domain.Entry, bool) ([]domain.Outcome, error)
	runs      func(b commands.Books, ctx context.Context, m domain.MachineID, from, until time.Time) ([]domain.Run,
		error)
	machines func(commands.Books, context.Context) ([]domain.Machine, error)
	logbook  func(b commands.Books, ctx context.Context, m domain.MachineID, before domain.FactNo,
		limit int) ([]domain.Fact, error)
	lastBy   func(commands.Books, context.Context, domain.PersonID) (domain.Fact, error)
	pending  func(commands.Books, context.Context, string, time.Time) (domain.Pending, error)
	use      func(commands.Books, context.Context, string, string, time.Time) error
	readings func(commands.Books, context.Context, domain.MachineID, string, time.Time) ([]domain.ReadAt, float64,
		error)
	recent   func(commands.Books, context.Context, domain.PersonID, int) ([]domain.Fact, error)
	stewards func(commands.Books, context.Context, string) ([]domain.PersonID, error)
	note     func(commands.Books, context.Context, domain.PersonID, string, time.Time) error
	fact     func(domain.Fact) domain.Fact
}

func (w wrong) Stewards(ctx context.Context, role string) ([]domain.PersonID, error) {
	if w.stewards != nil {
		return w.stewards(w.Books, ctx, role)
	}
	return w.Books.Stewards(ctx, role)
}

func (w wrong) Fact(ctx context.Context, no domain.FactNo) (domain.Fact, error) {
	fact, err := w.Books.Fact(ctx, no)
	if w.fact != nil && err == nil {
		fact = w.fact(fact)
	}
	return fact, err
}

func (w wrong) NoteSteward(ctx context.Context, p domain.PersonID, role string, now time.Time) error {
	if w.note != nil {
		return w.note(w.Books, ctx, p, role, now)
	}
	return w.Books.NoteSteward(ctx, p, role, now)
}

func (w wrong) Report(ctx context.Context, e domain.Entry) (domain.Outcome, error) {
	if w.report != nil {
		return w.report(w.Books, ctx, e)
	}
	return w.Books.Report(ctx, e)
}

func (w wrong) ReportAll(ctx context.Context, all []domain.Entry, trial bool) ([]domain.Outcome, error) {
	if w.reportAll != nil {
		return w.reportAll(w.Books, ctx, all, trial)
	}
	return w.Books.ReportAll(ctx, all, trial)
}

func (w wrong) Runs(ctx context.Context, m domain.MachineID, from, until time.Time) ([]domain.Run, error) {
	if w.runs != nil {
		return w.runs(w.Books, ctx, m, from, until)
	}
	return w.Books.Runs(ctx, m, from, until)
}

func (w wrong) Machines(ctx context.Context) ([]domain.Machine, error) {
	if w.machines != nil {
		return w.machines(w.Books, ctx)
	}
	return w.Books.Machines(ctx)
}

func (w wrong) Logbook(ctx context.Context, machine domain.MachineID, before domain.FactNo, limit int) ([]domain.Fact,
	error) {
	if w.logbook != nil {
		return w.logbook(w.Books, ctx, machine, before, limit)
	}
	return w.Books.Logbook(ctx, machine, before, limit)
}

func (w wrong) LastBy(ctx context.Context, p domain.PersonID) (domain.Fact, error) {
	if w.lastBy != nil {
		return w.lastBy(w.Books, ctx, p)
	}
	return w.Books.LastBy(ctx, p)
}

func (w wrong) Pending(ctx context.Context, id string, now time.Time) (domain.Pending, error) {
	if w.pending != nil {
		return w.pending(w.Books, ctx, id, now)
	}
	return w.Books.Pending(ctx, id, now)
}

func (w wrong) Use(ctx context.Context, id, key string, now time.Time) error {
	if w.use != nil {
		return w.use(w.Books, ctx, id, key, now)
	}
	return w.Books.Use(ctx, id, key, now)
}

func (w wrong) Readings(ctx context.Context, machine domain.MachineID, check string, since time.Time) ([]domain.ReadAt,
	float64, error) {
	if w.readings != nil {
		return w.readings(w.Books, ctx, machine, check, since)
	}
	return w.Books.Readings(ctx, machine, check, since)
}

func (w wrong) Recent(ctx context.Context, p domain.PersonID, limit int) ([]domain.Fact, error) {
	if w.recent != nil {
		return w.recent(w.Books, ctx, p, limit)
	}
	return w.Books.Recent(ctx, p, limit)
}

// Books that break a promise are found out by the case about it, and good ones by none.
func TestCasesFindWhatIsWrong(t *testing.T) {
	t.Parallel()
	early := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	var another atomic.Int64
	for _, test := range []struct {
		name  string
		wrong wrong
		all   bool   // every shop gets the first one's books
		found string // by the case of that name
	}{
		{"a key is not looked at", wrong{report: func(b commands.Books, ctx context.Context,
			e domain.Entry) (domain.Outcome, error) {
			e.Key += fmt.Sprint(" and ", another.Add(1))
			return b.Report(ctx, e)
		}}, false, "the same key again does nothing"},
		{"a context is not looked at", wrong{report: func(b commands.Books, ctx context.Context,
			e domain.Entry) (domain.Outcome, error) {
			return b.Report(context.WithoutCancel(ctx), e)
		}}, false, "a context that ended stores nothing"},
		{"a key may be empty", wrong{report: func(b commands.Books, ctx context.Context,
			e domain.Entry) (domain.Outcome, error) {
			if e.Key == "" {
				e.Key = "made up"
			}
			return b.Report(ctx, e)
		}}, false, "an entry has a key"},
		{"when it was typed counts", wrong{report: func(b commands.Books, ctx context.Context,
			e domain.Entry) (domain.Outcome, error) {
			e.At = e.Recorded
			return b.Report(ctx, e)
		}}, false, "what happened counts, not when it was typed"},
		{"what came since a stop is not looked at", wrong{report: func(b commands.Books, ctx context.Context,
			e domain.Entry) (domain.Outcome, error) {
			out, err := b.Report(ctx, e)
			var refused *domain.Refusal
			if errors.As(err, &refused) && refused.Code == domain.MistakeSince {
				return out, nil
			}
			return out, err
		}}, false, "a stop is taken back with nothing reported since"},
		{"a button is left as it is", wrong{report: func(b commands.Books, ctx context.Context,
			e domain.Entry) (domain.Outcome, error) {
			e.Pending = ""
			return b.Report(ctx, e)
		}}, false, "a button is pressed once"},
		{"a button is used up first", wrong{report: func(books commands.Books, ctx context.Context,
			entry domain.Entry) (domain.Outcome, error) {
			if entry.Pending != "" {
				if err := books.Use(ctx, entry.Pending, entry.Key, entry.Recorded); err != nil {
					return domain.Outcome{}, err
				}
			}
			return books.Report(ctx, entry)
		}}, false, "what is refused leaves its button"},
		{"a trial is meant", wrong{reportAll: func(b commands.Books, ctx context.Context, all []domain.Entry,
			_ bool) ([]domain.Outcome, error) {
			return b.ReportAll(ctx, all, false)
		}}, false, "a trial stores nothing"},
		{"one transaction each", wrong{reportAll: func(b commands.Books, ctx context.Context, all []domain.Entry,
			trial bool) (out []domain.Outcome, err error) {
			for _, e := range all {
				one, err := b.ReportAll(ctx, []domain.Entry{e}, trial)
				if err != nil {
					return nil, err
				}
				out = append(out, one...)
			}
			return out, nil
		}}, false, "all or none"},
		{"the end counts", wrong{runs: func(b commands.Books, ctx context.Context, m domain.MachineID, from,
			until time.Time) ([]domain.Run, error) {
			return b.Runs(ctx, m, from, until.Add(time.Millisecond))
		}}, false, "runs from a moment until before another"},
		{"the beginning does not count", wrong{runs: func(b commands.Books, ctx context.Context, m domain.MachineID,
			from, until time.Time) ([]domain.Run, error) {
			return b.Runs(ctx, m, from.Add(time.Millisecond), until)
		}}, false, "runs from a moment until before another"},
		{"capitals first", wrong{machines: func(b commands.Books, ctx context.Context) ([]domain.Machine, error) {
			all, err := b.Machines(ctx)
			slices.SortFunc(all, func(a, b domain.Machine) int { return strings.Compare(a.Name, b.Name) })
			return all, err
		}}, false, "machines by name"},
		{"a page begins with the last of that before", wrong{logbook: func(b commands.Books, ctx context.Context,
			m domain.MachineID, before domain.FactNo, limit int) ([]domain.Fact, error) {
			if before > 1 {
				before++
			}
			return b.Logbook(ctx, m, before, limit)
		}}, false, "a logbook in pages"},
		{"what was withdrawn is left out", wrong{logbook: func(b commands.Books, ctx context.Context,
			m domain.MachineID, before domain.FactNo, limit int) ([]domain.Fact, error) {
			all, err := b.Logbook(ctx, m, before, limit)
			return slices.DeleteFunc(all, func(f domain.Fact) bool { return f.Withdrawn != 0 }), err
		}}, false, "a logbook in pages"},
		{"the last of anybody", wrong{lastBy: func(b commands.Books, ctx context.Context,
			_ domain.PersonID) (domain.Fact, error) {
			return b.LastBy(ctx, "bo")
		}}, false, "a person's last report"},
		{"the last that happened", wrong{lastBy: func(b commands.Books, ctx context.Context,
			p domain.PersonID) (domain.Fact, error) {
			last, err := b.LastBy(ctx, p)
			recent, _ := b.Recent(ctx, p, 100)
			for _, f := range recent {
				if f.At.After(last.At) && f.Withdrawable() {
					last = f
				}
			}
			return last, err
		}}, false, "a person's last report"},
		{"it never expires", wrong{pending: func(b commands.Books, ctx context.Context, id string,
			_ time.Time) (domain.Pending, error) {
			return b.Pending(ctx, id, early)
		}}, false, "what waits expires"},
		{"it is still there at its last moment", wrong{pending: func(b commands.Books, ctx context.Context, id string,
			now time.Time) (domain.Pending, error) {
			return b.Pending(ctx, id, now.Add(-time.Millisecond))
		}}, false, "what waits expires"},
		{"anybody may use it", wrong{use: func(b commands.Books, ctx context.Context, id, _ string,
			now time.Time) error {
			return b.Use(ctx, id, "the same for all", now)
		}}, false, "used without an entry, by its key"},
		{"readings of all time", wrong{readings: func(b commands.Books, ctx context.Context, m domain.MachineID,
			check string, _ time.Time) ([]domain.ReadAt, float64, error) {
			return b.Readings(ctx, m, check, time.Time{})
		}}, false, "readings with the use between them"},
		{"no limit", wrong{recent: func(b commands.Books, ctx context.Context, p domain.PersonID,
			_ int) ([]domain.Fact, error) {
			return b.Recent(ctx, p, 100)
		}}, false, "what a person reported lately"},
		{"former members are many", wrong{fact: func(fact domain.Fact) domain.Fact {
			if fact.By.Former() {
				fact.By += domain.PersonID(fmt.Sprint("-", fact.No))
			}
			return fact
		}}, false, "who is forgotten is one former member"},
		{"by name", wrong{stewards: func(b commands.Books, ctx context.Context,
			role string) ([]domain.PersonID, error) {
			all, err := b.Stewards(ctx, role)
			slices.Sort(all)
			return all, err
		}}, false, "who acts as a steward is known"},
		{"once a steward, always one", wrong{note: func(b commands.Books, ctx context.Context, person domain.PersonID,
			role string, now time.Time) error {
			if role == "" {
				return nil
			}
			return b.NoteSteward(ctx, person, role, now)
		}}, false, "who acts as a steward is known"},
		{"the first twenty", wrong{note: func(b commands.Books, ctx context.Context, p domain.PersonID, role string,
			now time.Time) error {
			if all, err := b.Stewards(ctx, role); err != nil || role != "" && len(all) == 20 {
				return err
			}
			return b.NoteSteward(ctx, p, role, now)
		}}, false, "twenty stewards are known"},
		{"what is asked for is in force", wrong{report: func(books commands.Books, ctx context.Context,
			e domain.Entry) (domain.Outcome, error) {
			out, err := books.Report(ctx, e)
			if asked, ok := e.Body.(domain.LooseningAsked); ok && err == nil {
				e.Key, e.By, e.SetupRev = e.Key+"/in force", "nobody", 0
				e.Body = domain.SetupChanged{Item: asked.Item, Setup: asked.Setup, Loosens: out.Fact.No}
				_, err = books.Report(ctx, e)
			}
			return out, err
		}}, false, "what loosens a safety check waits"},
		{"one shop's books for all", wrong{}, true, "shops never see each other"},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			cases := bookstest.Cases()
			i := slices.IndexFunc(cases, func(one bookstest.Case) bool { return one.Name == test.found })
			if i < 0 {
				t.Fatalf("no case is called %q", test.found)
			}
			db, err := store.Open(context.Background(), filepath.Join(t.TempDir(), "shop.db"))
			if err != nil {
				t.Fatal(err)
			}
			defer db.Close()
			if said := failures(cases[i], func(id domain.ShopID) commands.Books {
				if test.all {
					id = "one"
				}
				w := test.wrong
				w.Books = db.Shop(id)
				return w
			}); len(said) == 0 {
				t.Errorf("%q finds nothing", test.found)
			}
		})
	}
}

// Every case has a name of its own and says why.
func TestCasesSayWhy(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, c := range bookstest.Cases() {
		if c.Name == "" || len(strings.Fields(c.Why)) < 6 || seen[c.Name] {
			t.Errorf("case %q, why: %q", c.Name, c.Why)
		}
		seen[c.Name] = true
	}
	if len(seen) < 15 {
		t.Errorf("only %d cases", len(seen))
	}
}
