package engine

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Window is the [snap.Source] of the card of one unit of the site. It is safe for
// concurrent use.
type Window struct {
	loop *Loop
	unit int
}

// Window is that of the unit with that number, 0 for the first.
func (l *Loop) Window(unit int) *Window { return &Window{loop: l, unit: unit} }

// Site is the latest published state of the unit.
func (w *Window) Site() *snap.Site { return w.loop.Site().Of(w.unit) }

// Device implements [snap.Source].
func (w *Window) Device() *snap.Device { return w.loop.published.Load().seen[w.unit] }

// Now implements [snap.Source].
func (w *Window) Now() vtime.Tick { return w.loop.Now() }

// Submit implements [snap.Source].
func (w *Window) Submit(c snap.Command) snap.Result { return w.loop.Submit(w.to(c)) }

// Ask puts c to the engine; see [Loop.Ask].
func (w *Window) Ask(c snap.Command) { w.loop.Ask(w.to(c)) }

func (w *Window) to(c snap.Command) snap.Command {
	c.Unit = w.unit
	return c
}
