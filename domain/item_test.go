package domain

import (
	"encoding/json"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestItemText(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]Item{
		"": {}, "check:infeed": CheckItem.Of("infeed"), "check:gap.rough-cut": CheckItem.Of("gap").In("rough-cut"),
		"service:belts-again": ServiceItem.Of("belts-again"), "event:knives": EventItem.Of("knives"),
		"adjuster:l":        AdjusterItem.Of("l"),
		"question:deep-cut": QuestionItem.Of("deep-cut"), "cause:pitch": CauseItem.Of("pitch"),
		"second:guards": SecondItem.Of("guards"),
		"needs":         {Kind: NeedsItem}, "reporting": {Kind: ReportingItem},
		"start": {Kind: StartItem},
	} {
		got, err := ParseItem(text)
		if err != nil || got != want || got.String() != text {
			t.Errorf("ParseItem(%q) = %+v, %v, text %q; want %+v", text, got, err, got.String(), want)
		}
	}
	for _, text := range []string{":", "check", "check:", "check:.a", "check:a.", "check:a.b.c", "check:A",
		"service:a.b", "cause:a:b", "needs:",
		"needs:a", "screw:a", "a", " check:a", "check:a/b"} {
		if got, err := ParseItem(text); err == nil {
			t.Errorf("ParseItem(%q) = %+v, want an error", text, got)
		}
	}
	if i := CheckItem.Of("gap").In(""); i != CheckItem.Of("gap") {
		t.Errorf("in no mode it is %+v", i)
	}
}

// What is stored holds an item's text alone, in lists and as a map's key.
func TestItemStored(t *testing.T) {
	t.Parallel()
	const stored = `{"about":"cause:pitch","items":["service:oil","check:gap.rough"],` +
		`"by":{"check:gap.rough":1,"needs":2}}`
	type holder struct {
		About Item         `json:"about"`
		Items []Item       `json:"items"`
		By    map[Item]int `json:"by"`
	}
	var got holder
	if err := json.Unmarshal([]byte(stored), &got); err != nil {
		t.Fatal(err)
	}
	gap := CheckItem.Of("gap").In("rough")
	want := holder{CauseItem.Of("pitch"), []Item{ServiceItem.Of("oil"), gap},
		map[Item]int{gap: 1, {Kind: NeedsItem}: 2}}
	if d := cmp.Diff(got, want); d != "" {
		t.Errorf("read (-got +want):\n%s", d)
	}
	if text, err := json.Marshal(got); err != nil || string(text) != stored {
		t.Errorf("written %s, %v; want %s", text, err, stored)
	}
	if err := json.Unmarshal([]byte(`{"about":"screw:x"}`), &got); err == nil {
		t.Error("an item of no kind was read")
	}
}

func FuzzItem(f *testing.F) {
	for _, seed := range []string{"", "check:a.b", "service:a-1", "needs", "check:", "cause:a:b"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		item, err := ParseItem(text)
		if err != nil {
			if item != (Item{}) {
				t.Errorf("ParseItem(%q) fails with %+v", text, item)
			}
			return
		}
		if item.String() != text {
			t.Errorf("ParseItem(%q) writes %q", text, item.String())
		}
		if again, err := ItemKind(item.Kind).Parse(item.Local()); text != "" && (err != nil || again != item) {
			t.Errorf("%q is %+v, its local text %q reads %+v, %v", text, item, item.Local(), again, err)
		}
	})
}
