package usm

import "ridethrough/sim/internal/core/snap"

// MinPassword is the least length of a password in octets (RFC 3414 section 11.2).
const MinPassword = 8

// macs says how many octets of its HMAC a message carries under each authentication
// protocol.
var macs = [...]int{
	snap.AuthMD5: 12, snap.AuthSHA1: 12, snap.AuthSHA224: 16, snap.AuthSHA256: 24, snap.AuthSHA384: 32, snap.AuthSHA512: 48,
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
func MACSize(p snap.AuthProtocol) int { return macs[p] }

// Localize is the key Kul that belongs to one engine: H(Ku | engineID | Ku)
// (RFC 3414 section 2.6).
func Localize(p snap.AuthProtocol, master []byte, engineID string) []byte {
	h := p.Digest()
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
			h := auth.Digest()
			h.Write(key)
			key = h.Sum(key)
		}
	}
	return key[:keyOctets[priv]]
}

// chain is a further piece of a key as Reeder has it: the last piece is taken
// for a password, and what comes of that is localised.
func chain(auth snap.AuthProtocol, key []byte, engineID string) []byte {
	last := key[len(key)-auth.Digest().Size():]
	return Localize(auth, snap.Master(auth, string(last)), engineID)
}
