package snmp

import (
	"sync"
	"time"
)

// lane is the queue of an agent that serves one request at a time.
type lane struct {
	mu     sync.Mutex
	inside int             // those that are being worked on
	ends   []time.Duration // when those that are served or wait will be done, rising
}

// enter says whether there is room for a request at now, beside the one that is
// served and so many that wait.
func (l *lane) enter(now time.Duration, waiting int) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	done := 0
	for done < len(l.ends) && l.ends[done] <= now {
		done++
	}
	l.ends = append(l.ends[:0], l.ends[done:]...)
	if len(l.ends)+l.inside > waiting {
		return false
	}
	l.inside++
	return true
}

// leave is how long from now it takes until the request that entered is served, if
// that takes so long once it is its turn.
func (l *lane) leave(now, takes time.Duration) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.inside--
	end := now
	if n := len(l.ends); n > 0 {
		end = max(end, l.ends[n-1])
	}
	end += takes
	l.ends = append(l.ends, end)
	return end - now
}
