package pty

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strconv"
	"strings"

	"github.com/google/renameio/v2"
	"golang.org/x/sys/unix"
)

// link is the stable name of the line. The lock beside it dies with its owner:
// a link that is not locked was left behind by a simulator that was killed, and
// its target may by now be somebody's terminal.
type link struct {
	path, target string
	lock         *os.File
}

func makeLink(path, target string) (*link, error) {
	lock, err := takeLock(path)
	if err != nil {
		return nil, err
	}
	l := &link{path: path, target: target, lock: lock}
	if err := l.place(); err != nil {
		l.unlock()
		return nil, err
	}
	return l, nil
}

// place puts the link there in one step, over a stale one if need be.
func (l *link) place() error {
	old, err := os.Readlink(l.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return fmt.Errorf("pty: %s is there and is no symbolic link: remove it or choose another path", l.path)
	case !strings.HasPrefix(old, "/dev/pts/"):
		return fmt.Errorf("pty: %s is a link to %s, which no simulator made: remove it or choose another path", l.path, old)
	}
	if err := renameio.Symlink(l.target, l.path); err != nil {
		return fmt.Errorf("pty: link: %w", err)
	}
	return nil
}

// takeLock locks the lock file of path. Its owner may be removing it at this
// moment, so what was locked must still be what stands there.
func takeLock(path string) (*os.File, error) {
	name := path + ".lock"
	for {
		f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o600)
		if err != nil {
			return nil, fmt.Errorf("pty: lock: %w", err)
		}
		if err := flock(f); err != nil {
			defer f.Close()
			return nil, inUse(path, f, err)
		}
		if stillThere(f, name) {
			return f, sign(f)
		}
		f.Close()
	}
}

func flock(f *os.File) error {
	conn, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var locked error
	err = conn.Control(func(fd uintptr) { locked = unix.Flock(int(fd), unix.LOCK_EX|unix.LOCK_NB) })
	return errors.Join(err, locked)
}

func inUse(path string, f *os.File, err error) error {
	if !errors.Is(err, unix.EWOULDBLOCK) {
		return fmt.Errorf("pty: lock: %w", err)
	}
	var pid [20]byte
	n, _ := f.ReadAt(pid[:], 0)
	return fmt.Errorf("pty: %s is in use by process %s", path, strings.TrimSpace(string(pid[:n])))
}

func stillThere(f *os.File, name string) bool {
	mine, err := f.Stat()
	if err != nil {
		return false
	}
	there, err := os.Stat(name)
	return err == nil && os.SameFile(mine, there)
}

// sign writes the owner's number into the lock file, for people.
func sign(f *os.File) error {
	if err := f.Truncate(0); err != nil {
		return fmt.Errorf("pty: lock: %w", err)
	}
	if _, err := f.WriteAt([]byte(strconv.Itoa(os.Getpid())+"\n"), 0); err != nil {
		return fmt.Errorf("pty: lock: %w", err)
	}
	return nil
}

// remove takes the link away, unless it is no longer ours, then the lock.
func (l *link) remove() {
	if now, err := os.Readlink(l.path); err == nil && now == l.target {
		os.Remove(l.path)
	}
	l.unlock()
}

func (l *link) unlock() {
	os.Remove(l.lock.Name())
	l.lock.Close()
}
