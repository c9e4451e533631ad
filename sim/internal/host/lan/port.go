package lan

import (
	"errors"
	"net"
	"net/netip"
	"sync"
	"time"

	"ridethrough/sim/internal/core/snap"
)

// Ports of client and server (RFC 2131 section 4.1).
const (
	clientPort = 68
	serverPort = 67
)

// waiting bounds the messages that wait to leave: what is too much is lost, as on
// a wire.
const waiting = 16

// Port is the card's network port on an interface of this machine. Its methods are
// safe for concurrent use.
type Port struct {
	client Client
	hear   func(snap.LeaseReply)
	log    func(string)
	wire   wire
	out    chan snap.LeaseQuery
	done   chan struct{}
	work   sync.WaitGroup

	mu   sync.Mutex
	own  net.PacketConn          // at the card's address, for what goes to one server; nil: there is none
	held map[netip.Prefix]string // addresses that the interface has of us, and until when
	said string                  // the last failure that was told
}

// wire is an interface as the system has it.
type wire interface {
	broadcast(text []byte, from, to netip.Addr) error               // from may be invalid: the client has no address
	receive(b []byte) (int, error)                                  // the next message to a client
	give(p netip.Prefix, lasts time.Duration) (had bool, err error) // had: it is there for good, by somebody
	take(p netip.Prefix) error
	close()
}

// Open puts c on the interface of that name. hear gets every answer that is one to
// the card, from one goroutine; log a line for whoever looks.
func Open(name string, c Client, hear func(snap.LeaseReply), log func(string)) (*Port, error) {
	w, err := openWire(name)
	if err != nil {
		return nil, err
	}
	p := &Port{
		client: c, hear: hear, log: log, wire: w, out: make(chan snap.LeaseQuery, waiting),
		done: make(chan struct{}), held: map[netip.Prefix]string{},
	}
	p.work.Go(p.read)
	p.work.Go(p.write)
	return p, nil
}

// Send has q leave. It never waits.
func (p *Port) Send(q snap.LeaseQuery) {
	select {
	case p.out <- q:
	default:
	}
}

func (p *Port) read() {
	b := make([]byte, 2048)
	for {
		n, err := p.wire.receive(b)
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			p.tell(err)
			select {
			case <-p.done:
				return
			case <-time.After(time.Second): // an interface that is down may come back
			}
			continue
		}
		if r, ok := p.client.reply(b[:n]); ok {
			p.hear(r)
		}
	}
}

func (p *Port) write() {
	for {
		select {
		case <-p.done:
			return
		case q := <-p.out:
			p.tell(p.send(q))
		}
	}
}

// send puts q on the wire: to the one server from the card's own address, to all
// others as a broadcast.
func (p *Port) send(q snap.LeaseQuery) error {
	m, err := p.client.message(q)
	if err != nil {
		return err
	}
	text := m.ToBytes()
	to, from := netip.AddrFrom4([4]byte{255, 255, 255, 255}), netip.Addr{}
	switch q.Step {
	case snap.LeaseRenew:
		if p.direct(text, q) == nil {
			return nil
		}
		to, from = q.Server, q.Address
	case snap.LeaseRebind:
		from = q.Address
	}
	return p.wire.broadcast(text, from, to)
}

// direct sends through a socket of the system, which knows the way. It stays open
// for a while: without one the system would tell the server that nobody listens. The
// answer is read off the wire.
func (p *Port) direct(text []byte, q snap.LeaseQuery) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.closeOwn()
	conn, err := net.ListenUDP("udp4", net.UDPAddrFromAddrPort(netip.AddrPortFrom(q.Address, clientPort)))
	if err != nil {
		return err
	}
	p.own = conn
	_, err = conn.WriteToUDPAddrPort(text, netip.AddrPortFrom(q.Server, serverPort))
	return err
}

func (p *Port) closeOwn() {
	if p.own != nil {
		p.own.Close()
		p.own = nil
	}
}

// tell logs a failure once.
func (p *Port) tell(err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	text := ""
	if err != nil {
		text = err.Error()
	}
	if p.said != text && text != "" {
		p.log("network port: " + text)
	}
	p.said = text
}

// Address is one that the card has, until an instant that Until names in any way; it
// lasts so long, or for ever (0).
type Address struct {
	Prefix netip.Prefix
	Until  string
	Lasts  time.Duration
}

// Hold brings the interface in line with the addresses of the card. One that the
// interface had before stays as it is, also afterwards.
func (p *Port) Hold(list []Address) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	wanted := map[netip.Prefix]bool{}
	for _, a := range list {
		wanted[a.Prefix] = true
	}
	var failed error
	for prefix, until := range p.held {
		if !wanted[prefix] {
			failed = errors.Join(failed, p.drop(prefix, until))
		}
	}
	for _, a := range list {
		until, known := p.held[a.Prefix]
		if known && (until == a.Until || until == theirs) {
			continue
		}
		had, err := p.wire.give(a.Prefix, a.Lasts)
		if err != nil {
			failed = errors.Join(failed, err)
			continue
		}
		if p.held[a.Prefix] = a.Until; had && !known {
			p.held[a.Prefix] = theirs
		}
	}
	return failed
}

// theirs stands for an address that the interface had before.
const theirs = "not ours"

func (p *Port) drop(prefix netip.Prefix, until string) error {
	delete(p.held, prefix)
	p.closeOwn()
	if until == theirs {
		return nil
	}
	return p.wire.take(prefix)
}

// Close takes the card's addresses off the interface, and returns when nothing of
// the port runs.
func (p *Port) Close() {
	close(p.done)
	p.Hold(nil)
	p.wire.close()
	p.work.Wait()
}
