package usm

import (
	"crypto/md5"  // the protocol's, whatever it is worth today
	"crypto/sha1" // likewise
	"crypto/sha256"
	"crypto/sha512"
	"hash"

	"ridethrough/sim/internal/core/snap"
)

// MinPassword is the least length of a password in octets (RFC 3414 section 11.2).
const MinPassword = 8

// digests makes the hash of each authentication protocol, and says how many
// octets of its HMAC a message carries.
var digests = [...]struct {
	make func() hash.Hash
	mac  int
}{
	snap.AuthMD5:    {md5.New, 12},
	snap.AuthSHA1:   {sha1.New, 12},
	snap.AuthSHA224: {sha256.New224, 16},
	snap.AuthSHA256: {sha256.New, 24},
	snap.AuthSHA384: {sha512.New384, 32},
	snap.AuthSHA512: {sha512.New, 48},
}

// keyOctets is how long the keys of each privacy protocol are. That of DES holds
// the key and the pre-IV (RFC 3414 section 8.1.1.1).
var keyOctets = [...]int{
	snap.PrivDES:              16,
	snap.PrivAES128:           16,
	snap.PrivAES192Blumenthal: 24,
	snap.PrivAES256Blumenthal: 32,
	snap.PrivAES192Reeder:     24,
	snap.PrivAES256Reeder:     32,
}

// MACSize is how many octets authenticate a message under p; 0 for AuthNone.
func MACSize(p snap.AuthProtocol) int { return digests[p].mac }

// Master is the key Ku that p makes of password: the digest of 2^20 octets of
// the password, repeated (RFC 3414 section A.2). It takes milliseconds. An
// empty password or AuthNone has none.
func Master(p snap.AuthProtocol, password string) []byte {
	if p == snap.AuthNone || password == "" {
		return nil
	}
	const total = 1 << 20
	h := digests[p].make()
	chunk := make([]byte, 0, 4096+len(password))
	for len(chunk) < 4096 {
		chunk = append(chunk, password...)
	}
	left := total
	for ; left > len(chunk); left -= len(chunk) { // whole passwords: the next one starts anew
		h.Write(chunk)
	}
	h.Write(chunk[:left])
	return h.Sum(nil)
}

// Localize is the key Kul that belongs to one engine: H(Ku | engineID | Ku)
// (RFC 3414 section 2.6).
func Localize(p snap.AuthProtocol, master []byte, engineID string) []byte {
	h := digests[p].make()
	h.Write(master)
	h.Write([]byte(engineID))
	h.Write(master)
	return h.Sum(nil)
}

// privacyKey is the localised key of priv: what Kul yields, made longer if the
// protocol needs more.
func privacyKey(auth snap.AuthProtocol, priv snap.PrivProtocol, master []byte, engineID string) []byte {
	key := Localize(auth, master, engineID)
	for len(key) < keyOctets[priv] {
		switch priv {
		case snap.PrivAES192Reeder, snap.PrivAES256Reeder:
			key = append(key, chain(auth, key, engineID)...)
		default:
			h := digests[auth].make()
			h.Write(key)
			key = h.Sum(key)
		}
	}
	return key[:keyOctets[priv]]
}

// chain is a further piece of a key as Reeder has it: the last piece is taken
// for a password, and what comes of that is localised.
func chain(auth snap.AuthProtocol, key []byte, engineID string) []byte {
	last := key[len(key)-digests[auth].make().Size():]
	return Localize(auth, Master(auth, string(last)), engineID)
}
