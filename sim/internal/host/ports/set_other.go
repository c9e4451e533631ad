//go:build !linux

package ports

import (
	"net/netip"
	"time"
)

// Room always fails.
func Room(int) error { return ErrUnsupported }

// Set cannot be had.
type Set struct{}

// Socket cannot be had.
type Socket int32

// NewSet always fails.
func NewSet() (*Set, error) { return nil, ErrUnsupported }

// Open always fails.
func (*Set) Open(at netip.AddrPort, _ int32) (Socket, netip.AddrPort, error) {
	return 0, at, ErrUnsupported
}

// Wait always fails.
func (*Set) Wait(time.Duration, func(int32)) error { return ErrUnsupported }

// Wake does nothing.
func (*Set) Wake() {}

// Close does nothing.
func (*Set) Close() {}

// Beside always fails.
func Beside(netip.AddrPort) (Socket, error) { return 0, ErrUnsupported }

// Read has nothing.
func (Socket) Read([]byte) (int, netip.AddrPort, bool) { return 0, netip.AddrPort{}, false }

// Write does nothing.
func (Socket) Write([]byte, netip.AddrPort) {}

// Close does nothing.
func (Socket) Close() {}
