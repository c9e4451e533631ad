package snap

import (
	"fmt"

	"ridethrough/sim/internal/core/vtime"
)

// ServerKey says which server of the settings a certificate belongs to: "mail", "syslog"
// or "ldap" with the name in the settings behind it.
type ServerKey string

// KeyMail is the mail relay.
const KeyMail ServerKey = "mail"

// KeySyslog is the collector of that name.
func KeySyslog(name string) ServerKey { return ServerKey("syslog " + name) }

// KeyLDAP is the directory of that name.
func KeyLDAP(name string) ServerKey { return ServerKey("ldap " + name) }

// Key is the server that the message goes to.
func (p *Post) Key() ServerKey {
	if p.Kind == PostSyslog {
		return KeySyslog(p.To)
	}
	return KeyMail
}

// TLS says whether the message travels over TLS, and which certificates are trusted.
func (p *Post) TLS() (trust string, secured bool) {
	switch {
	case p.Mail != nil && p.Mail.Security != MailPlain:
		return p.Mail.Trust, true
	case p.Syslog != nil && p.Syslog.Transport == SyslogTLS:
		return p.Syslog.Trust, true
	}
	return "", false
}

// Datagram says whether the message leaves as a datagram, which nobody answers.
func (p *Post) Datagram() bool { return p.Syslog != nil && p.Syslog.Transport == SyslogUDP }

// Term is something that serves until a date by the card's clock.
type Term struct {
	What string // for people, such as "certificate of the mail relay relay.example"
	Ends Stamp
}

// Day is as long as one is without a change of summer time.
const Day = Stamp(24 * vtime.Hour)

// TimeLeft says on which day something ends, and how long that is from now.
func TimeLeft(ends, now Stamp, day string) string {
	switch days := (ends - now) / Day; {
	case ends <= now:
		return fmt.Sprintf("has ended %s, %s", day, plural((now-ends)/Day, "ago"))
	default:
		return fmt.Sprintf("ends %s, %s", day, plural(days, "from now"))
	}
}

func plural(days Stamp, word string) string {
	switch days {
	case 0:
		return "less than a day " + word
	case 1:
		return "1 day " + word
	}
	return fmt.Sprintf("%d days %s", days, word)
}
