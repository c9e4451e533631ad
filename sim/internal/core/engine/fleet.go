package engine

import (
	"sync"
	"sync/atomic"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/site"
	"ridethrough/sim/internal/core/snap"
)

// Scratch is what engines need to work and may share, one at a time: see
// [Engine.Use]. The zero value is ready.
type Scratch struct{ site site.Scratch }

// Like is a run of m, another site of e's plan, at tick 0, and its first frame.
// It shares with e what never changes, and works in sc. It may be called from
// several goroutines at once while nobody uses e.
func (e *Engine) Like(m *plan.Member, sc *Scratch) (*Engine, Frame, error) {
	tracker, err := expect.New(e.plan.Expects, m.Entries)
	if err != nil {
		return nil, Frame{}, err
	}
	twin := &Engine{plan: e.plan, site: e.site.Like(m, &sc.site), tracker: tracker, inject: e.inject, compile: e.compile}
	return twin, twin.frame(), nil
}

// Use has the engine work in sc, and its view there. It has to be called before
// any other method if another engine may have used sc since, and what the last
// [Frame] held is not valid any longer.
func (e *Engine) Use(sc *Scratch) {
	e.site.Use(&sc.site)
	e.judged.view = 0
}

// View is the site at the last settled instant. It is valid until the next call of
// any method.
func (e *Engine) View() *snap.Site { return e.site.View() }

// Each calls do with every number from 0 below n, from as many goroutines as
// workers says, each with a scratch of its own, until done is closed. The order is
// not determined: do must keep what it comes to by number. It returns how many
// numbers were taken, all of them the lowest.
func Each(n, workers int, done <-chan struct{}, do func(i int, sc *Scratch)) int {
	var next atomic.Int64
	var all sync.WaitGroup
	for range min(workers, n) {
		all.Go(func() {
			sc := new(Scratch)
			for {
				select {
				case <-done:
					return
				default:
				}
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				do(i, sc)
			}
		})
	}
	all.Wait()
	return min(int(next.Load()), n)
}
