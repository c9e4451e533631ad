package mail

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"errors"
	"io"
	"math/big"
	"net"
	"net/mail"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"

	"ridethrough/sim/internal/core/snap"
)

// sink is a relay with faults.
type sink struct {
	sync.Mutex
	mails    []string
	rcpt     error // what it says to every recipient
	password string
	seen     int // greylisting: recipients deferred before one is accepted
}

type session struct{ s *sink }

func (s *sink) NewSession(*smtp.Conn) (smtp.Session, error) { return &session{s}, nil }
func (x *session) AuthMechanisms() []string                 { return []string{sasl.Plain} }
func (x *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if x.s.password == "" || password != x.s.password || user != "card" {
			return smtp.ErrAuthFailed
		}
		return nil
	}), nil
}
func (x *session) Mail(string, *smtp.MailOptions) error { return nil }
func (x *session) Rcpt(string, *smtp.RcptOptions) error {
	x.s.Lock()
	defer x.s.Unlock()
	if x.s.seen > 0 {
		x.s.seen--
		return &smtp.SMTPError{Code: 451, Message: "greylisted"}
	}
	return x.s.rcpt
}
func (x *session) Data(r io.Reader) error {
	text, err := io.ReadAll(r)
	x.s.Lock()
	defer x.s.Unlock()
	x.s.mails = append(x.s.mails, string(text))
	return err
}
func (*session) Reset()        {}
func (*session) Logout() error { return nil }

// certificate is one for 127.0.0.1 that nobody has signed, and its digest.
func certificate(t *testing.T) (tls.Certificate, string) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	about := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "relay.example"}, DNSNames: []string{"relay.example"},
		NotBefore: time.Unix(0, 0), NotAfter: time.Unix(1<<33, 0),
	}
	raw, err := x509.CreateCertificate(rand.Reader, about, about, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(raw)
	return tls.Certificate{Certificate: [][]byte{raw}, PrivateKey: key}, "sha256:" + hex.EncodeToString(sum[:])
}

// serve starts a relay; implicit is TLS from the start.
func serve(t *testing.T, s *sink, config *tls.Config, implicit bool) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := smtp.NewServer(s)
	server.Domain, server.ReadTimeout, server.WriteTimeout = "relay.example", 10*time.Second, 10*time.Second
	if !implicit {
		server.TLSConfig = config
	} else {
		l = tls.NewListener(l, config)
	}
	go server.Serve(l)
	t.Cleanup(func() { server.Close() })
	return l.Addr().String()
}

func post(change func(*snap.MailSettings)) *snap.Post {
	m := snap.FactoryAlerts().Clone().Mail
	m.Server, m.From = "relay.example", "ups@site.example"
	change(&m)
	return &snap.Post{ID: 7, Kind: snap.PostMail, To: "desk", Address: "desk@site.example", Mail: &m, Letter: &snap.Letter{
		From: m.From, To: "desk@site.example", Subject: "SIMULATION ups-a: critical: the load runs on battery", MessageID: "7.1@card.invalid",
		Hello: "[192.0.2.10]", Body: "The load runs on battery.\n", Date: time.Date(2026, 3, 2, 7, 55, 0, 0, time.FixedZone("", 3600)),
		Name: "journal.csv", Attachment: "seq,date,text\n1,now,card started\n",
	}}
}

// TestFaults: each way in which a relay fails is told apart, and nothing falls back
// to clear text.
func TestFaults(t *testing.T) {
	cert, digest := certificate(t)
	modern := &tls.Config{Certificates: []tls.Certificate{cert}}
	old := &tls.Config{Certificates: []tls.Certificate{cert}, MinVersion: tls.VersionTLS10, MaxVersion: tls.VersionTLS11}
	plain := func(m *snap.MailSettings) { m.Security = snap.MailPlain }
	pinned := func(m *snap.MailSettings) { m.Trust = digest }
	for name, row := range map[string]struct {
		sink     *sink
		tls      *tls.Config
		implicit bool
		set      func(*snap.MailSettings)
		outcome  snap.Outcome
		answered bool
		reason   string
	}{
		"plain":            {set: plain, answered: true},
		"starttls":         {tls: modern, set: pinned, answered: true},
		"tls":              {tls: modern, implicit: true, set: func(m *snap.MailSettings) { pinned(m); m.Security = snap.MailTLS }, answered: true},
		"any certificate":  {tls: modern, set: func(m *snap.MailSettings) { m.Trust = "any" }, answered: true},
		"signed in":        {tls: modern, sink: &sink{password: "secret word"}, set: func(m *snap.MailSettings) { pinned(m); m.User, m.Password = "card", snap.NewSecret("secret word") }, answered: true},
		"no starttls":      {set: func(*snap.MailSettings) {}, outcome: snap.Deferred, answered: true, reason: "STARTTLS"},
		"unknown issuer":   {tls: modern, set: func(*snap.MailSettings) {}, outcome: snap.Deferred, answered: true, reason: "certificate"},
		"another one":      {tls: modern, set: func(m *snap.MailSettings) { m.Trust = "sha256:" + strings.Repeat("0", 64) }, outcome: snap.Deferred, answered: true, reason: "another one"},
		"TLS too old":      {tls: old, set: pinned, outcome: snap.Deferred, answered: true, reason: "protocol version"},
		"greylisted":       {sink: &sink{seen: 1}, set: plain, outcome: snap.Deferred, answered: true, reason: "greylisted"},
		"no such mailbox":  {sink: &sink{rcpt: &smtp.SMTPError{Code: 550, Message: "no such mailbox"}}, set: plain, outcome: snap.Rejected, answered: true, reason: "no such mailbox"},
		"refused password": {tls: modern, sink: &sink{password: "another"}, set: func(m *snap.MailSettings) { pinned(m); m.User, m.Password = "card", snap.NewSecret("secret word") }, outcome: snap.Deferred, answered: true, reason: "535"},
	} {
		t.Run(name, func(t *testing.T) {
			s := row.sink
			if s == nil {
				s = &sink{}
			}
			r := Send(context.Background(), post(row.set), serve(t, s, row.tls, row.implicit))
			if r.Outcome != row.outcome || r.Answered != row.answered || !strings.Contains(r.Reason, row.reason) {
				t.Errorf("%+v", r)
			}
			if strings.Contains(r.Reason, "secret word") || strings.ContainsAny(r.Reason, "\r\n") {
				t.Errorf("the reason is %q", r.Reason)
			}
			if row.outcome == snap.Delivered && row.tls != nil != r.Expires.Equal(time.Unix(1<<33, 0)) {
				t.Errorf("the certificate expires %v", r.Expires)
			}
			s.Lock()
			defer s.Unlock()
			if (len(s.mails) == 1) != (row.outcome == snap.Delivered) {
				t.Errorf("%d mails arrived", len(s.mails))
			}
		})
	}
}

// TestNobodyThere: no server, one that says nothing, and an end of the session.
func TestNobodyThere(t *testing.T) {
	plain := func(m *snap.MailSettings) { m.Security = snap.MailPlain }
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	at := l.Addr().String()
	heard := make(chan struct{})
	go func() {
		conn, err := l.Accept()
		if err == nil {
			defer conn.Close()
		}
		close(heard)
		io.Copy(io.Discard, conn) // and never a word
	}()
	ctx, cancel := context.WithCancel(context.Background())
	go func() { <-heard; cancel() }()
	if r := Send(ctx, post(plain), at); r.Outcome != snap.Deferred {
		t.Errorf("a silent one: %+v", r)
	}
	l.Close()
	if r := Send(context.Background(), post(plain), at); r.Outcome != snap.Deferred || r.Answered || !strings.Contains(r.Reason, "refused") {
		t.Errorf("nobody: %+v", r)
	}
}

// TestMessage: what is in a mail.
func TestMessage(t *testing.T) {
	s := &sink{}
	if r := Send(context.Background(), post(func(m *snap.MailSettings) { m.Security = snap.MailPlain }), serve(t, s, nil, false)); r.Outcome != snap.Delivered {
		t.Fatalf("%+v", r)
	}
	m, err := mail.ReadMessage(strings.NewReader(s.mails[0]))
	if err != nil {
		t.Fatal(err)
	}
	date, err := m.Header.Date()
	if err != nil || date.Format(time.RFC3339) != "2026-03-02T07:55:00+01:00" {
		t.Errorf("date %v, %v", date, err)
	}
	body, _ := io.ReadAll(m.Body)
	for what, has := range map[string]bool{
		"subject":    strings.HasPrefix(m.Header.Get("Subject"), "SIMULATION ups-a"),
		"automatic":  m.Header.Get("Auto-Submitted") == "auto-generated",
		"identity":   m.Header.Get("Message-ID") == "<7.1@card.invalid>",
		"body":       strings.Contains(string(body), "The load runs on battery."),
		"attachment": strings.Contains(string(body), "journal.csv"),
	} {
		if !has {
			t.Errorf("no %s in\n%s", what, s.mails[0])
		}
	}
}

// TestInjection: a line break in what the card was set never makes a header.
func TestInjection(t *testing.T) {
	s := &sink{}
	p := post(func(m *snap.MailSettings) { m.Security = snap.MailPlain })
	p.Letter.Subject = "one\r\nBcc: everybody@site.example\r\n\r\ntext"
	r := Send(context.Background(), p, serve(t, s, nil, false))
	if r.Outcome == snap.Delivered {
		m, err := mail.ReadMessage(strings.NewReader(s.mails[0]))
		if err != nil || m.Header.Get("Bcc") != "" {
			t.Errorf("%v\n%s", err, s.mails[0])
		}
	}
	p.Letter.To = "desk@site.example>\r\nRCPT TO:<everybody@site.example"
	if r := Send(context.Background(), p, "127.0.0.1:1"); r.Outcome != snap.Rejected {
		t.Errorf("%+v", r)
	}
	if line(errors.New("a\r\nb")) != "a b" {
		t.Error("a reason of two lines")
	}
}
