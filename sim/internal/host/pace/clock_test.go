package pace

import (
	"testing"
	"testing/synctest"
	"time"

	"ridethrough/sim/internal/core/vtime"
)

func TestSpeedIsBounded(t *testing.T) {
	for _, speed := range []float64{0, -1, 0.09, 3601, nan()} {
		if _, err := New(speed); err == nil {
			t.Errorf("speed %g was accepted", speed)
		}
	}
	for _, speed := range []float64{Slowest, 1, Fastest} {
		if _, err := New(speed); err != nil {
			t.Error(err)
		}
	}
}

func nan() float64 {
	zero := 0.0
	return zero / zero
}

// Inside the bubble time is the test's own, so the ticks are exact.
func TestFollowsRealTimeAtItsFactor(t *testing.T) {
	for _, c := range []struct {
		speed float64
		real  time.Duration
		want  vtime.Tick
	}{
		{1, 1500 * time.Millisecond, 1500},
		{60, time.Second, vtime.Minute},
		{0.1, 10 * time.Second, vtime.Second},
		{3600, time.Second, vtime.Hour},
	} {
		synctest.Test(t, func(t *testing.T) {
			clock, _ := New(c.speed)
			time.Sleep(time.Minute)
			if now := clock.Now(); now != 0 {
				t.Errorf("x%g: %v before the start", c.speed, now)
			}
			clock.Start()
			time.Sleep(c.real)
			if now := clock.Now(); now != c.want {
				t.Errorf("x%g: %v after %v, want %v", c.speed, now, c.real, c.want)
			}
		})
	}
}

func TestDeliversWhenItIsTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		clock, _ := New(60)
		select {
		case <-clock.At(0):
			t.Error("delivered before the start")
		case <-time.After(time.Hour):
		}
		clock.Start()
		begin := time.Now()
		<-clock.At(10 * vtime.Minute)
		if took := time.Since(begin); took != 10*time.Second {
			t.Errorf("ten minutes at x60 took %v", took)
		}
		<-clock.At(vtime.Minute) // long past: at once
		clock.At(vtime.Hour)     // given up for an earlier one
		<-clock.At(11 * vtime.Minute)
		if took := time.Since(begin); took != 11*time.Second {
			t.Errorf("eleven minutes at x60 took %v", took)
		}
	})
}
