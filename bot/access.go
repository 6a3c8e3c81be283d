package bot

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/bwmarrin/discordgo"

	"setscrew/commands"
	"setscrew/domain"
)

// access is what is known of each shop's channel for notices and its stewards' role: what
// Discord tells of its server, and what came of what was posted. Each post that fails is
// logged once with its reason.
type access struct {
	log       *slog.Logger
	directory *directory
	// stewards lists whom a shop knows as stewards; nil for nobody.
	stewards func(context.Context, domain.Shop) ([]domain.PersonID, error)

	mu       sync.Mutex
	failing  map[domain.ShopID]failure    // the last request that failed, until one works
	pinless  map[domain.ShopID]string     // the channel in which a pin was refused last
	unposted map[domain.ShopID][]unposted // tag-outs that could not be posted yet
	pinged   map[domain.ShopID]pinged     // what the last mention of a role came to
	lacking  map[domain.ShopID]lacking    // what was lacking when its server changed last
	logged   map[domain.ShopID]bool       // a failure was, and none that it is over
	kept     map[domain.ShopID]string     // what a Memory has of all that but tag-outs
}

// failure is a request about a channel that failed.
type failure struct {
	Channel string
	Reason  string
	Gone    bool // the channel is
	Closed  bool // Setscrew may not do it there
	Known   bool // that it would be refused, by what Discord tells of the server
}

// unposted is a machine's tag-out that does not stand in the channel, by the notice's key,
// with those who hung its tags.
type unposted struct {
	key, machine string
	people       []domain.PersonID
}

// pinged is what the mention of a role came to, and what was taken to come of it.
type pinged struct {
	Role     string
	Expected commands.RoleAccess
	Really   bool
}

// lacking is what a shop's notices need and lack, in words for the log; "" for nothing.
type lacking string

func newAccess(log *slog.Logger) *access {
	return &access{log: log, directory: newDirectory(log), failing: map[domain.ShopID]failure{},
		pinless: map[domain.ShopID]string{}, unposted: map[domain.ShopID][]unposted{},
		pinged: map[domain.ShopID]pinged{}, lacking: map[domain.ShopID]lacking{}, logged: map[domain.ShopID]bool{},
		kept: map[domain.ShopID]string{}}
}

// Channel is what Setscrew may do in a channel: by what Discord tells of the server and,
// of the channel that was posted to, by what it answered last.
func (a *access) channel(shop domain.ShopID, channel string) commands.ChannelAccess {
	is := a.directory.channel(shop, channel)
	a.mu.Lock()
	defer a.mu.Unlock()
	last := a.failing[shop]
	switch {
	case last.Channel != channel:
	case last.Gone:
		return commands.ChannelAccess{Gone: true}
	case last.Closed && !is.Closed():
		return commands.ChannelAccess{Lacks: []commands.Right{commands.RightView, commands.RightSend}}
	}
	if a.pinless[shop] == channel && channel != "" && !is.Gone && !slices.Contains(is.Lacks, commands.RightPin) {
		is.Unknown, is.Lacks = false, append(is.Lacks, commands.RightPin)
	}
	return is
}

// role is whether a role pings in a channel: as it was seen when it was mentioned last,
// unless what Discord tells of the server has changed since.
func (a *access) role(shop domain.ShopID, role, channel string) commands.RoleAccess {
	is := a.directory.role(shop, role, channel)
	a.mu.Lock()
	defer a.mu.Unlock()
	if last := a.pinged[shop]; role != "" && last.Role == role && last.Expected == is && !is.Gone {
		is.Unknown, is.Pings = false, last.Really
	}
	return is
}

// calling is whom a message notifies, and the text that does.
type calling struct {
	text         string
	roles, users []string
	expected     commands.RoleAccess // of the role
}

// call is whom a notice notifies at a moment: the stewards' role, the deputies of those
// who are away and, where the role does not ping, each steward that is known, or who
// stands in for them.
func (a *access) call(ctx context.Context, shop domain.Shop, message commands.Message, now time.Time) (who calling) {
	for _, p := range message.People {
		if !p.Former() { // Discord refuses a message that names an account that is none
			who.users = append(who.users, string(p))
		}
	}
	if !message.Mention {
		return who
	}
	one := func(p domain.PersonID) {
		if !p.Former() && !slices.Contains(who.users, string(p)) {
			who.users = append(who.users, string(p))
			who.text += "<@" + string(p) + "> "
		}
	}
	deputies := func() {
		for _, p := range shop.Deputies(now) {
			one(p)
		}
	}
	if shop.StewardRole == "" {
		deputies()
		return who
	}
	who.expected = a.directory.role(shop.ID, shop.StewardRole, shop.NoticeChannel)
	who.roles, who.text = []string{shop.StewardRole}, "<@&"+shop.StewardRole+"> "
	deputies()
	if role := a.role(shop.ID, shop.StewardRole, shop.NoticeChannel); role.Unknown || role.Pings || a.stewards == nil {
		return who
	}
	known, err := a.stewards(ctx, shop)
	if err != nil {
		a.log.Error("stewards not found in the books", "shop", shop.ID, "error", err)
	}
	for _, p := range known {
		one(shop.StandsIn(p, now))
	}
	return who
}

// mentioned is who a posted message mentions, as Discord answers.
type mentioned struct {
	Roles  []string `json:"mention_roles"`
	People []struct {
		ID string `json:"id"`
	} `json:"mentions"`
}

// answered compares who was to be notified with who was.
func (a *access) answered(shop domain.Shop, who calling, really mentioned) {
	for _, id := range who.users {
		if !slices.ContainsFunc(really.People, func(p struct {
			ID string `json:"id"`
		}) bool {
			return p.ID == id
		}) {
			a.log.Warn("somebody was not mentioned", "shop", shop.ID, "person", id)
		}
	}
	if len(who.roles) == 0 {
		return
	}
	now := pinged{Role: shop.StewardRole, Expected: who.expected, Really: slices.Contains(really.Roles,
		shop.StewardRole)}
	a.mu.Lock()
	defer a.mu.Unlock()
	if before := a.pinged[shop.ID]; before != now && !now.Really && (now.Expected.Pings || now.Expected.Unknown) {
		a.log.Warn("the stewards' role was mentioned and not pinged", "shop", shop.ID, "role", shop.StewardRole,
			"do", "let anyone mention the role, or permit to mention all roles")
	}
	a.pinged[shop.ID] = now
}

// worked forgets that requests failed, and logs that it is over: one did not.
func (a *access) worked(shop domain.Shop) {
	a.mu.Lock()
	defer a.mu.Unlock()
	delete(a.failing, shop.ID)
	if a.logged[shop.ID] {
		delete(a.logged, shop.ID)
		a.log.Info("notices are posted again", "shop", shop.ID, "channel", shop.NoticeChannel)
	}
}

// failed notes why a request about a shop's channel failed, and logs it if it is another
// reason than before.
func (a *access) failed(shop domain.Shop, err error) {
	var limited *discordgo.RateLimitError
	if errors.As(err, &limited) || errors.Is(err, context.Canceled) {
		return // it is no failure to be asked to wait, or to stop
	}
	is := a.directory.channel(shop.ID, shop.NoticeChannel)
	now := failure{Channel: shop.NoticeChannel, Reason: fmt.Sprintf("%.200s", err), Known: is.Closed()}
	do := "nothing: it is tried again"
	switch restCode(err) {
	case codeUnknownChannel:
		now.Gone, do = true, "choose another channel for notices"
	case codeMissingAccess, codeMissingPerms:
		now.Closed = true
		do = "permit: " + rightsText(is.Lacks)
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	// What is known of the server alone makes no other reason of it.
	before, failed := a.failing[shop.ID]
	before.Known = now.Known
	a.failing[shop.ID] = now
	if !failed || before != now {
		a.logged[shop.ID] = true
		a.log.Warn("a notice could not be posted", "shop", shop.ID, "channel", now.Channel, "reason", now.Reason,
			"do", do)
	}
}

// rightsText names rights in a log.
func rightsText(lacks []commands.Right) string {
	if len(lacks) == 0 {
		lacks = []commands.Right{commands.RightView, commands.RightSend}
	}
	names := make([]string, len(lacks))
	for i, r := range lacks {
		names[i] = string(r)
	}
	return strings.Join(names, ", ")
}

// pins notes whether a message in a shop's channel could be pinned.
func (a *access) pins(shop domain.Shop, ok bool) {
	a.mu.Lock()
	defer a.mu.Unlock()
	switch {
	case ok && a.pinless[shop.ID] != "":
		delete(a.pinless, shop.ID)
		a.log.Info("notices can be pinned again", "shop", shop.ID)
	case ok:
	case a.pinless[shop.ID] != shop.NoticeChannel:
		a.pinless[shop.ID] = shop.NoticeChannel
		a.log.Warn("a notice could not be pinned", "shop", shop.ID, "channel", shop.NoticeChannel, "do",
			"permit: "+string(commands.RightPin))
	}
}

// mostUnposted is how many tag-outs of a shop are remembered that could not be posted.
const mostUnposted = 50

// errUntold is a tag-out that could not be posted before the program began.
var errUntold = errors.New("not posted yet")

// notePost remembers a tag-out that could not be posted, with those who hung its tags,
// until it is.
func (a *access) notePost(shop domain.ShopID, notice domain.Notice, err error) {
	if notice.Topic != domain.TopicTagOut {
		return
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	all := slices.DeleteFunc(a.unposted[shop], func(u unposted) bool { return u.key == notice.Key })
	if err != nil && len(all) < mostUnposted {
		one := unposted{key: notice.Key, machine: notice.Args.Machine}
		for _, t := range notice.Args.Tags {
			one.people = append(one.people, t.By)
		}
		all = append(all, one)
	}
	if a.unposted[shop] = all; len(all) == 0 {
		delete(a.unposted, shop)
	}
}

// serverChanged looks at what a shop's notices need after its server changed. It logs what
// is lacking now, if that is something else, and reports whether notices that failed may
// be tried again.
func (a *access) serverChanged(shop domain.Shop) (retry bool) {
	// What is lacking.
	var now []string
	var channel commands.ChannelAccess
	if shop.NoticeChannel != "" {
		channel = a.directory.channel(shop.ID, shop.NoticeChannel)
		switch {
		case channel.Gone:
			now = append(now, "the channel for notices")
		case len(channel.Lacks) > 0:
			now = append(now, rightsText(channel.Lacks))
		}
	}
	if shop.StewardRole != "" {
		switch role := a.directory.role(shop.ID, shop.StewardRole, shop.NoticeChannel); {
		case role.Gone:
			now = append(now, "the stewards' role")
		case !role.Unknown && !role.Pings:
			now = append(now, "that the stewards' role can be mentioned")
		}
	}
	lacks := lacking(strings.Join(now, "; "))
	// Whether that is news.
	a.mu.Lock()
	defer a.mu.Unlock()
	before, seen := a.lacking[shop.ID]
	news := before != lacks || !seen
	a.lacking[shop.ID] = lacks
	switch {
	case !news:
	case lacks != "":
		a.log.Warn("notices lack something in a server", "shop", shop.ID, "lacks", string(lacks))
	case before != "":
		a.log.Info("notices lack nothing any more in a server", "shop", shop.ID)
	}
	last, failed := a.failing[shop.ID]
	if channel.Closed() || channel.Unknown || !news && !last.Known {
		return false
	}
	// What was refused may be permitted now; what is found out next decides again.
	if last.Gone || last.Closed {
		delete(a.failing, shop.ID)
	}
	if !slices.Contains(channel.Lacks, commands.RightPin) {
		delete(a.pinless, shop.ID)
	}
	return failed
}

// chat is what the commands ask of Discord.
type chat struct {
	access   *access
	notices  *notices
	clock    *clock
	declared []declared
}

// Channel is what Setscrew may do in a channel of a shop's server.
func (c chat) Channel(shop domain.ShopID, channel string) commands.ChannelAccess {
	return c.access.channel(shop, channel)
}

// Role is whether a role of a shop's server can be pinged.
func (c chat) Role(shop domain.ShopID, role, channel string) commands.RoleAccess {
	return c.access.role(shop, role, channel)
}

// Holders asks Discord how many have a role: nobody else may list a server's members
// without a privileged intent.
func (c chat) Holders(ctx context.Context, shop domain.ShopID, role string) (n int, known bool) {
	url := discordgo.EndpointGuild(string(shop)) + "/roles/member-counts"
	text, err := c.notices.request(ctx, "GET", url, nil)
	counts := map[string]int{}
	if err == nil {
		err = json.Unmarshal(text, &counts)
	}
	if err != nil {
		c.access.log.Warn("members of a role not counted", "shop", shop, "error", err)
		return 0, false
	}
	// Discord leaves out no role, but one that was made since it counted.
	n, known = counts[role]
	return n, known
}

// Unposted lists the machines whose tag-out by p does not stand in the channel.
func (c chat) Unposted(shop domain.ShopID, person domain.PersonID) []string {
	c.access.mu.Lock()
	defer c.access.mu.Unlock()
	machines := map[string]bool{}
	for _, u := range c.access.unposted[shop] {
		if slices.Contains(u.people, person) {
			machines[u.machine] = true
		}
	}
	return slices.Sorted(maps.Keys(machines))
}

// Ping posts a message as a notice that calls the stewards.
func (c chat) Ping(ctx context.Context, shop domain.Shop, key string, m commands.Message) (commands.Pinged, error) {
	now := c.notices.now()
	_, who, err := c.notices.post(ctx, shop, domain.Undelivered{Shop: shop.ID, Made: now,
		Notice: domain.Notice{Key: "ping/" + key, Op: domain.Post}}, m)
	return commands.Pinged{Role: slices.Contains(who.Roles, shop.StewardRole), People: len(who.People)}, err
}
