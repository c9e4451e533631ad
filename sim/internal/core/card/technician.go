package card

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// ChangeLabel gives the factory login another password than the one on the label.
func (c *Card) ChangeLabel(now vtime.Tick, by snap.Actor) snap.Result {
	user, serial := c.cfg.User, c.cfg.Identity.SerialNumber
	old := c.account(user)
	if old == nil {
		return snap.Result{Status: snap.Inconsistent, Reason: "the card has no factory login"}
	}
	view := snap.Card{Factory: c.factory, Accounts: c.kept.Accounts, Boots: c.boots, Revision: c.revision}
	a := snap.NewAccount(user, old.Role, NamedPassword(c.seed, serial, user), view.NewSalt(user, now))
	by.User = user
	return c.ChangeAccount(now, snap.Command{Op: snap.OpAccount, By: by, Text: snap.AccountPassword, Account: &a})
}
