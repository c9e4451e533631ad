package sim_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/smtp"
	"strings"
	"testing"
	"time"

	"ridethrough/sim"
)

const withSinks = `
title = "sinks"
seed = 31
start = 2026-03-02T07:55:00+01:00
run_for = "24h"
[card]
must_change_password = false
address = "192.0.2.10/24"
name = "ups-a"
receivers = [
  { to = "198.51.100.40:162", version = "v3", user = "ops", inform = true, timeout = "20s" },
  { to = "198.51.100.41:162", version = "v1", community = "planted-word" },
]
[[card.snmp_user]]
name = "ops"
auth = "sha-256"
auth_password = "planted phrase"
priv = "aes-128"
priv_password = "planted secret"
[card.alerts]
confirm = "1s"
settle = "1s"
mail = { server = "198.51.100.25", security = "starttls", trust = "any", user = "card", password = "planted pass", from = "ups@site.example" }
recipient = [{ name = "desk", address = "desk@site.example", classes = "power", least = "critical" }]
syslog = [{ name = "log", server = "198.51.100.30", port = 6514, transport = "tls", trust = "any", classes = "power" }]
[[server]]
name = "relay"
kind = "mail"
address = "198.51.100.25"
sink = true
match = [{ name = "page", subject = "critical" }, { name = "other", from = "app@" }]
[[server]]
name = "log"
kind = "syslog"
address = "198.51.100.30"
port = 6514
sink = true
[[server]]
name = "watcher"
kind = "snmp"
address = "198.51.100.40"
sink = true
match = [{ name = "on_battery", oid = "1.3.6.1.2.1.33.2.1" }]
[[server]]
name = "old"
kind = "snmp"
address = "198.51.100.41"
sink = true
community = "planted-word"
[[host]]
name = "db"
draw_w = 300
[[expect]]
name = "one page, whoever sends more"
that = "sinks.relay.matched.page == 1 and sinks.relay.matched.other == 1"
at = "end"
`

// arrived is what the bench tells of a sink.
func (c *card) arrived(name string) (k struct {
	Count, Refused int
	Messages       []struct {
		From, Subject, Text, Version string
		TLS                          bool
		SignsIn                      bool `json:"signs_in"`
		Matched                      []string
	}
}) {
	c.t.Helper()
	r, _ := http.NewRequest(http.MethodGet, "http://"+c.ready.Endpoints.Bench+"/v1/sinks?name="+name, nil)
	r.Header.Set("Authorization", "Bearer "+c.ready.Token)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		c.t.Fatal(err)
	}
	defer answer.Body.Close()
	text, _ := io.ReadAll(answer.Body)
	list := struct{ Sinks []json.RawMessage }{}
	if err := json.Unmarshal(text, &list); err != nil || len(list.Sinks) != 1 || json.Unmarshal(list.Sinks[0], &k) != nil {
		c.t.Fatalf("%v: %s", err, text)
	}
	return k
}

// TestSinksAreServed: what the card sends arrives at real servers, over TLS and in every
// version of SNMP, what others send too, and the journal brings all of it back to the byte.
func TestSinksAreServed(t *testing.T) {
	var journal, trace bytes.Buffer
	c := serveText(t, withSinks, sim.ServeOptions{Speed: 10, Journal: &journal, Trace: &trace})
	at := map[string]string{}
	for _, k := range c.ready.Sinks {
		at[k.Name] = k.Endpoint
	}
	c.send(`source = "lost"`)
	for deadline := time.Now().Add(30 * time.Second); c.arrived("relay").Count < 1 || c.arrived("log").Count < 1 || c.arrived("watcher").Count < 3 || c.arrived("old").Count < 3; {
		if time.Now().After(deadline) {
			t.Fatal("what the card sent did not arrive")
		}
	}
	if m := c.arrived("relay").Messages[0]; m.From != "ups@site.example" || m.Subject != "SIMULATION ups-a: critical: the load runs on battery" || !m.TLS || !m.SignsIn || fmt.Sprint(m.Matched) != "[page]" {
		t.Errorf("%+v", m)
	}
	if m := c.arrived("log").Messages[0]; !strings.Contains(m.Subject, "the load runs on battery") || !m.TLS {
		t.Errorf("%+v", m)
	}
	if m := c.arrived("watcher").Messages[0]; m.Subject != "cold_start" || m.From != "ops" || m.Version != "v3" {
		t.Errorf("%+v", m)
	}
	if m := c.arrived("old").Messages[0]; m.Subject != "cold_start" || m.Version != "v1" {
		t.Errorf("%+v", m)
	}
	client, err := smtp.Dial(at["relay"]) // the software under test
	if err != nil {
		t.Fatal(err)
	}
	client.Mail("app@site.example")
	client.Rcpt("desk@site.example")
	w, err := client.Data()
	if err != nil {
		t.Fatal(err)
	}
	io.WriteString(w, "Subject: from the software\r\n\r\nx\r\n")
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	client.Close()
	c.send(`server = { name = "relay", answer = "closed" }`)
	if conn, err := net.Dial("tcp", at["relay"]); err == nil {
		conn.SetReadDeadline(time.Now().Add(20 * time.Second))
		if n, err := conn.Read(make([]byte, 1)); n > 0 || err == nil {
			t.Error("closed, and it greets")
		}
		conn.Close()
	}
	c.end()
	for _, secret := range []string{"planted-word", "planted phrase", "planted secret", "planted pass"} {
		if strings.Contains(journal.String(), secret) || strings.Contains(trace.String(), secret) {
			t.Errorf("%q stands in the journal or the trace", secret)
		}
	}
	replaysAlike(t, &journal, &trace)
	if n := strings.Count(trace.String(), ": ops: cold_start"); n != 1 { // one that is modelled and one that is real would be two
		t.Errorf("cold_start %d times in\n%s", n, trace.String())
	}
}
