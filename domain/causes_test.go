package domain_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	. "setscrew/domain"
	"setscrew/domain/diagnosis"
	"setscrew/domain/profile"
)

// ailing is a bench whose profile knows two symptoms, four causes of the first and what
// to ask about it.
func ailing() Snapshot {
	snap := bench()
	prof := snap.Machine.Profile
	prof.Symptoms = []profile.Symptom{{ID: "dirt", Name: "dirt on the bed", Ask: []string{"wet"}, Leak: 0.05},
		{ID: "noise", Name: "noise", Leak: 0.1},
		{ID: "hurt", Name: "somebody hurt", Danger: true, Hurt: true}, {ID: "odd", Name: "odd", Leak: 0.05}}
	prof.Questions = []profile.Question{{ID: "wet", Ask: "Was the board wet?", Minutes: 2, Usual: 0.3}}
	prof.Causes = []profile.Cause{
		{ID: "oily", Name: "oily boards", Prior: 0.2, Shows: map[string]float64{"dirt": 0.5, "noise": 0.25},
			Answers: map[string]float64{"wet": 0.9},
			Test:    profile.Test{Minutes: 7, Finds: 0.9, Wrongly: 0.2}, Advice: "wipe"},
		{ID: "off", Name: "a bed that is off", Prior: 0.1, Shows: map[string]float64{"dirt": 0.6}, Check: "bed",
			Reads: "high",
			Test:  profile.Test{Minutes: 3, Finds: 0.1, Wrongly: 0.2}, Mend: profile.Mend{Check: "bed"}},
		{ID: "dry", Name: "dry ways", Prior: 0.3, Shows: map[string]float64{"dirt": 0.4},
			Since: &profile.Since{Service: "oil", Hours: hours(8)},
			Test:  profile.Test{Minutes: 4, Finds: 0.9, Wrongly: 0.05}, Mend: profile.Mend{Service: "oil"}},
		{ID: "worn", Name: "a worn belt", Prior: 0.3, Shows: map[string]float64{"dirt": 0.4},
			Since:  &profile.Since{Event: "belt-changed", Hours: hours(100)},
			Events: map[string]float64{"crash": 5, "blade-changed": 2}, Check: "sound",
			Test: profile.Test{Minutes: 4, Finds: 0.9, Wrongly: 0.05}, Mend: profile.Mend{Event: "belt-changed"}},
	}
	snap.Problems = []OpenProblem{{Key: "dirt", Name: "dirt on the bed", Symptom: "dirt", First: 30, Last: 31,
		At: onDay(2), LastAt: onDay(3), Reports: 2}}
	return snap
}

// The model of a symptom, by hand: its causes' chances, what shows them, the questions
// that come first, a test a cause, and other symptoms that were seen. A test that finds
// a cause with 0.9 and one that is not with 0.2 adds 1 - 0.1/0.8 = 7/8 to what it finds
// anyhow; one that finds less with it than without it adds nothing.
func TestDiagnosisModel(t *testing.T) {
	prof := ailing().Machine.Profile
	want := diagnosis.Model{Prior: []float64{0.2, 0.1, 0.3, 0.3},
		Symptom: diagnosis.Sign{Leak: 0.05, Strength: []float64{0.5, 0.6, 0.4, 0.4}},
		Findings: []diagnosis.Finding{
			{Of: diagnosis.NoCause, Minutes: 2, Sign: diagnosis.Sign{Leak: 0.3, Strength: []float64{0.9, 0, 0, 0}}},
			{Of: 0, Minutes: 7, Sign: diagnosis.Sign{Leak: 0.2, Strength: []float64{0.875, 0, 0, 0}}},
			{Of: 1, Minutes: 3, Sign: diagnosis.Sign{Leak: 0.2, Strength: []float64{0, 0, 0, 0}}},
			{Of: 2, Minutes: 4, Sign: diagnosis.Sign{Leak: 0.05, Strength: []float64{0, 0, 1 - 0.1/0.95, 0}}},
			{Of: 3, Minutes: 4, Sign: diagnosis.Sign{Leak: 0.05, Strength: []float64{0, 0, 0, 1 - 0.1/0.95}}},
		}}
	near := cmpopts.EquateApprox(1e-9, 1e-12)
	found := NewDiagnosis(prof, "dirt")
	if diff := cmp.Diff(want, found.Model(), near); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	var asked []string
	for _, i := range found.Inquiries {
		asked = append(asked, i.Item().String())
	}
	if diff := cmp.Diff([]string{"question:wet", "cause:oily", "cause:off", "cause:dry", "cause:worn"},
		asked); diff != "" {
		t.Errorf("inquiries (-want +got):\n%s", diff)
	}
	// Another symptom counts once; the same one, one unknown and somebody hurt do not.
	want.Findings = append(want.Findings, diagnosis.Finding{Of: diagnosis.NoCause, Minutes: 1,
		Sign: diagnosis.Sign{Leak: 0.1, Strength: []float64{0.25, 0, 0, 0}}})
	if diff := cmp.Diff(want, NewDiagnosis(prof, "dirt", "dirt", "noise", "gone", "hurt").Model(), near); diff != "" {
		t.Errorf("with a noise (-want +got):\n%s", diff)
	}
	for _, id := range []string{"odd", "hurt", "gone"} {
		if NewDiagnosis(prof, id) != nil {
			t.Errorf("%s is diagnosed", id)
		}
	}
}

// What a machine's facts say of a cause, by what it multiplies its odds, by hand.
func TestEvidenceByHand(t *testing.T) {
	since := func(x float64, prior float64) float64 { return diagnosis.Since(prior, x) }
	for _, test := range []struct {
		name  string
		cause string
		set   func(*Snapshot)
		want  []Evidence // after the prior and what it shows
	}{
		{"nothing known of it", "oily", nothing, nil},
		{"in order", "off", nothing, []Evidence{{Code: EvidenceGood, Odds: 0.15, Name: "the bed", Where: "", Fact: 1,
			At: added}}},
		{"off on its side", "off", func(s *Snapshot) { read(s, "bed", 20, onDay(1), thou(0), thou(11)) },
			[]Evidence{{Code: EvidenceOff, Odds: 8, Name: "the bed", Where: "right", Value: thou(11), Fact: 20,
				At: onDay(1)}}},
		{"at the limit", "off", func(s *Snapshot) { read(s, "bed", 20, onDay(1), thou(10)) },
			[]Evidence{{Code: EvidenceGood, Odds: 0.15, Name: "the bed", Fact: 20, At: onDay(1)}}},
		{"off on the other side", "off", func(s *Snapshot) { read(s, "bed", 20, onDay(1), thou(-11)) },
			[]Evidence{{Code: EvidenceGood, Odds: 0.15, Name: "the bed", Fact: 20, At: onDay(1)}}},
		{"off, and moved since", "off",
			func(s *Snapshot) {
				read(s, "bed", 20, onDay(1), thou(11))
				s.Moved["bed"] = Moved{At: onDay(2),
					Fact: 21}
			},
			[]Evidence{{Code: EvidenceStaleOff, Odds: 4, Name: "the bed", Of: "the bed", Where: "left",
				Value: thou(11), Fact: 20, At: onDay(1)}}},
		{"moved since", "off", func(s *Snapshot) { s.Moved["bed"] = Moved{At: onDay(2), Fact: 21} },
			[]Evidence{{Code: EvidenceStale, Odds: 2, Name: "the bed", Of: "the bed", Fact: 1, At: added}}},
		{"never read", "off", func(s *Snapshot) { delete(s.Latest, "bed") },
			[]Evidence{{Code: EvidenceUnread, Odds: 1.5, Name: "the bed"}}},
		{"low where low shows it", "off", func(s *Snapshot) {
			s.Machine.Profile.Cause("off").Reads = "low"
			read(s, "bed", 20, onDay(1), thou(-11), thou(30))
		}, []Evidence{{Code: EvidenceOff, Odds: 8, Name: "the bed", Where: "left", Value: thou(-11), Fact: 20,
			At: onDay(1)}}},
		{"positions unlike, where either side shows it", "off", func(s *Snapshot) {
			s.Machine.Profile.Cause("off").Reads, s.Machine.Profile.Check("bed").AlikeAdjust = "", thou(4)
			read(s, "bed", 20, onDay(1), thou(-3), thou(2))
		}, []Evidence{{Code: EvidenceOff, Odds: 8, Name: "the bed", Where: "right", Value: thou(2), Fact: 20,
			At: onDay(1)}}},
		{"just alike", "off", func(s *Snapshot) {
			s.Machine.Profile.Cause("off").Reads, s.Machine.Profile.Check("bed").AlikeAdjust = "", thou(4)
			read(s, "bed", 20, onDay(1), thou(-2), thou(2))
		}, []Evidence{{Code: EvidenceGood, Odds: 0.15, Name: "the bed", Fact: 20, At: onDay(1)}}},
		{"unlike, where one side shows it", "off", func(s *Snapshot) {
			s.Machine.Profile.Check("bed").AlikeAdjust = thou(4)
			read(s, "bed", 20, onDay(1), thou(-3), thou(2))
		}, []Evidence{{Code: EvidenceGood, Odds: 0.15, Name: "the bed", Fact: 20, At: onDay(1)}}},
		{"unlike and one outside: that one", "off", func(s *Snapshot) {
			s.Machine.Profile.Cause("off").Reads, s.Machine.Profile.Check("bed").AlikeAdjust = "", thou(4)
			read(s, "bed", 20, onDay(1), thou(-11), thou(2))
		}, []Evidence{{Code: EvidenceOff, Odds: 8, Name: "the bed", Where: "left", Value: thou(-11), Fact: 20,
			At: onDay(1)}}},
		{"never oiled: since it came", "dry", func(s *Snapshot) { s.Hours = hours(4) },
			[]Evidence{{Code: EvidenceSince, Odds: since(0.5, 0.3), Name: "the oil", Hours: hours(4), At: added}}},
		{"oiled", "dry", func(s *Snapshot) {
			s.Services["oil"] = LastService{Fact: 22, At: onDay(1),
				Since: hours(2)}
		},
			[]Evidence{{Code: EvidenceSince, Odds: since(0.25, 0.3), Name: "the oil", Hours: hours(2), Fact: 22,
				At: onDay(1)}}},
		{"a belt never changed, and its sound in order", "worn", func(s *Snapshot) { s.Hours = hours(50) },
			[]Evidence{{Code: EvidenceSince, Odds: since(0.5, 0.3), Name: "belt changed", Hours: hours(50)},
				{Code: EvidenceGood, Odds: 0.15, Name: "the sound", Fact: 6, At: added}}},
		{"a belt changed, and events a short while ago, by their ids", "worn", func(s *Snapshot) {
			s.Events["belt-changed"] = LastService{Fact: 22, At: onDay(1), Since: hours(30)}
			s.Events["crash"] = LastService{Fact: 23, At: onDay(1), Since: hours(19)}
			s.Events["blade-changed"] = LastService{Fact: 24, At: onDay(1), Since: hours(3)}
		}, []Evidence{{Code: EvidenceSince, Odds: since(0.3, 0.3), Name: "belt changed", Hours: hours(30), Fact: 22,
			At: onDay(1)},
			{Code: EvidenceEvent, Odds: 2, Name: "blade changed", Hours: hours(3), Fact: 24, At: onDay(1)},
			{Code: EvidenceEvent, Odds: 5, Name: "crash", Hours: hours(19), Fact: 23, At: onDay(1)},
			{Code: EvidenceGood, Odds: 0.15, Name: "the sound", Fact: 6, At: added}}},
		{"an event twenty hours ago", "worn",
			func(s *Snapshot) { s.Events["crash"] = LastService{Fact: 23, At: onDay(1), Since: hours(20)} },
			[]Evidence{{Code: EvidenceSince, Odds: since(0, 0.3), Name: "belt changed", Hours: hours(0)},
				{Code: EvidenceGood, Odds: 0.15, Name: "the sound", Fact: 6, At: added}}},
		{"an inspection that failed", "worn", func(s *Snapshot) { inspect(s, "sound", 25, onDay(1), false) },
			[]Evidence{{Code: EvidenceSince, Odds: since(0, 0.3), Name: "belt changed", Hours: hours(0)},
				{Code: EvidenceFailed, Odds: 8, Name: "the sound", Fact: 25, At: onDay(1)}}},
		{"an inspection that is due says nothing", "worn",
			func(s *Snapshot) { s.Machine.Profile.Check("sound").Every = &profile.Rule{Days: 1} },
			[]Evidence{{Code: EvidenceSince, Odds: since(0, 0.3), Name: "belt changed", Hours: hours(0)}}},
		{"a check that the machine lacks", "off", func(s *Snapshot) { s.Machine.Profile.Cause("off").Check = "gone" },
			nil},
	} {
		snap := ailing()
		test.set(&snap)
		_, got := rankOf(t, Assess(snap, onDay(4)), "dirt", test.cause, nil, Counts{}, "")
		if d := cmp.Diff(test.want, got.Evidence[2:], cmpopts.EquateEmpty(), cmpopts.EquateApprox(1e-9, 0)); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
		k := snap.Machine.Profile.Cause(test.cause)
		start := []Evidence{{Code: EvidencePrior, Odds: k.Prior}, {Code: EvidenceShows, Odds: k.Shows["dirt"],
			Name: "dirt on the bed"}}
		if d := cmp.Diff(start, got.Evidence[:2]); d != "" {
			t.Errorf("%s begins (-want +got):\n%s", test.name, d)
		}
	}
}

// What was mended before, what the shop's own problems were and what was answered stand
// with the causes that they are about; suspects come likeliest first.
func TestRankTells(t *testing.T) {
	st := Assess(ailing(), onDay(4))
	found := map[Item]FoundThen{item("question:wet"): {Fact: 40, At: onDay(3), Answer: AnswerYes},
		item("cause:dry"): {Fact: 41, At: onDay(3), Answer: AnswerNo}}
	diag := NewDiagnosis(st.Machine.Profile, "dirt")
	counts := Counts{By: map[string]int{"oily": 3, "dry": 1}, N: 5}
	ranked := diag.Rank(st, found, counts, "off")
	learned := diag.Model().Learned([]int{3, 0, 1, 0}, 5)
	tells := map[string][]Evidence{}
	for i, suspect := range ranked.Suspects {
		if i > 0 && suspect.Chance > ranked.Suspects[i-1].Chance {
			t.Errorf("%s comes after what is less likely", suspect.Cause.ID)
		}
		for _, e := range suspect.Evidence {
			if slices.Contains([]EvidenceCode{EvidenceLearned, EvidenceAgain, EvidenceAnswer}, e.Code) {
				tells[suspect.Cause.ID] = append(tells[suspect.Cause.ID], e)
			}
		}
	}
	want := map[string][]Evidence{
		"oily": {{Code: EvidenceLearned, Odds: learned[0], Had: 3, N: 5},
			{Code: EvidenceAnswer, Name: "Was the board wet?", Answer: AnswerYes, Fact: 40, At: onDay(3)}},
		"off": {{Code: EvidenceLearned, Odds: learned[1], N: 5}, {Code: EvidenceAgain, Odds: 0.1}},
		"dry": {{Code: EvidenceLearned, Odds: learned[2], Had: 1, N: 5}, {Code: EvidenceAnswer, Answer: AnswerNo,
			Fact: 41, At: onDay(3)}},
		"worn": {{Code: EvidenceLearned, Odds: learned[3], N: 5}},
	}
	if diff := cmp.Diff(want, tells, cmpopts.EquateApprox(1e-9, 0)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if ranked.Settled != nil {
		t.Errorf("settled by %s", ranked.Settled.ID)
	}
	// The chances are those of the model, with each cause's odds and the answers.
	odds := []float64{learned[0], learned[1] * 0.15 * 0.1, learned[2] * diagnosis.Since(0.3, 0),
		learned[3] * diagnosis.Since(0.3, 0) * 0.15}
	post := diag.Model().Rank(odds, []diagnosis.Answer{diagnosis.Yes, 0, 0, diagnosis.No, 0})
	for i, id := range []string{"oily", "off", "dry", "worn"} {
		k := slices.IndexFunc(ranked.Suspects, func(s Suspect) bool { return s.Cause.ID == id })
		if !closeTo(ranked.Suspects[k].Chance, post.Chance[i]) {
			t.Errorf("%s: %v, want %v", id, ranked.Suspects[k].Chance, post.Chance[i])
		}
	}
	if !closeTo(ranked.Other, post.Other) {
		t.Errorf("none of them: %v, want %v", ranked.Other, post.Other)
	}
	// "Cannot tell" is an answer too: it is not asked again, and moves nothing.
	unsure := diag.Rank(st, map[Item]FoundThen{item("question:wet"): {Fact: 40, Answer: AnswerUnsure}}, Counts{}, "")
	open := diag.Rank(st, nil, Counts{}, "")
	if unsure.Next == nil || unsure.Next.Question != nil ||
		!closeTo(unsure.Suspects[0].Chance, open.Suspects[0].Chance) {
		t.Errorf("cannot tell: next %+v, %v against %v", unsure.Next, unsure.Suspects[0].Chance,
			open.Suspects[0].Chance)
	}
	// Without problems of the shop's own nothing is told of them.
	for _, s := range open.Suspects {
		if slices.Contains(codes(s), EvidenceLearned) {
			t.Errorf("%s learned from nothing", s.Cause.ID)
		}
	}
	// Everything answered leaves nothing to ask, and what was found is settled.
	all := map[Item]FoundThen{}
	for i, q := range diag.Inquiries {
		all[q.Item()] = FoundThen{Fact: FactNo(50 + i), Answer: AnswerNo}
	}
	if r := diag.Rank(st, all, Counts{}, ""); r.Next != nil || r.Settled != nil {
		t.Errorf("all answered: next %+v, settled %+v", r.Next, r.Settled)
	}
	all[item("cause:worn")] = FoundThen{Fact: 60, Answer: AnswerYes}
	if r := diag.Rank(st, all, Counts{}, ""); r.Settled == nil || r.Settled.ID != "worn" {
		t.Errorf("settled %+v", r.Settled)
	}
	all[item("cause:elsewhere")] = FoundThen{Fact: 61, Answer: AnswerYes}
	if r := diag.Rank(st, all, Counts{}, ""); r.Settled != nil {
		t.Errorf("settled by %s, which was found before another that is not of this symptom", r.Settled.ID)
	}
}

// The symptoms that a machine shows are those of open problems, then of dangers, each
// danger's once; what was said in free words has none.
func TestSymptomsShown(t *testing.T) {
	danger := func(id string) Danger { return Danger{Problem: Problem{Symptom: id, Name: id}} }
	st := Status{Problems: []OpenProblem{{Symptom: "dirt"}, {Name: "odd"}, {Symptom: "noise"}},
		Dangers: []Danger{danger("smoke"), danger(""), danger("noise"), danger("smoke")}}
	if d := cmp.Diff([]string{"dirt", "noise", "smoke"}, SymptomsShown(st)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if got := SymptomsShown(Status{}); len(got) != 0 {
		t.Errorf("nothing: %v", got)
	}
}

// A problem is over once what mends its cause is done after it was first reported, and
// is closed by that very report.
func TestOverByHand(t *testing.T) {
	found := func(id string, at time.Time) func(*Snapshot) {
		return func(s *Snapshot) {
			s.Problems[0].Found = map[Item]FoundThen{CauseItem.Of(id): {Fact: 40, At: at, Answer: AnswerYes}}
		}
	}
	closed := func(cause string, by FactNo) []Mended {
		return []Mended{{Key: "dirt", Name: "dirt on the bed", Cause: cause, Because: by}}
	}
	bed := func(n int64, at time.Time) func(*Snapshot) {
		return func(s *Snapshot) { found("off", onDay(4))(s); read(s, "bed", 50, at, thou(n)) }
	}
	event := func(at time.Time) func(*Snapshot) {
		return func(s *Snapshot) {
			found("worn", onDay(4))(s)
			s.Events["belt-changed"] = LastService{Fact: 50, At: at, Since: hours(0)}
		}
	}
	oil := func(at time.Time) func(*Snapshot) {
		return func(s *Snapshot) {
			found("dry", onDay(4))(s)
			s.Services["oil"] = LastService{Fact: 50, At: at, Since: hours(0)}
		}
	}
	both := func(all ...func(*Snapshot)) func(*Snapshot) {
		return func(s *Snapshot) {
			for _, f := range all {
				f(s)
			}
		}
	}
	for _, test := range []struct {
		name string
		set  func(*Snapshot)
		want []Mended
	}{
		{"nothing found", nothing, nil},
		{"only how it is used", found("oily", onDay(4)), closed("oily", 40)},
		{"a cause that is no more", found("gone", onDay(4)), nil},
		{"oiled when it was reported", oil(onDay(2)), closed("dry", 50)},
		{"oiled before", oil(onDay(2).Add(-1)), nil},
		{"never oiled", found("dry", onDay(4)), nil},
		{"a service that stands without a report",
			func(s *Snapshot) { oil(onDay(5))(s); s.Services["oil"] = LastService{At: onDay(5)} }, nil},
		{"its belt changed", event(onDay(2)), closed("worn", 50)},
		{"its belt changed before", event(onDay(2).Add(-1)), nil},
		{"its belt never changed", found("worn", onDay(4)), nil},
		{"read in order since it was found", bed(9, onDay(4)), closed("off", 50)},
		{"read in order before it was found", bed(9, onDay(4).Add(-1)), nil},
		{"read in order before it was found, its screws turned since it was reported",
			both(bed(9, onDay(3)), func(s *Snapshot) { s.Moved["bed"] = Moved{At: onDay(2), Fact: 49} }),
			closed("off", 50)},
		{"its screws turned before",
			both(bed(9, onDay(3)), func(s *Snapshot) { s.Moved["bed"] = Moved{At: onDay(2).Add(-1), Fact: 49} }),
			nil},
		{"read off", bed(11, onDay(5)), nil},
		{"in order, and moved since",
			both(bed(9, onDay(5)), func(s *Snapshot) { s.Moved["bed"] = Moved{At: onDay(5).Add(1), Fact: 51} }), nil},
		{"an inspection that failed", func(s *Snapshot) {
			found("off", onDay(4))(s)
			s.Machine.Profile.Cause("off").Mend.Check = "sound"
			inspect(s, "sound", 50, onDay(5), false)
		}, nil},
		{"an inspection that passed", func(s *Snapshot) {
			found("off", onDay(4))(s)
			s.Machine.Profile.Cause("off").Mend.Check = "sound"
			inspect(s, "sound", 50, onDay(5), true)
		}, closed("off", 50)},
		{"an inspection that a second person is still to confirm", func(s *Snapshot) {
			found("off", onDay(4))(s)
			s.Machine.Profile.Cause("off").Mend.Check = "sound"
			s.Machine.Setup = s.Machine.Setup.WithSecond("sound", true)
			inspect(s, "sound", 50, onDay(5), true)
		}, nil},
		{"a check that the machine lacks",
			func(s *Snapshot) { found("off", onDay(4))(s); s.Machine.Profile.Cause("off").Mend.Check = "gone" }, nil},
	} {
		s := ailing()
		test.set(&s)
		if d := cmp.Diff(test.want, Assess(s, onDay(6)).Over); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
}
