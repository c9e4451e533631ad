package pty

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	_ "ridethrough/sim/internal/drawn"
)

// TestWire: at 8N1 a byte takes ten bit times, so that 9600 bit/s carry 960
// bytes in a second (arithmetic of asynchronous lines).
func TestWire(t *testing.T) {
	for _, c := range []struct{ baud, bytes, chunk int }{
		{1200, 120, 1}, {2400, 240, 3}, {9600, 960, 14}, {38400, 3840, 57}, {115200, 11520, 172},
	} {
		w := wire{baud: c.baud}
		if got := w.chunk(); got != c.chunk {
			t.Errorf("%d: chunks of %d, want %d", c.baud, got, c.chunk)
		}
		if got := send(&w, c.bytes); got < time.Second-time.Microsecond*time.Duration(c.bytes) || got > time.Second {
			t.Errorf("%d: %d bytes took %v, want 1s", c.baud, c.bytes, got)
		}
	}
}

// send has n bytes sent in chunks by a writer that waits as it is told.
func send(w *wire, n int) time.Duration {
	begin := time.Unix(1000, 0)
	now := begin
	for n > 0 {
		k := min(n, w.chunk())
		now = now.Add(w.take(now, k))
		n -= k
	}
	return now.Sub(begin)
}

func TestUnpacedWire(t *testing.T) {
	w := wire{}
	if w.chunk() != 0 || w.take(time.Unix(1000, 0), 1_000_000) != 0 {
		t.Error("a line without a speed waits")
	}
}

// TestWireNeverFaster: however a writer dawdles, no stretch of time carries more
// than the speed allows, and an idle line saves nothing up.
func TestWireNeverFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := wire{baud: rapid.SampledFrom([]int{1200, 9600, 115200}).Draw(t, "baud")}
		now := time.Unix(1000, 0)
		for range rapid.IntRange(1, 20).Draw(t, "writes") {
			now = now.Add(time.Duration(rapid.Int64Range(0, int64(time.Second)).Draw(t, "idle")))
			n := rapid.IntRange(1, 200).Draw(t, "bytes")
			wait := w.take(now, n)
			if least := time.Duration(n) * 10 * time.Second / time.Duration(w.baud); wait < least {
				t.Fatalf("%d bytes at %d after %v, want %v", n, w.baud, wait, least)
			}
			now = now.Add(wait)
		}
	})
}
