package batch

import (
	"encoding/binary"
	"net"
	"net/netip"
	"syscall"
	"unsafe"

	"golang.org/x/sys/unix"
)

// header is struct mmsghdr of the system.
type header struct {
	unix.Msghdr
	size uint32
	_    [4]byte
}

// name holds a socket address as the system writes it, of IPv4 or IPv6.
type name [unix.SizeofSockaddrInet6]byte

// Box has a batch of datagrams of one socket, and the replies to them. It is not
// safe for concurrent use.
type Box struct {
	box
	raw   syscall.RawConn
	heads [slots]header
	parts [slots]unix.Iovec
	names [slots]name
	went  [slots]header
	texts [slots]unix.Iovec

	receive, send func(fd uintptr) bool
	got           int
	sent          int
	errno         syscall.Errno
}

// New is an empty box with room for replies of so many octets.
func New(room int) *Box {
	b := new(Box)
	b.init(room)
	b.receive, b.send = b.recvmmsg, b.sendmmsg
	for i := range b.heads {
		b.parts[i] = unix.Iovec{Base: &b.mail[i].in[0], Len: datagram}
		b.heads[i].Iov, b.heads[i].Iovlen = &b.parts[i], 1
		b.went[i].Iov, b.went[i].Iovlen = &b.texts[i], 1
	}
	return b
}

// Open has the box take from and send to a socket.
func (b *Box) Open(conn *net.UDPConn) (err error) {
	b.raw, err = conn.SyscallConn()
	b.waiting = 0
	return err
}

// Receive waits for datagrams and says how many came. The error is that of the
// socket: [net.ErrClosed] among others.
func (b *Box) Receive() (int, error) {
	for i := range b.heads {
		b.heads[i].Name, b.heads[i].Namelen = (*byte)(unsafe.Pointer(&b.names[i])), uint32(len(b.names[i]))
	}
	b.got = 0
	if err := b.raw.Read(b.receive); err != nil {
		return 0, err
	}
	for i := range b.got {
		b.mail[i].size = int(b.heads[i].size)
	}
	return b.got, nil
}

// recvmmsg takes what is there; false has the caller wait.
func (b *Box) recvmmsg(fd uintptr) bool {
	n, _, errno := unix.Syscall6(unix.SYS_RECVMMSG, fd, uintptr(unsafe.Pointer(&b.heads[0])), slots, unix.MSG_DONTWAIT, 0, 0)
	switch errno {
	case 0:
		b.got = int(n)
	case unix.EAGAIN:
		return false
	}
	return true // a peer that is gone is reported here too; it is not our end
}

// Peer is who sent the i-th mail.
func (b *Box) Peer(i int) netip.AddrPort {
	n := &b.names[i]
	port := binary.BigEndian.Uint16(n[2:])
	switch binary.NativeEndian.Uint16(n[:]) {
	case unix.AF_INET:
		return netip.AddrPortFrom(netip.AddrFrom4([4]byte(n[4:8])), port)
	case unix.AF_INET6:
		return netip.AddrPortFrom(netip.AddrFrom16([16]byte(n[8:24])), port)
	}
	return netip.AddrPort{}
}

// Flush sends the queued replies. One that cannot leave is dropped, as the network
// would drop it.
func (b *Box) Flush() {
	for k := range b.waiting {
		i := b.queued[k]
		reply := b.mail[i].out
		b.texts[k] = unix.Iovec{Base: unsafe.SliceData(reply), Len: uint64(len(reply))}
		b.went[k].Name, b.went[k].Namelen = (*byte)(unsafe.Pointer(&b.names[i])), b.heads[i].Namelen
	}
	for b.sent = 0; b.sent < b.waiting; {
		b.errno = 0
		if b.raw.Write(b.send) != nil {
			break
		}
		if b.errno != 0 {
			b.sent++
		}
	}
	b.waiting = 0
}

// sendmmsg sends what is left; false has the caller wait for room.
func (b *Box) sendmmsg(fd uintptr) bool {
	n, _, errno := unix.Syscall6(unix.SYS_SENDMMSG, fd, uintptr(unsafe.Pointer(&b.went[b.sent])), uintptr(b.waiting-b.sent), unix.MSG_DONTWAIT, 0, 0)
	switch errno {
	case 0:
		b.sent += int(n)
	case unix.EAGAIN:
		return false
	default:
		b.errno = errno
	}
	return true
}

// Take copies the mails of from that begin with first, of count, and says how many
// they are. Both boxes are of the same socket.
func (b *Box) Take(from *Box, first, count int) int {
	b.raw = from.raw
	for i := first; i < count; i++ {
		k := i - first
		b.mail[k].size = copy(b.mail[k].in, from.mail[i].Text())
		b.names[k], b.heads[k].Namelen = from.names[i], from.heads[i].Namelen
	}
	return count - first
}
