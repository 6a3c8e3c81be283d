package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"setscrew/bot"
	"setscrew/bot/discordtest"
	"setscrew/domain"
	"setscrew/store"
)

// program is the real binary, running against the fake Discord.
type program struct {
	cmd  *exec.Cmd
	done chan error
}

// buildOnce builds the binary for all tests, into a directory that lasts as long as they do.
var buildOnce = sync.OnceValues(func() (string, error) {
	path := filepath.Join(binaries, "setscrew")
	if out, err := exec.Command("go", "build", "-o", path, ".").CombinedOutput(); err != nil {
		return "", fmt.Errorf("go build: %w\n%s", err, out)
	}
	return path, nil
})

// buildProgram is the path of the built binary.
func buildProgram(t *testing.T) string {
	t.Helper()
	path, err := buildOnce()
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// startProgram starts the binary, or, where its clock runs ahead, the same program
// out of the test's own binary.
func startProgram(t *testing.T, binary, db string, server *discordtest.Server, ahead time.Duration,
	log io.Writer) *program {
	t.Helper()
	cmd := exec.Command(binary, "run", "--db", db)
	if _, err := os.Stat(db); err != nil {
		cmd.Args = append(cmd.Args, "--new")
	}
	if ahead > 0 {
		cmd = exec.Command(aheadProgram, db, ahead.String())
	}
	cmd.Env = append(os.Environ(), tokenVariable+"="+discordtest.Token, apiVariable+"="+server.URL())
	cmd.Stderr = log
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	p := &program{cmd, make(chan error, 1)}
	go func() { p.done <- cmd.Wait() }()
	return p
}

// aheadProgram is the command by which the test's binary runs as the program, with the
// books and how far its clock is ahead as its arguments.
const aheadProgram = "setscrew-ahead"

// runAhead is the program with its clock ahead.
func runAhead() {
	ahead, err := time.ParseDuration(os.Args[2])
	if err == nil {
		ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
		defer stop()
		program := runCmd{booksFile: booksFile{os.Args[1]}, Now: func() time.Time { return time.Now().Add(ahead) }}
		err = program.Run(ctx, streams{os.Stdin, os.Stdout, os.Stderr, program.Now})
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(exitFailed)
	}
}

// stop ends the program as its supervisor would and waits.
func (p *program) stop(t *testing.T) {
	t.Helper()
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	select {
	case err := <-p.done:
		if err != nil {
			t.Errorf("stopped: %v", err)
		}
	case <-time.After(15 * time.Second):
		t.Error("not stopped within 15 s")
		p.cmd.Process.Kill() //nolint:errcheck
	}
}

var kills = flag.Int("kills", 0, "how often each kill test kills the program; 0 for the usual number")

// The real program is killed forty times, at random moments and at the moments
// that matter: when a report is committed but not acknowledged, when a notice is
// about to be posted, and when it is posted but not confirmed. No acknowledged
// report is lost, none is doubled; no notice is lost, none is doubled.
func TestKilledFortyTimes(t *testing.T) {
	t.Parallel()
	killed(t, 40, 0, false)
}

// The same holds where it rests for five minutes each time, longer than Discord knows
// that it was sent a notice before.
func TestKilledAndRested(t *testing.T) {
	t.Parallel()
	killed(t, 10, 5*time.Minute, false)
}

// Where the channel may not be read either, routine notices are not doubled; lost is only
// what was about to be sent, and nobody knows whether it was.
func TestKilledAndRestedUnseen(t *testing.T) {
	t.Parallel()
	killed(t, 10, 5*time.Minute, true)
}

// killed kills the program that many times, and starts it again after a rest, for which
// its clock and Discord's are put forward. What is reported calls the stewards or, where
// the channel may not be read, is routine.
func killed(t *testing.T, rounds int, rest time.Duration, unseen bool) {
	t.Helper()
	if *kills > 0 {
		rounds = *kills
	}
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute+time.Duration(rounds)*10*time.Second)
	defer cancel()
	binary := buildProgram(t)
	db := filepath.Join(t.TempDir(), "shop.db")
	server := discordtest.New()
	server.IdentifyEvery = time.Millisecond // the program is started again at once
	// Each kill at a post falls on one that is taken, not on one that is refused for now.
	server.ChannelPosts = -1
	defer server.Close()
	// Where the next kill falls: at a request whose path begins so, before or
	// after it takes effect; or, if path is "", at a random moment.
	type point struct {
		path   string
		served bool
	}
	points := []point{{"", false}, {"/interactions/", false}, {"/interactions/", true}, {"/channels/", false},
		{"/channels/", true}}
	var armed atomic.Pointer[point]
	var victim atomic.Pointer[program]
	fallen := make([]int, len(points))
	server.OnRequest = func(method, path string, served bool) {
		a := armed.Load()
		if a == nil || a.path == "" || method != "POST" || !strings.HasPrefix(path, a.path) || served != a.served ||
			!armed.CompareAndSwap(a, nil) {
			return
		}
		victim.Load().cmd.Process.Kill() //nolint:errcheck
	}
	server.Problem = func(p string) { t.Errorf("Discord would refuse: %s", p) }
	guild := server.AddGuild("Quarry Street Commons")
	channel := server.AddChannel(guild, "notices")
	if unseen {
		server.SetPermissions(channel, discordtest.AllPermissions&^discordtest.ReadHistory)
	}
	role := server.AddRole(guild, "stewards")
	server.MakeMentionable(guild, role, true)
	keeper := server.AddMember(guild, "keeper", discordtest.ManageGuild)
	wren := server.AddMember(guild, "wren", 0, role)
	ada := server.AddMember(guild, "ada", 0)
	// Nobody may report as much in a minute as all of them do together.
	members := []*discordtest.Member{ada, server.AddMember(guild, "bo", 0), server.AddMember(guild, "chidi", 0),
		server.AddMember(guild, "ishaan", 0)}
	var log logged

	program := startProgram(t, binary, db, server, 0, &log)
	say := func(m *discordtest.Member, command string, options map[string]string) discordtest.Reply {
		t.Helper()
		i, err := server.Slash(guild, channel, m, command, options)
		if err != nil {
			t.Fatal(err)
		}
		r, err := i.Wait(ctx)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	if err := server.Until(ctx, server.Registered); err != nil {
		t.Fatalf("%v\n%s", err, log.String())
	}
	say(keeper, "shop settings", map[string]string{"notices": channel.ID, "stewards": role})
	say(wren, "shop add", map[string]string{"name": "Marble", "kind": "thickness-planer", "state": "new"})
	say(wren, "tagout", map[string]string{"machine": "Marble", "reason": "kept out of service"})
	settled := func() {
		t.Helper()
		for deadline := time.Now().Add(2 * time.Minute); undelivered(t, db) > 0 && time.Now().Before(deadline); {
			time.Sleep(100 * time.Millisecond)
		}
	}
	settled()

	type sent struct {
		i  *discordtest.Interaction
		ok bool
	}
	var reports []*sent
	random := rand.New(rand.NewPCG(1, 2))
	var rested time.Duration
	again := func() {
		t.Helper()
		server.Advance(rest)
		rested += rest
		connections := server.Connections()
		program = startProgram(t, binary, db, server, rested, &log)
		if err := server.UntilConnected(ctx, connections+1); err != nil {
			t.Fatalf("%v\n%s", err, log.String())
		}
	}
	for count := range rounds {
		if count > 0 {
			again()
		}
		at := count % len(points)
		victim.Store(program)
		armed.Store(&points[at])
		var wg sync.WaitGroup
		answered, noMore := context.WithTimeout(ctx, 20*time.Second)
		for _, member := range members {
			command, options, said := "hours", map[string]string{"machine": "Marble", "hours": "1 min", "sure": "yes"},
				"1 min logged"
			if unseen {
				command, said = "problem", "recorded, no."
				options = map[string]string{"machine": "Marble", "what": fmt.Sprintf("hums tune %d", len(reports))}
			}
			interaction, err := server.Slash(guild, channel, member, command, options)
			if err != nil {
				t.Fatal(err)
			}
			r := &sent{i: interaction}
			reports = append(reports, r)
			wg.Go(func() {
				reply, err := interaction.Wait(answered)
				r.ok = err == nil && strings.Contains(reply.Content, said)
			})
		}
		if points[at].path == "" {
			wait := time.Duration(random.Int64N(int64(40 * time.Millisecond)))
			time.AfterFunc(wait, func() { program.cmd.Process.Kill() }) //nolint:errcheck // it may have ended by itself
		}
		select {
		case <-program.done: //nolint:errcheck // it was killed
			fallen[at]++
		case <-time.After(20 * time.Second):
			t.Fatalf("round %d: still alive\n%s", count, log.String())
		}
		// What it had sent arrives within moments; nothing more comes of a dead program.
		time.AfterFunc(300*time.Millisecond, noMore)
		wg.Wait()
	}
	armed.Store(nil)
	// One more start settles what is owed.
	again()
	say(ada, "hours", map[string]string{"machine": "Marble", "hours": "1 min", "sure": "yes"})
	settled()
	program.stop(t)

	books, err := store.Open(ctx, db)
	if err != nil {
		t.Fatal(err)
	}
	defer books.Close()
	shop := books.Shop(domain.ShopID(guild.ID))
	recorded := map[domain.FactNo]bool{}
	for no := domain.FactNo(1); ; no++ {
		f, err := shop.Fact(ctx, no)
		if err != nil {
			break
		}
		switch f.Body.(type) {
		case domain.Hours:
			recorded[no] = !unseen
		case domain.Problem:
			recorded[no] = true
		}
	}
	acknowledged := 0
	for n, report := range reports {
		if report.ok {
			acknowledged++
		}
		outcome, err := shop.Report(ctx, domain.Entry{Key: report.i.ID, Machine: 1, At: server.Now(),
			Recorded: server.Now(),
			By:       domain.PersonID(fmt.Sprint("x", n%10)), For: "x", Body: domain.Hours{Seconds: 1}, Sure: true})
		if err != nil {
			t.Fatal(err)
		}
		if report.ok && !outcome.Repeated {
			t.Errorf("report %s was acknowledged and is lost", report.i.ID)
		}
	}
	if len(recorded) < acknowledged || len(recorded) > len(reports)+1 {
		t.Errorf("%d recorded, %d acknowledged, %d sent", len(recorded), acknowledged, len(reports)+1)
	}
	seen := map[string]int{}
	for _, m := range server.Messages(channel) {
		_, ref, ok := strings.Cut(m.Content, "-# notice ")
		if !ok {
			t.Errorf("a message without a reference: %q", m.Content)
		}
		seen[ref]++
		if seen[ref] > 1 {
			t.Errorf("notice %s stands %d times", ref, seen[ref])
		}
	}
	lost := 0
	for no, owed := range recorded {
		if !owed {
			continue
		}
		count := 0
		for _, m := range server.Messages(channel) {
			if strings.Contains(m.Content, fmt.Sprintf("(no. %d)", no)) ||
				strings.Contains(m.Content, fmt.Sprintf("\\(no. %d\\)", no)) {
				count++
			}
		}
		switch {
		case count == 0 && unseen:
			lost++
		case count != 1:
			t.Errorf("the notice of report no. %d stands %d times", no, count)
		}
	}
	if given := strings.Count(log.String(), "was not sent again"); lost > given || unseen != (given > 0) {
		t.Errorf("%d notices are lost, and %d were given up", lost, given)
	}
	t.Logf("killed %v times at %v; %d reports sent, %d acknowledged, %d recorded, %d notices, %d lost", fallen, points,
		len(reports), acknowledged, len(recorded), len(seen), lost)
}

// undelivered counts what is still owed, through a connection of its own.
func undelivered(t *testing.T, db string) int {
	t.Helper()
	books, err := store.Open(context.Background(), db)
	if err != nil {
		t.Fatal(err)
	}
	defer books.Close()
	ctx, later, count := context.Background(), time.Now().AddDate(1, 0, 0), 0
	shops, err := books.ShopsUndelivered(ctx, later)
	if err != nil {
		t.Fatal(err)
	}
	for _, shop := range shops {
		all, err := books.Undelivered(ctx, shop, later, 100)
		if err != nil {
			t.Fatal(err)
		}
		count += len(all)
	}
	return count
}

// Each refusal after which a program must not come back ends it with its own words, on
// standard error and in the log, and a status of its own, which the guide lists.
func TestRunEndsByItsCode(t *testing.T) {
	t.Parallel()
	binary := buildProgram(t)
	guide, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	said := map[string]bool{}
	for _, code := range []int{4004, 4010, 4011, 4012, 4013, 4014} {
		server := discordtest.New()
		server.CloseNext(code)
		cmd := exec.Command(binary, "run", "--new", "--db", filepath.Join(t.TempDir(), "shop.db"))
		cmd.Env = append(cleanEnv(), tokenVariable+"="+discordtest.Token, apiVariable+"="+server.URL())
		out, err := cmd.CombinedOutput()
		server.Close()
		var ended *exec.ExitError
		if !errors.As(err, &ended) || ended.ExitCode() != code-4000 {
			t.Errorf("%d: %v\n%s", code, err, out)
		}
		words := bot.Refused{Code: code}.Error()
		if !strings.Contains(string(out), "setscrew: "+words+"\n") ||
			!strings.Contains(string(out), fmt.Sprintf("msg=ended error=%q", words)) || said[words] {
			t.Errorf("%d: %s\nwant %q, once as an error and once in the log", code, out, words)
		}
		said[words] = true
		if !strings.Contains(string(guide), fmt.Sprintf("| %d |", code-4000)) {
			t.Errorf("README lacks status %d", code-4000)
		}
	}
}

// A missing or refused token is said plainly, and the token itself never is.
func TestRunSaysWhatIsWrong(t *testing.T) {
	t.Parallel()
	binary := buildProgram(t)
	server := discordtest.New()
	defer server.Close()
	dir := t.TempDir()
	empty := filepath.Join(dir, "empty")
	if err := os.WriteFile(empty, []byte("\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	const wrong = "a-wrong-token-that-must-not-be-shown"
	for _, test := range []struct {
		env  []string
		want string
	}{
		{nil, "no token: put"},
		{[]string{tokenFileVariable + "=" + filepath.Join(dir, "missing")}, "no such file"},
		{[]string{tokenFileVariable + "=" + empty}, "no token: put"},
		{[]string{tokenVariable + "=two words"}, "is not a token"},
		{[]string{tokenVariable + "=" + wrong, apiVariable + "=" + server.URL()}, "Discord refuses the token"},
		{[]string{tokenVariable + "=x", apiVariable + "=http://discord.example"}, "must be an address on this machine"},
	} {
		cmd := exec.Command(binary, "run", "--new", "--db", filepath.Join(dir, "shop.db"))
		cmd.Env = append(cleanEnv(), test.env...)
		out, err := cmd.CombinedOutput()
		if err == nil || !strings.Contains(string(out), test.want) || strings.Contains(string(out), wrong) {
			t.Errorf("%v: %v\n%s\nwant %q", test.env, err, out, test.want)
		}
	}
}

func cleanEnv() []string {
	var env []string
	for _, e := range os.Environ() {
		if !strings.HasPrefix(e, "SETSCREW_") {
			env = append(env, e)
		}
	}
	return env
}
