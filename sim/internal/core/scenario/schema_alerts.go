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
	Syslog     []syslogTable    `key:"syslog" max:"4" doc:"A collector of syslog messages (RFC 5424). Written [[card.alerts.syslog]]."`
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

	Answer    string     `key:"answer" def:"accept" one:"accept|defer|refuse|silent" doc:"What it says to everybody: defer is a code 4xx, refuse 5xx."`
	Takes     vtime.Tick `key:"takes" def:"200ms" min:"1ms" max:"10m" doc:"How long it takes to answer."`
	TLS       string     `key:"tls" def:"good" one:"good|old|none" doc:"What it offers: TLS as today, only versions that are no longer accepted, or none."`
	SignIn    string     `key:"sign_in" def:"accept" one:"accept|refuse" doc:"Whether it accepts user and password."`
	Unknown   []string   `key:"unknown" max:"64" doc:"Mail addresses that it has no mailbox for."`
	Senders   []string   `key:"senders" max:"64" doc:"Domains that it takes mail from, such as \"site.example\"; none: any."`
	Greylists vtime.Tick `key:"greylists" def:"0s" min:"0s" max:"24h" doc:"How long it defers mail to an address for which it sees the card for the first time."`
}

// serverEntry is what a timeline entry makes of one.
type serverEntry struct {
	table
	Name   string      `key:"name" need:"yes" doc:"Name of the server."`
	Answer *string     `key:"answer" auto:"as before" one:"accept|defer|refuse|silent" doc:"What it says from now on."`
	Takes  *vtime.Tick `key:"takes" auto:"as before" min:"1ms" max:"10m" doc:"How long it takes."`
	TLS    *string     `key:"tls" auto:"as before" one:"good|old|none" doc:"What it offers."`
	SignIn *string     `key:"sign_in" auto:"as before" one:"accept|refuse" doc:"Whether it accepts user and password."`
}
