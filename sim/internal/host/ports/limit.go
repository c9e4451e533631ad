package ports

import (
	"errors"
	"fmt"
)

// ErrUnsupported says that the system has no way to wait for so many sockets.
var ErrUnsupported = errors.New("many sockets at once are supported on Linux only")

// Spare is how many descriptors [Room] leaves for everything else.
const Spare = 64

// LimitError says that the process may not open so many descriptors.
type LimitError struct {
	Sockets, Need, Have uint64
}

// Error is one line that says what to do.
func (e *LimitError) Error() string {
	return fmt.Sprintf("%d sockets need %d file descriptors and this process may open %d; raise the hard limit (ulimit -Hn %d) or take fewer devices",
		e.Sockets, e.Need, e.Have, e.Need)
}

// short is a *LimitError if limit is too low for n sockets.
func short(n int, limit uint64) error {
	if need := uint64(n) + Spare; need > limit {
		return &LimitError{Sockets: uint64(n), Need: need, Have: limit}
	}
	return nil
}
