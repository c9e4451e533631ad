package pace

import (
	"fmt"
	"sync"
	"time"

	"ridethrough/sim/internal/core/vtime"
)

// Slowest and Fastest bound the factor between simulated and real time.
const (
	Slowest = 0.1
	Fastest = 3600
)

// Clock runs simulated time at a fixed factor of real time, from its start on.
type Clock struct {
	speed float64
	timer *time.Timer

	mu    sync.Mutex
	start time.Time
}

// New is a clock that stands at tick 0 until [Clock.Start].
func New(speed float64) (*Clock, error) {
	if !(speed >= Slowest && speed <= Fastest) {
		return nil, fmt.Errorf("speed %g: expected %g to %g", speed, Slowest, float64(Fastest))
	}
	return &Clock{speed: speed, timer: time.NewTimer(time.Hour)}, nil
}

// Start begins to count.
func (c *Clock) Start() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.start = time.Now()
}

// Now is the tick that the run should have come to.
func (c *Clock) Now() vtime.Tick {
	elapsed, started := c.elapsed()
	if !started {
		return 0
	}
	return vtime.Tick(elapsed.Seconds() * c.speed * 1000)
}

// Elapsed is the real time since the start, whatever the factor; 0 before.
func (c *Clock) Elapsed() time.Duration {
	elapsed, _ := c.elapsed()
	return elapsed
}

func (c *Clock) elapsed() (time.Duration, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.start.IsZero() {
		return 0, false
	}
	return time.Since(c.start), true
}

// At delivers once the run should have come to t. There is one timer: a later
// call takes it over, and only the loop may call.
func (c *Clock) At(t vtime.Tick) <-chan time.Time {
	elapsed, started := c.elapsed()
	if !started {
		c.timer.Stop()
		return c.timer.C
	}
	due := time.Duration(float64(t.Duration()) / c.speed)
	c.timer.Reset(max(0, due-elapsed))
	return c.timer.C
}
