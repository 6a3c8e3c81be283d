package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/alecthomas/kong"
)

// configFlag is the flag that names a file of settings.
type configFlag struct {
	Config kong.ConfigFlag `placeholder:"FILE" env:"SETSCREW_CONFIG" help:"${configHelp}"`
}

// tokenFlag is the flag that names the token's file. The token itself is never a flag,
// since flags are seen by everybody on the machine.
type tokenFlag struct {
	TokenFile string `placeholder:"FILE" env:"SETSCREW_TOKEN_FILE" help:"${tokenHelp}"`
}

// helpTexts are what the help says of flags that it would take a long line to.
var helpTexts = kong.Vars{
	"configHelp": "A file of lines NAME=value, by the names of the environment; what is given here or stands in " +
		"the environment goes before it.",
	"tokenHelp":    "The file that holds the bot's token, which SETSCREW_TOKEN may hold instead.",
	"booksHelp":    "The file for the shops' books; " + usualBooks + ", or " + usualUnitBooks + " for a unit.",
	"settingsHelp": "The file for the settings, which nobody else may read; a token that was asked for goes beside it.",
	"listenHelp": "Tell at this address how it stands (/healthz, and /metrics for Prometheus): :9090 for this " +
		"machine alone, another's by its own address. Nowhere, if not given.",
	"levelHelp": "The least that it logs: debug, info, warn or error; debug names each command, never what was " +
		"said with it.",
	"copiesHelp": "The folder for the nightly copies; FILE.backups if not given.",
}

// readConfig reads a file of settings. A name that is no flag's is refused, so that none is
// mistyped without a word.
func readConfig(known func() []string) kong.ConfigurationLoader {
	return func(in io.Reader) (kong.Resolver, error) {
		settings, err := readSettings(in)
		if err != nil {
			return nil, err
		}
		names := known()
		for _, one := range settings {
			if !slices.Contains(names, one.name) {
				return nil, fmt.Errorf("line %d of the settings: there is no setting %s; there are %s", one.line,
					one.name, strings.Join(names, ", "))
			}
		}
		return kong.ResolverFunc(func(_ *kong.Context, _ *kong.Path, flag *kong.Flag) (any, error) {
			for _, env := range flag.Envs {
				if os.Getenv(env) != "" {
					return nil, nil
				}
				for _, one := range settings {
					if one.name == env {
						return one.value, nil
					}
				}
			}
			return nil, nil
		}), nil
	}
}

// setting is one line of a file of settings.
type setting struct {
	name, value string
	line        int
}

// readSettings reads lines NAME=value, with comments that begin with # and empty lines
// between; a value may stand in double quotes. systemd reads the same lines.
func readSettings(in io.Reader) (all []setting, err error) {
	lines := bufio.NewScanner(in)
	for number := 1; lines.Scan(); number++ {
		line := strings.TrimSpace(lines.Text())
		if line == "" || line[0] == '#' {
			continue
		}
		name, value, ok := strings.Cut(line, "=")
		name, value = strings.TrimSpace(name), strings.TrimSpace(value)
		if !ok || name == "" {
			return nil, fmt.Errorf("line %d of the settings is not NAME=value, as in SETSCREW_DB=/srv/setscrew.db",
				number)
		}
		if len(value) > 1 && value[0] == '"' && value[len(value)-1] == '"' {
			value = value[1 : len(value)-1]
		}
		all = append(all, setting{name, value, number})
	}
	if err := lines.Err(); err != nil {
		return nil, fmt.Errorf("read the settings: %w", err)
	}
	return all, nil
}

// variables lists the environment's names of all flags of a program.
func variables(parser *kong.Kong) (all []string) {
	err := kong.Visit(parser.Model, func(node kong.Visitable, next kong.Next) error {
		if flag, ok := node.(*kong.Flag); ok {
			for _, env := range flag.Envs {
				if !slices.Contains(all, env) {
					all = append(all, env)
				}
			}
		}
		return next(nil)
	})
	if err != nil {
		panic(errors.Join(errors.New("list the flags"), err)) // none of the above returns one
	}
	slices.Sort(all)
	return all
}
