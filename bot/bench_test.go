package bot_test

import (
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/bwmarrin/discordgo"
	_ "github.com/mattn/go-sqlite3"

	"setscrew/bot"
	"setscrew/bot/discordtest"
	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/store"
)

// BenchmarkReport times a report of hours, from the moment at which Discord
// sends the command to the moment at which it has the answer, at 1 and 50 a
// second, against a floor measured in the same run: a bare handler of the same
// library that makes one bare durable commit and answers a constant. It reports
// the 50th and 99th percentiles of both, and their ratios.
func BenchmarkReport(b *testing.B) {
	for _, rate := range []int{1, 50} {
		b.Run(fmt.Sprintf("%d-a-second", rate), func(b *testing.B) {
			count := max(b.N, 100)
			if rate == 1 {
				count = max(b.N, 15)
			}
			floorSide, ourSide := floorClient(b), ourClient(b)
			b.ResetTimer()
			floor, ours := make([]time.Duration, 0, count), make([]time.Duration, 0, count)
			var mu sync.Mutex
			var wg sync.WaitGroup
			tick := time.NewTicker(time.Second / time.Duration(rate) / 2)
			defer tick.Stop()
			for i := range 2 * count { // the two sides in turn
				<-tick.C
				wg.Go(func() {
					if i%2 == 0 {
						d := floorSide()
						mu.Lock()
						floor = append(floor, d)
						mu.Unlock()
						return
					}
					d := ourSide()
					mu.Lock()
					ours = append(ours, d)
					mu.Unlock()
				})
			}
			wg.Wait()
			for _, p := range []int{50, 99} {
				f, o := percentile(floor, p), percentile(ours, p)
				b.ReportMetric(float64(f.Microseconds()), fmt.Sprintf("floor-p%d-µs", p))
				b.ReportMetric(float64(o.Microseconds()), fmt.Sprintf("p%d-µs", p))
				b.ReportMetric(float64(o)/float64(f), fmt.Sprintf("p%d-ratio", p))
			}
			b.ReportMetric(0, "ns/op")
		})
	}
}

func percentile(d []time.Duration, p int) time.Duration {
	slices.Sort(d)
	return d[(len(d)-1)*p/100]
}

// timed sends one command and waits for its answer.
func timed(b *testing.B, s *discordtest.Server, g *discordtest.Guild, c *discordtest.Channel, m *discordtest.Member,
	command string, options map[string]string) time.Duration {
	interaction, err := s.Slash(g, c, m, command, options)
	if err != nil {
		b.Error(err)
		return 0
	}
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if _, err := interaction.Wait(ctx); err != nil {
		b.Error(err)
	}
	return time.Since(interaction.Sent())
}

// floorClient is the bare handler.
func floorClient(b *testing.B) func() time.Duration {
	server := discordtest.New()
	b.Cleanup(server.Close)
	guild := server.AddGuild("floor")
	channel, member := server.AddChannel(guild, "general"), server.AddMember(guild, "ada", 0)
	db, err := sql.Open("sqlite3",
		"file:"+filepath.Join(b.TempDir(), "floor.db")+
			"?_journal_mode=WAL&_synchronous=FULL&_busy_timeout=5000&_txlock=immediate")
	if err != nil {
		b.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	b.Cleanup(func() { db.Close() })
	if _, err := db.Exec(`CREATE TABLE fact (id TEXT PRIMARY KEY, body TEXT) STRICT`); err != nil {
		b.Fatal(err)
	}
	session, err := discordgo.New("Bot " + discordtest.Token)
	if err != nil {
		b.Fatal(err)
	}
	session.Client, session.LogLevel = server.Client(), -1
	session.AddHandler(func(ds *discordgo.Session, interaction *discordgo.InteractionCreate) {
		tx, err := db.Begin()
		if err == nil {
			_, err = tx.Exec(`INSERT INTO fact (id, body) VALUES (?, ?)`, interaction.ID, "x")
		}
		if err == nil {
			err = tx.Commit()
		}
		if err == nil {
			err = ds.InteractionRespond(interaction.Interaction,
				&discordgo.InteractionResponse{Type: 4, Data: &discordgo.InteractionResponseData{Content: "logged"}})
		}
		if err != nil {
			b.Error(err)
		}
	})
	if err := session.Open(); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { session.Close() }) //nolint:errcheck
	if _, err := session.ApplicationCommandBulkOverwrite(discordtest.AppID, "",
		[]*discordgo.ApplicationCommand{{Name: "hours", Description: "x"}}); err != nil {
		b.Fatal(err)
	}
	return func() time.Duration { return timed(b, server, guild, channel, member, "hours", nil) }
}

// ourClient is the bot with a shop and a machine.
func ourClient(b *testing.B) func() time.Duration {
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	server := discordtest.New()
	b.Cleanup(server.Close)
	guild := server.AddGuild("ours")
	channel, keeper := server.AddChannel(guild, "general"), server.AddMember(guild, "keeper", discordtest.ManageGuild)
	// As many as it takes that none reports more than one person may in a minute.
	members := make([]*discordtest.Member, 50)
	for i := range members {
		members[i] = server.AddMember(guild, fmt.Sprint("member ", i), 0)
	}
	count := 0
	db, err := store.Open(ctx, filepath.Join(b.TempDir(), "shop.db"))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { db.Close() })
	cat, err := words.Load()
	if err != nil {
		b.Fatal(err)
	}
	desk := commands.NewDesk(func(id domain.ShopID) commands.Books { return db.Shop(id) }, db, cat)
	run, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() {
		ended <- bot.New(bot.Config{Token: discordtest.Token, Client: server.Client(), Desk: desk, Outbox: db,
			Log: slog.New(slog.DiscardHandler),
			Settings: func(ctx context.Context, id domain.ShopID) (domain.Shop,
				error) {
				return db.Shop(id).Shop(ctx)
			}}).Run(run)
	}()
	b.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			b.Errorf("the bot ended with %v", err)
		}
	})
	if err := server.Until(ctx, server.Registered); err != nil {
		b.Fatal(err)
	}
	// A machine that runs: its ticks are made.
	interaction, err := server.Slash(guild, channel, keeper, "shop add", map[string]string{"name": "Marble",
		"kind":  "thickness-planer",
		"state": "in-use"})
	for err == nil {
		var reply discordtest.Reply
		if reply, err = interaction.Wait(ctx); err != nil || len(reply.Buttons) == 0 {
			break
		}
		interaction, err = server.Press(interaction, keeper, "Seen: ")
	}
	if err != nil {
		b.Fatal(err)
	}
	return func() time.Duration {
		count++
		return timed(b, server, guild, channel, members[count%len(members)], "hours",
			map[string]string{"machine": "Marble", "hours": "1 min", "sure": "yes"})
	}
}
