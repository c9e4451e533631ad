package memory

import (
	"errors"
	"os"
	"path/filepath"

	bolt "go.etcd.io/bbolt"

	"ridethrough/sim/internal/core/snap"
)

// Rewrite makes a change of a card that nobody serves, in a new file that takes the place
// of this one: of what the change puts away nothing is left in it. A change in its place
// leaves old pages, with what stood there, in the file.
func (s *Store) Rewrite(serial string, k *snap.Keep) error {
	if err := s.use(func() error { return s.rewrite(serial, k) }); err != nil {
		return &Error{"write", s.path, bare(err)}
	}
	return nil
}

func (s *Store) rewrite(serial string, k *snap.Keep) error {
	dir := filepath.Dir(s.path)
	temp, err := os.MkdirTemp(dir, unfinished)
	if err != nil {
		return err
	}
	defer os.RemoveAll(temp)
	changed, err := s.changedCopy(filepath.Join(temp, "changed"), serial, k)
	if err != nil {
		return err
	}
	defer changed.Close()
	fresh, err := bolt.Open(filepath.Join(temp, file), 0o600, nil)
	if err != nil {
		return err
	}
	err = bolt.Compact(fresh, changed, 0)
	if err == nil {
		err = os.Rename(filepath.Join(temp, file), s.path)
	}
	if err != nil {
		return errors.Join(err, fresh.Close())
	}
	s.before, s.db = append(s.before, s.db), fresh // whoever waits for the old file must not get it
	return syncDir(dir)
}

// changedCopy is a copy of the file in which the change is made.
func (s *Store) changedCopy(path, serial string, k *snap.Keep) (*bolt.DB, error) {
	if err := s.db.View(func(tx *bolt.Tx) error { return tx.CopyFile(path, 0o600) }); err != nil {
		return nil, err
	}
	db, err := bolt.Open(path, 0o600, nil)
	if err != nil {
		return nil, err
	}
	if err := db.Update(func(tx *bolt.Tx) error { return put(tx, serial, k) }); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return db, nil
}
