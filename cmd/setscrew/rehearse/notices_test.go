package rehearse

import (
	"path/filepath"
	"strings"
	"testing"
)

// A button of a notice is pressed by its words, also when the rehearsal was left since,
// and in its own shop alone; once an edit has taken it away there is none.
func TestPressNotices(t *testing.T) {
	t.Parallel()
	db := filepath.Join(t.TempDir(), "shop.db")
	const press = `press "I see to it"`
	first, err := perform(t, Config{DB: db}, press, `/problem machine:Marble what:smoke`)
	if err != nil || strings.Count(first, "has no button") != 1 || !strings.Contains(first, "| [I see to it]") {
		t.Errorf("%v\n%s", err, first)
	}
	second, err := perform(t, Config{DB: db}, "notices", `as wren in "Tin Lane"`, press,
		`as wren in "Quarry Street Commons"`, press, press, "notices")
	if err != nil || strings.Count(second, "You see to Marble") != 1 || strings.Count(second, "has no button") != 2 ||
		strings.Count(second, "| [I see to it]") != 1 || !strings.Contains(second, "| wren sees to it.") {
		t.Errorf("%v\n%s", err, second)
	}
}
