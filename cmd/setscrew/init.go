package main

import (
	"bufio"
	"context"
	_ "embed"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"golang.org/x/term"

	"setscrew/bot"
	"setscrew/store"
)

// initCmd makes all that a program needs that is to answer in Discord.
type initCmd struct {
	OnlyBooks bool `help:"Make empty books, and nothing else."`
	NoInput   bool `env:"SETSCREW_NO_INPUT" help:"Ask nothing: take what is given, and the usual for the rest."`

	DB string `placeholder:"FILE" env:"SETSCREW_DB" help:"${booksHelp}"`
	tokenFlag
	Settings string `default:"setscrew.env" placeholder:"FILE" env:"SETSCREW_SETTINGS" help:"${settingsHelp}"`
	Unit     string `placeholder:"FILE" env:"SETSCREW_UNIT" help:"The file for a systemd unit; none if not given."`
}

// Help says what it does.
func (*initCmd) Help() string {
	return "Asks for what is not given, checks the token against Discord, writes the settings, makes the books and " +
		"shows the link that invites the bot. What is there already is left as it is."
}

// The books' usual places.
const (
	usualBooks     = "setscrew.db"
	usualUnitBooks = "/var/lib/setscrew/setscrew.db" // the service's StateDirectory
)

// askWithin is how long Discord may take to say whose token it is.
const askWithin = 20 * time.Second

// Run asks, checks and makes.
func (c *initCmd) Run(ctx context.Context, std streams) error {
	if c.OnlyBooks {
		path, err := c.makeBooks(ctx)
		if err == nil {
			fmt.Fprintf(std.out, "Empty books are at %s. Now: setscrew run --db %[1]s\n", path)
		}
		return err
	}
	settings, err := filepath.Abs(c.Settings)
	if err != nil {
		return err
	}
	if _, err := os.Lstat(settings); err == nil {
		return fmt.Errorf("there are settings at %s already, and they are left as they are. Name another file with "+
			"--settings, or run with them: setscrew run --config %[1]s", settings)
	}
	asked := &asking{in: bufio.NewReader(std.in), std: std, silent: c.NoInput}
	// The token, and whose it is.
	tokenFile, token, application, err := c.askToken(ctx, asked, settings)
	if err != nil {
		return err
	}
	fmt.Fprintf(std.out, "Discord takes the token: it is the application %s, %s.\n", application.ID, application.Name)
	// Where things go.
	if c.Unit == "" && asked.line("A systemd unit? Its file, or nothing for none", "") != "" {
		c.Unit = asked.last
	}
	usual := usualBooks
	if c.Unit != "" {
		usual = usualUnitBooks
	}
	if c.DB == "" {
		c.DB = asked.line("The file for the books", usual)
	}
	if c.DB, err = filepath.Abs(c.DB); err != nil {
		return err
	}
	// All of it is made.
	if token != "" {
		if err := writeNew(tokenFile, token+"\n", 0o600); err != nil {
			return err
		}
	}
	text := fmt.Sprintf("# Settings of Setscrew; setscrew run --help lists all.\nSETSCREW_DB=%q\n"+
		"SETSCREW_TOKEN_FILE=%q\n", c.DB, tokenFile)
	if err := writeNew(settings, text, 0o600); err != nil {
		return err
	}
	fmt.Fprintf(std.out, "Settings: %s\n", settings)
	if c.Unit != "" {
		if err := c.writeUnit(settings, tokenFile); err != nil {
			return err
		}
		fmt.Fprintf(std.out, "Unit: %s\n", c.Unit)
	}
	if _, err := os.Lstat(c.DB); err == nil {
		fmt.Fprintf(std.out, "Books: %s, as they were\n", c.DB)
	} else if path, err := c.makeBooks(ctx); err != nil {
		return err
	} else {
		fmt.Fprintf(std.out, "Books: %s\n", path)
	}
	fmt.Fprintf(std.out, "Invite the bot to your server: %s\n", bot.Invitation(application.ID))
	if c.Unit != "" {
		fmt.Fprintf(std.out, "Then: systemctl daemon-reload && systemctl enable --now %s\n", filepath.Base(c.Unit))
		return nil
	}
	fmt.Fprintf(std.out, "Then: setscrew run --config %s\n", settings)
	return nil
}

// makeBooks makes empty books, and says where.
func (c *initCmd) makeBooks(ctx context.Context) (path string, err error) {
	if c.DB == "" {
		c.DB = usualBooks
	}
	if err := os.MkdirAll(filepath.Dir(c.DB), 0o700); err != nil {
		return "", fmt.Errorf("make the books' folder: %w", err)
	}
	db, err := store.Use(ctx, c.DB, store.ForBooks, store.MakeNew)
	if err != nil {
		return "", err
	}
	return db.Path(), db.Close()
}

// tries is how often a token is asked for.
const tries = 3

// askToken finds the token, given or asked for, and asks Discord whose it is. What was
// asked for, or stands in the environment, goes into a file of its own; token is "" where
// it stands in one already.
func (c *initCmd) askToken(ctx context.Context, asked *asking, settings string) (file, token string,
	is bot.Application, err error) {
	client, err := discordClient(os.Getenv(apiVariable))
	if err != nil {
		return "", "", is, err
	}
	check := func(token string) error {
		ctx, stop := context.WithTimeout(ctx, askWithin)
		defer stop()
		is, err = bot.Ask(ctx, token, client)
		return err
	}
	token, err = readToken(c.env)
	switch {
	case err == nil && os.Getenv(tokenVariable) == "":
		file, err = filepath.Abs(c.TokenFile)
		return file, "", is, errors.Join(err, check(token))
	case err == nil:
		return besides(settings), token, is, check(token)
	case !errors.Is(err, errToken) || c.NoInput:
		return "", "", is, err
	}
	fmt.Fprintln(asked.std.out, "The bot's token comes from Discord's developer portal (discord.com/developers): "+
		"make an application there, open its page \"Bot\", and press \"Reset Token\". No privileged intent is needed.")
	for range tries {
		said := asked.secret("The bot's token")
		if token, err = readToken(func(name string) string {
			return map[string]string{tokenVariable: said}[name]
		}); err == nil {
			err = check(token)
		}
		var refused bot.Refused
		if err == nil || asked.ended || !errors.As(err, &refused) && token != "" {
			break
		}
		fmt.Fprintln(asked.std.out, err)
	}
	return besides(settings), token, is, err
}

// besides is the token's file, beside the settings.
func besides(settings string) string { return strings.TrimSuffix(settings, ".env") + ".token" }

// writeNew writes a file that is not there yet, with its folder.
func writeNew(path, text string, mode os.FileMode) (err error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return fmt.Errorf("make the folder of %s: %w", path, err)
	}
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if errors.Is(err, os.ErrExist) {
		return fmt.Errorf("there is a file at %s already, and it is left as it is", path)
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	if _, err := file.WriteString(text); err != nil {
		return err
	}
	return file.Sync()
}

//go:embed setscrew.service
var unitText string

// noRetry are the statuses after which to start again would not help, in order.
func noRetry() (all []int) {
	all = []int{exitUsage, 4, 10, 11, 12, 13, 14}
	// any order: they are sorted
	for _, status := range ofFault {
		if !slices.Contains(all, status) {
			all = append(all, status)
		}
	}
	slices.Sort(all)
	return all
}

// writeUnit writes the systemd unit.
func (c *initCmd) writeUnit(settings, token string) error {
	program, err := os.Executable()
	if err != nil {
		return fmt.Errorf("find this program: %w", err)
	}
	var statuses []string
	for _, status := range noRetry() {
		statuses = append(statuses, strconv.Itoa(status))
	}
	text := strings.NewReplacer("@CONFIG@", settings, "@TOKEN@", token, "@PROGRAM@", program,
		"@NORETRY@", strings.Join(statuses, " ")).Replace(unitText)
	return writeNew(c.Unit, text, 0o644)
}

// asking asks in a terminal, or by lines.
type asking struct {
	in     *bufio.Reader
	std    streams
	silent bool
	ended  bool   // nobody answers any more
	last   string // the last answer
}

// line asks for a line; an empty one is the usual answer.
func (a *asking) line(question, usual string) string {
	a.last = usual
	if a.silent {
		return usual
	}
	if usual != "" {
		question += " [" + usual + "]"
	}
	fmt.Fprint(a.std.out, question+": ")
	if said := a.read(); said != "" {
		a.last = said
	}
	return a.last
}

// secret asks for a line that is not shown.
func (a *asking) secret(question string) string {
	fmt.Fprint(a.std.out, question+": ")
	if f, ok := a.std.in.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		text, err := term.ReadPassword(int(f.Fd()))
		fmt.Fprintln(a.std.out)
		a.ended = err != nil
		return strings.TrimSpace(string(text))
	}
	return a.read()
}

// read is the next line.
func (a *asking) read() string {
	text, err := a.in.ReadString('\n')
	if err != nil {
		a.ended = true
		fmt.Fprintln(a.std.out)
	}
	return strings.TrimSpace(text)
}
