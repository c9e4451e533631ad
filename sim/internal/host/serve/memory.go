package serve

import (
	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/snap"
)

// remember keeps what the cards begin with, and from then on what they keep.
func (s *session) remember() error {
	if s.c.Memory == nil {
		return nil
	}
	first, keepers := map[string]*snap.Keep{}, []engine.Keeper(nil)
	for _, u := range s.units {
		if k := s.c.First.Keep(u.unit); k != nil {
			first[u.serialNumber()] = k
		}
		keepers = append(keepers, s.c.Memory.Card(u.serialNumber()))
	}
	if len(first) > 0 {
		if err := s.c.Memory.Start(first); err != nil {
			return err
		}
	}
	s.c.Memory.Begin(func(err error) {
		s.lost.Store(&err)
		s.stop()
	})
	s.loop.KeepWith(keepers...)
	return nil
}

// farewell keeps what changes all the time, when the loop has ended.
func (s *session) farewell() {
	if s.c.Memory == nil {
		return
	}
	for i, k := range s.c.Engine.Farewell() {
		if k != nil {
			s.c.Memory.Card(s.units[i].serialNumber()).Keep(k, func() {})
		}
	}
}

// forget ends that, when the loop has ended. The error is that of the memory.
func (s *session) forget() error {
	if s.c.Memory == nil {
		return nil
	}
	if err := s.c.Memory.Close(); err != nil {
		return err
	}
	if err := s.lost.Load(); err != nil {
		return *err
	}
	return nil
}

func (s *served) serialNumber() string { return s.plan.Card.Identity.SerialNumber }
