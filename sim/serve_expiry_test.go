package sim_test

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"math/big"
	"net/netip"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-smtp"

	"ridethrough/sim"
)

// until is a certificate that nobody has signed and that ends then.
func until(t *testing.T, ends time.Time) tls.Certificate {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	about := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: ends.AddDate(-1, 0, 0), NotAfter: ends}
	raw, err := x509.CreateCertificate(rand.Reader, about, about, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	return tls.Certificate{Certificate: [][]byte{raw}, PrivateKey: key}
}

// TestCertificateOfARealRelay: the card warns by its own clock of the certificate that
// a real relay has shown it, says so over SSH, and the session replays.
func TestCertificateOfARealRelay(t *testing.T) {
	ends := time.Date(2026, 3, 20, 12, 0, 0, 0, time.UTC)
	l, err := tls.Listen("tcp", "127.0.0.1:0", &tls.Config{Certificates: []tls.Certificate{until(t, ends)}})
	if err != nil {
		t.Fatal(err)
	}
	box := postbox{mails: make(chan string, 16)}
	relay := smtp.NewServer(box)
	relay.Domain = "relay.example"
	served := make(chan struct{})
	go func() { relay.Serve(l); close(served) }()
	var journal, trace bytes.Buffer
	text := strings.Replace(alerted, `security = "none"`, `security = "tls", trust = "any"`, 1)
	c := serveText(t, text, sim.ServeOptions{Speed: 60, Journal: &journal, Trace: &trace, Receivers: map[netip.AddrPort]string{
		netip.MustParseAddrPort("198.51.100.25:25"): l.Addr().String(),
	}})
	for letter := ""; !strings.Contains(letter, "certificate of the mail relay 198.51.100.25:25 ends 2026-03-20, 18 days from now"); {
		letter = strings.ReplaceAll(<-box.mails, "=\r\n", "") // quoted-printable breaks lines
	}
	if out := c.command("show expiry"); !strings.Contains(out, "certificate of the mail relay 198.51.100.25:25") || !strings.Contains(out, "ends 2026-03-20") {
		t.Errorf("expiry says\n%s", out)
	}
	c.end()
	relay.Close()
	<-served
	if !strings.Contains(journal.String(), `"op":"shown"`) {
		t.Error("the journal has no certificate")
	}
	replaysAlike(t, &journal, &trace)
}
