package main

import (
	"context"
	"log/slog"
	"sync"
	"time"
)

// The times over which warnings that repeat are folded: doubled from the first to the
// longest while they go on.
const (
	firstFold   = time.Minute
	longestFold = time.Hour
)

// mostFolds is how many warnings are watched for repeats; others are logged each time.
const mostFolds = 500

// folding is a handler that logs a warning or an error at once, and those that repeat it
// as one line with how many there were. What differs only in durations, times and the
// interaction repeats it. What is less than a warning passes.
type folding struct {
	next slog.Handler
	with string // what WithAttrs and WithGroup brought, for telling warnings apart
	all  *folds
}

// folds are the warnings that were logged lately, by what tells them apart.
type folds struct {
	mu    sync.Mutex
	known map[string]*fold
}

// fold is one of them.
type fold struct {
	next   slog.Handler
	last   slog.Record // the last repeat
	count  int         // of the repeats since one was logged
	within time.Duration
	timer  *time.Timer
}

func newFolding(next slog.Handler) *folding {
	return &folding{next: next, all: &folds{known: map[string]*fold{}}}
}

// Enabled reports whether a level is logged.
func (f *folding) Enabled(ctx context.Context, level slog.Level) bool {
	return f.next.Enabled(ctx, level)
}

// Handle logs a record, or counts it.
func (f *folding) Handle(ctx context.Context, record slog.Record) error {
	if record.Level < slog.LevelWarn {
		return f.next.Handle(ctx, record)
	}
	key := f.with + record.Level.String() + " " + record.Message
	record.Attrs(func(a slog.Attr) bool {
		key += telling(a)
		return true
	})
	f.all.mu.Lock()
	defer f.all.mu.Unlock()
	if before := f.all.known[key]; before != nil {
		before.last, before.next = record.Clone(), f.next
		before.count++
		return nil
	}
	if len(f.all.known) < mostFolds {
		first := &fold{next: f.next, within: firstFold}
		first.timer = time.AfterFunc(first.within, func() { f.all.over(key, first) })
		f.all.known[key] = first
	}
	return f.next.Handle(ctx, record)
}

// telling is what an attribute tells two warnings apart by.
func telling(attr slog.Attr) string {
	kind := attr.Value.Resolve().Kind()
	if kind == slog.KindDuration || kind == slog.KindTime || attr.Key == "interaction" {
		return ""
	}
	return "\x00" + attr.Key + "=" + attr.Value.String()
}

// over logs what was folded of a warning when its time is over, and forgets one that did
// not repeat.
func (f *folds) over(key string, one *fold) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.known[key] != one {
		return
	}
	if one.count == 0 {
		delete(f.known, key)
		return
	}
	one.log()
	one.within = min(2*one.within, longestFold)
	one.timer.Reset(one.within)
}

// log logs the last of the repeats with their number.
func (o *fold) log() {
	if o.count == 0 {
		return
	}
	record := o.last
	record.AddAttrs(slog.Int("repeated", o.count))
	o.next.Handle(context.Background(), record) //nolint:errcheck // there is nowhere to say so
	o.count = 0
}

// flush logs what was folded so far, and forgets it.
func (f *folding) flush() {
	f.all.mu.Lock()
	defer f.all.mu.Unlock()
	// any order: each tells of another warning, with its own time
	for key, one := range f.all.known {
		one.timer.Stop()
		one.log()
		delete(f.all.known, key)
	}
}

// WithAttrs is the handler with attributes of every record.
func (f *folding) WithAttrs(attrs []slog.Attr) slog.Handler {
	with := f.with
	for _, a := range attrs {
		with += telling(a)
	}
	return &folding{next: f.next.WithAttrs(attrs), with: with, all: f.all}
}

// WithGroup is the handler with a group that holds every record's attributes.
func (f *folding) WithGroup(name string) slog.Handler {
	return &folding{next: f.next.WithGroup(name), with: f.with + "\x00" + name + ".", all: f.all}
}
