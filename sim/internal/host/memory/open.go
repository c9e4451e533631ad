package memory

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"time"

	bolt "go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"

	"ridethrough/sim/internal/core/snap"
)

// file is the name of the file in the folder; unfinished is how the names of
// folders begin in which it is made.
const (
	file       = "cards.db"
	unfinished = ".new-"
)

// soon is how long the end of another process is waited for.
const soon = 300 * time.Millisecond

// Open opens the memory in the folder dir, which it makes if need be. The error
// is an *Error; what cannot be read stays as it is.
func Open(dir string) (*Store, error) {
	path := filepath.Join(dir, file)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, &Error{"write", dir, bare(err)}
	}
	if err := create(dir, path); err != nil {
		if _, missing := os.Stat(path); missing != nil { // or another process was faster
			return nil, &Error{"write", path, bare(err)}
		}
	}
	return open(path)
}

// sweep takes away what processes left that were killed while they made the file. The
// file is locked.
func sweep(dir string) {
	left, _ := filepath.Glob(filepath.Join(dir, unfinished+"*"))
	for _, l := range left {
		os.RemoveAll(l)
	}
}

// OpenExisting is Open without making anything.
func OpenExisting(dir string) (*Store, error) {
	path := filepath.Join(dir, file)
	if _, err := os.Stat(path); err != nil {
		return nil, &Error{"read", path, bare(err)}
	}
	return open(path)
}

func open(path string) (*Store, error) {
	db, err := attempt(path)
	if err != nil {
		return nil, &Error{"open", path, err}
	}
	s := &Store{db: db, path: path, urgent: make(chan struct{}, 1), closing: make(chan struct{})}
	s.room.L = &s.mu
	sweep(filepath.Dir(path))
	return s, nil
}

// create puts an empty file at path if there is none. The file appears when it
// is whole: whoever is killed here leaves none, or one that can be opened.
func create(dir, path string) error {
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	temp, err := os.MkdirTemp(dir, unfinished)
	if err != nil {
		return err
	}
	defer os.RemoveAll(temp)
	whole := filepath.Join(temp, file)
	db, err := bolt.Open(whole, 0o600, nil)
	if err != nil {
		return err
	}
	if err := errors.Join(db.Update(lay), db.Close()); err != nil {
		return err
	}
	if err := os.Link(whole, path); err != nil && !errors.Is(err, fs.ErrExist) { // never over another one
		return err
	}
	return syncDir(dir)
}

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// attempt opens and checks the file.
func attempt(path string) (db *bolt.DB, err error) {
	defer func() {
		if err != nil && db != nil {
			shut(db, err)
			db = nil
		}
	}()
	if info, err := os.Stat(path); err == nil && info.Size() == 0 {
		return nil, damaged("it is empty") // the library would fill it
	}
	err = guarded(func() (err error) {
		db, err = bolt.Open(path, 0o600, &bolt.Options{Timeout: soon})
		return err
	})
	switch {
	case errors.Is(err, berrors.ErrTimeout):
		return nil, errors.New("another process uses it; end that one, or give each a --state of its own")
	case errors.Is(err, berrors.ErrInvalid) || errors.Is(err, berrors.ErrChecksum) || errors.Is(err, berrors.ErrVersionMismatch):
		return nil, damaged(err.Error())
	case err != nil:
		return nil, bare(err)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return db, bare(err)
	}
	if err := checkPages(text); err != nil {
		return db, damaged(err.Error())
	}
	return db, guarded(func() error { return db.View(check) })
}

// guarded does what may come upon a damaged page, and makes an error of the fault:
// the file is mapped into memory.
func guarded(do func() error) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if fault := recover(); fault != nil {
			err = &faultError{damaged(fmt.Sprint(fault))}
		}
	}()
	return do()
}

// faultError is a fault that was caught. The library may have been left with its
// locks taken: it is not to be used any more, not even closed.
type faultError struct{ error }

// shut closes db after err, if it can be closed.
func shut(db *bolt.DB, err error) error {
	if fault := (*faultError)(nil); errors.As(err, &fault) {
		return nil // the end of the process closes it
	}
	return db.Close()
}

// check looks at the layout and at all that is in it.
func check(tx *bolt.Tx) error {
	if err := tx.ForEach(func(_ []byte, b *bolt.Bucket) error { return walk(b) }); err != nil {
		return damaged(err.Error())
	}
	meta := tx.Bucket(metaBucket)
	if meta == nil || tx.Bucket(cardsBucket) == nil {
		return damaged("it is not the memory of cards")
	}
	if got := string(meta.Get(formatKey)); len(got) > 20 {
		return damaged("its format is none")
	} else if got != format {
		return fmt.Errorf("it has format %q; this program reads format %s", got, format)
	}
	return nil
}

func walk(b *bolt.Bucket) error {
	var last []byte
	return b.ForEach(func(key, value []byte) error {
		if last != nil && bytes.Compare(last, key) >= 0 {
			return errors.New("keys are not in order")
		}
		last = key
		// Goes over all of it, wherever a wrong length leads.
		_ = bytes.Count(key, []byte{0}) + bytes.Count(value, []byte{0})
		if value != nil {
			return nil
		}
		inner := b.Bucket(key)
		if inner == nil {
			return errors.New("a key has neither a value nor a bucket")
		}
		return walk(inner)
	})
}

func damaged(why string) error {
	why = why[:min(len(why), 120)]
	return fmt.Errorf("it is damaged (%s) and was left as it is; put a copy in its place, or use another --state", why)
}

// bare is err without the name of the file, which is known.
func bare(err error) error {
	var path *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &path):
		return path.Err
	case errors.As(err, &link):
		return link.Err
	}
	return err
}

// Path is the file.
func (s *Store) Path() string { return s.path }

// Serials are the serial numbers of the cards in it, in order.
func (s *Store) Serials() (list []string, err error) {
	err = s.view(func(tx *bolt.Tx) error {
		return tx.Bucket(cardsBucket).ForEachBucket(func(serial []byte) error {
			list = append(list, string(serial))
			return nil
		})
	})
	return list, s.reading(err)
}

// Read is what the card of that serial number has kept; nil if it is not in
// here.
func (s *Store) Read(serial string) (m *snap.Memory, err error) {
	err = s.view(func(tx *bolt.Tx) error {
		m, err = read(tx, serial)
		return err
	})
	return m, s.reading(err)
}

func (s *Store) view(look func(*bolt.Tx) error) error {
	return s.use(func() error { return s.db.View(look) })
}

// update changes the file. The error is an *Error.
func (s *Store) update(change func(*bolt.Tx) error) error {
	if err := s.use(func() error { return s.db.Update(change) }); err != nil {
		return &Error{"write", s.path, bare(err)}
	}
	return nil
}

// use uses the library, and never again after a fault.
func (s *Store) use(do func() error) error {
	if fault := s.fault.Load(); fault != nil {
		return fault
	}
	err := guarded(do)
	var fault *faultError
	if errors.As(err, &fault) {
		s.fault.Store(fault)
	}
	return err
}

func (s *Store) reading(err error) error {
	if err == nil {
		return nil
	}
	return &Error{"read", s.path, bare(err)}
}
