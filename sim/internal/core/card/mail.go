package card

import (
	"encoding/csv"
	"fmt"
	"net/netip"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// mail puts a message into the queue for everybody whose rule wants it.
func (c *Card) mail(now vtime.Tick, in *incident, ends bool) {
	k := in.event.Alert()
	severity := in.severity()
	if ends && !in.told && severity == snap.Critical {
		severity = snap.Warning // it came and went before anybody could have acted
	}
	a := c.inForce.Alerting()
	for i := range a.Recipients {
		r := &a.Recipients[i]
		over := ends && in.told && k.Ends != ""
		if a.Mail.Server == "" || r.Mode == snap.MailDigest || !r.Classes.Has(k.Class) || !severity.AtLeast(r.Least) || over && !r.Recovery {
			continue
		}
		word := string(severity)
		if over {
			word = "cleared"
		}
		c.enqueue(now, StoredPost{
			To: r.Name, Event: in.event, Clears: over, Risen: in.risen,
			Subject: word + ": " + in.say(ends), Body: c.body(now, in, ends),
		})
	}
}

// body is what a mail says.
func (c *Card) body(now vtime.Tick, in *incident, ends bool) string {
	var b strings.Builder
	line := func(label, value string) {
		if value != "" {
			fmt.Fprintf(&b, "%-12s %s\n", label, value)
		}
	}
	fmt.Fprintf(&b, "%s.\n\n", strings.ToUpper(in.say(ends)[:1])+in.say(ends)[1:])
	line("Event", in.event.String()+" ("+in.event.Alert().Class.String()+")")
	line("Began", stamp(c, in.since))
	if ends {
		line("Over", stamp(c, in.moved))
	}
	if in.count > 1 {
		line("Times", fmt.Sprint(in.count))
	}
	c.sender(line)
	b.WriteString("\n" + c.unitNow())
	fmt.Fprintf(&b, "\nWritten %s by the card's clock. This is a SIMULATION.\n", stamp(c, now))
	return b.String()
}

// unitNow is how the unit is, in lines.
func (c *Card) unitNow() string {
	switch {
	case !c.unit.up:
		return "The unit does not answer the card.\n"
	case c.alerts.facts == nil:
		return ""
	}
	return c.alerts.facts()
}

func (c *Card) sender(line func(label, value string)) {
	s := c.inForce
	line("Card", s.Name+" "+c.cfg.Identity.SerialNumber)
	line("Unit", s.UPSName)
	line("Location", s.Location)
	line("Contact", s.Contact)
}

const dated = "2006-01-02 15:04:05 -0700"

func stamp(c *Card, t vtime.Tick) string { return c.clock.In(c.clock.Stamp(t)).Format(dated) }

// digests says whether anybody gets digests.
func (c *Card) digests() bool {
	a := c.inForce.Alerting()
	for i := range a.Recipients {
		if a.Mail.Server != "" && a.Recipients[i].Mode != snap.MailEach {
			return true
		}
	}
	return false
}

// digest makes the mails at an interval.
func (c *Card) digest(now vtime.Tick) {
	a := c.inForce.Alerting()
	if !c.digests() || now < c.alerts.digestAt+a.Mail.DigestEvery {
		return
	}
	for i := range a.Recipients {
		if r := &a.Recipients[i]; r.Mode != snap.MailEach {
			c.enqueue(now, StoredPost{
				To: r.Name, Event: snap.EventTry, Digest: true, After: c.alerts.digestFrom,
				Subject: "digest", Body: c.digestBody(now),
			})
		}
	}
	c.alerts.digestAt, c.alerts.digestFrom = now, c.journal.seq
}

func (c *Card) digestBody(now vtime.Tick) string {
	var b strings.Builder
	fmt.Fprintf(&b, "Since %s the card noted %d entries; they are attached.\n\n", stamp(c, c.alerts.digestAt), c.journal.seq-c.alerts.digestFrom)
	c.sender(func(label, value string) {
		if value != "" {
			fmt.Fprintf(&b, "%-12s %s\n", label, value)
		}
	})
	b.WriteString("\n" + c.unitNow())
	fmt.Fprintf(&b, "\nWritten %s by the card's clock. This is a SIMULATION.\n", stamp(c, now))
	return b.String()
}

// attachment is the journal after an entry, as CSV.
func (c *Card) attachment(after uint32) string {
	var b strings.Builder
	w := csv.NewWriter(&b)
	w.Write([]string{"seq", "date", "text"})
	for _, e := range c.journal.entries {
		if e.Seq > after {
			w.Write([]string{fmt.Sprint(e.Seq), c.clock.In(e.At).Format(dated), e.Text})
		}
	}
	w.Flush()
	return b.String()
}

// literal is an address as RFC 5321 section 4.1.3 writes it.
func literal(a netip.Addr) string {
	if a.Is6() {
		return "[IPv6:" + a.String() + "]"
	}
	return "[" + a.String() + "]"
}

// letter is the mail of a post as it leaves now.
func (c *Card) letter(now vtime.Tick, p *post, r *snap.Recipient) *snap.Letter {
	name := c.inForce.Name
	mark := "SIMULATION " + name + ": "
	if p.late {
		mark = "SIMULATION LATE " + name + ": "
	}
	body := p.Body
	if p.late {
		body = fmt.Sprintf("LATE: this could not be delivered for %s.\n\n%s", (now - p.made).Duration(), body)
	}
	l := &snap.Letter{
		From: c.inForce.Alerts.Mail.From, To: r.Address, Subject: mark + p.Subject, Body: body, Date: c.clock.In(p.Made),
		MessageID: fmt.Sprintf("%d.%d@%s.invalid", p.ID, p.Made, strings.ToLower(c.cfg.Identity.SerialNumber)),
	}
	l.Hello = literal(c.address.now.Prefix.Addr())
	if p.Digest {
		l.Name, l.Attachment = "journal.csv", c.attachment(p.After)
	}
	return l
}
