package snap

import (
	"fmt"
	"slices"
)

// Role is what somebody may do on the card. A greater one may do more.
type Role uint8

// Roles.
const (
	NoRole        Role = iota // nothing
	Viewer                    // read
	Operator                  // and act: tests, outlets, what has an end
	Administrator             // and set, and manage accounts
)

var roleNames = []string{"none", "viewer", "operator", "administrator"}

// Roles are the roles that an account may have.
func Roles() []Role { return []Role{Viewer, Operator, Administrator} }

// String is the word for r; settings, scenarios and servers use it.
func (r Role) String() string { return nameOf(roleNames, int(r)) }

// RoleByName is the role with that word; ok is false if there is none.
func RoleByName(name string) (r Role, ok bool) {
	i := slices.Index(roleNames, name)
	return Role(max(i, 0)), i >= 0
}

// MarshalText is the word.
func (r Role) MarshalText() ([]byte, error) { return []byte(r.String()), nil }

// UnmarshalText takes the word.
func (r *Role) UnmarshalText(text []byte) error {
	role, ok := RoleByName(string(text))
	if !ok {
		return fmt.Errorf("%q is no role", text)
	}
	*r = role
	return nil
}

// Person says whether who asks over that surface has signed in, and so has a role.
func (a *Actor) Person() bool { return a.Surface == "serial" || a.Surface == "ssh" }

// Needs is the least role that c takes of a person. What is new and stands in no
// row here is an act.
func (c *Command) Needs() Role {
	switch c.Op {
	case OpSignIn, OpSignOut, OpNotIt, OpAuthFail:
		return NoRole
	case OpPing:
		return Viewer
	case OpFirmwareLoad:
		if c.Release == nil { // tells of a failure, perhaps after the session has ended
			return NoRole
		}
		return Administrator
	case OpSave, OpRestart, OpReset, OpClock, OpHealthReset, OpFirmwareSwitch, OpFirmwareReturn:
		return Administrator
	case OpAccount:
		if c.own() {
			return Viewer
		}
		return Administrator
	case OpSet:
		for _, a := range c.Sets {
			if !slices.Contains(actVars, a.Var) {
				return Administrator
			}
		}
	}
	return Operator
}

// actVars are variables that do something when they are written, rather than to
// keep it.
var actVars = []Var{VarTestID, VarTestSpinLock, VarShutdownAfter, VarStartupAfter, VarReboot, VarAudible, VarSnmpSetSerialNo, VarGroupOrder}

// own says whether c changes the password of who gives it.
func (c *Command) own() bool {
	return c.Text == AccountPassword && c.Account != nil && c.Account.User == c.By.User && c.By.User != ""
}

// What a command does with an account.
const (
	AccountAdd      = "add"      // Account is new
	AccountRemove   = "remove"   // the one of that user goes
	AccountRole     = "role"     // it gets another role
	AccountPassword = "password" // it gets another verifier
	AccountUnlock   = "unlock"   // a lock-out of the user ends
)
