package cli

import (
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"syscall"

	"ridethrough/sim"
)

// usageError is a command line that cannot be followed.
type usageError struct{ text string }

func (e *usageError) Error() string { return e.text }

func usagef(format string, args ...any) error { return &usageError{fmt.Sprintf(format, args...)} }

// ended ends a command with an exit code that needs no further words.
type ended struct{ code int }

func (e ended) Error() string { return fmt.Sprintf("exit code %d", e.code) }

// exitOf sorts an error into an exit code.
func exitOf(err error) int {
	var quiet ended
	var usage *usageError
	var invalid *sim.InvalidError
	var caution *sim.CautionError
	switch {
	case errors.As(err, &quiet):
		return quiet.code
	case hungUp(err):
		return exitHungUp
	case errors.As(err, &usage), errors.As(err, &invalid), errors.As(err, &caution):
		return exitUsage
	case isIO(err):
		return exitIO
	}
	return exitFault
}

// hungUp says whether err is that nobody reads standard output any more.
func hungUp(err error) bool {
	var own *sim.IOError
	return errors.As(err, &own) && own.Path == standardOutput && errors.Is(own, syscall.EPIPE)
}

func isIO(err error) bool {
	var (
		own     *sim.IOError
		path    *fs.PathError
		link    *os.LinkError
		network net.Error
		number  syscall.Errno
	)
	return errors.As(err, &own) || errors.As(err, &path) || errors.As(err, &link) ||
		errors.As(err, &network) || errors.As(err, &number)
}
