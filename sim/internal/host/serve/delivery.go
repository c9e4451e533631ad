package serve

import (
	"net"
	"net/netip"
	"sync"

	"ridethrough/sim/internal/face/snmp"
)

// delivery sends the replies of a card with quirks: late, twice, out of order, from
// elsewhere. It is safe for concurrent use.
type delivery struct {
	conn *net.UDPConn
	log  func(string)

	later pending

	mu     sync.Mutex
	held   *letter // one that lets the next go first
	other  *net.UDPConn
	failed bool // there is no other socket to be had
	closed bool
}

// letter is a reply with its address.
type letter struct {
	text []byte
	to   netip.AddrPort
	how  snmp.Delivery
}

func newDelivery(conn *net.UDPConn, log func(string)) *delivery {
	return &delivery{conn: conn, log: log}
}

// send lets a reply leave as how says. It keeps a copy.
func (d *delivery) send(reply []byte, to netip.AddrPort, how snmp.Delivery) {
	l := &letter{text: append([]byte(nil), reply...), to: to, how: how}
	if how.After > 0 {
		d.later.after(how.After, func() { d.due(l) })
		return
	}
	d.due(l)
}

// due is called when a reply is ready. One that lets the next go first waits for
// that; at most one does.
func (d *delivery) due(l *letter) {
	d.mu.Lock()
	before := d.held
	d.held = nil
	waits := before == nil && l.how.Hold > 0
	if waits {
		d.held = l
	}
	d.mu.Unlock()
	if waits {
		d.later.after(l.how.Hold, func() { d.release(l) })
		return
	}
	d.write(l)
	if before != nil {
		d.write(before)
	}
}

// release sends a reply that waited for a next one in vain.
func (d *delivery) release(l *letter) {
	d.mu.Lock()
	waits := d.held == l
	if waits {
		d.held = nil
	}
	d.mu.Unlock()
	if waits {
		d.write(l)
	}
}

func (d *delivery) write(l *letter) {
	from := d.conn
	if l.how.Elsewhere {
		from = d.elsewhere()
	}
	from.WriteToUDPAddrPort(l.text, l.to)
	if l.how.Twice {
		from.WriteToUDPAddrPort(l.text, l.to)
	}
}

// elsewhere is a second socket at the same address, or the first if there is none to
// be had.
func (d *delivery) elsewhere() *net.UDPConn {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.other != nil {
		return d.other
	}
	if d.failed || d.closed {
		return d.conn
	}
	at := *d.conn.LocalAddr().(*net.UDPAddr)
	at.Port = 0
	other, err := net.ListenUDP("udp", &at)
	if err != nil {
		d.failed = true
		d.log("snmp: no second socket, replies leave from the first: " + err.Error())
		return d.conn
	}
	d.other = other
	return other
}

// close drops what waits.
func (d *delivery) close() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.closed = true
	d.later.close()
	if d.other != nil {
		d.other.Close()
	}
}
