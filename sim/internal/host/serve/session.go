package serve

import (
	"context"
	"errors"
	"net"
	"os"
	"runtime/debug"
	"sync"
	"sync/atomic"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/control"
	"ridethrough/sim/internal/host/pace"
	"ridethrough/sim/internal/host/proc"
	"ridethrough/sim/internal/host/sink"
)

// session is everything that is open while a scenario is served.
type session struct {
	c     Config
	clock *pace.Clock
	loop  *engine.Loop

	units      []*served // the first is that of the first unit
	benchL     net.Listener
	bench      *control.Server
	running    context.Context // of what is started while the session runs
	sinks      *sink.Set
	processes  *proc.Runner
	temporary  string
	program    sync.WaitGroup
	background sync.WaitGroup
	stop       context.CancelFunc

	log       *control.Log
	concluded chan struct{} // closed when there is a result, or will be none
	result    []byte        // then
	failed    error         // then

	early []snap.Effect // of the first frame, before programs could start

	fault  atomic.Pointer[FaultError] // the first panic of a surface
	lost   atomic.Pointer[error]      // of the memory
	record []byte                     // what was announced
	ready  Ready                      // likewise
}

// Run serves c until the run ends, PROGRAM ends, the bench ends it or ctx is done,
// and says whether it was the last. Whatever was opened is closed when it returns.
func Run(ctx context.Context, c Config) (interrupted bool, err error) {
	s, err := prepare(ctx, c)
	if err != nil {
		return false, err
	}
	defer s.close()
	return s.play(ctx)
}

// prepare makes everything ready; nothing is left open if it fails.
func prepare(ctx context.Context, c Config) (*session, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	c.Programs, c.Log = &lockedWriter{w: c.Programs}, lockedLog(c.Log)
	s := &session{c: c, log: control.NewLog(), concluded: make(chan struct{}), failed: errors.New("the session failed")}
	var err error
	if s.clock, err = pace.New(c.Speed); err != nil {
		return nil, err
	}
	s.loop = engine.NewLoop(s.clock, c.First, s.each, c.Record)
	s.loop.Begin(c.Speed, !c.Paused)
	s.serveUnits()
	if err := s.begin(ctx); err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

func (s *session) begin(ctx context.Context) error {
	if err := s.bind(ctx); err != nil {
		return err
	}
	s.running, s.stop = context.WithCancel(ctx)
	return s.start(s.running)
}

// play runs the loop to its end, and comes to the result.
func (s *session) play(ctx context.Context) (interrupted bool, err error) {
	defer close(s.concluded)
	s.loop.Run(s.running, s.c.Engine, s.c.Keep)
	interrupted = ctx.Err() != nil && !s.c.Engine.Ended()
	s.result, s.failed = s.conclude(interrupted)
	return interrupted, s.failed
}

func (s *session) conclude(interrupted bool) ([]byte, error) {
	s.farewell()
	if fault := s.fault.Load(); fault != nil {
		return nil, fault
	}
	if err := s.forget(); err != nil {
		return nil, err
	}
	return s.c.Conclude(interrupted)
}

// end ends the session for the bench and is its result, unless done is closed
// before there is one.
func (s *session) end(done <-chan struct{}) ([]byte, error) {
	s.stop()
	select {
	case <-s.concluded:
		return s.result, s.failed
	case <-done:
		return nil, errors.New("nobody waits for the result")
	}
}

// guard runs a surface. A panic in it ends the session as a fault, in order.
func (s *session) guard(surface string, run func()) {
	s.background.Go(func() {
		defer func() {
			if v := recover(); v != nil {
				s.fault.CompareAndSwap(nil, &FaultError{Surface: surface, Value: v, Stack: debug.Stack()})
				s.stop()
			}
		}()
		run()
	})
}

// close ends everything in order: programs first, then the surfaces.
func (s *session) close() {
	withdraw(s.c.ReadyFile, s.record)
	s.loop.End()
	if s.stop != nil {
		s.stop()
	}
	s.program.Wait()
	if s.processes != nil {
		s.processes.Close()
	}
	if s.bench != nil {
		s.bench.Close()
	}
	for _, u := range s.units {
		u.shut()
	}
	if s.benchL != nil {
		s.benchL.Close()
	}
	if s.sinks != nil {
		s.sinks.Close()
	}
	s.background.Wait()
	for _, u := range s.units {
		u.close()
	}
	if s.temporary != "" {
		os.RemoveAll(s.temporary)
	}
}
