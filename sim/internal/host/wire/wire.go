package wire

import (
	"context"
	"sync"
	"time"

	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/host/pace"
)

// segment is how many octets a full one of TCP has on Ethernet (RFC 9293 section 3.7.1).
const segment = 1460

// Wire is the link of one card. It is safe for concurrent use; make one with [New].
type Wire struct {
	seed uint64
	some chan struct{} // told that something was lost

	mu    sync.Mutex
	draws map[string]func() float64
	burst snap.Burst
	lost  map[string]int // by the word of [snap.OpLost]
}

// New is a link whose chances follow from seed.
func New(seed uint64) *Wire {
	return &Wire{seed: seed, some: make(chan struct{}, 1), draws: map[string]func() float64{}, lost: map[string]int{}}
}

// Passes says whether a packet of that kind gets over a link that carries as c says, into
// the card or out of it, and how long it takes. elapsed is real time since anything.
func (w *Wire) Passes(c *snap.Carriage, elapsed time.Duration, kind string, in bool) (late time.Duration, ok bool) {
	if c == nil {
		return 0, true
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.loses(c, elapsed, kind, in) {
		return 0, false
	}
	return w.late(c, kind, in), true
}

// Late is how long a packet takes of which somebody else has said that it gets over.
func (w *Wire) Late(c *snap.Carriage, kind string, in bool) time.Duration {
	if c == nil {
		return 0
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.late(c, kind, in)
}

// Stream is how late so many octets are that go over the link by TCP. Segments that get
// lost are sent again, so that they cost time alone; not ok is a connection that ends
// after that time, because it has lost one too often.
func (w *Wire) Stream(c *snap.Carriage, elapsed time.Duration, kind string, in bool, octets int) (late time.Duration, ok bool) {
	if c == nil {
		return 0, true
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	late = w.late(c, kind, in)
	for range (octets + segment - 1) / segment {
		again, ok := snap.Resend(func(again vtime.Tick) bool { return w.loses(c, elapsed+late+again.Duration(), kind, in) })
		late += again.Duration()
		if !ok {
			return late, false
		}
	}
	return late, true
}

func (w *Wire) loses(c *snap.Carriage, elapsed time.Duration, kind string, in bool) bool {
	if c.LossPct <= 0 && c.BurstLossPct <= 0 {
		return false
	}
	burst := c.BurstLossPct > 0 && w.burst.Bears(vtime.Tick(elapsed/time.Millisecond)*vtime.Millisecond, c.BurstOver, c.BurstWithin)
	way := "out"
	if in {
		way = "in"
	}
	switch c.Befalls(w.throw(kind+"/"+way), burst) {
	case snap.NoDamage:
		return false
	case snap.DamageInBurst:
		way = "burst-" + way
	}
	w.lost[way]++
	select {
	case w.some <- struct{}{}:
	default:
	}
	return true
}

func (w *Wire) late(c *snap.Carriage, kind string, in bool) time.Duration {
	late := c.Delay.Duration()
	if c.Jitter > 0 {
		way := "/late/out"
		if in {
			way = "/late/in"
		}
		late += time.Duration(w.throw(kind+way) * float64(c.Jitter.Duration()))
	}
	return late
}

func (w *Wire) throw(name string) float64 {
	draw := w.draws[name]
	if draw == nil {
		draw = rng.Stream(w.seed, "link/served/"+name).Float64
		w.draws[name] = draw
	}
	return draw()
}

// words are in the order in which the engine is told.
var words = []string{"in", "out", "burst-in", "burst-out"}

// Take is what the engine has not been told yet of what was lost.
func (w *Wire) Take() (list []snap.Command) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, word := range words {
		if n := w.lost[word]; n > 0 {
			list = append(list, snap.Command{Op: snap.OpLost, Text: word, Code: n, By: snap.Actor{Surface: "link"}})
		}
	}
	clear(w.lost)
	return list
}

// First says, once until the next call of Take, that something was lost.
func (w *Wire) First() bool {
	select {
	case <-w.some:
		return true
	default:
		return false
	}
}

// Run tells the engine until ctx is done, once a second at most.
func (w *Wire) Run(ctx context.Context, submit func(snap.Command) snap.Result) {
	pace.Seldom(ctx, w.some, func() {
		for _, c := range w.Take() {
			submit(c) // an engine that is too busy misses some
		}
	})
}
