package site

import (
	"testing"

	"ridethrough/sim/internal/core/vtime"
)

// TestEngineClockIsFollowed: what a manager that is not authoritative makes of the clock of an
// engine, after RFC 3414 sections 2.2.3 and 3.2 step 7b. It knows boots 3 and heard
// time 1000 s a thousand seconds ago.
func TestEngineClockIsFollowed(t *testing.T) {
	const then, now = 5000 * vtime.Second, 6000 * vtime.Second
	for _, c := range []struct {
		name  string
		boots uint32
		time  vtime.Tick
		ok    bool
		after engine
	}{
		{"in step", 3, 2000 * vtime.Second, true, engine{true, 3, 4000 * vtime.Second, 2000 * vtime.Second}},
		{"150 s behind", 3, 1850 * vtime.Second, true, engine{true, 3, 4150 * vtime.Second, 1850 * vtime.Second}},
		{"151 s behind, newer than heard", 3, 1849 * vtime.Second, true, engine{true, 3, 4151 * vtime.Second, 1849 * vtime.Second}},
		{"as heard before", 3, 1000 * vtime.Second, false, engine{true, 3, 4000 * vtime.Second, 1000 * vtime.Second}},
		{"begun anew", 3, 5 * vtime.Second, false, engine{true, 3, 4000 * vtime.Second, 1000 * vtime.Second}},
		{"restarted", 4, 5 * vtime.Second, true, engine{true, 4, 5995 * vtime.Second, 5 * vtime.Second}},
		{"fewer boots", 1, 9000 * vtime.Second, false, engine{true, 3, 4000 * vtime.Second, 1000 * vtime.Second}},
	} {
		e := engine{}
		e.asks(then, clock{3, 1000 * vtime.Second})
		if got := e.asks(now, clock{c.boots, c.time}); got != c.ok || e != c.after {
			t.Errorf("%s: %v, %+v", c.name, got, e)
		}
	}
}
