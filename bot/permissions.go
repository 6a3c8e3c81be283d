package bot

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// permissions is what somebody may do in a server or a channel, a bit each, as Discord
// counts them.
type permissions uint64

// The permissions that are looked at. Whoever may administrate may do everything.
const (
	mayAdministrate permissions = administrator
	mayView         permissions = 1 << 10
	maySend         permissions = 1 << 11
	mayReadHistory  permissions = 1 << 16
	mayMentionAll   permissions = 1 << 17
	mayPin          permissions = 1 << 51

	mayEverything = ^permissions(0)
)

// UnmarshalJSON reads the number in a string that Discord sends.
func (p *permissions) UnmarshalJSON(text []byte) error {
	if string(text) == "null" {
		return nil
	}
	n, err := strconv.ParseUint(strings.Trim(string(text), `"`), 10, 64)
	if err != nil {
		return fmt.Errorf("read permissions: %w", err)
	}
	*p = permissions(n)
	return nil
}

// role is what counts of a server's role.
type role struct {
	May         permissions `json:"permissions"`
	Mentionable bool        `json:"mentionable"`
}

// overwrite is what a channel allows and denies one role, or one member, beside what they
// may do in the server.
type overwrite struct {
	ID    string      `json:"id"`   // the role's or the member's; everybody's is that of the server
	Kind  int         `json:"type"` // overwriteRole or overwriteMember
	Allow permissions `json:"allow"`
	Deny  permissions `json:"deny"`
}

// The kinds of overwrites.
const (
	overwriteRole   = 0
	overwriteMember = 1
)

// member is somebody in a server.
type member struct {
	server string // whose id is that of everybody's role
	id     string
	owner  bool
	roles  []string
}

// permissionsIn is what a member may do in a channel with these overwrites, in a server
// with these roles: what everybody may and their roles add; then, in this order, what the
// channel denies and allows everybody, all of their roles together, and themselves. The
// owner, and whoever may administrate, may do everything; whoever may not see the channel
// may do nothing in it, and whoever may not send mentions nobody. (Discord's documentation,
// "Permissions", "Permission Hierarchy" and "Implicit Permissions".)
func permissionsIn(member member, roles map[string]role, all []overwrite) permissions {
	// In the server.
	may := roles[member.server].May
	for _, id := range member.roles {
		may |= roles[id].May
	}
	if member.owner || may&mayAdministrate != 0 {
		return mayEverything
	}
	// In the channel: everybody, their roles, themselves.
	var everybody, byRole, own overwrite
	for _, rule := range all {
		var to *overwrite
		switch {
		case rule.Kind == overwriteRole && rule.ID == member.server:
			to = &everybody
		case rule.Kind == overwriteRole && slices.Contains(member.roles, rule.ID):
			to = &byRole
		case rule.Kind == overwriteMember && rule.ID == member.id:
			to = &own
		default:
			continue
		}
		to.Allow |= rule.Allow
		to.Deny |= rule.Deny
	}
	for _, o := range []overwrite{everybody, byRole, own} {
		may = may&^o.Deny | o.Allow
	}
	// What follows from what is missing.
	switch {
	case may&mayView == 0:
		return 0
	case may&maySend == 0:
		return may &^ mayMentionAll
	}
	return may
}

// pings reports whether a mention of a role notifies whoever has it, where the one who
// mentions it may do so much.
func pings(r role, may permissions) bool { return r.Mentionable || may&mayMentionAll != 0 }
