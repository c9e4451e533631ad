package syslog

import (
	"bufio"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"io"
	"math/big"
	"net"
	"strconv"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/snap"
)

func post(transport snap.SyslogTransport, trust, text string) *snap.Post {
	return &snap.Post{Kind: snap.PostSyslog, To: "log", Text: []byte(text), Syslog: &snap.SyslogServer{
		Name: "log", Server: "log.example", Port: 514, Transport: transport, Trust: trust,
	}}
}

// frames reads messages with their lengths before them (RFC 6587 section 3.4.1).
func frames(conn net.Conn, to chan<- string) {
	r := bufio.NewReader(conn)
	for {
		size, err := r.ReadString(' ')
		if err != nil {
			return
		}
		n, err := strconv.Atoi(strings.TrimSpace(size))
		if err != nil {
			to <- "no length: " + size
			return
		}
		text := make([]byte, n)
		if _, err := io.ReadFull(r, text); err != nil {
			return
		}
		to <- string(text)
	}
}

func certificate(t *testing.T) (*tls.Config, string) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	about := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: time.Unix(0, 0), NotAfter: time.Unix(1<<33, 0)}
	raw, err := x509.CreateCertificate(rand.Reader, about, about, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(raw)
	return &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{raw}, PrivateKey: key}}}, "sha256:" + hex.EncodeToString(sum[:])
}

func TestUDP(t *testing.T) {
	conn, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	conn.SetReadDeadline(time.Now().Add(20 * time.Second))
	s := New()
	defer s.Close()
	if err := s.Send(context.Background(), post(snap.SyslogUDP, "system", "<134>1 - - - - - - hello"), conn.LocalAddr().String()); err != nil {
		t.Fatal(err)
	}
	b := make([]byte, 2048)
	if n, _, err := conn.ReadFrom(b); err != nil || string(b[:n]) != "<134>1 - - - - - - hello" {
		t.Errorf("%q, %v", b[:n], err)
	}
}

// TestStreams: over TCP and TLS messages share a connection, and one that the
// collector has closed is opened anew.
func TestStreams(t *testing.T) {
	checks.EndsWithin(t, 2*time.Minute)
	config, digest := certificate(t)
	for _, row := range []struct {
		transport snap.SyslogTransport
		trust     string
	}{{snap.SyslogTCP, "system"}, {snap.SyslogTLS, digest}, {snap.SyslogTLS, "any"}} {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		if row.transport == snap.SyslogTLS {
			l = tls.NewListener(l, config)
		}
		got, conns := make(chan string, 8), make(chan net.Conn, 8)
		go func() {
			for {
				conn, err := l.Accept()
				if err != nil {
					return
				}
				conns <- conn
				go frames(conn, got)
			}
		}()
		s, shown := New(), 0
		s.Shown = func(p *snap.Post, ends time.Time) {
			if shown++; p.Text == nil || ends.IsZero() {
				t.Errorf("shown %v", ends)
			}
		}
		send := func(text string) {
			t.Helper()
			if err := s.Send(context.Background(), post(row.transport, row.trust, text), l.Addr().String()); err != nil {
				t.Fatal(err)
			}
			if have := <-got; have != text {
				t.Errorf("%q, want %q", have, text)
			}
		}
		send("one message")
		send("and\nanother of two lines")
		first := <-conns
		if len(conns) != 0 {
			t.Error("a second connection")
		}
		k := s.link(string(row.transport) + " " + row.trust + " " + l.Addr().String())
		first.Close()
		<-k.gone // the card sees the end before it sends again
		send("after the end of a connection")
		if want := map[snap.SyslogTransport]int{snap.SyslogTLS: 2}[row.transport]; shown != want {
			t.Errorf("%s: %d certificates were shown, want %d", row.transport, shown, want)
		}
		s.Close()
		l.Close()
		if err := s.Send(context.Background(), post(row.transport, row.trust, "x"), l.Addr().String()); err == nil {
			t.Error("nobody took it")
		}
	}
}

// TestTrust: a collector with another certificate gets nothing.
func TestTrust(t *testing.T) {
	config, _ := certificate(t)
	l, err := tls.Listen("tcp", "127.0.0.1:0", config)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	go func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			go func() { io.Copy(io.Discard, conn); conn.Close() }()
		}
	}()
	s := New()
	defer s.Close()
	for trust, reason := range map[string]string{"system": "certificate", "sha256:" + strings.Repeat("0", 64): "another one"} {
		err := s.Send(context.Background(), post(snap.SyslogTLS, trust, "x"), l.Addr().String())
		if err == nil || !strings.Contains(Line(err), reason) {
			t.Errorf("%s: %v", trust, err)
		}
	}
}
