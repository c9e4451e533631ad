package serve

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/rand"
	"crypto/rsa"
	"encoding/json"
	"fmt"
	"time"

	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/sshd"
)

// ownKey is the private key of the SSH server: one that was given, or else the
// card's own, made by chance when it has none. Nil: it keeps nothing.
func (s *served) ownKey() (crypto.Signer, error) {
	if s.hostKey != nil || s.c.Memory == nil {
		return s.hostKey, nil
	}
	kept, err := s.c.Memory.Read(s.serialNumber())
	if err != nil {
		return nil, err
	}
	if kept != nil && kept.Sections[card.HostKeySection] != nil {
		return readHostKey(kept.Sections[card.HostKeySection])
	}
	return s.makeKept()
}

// makeKept is a key by chance, which the memory then has.
func (s *served) makeKept() (crypto.Signer, error) {
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

// derived is the key number n of a card that keeps nothing.
func (s *served) derived(n uint32) crypto.Signer {
	name := "hostkey/" + s.serialNumber()
	if n > 0 {
		name = fmt.Sprintf("%s/%d", name, n)
	}
	return sshd.HostKeyFromSeed(rng.Key(s.plan.Seed, name))
}

// made has the SSH server follow a card whose host key was made anew. It never
// waits.
func (s *served) made(n uint32) {
	if s.hostKeys == n {
		return
	}
	s.hostKeys = n
	s.guard("ssh", func() { s.changeKey(n) })
}

func (s *served) changeKey(n uint32) {
	s.keyTurn.Lock()
	defer s.keyTurn.Unlock()
	if n <= s.keyed {
		return // a later one was sooner
	}
	s.keyed = n
	key, err := s.another(n)
	if err != nil {
		s.c.Log("ssh: the host key stays: " + err.Error())
		return
	}
	print, err := s.sshd.ChangeHostKey(key)
	if err != nil {
		s.c.Log(err.Error())
		return
	}
	c := snap.Command{Op: snap.OpHostKey, Text: print, By: snap.Actor{Surface: "serve"}}
	for s.card.Submit(c).Status == snap.Busy {
		time.Sleep(time.Millisecond)
	}
}

// another is a key of the kind that the server has: only then a client that knows that
// one notices.
func (s *served) another(n uint32) (crypto.Signer, error) {
	switch old := s.hostKey.(type) {
	case *rsa.PrivateKey:
		return rsa.GenerateKey(rand.Reader, old.Size()*8)
	case *ecdsa.PrivateKey:
		return ecdsa.GenerateKey(old.Curve, rand.Reader)
	}
	if s.hostKey == nil && s.c.Memory != nil {
		return s.makeKept()
	}
	return s.derived(n), nil
}
