package fleet

import (
	"container/heap"
	"context"
	"sync"
	"time"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/snmp"
	"ridethrough/sim/internal/host/ports"
)

const (
	// batch is how many engines are stepped before the sockets are looked at again:
	// some 0.3 ms in an outage.
	batch = 64
	// waiting bounds what others have asked of a shard and still wait for.
	waiting = 256
	// datagram bounds what is read of one request.
	datagram = 64 << 10
	// longestSleep bounds how long a shard waits for nothing.
	longestSleep = time.Minute
)

// shard is a part of the fleet in one goroutine.
type shard struct {
	fleet   *Fleet
	set     *ports.Set
	units   []unit
	queue   queue
	timers  timers
	scratch engine.Scratch
	early   []early // of the first frames, before anybody was told anything

	in, out []byte // a request and its reply
	notice  []byte // a notification, which may fall due while a reply is made
	caller  caller
	vigils  []*vigil

	mu    sync.Mutex
	inbox []func() // for this goroutine to do
	gone  bool     // nothing more is taken
}

type early struct {
	unit *unit
	what snap.Notification
}

// run steps and answers until ctx is done, or every run has ended.
func (s *shard) run(ctx context.Context) error {
	defer s.leave()
	for _, e := range s.early {
		s.notify(e.unit, e.what)
	}
	s.early = nil
	for ctx.Err() == nil {
		sleep := s.work()
		if len(s.queue) == 0 {
			return s.linger(ctx)
		}
		if err := s.set.Wait(sleep, s.answer); err != nil {
			return err
		}
		s.doAsked()
	}
	for i := range s.units {
		s.units[i].catchUp()
	}
	return nil
}

// linger answers for devices whose runs have ended until those of the other
// shards have too.
func (s *shard) linger(ctx context.Context) error {
	s.fleet.shardEnded()
	for ctx.Err() == nil && !s.fleet.allEnded() {
		if err := s.set.Wait(s.work(), s.answer); err != nil {
			return err
		}
		s.doAsked()
	}
	return nil
}

// work does some of what is due and returns how long there is nothing more to do.
func (s *shard) work() time.Duration {
	clock := s.fleet.clock
	now := clock.Now()
	for n := 0; len(s.queue) > 0 && s.queue[0].next <= now; n++ {
		if n == batch {
			return 0
		}
		u := s.queue[0]
		u.step(u.next)
		s.plan(u)
	}
	for n := 0; n < batch; n++ {
		do := s.timers.due(clock.Elapsed())
		if do == nil {
			break
		}
		do()
	}
	sleep := longestSleep
	if next := s.overdue(clock.Now()); next != vtime.Never {
		sleep = min(sleep, clock.Until(next))
	}
	if len(s.timers.list) > 0 {
		sleep = min(sleep, max(0, s.timers.list[0].at-clock.Elapsed()))
	}
	if len(s.queue) > 0 {
		sleep = min(sleep, clock.Until(s.queue[0].next))
	}
	return sleep
}

// plan puts the device where its next instant belongs.
func (s *shard) plan(u *unit) {
	if u.outcome != nil || u.place < 0 {
		return
	}
	u.engine.Use(&s.scratch)
	u.next = u.engine.Upcoming()
	heap.Fix(&s.queue, int(u.place))
}

// end closes the run of a device. Its agent goes on answering from its last state.
func (s *shard) end(u *unit) {
	u.outcome = new(report.Outcome)
	*u.outcome = report.OutcomeOf(u.view(), u.engine.Finish())
	if u.place >= 0 {
		heap.Remove(&s.queue, int(u.place))
	}
}

// answer reads one request and answers it; see [ports.Set.Wait].
func (s *shard) answer(id int32) {
	u := &s.units[id]
	n, from, ok := u.socket.Read(s.in)
	if !ok {
		return
	}
	if p := u.postTo(from); p != nil {
		if late, ok := u.passes("notify", true); ok {
			u.send(s.in[:n], late, p.hear)
		}
		return
	}
	there, ok := u.passes("snmp", true)
	if !ok {
		return
	}
	agent := u.talker()
	s.caller.unit, s.caller.from = u, from
	reply, how := agent.Answer(s.in[:n], &s.caller, s.out)
	if len(reply) > 0 {
		var back time.Duration
		back, ok = u.passes("snmp", false)
		how.After += there + back
	}
	switch {
	case len(reply) == 0 || !ok:
	case how == snmp.Delivery{}:
		u.socket.Write(reply, from)
	default:
		s.deliver(u, reply, from, how)
	}
	if c, ok := agent.Report(); ok {
		u.Submit(c)
	}
}

// carryOut does what a frame asks of the world.
func (s *shard) carryOut(u *unit, effects []snap.Effect) {
	u.keep()
	for i := range effects {
		if effects[i].Kind == snap.EffectNotify {
			s.notify(u, effects[i].Notification)
		}
	}
}

// later has do called after a real time, in the shard's goroutine. More than
// enough already means never.
func (s *shard) later(after time.Duration, do func()) bool {
	if len(s.timers.list) >= mostTimers {
		return false
	}
	s.timers.set(s.fleet.clock.Elapsed()+after, do)
	return true
}

// mostTimers bounds replies and informs that wait in a shard.
const mostTimers = 100_000

// ask has do called in the shard's goroutine and waits until it was; false if the
// shard takes nothing more or too much waits.
func (s *shard) ask(do func()) snap.Status {
	done := make(chan struct{})
	s.mu.Lock()
	switch {
	case s.gone:
		s.mu.Unlock()
		return snap.Gone
	case len(s.inbox) >= waiting:
		s.mu.Unlock()
		return snap.Busy
	}
	s.inbox = append(s.inbox, func() { defer close(done); do() })
	s.set.Wake()
	s.mu.Unlock()
	<-done
	return snap.Done
}

func (s *shard) doAsked() {
	s.mu.Lock()
	asked := s.inbox
	s.inbox = nil
	s.mu.Unlock()
	for _, do := range asked {
		do()
	}
}

// leave does what was asked until now, and refuses the rest.
func (s *shard) leave() {
	s.mu.Lock()
	s.gone = true
	s.mu.Unlock()
	s.doAsked()
	s.dismiss()
}
