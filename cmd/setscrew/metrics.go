package main

import (
	"context"
	"log/slog"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"

	"setscrew/bot"
	"setscrew/domain"
	"setscrew/store"
)

// figures are what is counted while the program runs; alerts.yml beside this file warns by
// them.
type figures struct {
	registry *prometheus.Registry
	answers  *prometheus.CounterVec
	took     *prometheus.HistogramVec
	sweeps   *prometheus.CounterVec
	swept    prometheus.Histogram
	judged   prometheus.Counter
	digests  prometheus.Counter
	panics   prometheus.Counter
}

// newFigures are figures that stand at nothing.
func newFigures() *figures {
	f := &figures{registry: prometheus.NewRegistry(),
		answers: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "setscrew_answers_total",
			Help: "Answers, by the command (or press, complete) and what they came to."}, []string{"name", "outcome"}),
		took: prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "setscrew_answer_seconds",
			Help:    "How long answers took from the arrival of what they answer; Discord waits three seconds.",
			Buckets: []float64{.01, .03, .1, .3, 1, 2, 3, 10, 60}}, []string{"name"}),
		sweeps: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "setscrew_sweeps_total",
			Help: "Looks, one a minute, at what time has changed."}, []string{"outcome"}),
		swept: prometheus.NewHistogram(prometheus.HistogramOpts{Name: "setscrew_sweep_seconds",
			Help: "How long those took.", Buckets: []float64{.001, .01, .1, 1, 10, 60}}),
		judged: prometheus.NewCounter(prometheus.CounterOpts{Name: "setscrew_machines_judged_total",
			Help: "Machines that those judged because their time had come."}),
		digests: prometheus.NewCounter(prometheus.CounterOpts{Name: "setscrew_digests_total",
			Help: "Digests that those had posted."}),
		panics: prometheus.NewCounter(prometheus.CounterOpts{Name: "setscrew_panics_total",
			Help: "Panics that were caught: faults of Setscrew's."})}
	f.registry.MustRegister(f.answers, f.took, f.sweeps, f.swept, f.judged, f.digests, f.panics,
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	// A series that is there from the beginning shows its first count as a rise.
	for _, outcome := range []string{sweptDone, sweptFailed} {
		f.sweeps.WithLabelValues(outcome)
	}
	return f
}

// What a sweep came to.
const (
	sweptDone   = "done"
	sweptFailed = "failed"
)

// watch has a bot tell of what it does.
func (f *figures) watch() bot.Watch {
	return bot.Watch{
		Answered: func(name string, outcome bot.Outcome, took time.Duration) {
			f.answers.WithLabelValues(name, string(outcome)).Inc()
			f.took.WithLabelValues(name).Observe(took.Seconds())
		},
		Swept: func(took time.Duration, err error) {
			outcome := sweptDone
			if err != nil {
				outcome = sweptFailed
			}
			f.sweeps.WithLabelValues(outcome).Inc()
			f.swept.Observe(took.Seconds())
		},
		Panicked: f.panics.Inc,
	}
}

// standing is what is asked for when the figures are.
type standing struct {
	db     *store.DB
	folder string                                // for the copies
	alive  func() (ails string, since time.Time) // whether Discord is heard
	now    func() time.Time
	log    *slog.Logger
}

// The figures that are read from how things stand.
var (
	owedFigure = prometheus.NewDesc("setscrew_notices_owed", "Notices that wait to be posted.",
		[]string{"urgency"}, nil)
	oldestFigure = prometheus.NewDesc("setscrew_notices_oldest_seconds",
		"Age of the oldest of those; 0 where none waits.", []string{"urgency"}, nil)
	stuckFigure = prometheus.NewDesc("setscrew_notices_stuck_seconds",
		"Age of the oldest of those whose shop has a channel for them.", []string{"urgency"}, nil)
	connectedFigure = prometheus.NewDesc("setscrew_gateway_connected", "Whether Discord is heard.", nil, nil)
	booksFigure     = prometheus.NewDesc("setscrew_books_writable", "Whether the books can be written.", nil, nil)
	copiesFigure    = prometheus.NewDesc("setscrew_backups", "Copies of the books that are kept.", nil, nil)
	copyFigure      = prometheus.NewDesc("setscrew_backup_age_seconds",
		"Age of the last copy, which was checked when it was made; infinite where there is none.", nil, nil)
	versionFigure = prometheus.NewDesc("setscrew_info", "1, for the version.", []string{"version"}, nil)
)

// urgencies are the names of how urgent notices are.
var urgencies = []string{domain.UrgentDanger: "danger", domain.UrgentCall: "call", domain.UrgentRelease: "release",
	domain.Routine: "routine"}

// Describe lists the figures.
func (s standing) Describe(all chan<- *prometheus.Desc) { prometheus.DescribeByCollect(s, all) }

// Collect reads them.
func (s standing) Collect(all chan<- prometheus.Metric) {
	gauge := func(desc *prometheus.Desc, value float64, labels ...string) {
		all <- prometheus.MustNewConstMetric(desc, prometheus.GaugeValue, value, labels...)
	}
	yes := func(holds bool) float64 {
		if holds {
			return 1
		}
		return 0
	}
	now := s.now()
	owing, err := s.db.Owing(context.Background(), bot.NoChannel)
	if err != nil {
		s.log.Warn("owed notices not counted", "error", err)
	} else {
		for urgency, name := range urgencies {
			one := find(owing, domain.Urgency(urgency))
			gauge(owedFigure, float64(one.Count), name)
			gauge(oldestFigure, age(now, one.Oldest).Seconds(), name)
			gauge(stuckFigure, age(now, one.Stuck).Seconds(), name)
		}
	}
	ails, _ := s.alive()
	gauge(connectedFigure, yes(ails == ""))
	gauge(booksFigure, yes(s.db.Look() == nil))
	copies, err := store.Copies(s.db.Path(), s.folder)
	if err != nil {
		s.log.Warn("copies not counted", "error", err)
	}
	gauge(copiesFigure, float64(len(copies)))
	if last, ok := store.LastCopy(copies, now); ok {
		gauge(copyFigure, now.Sub(last.Made).Seconds())
	} else {
		gauge(copyFigure, infinite)
	}
	gauge(versionFigure, 1, version())
}

// find is what waits of an urgency.
func find(owing []store.Owing, urgency domain.Urgency) store.Owing {
	for _, one := range owing {
		if one.Urgency == urgency {
			return one
		}
	}
	return store.Owing{}
}

// age is how old what was made then is; 0 for nothing.
func age(now, made time.Time) time.Duration {
	if made.IsZero() {
		return 0
	}
	return max(now.Sub(made), 0)
}
