package vtime

import (
	"fmt"
	"math"
	"time"
)

// Tick is a point of simulated time, or a span of it, in milliseconds. Tick 0
// is the start of the scenario.
type Tick int64

// Spans.
const (
	Millisecond Tick = 1
	Second      Tick = 1000
	Minute      Tick = 60 * Second
	Hour        Tick = 60 * Minute

	// Never is later than anything a scenario can reach.
	Never Tick = math.MaxInt64
)

// FromDuration rounds d to the nearest tick.
func FromDuration(d time.Duration) Tick {
	return Tick(d.Round(time.Millisecond) / time.Millisecond)
}

// Duration is t as a span of the standard library.
func (t Tick) Duration() time.Duration { return time.Duration(t) * time.Millisecond }

// Seconds is t in seconds.
func (t Tick) Seconds() float64 { return float64(t) / 1000 }

// Hours is t in hours.
func (t Tick) Hours() float64 { return float64(t) / 3_600_000 }

// WholeSeconds is t in seconds, rounded down.
func (t Tick) WholeSeconds() int64 { return floor(int64(t), 1000) }

// floor is a / b rounded down, for b > 0.
func floor(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// Hundredths is t in hundredths of a second, the unit of TimeTicks, rounded down.
func (t Tick) Hundredths() int64 { return floor(int64(t), 10) }

// Date is the calendar time at t for a scenario that began at start.
func (t Tick) Date(start time.Time) time.Time { return start.Add(t.Duration()) }

// String prints h:mm:ss.mmm, the form used in traces.
func (t Tick) String() string {
	if t == Never {
		return "never"
	}
	sign := ""
	if t < 0 {
		sign, t = "-", -t
	}
	return fmt.Sprintf("%s%d:%02d:%02d.%03d", sign, t/Hour, t/Minute%60, t/Second%60, t%Second)
}
