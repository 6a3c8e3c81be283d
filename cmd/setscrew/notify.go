package main

import (
	"context"
	"fmt"
	"net"
	"os"
	"strconv"
	"strings"
	"sync/atomic"
	"time"
)

// supervisor is who started the program and wants to be told how it stands, by systemd's
// protocol (sd_notify(3)): datagrams of lines NAME=value over a Unix socket.
type supervisor struct {
	socket string        // "" for nobody
	every  time.Duration // within which it wants to hear that all is well; 0 for never
}

// findSupervisor reads what the environment says of the supervisor.
func findSupervisor(env func(string) string) supervisor {
	s := supervisor{socket: env("NOTIFY_SOCKET")}
	if strings.HasPrefix(s.socket, "@") {
		s.socket = "\x00" + s.socket[1:] // a name that is no file's
	}
	micros, err := strconv.ParseInt(env("WATCHDOG_USEC"), 10, 64)
	if pid := env("WATCHDOG_PID"); err == nil && micros > 0 && (pid == "" || pid == strconv.Itoa(os.Getpid())) {
		s.every = time.Duration(micros) * time.Microsecond
	}
	return s
}

// tell sends lines.
func (s supervisor) tell(lines ...string) error {
	if s.socket == "" {
		return nil
	}
	conn, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: s.socket, Net: "unixgram"})
	if err != nil {
		return fmt.Errorf("tell the supervisor: %w", err)
	}
	defer conn.Close() //nolint:errcheck // what was sent was sent
	if _, err := conn.Write([]byte(strings.Join(lines, "\n"))); err != nil {
		return fmt.Errorf("tell the supervisor: %w", err)
	}
	return nil
}

// pulse is the moment at which the program was last seen at work, for the watchdog.
type pulse struct{ at atomic.Int64 }

// stillFor is how long the jobs of each minute may be away before the program is taken to
// hang.
const stillFor = 3 * time.Minute

// beat notes that the program is at work.
func (p *pulse) beat(now time.Time) { p.at.Store(now.UnixNano()) }

// beats reports whether it was lately.
func (p *pulse) beats(now time.Time) bool { return now.Sub(time.Unix(0, p.at.Load())) < stillFor }

// keepTelling tells the supervisor, twice within its time, that all is well and how the
// program stands, until ctx is done; nothing while the pulse does not beat.
func (s supervisor) keepTelling(ctx context.Context, heart *pulse, status func() string) {
	if s.socket == "" || s.every == 0 {
		return
	}
	ticker := time.NewTicker(s.every / 2)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case now := <-ticker.C:
			if heart.beats(now) {
				s.tell("WATCHDOG=1", "STATUS="+status()) //nolint:errcheck // the next may come through
			}
		}
	}
}
