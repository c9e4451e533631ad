package sim

import (
	"errors"
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/memory"
)

// recalling is s with what its cards have kept in store, nil for no store. The
// error is an *IOError.
func (s *Scenario) recalling(store *memory.Store) (*Scenario, error) {
	if store == nil {
		return s, nil
	}
	var kept []*snap.Memory
	known := false
	for _, p := range s.plan.All() {
		k, err := recall(store, p.Card.Identity.SerialNumber)
		if err != nil {
			return nil, stateError(store.Path(), err)
		}
		if known = known || k != nil; k == nil {
			k = &snap.Memory{}
		}
		kept = append(kept, k)
	}
	if !known {
		if err := newcomer(store, s.plan.Card.Identity.SerialNumber); err != nil {
			return nil, stateError(store.Path(), err)
		}
	}
	return s.remembering(kept), nil
}

// recall is what a card has kept, checked; nil if it is a new one.
func recall(store *memory.Store, serial string) (*snap.Memory, error) {
	kept, err := store.Read(serial)
	if err != nil || kept == nil {
		return nil, err
	}
	if err := card.CheckMemory(kept, serial); err != nil {
		return nil, err
	}
	return modern(store, serial, kept)
}

// modern is what the card has kept, which was checked, in the form of today. A file of an
// earlier version is brought into that.
func modern(store *memory.Store, serial string, kept *snap.Memory) (*snap.Memory, error) {
	k := card.Modern(kept)
	if k == nil {
		return kept, nil
	}
	if err := store.Rewrite(serial, k); err != nil {
		return nil, err
	}
	return store.Read(serial)
}

// newcomer refuses a card that is not in the memory of others.
func newcomer(store *memory.Store, serial string) error {
	others, err := store.Serials()
	if err != nil || len(others) == 0 {
		return err
	}
	return fmt.Errorf("it is the memory of serial number %s, the card of this scenario has %s; use another --state, or set serial_number in [card]",
		strings.Join(others, ", "), serial)
}

// remembering is s with cards that have kept that, which was checked, one for each unit.
func (s *Scenario) remembering(kept []*snap.Memory) *Scenario {
	p, c := *s.plan, *s
	p.Card.Memory, p.Units, c.plan = kept[0], nil, &p
	for i, u := range s.plan.Units {
		own := *u
		own.Card.Memory = kept[i+1]
		p.Units = append(p.Units, &own)
	}
	return &c
}

// leasing is s with a card that asks real address servers.
func (s *Scenario) leasing() *Scenario {
	p, c := *s.plan, *s
	p.Network.Real, c.plan = true, &p
	return &c
}

// openState opens the memory in the folder dir; nil for no folder.
func openState(dir string) (*memory.Store, error) {
	if dir == "" {
		return nil, nil
	}
	store, err := memory.Open(dir)
	if err != nil {
		return nil, stateError(dir, err)
	}
	return store, nil
}

// stateError is what went wrong with the memory at path.
func stateError(path string, err error) *IOError {
	var e *memory.Error
	if errors.As(err, &e) {
		return &IOError{Op: e.Op, Path: e.Path, Err: e.Err}
	}
	return &IOError{Op: "use", Path: path, Err: err}
}

// bootsOf is how often the cards of a fleet have started, by the serial number that
// devices are made after; nil for no store. The error is an *IOError.
func bootsOf(store *memory.Store, parts []part) (map[string]card.FleetBoots, error) {
	if store == nil {
		return nil, nil
	}
	boots, known := map[string]card.FleetBoots{}, false
	for i := range parts {
		serial := parts[i].serial()
		kept, err := store.Read(serial)
		if err == nil {
			boots[serial], err = card.BootsIn(kept)
		}
		if err != nil {
			return nil, stateError(store.Path(), err)
		}
		known = known || kept != nil
	}
	if !known {
		if err := newcomer(store, parts[0].serial()); err != nil {
			return nil, stateError(store.Path(), err)
		}
	}
	return boots, nil
}
