package card

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// KeptCertificate is what the card was shown last by a server of its settings.
type KeptCertificate struct {
	Of      snap.ServerKey `json:"of"`
	At      string         `json:"at"` // server and port as they were set: another one has another certificate
	Expires snap.Stamp     `json:"expires"`
}

// expiring is when the card warned last of what has nearly served its time.
type expiring struct {
	warned map[string]vtime.Tick
	count  int
}

const (
	aDay = 24 * vtime.Hour
	// expirySettles is how long after its start the agent looks first: by then its clock
	// has been set and its network is there, if they ever will be.
	expirySettles = vtime.Minute
)

// Shown takes up that a server of the settings in force has shown a certificate that
// expires then. It reports whether there is such a server.
func (c *Card) Shown(now vtime.Tick, of snap.ServerKey, expires snap.Stamp) bool {
	i := slices.IndexFunc(c.certified(), func(k KeptCertificate) bool { return k.Of == of })
	if i < 0 || !c.Running() {
		return false
	}
	fresh := c.certified()[i]
	fresh.Expires = expires
	list := slices.Clone(c.kept.Certificates)
	switch i := slices.IndexFunc(list, func(k KeptCertificate) bool { return k.Of == of }); {
	case i < 0:
		list = append(list, fresh)
	case list[i] == fresh:
		return true
	default:
		if list[i].At == fresh.At {
			c.journal.add(now, fmt.Sprintf("%s is another one: it expires %s", certificateOf(fresh), c.day(expires)))
		}
		list[i] = fresh
	}
	c.note("card", fmt.Sprintf("%s expires %s", certificateOf(fresh), c.day(expires)))
	c.kept.Certificates = slices.DeleteFunc(list, func(k KeptCertificate) bool { return !c.speaksWith(k) })
	c.changed(&c.kept.Certificates)
	return true
}

// certified are the servers of the settings with which the card speaks TLS.
func (c *Card) certified() (list []KeptCertificate) {
	a := c.inForce.Alerting()
	if m := &a.Mail; m.Server != "" && m.Security != snap.MailPlain {
		list = append(list, KeptCertificate{Of: snap.KeyMail, At: where(m.Server, m.Port)})
	}
	for i := range a.Syslog {
		if l := &a.Syslog[i]; l.Transport == snap.SyslogTLS {
			list = append(list, KeptCertificate{Of: snap.KeySyslog(l.Name), At: where(l.Server, l.Port)})
		}
	}
	for i := range c.inForce.SignInRules().LDAP {
		l := &c.inForce.SignInRules().LDAP[i]
		list = append(list, KeptCertificate{Of: snap.KeyLDAP(l.Name), At: l.Address})
	}
	return list
}

// speaksWith says whether the settings still have the server of k.
func (c *Card) speaksWith(k KeptCertificate) bool {
	k.Expires = 0
	return slices.Contains(c.certified(), k)
}

func certificateOf(k KeptCertificate) string {
	kind, name, _ := strings.Cut(string(k.Of), " ")
	switch kind {
	case "syslog":
		return fmt.Sprintf("certificate of the syslog collector %s (%s)", name, k.At)
	case "ldap":
		return fmt.Sprintf("certificate of the LDAP server %s (%s)", name, k.At)
	}
	return "certificate of the mail relay " + k.At
}

// day is the date of s in the card's zone.
func (c *Card) day(s snap.Stamp) string { return c.clock.In(s).Format(time.DateOnly) }

// terms are what the card knows to have an end.
func (c *Card) terms() (list []snap.Term) {
	for _, k := range c.kept.Certificates {
		if c.speaksWith(k) {
			list = append(list, snap.Term{What: certificateOf(k), Ends: k.Expires})
		}
	}
	list = append(list, c.passwordTerms()...)
	u := c.inForce.Upkeep
	if u == nil || u.Life == 0 || u.Replaced == "" {
		return list
	}
	made, _ := time.Parse(time.DateOnly, u.Replaced) // checked when it was set
	zone := c.clock.In(0).Location()
	ends := time.Date(made.Year()+u.Life, made.Month(), made.Day(), 0, 0, 0, 0, zone)
	return append(list, snap.Term{What: fmt.Sprintf("battery of %s, planned for %d years,", u.Replaced, u.Life), Ends: snap.StampOf(ends)})
}

// hasTerms says whether there may be any, and costs nothing.
func (c *Card) hasTerms() bool {
	return len(c.kept.Certificates) > 0 || c.inForce.SignInRules().PasswordDays > 0 || c.inForce.Upkeep != nil && c.inForce.Upkeep.Life > 0
}

// warnAt is when the card has to warn of t, the next time.
func (c *Card) warnAt(now vtime.Tick, t *snap.Term) vtime.Tick {
	days := c.inForce.Alerting().ExpiryDays
	if days == 0 || !c.clock.Set {
		return vtime.Never
	}
	at := max(c.startedAt+expirySettles, c.clock.Reaches(now, t.Ends-snap.Stamp(days)*snap.Day))
	if last, told := c.expiring.get().warned[t.What]; told {
		at = max(at, last+aDay)
	}
	return at
}

func (c *Card) expiryDue(now vtime.Tick) vtime.Tick {
	next := vtime.Never
	if !c.hasTerms() {
		return next
	}
	list := c.terms()
	for i := range list {
		next = min(next, c.warnAt(now, &list[i]))
	}
	return next
}

// warnOfExpiry warns of what has nearly served its time, once a day.
func (c *Card) warnOfExpiry(now vtime.Tick) {
	if !c.hasTerms() {
		return
	}
	for i, t := range c.terms() {
		if c.warnAt(now, &t) > now {
			continue
		}
		x := c.expiring.own()
		if x.warned == nil {
			x.warned = map[string]vtime.Tick{}
		}
		x.warned[t.What] = now
		x.count++
		text := t.What + " " + c.left(now, t.Ends)
		c.note("card", "warns: "+text)
		c.journal.add(now, text)
		c.Hear(snap.EventExpiry, uint8(i+1), true, text)
	}
}

// left says how long something still serves.
func (c *Card) left(now vtime.Tick, ends snap.Stamp) string {
	return snap.TimeLeft(ends, c.clock.Stamp(now), c.day(ends))
}

// Warned counts the warnings of what has nearly served its time.
func (c *Card) Warned() int { return c.expiring.get().count }

// PastDate says whether the card's clock is past s.
func (c *Card) PastDate(now vtime.Tick, s snap.Stamp) bool { return c.clock.Stamp(now) > s }
