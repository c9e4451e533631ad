package snap

import "ridethrough/sim/internal/core/vtime"

// Retransmission of TCP. The first time-out is one second and each doubles the one before
// it (RFC 6298 sections 2.1 and 5.5). A connection ends when a segment has gone without an
// acknowledgement for R2, which should be at least 100 s (RFC 1122 section 4.2.3.5, RFC 9293
// section 3.8.3): six retransmissions are the fewest with which it is, 127 s.
const (
	firstRTO = vtime.Second
	resent   = 6
)

// LongestResend is how long a segment may be under way before its connection ends.
const LongestResend = firstRTO * (1<<(resent+1) - 1)

// Resend sends a segment by TCP until lost says that it was not lost; lost is told how much
// later than the first one it leaves. late is how much later the one that arrived left. Not
// ok is a connection that ends, late after the segment was first sent.
func Resend(lost func(late vtime.Tick) bool) (late vtime.Tick, ok bool) {
	rto := firstRTO
	for range 1 + resent {
		if !lost(late) {
			return late, true
		}
		late, rto = late+rto, 2*rto
	}
	return late, false
}
