package fleet

import (
	"slices"
	"sync"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// vigil is a wait for one device. Its shard has it, and not the device: few wait.
type vigil struct {
	unit   *unit
	until  string
	by     snap.Actor
	limit  vtime.Tick // it ends there
	answer chan verdict
}

type verdict struct {
	engine.Outcome
	refused snap.Result
}

var gone = snap.Result{Status: snap.Gone, Reason: "the simulation has ended"}

// Wait waits as w says until its condition holds at device n, or until done is closed;
// then the outcome is of no use. Time goes as it goes: a fleet is not advanced. It is
// refused with WrongValue for a condition that does not compile.
func (f *Fleet) Wait(n int, done <-chan struct{}, w engine.Wait) (engine.Outcome, snap.Result) {
	u := f.unit(n)
	v := &vigil{unit: u, until: w.Until, by: w.By, answer: make(chan verdict, 1)}
	var refused snap.Result
	if r := answered(u.shard.ask(func() { u.shard.begin(v, w.For) }), &refused); r.Status != snap.Done {
		return engine.Outcome{}, r
	}
	select {
	case a := <-v.answer:
		return a.Outcome, a.refused
	case <-done:
		u.shard.ask(func() { u.shard.conclude(v, snap.Result{}) })
		return engine.Outcome{}, snap.Result{}
	}
}

// begin answers v at once, or adds it to those that wait.
func (s *shard) begin(v *vigil, most vtime.Tick) {
	u := v.unit
	if r := u.Submit(snap.Command{Op: snap.OpWatch, Text: v.until, By: v.by}); r.Status != snap.Done {
		v.answer <- verdict{refused: r}
		return
	}
	v.limit = min(u.engine.Now()+min(most, engine.MaxEnd), engine.MaxEnd)
	if !s.fleet.keep {
		v.limit = min(v.limit, u.group.runFor)
	}
	s.vigils = append(s.vigils, v)
	s.settle(u)
	s.plan(u)
}

// settle tells those who wait for u and need not any longer. It has just taken a step.
func (s *shard) settle(u *unit) {
	for i := 0; i < len(s.vigils); {
		v := s.vigils[i]
		if v.unit == u {
			u.engine.Use(&s.scratch)
			if held, _ := u.engine.Holds(v.until); held || u.engine.Now() >= v.limit {
				s.conclude(v, snap.Result{})
				continue
			}
		}
		i++
	}
}

// conclude ends a vigil that waits, and answers it.
func (s *shard) conclude(v *vigil, refused snap.Result) {
	i := slices.Index(s.vigils, v)
	if i < 0 {
		return // it was answered
	}
	s.vigils = slices.Delete(s.vigils, i, i+1)
	u := v.unit
	u.engine.Use(&s.scratch)
	a := verdict{Outcome: engine.Outcome{Now: u.engine.Now(), Ended: u.engine.Ended()}, refused: refused}
	a.Held, a.Values = u.engine.Holds(v.until)
	_, f := u.engine.Do(snap.Command{Op: snap.OpUnwatch, Text: v.until, By: v.by})
	s.carryOut(u, f.Effects)
	v.answer <- a
}

// overdue brings the devices for which somebody waits to where the wait ends, if the
// clock is there, and returns the next such instant.
func (s *shard) overdue(now vtime.Tick) vtime.Tick {
	next := vtime.Never
	for _, v := range slices.Clone(s.vigils) {
		if v.limit > now {
			next = min(next, v.limit)
			continue
		}
		u := v.unit
		for u.outcome == nil && u.engine.Now() < v.limit {
			u.step(v.limit)
		}
		s.plan(u)
	}
	return next
}

// dismiss answers all that still wait: what they wait for will not come any more.
func (s *shard) dismiss() {
	for len(s.vigils) > 0 {
		s.conclude(s.vigils[0], gone)
	}
}

// oneAtATime lets several shards compile conditions, one after the other.
func oneAtATime(compile engine.Compiler) engine.Compiler {
	if compile == nil {
		return nil
	}
	var mu sync.Mutex
	return func(text string) (plan.Cond, error) {
		mu.Lock()
		defer mu.Unlock()
		return compile(text)
	}
}

// Find is the number of the device with that serial number, 0 if there is none.
func (f *Fleet) Find(serial string) int {
	for _, s := range f.shards {
		for i := range s.units {
			if s.units[i].member.Card.Identity.SerialNumber == serial {
				return int(s.units[i].number)
			}
		}
	}
	return 0
}
