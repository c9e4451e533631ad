package setting

import (
	"encoding/hex"
	"fmt"
	"net/netip"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Most of each list, and lengths of its texts. They are ours.
const (
	maxServers = 3
	maxKeys    = 16
	maxDN      = 200
	maxKeyLine = 800 // an RSA key of 4096 bits has 724
)

// shutsOut is what whoever changes who is asked may do to himself.
const shutsOut = "it counts from the next sign-in on, at the serial line too, and whom it leaves out does not get in any more. Keep this session open until somebody has signed in by it."

func init() {
	rules := func(s *snap.Settings) *snap.SignInRules { return s.SignInRules() }
	declare(Access,
		cautioned(shutsOut, atOnce(choice("access.sign-in", "who is asked", "Who knows users: the card's own accounts (local) or servers, one after the other. The next is asked only if a server is silent, or the card has no such user; never after a reject.",
			snap.SignInOrders(), func(s *snap.Settings, _ int) *snap.SignInOrder { return &rules(s).Order }))),
		atOnce(yesNo("access.fallback", "fall back on own accounts", "Ask the card's own accounts where no server answers. Never where one rejects. Without it nobody gets in while the servers are away, not even at the serial line.",
			func(s *snap.Settings, _ int) *bool { return &rules(s).Fallback })),
		atOnce(span("access.dead-time", "silent servers are left out", "A server that did not answer is not asked again for so long, so that the next sign-in need not wait for it, unless nobody else can be asked. 0s: it is asked every time.",
			0, vtime.Hour, func(s *snap.Settings, _ int) *vtime.Tick { return &rules(s).DeadTime })),
		atOnce(choice("access.radius-role", "role attribute", "Where RADIUS servers put the role: Filter-Id with the word viewer, operator or administrator, or Service-Type with NAS-Prompt-User (operator) or Administrative-User (administrator).",
			[]snap.RoleAttribute{snap.FilterID, snap.ServiceType}, func(s *snap.Settings, _ int) *snap.RoleAttribute { return &rules(s).RoleFrom })),
		atOnce(choice("access.default-role", "role without one", "Role of a user whom a server accepts without giving one. none keeps such users out.",
			[]snap.RoleWord{"none", "viewer", "operator", "administrator"}, func(s *snap.Settings, _ int) *snap.RoleWord { return &rules(s).Default })),
		atOnceList(list("access.radius", "RADIUS server", "Servers that know users, asked in this order: the next where one is silent.", maxServers,
			func(s *snap.Settings) *[]snap.RADIUSServer { return &rules(s).RADIUS }, func(x *snap.RADIUSServer) *string { return &x.Name },
			func() snap.RADIUSServer {
				return snap.RADIUSServer{Timeout: 3 * vtime.Second, Tries: 2, Authenticated: true}
			},
			radiusColumns()...)),
		atOnceList(list("access.ldap", "LDAP server", "Directories that know users, asked in this order: the next where one is silent. Nothing is sent in clear.", maxServers,
			func(s *snap.Settings) *[]snap.LDAPServer { return &rules(s).LDAP }, func(x *snap.LDAPServer) *string { return &x.Name },
			func() snap.LDAPServer {
				return snap.LDAPServer{Mode: snap.StartTLS, UserAttribute: "uid", Timeout: 5 * vtime.Second}
			},
			ldapColumns()...)),
		atOnceList(list("access.key", "public key", "Keys that let users of accounts in over SSH without a password.", maxKeys,
			func(s *snap.Settings) *[]snap.PublicKey { return &rules(s).Keys }, func(x *snap.PublicKey) *string { return &x.Name },
			func() snap.PublicKey { return snap.PublicKey{} },
			text("user", "user", "Account that it opens.", 32, func(s *snap.Settings, i int) *string { return &rules(s).Keys[i].User }),
			keyLine(func(s *snap.Settings, i int) *string { return &rules(s).Keys[i].Line }),
		)),
	)
	together = append(together, serversHold)
}

func atOnceList(l *List) *List {
	l.AtOnce = true
	for _, c := range l.Columns {
		c.AtOnce = true
	}
	return l
}

func radiusColumns() []*Setting {
	at := func(s *snap.Settings, i int) *snap.RADIUSServer { return &s.SignInRules().RADIUS[i] }
	return []*Setting{
		endpoint("server", "server", "Address and port, 1812 unless the server says otherwise.", "192.0.2.30:1812", func(s *snap.Settings, i int) *string { return &at(s, i).Address }),
		secret("secret", "shared secret", "As the server has it for this card: a blank at its end counts.", 8, 64, func(s *snap.Settings, i int) *snap.Secret { return &at(s, i).Secret }),
		span("timeout", "time-out", "How long each try waits for an answer.", vtime.Second, 30*vtime.Second, func(s *snap.Settings, i int) *vtime.Tick { return &at(s, i).Timeout }),
		whole("tries", "tries", "Messages before the server counts as silent.", "", 1, 5, func(s *snap.Settings, i int) *int { return &at(s, i).Tries }),
		yesNo("authenticated", "Message-Authenticator needed", "Take no answer without a Message-Authenticator: without it somebody between may forge one.", func(s *snap.Settings, i int) *bool { return &at(s, i).Authenticated }),
	}
}

func ldapColumns() []*Setting {
	at := func(s *snap.Settings, i int) *snap.LDAPServer { return &s.SignInRules().LDAP[i] }
	dn := func(path, label, help string, field func(*snap.LDAPServer) *string) *Setting {
		return text(path, label, help, maxDN, func(s *snap.Settings, i int) *string { return field(at(s, i)) })
	}
	return []*Setting{
		endpoint("server", "server", "Address and port: 389 with starttls, 636 with ldaps.", "192.0.2.31:389", func(s *snap.Settings, i int) *string { return &at(s, i).Address }),
		choice("protection", "protection", "How TLS begins: starttls on the plain port, ldaps from the first octet. There is no way without.", []snap.LDAPMode{snap.StartTLS, snap.LDAPS}, func(s *snap.Settings, i int) *snap.LDAPMode { return &at(s, i).Mode }),
		fingerprint(func(s *snap.Settings, i int) *string { return &at(s, i).Fingerprint }),
		dn("bind-dn", "who searches", "Distinguished name under which the card searches; empty: anonymously.", func(x *snap.LDAPServer) *string { return &x.BindDN }),
		secret("bind-password", "password for that", "Password of who searches.", 1, 64, func(s *snap.Settings, i int) *snap.Secret { return &at(s, i).BindPassword }),
		dn("base", "where users are", "Distinguished name under which users are searched.", func(x *snap.LDAPServer) *string { return &x.Base }),
		text("user-attribute", "attribute of the name", "Attribute that holds the user name.", 32, func(s *snap.Settings, i int) *string { return &at(s, i).UserAttribute }),
		dn("administrators", "group of administrators", "Distinguished name of the group; empty: none.", func(x *snap.LDAPServer) *string { return &x.Administrators }),
		dn("operators", "group of operators", "Distinguished name of the group; empty: none.", func(x *snap.LDAPServer) *string { return &x.Operators }),
		dn("viewers", "group of viewers", "Distinguished name of the group; empty: none.", func(x *snap.LDAPServer) *string { return &x.Viewers }),
		span("timeout", "time-out", "How long the whole query may take.", vtime.Second, 30*vtime.Second, func(s *snap.Settings, i int) *vtime.Tick { return &at(s, i).Timeout }),
	}
}

// endpoint is an address with a port.
func endpoint(path, label, help, such string, at func(*snap.Settings, int) *string) *Setting {
	takes := "an address and port such as " + such
	return &Setting{
		Path: path, Label: label, Help: help, Takes: takes,
		get: func(s *snap.Settings, i int) string {
			if *at(s, i) == "" {
				return "none"
			}
			return *at(s, i)
		},
		set: func(s *snap.Settings, i int, v string) error {
			if v == "" || v == "none" {
				*at(s, i) = ""
				return nil
			}
			a, err := netip.ParseAddrPort(v)
			if err != nil || a.Port() == 0 || a.Addr().IsUnspecified() || a.Addr().IsMulticast() {
				return fmt.Errorf("%q: expected %s", v, takes)
			}
			*at(s, i) = a.String()
			return nil
		},
	}
}

// fingerprint is a SHA-256 in hexadecimal, colons or not.
func fingerprint(at func(*snap.Settings, int) *string) *Setting {
	const takes = "64 hexadecimal digits, with colons or without"
	return &Setting{
		Path: "fingerprint", Label: "fingerprint", Takes: takes, Text: true,
		Help: "SHA-256 of the certificate that the server shows, or of the one that signed it. Without it no server is believed.",
		get:  func(s *snap.Settings, i int) string { return *at(s, i) },
		set: func(s *snap.Settings, i int, v string) error {
			plain := strings.ToLower(strings.ReplaceAll(v, ":", ""))
			if b, err := hex.DecodeString(plain); err != nil || len(b) != 32 && len(b) != 0 {
				return fmt.Errorf("%q: expected %s", v, takes)
			}
			*at(s, i) = plain
			return nil
		},
	}
}

// keyLine is a public key: its type and itself. What follows, such as a comment, is
// left out. Whether it is one SSH knows shows when it is used.
func keyLine(at func(*snap.Settings, int) *string) *Setting {
	takes := "a key such as ssh-ed25519 AAAA..., as ssh-keygen writes it into the .pub file; types ssh-ed25519, ssh-rsa from 2048 bits up, ecdsa-sha2-nistp256, -384, -521"
	return &Setting{
		Path: "line", Label: "public key", Takes: takes, Text: true,
		Help: "Type and key in one line.",
		get:  func(s *snap.Settings, i int) string { return *at(s, i) },
		set: func(s *snap.Settings, i int, v string) error {
			if v == "" {
				*at(s, i) = ""
				return nil
			}
			line, err := parseKey(v)
			if err != nil {
				return fmt.Errorf("%w: expected %s", err, takes)
			}
			*at(s, i) = line
			return nil
		},
	}
}

// serversHold: what is asked is there.
func serversHold(s *snap.Settings) error {
	r := s.SignInRules()
	for _, a := range r.Asks() {
		switch {
		case a == snap.RADIUS && len(r.RADIUS) == 0:
			return fmt.Errorf("access.sign-in: there is no RADIUS server to ask: add access.radius NAME first")
		case a == snap.LDAP && len(r.LDAP) == 0:
			return fmt.Errorf("access.sign-in: there is no LDAP server to ask: add access.ldap NAME first")
		}
	}
	for _, x := range r.RADIUS {
		if x.Address == "" || x.Secret.Empty() {
			return fmt.Errorf("access.radius.%s: it needs a server and a secret", x.Name)
		}
	}
	for _, x := range r.LDAP {
		if x.Address == "" || x.Base == "" || x.Fingerprint == "" || x.UserAttribute == "" {
			return fmt.Errorf("access.ldap.%s: it needs a server, its fingerprint, a base and the attribute of the name", x.Name)
		}
	}
	for _, x := range r.Keys {
		if x.User == "" || x.Line == "" {
			return fmt.Errorf("access.key.%s: it needs a user and a key", x.Name)
		}
	}
	return nil
}
