package serve

import (
	"crypto"
	"crypto/ed25519"
	"crypto/rand"
	"encoding/json"
	"fmt"

	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/snap"
)

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

// hostKey is the private key of the SSH server: one that was given, or else the
// card's own, made by chance when it has none. Nil: it keeps nothing.
func (s *session) hostKey() (crypto.Signer, error) {
	if s.c.HostKey != nil || s.c.Memory == nil {
		return s.c.HostKey, nil
	}
	kept, err := s.c.Memory.Read(s.serialNumber())
	if err != nil {
		return nil, err
	}
	if kept != nil && kept.Sections[card.HostKeySection] != nil {
		return readHostKey(kept.Sections[card.HostKeySection])
	}
	var seed [ed25519.SeedSize]byte
	rand.Read(seed[:]) // never fails
	text, err := json.Marshal(seed[:])
	if err != nil {
		return nil, err
	}
	err = s.c.Memory.Card(s.serialNumber()).Change(&snap.Keep{Sections: map[string]json.RawMessage{card.HostKeySection: text}})
	return ed25519.NewKeyFromSeed(seed[:]), err
}

func readHostKey(text json.RawMessage) (crypto.Signer, error) {
	var seed []byte
	if err := json.Unmarshal(text, &seed); err != nil || len(seed) != ed25519.SeedSize {
		return nil, fmt.Errorf("section %s: expected %d octets", card.HostKeySection, ed25519.SeedSize)
	}
	return ed25519.NewKeyFromSeed(seed), nil
}
