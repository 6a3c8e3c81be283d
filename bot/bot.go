package bot

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"log/slog"
	"net/http"
	"strconv"
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
	silentFor      = 100 * time.Second // two heartbeats and a half
	drainWithin    = 10 * time.Second
	closeWithin    = 2 * time.Second
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
	Desk     *commands.Desk
	Outbox   Outbox
	Settings func(context.Context, domain.ShopID) (domain.Shop, error)
	// Stewards lists whom a shop knows as stewards, the latest first; nil for nobody.
	Stewards func(context.Context, domain.Shop) ([]domain.PersonID, error)
	// Retry has a shop's notices that failed tried again at once; nil where they are
	// tried when their time comes.
	Retry  func(context.Context, domain.ShopID) error
	Log    *slog.Logger
	Jitter func() float64 // from 0 to 1

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
	wake    chan struct{} // something may be owed
	work    sync.WaitGroup
	declare []declared

	identified time.Time // when a session was last begun; of the goroutine that connects

	mu      sync.Mutex
	closing bool
	running map[string]bool   // interactions being answered
	unseen  map[string]string // by shop and member: the last answer that could not be delivered
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
	b := &Bot{cfg: cfg, wake: make(chan struct{}, 1), declare: declare(cfg.Desk), running: map[string]bool{},
		unseen: map[string]string{}}
	begun := time.Now()
	b.clock = newClock(cfg.Now, func() time.Duration { return time.Since(begun) }, cfg.Log)
	b.cfg.Client = dating(cfg.Client, b.clock)
	b.booking = newBooking(b)
	b.notices = newNotices(b.session, b.clock.now, cfg.Desk.More())
	b.notices.photos = cfg.Photos
	b.access = newAccess(cfg.Log)
	b.access.stewards = cfg.Stewards
	b.notices.access = b.access
	cfg.Desk.Chat = chat{b.access, b.notices}
	b.poster = &Poster{Outbox: cfg.Outbox, Channel: b.notices, Settings: cfg.Settings, Render: cfg.Desk.Render,
		Jitter: cfg.Jitter, RoutineSlots: routineSlots, Log: cfg.Log, Now: b.clock.now}
	return b
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
	scheduler := b.schedule(background)
	err := b.stayConnected(ctx)
	b.mu.Lock()
	b.closing = true
	b.mu.Unlock()
	scheduler()
	drained := make(chan struct{})
	go func() { b.work.Wait(); close(drained) }()
	select {
	case <-drained:
	case <-time.After(drainWithin):
		b.cfg.Log.Warn("answers were still under way at the end")
	}
	b.booking.last()
	if l := b.link.Swap(nil); l != nil {
		l.close(closeWithin)
	}
	return err
}

// stayConnected keeps a session open until ctx is done. A lost connection is
// resumed; one that cannot be is begun again.
func (b *Bot) stayConnected(ctx context.Context) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	backoff := b.cfg.FirstBackoff
	// rest lets some time pass, more each time; false if ctx is done.
	rest := func(why string, more ...any) bool {
		wait := b.jittered(backoff)
		b.cfg.Log.Warn(why, append(more, "wait", wait)...)
		backoff = min(backoff*2, longestBackoff)
		return pause(ctx, wait)
	}
	var current *link
	registering := false
	for ctx.Err() == nil {
		fresh := current == nil
		if fresh {
			l, err := b.begun()
			if err != nil {
				return err
			}
			current = l
		}
		err, hung := b.connect(ctx, current, fresh)
		switch {
		case errors.As(err, new(Refused)):
			return err
		case err != nil:
			current = nil // begin again; a hung session is given up
			if !rest("connecting failed", "error", err, "hung", hung) {
				return nil
			}
			continue
		}
		b.cfg.Log.Info("connected")
		if !registering {
			registering = true
			b.work.Go(func() { b.safely("registering", func() { b.keepRegistering(ctx) }) })
		}
		b.nudge()
		steady := b.watch(ctx, current)
		if steady {
			backoff = b.cfg.FirstBackoff
		} else if ctx.Err() == nil && !rest("the connection was lost early") {
			return nil
		}
	}
	return nil
}

// begun is a link on which interactions are answered.
func (b *Bot) begun() (*link, error) {
	fresh, err := newLink(b.cfg.Token, b.cfg.Client)
	if err != nil {
		return nil, err
	}
	fresh.s.AddHandler(func(_ *discordgo.Session, i *discordgo.InteractionCreate) { go b.receive(i) })
	fresh.s.AddHandler(func(_ *discordgo.Session, e *discordgo.Event) { b.hear(e.Type, e.RawData) })
	b.link.Store(fresh)
	return fresh, nil
}

// connect opens a link, or resumes it. One that is fresh begins a session, of which there
// may be one in five seconds and a thousand a day.
func (b *Bot) connect(ctx context.Context, l *link, fresh bool) (err error, hung bool) {
	if fresh {
		asking, cancel := context.WithTimeout(ctx, b.cfg.OpenWithin)
		defer cancel()
		wait, err := l.allowance(asking)
		if err != nil {
			return err, false
		}
		if wait > 0 {
			b.cfg.Log.Warn("half of the sessions that Discord allows a day are used up", "wait", wait)
		}
		if !pause(ctx, max(wait, b.cfg.IdentifyEvery-time.Since(b.identified))) {
			return ctx.Err(), false
		}
		b.identified = time.Now()
	}
	return l.open(ctx, b.cfg.OpenWithin)
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
	app, err := session.RequestWithBucketID("GET", discordgo.EndpointApplications+"/@me", nil, "application",
		discordgo.WithContext(ctx))
	if err != nil {
		return false, fmt.Errorf("ask which application this is: %w", err)
	}
	var me struct {
		ID string `json:"id"`
	}
	if err := discordgo.Unmarshal(app, &me); err != nil {
		return false, fmt.Errorf("read which application this is: %w", err)
	}
	return register(ctx, session, me.ID, b.declare)
}

// watch returns when the connection is lost, or ctx is done. It cuts one on
// which nothing has come for too long. steady says whether it lived long.
func (b *Bot) watch(ctx context.Context, l *link) (steady bool) {
	begin := time.Now()
	ticker := time.NewTicker(b.cfg.WatchInterval)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			return true
		case <-l.gone:
			b.cfg.Log.Info("connection lost")
			return time.Since(begin) >= b.cfg.SteadyFor
		case <-ticker.C:
			if l.silence() > b.cfg.SilentFor {
				b.cfg.Log.Warn("nothing heard for too long", "silence", l.silence())
				l.cut()
			}
		}
	}
}

// jittered is a time made longer by up to half of it, so that not all bots come back at
// once.
func (b *Bot) jittered(d time.Duration) time.Duration {
	if b.cfg.Jitter != nil {
		d += time.Duration(b.cfg.Jitter() * float64(d) / 2)
	}
	return d
}

// pause waits; false if ctx was done first.
func pause(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
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
func (b *Bot) receive(i *discordgo.InteractionCreate) {
	b.mu.Lock()
	if b.closing {
		b.mu.Unlock()
		return
	}
	b.work.Add(1)
	b.mu.Unlock()
	defer b.work.Done()
	b.safely("answering", func() { b.take(i) })
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
	if err := b.respond(asked); err != nil {
		b.undelivered(asked, err)
	}
	b.nudge()
	b.booking.nudge()
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

// respond runs what an interaction asks for and answers it.
func (b *Bot) respond(e event) error {
	now := b.clock.reported(e.id)
	ctx, cancel := context.WithTimeout(context.Background(), b.cfg.AnswerWithin)
	defer cancel()
	switch e.kind {
	case discordgo.InteractionApplicationCommandAutocomplete:
		list := choices{Choices: []choice{}}
		for _, c := range b.cfg.Desk.Complete(ctx,
			commands.Completion{Shop: e.guild, Actor: e.actor, Name: e.command, Option: e.focused,
				Partial: e.options[e.focused], Options: e.options, Now: now}) {
			list.Choices = append(list.Choices, choice{c.Label, c.Value})
		}
		return b.callback(ctx, e, answer{answerChoices, list}, nil)
	case discordgo.InteractionApplicationCommand:
		request := commands.Request{ID: e.id, Shop: e.guild, Actor: e.actor, Name: e.command, Options: e.options,
			Typed: e.typed(b.cfg.Desk.Declarations()), Now: now}
		// What is quick is answered at once, what may be slow within a minute.
		slow, quiet := b.cfg.Desk.Slow(e.command)
		if !slow {
			work, done := context.WithTimeout(ctx, b.cfg.AnswerWithin-sendingTakes)
			defer done()
			return b.answer(ctx, e, b.cfg.Desk.Run(work, request), false)
		}
		d := body{Components: []row{}, Mentions: nobody}
		if quiet {
			d.Flags = flagEphemeral
		}
		if err := b.callback(ctx, e, answer{answerDeferred, map[string]any{"flags": d.Flags}}, nil); err != nil {
			return err
		}
		long, cancel := context.WithTimeout(context.Background(), slowWithin)
		defer cancel()
		return b.answer(long, e, b.cfg.Desk.Run(long, request), true)
	}
	// A button or a form.
	work, done := context.WithTimeout(ctx, b.cfg.AnswerWithin-sendingTakes)
	defer done()
	return b.answer(ctx, e, b.cfg.Desk.Press(work,
		commands.Press{ID: e.id, Shop: e.guild, Actor: e.actor, Custom: e.custom, Fields: e.fields, Now: now}), false)
}

// answer sends a reply. Its pages beyond the first follow it.
func (b *Bot) answer(ctx context.Context, e event, r commands.Reply, deferred bool) (err error) {
	// What is told beside the answer stands below it where nobody else sees that.
	aside := r.Aside
	if r.Quiet && !r.Replaces {
		r.Lines, aside = append(r.Lines, r.Aside...), nil
	}
	// What its member missed before is told with it, and what they miss of this is kept.
	who := string(e.guild) + "/" + string(e.actor.ID)
	missed := b.missed(who)
	if missed != "" {
		r.Lines = append(r.Lines, b.cfg.Desk.Unseen(missed))
	}
	defer func() {
		if err == nil {
			return
		}
		if restCode(err) != codeAcknowledged && !r.Refused && r.Form == nil {
			missed = r.Headline // the latest is what they wait for
		}
		if missed != "" {
			b.mu.Lock()
			defer b.mu.Unlock()
			b.unseen[who] = missed
		}
	}()
	// A form is all that there is.
	if r.Form != nil && !deferred && e.kind != discordgo.InteractionModalSubmit {
		return b.callback(ctx, e, answer{answerModal, form(r.Form)}, nil)
	}
	// Its words and buttons, and its files on the first message.
	all := bodies(r)
	var files []*discordgo.File
	if r.Picture != nil {
		png, err := commands.Draw(*r.Picture)
		if err != nil {
			return err
		}
		files = []*discordgo.File{{Name: r.Picture.Name + ".png", ContentType: "image/png",
			Reader: bytes.NewReader(png)}}
		all[0].Attachments = []attachment{{ID: "0", Filename: r.Picture.Name + ".png", Description: alt(r.Picture.Alt)}}
	}
	if f := r.File; f != nil {
		files = append(files, &discordgo.File{Name: f.Name, ContentType: f.Type, Reader: bytes.NewReader(f.Data)})
		all[0].Attachments = append(all[0].Attachments,
			attachment{ID: strconv.Itoa(len(files) - 1), Filename: f.Name, Description: f.Name})
	}
	// The first message goes where the interaction waits for it, the others follow.
	switch {
	case deferred:
		err = b.send(ctx, "PATCH", discordgo.EndpointWebhookMessage(e.app, e.token, "@original"), e, all[0], files)
	case r.Replaces && e.kind == discordgo.InteractionMessageComponent:
		err = b.callback(ctx, e, answer{answerUpdate, all[0]}, files)
	default:
		err = b.callback(ctx, e, answer{answerMessage, all[0]}, files)
	}
	for _, page := range all[1:] {
		if err != nil {
			return err
		}
		err = b.send(ctx, "POST", discordgo.EndpointWebhookToken(e.app, e.token), e, page, nil)
	}
	if err == nil && len(aside) > 0 {
		for _, page := range bodies(commands.Reply{Quiet: true, Lines: aside}) {
			err = errors.Join(err, b.send(ctx, "POST", discordgo.EndpointWebhookToken(e.app, e.token), e, page, nil))
		}
	}
	return err
}

// missed takes the answer that a member may not have seen.
func (b *Bot) missed(who string) string {
	b.mu.Lock()
	defer b.mu.Unlock()
	m := b.unseen[who]
	delete(b.unseen, who)
	return m
}

// callback is an interaction's first answer.
func (b *Bot) callback(ctx context.Context, e event, a answer, files []*discordgo.File) error {
	err := b.send(ctx, "POST", discordgo.EndpointInteractionResponse(e.id, e.token), e, a, files)
	if err == nil {
		b.clock.accepted(e.id)
	}
	return err
}

// buckets is how many rate-limit buckets interactions share. The library keeps
// every bucket for ever, and each interaction's address is a new one.
const buckets = 256

func (b *Bot) send(ctx context.Context, method, url string, e event, payload any, files []*discordgo.File) (err error) {
	defer func() { err = withoutToken(err, e.token) }()
	session := b.session()
	if session == nil {
		return errNotConnected
	}
	h := fnv.New32a()
	h.Write([]byte(e.id)) //nolint:errcheck // never fails
	bucket := fmt.Sprintf("interactions-%d", h.Sum32()%buckets)
	if len(files) == 0 {
		_, err = session.RequestWithBucketID(method, url, payload, bucket, discordgo.WithContext(ctx))
		return err
	}
	kind, text, err := discordgo.MultipartBodyWithJSON(payload, files)
	if err != nil {
		return err
	}
	_, err = session.RequestRaw(method, url, kind, text, bucket, 0, discordgo.WithContext(ctx))
	return err
}
