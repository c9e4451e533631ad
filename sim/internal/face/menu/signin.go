package menu

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

const userHelp = `Type the user name of one of the card's accounts, then its password. The
password is not shown while you type it. The name that the card came with and
its password are on its label. Ctrl-U empties the line, Ctrl-C starts over.
`

func banner(d *snap.Device) string {
	return fmt.Sprintf("\nSIMULATION - no real equipment is connected to this line\n%s, network card %s, serial number %s\n\n",
		strings.TrimSpace(d.UPS.Manufacturer+" "+d.UPS.Model), d.Card.Identity.Model, d.Card.Identity.SerialNumber)
}

// notice is what the owner of the card has to say to who is about to sign in.
func notice(d *snap.Device) string {
	text := d.Card.Settings.SignInRules().Notice()
	if text != "" {
		text += "\n"
	}
	return text
}

func (s State) greeting(v View) string {
	text := fmt.Sprintf("Signed in as %s, %s. Type help for the words.\n", s.by.User, s.by.Role)
	text += ownTerm(v)
	if setting.Waits(&v.Dev.Card.Settings, &v.Dev.Card.Saved) {
		text += "Saved settings are not yet in force: they wait for a restart of the card.\n"
	}
	return text
}

// ownTerm tells whoever signs in that the password has nearly served its time, or that it has
// and a public key opened the account all the same.
func ownTerm(v View) string {
	c := &v.Dev.Card
	x, a := c.Session(v.by.Session), c.Account(v.by.User)
	if x == nil || a == nil || !x.Authority.Own() || !c.Clock.Set {
		return ""
	}
	ends, ok := c.Settings.SignInRules().Ends(a)
	days := snap.Stamp(c.Settings.Alerting().ExpiryDays)
	if !ok || ends-c.Clock.Stamp(v.Now) > days*snap.Day {
		return ""
	}
	return "Your password " + timeLeft(v, &snap.Term{Ends: ends}) + ": password changes it.\n"
}

// welcome opens the main prompt, or has the password of the label replaced first.
func (s State) welcome(v View, text string) (State, Output) {
	if x := v.Dev.Card.Session(s.by.Session); x != nil && x.MustChange {
		why := snap.Either(x.Expired, "This password has expired", "This password opens the card once")
		return s.ask(v, askFresh, text+fmt.Sprintf("Signed in as %s. %s: choose another one now.\n", s.by.User, why))
	}
	return s.ask(v, askWord, text+s.greeting(v))
}

func (s State) takeUser(v View, line string) (State, Output) {
	user := strings.TrimSpace(line)
	switch user {
	case "":
		return s.again(v, "")
	case "?":
		return s.again(v, userHelp)
	}
	s.by.User = user
	return s.ask(v, askPassword, "")
}

// takePassword has the password checked. An empty line is no try: it goes back to
// the user name.
func (s State) takePassword(v View, line string) (State, Output) {
	switch line {
	case "":
		return s.ask(v, askUser, "")
	case "?": // too short for a password
		return s.again(v, userHelp)
	}
	if left := v.Dev.Card.LockedFor(s.by.User, s.by.Surface, v.Now); left > 0 {
		return s.Tried(snap.Verdict{}) // nobody looks
	}
	return s, Output{Try: &Try{User: s.by.User, Password: line}}
}

// Tried takes what was made of the Try in the Output before, and has it reported.
func (s State) Tried(r snap.Verdict) (State, Output) {
	s.by.Role = r.Role
	return s.submit(snap.Command{Op: snap.OpSignIn, OK: r.OK, Text: string(r.From)}, "")
}

func (s State) signedIn(v View, r snap.Result) (State, Output) {
	if r.Status == snap.Done {
		s.tries, s.by.Session, s.by.Role = 0, r.Session, r.Role
		return s.welcome(v, "")
	}
	s.by.User, s.by.Role = "", snap.NoRole
	s.tries++
	why := sentence(reason(r))
	if s.tries < MaxTries {
		return s.ask(v, askUser, why)
	}
	s, out := s.close(strings.TrimSuffix(why, ".\n") + fmt.Sprintf(": %d times in a row without success.\n", MaxTries))
	out.Locked = true
	return s, out
}

// takeFresh takes the password that replaces the one on the label, twice.
func (s State) takeFresh(v View, line string) (State, Output) {
	if line == "?" {
		return s.again(v, passwordHelp+"\n")
	}
	if s.stage == askFresh {
		if why := v.Dev.Card.PasswordFault(s.by.User, line); why != "" {
			return s.again(v, sentence(why))
		}
		s.fresh = line
		return s.ask(v, askFreshAgain, "")
	}
	same := line == s.fresh
	s.fresh = ""
	if !same {
		return s.ask(v, askFresh, "That was not the same.\n")
	}
	return s.submit(passwordCommand(v, s.by.User, line), "")
}

// passwordCommand gives user a password. It carries what the password is checked
// with, never the password.
func passwordCommand(v View, user, password string) snap.Command {
	a := snap.NewAccount(user, snap.NoRole, password, v.Dev.Card.NewSalt(user, v.Now)).Made()
	return snap.Command{Op: snap.OpAccount, Text: snap.AccountPassword, Account: &a}
}

func (s State) refreshed(v View, r snap.Result) (State, Output) {
	if r.Status != snap.Done {
		return s.ask(v, askFresh, "Not done: "+reason(r)+".\n")
	}
	return s.ask(v, askWord, "The password is changed. The one before opens nothing any more.\n"+s.greeting(v))
}
