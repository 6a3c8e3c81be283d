package store

import (
	"context"
	"fmt"
	"testing"
	"time"
)

// What an earlier schema owed with a photo is still fetched; of a danger that stands since
// then, or may be one, nobody is called who was never asked.
func TestEarlierSchemasDangers(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	path, old := fileOf(t, 17)
	problem := func(no int, key, body string) string {
		return fmt.Sprintf(`INSERT INTO fact (shop_id, no, machine_id, kind, subject, at, recorded, by_id, for_id, hash,
			setup_rev, body) VALUES ('one', %d, 1, 'problem', '', 50, 50, 'ada', 'ada', '', 0, '%s');
			INSERT INTO problem (shop_id, fact_no, machine_id, key, danger) VALUES ('one', %d, 1, '%s', 0)`,
			no, body, no, key)
	}
	owed := func(key, op, args, posted string) string {
		return fmt.Sprintf(`INSERT INTO outbox (shop_id, machine_id, key, op, target, topic, args, made, posted)
			VALUES ('one', 2, '%s', '%s', '', 'problem', '%s', 60, %s)`, key, op, args, posted)
	}
	photo := `{"v":1,"photo":{"id":"1","name":"a","url":"https://x"}}`
	for _, query := range []string{
		`INSERT INTO tag (shop_id, fact_no, machine_id, cause, because, reason, by_id, at)
			VALUES ('one', 5, 1, 'danger:smoke', 4, '{"code":"danger"}', '', 40)`,
		`INSERT INTO tag (shop_id, fact_no, machine_id, cause, because, reason, by_id, at)
			VALUES ('one', 6, 1, '', 0, '{"code":"said"}', 'ada', 40)`,
		problem(7, "loose", `{"name":"loose"}`), problem(8, "loose", `{"name":"loose","doubt":true}`),
		problem(9, "snipe", `{"name":"snipe"}`),
		owed("a", "post", photo, "NULL"), owed("b", "edit", photo, "NULL"), owed("c", "post", `{"v":1}`, "NULL"),
		owed("d", "post", "", "70"),
	} {
		if _, err := old.Exec(query); err != nil {
			t.Fatal(err)
		}
	}
	if err := old.Close(); err != nil {
		t.Fatal(err)
	}
	db, err := Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if wanted, err := db.PhotosWanted(ctx, 10); err != nil || len(wanted) != 1 || wanted[0].Key != "a" ||
		wanted[0].URL != "https://x" {
		t.Errorf("wanted %+v, %v", wanted, err)
	}
	var keys string
	if err := db.read(ctx, "one", func(t *tx) error {
		_, err := t.row([]any{&keys}, `SELECT group_concat(key || ' ' || message || posted) FROM (SELECT * FROM outbox
			WHERE topic = 'unseen' ORDER BY id)`)
		return err
	}); err != nil || keys != "m1/unseen/5 40,m1/unseen/doubt/7 50" {
		t.Errorf("%q, %v", keys, err)
	}
	if owed, err := db.Undelivered(ctx, "one", time.UnixMilli(1000), 10); err != nil || len(owed) != 1 {
		t.Errorf("owed %+v, %v", owed, err)
	}
}
