package pace

import (
	"fmt"
	"sync/atomic"
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

	start atomic.Pointer[time.Time] // surfaces ask often: none waits for another
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
	now := time.Now()
	c.start.Store(&now)
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
	start := c.start.Load()
	if start == nil {
		return 0, false
	}
	return time.Since(*start), true
}

// Until is the real time until the run should have come to t, 0 if it should have
// already. Before the start it is an hour.
func (c *Clock) Until(t vtime.Tick) time.Duration {
	elapsed, started := c.elapsed()
	if !started {
		return time.Hour
	}
	return max(0, time.Duration(float64(t.Duration())/c.speed)-elapsed)
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
