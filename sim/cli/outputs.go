package cli

import (
	"bufio"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/google/renameio/v2"

	"ridethrough/sim"
	"ridethrough/sim/internal/core/report"
)

// outputs are the files that a command writes. All are opened before anything
// is run, and appear under their names only when they are whole.
type outputs struct {
	files []*output
}

type output struct {
	path    string
	target  string
	buffer  *bufio.Writer
	unnamed *os.File              // until it is whole; nil where that cannot be
	pending *renameio.PendingFile // under a hidden name instead
	direct  *os.File              // a pipe or a device
}

// open prepares the file at path; nil if path is empty.
func (o *outputs) open(path string, perm os.FileMode) (io.Writer, error) {
	if path == "" {
		return nil, nil
	}
	target, err := follow(path)
	if err != nil {
		return nil, err
	}
	f := &output{path: path, target: target}
	if err := f.prepare(perm); err != nil {
		return nil, writeError(path, err)
	}
	o.files = append(o.files, f)
	return f, nil
}

// follow is where path leads, past symbolic links: the link shall stay.
func follow(path string) (string, error) {
	target, err := filepath.EvalSymlinks(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return path, nil
	case err != nil:
		return "", writeError(path, err)
	}
	return target, nil
}

func (f *output) prepare(perm os.FileMode) (err error) {
	info, err := os.Stat(f.target)
	switch {
	case err == nil && info.IsDir():
		return errors.New("it is a folder")
	case err == nil && !info.Mode().IsRegular():
		f.direct, err = os.OpenFile(f.target, os.O_WRONLY, 0)
		f.buffer = bufio.NewWriter(f.direct)
		return err
	}
	if f.unnamed = nameless(filepath.Dir(f.target), perm); f.unnamed != nil {
		if f.buffer = bufio.NewWriter(f.unnamed); err == nil {
			return f.unnamed.Chmod(info.Mode().Perm())
		}
		return nil
	}
	if f.pending, err = f.hidden(perm); err == nil {
		f.buffer = bufio.NewWriter(f.pending)
	}
	return err
}

// hidden is a file beside the target that takes its place in the end.
func (f *output) hidden(perm os.FileMode) (*renameio.PendingFile, error) {
	return renameio.NewPendingFile(f.target,
		renameio.WithTempDir(filepath.Dir(f.target)), renameio.WithPermissions(perm), renameio.WithExistingPermissions())
}

// Write writes to the file under way.
func (f *output) Write(p []byte) (int, error) {
	n, err := f.buffer.Write(p)
	if err != nil {
		err = writeError(f.path, err)
	}
	return n, err
}

// commit lets all files appear under their names.
func (o *outputs) commit() error {
	for _, f := range o.files {
		if err := f.commit(); err != nil {
			return writeError(f.path, err)
		}
	}
	return nil
}

func (f *output) commit() error {
	if err := f.buffer.Flush(); err != nil {
		return err
	}
	switch {
	case f.direct != nil:
		return f.direct.Close()
	case f.unnamed != nil:
		err := f.unnamed.Sync()
		if err == nil {
			err = christen(f.unnamed, f.target)
		}
		return errors.Join(err, f.unnamed.Close())
	}
	return f.pending.CloseAtomicallyReplace()
}

// discard removes what was not committed.
func (o *outputs) discard() {
	for _, f := range o.files {
		switch {
		case f.direct != nil:
			f.direct.Close()
		case f.unnamed != nil:
			f.unnamed.Close()
		default:
			f.pending.Cleanup()
		}
	}
}

func writeError(path string, err error) error {
	var own *sim.IOError
	if errors.As(err, &own) {
		return err
	}
	return &sim.IOError{Op: "write", Path: report.OneLine(path), Err: withoutPath(err)}
}

// withoutPath is err without a name that the message has already, or that is
// nobody's business because it is temporary.
func withoutPath(err error) error {
	var pe *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &pe):
		return pe.Err
	case errors.As(err, &link):
		return link.Err
	}
	return err
}
