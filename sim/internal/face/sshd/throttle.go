package sshd

import (
	"net"
	"sync"
	"time"
)

const (
	// freeTries is how many passwords one address may try at once, and tryEvery how
	// often one more after that.
	freeTries = 12
	tryEvery  = 5 * time.Second
	// addresses bounds how many are remembered; of more the oldest is forgotten.
	addresses = 256
)

// throttle slows guessing down: an address that tries too often is not looked at.
// It is safe for concurrent use; its zero value is ready.
type throttle struct {
	mu   sync.Mutex
	last map[string]time.Time // when the bucket of an address will be full again
}

// allow says whether a password from peer is looked at now.
func (t *throttle) allow(peer net.Addr, now time.Time) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.last == nil {
		t.last = map[string]time.Time{}
	}
	key := hostOf(peer)
	full := t.last[key]
	if full.Before(now) {
		full = now
	}
	if full.Sub(now) > (freeTries-1)*tryEvery {
		return false
	}
	if _, known := t.last[key]; !known && len(t.last) >= addresses {
		t.evict()
	}
	t.last[key] = full.Add(tryEvery)
	return true
}

// forget gives an address from which somebody has signed in its tries back.
func (t *throttle) forget(peer net.Addr) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.last, hostOf(peer))
}

func (t *throttle) evict() {
	oldest := ""
	for key, full := range t.last {
		if oldest == "" || full.Before(t.last[oldest]) {
			oldest = key
		}
	}
	delete(t.last, oldest)
}

// hostOf is an address without its port.
func hostOf(a net.Addr) string {
	host, _, err := net.SplitHostPort(a.String())
	if err != nil {
		return a.String()
	}
	return host
}
