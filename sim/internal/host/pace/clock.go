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

// Check says whether speed is within bounds.
func Check(speed float64) error {
	if !(speed >= Slowest && speed <= Fastest) {
		return fmt.Errorf("speed %g: expected %g to %g", speed, Slowest, float64(Fastest))
	}
	return nil
}

// Clock runs simulated time at a factor of real time, from its start on.
type Clock struct {
	timer *time.Timer

	// Surfaces ask often: none waits for another.
	start atomic.Pointer[time.Time] // nil: not yet
	pulse atomic.Pointer[pulse]
}

// pulse is how time goes since it was last turned.
type pulse struct {
	from    vtime.Tick
	at      time.Time
	speed   float64
	running bool
}

func (p *pulse) now() vtime.Tick {
	if !p.running {
		return p.from
	}
	return p.from + vtime.Tick(time.Since(p.at).Seconds()*p.speed*1000)
}

// until is the real time until t, which may have passed.
func (p *pulse) until(t vtime.Tick) time.Duration {
	return time.Duration(float64((t-p.from).Duration())/p.speed) - time.Since(p.at)
}

// New is a clock that stands at tick 0 until [Clock.Start].
func New(speed float64) (*Clock, error) {
	if err := Check(speed); err != nil {
		return nil, err
	}
	c := &Clock{timer: time.NewTimer(time.Hour)}
	c.pulse.Store(&pulse{speed: speed})
	return c, nil
}

// Start begins to count.
func (c *Clock) Start() {
	c.StartStanding()
	c.Turn(0, c.pulse.Load().speed, true)
}

// StartStanding begins to count real time alone: simulated time stands until
// [Clock.Turn].
func (c *Clock) StartStanding() {
	now := time.Now()
	c.start.Store(&now)
}

// Turn has time stand at from or, if it is running, go on from there with so many
// simulated seconds in a real one. One goroutine alone may call.
func (c *Clock) Turn(from vtime.Tick, speed float64, running bool) {
	c.pulse.Store(&pulse{from: from, at: time.Now(), speed: speed, running: running})
}

// Now is the tick that the run should have come to.
func (c *Clock) Now() vtime.Tick { return c.pulse.Load().now() }

// Elapsed is the real time since the start, whatever the factor and whether or not
// time stands; 0 before.
func (c *Clock) Elapsed() time.Duration {
	start := c.start.Load()
	if start == nil {
		return 0
	}
	return time.Since(*start)
}

// Until is the real time until the run should have come to t, 0 if it should have
// already. While time stands it is an hour.
func (c *Clock) Until(t vtime.Tick) time.Duration {
	p := c.pulse.Load()
	if !p.running {
		return time.Hour
	}
	return max(0, p.until(t))
}

// At delivers once the run should have come to t. There is one timer: a later
// call takes it over, and only the loop may call.
func (c *Clock) At(t vtime.Tick) <-chan time.Time {
	p := c.pulse.Load()
	if !p.running {
		c.timer.Stop()
		return c.timer.C
	}
	c.timer.Reset(max(0, p.until(t)))
	return c.timer.C
}
