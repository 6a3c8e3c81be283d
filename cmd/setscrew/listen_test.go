package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/goccy/go-yaml"

	"setscrew/bot/discordtest"
	"setscrew/domain"
	"setscrew/store"
)

// fetch is what an address answers.
func fetch(t *testing.T, url string) (status int, text string) {
	t.Helper()
	resp, err := http.Get(url)
	do(t, err)
	defer resp.Body.Close()
	all, err := io.ReadAll(resp.Body)
	do(t, err)
	return resp.StatusCode, string(all)
}

// figure is a figure's value in what was scraped, by its name with its labels.
func figure(t *testing.T, scraped, name string) float64 {
	t.Helper()
	for line := range strings.Lines(scraped) {
		if value, ok := strings.CutPrefix(line, name+" "); ok {
			n, err := strconv.ParseFloat(strings.TrimSpace(value), 64)
			do(t, err)
			return n
		}
	}
	t.Errorf("%s is not exported:\n%s", name, scraped)
	return 0
}

// ruleNames are the figures, and ruleLabels the values of their labels, that a rule is about.
var (
	ruleNames  = regexp.MustCompile(`setscrew_\w+`)
	ruleLabels = regexp.MustCompile(`(\w+)=~?"([^"]+)"`)
)

// The real program tells how it stands: its health, and figures of what it did; the rules
// that warn by them name figures and labels that there are.
func TestListen(t *testing.T) {
	t.Parallel()
	live := goLive(t, []string{"--listen", ":0"})
	live.ready()
	found := regexp.MustCompile(`msg=listening address=(127\.0\.0\.1:\d+)\n`).FindStringSubmatch(live.log.String())
	if found == nil {
		t.Fatalf("it does not say where it listens:\n%s", live.log.String())
	}
	at := "http://" + found[1]
	if status, text := fetch(t, at+"/healthz"); status != 200 ||
		text != "ok books: writable\nok gateway: connected\nok notices: 0 owed, the oldest for 0s\n" {
		t.Errorf("healthy: %d\n%s", status, text)
	}
	live.says(live.keeper, "shop settings", "notices", live.channel.ID, "stewards", live.stewards)
	live.says(live.wren, "shop add", "name", "Marble", "kind", "thickness-planer", "state", "new")
	live.says(live.ada, "hours", "machine", "Nonesuch", "hours", "1")
	live.server.Fail("POST", "/channels/*/messages", discordtest.BadGateway, 1000)
	live.says(live.ada, "tagout", "machine", "Marble", "reason", "loose")
	live.server.Fail("POST", "/interactions/*", discordtest.APIError(404, 10062, "Unknown interaction"), 1)
	_, err := live.server.Slash(live.guild, live.channel, live.ada, "due", nil)
	do(t, err)
	var scraped string
	for !strings.Contains(scraped, `setscrew_answers_total{name="due",outcome="undelivered"} 1`) {
		if live.ctx.Err() != nil {
			t.Fatalf("the answer that did not arrive is not counted:\n%s", scraped)
		}
		_, scraped = fetch(t, at+"/metrics")
		time.Sleep(50 * time.Millisecond)
	}
	for name, want := range map[string]float64{
		`setscrew_answers_total{name="hours",outcome="refused"}`:                  1,
		`setscrew_answers_total{name="shop add",outcome="done"}`:                  1,
		`setscrew_answer_seconds_count{name="tagout"}`:                            1,
		`setscrew_notices_owed{urgency="release"}`:                                0,
		`setscrew_gateway_connected`:                                              1,
		`setscrew_books_writable`:                                                 1,
		`setscrew_panics_total`:                                                   0,
		fmt.Sprintf(`setscrew_info{version=%q}`, figureVersion(t, live.cmd.Path)): 1,
	} {
		if got := figure(t, scraped, name); got != want {
			t.Errorf("%s is %g, want %g", name, got, want)
		}
	}
	if figure(t, scraped, `setscrew_notices_owed{urgency="danger"}`) < 1 {
		t.Error("the notice that its channel does not take is not counted")
	}
	if figure(t, scraped, `setscrew_sweeps_total{outcome="done"}`) < 1 {
		t.Error("no sweep is counted")
	}
	figure(t, scraped, "setscrew_backup_age_seconds")
	figure(t, scraped, "setscrew_backups")
	for _, word := range []string{"Marble", "Nonesuch", "loose", live.guild.ID, discordtest.Token} {
		if strings.Contains(scraped, word) {
			t.Errorf("the figures tell %q", word)
		}
	}
	// The rules name what there is.
	var file struct {
		Groups []struct {
			Rules []struct{ Alert, Expr string }
		}
	}
	text, err := os.ReadFile("alerts.yml")
	do(t, err)
	do(t, yaml.Unmarshal(text, &file))
	rules, names := 0, 0
	for _, rule := range file.Groups[0].Rules {
		rules++
		for _, name := range ruleNames.FindAllString(rule.Expr, -1) {
			names++
			if !regexp.MustCompile(`(?m)^` + name + `[ {]`).MatchString(scraped) {
				t.Errorf("%s: there is no figure %s", rule.Alert, name)
			}
		}
		for _, label := range ruleLabels.FindAllStringSubmatch(rule.Expr, -1) {
			for value := range strings.SplitSeq(label[2], "|") {
				if label[1] != "job" && !strings.Contains(scraped, fmt.Sprintf("%s=%q", label[1], value)) {
					t.Errorf("%s: no figure is of %s %s", rule.Alert, label[1], value)
				}
			}
		}
	}
	if rules < 8 || names < 8 {
		t.Errorf("%d rules about %d figures were looked at", rules, names)
	}
	// Books that were moved are bad health.
	do(t, os.Rename(live.db, live.db+".moved"))
	if status, text := fetch(t, at+"/healthz"); status != 503 || !strings.Contains(text, "BAD books: ") {
		t.Errorf("without books: %d\n%s", status, text)
	}
	do(t, os.Rename(live.db+".moved", live.db))
	do(t, live.cmd.Process.Signal(syscall.SIGTERM))
	if status, _ := live.ends(); status != exitOK {
		t.Errorf("ended with %d\n%s", status, live.log.String())
	}
}

// figureVersion is a built program's version.
func figureVersion(t *testing.T, binary string) string {
	t.Helper()
	_, out := ended(t, exec.Command(binary, "version"))
	return strings.TrimSpace(strings.TrimPrefix(out, "setscrew "))
}

// Health is bad after a while without Discord, or with an urgent notice that a channel does
// not take; not for one of a shop without a channel, or that only waits for the morning.
func TestHealth(t *testing.T) {
	t.Parallel()
	db, err := store.Use(context.Background(), newBooks(t), store.ForBooks, store.MakeNone)
	do(t, err)
	defer db.Close()
	begun := time.Date(2026, 11, 27, 9, 0, 0, 0, time.UTC)
	now, ails := begun, ""
	stands := standing{db: db, now: func() time.Time { return now }, log: slog.New(slog.DiscardHandler),
		alive: func() (string, time.Time) { return ails, begun }}
	want := func(well bool, line string) {
		t.Helper()
		got, text := stands.health(context.Background())
		if got != well || !slices.Contains(strings.Split(text, "\n"), line) {
			t.Errorf("well %v, want %v and %q\n%s", got, well, line, text)
		}
	}
	want(true, "ok gateway: connected")
	ails, now = "not connected to Discord", begun.Add(awayFor-1)
	want(true, "ok gateway: not connected to Discord since 2026-11-27T09:00:00Z")
	now = begun.Add(awayFor)
	want(false, "BAD gateway: not connected to Discord since 2026-11-27T09:00:00Z")
	ails = ""
	for _, test := range []struct {
		urgency domain.Urgency
		problem string
		after   time.Duration
		well    bool
	}{
		{domain.UrgentDanger, "HTTP 502", stuckFor - time.Second, true},
		{domain.UrgentDanger, "HTTP 502", stuckFor, false},
		{domain.UrgentDanger, "no channel for notices is set", 48 * time.Hour, true},
		{domain.Routine, "HTTP 502", 48 * time.Hour, true},
	} {
		onFile(t, db.Path(), fmt.Sprintf(`DELETE FROM outbox; INSERT INTO outbox
			(shop_id, machine_id, key, op, target, topic, args, made, problem, urgency)
			VALUES ('1', 1, 'k', 'post', '', 'tag-out', '{}', %d, '%s', %d)`, begun.UnixMilli(), test.problem,
			test.urgency))
		now = begun.Add(test.after)
		mark := map[bool]string{true: "ok", false: "BAD"}[test.well]
		want(test.well, fmt.Sprintf("%s notices: 1 owed, the oldest for %s", mark, test.after))
	}
}

// An address without a host is this machine's alone; one that is none is refused.
func TestListenAt(t *testing.T) {
	t.Parallel()
	at, err := listenAt(":0")
	do(t, err)
	defer at.Close()
	if addr := at.Addr().String(); !strings.HasPrefix(addr, "127.0.0.1:") {
		t.Errorf("listens at %s", addr)
	}
	if _, err := listenAt("here"); err == nil || !strings.Contains(err.Error(), "such as 127.0.0.1:9090") {
		t.Errorf("no address: %v", err)
	}
}
