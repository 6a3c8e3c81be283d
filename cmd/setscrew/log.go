package main

import (
	"io"
	"log/slog"
)

// logFlags are the flags that say how a program logs.
type logFlags struct {
	LogFormat string `enum:"text,json" default:"text" env:"SETSCREW_LOG_FORMAT" help:"How it logs: ${enum}."`
	LogLevel  string `enum:"debug,info,warn,error" default:"info" env:"SETSCREW_LOG_LEVEL" help:"${levelHelp}"`
}

// to is a log that goes to a writer. What it keeps back of repeats is written by flush.
func (f logFlags) to(out io.Writer) (log *slog.Logger, flush func()) {
	var level slog.Level
	if level.UnmarshalText([]byte(f.LogLevel)) != nil {
		level = slog.LevelInfo // without flags
	}
	options := &slog.HandlerOptions{Level: level}
	var handler slog.Handler = slog.NewTextHandler(out, options)
	if f.LogFormat == "json" {
		handler = slog.NewJSONHandler(out, options)
	}
	folding := newFolding(handler)
	return slog.New(folding), folding.flush
}
