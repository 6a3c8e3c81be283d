package store_test

import (
	"errors"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// The same report a second time does nothing, whatever became of it meanwhile: also
// where what it says would be refused by now, in a batch, through another handle on
// the file, and after other reports.
func TestTheSameReportTwice(t *testing.T) {
	t.Parallel()
	db, path := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	add := entry("add", 2*time.Hour, 0, domain.MachineAdded{Name: "Slate",
		Setup: snapshot(t, shop, planer).Machine.Setup})
	slate := report(t, shop, add)
	if again := report(t, shop, add); !again.Repeated || again.Fact.No != slate.Fact.No {
		t.Errorf("a machine added twice: %+v", again.Fact)
	}
	hours := entry("hours", 3*time.Hour, planer, domain.Hours{Seconds: 3600})
	first := report(t, shop, hours)
	report(t, shop, entry("more", 4*time.Hour, planer, domain.Hours{Seconds: 600}))
	if again := report(t, shop, hours); !again.Repeated || again.Fact.No != first.Fact.No {
		t.Errorf("hours told twice: %+v", again)
	}
	// A mend, of a problem that is open no more when it comes again.
	report(t, shop, entry("snipe", 5*time.Hour, planer, domain.Problem{Symptom: "snipe", Name: "snipe"}))
	mend := entry("mend", 6*time.Hour, planer, domain.Mended{Key: "snipe", Name: "snipe"})
	mended := report(t, shop, mend)
	if again := report(t, shop, mend); !again.Repeated || again.Fact.No != mended.Fact.No {
		t.Errorf("mended twice: %+v", again)
	}
	var refused *domain.Refusal
	if _, err := shop.Report(ctx, entry("another", 6*time.Hour, planer,
		domain.Mended{Key: "snipe", Name: "snipe"})); !errors.As(err, &refused) ||
		refused.Code != domain.NoSuchProblem {
		t.Errorf("mended by another: %v", err)
	}
	batch := []domain.Entry{entry("b1", 7*time.Hour, planer, domain.Hours{Seconds: 60}),
		entry("b2", 8*time.Hour, planer, domain.Hours{Seconds: 120})}
	if _, err := shop.ReportAll(ctx, batch, false); err != nil {
		t.Fatal(err)
	}
	out, err := shop.ReportAll(ctx, append(batch, entry("b3", 9*time.Hour, planer, domain.Hours{Seconds: 180})), false)
	if err != nil || len(out) != 3 || !out[0].Repeated || !out[1].Repeated || out[2].Repeated {
		t.Errorf("a batch again, with one more: %v, %v", out, err)
	}
	// Another handle writes; the first still numbers what comes next.
	other := open(t, path).Shop("one")
	report(t, other, entry("elsewhere", 10*time.Hour, planer, domain.Hours{Seconds: 240}))
	if o, err := shop.Report(ctx, entry("here", 11*time.Hour, planer,
		domain.Hours{Seconds: 300})); err != nil || o.Repeated {
		t.Errorf("after another handle: %+v, %v", o.Fact, err)
	}
	if again := report(t, other, hours); !again.Repeated {
		t.Error("told to another handle again: not repeated")
	}
	if snap := snapshot(t, open(t, path).Shop("one"), planer); snap.Hours.Float(quantity.Second) != 3600+600+60+120+180+
		240+300 {
		t.Errorf("hours %v", snap.Hours)
	}
}
