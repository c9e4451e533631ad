package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"
	"golang.org/x/crypto/ssh"
)

// Every secret of this site has "planted" in it.
const planted = `
title = "secrets"
seed = 21
run_for = "24h"
[card]
must_change_password = false
read_community = "planted-read"
write_community = "planted-write"
receivers = [
  { to = "198.51.100.20:162", version = "v2c", community = "planted-tell", inform = true, retries = 0, timeout = "10ms" },
  { to = "198.51.100.20:162", version = "v3", user = "watch" },
]
[[card.account]]
user = "emergency"
password = "planted-emergency"
[[card.radius]]
name = "one"
at = "198.51.100.30:1812"
shared_secret = "planted-shared"
[[card.ldap]]
name = "tree"
at = "198.51.100.31:389"
fingerprint = "00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff"
bind_dn = "cn=card"
bind_password = "planted-bind"
base = "dc=example"
[card.alerts]
confirm = "0s"
mail = { server = "198.51.100.25", trust = "any", user = "card", password = "planted-relay" }
recipient = [{ name = "desk", address = "desk@site.example", least = "info" }]
[[server]]
name = "relay"
kind = "mail"
address = "198.51.100.25"
sign_in = "refuse"
[[card.snmp_user]]
name = "watch"
auth = "sha-256"
auth_password = "planted-auth"
priv = "aes-128"
priv_password = "planted-priv"
[[host]]
name = "db"
draw_w = 300
process = ["sh", "-c", "while :; do sleep 1; done"]
`

// vault is a session whose secrets are looked for.
type vault struct {
	t     *testing.T
	dir   string
	cmd   *exec.Cmd
	ready struct {
		Endpoints struct{ SNMP, SSH, Bench string }
		Token     string `json:"bench_token"`
		Label     struct{ User, Password string }
	}
	seen map[string]string // what can be read, by where
}

func (v *vault) path(name string) string { return filepath.Join(v.dir, name) }

// TestSecretsStayInside plants secrets, has them used rightly and wrongly over every
// surface, and looks for them in everything that the program says, writes or shows.
// The ready record and the environment of PROGRAM are where they may be.
func TestSecretsStayInside(t *testing.T) {
	v := &vault{t: t, dir: t.TempDir(), seen: map[string]string{}}
	v.start()
	v.overSNMP()
	v.overSSH()
	v.overBench()
	v.commandLines()
	v.stop()
	for _, name := range []string{"trace", "journal", "junit"} {
		text, err := os.ReadFile(v.path(name))
		if err != nil {
			t.Fatal(err)
		}
		v.seen[name] = string(text)
	}
	secrets := []string{"planted", v.ready.Token, v.ready.Label.Password}
	for where, text := range v.seen {
		if len(text) < 10 {
			t.Errorf("%s: %q is too little to have been looked into", where, text)
		}
		for _, s := range secrets {
			if at := strings.Index(text, s); at >= 0 {
				t.Errorf("%s shows a secret: ...%q", where, text[max(0, at-60):min(len(text), at+40)])
			}
		}
	}
	v.kept("planted-auth", "planted-priv", "planted-typed")
	again := exec.Command("ridethrough", "replay", v.path("journal"))
	if out, err := again.CombinedOutput(); err != nil {
		t.Errorf("the journal without its secrets does not replay: %v\n%s", err, out)
	}
}

// kept looks for pass phrases of SNMPv3 in the card's memory, which has keys in their
// place. What the card has to use as it is stands there, for its owner alone: so it is
// known that what is looked for could be found.
func (v *vault) kept(phrases ...string) {
	v.t.Helper()
	text, err := os.ReadFile(filepath.Join(v.path("state"), "cards.db"))
	if err != nil || !bytes.Contains(text, []byte("planted-bind")) || !bytes.Contains(text, []byte("access.snmp-user.watch.priv-password")) {
		v.t.Fatalf("%v: %d octets", err, len(text))
	}
	for _, p := range phrases {
		if bytes.Contains(text, []byte(p)) {
			v.t.Errorf("the card's memory has the pass phrase %s", p)
		}
	}
}

// start serves the site. The ready record, which holds secrets, is the first line
// on standard output and is taken off it.
func (v *vault) start() {
	v.t.Helper()
	if err := os.WriteFile(v.path("site.toml"), []byte(planted), 0o600); err != nil {
		v.t.Fatal(err)
	}
	v.cmd = exec.Command("ridethrough", "serve", "--keep", "--ready-file", v.path("ready"), "--trace", v.path("trace"),
		"--journal", v.path("journal"), "--junit", v.path("junit"), "--state", v.path("state"), "--json",
		"--map", "198.51.100.20:162="+closedPort(v.t), v.path("site.toml"))
	for name, to := range map[string]*io.Writer{"stdout": &v.cmd.Stdout, "stderr": &v.cmd.Stderr} {
		f, err := os.Create(v.path(name))
		if err != nil {
			v.t.Fatal(err)
		}
		v.t.Cleanup(func() { f.Close() })
		*to = f
	}
	if err := v.cmd.Start(); err != nil {
		v.t.Fatal(err)
	}
	v.t.Cleanup(func() { v.cmd.Process.Kill(); v.cmd.Wait() })
	for deadline := time.Now().Add(time.Minute); ; time.Sleep(10 * time.Millisecond) {
		text, err := os.ReadFile(v.path("ready"))
		if err == nil {
			err = json.Unmarshal(text, &v.ready)
		}
		if err == nil {
			return
		}
		if time.Now().After(deadline) {
			out, _ := os.ReadFile(v.path("stderr"))
			v.t.Fatalf("not ready: %v\n%s", err, out)
		}
	}
}

// stop ends the session and takes what it said.
func (v *vault) stop() {
	v.t.Helper()
	end(v.cmd)
	for _, name := range []string{"stdout", "stderr"} {
		text, err := os.ReadFile(v.path(name))
		if err != nil {
			v.t.Fatal(err)
		}
		if name == "stdout" {
			first, rest, _ := bytes.Cut(text, []byte("\n"))
			if !bytes.Contains(first, []byte("planted-read")) {
				v.t.Errorf("the first line is no ready record: %s", first)
			}
			text = rest
		}
		v.seen[name] = string(text)
	}
}

func (v *vault) manager(change func(*gosnmp.GoSNMP, *gosnmp.UsmSecurityParameters)) *gosnmp.GoSNMP {
	v.t.Helper()
	host, port, _ := net.SplitHostPort(v.ready.Endpoints.SNMP)
	n, _ := strconv.Atoi(port)
	sec := &gosnmp.UsmSecurityParameters{UserName: "watch",
		AuthenticationProtocol: gosnmp.SHA256, AuthenticationPassphrase: "planted-auth",
		PrivacyProtocol: gosnmp.AES, PrivacyPassphrase: "planted-priv"}
	g := &gosnmp.GoSNMP{Target: host, Port: uint16(n), Version: gosnmp.Version2c, Community: "planted-write", Timeout: 20 * time.Second,
		SecurityModel: gosnmp.UserSecurityModel, MsgFlags: gosnmp.AuthPriv, SecurityParameters: sec}
	change(g, sec)
	if err := g.Connect(); err != nil {
		v.t.Fatal(err)
	}
	v.t.Cleanup(func() { g.Conn.Close() })
	return g
}

// overSNMP walks everything in both ways of access, writes, and gets each secret
// wrong.
func (v *vault) overSNMP() {
	v.t.Helper()
	for name, version := range map[string]gosnmp.SnmpVersion{"walk over v2c": gosnmp.Version2c, "walk over v3": gosnmp.Version3} {
		g := v.manager(func(g *gosnmp.GoSNMP, _ *gosnmp.UsmSecurityParameters) { g.Version = version })
		var text strings.Builder
		if err := g.BulkWalk(".1.3", func(p gosnmp.SnmpPDU) error {
			value := p.Value
			if b, ok := value.([]byte); ok {
				value = string(b)
			}
			fmt.Fprintln(&text, p.Name, value)
			return nil
		}); err != nil {
			v.t.Fatalf("%s: %v", name, err)
		}
		v.seen[name] = text.String()
	}
	g := v.manager(func(*gosnmp.GoSNMP, *gosnmp.UsmSecurityParameters) {})
	if p, err := g.Set([]gosnmp.SnmpPDU{{Name: ".1.3.6.1.2.1.1.6.0", Type: gosnmp.OctetString, Value: "room 2"}}); err != nil || p.Error != gosnmp.NoError {
		v.t.Fatalf("%v, %v", p, err)
	}
	for _, wrong := range []func(*gosnmp.GoSNMP, *gosnmp.UsmSecurityParameters){
		func(g *gosnmp.GoSNMP, _ *gosnmp.UsmSecurityParameters) { g.Community = "planted-guess" },
		func(g *gosnmp.GoSNMP, s *gosnmp.UsmSecurityParameters) {
			g.Version, s.AuthenticationPassphrase = gosnmp.Version3, "planted-guess"
		},
		func(g *gosnmp.GoSNMP, s *gosnmp.UsmSecurityParameters) {
			g.Version, s.PrivacyPassphrase = gosnmp.Version3, "planted-guess"
		},
	} {
		g := v.manager(wrong)
		g.Timeout = 100 * time.Millisecond
		if p, err := g.Get([]string{".1.3.6.1.2.1.1.3.0"}); err == nil {
			v.t.Errorf("a wrong secret was answered: %+v", p)
		}
	}
}

// overSSH signs in rightly and wrongly, shows everything, and changes both
// communities.
func (v *vault) overSSH() {
	v.t.Helper()
	config := &ssh.ClientConfig{User: v.ready.Label.User, Auth: []ssh.AuthMethod{ssh.Password("planted-guess")},
		HostKeyCallback: ssh.InsecureIgnoreHostKey(), Timeout: 10 * time.Second} // its key is not what is tested
	if c, err := ssh.Dial("tcp", v.ready.Endpoints.SSH, config); err == nil {
		c.Close()
		v.t.Error("a wrong password lets in")
	}
	config.Auth = []ssh.AuthMethod{ssh.Password(v.ready.Label.Password)}
	c, err := ssh.Dial("tcp", v.ready.Endpoints.SSH, config)
	if err != nil {
		v.t.Fatal(err)
	}
	defer c.Close()
	session, err := c.NewSession()
	if err != nil {
		v.t.Fatal(err)
	}
	defer session.Close()
	lines, err := session.StdinPipe() // an end of it would end the session before it has answered
	if err != nil {
		v.t.Fatal(err)
	}
	typed := strings.Join([]string{"show", "communities", "planted-new-read", "planted-new-write", "changes", "save",
		"show", "status", "communities", "planted-x", "planted-x", "changes", "undo",
		"account add", "anna", "viewer", "planted-anna", "planted-anna", "account password anna", "planted-other", "planted-other", "accounts",
		"password", "planted-guess", v.ready.Label.Password, "planted-own", "planted-own", "edit access.radius.one.secret", "planted-shared-2", "changes", "undo", "edit access.snmp-user.watch.auth-password", "planted-typed", "changes", "save",
		"export", "journal all", "sessions", "leave", ""}, "\n")
	var out bytes.Buffer
	session.Stdout = &out // a terminal has no other
	if err := errors.Join(session.RequestPty("dumb", 40, 120, nil), session.Shell()); err != nil {
		v.t.Fatal(err)
	}
	if _, err := io.WriteString(lines, typed); err != nil {
		v.t.Fatal(err)
	}
	err = session.Wait()
	if text := out.String(); !strings.Contains(text, "anna may sign in as viewer") || !strings.Contains(text, "Your password is changed.") {
		v.t.Errorf("accounts were not changed (%v):\n%s", err, text)
	}
	if strings.Count(out.String(), "Saved") < 2 {
		v.t.Errorf("nothing was saved (%v):\n%s", err, out.String())
	}
	v.seen["menu"] = out.String()
}

// overBench reads the state and sends what is wrong and what is right.
func (v *vault) overBench() {
	v.t.Helper()
	for _, c := range []struct{ method, path, body, token string }{
		{http.MethodGet, "/v1/state", "", v.ready.Token},
		{http.MethodGet, "/readyz", "", "wrong"},
		{http.MethodPost, "/v1/send", `source = "lost"`, v.ready.Token},
		{http.MethodPost, "/v1/send", `community = "x"`, v.ready.Token},
	} {
		req, err := http.NewRequest(c.method, "http://"+v.ready.Endpoints.Bench+c.path, strings.NewReader(c.body))
		if err != nil {
			v.t.Fatal(err)
		}
		req.Header.Set("Authorization", "Bearer "+c.token)
		answer, err := http.DefaultClient.Do(req)
		if err != nil {
			v.t.Fatal(err)
		}
		text, _ := io.ReadAll(answer.Body)
		answer.Body.Close()
		v.seen[c.method+" "+c.path+" "+c.body] = string(text)
	}
}

// commandLines are those of the program and of what it started: everybody on the
// machine can read them.
func (v *vault) commandLines() {
	v.t.Helper()
	pids := []string{strconv.Itoa(v.cmd.Process.Pid)}
	for i := 0; i < len(pids); i++ {
		children, _ := filepath.Glob("/proc/" + pids[i] + "/task/*/children")
		for _, name := range children {
			text, _ := os.ReadFile(name)
			pids = append(pids, strings.Fields(string(text))...)
		}
	}
	for _, pid := range slices.Compact(pids) {
		line, err := os.ReadFile("/proc/" + pid + "/cmdline")
		if err == nil && len(line) > 10 {
			v.seen["command line of "+pid] = string(line)
		}
	}
}

// closedPort is an endpoint at which nobody is.
func closedPort(t *testing.T) string {
	t.Helper()
	conn, err := net.ListenUDP("udp4", &net.UDPAddr{IP: loopback()})
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	return conn.LocalAddr().String()
}
