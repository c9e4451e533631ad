package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"math/big"
	"net"
	"net/http"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/emersion/go-smtp"
)

// mailSink is a mail relay for scripts: mail-sink READY FILE MAILBOX... puts its
// address and the digest of its certificate into READY once it listens, and what it
// takes into FILE. It takes mail over STARTTLS alone, and has these mailboxes.
func mailSink() {
	err := sinkMail(os.Args[1], os.Args[2], os.Args[3:])
	fmt.Fprintln(os.Stderr, err)
	os.Exit(1)
}

func sinkMail(ready, file string, mailboxes []string) error {
	to, err := os.Create(file)
	if err != nil {
		return err
	}
	certificate, digest, err := selfSigned()
	if err != nil {
		return err
	}
	l, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		return err
	}
	server := smtp.NewServer(sink{to, mailboxes})
	server.Domain, server.TLSConfig = "relay.example", &tls.Config{Certificates: []tls.Certificate{certificate}}
	text := fmt.Sprintf("%s\nsha256:%s\n", l.Addr(), digest)
	if err := os.WriteFile(ready+".new", []byte(text), 0o666); err != nil {
		return err
	}
	if err := os.Rename(ready+".new", ready); err != nil {
		return err
	}
	return server.Serve(l)
}

// selfSigned is a certificate that nobody else has signed, and its SHA-256.
func selfSigned() (tls.Certificate, string, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return tls.Certificate{}, "", err
	}
	about := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "relay.example"}, DNSNames: []string{"relay.example"},
		NotBefore: time.Unix(0, 0), NotAfter: time.Unix(1<<33, 0),
	}
	raw, err := x509.CreateCertificate(rand.Reader, about, about, &key.PublicKey, key)
	sum := sha256.Sum256(raw)
	return tls.Certificate{Certificate: [][]byte{raw}, PrivateKey: key}, hex.EncodeToString(sum[:]), err
}

type sink struct {
	to        *os.File
	mailboxes []string
}

func (s sink) NewSession(c *smtp.Conn) (smtp.Session, error) { return &delivery{sink: s, conn: c}, nil }

// delivery is one connection of a client.
type delivery struct {
	sink
	conn *smtp.Conn
	rcpt []string
}

func (d *delivery) Mail(string, *smtp.MailOptions) error {
	if _, protected := d.conn.TLSConnectionState(); !protected {
		return &smtp.SMTPError{Code: 530, Message: "STARTTLS first"}
	}
	return nil
}

func (d *delivery) Rcpt(to string, _ *smtp.RcptOptions) error {
	if !slices.Contains(d.mailboxes, to) {
		return &smtp.SMTPError{Code: 550, Message: "no such mailbox"}
	}
	d.rcpt = append(d.rcpt, to)
	return nil
}

func (d *delivery) Data(r io.Reader) error {
	text, err := io.ReadAll(r)
	if err == nil {
		_, err = fmt.Fprintf(d.to, "To-Mailbox: %s\n%s\n", strings.Join(d.rcpt, " "), strings.ReplaceAll(string(text), "\r\n", "\n"))
	}
	return err
}

func (d *delivery) Reset()      { d.rcpt = nil }
func (*delivery) Logout() error { return nil }

// site shows what is true at a served site, as the bench sees it: site READY-FILE.
func site() {
	if err := showSite(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func showSite(file string) error {
	text, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	var ready struct {
		Endpoints struct{ Bench string }
		Token     string `json:"bench_token"`
	}
	if err := json.Unmarshal(text, &ready); err != nil {
		return err
	}
	req, err := http.NewRequest(http.MethodGet, "http://"+ready.Endpoints.Bench+"/v1/state", nil)
	if err != nil {
		return err
	}
	req.Header.Set("Authorization", "Bearer "+ready.Token)
	answer, err := http.DefaultClient.Do(req)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	_, err = io.Copy(os.Stdout, answer.Body)
	return err
}
