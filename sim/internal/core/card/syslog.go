package card

import (
	"fmt"
	"strings"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// logPost puts an occurrence into the queue of every collector whose rule wants it.
// risen: it was critical at last, because it lasted.
func (c *Card) logPost(now vtime.Tick, o occurrence, risen bool) {
	c.logWords(now, o, risen, words(o))
}

func (c *Card) logWords(now vtime.Tick, o occurrence, risen bool, text string) {
	k := o.event.Alert()
	severity := k.Severity
	if risen {
		severity = snap.Critical
	}
	for i := range c.inForce.Alerting().Syslog {
		l := &c.inForce.Alerts.Syslog[i]
		if l.Classes.Has(k.Class) && severity.AtLeast(l.Least) {
			c.enqueue(now, StoredPost{Syslog: true, To: l.Name, Event: o.event, Clears: !o.on, Risen: risen, Subject: text})
		}
	}
}

func words(o occurrence) string {
	text := o.event.Alert().Begins
	if !o.on {
		text = o.event.Alert().Ends
	}
	if o.about != "" {
		text += ": " + o.about
	}
	return text
}

// enterprise is that of documentation (RFC 5612), under which our elements of
// structured data stand.
const enterprise = "32473"

// record is the message of RFC 5424 of a post. Its date is that of the event, by the
// card's clock; its number is in the structured data, so that what was lost or
// came twice can be told.
func (c *Card) record(p *post, l *snap.SyslogServer) []byte {
	severity := p.Event.Alert().Severity
	state := "begins"
	switch {
	case p.Clears:
		severity, state = snap.Info, "ends"
	case p.Risen:
		severity, state = snap.Critical, "lasts"
	}
	name := header(c.inForce.Name, 255)
	if l.Format == snap.Syslog3164 {
		return c.olderRecord(p, int(l.Facility)*8+severity.Syslog(), name, state)
	}
	return fmt.Appendf(nil, "<%d>1 %s %s ridethrough - %s [event@%s id=\"%d\" class=\"%s\" state=\"%s\" serial=\"%s\" simulation=\"yes\"] SIMULATION %s",
		int(l.Facility)*8+severity.Syslog(), c.clock.In(p.Made).Format("2006-01-02T15:04:05.000Z07:00"), name, header(p.Event.String(), 32), enterprise,
		p.ID, p.Event.Alert().Class, state, parameter(c.cfg.Identity.SerialNumber), p.Subject)
}

// mostOlder is how long a message of RFC 3164 may be, in octets (section 4.1).
const mostOlder = 1024

// olderRecord is the message of RFC 3164 of a post. Its date has no year and no zone: it
// is what the card's clock shows. What RFC 5424 has as structured data begins the text.
func (c *Card) olderRecord(p *post, priority int, name, state string) []byte {
	text := fmt.Sprintf("<%d>%s %s ridethrough: %s id=%d class=%s state=%s serial=%s SIMULATION %s",
		priority, c.clock.In(p.Made).Format(time.Stamp), name, p.Event, p.ID, p.Event.Alert().Class, state, header(c.cfg.Identity.SerialNumber, 64), p.Subject)
	text = snap.Printable(text)
	return []byte(text[:min(len(text), mostOlder)])
}

// header is text as a field of the header: printable without blanks, or the nil
// value (RFC 5424 section 6).
func header(text string, limit int) string {
	text = strings.Map(func(r rune) rune {
		if r <= ' ' || r > '~' {
			return '-'
		}
		return r
	}, text)
	if text == "" {
		return "-"
	}
	return text[:min(len(text), limit)]
}

// parameter escapes what a value of structured data may not hold (RFC 5424 section
// 6.3.3).
func parameter(text string) string {
	return strings.NewReplacer(`\`, `\\`, `"`, `\"`, `]`, `\]`).Replace(text)
}
