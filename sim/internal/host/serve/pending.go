package serve

import (
	"sync"
	"time"
)

// most bounds what waits to leave a socket, or to come to it.
const most = 4096

// pending is what comes later. It is safe for concurrent use; its zero value is ready.
type pending struct {
	mu     sync.Mutex
	timers map[*time.Timer]struct{}
	closed bool
}

// after runs what comes after the time, unless too much waits already.
func (p *pending) after(late time.Duration, run func()) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.closed || len(p.timers) >= most {
		return
	}
	if p.timers == nil {
		p.timers = map[*time.Timer]struct{}{}
	}
	var t *time.Timer
	t = time.AfterFunc(late, func() {
		p.mu.Lock() // and so not before t is known
		delete(p.timers, t)
		p.mu.Unlock()
		run()
	})
	p.timers[t] = struct{}{}
}

// close drops what waits.
func (p *pending) close() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.closed = true
	for t := range p.timers {
		t.Stop()
	}
}
