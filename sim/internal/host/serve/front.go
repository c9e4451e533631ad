package serve

import (
	"context"
	"errors"
	"net"
	"net/netip"
	"strconv"
	"sync"
	"syscall"
)

// front is where the network surfaces of a card listen at one address.
type front struct {
	at  netip.Addr // of the card; invalid: where the flags say
	udp *net.UDPConn
	odd *delivery
	ssh net.Listener
}

// openFront binds both surfaces, host:port each.
func openFront(ctx context.Context, snmp, ssh string, log func(string)) (*front, error) {
	var lc net.ListenConfig
	packet, err := lc.ListenPacket(ctx, "udp", snmp)
	if err != nil {
		return nil, &BindError{Surface: "snmp", Address: snmp, Err: cause(err)}
	}
	f := &front{udp: packet.(*net.UDPConn)}
	f.odd = newDelivery(f.udp, log)
	if f.ssh, err = lc.Listen(ctx, "tcp", ssh); err != nil {
		f.close()
		return nil, &BindError{Surface: "ssh", Address: ssh, Err: cause(err)}
	}
	return f, nil
}

func (f *front) close() {
	f.odd.close()
	f.udp.Close()
	if f.ssh != nil {
		f.ssh.Close()
	}
}

// fronts are those of a session. It is safe for concurrent use.
type fronts struct {
	mu        sync.Mutex
	list      []*front
	closed    bool
	first     netip.Addr // of two IPv4 addresses of the card the one that is told
	snmp, ssh int        // ports at the card's own addresses; 0: one that is free, and then stays
}

// openAt binds both surfaces at an address of the card.
func (all *fronts) openAt(ctx context.Context, at netip.Addr, log func(string)) (*front, error) {
	join := func(port int) string { return net.JoinHostPort(at.String(), strconv.Itoa(port)) }
	f, err := openFront(ctx, join(all.snmp), join(all.ssh), log)
	if err != nil {
		return nil, missing(err)
	}
	f.at = at
	all.snmp = f.udp.LocalAddr().(*net.UDPAddr).Port
	all.ssh = f.ssh.Addr().(*net.TCPAddr).Port
	return f, nil
}

// errMissing is what to do about an address that the machine does not have.
var errMissing = errors.New("this machine does not have the card's address: give it to an interface, or leave that to --interface")

// missing says so of an error that means that.
func missing(err error) error {
	var bind *BindError
	if errors.As(err, &bind) && errors.Is(bind.Err, syscall.EADDRNOTAVAIL) {
		return &BindError{Surface: bind.Surface, Address: bind.Address, Err: errMissing}
	}
	return err
}

// lead has the front at that address be told as the card's.
func (all *fronts) lead(at netip.Addr) {
	all.mu.Lock()
	defer all.mu.Unlock()
	all.first = at
}

// endpoints is where they are now.
func (all *fronts) endpoints() (at Endpoints) {
	all.mu.Lock()
	defer all.mu.Unlock()
	for _, f := range all.list {
		snmp, ssh := f.udp.LocalAddr().String(), f.ssh.Addr().String()
		if f.at.Is6() {
			at.SNMPv6, at.SSHv6 = snmp, ssh
			continue
		}
		if at.SNMP == "" || f.at == all.first {
			at.SNMP, at.SSH = snmp, ssh
		}
	}
	return at
}

// add takes f in, unless the session is closing: whoever follows the card may just have
// bound one more, which nobody would close.
func (all *fronts) add(f *front) bool {
	all.mu.Lock()
	defer all.mu.Unlock()
	if all.closed {
		f.close()
		return false
	}
	all.list = append(all.list, f)
	return true
}

// close closes all, and those that come later.
func (all *fronts) close() {
	all.mu.Lock()
	all.closed = true
	all.mu.Unlock()
	all.drop(func(*front) bool { return true })
}

// drop closes those for which gone is true, and counts them.
func (all *fronts) drop(gone func(*front) bool) (n int) {
	all.mu.Lock()
	defer all.mu.Unlock()
	var kept []*front
	for _, f := range all.list {
		if !gone(f) {
			kept = append(kept, f)
			continue
		}
		f.close()
		n++
	}
	all.list = kept
	return n
}

// has says whether there is one at that address.
func (all *fronts) has(at netip.Addr) bool {
	all.mu.Lock()
	defer all.mu.Unlock()
	for _, f := range all.list {
		if f.at == at {
			return true
		}
	}
	return false
}
