package rng

import (
	"crypto/sha256"
	"encoding/binary"
	"math/rand/v2"
)

// Key is the 32 bytes that belong to name under seed: SHA-256 of the seed (8
// bytes, big-endian) followed by the name. It seeds a stream, or serves as key
// material where a generator is not wanted.
func Key(seed uint64, name string) [32]byte {
	msg := binary.BigEndian.AppendUint64(make([]byte, 0, 8+len(name)), seed)
	return sha256.Sum256(append(msg, name...))
}

// Stream is the generator that belongs to name under seed.
func Stream(seed uint64, name string) *rand.Rand {
	return rand.New(rand.NewChaCha8(Key(seed, name)))
}
