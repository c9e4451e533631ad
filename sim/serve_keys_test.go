package sim_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/memory"
)

const withKeys = `
title = "keys"
seed = 41
run_for = "24h"
[card]
must_change_password = false
serial_number = "RT-KEYS"
receivers = [{ to = "198.51.100.40:162", version = "v3", user = "ops", inform = true, timeout = "20s" }]
[[card.snmp_user]]
name = "ops"
auth = "sha-1"
auth_password = "planted phrase"
priv = "aes-256-reeder"
priv_password = "planted secret"
[[server]]
name = "watcher"
kind = "snmp"
address = "198.51.100.40"
sink = true
[[host]]
name = "db"
draw_w = 300
`

// phrases are what no state file may have.
var phrases = map[string]string{
	"access.snmp-user.ops.auth-password": "planted phrase", "access.snmp-user.ops.priv-password": "planted secret",
	"access.snmp-user.desk.auth-password": "typed auth phrase", "access.snmp-user.desk.priv-password": "typed priv phrase",
}

func phrasesIn(t *testing.T, dir string) (found []string) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, "cards.db"))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range phrases {
		if bytes.Contains(text, []byte(p)) {
			found = append(found, p)
		}
	}
	return found
}

// age brings the memory of the card into the form of earlier versions, which kept the
// phrases themselves.
func age(t *testing.T, dir string) {
	t.Helper()
	store, err := memory.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	kept, err := store.Read("RT-KEYS")
	if err != nil {
		t.Fatal(err)
	}
	var packed struct {
		Settings map[string]any    `json:"settings"`
		Secrets  map[string]string `json:"secrets"`
	}
	d := json.NewDecoder(bytes.NewReader(kept.Sections["settings"]))
	d.UseNumber()
	if err := d.Decode(&packed); err != nil {
		t.Fatal(err)
	}
	for _, u := range packed.Settings["Managers"].(map[string]any)["Users"].([]any) {
		delete(u.(map[string]any), "AuthFor")
		delete(u.(map[string]any), "PrivFor")
	}
	for path, phrase := range phrases {
		packed.Secrets[path] = phrase
	}
	text, err := json.Marshal(packed)
	if err != nil {
		t.Fatal(err)
	}
	if err := store.Card("RT-KEYS").Change(&snap.Keep{Sections: map[string]json.RawMessage{"settings": text}}); err != nil {
		t.Fatal(err)
	}
}

// TestKeysInPlaceOfPhrases: of the pass phrases of SNMPv3 the card keeps nothing but
// the keys that are made of them. With these it is what it was, for managers and for
// receivers, whose engines it does not know before; it comes to them from a file of an
// earlier version, in which nothing of the phrases is left; and another protocol takes
// the phrases anew.
func TestKeysInPlaceOfPhrases(t *testing.T) {
	const outputSource = ".1.3.6.1.2.1.33.1.4.1.0"
	dir := t.TempDir()
	session := func(what func(c *card)) {
		t.Helper()
		var journal, trace bytes.Buffer
		c := serveText(t, withKeys, sim.ServeOptions{State: dir, Journal: &journal, Trace: &trace})
		for deadline := time.Now().Add(30 * time.Second); c.arrived("watcher").Count == 0; time.Sleep(5 * time.Millisecond) {
			if time.Now().After(deadline) {
				t.Fatal("no inform arrives")
			}
		}
		what(c)
		c.end()
		if found := phrasesIn(t, dir); found != nil {
			t.Errorf("in the file stands %q", found)
		}
		replaysAlike(t, &journal, &trace)
	}
	saves := func(c *card, line, want string) {
		t.Helper()
		if out, _, _ := c.shell(line, ""); !strings.Contains(out, want) {
			t.Errorf("%s: %s; want %s", line, out, want)
		}
	}
	const made = "the card keeps the key that sha-256 has made of the pass phrase, and not the phrase: type it again for sha-512"
	reads := func(c *card, auth gosnmp.SnmpV3AuthProtocol, want bool) {
		t.Helper()
		m := c.manager(gosnmp.Version3, "desk", "typed auth phrase", "typed priv phrase")
		m.Conn.Close()
		s := m.SecurityParameters.(*gosnmp.UsmSecurityParameters)
		m.SecurityParameters = &gosnmp.UsmSecurityParameters{
			UserName: s.UserName, AuthenticationProtocol: auth, AuthenticationPassphrase: s.AuthenticationPassphrase,
			PrivacyProtocol: s.PrivacyProtocol, PrivacyPassphrase: s.PrivacyPassphrase,
		}
		if !want {
			m.Timeout, m.Retries = 200*time.Millisecond, 0
		}
		if err := m.Connect(); err != nil {
			t.Fatal(err)
		}
		if answered(m, outputSource) != want {
			t.Errorf("with %v it reads: %v, want %v", auth, !want, want)
		}
	}
	session(func(c *card) {
		saves(c, `add access.snmp-user desk "auth-password=typed auth phrase" "priv-password=typed priv phrase"`, "Saved.")
		reads(c, gosnmp.SHA256, true)
		saves(c, "set access.snmp-user.desk.auth=sha-512", made) // also in the session in which they were typed
	})
	if age(t, dir); len(phrasesIn(t, dir)) != len(phrases) {
		t.Fatal("the file of an earlier version has no phrases: what is looked for cannot be found")
	}
	session(func(c *card) {
		reads(c, gosnmp.SHA256, true)
		saves(c, "set access.snmp-user.desk.auth=sha-512", "access.snmp-user.desk.auth-password: "+made)
		saves(c, `set access.snmp-user.desk.auth=sha-512 "access.snmp-user.desk.auth-password=typed auth phrase"`, "access.snmp-user.desk.priv-password: "+made)
		saves(c, `set "access.snmp-user.desk.priv-password=typed priv phrase" access.snmp-user.desk.auth=sha-512 "access.snmp-user.desk.auth-password=typed auth phrase"`, "Saved.")
		reads(c, gosnmp.SHA512, true)
		saves(c, "set identity.contact=desk", "Saved.")
	})
	session(func(c *card) {
		reads(c, gosnmp.SHA512, true)
		reads(c, gosnmp.SHA256, false)
		saves(c, "set access.snmp-user.desk.priv=none access.snmp-user.desk.level=authNoPriv", "Saved.")
		saves(c, "set access.snmp-user.desk.auth=none access.snmp-user.desk.level=noAuthNoPriv", "Saved.")
		saves(c, `set "access.snmp-user.desk.auth-password=typed auth phrase"`, "choose access.snmp-user.desk.auth first")
		saves(c, "set access.snmp-user.desk.auth=sha-512 access.snmp-user.desk.priv=aes-128 access.snmp-user.desk.level=authPriv", "Saved.") // the keys are still good
		reads(c, gosnmp.SHA512, true)
	})
}
