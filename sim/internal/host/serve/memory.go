package serve

import "ridethrough/sim/internal/core/snap"

// remember keeps what the card begins with, and from then on what it keeps.
func (s *session) remember() error {
	if s.c.Memory == nil {
		return nil
	}
	serial := s.serialNumber()
	if first := s.c.First.Keep(); first != nil {
		if err := s.c.Memory.Start(map[string]*snap.Keep{serial: first}); err != nil {
			return err
		}
	}
	s.c.Memory.Begin(func(err error) {
		s.lost.Store(&err)
		s.stop()
	})
	s.loop.KeepWith(s.c.Memory.Card(serial))
	return nil
}

// farewell keeps what changes all the time, when the loop has ended.
func (s *session) farewell() {
	if s.c.Memory == nil {
		return
	}
	if k := s.c.Engine.Farewell(); k != nil {
		s.c.Memory.Card(s.serialNumber()).Keep(k, func() {})
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

func (s *session) serialNumber() string { return s.c.Plan.Card.Identity.SerialNumber }
