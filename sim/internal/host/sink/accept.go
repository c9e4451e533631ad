package sink

import (
	"errors"
	"net"
	"time"

	"ridethrough/sim/internal/core/plan"
)

// accept hands connections to talk until the listener is closed. Whoever comes while
// the server is not there is refused; while it is silent nobody says anything.
func (k *sink) accept(guard func(string, func()), talk func(net.Conn)) {
	for {
		conn, err := k.tcp.Accept()
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			if !k.pause(10 * time.Millisecond) { // out of descriptors: later again
				return
			}
			continue
		}
		state := k.state()
		if !state.Up || state.Answer == string(plan.AnswerClosed) || !k.enter(conn) {
			refuse(conn)
			continue
		}
		serve := talk
		if state.Answer == string(plan.AnswerSilent) {
			serve = k.sayNothing
		}
		guard("sink "+k.cfg.Name, func() {
			defer k.leave(conn)
			serve(conn)
		})
	}
}

// refuse ends a connection as if nobody had listened.
func refuse(conn net.Conn) {
	if tcp, ok := conn.(*net.TCPConn); ok {
		tcp.SetLinger(0)
	}
	conn.Close()
}

// enter takes a place for a session, if there is one.
func (k *sink) enter(conn net.Conn) bool {
	select {
	case k.room <- struct{}{}:
	default:
		return false
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.closed {
		<-k.room
		return false
	}
	k.open[conn] = struct{}{}
	k.sessions.Add(1)
	return true
}

func (k *sink) leave(conn net.Conn) {
	conn.Close()
	k.mu.Lock()
	delete(k.open, conn)
	k.mu.Unlock()
	<-k.room
	k.sessions.Done()
}

// hangUp ends all sessions, and lets none begin.
func (k *sink) hangUp() {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.closed = true
	for conn := range k.open {
		conn.Close()
	}
}

// sayNothing takes what comes and never answers.
func (k *sink) sayNothing(conn net.Conn) {
	timer := time.AfterFunc(longest, func() { conn.Close() })
	defer timer.Stop()
	b := make([]byte, 4<<10)
	for {
		if _, err := conn.Read(b); err != nil {
			return
		}
	}
}
