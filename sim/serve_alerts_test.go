package sim_test

import (
	"bytes"
	"io"
	"net"
	"net/mail"
	"net/netip"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
	gossh "golang.org/x/crypto/ssh"

	"ridethrough/sim"
)

const alerted = `
title = "alerted"
seed = 31
start = 2026-03-02T07:55:00+01:00
run_for = "24h"
[card]
must_change_password = false
address = "192.0.2.10/24"
name = "ups-a"
clock = { zone = "CET-1CEST,M3.5.0,M10.5.0/3" }
[card.alerts]
confirm = "1s"
settle = "1s"
mail = { server = "198.51.100.25", security = "none", from = "ups@site.example" }
recipient = [{ name = "desk", address = "desk@site.example", classes = "power, network, card", least = "info" }]
syslog = [{ name = "log", server = "198.51.100.30", classes = "power" }]
[[server]]
name = "relay"
kind = "mail"
address = "198.51.100.25"
[[server]]
name = "log"
kind = "syslog"
address = "198.51.100.30"
[[server]]
name = "watcher"
kind = "snmp"
address = "198.51.100.40"
[[host]]
name = "db"
draw_w = 300
[[expect]]
name = "the mail arrived"
that = "recipients.desk.delivered > 0"
once = true
`

// post is a mail server that hands on what it gets.
type postbox struct{ mails chan string }

func (b postbox) NewSession(*smtp.Conn) (smtp.Session, error) { return letters(b), nil }

type letters postbox

func (letters) Mail(string, *smtp.MailOptions) error { return nil }
func (letters) Rcpt(to string, _ *smtp.RcptOptions) error {
	if to == "typo@site.example" {
		return &smtp.SMTPError{Code: 550, Message: "no such mailbox"}
	}
	return nil
}
func (l letters) Data(r io.Reader) error {
	text, err := io.ReadAll(r)
	l.mails <- string(text)
	return err
}
func (letters) Reset()        {}
func (letters) Logout() error { return nil }

// command runs one line over SSH.
func (c *card) command(line string) string {
	c.t.Helper()
	client, err := gossh.Dial("tcp", c.ready.Endpoints.SSH, &gossh.ClientConfig{
		User: c.ready.Label.User, Auth: []gossh.AuthMethod{gossh.Password(c.ready.Label.Password)},
		HostKeyCallback: gossh.InsecureIgnoreHostKey(), Timeout: 10 * time.Second,
	})
	if err != nil {
		c.t.Fatal(err)
	}
	defer client.Close()
	session, err := client.NewSession()
	if err != nil {
		c.t.Fatal(err)
	}
	out, err := session.CombinedOutput(line)
	if err != nil {
		c.t.Fatalf("%s: %v: %s", line, err, out)
	}
	return string(out)
}

// TestAlertsReachRealServers: mail and syslog go to real servers, a receiver that was
// set on the served card hears from then on, and the session replays.
func TestAlertsReachRealServers(t *testing.T) {
	box := postbox{mails: make(chan string, 16)}
	relay := smtp.NewServer(box)
	relay.Domain = "relay.example"
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	served := make(chan struct{})
	go func() { relay.Serve(l); close(served) }()
	log, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer log.Close()
	watcher, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer watcher.Close()
	var journal, trace bytes.Buffer
	c := serveText(t, alerted, sim.ServeOptions{Speed: 10, Journal: &journal, Trace: &trace, Receivers: map[netip.AddrPort]string{
		netip.MustParseAddrPort("198.51.100.25:25"):  l.Addr().String(),
		netip.MustParseAddrPort("198.51.100.30:514"): log.LocalAddr().String(),
		netip.MustParseAddrPort("198.51.100.40:162"): watcher.LocalAddr().String(),
	}})
	if first := <-box.mails; !strings.Contains(first, "the card has started") { // from the very beginning
		t.Errorf("the first mail is\n%s", first)
	}
	c.command(`add alerts.receivers night to=198.51.100.40:162 community=planted-word classes=power least=critical`)
	c.send(`source = "lost"`)
	var letter *mail.Message
	for letter == nil || !strings.Contains(letter.Header.Get("Subject"), "critical") { // the settings that were saved are told too
		if letter, err = mail.ReadMessage(strings.NewReader(<-box.mails)); err != nil {
			t.Fatal(err)
		}
	}
	if subject := letter.Header.Get("Subject"); subject != "SIMULATION ups-a: critical: the load runs on battery" {
		t.Errorf("subject %q", subject)
	}
	if date, err := letter.Header.Date(); err != nil || date.Format("2006-01-02 -0700") != "2026-03-02 +0100" {
		t.Errorf("date %v, %v", date, err)
	}
	b := make([]byte, 64<<10)
	n, _, err := log.ReadFrom(b)
	if err != nil || !bytes.HasPrefix(b[:n], []byte("<130>1 2026-03-02T07:5")) || !bytes.Contains(b[:n], []byte(" ups-a ridethrough - on_battery [event@32473 id=")) {
		t.Errorf("%v: %s", err, b[:n])
	}
	if n, _, err = watcher.ReadFrom(b); err != nil || !bytes.Contains(b[:n], []byte("planted-word")) || !bytes.Contains(b[:n], []byte{0x2b, 6, 1, 2, 1, 33, 2, 1}) {
		t.Errorf("the receiver that was set first heard something else than that the load is on battery: %x, %v", b[:n], err)
	}
	c.command("set alerts.recipients.desk.address typo@site.example")
	c.command("try desk")
	for deadline := time.Now().Add(20 * time.Second); !strings.Contains(c.command("messages"), "rejected: "); {
		if time.Now().After(deadline) {
			t.Fatalf("nobody told of the typing error:\n%s", c.command("messages"))
		}
	}
	c.command("set alerts.recipients.desk.address night@site.example")
	c.command("try all")
	for subject := ""; !strings.Contains(subject, "test message"); {
		letter, err := mail.ReadMessage(strings.NewReader(<-box.mails))
		if err != nil {
			t.Fatal(err)
		}
		subject = letter.Header.Get("Subject")
	}
	c.end()
	relay.Close()
	<-served
	if strings.Contains(journal.String(), "planted-word") || strings.Contains(trace.String(), "planted-word") {
		t.Error("a community stands in the journal or the trace")
	}
	replaysAlike(t, &journal, &trace)
}
