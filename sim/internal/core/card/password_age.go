package card

import (
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// today is what the card's clock shows, 0 as long as it is not set.
func (c *Card) today(now vtime.Tick) snap.Stamp {
	if !c.clock.Set {
		return 0
	}
	return c.clock.Stamp(now)
}

// agePasswords has passwords of which nobody knows when they were set count from now, once
// their age matters and there is a date.
func (c *Card) agePasswords(now vtime.Tick) {
	undated := func(a snap.Account) bool { return a.Set == 0 }
	if c.inForce.SignInRules().PasswordDays == 0 || c.today(now) == 0 || !slices.ContainsFunc(c.kept.Accounts, undated) {
		return
	}
	list := slices.Clone(c.kept.Accounts) // what was handed out never changes
	for i := range list {
		if undated(list[i]) {
			list[i].Set = c.today(now)
		}
	}
	c.kept.Accounts = list
	c.changed(&c.kept.Accounts)
}

// expired says whether the password of a is older than is allowed.
func (c *Card) expired(now vtime.Tick, a *snap.Account) bool {
	ends, ok := c.inForce.SignInRules().Ends(a)
	return ok && c.clock.Set && c.today(now) >= ends
}

// passwordTerms are until when passwords serve.
func (c *Card) passwordTerms() (list []snap.Term) {
	if c.inForce.SignInRules().PasswordDays == 0 {
		return nil
	}
	for i := range c.kept.Accounts {
		a := &c.kept.Accounts[i]
		if ends, ok := c.inForce.SignInRules().Ends(a); ok {
			list = append(list, snap.Term{What: "password of " + a.User, Ends: ends})
		}
	}
	return list
}
