package menu

import (
	"errors"
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// userAsked asks for the user of an account that is there, or is not.
func userAsked(there bool) question {
	return question{label: "user", help: "The name that the user signs in with: up to 32 plain characters without blanks.",
		check: func(v View, _ []string, answer string) (string, error) {
			switch known := v.Dev.Card.Account(answer) != nil; {
			case !known && there:
				return "", fmt.Errorf("there is no account %q: accounts lists them", answer)
			case known && !there:
				return "", fmt.Errorf("there is an account %q already", answer)
			case strings.ContainsFunc(answer, func(r rune) bool { return r <= ' ' || r > '~' }) || len(answer) > 32:
				return "", fmt.Errorf("expected up to 32 plain characters without blanks")
			}
			return answer, nil
		}}
}

var roleAsked = question{label: "viewer, operator or administrator",
	help: "A viewer reads, an operator also acts (tests, outlets), an administrator also sets and manages accounts.",
	check: func(_ View, _ []string, answer string) (string, error) {
		for _, r := range snap.Roles() {
			if strings.ToLower(answer) == r.String() {
				return r.String(), nil
			}
		}
		return "", fmt.Errorf("%q is no role: viewer, operator or administrator", answer)
	}}

// newPassword asks for a password of the user whom user finds, and againAsked for
// the same once more.
func newPassword(user func(v View, given []string) string) question {
	return question{label: "new password", hidden: true, help: passwordHelp,
		check: func(v View, given []string, answer string) (string, error) {
			if why := v.Dev.Card.PasswordFault(user(v, given), answer); why != "" {
				return "", fmt.Errorf("%s", why)
			}
			return answer, nil
		}}
}

// passwordHelp is about a password that somebody chooses.
const passwordHelp = `Type a password as long as access.password-length says, at least, without the user
name in it, and not the one on the label. It is not shown while you type it, and is
asked for twice. Ctrl-C gives up.`

var againAsked = question{label: "the same again", hidden: true, again: true, help: "Type the new password once more, so that no slip of a finger locks you out. Ctrl-C gives up.",
	check: func(_ View, given []string, answer string) (string, error) {
		if answer != given[len(given)-1] {
			return "", fmt.Errorf("that was not the same: type it as before, or Ctrl-C to give up")
		}
		return answer, nil
	}}

func firstGiven(_ View, given []string) string { return given[0] }
func oneself(v View, _ []string) string        { return v.by.User }

// accountCommand changes an account without touching its password.
func accountCommand(verb, user, role string) snap.Command {
	r, _ := snap.RoleByName(role)
	return snap.Command{Op: snap.OpAccount, Text: verb, Account: &snap.Account{User: user, Role: r}}
}

var accountAdd = action{
	ask: []question{userAsked(false), roleAsked, newPassword(firstGiven), againAsked},
	command: func(v View, given []string) snap.Command {
		c := passwordCommand(v, given[0], given[2])
		c.Text, c.Account.MustChange = snap.AccountAdd, true
		c.Account.Role, _ = snap.RoleByName(given[1])
		return c
	},
	done: func(_ View, given []string) string {
		return given[0] + " may sign in as " + given[1] + ", and chooses a password then.\n"
	},
}

var accountRemove = action{
	ask: []question{userAsked(true)},
	caution: func(v View, given []string) string {
		return fmt.Sprintf("CAUTION: %s cannot sign in any more, and every session of %s ends.\n", given[0], given[0]) + keysStay(v, given[0])
	},
	confirm: "remove",
	command: func(_ View, given []string) snap.Command { return accountCommand(snap.AccountRemove, given[0], "") },
	done:    func(_ View, given []string) string { return given[0] + " is removed.\n" },
}

// keysStay tells of public keys that would open a later account of the same name.
func keysStay(v View, user string) string {
	var names []string
	for _, k := range v.Dev.Card.Saved.SignInRules().Keys {
		if k.User == user {
			names = append(names, "access.key "+k.Name)
		}
	}
	if names == nil {
		return ""
	}
	return fmt.Sprintf("Public keys stay, and open a later account of that name: remove %s too.\n", strings.Join(names, ", "))
}

var accountRole = action{
	ask:     []question{userAsked(true), roleAsked},
	command: func(_ View, given []string) snap.Command { return accountCommand(snap.AccountRole, given[0], given[1]) },
	done: func(_ View, given []string) string {
		return given[0] + " is now " + given[1] + ". Every session of " + given[0] + " has ended.\n"
	},
}

var accountPassword = action{
	ask:     []question{userAsked(true), newPassword(firstGiven), againAsked},
	command: func(v View, given []string) snap.Command { return passwordCommand(v, given[0], given[1]) },
	done: func(v View, given []string) string {
		if given[0] == v.by.User {
			return "Your password is changed.\n"
		}
		return given[0] + " signs in with it once, and then chooses another.\n"
	},
}

var accountUnlock = action{
	ask: []question{{label: "user", help: "The user who is locked out: sessions lists them."}},
	command: func(_ View, given []string) snap.Command {
		return accountCommand(snap.AccountUnlock, given[0], "")
	},
	done: func(_ View, given []string) string { return given[0] + " is not locked out.\n" },
}

// errNotIt has the card told of a wrong present password, which it counts.
var errNotIt = errors.New("that is not it")

// notIt goes on after that. The session may have ended for it.
func (s State) notIt(v View, r snap.Result) (State, Output) {
	switch r.Status {
	case snap.Done:
		return s.again(v, sentence(errNotIt.Error()))
	case snap.Denied:
		return s.close(sentence(r.Reason))
	}
	return s.ask(v, askWord, "Not done: "+reason(r)+".\n")
}

var ownPassword = action{
	ask: []question{
		{label: "present password", hidden: true, help: "Type the password with which you have signed in. A wrong one counts as a failed sign-in. Ctrl-C gives up.", check: func(v View, _ []string, answer string) (string, error) {
			x := v.Dev.Card.Session(v.by.Session)
			left := v.Dev.Card.LockedFor(v.by.User, v.by.Surface, v.Now)
			switch a := v.Dev.Card.Account(v.by.User); {
			case a == nil || x != nil && !x.Authority.Own():
				return "", fmt.Errorf("this card does not know your password: change it where you were given it. Ctrl-C goes back")
			case left > 0: // and nobody looks at the answer
				return "", fmt.Errorf("too many failed sign-ins: try again in %d s, or Ctrl-C to give up", (left+vtime.Second-1)/vtime.Second)
			case !a.Check(answer):
				return "", errNotIt
			}
			return "", nil // nothing needs it any more
		}},
		newPassword(oneself), againAsked,
	},
	command: func(v View, given []string) snap.Command { return passwordCommand(v, v.by.User, given[1]) },
	done:    func(View, []string) string { return "Your password is changed.\n" },
}
