package commands_test

import (
	"strings"
	"testing"

	"setscrew/domain/quantity"
)

// What is set in one call is read in the order in which it is listed: units before
// the shims that are measured in them.
func TestSettingsAreReadInOrder(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	reply := world.as("owner", "shop settings", "units="+quantity.Imperial.String(), "shims=2 5 10")
	shims := func() string {
		for _, row := range reply.Table.Rows {
			if strings.Contains(strings.ToLower(row[0]), "shim") {
				return row[1]
			}
		}
		return "in no row"
	}
	if got := shims(); got != "2, 5, 10 thou" {
		t.Errorf("shims are %q", got)
	}
	reply = world.as("owner", "shop settings", "units="+quantity.Metric.String(), "shims=0.05 0.1")
	if got := shims(); got != "0.05, 0.1 mm" {
		t.Errorf("shims are %q", got)
	}
}

// Of two mistakes in one call the one listed first is always the one that is told.
func TestTheFirstMistakeIsTold(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	if r := world.as("owner", "shop settings", "shims=,"); !r.Refused {
		t.Errorf("no shims: %q", r.Headline)
	}
	for range 40 {
		reply := world.as("owner", "shop settings", "shims=thick", "quiet=always", "zone=Atlantis/Capital")
		if !strings.Contains(reply.Headline, "Atlantis") {
			t.Fatalf("told first: %q", reply.Headline)
		}
		if reply = world.as("owner", "stock", "item=belts", "buy=few", "left=many"); !strings.Contains(reply.Headline,
			"many") {
			t.Fatalf("told first: %q", reply.Headline)
		}
		if reply = world.as("owner", "stock", "item=belts", "left=2", "zeal=none",
			"colour=red"); !strings.Contains(reply.Headline, "colour") {
			t.Fatalf("told first: %q", reply.Headline)
		}
	}
}

// A chat can only name a person, so whoever is named once more is called no longer.
func TestCalledNoLonger(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for _, test := range []struct{ name, want string }{{"ada", "ada"}, {"bo", "bo"}, {"bo", ""}, {"bo", "bo"}} {
		w.must(w.as("owner", "shop settings", "call="+test.name))
		shop, err := w.db.Shop(w.shop).Shop(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if string(shop.Call) != test.want {
			t.Errorf("%s named: %q is called, want %q", test.name, shop.Call, test.want)
		}
	}
}

// A zone is found by its place, and one that keeps no summer time says so.
func TestZoneByPlace(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	for typed, want := range map[string]string{ // any order: each is set by itself
		"new york": "America/New_York", "New York": "America/New_York", "europe/berlin": "Europe/Berlin",
		"berlin": "Europe/Berlin", "America/Argentina/Ushuaia": "America/Argentina/Ushuaia",
		"america/argentina/ushuaia": "America/Argentina/Ushuaia", "tokyo": "Asia/Tokyo", "port-au-prince": "",
		"EST": "EST, which keeps no summer time", "UTC": "UTC, which keeps no summer time", "CET": "CET",
		"atlantis": "", "Local": "", "local": "",
	} {
		reply := world.as("owner", "shop settings", "zone="+typed)
		shown := ""
		for i := 0; reply.Table != nil && i < len(reply.Table.Rows); i++ {
			if row := reply.Table.Rows[i]; row[0] == "zone" {
				shown = row[1]
			}
		}
		shown = strings.NewReplacer("\ue000", "", "\ue00f", "").Replace(shown)
		if want == "" != reply.Refused || shown != want && !reply.Refused {
			t.Errorf("%q: %q, refused %t, want %q", typed, shown, reply.Refused, want)
		}
	}
}
