package scenario

import (
	"net/netip"

	"ridethrough/sim/internal/core/vtime"
)

// alertsTable is whom the card tells of what, as the technician has set it.
type alertsTable struct {
	table
	Confirm vtime.Tick `key:"confirm" def:"5s" min:"0s" max:"1h" doc:"How long a condition has to last before it is mailed."`
	Settle  vtime.Tick `key:"settle" def:"30s" min:"0s" max:"1h" doc:"How long it has to be gone before its end is mailed."`

	Mail       mailTable        `key:"mail" doc:"The way to the mail relay."`
	Recipients []recipientTable `key:"recipient" max:"8" doc:"Somebody who gets mail. Written [[card.alerts.recipient]]."`
	Syslog     []syslogTable    `key:"syslog" max:"4" doc:"A collector of syslog messages. Written [[card.alerts.syslog]]."`
}

type mailTable struct {
	table
	Server   string     `key:"server" def:"" max:"253" ascii:"yes" doc:"Name or address of the relay; empty: no mail."`
	Port     int64      `key:"port" def:"25" min:"1" max:"65535" doc:"Its port."`
	Security string     `key:"security" def:"starttls" one:"none|starttls|tls" doc:"How the way is protected."`
	Trust    string     `key:"trust" def:"system" max:"71" ascii:"yes" doc:"Which certificate is trusted: \"system\", \"any\", or \"sha256:\" and 64 hexadecimal digits."`
	User     string     `key:"user" def:"" max:"64" ascii:"yes" doc:"User at the relay; empty: it does not sign in."`
	Password *string    `key:"password" auto:"none" min:"1" max:"64" ascii:"yes" secret:"yes" doc:"Password at the relay. It stands in this file: never put one that is used anywhere else."`
	From     *string    `key:"from" auto:"ups@ and the domain site.example" max:"254" ascii:"yes" doc:"Sender."`
	Late     vtime.Tick `key:"late_after" def:"5m" min:"1s" max:"24h" doc:"A mail that leaves later than this is marked LATE."`
	Expiry   vtime.Tick `key:"expiry" def:"4h" min:"1m" max:"72h" doc:"A message that could not be delivered for so long is given up."`
	Digest   vtime.Tick `key:"digest_every" def:"24h" min:"1m" max:"168h" doc:"How often digests leave."`
}

type recipientTable struct {
	table
	Name     string `key:"name" need:"yes" doc:"Its name: lower-case letters and digits."`
	Address  string `key:"address" need:"yes" max:"254" ascii:"yes" doc:"Mail address."`
	Classes  string `key:"classes" def:"all" max:"200" ascii:"yes" doc:"What the events are about: all, or words with commas between them; see [card.md](card.md)."`
	Least    string `key:"least" def:"warning" one:"info|warning|critical" doc:"Least severity."`
	Recovery bool   `key:"recovery" def:"true" doc:"Hears too when something is over."`
	Mode     string `key:"mode" def:"each" one:"each|digest|both" doc:"A mail for each event, a digest at an interval, or both."`
}

type syslogTable struct {
	table
	Name      string `key:"name" need:"yes" doc:"Its name: lower-case letters and digits."`
	Server    string `key:"server" need:"yes" min:"1" max:"253" ascii:"yes" doc:"Name or address of the collector."`
	Port      int64  `key:"port" def:"514" min:"1" max:"65535" doc:"Its port."`
	Transport string `key:"transport" def:"udp" one:"udp|tcp|tls" doc:"How messages travel."`
	Format    string `key:"format" def:"rfc5424" one:"rfc5424|rfc3164" doc:"How they are written: with year, zone and structured data, or in the older form without them."`
	Trust     string `key:"trust" def:"system" max:"71" ascii:"yes" doc:"As of mail."`
	Facility  int64  `key:"facility" def:"16" min:"0" max:"23" doc:"Facility of RFC 5424."`
	Classes   string `key:"classes" def:"all" max:"200" ascii:"yes" doc:"As of a recipient."`
	Least     string `key:"least" def:"info" one:"info|warning|critical" doc:"Least severity."`
}

// serverTable is a server of the site.
type serverTable struct {
	table
	Name    string      `key:"name" need:"yes" doc:"Its name: lower-case letters, digits and underscores."`
	Kind    string      `key:"kind" need:"yes" one:"mail|syslog|names|snmp" doc:"What it is for: a mail relay, a syslog collector, names (DNS), or a receiver of SNMP notifications, which serve can map although the card is not set to it yet. Without any of the last kind all names are found at once."`
	Address *netip.Addr `key:"address" auto:"none" doc:"Its address."`
	DNSName string      `key:"dns_name" def:"" max:"253" ascii:"yes" doc:"Its name in the DNS."`
	Port    *int64      `key:"port" auto:"25 for mail, 514 for syslog, 162 for snmp" min:"1" max:"65535" doc:"Its port."`
	Host    *string     `key:"host" auto:"none: it always works" doc:"Host on which it runs: it serves while that is at work."`
	Groups  []string    `key:"needs_groups" max:"8" doc:"Outlet groups that have to be live, for itself and for switches on the way to it."`

	Answer    string     `key:"answer" def:"accept" one:"accept|defer|refuse|silent|closed|hangs-up" doc:"What it says to everybody: of a mail relay defer is a code 4xx, refuse 5xx; a syslog collector hangs up, which is all that it can do, and over UDP says nothing. silent takes a connection and never says anything, closed takes none, hangs-up takes the message and ends the connection before it answers."`
	Takes     vtime.Tick `key:"takes" def:"200ms" min:"1ms" max:"10m" doc:"How long it takes to answer."`
	TLS       string     `key:"tls" def:"good" one:"good|old|none" doc:"What it offers: TLS as today, only versions that are no longer accepted, or none."`
	SignIn    string     `key:"sign_in" def:"accept" one:"accept|refuse" doc:"Whether it accepts user and password."`
	Unknown   []string   `key:"unknown" max:"64" doc:"Mail addresses that it has no mailbox for."`
	Senders   []string   `key:"senders" max:"64" doc:"Domains that it takes mail from, such as \"site.example\"; none: any."`
	Greylists vtime.Tick `key:"greylists" def:"0s" min:"0s" max:"24h" doc:"How long it defers mail to an address for which it sees the card for the first time."`

	CertificateDays *float64 `key:"certificate_days" auto:"no date" min:"-36500" max:"36500" doc:"How many days after the start the certificate that it shows expires; negative: before. The card is shown it whenever it speaks TLS with the server, and warns by alerts.expiry-days."`

	Sink      bool         `key:"sink" def:"false" doc:"It keeps what arrives, whoever sent it: sinks.NAME counts that. serve opens a real one on loopback, for the card and for the software under test; [bench.md](bench.md#sinks) has more. It needs an address."`
	Community *string      `key:"community" auto:"any will do" min:"1" max:"32" ascii:"yes" secret:"yes" doc:"Of a sink of kind snmp: notifications of SNMPv1 and v2c under another community are refused."`
	Users     []sinkUser   `key:"user" max:"16" auto:"the users of the card" doc:"Of a sink of kind snmp: a user of SNMPv3 whose notifications it takes. Written [[server.user]]. Passwords here are no secrets."`
	DropsPct  float64      `key:"drops_pct" def:"0" min:"0" max:"100" doc:"Of a sink: how much of what arrives is lost without a word, drawn from the seed."`
	Acks      string       `key:"acknowledges" def:"yes" one:"yes|never|wrong" doc:"Of a sink of kind snmp: what it does about informs. It acknowledges them, takes them and says nothing, or acknowledges another one. takes says how late it is."`
	Matches   []matchTable `key:"match" max:"16" doc:"Of a sink: messages that sinks.NAME.matched counts. Written [[server.match]]."`
}

// sinkUser is a user of SNMPv3 that a sink knows.
type sinkUser struct {
	table
	Name         string  `key:"name" need:"yes" min:"1" max:"32" ascii:"yes" doc:"Its name."`
	Auth         string  `key:"auth" def:"none" one:"none|md5|sha-1|sha-224|sha-256|sha-384|sha-512" doc:"Authentication protocol."`
	AuthPassword *string `key:"auth_password" auto:"none; needed with auth" min:"8" max:"64" ascii:"yes" secret:"yes" doc:"Its password."`
	Priv         string  `key:"priv" def:"none" one:"none|des|aes-128|aes-192-blumenthal|aes-256-blumenthal|aes-192-reeder|aes-256-reeder" doc:"Privacy protocol."`
	PrivPassword *string `key:"priv_password" auto:"none; needed with priv" min:"8" max:"64" ascii:"yes" secret:"yes" doc:"Its password."`
}

// matchTable is what makes a message one of those that are counted.
type matchTable struct {
	table
	Name    string `key:"name" need:"yes" doc:"Its name: lower-case letters, digits and underscores."`
	From    string `key:"from" def:"" max:"200" ascii:"yes" doc:"What the sender contains: of a mail its address, of syslog host and application, of a notification the user of SNMPv3."`
	To      string `key:"to" def:"" max:"200" ascii:"yes" doc:"What the recipients of a mail contain."`
	Subject string `key:"subject" def:"" max:"200" doc:"What the subject of a mail contains, or the text of a syslog message, or the name of a notification such as on_battery."`
	Text    string `key:"text" def:"" max:"200" doc:"What the text contains: of a mail its body, of syslog the whole message, of a notification what it is about, such as an alarm's name, and its variables."`
	OID     string `key:"oid" def:"" max:"200" ascii:"yes" doc:"What a notification's object identifier begins with, such as \"1.3.6.1.2.1.33.2\"."`
}

// serverEntry is what a timeline entry makes of one.
type serverEntry struct {
	table
	Name   string      `key:"name" need:"yes" doc:"Name of the server."`
	Answer *string     `key:"answer" auto:"as before" one:"accept|defer|refuse|silent|closed|hangs-up" doc:"What it says from now on."`
	Takes  *vtime.Tick `key:"takes" auto:"as before" min:"1ms" max:"10m" doc:"How long it takes."`
	TLS    *string     `key:"tls" auto:"as before" one:"good|old|none" doc:"What it offers."`
	SignIn *string     `key:"sign_in" auto:"as before" one:"accept|refuse" doc:"Whether it accepts user and password."`
	Drops  *float64    `key:"drops_pct" auto:"as before" min:"0" max:"100" doc:"Of a sink: how much of what arrives is lost."`
	Acks   *string     `key:"acknowledges" auto:"as before" one:"yes|never|wrong" doc:"Of a sink of kind snmp: what it does about informs."`

	CertificateDays *float64 `key:"certificate_days" auto:"as before" min:"-36500" max:"36500" doc:"It shows another certificate, which expires so many days after the entry: it was renewed."`
}
