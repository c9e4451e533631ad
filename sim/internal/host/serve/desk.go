package serve

import (
	"errors"
	"net"
	"net/netip"
	"sync"
	"sync/atomic"
	"time"

	"ridethrough/sim/internal/core/snap"
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
	gate    *gate             // nil: everybody gets through
	odd     *delivery         // for replies that do not leave at once
	line    *line             // nil: a perfect one
	start   func(read func()) // runs read beside the others
	waiting atomic.Int32      // readers that were relieved and still wait
}

// reader takes requests off a desk; it is their [snmp.Caller].
type reader struct {
	desk     *desk
	box      *batch.Box
	count    int  // requests in the box
	at       int  // the present one
	relieved bool // another one reads on
	clear    way
}

// way is that of a client that got through to a site, over a link that loses nothing and
// keeps nothing back. As long as the site is that one, it does so again.
type way struct {
	site *snap.Site
	from netip.Addr
}

// readers are kept: a relieved one is soon needed again.
var readers = sync.Pool{New: func() any { return &reader{box: batch.New(2 * snmp.DefaultMaxSize)} }}

// read answers requests until the socket is closed or another reader does.
func (d *desk) read() {
	r := readers.Get().(*reader)
	if r.box.Open(d.conn) == nil {
		r.desk, r.count, r.relieved, r.clear = d, 0, false, way{}
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
	if g := r.desk.gate; g != nil {
		w := way{g.site(), r.box.Peer(r.at).Addr()}
		if w == r.clear {
			r.reply(0)
			return
		}
		in, plain := g.judge(w.site, "snmp", w.from)
		if !in {
			return
		}
		if plain && w.site.Net.Link == nil {
			r.clear = w
		}
	}
	if there, ok := r.desk.line.passes("snmp", true); ok {
		r.reply(there)
	}
}

// reply answers a request that was so long on its way.
func (r *reader) reply(there time.Duration) {
	m := r.box.Mail(r.at)
	reply, how := r.desk.agent.Answer(m.Text(), r, m.Room())
	if len(reply) == 0 {
		return
	}
	back, ok := r.desk.line.passes("snmp", false)
	how.After += there + back
	switch {
	case !ok:
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
