package setting

import (
	"fmt"
	"net/netip"
	"regexp"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

func init() {
	declare(Alerts,
		alert(span("alerts.confirm", "confirm", "How long a condition has to last before it is mailed. The journal and syslog have it at once. What it eats is missing from the time to act.",
			0, vtime.Hour, func(s *snap.Settings, _ int) *vtime.Tick { return &s.Alerts.Confirm })),
		alert(span("alerts.settle", "settle", "How long a condition has to be gone before its end is mailed. What comes back before that is the same incident, and is counted.",
			0, vtime.Hour, func(s *snap.Settings, _ int) *vtime.Tick { return &s.Alerts.Settle })),
		alert(orOff(span("alerts.rise-after", "rise after", "A warning that has lasted for so long is told once more, as critical: what stays for a night shift and a day is nobody's by then.",
			10*vtime.Minute, 30*24*vtime.Hour, func(s *snap.Settings, _ int) *vtime.Tick { return &s.Alerts.RiseAfter }),
			func(s *snap.Settings) *vtime.Tick { return &s.Alerts.RiseAfter })),
		riseClasses(),
		alert(orNone(whole[uint16]("alerts.expiry-days", "warning of expiry", "How many days before they expire the card begins to warn of certificates that mail relay, syslog collectors and LDAP servers have shown it, and of the end of the planned life of the battery: once a day, by its own clock. Common practice is 30 at least: somebody has to order the next one.",
			"days", 0, 365, func(s *snap.Settings, _ int) *uint16 { return &s.Alerts.ExpiryDays }), "off",
			func(s *snap.Settings, _ int) bool { return s.Alerting().ExpiryDays == 0 })),
		alert(text("alerts.mail.server", "mail relay", "Name or address of the mail relay. An address still works when the servers of names are down. Empty switches mail off.",
			hostLength, func(s *snap.Settings, _ int) *string { return &s.Alerts.Mail.Server })).fit(aHost),
		alert(whole[uint16]("alerts.mail.port", "port of the relay", "Common practice is 25 between servers, 587 for clients with STARTTLS, 465 with TLS from the start.",
			"", 1, 65535, func(s *snap.Settings, _ int) *uint16 { return &s.Alerts.Mail.Port })),
		alert(choice("alerts.mail.security", "security", "starttls and tls never fall back to clear text. none shows everything to everybody on the way, the password too.",
			[]snap.MailSecurity{snap.MailPlain, snap.MailStartTLS, snap.MailTLS}, func(s *snap.Settings, _ int) *snap.MailSecurity { return &s.Alerts.Mail.Security })),
		alert(text("alerts.mail.trust", "trusted certificate", "system trusts the authorities of the machine; sha256: and the digest of the relay's certificate in 64 hexadecimal digits trust that one alone; any trusts whoever answers.",
			trustLength, func(s *snap.Settings, _ int) *string { return &s.Alerts.Mail.Trust })).fit(aTrust),
		alert(text("alerts.mail.user", "user at the relay", "Empty: the card does not sign in at the relay.",
			64, func(s *snap.Settings, _ int) *string { return &s.Alerts.Mail.User })),
		alert(secret("alerts.mail.password", "password at the relay", "Goes with the user. It is never shown.",
			1, 64, func(s *snap.Settings, _ int) *snap.Secret { return &s.Alerts.Mail.Password })),
		alert(text("alerts.mail.from", "sender", "Address that mail comes from. Many relays refuse a sender of a domain that is not theirs.",
			mailLength, func(s *snap.Settings, _ int) *string { return &s.Alerts.Mail.From })).fit(aMailbox),
		alert(span("alerts.mail.late-after", "late after", "A mail that leaves later than this after what it tells of is marked LATE.",
			vtime.Second, 24*vtime.Hour, func(s *snap.Settings, _ int) *vtime.Tick { return &s.Alerts.Mail.LateAfter })),
		alert(span("alerts.mail.expiry", "expiry", "A message that could not be delivered for so long is given up, and the journal says so. Syslog over TCP and TLS keeps to it too.",
			vtime.Minute, 72*vtime.Hour, func(s *snap.Settings, _ int) *vtime.Tick { return &s.Alerts.Mail.Expiry })),
		alert(span("alerts.mail.digest-every", "digest every", "How often recipients with a digest get one, with the journal since the last one attached.",
			vtime.Minute, 7*24*vtime.Hour, func(s *snap.Settings, _ int) *vtime.Tick { return &s.Alerts.Mail.DigestEvery })),
		recipients(), syslogServers(), snmpReceivers(),
	)
	together = append(together, alertsHold)
}

// riseClasses are which warnings do; none in the settings are all.
func riseClasses() *Setting {
	x := classes("alerts.rise-classes", func(s *snap.Settings, _ int) *snap.AlertSet { return &s.Alerts.RiseClasses })
	x.Label, x.Help = "rising classes", "What the warnings are about that become critical."
	get := x.get
	x.get = func(s *snap.Settings, i int) string {
		if s.Alerts.RiseClasses == 0 {
			return "all"
		}
		return get(s, i)
	}
	set := x.set
	x.set = func(s *snap.Settings, i int, v string) error {
		err := set(s, i, v)
		if s.Alerts.RiseClasses == snap.EveryClass {
			s.Alerts.RiseClasses = 0
		}
		return err
	}
	return alert(x)
}

// Lengths: a name of the DNS has 253 characters at most (RFC 1035), a path of mail
// 256 with its brackets (RFC 5321 section 4.5.3.1.3).
const (
	hostLength  = 253
	mailLength  = 254
	trustLength = 71 // sha256: and 64 digits
)

// alert is x for settings that may not be there yet: it makes them before it changes
// one, and reads the factory's.
func alert(x *Setting) *Setting {
	get, set, hide := x.get, x.set, x.hide
	x.AtOnce = true
	x.get = func(s *snap.Settings, i int) string { return get(alerting(s), i) }
	x.set = func(s *snap.Settings, i int, v string) error {
		trial := alerting(s)
		if err := set(&snap.Settings{Alerts: trial.Alerts.Clone()}, i, v); err != nil {
			return err
		}
		own(s)
		return set(s, i, v)
	}
	if hide != nil {
		x.hide = func(s *snap.Settings, i int, name func(string) string) { own(s); hide(s, i, name) }
	}
	return x
}

// alerting is s, or the factory's alerts in settings of their own.
func alerting(s *snap.Settings) *snap.Settings {
	if s.Alerts != nil {
		return s
	}
	return &snap.Settings{Alerts: snap.FactoryAlerts()}
}

func own(s *snap.Settings) {
	if s.Alerts == nil {
		s.Alerts = s.Alerts.Clone()
	}
}

// fit has x accept only what check lets pass.
func (x *Setting) fit(check func(string) error) *Setting {
	set := x.set
	x.set = func(s *snap.Settings, i int, v string) error {
		if err := check(v); err != nil {
			return err
		}
		return set(s, i, v)
	}
	return x
}

var hostForm = regexp.MustCompile(`^[A-Za-z0-9]([-A-Za-z0-9]*[A-Za-z0-9])?(\.[A-Za-z0-9]([-A-Za-z0-9]*[A-Za-z0-9])?)*$`)

// aHost accepts a name of the DNS, an address, or nothing.
func aHost(v string) error {
	if a, err := netip.ParseAddr(v); v == "" || err == nil && oneMachine(a) || err != nil && isHostName(v) {
		return nil
	}
	if strings.EqualFold(v, "none") {
		return fmt.Errorf("%q would be a name: empty, typed as -, is none", v)
	}
	return fmt.Errorf("%q: expected a name such as relay.example or an address such as 198.51.100.25", v)
}

// isHostName says whether v is a name of the DNS (RFC 1123 section 2.1): labels of up to 63
// characters, and the last of them not a number, or a mistyped address would be one.
func isHostName(v string) bool {
	labels := strings.Split(v, ".")
	for _, l := range labels {
		if len(l) > 63 {
			return false
		}
	}
	number := strings.Trim(labels[len(labels)-1], "0123456789") == ""
	return hostForm.MatchString(v) && !number && !strings.EqualFold(v, "none")
}

// oneMachine says whether an address is that of one machine, which somebody elsewhere
// can mean.
func oneMachine(a netip.Addr) bool {
	return a.Zone() == "" && !a.IsUnspecified() && !a.IsMulticast() && a != netip.AddrFrom4([4]byte{255, 255, 255, 255})
}

// IsMailbox says whether v is an address that mail can go to: a local part without
// quotes (RFC 5321 dot-string) and a domain.
func IsMailbox(v string) bool {
	local, domain, ok := strings.Cut(v, "@")
	return ok && len(local) <= 64 && len(v) <= mailLength && localForm.MatchString(local) && isHostName(domain)
}

var localForm = regexp.MustCompile("^[-A-Za-z0-9!#$%&'*+/=?^_`{|}~]+(\\.[-A-Za-z0-9!#$%&'*+/=?^_`{|}~]+)*$")

func aMailbox(v string) error {
	if v == "" || IsMailbox(v) {
		return nil
	}
	return fmt.Errorf("%q: expected a mail address such as desk@site.example", v)
}

var digestForm = regexp.MustCompile(`^sha256:[0-9a-f]{64}$`)

func aTrust(v string) error {
	if v == "system" || v == "any" || digestForm.MatchString(v) {
		return nil
	}
	return fmt.Errorf("%q: expected system, any, or sha256: and 64 hexadecimal digits in lower case", v)
}

// alertsHold are the rules between the settings of alerts.
func alertsHold(s *snap.Settings) error {
	a := s.Alerting()
	m := &a.Mail
	switch {
	case m.Server != "" && m.From == "":
		return fmt.Errorf("alerts.mail.from: mail needs a sender")
	case m.User != "" && m.Security == snap.MailPlain:
		return fmt.Errorf("alerts.mail.security: the password would travel in clear text: use starttls or tls, or no user")
	}
	for i := range a.Recipients {
		if r := &a.Recipients[i]; r.Address == "" {
			return fmt.Errorf("alerts.recipients.%s.address: a recipient needs an address", r.Name)
		}
	}
	for i := range a.Syslog {
		if l := &a.Syslog[i]; l.Server == "" {
			return fmt.Errorf("alerts.syslog.%s.server: a syslog server needs a name or an address", l.Name)
		}
	}
	return receiversHold(a)
}

func receiversHold(a *snap.AlertSettings) error {
	for i := range a.Receivers {
		r := &a.Receivers[i]
		path := "alerts.receivers." + r.Name
		switch {
		case !r.To.IsValid():
			return fmt.Errorf("%s.to: a receiver needs an address and a port", path)
		case r.Version == "v3" && r.User == "":
			return fmt.Errorf("%s.user: version v3 needs a user", path)
		case r.Version != "v3" && r.Community.Empty():
			return fmt.Errorf("%s.community: version %s needs a community", path, r.Version)
		case r.Version == "v1" && r.Inform:
			return fmt.Errorf("%s.inform: SNMPv1 has no informs", path)
		}
	}
	return nil
}
