package checks

import (
	"math/rand/v2"
	"net/netip"
	"runtime"
	"runtime/debug"
	"testing"
	"time"
)

// Loopback is an address of 127.0.0.0/8 that nobody else is likely to use: a port that
// was free at it is still free when a server of the test takes it. On 127.0.0.1 whoever
// asks for any port may be given that one meanwhile. Linux has the whole block; elsewhere
// it is 127.0.0.1.
func Loopback() string {
	if runtime.GOOS != "linux" {
		return "127.0.0.1"
	}
	return netip.AddrFrom4([4]byte{127, byte(128 + rand.IntN(100)), byte(rand.IntN(256)), byte(1 + rand.IntN(200))}).String()
}

// EndsWithin ends the whole run of tests, with what every goroutine does, if t is not over
// within most: a wait for what never comes is then told in that time, and not when the
// run's own is up.
func EndsWithin(t testing.TB, most time.Duration) {
	t.Helper()
	name := t.Name()
	timer := time.AfterFunc(most, func() {
		debug.SetTraceback("all")
		panic(name + " is not over after " + most.String())
	})
	t.Cleanup(func() { timer.Stop() })
}
