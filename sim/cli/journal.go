package cli

import (
	"bytes"
	"errors"
	"io"
	"os"
)

// journalFile is a journal under way. Unlike a report it is written in place,
// line by line: what a session that is killed has recorded stays. What was in
// the file before is lost only when the session is ready.
type journalFile struct {
	path  string
	file  *os.File
	isNew bool
	early bytes.Buffer // what comes before the session is ready
	begun bool
}

// openJournal prepares the file at path; nil if that is empty. A journal holds
// the card's communities: only its owner may read it.
func openJournal(path string) (*journalFile, error) {
	if path == "" {
		return nil, nil
	}
	j := &journalFile{path: path}
	_, err := os.Stat(path)
	j.isNew = os.IsNotExist(err)
	if j.file, err = os.OpenFile(path, os.O_WRONLY|os.O_CREATE, 0o600); err != nil {
		return nil, writeError(path, err)
	}
	return j, nil
}

// begin replaces what was in the file.
func (j *journalFile) begin() error {
	info, err := j.file.Stat()
	if err == nil && info.Mode().IsRegular() {
		err = j.file.Truncate(0)
	}
	if err == nil {
		_, err = j.early.WriteTo(j.file)
	}
	if err != nil {
		return writeError(j.path, err)
	}
	j.begun = true
	return nil
}

// Write writes whole lines through to the file.
func (j *journalFile) Write(p []byte) (int, error) {
	if !j.begun {
		return j.early.Write(p)
	}
	n, err := j.file.Write(p)
	if err != nil {
		err = writeError(j.path, err)
	}
	return n, err
}

// close closes the file. One that was made for a session that never was ready
// goes again.
func (j *journalFile) close() error {
	if j == nil || j.file == nil {
		return nil
	}
	err := j.file.Close()
	j.file = nil
	if j.isNew && !j.begun {
		err = errors.Join(err, os.Remove(j.path))
	}
	if err != nil {
		return writeError(j.path, err)
	}
	return nil
}

// readiness lets the journal begin when the ready record is written.
type readiness struct {
	out     io.Writer
	journal *journalFile
}

// Write passes the ready record on.
func (r *readiness) Write(p []byte) (int, error) {
	if err := r.journal.begin(); err != nil {
		return 0, err
	}
	return r.out.Write(p)
}
