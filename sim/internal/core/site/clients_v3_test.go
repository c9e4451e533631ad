package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const withUsers = `
[[card.snmp_user]]
name = "both"
auth = "sha-256"
auth_password = "phrase the first"
priv = "aes-128"
priv_password = "phrase the second"
write = "all"
[[card.snmp_user]]
name = "looks"
auth = "sha-256"
auth_password = "phrase the first"
[[card.snmp_user]]
name = "half"
auth = "sha-256"
auth_password = "phrase the first"
read = "part"
[[card.view]]
name = "part"
include = ["1.3.6.1.2.1.1"]
`

// TestUsersOfClients: what the card makes of a manager of SNMPv3, after RFC 3414 section
// 3.2 and RFC 3415 section 3. The mains go at 2:05; a policy that is answered stops at 3:10.
func TestUsersOfClients(t *testing.T) {
	const stops = 3*min + 10*sec
	const other = `"identity.location" = "hall"`
	for name, row := range map[string]struct {
		as, settings string
		fault        snap.USMFault
		want         vtime.Tick
	}{
		"as the card has it":     {`user = "both"`, other, 0, stops},
		"no such user":           {`user = "nobody"`, other, snap.USMUnknownUser, vtime.Never},
		"no keys for it":         {`user = "looks", priv_password = "phrase the second"`, other, snap.USMUnsupportedLevel, vtime.Never},
		"another authentication": {`user = "both", auth_password = "phrase the third"`, other, snap.USMWrongDigest, vtime.Never},
		"that comes first":       {`user = "both", auth_password = "phrase the third", priv_password = "phrase the third"`, other, snap.USMWrongDigest, vtime.Never},
		"another privacy":        {`user = "both", priv_password = "phrase the third"`, other, snap.USMGarbled, vtime.Never},
		"too little protected":   {`user = "both", level = "authNoPriv"`, other, snap.USMNotPermitted, vtime.Never},
		"outside the view":       {`user = "half"`, other, snap.USMNotPermitted, vtime.Never},
		"may read alone":         {`user = "looks"`, other, snap.USMNotPermitted, stops},
		"changed on the card":    {`user = "both"`, `"access.snmp-user.both.auth-password" = "phrase the third"`, snap.USMWrongDigest, vtime.Never},
		"and known to both":      {`user = "both", auth_password = "phrase the third"`, `"access.snmp-user.both.auth-password" = "phrase the third"`, snap.USMWrongDigest, stops}, // until then
	} {
		t.Run(name, func(t *testing.T) {
			text := managed + "on_battery_for = \"60s\"\nversion = \"v3\"\nas = { " + row.as + " }\n" + withUsers
			r := playtest.Start(t, text).To(min).Inject("settings = { " + row.settings + " }")
			r.To(2*min + 5*sec).Inject(lost).To(12 * min)
			if got := reached(r, "stopping"); got != row.want {
				t.Errorf("stopping at %v, want %v\n%s", got, row.want, r.Trace())
			}
			for f := snap.USMOpen + 1; f < snap.USMFaults; f++ {
				told := strings.Contains(r.Trace(), f.String()+" from 192.0.2.254\n")
				if n := r.Site.Card.USM.Of(f); n > 0 != (f == row.fault) || told != (f == row.fault) {
					t.Errorf("%v: %d, told %v\n%s", f, n, told, r.Trace())
				}
			}
		})
	}
}

// TestGarbledIsReported: a card that reports what makes no sense counts it as a
// decryption error, and an agent that starts anew counts from zero.
func TestGarbledIsReported(t *testing.T) {
	text := strings.Replace(managed, "[card]\n", "[card]\nreport_garbled = true\n", 1) +
		"on_battery_for = \"60s\"\nversion = \"v3\"\nas = { user = \"both\", priv_password = \"phrase the third\" }\n" + withUsers
	r := playtest.Start(t, text).To(min)
	u := r.Site.Card.USM
	if u.Of(snap.USMNotDecrypted) != 6 || u.Of(snap.USMGarbled) != 0 {
		t.Errorf("a poll every ten seconds: %v", u)
	}
	r.Inject(`card = "restart"`).To(3*min + 15*sec)
	if n := r.Site.Card.USM.Of(snap.USMNotDecrypted); n != 5 && n != 6 {
		t.Errorf("a minute after it runs again: %d", n)
	}
}

// TestSignInFromOutside: the access list decides who comes to a sign-in over SSH. The
// serial line has no list.
func TestSignInFromOutside(t *testing.T) {
	r := playtest.Start(t, head+"must_change_password = false\n").To(min)
	r.Inject(`settings = { "access.allow.x.service" = "ssh", "access.allow.x.network" = "198.51.100.0/24" }`).Inject(`card = "restart"`).To(4 * min)
	for _, row := range []struct{ entry, want string }{
		{`user = "technician", from = "203.0.113.5"`, "no-card"},
		{`user = "technician", from = "198.51.100.5"`, "accepted"},
		{`user = "technician", from = "2001:db8::5"`, "no-card"},
		{`user = "technician", from = "203.0.113.5", over = "serial"`, "accepted"},
		{`user = "technician"`, "accepted"}, // from where is not told
	} {
		r.Inject("sign_in = { " + row.entry + " }")
		if got := r.Site.SignIns.Last.String(); got != row.want {
			t.Errorf("%s: %s, want %s", row.entry, got, row.want)
		}
	}
	if !strings.Contains(r.Trace(), "turns away ssh from 203.0.113.5\n") {
		t.Error("the journal does not tell of it\n" + r.Trace())
	}
}
