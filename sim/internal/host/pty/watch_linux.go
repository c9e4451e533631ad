package pty

import (
	"encoding/binary"
	"fmt"
	"os"
	"syscall"

	"golang.org/x/sys/unix"
)

// watch tells when somebody opens or closes the line.
type watch struct {
	file *os.File
	conn syscall.RawConn
	buf  [4096]byte
}

func openWatch(path string) (*watch, error) {
	fd, err := unix.InotifyInit1(unix.IN_NONBLOCK | unix.IN_CLOEXEC)
	if err != nil {
		return nil, fmt.Errorf("pty: watch: %w", err)
	}
	if _, err := unix.InotifyAddWatch(fd, path, unix.IN_OPEN|unix.IN_CLOSE); err != nil {
		unix.Close(fd)
		return nil, fmt.Errorf("pty: watch %s: %w", path, err)
	}
	w := &watch{file: os.NewFile(uintptr(fd), "inotify")}
	w.conn, err = w.file.SyscallConn()
	if err != nil {
		w.file.Close()
		return nil, fmt.Errorf("pty: watch: %w", err)
	}
	return w, nil
}

// moves is what happened on the line since the last look. Like moves that follow
// each other may be reported as one, so they cannot be counted.
type moves struct {
	any    bool
	closed bool // somebody closed it
	open   bool // the last move was an opening
}

// look takes what happened since the last look, without waiting. Looks must not
// overlap.
func (w *watch) look() (m moves) {
	w.conn.Control(func(fd uintptr) { m = w.read(int(fd)) })
	return m
}

// wait calls f whenever something may have happened, until the watch is closed.
// F has to look, and reports whether there was anything.
func (w *watch) wait(f func() bool) {
	for w.conn.Read(func(uintptr) bool { return f() }) == nil {
	}
}

func (w *watch) read(fd int) (m moves) {
	for {
		n, err := unix.Read(fd, w.buf[:])
		if err == unix.EINTR {
			continue
		}
		if err != nil || n <= 0 {
			return m
		}
		m.add(w.buf[:n])
	}
}

// add decodes events: descriptor, mask, cookie and length of a name, 32 bits
// each, then the name.
func (m *moves) add(events []byte) {
	for len(events) >= unix.SizeofInotifyEvent {
		mask := binary.NativeEndian.Uint32(events[4:])
		name := binary.NativeEndian.Uint32(events[12:])
		m.any = true
		m.open = mask&unix.IN_CLOSE == 0 // an overflow counts as an opening
		m.closed = m.closed || mask&unix.IN_OPEN == 0
		events = events[min(len(events), unix.SizeofInotifyEvent+int(name)):]
	}
}
