//go:build !linux

package batch

import (
	"net"
	"net/netip"
)

// Box has one datagram of one socket, and the reply to it. It is not safe for
// concurrent use.
type Box struct {
	box
	conn  *net.UDPConn
	peers [slots]netip.AddrPort
}

// New is an empty box with room for replies of so many octets.
func New(room int) *Box {
	b := new(Box)
	b.init(room)
	return b
}

// Open has the box take from and send to a socket.
func (b *Box) Open(conn *net.UDPConn) error {
	b.conn, b.waiting = conn, 0
	return nil
}

// Receive waits for a datagram. The error is that of the socket: [net.ErrClosed]
// among others.
func (b *Box) Receive() (int, error) {
	n, peer, err := b.conn.ReadFromUDPAddrPort(b.mail[0].in)
	if err != nil {
		return 0, err
	}
	b.mail[0].size, b.peers[0] = n, peer
	return 1, nil
}

// Peer is who sent the i-th mail.
func (b *Box) Peer(i int) netip.AddrPort { return b.peers[i] }

// Flush sends the queued replies.
func (b *Box) Flush() {
	for _, i := range b.queued[:b.waiting] {
		b.conn.WriteToUDPAddrPort(b.mail[i].out, b.peers[i])
	}
	b.waiting = 0
}

// Take copies the mails of from that begin with first, of count, and says how many
// they are.
func (b *Box) Take(from *Box, first, count int) int {
	b.conn = from.conn
	for i := first; i < count; i++ {
		b.mail[i-first].size = copy(b.mail[i-first].in, from.mail[i].Text())
		b.peers[i-first] = from.peers[i]
	}
	return count - first
}
