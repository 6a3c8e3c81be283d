package bot

import (
	"log/slog"
	"net/http"
	"strconv"
	"sync"
	"time"
)

// mostApart is how far this machine's clock may be from Discord's before it is taken to
// be wrong.
const mostApart = 2 * time.Minute

// judge says which clock holds: this machine's, which anybody may set, or Discord's as it
// was last heard, which has gone on since by a clock that nobody sets (steady).
type judge struct {
	heard bool
	base  time.Time // Discord's time when the steady clock stood at nothing
}

// hear is the judge after Discord's time was heard.
func (j judge) hear(discord time.Time, steady time.Duration) judge {
	return judge{true, discord.Add(-steady).Round(0)}
}

// discord is Discord's time now, zero where it was never heard.
func (j judge) discord(steady time.Duration) time.Time {
	if !j.heard {
		return time.Time{}
	}
	return j.base.Add(steady)
}

// ahead is by how much this machine's clock is ahead of Discord's, 0 where that was never
// heard.
func (j judge) ahead(wall time.Time, steady time.Duration) time.Duration {
	if !j.heard {
		return 0
	}
	return wall.Round(0).Sub(j.discord(steady))
}

// agree reports whether both clocks say about the same; what was never heard does not.
func (j judge) agree(wall time.Time, steady time.Duration) bool {
	return j.heard && j.ahead(wall, steady).Abs() <= mostApart
}

// now is this machine's time, or Discord's where the two are apart.
func (j judge) now(wall time.Time, steady time.Duration) time.Time {
	if j.heard && !j.agree(wall, steady) {
		return j.discord(steady)
	}
	return wall
}

// reported is when a report of an id is taken to come: at this machine's time, if that
// agrees with the id's, which bears Discord's time of making it. Where it does not, the
// id came late, or the clock is wrong: that is told by Discord's time as it was heard,
// which cannot be before the id's.
func (j judge) reported(wall time.Time, steady time.Duration, made time.Time) time.Time {
	switch {
	case wall.Round(0).Sub(made).Abs() <= mostApart, j.agree(wall, steady):
		return wall
	case j.heard && j.discord(steady).After(made):
		return j.discord(steady)
	}
	return made
}

// discordEpoch is when Discord's ids begin to count, in milliseconds.
const discordEpoch = 1420070400000

// madeAt is Discord's time of making something of an id; ok is false for what is no id of
// Discord's.
func madeAt(id string) (made time.Time, ok bool) {
	n, err := strconv.ParseInt(id, 10, 64)
	if err != nil || n <= 0 {
		return time.Time{}, false
	}
	return time.UnixMilli(n>>22 + discordEpoch).UTC(), true
}

// clock is the time by which a bot works: this machine's, unless Discord's shows that to
// be wrong. It hears Discord's time in the dates of its answers, and in the ids of
// interactions that it accepted an answer to, which are at most three seconds old then.
// A date counts only while none was heard, or while the clocks are apart: what stands in
// between may answer in Discord's place.
type clock struct {
	wall   func() time.Time     // this machine's
	steady func() time.Duration // since the program's start
	log    *slog.Logger

	mu    sync.Mutex
	judge judge
	wrong bool          // the operator was told so last
	first chan struct{} // closed when Discord's time was heard first
}

// newClock is a clock that has not heard of Discord yet.
func newClock(wall func() time.Time, steady func() time.Duration, log *slog.Logger) *clock {
	return &clock{wall: wall, steady: steady, log: log, first: make(chan struct{})}
}

// now is the time that work goes by.
func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.judge.now(c.wall(), c.steady())
}

// heard reports whether Discord's time was heard yet.
func (c *clock) heard() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.judge.heard
}

// agrees reports whether this machine's clock is about Discord's.
func (c *clock) agrees() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.judge.agree(c.wall(), c.steady())
}

// reported is when an interaction's report is taken to come.
func (c *clock) reported(id string) time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if made, ok := madeAt(id); ok {
		return c.judge.reported(c.wall(), c.steady(), made)
	}
	return c.judge.now(c.wall(), c.steady())
}

// accepted hears the time of an interaction that Discord has just accepted an answer to.
func (c *clock) accepted(id string) {
	if made, ok := madeAt(id); ok {
		c.mu.Lock()
		defer c.mu.Unlock()
		c.hear(made)
	}
}

// dated hears the date of an answer of Discord's.
func (c *clock) dated(header http.Header) {
	date, err := http.ParseTime(header.Get("Date"))
	if err != nil {
		return
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.judge.agree(c.wall(), c.steady()) {
		c.hear(date)
	}
}

// hear takes Discord's time for heard, under the lock. The operator is told when this
// machine's begins to be wrong, and when it is right again.
func (c *clock) hear(discord time.Time) {
	if !c.judge.heard {
		close(c.first)
	}
	c.judge = c.judge.hear(discord, c.steady())
	c.logClocks()
}

// logClocks tells the operator if it changed whether this machine's clock is wrong, under the
// lock.
func (c *clock) logClocks() {
	ahead := c.judge.ahead(c.wall(), c.steady())
	wrong := c.judge.heard && !c.judge.agree(c.wall(), c.steady())
	switch {
	case wrong && !c.wrong:
		c.log.Error("this machine's clock is wrong: until it is set right nothing is judged by time, and reports "+
			"take Discord's", "ahead", ahead.Round(time.Second), "discord",
			c.judge.discord(c.steady()).Format(time.RFC3339))
	case !wrong && c.wrong:
		c.log.Info("this machine's clock is right again", "ahead", ahead.Round(time.Second))
	}
	c.wrong = wrong
}

// look tells the operator of a clock that is wrong since it was looked at last.
func (c *clock) look() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.logClocks()
}

// dating is a client that lets a clock hear the dates of its answers.
func dating(client *http.Client, clock *clock) *http.Client {
	if client == nil {
		return nil
	}
	dated := *client
	next := dated.Transport
	if next == nil {
		next = http.DefaultTransport
	}
	dated.Transport = datingTransport{next, clock}
	return &dated
}

type datingTransport struct {
	next  http.RoundTripper
	clock *clock
}

// RoundTrip makes a request, and hears the date of its answer.
func (d datingTransport) RoundTrip(r *http.Request) (*http.Response, error) {
	resp, err := d.next.RoundTrip(r)
	if err == nil {
		d.clock.dated(resp.Header)
	}
	return resp, err
}
