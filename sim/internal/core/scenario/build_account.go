package scenario

import (
	"fmt"
	"strings"
	"time"

	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// accounts are those that the card comes with.
func (b *builder) accounts(t *cardTable) error {
	c := &b.plan.Card
	c.MustChange = t.MustChange
	names := map[string]bool{t.User: true}
	for i := range t.Accounts {
		a := &t.Accounts[i]
		switch {
		case names[a.User]:
			return b.src.at(a.at("user"), fmt.Sprintf("there is another account %q", a.User), "a name of its own for each")
		case card.UserFault(a.User) != "":
			return b.src.at(a.at("user"), fmt.Sprintf("%q is no user name", a.User), "plain characters without blanks")
		case a.Password != nil && strings.TrimSpace(*a.Password) != *a.Password:
			return b.src.at(a.at("password"), "the password begins or ends with a blank", "one that a person can type")
		}
		names[a.User] = true
		role, _ := snap.RoleByName(a.Role) // the schema lists the names
		password := or(a.Password, card.NamedPassword(b.plan.Seed, c.Identity.SerialNumber, a.User))
		c.Accounts = append(c.Accounts, plan.Account{User: a.User, Role: role, Password: password, Set: b.daysBefore(a.SetDays)})
	}
	return nil
}

// daysBefore is so many days before the start; 0 for none.
func (b *builder) daysBefore(days *int64) snap.Stamp {
	if days == nil {
		return 0
	}
	return snap.StampOf(b.plan.Start.Add(-time.Duration(*days) * 24 * time.Hour))
}
