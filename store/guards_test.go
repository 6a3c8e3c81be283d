package store_test

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/store"
)

// A put-off ends with the service that was put off: what falls due after it was done
// is said, though the moment that it was put off until is still to come.
func TestAPutOffEndsWithItsService(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db := open(t, path)
	shop := db.Shop("one")
	at := time.Hour
	tell := func(b domain.Body) domain.Outcome {
		t.Helper()
		at += time.Hour
		e := entry(fmt.Sprint("put off ", at), at, marble, b)
		e.Sure = true
		return report(t, shop, e)
	}
	worn := domain.Hours{Seconds: 200 * 3600}
	tell(worn)
	said := func(last domain.FactNo) bool {
		return slices.Contains(posts(t, db, start.Add(at)), fmt.Sprintf("m1/due/bushings/%d/late", last))
	}
	if !said(0) {
		t.Fatal("late, it is not said")
	}
	until := start.AddDate(0, 0, 90)
	if o := tell(domain.PutOff{Service: "bushings", Until: until,
		Why: "no oil"}); o.After.Service("bushings").PutOff == nil {
		t.Fatal("put off, it is not")
	}
	done := tell(domain.ServiceDone{Service: "bushings"})
	if done.After.Service("bushings").PutOff != nil {
		t.Error("done, it is still put off")
	}
	if o := tell(worn); o.After.Service("bushings").PutOff != nil {
		t.Error("due again, it is still put off")
	}
	if !said(done.Fact.No) {
		t.Error("late again, it is not said")
	}
}

// posts confirms everything that may be posted at a moment, one after another, and
// lists the keys of what became a message of its own.
func posts(t *testing.T, db *store.DB, now time.Time) (keys []string) {
	t.Helper()
	for {
		owed, err := undelivered(db, now, 10)
		if err != nil {
			t.Fatal(err)
		}
		if len(owed) == 0 {
			return keys
		}
		for _, o := range owed {
			if err := db.Posted(ctx, o.Shop, o.ID, "message of "+o.Notice.Key, now); err != nil {
				t.Fatal(err)
			}
			if o.Notice.Op == domain.Post {
				keys = append(keys, o.Notice.Key)
			}
		}
	}
}

// Whatever a member can report and take back is found as the last report of that
// member, and can be taken back.
func TestTheLastReportCanBeTakenBack(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	report(t, shop, entry("hours before", time.Minute, planer, domain.Hours{Seconds: 60}))
	study := report(t, shop, entry("study", time.Minute, 0, domain.StudyBegun{Gauge: "dial", Machine: planer,
		Check: "infeed"})).Fact.No
	at := time.Hour
	var read, move, handover, unlikely, own, danger domain.FactNo // what later reports are about
	hung := entry("another's lock", time.Minute, planer, domain.TagOut{Reason: domain.Reason{Code: domain.LockOn}})
	hung.By, hung.For = "chidi", "chidi"
	others := report(t, shop, hung).Fact.No
	waits := infeed(t, shop, planer, 700)
	waits.Unconfirmed = true
	for _, test := range []struct {
		name string
		body func() domain.Body
		keep func(domain.FactNo) // it is not taken back: what it became is needed
	}{
		{"hours", func() domain.Body { return domain.Hours{Seconds: 3600} }, nil},
		{"counter", func() domain.Body { return domain.CounterRead{Seconds: 3600} }, nil},
		{"reading", func() domain.Body { return infeed(t, shop, planer, 46) }, func(no domain.FactNo) { read = no }},
		{"move", func() domain.Body { return domain.Move{Check: "infeed", Reading: read} },
			func(no domain.FactNo) { move = no }},
		{"answer about a move", func() domain.Body {
			return domain.MoveAnswer{Of: move, Check: "infeed", Said: domain.TurnedAsSaid}
		}, nil},
		{"unlikely reading", func() domain.Body { return waits }, func(no domain.FactNo) { unlikely = no }},
		{"confirmation", func() domain.Body { return domain.ReadingConfirmed{Of: unlikely} }, nil},
		{"inspection", func() domain.Body { return domain.Inspection{Check: "fingers", Pass: true} }, nil},
		{"problem", func() domain.Body { return domain.Problem{Symptom: "snipe", Name: "snipe"} },
			func(domain.FactNo) {}},
		{"found", func() domain.Body {
			return domain.Found{Key: "snipe", About: domain.QuestionItem.Of("both-ends"), Answer: domain.AnswerNo}
		}, nil},
		{"mended", func() domain.Body { return domain.Mended{Key: "snipe", Name: "snipe"} }, nil},
		{"service", func() domain.Body { return domain.ServiceDone{Service: "bushings"} }, nil},
		{"event", func() domain.Body { return domain.EventSeen{Event: "belts-changed"} }, nil},
		{"put off", func() domain.Body {
			return domain.PutOff{Service: "bushings", Until: start.AddDate(0, 1, 0), Why: "no oil"}
		}, nil},
		{"extended", func() domain.Body { return domain.Extended{Check: "guards", Days: 1, Why: "ill"} }, nil},
		{"loosening", func() domain.Body {
			snap, err := shop.Snapshot(ctx, planer)
			if err != nil {
				t.Fatal(err)
			}
			return loosening(snap.Machine, 30)
		}, nil},
		{"taken", func() domain.Body { return domain.Taken{Service: "bushings"} }, nil},
		{"handover", func() domain.Body { return domain.Handover{Apart: "hood", Next: "fit it"} },
			func(no domain.FactNo) { handover = no }},
		{"taken over", func() domain.Body { return domain.TakenOver{Of: handover} }, nil},
		{"set of knives", func() domain.Body { return domain.SetMoved{Set: "a", Where: domain.Fitted} }, nil},
		{"shelf", func() domain.Body { return domain.StockCounted{Name: "oil", Left: 2} }, nil},
		{"visits", func() domain.Body { return domain.VisitsPlanned{} }, nil},
		{"reading of a study", func() domain.Body { return domain.StudyReading{Study: study, Part: 1} }, nil},
		{"danger", func() domain.Body { return domain.Problem{Symptom: "smoke", Name: "smoke", Danger: true} },
			func(no domain.FactNo) { danger = no }},
		{"seen to", func() domain.Body { return domain.SeenTo{Of: danger + 1} }, nil}, // its tag
		{"tag", func() domain.Body { return domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody}} }, nil},
		{"lock asked about, taken back", func() domain.Body { return domain.LockAsked{Tag: others} }, nil},
		{"lock asked about", func() domain.Body { return domain.LockAsked{Tag: others} }, func(domain.FactNo) {}},
		{"lock noted", func() domain.Body { return domain.LockProcedure{Tag: others, Note: "nobody inside"} }, nil},
		{"own lock", func() domain.Body { return domain.TagOut{Reason: domain.Reason{Code: domain.LockOn}} },
			func(no domain.FactNo) { own = no }},
		{"own lock off", func() domain.Body { return domain.LockOff{Tag: own} }, nil},
	} {
		at += time.Hour
		given := entry(test.name, at, planer, test.body())
		given.Sure, given.Steward = true, true
		switch given.Body.(type) {
		case domain.StockCounted, domain.VisitsPlanned, domain.StudyReading:
			given.Machine = 0
		}
		no := report(t, shop, given).Fact.No
		if last, err := shop.LastBy(ctx, "ada"); err != nil || last.No != no {
			t.Errorf("%s: no. %d is the last report, %v, want no. %d", test.name, last.No, err, no)
		}
		if test.keep != nil {
			test.keep(no)
			continue
		}
		at += time.Minute
		if _, err := shop.Report(ctx, entry("undo "+test.name, at, 0, domain.Withdrawal{Of: no})); err != nil {
			t.Errorf("%s is not taken back: %v", test.name, err)
		}
		if last, err := shop.LastBy(ctx, "ada"); err != nil || last.No >= no {
			t.Errorf("%s, taken back: no. %d is the last report, %v", test.name, last.No, err)
		}
	}
	var nothing *domain.Refusal
	if _, err := shop.LastBy(ctx, "bo"); !errors.As(err, &nothing) || nothing.Code != domain.NothingToUndo {
		t.Errorf("of somebody who has reported nothing: %v", err)
	}
}

// Hours after Setscrew should have woken, what fell due meanwhile is left to the
// digest: up to an hour it is posted as ever, and where no digest is to come as well.
func TestWhatFellDueWhileSwitchedOff(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name   string
		late   time.Duration
		digest bool // today's is still to be made
		said   bool // by a post of its own
	}{
		{"on time", 0, true, true},
		{"an hour late", time.Hour, true, true},
		{"over an hour late", time.Hour + time.Millisecond, true, false},
		{"half a day late", 12 * time.Hour, true, false},
		{"half a day late, the digest made", 12 * time.Hour, false, true},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			path := filepath.Join(t.TempDir(), "shop.db")
			copyPrepared(t, path)
			db := open(t, path)
			wakes, err := db.Due(ctx, start.AddDate(1, 0, 0), 1)
			if err != nil || len(wakes) != 1 {
				t.Fatalf("%v, %v", wakes, err)
			}
			due := wakes[0].At
			posts(t, db, due)
			now := due.Add(test.late)
			if !test.digest {
				if err := db.SettleDigest(ctx, "one", now); err != nil {
					t.Fatal(err)
				}
				posts(t, db, now)
			}
			st, err := db.Settle(ctx, "one", marble, now)
			if err != nil || st.Check("fingers").Due.State == 0 {
				t.Fatalf("not due: %+v, %v", st.Check("fingers").Due, err)
			}
			said := slices.ContainsFunc(posts(t, db, now), func(key string) bool {
				return key == fmt.Sprint("m1/check-due/fingers/", st.Check("fingers").Latest.Fact)
			})
			if said != test.said {
				t.Errorf("said: %v, want %v", said, test.said)
			}
		})
	}
}

// What a machine's snapshot shows of its shop is what the shop's last report says,
// also where the snapshot is at hand.
func TestSnapshotsShowTheShopAsItIs(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	gauges := func(when string, want int) {
		t.Helper()
		if snap := snapshot(t, shop, planer); len(snap.Gauges) != want {
			t.Errorf("%s: gauges %v, want %d", when, snap.Gauges, want)
		}
	}
	add := func(name string, after time.Duration) {
		t.Helper()
		b := domain.GaugeSet{Gauge: domain.OwnGauge{GaugeUsed: domain.GaugeUsed{Name: name}}}
		report(t, shop, entry(name, after, 0, b))
	}
	gauges("at first", 0) // and from now on at hand for readers
	add("dial", time.Hour)
	gauges("after one was added", 1)
	report(t, shop, entry("hours", 2*time.Hour, planer, domain.Hours{Seconds: 60})) // at hand for reports
	add("caliper", 3*time.Hour)
	report(t, shop, entry("more", 4*time.Hour, planer, domain.Hours{Seconds: 60}))
	gauges("after another was added, and a report", 2)
	inch := domain.NewShop("one")
	inch.Name = "Inch"
	report(t, shop, entry("settings", 5*time.Hour, 0, domain.ShopSet{Shop: inch}))
	if snap := snapshot(t, shop, planer); snap.Shop.Name != "Inch" {
		t.Errorf("after new settings: %+v", snap.Shop)
	}
	if o := report(t, shop, entry("still more", 6*time.Hour, planer,
		domain.Hours{Seconds: 60})); o.After.Shop.Name != "Inch" {
		t.Errorf("a report after new settings: %+v", o.After.Shop)
	}
}
