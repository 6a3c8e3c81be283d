package domain_test

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"setscrew/domain"
)

// Every field of a person in what is stored stands under a key that is known to be a
// person's, and nothing else that is a text does.
func TestPersonKeys(t *testing.T) {
	t.Parallel()
	person := reflect.TypeFor[domain.PersonID]()
	seen, used := map[reflect.Type]bool{}, map[string]bool{}
	var walk func(of reflect.Type, path string)
	walk = func(of reflect.Type, path string) {
		switch of.Kind() {
		case reflect.Pointer, reflect.Slice, reflect.Array:
			walk(of.Elem(), path)
		case reflect.Map:
			if of.Key() == person {
				t.Errorf("%s: people are a map's keys, which are not renamed", path)
			}
			walk(of.Elem(), path)
		case reflect.Struct:
			if seen[of] {
				return
			}
			seen[of] = true
			for i := range of.NumField() {
				field := of.Field(i)
				if !field.IsExported() {
					continue
				}
				key, _, _ := strings.Cut(field.Tag.Get("json"), ",")
				if key == "" {
					key = field.Name
				}
				inner := field.Type
				for inner.Kind() == reflect.Pointer || inner.Kind() == reflect.Slice {
					inner = inner.Elem()
				}
				switch is := inner == person; {
				case is:
					used[key] = true
					if !domain.PersonKeys[key] {
						t.Errorf("%s.%s: a person under the key %q, which is not known", path, field.Name, key)
					}
				case domain.PersonKeys[key] && inner.Kind() == reflect.String:
					t.Errorf("%s.%s: no person under the key %q", path, field.Name, key)
				}
				walk(field.Type, path+"."+field.Name)
			}
		}
	}
	for _, body := range samples() {
		walk(reflect.TypeOf(body), fmt.Sprintf("%T", body))
	}
	walk(reflect.TypeFor[domain.NoticeArgs](), "NoticeArgs")
	walk(reflect.TypeFor[domain.Setup](), "Setup")
	walk(reflect.TypeFor[domain.Shop](), "Shop")
	for key := range domain.PersonKeys { // any order
		if !used[key] {
			t.Errorf("nobody stands under %q", key)
		}
	}
}

// A person is renamed where an id stands as such, and in mentions; everything else stays
// to the byte, however it is written.
func TestRenamePerson(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ text, want string }{
		{`{"by":"12","note":"12"}`, `{"by":"former-x","note":"12"}`},
		{` { "by" : "12" , "n" : 1.50, "e": 1e3 }`, ` { "by" : "former-x" , "n" : 1.50, "e": 1e3 }`},
		{`{"people":["11","12","13"],"note":"a"}`, `{"people":["11","former-x","13"],"note":"a"}`},
		{`{"away":{"person":"12","deputy":"13"}}`, `{"away":{"person":"former-x","deputy":"13"}}`},
		{`{"m":{"a":{"by":"12","at":"t"},"12":{"by":"13"}},"by":"12"}`,
			`{"m":{"a":{"by":"former-x","at":"t"},"12":{"by":"13"}},"by":"former-x"}`},
		{`{"note":"\"<@12> and <@!12>\", <@123> \\"}`,
			`{"note":"\"a former member and a former member\", \u003c@123\u003e \\"}`},
		{`{"note":"\u003c@12\u003e\n\"","by":null,"tags":[{"by":"12"}]}`,
			`{"note":"a former member\n\"","by":null,"tags":[{"by":"former-x"}]}`},
		{`{"note":"\u003c@13\u003e é \"12\"","x":[[],{},"12",true]}`,
			`{"note":"\u003c@13\u003e é \"12\"","x":[[],{},"12",true]}`},
		{`{"name":{"by":"12"},"after":"12"}`, `{"name":{"by":"former-x"},"after":"12"}`},
	} {
		got, err := domain.RenamePerson([]byte(test.text), "12", "former-x")
		if err != nil || string(got) != test.want {
			t.Errorf("%s\n%s, want\n%s, %v", test.text, got, test.want, err)
		}
		if !json.Valid(got) {
			t.Errorf("%s is no JSON", got)
		}
		people, err := domain.PeopleIn(got)
		if err != nil || slices.Contains(people, "12") {
			t.Errorf("%s: still there: %v, %v", got, people, err)
		}
	}
	got, err := domain.PeopleIn([]byte(`{"by":"12","a":["<@13> <@!12>"],"people":["14",""],"note":"15"}`))
	if err != nil || !slices.Equal(got, []domain.PersonID{"12", "13", "14"}) {
		t.Errorf("people %v, %v", got, err)
	}
	if _, err := domain.RenamePerson([]byte(`{"by":`), "12", "x"); err == nil {
		t.Error("half of it is taken")
	}
}

// In a command as it was given a person is an option's value, or mentioned.
func TestRenameTyped(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ text, want string }{
		{`/hours hours:"12" machine:"Marble" for:"12"`, `/hours hours:"12" machine:"Marble" for:"former-x"`},
		{`/hours for:12 note:"by 12, <@12>"`, `/hours for:former-x note:"by 12, a former member"`},
		{`/shop away deputy:@12`, `/shop away deputy:@former-x`},
		{`/hours for:123`, `/hours for:123`},
	} {
		if got := domain.RenameTyped(test.text, "12", "former-x"); got != test.want {
			t.Errorf("%s\n%s, want\n%s", test.text, got, test.want)
		}
	}
}
