package snap

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/vtime"
	_ "ridethrough/sim/internal/drawn"
)

func anyClock(t *rapid.T) *Clock {
	return &Clock{
		At:    vtime.Tick(rapid.Int64Range(0, 1e10).Draw(t, "at")),
		Shown: Stamp(rapid.Int64Range(0, 2e12).Draw(t, "shown")),
		PPB:   rapid.Int64Range(-500_000, 500_000).Draw(t, "ppb"),
		Slew:  vtime.Tick(rapid.Int64Range(-5000, 5000).Draw(t, "slew")),
	}
}

// TestClockNeverGoesBack by itself, whatever its rate and slew, and counts a span by
// its rate alone.
func TestClockNeverGoesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := anyClock(t)
		slewed := k.At + max(k.Slew, -k.Slew)*2000
		for _, from := range []vtime.Tick{k.At, slewed, k.At + vtime.Tick(rapid.Int64Range(-1e9, 1e9).Draw(t, "from"))} {
			last := k.Stamp(from - 3)
			for now := from - 2; now < from+1500; now++ {
				if s := k.Stamp(now); s < last || s > last+2 {
					t.Fatalf("%+v: %d at %d, then %d", k, last, now-1, s)
				} else {
					last = s
				}
			}
		}
		span := vtime.Tick(rapid.Int64Range(-1e11, 1e11).Draw(t, "span"))
		exact := float64(span) + float64(float64(span)*float64(k.PPB))/1e9
		if got := float64(k.Counts(span)); got < exact-1.001 || got > exact+1.001 {
			t.Fatalf("%d at %d parts per billion: %v, want %v", span, k.PPB, got, exact)
		}
	})
}

// TestClockIsSlewed: what was to be gained is gained once the time for it has
// passed, 2000 s for each second, and not before.
func TestClockIsSlewed(t *testing.T) {
	for slew, rows := range map[vtime.Tick][][2]int64{ // tick, what is gained
		128:  {{-1000, 0}, {0, 0}, {2000, 1}, {128_000, 64}, {255_999, 127}, {256_000, 128}, {1e9, 128}},
		-128: {{-1000, 0}, {0, 0}, {2000, -1}, {128_000, -64}, {256_000, -128}, {1e9, -128}},
	} {
		k := Clock{Slew: slew}
		for _, row := range rows {
			if got := int64(k.Stamp(vtime.Tick(row[0]))) - row[0]; got != row[1] {
				t.Errorf("slew %d at %d: %d, want %d", slew, row[0], got, row[1])
			}
		}
	}
}

// TestClockReaches: the first tick that shows a stamp.
func TestClockReaches(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := anyClock(t)
		now := k.At + vtime.Tick(rapid.Int64Range(0, 1e9).Draw(t, "now"))
		s := k.Stamp(now) + Stamp(rapid.Int64Range(-1e9, 1e11).Draw(t, "left"))
		at := k.Reaches(now, s)
		if k.Stamp(at) < s || at > now && k.Stamp(at-1) >= s || at < now {
			t.Fatalf("%+v: %d is shown at %d: %d, before it %d", k, s, at, k.Stamp(at), k.Stamp(at-1))
		}
	})
}

// TestDates: dates are in the card's zone and move when it is set; stamps and what
// the card counts do not.
func TestDates(t *testing.T) {
	zone, err := vtime.Zone("CET-1CEST,M3.5.0,M10.5.0/3")
	if err != nil {
		t.Fatal(err)
	}
	c := Card{StartedAt: vtime.Second, Clock: Clock{Shown: StampOf(time.Date(2026, 3, 29, 0, 59, 0, 0, time.UTC)), PPB: 100_000, Zone: zone}}
	if got := c.Date(0).Format(time.RFC3339) + c.Date(vtime.Minute).Format(time.RFC3339); got != "2026-03-29T01:59:00+01:00"+"2026-03-29T03:00:00+02:00" {
		t.Error(got)
	}
	noted, runs := c.Clock.Stamp(vtime.Minute), c.Runs(1001*vtime.Second)
	c.Clock.At, c.Clock.Shown = 2*vtime.Minute, 0
	if c.DateOf(noted).Format(time.RFC3339) != "2026-03-29T03:00:00+02:00" || c.Date(2*vtime.Minute).Year() != 1970 {
		t.Errorf("after it was set: %v, %v", c.DateOf(noted), c.Date(2*vtime.Minute))
	}
	if want := 1000*vtime.Second + 100; runs != want || c.Runs(1001*vtime.Second) != want {
		t.Errorf("it runs for %v, then %v, want %v", runs, c.Runs(1001*vtime.Second), want)
	}
}
