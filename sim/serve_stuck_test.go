package sim_test

import (
	"sync"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim"
)

// flooded is a card with everything that SNMP has.
const flooded = `
title = "flooded"
seed = 21
run_for = "24h"
[card]
read_community = "look"
write_community = "touch"
[[card.snmp_user]]
name = "watch"
auth = "sha-256"
auth_password = "first passphrase"
priv = "aes-128"
priv_password = "second passphrase"
[[host]]
name = "db"
draw_w = 300
`

// stuck is a trace that takes nothing more once it is armed, until it is released:
// whoever writes to it, which is the engine, stands still.
type stuck struct {
	mu       sync.Mutex
	armed    bool
	entered  chan struct{}
	released chan struct{}
}

func (s *stuck) Write(p []byte) (int, error) {
	s.mu.Lock()
	armed := s.armed
	s.armed = false
	s.mu.Unlock()
	if armed {
		close(s.entered)
		<-s.released
	}
	return len(p), nil
}

// TestReadsDoNotWaitForTheEngine stops the engine in the middle of a step. Reads in
// every version are answered from the snapshot all the same; a write waits.
func TestReadsDoNotWaitForTheEngine(t *testing.T) {
	trace := &stuck{entered: make(chan struct{}), released: make(chan struct{})}
	c := serveText(t, flooded, sim.ServeOptions{Trace: trace})
	trace.mu.Lock()
	trace.armed = true
	trace.mu.Unlock()
	var sent sync.WaitGroup
	sent.Go(func() { c.send(`source = "lost"`) })
	<-trace.entered

	reads := map[string]*gosnmp.GoSNMP{"v1": c.snmp("look"), "v2c": c.snmp("look"), "v3": c.snmp3()}
	reads["v1"].Version = gosnmp.Version1
	for range 50 {
		for version, g := range reads {
			if p, err := g.GetNext([]string{sysDescr}); err != nil || len(p.Variables) != 1 {
				t.Errorf("%s: %v", version, err)
			}
		}
	}
	written := make(chan error, 1)
	go func() {
		g := c.snmp("touch")
		g.Timeout = 20 * time.Second
		_, err := g.Set([]gosnmp.SnmpPDU{{Name: ".1.3.6.1.2.1.1.6.0", Type: gosnmp.OctetString, Value: "room 2"}})
		written <- err
	}()
	for range 50 {
		for version, g := range reads {
			if _, err := g.GetNext([]string{sysDescr}); err != nil {
				t.Errorf("%s beside a write: %v", version, err)
			}
		}
	}
	select {
	case err := <-written:
		t.Errorf("the write did not wait for the engine: %v", err)
	default:
	}
	close(trace.released)
	if err := <-written; err != nil {
		t.Error(err)
	}
	sent.Wait()
	for _, g := range reads {
		g.Conn.Close()
	}
	c.end()
}
