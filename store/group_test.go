package store_test

import (
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/store"
)

// listed is what a shop owes at a moment, as keys, each with those that share its
// message.
func listed(t testing.TB, db *store.DB, now time.Time) (all []domain.Undelivered, keys string) {
	t.Helper()
	all, err := db.Undelivered(ctx, "one", now, 50)
	if err != nil {
		t.Fatal(err)
	}
	var words []string
	for _, o := range all {
		word := o.Notice.Key
		for _, n := range o.Notice.Group {
			word += fmt.Sprintf("+%s(%s)", strings.TrimPrefix(n.Key, "m1/due/"), n.Topic)
		}
		words = append(words, word)
	}
	return all, strings.Join(words, " ")
}

// must ends the test where an error is one.
func must(t testing.TB, errs ...error) {
	t.Helper()
	if err := errors.Join(errs...); err != nil {
		t.Fatal(err)
	}
}

// used is that the machine of the tests was used for some hours.
func used(t testing.TB, shop *store.Shop, after time.Duration, hours int64) {
	t.Helper()
	e := entry(fmt.Sprint("used ", after), after, marble, domain.Hours{Seconds: hours * 3600})
	e.Sure = true
	report(t, shop, e)
}

// What falls due on a machine before the first of it was sent is one message; each is
// edited by itself, and says what the others have become.
func TestWhatFallsDueSharesAMessage(t *testing.T) {
	t.Parallel()
	shop, _ := withPlaner(t)
	db := shop.File()
	used(t, shop, time.Hour, 8)
	now := start.Add(time.Hour)
	all, keys := listed(t, db, now)
	if want := "m1/due/bushings/0+bushings/0(due)+dust/0(due)"; keys != want {
		t.Fatalf("due together: %s, want %s", keys, want)
	}
	if next, ok, err := db.NextTry(ctx, start); ok || err != nil {
		t.Errorf("it is tried at %v, %v", next, err)
	}
	// Refused, it still waits, and what falls due meanwhile joins it.
	must(t, db.Sending(ctx, all[0], now), db.Tried(ctx, all[0], now, now, "refused", false))
	used(t, shop, 2*time.Hour, 12)
	all, keys = listed(t, db, now.Add(time.Hour))
	if !strings.HasPrefix(keys, "m1/due/bushings/0+bushings/0(due)+dust/0(due)+") || !strings.Contains(keys,
		"+wax/0(due)") {
		t.Fatalf("after a refusal: %s", keys)
	}
	must(t, db.Sending(ctx, all[0], now), db.Posted(ctx, "one", all[0].ID, "message", now))
	// Then what became of one is an edit of the message, of which the others are a part.
	for _, n := range drain(t, db) {
		if n.Notice.Op == domain.Edit && n.Notice.Target == all[0].Notice.Key && n.Message != "message" {
			t.Errorf("%s is about message %q", n.Notice.Key, n.Message)
		}
	}
	report(t, shop, entry("dusted", 3*time.Hour, marble, domain.ServiceDone{Service: "dust"}))
	all, keys = listed(t, db, now.AddDate(1, 0, 0))
	if len(all) == 0 || all[0].Message != "message" || all[0].Notice.Target != "m1/due/bushings/0" ||
		!strings.Contains(keys, "+bushings/0(due)+dust/0(done)+") || all[0].Last != all[0].ID {
		t.Fatalf("one is done: %s of %+v", keys, all)
	}
	if args := all[0].Notice.Group[0].Args; !args.Late {
		t.Errorf("the other is overdue, but reads %+v", args)
	}
}

// What falls due once a message may stand in the channel is a message of its own; so is
// what fell due between the words of a message and its sending.
func TestWhatFallsDueTooLateToShare(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name string
		do   func(db *store.DB, shop *store.Shop, first domain.Undelivered, more func())
	}{
		{"sent, and no answer yet", func(db *store.DB, shop *store.Shop, first domain.Undelivered, more func()) {
			must(t, db.Sending(ctx, first, start))
			more()
		}},
		{"sent, and no answer", func(db *store.DB, shop *store.Shop, first domain.Undelivered, more func()) {
			must(t, db.Sending(ctx, first, start), db.Tried(ctx, first, start, start, "lost", true))
			more()
		}},
		{"put into words", func(db *store.DB, shop *store.Shop, first domain.Undelivered, more func()) {
			more()
			must(t, db.Sending(ctx, first, start))
		}},
		{"never noted", func(db *store.DB, shop *store.Shop, first domain.Undelivered, more func()) {
			more()
			must(t, db.Posted(ctx, "one", first.ID, "message", start))
		}},
	} {
		shop, _ := withPlaner(t)
		db := shop.File()
		used(t, shop, time.Hour, 8)
		all, _ := listed(t, db, start.Add(time.Hour))
		test.do(db, shop, all[0], func() { used(t, shop, 2*time.Hour, 12) })
		must(t, db.Posted(ctx, "one", all[0].ID, "message", start))
		posts := 0
		for _, o := range drain(t, db) {
			if o.Notice.Op == domain.Post && strings.Contains(o.Notice.Key, "/wax/") {
				posts++
			}
		}
		if posts != 1 {
			t.Errorf("%s: what fell due then is posted %d times, want once", test.name, posts)
		}
	}
}

// What calls the stewards shares no message with what does not.
func TestCallsAreMessagesOfTheirOwn(t *testing.T) {
	t.Parallel()
	shop, _ := withPlaner(t)
	used(t, shop, time.Hour, 100)
	at := start.Add(time.Hour)
	calls, routine := 0, 0
	for {
		all, _ := listed(t, shop.File(), at)
		if len(all) == 0 {
			break
		}
		for _, one := range all {
			for _, n := range one.Notice.Group {
				if n.Args.Call != one.Notice.Args.Call {
					t.Errorf("%s is told of with %s", n.Key, one.Notice.Key)
				}
			}
			if one.Notice.Op == domain.Post && len(one.Notice.Group) > 1 && one.Notice.Args.Call {
				calls++
			} else if one.Notice.Op == domain.Post && len(one.Notice.Group) > 1 {
				routine++
			}
			must(t, shop.File().Sending(ctx, one, at), shop.File().Posted(ctx, "one", one.ID, one.Notice.Key, at))
		}
	}
	if calls != 1 || routine != 1 {
		t.Errorf("%d messages of several calls, %d of several others; want one of each", calls, routine)
	}
}

// What joined a message that waits for quiet hours to end waits with it, and holds nothing
// up, though there are none any more.
func TestWhatJoinedAtNightHoldsNothingUp(t *testing.T) {
	t.Parallel()
	shop, _ := withPlaner(t)
	db := shop.File()
	set := domain.NewShop("one")
	set.Zone, set.Quiet = "UTC", domain.Quiet{From: 22 * 60, Until: 7 * 60}
	report(t, shop, entry("set", time.Minute, 0, domain.ShopSet{Shop: set}))
	used(t, shop, time.Hour, 16)
	report(t, shop, entry("dusted", time.Hour, marble, domain.ServiceDone{Service: "dust"}))
	report(t, shop, entry("oiled", time.Hour, marble, domain.ServiceDone{Service: "bushings"}))
	report(t, shop, entry("tensioned", time.Hour, marble, domain.ServiceDone{Service: "belts-again"}))
	drain(t, db)
	used(t, shop, 15*time.Hour, 4) // 23:00
	set.Quiet = domain.Quiet{}
	report(t, shop, entry("set again", 15*time.Hour+time.Minute, 0, domain.ShopSet{Shop: set}))
	used(t, shop, 16*time.Hour, 4)
	report(t, shop, entry("out", 16*time.Hour, marble, hangsTag))
	if _, keys := listed(t, db, start.Add(16*time.Hour)); keys != "m1/out/1" {
		t.Errorf("at night: %s", keys)
	}
	if _, keys := listed(t, db, start.Add(23*time.Hour)); !strings.Contains(keys, "+wax/0(due)") ||
		!strings.Contains(keys, "+dust/23(due)") {
		t.Errorf("at seven: %s", keys)
	}
}

// wall is a channel that knows for ever what it was sent.
type wall struct {
	says map[string]map[string]string // by message, what it says of each key
	sent map[string]string            // the message by the key that it was sent under
}

// words is what a notice's message says of each thing in it.
func wordsOf(o domain.Undelivered) map[string]string {
	said := map[string]string{}
	for _, n := range o.Notice.Group {
		said[n.Key] = fmt.Sprint(n.Topic, n.Args)
	}
	if len(said) == 0 && o.Notice.Op == domain.Post {
		said[o.Notice.Key] = fmt.Sprint(o.Notice.Topic, o.Notice.Args)
	} else if len(said) == 0 {
		said[o.Notice.Target] = fmt.Sprint(o.Notice.Topic, o.Notice.Args)
	}
	return said
}

// do does what a notice asks.
func (w *wall) do(o domain.Undelivered) (message string) {
	switch o.Notice.Op {
	case domain.Post:
		if _, ok := w.sent[o.Notice.Key]; !ok {
			w.sent[o.Notice.Key] = "message " + o.Notice.Key
			w.says[w.sent[o.Notice.Key]] = wordsOf(o)
		}
		return w.sent[o.Notice.Key]
	case domain.Edit:
		if o.Message != "" {
			w.says[o.Message] = wordsOf(o)
		}
	}
	return ""
}

// Whatever happens, and wherever the program dies, all that ever fell due is told of once,
// as it stood last.
func TestAllThatFellDueIsToldOfOnce(t *testing.T) {
	t.Parallel()
	const seeds = 8
	shared, deaths := 0, 0
	for seed := range uint64(seeds) {
		random := rand.New(rand.NewPCG(seed, 1))
		path := filepath.Join(t.TempDir(), "shop.db")
		copyPrepared(t, path)
		db := open(t, path)
		keepArgs(t, path)
		shop := db.Shop("one")
		set := domain.NewShop("one")
		set.Quiet = domain.Quiet{From: 22 * 60, Until: 7 * 60}
		report(t, shop, entry("set", time.Minute, 0, domain.ShopSet{Shop: set}))
		at, count := time.Hour, 0
		happens := func() {
			count++
			at += time.Duration(random.IntN(20)) * time.Hour
			services := []string{"bushings", "dust", "wax", "belts-again", "gearbox-oil", "drive-chain"}
			service := services[random.IntN(len(services))]
			var body domain.Body
			switch random.IntN(6) {
			case 0, 1:
				body = domain.Hours{Seconds: int64(random.IntN(9)+1) * 3600}
			case 2:
				body = domain.ServiceDone{Service: service}
			case 3:
				body = domain.PutOff{Service: service, Until: start.Add(at).AddDate(0, 0, random.IntN(5)+1),
					Why: "later"}
			case 4:
				body = domain.Problem{Name: fmt.Sprint("hums ", count)}
			default:
				at += time.Duration(random.IntN(20)) * 24 * time.Hour
				if random.IntN(4) > 0 { // otherwise it was switched off, and the digest says it
					must(t, db.SettleDigest(ctx, "one", start.Add(at)))
				}
				_, err := db.Settle(ctx, "one", marble, start.Add(at))
				must(t, err)
				return
			}
			e := entry(fmt.Sprint(count), at, marble, body)
			e.Sure = true
			var refusal *domain.Refusal
			if _, err := shop.Report(ctx, e); err != nil && !errors.As(err, &refusal) {
				t.Fatal(err)
			}
		}
		channel := &wall{says: map[string]map[string]string{}, sent: map[string]string{}}
		// posts goes on with what is owed until it dies or nothing is left.
		posts := func(dying int) {
			for {
				now := start.Add(at)
				all, err := db.Undelivered(ctx, "one", now, random.IntN(5)+1)
				must(t, err)
				for _, one := range all {
					fate := random.IntN(max(dying, 1))
					if dying > 0 && fate == 0 {
						happens() // after it was put into words
					}
					if one.Notice.Op == domain.Post {
						must(t, db.Sending(ctx, one, now))
					}
					if len(one.Notice.Group) > 1 && one.Notice.Op == domain.Post {
						shared++
					}
					if dying > 0 && fate < 4 {
						deaths++
					}
					switch {
					case dying > 0 && fate == 1: // dies before it sends it
						return
					case dying > 0 && fate == 2: // dies before it knows the answer
						channel.do(one)
						return
					case dying > 0 && fate == 3: // refused
						must(t, db.Tried(ctx, one, now, now, "refused", !one.Sent.IsZero()))
						return
					}
					must(t, db.Posted(ctx, "one", one.ID, channel.do(one), now))
				}
				if len(all) == 0 {
					return
				}
			}
		}
		for range 60 {
			happens()
			if random.IntN(3) == 0 {
				posts(8)
			}
		}
		at += 12 * time.Hour
		for range 3 { // past quiet hours
			at += 8 * time.Hour
			posts(0)
		}
		check(t, seed, path, channel)
	}
	if shared < 30 || deaths < 100 {
		t.Errorf("only %d messages were shared, with %d deaths and refusals", shared, deaths)
	}
	t.Logf("%d messages of several, %d deaths and refusals", shared, deaths)
}

// keepArgs keeps what each notice's words are made from, which goes when it is posted.
func keepArgs(t *testing.T, path string) {
	t.Helper()
	file, err := sql.Open("sqlite3", "file:"+path)
	must(t, err)
	defer file.Close()
	_, err = file.Exec(`CREATE TABLE kept_args (id INTEGER PRIMARY KEY, args TEXT NOT NULL);
		INSERT INTO kept_args SELECT id, args FROM outbox;
		CREATE TRIGGER keep_args AFTER INSERT ON outbox BEGIN INSERT INTO kept_args VALUES (new.id, new.args); END`)
	must(t, err)
}

// check holds what stands on a wall against the file's own rows.
func check(t *testing.T, seed uint64, path string, w *wall) {
	t.Helper()
	file, err := sql.Open("sqlite3", "file:"+path+"?mode=ro")
	must(t, err)
	defer file.Close()
	rows, err := file.Query(`SELECT key, op, target, topic, k.args, message, posted IS NOT NULL
		FROM outbox o JOIN kept_args k ON k.id = o.id WHERE k.args <> '' ORDER BY o.id`)
	must(t, err)
	defer rows.Close()
	last, stands := map[string]string{}, map[string]string{}
	var due []string
	for rows.Next() {
		var key, target, args, message string
		var op domain.Op
		var topic domain.Topic
		var posted bool
		must(t, rows.Scan(&key, &op, &target, &topic, &args, &message, &posted))
		if !posted {
			t.Errorf("seed %d: %s is still owed", seed, key)
		}
		decoded, err := domain.DecodeArgs([]byte(args))
		must(t, err)
		switch {
		case op == domain.Post && topic == domain.TopicDue:
			due = append(due, key)
			last[key], stands[key] = fmt.Sprint(topic, decoded), message
		case op == domain.Edit && last[target] != "":
			last[target] = fmt.Sprint(topic, decoded)
		}
	}
	must(t, rows.Err())
	for _, key := range due {
		var in []string
		for message, says := range w.says { // any order: sorted below
			if says[key] != "" {
				in = append(in, message)
				if says[key] != last[key] {
					t.Errorf("seed %d: of %s stands\n%s, want\n%s", seed, key, says[key], last[key])
				}
			}
		}
		slices.Sort(in)
		if stands[key] == "" && len(in) == 0 {
			continue // left to the digest
		}
		if len(in) != 1 || in[0] != stands[key] {
			t.Errorf("seed %d: %s stands in %q, want in %q", seed, key, in, stands[key])
		}
	}
}
