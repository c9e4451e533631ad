package usm

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/des"
	"crypto/hmac"
	"crypto/subtle"
	"encoding/binary"
	"hash"
	"sync"

	"ridethrough/sim/internal/core/snap"
)

// SaltSize is how many octets of msgPrivacyParameters go with an encrypted
// message (RFC 3414 section 8.1.1.1, RFC 3826 section 3.1.2.1).
const SaltSize = 8

// Key is what one user needs with one engine. It is safe for concurrent use.
type Key struct {
	macSize int
	macs    sync.Pool // of *sealer
	priv    snap.PrivProtocol
	block   cipher.Block
	preIV   [8]byte // DES
}

// sealer is a keyed hash and room for what it yields and for an IV: they are
// kept, because making them costs more than using them.
type sealer struct {
	mac hash.Hash
	sum []byte
	iv  [2 * aes.BlockSize]byte
}

// NewKey localises the masters of user to an engine. Masters that the user's
// protocols do not need may be nil.
func NewKey(user *snap.User, auth, priv []byte, engineID string) *Key {
	k := &Key{macSize: MACSize(user.Auth)}
	if user.Auth == snap.AuthNone {
		return k
	}
	local := Localize(user.Auth, auth, engineID)
	k.macs.New = func() any {
		return &sealer{mac: hmac.New(user.Auth.Digest, local), sum: make([]byte, 0, 64)}
	}
	if user.Priv != snap.PrivNone {
		k.setCipher(user.Priv, privacyKey(user.Auth, user.Priv, priv, engineID))
	}
	return k
}

func (k *Key) setCipher(p snap.PrivProtocol, key []byte) {
	k.priv = p
	var err error
	if p == snap.PrivDES {
		copy(k.preIV[:], key[8:])
		k.block, err = des.NewCipher(key[:8])
	} else {
		k.block, err = aes.NewCipher(key)
	}
	if err != nil {
		panic("usm: " + err.Error()) // only for lengths that keyOctets does not hold
	}
}

// MACSize is how many octets of a message hold its authentication.
func (k *Key) MACSize() int { return k.macSize }

// Sign puts the authentication of message, whose octets at [at, at+MACSize) are
// zero, into its place.
func (k *Key) Sign(message []byte, at int) {
	s := k.macs.Get().(*sealer)
	copy(message[at:at+k.macSize], s.digest(message))
	k.macs.Put(s)
}

// Verify says whether the authentication that message carries in place, which is
// a part of it, is right. It writes there while it looks and leaves it as it was;
// the time that it takes tells nothing but the length of place.
func (k *Key) Verify(message, place []byte) bool {
	if len(place) != k.macSize {
		return false
	}
	var given [64]byte
	copy(given[:], place)
	clear(place)
	s := k.macs.Get().(*sealer)
	same := subtle.ConstantTimeCompare(s.digest(message)[:k.macSize], given[:k.macSize]) == 1
	k.macs.Put(s)
	copy(place, given[:k.macSize])
	return same
}

func (s *sealer) digest(message []byte) []byte {
	s.mac.Reset()
	s.mac.Write(message)
	s.sum = s.mac.Sum(s.sum[:0])
	return s.sum
}

// Padding is how many octets must follow n to be encrypted: DES takes whole
// blocks, AES any number.
func (k *Key) Padding(n int) int {
	if k.priv == snap.PrivDES {
		return (des.BlockSize - n%des.BlockSize) % des.BlockSize
	}
	return 0
}

// Encrypt encrypts data in its place. The salt must never come again with the
// same boots and, for AES, time; for DES its first half must be the boots, see
// [Salt]. Data must be padded.
func (k *Key) Encrypt(data []byte, boots, time int32, salt []byte) {
	s := k.macs.Get().(*sealer)
	defer k.macs.Put(s)
	iv := k.start(s, boots, time, salt)
	if k.priv == snap.PrivDES {
		for ; len(data) > 0; data = data[des.BlockSize:] {
			subtle.XORBytes(data, data[:des.BlockSize], iv)
			k.block.Encrypt(data, data[:des.BlockSize])
			iv = data[:des.BlockSize]
		}
		return
	}
	pad := s.iv[aes.BlockSize:]
	for ; len(data) >= aes.BlockSize; data = data[aes.BlockSize:] {
		k.block.Encrypt(pad, iv)
		xorBlock(data, pad)
		iv = data[:aes.BlockSize]
	}
	if len(data) > 0 {
		k.block.Encrypt(pad, iv)
		subtle.XORBytes(data, data, pad)
	}
}

// xorBlock puts into the first block of data what it has and pad has not, bit by
// bit. It is [subtle.XORBytes] for one block, at a third of the cost.
func xorBlock(data, pad []byte) {
	_, _ = data[aes.BlockSize-1], pad[aes.BlockSize-1]
	order := binary.NativeEndian
	order.PutUint64(data, order.Uint64(data)^order.Uint64(pad))
	order.PutUint64(data[8:], order.Uint64(data[8:])^order.Uint64(pad[8:]))
}

// Decrypt decrypts data in its place. It is false, with data as it was, for what
// cannot have been encrypted so. That the key was wrong it cannot tell.
func (k *Key) Decrypt(data []byte, boots, time int32, salt []byte) bool {
	if k.block == nil || len(salt) != SaltSize || k.Padding(len(data)) != 0 {
		return false
	}
	s := k.macs.Get().(*sealer)
	defer k.macs.Put(s)
	iv, spare := k.start(s, boots, time, salt), s.iv[aes.BlockSize:]
	if k.priv == snap.PrivDES {
		for ; len(data) > 0; data = data[des.BlockSize:] {
			copy(spare, data[:des.BlockSize])
			k.block.Decrypt(data, data[:des.BlockSize])
			subtle.XORBytes(data, data[:des.BlockSize], iv)
			copy(iv, spare[:des.BlockSize])
		}
		return true
	}
	for ; len(data) >= aes.BlockSize; data = data[aes.BlockSize:] {
		k.block.Encrypt(spare, iv)
		copy(iv, data[:aes.BlockSize])
		xorBlock(data, spare)
	}
	if len(data) > 0 {
		k.block.Encrypt(spare, iv)
		subtle.XORBytes(data, data, spare)
	}
	return true
}

// start is the initialisation vector: for DES the salt over the pre-IV (RFC 3414
// section 8.1.1.1), for AES boots, time and salt (RFC 3826 section 3.1.2.1).
func (k *Key) start(s *sealer, boots, time int32, salt []byte) []byte {
	if k.priv == snap.PrivDES {
		subtle.XORBytes(s.iv[:], k.preIV[:], salt)
		return s.iv[:des.BlockSize]
	}
	binary.BigEndian.PutUint32(s.iv[:], uint32(boots))
	binary.BigEndian.PutUint32(s.iv[4:], uint32(time))
	copy(s.iv[8:], salt)
	return s.iv[:aes.BlockSize]
}

// Salt is the n-th salt of an engine since it booted. That of DES is the boots
// and 32 bits of n, that of AES 64 bits of n.
func (k *Key) Salt(boots int32, n uint64) (salt [SaltSize]byte) {
	if k.priv == snap.PrivDES {
		n = uint64(uint32(boots))<<32 | n&0xffffffff
	}
	binary.BigEndian.PutUint64(salt[:], n)
	return salt
}
