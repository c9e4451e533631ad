package sim_test

import (
	"bytes"
	"fmt"
	"net/netip"
	"os"
	"strings"
	"testing"
	"time"

	"golang.org/x/crypto/ssh"

	"ridethrough/sim"
	"ridethrough/sim/internal/host/login/logintest"
)

// centrally is a card whose users servers know. Its own account is for the case that
// none answers.
const centrally = `
title = "central login"
run_for = "24h"
[card]
must_change_password = false
[[card.account]]
user = "emergency"
password = "behind-the-glass"
[card.sign_in]
order = "%s"
fallback = %v
lock_after = 20
[[card.radius]]
name = "one"
at = "198.51.100.30:1812"
shared_secret = "between us two"
timeout = "10s"
tries = 1
[[card.ldap]]
name = "tree"
at = "198.51.100.31:389"
fingerprint = "%s"
bind_dn = "cn=card,dc=site,dc=example"
bind_password = "the-card-searches"
base = "ou=people,dc=site,dc=example"
administrators = "cn=setters,dc=site,dc=example"
operators = "cn=actors,dc=site,dc=example"
timeout = "10s"
`

// overShell says whether user gets in over SSH, and with which role.
func (c *card) overShell(user, password string) string {
	c.t.Helper()
	client, err := ssh.Dial("tcp", c.ready.Endpoints.SSH, &ssh.ClientConfig{User: user, Auth: []ssh.AuthMethod{ssh.Password(password)},
		HostKeyCallback: ssh.InsecureIgnoreHostKey(), Timeout: 20 * time.Second}) // its key is not what is tested
	if err != nil {
		return "refused"
	}
	defer client.Close()
	session, err := client.NewSession()
	if err != nil {
		c.t.Fatal(err)
	}
	defer session.Close()
	var out bytes.Buffer
	session.Stdout, session.Stdin = &out, strings.NewReader("leave\n")
	if err := session.Shell(); err != nil {
		c.t.Fatal(err)
	}
	session.Wait()
	return roleIn(out.String())
}

// overSerial does the same at the serial line.
func (c *card) overSerial(user, password string) string {
	c.t.Helper()
	line, err := os.OpenFile(c.ready.Endpoints.Serial, os.O_RDWR, 0)
	if err != nil {
		c.t.Fatal(err)
	}
	defer line.Close()
	seen := ""
	until := func(words ...string) string {
		buf := make([]byte, 256)
		for {
			for _, w := range words {
				if strings.Contains(seen, w) {
					got := seen
					seen = ""
					return got
				}
			}
			n, err := line.Read(buf)
			if err != nil {
				c.t.Fatalf("%v after %q", err, seen)
			}
			seen += string(buf[:n])
		}
	}
	say := func(text string) { fmt.Fprint(line, text+"\r") }
	say("")
	until("user: ")
	say(user)
	until("password: ")
	say(password)
	got := until("card> ", "user: ", "in a row")
	if strings.HasSuffix(got, "card> ") {
		say("leave")
		until("Signed out.")
		return roleIn(got)
	}
	return "refused"
}

// roleIn is the role that a greeting names.
func roleIn(text string) string {
	_, rest, ok := strings.Cut(text, "Signed in as ")
	if !ok {
		return "refused"
	}
	_, rest, _ = strings.Cut(rest, ", ")
	role, _, _ := strings.Cut(rest, ".")
	return role
}

// TestCentralLogin is the matrix: the server accepts, rejects or is down, own accounts
// are fallen back on or not, over SSH and at the serial line. The own account gets in
// exactly where the server is down and falling back is wanted; nobody else then.
func TestCentralLogin(t *testing.T) {
	for _, kind := range []string{"radius", "ldap"} {
		for _, fallback := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s fallback %v", kind, fallback), func(t *testing.T) { central(t, kind, fallback) })
		}
	}
}

func central(t *testing.T, kind string, fallback bool) {
	var server *logintest.Server
	address, print := netip.MustParseAddrPort("198.51.100.30:1812"), strings.Repeat("0", 64)
	if kind == "radius" {
		server = logintest.RADIUS(t, true)
	} else {
		d := logintest.LDAP(t)
		server, print, address = d.Server, d.Fingerprint, netip.MustParseAddrPort("198.51.100.31:389")
	}
	c := serveText(t, fmt.Sprintf(centrally, kind, fallback, print), sim.ServeOptions{Speed: 1, Receivers: map[netip.AddrPort]string{address: server.At}})
	emergency := "refused"
	if fallback {
		emergency = "administrator"
	}
	setter, actor := logintest.Setter, logintest.Actor
	for _, row := range []struct {
		state, user, password, want string
	}{
		{"up", setter, setter + logintest.Tail, "administrator"},
		{"up", logintest.Reader, logintest.Reader + logintest.Tail, "refused"}, // has no role
		{"up", setter, "wrong", "refused"},
		{"up", actor, actor + logintest.Tail, "operator"},
		{"up", "emergency", "behind-the-glass", "refused"}, // the server rejects: nobody else is asked
		{"up", actor, actor + logintest.Tail, "operator"},  // and so the serial line counts from none again
		{"down", setter, setter + logintest.Tail, "refused"},
		{"down", "emergency", "behind-the-glass", emergency},
		{"down", "emergency", "wrong", "refused"},
	} {
		if row.state == "down" {
			server.Stop()
			c.send(fmt.Sprintf(`settings = { "access.%s.timeout" = "1s" }`, map[string]string{"radius": "radius.one", "ldap": "ldap.tree"}[kind]))
		}
		for surface, try := range map[string]func(string, string) string{"ssh": c.overShell, "serial": c.overSerial} {
			if got := try(row.user, row.password); got != row.want {
				t.Errorf("%s %s: %s over %s: %s, want %s", kind, row.state, row.user, surface, got, row.want)
			}
		}
	}
	c.end()
}
