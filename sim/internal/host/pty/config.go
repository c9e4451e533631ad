package pty

import (
	"errors"
	"io/fs"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/term"
)

// ErrUnsupported says that this system has no serial line for the card.
var ErrUnsupported = errors.New("pty: the serial line needs Linux")

// Config is what a line needs. A zero value takes the default that stands beside
// it.
type Config struct {
	Source snap.Source
	// Link is the path of the symbolic link to the line; beside it stands a lock
	// file of the same name with ".lock" behind. Empty: no link.
	Link string
	Mode fs.FileMode // 0600: who may open the line
	// Baud is the speed in bits per second with which the card sends, at ten bits
	// per byte (8N1). 0: as fast as the client takes it.
	Baud int

	// Verify asks who knows users; nil: the card's own accounts alone.
	Verify term.Verify

	Idle        time.Duration // as the card's settings say: signed in without a key; real time
	LockFor     time.Duration // 30 s: after too many failed sign-ins; real time
	WriteWithin time.Duration // 2 s: for the client to read; then what it missed is lost
}

func (c Config) withDefaults() Config {
	if c.Mode == 0 {
		c.Mode = 0o600
	}
	setDefault(&c.LockFor, 30*time.Second)
	setDefault(&c.WriteWithin, 2*time.Second)
	return c
}

func setDefault(d *time.Duration, value time.Duration) {
	if *d <= 0 {
		*d = value
	}
}
