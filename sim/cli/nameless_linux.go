package cli

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"golang.org/x/sys/unix"
)

// nameless is a new file in dir that has no name: of one who is killed nothing is left
// there. It is nil where the file system has no such files.
func nameless(dir string, perm os.FileMode) *os.File {
	fd, err := unix.Open(dir, unix.O_TMPFILE|unix.O_RDWR|unix.O_CLOEXEC, uint32(perm.Perm()))
	if err != nil {
		return nil
	}
	f := os.NewFile(uintptr(fd), dir)
	if _, err := os.Stat(handle(f)); err != nil { // it could never be named
		f.Close()
		return nil
	}
	return f
}

func handle(f *os.File) string { return fmt.Sprintf("/proc/self/fd/%d", f.Fd()) }

// christen gives f the name target, whatever has it. The system names a file only where
// nothing is: in the place of another it comes by a name of its own, for an instant.
func christen(f *os.File, target string) error {
	err := link(f, target)
	if !errors.Is(err, fs.ErrExist) {
		return err
	}
	for n := 0; ; n++ {
		own := filepath.Join(filepath.Dir(target), fmt.Sprintf(".ridethrough-%d-%d", os.Getpid(), n))
		switch err := link(f, own); {
		case errors.Is(err, fs.ErrExist): // of one with our number that was killed in that instant
			continue
		case err != nil:
			return err
		}
		if err := os.Rename(own, target); err != nil {
			return errors.Join(err, os.Remove(own))
		}
		return nil
	}
}

func link(f *os.File, name string) error {
	return unix.Linkat(unix.AT_FDCWD, handle(f), unix.AT_FDCWD, name, unix.AT_SYMLINK_FOLLOW)
}
