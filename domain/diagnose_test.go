package domain_test

import (
	"cmp"
	"math"
	"slices"
	"testing"
	"time"

	. "setscrew/domain"
	"setscrew/domain/quantity"
)

// rankOf ranks the causes of a symptom and finds one of them.
func rankOf(t *testing.T, st Status, symptom, cause string, found map[Item]FoundThen, counts Counts,
	again string) (Ranked, Suspect) {
	t.Helper()
	ranked := NewDiagnosis(st.Machine.Profile, symptom).Rank(st, found, counts, again)
	i := slices.IndexFunc(ranked.Suspects, func(s Suspect) bool { return s.Cause.ID == cause })
	if i < 0 {
		t.Fatalf("%s is no cause of %s", cause, symptom)
	}
	return ranked, ranked.Suspects[i]
}

func codes(s Suspect) (all []EvidenceCode) {
	for _, e := range s.Evidence {
		all = append(all, e.Code)
	}
	return all
}

// A machine's own facts move its causes: readings off on the side that shows the
// cause, in order, gone stale or never taken; use since a service; an event a short
// while ago; what was mended before; the machine's own problems; and answers.
func TestEvidence(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	mm := func(hundredths int64) quantity.Value { return quantity.New(hundredths, 100, quantity.Millimetre) }
	hours := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Hour) }
	snap := func(change func(*Snapshot)) Status {
		p := thePlaner(t)
		snap := Snapshot{Shop: NewShop("s"),
			Machine: Machine{ID: 1, Name: "Marble", Added: at, Setup: Setup{Kind: "thickness-planer"}, Profile: p},
			Hours:   hours(10), Latest: map[string]Latest{}, Moved: map[string]Moved{},
			Events: map[string]LastService{}, Services: map[string]LastService{}}
		change(&snap)
		return Assess(snap, at.Add(time.Hour))
	}
	read := func(s *Snapshot, left, right int64) {
		s.Latest["outfeed"] = Latest{Fact: 7, At: at, Check: "outfeed",
			Reading: &Reading{Check: "outfeed", Gauge: FromProfile(*s.Machine.Profile.Gauge("dial")),
				Values: []quantity.At{{Position: "left", Repeats: []quantity.Value{mm(left)}},
					{Position: "right", Repeats: []quantity.Value{mm(right)}}}}}
	}
	unread := snap(func(s *Snapshot) {})
	// Target 0.508 mm below the knives, limits 0.381 to 0.635: less is too high.
	high := snap(func(s *Snapshot) { read(s, 20, 50) })
	good := snap(func(s *Snapshot) { read(s, 50, 51) })
	low := snap(func(s *Snapshot) { read(s, 50, 90) })
	stale := snap(func(s *Snapshot) { read(s, 20, 50); s.Moved["knives"] = Moved{At: at.Add(time.Minute), Fact: 8} })
	chance := map[string]float64{}
	for name, test := range map[string]struct {
		st   Status
		code EvidenceCode
	}{"unread": {unread, EvidenceUnread}, "high": {high, EvidenceOff}, "good": {good, EvidenceGood},
		"low": {low, EvidenceGood}, "stale": {stale, EvidenceStaleOff}} {
		_, s := rankOf(t, test.st, "stutter", "outfeed-high", nil, Counts{}, "")
		chance[name] = s.Chance
		if !slices.Contains(codes(s), test.code) {
			t.Errorf("%s: evidence %v", name, codes(s))
		}
	}
	if !(chance["high"] > chance["stale"] && chance["stale"] > chance["unread"] &&
		chance["unread"] > chance["good"] && chance["good"] == chance["low"]) {
		t.Errorf("chances %v", chance)
	}
	if _, s := rankOf(t, high, "stutter", "outfeed-high", nil, Counts{},
		""); s.Evidence[len(s.Evidence)-1].Where != "left" || !s.Evidence[len(s.Evidence)-1].Value.Equal(mm(20)) {
		t.Errorf("evidence %+v", s.Evidence[len(s.Evidence)-1])
	}
	// A cause that readings off on either side show names the position that is
	// farthest outside, whichever side and whichever order: limits 0.381 to 0.635 mm.
	for _, test := range []struct {
		left, right int64
		where       string
	}{{90, 37, "left"}, {37, 90, "right"}, {64, 20, "right"}, {20, 64, "left"}, {70, 90, "right"}, {90, 70, "left"},
		{10, 20, "left"}, {50, 20, "right"}} {
		st := snap(func(s *Snapshot) {
			read(s, test.left, test.right)
			s.Machine.Profile.Cause("outfeed-high").Reads = ""
		})
		_, s := rankOf(t, st, "stutter", "outfeed-high", nil, Counts{}, "")
		e := s.Evidence[len(s.Evidence)-1]
		if want := mm(map[string]int64{"left": test.left, "right": test.right}[test.where]); e.Where != test.where ||
			!e.Value.Equal(want) {
			t.Errorf("%d and %d hundredths: %s reads %v, want %s, %v", test.left, test.right, e.Where, e.Value,
				test.where, want)
		}
	}
	// Waxed an hour of use ago, or forty.
	waxed := func(used int64) Status {
		return snap(func(s *Snapshot) { s.Services["wax"] = LastService{Fact: 9, At: at, Since: hours(used)} })
	}
	_, fresh := rankOf(t, waxed(1), "stutter", "pitch", nil, Counts{}, "")
	_, long := rankOf(t, waxed(40), "stutter", "pitch", nil, Counts{}, "")
	if fresh.Chance >= long.Chance || !slices.Contains(codes(long), EvidenceSince) {
		t.Errorf("pitch after 1 h %v, after 40 h %v", fresh.Chance, long.Chance)
	}
	// A nail hit 3 h of use ago speaks for a nick; one 30 h ago no longer.
	hit := func(used int64) Status {
		return snap(func(s *Snapshot) { s.Events["struck-metal"] = LastService{Fact: 9, At: at, Since: hours(used)} })
	}
	_, soon := rankOf(t, hit(3), "ridge", "nicked-knife", nil, Counts{}, "")
	_, old := rankOf(t, hit(30), "ridge", "nicked-knife", nil, Counts{}, "")
	if soon.Chance <= old.Chance || !slices.Contains(codes(soon), EvidenceEvent) ||
		slices.Contains(codes(old), EvidenceEvent) {
		t.Errorf("a nick: %v, %v", soon.Chance, old.Chance)
	}
	// Mended before it came back; the machine's own problems.
	_, plain := rankOf(t, unread, "stutter", "pitch", nil, Counts{}, "")
	_, again := rankOf(t, unread, "stutter", "pitch", nil, Counts{}, "pitch")
	_, often := rankOf(t, unread, "stutter", "pitch", nil, Counts{By: map[string]int{"pitch": 30}, N: 30}, "")
	_, never := rankOf(t, unread, "stutter", "pitch", nil, Counts{By: map[string]int{"deep-cut": 30}, N: 30}, "")
	if !(again.Chance < plain.Chance && never.Chance < plain.Chance && often.Chance > plain.Chance) {
		t.Errorf("pitch %v; again %v, often %v, never %v", plain.Chance, again.Chance, often.Chance, never.Chance)
	}
	// Answers: the question comes first, once; then tests; a cause found is settled.
	answer := func(items ...string) map[Item]FoundThen {
		all := map[Item]FoundThen{}
		for i := 0; i < len(items); i += 2 {
			item, err := ParseItem(items[i])
			if err != nil {
				t.Fatal(err)
			}
			all[item] = FoundThen{Fact: FactNo(20 + i), Answer: Answer(items[i+1])}
		}
		return all
	}
	ranked, _ := rankOf(t, unread, "stutter", "pitch", nil, Counts{}, "")
	if ranked.Next == nil || ranked.Next.Question == nil || ranked.Next.Question.ID != "deep-cut" {
		t.Errorf("next is %+v", ranked.Next)
	}
	ranked, deep := rankOf(t, unread, "stutter", "deep-cut", answer("question:deep-cut", "yes"), Counts{}, "")
	if ranked.Next == nil || ranked.Next.Cause == nil || ranked.Suspects[0].Cause.ID != "deep-cut" ||
		deep.Chance < 0.6 {
		t.Errorf("after yes: next %+v, deep cut %v", ranked.Next, deep.Chance)
	}
	ranked, not := rankOf(t, unread, "stutter", "deep-cut", answer("question:deep-cut", "yes", "cause:deep-cut", "no"),
		Counts{}, "")
	if not.Chance >= deep.Chance || ranked.Next.Cause.ID == "deep-cut" || ranked.Settled != nil {
		t.Errorf("not it: %v, next %s", not.Chance, ranked.Next.Cause.ID)
	}
	ranked, _ = rankOf(t, unread, "stutter", "pitch", answer("cause:deep-cut", "no", "cause:pitch", "yes"), Counts{},
		"")
	if ranked.Settled == nil || ranked.Settled.ID != "pitch" {
		t.Errorf("settled %+v", ranked.Settled)
	}
	sum := 0.0
	for _, s := range ranked.Suspects {
		sum += s.Chance
	}
	if math.IsNaN(sum) || NewDiagnosis(thePlaner(t), "hurt") != nil || NewDiagnosis(thePlaner(t), "no-such") != nil {
		t.Error("somebody hurt, or no symptom, is diagnosed")
	}
	// Another symptom beside it speaks for what shows both.
	both := NewDiagnosis(unread.Machine.Profile, "torn", "torn", "marks").Rank(unread, nil, Counts{}, "")
	alone := NewDiagnosis(unread.Machine.Profile, "torn").Rank(unread, nil, Counts{}, "")
	at2 := func(r Ranked) float64 {
		return r.Suspects[slices.IndexFunc(r.Suspects,
			func(s Suspect) bool { return s.Cause.ID == "dull-knives" })].Chance
	}
	if at2(both) <= at2(alone) {
		t.Errorf("dull knives with marks too %v, without %v", at2(both), at2(alone))
	}
}

// A problem is over once what mends its cause is done after it was reported: a
// service, an event, a check read in order; at once where only its use mends it.
// A cause that can hurt is looked for first, however unlikely it is, and stays first until
// a test has ruled it out; nothing else changes, least of all its chance.
func TestWhatCanHurtComesFirst(t *testing.T) {
	t.Parallel()
	prof := thePlaner(t)
	st := Assess(Snapshot{Shop: NewShop("s"), Machine: Machine{ID: 1, Added: added, Profile: prof},
		Hours:  quantity.New(10, 1, quantity.Hour), // it was moved just now, so that rocking is the likeliest
		Events: map[string]LastService{"machine-moved": {Fact: 5, At: added, Since: quantity.Zero(quantity.Duration)}}},
		added.Add(time.Hour))
	rank := func(answer Answer) Ranked {
		found := map[Item]FoundThen{}
		if answer != "" {
			found[CauseItem.Of("loose-knife")] = FoundThen{Fact: 9, At: added, Answer: answer}
		}
		return NewDiagnosis(prof, "vibration").Rank(st, found, Counts{}, "")
	}
	for answer, want := range map[Answer]struct{ first, next bool }{
		"": {true, true}, AnswerUnsure: {true, false}, AnswerNo: {false, false}, AnswerYes: {true, false},
	} {
		ranked := rank(answer)
		next := ranked.Next != nil && ranked.Next.Cause != nil && ranked.Next.Cause.ID == "loose-knife"
		if first := ranked.Suspects[0].Cause.ID == "loose-knife"; first != want.first || next != want.next {
			t.Errorf("answered %q: first %v, looked for next %v", answer, first, next)
		}
		rest := ranked.Suspects
		if want.first {
			rest = rest[1:]
		}
		if !slices.IsSortedFunc(rest, func(a, b Suspect) int { return cmp.Compare(b.Chance, a.Chance) }) {
			t.Errorf("answered %q: the others are not by their chance", answer)
		}
	}
	ranked := rank("")
	if ranked.Suspects[0].Chance >= ranked.Suspects[1].Chance {
		t.Errorf("the case shows nothing: the loose knife is the likeliest, %v", ranked.Suspects[0].Chance)
	}
}

func TestOver(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	later := at.Add(time.Hour)
	over := func(cause string, change func(*Snapshot)) int {
		snap := Snapshot{Shop: NewShop("s"),
			Machine: Machine{ID: 1, Name: "Marble", Added: at.AddDate(0, -1, 0),
				Setup: Setup{Kind: "thickness-planer"}, Profile: thePlaner(t)},
			Hours: quantity.New(10, 1, quantity.Hour), Latest: map[string]Latest{}, Moved: map[string]Moved{},
			Events: map[string]LastService{}, Services: map[string]LastService{},
			Problems: []OpenProblem{{Key: "stutter", Name: "stock stutters", Symptom: "stutter", At: at, LastAt: at,
				First: 5, Last: 5, Found: map[Item]FoundThen{
					QuestionItem.Of("deep-cut"): {Fact: 6, At: at, Answer: AnswerYes},
					CauseItem.Of(cause):         {Fact: 7, At: at, Answer: AnswerYes}}}}}
		change(&snap)
		return len(Assess(snap, later).Over)
	}
	nothing := func(*Snapshot) {}
	wax := func(when time.Time) func(*Snapshot) {
		return func(s *Snapshot) {
			s.Services["wax"] = LastService{Fact: 9, At: when, Since: quantity.Zero(quantity.Duration)}
		}
	}
	read := func(mm int64, when time.Time) func(*Snapshot) {
		return func(s *Snapshot) {
			v := []quantity.Value{quantity.New(mm, 1000, quantity.Millimetre)}
			s.Latest["outfeed"] = Latest{Fact: 9, At: when, Check: "outfeed",
				Reading: &Reading{Check: "outfeed", Gauge: FromProfile(*s.Machine.Profile.Gauge("dial")),
					Values: []quantity.At{{Position: "left", Repeats: v}, {Position: "right", Repeats: v}}}}
		}
	}
	for name, test := range map[string]struct {
		got, want int
	}{
		"waxed before":       {over("pitch", wax(at.Add(-time.Minute))), 0},
		"not waxed":          {over("pitch", nothing), 0},
		"waxed since":        {over("pitch", wax(later)), 1},
		"knives not changed": {over("dull-knives", nothing), 0},
		"knives changed": {over("dull-knives",
			func(s *Snapshot) { s.Events["knives-changed"] = LastService{Fact: 9, At: later} }), 1},
		"roller read off":         {over("outfeed-high", read(200, later)), 0},
		"roller in order before":  {over("outfeed-high", read(508, at.Add(-time.Minute))), 0},
		"roller in order":         {over("outfeed-high", read(508, later)), 1},
		"a cut too deep":          {over("deep-cut", nothing), 1},
		"a cause that is no more": {over("gone", nothing), 0},
	} {
		if test.got != test.want {
			t.Errorf("%s: over %d, want %d", name, test.got, test.want)
		}
	}
}

// BenchmarkDiagnosis ranks the causes of the symptom that has the most, with the
// machine's own problems counted.
func BenchmarkDiagnosis(b *testing.B) {
	t := &testing.T{}
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	st := planerOn(t, at, at)
	counts := Counts{By: map[string]int{"pitch": 5, "deep-cut": 3}, N: 8}
	d := NewDiagnosis(st.Machine.Profile, "stutter")
	for b.Loop() {
		d.Rank(st, nil, counts, "")
	}
}
