package bot

import (
	"fmt"
	"log/slog"
	"net/http"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/bwmarrin/discordgo"

	"setscrew/commands"
	"setscrew/domain"
)

// told is a directory that was told of these events, "NAME data" each.
func told(t *testing.T, events ...string) *directory {
	t.Helper()
	d := newDirectory(slog.New(slog.DiscardHandler))
	tell(t, d, events...)
	return d
}

func tell(t *testing.T, d *directory, events ...string) {
	t.Helper()
	for _, e := range events {
		kind, data, _ := strings.Cut(e, " ")
		if _, err := d.take(kind, []byte(data)); err != nil {
			t.Fatal(err)
		}
	}
}

// What a server of two channels and two roles is told by.
const (
	readyOne  = `READY {"user": {"id": "9"}, "guilds": [{"id": "1", "unavailable": true}]}`
	serverOne = `GUILD_CREATE {"id": "1", "owner_id": "5",
		"roles": [{"id": "1", "permissions": "68608"}, {"id": "2", "permissions": "2251799813685248"},
			{"id": "3", "permissions": "0", "mentionable": true}, {"id": "4", "permissions": "0"}],
		"members": [{"user": {"id": "8"}, "roles": ["3"]}, {"user": {"id": "9"}, "roles": ["2"]}],
		"channels": [{"id": "20", "type": 0, "permission_overwrites": [
				{"id": "8", "type": 1, "allow": "0", "deny": "2048"}]},
			{"id": "21", "type": 0, "permission_overwrites": [{"id": "2", "type": 0, "allow": "0", "deny": "2048"}]},
			{"id": "22", "type": 4}, {"id": "23", "type": 2}, {"id": "24", "type": 5}]}`
)

// After each event, what may be done in a channel and which roles ping is as it says.
func TestDirectory(t *testing.T) {
	t.Parallel()
	var fine, unknown, gone = commands.ChannelAccess{}, commands.ChannelAccess{Unknown: true},
		commands.ChannelAccess{Gone: true}
	noSend := commands.ChannelAccess{Lacks: []commands.Right{commands.RightSend}}
	noPins := commands.ChannelAccess{Lacks: []commands.Right{commands.RightPin}}
	noneOf := commands.ChannelAccess{Lacks: []commands.Right{commands.RightView, commands.RightSend,
		commands.RightHistory, commands.RightPin}}
	for _, test := range []struct {
		name    string
		events  []string
		channel string
		want    commands.ChannelAccess
	}{
		{"before anything", nil, "20", unknown},
		{"before the server is told of", []string{readyOne}, "20", unknown},
		{"as it was made", []string{readyOne, serverOne}, "20", fine},
		{"denied its role", []string{readyOne, serverOne}, "21", noSend},
		{"no such channel", []string{readyOne, serverOne}, "19", gone},
		{"a category", []string{readyOne, serverOne}, "22", gone},
		{"a voice channel", []string{readyOne, serverOne}, "23", gone},
		{"announcements", []string{readyOne, serverOne}, "24", fine},
		{"another server's", []string{readyOne, serverOne, `CHANNEL_CREATE {"id": "30", "type": 0, "guild_id": "7"}`},
			"30", gone},
		{"made later", []string{readyOne, serverOne, `CHANNEL_CREATE {"id": "30", "type": 0, "guild_id": "1"}`}, "30",
			fine},
		{"hidden later", []string{readyOne, serverOne, `CHANNEL_UPDATE {"id": "20", "type": 0, "guild_id": "1",
			"permission_overwrites": [{"id": "1", "type": 0, "allow": "0", "deny": "1024"}]}`}, "20", noneOf},
		{"permitted later", []string{readyOne, serverOne, `CHANNEL_UPDATE {"id": "21", "type": 0, "guild_id": "1"}`},
			"21", fine},
		{"turned into another kind", []string{readyOne, serverOne,
			`CHANNEL_UPDATE {"id": "20", "type": 2, "guild_id": "1"}`}, "20", gone},
		{"deleted", []string{readyOne, serverOne, `CHANNEL_DELETE {"id": "20", "type": 0, "guild_id": "1"}`}, "20",
			gone},
		{"its role permits less", []string{readyOne, serverOne,
			`GUILD_ROLE_UPDATE {"guild_id": "1", "role": {"id": "2", "permissions": "0"}}`}, "20", noPins},
		{"its role is deleted", []string{readyOne, serverOne, `GUILD_ROLE_DELETE {"guild_id": "1", "role_id": "2"}`},
			"20", noPins},
		{"its role is taken away", []string{readyOne, serverOne,
			`GUILD_MEMBER_UPDATE {"guild_id": "1", "user": {"id": "9"}, "roles": []}`}, "21", noPins},
		{"another's roles", []string{readyOne, serverOne,
			`GUILD_MEMBER_UPDATE {"guild_id": "1", "user": {"id": "8"}, "roles": []}`}, "20", fine},
		{"a role of an administrator", []string{readyOne, serverOne,
			`GUILD_ROLE_CREATE {"guild_id": "1", "role": {"id": "6", "permissions": "8"}}`,
			`GUILD_MEMBER_UPDATE {"guild_id": "1", "user": {"id": "9"}, "roles": ["2", "6"]}`}, "21", fine},
		{"owned", []string{readyOne, serverOne, `GUILD_UPDATE {"id": "1", "owner_id": "9"}`}, "21", fine},
		{"everybody may less", []string{readyOne, serverOne,
			`GUILD_UPDATE {"id": "1", "roles": [{"id": "1", "permissions": "66560"}]}`}, "20", noSend},
		{"removed", []string{readyOne, serverOne, `GUILD_DELETE {"id": "1"}`}, "20", gone},
		{"added again", []string{readyOne, serverOne, `GUILD_DELETE {"id": "1"}`, serverOne}, "20", fine},
		{"out of reach", []string{readyOne, serverOne, `GUILD_DELETE {"id": "1", "unavailable": true}`}, "20", unknown},
		{"in reach again", []string{readyOne, serverOne, `GUILD_DELETE {"id": "1", "unavailable": true}`, serverOne},
			"20", fine},
		{"said to be out of reach", []string{readyOne, `GUILD_CREATE {"id": "1", "unavailable": true}`}, "20", unknown},
		{"connected again", []string{readyOne, serverOne, readyOne}, "20", fine},
		{"removed while away", []string{readyOne, serverOne, `READY {"user": {"id": "9"}, "guilds": []}`}, "20", gone},
		{"what came out of turn", []string{readyOne, `CHANNEL_CREATE {"id": "20", "type": 0, "guild_id": "1"}`,
			`GUILD_ROLE_UPDATE {"guild_id": "1", "role": {"id": "2", "permissions": "8"}}`}, "20", unknown},
	} {
		if got := told(t, test.events...).channel("1", test.channel); !reflect.DeepEqual(got, test.want) {
			t.Errorf("%s: %+v, want %+v", test.name, got, test.want)
		}
	}
	pings := commands.RoleAccess{Pings: true}
	for _, tried := range []struct {
		name   string
		events []string
		role   string
		want   commands.RoleAccess
	}{
		{"before anything", nil, "3", commands.RoleAccess{Unknown: true}},
		{"mentionable", []string{readyOne, serverOne}, "3", pings},
		{"not mentionable", []string{readyOne, serverOne}, "4", commands.RoleAccess{}},
		{"everybody's", []string{readyOne, serverOne}, "1", commands.RoleAccess{Everyone: true}},
		{"no such role", []string{readyOne, serverOne}, "7", commands.RoleAccess{Gone: true}},
		{"mentionable later", []string{readyOne, serverOne,
			`GUILD_ROLE_UPDATE {"guild_id": "1", "role": {"id": "4", "permissions": "0", "mentionable": true}}`}, "4",
			pings},
		{"no longer", []string{readyOne, serverOne,
			`GUILD_ROLE_UPDATE {"guild_id": "1", "role": {"id": "3", "permissions": "0"}}`}, "3",
			commands.RoleAccess{}},
		{"deleted", []string{readyOne, serverOne, `GUILD_ROLE_DELETE {"guild_id": "1", "role_id": "3"}`}, "3",
			commands.RoleAccess{Gone: true}},
		{"all may be mentioned", []string{readyOne, serverOne, `CHANNEL_UPDATE {"id": "20", "type": 0, "guild_id": "1",
			"permission_overwrites": [{"id": "9", "type": 1, "allow": "131072", "deny": "0"}]}`}, "4", pings},
		{"in another channel", []string{readyOne, serverOne, `CHANNEL_UPDATE {"id": "21", "type": 0, "guild_id": "1",
			"permission_overwrites": [{"id": "9", "type": 1, "allow": "131072", "deny": "0"}]}`}, "4",
			commands.RoleAccess{}},
		{"removed", []string{readyOne, serverOne, `GUILD_DELETE {"id": "1"}`}, "3", commands.RoleAccess{Gone: true}},
	} {
		if got := told(t, tried.events...).role("1", tried.role, "20"); got != tried.want {
			t.Errorf("%s: %+v, want %+v", tried.name, got, tried.want)
		}
	}
}

// What changes of a server is listed once; that Setscrew was added or removed is logged,
// and that it was there at the beginning is not.
func TestChangesAreListed(t *testing.T) {
	t.Parallel()
	directory := told(t, readyOne, serverOne)
	log := new(strings.Builder)
	directory.log = slog.New(slog.NewTextHandler(log, nil))
	changed := func(when string, want ...domain.ShopID) {
		t.Helper()
		if got := directory.takeChanged(); !slices.Equal(got, want) {
			t.Errorf("%s: changed are %q, want %q", when, got, want)
		}
	}
	changed("at the beginning", "1")
	changed("asked again")
	tell(t, directory, `CHANNEL_DELETE {"id": "21", "guild_id": "1"}`, `GUILD_CREATE {"id": "0"}`)
	changed("two servers", "0", "1")
	tell(t, directory, `GUILD_MEMBER_UPDATE {"guild_id": "1", "user": {"id": "8"}}`, `MESSAGE_CREATE {"guild_id": "1"}`,
		`CHANNEL_DELETE {"id": "1", "guild_id": "7"}`, `GUILD_DELETE {"id": "1", "unavailable": true}`)
	changed("nothing that counts")
	tell(t, directory, `GUILD_DELETE {"id": "1"}`)
	changed("removed", "1")
	if got := log.String(); strings.Count(got, "added to a server") != 1 || strings.Count(got, "removed from") != 1 ||
		!strings.Contains(got, "shop=0") {
		t.Errorf("logged: %s", got)
	}
}

// What cannot be read changes nothing, and is an error.
func TestEventsThatCannotBeRead(t *testing.T) {
	t.Parallel()
	directory := told(t, readyOne, serverOne)
	for _, event := range []string{`CHANNEL_UPDATE {"id": 20}`, `GUILD_DELETE`, `GUILD_ROLE_UPDATE {"guild_id": "1",
		"role": {"id": "3", "permissions": "many"}}`, `READY []`} {
		kind, data, _ := strings.Cut(event, " ")
		if heard, err := directory.take(kind, []byte(data)); heard || err == nil || !strings.Contains(err.Error(),
			kind) {
			t.Errorf("%s: %v", event, err)
		}
	}
	if got := directory.role("1", "3", "20"); !got.Pings {
		t.Errorf("afterwards: %+v", got)
	}
	tell(t, directory, `GUILD_ROLE_CREATE {"guild_id": "1"}`, `CHANNEL_CREATE {"guild_id": "1", "type": 0}`,
		`GUILD_CREATE {}`,
		`GUILD_DELETE {}`)
	if got := directory.channel("7", "20"); !got.Gone {
		t.Errorf("another server after an event without an id: %+v", got)
	}
}

// What is kept has an end: of servers beyond it, and of one with more roles or channels,
// nothing is known.
func TestDirectoryIsBounded(t *testing.T) {
	t.Parallel()
	directory := told(t, `READY {"user": {"id": "9"}}`)
	for i := range mostServers + 1 {
		tell(t, directory, fmt.Sprintf(`GUILD_CREATE {"id": "s%d", "channels": [{"id": "c", "type": 0}]}`, i))
	}
	last := domain.ShopID(fmt.Sprint("s", mostServers))
	if len(directory.servers) != mostServers || !directory.channel(last, "c").Unknown || directory.channel("s1",
		"c").Unknown {
		t.Errorf("%d servers; the last: %+v", len(directory.servers), directory.channel(last, "c"))
	}
	many := func(format string, n int) string {
		all := make([]string, n)
		for i := range all {
			all[i] = fmt.Sprintf(format, i)
		}
		return strings.Join(all, ",")
	}
	role, channel := `{"id": "r%d", "permissions": "0"}`, `{"id": "c%d", "type": 0}`
	for _, test := range []struct {
		roles, channels int
		more            string
		unknown         bool
	}{{mostRoles, mostChannels, "", false}, {mostRoles + 1, 1, "", true}, {1, mostChannels + 1, "", true},
		{mostRoles, 1, `GUILD_ROLE_CREATE {"guild_id": "1", "role": {"id": "x", "permissions": "0"}}`, true},
		{1, mostChannels, `CHANNEL_CREATE {"guild_id": "1", "id": "x", "type": 0}`, true}} {
		other := told(t, readyOne, fmt.Sprintf(`GUILD_CREATE {"id": "1", "roles": [%s], "channels": [%s]}`,
			many(role, test.roles), many(channel, test.channels)))
		if test.more != "" {
			tell(t, other, test.more)
		}
		if got := other.channel("1", "c0").Unknown; got != test.unknown {
			t.Errorf("%d roles and %d channels, then %s: unknown %v", test.roles, test.channels, test.more, got)
		}
	}
	// Of the overwrites for members only its own is kept.
	directory = told(t, readyOne, serverOne)
	if got := directory.servers["1"].channels["20"]; len(got) != 0 {
		t.Errorf("kept of others: %+v", got)
	}
}

// What failed is tried again when the server changed so that it may work, even where that
// was over before anybody looked; and no more than once for one change.
func TestChangesThatMend(t *testing.T) {
	t.Parallel()
	const shut = `CHANNEL_UPDATE {"id": "20", "type": 0, "guild_id": "1",
		"permission_overwrites": [{"id": "1", "type": 0, "allow": "0", "deny": "2048"}]}`
	const open = `CHANNEL_UPDATE {"id": "20", "type": 0, "guild_id": "1"}`
	shop := domain.Shop{ID: "1", NoticeChannel: "20", StewardRole: "3"}
	refused := &discordgo.RESTError{Response: &http.Response{StatusCode: 403},
		Message: &discordgo.APIErrorMessage{Code: codeMissingPerms}}
	log := new(strings.Builder)
	begin := func() *access {
		log.Reset()
		seen := newAccess(slog.New(slog.NewTextHandler(log, nil)))
		seen.directory = told(t, readyOne, serverOne)
		if seen.serverChanged(shop) {
			t.Error("nothing failed, and it is tried again")
		}
		return seen
	}
	changed := func(a *access, when string, want bool) {
		t.Helper()
		if got := a.serverChanged(shop); got != want {
			t.Errorf("%s: tried again %v, want %v", when, got, want)
		}
	}
	begun := begin()
	tell(t, begun.directory, shut)
	changed(begun, "shut", false)
	begun.failed(shop, refused)
	changed(begun, "shut still", false)
	tell(t, begun.directory, open)
	changed(begun, "open again", true)
	changed(begun, "looked at again", false)
	if lines := log.String(); strings.Count(lines, "lack something") != 1 || strings.Count(lines,
		"lack nothing") != 1 ||
		!strings.Contains(lines, "lacks=send") {
		t.Errorf("logged: %s", lines)
	}

	begun = begin()
	tell(t, begun.directory, shut)
	begun.failed(shop, refused)
	tell(t, begun.directory, open)
	changed(begun, "shut and open before anybody looked", true)

	// Refused for a reason that nothing told of the server shows, it waits for its time.
	begun = begin()
	begun.failed(shop, refused)
	if !begun.channel("1", "20").Closed() {
		t.Error("refused, and not told")
	}
	tell(t, begun.directory, open)
	changed(begun, "nothing is different", false)
	begun.worked(shop)
	tell(t, begun.directory, `GUILD_ROLE_UPDATE {"guild_id": "1", "role": {"id": "3", "permissions": "0"}}`)
	changed(begun, "nothing failed any more", false)
}

// A tag-out that could not be posted is known to those who hung its tags until it is.
func TestUnposted(t *testing.T) {
	t.Parallel()
	seen := newAccess(slog.New(slog.DiscardHandler))
	asked := chat{access: seen}
	notice := func(key, machine string, by ...domain.PersonID) domain.Notice {
		n := domain.Notice{Key: key, Topic: domain.TopicTagOut, Args: domain.NoticeArgs{Machine: machine}}
		for _, p := range by {
			n.Args.Tags = append(n.Args.Tags, domain.Tag{By: p})
		}
		return n
	}
	known := func(when string, p domain.PersonID, want ...string) {
		t.Helper()
		if got := asked.Unposted("1", p); !slices.Equal(got, want) {
			t.Errorf("%s: %q is told of %q, want %q", when, p, got, want)
		}
	}
	seen.notePost("1", notice("m1/out/1", "Marble", "ada", "bo"), errNotConnected)
	seen.notePost("1", notice("m2/out/1", "Anvil", "ada"), errNotConnected)
	seen.notePost("1", notice("m2/out/1", "Anvil", "ada"), errNotConnected)
	due := notice("m3/due", "Ribbon", "ada")
	due.Topic = domain.TopicDue
	seen.notePost("1", due, errNotConnected)
	known("two failed", "ada", "Anvil", "Marble")
	known("two failed", "bo", "Marble")
	known("two failed", "chidi")
	if got := asked.Unposted("2", "ada"); len(got) != 0 {
		t.Errorf("in another shop: %q", got)
	}
	seen.notePost("1", notice("m1/out/1", "Marble", "ada", "bo"), nil)
	known("one came", "ada", "Anvil")
	seen.notePost("1", notice("m2/out/1", "Anvil", "ada"), nil)
	if len(seen.unposted) != 0 {
		t.Errorf("kept: %+v", seen.unposted)
	}
	for i := range mostUnposted + 5 {
		seen.notePost("1", notice(fmt.Sprint(i), "Marble", "ada"), errNotConnected)
	}
	if n := len(seen.unposted["1"]); n != mostUnposted {
		t.Errorf("%d are kept", n)
	}
}
