package serve

import (
	"context"
	"runtime/debug"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/host/control"
)

// Live is a session that goes on beside its caller.
type Live struct {
	*session
	done        chan struct{}
	interrupted bool
	err         error
}

// Start is Run for who wants to go on meanwhile: it returns once everything is ready.
// The caller ends the session with [Live.Stop] and waits for it.
func Start(ctx context.Context, c Config) (*Live, error) {
	s, err := prepare(ctx, c)
	if err != nil {
		return nil, err
	}
	l := &Live{session: s, done: make(chan struct{})}
	go l.run(ctx)
	return l, nil
}

func (l *Live) run(ctx context.Context) {
	defer close(l.done)
	defer l.close()
	defer func() {
		if v := recover(); v != nil {
			l.err = &FaultError{Surface: "engine", Value: v, Stack: debug.Stack()}
		}
	}()
	l.interrupted, l.err = l.play(ctx)
}

// Stop ends the session as it stands.
func (l *Live) Stop() { l.stop() }

// Wait waits until the session has ended and everything of it is closed; see [Run].
func (l *Live) Wait() (interrupted bool, err error) {
	<-l.done
	return l.interrupted, l.err
}

// Loop is the engine's, for who drives the session.
func (l *Live) Loop() *engine.Loop { return l.loop }

// Observed is what happened.
func (l *Live) Observed() *control.Log { return l.log }

// Where is the ready record as it was announced.
func (l *Live) Where() Ready { return l.ready }
