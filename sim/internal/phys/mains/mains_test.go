package mains_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/phys/mains"
)

func TestCategoriesOfIEEE1159(t *testing.T) {
	c := checks.Load(t)
	for _, row := range []struct {
		id             string
		share, seconds float64
	}{
		{"PQ-01", 0.5, 10.0 / 60}, {"PQ-02", 0.5, 1}, {"PQ-03", 0.5, 20}, {"PQ-04", 0.05, 2},
		{"PQ-05", 0.05, 20}, {"PQ-06", 0, 90}, {"PQ-07", 0.85, 120}, {"PQ-08", 1.15, 120},
		{"PQ-09", 1.5, 5.0 / 60}, {"PQ-10", 1.3, 1},
	} {
		c.Word(t, row.id, mains.Classify(row.share, row.seconds, 60).String())
	}
}

// The bounds as the standard's table prints them.
func TestBoundsOfTheCategories(t *testing.T) {
	for _, row := range []struct {
		share, seconds float64
		want           mains.Event
	}{
		{0.91, 1e6, mains.Normal}, {1.1, 1e6, mains.Normal}, {0.9, 1, mains.MomentarySag},
		{0, 0.009, mains.Transient}, {0, 0.010, mains.MomentaryInterruption},
		{0.1, 0.1, mains.InstantaneousSag}, {0.099, 0.1, mains.MomentaryInterruption},
		{0.5, 0.6, mains.InstantaneousSag}, {0.5, 0.601, mains.MomentarySag},
		{0.5, 3, mains.MomentarySag}, {0.5, 3.001, mains.TemporarySag},
		{0.5, 60, mains.TemporarySag}, {0.5, 60.001, mains.Undervoltage},
		{1.15, 20, mains.TemporarySwell}, {0, 60, mains.TemporaryInterruption},
	} {
		if got := mains.Classify(row.share, row.seconds, 50); got != row.want {
			t.Errorf("%v for %v s: %v, want %v", row.share, row.seconds, got, row.want)
		}
	}
	if got := mains.Event(200).String(); got != "unknown" {
		t.Errorf("no event is called %q", got)
	}
}

func TestITICurve(t *testing.T) {
	c := checks.Load(t)
	word := map[bool]string{true: "tolerated", false: "not tolerated"}
	for _, row := range []struct {
		id             string
		share, seconds float64
	}{
		{"ITI-01", 0, 0.015}, {"ITI-02", 0, 0.025}, {"ITI-03", 0.7, 0.4}, {"ITI-04", 0.7, 1},
		{"ITI-05", 0.8, 5}, {"ITI-06", 0.8, 15}, {"ITI-07", 0.9, math.Inf(1)}, {"ITI-08", 1.2, 0.4},
		{"ITI-09", 1.2, 1}, {"ITI-10", 1.1, math.Inf(1)},
	} {
		c.Word(t, row.id, word[mains.Ride(row.share, row.seconds)])
	}
	// The short side: 200 % 1 ms and 140 % 3 ms are points of the same curve.
	for _, row := range []struct {
		share, seconds float64
		want           bool
	}{{2, 0.001, true}, {2.01, 0.001, false}, {1.4, 0.003, true}, {1.4, 0.004, false}, {5, 0.0001, true}} {
		if got := mains.Ride(row.share, row.seconds); got != row.want {
			t.Errorf("%v for %v s: %v", row.share, row.seconds, got)
		}
	}
}

func TestLongerIsNeverEasier(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		share := rapid.Float64Range(0, 3).Draw(t, "share")
		seconds := rapid.Float64Range(1e-5, 30).Draw(t, "seconds")
		longer := seconds * rapid.Float64Range(1, 100).Draw(t, "times")
		if mains.Ride(share, longer) && !mains.Ride(share, seconds) {
			t.Fatalf("%v is borne for %v s, not for %v s", share, longer, seconds)
		}
	})
}

func TestDipLevels(t *testing.T) {
	c := checks.Load(t)
	level := func(class int, share, shortest float64) string {
		for _, d := range mains.DipLevels(class) {
			if d.Share == share && d.Cycles50Hz >= shortest {
				text := fmt.Sprintf("%g cycles (%g ms) at 50 Hz", d.Cycles50Hz, 1000*d.Seconds(50))
				if d.Seconds(50) >= 1 {
					text = fmt.Sprintf("%g cycles (%g s) at 50 Hz", d.Cycles50Hz, d.Seconds(50))
				}
				return text
			}
		}
		return "none"
	}
	c.Word(t, "PQ-11", level(3, 0.4, 0))
	c.Word(t, "PQ-12", level(2, 0.7, 0))
	c.Word(t, "PQ-12", level(3, 0.7, 0))
	c.Word(t, "PQ-13", level(3, 0.8, 0))
	c.Word(t, "PQ-14", level(2, 0, 2))
	c.Word(t, "PQ-14", level(3, 0, 2))
	if got := level(2, 0.4, 0); got != "none" {
		t.Errorf("class 2 has a dip to 40 %% of %s", got)
	}
	if mains.DipLevels(1) != nil {
		t.Error("class 1 has levels")
	}
	if got := (mains.DipLevel{Share: 0.7, Cycles50Hz: 25, Cycles60Hz: 30}).Seconds(60); got != 0.5 {
		t.Errorf("30 cycles at 60 Hz last %v s", got)
	}
}
