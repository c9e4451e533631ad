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

// file is the name of the file in the folder.
const file = "cards.db"

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
		return nil, &Error{"write", path, bare(err)}
	}
	return open(path)
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
	return s, nil
}

// create puts an empty file at path if there is none. The file appears when it
// is whole: whoever is killed here leaves none, or one that can be opened.
func create(dir, path string) error {
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	temp, err := os.MkdirTemp(dir, ".new-")
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

// attempt opens and checks the file. A damaged one may show as a fault of
// memory, because the file is mapped into it.
func attempt(path string) (db *bolt.DB, err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if fault := recover(); fault != nil {
			err = damaged(fmt.Sprint(fault))
		}
		if err != nil && db != nil {
			db.Close()
			db = nil
		}
	}()
	if info, err := os.Stat(path); err == nil && info.Size() == 0 {
		return nil, damaged("it is empty") // the library would fill it
	}
	db, err = bolt.Open(path, 0o600, &bolt.Options{Timeout: soon})
	switch {
	case errors.Is(err, berrors.ErrTimeout):
		return nil, errors.New("another process uses it; end that one, or give each a --state of its own")
	case errors.Is(err, berrors.ErrInvalid) || errors.Is(err, berrors.ErrChecksum) || errors.Is(err, berrors.ErrVersionMismatch):
		return nil, damaged(err.Error())
	case err != nil:
		return nil, bare(err)
	}
	return db, db.View(check)
}

// check looks at the layout and at all that is in it. It does so itself, because
// a fault in the library's own check could not be caught.
func check(tx *bolt.Tx) error {
	if err := tx.ForEach(func(_ []byte, b *bolt.Bucket) error { return walk(b) }); err != nil {
		return damaged(err.Error())
	}
	meta := tx.Bucket(metaBucket)
	if meta == nil || tx.Bucket(cardsBucket) == nil {
		return damaged("it is not the memory of cards")
	}
	if got := string(meta.Get(formatKey)); got != format {
		return fmt.Errorf("it has format %q; this program reads format %s", got, format)
	}
	return nil
}

func walk(b *bolt.Bucket) error {
	return b.ForEach(func(key, value []byte) error {
		if value != nil {
			_ = bytes.Count(value, []byte{0}) // goes over all of it, wherever a wrong length leads
			return nil
		}
		inner := b.Bucket(key)
		if inner == nil {
			return fmt.Errorf("%q is neither a value nor a bucket", key)
		}
		return walk(inner)
	})
}

func damaged(why string) error {
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
	err = s.db.View(func(tx *bolt.Tx) error {
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
	err = s.db.View(func(tx *bolt.Tx) error {
		m, err = read(tx, serial)
		return err
	})
	return m, s.reading(err)
}

func (s *Store) reading(err error) error {
	if err == nil {
		return nil
	}
	return &Error{"read", s.path, bare(err)}
}
