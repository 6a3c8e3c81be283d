package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"net"
	"net/http"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus/promhttp"

	"setscrew/bot"
	"setscrew/domain"
)

// listenFlag is the flag that says where the program tells how it stands.
type listenFlag struct {
	Listen string `placeholder:"ADDR" env:"SETSCREW_LISTEN" help:"${listenHelp}"`
}

// infinite is the age of what there is not.
var infinite = math.Inf(1)

// The times after which health is bad.
const (
	awayFor  = 5 * time.Minute  // without Discord
	stuckFor = 15 * time.Minute // with an urgent notice that its channel does not take
)

// health says how the program stands, a line for each thing, and whether all is well.
func (s standing) health(ctx context.Context) (well bool, text string) {
	var lines []string
	well = true
	say := func(ok bool, format string, args ...any) {
		mark := "ok"
		if !ok {
			mark, well = "BAD", false
		}
		lines = append(lines, mark+" "+fmt.Sprintf(format, args...))
	}
	now := s.now()
	if err := s.db.Look(); err != nil {
		trouble := domain.Trouble("")
		var said *domain.BooksError
		if errors.As(err, &said) {
			trouble = said.Trouble
		}
		say(trouble == domain.BooksFull, "books: %s", trouble)
	} else {
		say(true, "books: writable")
	}
	if ails, since := s.alive(); ails != "" {
		say(now.Sub(since) < awayFor, "gateway: %s since %s", ails, since.UTC().Format(time.RFC3339))
	} else {
		say(true, "gateway: connected")
	}
	owing, err := s.db.Owing(ctx, bot.NoChannel)
	if err != nil {
		say(false, "notices: the books cannot be read")
	}
	var count int
	var oldest, stuck time.Duration
	for _, one := range owing {
		count += one.Count
		oldest = max(oldest, age(now, one.Oldest))
		if one.Urgency < domain.Routine {
			stuck = max(stuck, age(now, one.Stuck))
		}
	}
	if err == nil {
		say(stuck < stuckFor, "notices: %d owed, the oldest for %s", count, oldest.Round(time.Second))
	}
	return well, strings.Join(lines, "\n") + "\n"
}

// listenAt begins to listen: on this machine alone, unless another address is named.
func listenAt(addr string) (net.Listener, error) {
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		return nil, fmt.Errorf("the address %q to listen at is none: give one such as 127.0.0.1:9090", addr)
	}
	if host == "" {
		host = "127.0.0.1"
	}
	return net.Listen("tcp", net.JoinHostPort(host, port))
}

// serve answers /healthz and /metrics until ctx is done.
func (s standing) serve(ctx context.Context, at net.Listener, counted *figures, log *slog.Logger) {
	counted.registry.MustRegister(s)
	mux := http.NewServeMux()
	mux.HandleFunc("GET /healthz", func(writer http.ResponseWriter, r *http.Request) {
		well, text := s.health(r.Context())
		writer.Header().Set("Content-Type", "text/plain; charset=utf-8")
		if !well {
			writer.WriteHeader(http.StatusServiceUnavailable)
		}
		fmt.Fprint(writer, text)
	})
	mux.Handle("GET /metrics", promhttp.HandlerFor(counted.registry, promhttp.HandlerOpts{}))
	server := &http.Server{Handler: mux, ReadHeaderTimeout: 10 * time.Second, WriteTimeout: 30 * time.Second}
	context.AfterFunc(ctx, func() { server.Close() }) //nolint:errcheck // nothing is owed to those who look
	log.Info("listening", "address", at.Addr().String())
	if err := server.Serve(at); err != nil && !errors.Is(err, http.ErrServerClosed) {
		log.Error("listening ended", "error", err)
	}
}
