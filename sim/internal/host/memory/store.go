package memory

import (
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	bolt "go.etcd.io/bbolt"

	"ridethrough/sim/internal/core/snap"
)

// lazy is how long entries of logs may wait for others before they are written
// together.
const lazy = time.Second

// enough is how many entries of logs may wait; together with those of one more
// change they are fewer than [snap.MostLost].
const enough = 1000

// Store is an open file. It is safe for concurrent use.
type Store struct {
	db     *bolt.DB
	before []*bolt.DB // files in whose place others came; locked until the end
	path   string
	failed func(error)
	served []string // serial numbers
	fault  atomic.Pointer[faultError]

	mu      sync.Mutex
	room    sync.Cond // fewer entries wait
	waiting []change
	entries int // of logs that are not written yet
	err     error

	urgent  chan struct{} // something waits that somebody waits for
	closing chan struct{}
	writer  sync.WaitGroup
	once    sync.Once
}

// change is one change of one card's memory.
type change struct {
	serial string
	keep   *snap.Keep
	done   func()
}

// Error is a file that could not be used.
type Error struct {
	Op   string // "open", "read" or "write"
	Path string
	Err  error
}

// Error is one line.
func (e *Error) Error() string { return fmt.Sprintf("cannot %s %s: %v", e.Op, e.Path, e.Err) }

// Unwrap is the cause.
func (e *Error) Unwrap() error { return e.Err }

// Begin starts to write what cards keep. failed is told once of an error, after
// which nothing is written or answered any more.
func (s *Store) Begin(failed func(error)) {
	s.failed = failed
	s.writer.Go(s.write)
}

// keep takes a change. It waits only while too many entries of logs do.
func (s *Store) keep(c change) {
	n := entriesOf(c.keep)
	s.mu.Lock()
	for s.entries > enough && s.err == nil {
		s.hurry()
		s.room.Wait()
	}
	s.waiting = append(s.waiting, c)
	s.entries += n
	if len(c.keep.Sections) > 0 {
		s.hurry()
	}
	s.mu.Unlock()
	if len(c.keep.Sections) == 0 { // nobody was promised anything
		c.done()
	}
}

func (s *Store) hurry() {
	select {
	case s.urgent <- struct{}{}:
	default:
	}
}

// write writes what waits, all of it with one transaction, as soon as somebody
// waits for it and otherwise now and then.
func (s *Store) write() {
	tick := time.NewTicker(lazy)
	defer tick.Stop()
	for last := false; !last; {
		select {
		case <-s.urgent:
		case <-tick.C:
		case <-s.closing:
			last = true
		}
		if err := s.flush(); err != nil {
			s.failed(err)
			return
		}
	}
}

// flush writes what waits and tells those who wait for it.
func (s *Store) flush() error {
	s.mu.Lock()
	batch, written := s.waiting, s.entries
	s.waiting = nil
	s.mu.Unlock()
	if len(batch) == 0 {
		return nil
	}
	err := s.commit(batch)
	s.mu.Lock()
	s.entries -= written
	s.err = err
	s.room.Broadcast()
	s.mu.Unlock()
	if err != nil {
		return err
	}
	for _, c := range batch {
		if len(c.keep.Sections) > 0 {
			c.done()
		}
	}
	return nil
}

func (s *Store) commit(batch []change) error {
	return s.update(func(tx *bolt.Tx) error {
		for _, c := range batch {
			if err := put(tx, c.serial, c.keep); err != nil {
				return err
			}
		}
		return nil
	})
}

// Close writes what still waits, notes that the cards were left in order, and
// closes the file.
func (s *Store) Close() (err error) {
	s.once.Do(func() {
		close(s.closing)
		s.writer.Wait()
		if s.err == nil {
			err = s.leave()
		}
		if fault := s.fault.Load(); fault == nil {
			for _, db := range append(s.before, s.db) {
				err = errors.Join(err, db.Close())
			}
		}
	})
	return err
}

func entriesOf(k *snap.Keep) (n int) {
	for i := range k.Logs {
		n += len(k.Logs[i].Entries)
	}
	return n
}
