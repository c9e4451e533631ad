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

func (s State) greeting(v View) string {
	text := fmt.Sprintf("Signed in as %s. Type help for the words.\n", s.by.User)
	if setting.Waits(&v.Dev.Card.Settings, &v.Dev.Card.Saved) {
		text += "Saved settings are not yet in force: they wait for a restart of the card.\n"
	}
	return text
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

// takePassword checks the password and has the try reported, however it went.
// An empty line is no try: it goes back to the user name.
func (s State) takePassword(v View, line string) (State, Output) {
	if line == "" {
		return s.ask(v, askUser, "")
	}
	s.right = v.Dev.Card.SignIn(s.by.User, line)
	return s.submit(snap.Command{Op: snap.OpSignIn, OK: s.right}, "")
}

func (s State) signedIn(v View) (State, Output) {
	if s.right {
		s.tries = 0
		return s.ask(v, askWord, s.greeting(v))
	}
	s.by.User = ""
	s.tries++
	if s.tries < MaxTries {
		return s.ask(v, askUser, "User name or password is wrong.\n")
	}
	s, out := s.close(fmt.Sprintf("User name or password is wrong, %d times in a row.\n", MaxTries))
	out.Locked = true
	return s, out
}
