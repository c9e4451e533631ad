package sim

import (
	"errors"
	"fmt"
	"os"

	"ridethrough/sim/internal/core/study"
)

// maxRunsFile is more than any file of runs may have.
const maxRunsFile = 2 << 30

// StudyFile keeps the runs of a study, so that one that was stopped, or killed, can go
// on. Runs are added some hundred at a time, each with one write of whole lines.
type StudyFile struct {
	path string
	f    *os.File
}

// OpenStudyFile prepares the file at path, which need not be there yet. The error is an
// *IOError.
func OpenStudyFile(path string) (*StudyFile, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o666)
	if err != nil {
		return nil, ioError("write", path, err)
	}
	if info, err := f.Stat(); err != nil || !info.Mode().IsRegular() {
		f.Close()
		return nil, ioError("write", path, errors.New("it is no plain file"))
	}
	return &StudyFile{path, f}, nil
}

// Close closes the file, once it cannot be lost any more.
func (f *StudyFile) Close() error {
	if err := errors.Join(f.f.Sync(), f.f.Close()); err != nil {
		return ioError("write", f.path, err)
	}
	return nil
}

// begin is the runs that the file has of the study of h. What was cut off in the middle
// of a line goes; a new file gets its first line.
func (f *StudyFile) begin(h *study.Header) ([]study.Run, error) {
	text, err := readFile(f.path, maxRunsFile)
	if err != nil {
		return nil, err
	}
	line, err := study.Line(h)
	if err != nil {
		return nil, err
	}
	if len(text) == 0 || len(text) < len(line) && string(text) == string(line[:len(text)]) {
		return nil, f.restart(line)
	}
	got, err := study.ReadFile(text)
	if err != nil {
		return nil, badRuns(f.path, err)
	}
	differs := got.Header.Same(h)
	if differs == "" && got.Header.Shard != h.Shard {
		differs = fmt.Sprintf("shard %s, not %s", got.Header.Shard, h.Shard)
	}
	if differs != "" {
		what := "it has runs of another study: " + differs + "; expected a new file, or that of this study"
		return nil, invalidFile(f.path, what)
	}
	return got.Runs, f.cut(got.Whole)
}

func (f *StudyFile) restart(line []byte) error {
	if err := f.cut(0); err != nil {
		return err
	}
	return f.write(line)
}

// cut drops what comes after size, and goes on from there.
func (f *StudyFile) cut(size int64) error {
	if err := f.f.Truncate(size); err != nil {
		return ioError("write", f.path, err)
	}
	if _, err := f.f.Seek(size, 0); err != nil {
		return ioError("write", f.path, err)
	}
	return nil
}

func (f *StudyFile) add(runs []study.Run) error {
	text, err := study.Lines(runs)
	if err != nil {
		return err
	}
	return f.write(text)
}

func (f *StudyFile) write(text []byte) error {
	if _, err := f.f.Write(text); err != nil {
		return ioError("write", f.path, err)
	}
	return nil
}

// readRuns reads a file of runs.
func readRuns(path string) (*study.File, error) {
	text, err := readFile(path, maxRunsFile)
	if err != nil {
		return nil, err
	}
	f, err := study.ReadFile(text)
	if err != nil {
		return nil, badRuns(path, err)
	}
	return f, nil
}

// RemoveIfEmpty removes a file to which nothing was written, because the study did not
// begin.
func (f *StudyFile) RemoveIfEmpty() {
	if info, err := os.Stat(f.path); err == nil && info.Size() == 0 {
		_ = os.Remove(f.path) // or it stays, empty
	}
}
