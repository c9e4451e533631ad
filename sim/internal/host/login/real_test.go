package login_test

import (
	"context"
	"net"
	"net/netip"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/host/login"
	"ridethrough/sim/internal/host/login/logintest"
)

const (
	simulated = "198.51.100.30:1812"
	local     = "local-only"
	localPass = "on-this-card-alone"
)

// desk is a card with one local account, and servers by their endpoints.
func desk(t *testing.T, endpoint string, rules *snap.SignInRules, shown ...func(snap.ServerKey, time.Time)) (*login.Desk, *[]string) {
	t.Helper()
	said := new([]string)
	d := &snap.Device{}
	d.Card.Settings.SignIn = rules
	d.Card.Settings.Name = "card-a"
	d.Card.Identity.SerialNumber = "EX-1"
	d.Card.Address.Prefix = netip.MustParsePrefix("192.0.2.40/24")
	d.Card.Accounts = []snap.Account{snap.NewAccount(local, snap.Administrator, localPass, []byte("salt of the card"))}
	told := (func(snap.ServerKey, time.Time))(nil)
	if len(shown) > 0 {
		told = shown[0]
	}
	return login.New(login.Config{
		Shown:  told,
		Device: func() *snap.Device { return d },
		Endpoint: func(at netip.AddrPort) (string, bool) {
			return endpoint, at.String() == simulated && endpoint != ""
		},
		Log: func(line string) { *said = append(*said, line) },
		Now: func() vtime.Tick { return 0 },
	}), said
}

func radiusRules(change func(*snap.RADIUSServer)) *snap.SignInRules {
	s := snap.RADIUSServer{Name: "one", Address: simulated, Secret: snap.NewSecret(logintest.Secret), Timeout: 20 * vtime.Second, Tries: 1, Authenticated: true}
	change(&s)
	return &snap.SignInRules{Order: "radius", RoleFrom: snap.FilterID, Default: "none", RADIUS: []snap.RADIUSServer{s}}
}

func ldapRules(d *logintest.Directory, change func(*snap.LDAPServer)) *snap.SignInRules {
	s := snap.LDAPServer{
		Name: "tree", Address: simulated, Mode: snap.StartTLS, Fingerprint: d.Fingerprint, Timeout: 20 * vtime.Second,
		BindDN: "cn=card,dc=site,dc=example", BindPassword: snap.NewSecret("the-card-searches"), Base: "ou=people,dc=site,dc=example", UserAttribute: "uid",
		Administrators: "cn=setters,dc=site,dc=example", Operators: "cn=actors,dc=site,dc=example", Viewers: "cn=viewers,dc=site,dc=example",
	}
	change(&s)
	return &snap.SignInRules{Order: "ldap", Default: "none", LDAP: []snap.LDAPServer{s}}
}

// try is one sign-in and what has to come of it.
type try struct {
	name, user, password string
	want                 snap.Verdict
	says                 string // part of what is logged; empty: nothing is
}

func (x try) check(t *testing.T, d *login.Desk, said *[]string) {
	t.Helper()
	*said = nil
	got := d.Verify(t.Context(), snap.Actor{Surface: "ssh", User: x.user, Peer: "192.0.2.7:40000"}, x.password)
	if got != x.want {
		t.Errorf("%s: %s with %q: %+v, want %+v (%q)", x.name, x.user, x.password, got, x.want, *said)
	}
	if text := strings.Join(*said, "; "); (x.says == "") != (text == "") || !strings.Contains(text, x.says) {
		t.Errorf("%s: it says %q, want %q in it", x.name, text, x.says)
	}
	for _, secret := range []string{logintest.Secret, x.password, "the-card-searches"} {
		if secret != "" && strings.Contains(strings.Join(*said, ""), secret) {
			t.Errorf("%s: a secret is told: %q", x.name, *said)
		}
	}
}

func accepted(from snap.Authority, r snap.Role) snap.Verdict {
	return snap.Verdict{OK: true, Role: r, From: from}
}

// roles are what both servers make of their users.
func roles(from snap.Authority) []try {
	return []try{
		{"administrator", logintest.Setter, logintest.Setter + logintest.Tail, accepted(from, snap.Administrator), ""},
		{"operator", logintest.Actor, logintest.Actor + logintest.Tail, accepted(from, snap.Operator), ""},
		{"viewer", logintest.Viewer, logintest.Viewer + logintest.Tail, accepted(from, snap.Viewer), ""},
		{"no role", logintest.Reader, logintest.Reader + logintest.Tail, accepted(from, snap.NoRole), ""},
		{"wrong", logintest.Setter, "wrong", snap.Verdict{From: from}, ""},
		{"empty", logintest.Setter, "", snap.Verdict{From: from}, ""},
		{"nobody", "nobody", "nobody" + logintest.Tail, snap.Verdict{From: from}, ""},
		{"a filter", "*", logintest.Setter + logintest.Tail, snap.Verdict{From: from}, ""},
		{"local", local, localPass, snap.Verdict{From: from}, ""}, // no fallback on a reject
	}
}

// TestFreeRADIUS: what a real server makes of users, by both attributes, and what
// makes it count as silent.
func TestFreeRADIUS(t *testing.T) {
	server := logintest.RADIUS(t, true)
	rules := radiusRules(func(*snap.RADIUSServer) {})
	rules.Fallback = true
	d, said := desk(t, server.At, rules)
	for _, x := range roles(snap.RADIUS) {
		x.check(t, d, said)
	}
	rules.RoleFrom = snap.ServiceType
	for _, x := range roles(snap.RADIUS)[:2] {
		x.check(t, d, said)
	}
	rules.Default = "viewer"
	try{"default", logintest.Reader, logintest.Reader + logintest.Tail, accepted(snap.RADIUS, snap.Viewer), ""}.check(t, d, said)

	blank := radiusRules(func(s *snap.RADIUSServer) { s.Secret, s.Timeout = snap.NewSecret(logintest.Secret+" "), vtime.Second })
	d, said = desk(t, server.At, blank)
	try{"a blank behind the secret", logintest.Setter, logintest.Setter + logintest.Tail, snap.Verdict{From: snap.Nobody}, "no answer within 1s that was made with the shared secret"}.check(t, d, said)
}

// TestUnsignedRADIUS: an answer without a Message-Authenticator counts only where
// that is allowed.
func TestUnsignedRADIUS(t *testing.T) {
	server := logintest.RADIUS(t, false)
	right := logintest.Setter + logintest.Tail
	d, said := desk(t, server.At, radiusRules(func(*snap.RADIUSServer) {}))
	try{"needed", logintest.Setter, right, snap.Verdict{From: snap.Nobody}, "without Message-Authenticator"}.check(t, d, said)
	d, said = desk(t, server.At, radiusRules(func(s *snap.RADIUSServer) { s.Authenticated = false }))
	try{"not needed", logintest.Setter, right, accepted(snap.RADIUS, snap.Administrator), ""}.check(t, d, said)
}

// TestSlapd: what a real directory makes of users, both ways into TLS, and what makes
// it count as silent.
func TestSlapd(t *testing.T) {
	server := logintest.LDAP(t)
	for name, x := range map[string]struct {
		at   string
		mode snap.LDAPMode
	}{"starttls": {server.At, snap.StartTLS}, "ldaps": {server.TLS, snap.LDAPS}} {
		rules := ldapRules(server, func(s *snap.LDAPServer) { s.Mode = x.mode })
		rules.Fallback = true
		d, said := desk(t, x.at, rules)
		for _, x := range roles(snap.LDAP) {
			x.name = name + ": " + x.name
			x.check(t, d, said)
		}
	}
	right := logintest.Setter + logintest.Tail
	shown := map[snap.ServerKey]time.Time{}
	d, _ := desk(t, server.At, ldapRules(server, func(*snap.LDAPServer) {}), func(of snap.ServerKey, ends time.Time) { shown[of] = ends })
	if d.Verify(t.Context(), snap.Actor{User: logintest.Setter}, right); shown["ldap tree"].IsZero() {
		t.Errorf("shown: %v", shown)
	}
	for name, c := range map[string]struct {
		says   string
		change func(*snap.LDAPServer)
	}{
		"another certificate": {"not the one whose fingerprint was set", func(s *snap.LDAPServer) { s.Fingerprint = strings.Repeat("0", 64) }},
		"no fingerprint":      {"not the one whose fingerprint was set", func(s *snap.LDAPServer) { s.Fingerprint = "" }},
		"wrong bind":          {"the bind for the search: Invalid Credentials", func(s *snap.LDAPServer) { s.BindPassword = snap.NewSecret("wrong one") }},
		"plain port as TLS":   {"", func(s *snap.LDAPServer) { s.Mode = snap.LDAPS }},
	} {
		rules := ldapRules(server, c.change)
		d, said := desk(t, server.At, rules)
		if got := d.Verify(t.Context(), snap.Actor{User: logintest.Setter}, right); got != (snap.Verdict{From: snap.Nobody}) {
			t.Errorf("%s: %+v", name, got)
		}
		if text := strings.Join(*said, "; "); text == "" || !strings.Contains(text, c.says) {
			t.Errorf("%s: it says %q", name, text)
		}
	}
}

// TestNotMapped: a server that is nowhere is silent, and said to be.
func TestNotMapped(t *testing.T) {
	rules := radiusRules(func(*snap.RADIUSServer) {})
	d, said := desk(t, "", rules)
	try{"nowhere", local, localPass, snap.Verdict{From: snap.Nobody}, "no endpoint is mapped"}.check(t, d, said)
	rules.Fallback = true
	try{"fallback", local, localPass, accepted(snap.Fallback, snap.Administrator), "no endpoint is mapped"}.check(t, d, said)
	try{"fallback, wrong", local, "wrong", snap.Verdict{From: snap.Fallback}, "no endpoint is mapped"}.check(t, d, said)
}

// deaf is an address at which requests arrive and are counted, and nobody answers.
func deaf(t *testing.T) (endpoint string, heard func() int) {
	t.Helper()
	conn, err := net.ListenPacket("udp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	mark, err := net.Dial("udp4", conn.LocalAddr().String())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { mark.Close() })
	return conn.LocalAddr().String(), func() (n int) {
		mark.Write([]byte("mark")) // what was sent before it has arrived before it
		for b := make([]byte, 4096); ; n++ {
			if size, _, err := conn.ReadFrom(b); err != nil || string(b[:size]) == "mark" {
				return n
			}
		}
	}
}

// TestDeadTime: the real client sends nothing to a server that was silent until the
// dead time is over, the server is set otherwise or the card starts anew; unless
// there is nobody else to ask.
func TestDeadTime(t *testing.T) {
	endpoint, heard := deaf(t)
	rules := radiusRules(func(x *snap.RADIUSServer) { x.Timeout = 200 })
	rules.Fallback, rules.DeadTime = true, 2*vtime.Minute
	dev, now := &snap.Device{}, vtime.Tick(0)
	dev.Card.Settings.SignIn = rules
	dev.Card.Accounts = []snap.Account{snap.NewAccount(local, snap.Administrator, localPass, []byte("salt of the card"))}
	d := login.New(login.Config{
		Device: func() *snap.Device { return dev }, Now: func() vtime.Tick { return now }, Log: func(string) {},
		Endpoint: func(netip.AddrPort) (string, bool) { return endpoint, true },
	})
	own := accepted(snap.Fallback, snap.Administrator)
	for _, x := range []struct {
		name string
		do   func()
		sent int
		want snap.Verdict
	}{
		{"the first", func() {}, 1, own},
		{"soon after", func() { now += vtime.Minute }, 0, own},
		{"when it is over", func() { now += vtime.Minute }, 1, own},
		{"set otherwise", func() { rules.RADIUS[0].Secret = snap.NewSecret("typed once more") }, 1, own},
		{"after a start", func() { dev.Card.StartedAt = now }, 1, own},
		{"soon after that", func() {}, 0, own},
		{"nobody else to ask", func() { rules.Fallback = false }, 1, snap.Verdict{From: snap.Nobody}},
		{"no dead time", func() { rules.Fallback, rules.DeadTime = true, 0 }, 1, own},
	} {
		x.do()
		got := d.Verify(t.Context(), snap.Actor{Surface: "ssh", User: local}, localPass)
		if sent := heard(); got != x.want || sent != x.sent {
			t.Errorf("%s: %+v with %d requests, want %+v with %d", x.name, got, sent, x.want, x.sent)
		}
	}
}

// TestGoneIsNotSilent: who leaves while a server is waited for says nothing of it.
func TestGoneIsNotSilent(t *testing.T) {
	endpoint, heard := deaf(t)
	rules := radiusRules(func(x *snap.RADIUSServer) { x.Timeout = 200 })
	rules.Fallback, rules.DeadTime = true, 2*vtime.Minute
	d, _ := desk(t, endpoint, rules)
	gone, leave := context.WithCancel(t.Context())
	leave()
	d.Verify(gone, snap.Actor{Surface: "ssh", User: local}, localPass)
	heard()
	d.Verify(t.Context(), snap.Actor{Surface: "ssh", User: local}, localPass)
	if n := heard(); n != 1 {
		t.Errorf("%d requests", n)
	}
}

// TestNoWay: to a server that packets do not reach nothing is sent, and it is as
// silent as one that is down.
func TestNoWay(t *testing.T) {
	endpoint, heard := deaf(t)
	rules := radiusRules(func(x *snap.RADIUSServer) { x.Timeout = 200 })
	rules.Fallback = true
	said := ""
	dev := &snap.Device{}
	dev.Card.Settings.SignIn = rules
	dev.Card.Accounts = []snap.Account{snap.NewAccount(local, snap.Administrator, localPass, []byte("salt of the card"))}
	d := login.New(login.Config{
		Device: func() *snap.Device { return dev }, Now: func() vtime.Tick { return 0 }, Log: func(line string) { said += line },
		Endpoint: func(netip.AddrPort) (string, bool) { return endpoint, true },
		Reaches:  func(to netip.Addr) bool { return to != netip.MustParseAddrPort(simulated).Addr() },
	})
	got := d.Verify(t.Context(), snap.Actor{Surface: "ssh", User: local}, localPass)
	if n := heard(); got != accepted(snap.Fallback, snap.Administrator) || n != 0 || !strings.Contains(said, "no packets pass") {
		t.Errorf("%+v with %d requests, %q", got, n, said)
	}
}
