package scenario

import (
	"net/netip"

	"ridethrough/sim/internal/core/vtime"
)

// signInTable is what is set on the card for signing in.
type signInTable struct {
	table
	Order    string     `key:"order" def:"local" one:"local|radius|ldap|local-radius|local-ldap|radius-ldap|ldap-radius" doc:"Who is asked, one after the other (access.sign-in)."`
	Fallback bool       `key:"fallback" def:"false" doc:"The card's own accounts are asked where no server answers (access.fallback)."`
	Dead     vtime.Tick `key:"dead_time" def:"2m" min:"0s" max:"1h" doc:"How long a server that was silent is left out (access.dead-time)."`
	RoleFrom string     `key:"radius_role" def:"filter-id" one:"filter-id|service-type" doc:"Attribute that holds the role (access.radius-role)."`
	Default  string     `key:"default_role" def:"none" one:"none|viewer|operator|administrator" doc:"Role of users to whom a server gives none (access.default-role)."`
	After    int64      `key:"lock_after" def:"5" min:"1" max:"20" doc:"Failed sign-ins of one user in a row (access.lock-after)."`
	For      vtime.Tick `key:"lock_for" def:"5m" min:"1s" max:"24h" doc:"How long that user is locked out then (access.lock-for)."`
	Sessions int64      `key:"sessions" def:"4" min:"1" max:"16" doc:"Sessions over the network at the same time (access.sessions)."`
}

// radiusTable is a RADIUS server as it is set on the card.
type radiusTable struct {
	table
	Name          string         `key:"name" need:"yes" min:"1" max:"16" ascii:"yes" doc:"Its name in the settings: lower-case letters, digits and hyphens."`
	At            netip.AddrPort `key:"at" need:"yes" doc:"Address and port, such as \"198.51.100.30:1812\". It is simulated; serve maps it to loopback."`
	Secret        string         `key:"shared_secret" need:"yes" min:"8" max:"64" ascii:"yes" secret:"yes" doc:"Shared secret. It is none: it stands in this file. Never put one that is used anywhere else."`
	Timeout       vtime.Tick     `key:"timeout" def:"3s" min:"1s" max:"30s" doc:"How long each try waits."`
	Tries         int64          `key:"tries" def:"2" min:"1" max:"5" doc:"Messages before the server counts as silent."`
	Authenticated bool           `key:"message_authenticator" def:"true" doc:"An answer counts only with a Message-Authenticator (RFC 3579)."`
}

// ldapTable is an LDAP server as it is set on the card.
type ldapTable struct {
	table
	Name           string         `key:"name" need:"yes" min:"1" max:"16" ascii:"yes" doc:"Its name in the settings: lower-case letters, digits and hyphens."`
	At             netip.AddrPort `key:"at" need:"yes" doc:"Address and port, such as \"198.51.100.31:389\". It is simulated; serve maps it to loopback."`
	Protection     string         `key:"protection" def:"starttls" one:"starttls|ldaps" doc:"How TLS begins. There is no way without."`
	Fingerprint    string         `key:"fingerprint" need:"yes" min:"64" max:"95" ascii:"yes" doc:"SHA-256 of the server's certificate, or of the one that signed it."`
	BindDN         string         `key:"bind_dn" def:"" max:"200" ascii:"yes" doc:"Who searches; empty: anonymously."`
	BindPassword   *string        `key:"bind_password" auto:"none" min:"1" max:"64" ascii:"yes" secret:"yes" doc:"Password of who searches. It is no secret: it stands in this file."`
	Base           string         `key:"base" need:"yes" min:"1" max:"200" ascii:"yes" doc:"Where users are searched."`
	UserAttribute  string         `key:"user_attribute" def:"uid" min:"1" max:"32" ascii:"yes" doc:"Attribute that holds the user name."`
	Administrators string         `key:"administrators" def:"" max:"200" ascii:"yes" doc:"Group whose members are administrators."`
	Operators      string         `key:"operators" def:"" max:"200" ascii:"yes" doc:"Group whose members are operators."`
	Viewers        string         `key:"viewers" def:"" max:"200" ascii:"yes" doc:"Group whose members are viewers."`
	Timeout        vtime.Tick     `key:"timeout" def:"5s" min:"1s" max:"30s" doc:"How long the whole query may take."`
}

// loginServerTable is a server as it truly is.
type loginServerTable struct {
	table
	Name    string           `key:"name" need:"yes" doc:"Name of the server, for the timeline."`
	At      netip.AddrPort   `key:"at" need:"yes" doc:"Address and port at which it is."`
	Is      string           `key:"is" def:"answering" one:"answering|down|strange" doc:"How it does. strange: not to be trusted: its RADIUS answers have no Message-Authenticator, or its certificate is another one."`
	Secret  *string          `key:"knows_secret" auto:"the card's" min:"1" max:"64" ascii:"yes" secret:"yes" doc:"Shared secret that a RADIUS server has for the card. With another one than the card's it does not answer."`
	Answers vtime.Tick       `key:"answers_in" def:"50ms" min:"1ms" max:"2m" doc:"How long it takes."`
	Users   []loginUserTable `key:"user" max:"32" doc:"A user that it knows. Written [[login_server.user]]."`

	CertificateDays *float64 `key:"certificate_days" auto:"no date" min:"-36500" max:"36500" doc:"Of an LDAP server: how many days after the start the certificate that it shows expires. The card trusts its fingerprint, whatever date is in it, and warns by alerts.expiry-days: the next certificate has another fingerprint."`
}

type loginUserTable struct {
	table
	Name string `key:"name" need:"yes" min:"1" max:"32" ascii:"yes" doc:"User name."`
	Role string `key:"role" def:"none" one:"none|viewer|operator|administrator" doc:"Role that the server gives on this card."`
}

// tryTable is somebody who signs in.
type tryTable struct {
	table
	User    string     `key:"user" need:"yes" min:"1" max:"32" ascii:"yes" doc:"Who."`
	Types   string     `key:"types" def:"own" one:"own|label|wrong" doc:"The password that is typed: the user's own, the one on the factory label, or a wrong one."`
	Surface string     `key:"over" def:"ssh" one:"ssh|serial" doc:"Where."`
	From    string     `key:"from" def:"" max:"64" ascii:"yes" doc:"Address of who tries, for the audit and the access list."`
	Times   int64      `key:"times" def:"1" min:"1" max:"100000" doc:"How often in a row."`
	Stays   vtime.Tick `key:"stays" def:"0s" min:"0s" max:"24h" doc:"How long who got in stays at the card."`
	Then    string     `key:"then" def:"signs-out" one:"signs-out|walks-away|pulls-lead" doc:"How who stayed leaves: signs out; leaves the terminal as it is, so that the session lasts until access.idle; or pulls the lead or closes the terminal program, which ends the session unless it is at the serial line and access.serial-stays is yes. Who comes to the serial line meanwhile is in that session and is not asked."`
}

// accountChangeTable is what an administrator does with an account.
type accountChangeTable struct {
	table
	User string `key:"user" need:"yes" min:"1" max:"32" ascii:"yes" doc:"Whose account."`
	Do   string `key:"do" need:"yes" one:"add|remove|role|password|unlock" doc:"What is done: the user gets an account, loses it, another role, or chooses another password; or a lock-out ends."`
	Role string `key:"role" def:"administrator" one:"viewer|operator|administrator" doc:"With add and role."`
}

type serverChangeTable struct {
	table
	Name string `key:"name" need:"yes" doc:"Name of the server."`
	Is   string `key:"is" need:"yes" one:"answering|down|strange" doc:"How it does from now on."`
}
