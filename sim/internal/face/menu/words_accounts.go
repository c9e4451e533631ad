package menu

import (
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"ridethrough/sim/internal/core/snap"
)

func init() {
	register(
		word{name: "accounts", brief: "who has an account on this card", part: partAccess, needs: snap.Administrator,
			detail: "Users of a central login that have no account here are not listed.",
			read:   plain(accounts), data: accountsData},
		word{name: "sessions", brief: "who is signed in, and who is locked out", part: partAccess, needs: snap.Operator,
			detail: "Each with the surface, the peer and since when. The journal keeps who came and went.",
			read:   plain(sessions), data: sessionsData},
		word{name: "account", brief: "add, remove or unlock an account, change its role or password", part: partAccess, needs: snap.Administrator,
			detail: `account add USER ROLE, account role USER ROLE, account password USER, account remove USER,
account unlock USER. A viewer reads, an operator also acts (tests, outlets), an administrator also
sets. Passwords are asked for and not shown; one that an administrator gives opens the account once,
to choose another. Keep one tested administrator on the card, whatever else knows users.
On a command line --stdin takes the password from the standard input.`,
			acts: []verb{{"add", &accountAdd}, {"remove", &accountRemove}, {"role", &accountRole}, {"password", &accountPassword}, {"unlock", &accountUnlock}}},
		word{name: "password", brief: "change your own password", part: partAccess, needs: snap.Viewer,
			detail: "Asks for the present one, then twice for the new one. Your other sessions end.\nOn a command line --stdin takes both from the standard input, a line each.",
			act:    &ownPassword},
	)
}

// table sets out rows in columns.
func table(rows [][]string) string {
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 8, 2, ' ', 0)
	for _, r := range rows {
		for i := range r { // a cell may be what somebody at the door has typed
			r[i] = printable(r[i])
		}
		fmt.Fprintln(w, strings.TrimRight("  "+strings.Join(r, "\t"), "\t "))
	}
	w.Flush()
	return b.String()
}

func accounts(v View) string {
	var rows [][]string
	for _, a := range v.Dev.Card.Accounts {
		rows = append(rows, []string{a.User, a.Role.String(), strings.Join(remarks(v, a), ", ")})
	}
	return table(rows)
}

// remarks is what else there is to say of an account.
func remarks(v View, a snap.Account) (list []string) {
	if a.Label {
		list = append(list, "password of the label")
	}
	if a.MustChange {
		list = append(list, "has to choose a password")
	}
	if ends, ok := v.Dev.Card.Settings.SignInRules().Ends(&a); ok && v.Dev.Card.Clock.Set {
		list = append(list, "password "+timeLeft(v, &snap.Term{Ends: ends}))
	}
	for _, surface := range []string{"ssh", "serial"} {
		if v.Dev.Card.LockedFor(a.User, surface, v.Now) > 0 {
			list = append(list, "locked out over "+surface)
		}
	}
	return list
}

type accountData struct {
	User string `json:"user"`
	Role string `json:"role"`
	// Label: its password is the one on the label. MustChange: it opens the account
	// once, to choose another.
	Label      bool `json:"label_password"`
	MustChange bool `json:"must_change_password"`
	// Expires is when the password is too old; nil: never, or the card has no date.
	Expires *time.Time `json:"password_expires"`
}

func accountsData(v View, _ []string) any {
	list := []accountData{}
	for _, a := range v.Dev.Card.Accounts {
		list = append(list, accountData{a.User, a.Role.String(), a.Label, a.MustChange, expires(v, &a)})
	}
	return list
}

func expires(v View, a *snap.Account) *time.Time {
	ends, ok := v.Dev.Card.Settings.SignInRules().Ends(a)
	if !ok || !v.Dev.Card.Clock.Set {
		return nil
	}
	at := v.Dev.Card.DateOf(ends)
	return &at
}

func sessions(v View) string {
	var rows [][]string
	for _, s := range v.Dev.Card.Sessions {
		row := []string{s.User, s.Role.String(), place(s), "since " + date(v.Dev, s.Since)}
		if s.ID == v.by.Session {
			row = append(row, "this one")
		}
		rows = append(rows, row)
	}
	for _, l := range v.Dev.Card.Lockouts {
		if l.Until > v.Now {
			rows = append(rows, []string{l.User, "locked out", lockPlace(l), "until " + date(v.Dev, l.Until)})
		}
	}
	if len(rows) == 0 {
		return "Nobody is signed in.\n"
	}
	return table(rows)
}

func place(s snap.Session) string {
	text := s.Surface
	if s.Peer != "" {
		text += " from " + s.Peer
	}
	if s.Authority != snap.Local {
		text += " by " + string(s.Authority)
	}
	return text
}

func lockPlace(l snap.Lockout) string {
	if l.Serial {
		return "serial"
	}
	return "network"
}

type sessionData struct {
	User      string `json:"user"`
	Role      string `json:"role"`
	Surface   string `json:"surface"`
	Peer      string `json:"peer,omitempty"`
	Authority string `json:"authority"` // what knew the user
	Since     string `json:"since"`     // by the card's clock
}

type lockoutData struct {
	User  string `json:"user"`
	Over  string `json:"over"` // serial or network
	Until string `json:"until"`
}

func sessionsData(v View, _ []string) any {
	list, locked := []sessionData{}, []lockoutData{}
	for _, s := range v.Dev.Card.Sessions {
		list = append(list, sessionData{printable(s.User), s.Role.String(), s.Surface, s.Peer, string(s.Authority), date(v.Dev, s.Since)})
	}
	for _, l := range v.Dev.Card.Lockouts {
		if l.Until > v.Now {
			locked = append(locked, lockoutData{printable(l.User), lockPlace(l), date(v.Dev, l.Until)})
		}
	}
	return map[string]any{"sessions": list, "locked_out": locked}
}
