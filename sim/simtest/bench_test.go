package simtest_test

import (
	"testing"
	"time"

	"ridethrough/sim/simtest"
)

// BenchmarkStart starts and ends a site.
func BenchmarkStart(b *testing.B) {
	for b.Loop() {
		simtest.Start(b, simtest.Text(site), simtest.Unjudged()).Close()
	}
}

// BenchmarkOutage plays half an hour on battery in steps of ten seconds, as a test
// with a poller does.
func BenchmarkOutage(b *testing.B) {
	for b.Loop() {
		s := simtest.Start(b, simtest.Text(site), simtest.Unjudged())
		s.Inject(`source = "lost"`)
		for range 180 {
			s.Advance(10 * time.Second)
		}
		s.Close()
	}
}
