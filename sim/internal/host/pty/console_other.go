//go:build !linux

package pty

// Console is the serial line of one card.
type Console struct{}

// Open fails with ErrUnsupported.
func Open(Config) (*Console, error) { return nil, ErrUnsupported }

// Path is where clients find the line.
func (*Console) Path() string { return "" }

// Device is the path of the pseudo-terminal itself.
func (*Console) Device() string { return "" }

// Close takes the line away.
func (*Console) Close() error { return nil }
