package card

import (
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// account is the account of that user, nil if there is none.
func (c *Card) account(user string) *snap.Account {
	for i := range c.kept.Accounts {
		if c.kept.Accounts[i].User == user {
			return &c.kept.Accounts[i]
		}
	}
	return nil
}

// ChangeAccount does with the accounts what cmd says.
func (c *Card) ChangeAccount(now vtime.Tick, cmd snap.Command) snap.Result {
	if cmd.Account == nil {
		return snap.Result{Status: snap.WrongValue, Reason: "a change of accounts without an account"}
	}
	a := *cmd.Account
	list := slices.Clone(c.kept.Accounts) // what was handed out never changes
	at := slices.IndexFunc(list, func(x snap.Account) bool { return x.User == a.User })
	if why := c.mistake(cmd.Text, a, at); why != "" {
		return snap.Result{Status: snap.Inconsistent, Reason: why}
	}
	text := ""
	switch cmd.Text {
	case snap.AccountAdd:
		a.Label, a.Set = false, c.today(now)
		list, text = append(list, a), "added as "+a.Role.String()
	case snap.AccountRemove:
		list, text = slices.Delete(list, at, at+1), "removed"
		c.endOf(a.User, 0)
	case snap.AccountRole:
		list[at].Role, text = a.Role, "is now "+a.Role.String()
		c.endOf(a.User, 0)
	case snap.AccountPassword:
		own := a.User == cmd.By.User
		a.Role, a.Label, a.MustChange, a.Set = list[at].Role, false, !own, c.today(now)
		list[at], text = a, "has another password"
		c.endOf(a.User, cmd.By.Session)
		c.changedPassword(cmd.By.Session)
		if own {
			c.forgive(cmd.By)
		}
	case snap.AccountUnlock:
		c.unlock(a.User)
		c.told(now, snap.WhatElse, "account", fmt.Sprintf("%s unlocked by %s", a.User, who(cmd.By)))
		c.Hear(snap.EventAccount, 0, true, a.User+" unlocked by "+who(cmd.By))
		return snap.Result{}
	}
	c.kept.Accounts = list
	c.changed(&c.kept.Accounts)
	c.told(now, snap.WhatElse, "account", fmt.Sprintf("%s %s, by %s", a.User, text, who(cmd.By)))
	c.Hear(snap.EventAccount, 0, true, a.User+" "+text+", by "+who(cmd.By))
	return snap.Result{}
}

// mistake says why an account cannot be changed so, "" if it can.
func (c *Card) mistake(verb string, a snap.Account, at int) string {
	_, known := map[string]bool{snap.AccountAdd: true, snap.AccountRemove: true, snap.AccountRole: true, snap.AccountPassword: true, snap.AccountUnlock: true}[verb]
	takes := verb == snap.AccountAdd || verb == snap.AccountRole
	switch {
	case !known:
		return fmt.Sprintf("no change of accounts %q", verb)
	case verb == snap.AccountUnlock:
		return ""
	case verb == snap.AccountAdd && at >= 0:
		return fmt.Sprintf("there is an account %s", a.User)
	case verb == snap.AccountAdd && len(c.kept.Accounts) >= snap.MaxAccounts:
		return fmt.Sprintf("there are %d accounts, which is as many as there may be", snap.MaxAccounts)
	case verb == snap.AccountAdd && UserFault(a.User) != "":
		return UserFault(a.User)
	case verb != snap.AccountAdd && at < 0:
		return fmt.Sprintf("there is no account %s", a.User)
	case takes && (a.Role < snap.Viewer || a.Role > snap.Administrator):
		return "expected one of the roles viewer, operator, administrator"
	case (verb == snap.AccountRemove || verb == snap.AccountRole && a.Role != snap.Administrator) && c.lastAdministrator(a.User):
		return a.User + " is the last administrator: nobody could set anything any more"
	}
	return ""
}

func (c *Card) lastAdministrator(user string) bool {
	for _, a := range c.kept.Accounts {
		if a.Role == snap.Administrator && a.User != user {
			return false
		}
	}
	a := c.account(user)
	return a != nil && a.Role == snap.Administrator
}

// UserFault says why user cannot be the name of an account, "" if it can.
func UserFault(user string) string {
	if user == "" || len(user) > 32 || strings.ContainsFunc(user, func(r rune) bool { return r <= ' ' || r > '~' }) {
		return "expected a user name of 1 to 32 plain characters without blanks"
	}
	return ""
}

// endOf ends the sessions of an account, but for the one with that number.
func (c *Card) endOf(user string, but uint32) {
	c.end(func(x *snap.Session) bool {
		return x.User == user && x.ID != but && x.Authority.Own()
	})
}

// changedPassword lets a session go on that had to change its password.
func (c *Card) changedPassword(id uint32) {
	list := slices.Clone(c.logins.get().sessions)
	for i := range list {
		if list[i].ID == id {
			list[i].MustChange, list[i].Expired = false, false
		}
	}
	c.logins.own().sessions = list
}

func (c *Card) unlock(user string) {
	var left []snap.Lockout
	logins := c.logins.own()
	for _, l := range logins.lockouts {
		if l.User != user {
			left = append(left, l)
		}
	}
	logins.lockouts = left
	logins.failed = slices.DeleteFunc(logins.failed, func(f failed) bool { return f.user == user })
}
