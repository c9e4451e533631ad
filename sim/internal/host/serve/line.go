package serve

import (
	"net"
	"sync"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/wire"
)

// line is the card's link as the site has it at the moment. A nil one is perfect.
type line struct {
	wire    *wire.Wire
	site    func() *snap.Site
	elapsed func() time.Duration
}

func (s *served) newLine() *line {
	return &line{wire: wire.New(s.plan.Seed), site: s.card.Site, elapsed: s.clock.Elapsed}
}

func (l *line) carriage() *snap.Carriage {
	if l == nil {
		return nil
	}
	return l.site().Net.Link
}

// passes says whether a packet of that kind gets over the link, and how late it is then.
func (l *line) passes(kind string, in bool) (late time.Duration, ok bool) {
	c := l.carriage()
	if c == nil {
		return 0, true
	}
	return l.wire.Passes(c, l.elapsed(), kind, in)
}

// late is how late one is of which the engine has said that it gets over.
func (l *line) late(kind string, in bool) time.Duration {
	c := l.carriage()
	if c == nil {
		return 0
	}
	return l.wire.Late(c, kind, in)
}

// slowly is a connection over TCP whose octets take their time on the link. What is lost
// of it is sent again; a connection that loses one segment again and again ends. While
// something is on its way nothing else is: at such times a card sends little.
type slowly struct {
	net.Conn
	line *line
	kind string
	gone chan struct{}
	once sync.Once
}

func newSlowly(c net.Conn, l *line, kind string) *slowly {
	return &slowly{Conn: c, line: l, kind: kind, gone: make(chan struct{})}
}

// Read gives what has arrived, once it would have.
func (s *slowly) Read(p []byte) (int, error) {
	n, err := s.Conn.Read(p)
	if n > 0 && !s.wait(true, n) {
		return 0, net.ErrClosed
	}
	return n, err
}

// Write sends, once what is sent would arrive.
func (s *slowly) Write(p []byte) (int, error) {
	if !s.wait(false, len(p)) {
		return 0, net.ErrClosed
	}
	return s.Conn.Write(p)
}

func (s *slowly) wait(in bool, octets int) bool {
	c := s.line.carriage()
	if c == nil {
		return true
	}
	late, ok := s.line.wire.Stream(c, s.line.elapsed(), s.kind, in, octets)
	if late > 0 {
		t := time.NewTimer(late)
		defer t.Stop()
		select {
		case <-t.C:
		case <-s.gone:
			return false
		}
	}
	if !ok {
		s.Close()
	}
	return ok
}

// Close ends the waiting too.
func (s *slowly) Close() error {
	s.once.Do(func() { close(s.gone) })
	return s.Conn.Close()
}
