package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"os"
	"strings"
	"sync"
	"time"

	"setscrew/bot"
	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/store"
)

// The environment variables that hold the token, or name a file that does. It
// is never a flag, since flags are seen by everybody on the machine.
const (
	tokenVariable     = "SETSCREW_TOKEN"
	tokenFileVariable = "SETSCREW_TOKEN_FILE"
	apiVariable       = "SETSCREW_API" // an address on this machine in Discord's place, for tests
)

type runCmd struct {
	booksFile
	backupsFolder
	tokenFlag
	listenFlag
	logFlags
	New bool `help:"Make the books first; there must be none."`

	Now func() time.Time `kong:"-"` // the clock; nil for the usual
}

// errToken is a token that is missing, with what to do about it.
var errToken = fmt.Errorf("no token: put the application's bot token into the environment variable %s, or its "+
	"file's path into %s", tokenVariable, tokenFileVariable)

// readToken reads the bot's token.
func readToken(env func(string) string) (string, error) {
	token := env(tokenVariable)
	if path := env(tokenFileVariable); token == "" && path != "" {
		text, err := os.ReadFile(path)
		if err != nil {
			return "", fmt.Errorf("the token's file, named by %s: %w", tokenFileVariable, errors.Unwrap(err))
		}
		token = string(text)
	}
	token = strings.TrimPrefix(strings.TrimSpace(token), "Bot ")
	switch {
	case token == "":
		return "", errToken
	case strings.ContainsAny(token, " \t\r\n"):
		return "", fmt.Errorf("what %s holds is not a token: it has spaces inside", tokenVariable)
	}
	return token, nil
}

// discordClient is the HTTP client to Discord, or to its stand-in on this
// machine.
func discordClient(api string) (*http.Client, error) {
	client := &http.Client{Timeout: 30 * time.Second}
	if api == "" {
		return client, nil
	}
	u, err := url.Parse(api)
	if err != nil || u.Scheme != "http" || !net.ParseIP(u.Hostname()).IsLoopback() {
		return nil, fmt.Errorf("%s must be an address on this machine, such as http://127.0.0.1:8080", apiVariable)
	}
	client.Transport = standIn{u}
	return client, nil
}

// standIn sends every request to another address than Discord's.
type standIn struct{ to *url.URL }

func (s standIn) RoundTrip(r *http.Request) (*http.Response, error) {
	c := r.Clone(r.Context())
	c.URL.Scheme, c.URL.Host, c.Host = s.to.Scheme, s.to.Host, s.to.Host
	return http.DefaultTransport.RoundTrip(c)
}

// env is the environment with what the flag says of the token's file.
func (f tokenFlag) env(name string) string {
	if name == tokenFileVariable {
		return f.TokenFile
	}
	return os.Getenv(name)
}

// Help says what else the environment holds.
func (*runCmd) Help() string {
	return "The token stands in the environment, " + tokenVariable + ", or in a file. " + apiVariable + " puts an " +
		"address on this machine in Discord's place, for tests. A supervisor that is systemd is told when it works."
}

// Run answers in Discord until it is told to stop.
func (c *runCmd) Run(ctx context.Context, std streams) (err error) {
	token, err := readToken(c.env)
	if err != nil {
		return err
	}
	client, err := discordClient(os.Getenv(apiVariable))
	if err != nil {
		return err
	}
	var photos *http.Client // none where something else answers in Discord's place
	if os.Getenv(apiVariable) == "" {
		photos = client
	}
	log, flush := c.to(std.err)
	defer flush()
	warnOfToken(c.TokenFile, log)
	making := store.MakeNone
	if c.New {
		making = store.MakeNew
	}
	db, err := useBooks(ctx, c.DB, making, log)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	looked := newCare(db, c.Backups, log)
	looked.logCopies(std.now())
	looked.look()
	var checking sync.WaitGroup
	checking.Go(func() { looked.check(ctx) })
	defer checking.Wait()
	cat, err := words.Load()
	if err != nil {
		return err
	}
	desk := commands.NewDesk(func(id domain.ShopID) commands.Books { return db.Shop(id) }, db, cat)
	counted := newFigures()
	desk.Fault = func(id string, err error) {
		log.Error("request failed", "interaction", id, "error", err)
		if errors.Is(err, commands.ErrPanic) {
			counted.panics.Inc()
		}
	}
	desk.Ails = looked.Ails
	desk.Examine = looked.Examine
	desk.Swept = func(machines, digests int) {
		log.Info("what is due was looked at", "machines", machines, "digests", digests)
		counted.judged.Add(float64(machines))
		counted.digests.Add(float64(digests))
	}
	heart := &pulse{}
	gateway := bot.New(bot.Config{Token: token, Client: client, Desk: desk, Outbox: db, Log: log, Jitter: rand.Float64,
		Now:        c.Now,
		Watch:      counted.watch(),
		EachMinute: append(looked.jobs(), func(context.Context, time.Time) { heart.beat(std.now()) }), Restored: db,
		Memory: db,
		Photos: photos, Album: db,
		Settings: func(ctx context.Context, id domain.ShopID) (domain.Shop, error) { return db.Shop(id).Shop(ctx) },
		Stewards: func(ctx context.Context, shop domain.Shop) ([]domain.PersonID, error) {
			return db.Shop(shop.ID).Stewards(ctx, shop.StewardRole)
		},
		Retry: db.RetryNotices})
	if c.Listen != "" {
		at, err := listenAt(c.Listen)
		if err != nil {
			return err
		}
		stands := standing{db: db, folder: c.in(c.DB), alive: gateway.Alive, now: std.now, log: log}
		go stands.serve(ctx, at, counted, log)
	}
	// Whoever started it is told how it stands.
	told := findSupervisor(os.Getenv)
	heart.beat(std.now())
	if err := told.tell("READY=1", "STATUS=connecting to Discord"); err != nil {
		log.Warn("the supervisor is not told", "error", err)
	}
	context.AfterFunc(ctx, func() { told.tell("STOPPING=1") }) //nolint:errcheck // it stops all the same
	go told.keepTelling(ctx, heart, func() string {
		if ails, _ := gateway.Alive(); ails != "" {
			return ails
		}
		return "connected to Discord"
	})
	err = gateway.Run(ctx)
	if err != nil {
		log.Error("ended", "error", err)
		return err
	}
	log.Info("stopped")
	return nil
}
