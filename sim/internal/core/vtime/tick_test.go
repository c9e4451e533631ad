package vtime

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	_ "ridethrough/sim/internal/drawn"
)

func TestFromDuration(t *testing.T) {
	for d, want := range map[time.Duration]Tick{
		0: 0, time.Millisecond: 1, 499 * time.Microsecond: 0, 500 * time.Microsecond: 1,
		-500 * time.Microsecond: -1, time.Hour: Hour, 90 * time.Second: 90 * Second,
	} {
		if got := FromDuration(d); got != want {
			t.Errorf("%v: %d, want %d", d, got, want)
		}
	}
}

func TestRoundingDown(t *testing.T) {
	for tick, want := range map[Tick][2]int64{
		0: {0, 0}, 999: {0, 99}, 1000: {1, 100}, 1009: {1, 100}, -1: {-1, -1}, -10: {-1, -1}, -1000: {-1, -100}, -1001: {-2, -101},
	} {
		if got := [2]int64{tick.WholeSeconds(), tick.Hundredths()}; got != want {
			t.Errorf("%d: %v, want %v", tick, got, want)
		}
	}
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tick := Tick(rapid.Int64Range(-1<<40, 1<<40).Draw(t, "tick"))
		if back := FromDuration(tick.Duration()); back != tick {
			t.Fatalf("%d: %d", tick, back)
		}
		if s := tick.Seconds(); math.Abs(s-float64(tick)/1000) > 1e-9 || math.Abs(tick.Hours()-s/3600) > 1e-9*(1+math.Abs(s)) {
			t.Fatalf("%d: %v s, %v h", tick, s, tick.Hours())
		}
	})
}

func TestDate(t *testing.T) {
	start := time.Date(2026, 12, 31, 23, 59, 0, 0, time.FixedZone("", 3600))
	if got := (90 * Second).Date(start).Format(time.RFC3339); got != "2027-01-01T00:00:30+01:00" {
		t.Error(got)
	}
}

func TestString(t *testing.T) {
	for tick, want := range map[Tick]string{
		0: "0:00:00.000", 1: "0:00:00.001", Hour + 2*Minute + 3*Second + 4: "1:02:03.004",
		100 * Hour: "100:00:00.000", -1500: "-0:00:01.500", Never: "never",
	} {
		if got := tick.String(); got != want {
			t.Errorf("%d: %s, want %s", int64(tick), got, want)
		}
	}
}
