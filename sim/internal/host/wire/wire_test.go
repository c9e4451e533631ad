package wire

import (
	"context"
	"testing"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// TestPerfect: a link of which nobody says anything lets everything through at once.
func TestPerfect(t *testing.T) {
	w := New(1)
	for range 1000 {
		if late, ok := w.Passes(nil, 0, "snmp", true); !ok || late != 0 {
			t.Fatal("lost or late")
		}
	}
	if late, ok := w.Stream(nil, 0, "ssh", false, 1<<20); !ok || late != 0 || len(w.Take()) != 0 {
		t.Error("TCP is late")
	}
}

// TestSameSeedSameFate: which packet of a kind is lost follows from seed and number, and
// not from what else goes over the link.
func TestSameSeedSameFate(t *testing.T) {
	c := &snap.Carriage{LossPct: 20, Jitter: 10 * vtime.Millisecond}
	fates := func(seed uint64, between int) (list []time.Duration) {
		w := New(seed)
		for range 500 {
			late, ok := w.Passes(c, 0, "snmp", true)
			if !ok {
				late = -1
			}
			list = append(list, late)
			for range between {
				w.Passes(c, 0, "snmp", false)
				w.Passes(c, 0, "notify", true)
			}
		}
		return list
	}
	a, b, other := fates(7, 0), fates(7, 3), fates(8, 0)
	same, lost := 0, 0
	for i := range a {
		if a[i] != b[i] {
			t.Fatalf("packet %d: %v, with others beside it %v", i, a[i], b[i])
		}
		if a[i] == other[i] {
			same++
		}
		if a[i] < 0 {
			lost++
		}
	}
	if same > 200 || lost < 70 || lost > 130 {
		t.Errorf("%d of 500 as with another seed, %d lost, about 100 are meant", same, lost)
	}
}

// TestBurst: with a loss in bursts single packets pass and many at once do not.
func TestBurst(t *testing.T) {
	c := &snap.Carriage{BurstLossPct: 100, BurstOver: 4, BurstWithin: 100 * vtime.Millisecond}
	w := New(1)
	passed := func(gap time.Duration) (n int) {
		for i := range 50 {
			if _, ok := w.Passes(c, time.Hour+time.Duration(i)*gap, "snmp", true); ok {
				n++
			}
		}
		return n
	}
	if n := passed(time.Second); n != 50 {
		t.Errorf("one in a second: %d of 50", n)
	}
	w = New(1)
	if n := passed(time.Millisecond); n != 4 {
		t.Errorf("one in a millisecond: %d of 50, want the first four", n)
	}
	if got := w.Take(); len(got) != 1 || got[0].Text != "burst-in" || got[0].Code != 46 {
		t.Errorf("%+v", got)
	}
}

// TestStream: what TCP loses it sends again after 1, 2, 4... s (RFC 6298 section 2).
func TestStream(t *testing.T) {
	c := &snap.Carriage{LossPct: 50, Delay: 30 * vtime.Millisecond}
	w := New(3)
	seen := map[time.Duration]int{}
	for range 400 {
		late, ok := w.Stream(c, 0, "ssh", true, 1)
		if ok {
			seen[late-30*time.Millisecond]++
		}
	}
	if seen[0] < 150 || seen[time.Second] < 70 || seen[3*time.Second] < 25 || seen[2*time.Second] != 0 {
		t.Errorf("%v", seen)
	}
	if late, ok := w.Stream(&snap.Carriage{LossPct: 100}, 0, "ssh", true, 1); ok || late < 100*time.Second {
		t.Errorf("a connection over which nothing passes: %v, %v; RFC 9293 section 3.8.3 has it end after 100 s or more", late, ok)
	}
	if late, ok := w.Stream(&snap.Carriage{LossPct: 10}, 0, "ssh", false, 200*segment); !ok || late < 5*time.Second {
		t.Errorf("200 segments of which one in ten is lost: %v, %v", late, ok)
	}
}

// TestRun: what was lost is told once, all of it.
func TestRun(t *testing.T) {
	w := New(1)
	for range 10 {
		w.Passes(&snap.Carriage{LossPct: 100}, 0, "snmp", false)
	}
	told := make(chan snap.Command, 4)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() {
		defer close(done)
		w.Run(ctx, func(c snap.Command) snap.Result { told <- c; return snap.Result{} })
	}()
	if c := <-told; c.Op != snap.OpLost || c.Text != "out" || c.Code != 10 {
		t.Errorf("%+v", c)
	}
	cancel()
	<-done
	if len(told) != 0 || len(w.Take()) != 0 {
		t.Error("told twice")
	}
}
