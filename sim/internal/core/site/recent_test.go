package site

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/vtime"
)

// TestRiseAgainstAWalk holds the ring of parts against all readings: the rise is at
// least that over the time that was set, less its newest part, and at most that over
// the time and one part more.
func TestRiseAgainstAWalk(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		over := vtime.Tick(rapid.IntRange(60, 3600).Draw(t, "over")) * vtime.Second
		type reading struct {
			at vtime.Tick
			c  float64
		}
		var r recent
		var all []reading
		now := vtime.Tick(rapid.IntRange(0, 1e6).Draw(t, "start"))
		for range rapid.IntRange(1, 60).Draw(t, "readings") {
			c := float64(rapid.IntRange(-400, 1000).Draw(t, "c")) / 10
			all = append(all, reading{now, c})
			got := r.rise(now, over, c)
			since := func(from vtime.Tick) float64 {
				rise := 0.0
				for _, x := range all {
					if x.at >= from {
						rise = max(rise, c-x.c)
					}
				}
				return math.Round(rise*10) / 10
			}
			part := over / parts
			if least, most := since(now-over+part), since(now-over-2*part); got < least || got > most {
				t.Fatalf("at %v over %v: %v, want %v to %v", now, over, got, least, most)
			}
			now += vtime.Tick(rapid.IntRange(1, 400).Draw(t, "wait")) * vtime.Second
		}
	})
}
