package pty

import (
	"fmt"
	"io/fs"
	"os"
	"strconv"

	"golang.org/x/sys/unix"
)

// device is a pseudo-terminal: the master end as a file with deadlines, and a
// kept slave end, which spares the master the end-of-file between two clients
// and serves to undo what a client left behind.
type device struct {
	master *os.File
	raw    int // the master's descriptor, valid until close
	slave  int
	path   string
	ours   bool // that the line takes nobody else, while its client has not asked for it
}

func openDevice(mode fs.FileMode, baud int) (*device, error) {
	fd, err := unix.Open("/dev/ptmx", unix.O_RDWR|unix.O_NOCTTY|unix.O_CLOEXEC|unix.O_NONBLOCK, 0)
	if err != nil {
		return nil, fmt.Errorf("pty: /dev/ptmx: %w", err)
	}
	d := &device{raw: fd, slave: -1}
	if err := d.setUp(mode, baud); err != nil {
		if d.slave >= 0 {
			unix.Close(d.slave)
		}
		unix.Close(fd)
		return nil, err
	}
	// Opened non-blocking, so that the runtime's poller takes it: reads can be
	// broken off and writes have deadlines.
	d.master = os.NewFile(uintptr(fd), "/dev/ptmx")
	return d, nil
}

func (d *device) setUp(mode fs.FileMode, baud int) error {
	if err := unix.IoctlSetPointerInt(d.raw, unix.TIOCSPTLCK, 0); err != nil {
		return fmt.Errorf("pty: unlock: %w", err)
	}
	n, err := unix.IoctlGetInt(d.raw, unix.TIOCGPTN)
	if err != nil {
		return fmt.Errorf("pty: number: %w", err)
	}
	d.path = "/dev/pts/" + strconv.Itoa(n)
	if err := d.makeRaw(baud); err != nil {
		return err
	}
	// By path, as clients do, which also proves that the path leads here.
	d.slave, err = unix.Open(d.path, unix.O_RDWR|unix.O_NOCTTY|unix.O_CLOEXEC|unix.O_NONBLOCK, 0)
	if err != nil {
		return fmt.Errorf("pty: %s: %w", d.path, err)
	}
	if err := unix.Fchmod(d.slave, uint32(mode.Perm())); err != nil {
		return fmt.Errorf("pty: mode of %s: %w", d.path, err)
	}
	return nil
}

// speeds are those that terminal settings can name.
var speeds = map[int]uint32{
	1200: unix.B1200, 2400: unix.B2400, 4800: unix.B4800, 9600: unix.B9600, 19200: unix.B19200,
	38400: unix.B38400, 57600: unix.B57600, 115200: unix.B115200,
}

// makeRaw has bytes pass both ways unchanged. The settings belong to the line,
// not to a client: set through the master they are there before the first one.
// Without this the line would echo the card's own words back to the card.
func (d *device) makeRaw(baud int) error {
	t, err := unix.IoctlGetTermios(d.raw, unix.TCGETS)
	if err != nil {
		return fmt.Errorf("pty: settings: %w", err)
	}
	t.Iflag &^= unix.IGNBRK | unix.BRKINT | unix.PARMRK | unix.ISTRIP | unix.INLCR | unix.IGNCR | unix.ICRNL | unix.IXON | unix.IXOFF
	t.Oflag &^= unix.OPOST
	t.Lflag &^= unix.ECHO | unix.ECHONL | unix.ICANON | unix.ISIG | unix.IEXTEN
	t.Cflag &^= unix.CSIZE | unix.PARENB | unix.CBAUD
	t.Cflag |= unix.CS8 | unix.CREAD
	if speed, ok := speeds[baud]; ok {
		t.Cflag |= speed
	} else {
		t.Cflag |= unix.B38400
	}
	t.Cc[unix.VMIN], t.Cc[unix.VTIME] = 1, 0
	if err := unix.IoctlSetTermios(d.raw, unix.TCSETS, t); err != nil {
		return fmt.Errorf("pty: settings: %w", err)
	}
	return nil
}

// speed is what the line is set to by whoever has it open; 0: it has no number here.
func (d *device) speed() int {
	t, err := unix.IoctlGetTermios(d.raw, unix.TCGETS)
	if err != nil {
		return 0
	}
	for baud, code := range speeds {
		if t.Cflag&unix.CBAUD == code {
			return baud
		}
	}
	return 0
}

// flush forgets what was sent to the client and not read: first what is on its
// way, then what has arrived.
func (d *device) flush() {
	unix.IoctlSetInt(d.raw, unix.TCFLSH, unix.TCOFLUSH)
	unix.IoctlSetInt(d.slave, unix.TCFLSH, unix.TCIFLUSH)
}

// claim has the system refuse the line to whoever opens it next, but for root, or ends
// that. What the client has claimed itself stays.
func (d *device) claim(on bool) {
	if !on {
		if d.ours {
			unix.IoctlSetInt(d.slave, unix.TIOCNXCL, 0)
		}
		d.ours = false
		return
	}
	if claimed, err := unix.IoctlGetInt(d.slave, unix.TIOCGEXCL); err == nil && claimed == 0 {
		d.ours = unix.IoctlSetInt(d.slave, unix.TIOCEXCL, 0) == nil
	}
}

// restore undoes what a client may have left on the line: its settings and its
// claim to be the only one.
func (d *device) restore(baud int) {
	d.makeRaw(baud)
	unix.IoctlSetInt(d.slave, unix.TIOCNXCL, 0)
	d.ours = false
}

// close gives the line up. Nothing else may run on d.
func (d *device) close() error {
	unix.Close(d.slave)
	return d.master.Close()
}
