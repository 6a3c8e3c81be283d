package commands_test

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/store"
)

// BenchmarkHours times one report of hours, from the request to its reply, with
// a real store.
func BenchmarkHours(b *testing.B) {
	db, err := store.Open(context.Background(), filepath.Join(b.TempDir(), "shop.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	cat, err := words.Load()
	if err != nil {
		b.Fatal(err)
	}
	desk := commands.NewDesk(func(id domain.ShopID) commands.Books { return db.Shop(id) }, db, cat)
	n := 0
	run := func(who, name string, options map[string]string) {
		n++
		r := desk.Run(context.Background(), commands.Request{ID: fmt.Sprint(n), Shop: "one", Actor: actor(who), Name: name, Options: options, Now: start.Add(time.Duration(n) * time.Second)})
		if r.Refused {
			b.Fatal(r.Headline)
		}
	}
	run("owner", "shop add", map[string]string{"name": "Marble", "kind": "thickness-planer"})
	for b.Loop() {
		run("ada", "hours", map[string]string{"machine": "Marble", "hours": "1 min", "sure": "yes"})
	}
}
