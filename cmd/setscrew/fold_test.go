package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"log/slog"
	"strings"
	"testing"
	"testing/slogtest"
	"testing/synctest"
	"time"
)

// A handler that folds is a handler as every other.
func TestFoldingIsAHandler(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	slogtest.Run(t, func(*testing.T) slog.Handler {
		out.Reset()
		return newFolding(slog.NewJSONHandler(&out, nil))
	}, func(t *testing.T) map[string]any {
		line := map[string]any{}
		if err := json.Unmarshal(out.Bytes(), &line); err != nil {
			t.Fatal(err)
		}
		return line
	})
}

// folded is a log in a bubble, without times.
func folded() (log *slog.Logger, flush func(), lines func() []string) {
	var out bytes.Buffer
	folding := newFolding(slog.NewTextHandler(&out, &slog.HandlerOptions{
		ReplaceAttr: func(_ []string, a slog.Attr) slog.Attr {
			if a.Key == slog.TimeKey {
				return slog.Attr{}
			}
			return a
		}}))
	return slog.New(folding), folding.flush, func() []string {
		folding.all.mu.Lock()
		defer folding.all.mu.Unlock()
		all := strings.Split(strings.TrimSpace(out.String()), "\n")
		out.Reset()
		return all
	}
}

func wantLines(t *testing.T, got []string, want ...string) {
	t.Helper()
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("logged\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// A warning that repeats is logged once, then as one line with how often, each after twice
// the time; when it was quiet so long, the next is news.
func TestRepeatsAreFolded(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		log, _, lines := folded()
		fail := func(times int, each time.Duration) {
			for i := range times {
				log.Warn("connecting failed", "error", errors.New("no route"), "wait", time.Duration(i)*time.Second,
					"interaction", i)
				time.Sleep(each)
			}
		}
		fail(1, 0)
		wantLines(t, lines(), `level=WARN msg="connecting failed" error="no route" wait=0s interaction=0`)
		fail(30, time.Second)
		wantLines(t, lines(), "")
		time.Sleep(31 * time.Second)
		wantLines(t, lines(),
			`level=WARN msg="connecting failed" error="no route" wait=29s interaction=29 repeated=30`)
		// It goes on: the next line comes after two minutes.
		fail(7, 16*time.Second)
		wantLines(t, lines(), "")
		time.Sleep(8 * time.Second)
		wantLines(t, lines(), `level=WARN msg="connecting failed" error="no route" wait=6s interaction=6 repeated=7`)
		// Quiet for long enough, it is news again.
		time.Sleep(5 * time.Minute)
		fail(1, 0)
		wantLines(t, lines(), `level=WARN msg="connecting failed" error="no route" wait=0s interaction=0`)
		time.Sleep(2 * longestFold)
	})
}

// Warnings that differ in what they are about are told apart, and what is less than a
// warning is never folded.
func TestOnlyRepeatsAreFolded(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		log, flush, lines := folded()
		for range 2 {
			log.Info("connected")
			log.Warn("a notice could not be posted", "shop", 1)
			log.Warn("a notice could not be posted", "shop", 2)
			log.Error("a notice could not be posted", "shop", 2)
			log.With("shop", 3).Warn("a notice could not be posted")
			log.WithGroup("in").Warn("a notice could not be posted", "shop", 3)
		}
		wantLines(t, lines(), `level=INFO msg=connected`, `level=WARN msg="a notice could not be posted" shop=1`,
			`level=WARN msg="a notice could not be posted" shop=2`,
			`level=ERROR msg="a notice could not be posted" shop=2`,
			`level=WARN msg="a notice could not be posted" shop=3`,
			`level=WARN msg="a notice could not be posted" in.shop=3`, `level=INFO msg=connected`)
		// At the end nothing is kept back.
		flush()
		got := lines()
		if len(got) != 5 {
			t.Errorf("flushed %q, want five lines", got)
		}
		for _, line := range got {
			if !strings.HasSuffix(line, "repeated=1") {
				t.Errorf("flushed %s without its number", line)
			}
		}
		flush()
		wantLines(t, lines(), "")
	})
}

// However many sorts of warnings there are, memory is bounded, and none is lost.
func TestFoldsAreBounded(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		log, flush, lines := folded()
		for i := range mostFolds + 3 {
			log.Warn("a sort", "number", i)
		}
		if got := len(lines()); got != mostFolds+3 {
			t.Errorf("%d lines, want %d", got, mostFolds+3)
		}
		log.Warn("a sort", "number", 1)
		log.Warn("a sort", "number", mostFolds+1)
		wantLines(t, lines(), `level=WARN msg="a sort" number=501`)
		flush()
	})
}
