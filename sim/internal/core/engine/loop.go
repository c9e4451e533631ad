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
	// Turn has time stand at from or, if it is running, go on from there with so
	// many simulated seconds in a real one.
	Turn(from vtime.Tick, speed float64, running bool)
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
	ask     func(e *Engine) // in place of a command: to be called in the loop's goroutine
}

// Loop owns an engine from one goroutine. Its methods other than Run are safe
// for concurrent use; it is the [snap.Source] of the surfaces.
type Loop struct {
	pacer   Pacer
	each    func(Frame)
	record  func(Entry)
	keepers []Keeper // one for each unit; nil: nobody keeps anything

	inbox     chan request
	published atomic.Pointer[published]
	latest    atomic.Int64 // the latest tick that Now has told
	clock     atomic.Pointer[Clock]
	planned   vtime.Tick // the end of the plan
	ended     chan struct{}
	once      sync.Once

	// The rest is of the loop's goroutine.
	on     bool   // the run goes on after the end of its plan
	seq    uint64 // commands until now
	vigils []*vigil
	mover  *vigil // the one that moves time; nil: the pacer does
}

type published struct {
	site *snap.Site
	seen []*snap.Device // of each unit, as its card's surfaces show it
	next vtime.Tick     // the engine may be anywhere between the two
}

// NewLoop prepares a loop over first, the frame that came with the engine. each
// sees every frame, in the loop's goroutine, after it was published; record sees
// every accepted command before it is carried out and may be nil.
func NewLoop(pacer Pacer, first Frame, each func(Frame), record func(Entry)) *Loop {
	l := &Loop{
		pacer: pacer, each: each, record: record, planned: first.End,
		inbox: make(chan request, inboxSize), ended: make(chan struct{}),
	}
	l.clock.Store(&Clock{Speed: 1, Running: true})
	l.show(first, nothing)
	return l
}

// KeepWith has each of list keep what the card of a unit remembers, from now on; the
// first frame is the caller's own. A command that changes the memory is answered once
// that is kept. Call it before Run.
func (l *Loop) KeepWith(list ...Keeper) { l.keepers = list }

// Run moves e until its plan ends, unless on is true or time stands, or until ctx
// is done. It returns the tick that it came to.
func (l *Loop) Run(ctx context.Context, e *Engine, on bool) vtime.Tick {
	l.on = on
	defer l.leave(e)
	l.first(e)
	for !l.over(e) {
		if l.mover != nil {
			if !l.move(ctx, e) {
				break
			}
			continue
		}
		next := min(e.Upcoming(), l.limit())
		l.promise(next)
		select {
		case <-ctx.Done():
			l.catchUp(e)
			return e.Now()
		case r := <-l.inbox:
			l.take(e, r)
		case <-l.pacer.At(next):
			l.step(e, next)
		}
	}
	return e.Now()
}

// over says whether the run has ended by itself. Time that was made to stand at
// the end of the plan stands there.
func (l *Loop) over(e *Engine) bool { return e.Ended() && !l.on && l.clock.Load().Running }

// first carries out what was asked before the run began, before time goes on.
func (l *Loop) first(e *Engine) {
	for {
		select {
		case r := <-l.inbox:
			l.do(e, r)
		default:
			return
		}
	}
}

// take does what was asked, at the present time. What comes after the end is left
// for End to answer.
func (l *Loop) take(e *Engine, r request) {
	if r.ask != nil {
		r.ask(e)
		return
	}
	if l.catchUp(e); !l.over(e) {
		l.do(e, r)
	}
}

// do does what was asked where e is.
func (l *Loop) do(e *Engine, r request) {
	if r.ask != nil {
		r.ask(e)
		return
	}
	l.command(e, r.command, func(result snap.Result) { r.answer <- result }) // which has room for it
	l.settle(e)
}

// End answers everybody who still asks that the simulation is over. Run ends
// with it; call it if Run was never called.
func (l *Loop) End() { l.once.Do(func() { close(l.ended) }) }

// Ended is closed when the simulation is over.
func (l *Loop) Ended() <-chan struct{} { return l.ended }

// catchUp brings e to the pacer's time, so that a command meets the site as it
// is when it comes in; unless the run goes on, not past the end of the plan.
func (l *Loop) catchUp(e *Engine) {
	now := l.pacer.Now()
	if !l.on {
		now = min(now, e.plan.RunFor)
	}
	for e.Now() < now {
		l.step(e, now)
	}
}

// step moves e by one step, neither beyond to nor beyond what somebody waits for.
func (l *Loop) step(e *Engine, to vtime.Tick) {
	l.show(e.Step(min(to, l.limit())), nothing)
	l.settle(e)
}

// command carries out c now; answer is told what came of it, once that is kept.
func (l *Loop) command(e *Engine, c snap.Command, answer func(snap.Result)) snap.Result {
	l.seq++
	if l.record != nil {
		l.record(Entry{Tick: e.Now(), Seq: l.seq, Command: c})
	}
	result, frame := e.Do(c)
	l.show(frame, func() { answer(result) })
	return result
}

// note carries out what is the bench's own, which nobody keeps.
func (l *Loop) note(e *Engine, op snap.Op, text string, by snap.Actor) snap.Result {
	return l.command(e, snap.Command{Op: op, Text: text, By: by}, func(snap.Result) {})
}

func nothing() {}

// show publishes f and calls done once what it keeps cannot be lost any more.
func (l *Loop) show(f Frame, done func()) {
	site := f.Clone()
	seen := make([]*snap.Device, 1+len(site.Units))
	for unit := range seen {
		seen[unit] = site.Of(unit).Seen()
	}
	l.published.Store(&published{site: site, seen: seen, next: f.Tick})
	l.each(f)
	l.keep(f, done)
}

// keep hands over what the cards remember. What is promised to nobody, entries of logs,
// is not waited for.
func (l *Loop) keep(f Frame, done func()) {
	left := new(atomic.Int32)
	left.Store(1)
	kept := func() {
		if left.Add(-1) == 0 {
			done()
		}
	}
	for unit, keeper := range l.keepers {
		k := f.Keep(unit)
		switch {
		case k == nil:
		case len(k.Sections) == 0:
			keeper.Keep(k, nothing)
		default:
			left.Add(1)
			keeper.Keep(k, kept)
		}
	}
	kept()
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
func (l *Loop) Device() *snap.Device { return l.published.Load().seen[0] }

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
	if refused := l.put(r); refused.Status != snap.Done {
		return refused
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
		return gone
	}
}

var gone = snap.Result{Status: snap.Gone, Reason: "the simulation has ended"}

// put gives r to the loop, unless it has ended or too much waits.
func (l *Loop) put(r request) snap.Result {
	select {
	case <-l.ended:
		return gone
	default:
	}
	select {
	case l.inbox <- r:
		return snap.Result{}
	default:
		return snap.Result{Status: snap.Busy, Reason: "too many commands wait"}
	}
}
