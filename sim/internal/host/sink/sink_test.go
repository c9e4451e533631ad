package sink

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/netip"
	"net/smtp"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

func TestMain(m *testing.M) { checks.Main(m) }

// bed is one sink that serves, with an engine that the test plays.
type bed struct {
	t    *testing.T
	set  *Set
	at   string
	came chan snap.Command

	mu     sync.Mutex
	view   snap.Sink
	answer snap.Result
}

func newBed(t *testing.T, cfg plan.Server) *bed {
	t.Helper()
	cfg.Name, cfg.Sink, cfg.Address = "box", true, netip.MustParseAddr("198.51.100.25")
	b := &bed{t: t, came: make(chan snap.Command, 20_000), view: snap.Sink{
		Name: "box", Up: true, Answer: "accept", TLS: "good", SignIn: "accept", Acks: "yes", Takes: vtime.Millisecond,
	}}
	p := &plan.Plan{Servers: []plan.Server{cfg}, Card: plan.Card{CardMake: &plan.CardMake{Access: &snap.Access{}}}}
	began := time.Now()
	set, err := Open(Config{
		Plan: p, Site: b.site, Submit: b.submit, Speed: func() float64 { return 1 },
		Elapsed: func() time.Duration { return time.Since(began) }, Log: func(string) {},
	}, func(netip.AddrPort) bool { return false })
	if err != nil {
		t.Fatal(err)
	}
	b.set, b.at = set, set.Endpoints()[0].Address
	var group sync.WaitGroup
	set.Serve(func(_ string, run func()) { group.Go(run) })
	t.Cleanup(func() {
		set.Close()
		group.Wait()
	})
	return b
}

func (b *bed) site() *snap.Site {
	b.mu.Lock()
	defer b.mu.Unlock()
	return &snap.Site{Sinks: []snap.Sink{b.view}}
}

func (b *bed) submit(c snap.Command) snap.Result {
	b.came <- c
	b.mu.Lock()
	defer b.mu.Unlock()
	if !c.OK {
		return snap.Result{Status: snap.Denied, Reason: c.Text}
	}
	return b.answer
}

// is changes how the server is.
func (b *bed) is(change func(*snap.Sink)) {
	b.mu.Lock()
	defer b.mu.Unlock()
	change(&b.view)
}

func (b *bed) says(r snap.Result) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.answer = r
}

func (b *bed) next() snap.Command {
	b.t.Helper()
	select {
	case c := <-b.came:
		return c
	case <-time.After(20 * time.Second):
		b.t.Fatal("nothing arrived")
	}
	return snap.Command{}
}

func (b *bed) dial(network string) net.Conn {
	b.t.Helper()
	c, err := net.Dial(network, b.at)
	if err != nil {
		b.t.Fatal(err)
	}
	b.t.Cleanup(func() { c.Close() })
	c.SetDeadline(time.Now().Add(20 * time.Second))
	return c
}

func (b *bed) roots() *x509.CertPool {
	pool := x509.NewCertPool()
	pool.AppendCertsFromPEM(b.set.Certificate().PEM)
	return pool
}

const aMail = "From: a@site.example\r\nSubject: =?utf-8?q?L=C3=BCfter?= stands\r\nContent-Type: text/plain; charset=utf-8\r\n" +
	"Content-Transfer-Encoding: quoted-printable\r\n\r\nfan =\r\nfailed\r\n"

// TestMail has a client with STARTTLS and a password deliver to two people.
func TestMail(t *testing.T) {
	b := newBed(t, plan.Server{Kind: plan.ServerMail, Port: 25, DNSName: "relay.example", Unknown: []string{"typo@site.example"}})
	c, err := smtp.NewClient(b.dial("tcp"), "relay.example")
	if err != nil {
		t.Fatal(err)
	}
	if ok, _ := c.Extension("AUTH"); ok {
		t.Error("passwords are wanted in the clear")
	}
	if err := c.StartTLS(&tls.Config{ServerName: "relay.example", RootCAs: b.roots()}); err != nil {
		t.Fatal(err)
	}
	if err := c.Auth(smtp.PlainAuth("", "me", "planted-word", "relay.example")); err != nil {
		t.Fatal(err)
	}
	c.Mail("a@site.example")
	if err := c.Rcpt("typo@site.example"); err == nil || !strings.HasPrefix(err.Error(), "550") {
		t.Errorf("an unknown mailbox: %v", err)
	}
	if got := b.next(); got.OK || got.Arrival.To[0] != "typo@site.example" {
		t.Errorf("%+v, %+v", got, got.Arrival)
	}
	c.Rcpt("b@site.example")
	c.Rcpt("c@site.example")
	w, err := c.Data()
	if err != nil {
		t.Fatal(err)
	}
	io.WriteString(w, aMail)
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	got := b.next()
	a := got.Arrival
	if !got.OK || a.From != "a@site.example" || fmt.Sprint(a.To) != "[b@site.example c@site.example]" || a.Subject != "Lüfter stands" || a.Text != "fan failed\n" || !a.TLS || !a.SignsIn {
		t.Errorf("%+v, %+v", got, a)
	}
	if strings.Contains(fmt.Sprintf("%+v %+v", got, a), "planted-word") {
		t.Error("the password is told")
	}
}

// deliver is what the sender of a plain mail hears.
func (b *bed) deliver() error {
	return smtp.SendMail(b.at, nil, "a@site.example", []string{"b@site.example"}, []byte(aMail))
}

// TestMailFaults: what the sender hears while the server is one way or another.
func TestMailFaults(t *testing.T) {
	b := newBed(t, plan.Server{Kind: plan.ServerMail, Port: 25})
	b.is(func(k *snap.Sink) { k.TLS = "none" }) // the library's client takes STARTTLS if it can
	for _, tt := range []struct {
		how  snap.Result
		want string // begins the error; "": there is none
	}{
		{snap.Result{}, ""},
		{snap.Result{Reason: snap.Lost}, ""},
		{snap.Result{Status: snap.Inconsistent, Reason: "451 come again later"}, "451 "},
		{snap.Result{Status: snap.Denied, Reason: "554 refused"}, "554 "},
		{snap.Result{Status: snap.Inconsistent, Reason: "the server does not answer"}, "451 "},
	} {
		b.says(tt.how)
		if err := b.deliver(); (err == nil) != (tt.want == "") || err != nil && !strings.HasPrefix(err.Error(), tt.want) {
			t.Errorf("%+v: %v", tt.how, err)
		}
	}
	b.says(snap.Result{Status: snap.Inconsistent})
	b.is(func(k *snap.Sink) { k.Answer = "hangs-up" })
	if err := b.deliver(); err == nil || strings.HasPrefix(err.Error(), "4") {
		t.Errorf("hung up: %v", err)
	}
	b.is(func(k *snap.Sink) { k.Answer = "closed" })
	if err := b.deliver(); err == nil {
		t.Error("closed, and it took a mail")
	}
	b.is(func(k *snap.Sink) { k.Answer, k.Up = "accept", false })
	if err := b.deliver(); err == nil {
		t.Error("down, and it took a mail")
	}
	b.is(func(k *snap.Sink) { k.Answer, k.Up = "silent", true })
	c := b.dial("tcp")
	c.SetReadDeadline(time.Now().Add(100 * time.Millisecond)) // it would have greeted by then
	if n, err := c.Read(make([]byte, 1)); n > 0 || err == nil {
		t.Error("silent, and it greets")
	}
}

// TestOldTLS is refused by a client of today, and told.
func TestOldTLS(t *testing.T) {
	b := newBed(t, plan.Server{Kind: plan.ServerMail, Port: 25, DNSName: "relay.example"})
	b.is(func(k *snap.Sink) { k.TLS = "old" })
	c, err := smtp.NewClient(b.dial("tcp"), "relay.example")
	if err != nil {
		t.Fatal(err)
	}
	if err := c.StartTLS(&tls.Config{ServerName: "relay.example", RootCAs: b.roots()}); err == nil || !strings.Contains(err.Error(), "protocol version") {
		t.Errorf("%v", err)
	}
}

// TestOversizedMail is refused, and told.
func TestOversizedMail(t *testing.T) {
	b := newBed(t, plan.Server{Kind: plan.ServerMail, Port: 25})
	b.is(func(k *snap.Sink) { k.TLS = "none" })
	body := append([]byte("Subject: much\r\n\r\n"), bytes.Repeat([]byte("sixty-four octets make one line of this mail, and many make it..\r\n"), maxMessage/60)...)
	if err := smtp.SendMail(b.at, nil, "a@site.example", []string{"b@site.example"}, body); err == nil || !strings.HasPrefix(err.Error(), "552") {
		t.Errorf("%v", err)
	}
	if got := b.next(); got.OK || !strings.HasPrefix(got.Text, "552") || got.Arrival.From != "a@site.example" {
		t.Errorf("%+v", got)
	}
}

// TestSessionsAreBounded: who comes when all places are taken is turned away, and when
// somebody has left there is a place again.
func TestSessionsAreBounded(t *testing.T) {
	b := newBed(t, plan.Server{Kind: plan.ServerMail, Port: 25})
	b.is(func(k *snap.Sink) { k.TLS = "none" })
	first := b.dial("tcp")
	first.Read(make([]byte, 1)) // it has its place
	for range maxSessions - 1 {
		b.dial("tcp").Read(make([]byte, 1))
	}
	if c, err := net.Dial("tcp", b.at); err == nil { // it may be over before it has begun
		t.Cleanup(func() { c.Close() })
		c.SetDeadline(time.Now().Add(20 * time.Second))
		if n, err := c.Read(make([]byte, 1)); n > 0 || err == nil || errors.Is(err, os.ErrDeadlineExceeded) {
			t.Error("one more than there are places for was served")
		}
	}
	first.Close()
	for deadline := time.Now().Add(20 * time.Second); b.deliver() != nil; {
		if time.Now().After(deadline) {
			t.Fatal("no place became free")
		}
	}
}

// TestSyslog: over UDP, TCP in both framings, and TLS, at one port.
func TestSyslog(t *testing.T) {
	b := newBed(t, plan.Server{Kind: plan.ServerSyslog, Port: 514})
	const text = "<134>1 - host app - - - "
	io.WriteString(b.dial("udp"), text+"one")
	if got := b.next(); !got.OK || got.Arrival.Subject != "one" || got.Arrival.From != "host app" || got.Arrival.TLS {
		t.Errorf("%+v", got.Arrival)
	}
	c := b.dial("tcp")
	fmt.Fprintf(c, "%d %stwo", len(text)+3, text)
	io.WriteString(c, text+"three\r\n\n"+text+"four\n")
	for _, want := range []string{"two", "three", "four"} {
		if got := b.next(); got.Arrival.Subject != want {
			t.Errorf("%+v, want %s", got.Arrival, want)
		}
	}
	s := tls.Client(b.dial("tcp"), &tls.Config{ServerName: "localhost", RootCAs: b.roots()})
	fmt.Fprintf(s, "%d %sfive", len(text)+4, text)
	if got := b.next(); got.Arrival.Subject != "five" || !got.Arrival.TLS {
		t.Errorf("%+v", got.Arrival)
	}
}

// TestSyslogFaults: all that a collector can do is to hang up.
func TestSyslogFaults(t *testing.T) {
	b := newBed(t, plan.Server{Kind: plan.ServerSyslog, Port: 514})
	b.says(snap.Result{Status: snap.Denied, Reason: "554"})
	c := b.dial("tcp")
	io.WriteString(c, "<134>1 - host app - - - x\n")
	if n, err := c.Read(make([]byte, 1)); n > 0 || err == nil {
		t.Error("it did not hang up")
	}
	b.next()
	for _, wrong := range []string{"12x4 text", "99999999 text", strings.Repeat("<", maxDatagram+(8<<10))} {
		c := b.dial("tcp")
		io.WriteString(c, wrong)
		if got := b.next(); got.OK || got.Text == "" {
			t.Errorf("%.20q: %+v", wrong, got)
		}
	}
	b.is(func(k *snap.Sink) { k.TLS = "old" })
	s := tls.Client(b.dial("tcp"), &tls.Config{ServerName: "localhost", RootCAs: b.roots()})
	if err := s.Handshake(); err == nil {
		t.Error("TLS of long ago was good enough")
	}
	if got := b.next(); got.OK || !strings.Contains(got.Text, "TLS") {
		t.Errorf("%+v", got)
	}
}

// TestManyDatagrams: ten thousand messages over one connection all arrive, in order.
func TestManyDatagrams(t *testing.T) {
	b := newBed(t, plan.Server{Kind: plan.ServerSyslog, Port: 514})
	c := b.dial("tcp")
	go func() {
		var all bytes.Buffer
		for i := range 10_000 {
			fmt.Fprintf(&all, "<134>1 - host app - - - %d\n", i)
		}
		c.Write(all.Bytes())
	}()
	for i := range 10_000 {
		if got := b.next(); got.Arrival.Subject != fmt.Sprint(i) {
			t.Fatalf("%d came as %s", i, got.Arrival.Subject)
		}
	}
}

func FuzzFrames(f *testing.F) {
	f.Add([]byte("5 hello<134>1 - line\r\n\n3 abc"))
	f.Add([]byte("7 ")) // a message that is cut short is none
	f.Fuzz(func(t *testing.T, text []byte) {
		s := frames{in: newReader(text)}
		for total := 0; ; {
			message, err := s.next()
			if total += len(message); total > len(text) || len(message) > maxDatagram {
				t.Fatalf("%d bytes of %d", total, len(text))
			}
			if err != nil {
				return
			}
		}
	})
}

func FuzzLetter(f *testing.F) {
	f.Add(aMail)
	f.Add("Content-Type: multipart/mixed; boundary=x\r\n\r\n--x\r\nContent-Type: text/html\r\n\r\n<p>\r\n--x\r\nContent-Transfer-Encoding: base64\r\n\r\naGVsbG8=\r\n--x--\r\n")
	f.Fuzz(func(t *testing.T, text string) {
		if a := letterOf(text); len(a.Text) > snap.MaxArrivalText {
			t.Errorf("%d bytes", len(a.Text))
		}
	})
}

// TestParts: the plain text of a mail with several parts, however deep.
func TestParts(t *testing.T) {
	part := "Content-Transfer-Encoding: base64\r\n\r\naGVsbG8=\r\n"
	mixed := "Content-Type: multipart/alternative; boundary=y\r\n\r\n--y\r\nContent-Type: text/html\r\n\r\n<p>\r\n--y\r\n" + part + "--y--\r\n"
	for text, want := range map[string]string{
		"Subject: s\r\nContent-Type: multipart/mixed; boundary=x\r\n\r\n--x\r\n" + mixed + "--x--\r\n":            "hello",
		"Content-Type: multipart/mixed; boundary=x\r\n\r\n--x\r\nContent-Type: text/html\r\n\r\n<p>\r\n--x--\r\n": "<p>",
		"no mail at all": "no mail at all",
		"Content-Transfer-Encoding: base64\r\n\r\naGVsb*": "hel",
	} {
		if got := letterOf(text); got.Text != want {
			t.Errorf("%q: %q", text, got.Text)
		}
	}
}
