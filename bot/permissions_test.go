package bot

import (
	"encoding/json"
	"testing"
)

// What a member may do in a channel follows from roles and overwrites in Discord's order:
// everybody's, the roles' together, the member's own; an administrator may do everything,
// and who may not see a channel nothing.
func TestPermissionsInAChannel(t *testing.T) {
	t.Parallel()
	const server, self = "1", "9"
	const talk = mayView | maySend
	setscrew := member{server: server, id: self, roles: []string{"2", "3"}}
	roles := func(everybody, second, third permissions) map[string]role {
		return map[string]role{server: {May: everybody}, "2": {May: second}, "3": {May: third},
			"4": {May: mayEverything}}
	}
	ofRole := func(id string, allow, deny permissions) overwrite {
		return overwrite{ID: id, Kind: overwriteRole, Allow: allow, Deny: deny}
	}
	ofMember := func(id string, allow, deny permissions) overwrite {
		return overwrite{ID: id, Kind: overwriteMember, Allow: allow, Deny: deny}
	}
	for _, test := range []struct {
		name  string
		who   member
		roles map[string]role
		all   []overwrite
		want  permissions
	}{
		{"what everybody may", setscrew, roles(talk, 0, 0), nil, talk},
		{"roles add", setscrew, roles(mayView, maySend, mayPin), nil, talk | mayPin},
		{"a role that it has not", member{server: server, id: self}, roles(mayView, maySend, mayPin), nil, mayView},
		{"a role that is gone", member{server: server, id: self, roles: []string{"5"}}, roles(talk, 0, 0), nil, talk},
		{"denied everybody", setscrew, roles(talk, talk, 0), []overwrite{ofRole(server, 0, maySend)}, mayView},
		{"allowed everybody", setscrew, roles(mayView, 0, 0), []overwrite{ofRole(server, maySend, 0)}, talk},
		{"a role's allowance beats everybody's denial", setscrew, roles(talk, 0, 0),
			[]overwrite{ofRole("2", maySend, 0), ofRole(server, 0, maySend)}, talk},
		{"a role's denial beats everybody's allowance", setscrew, roles(talk, 0, 0),
			[]overwrite{ofRole("2", 0, maySend), ofRole(server, maySend, 0)}, mayView},
		{"one role's allowance beats another's denial", setscrew, roles(talk, 0, 0),
			[]overwrite{ofRole("2", maySend, 0), ofRole("3", 0, maySend)}, talk},
		{"whichever stands first", setscrew, roles(talk, 0, 0),
			[]overwrite{ofRole("3", 0, maySend), ofRole("2", maySend, 0)}, talk},
		{"another role's overwrite", setscrew, roles(talk, 0, 0), []overwrite{ofRole("4", mayPin, maySend)}, talk},
		{"its own denial beats its roles'", setscrew, roles(talk, 0, 0),
			[]overwrite{ofMember(self, 0, maySend), ofRole("2", maySend, 0)}, mayView},
		{"its own allowance beats its roles'", setscrew, roles(talk, 0, 0),
			[]overwrite{ofMember(self, maySend, 0), ofRole("2", 0, maySend)}, talk},
		{"its own, allowed and denied", setscrew, roles(talk, 0, 0), []overwrite{ofMember(self, maySend, maySend)},
			talk},
		{"another member's", setscrew, roles(talk, 0, 0), []overwrite{ofMember("8", 0, talk)}, talk},
		{"a member's of a role's id", setscrew, roles(talk, 0, 0), []overwrite{ofMember("2", 0, talk)}, talk},
		{"a role's of its own id", setscrew, roles(talk, 0, 0), []overwrite{ofRole(self, 0, talk)}, talk},
		{"an administrator", setscrew, roles(0, mayAdministrate, 0), []overwrite{ofMember(self, 0, talk)},
			mayEverything},
		{"no administrator by an overwrite", setscrew, roles(talk, 0, 0),
			[]overwrite{ofMember(self, mayAdministrate, 0)}, talk | mayAdministrate},
		{"the owner", member{server: server, id: self, owner: true}, roles(0, 0, 0),
			[]overwrite{ofRole(server, 0, talk)}, mayEverything},
		{"a channel that it may not see", setscrew, roles(talk|mayPin|mayMentionAll, 0, 0),
			[]overwrite{ofRole(server, 0, mayView)}, 0},
		{"who may not send mentions nobody", setscrew, roles(talk|mayReadHistory|mayMentionAll, 0, 0),
			[]overwrite{ofRole(server, 0, maySend)}, mayView | mayReadHistory},
		{"pins are a high bit", setscrew, roles(talk|1<<51, 0, 0), nil, talk | mayPin},
	} {
		if got := permissionsIn(test.who, test.roles, test.all); got != test.want {
			t.Errorf("%s: %b, want %b", test.name, got, test.want)
		}
	}
}

// An overwrite of kind 0 is a role's, of kind 1 a member's. (Discord's documentation,
// "Overwrite Object".)
func TestOverwriteKinds(t *testing.T) {
	t.Parallel()
	const role2, self = "2", "9"
	for _, test := range []struct {
		kind, id string
		want     permissions
	}{{"0", role2, mayView | maySend}, {"0", self, mayView}, {"1", self, mayView | maySend}, {"1", role2, mayView}} {
		var one overwrite
		if err := json.Unmarshal([]byte(`{"id": "`+test.id+`", "type": `+test.kind+`, "allow": "2048", "deny": "0"}`),
			&one); err != nil {
			t.Fatal(err)
		}
		if got := permissionsIn(member{server: "1", id: self, roles: []string{role2}},
			map[string]role{"1": {May: mayView}}, []overwrite{one}); got != test.want {
			t.Errorf("kind %s of %s: %b, want %b", test.kind, test.id, got, test.want)
		}
	}
}

// A role pings if anybody may mention it, or the one who does may mention all.
func TestRolesThatPing(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		mentionable bool
		may         permissions
		want        bool
	}{{false, mayView | maySend, false}, {true, mayView | maySend, true}, {false, mayMentionAll, true},
		{true, mayEverything, true}, {false, mayEverything, true}, {false, 0, false}} {
		if got := pings(role{Mentionable: test.mentionable}, test.may); got != test.want {
			t.Errorf("mentionable %v, may %b: pings %v", test.mentionable, test.may, got)
		}
	}
}

// Permissions are read as Discord sends them: numbers in strings, beyond what a number of
// JSON holds.
func TestPermissionsAreRead(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		text string
		want permissions
		ok   bool
	}{{`"2251799813685248"`, mayPin, true}, {`"0"`, 0, true}, {`8`, mayAdministrate, true}, {`null`, 0, true},
		{`"18446744073709551615"`, mayEverything, true}, {`"18446744073709551616"`, 0, false}, {`"-1"`, 0, false},
		{`""`, 0, false}, {`"x"`, 0, false}, {`[]`, 0, false}} {
		var got permissions
		if err := json.Unmarshal([]byte(test.text), &got); (err == nil) != test.ok || got != test.want {
			t.Errorf("%s is read as %d, %v", test.text, got, err)
		}
	}
}
