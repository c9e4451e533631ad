package ports

import (
	"errors"
	"fmt"
	"net/netip"
	"sync/atomic"
	"time"

	"golang.org/x/sys/unix"
)

// Room says, as a *LimitError, if the process may not open n sockets more. The
// runtime has raised the soft limit to the hard one when the program began.
func Room(n int) error {
	var limit unix.Rlimit
	if err := unix.Getrlimit(unix.RLIMIT_NOFILE, &limit); err != nil {
		return fmt.Errorf("getrlimit: %w", err)
	}
	return short(n, limit.Cur)
}

// Set waits for many sockets. Apart from Wake it belongs to one goroutine.
type Set struct {
	epoll, wake int
	woken       atomic.Bool
	sockets     []Socket
	events      [256]unix.EpollEvent
}

// Socket is one UDP socket of a set. It is no more than its descriptor.
type Socket int32

// ownEvent marks the set's own descriptor among the events.
const ownEvent = -1

// NewSet is a set without sockets.
func NewSet() (*Set, error) {
	epoll, err := unix.EpollCreate1(unix.EPOLL_CLOEXEC)
	if err != nil {
		return nil, fmt.Errorf("epoll: %w", err)
	}
	wake, err := unix.Eventfd(0, unix.EFD_CLOEXEC|unix.EFD_NONBLOCK)
	if err != nil {
		unix.Close(epoll)
		return nil, fmt.Errorf("eventfd: %w", err)
	}
	s := &Set{epoll: epoll, wake: wake}
	if err := s.watch(wake, ownEvent); err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

func (s *Set) watch(fd int, id int32) error {
	if err := unix.EpollCtl(s.epoll, unix.EPOLL_CTL_ADD, fd, &unix.EpollEvent{Events: unix.EPOLLIN, Fd: id}); err != nil {
		return fmt.Errorf("epoll: %w", err)
	}
	return nil
}

// Open binds a socket to an address of IPv4; port 0 is a free one. Wait knows it
// by id, which is 0 or more.
func (s *Set) Open(at netip.AddrPort, id int32) (Socket, netip.AddrPort, error) {
	sock, bound, err := bind(at)
	if err != nil {
		return 0, bound, err
	}
	if err := s.watch(int(sock), id); err != nil {
		sock.Close()
		return 0, bound, err
	}
	s.sockets = append(s.sockets, sock)
	return sock, bound, nil
}

// Beside is a socket at the address of at and another port, in no set.
func Beside(at netip.AddrPort) (Socket, error) {
	sock, _, err := bind(netip.AddrPortFrom(at.Addr(), 0))
	return sock, err
}

func bind(at netip.AddrPort) (Socket, netip.AddrPort, error) {
	fd, err := unix.Socket(unix.AF_INET, unix.SOCK_DGRAM|unix.SOCK_NONBLOCK|unix.SOCK_CLOEXEC, 0)
	if err != nil {
		return 0, at, err
	}
	if err := unix.Bind(fd, &unix.SockaddrInet4{Addr: at.Addr().As4(), Port: int(at.Port())}); err != nil {
		unix.Close(fd)
		return 0, at, err
	}
	if at.Port() == 0 {
		name, err := unix.Getsockname(fd)
		if err != nil {
			unix.Close(fd)
			return 0, at, err
		}
		at = addressOf(name)
	}
	return Socket(fd), at, nil
}

// Wait waits until a socket has something to read, somebody wakes the set, or
// the time is up, and calls ready with the id of every socket that has. A socket
// that is not emptied is told again.
func (s *Set) Wait(longest time.Duration, ready func(id int32)) error {
	ms := int(min(max((longest+time.Millisecond-1)/time.Millisecond, 0), 60_000))
	n, err := unix.EpollWait(s.epoll, s.events[:], ms)
	if errors.Is(err, unix.EINTR) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("epoll: %w", err)
	}
	for _, e := range s.events[:n] {
		if e.Fd == ownEvent {
			var count [8]byte
			unix.Read(s.wake, count[:])
			s.woken.Store(false)
			continue
		}
		ready(e.Fd)
	}
	return nil
}

// Wake ends the present or the next Wait. It is safe for concurrent use until
// Close.
func (s *Set) Wake() {
	if s.woken.CompareAndSwap(false, true) {
		unix.Write(s.wake, []byte{1, 0, 0, 0, 0, 0, 0, 0})
	}
}

// Close closes the set and all its sockets.
func (s *Set) Close() {
	for _, sock := range s.sockets {
		sock.Close()
	}
	unix.Close(s.epoll)
	unix.Close(s.wake)
}

// Read is the next datagram that waits, cut to b; ok is false if there is none.
func (s Socket) Read(b []byte) (n int, from netip.AddrPort, ok bool) {
	n, name, err := unix.Recvfrom(int(s), b, 0)
	if err != nil || name == nil {
		return 0, from, false
	}
	return n, addressOf(name), true
}

// Write sends a datagram. Whether it arrives only the receiver knows.
func (s Socket) Write(b []byte, to netip.AddrPort) {
	unix.Sendto(int(s), b, 0, &unix.SockaddrInet4{Addr: to.Addr().As4(), Port: int(to.Port())})
}

// Close closes a socket that is in no set.
func (s Socket) Close() { unix.Close(int(s)) }

func addressOf(name unix.Sockaddr) netip.AddrPort {
	in4, ok := name.(*unix.SockaddrInet4)
	if !ok {
		return netip.AddrPort{}
	}
	return netip.AddrPortFrom(netip.AddrFrom4(in4.Addr), uint16(in4.Port))
}
