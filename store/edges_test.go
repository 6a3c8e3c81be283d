package store_test

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
	"setscrew/store"
)

// told reports many bodies of the planer in one go, a minute apart from so long after the
// start, and gives their facts' numbers.
func told(t *testing.T, shop *store.Shop, from time.Duration, bodies ...domain.Body) (numbers []domain.FactNo) {
	t.Helper()
	var all []domain.Entry
	for i, b := range bodies {
		at := from + time.Duration(i)*time.Minute
		e := entry(fmt.Sprint("told ", at), at, marble, b)
		e.Sure = true
		all = append(all, e)
	}
	out, err := shop.ReportAll(ctx, all, false)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range out {
		numbers = append(numbers, o.Fact.No)
	}
	return numbers
}

// repeat is a body many times over.
func repeat(n int, body func(i int) domain.Body) (all []domain.Body) {
	for i := range n {
		all = append(all, body(i))
	}
	return all
}

// Use at the very moment of a service counts as before it, and towards no other twice.
func TestUseAtTheMomentOfAService(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	tell := func(at time.Duration, b domain.Body) {
		t.Helper()
		e := entry(fmt.Sprintf("%T at %v", b, at), at, planer, b)
		e.Sure = true
		report(t, shop, e)
	}
	oil := domain.ServiceDone{Service: "gearbox-oil"}
	tell(10*time.Hour, oil)
	tell(10*time.Hour, domain.Hours{Seconds: 60})
	tell(20*time.Hour, domain.Hours{Seconds: 600})
	tell(20*time.Hour, oil)
	tell(30*time.Hour, domain.Hours{Seconds: 7})
	var since []int64
	for _, done := range snapshot(t, shop, planer).Done["gearbox-oil"] {
		since = append(since, int64(done.Since.Float(quantity.Second)))
	}
	if !slices.Equal(since, []int64{607, 7}) {
		t.Errorf("use since the changes of oil %v, want 607 and 7 s", since)
	}
}

// Only so much of a machine's past is looked back on, and it is the last of it.
func TestHowFarIsLookedBack(t *testing.T) {
	t.Parallel()
	t.Run("services", func(t *testing.T) {
		t.Parallel()
		shop, planer := withPlaner(t)
		numbers := told(t, shop, time.Hour, repeat(102, func(int) domain.Body {
			return domain.ServiceDone{Service: "gearbox-oil"}
		})...)
		done := snapshot(t, shop, planer).Done["gearbox-oil"]
		if len(done) != 100 || done[0].Fact != numbers[2] || done[99].Fact != numbers[101] {
			t.Errorf("%d times, from no. %d", len(done), done[0].Fact)
		}
	})
	t.Run("tries", func(t *testing.T) {
		t.Parallel()
		shop, planer := withPlaner(t)
		var last domain.FactNo
		for i := range domain.MaxTries + 2 {
			from := time.Duration(i+1) * time.Hour
			read := told(t, shop, from, infeed(t, shop, planer, 46))[0]
			last = told(t, shop, from+time.Minute, domain.Move{Check: "infeed", Reading: read,
				Turned: []domain.Turns{{Adjuster: "infeed-left", Turns: quantity.New(1, 8, quantity.Turn)}}})[0]
			told(t, shop, from+2*time.Minute,
				domain.MoveAnswer{Of: last, Check: "infeed", Said: domain.TurnedAsSaid})
		}
		tries := snapshot(t, shop, planer).Tries["infeed"]
		if len(tries) != domain.MaxTries || tries[len(tries)-1].Move != last ||
			tries[0].Said != domain.TurnedAsSaid {
			t.Errorf("%d tries, until no. %d, want until no. %d", len(tries), tries[len(tries)-1].Move, last)
		}
	})
	t.Run("boards", func(t *testing.T) {
		t.Parallel()
		shop, planer := withPlaner(t)
		check := snapshot(t, shop, planer).Machine.Profile.Check("infeed-caps")
		told(t, shop, time.Hour, reading(check, quantity.New(1, 8, quantity.Inch)))
		boards := told(t, shop, 2*time.Hour, repeat(domain.MaxTries+2, func(i int) domain.Body {
			return domain.Problem{Symptom: []string{"marks", "stutter"}[i%2], Name: "board"}
		})...)
		caps := snapshot(t, shop, planer).Caps["infeed-caps"]
		if len(caps) != domain.MaxTries || caps[0].Fact != boards[2] || !caps[0].Marks || caps[0].Stutters ||
			!caps[1].Stutters || caps[1].Marks {
			t.Errorf("%d boards %+v, want %d from no. %d", len(caps), caps, domain.MaxTries, boards[2])
		}
	})
	t.Run("problems", func(t *testing.T) {
		t.Parallel()
		shop, planer := withPlaner(t)
		told(t, shop, time.Hour, repeat(52, func(i int) domain.Body {
			return domain.Problem{Name: fmt.Sprint("odd ", i)}
		})...)
		problems := snapshot(t, shop, planer).Problems
		if len(problems) != 50 || problems[0].Name != "odd 51" || problems[49].Name != "odd 2" {
			t.Errorf("%d problems, from %q until %q", len(problems), problems[0].Name, problems[len(problems)-1].Name)
		}
	})
	t.Run("who reported one", func(t *testing.T) {
		t.Parallel()
		shop, planer := withPlaner(t)
		var all []domain.Entry
		for i := range 104 { // by each of 52 twice
			e := entry(fmt.Sprint("snipe ", i), time.Hour, planer, domain.Problem{Symptom: "snipe", Name: "snipe"})
			e.For = domain.PersonID(fmt.Sprintf("p%02d", i%52))
			e.By = e.For
			all = append(all, e)
		}
		if _, err := shop.ReportAll(ctx, all, false); err != nil {
			t.Fatal(err)
		}
		by := snapshot(t, shop, planer).Problems[0].By
		if len(by) != 50 || by[0] != "p00" || by[49] != "p49" || !slices.IsSorted(by) {
			t.Errorf("by %v", by)
		}
	})
	t.Run("findings", func(t *testing.T) {
		t.Parallel()
		shop, planer := withPlaner(t)
		told(t, shop, time.Hour, domain.Problem{Symptom: "snipe", Name: "snipe"})
		told(t, shop, 2*time.Hour, repeat(62, func(i int) domain.Body {
			return domain.Found{Key: "snipe", About: domain.QuestionItem.Of(fmt.Sprint("q", i)),
				Answer: domain.AnswerNo}
		})...)
		found := snapshot(t, shop, planer).Problems[0].Found
		_, first := found[domain.QuestionItem.Of("q2")]
		if _, last := found[domain.QuestionItem.Of("q61")]; len(found) != 60 || !first || !last {
			t.Errorf("%d findings, %v", len(found), found)
		}
	})
	t.Run("readings", func(t *testing.T) {
		t.Parallel()
		shop, planer := withPlaner(t)
		read := infeed(t, shop, planer, 41)
		numbers := told(t, shop, time.Hour, repeat(domain.MostRead+2, func(int) domain.Body { return read })...)
		all, _, err := shop.Readings(ctx, planer, "infeed", time.Time{})
		if err != nil || len(all) != domain.MostRead || all[0].Fact != numbers[2] {
			t.Errorf("%d readings from no. %d, %v", len(all), all[0].Fact, err)
		}
	})
	t.Run("what was settled", func(t *testing.T) {
		t.Parallel()
		shop, planer := withPlaner(t)
		told(t, shop, time.Hour, repeat(2*202, func(i int) domain.Body {
			if i%2 == 0 {
				return domain.Problem{Symptom: "dust", Name: "dust"}
			}
			cause := "late"
			if i < 4 {
				cause = "early"
			}
			return domain.Mended{Key: "dust", Name: "dust", Cause: cause}
		})...)
		// All but the last came back without any use: that is not counted among the causes.
		counts, err := shop.Settled(ctx, planer, "dust")
		if err != nil || counts.By["early"] != 0 || counts.By["late"] != 1 || counts.N != 1 {
			t.Errorf("settled %+v, %v", counts, err)
		}
	})
}

// At one moment the fact that was recorded last is the last: of readings, of services, of
// what moved a surface, and of the counter.
func TestAtOneMomentTheLastRecordedCounts(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	at := func(key string, b domain.Body) domain.FactNo {
		t.Helper()
		e := entry(key, 10*time.Hour, planer, b)
		e.Sure = true
		return report(t, shop, e).Fact.No
	}
	for i := range 2 {
		read := at(fmt.Sprint("read ", i), infeed(t, shop, planer, 46))
		oil := at(fmt.Sprint("oil ", i), domain.ServiceDone{Service: "gearbox-oil"})
		belts := at(fmt.Sprint("belts ", i), domain.EventSeen{Event: "belts-changed", Surfaces: []string{"belts"}})
		counter := at(fmt.Sprint("counter ", i), domain.CounterRead{Seconds: int64(i+1) * 3600})
		note := at(fmt.Sprint("left open ", i), domain.Handover{Apart: "hood", Next: "fit it"})
		for _, how := range []string{"", ", derived again"} {
			snap := snapshot(t, shop, planer)
			got := []domain.FactNo{snap.Latest["infeed"].Fact, snap.Services["gearbox-oil"].Fact,
				snap.Moved["belts"].Fact, snap.Counter.Fact, snap.Handover.Fact}
			if want := []domain.FactNo{read, oil, belts, counter, note}; !slices.Equal(got, want) {
				t.Errorf("round %d%s: the last are %v, want %v", i, how, got, want)
			}
			if err := shop.Rebuild(ctx); err != nil {
				t.Fatal(err)
			}
		}
	}
	// Runs, a study and the shelf list and count by number as well, within one moment.
	study := report(t, shop, entry("study", time.Hour, 0, domain.StudyBegun{Gauge: "dial", Machine: planer,
		Check: "infeed"})).Fact.No
	var runs, parts []domain.FactNo
	for i := range 3 {
		runs = append(runs, at(fmt.Sprint("run ", i), domain.Hours{Seconds: 60}))
		parts = append(parts, report(t, shop, entry(fmt.Sprint("part ", i), 2*time.Hour, 0,
			domain.StudyReading{Study: study, Part: i})).Fact.No)
		report(t, shop, entry(fmt.Sprint("oil on the shelf ", i), 3*time.Hour, 0,
			domain.StockCounted{Name: "oil", Left: i}))
	}
	listed, err := shop.Runs(ctx, planer, start, start.Add(11*time.Hour))
	var got []domain.FactNo
	for _, run := range listed {
		got = append(got, run.Fact)
	}
	if err != nil || !slices.Equal(got, runs) {
		t.Errorf("runs %v, %v; want %v", got, err, runs)
	}
	read, err := shop.Study(ctx, study)
	got = nil
	for _, f := range read {
		got = append(got, f.No)
	}
	if err != nil || !slices.Equal(got, parts) {
		t.Errorf("the study's readings %v, %v; want %v", got, err, parts)
	}
	if shelf, err := shop.Shelf(ctx); err != nil || len(shelf) != 1 || shelf[0].Left != 2 {
		t.Errorf("the shelf %+v, %v", shelf, err)
	}
}

// What work took at the very moment of a count is in the count.
func TestTakenAtTheMomentOfACount(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	count := func(at time.Duration, left int) {
		report(t, shop, entry(fmt.Sprint("count ", at), at, 0,
			domain.StockCounted{Name: "a matched set of belts", Left: left}))
	}
	count(time.Hour, 9)
	report(t, shop, entry("belts", 2*time.Hour, planer, domain.EventSeen{Event: "belts-changed"}))
	count(2*time.Hour, 5)
	if shelf, err := shop.Shelf(ctx); err != nil || len(shelf) != 1 || shelf[0].Left != 5 {
		t.Errorf("the shelf %+v, %v", shelf, err)
	}
}

// Machines that want to be judged are listed from the earliest, at one moment by shop and
// number, at most as many as asked for; the next wake is the earliest of all that waits.
func TestWhoIsJudgedFirst(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	for _, id := range []domain.ShopID{"two", "one"} {
		shop := db.Shop(id)
		for _, name := range []string{"Slate", "Marble"} {
			planer := addPlaner(t, shop, name)
			wake := start.Add(48 * time.Hour)
			if id == "two" && name == "Marble" {
				wake = start.Add(47 * time.Hour)
			}
			if err := db.SetWakes(ctx, id, planer, wake, start.Add(72*time.Hour)); err != nil {
				t.Fatal(err)
			}
		}
	}
	due := func(now time.Time, limit int) string {
		t.Helper()
		all, err := db.Due(ctx, now, limit)
		if err != nil {
			t.Fatal(err)
		}
		var listed []string
		for _, w := range all {
			listed = append(listed, fmt.Sprint(w.Shop, w.Machine))
		}
		return strings.Join(listed, " ")
	}
	for _, test := range []struct {
		after time.Duration
		limit int
		want  string
	}{
		{47*time.Hour - time.Millisecond, 9, ""}, {47 * time.Hour, 9, "two2"},
		{48 * time.Hour, 9, "two2 one1 one2 two1"}, {48 * time.Hour, 3, "two2 one1 one2"},
	} {
		if got := due(start.Add(test.after), test.limit); got != test.want {
			t.Errorf("%v after the start, at most %d: %q, want %q", test.after, test.limit, got, test.want)
		}
	}
	for _, test := range []struct {
		after time.Duration
		want  int
	}{{72*time.Hour - time.Millisecond, 0}, {72 * time.Hour, 2}} {
		shops, err := db.DueDigests(ctx, start.Add(test.after))
		if err != nil || len(shops) != test.want || !slices.IsSorted(shops) {
			t.Errorf("digests due %v after the start: %v, %v; want %d", test.after, shops, err, test.want)
		}
	}
	if next, ok, err := db.NextWake(ctx); err != nil || !ok || !next.Equal(start.Add(47*time.Hour)) {
		t.Errorf("the next wake is %v, %t, %v", next, ok, err)
	}
	for m := range domain.MachineID(2) {
		for _, id := range []domain.ShopID{"one", "two"} {
			if err := db.SetWakes(ctx, id, m+1, start.Add(99*time.Hour), start.Add(72*time.Hour)); err != nil {
				t.Fatal(err)
			}
		}
	}
	if next, ok, err := db.NextWake(ctx); err != nil || !ok || !next.Equal(start.Add(72*time.Hour)) {
		t.Errorf("with digests before it the next wake is %v, %t, %v", next, ok, err)
	}
}

// What happened at one moment is listed in the order in which it was recorded: readings,
// services, moves, boards with the height read last, and spans between readings of the
// counter.
func TestWithinOneMomentByNumber(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	at := func(key string, b domain.Body) domain.FactNo {
		t.Helper()
		e := entry(key, 10*time.Hour, planer, b)
		e.Sure = true
		return report(t, shop, e).Fact.No
	}
	check := snapshot(t, shop, planer).Machine.Profile.Check("infeed-caps")
	var reads, oils, moves, boards []domain.FactNo
	for i := range int64(3) {
		reads = append(reads, at(fmt.Sprint("read ", i), infeed(t, shop, planer, 40+i)))
		moves = append(moves, at(fmt.Sprint("move ", i), domain.Move{Check: "infeed", Reading: reads[i],
			Turned: []domain.Turns{{Adjuster: "infeed-left", Turns: quantity.New(1, 8, quantity.Turn)}}}))
		oils = append(oils, at(fmt.Sprint("oil ", i), domain.ServiceDone{Service: "gearbox-oil"}))
		at(fmt.Sprint("caps ", i), reading(check, quantity.New(i+1, 32, quantity.Inch)))
		boards = append(boards, at(fmt.Sprint("board ", i), domain.Problem{Symptom: "marks", Name: "marks"}))
		at(fmt.Sprint("counter ", i), domain.CounterRead{Seconds: (i + 1) * (i + 1) * 3600})
	}
	snap := snapshot(t, shop, planer)
	var got []domain.FactNo
	listed := func(what string, want []domain.FactNo) {
		t.Helper()
		if !slices.Equal(got, want) {
			t.Errorf("%s %v, want %v", what, got, want)
		}
		got = nil
	}
	all, _, err := shop.Readings(ctx, planer, "infeed", start.Add(10*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	for _, read := range all {
		got = append(got, read.Fact)
	}
	listed("readings", reads)
	for _, done := range snap.Done["gearbox-oil"] {
		got = append(got, done.Fact)
	}
	listed("services", oils)
	for _, try := range snap.Tries["infeed"] {
		got = append(got, try.Move)
	}
	listed("moves", moves)
	var heights []string
	for _, board := range snap.Caps["infeed-caps"] {
		got = append(got, board.Fact)
		heights = append(heights, board.Height.String())
	}
	listed("boards", boards)
	// Each board was seen at 10 h: the height is the one recorded last of that moment.
	last := quantity.New(3, 32, quantity.Inch).String()
	if !slices.Equal(heights, []string{last, last, last}) {
		t.Errorf("heights %v, want %s", heights, last)
	}
	var spans []float64
	for _, span := range snap.Counted {
		spans = append(spans, span.Counted)
	}
	if !slices.Equal(spans, []float64{3, 5}) {
		t.Errorf("spans of the counter %v h, want 3 and 5", spans)
	}
	// The use that it brought to light is that since the reading before it by number.
	if hours := snap.Hours.Float(quantity.Hour); hours != 8 {
		t.Errorf("%g h of use, want 8", hours)
	}
}

// Use at the very moment of a reading counts as before it.
func TestUseAtTheMomentOfAReading(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	tell := func(at time.Duration, b domain.Body) {
		t.Helper()
		e := entry(fmt.Sprintf("%T at %v", b, at), at, planer, b)
		e.Sure = true
		report(t, shop, e)
	}
	for i, at := range []time.Duration{10 * time.Hour, 20 * time.Hour, 30 * time.Hour} {
		tell(at, infeed(t, shop, planer, int64(41+i)))
		tell(at, domain.Hours{Seconds: int64(i+1) * 3600})
	}
	all, now, err := shop.Readings(ctx, planer, "infeed", start.Add(10*time.Hour))
	if err != nil || len(all) != 3 || all[0].Hours != 0 || all[1].Hours != 2 || all[2].Hours != 5 || now != 5 {
		t.Errorf("%+v, %g h until now, %v", all, now, err)
	}
}

// A snapshot that nothing has changed is not put together again, for readers as for those
// who report; facts of other machines change nothing.
func TestAnUnchangedSnapshotIsAtHand(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	other := addPlaner(t, shop, "Slate")
	same := func(a, b domain.Snapshot) bool {
		return reflect.ValueOf(a.Latest).Pointer() == reflect.ValueOf(b.Latest).Pointer()
	}
	first := snapshot(t, shop, planer)
	if !same(first, snapshot(t, shop, planer)) {
		t.Error("asked again it was put together again")
	}
	report(t, shop, entry("another's", time.Hour, other, domain.Hours{Seconds: 60}))
	if !same(first, snapshot(t, shop, planer)) {
		t.Error("after another machine's report it was put together again")
	}
	report(t, shop, entry("its own", time.Hour, planer, infeed(t, shop, planer, 46)))
	mine := snapshot(t, shop, planer)
	if same(first, mine) {
		t.Error("after a report of its own it was not put together again")
	}
	if !same(mine, snapshot(t, shop, planer)) {
		t.Error("what a report left is not at hand")
	}
}

// The file says how often a notice was tried, from when on, and why it failed.
func TestWhatIsKeptOfANotice(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db := open(t, path)
	report(t, db.Shop("one"), entry("tag", time.Hour, marble, hangsTag))
	owed, err := db.Undelivered(ctx, "one", start.Add(time.Hour), 1)
	if err != nil || len(owed) != 1 {
		t.Fatalf("%v, %v", owed, err)
	}
	file, err := sql.Open("sqlite3", "file:"+path+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	first := start.Add(2 * time.Hour)
	kept := func(when, want string) {
		t.Helper()
		got := dumpRows(t, file, fmt.Sprint(`SELECT attempts || ' times, from ' || (tried - `, first.UnixMilli(),
			`) || ', again ' || coalesce(again - `, first.UnixMilli(), `, '-') || ', ' || problem || ', sent ' ||
			coalesce(sent - `, first.UnixMilli(), `, '-') || ', posted ' || coalesce(posted - `, first.UnixMilli(), `,
				'-') ||
				' as ' || message FROM outbox WHERE id = `, owed[0].ID))
		if !slices.Equal(got, []string{want}) {
			t.Errorf("%s: %q, want %q", when, got, want)
		}
	}
	of := func(o domain.Undelivered, shop domain.ShopID) domain.Undelivered { o.Shop = shop; return o }
	for _, err := range []error{
		db.Sending(ctx, of(owed[0], "two"), first),
		db.Sending(ctx, owed[0], first.Add(time.Second)),
		db.Sending(ctx, owed[0], first.Add(time.Minute)),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	kept("about to be sent, never tried", "<nil>")
	if again, err := db.Undelivered(ctx, "one", first, 1); err != nil || !again[0].Sent.Equal(first.Add(time.Second)) {
		t.Errorf("sent, as it is listed: %+v, %v", again, err)
	}
	for _, err := range []error{
		db.Tried(ctx, owed[0], first, first.Add(time.Second), "no channel", false),
		db.Tried(ctx, owed[0], first.Add(time.Minute), first.Add(time.Hour), "no rights", true),
		db.Tried(ctx, domain.Undelivered{Shop: "two", ID: owed[0].ID}, first, first, "another shop's", true),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	kept("tried twice, and surely not sent", "2 times, from 0, again 3600000, no rights, sent -, posted - as ")
	for _, err := range []error{
		db.Sending(ctx, owed[0], first.Add(time.Hour)),
		db.Tried(ctx, owed[0], first.Add(time.Hour), first.Add(time.Hour), "no answer", true),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	kept("sent, and no answer", "3 times, from 0, again 3600000, no answer, sent 3600000, posted - as ")
	for _, message := range []string{"m", "posted once more"} {
		if err := db.Posted(ctx, "one", owed[0].ID, message, first.Add(time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Tried(ctx, owed[0], first, first, "after it was posted", false); err != nil {
		t.Fatal(err)
	}
	if err := db.Sending(ctx, owed[0], first); err != nil {
		t.Fatal(err)
	}
	kept("posted", "4 times, from 0, again -, , sent 3600000, posted 3600000 as m")
}

// A problem may be dangerous where its last report says so, and has the moments of its
// first and of its last report.
func TestAProblemsFirstAndLastReport(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	for i, doubt := range []bool{true, false, true} {
		at := time.Duration(i+1) * time.Hour
		told(t, shop, at, domain.Problem{Symptom: "snipe", Name: "snipe", Doubt: doubt})
		open := snapshot(t, shop, planer).Problems[0]
		if open.Doubt != doubt || !open.At.Equal(start.Add(time.Hour)) || !open.LastAt.Equal(start.Add(at)) {
			t.Errorf("after report %d: doubt %t, from %v until %v", i+1, open.Doubt, open.At, open.LastAt)
		}
	}
}

// Nothing to keep is kept, and takes nothing away.
func TestKeepNothing(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	waits := domain.Pending{ID: "p", Action: "a", Asked: "ada", Made: start, Expires: start.Add(time.Hour)}
	if err := shop.Keep(ctx, waits); err != nil {
		t.Fatal(err)
	}
	if err := shop.Keep(ctx); err != nil {
		t.Error(err)
	}
	if _, err := shop.Pending(ctx, "p", start); err != nil {
		t.Error(err)
	}
}
