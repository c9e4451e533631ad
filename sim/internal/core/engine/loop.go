package engine

import (
	"context"
	"sync"
	"sync/atomic"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Pacer ties simulated time to another clock.
type Pacer interface {
	// Now is the tick that the run should have come to.
	Now() vtime.Tick
	// At is a channel that delivers once the run should have come to t. It is
	// good until the next call.
	At(t vtime.Tick) <-chan time.Time
}

// Keeper keeps the card's memory. Keep does not wait for that; once what it was
// given cannot be lost any more it calls done, from any goroutine. If it fails it
// never calls done. Where there are no sections it may take its time.
type Keeper interface {
	Keep(k *snap.Keep, done func())
}

// inboxSize bounds the commands that wait for the engine.
const inboxSize = 256

type request struct {
	command snap.Command
	answer  chan snap.Result
}

// Loop owns an engine from one goroutine. Its methods other than Run are safe
// for concurrent use; it is the [snap.Source] of the surfaces.
type Loop struct {
	pacer  Pacer
	each   func(Frame)
	record func(Entry)
	keeper Keeper // nil: nobody keeps anything

	inbox     chan request
	published atomic.Pointer[published]
	latest    atomic.Int64 // the latest tick that Now has told
	ended     chan struct{}
	once      sync.Once
}

type published struct {
	site *snap.Site
	seen *snap.Device // as the card's surfaces show it
	next vtime.Tick   // the engine may be anywhere between the two
}

// NewLoop prepares a loop over first, the frame that came with the engine. each
// sees every frame, in the loop's goroutine, after it was published; record sees
// every accepted command before it is carried out and may be nil.
func NewLoop(pacer Pacer, first Frame, each func(Frame), record func(Entry)) *Loop {
	l := &Loop{
		pacer: pacer, each: each, record: record,
		inbox: make(chan request, inboxSize), ended: make(chan struct{}),
	}
	l.show(first, nothing)
	return l
}

// KeepWith has k keep what the card remembers, from now on; the first frame is
// the caller's own. A command that changes the memory is answered once that is
// kept. Call it before Run.
func (l *Loop) KeepWith(k Keeper) { l.keeper = k }

// Run moves e until its plan ends, unless on is true, or until ctx is done. It
// returns the tick that it came to.
func (l *Loop) Run(ctx context.Context, e *Engine, on bool) vtime.Tick {
	defer l.End()
	seq := l.first(e)
	for on || !e.Ended() {
		next := e.Upcoming()
		l.promise(next)
		select {
		case <-ctx.Done():
			l.catchUp(e, on)
			return e.Now()
		case r := <-l.inbox:
			if l.catchUp(e, on); e.Ended() && !on {
				return e.Now() // End answers r
			}
			seq++
			l.carryOut(e, seq, r)
		case <-l.pacer.At(next):
			l.show(e.Step(next), nothing)
		}
	}
	return e.Now()
}

// first carries out what was asked before the run began, before time goes on, and
// counts it.
func (l *Loop) first(e *Engine) (seq uint64) {
	for {
		select {
		case r := <-l.inbox:
			seq++
			l.carryOut(e, seq, r)
		default:
			return seq
		}
	}
}

// End answers everybody who still asks that the simulation is over. Run ends
// with it; call it if Run was never called.
func (l *Loop) End() { l.once.Do(func() { close(l.ended) }) }

// catchUp brings e to the pacer's time, so that a command meets the site as it
// is when it comes in; unless on is true, not past the end of the plan.
func (l *Loop) catchUp(e *Engine, on bool) {
	now := l.pacer.Now()
	if !on {
		now = min(now, e.plan.RunFor)
	}
	for e.Now() < now {
		l.show(e.Step(now), nothing)
	}
}

func (l *Loop) carryOut(e *Engine, seq uint64, r request) {
	if l.record != nil {
		l.record(Entry{Tick: e.Now(), Seq: seq, Command: r.command})
	}
	result, frame := e.Do(r.command)
	l.show(frame, func() { r.answer <- result }) // which has room for it
}

func nothing() {}

// show publishes f and calls done once what it keeps cannot be lost any more.
func (l *Loop) show(f Frame, done func()) {
	site := f.Clone()
	l.published.Store(&published{site: site, seen: site.Seen(), next: f.Tick})
	l.each(f)
	k := f.Keep()
	switch {
	case k == nil || l.keeper == nil:
		done()
	case len(k.Sections) == 0: // entries of logs are promised to nobody
		l.keeper.Keep(k, nothing)
		done()
	default:
		l.keeper.Keep(k, done)
	}
}

// promise says that the published state will hold until next.
func (l *Loop) promise(next vtime.Tick) {
	p := *l.published.Load()
	p.next = next
	l.published.Store(&p)
}

// Site is the latest published state.
func (l *Loop) Site() *snap.Site { return l.published.Load().site }

// Device implements [snap.Source].
func (l *Loop) Device() *snap.Device { return l.published.Load().seen }

// Now implements [snap.Source]. It never goes back, although the engine may have
// read the pacer a little before the caller did.
func (l *Loop) Now() vtime.Tick {
	p := l.published.Load()
	now := int64(max(p.site.Tick, min(l.pacer.Now(), p.next)))
	for {
		latest := l.latest.Load()
		if now <= latest {
			return vtime.Tick(latest)
		}
		if l.latest.CompareAndSwap(latest, now) {
			return vtime.Tick(now)
		}
	}
}

// Ask puts c to the engine and does not wait for its answer. It is for what has to be
// the first command of a session; there is room for it then.
func (l *Loop) Ask(c snap.Command) {
	l.inbox <- request{command: c, answer: make(chan snap.Result, 1)}
}

// Submit implements [snap.Source].
func (l *Loop) Submit(c snap.Command) snap.Result {
	r := request{command: c, answer: make(chan snap.Result, 1)}
	select {
	case <-l.ended:
		return snap.Result{Status: snap.Gone, Reason: "the simulation has ended"}
	default:
	}
	select {
	case l.inbox <- r:
	default:
		return snap.Result{Status: snap.Busy, Reason: "too many commands wait"}
	}
	select {
	case result := <-r.answer:
		return result
	case <-l.ended:
	}
	select { // it may have been the last that was carried out
	case result := <-r.answer:
		return result
	default:
		return snap.Result{Status: snap.Gone, Reason: "the simulation has ended"}
	}
}
