package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

// stopped is a context that is done when the program is told to stop: by an interrupt, a
// supervisor, or a terminal that closes. A second of these ends the program at once.
func stopped(ctx context.Context) (context.Context, context.CancelFunc) {
	signals := []os.Signal{os.Interrupt, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) { // nohup wants it to go on
		signals = append(signals, syscall.SIGHUP)
	}
	ctx, stop := signal.NotifyContext(ctx, signals...)
	context.AfterFunc(ctx, stop)
	return ctx, stop
}
