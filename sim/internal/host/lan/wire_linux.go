package lan

import (
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"
	"time"

	"github.com/insomniacslk/dhcp/dhcpv4/nclient4"
	"github.com/vishvananda/netlink"
	"golang.org/x/sys/unix"
)

// ether is an interface of Linux: packets below the address, and rtnetlink.
type ether struct {
	link netlink.Link
	raw  *nclient4.BroadcastRawUDPConn
}

func openWire(name string) (wire, error) {
	link, err := netlink.LinkByName(name)
	if err != nil {
		return nil, errors.New("this machine has no such interface: `ip link` lists them")
	}
	conn, err := nclient4.NewRawUDPConn(name, clientPort)
	if errors.Is(err, os.ErrPermission) {
		return nil, errors.New("not permitted: it takes root, or the capabilities NET_RAW and NET_ADMIN")
	}
	if err != nil {
		return nil, err
	}
	raw, ok := conn.(*nclient4.BroadcastRawUDPConn)
	if !ok {
		return nil, fmt.Errorf("a connection of another kind: %T", conn)
	}
	return &ether{link: link, raw: raw}, nil
}

func (e *ether) broadcast(text []byte, from, to netip.Addr) error {
	conn := net.PacketConn(e.raw)
	if from.IsValid() {
		conn = nclient4.NewBroadcastUDPConn(e.raw.PacketConn, net.UDPAddrFromAddrPort(netip.AddrPortFrom(from, clientPort)))
	}
	_, err := conn.WriteTo(text, net.UDPAddrFromAddrPort(netip.AddrPortFrom(to, serverPort)))
	return err
}

func (e *ether) receive(b []byte) (int, error) {
	n, _, err := e.raw.ReadFrom(b)
	if errors.Is(err, os.ErrClosed) {
		err = net.ErrClosed
	}
	return n, err
}

// give puts p on the interface, unless it has been there for good. The system takes a
// leased one off by itself when the lease is over, should we no longer be there to do
// it; what such a session has left is taken over.
func (e *ether) give(p netip.Prefix, lasts time.Duration) (had bool, err error) {
	if e.has(p) {
		return true, nil
	}
	a := &netlink.Addr{IPNet: netOf(p), Flags: unix.IFA_F_NODAD}
	if lasts > 0 {
		a.ValidLft = int(lasts/time.Second) + 1
		a.PreferedLft = a.ValidLft
	}
	if err := netlink.AddrReplace(e.link, a); err != nil {
		return false, fmt.Errorf("cannot put %s on %s: %w", p, e.link.Attrs().Name, err)
	}
	return false, nil
}

// has says whether p is on the interface for good.
func (e *ether) has(p netip.Prefix) bool {
	list, err := netlink.AddrList(e.link, netlink.FAMILY_ALL)
	if err != nil {
		return false
	}
	for _, a := range list {
		if a.IPNet.String() == netOf(p).String() {
			return a.Flags&unix.IFA_F_PERMANENT != 0
		}
	}
	return false
}

func (e *ether) take(p netip.Prefix) error {
	err := netlink.AddrDel(e.link, &netlink.Addr{IPNet: netOf(p)})
	if errors.Is(err, unix.EADDRNOTAVAIL) { // the system has taken it already
		return nil
	}
	return err
}

func (e *ether) close() { e.raw.Close() }

func netOf(p netip.Prefix) *net.IPNet {
	return &net.IPNet{IP: p.Addr().AsSlice(), Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())}
}
