// Setscrew keeps a makerspace's machine record and does its steward's
// arithmetic. This is its one binary.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"
	_ "time/tzdata" // shops' zones, wherever the program runs

	"github.com/alecthomas/kong"

	"setscrew/bot"
	"setscrew/cmd/setscrew/rehearse"
	"setscrew/store"
)

// The exit codes.
const (
	exitOK      = 0
	exitFailed  = 1
	exitUsage   = 2
	exitRefused = 3 // rehearse --strict: a command was refused

	// Discord's refusals to be connected to end with the last two digits of their codes,
	// 4 for a token (4004) and 10 to 14: starting again would not help.
	refusals = 4000

	exitMissing   = 20 // there are no books
	exitDamaged   = 21 // the books are damaged, cut short, empty or altered
	exitNewer     = 22 // a later version of Setscrew wrote the books
	exitHeld      = 23 // another program works on the books
	exitForbidden = 24 // the books may not be read or written
	exitNotBooks  = 25 // the file is none that holds books
)

// ofFault are the exit codes of what is wrong with the books' file.
var ofFault = map[store.Fault]int{
	store.FileMissing: exitMissing,
	store.FileEmpty:   exitDamaged, store.FileShort: exitDamaged, store.FileDamaged: exitDamaged,
	store.FileAltered: exitDamaged, store.FileForeign: exitNotBooks, store.FileNewer: exitNewer,
	store.FileRehearsal: exitNotBooks, store.FileBooks: exitNotBooks, store.FileHeld: exitHeld,
	store.FileForbidden: exitForbidden,
}

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

type cli struct {
	configFlag

	Rehearse rehearseCmd `cmd:"" help:"Try Setscrew in the terminal, with a demo shop; no account or token needed."`
	Init     initCmd     `cmd:"" help:"Make the settings and the books: asks for what it needs."`
	Run      runCmd      `cmd:"" help:"Answer in Discord, and copy the books every night."`
	Backup   backupCmd   `cmd:"" help:"Copy the books, beside whatever program works on them."`
	Restore  restoreCmd  `cmd:"" help:"Put a copy in the books' place; what was there is kept beside."`
	Export   exportCmd   `cmd:"" help:"Write all that the books hold into a file of lines, or for spreadsheets."`
	Import   importCmd   `cmd:"" help:"Make new books of an export."`
	Doctor   doctorCmd   `cmd:"" help:"Look whether all is well with the books and their copies."`
	Version  versionCmd  `cmd:"" help:"Say which version this is."`
}

type rehearseCmd struct {
	DB       string `placeholder:"FILE" help:"Keep the shop in this file, and go on with it next time."`
	Empty    bool   `help:"Begin without the demo shop."`
	Strict   bool   `help:"Exit with 3 at the first refused command."`
	Pictures string `placeholder:"DIR" help:"Write pictures into this folder."`
}

func (c *rehearseCmd) Run(ctx context.Context, std streams) error {
	interactive := false
	if f, ok := std.in.(*os.File); ok {
		info, err := f.Stat()
		interactive = err == nil && info.Mode()&os.ModeCharDevice != 0
	}
	return rehearse.Run(ctx, rehearse.Config{In: std.in, Out: std.out, Interactive: interactive,
		DB: c.DB, Empty: c.Empty, Strict: c.Strict, Pictures: c.Pictures})
}

type versionCmd struct{}

func (versionCmd) Run(std streams) error {
	_, err := fmt.Fprintln(std.out, "setscrew", version())
	return err
}

// statuses is the part of the help that says with what the program ends; README has more.
const statuses = "Told to stop, it ends within ten seconds; told twice, at once. It ends with 0 once it was told " +
	"to stop, 1 for any other error, 2 for a call that it does not know, 4 for a refused token, 10 to 14 for " +
	"Discord's other refusals (11: too many servers), 20 for books that are missing, 21 damaged, 22 of a later " +
	"version, 23 worked on by another program, 24 not to be read or written, 25 for a file that holds no books."

type streams struct {
	in       io.Reader
	out, err io.Writer
	now      func() time.Time
}

// exiting carries kong's wish to exit, after it printed its help.
type exiting int

// run is the program: it returns the exit code.
func run(args []string, in io.Reader, out, errOut io.Writer) (code int) {
	defer func() {
		switch p := recover().(type) {
		case nil:
		case exiting:
			code = int(p)
		default:
			panic(p)
		}
	}()
	var c cli
	var parser *kong.Kong
	var err error
	parser, err = kong.New(&c, kong.Name("setscrew"),
		kong.Description("A makerspace's machine record and its steward's calculator.\n\n"+statuses),
		kong.Writers(out, errOut), kong.Exit(func(code int) { panic(exiting(code)) }), kong.UsageOnError(),
		helpTexts, kong.Configuration(readConfig(func() []string { return variables(parser) })))
	if err != nil {
		fmt.Fprintln(errOut, "setscrew:", err)
		return exitFailed
	}
	ctx, stop := stopped(context.Background())
	defer stop()
	chosen, err := parser.Parse(args)
	if err != nil {
		fmt.Fprintln(errOut, "setscrew:", err)
		fmt.Fprintln(errOut, "Try: setscrew rehearse")
		return exitUsage
	}
	chosen.BindTo(ctx, (*context.Context)(nil))
	err = chosen.Run(streams{in, out, errOut, time.Now})
	if err == nil {
		return exitOK
	}
	fmt.Fprintln(errOut, "setscrew:", err)
	var refused bot.Refused
	var file *store.FileError
	switch {
	case errors.As(err, &file) && ofFault[file.Fault] != exitOK:
		return ofFault[file.Fault]
	case errors.Is(err, rehearse.ErrRefused):
		return exitRefused
	case errors.As(err, &refused):
		return refused.Code - refusals
	}
	return exitFailed
}
