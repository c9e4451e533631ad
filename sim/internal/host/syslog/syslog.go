package syslog

import (
	"context"
	"crypto/tls"
	"fmt"
	"net"
	"strings"
	"sync"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/trust"
)

// patience is how long a connection and a write may take, in real time.
const patience = 10 * time.Second

// Sender keeps a connection to each collector that has been sent something over TCP
// or TLS. It is safe for concurrent use.
type Sender struct {
	// Shown is told when the certificate expires that a collector has shown, at each new
	// connection to it. It has to be set before the first message.
	Shown func(p *snap.Post, expires time.Time)

	mu    sync.Mutex
	conns map[string]*link
}

// link is the connection to one collector.
type link struct {
	mu   sync.Mutex
	conn net.Conn
	gone chan struct{} // closed when the other side has gone
}

// New has no connections yet.
func New() *Sender { return &Sender{Shown: func(*snap.Post, time.Time) {}, conns: map[string]*link{}} }

// Send brings p to the collector at endpoint and says why it could not, nil if it
// could. Over UDP that is no proof that it arrived; over TCP and TLS that the system
// took it is all that the protocol tells.
func (s *Sender) Send(ctx context.Context, p *snap.Post, endpoint string) error {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	if p.Syslog.Transport == snap.SyslogUDP {
		return datagram(ctx, p.Text, endpoint)
	}
	l := s.link(fmt.Sprintf("%s %s %s", p.Syslog.Transport, p.Syslog.Trust, endpoint))
	l.mu.Lock()
	defer l.mu.Unlock()
	frame := fmt.Appendf(nil, "%d %s", len(p.Text), p.Text)
	if l.alive() && write(ctx, l.conn, frame) == nil {
		return nil
	}
	l.drop()
	if err := l.open(ctx, p.Syslog, endpoint, func(t time.Time) { s.Shown(p, t) }); err != nil {
		return err
	}
	if err := write(ctx, l.conn, frame); err != nil {
		l.drop()
		return err
	}
	return nil
}

func datagram(ctx context.Context, text []byte, endpoint string) error {
	conn, err := (&net.Dialer{}).DialContext(ctx, "udp", endpoint)
	if err != nil {
		return err
	}
	defer conn.Close()
	_, err = conn.Write(text)
	return err
}

func (s *Sender) link(key string) *link {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.conns[key] == nil {
		s.conns[key] = &link{}
	}
	return s.conns[key]
}

// alive says whether there is a connection that the other side has not closed. A
// collector sends nothing, so that anything read means its end.
func (l *link) alive() bool {
	if l.conn == nil {
		return false
	}
	select {
	case <-l.gone:
		return false
	default:
		return true
	}
}

func (l *link) open(ctx context.Context, set *snap.SyslogServer, endpoint string, seen func(time.Time)) error {
	conn, err := (&net.Dialer{}).DialContext(ctx, "tcp", endpoint)
	if err != nil {
		return err
	}
	if set.Transport == snap.SyslogTLS {
		c := tls.Client(conn, trust.Config(set.Trust, set.Server, seen))
		if err := c.HandshakeContext(ctx); err != nil {
			conn.Close()
			return fmt.Errorf("TLS: %w", err)
		}
		conn = c
	}
	gone := make(chan struct{})
	l.conn, l.gone = conn, gone
	go func() {
		conn.Read(make([]byte, 1))
		close(gone)
	}()
	return nil
}

// drop closes the connection, and waits for whoever reads from it.
func (l *link) drop() {
	if l.conn != nil {
		l.conn.Close()
		<-l.gone
		l.conn = nil
	}
}

// write ends with ctx.
func write(ctx context.Context, conn net.Conn, frame []byte) error {
	stop := context.AfterFunc(ctx, func() { conn.Close() })
	defer stop()
	_, err := conn.Write(frame)
	return err
}

// Close ends all connections.
func (s *Sender) Close() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, l := range s.conns {
		l.mu.Lock()
		l.drop()
		l.mu.Unlock()
	}
}

// Line is err in one line of bounded length.
func Line(err error) string {
	text := strings.Join(strings.Fields(err.Error()), " ")
	return text[:min(len(text), 200)]
}
