package sshd

import (
	"net"
	"runtime/debug"
	"sync"
	"time"

	"github.com/gliderlabs/ssh"
	gossh "golang.org/x/crypto/ssh"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/term"
)

// conn is one client's connection. Its timer closes it unless a dialog begins in
// time; keep-alives do not help.
type conn struct {
	net.Conn
	boots  uint32 // of the card to which it was made
	timer  *time.Timer
	within time.Duration

	mu       sync.Mutex
	sessions int
	by       snap.Actor // who has signed in
	why      string     // the session ends; empty: somebody has left
}

// signedIn and who keep who has signed in over the connection.
func (c *conn) signedIn(by snap.Actor) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.by = by
}

// because and reason keep why the last dialog ended, for the journal.
func (c *conn) because(why string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.why = why
}

func (c *conn) reason() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.why
}

func (c *conn) who() snap.Actor {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.by
}

// began and ended count the connection's dialogs, so that it may not sit
// without one.
func (c *conn) began() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.sessions++
	c.timer.Stop()
}

func (c *conn) ended() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.sessions--; c.sessions == 0 {
		c.timer.Reset(c.within)
	}
}

// accept serves nc in a goroutine of its own, or closes it at once if the card
// does not answer or has enough connections.
func (s *Server) accept(nc net.Conn) {
	d := s.c.Source.Device()
	c := &conn{Conn: nc, boots: d.Card.Boots, within: s.c.SignInWithin}
	if !term.Up(d, true) || !s.track(c) {
		nc.Close()
		return
	}
	c.timer = time.AfterFunc(c.within, func() { c.Close() })
	go func() {
		defer s.untrack(c)
		defer s.confine(c)
		s.lib.HandleConn(c)
	}()
}

// confine is deferred: a panic costs the connection, not the simulator.
func (s *Server) confine(c *conn) {
	value := recover()
	if value == nil {
		return
	}
	c.Close()
	if s.c.OnPanic != nil {
		s.c.OnPanic(value, debug.Stack())
	}
}

func (s *Server) track(c *conn) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed || len(s.conns) >= s.c.MaxConnections {
		return false
	}
	s.conns[c] = struct{}{}
	s.running.Add(1)
	return true
}

func (s *Server) untrack(c *conn) {
	c.timer.Stop()
	c.Close()
	if by := c.who(); by.Session != 0 {
		term.SignOut(s.c.Source, by, c.reason())
	}
	s.mu.Lock()
	delete(s.conns, c)
	s.mu.Unlock()
	s.running.Done()
}

// channel opens a session channel if there is room for a dialog.
func (s *Server) channel(lib *ssh.Server, sc *gossh.ServerConn, ch gossh.NewChannel, ctx ssh.Context) {
	c := connOf(ctx)
	defer s.confine(c)
	if !s.enter() {
		ch.Reject(gossh.ResourceShortage, "too many sessions: try again later")
		return
	}
	defer s.leave()
	ssh.DefaultSessionHandler(lib, sc, ch, ctx)
}

func connOf(ctx ssh.Context) *conn { return ctx.Value(connKey{}).(*conn) }

// enter and leave count session channels and keep Close waiting for them.
func (s *Server) enter() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed || s.sessions >= s.c.MaxSessions {
		return false
	}
	s.sessions++
	s.running.Add(1)
	return true
}

func (s *Server) leave() {
	s.mu.Lock()
	s.sessions--
	s.mu.Unlock()
	s.running.Done()
}
