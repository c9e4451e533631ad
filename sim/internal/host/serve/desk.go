package serve

import (
	"errors"
	"net"
	"net/netip"
	"sync"
	"sync/atomic"

	"ridethrough/sim/internal/face/snmp"
)

// datagram bounds what is read of one request; a longer one is cut, and then
// does not decode.
const datagram = 64 << 10

// writers bounds the writes of one agent that wait for the engine while reads go
// on. With one more its socket waits too.
const writers = 4

// desk answers what comes to one socket. There is one reader, because more than
// one of them only hand each other requests; but before it waits for the engine
// it lets another one go on.
type desk struct {
	agent   *snmp.Agent
	conn    *net.UDPConn
	odd     *delivery         // for replies that do not leave at once
	start   func(read func()) // runs read beside the others
	waiting atomic.Int32      // readers that were relieved and still wait
}

// reader takes requests off a desk; it is their [snmp.Caller].
type reader struct {
	desk     *desk
	in, out  []byte
	peer     netip.AddrPort // of the present request
	relieved bool           // another one reads on
}

// readers are kept: a relieved one is soon needed again.
var readers = sync.Pool{New: func() any {
	return &reader{in: make([]byte, datagram), out: make([]byte, 0, 2*snmp.DefaultMaxSize)}
}}

// read answers requests until the socket is closed or another reader does.
func (d *desk) read() {
	r := readers.Get().(*reader)
	defer readers.Put(r)
	r.desk, r.relieved = d, false
	for !r.relieved {
		n, peer, err := d.conn.ReadFromUDPAddrPort(r.in)
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			continue // a peer that is gone is reported here; it is not our end
		}
		r.peer = peer
		switch reply, how := d.agent.Answer(r.in[:n], r, r.out); {
		case len(reply) == 0:
		case how == snmp.Delivery{}:
			d.conn.WriteToUDPAddrPort(reply, peer)
		default:
			d.odd.send(reply, peer, how)
		}
	}
	d.waiting.Add(-1)
}

// String is the caller's address.
func (r *reader) String() string { return r.peer.String() }

// Wait lets another reader go on, if not too many wait already.
func (r *reader) Wait() {
	if r.relieved {
		return
	}
	if r.desk.waiting.Add(1) > writers {
		r.desk.waiting.Add(-1)
		return
	}
	r.relieved = true
	r.desk.start(r.desk.read)
}
