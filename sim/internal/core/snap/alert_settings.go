package snap

import (
	"net/netip"

	"ridethrough/sim/internal/core/vtime"
)

// AlertSettings say who hears of what, and how.
type AlertSettings struct {
	Confirm vtime.Tick // a condition is mailed once it has lasted so long
	Settle  vtime.Tick // and its end once it has been gone for so long
	// A warning of RiseClasses that has lasted for RiseAfter is critical from then on.
	RiseAfter   vtime.Tick // 0: never
	RiseClasses AlertSet   // 0: all
	// ExpiryDays is how many days before a certificate or the battery has served its
	// time the card begins to warn; 0: never.
	ExpiryDays uint16

	Mail       MailSettings
	Recipients []Recipient
	Syslog     []SyslogServer
	Receivers  []Receiver
}

// MailSecurity is how the way to the mail relay is protected.
type MailSecurity string

// Kinds of it.
const (
	MailPlain    MailSecurity = "none"
	MailStartTLS MailSecurity = "starttls" // RFC 3207, never without
	MailTLS      MailSecurity = "tls"      // RFC 8314: TLS from the first octet
)

// MailSettings are how mail leaves the card. Without a server none does.
type MailSettings struct {
	Server   string // name or address
	Port     uint16
	Security MailSecurity
	Trust    string // "system", "any", or "sha256:" and the digest of the server's certificate
	User     string
	Password Secret
	From     string

	LateAfter   vtime.Tick
	Expiry      vtime.Tick
	DigestEvery vtime.Tick
}

// MailMode is what a recipient gets.
type MailMode string

// Modes.
const (
	MailEach   MailMode = "each"   // a message for each event
	MailDigest MailMode = "digest" // one at an interval, with the journal
	MailBoth   MailMode = "both"
)

// Recipient is somebody who gets mail.
type Recipient struct {
	Name     string
	Address  string
	Classes  AlertSet
	Least    Severity
	Recovery bool // hears too that something is over
	Mode     MailMode
}

// SyslogTransport is how syslog messages travel.
type SyslogTransport string

// Transports: RFC 5426, RFC 6587 with octet counting, RFC 5425.
const (
	SyslogUDP SyslogTransport = "udp"
	SyslogTCP SyslogTransport = "tcp"
	SyslogTLS SyslogTransport = "tls"
)

// SyslogFormat is how syslog messages are written.
type SyslogFormat string

// Formats. The older one has neither year nor zone, and no structured data.
const (
	Syslog5424 SyslogFormat = "rfc5424"
	Syslog3164 SyslogFormat = "rfc3164"
)

// Plain is nothing for Syslog5424, so that equal settings are the same.
func (f SyslogFormat) Plain() SyslogFormat {
	if f == Syslog5424 {
		return ""
	}
	return f
}

// SyslogServer is a collector of syslog messages.
type SyslogServer struct {
	Name      string
	Server    string // name or address
	Port      uint16
	Transport SyslogTransport
	Format    SyslogFormat // empty: Syslog5424
	Trust     string       // as of mail, for TLS
	Facility  uint8        // RFC 5424 table 1
	Classes   AlertSet
	Least     Severity
}

// Receiver is where the card sends SNMP notifications.
type Receiver struct {
	Name      string
	To        netip.AddrPort // not valid: nowhere yet
	Source    netip.Addr     `json:",omitzero"` // of the card's addresses the one that they leave from; not valid: any
	Version   string         // "v1", "v2c" or "v3"
	Community Secret         // of SNMPv1 and SNMPv2c
	User      string         // of SNMPv3
	Level     string         // its word; of SNMPv3

	AlertRule // what it gets

	// Inform asks for an acknowledgement and repeats the notification Retries
	// times while there is none: Timeout after the first message, twice as long
	// after each further one. Timeout is real time, because receivers are real.
	Inform  bool
	Retries uint8
	Timeout vtime.Tick
}

// Bounds of the lists.
const (
	MaxRecipients = 8
	MaxSyslog     = 4
	MaxReceivers  = 8
)

// factoryAlerts are those of a card that was set nothing else.
var factoryAlerts = AlertSettings{
	Confirm: 5 * vtime.Second, Settle: 30 * vtime.Second, ExpiryDays: 30,
	Mail: MailSettings{
		Port: 25, Security: MailStartTLS, Trust: "system",
		LateAfter: 5 * vtime.Minute, Expiry: 4 * vtime.Hour, DigestEvery: 24 * vtime.Hour,
	},
}

// FactoryAlerts are the alert settings of a card that was set nothing else. They
// must not be changed.
func FactoryAlerts() *AlertSettings { return &factoryAlerts }

// Clone is a copy that shares nothing with a; that of nil is the factory's.
func (a *AlertSettings) Clone() *AlertSettings {
	if a == nil {
		a = &factoryAlerts
	}
	c := *a
	c.Recipients, c.Syslog = append([]Recipient(nil), a.Recipients...), append([]SyslogServer(nil), a.Syslog...)
	c.Receivers = append([]Receiver(nil), a.Receivers...)
	return &c
}

// Rises says whether the event becomes critical once it has lasted for RiseAfter.
func (a *AlertSettings) Rises(e AlertEvent) bool {
	k := e.Alert()
	return a.RiseAfter > 0 && k.Severity == Warning && k.Ends != "" && (a.RiseClasses == 0 || a.RiseClasses.Has(k.Class))
}

// Alerting are the alert settings of s, which must not be changed.
func (s *Settings) Alerting() *AlertSettings {
	if s.Alerts == nil {
		return &factoryAlerts
	}
	return s.Alerts
}

// Addresses says whether the notification goes to r: to one receiver whatever its rule
// says, to 0 to everybody whose rule wants it.
func (a *AlertSettings) Addresses(n Notification, r Receiver) bool {
	if n.To == 0 {
		return r.Wants(n)
	}
	return int(n.To) <= len(a.Receivers) && a.Receivers[n.To-1] == r
}
