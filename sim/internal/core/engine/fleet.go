package engine

import (
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/site"
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
	twin := &Engine{plan: e.plan, site: e.site.Like(m, &sc.site), tracker: tracker, inject: e.inject}
	return twin, twin.frame(), nil
}

// Use has the engine work in sc, and its view there. It has to be called before
// any other method if another engine may have used sc since, and what the last
// [Frame] held is not valid any longer.
func (e *Engine) Use(sc *Scratch) { e.site.Use(&sc.site) }
