package term

import (
	"fmt"
	"sync"
	"time"

	"ridethrough/sim/internal/face/menu"
)

// Gate counts failed sign-ins on one line, over all its sessions, and shuts the
// line for a while after [menu.MaxTries] in a row. Who hangs up and comes back
// does not get more tries. It is safe for concurrent use.
type Gate struct {
	lockFor time.Duration
	now     func() time.Time

	mu     sync.Mutex
	failed int
	until  time.Time
}

// NewGate is an open gate that shuts for lockFor by the clock now.
func NewGate(lockFor time.Duration, now func() time.Time) *Gate {
	return &Gate{lockFor: lockFor, now: now}
}

// tries is how many sign-ins in a row have failed.
func (g *Gate) tries() int {
	if g == nil {
		return 0
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.failed
}

// note takes the outcome of a sign-in, before anybody is told of it.
func (g *Gate) note(right bool) {
	if g == nil {
		return
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	g.failed++
	if right {
		g.failed = 0
	}
	if g.failed == menu.MaxTries {
		g.failed = 0
		g.until = g.now().Add(g.lockFor)
	}
}

// refusal is what a shut line answers, "" if it is open.
func (g *Gate) refusal() string {
	if g == nil {
		return ""
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	left := g.until.Sub(g.now())
	if left <= 0 {
		return ""
	}
	return fmt.Sprintf("Too many failed sign-ins. Try again in %d s.\n", (left+time.Second-1)/time.Second)
}
