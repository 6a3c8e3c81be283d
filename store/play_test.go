package store_test

import (
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/store"
)

// player plays a history on a copy of the prepared file, beside the model.
type player struct {
	path  string
	db    *store.DB
	shop  *store.Shop
	model model
	refs  []factRef // how each fact came there, by its number

	given domain.Entry // the last that was taken, and what came of it
	taken domain.Outcome
}

func newPlayer(dir string) (*player, error) {
	playing := &player{path: filepath.Join(dir, "history.db"), refs: []factRef{{}}}
	file, err := prepared()
	if err != nil {
		return nil, err
	}
	if err := os.WriteFile(playing.path, file, 0o600); err != nil {
		return nil, err
	}
	if playing.db, err = store.Open(ctx, playing.path); err != nil {
		return nil, err
	}
	playing.shop = playing.db.Shop("one")
	err = playing.takeOver(0)
	for i := range playing.refs {
		playing.refs[i].nth = i // the set-up's are counted from 1
	}
	return playing, err
}

// close puts the file away.
func (p *player) close() error {
	err := p.db.Close()
	files, _ := filepath.Glob(p.path + "*")
	for _, file := range files {
		err = errors.Join(err, os.Remove(file))
	}
	return err
}

// takeOver brings the model up to what the store holds, which Setscrew may have added
// to by itself, after what was typed at an hour.
func (p *player) takeOver(hour int) error {
	for nth := 0; ; nth++ {
		fact, err := p.shop.Fact(ctx, domain.FactNo(len(p.refs)))
		var none *domain.Refusal
		if errors.As(err, &none) {
			return nil
		}
		if err != nil {
			return err
		}
		fact.Withdrawn = 0
		p.model.facts = append(p.model.facts, fact)
		p.refs = append(p.refs, factRef{hour, nth})
	}
}

// other is the machine that was added last beside the planer, 0 if there is none.
func (p *player) other() (domain.MachineID, error) {
	all, err := p.shop.Machines(ctx)
	last := domain.MachineID(0)
	for _, machine := range all {
		if machine.ID != marble {
			last = max(last, machine.ID)
		}
	}
	return last, err
}

// number is the number of the fact that a factRef means, 0 if there is none.
func (p *player) number(r factRef) domain.FactNo {
	return domain.FactNo(max(slices.Index(p.refs, r), 0))
}

// reading is a reading of a check with one value everywhere.
func (p *player) reading(check string, n int64, unit quantity.Unit) (domain.Reading, error) {
	snap, err := p.shop.Snapshot(ctx, marble)
	if err != nil {
		return domain.Reading{}, err
	}
	return reading(snap.Machine.Profile.Check(check), quantity.New(n, 1, unit)), nil
}

// play reports one step, and says what is then not as it should be. What the books do
// not allow is passed over.
func (p *player) play(st step) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("%s: panic: %v", st, r)
		}
	}()
	if st.what == "read-all" {
		return p.readAll(st)
	}
	body, err := operationOf(st.what).body(p, st)
	if err != nil {
		return fmt.Errorf("%s: %w", st, err)
	}
	return p.report(st, "", body, false)
}

// readAll reads every check, and each as it should be.
func (p *player) readAll(st step) error {
	snap, err := p.shop.Snapshot(ctx, marble)
	if err != nil {
		return err
	}
	checks := snap.Machine.Profile.Checks
	for i, check := range checks {
		if check.OnDemand {
			continue
		}
		var body domain.Body = domain.Inspection{Check: check.ID, Pass: true}
		if !check.Inspection {
			body = reading(&check, check.Example)
		}
		st.at = st.hour * 60
		if err := p.report(st, check.ID, body, i+1 < len(checks)); err != nil {
			return err
		}
	}
	return nil
}

// report reports a body, under a key of the step and what is added to it, and compares
// what the store then tells with the model and with what it has on file; of many
// reports in a step only the last.
func (p *player) report(st step, add string, body domain.Body, more bool) error {
	given := entry(fmt.Sprint("step ", st.hour, add), 0, marble, body)
	given.Recorded = start.Add(time.Duration(st.hour) * time.Hour)
	given.At, given.Sure = start.Add(time.Duration(st.at)*time.Minute), true
	switch body := body.(type) {
	// What is the shop's, and what is of its other machine.
	case domain.GaugeSet, domain.ShopSet, domain.AwaySet, domain.StockCounted, domain.VisitsPlanned,
		domain.StudyBegun, domain.StudyReading, domain.MachineAdded:
		given.Machine = 0
	case domain.Ticked, domain.MachineRetired:
		other, err := p.other()
		if err != nil || other == 0 {
			return err
		}
		given.Machine = other
	case domain.TagOut:
		// A lock is hung, and a stop pressed, now: each hour is long after the last.
		if body.Reason.Code != domain.SaidBySomebody {
			given.At = given.Recorded
		}
	case domain.Mistake:
		// Within the two minutes of a stop in the hour before.
		given.Recorded = given.Recorded.Add(time.Minute - time.Hour)
		given.At = given.Recorded
	// The procedure is for others than the owner.
	case domain.LockAsked, domain.LockProcedure:
		given.By, given.For, given.Steward = "wren", "wren", true
	case domain.LockOff:
		if body.Procedure != 0 {
			given.By, given.For = "bo", "bo"
		}
	}
	outcome, err := p.shop.Report(ctx, given)
	var refused *domain.Refusal
	if errors.As(err, &refused) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("%s: %w", st, err)
	}
	p.given, p.taken = given, outcome
	if err := p.takeOver(st.hour); err != nil {
		return fmt.Errorf("%s: %w", st, err)
	}
	if more {
		return nil
	}
	if d, err := p.differs(given, outcome); err != nil || d != "" {
		return errors.Join(fmt.Errorf("after %s, no. %d: %s", st, outcome.Fact.No, d), err)
	}
	return nil
}

// differs says what is not as it should be after an entry, nothing if all is well.
func (p *player) differs(e domain.Entry, outcome domain.Outcome) (string, error) {
	snap, err := p.shop.Snapshot(ctx, marble)
	if err != nil {
		return "", err
	}
	planer := p.model.of(marble)
	if d := gocmp.Diff(planer.view(), viewOf(snap)); d != "" {
		return "a snapshot is not what the list of reports gives (-list +store):\n" + d, nil
	}
	shared, err := sharedOf(p.shop)
	if err != nil {
		return "", err
	}
	if d := gocmp.Diff(planer.shared(), shared); d != "" {
		return "what all machines share is not what the list of reports gives (-list +store):\n" + d, nil
	}
	// What is in memory, and what a report made of it, is what is on file.
	for _, machine := range slices.Compact([]domain.MachineID{marble, max(outcome.Fact.Machine, marble)}) {
		if snap, err = p.shop.Snapshot(ctx, machine); err != nil {
			return "", err
		}
		stored, err := p.shop.Stored(ctx, machine)
		if err != nil {
			return "", err
		}
		if d := difference(stored, snap); d != "" {
			return "a snapshot from memory is not what is on file (-file +memory):\n" + d, nil
		}
		kept, err := p.shop.KeptLast(ctx, machine)
		if err != nil {
			return "", err
		}
		if d := gocmp.Diff(p.model.of(machine).kept(), kept); d != "" {
			return "what is kept at hand is not what the list of reports gives (-list +store):\n" + d, nil
		}
		if machine != outcome.Fact.Machine {
			continue
		}
		if d := difference(domain.Assess(stored, e.Recorded), outcome.After); d != "" {
			return "the status that a report brought is not that of what is on file (-file +report):\n" + d, nil
		}
	}
	if outcome.Fact.Machine != marble {
		return "", nil
	}
	if outcome.After.Reporting == nil { // which scales the use
		if d := gocmp.Diff(planer.gearbox(outcome.After, e.Recorded),
			outcome.After.Service("gearbox-oil").Due); d != "" {
			return "the gearbox oil is not due as the list of reports gives it (-list +store):\n" + d, nil
		}
	}
	// Undoing never starts a machine, and what demands a tag has one.
	if _, undo := e.Body.(domain.Withdrawal); undo && outcome.Before.TaggedOut() && !outcome.After.TaggedOut() {
		return "a withdrawal started the machine", nil
	}
	if len(outcome.After.MustTag) != 0 {
		return fmt.Sprintf("a demanded tag was not hung: %+v", outcome.After.MustTag), nil
	}
	return "", nil
}

// difference is what differs between two snapshots or two statuses. What is alike in
// memory, as nearly all is, need not be compared at length; of a profile one is kept.
func difference[V domain.Snapshot | domain.Status](v, b V) string {
	if reflect.DeepEqual(v, b) {
		return ""
	}
	sameProfile := gocmp.Comparer(func(a, b *profile.Profile) bool { return a == b })
	return gocmp.Diff(v, b, sameProfile, gocmp.AllowUnexported(domain.Status{}))
}

// rebuild derives everything again, and says what changed by that.
func (p *player) rebuild(t tester) error {
	before := dump(t, p.path)
	if err := p.shop.Rebuild(ctx); err != nil {
		return err
	}
	if d := gocmp.Diff(before, dump(t, p.path)); d != "" {
		return fmt.Errorf("deriving it again changed it (-before +after):\n%s", d)
	}
	return nil
}

// playAll plays a history from its beginning, on a file in a directory; next is the
// step of each hour from 1 on, and ends it. It gives the steps that were played.
func playAll(t tester, dir string, next func(*player) (step, bool)) (played []step, err error) {
	player, err := newPlayer(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := player.close(); err != nil {
			t.Fatal(err)
		}
	}()
	for st, more := next(player); more; st, more = next(player) {
		played = append(played, st)
		if err := player.play(st); err != nil {
			return played, err
		}
	}
	return played, player.rebuild(t)
}

// replay plays steps again.
func replay(t tester, dir string, steps []step) error {
	i := 0
	_, err := playAll(t, dir, func(*player) (st step, more bool) {
		if more = i < len(steps); more {
			st = steps[i]
			i++
		}
		return st, more
	})
	return err
}

var (
	histories    = flag.Int("histories", 100, "how many histories the model test draws")
	historySeed  = flag.Uint64("history-seed", 0, "the seed of the histories; 0 for another each time")
	historyPlays = flag.String("history", "", "a file with a history to play, in place of drawing any")
)

// Random reports, typed in any order of time, withdrawn and confirmed: after each, the
// store's snapshot is what the model works out from the list alone and what is on file;
// and at the end deriving everything again changes nothing. A history that fails is cut
// down and printed: in a file, -history plays it again.
func TestAgainstModel(t *testing.T) {
	t.Parallel()
	if *historyPlays != "" {
		playFile(t, *historyPlays)
		return
	}
	seed := *historySeed
	if seed == 0 {
		seed = uint64(time.Now().UnixNano())
	}
	dir := t.TempDir()
	for i := range *histories {
		random := rand.New(rand.NewPCG(seed, uint64(i)))
		hour, last := 0, 1+random.IntN(30)
		steps, err := playAll(t, dir, func(p *player) (step, bool) {
			hour++
			if hour > last {
				return step{}, false
			}
			return p.drawStep(random, hour), true
		})
		if err == nil {
			continue
		}
		short := shrink(steps, 300, func(steps []step) bool { return replay(t, dir, steps) != nil })
		t.Fatalf("seed %d, history %d: %v\n\ncut down from %d to %d steps: %v\n\n%s", seed, i, err,
			len(steps), len(short), replay(t, dir, short), writeHistory(short))
	}
}

// Histories that found a mistake once are played ever after.
func TestHistories(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob(filepath.Join("testdata", "histories", "*.txt"))
	if err != nil || len(files) == 0 {
		t.Fatalf("histories %v, %v", files, err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txt"), func(t *testing.T) {
			t.Parallel()
			playFile(t, file)
		})
	}
}

// playFile plays the history in a file.
func playFile(t *testing.T, file string) {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	steps, err := readHistory(string(text))
	if err != nil || len(steps) == 0 {
		t.Fatalf("%s: %d steps, %v", file, len(steps), err)
	}
	if err := replay(t, t.TempDir(), steps); err != nil {
		t.Error(err)
	}
}

// What is drawn is about the facts just before it nine times in ten, and every
// operation is drawn.
func TestStepsAreDrawnWhereMistakesShow(t *testing.T) {
	t.Parallel()
	player, err := newPlayer(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := player.close(); err != nil {
			t.Error(err)
		}
	}()
	for hour := 1; hour <= 30; hour++ {
		player.refs = append(player.refs, factRef{hour, 0})
	}
	random := rand.New(rand.NewPCG(1, 2))
	drawn, about, lately := map[string]int{}, 0, 0
	for range 5000 {
		st := player.drawStep(random, 31)
		drawn[st.what]++
		if st.of != (factRef{}) {
			about++
			if st.of.hour > 20 && st.of.hour <= 30 {
				lately++
			}
		}
	}
	for _, o := range operations {
		if drawn[o.what] == 0 {
			t.Errorf("%s is never drawn", o.what)
		}
	}
	if share := float64(lately) / float64(about); share < 0.85 || share > 0.97 {
		t.Errorf("%.2f of what is drawn about a fact is about one of the last ten", share)
	}
	if drawn["withdraw"] < 2*drawn["event"] {
		t.Errorf("%d withdrawals, %d events", drawn["withdraw"], drawn["event"])
	}
}

// A history is read back as it was written, and a line that is none is named.
func TestHistoriesAreReadBack(t *testing.T) {
	t.Parallel()
	steps := []step{{hour: 1, what: "hours", at: 60, n: 3600},
		{hour: 2, what: "event", at: 7, word: "belts-changed,belts"},
		{hour: 5, what: "withdraw", at: 300, of: factRef{1, 0}}, {hour: 6, what: "withdraw", at: 360, of: factRef{0,
			1}},
		{hour: 7, what: "withdraw", at: 420, of: factRef{5, 2}}}
	got, err := readHistory("// a mistake\n\n" + writeHistory(steps))
	if d := gocmp.Diff(steps, got, gocmp.AllowUnexported(step{}, factRef{})); err != nil || d != "" {
		t.Errorf("%v (-written +read):\n%s", err, d)
	}
	for _, line := range []string{"1", "x hours", "1 dances at=3", "1 hours at=x",
		"1 hours of=1+x", "1 hours n=x", "1 hours with=x"} {
		if _, err := readHistory("1 hours at=60\n" + line); err == nil || !strings.Contains(err.Error(), "line 2") {
			t.Errorf("%q: %v", line, err)
		}
	}
}

// A history is cut down to the steps that it takes to fail, in their simplest form.
func TestHistoriesAreCutDown(t *testing.T) {
	t.Parallel()
	var steps []step
	for hour := 1; hour <= 25; hour++ {
		steps = append(steps, step{hour: hour, what: "hours", at: 3, n: 7300})
	}
	steps[3].what, steps[11].what, steps[20].what = "counter", "counter", "withdraw"
	plays := 0
	short := shrink(steps, 300, func(steps []step) bool {
		plays++
		counters, late := 0, false
		for _, st := range steps {
			if st.what == "counter" {
				counters++
				late = late || st.n > 3600 && st.at < st.hour*60
			}
			if st.what == "withdraw" && counters == 2 {
				return late
			}
		}
		return false
	})
	want := "4 counter at=240 n=1\n12 counter at=3 n=7200\n21 withdraw at=1260 n=1\n"
	if got := writeHistory(short); got != want {
		t.Errorf("cut down to\n%s\nwant\n%s", got, want)
	}
	if plays > 300 {
		t.Errorf("%d plays", plays)
	}
}
