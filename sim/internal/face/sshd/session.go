package sshd

import (
	"io"
	"net/netip"
	"time"

	"github.com/gliderlabs/ssh"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/menu"
	"ridethrough/sim/internal/face/term"
)

// Exit statuses of an SSH command.
const (
	exitDone  = 0
	exitAmiss = 1 // done, and something wrong was found
	exitUsage = 2 // refused, or not a line that can be answered without a dialog
)

// handle holds one session: the menu, or one word from the command line.
func (s *Server) handle(ss ssh.Session) {
	c := connOf(ss.Context())
	if !s.begin() {
		return
	}
	defer s.running.Done()
	defer s.confine(c)
	c.began()
	defer c.ended()
	_, resized, terminal := ss.Pty()
	if terminal {
		// The library's request loop stalls when nobody takes window changes.
		// It closes the channel when the session's requests end.
		s.running.Go(func() {
			for range resized {
			}
		})
	}
	if ss.RawCommand() != "" {
		ss.Exit(s.once(ss, c))
		return
	}
	s.dialog(ss, c, terminal)
}

// begin keeps Close waiting for a session, unless it came first.
func (s *Server) begin() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return false
	}
	s.running.Add(1)
	return true
}

// once answers one command line and returns the exit status.
func (s *Server) once(ss ssh.Session, c *conn) int {
	if !s.same(s.c.Source.Device(), c) {
		c.Close()
		return exitUsage
	}
	by := c.who()
	reply, line := menu.Reply{}, ss.RawCommand()
	if most, takes := menu.TakesText(line); takes {
		text, err := io.ReadAll(io.LimitReader(ss, int64(most)+1))
		if err != nil || !s.same(s.c.Source.Device(), c) {
			s.interrupted(by, line, text, c)
			c.Close()
			return exitUsage
		}
		reply = menu.OnceWith(s.view(c), by, line, string(text))
	} else {
		reply = menu.Once(s.view(c), by, line)
	}
	if reply.Command != nil {
		result := s.c.Source.Submit(*reply.Command)
		reply = reply.After(s.view(c), result)
	}
	if !reply.OK {
		s.writer(ss.Stderr(), c).Write([]byte(reply.Text))
		return exitUsage
	}
	s.writer(ss, c).Write([]byte(reply.Text))
	if reply.Amiss {
		return exitAmiss
	}
	return exitDone
}

// interrupted tells the card what was cut off.
func (s *Server) interrupted(by snap.Actor, line string, text []byte, c *conn) {
	if d := s.c.Source.Device(); !term.Up(d, true) || d.Card.Boots != c.boots {
		return
	}
	if tell := menu.Interrupted(s.view(c), by, line, text); tell != nil {
		s.c.Source.Submit(*tell)
	}
}

func (s *Server) view(c *conn) menu.View {
	d := s.c.Source.Device()
	return menu.View{Dev: d, Now: max(d.Tick, s.c.Source.Now()), From: s.from(c)}
}

// from is the address that a client has in the card's network, invalid if nobody says.
func (s *Server) from(c *conn) netip.Addr {
	at, err := netip.ParseAddrPort(c.RemoteAddr().String())
	if err != nil || s.c.From == nil {
		return netip.Addr{}
	}
	return s.c.From(at.Addr())
}

// same says whether d is the card, in the life in which c was made and with its
// session.
func (s *Server) same(d *snap.Device, c *conn) bool {
	return term.Up(d, true) && d.Card.Boots == c.boots && d.Card.Session(c.who().Session) != nil
}

func (s *Server) dialog(ss ssh.Session, c *conn, terminal bool) {
	if !s.same(s.c.Source.Device(), c) {
		c.Close()
		return
	}
	in, done := make(chan []byte), make(chan struct{})
	defer close(done)
	s.running.Go(func() { pump(ss, in, done) })
	end := term.Run(ss.Context(), in, s.writer(ss, c), term.Options{
		Source:   s.c.Source,
		By:       c.who(),
		SignedIn: true,
		Network:  true,
		Plain:    !terminal,
		Idle:     s.c.Idle,
		From:     func() netip.Addr { return s.from(c) },
	})
	c.because(end.Reason())
	if end == term.CardGone || end == term.Ended {
		c.Close() // as if its plug were pulled
		return
	}
	ss.Exit(exitDone)
}

// pump carries what arrives until the client hangs up or the dialog is done.
func pump(from io.Reader, in chan<- []byte, done <-chan struct{}) {
	defer close(in)
	buf := make([]byte, 512)
	for {
		n, err := from.Read(buf)
		if n > 0 {
			select {
			case in <- append([]byte(nil), buf[:n]...):
			case <-done:
				return
			}
		}
		if err != nil {
			return
		}
	}
}

// writer gives the client a bounded time to take each write, so that one that
// does not read cannot hold a session for ever.
func (s *Server) writer(to io.Writer, c *conn) *boundedWriter {
	return &boundedWriter{to: to, c: c, within: s.c.WriteWithin}
}

type boundedWriter struct {
	to     io.Writer
	c      *conn
	within time.Duration
}

func (w *boundedWriter) Write(p []byte) (int, error) {
	timer := time.AfterFunc(w.within, func() { w.c.Close() })
	defer timer.Stop()
	return w.to.Write(p)
}
