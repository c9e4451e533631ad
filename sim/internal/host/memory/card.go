package memory

import (
	bolt "go.etcd.io/bbolt"

	"ridethrough/sim/internal/core/snap"
)

// Card keeps the memory of one card; it is an engine.Keeper.
type Card struct {
	store  *Store
	serial string
}

// Card is the card of that serial number, which need not be there yet.
func (s *Store) Card(serial string) *Card { return &Card{s, serial} }

// Start keeps what cards begin with, at once, and notes that they are served.
// Nobody may have heard of them before it returns.
func (s *Store) Start(first map[string]*snap.Keep) error {
	return s.update(func(tx *bolt.Tx) error {
		for serial, k := range first {
			s.served = append(s.served, serial)
			if err := put(tx, serial, k); err != nil {
				return err
			}
			if err := mark(tx, serial, true); err != nil {
				return err
			}
		}
		return nil
	})
}

// leave notes that the cards are not served any more.
func (s *Store) leave() error {
	if len(s.served) == 0 {
		return nil
	}
	return s.update(func(tx *bolt.Tx) error {
		for _, serial := range s.served {
			if err := mark(tx, serial, false); err != nil {
				return err
			}
		}
		return nil
	})
}

// Keep implements engine.Keeper.
func (c *Card) Keep(k *snap.Keep, done func()) {
	c.store.keep(change{c.serial, k, done})
}

// Change makes a change at once: of a card that nobody serves.
func (c *Card) Change(k *snap.Keep) error {
	return c.store.commit([]change{{serial: c.serial, keep: k}})
}
