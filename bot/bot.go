package bot

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"github.com/bwmarrin/discordgo"

	"setscrew/commands"
	"setscrew/domain"
)

// The times that a connection and an answer are given.
const (
	answerWithin   = 2500 * time.Millisecond // for the work and its answer; Discord gives 3 s
	sendingTakes   = 500 * time.Millisecond  // of that, kept for sending the answer
	slowWithin     = time.Minute             // a deferred answer; Discord gives 15 min
	openWithin     = 20 * time.Second
	silentFor      = 100 * time.Second      // two heartbeats and a half
	drainWithin    = 5 * time.Second        // what is under way at the end; with what follows it takes less than ten
	giveUpWithin   = 500 * time.Millisecond // what was cut off then
	closeWithin    = time.Second
	longestBackoff = 2 * time.Minute // between attempts to connect, or to register the commands
	identifyEvery  = 5 * time.Second // Discord begins no two sessions within it
	steadyFor      = time.Minute     // a connection that lived so long begins the backoff from the start
	refusedWait    = time.Hour       // before what Discord refused to register is offered again
	watchInterval  = 5 * time.Second
	routineSlots   = 3 // of about five posts that a channel takes in five seconds
)

// Config is what a bot needs.
type Config struct {
	Token    string
	Client   *http.Client // to Discord
	Photos   *http.Client // that fetches what members attached; nil leaves only the link
	Album    Album        // keeps it until it is posted; nil does too
	Desk     *commands.Desk
	Outbox   Outbox
	Settings func(context.Context, domain.ShopID) (domain.Shop, error)
	// Stewards lists whom a shop knows as stewards, the latest first; nil for nobody.
	Stewards func(context.Context, domain.Shop) ([]domain.PersonID, error)
	// Retry has a shop's notices that failed tried again at once; nil where they are
	// tried when their time comes.
	Retry func(context.Context, domain.ShopID) error
	// Restored knows of books that were put back from a copy; nil for none.
	Restored Restorations
	// Memory keeps what is known over a restart; nil for nothing.
	Memory Memory
	Log    *slog.Logger
	Jitter func() float64 // from 0 to 1
	// Watch is told of what the bot does.
	Watch Watch
	// EachMinute is done once a minute, whether there is a connection or not: each by
	// itself, and not again while it still goes on.
	EachMinute []func(ctx context.Context, now time.Time)

	// Times that tests change; zero for the usual.
	AnswerWithin, OpenWithin, SilentFor, FirstBackoff, WatchInterval, IdentifyEvery, SteadyFor time.Duration
	// this machine's clock, by which reports are dated and work falls due unless Discord's
	// shows it to be wrong; time.Now if nil
	Now func() time.Time
}

// Bot answers in Discord and takes notices to its channels.
type Bot struct {
	cfg     Config
	clock   *clock
	link    atomic.Pointer[link]
	notices *notices
	access  *access
	poster  *Poster
	booking *booking
	photos  *photos       // nil where none are fetched
	wake    chan struct{} // something may be owed
	work    sync.WaitGroup
	declare []declared
	named   map[string]bool // the commands' names

	// answers are given within it; it ends when what is under way at the end is cut off
	answering context.Context
	cutOff    context.CancelFunc

	identified time.Time // when a session was last begun; of the goroutine that connects

	unseen unseenAnswers

	mu        sync.Mutex
	closing   bool
	connected bool
	since     time.Time       // when that began or ended
	running   map[string]bool // interactions being answered
}

// New is a bot, not connected yet. It is the chat of the desk from here on.
func New(cfg Config) *Bot {
	def := func(d *time.Duration, usual time.Duration) {
		if *d == 0 {
			*d = usual
		}
	}
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	def(&cfg.AnswerWithin, answerWithin)
	def(&cfg.OpenWithin, openWithin)
	def(&cfg.SilentFor, silentFor)
	def(&cfg.FirstBackoff, time.Second)
	def(&cfg.WatchInterval, watchInterval)
	def(&cfg.IdentifyEvery, identifyEvery)
	def(&cfg.SteadyFor, steadyFor)
	made := &Bot{cfg: cfg, wake: make(chan struct{}, 1), declare: declare(cfg.Desk), running: map[string]bool{},
		unseen: unseenAnswers{all: map[unseenKey]domain.Unseen{}}, named: map[string]bool{}}
	for _, c := range cfg.Desk.Declarations() {
		made.named[c.Name] = true
	}
	made.answering, made.cutOff = context.WithCancel(context.Background())
	made.noteConnected(false)
	begun := time.Now()
	made.clock = newClock(cfg.Now, func() time.Duration { return time.Since(begun) }, cfg.Log)
	made.cfg.Client = dating(cfg.Client, made.clock)
	made.booking = newBooking(made)
	made.notices = newNotices(made.session, made.clock.now, cfg.Desk.More())
	made.photos = newPhotos(cfg.Photos, cfg.Album, cfg.Log, made.clock.now)
	made.notices.photos = made.photos
	made.access = newAccess(cfg.Log)
	made.access.stewards = cfg.Stewards
	made.notices.access = made.access
	cfg.Desk.Chat = chat{made.access, made.notices, made.clock, made.declare}
	made.poster = &Poster{Outbox: cfg.Outbox, Channel: made.notices, Settings: cfg.Settings, Render: cfg.Desk.Render,
		Jitter: cfg.Jitter, RoutineSlots: routineSlots, Log: cfg.Log, Now: made.clock.now}
	return made
}

func (b *Bot) session() *discordgo.Session {
	if l := b.link.Load(); l != nil {
		return l.s
	}
	return nil
}

// Run connects and answers until ctx is done, then finishes what it is at within
// ten seconds. It reconnects by itself; Refused means that trying again is of
// no use.
func (b *Bot) Run(ctx context.Context) error {
	background, stop := context.WithCancel(context.WithoutCancel(ctx))
	defer stop()
	b.remember(ctx)
	scheduler := b.schedule(background)
	err := b.stayConnected(ctx)
	b.drain(scheduler)
	return err
}

// drain finishes what is under way: in less than ten seconds with all that it waits for,
// since a supervisor may kill the program after as long. scheduler stops what goes on by
// itself.
func (b *Bot) drain(scheduler func()) {
	b.mu.Lock()
	b.closing = true
	b.mu.Unlock()
	drained := make(chan struct{})
	go func() { scheduler(); b.work.Wait(); close(drained) }()
	if !doneWithin(drained, drainWithin) {
		b.cfg.Log.Warn("answers were still under way at the end, and are cut off")
		b.cutOff()
		doneWithin(drained, giveUpWithin)
	}
	b.cutOff()
	b.booking.last()
	ctx, stop := context.WithTimeout(context.Background(), giveUpWithin)
	defer stop()
	b.keepTroubles(ctx)
	if l := b.link.Swap(nil); l != nil {
		l.close(closeWithin)
	}
}

// doneWithin waits; false if the time was over first.
func doneWithin(done <-chan struct{}, within time.Duration) bool {
	select {
	case <-done:
		return true
	case <-time.After(within):
		return false
	}
}

// keepRegistering tells Discord of the commands until it knows them.
func (b *Bot) keepRegistering(ctx context.Context) {
	backoff := b.cfg.FirstBackoff
	for {
		changed, err := b.registerCommands(ctx)
		switch {
		case ctx.Err() != nil:
			return
		case err == nil && changed:
			b.cfg.Log.Info("commands registered")
			return
		case err == nil:
			return
		}
		wait, why := b.jittered(backoff), "commands could not be registered"
		var limited *discordgo.RateLimitError
		var rest *discordgo.RESTError
		switch {
		case errors.As(err, &limited):
			wait = limited.RetryAfter
		case errors.As(err, &rest) && rest.Response != nil && rest.Response.StatusCode/100 == 4:
			wait = refusedWait // ten thousand refusals ban an address
			why = refusedCommands(rest.Response.StatusCode)
		default:
			backoff = min(backoff*2, longestBackoff)
		}
		b.cfg.Log.Error(why, "error", err, "wait", wait)
		if !pause(ctx, wait) {
			return
		}
	}
}

// refusedCommands says what a refusal to register commands means.
func refusedCommands(status int) string {
	switch status {
	case http.StatusUnauthorized:
		return "commands are not registered: Discord refuses the token"
	case http.StatusForbidden:
		return "commands are not registered: Discord does not let this application have any"
	}
	return "commands are not registered: Discord refuses them as they are declared"
}

// registerCommands tells Discord of the commands once; changed says whether it knew
// others.
func (b *Bot) registerCommands(ctx context.Context) (changed bool, err error) {
	ctx, cancel := context.WithTimeout(ctx, 30*time.Second)
	defer cancel()
	session := b.session()
	me, err := ask(ctx, session)
	if err != nil {
		return false, err
	}
	return register(ctx, session, me.ID, b.declare)
}

// nudge lets the poster look at the outbox soon.
func (b *Bot) nudge() {
	select {
	case b.wake <- struct{}{}:
	default:
	}
}

// hear takes in what an event tells of servers.
func (b *Bot) hear(kind string, data []byte) {
	b.safely("hearing", func() {
		told, err := b.access.directory.take(kind, data)
		if err != nil {
			b.cfg.Log.Warn("event not understood", "error", err)
		}
		if told {
			b.nudge()
		}
	})
}

// lookAtServers looks at the shops whose servers changed: what is lacking now is logged,
// and notices that failed are tried again where they may work now.
func (b *Bot) lookAtServers(ctx context.Context) {
	for _, id := range b.access.directory.takeChanged() {
		shop, err := b.cfg.Settings(ctx, id)
		if err == nil && b.access.serverChanged(shop) && b.cfg.Retry != nil {
			err = b.cfg.Retry(ctx, id)
		}
		if err != nil && ctx.Err() == nil {
			b.cfg.Log.Error("looking at a server", "shop", id, "error", err)
		}
	}
}

// receive answers one interaction. It runs in a goroutine of its own, in no order, perhaps
// twice for the same interaction; a panic in it would end the program.
func (b *Bot) receive(interaction *discordgo.InteractionCreate) {
	b.mu.Lock()
	if b.closing {
		b.mu.Unlock()
		return
	}
	b.work.Add(1)
	b.mu.Unlock()
	defer b.work.Done()
	b.safely("answering", func() { b.take(interaction) })
}

func (b *Bot) take(i *discordgo.InteractionCreate) {
	var in *discordgo.Interaction
	if i != nil {
		in = i.Interaction
	}
	asked, err := decode(in)
	if err != nil {
		b.cfg.Log.Warn("interaction refused", "error", err)
		return
	}
	if !b.begin(asked.id) {
		return // the same one is being answered already
	}
	defer b.end(asked.id)
	begun := time.Now()
	refused, err := b.respond(asked)
	if err != nil {
		b.undelivered(asked, err)
	}
	b.answered(asked, refused, err, begun)
	b.nudge()
	b.booking.nudge()
	b.photos.nudge()
}

// undelivered logs that an answer did not arrive. What was recorded stands; the member
// may ask again.
func (b *Bot) undelivered(e event, err error) {
	b.cfg.Log.Warn("answer not delivered", "interaction", e.id, "error", err)
}

func (b *Bot) begin(id string) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.running[id] {
		return false
	}
	b.running[id] = true
	return true
}

func (b *Bot) end(id string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.running, id)
}
