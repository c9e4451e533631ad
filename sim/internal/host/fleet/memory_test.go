package fleet

import (
	"cmp"
	"runtime"
	"slices"
	"testing"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Most bytes of the heap that a device may take: fresh, with an agent, and half a
// minute into an outage of all. With what the runtime, the program and the kernel
// add (docs/performance.md has how much) they keep a fleet of 10,000 well below
// 16 KiB each.
const (
	mostFresh  = 6400
	mostAsked  = 6900
	mostOutage = 7600
)

// TestMemoryOfADevice: what grows with the number of devices is bounded. What
// all have in common does not count, and so it is the difference between a larger
// and a smaller fleet that is weighed.
func TestMemoryOfADevice(t *testing.T) {
	const few, many = 100, 600
	small, large := usual(t, few), usual(t, many)
	for i, c := range []struct {
		when string
		most int64
	}{{"fresh", mostFresh}, {"asked", mostAsked}, {"in an outage", mostOutage}} {
		got := (large[i] - small[i]) / (many - few)
		t.Logf("%s: %d bytes", c.when, got)
		if got > c.most || got < c.most/2 { // less by half: the measuring is broken
			t.Errorf("a device takes %d bytes %s, at most %d are meant", got, c.when, c.most)
		}
	}
}

// usual is what n devices weigh, the middle of three times: what earlier tests have
// left behind may be freed, or not, while they are weighed.
func usual(t *testing.T, n int) (heap [3]int64) {
	t.Helper()
	weights := [][3]int64{weigh(t, n), weigh(t, n), weigh(t, n)}
	for i := range heap {
		slices.SortFunc(weights, func(a, b [3]int64) int { return cmp.Compare(a[i], b[i]) })
		heap[i] = weights[1][i]
	}
	return heap
}

// weigh is the heap of n devices at the three times.
func weigh(t *testing.T, n int) (heap [3]int64) {
	t.Helper()
	c := config(t, small, n)
	before := int64(live())
	f := open(t, c)
	heap[0] = int64(live()) - before
	for i := range n {
		u := f.unit(i + 1)
		u.shard.caller.unit = u
		u.talker().Answer([]byte("no request"), &u.shard.caller, u.shard.out)
	}
	heap[1] = int64(live()) - before
	for i := range n {
		outage(t, f.unit(i+1))
	}
	heap[2] = int64(live()) - before
	runtime.KeepAlive(f)
	return heap
}

// outage takes the mains from a device for half a minute.
func outage(t *testing.T, u *unit) {
	t.Helper()
	if r := u.Submit(snap.Command{Op: snap.OpInject, Text: `source = "lost"`}); r.Status != snap.Done {
		t.Fatal(r.Reason)
	}
	for u.engine.Now() < 30*vtime.Second {
		u.step(30 * vtime.Second)
	}
	if u.view().UPS.Source != snap.SourceBattery {
		t.Fatal("there is no outage")
	}
}
