package serve

import (
	"errors"
	"net"
	"net/netip"
	"sync"
	"sync/atomic"
	"time"

	"ridethrough/sim/internal/face/snmp"
	"ridethrough/sim/internal/host/batch"
)

// writers bounds the writes of one agent that wait for the engine while reads go
// on. With one more its socket waits too.
const writers = 4

// desk answers what comes to one socket. There is one reader, because more than
// one of them only hand each other requests; but before it waits for the engine
// it lets another one go on.
type desk struct {
	agent   *snmp.Agent
	conn    *net.UDPConn
	admits  func(netip.Addr) bool // nil: everybody gets through
	odd     *delivery             // for replies that do not leave at once
	line    *line                 // nil: a perfect one
	start   func(read func())     // runs read beside the others
	waiting atomic.Int32          // readers that were relieved and still wait
}

// reader takes requests off a desk; it is their [snmp.Caller].
type reader struct {
	desk     *desk
	box      *batch.Box
	count    int  // requests in the box
	at       int  // the present one
	relieved bool // another one reads on
}

// readers are kept: a relieved one is soon needed again.
var readers = sync.Pool{New: func() any { return &reader{box: batch.New(2 * snmp.DefaultMaxSize)} }}

// read answers requests until the socket is closed or another reader does.
func (d *desk) read() {
	r := readers.Get().(*reader)
	if r.box.Open(d.conn) == nil {
		r.desk, r.count, r.relieved = d, 0, false
		r.read()
	}
	readers.Put(r)
}

// read goes on with what is in the box already.
func (r *reader) read() {
	for !r.relieved {
		for r.at = 0; r.at < r.count; r.at++ {
			r.answer()
		}
		r.box.Flush()
		if r.relieved {
			break
		}
		var err error
		if r.count, err = r.box.Receive(); errors.Is(err, net.ErrClosed) {
			return
		}
	}
	r.desk.waiting.Add(-1)
}

func (r *reader) answer() {
	if r.desk.admits != nil && !r.desk.admits(r.box.Peer(r.at).Addr()) {
		return
	}
	there, ok := r.desk.line.passes("snmp", true)
	if !ok {
		return
	}
	m := r.box.Mail(r.at)
	reply, how := r.desk.agent.Answer(m.Text(), r, m.Room())
	if len(reply) > 0 {
		var back time.Duration
		back, ok = r.desk.line.passes("snmp", false)
		how.After += there + back
	}
	switch {
	case len(reply) == 0 || !ok:
	case how == snmp.Delivery{}:
		r.box.Reply(r.at, reply)
	default:
		r.desk.odd.send(reply, r.box.Peer(r.at), how)
	}
}

// String is the caller's address.
func (r *reader) String() string { return r.box.Peer(r.at).String() }

// Wait lets another reader go on with what came after the present request, if not
// too many wait already. What is answered leaves first.
func (r *reader) Wait() {
	r.box.Flush()
	if r.relieved {
		return
	}
	if r.desk.waiting.Add(1) > writers {
		r.desk.waiting.Add(-1)
		return
	}
	r.relieved = true
	next := readers.Get().(*reader)
	next.desk, next.relieved = r.desk, false
	next.count = next.box.Take(r.box, r.at+1, r.count)
	r.count = r.at + 1
	r.desk.start(func() {
		next.read()
		readers.Put(next)
	})
}
