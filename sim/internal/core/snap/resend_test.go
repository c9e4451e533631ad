package snap

import (
	"testing"

	"ridethrough/sim/internal/core/vtime"
)

// TestResend: RFC 6298 has a second at first, doubled each time; RFC 1122 section 4.2.3.5 and
// RFC 9293 section 3.8.3 have a connection wait for at least 100 s before it ends, and this one
// waits no longer than that takes.
func TestResend(t *testing.T) {
	var left []vtime.Tick
	late, ok := Resend(func(late vtime.Tick) bool { left = append(left, late/vtime.Second); return true })
	want := []vtime.Tick{0, 1, 3, 7, 15, 31, 63}
	if len(left) != len(want) {
		t.Fatalf("sent at %v s, want %v", left, want)
	}
	for i := range want {
		if left[i] != want[i] {
			t.Errorf("sent at %v s, want %v", left, want)
		}
	}
	const r2 = 100 * vtime.Second
	if late != LongestResend {
		t.Errorf("it ends after %v, and LongestResend is %v", late, LongestResend)
	}
	if ok || late < r2 || left[len(left)-1]*vtime.Second >= r2 {
		t.Errorf("the connection ends after %v: %v", late, ok)
	}
	for lost := range len(want) {
		n := lost
		late, ok := Resend(func(vtime.Tick) bool { n--; return n >= 0 })
		if !ok || late != want[lost]*vtime.Second {
			t.Errorf("%d lost: %v, %v, want %d s", lost, late, ok, want[lost])
		}
	}
}
